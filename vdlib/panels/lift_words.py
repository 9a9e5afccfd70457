"""What the lift panel says of two cars in one run: which turned more, how a slide grew, and what a driver needs."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from ..answers.forgiven import SLIDE
from ..answers.lift import REACTION, SPUN, Mark, Road, Run, Scenario, mark_words
from ..shown import says
from ..units import Array, G, from_si, number
from .base import table

LEAST = 0.1
"""Differences of slide below this are called none [deg]."""
TOGETHER = 0.05
"""Two cars that pass ``SPUN`` within this time of each other do so as good as together [s]."""
LONG_DOUBLING = 20.0
"""A slide that takes longer than this to double is said hardly to grow [s]."""
LEVEL = "at its reference heights"
TOLD = f"{np.degrees(SLIDE):.0f}°"
PAST = f"{np.degrees(SPUN):.0f}° off its path"
_PATHS = PAST.replace("its path", "their paths")
"""Where the model stops: another angle than the slide, which is counted from what the steady corner itself needs."""
BOUNDS = (
    "A teaching model: flat dry road, warm tyres, an open differential, no kerbs, no electronic help; how late body, "
    "tyres and hands answer is common practice, not measured on this car. It says which setup turns more, not where "
    f"your car would go, and it stops once the car points more than {np.degrees(SPUN):.0f}° off its path. "
    "Never look for the limit on a public road."
)


@dataclass(frozen=True)
class Lift:
    """One run of two cars, the one at the reference heights first, at one moment of it."""

    run: Run
    road: Road
    doubling: Array  # (t, 2) [s]
    half_width: float
    scenario: Scenario
    time: float

    @property
    def moments(self) -> tuple[float, ...]:
        """When the foot moves, and the hands if they do [s]."""
        foot = float(self.scenario.starts)
        return (foot, foot + float(self.scenario.reaction)) if self.scenario.counter_steer else (foot,)

    @property
    def spun(self) -> NDArray[np.bool_]:
        """Which of the two cars turn round, (2,)."""
        return np.asarray(self._marked(Mark.SPUN).any(axis=0))

    def stops(self, k: int) -> bool:
        """Whether one car's slide stops before it passes the angle from which a corner has not forgiven."""
        return bool(self.run.slide[:, k].max() < SLIDE)

    def shortest(self, k: int) -> float:
        """Shortest time to double of one car while its slide still grows toward that angle, infinite if none [s]."""
        slide = self.run.slide[:, k]
        first = int(np.argmax(slide > SLIDE)) if not self.stops(k) else 0
        return float(self.doubling[: first + 1, k].min())

    def past_peak(self, k: int) -> bool:
        """Whether an axle of one car is past its peak at the moment shown."""
        return bool(self._marked(Mark.FRONT_PAST_PEAK | Mark.REAR_PAST_PEAK)[self.at, k])

    def _marked(self, marks: Mark) -> NDArray[np.bool_]:
        return np.asarray((self.run.marks.astype(int) & int(marks)) != 0)

    @property
    def at(self) -> int:
        """Which moment of the run is shown."""
        return int(np.searchsorted(self.run.time, self.time + 1e-9, side="right")) - 1


def words(found: Lift) -> str:
    """State in words and numbers what the picture shows.

    Parameters:
        found: one moment of a run [-]

    Returns:
        HTML [-]
    """
    run, at = found.run, found.at
    whole = ["In the whole run", "tail out at most", "on the road?", f"doubled, on the way to {TOLD}, in"]
    now = [
        f"At {found.time:.2f} s",
        "speed",
        "lateral",
        "tail out",
        "front wheels turned",
        "a small slide more",
        "rear left / right",
    ]
    rows, moments = [], []
    for k, name in ((1, "as it stands"), (0, LEVEL)):
        most, least = from_si(float(run.slide[:, k].max()), "deg"), found.shortest(k)
        spun = f"{number(most, 1)}°" + (f"; {PAST} at {run.held[k]:.2f} s" if found.spun[k] else "")
        doubles = f"{least:.2f} s" if np.isfinite(least) else "it grows slowly"
        rows.append([name, spun, _on_the_road(found, k), "it stops" if found.stops(k) else doubles])
        grows, load = float(found.doubling[at, k]), run.load[1, :, at, k] / G
        small = f"doubles in {grows:.2f} s" if grows < LONG_DOUBLING else "dies out or hardly grows"
        moments.append(
            [
                f"{name}, stopped at {run.held[k]:.2f} s" if found.time > run.held[k] else name,
                says(float(run.speed[at, k]), "kmh", 0),
                f"{number(float(run.lateral[at, k]) / G, 2)} g",
                f"{number(from_si(float(run.slide[at, k]), 'deg'), 1)}°",
                f"{number(from_si(float(run.steer[at, k]), 'deg'), 1)}°",
                "past the tyres' peak" if found.past_peak(k) else small,
                " / ".join(says(float(value), "kg", 0) for value in load),
            ]
        )
    return (
        f"<div><b>{escape(which_turned_more(found))}</b> {escape(against_the_driver(found))}</div>{table(whole, rows)}"
        f"{table(now, moments)}{_marks(found)}<div><em>{escape(BOUNDS)}</em></div>"
    )


def _marks(found: Lift) -> str:
    """Describe what is out of the ordinary at the moment shown, and for which car."""
    first, second = ({*mark_words(found.run.marks[found.at, k])} for k in (0, 1))
    told = [
        f"{words} ({'both cars' if words in first & second else LEVEL if words in first else 'as it stands'})"
        for words in sorted(first | second)
    ]
    return f"<div>At {found.time:.2f} s: {escape('; '.join(told))}.</div>" if told else ""


def ahead_of_other(found: Lift) -> int | None:
    """Return which of the two cars swings its tail out further, or is the first past ``SPUN``.

    Parameters:
        found: one moment of a run [-]

    Returns:
        1 the car as it stands, 0 at the reference heights; None where there is hardly any difference [-]
    """
    held, spun = found.run.held, found.spun
    if spun.all():
        return int(held[1] < held[0]) if abs(float(held[0] - held[1])) >= TOGETHER else None
    if spun.any():
        return int(spun[1])
    gap = _gap(found)
    return int(gap > 0) if abs(gap) >= LEAST else None


def _sooner(held: Array) -> float:
    """How much earlier the one is held than the other, by the times as they are printed [s]."""
    first, last = sorted(round(float(one), 2) for one in held)
    return last - first


def _gap(found: Lift) -> float:
    """By how much further the tail swings out as the car stands [deg]."""
    return float(np.subtract(*from_si(found.run.slide.max(axis=0), "deg")[::-1]))


def which_turned_more(found: Lift) -> str:
    """State which of the two cars swung its tail out further, and by how much.

    Parameters:
        found: one moment of a run [-]

    Returns:
        a sentence [-]
    """
    held, first = found.run.held, ahead_of_other(found)
    more = "As it stands" if first else f"{LEVEL[0].upper()}{LEVEL[1:]}"
    if found.spun.all():
        if first is None:
            return f"Both turn {_PATHS}, as good as together."
        return f"Both turn {_PATHS}. {more} the car does so {_sooner(held):.2f} s sooner."
    if found.spun.any():
        return f"Only one turns {PAST}: the car {'as it stands' if first else LEVEL}."
    if first is None:
        return "No difference to speak of in how far the tail swings out."
    return f"{more} the car turns more: its tail swings out {number(abs(_gap(found)), 1)}° further."


def against_the_driver(found: Lift) -> str:
    """Set the time in which a small slide doubles beside the time a driver needs to answer.

    Parameters:
        found: one moment of a run [-]

    Returns:
        sentences [-]
    """
    ready, late = REACTION["expecting it"], REACTION["surprised"][1]
    least, most = found.shortest(1), from_si(float(found.run.slide[:, 1].max()), "deg")
    needs = (
        f"A driver who expects a signal needs {ready[0]:.2f} to {ready[1]:.2f} s to move a foot, one who does not "
        f"{REACTION['not expecting it'][0]:.2f} s, a surprised one about {late:.1f} s (Green 2000)."
    )
    if found.stops(1):
        held = "with the wheel held still" if not found.scenario.counter_steer else "with the hands answering it"
        return f"As the car stands, the slide stops at {number(most, 1)}°, {held}. {needs}"
    if not np.isfinite(least):
        return f"As the car stands, the slide grows slowly but does not stop. {needs}"
    return (
        f"As the car stands, the slide doubles in {least:.2f} s where it grows fastest on its way to {TOLD}: "
        f"{_fold(ready[0] / least)} in {ready[0]:.2f} s, {_fold(late / least)} in {late:.1f} s, were it to go on so. "
        f"{needs}"
    )


def _fold(doublings: float) -> str:
    return f"{2**doublings:.1f} times as large" if doublings < 5 else "more than 30 times as large"


def _on_the_road(found: Lift, k: int) -> str:
    """State whether one car leaves the road, when and to which side."""
    run, leaves = found.run, float(found.road.leaves[k])
    end = min(float(run.held[k]), float(run.time[-1]))
    if leaves > end:
        return f"yes, until the run ends at {end:.1f} s"
    outward = float(found.road.outward[np.searchsorted(run.time, leaves), k])
    return f"a wheel is off at {leaves:.2f} s, on the {'outside' if outward > 0 else 'inside'}"


def course(found: Lift, k: int) -> str:
    """State what becomes of one car's slide on its way to ``SLIDE``.

    Parameters:
        found: one moment of a run [-]
        k: which car, 0 at the reference heights [-]

    Returns:
        a verb with its numbers [-]
    """
    least = found.shortest(k)
    if found.stops(k):
        return "stops"
    return f"doubles in {least:.2f} s at worst" if np.isfinite(least) else "grows slowly"
