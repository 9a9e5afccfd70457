"""What a what-if is told in: its headline and table, with every number in words where there is none."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

from ..answers.ledger import Ledger
from ..answers.sentences import PHASE_WORDS, attitude_words, causes_words, toward
from ..answers.turns import LEFT, RIGHT
from ..car.records import attitude
from ..draw.whatif import MARKS
from ..setup.candidate import Version
from ..setup.whatif import Comparison
from ..shown import says
from ..trim.trim import state_words
from ..units import G, from_si, number
from .base import table
from .helps import FELT

APART = (
    "These two point different ways, and both are so: the first is the steering asked for at this moment, the second "
    "which end slides first at the limit."
)
"""What is said where extra steering and the gap between the limits do not move the same way."""


@dataclass(frozen=True)
class ShownWhatIf:
    """What the panel shows."""

    found: Comparison
    ledger: Ledger | None
    versions: tuple[Version, ...]
    phase: str
    tape: str  # the what-if's heights as the owner's tape would read them; empty where the sliders have them so


def words(shown: ShownWhatIf) -> str:
    """State in words and numbers what the picture shows.

    Parameters:
        shown: what the panel shows [-]

    Returns:
        HTML [-]
    """
    found, phase = shown.found, shown.phase
    at = found.phases.index(phase)
    lines = [f"<b>{escape(head(shown))}</b>"]
    lines += [
        escape(f"{found.names[i]}: {'; '.join(said)}.") for i in range(2) if (said := state_words(found.state[i, at]))
    ]
    lines += [escape(shown.tape)] if shown.tape else []
    every, versions = range(len(found.names)), shown.versions
    rows = [
        ["stands", *(attitude_words(float(attitude(v.car, v.setup))) for v in versions)],
        [
            "mass; front share",
            *(f"{says(float(v.car.mass), 'kg', 0)}; {100 * v.car.front_share:.1f} %" for v in versions),
        ],
        ["weight height; left share", *(f"{_mm(v.car.cg_height)}; {100 * v.car.left_share:.1f} %" for v in versions)],
        ["extra steering in this phase", *(degrees(found.angle[i, at]) for i in every)],
        ["front lets go at", *(lateral(found.limit[0, i, at]) for i in every)],
        ["rear lets go at", *(lateral(found.limit[1, i, at]) for i in every)],
        ["a small slide, steering held", *(slide(found.double[i, at]) for i in every)],
    ]
    for turn in (found.turn, -found.turn) if found.other is not None else ():
        there = found.turning(turn)
        rows.append([f"rear's limit above the front's, {TURNS[turn]} turn", *(gap(there.gap[i, at]) for i in every)])
    for j, one in enumerate(found.phases):
        rows.append([f"first to let go, {PHASE_WORDS[one]}", *(END_WORDS[int(found.first[i, j])] for i in every)])
    marks = [f"{mark} {name}" for mark, name in zip(MARKS, found.names, strict=False)]
    return "<br>".join(lines) + table(["", *marks], rows)


def _mm(value: Any) -> str:
    return says(value, "mm", 0)


TURNS = {LEFT: "left", RIGHT: "right"}
END_WORDS = {0: "front", 1: "rear", -1: "neither found"}


def head(shown: ShownWhatIf) -> str:
    """Describe what the what-if does in the phase chosen."""
    at = shown.found.phases.index(shown.phase)
    where = f"{shown.found.lateral / G:.2f} g, {PHASE_WORDS[shown.phase]}{turn_words(shown.found)}"
    if shown.ledger is None:
        which = [name for i, name in enumerate(shown.found.names[:2]) if not np.isfinite(shown.found.angle[i, at])]
        return f"At {where}: past the limit {' and '.join(which)}; there is no steady corner here to compare."
    if not shown.ledger.causes:
        return f"The what-if is still the car as it stands: move a slider. At {where}."
    moved = shown.found.gap[1, at] - shown.found.gap[0, at]
    gap = f" Limit gap: {number(moved / G, 3, sign=True)} g." if np.isfinite(moved) else ""
    total, causes = float(shown.ledger.total), {name: name for name in shown.ledger.causes}
    if abs(from_si(total, "deg")) < FELT["steering"] and abs(moved / G) < FELT["gap"]:
        gap += " That is too small to feel."
    elif abs(from_si(total, "deg")) >= 0.005 and abs(moved / G) >= 5e-4 and total * moved < 0:
        gap += f" {APART}"
    return f"At {where}: {toward(total)}. {causes_words(shown.ledger, causes)}.{gap}"


def turn_words(found: Comparison) -> str:
    """State which turn is shown; nothing where both are alike."""
    return "" if found.other is None else f", in a {TURNS[found.turn]} turn, the worse of the two for the car as it is"


def gap(value: float) -> str:
    """Write by how much the rear's limit lies above the front's."""
    return f"{number(value / G, 3, sign=True)} g" if np.isfinite(value) else "not found"


def degrees(angle: float) -> str:
    """Write an angle, or that there is none."""
    return f"{number(from_si(angle, 'deg'), 2, sign=True)}°" if np.isfinite(angle) else "past the limit"


def lateral(limit: float) -> str:
    """Write a limit, or that it was not found."""
    return f"{limit / G:.3f} g" if np.isfinite(limit) else "not found"


def slide(double: float) -> str:
    """Describe what a small slide does."""
    if np.isnan(double):
        return "past the limit"
    return "dies out on its own" if np.isinf(double) or double > 60 else f"doubles in {double:.2f} s"
