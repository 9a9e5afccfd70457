"""What is said once stays said once: the alert, and the controls of a moment."""

import re
from pathlib import Path

PANELS = Path(__file__).resolve().parents[1] / "vdlib" / "panels"


def holding(pattern):
    return {path.name for path in PANELS.glob("*.py") if re.search(pattern, path.read_text("utf-8"))}


def test_an_alert_is_written_in_one_place():
    assert holding('role="alert"') == {"said.py"}


def test_speed_lateral_and_phase_are_made_in_one_place():
    assert holding(r"choice\(\s*\"Phase of the corner\"") == {"moments.py"}
    assert holding(r"slider\(\s*\"Lateral acceleration\"") == {"moments.py"}
