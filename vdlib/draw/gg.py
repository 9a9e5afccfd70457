"""Picture of the g-g diagram: lateral against longitudinal g, what was driven inside the model's two limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Array, Flags, G
from .style import FONT, line, start, tidy

ALT = (
    "Longitudinal g up the picture, lateral g across it: a point for what was driven, and the lateral g at which the "
    "model's front and rear tyres let go at each longitudinal g, in left and in right turns."
)
WIDE, HIGH = 1.5, 1.3
"""Half the width and half the height of the picture [g]."""


@dataclass(frozen=True)
class ShownGrip:
    """What is drawn; lateral is positive to the left."""

    longitudinal: Array  # of the limits (n,) [m/s²]
    limit: Array  # (2 turns, 2 ends, n), NaN where an end is not what lets go [m/s²]
    lateral_driven: Array  # (m,) [m/s²]
    along_driven: Array  # (m,) [m/s²]


class GripPicture:
    """The picture; what moves is the points and four lines."""

    def __init__(self, driven: bool) -> None:
        """Lay out the axes; ``driven`` tells whether points of a log may come."""
        self.picture, axes = start(560, 430, ALT)
        self.axes = axes
        tidy(
            axes,
            "Grip used, and the model's limits",
            "left turns  ←  lateral [g]  →  right turns",
            "braking ← [g] → drive",
        )
        axes.set(xlim=(WIDE, -WIDE), ylim=(-HIGH, HIGH * 0.7))
        self.dots = self.picture.moving(
            axes.plot(
                [],
                [],
                linestyle="none",
                marker=".",
                markersize=2.5,
                color="#767676",
                label="driven" if driven else None,
            )[0]
        )
        self.lines = [
            [self.picture.moving(axes.plot([], [], **line(role), label=name if turn == 0 else None)[0])
             for role, name in (("front", "front lets go"), ("rear", "rear lets go"))]
            for turn in range(2)
        ]  # fmt: skip
        axes.axvline(0, color="#333333", linewidth=0.8)
        axes.axhline(0, color="#333333", linewidth=0.8)
        axes.legend(loc="upper right", fontsize=FONT["note"], frameon=False, ncols=3)

    def draw(self, shown: ShownGrip) -> None:
        """Draw one result.

        Parameters:
            shown: what is to be drawn [-]
        """
        self.dots.set_data(shown.lateral_driven / G, shown.along_driven / G)
        for turn, pair in enumerate(self.lines):
            for end, one in enumerate(pair):
                one.set_data(shown.limit[turn, end] / G, shown.longitudinal / G)


def limits_drawn(lateral: Array, slides: Flags) -> Array:
    """Return limits with a hole where the end's own tyres are not what lets go.

    Parameters:
        lateral: where each end lets go, any shape [m/s²]
        slides: whether its own tyres do, the same shape [-]

    Returns:
        the same shape [m/s²]
    """
    return np.where(slides, lateral, np.nan)
