"""What a car file knows of its numbers besides where they are from: errors, kinds, measuring points, and the figures
that the car is compared with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from .kinds import Kinds

VISIT: dict[str, str] = {
    "felt": "what the car did, in the driver's words",
    "corner": "which corner, which way",
    "foot": "what the foot was doing",
    "speed": "speed there",
    "since": "since when",
    "work": "work done before that",
    "km": "km on the clock",
    "contact": "phone or mail of the driver",
    "event": "event and date",
    "tyres": "make, size and age of the tyres",
    "looked": "what was looked at and is in order",
    "found": "what was found",
    "load": "load in the car when its heights were read",
    "cold": "cold pressures, four wheels, bar",
    "cold_air": "temperature of the air then",
    "ties": "free shaft left after a session, four wheels, mm",
    "rim": "distance across the rim where toe is read, mm",
    "toe_unit": "unit in which toe is read",
    "seats": "spring seats",
    "thread": "travel of a seat in one turn, mm",
    "camber_by": "what camber is set with",
    "rear_toe": "whether rear toe can be set",
    "holes": "holes of the front and rear bar",
    "clicks": "clicks of the dampers, four wheels",
    "differential": "differential",
    "control": "stability control",
    "in_question": "readings behind which a slip may stand, until they are mended or read again",
}
"""Key of ``[visit]`` → what it says; all of them words, as typed."""
BOOK, REFERENCE = "book", "reference"
"""The two tables that may hold the figures a car is compared with; a file has one of them at most."""
FIGURES = ("height", "toe", "camber", "pressure")
"""What these figures may say of an axle or a wheel."""
PLACES = ("axle lines", "points")
"""Where their heights may be meant: at the two axle lines, or at the points of ``[points]``."""


@dataclass(frozen=True)
class Points:
    """Where the tape is read: two points of the body by their distance behind the front axle line, and what they are.

    ``above`` is how far each point is above the straight line through the two ride heights: 0 for two points of one
    sill, arch height less ride height for a wheel arch.
    """

    behind: tuple[float, float]  # front and rear point [m]
    above: tuple[float, float] = (0.0, 0.0)  # [m]
    what: str = ""

    def at_axles(self, front: Any, rear: Any, wheelbase: Any) -> tuple[Any, Any]:
        """Return the ride heights at the two axle lines from the heights of the two points.

        Parameters:
            front: height of the front point, any shape [m]
            rear: height of the rear point, any shape [m]
            wheelbase: wheelbase [m]

        Returns:
            ride heights at front and rear axle line [m]

        Validity: the straight line through both points, their own heights above the ride-height line taken off.
        """
        low, high = front - self.above[0], rear - self.above[1]
        slope = (high - low) / (self.behind[1] - self.behind[0])
        return low - slope * self.behind[0], low + slope * (wheelbase - self.behind[0])


@dataclass(frozen=True)
class Figures:
    """The figures that a car is compared with: the maker's or the workshop's ("book"), or another state of the car.

    Paths are those of a setup, ``rear.toe`` for an axle and ``rear_left.toe`` for a wheel; numbers are SI.
    """

    table: str  # "book" or "reference"
    name: str  # what to call it: "book", or such as "as lowered, before it sagged"
    source: str = ""
    heights_at: str = ""  # one of PLACES; empty without heights
    values: Mapping[str, float] = field(default_factory=dict)  # path → figure
    tolerances: Mapping[str, float] = field(default_factory=dict)  # path → how far either way still is in order
    tyres: Mapping[str, str] = field(default_factory=dict)  # "front" or "rear" → kind of tyre

    def tolerance(self, corner: str, name: str) -> float | None:
        """Return how far either way a number of one wheel still is in order: the wheel's own, else its axle's.

        Parameters:
            corner: such as "rear_left" [-]
            name: one of ``FIGURES`` [-]

        Returns:
            the tolerance in SI; None where the figures give none [any]
        """
        axle = corner.partition("_")[0]
        return self.tolerances.get(f"{corner}.{name}", self.tolerances.get(f"{axle}.{name}"))


def axle_heights(figures: Figures, points: Points | None, wheelbase: Any) -> dict[str, tuple[Any, Any]]:
    """Return the ride heights at the two axle lines that the figures mean: front or rear → left and right.

    Parameters:
        figures: the figures [-]
        points: where their heights are read, where they are meant at points [-]
        wheelbase: wheelbase [m]

    Returns:
        heights by axle; nothing where the figures hold none [m]
    """
    pairs = {}
    for end in ("front", "rear"):
        both = figures.values.get(f"{end}.height")
        pair = [figures.values.get(f"{end}_{side}.height", both) for side in ("left", "right")]
        if None in pair:
            return {}
        pairs[end] = pair
    if figures.heights_at != PLACES[1] or points is None:
        return {end: (left, right) for end, (left, right) in pairs.items()}
    left, right = (points.at_axles(front, rear, wheelbase) for front, rear in zip(*pairs.values(), strict=True))
    return {"front": (left[0], right[0]), "rear": (left[1], right[1])}


@dataclass(frozen=True)
class Known:
    """What a car file knows besides its numbers and their origin."""

    errors: Mapping[str, float] = field(default_factory=dict)  # path → one standard deviation, in SI
    kinds: Kinds | None = None
    points: Points | None = None
    figures: Figures | None = None
    visit: Mapping[str, str] = field(default_factory=dict)  # key of ``VISIT`` → what the workshop learns of it
