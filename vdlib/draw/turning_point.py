"""Where the sign turns: the net effect of the ride heights against one number of the car, phase by phase."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..units import Array
from .frame import scale_for
from .style import FONT, line, point, start, tidy

_LOOKS = ("rear", "front", "now", "inner")


class TurningPoint:
    """One curve a phase; above the line the heights act toward understeer, below it toward oversteer."""

    def __init__(self, phases: Mapping[str, str]) -> None:
        """Build the picture for these phases, key → plain name."""
        self.picture, axes = start(
            660, 400, "The net effect of the ride heights on the balance against one number of the car, phase by phase."
        )
        self.axes = tidy(axes, "", "", "change of extra steering [deg]")
        keep = self.picture.moving
        self.axes.axhline(0, color="black", linewidth=1.5)
        note = {"fontsize": FONT["label"], "ha": "right", "transform": axes.transAxes}
        axes.text(0.99, 0.95, "toward understeer", va="top", **note)
        axes.text(0.99, 0.03, "toward oversteer", va="bottom", **note)
        self.curves = {}
        for (phase, name), look in zip(phases.items(), _LOOKS, strict=True):
            (self.curves[phase],) = axes.plot([], [], **line(look, label=name))
        (self.own,) = axes.plot([], [], **line("reference", linewidth=1.5, label="this car's number"))
        (self.dots,) = axes.plot([], [], **point("reference", markersize=7))
        for artist in (*self.curves.values(), self.own, self.dots):
            keep(artist)
        axes.legend(fontsize=FONT["note"], loc="upper left", frameon=False, ncols=2)

    def draw(self, label: str, x: Array, change: Mapping[str, Array], own: float) -> None:
        """Move the curves.

        Parameters:
            label: name and unit of the number along x [-]
            x: its values in the user's unit, shape (n,) [any]
            change: phase → change of extra steering, shape (n,), NaN past the limit [any]
            own: the open car's own value [any]
        """
        high = scale_for(np.array(list(change.values())))
        frame = ((float(x[0]), float(x[-1])), (-high, 1.4 * high))
        if (self.axes.get_xlim(), self.axes.get_ylim(), self.axes.get_xlabel()) != (*frame, label):
            self.axes.set(xlim=frame[0], ylim=frame[1])
            self.axes.set_xlabel(label, fontsize=FONT["label"])
            self.picture.refresh_background()
        for phase, values in change.items():
            self.curves[phase].set_data(x, values)
        self.own.set_data([own, own], frame[1])
        at = [float(np.interp(own, x, values)) for values in change.values()]
        self.dots.set_data([own] * len(at), at)
