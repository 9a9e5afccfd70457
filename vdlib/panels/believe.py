"""How much quicker laps must be before chance is ruled out, by their number, their scatter and the plan of the day."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from ..draw.style import FONT, line, point, start, tidy
from ..laps.clubday import lap_times
from ..laps.evidence import estimate
from ..units import Array
from .base import Panel, slider, table
from .predict import ask

LAPS = np.arange(3, 16)
"""Free laps in each session."""
DAYS, DRAWS = 60, 299
"""Invented days, and random draws on each, that a point of a curve is made of."""
PLANS: dict[str, tuple[int, bool, str]] = {
    "before, after; nobody learns": (2, False, "reference"),
    "before, after; learning allowed for": (2, True, "rear"),
    "before, after, before again; learning allowed for": (3, True, "now"),
}
"""Plan → sessions, whether learning is allowed for, how it is drawn."""
ANSWERS = (0.1, 0.2, 0.4, 0.8, 1.6)
"""Differences to choose from [s]."""


@lru_cache(maxsize=1)
def reaches() -> Array:
    """Give half the width of the 95 % interval of the difference, for laps that scatter by 1 s, at the median day.

    Returns:
        (plans, laps) [s]
    """
    out = np.empty((len(PLANS), len(LAPS)))
    for i, (sessions, learning, _) in enumerate(PLANS.values()):
        for j, laps in enumerate(LAPS):
            y = np.concatenate(lap_times(7, DAYS, [int(laps)] * sessions, spread=1.0), axis=1).T
            group = np.repeat(np.arange(sessions), laps)
            design = (group[:, None] == np.arange(sessions)).astype(float)
            contrast = np.array([-1.0, 1.0] if sessions == 2 else [-0.5, 1.0, -0.5])
            if learning:
                practice = np.log(1.0 + np.arange(len(group)))
                design, contrast = np.column_stack([design, practice - practice.mean()]), np.append(contrast, 0.0)
            found = estimate(y, design, contrast, group, draws=DRAWS)
            out[i, j] = np.median(np.asarray(found.high) - np.asarray(found.low)) / 2
    return out


@dataclass(frozen=True)
class Needed:
    """How large a difference must be, by plan and number of laps."""

    laps: int
    spread: float  # [s]
    reach: Array  # (plans, laps) [s]

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
        return Needed(int(state["laps"]), state["spread"], state["spread"] * reaches())

    def draw(_: Any, now: Needed) -> None:
        for curve, dot, reach, here in zip(curves, points, now.reach, now.here, strict=True):
            curve.set_data(LAPS, reach)
            dot.set_data([now.laps], [here])

    controls = {
        "laps": slider("Free laps in each session", int(LAPS[0]), int(LAPS[-1]), 1, 8),
        "spread": slider("Scatter of the laps", 0.1, 1.5, 0.05, 0.4, "s", "Standard deviation of a driver's laps"),
    }
    text = (
        "A driver does 8 free laps before a change and 8 after, and the laps scatter by 0.4 s (two laps in three lie "
        "within 0.4 s of the average). Nobody is still learning. How much must the averages differ before you believe "
        "that it was more than chance?"
    )
    made = Panel(controls, compute, draw, words, picture)
    return ask(made, "laps", None, text, list(map(_about, ANSWERS)), judge, because)


def judge(begin: Needed, _: Needed) -> str:
    """Give the answer nearest to the first plan's figure, as a ratio."""
    return _about(min(ANSWERS, key=lambda answer: abs(np.log(answer / begin.here[0]))))


def because(begin: Needed, _: Needed) -> str:
    """Say how large a difference chance makes among such laps."""
    here = float(begin.here[0])
    return (
        f"with {begin.laps} laps before and after that scatter by {begin.spread:.2f} s chance alone moves the "
        f"difference of the averages by up to {here:.2f} s on 95 days of 100."
    )


def _about(seconds: float) -> str:
    return f"about {seconds:g} s"


def words(now: Needed) -> str:
    """Say how much quicker laps must be.

    Parameters:
        now: what was found [-]

    Returns:
        HTML [-]
    """
    rows = [[name, f"{here:.2f} s", f"{here / now.spread:.1f}"] for name, here in zip(PLANS, now.here, strict=True)]
    head = ["", "smallest difference to believe", "in scatters of a lap"]
    few = " With three laps before and three after, shuffling can never rule out chance." if now.laps == LAPS[0] else ""
    return (
        f"<b>With {now.laps} free laps in each session that scatter by {now.spread:.2f} s:</b>{few}{table(head, rows)}"
        f"<i>Half the interval's width on the middle one of {DAYS} invented days; laps independent of each other.</i>"
    )
