"""The browser, started once for all browser tests; they are skipped where there is none."""

from pathlib import Path

import pytest

from .lab import CHROMIUM, chromium

ARTEFACTS = Path(__file__).resolve().parents[2] / ".artefacts"


@pytest.fixture(scope="session")
def browser():
    pytest.importorskip("playwright", reason="playwright is not installed")
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no browser at {CHROMIUM}")
    with chromium() as started:
        yield started


@pytest.fixture(scope="session")
def artefacts():
    ARTEFACTS.mkdir(exist_ok=True)
    return ARTEFACTS
