"""Picture of the power-off test: what a closed throttle does to a circle, against how hard the car was cornering."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..answers.power_off import FROM, PowerOff
from ..units import G, from_si
from .frame import fixed, scale_for
from .style import FONT, line, point, start, tidy

OUT = (5.0, 10.0, 20.0, 32.0)
"""Tops of the axis of sideslip gained [deg]."""
FASTER = (2.0, 3.0, 5.0, 8.0)
"""Tops of the axis of the yaw rate ratio [-]."""
LOOKS = ("reference", "now")


class PowerOffPicture:
    """Sideslip gained and yaw rate ratio of two setups over the lateral acceleration before the throttle closes."""

    def __init__(self, names: Sequence[str], most: float) -> None:
        """Build the picture: names of the two setups, and the greatest lateral acceleration asked [m/s²]."""
        alt = (
            "How far the tail swings out in 3 s after the throttle closes, and how much faster the car then turns than "
            "its first circle needs, both against the lateral acceleration before, for two setups."
        )
        self.picture, (slide, yaw) = start(660, 400, alt, 2, 1)
        self.slide = tidy(slide, "", "", "tail gains [deg]")
        self.yaw = tidy(yaw, "", "lateral acceleration before the throttle closes [g]", "yaw rate ratio at 2 s [-]")
        self.slide.tick_params(labelbottom=False)
        self.yaw.axhline(1.0, color="black", linewidth=1.0)
        self.span = (FROM / G - 0.02, most / G + 0.02)
        keep = self.picture.moving
        self.slides = [keep(slide.plot([], [], **line(k, label=n))[0]) for k, n in zip(LOOKS, names, strict=True)]
        self.yaws = [keep(yaw.plot([], [], **line(k))[0]) for k in LOOKS]
        self.knees = [keep(slide.plot([], [], **point(k, markersize=14))[0]) for k in LOOKS]
        self.slide.plot([], [], **point("reference", markersize=11, fillstyle="none", label="the knee"))
        self.slide.legend(fontsize=FONT["note"], loc="upper left", frameon=False)
        fixed(self.picture, left=0.1, right=0.985, bottom=0.13, top=0.98, hspace=0.12)

    def draw(self, found: PowerOff) -> None:
        """Move the curves.

        Parameters:
            found: the test of both setups, (2, n) [-]
        """
        at = found.lateral / G
        gained = np.where(found.holds, from_si(found.sideslip_gained, "deg"), np.nan)
        ratio = np.where(found.holds, found.yaw_ratio_2s, np.nan)
        high, top = scale_for(gained, OUT), scale_for(ratio, FASTER)
        self.picture.frame(self.slide, self.span, (-0.05 * high, 1.05 * high))
        self.picture.frame(self.yaw, self.span, (0.5, top))
        for i, knee in enumerate(found.knee / G):
            self.slides[i].set_data(at[i], gained[i])
            self.yaws[i].set_data(at[i], ratio[i])
            there = np.isfinite(knee)
            self.knees[i].set_data(
                [knee if there else np.nan], [np.interp(knee, at[i], gained[i]) if there else np.nan]
            )
