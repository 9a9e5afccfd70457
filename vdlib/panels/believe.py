"""How much quicker laps must be before chance is ruled out, by their number, their scatter and the plan of the day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..draw.style import FONT, line, point, start, tidy
from ..laps.plans import promised
from ..units import Array
from .base import Panel, slider, table
from .predict import ask

LAPS = np.arange(3, 16)
"""Free laps in each session."""
PLANS: dict[str, tuple[int, bool, str]] = {
    "before, after; nobody learns": (2, False, "reference"),
    "before, after; learning allowed for": (2, True, "rear"),
    "before, after, before again; learning allowed for": (3, True, "now"),
}
"""Plan → sessions, whether learning is allowed for, how it is drawn."""
ANSWERS = (0.1, 0.2, 0.4, 0.8, 1.6)
"""Differences to choose from [s]."""


def reaches(
    spread: float = 1.0, correlation: float = 0.0, offset: float = 0.0, by_rule: int = 0
) -> tuple[Array, Array]:
    """Return half the usual width of the interval of the difference, and what is shown on 4 days of 5.

    Parameters:
        spread: standard deviation of a driver's laps [s]
        correlation: between neighbouring laps [-]
        offset: what a whole session may be off by [s]
        by_rule: first laps of each session that never count [-]

    Returns:
        both (plans, laps), infinite where too few laps are left [s]
    """
    out = np.full((2, len(PLANS), len(LAPS)), np.inf)
    for i, (sessions, learning, _) in enumerate(PLANS.values()):
        for j, laps in enumerate(LAPS - by_rule):
            out[:, i, j] = promised(sessions, int(laps), spread, correlation, offset, learning)
    return out[0], out[1]


@dataclass(frozen=True)
class Needed:
    """How large a difference must be, by plan and number of laps."""

    laps: int
    spread: float  # [s]
    reach: Array  # (plans, laps) [s]
    found: Array  # (plans, laps) what is shown on 4 days of 5 [s]
    correlation: float = 0.0
    offset: float = 0.0  # [s]
    by_rule: int = 0

    @property
    def here(self) -> Array:
        """The same at the chosen number of laps, (plans,) [s]."""
        out: Array = self.reach[:, int(self.laps) - int(LAPS[0])]
        return out


def panel() -> Panel:
    """Make the panel: laps in each session and their scatter against the smallest difference that can be believed.

    Returns:
        a ``Panel`` whose attribute ``question`` asks for a prediction first [-]
    """
    alt = "The smallest difference of mean lap times that chance does not explain, against the laps in each session."
    picture, axes = start(660, 340, alt)
    tidy(axes, "Smallest difference to believe", "free laps in each session", "[s]")
    axes.set(xlim=(2.5, 15.5), ylim=(0, 3))
    curves = [picture.moving(axes.plot([], [], **line(r), label=n)[0]) for n, (_, _, r) in PLANS.items()]
    points = [picture.moving(axes.plot([], [], **point(role, markersize=11))[0]) for _, _, role in PLANS.values()]
    axes.legend(loc="upper right", fontsize=FONT["note"], frameon=False)

    def compute(state: dict[str, Any]) -> Needed:
        spread, likeness, offset = (float(state[name]) for name in ("spread", "likeness", "offset"))
        rule = int(state["by_rule"])
        reach, found = reaches(spread, likeness, offset, rule)
        return Needed(int(state["laps"]), spread, reach, found, likeness, offset, rule)

    def draw(_: Any, now: Needed) -> None:
        for curve, dot, reach, here in zip(curves, points, now.reach, now.here, strict=True):
            curve.set_data(LAPS, np.minimum(reach, 99.0))
            dot.set_data([now.laps], [min(here, 99.0)])

    controls = {
        "laps": slider("Free laps in each session", int(LAPS[0]), int(LAPS[-1]), 1, 8),
        "spread": slider("Scatter of the laps", 0.1, 1.5, 0.05, 0.4, "s", "Standard deviation of a driver's laps"),
        "likeness": slider("Likeness of neighbouring laps", 0.0, 0.8, 0.1, 0.0, "", "0: each lap is a try of its own"),
        "offset": slider("A whole session may be off by", 0.0, 1.0, 0.05, 0.0, "s"),
        "by_rule": slider("First laps that never count", 0, 3, 1, 0),
    }
    text = (
        "A driver does 8 free laps before a change and 8 after, and the laps scatter by 0.4 s (two laps in three lie "
        "within 0.4 s of the average). Nobody is still learning. How much must the averages differ before you believe "
        "that it was more than chance?"
    )
    made = Panel(controls, compute, draw, words, picture)
    return ask(made, "laps", None, text, list(map(_about, ANSWERS)), judge, because)


def judge(begin: Needed, _: Needed) -> str:
    """Return the answer nearest to the first plan's figure, as a ratio."""
    return _about(min(ANSWERS, key=lambda answer: abs(np.log(answer / begin.here[0]))))


def because(begin: Needed, _: Needed) -> str:
    """Describe how large a difference chance makes among such laps."""
    here = float(begin.here[0])
    return (
        f"with {begin.laps} laps before and after that scatter by {begin.spread:.2f} s the laps fit differences of "
        f"{here:.2f} s either way: chance moves the averages, and so few laps cannot say how alike they are."
    )


def _about(seconds: float) -> str:
    return f"about {seconds:g} s"


def words(now: Needed) -> str:
    """Describe how much quicker laps must be.

    Parameters:
        now: what was found [-]

    Returns:
        HTML [-]
    """
    at = int(now.laps) - int(LAPS[0])
    rows = [
        [name, _size(here), _size(found)] for name, here, found in zip(PLANS, now.here, now.found[:, at], strict=True)
    ]
    head = ["", "smallest difference to believe", "shown on 4 days of 5 if it is"]
    few = " With three laps before and three after, shuffling can never rule out chance." if now.laps == LAPS[0] else ""
    more = f", alike their neighbours with {now.correlation:.1f}" if now.correlation else ""
    more += f", sessions off by {now.offset:.2f} s" if now.offset else ""
    more += f", the first {now.by_rule} of each never counting" if now.by_rule else ""
    return (
        f"<b>With {now.laps} free laps in each session that scatter by {now.spread:.2f} s{more}:</b>{few}"
        f"{table(head, rows)}<i>Half the interval's usual width, as simulated: the laps themselves must show how alike "
        "they are.</i>"
    )


def _size(seconds: float) -> str:
    return f"{seconds:.2f} s" if np.isfinite(seconds) else "too few laps"
