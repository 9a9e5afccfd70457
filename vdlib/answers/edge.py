"""Where a corner stops forgiving one car, and what ends it there: the one home of how that is told and compared."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..shown import digits_for, label_for, says, seen
from ..units import number


class By(Enum):
    """What ends it: there are three kinds, and no two of them are told alike."""

    SLIDE = "slide"
    """From this speed the slide passes the angle from which a corner has not forgiven."""
    GRIP = "grip"
    """From this speed the car cannot hold the corner at all, and below it no slide passes that angle."""
    NOTHING = "nothing"
    """Every speed tried is forgiven; this was the last of them."""


MARKS = {By.SLIDE: "", By.GRIP: "grip ends first", By.NOTHING: "the fastest tried"}
"""What is written behind a speed, in brackets, where no slide ends it."""
SHORT = {By.SLIDE: "", By.GRIP: " grip", By.NOTHING: "+"}
"""The same where there is little room."""
SAME = "as much as before"
"""What a change that does not show is called."""
_NOTE = "Grip ends first: from that speed the car cannot hold this corner at all, lift or no lift."


@dataclass(frozen=True)
class Edge:
    """The first speed from below that is not forgiven, and what ends it there."""

    speed: float  # [m/s]
    by: By

    @property
    def mark(self) -> str:
        """What stands behind the speed, with a space before it; nothing where a slide ends it [-]."""
        return f" ({MARKS[self.by]})" if MARKS[self.by] else ""

    @property
    def told(self) -> str:
        """Up to where it forgives: "76.6 km/h", "80.3 km/h (grip ends first)" [-]."""
        return f"{says(self.speed, 'kmh', 1)}{self.mark}"

    @property
    def slides(self) -> bool:
        """Whether a slide ends it [-]."""
        return self.by is By.SLIDE

    def change(self, then: Edge) -> str:
        """Write how much more or less another edge forgives, so that it and the two speeds add up as printed.

        Parameters:
            then: the other edge [-]

        Returns:
            such as "3.7 km/h more"; ``SAME`` where both are printed alike; "at least" where one of the two forgives
            every speed tried [-]
        """
        digits = digits_for("kmh", 1)
        ends = np.round(seen(np.array([self.speed, then.speed]), "kmh"), digits)
        least = "at least " if (self.by is By.NOTHING) != (then.by is By.NOTHING) else ""
        if not least and ends[0] == ends[1]:
            return SAME
        size = f"{number(abs(float(ends[1] - ends[0])), digits)} {label_for('kmh')}"
        return f"{least}{size} {'more' if then.speed >= self.speed else 'less'}"


def note(*edges: Edge) -> str:
    """Explain what a grip that ends first means, where it does.

    Parameters:
        edges: the edges that are told [-]

    Returns:
        a sentence; empty where none of them is of that kind [-]
    """
    return _NOTE if any(one.by is By.GRIP for one in edges) else ""


__all__ = ["MARKS", "SAME", "SHORT", "By", "Edge", "note"]
