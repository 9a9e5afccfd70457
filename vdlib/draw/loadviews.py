"""Pictures of moved load: the parts of each axle's transfer as bars, and a pair of tyres on the curve of its grip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from ..units import Array, G
from .live import LivePicture
from .shapes import NOTHING
from .style import FONT, fill, line, point, tidy

PARTS = {"links": "reference", "unsprung": "inner", "springs": "outer"}
"""Part of the lateral load transfer → role that it is drawn in."""
PART_WORDS = {
    "links": "through the links, at once",
    "unsprung": "from wheels and hubs, at once",
    "springs": "through springs and bars, as the body leans",
}
"""Part of the lateral load transfer → its words."""


class PartBars:
    """Two bars, front over rear, each of three parts, a star their sum; a black line: all the inner wheel has."""

    def __init__(self, picture: LivePicture, axes: Axes, most: float) -> None:
        """Take the axes; ``most`` is the end of the scale [kg]."""
        tidy(axes, "Load moved from the inner to the outer wheel", "[kg]")
        axes.axvline(0, color="black", linewidth=1)
        axes.set(xlim=(-0.15 * most, most), ylim=(-0.5, 2.4), yticks=[1, 0], yticklabels=["front", "rear"])
        axes.grid(False, axis="y")
        self.bars: dict[tuple[int, str], Any] = {
            (axle, part): picture.moving(axes.add_patch(Polygon(NOTHING, closed=True, **fill(role))))
            for axle in (0, 1)
            for part, role in PARTS.items()
        }
        empty = [Polygon([(0, 0)], closed=True, **fill(role)) for role in PARTS.values()]
        axes.legend(empty, PART_WORDS.values(), loc="upper right", fontsize=FONT["note"], frameon=False)
        self.totals = [picture.moving(axes.plot([], [], **point("now", markersize=14))[0]) for _ in range(2)]
        self.lifts = [picture.moving(axes.plot([], [], **line("now", linewidth=4))[0]) for _ in range(2)]

    def update(self, transfer: Any, standing: Any) -> None:
        """Move the bars.

        Parameters:
            transfer: a ``rolling.LateralTransfer`` [-]
            standing: loads of the inner front and rear wheel before any moves [N]
        """
        for axle, parts in enumerate((transfer.front, transfer.rear)):
            middle, ends = 1 - axle, [0.0, 0.0]
            low, high = middle - 0.32, middle + 0.32
            for part in PARTS:
                width = float(getattr(parts, part)) / G
                side = int(width < 0)  # what a roll centre below the ground takes off stands left of zero
                left, right = ends[side], ends[side] + width
                self.bars[axle, part].set_xy([(left, low), (right, low), (right, high), (left, high)])
                ends[side] = right
            self.totals[axle].set_data([sum(ends)], [middle])
            at = float(standing[axle]) / G
            self.lifts[axle].set_data([at, at], [middle - 0.42, middle + 0.42])


@dataclass(frozen=True)
class Pair:
    """A pair of tyres between which load moves: peak force against load, the two wheels, the sum against load moved."""

    loads: Array  # of the curve [N]
    forces: Array  # of the curve [N]
    wheels: Array  # (2,) loads of inner and outer wheel [N]
    peaks: Array  # (2,) their peak forces [N]
    even: float  # peak force of both together with nothing moved [N]
    moved: Array  # share of a wheel's standing load that has moved, 0 to 1 [-]
    sums: Array  # both peak forces together at those [N]
    share: float  # share moved now [-]

    @property
    def lost(self) -> float:
        """Part of the pair's grip that the moved load costs [-]."""
        return float(1 - self.peaks.sum() / self.even)


class PairCurves:
    """Left: peak force against load with the pair's two wheels; right: what both have together against load moved."""

    def __init__(self, picture: LivePicture, axes: Any, most_load: float, most_force: float) -> None:
        """Take two axes; the ends of the scales are in newtons."""
        left, right = axes
        tidy(left, "One tyre's largest side force", "load on the tyre [kg]", "largest side force [kN]")
        left.set(xlim=(0, most_load / G), ylim=(0, most_force / 1e3))
        tidy(right, "Both tyres together", "load moved [% of one wheel's load]", "grip left of the pair [%]")
        right.set(xlim=(0, 100), ylim=(70, 102))
        self.curve = picture.moving(left.plot([], [], **line("now"))[0])
        self.chord = picture.moving(left.plot([], [], **line("reference"))[0])
        self.even = picture.moving(left.plot([], [], **point("muted", markersize=13), label="both alike")[0])
        self.inner = picture.moving(left.plot([], [], **point("inner"), label="inner")[0])
        self.outer = picture.moving(left.plot([], [], **point("outer"), label="outer")[0])
        self.mean = picture.moving(left.plot([], [], **point("reference"), label="middle of the two")[0])
        left.legend(loc="lower right", fontsize=FONT["note"], frameon=False)
        self.sums = picture.moving(right.plot([], [], **line("now"))[0])
        self.now = picture.moving(right.plot([], [], **point("reference", markersize=11))[0])

    def update(self, pair: Pair) -> None:
        """Move the curves and points.

        Parameters:
            pair: the pair of tyres [-]
        """
        kilograms, kilonewtons = pair.wheels / G, pair.peaks / 1e3
        self.curve.set_data(pair.loads / G, pair.forces / 1e3)
        self.chord.set_data(kilograms, kilonewtons)
        self.inner.set_data(kilograms[:1], kilonewtons[:1])
        self.outer.set_data(kilograms[1:], kilonewtons[1:])
        self.mean.set_data([kilograms.mean()], [kilonewtons.mean()])
        self.even.set_data([kilograms.mean()], [pair.even / 2e3])
        self.sums.set_data(100 * pair.moved, 100 * pair.sums / pair.even)
        self.now.set_data([100 * pair.share], [100 * float(np.sum(pair.peaks)) / pair.even])
