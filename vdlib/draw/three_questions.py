"""Picture of the three questions: total steering against lateral g, and below it, on the same axis, where it ends."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..answers.three_questions import Questions
from ..shown import says
from ..units import G, from_si
from .frame import fixed, scale_for
from .style import FONT, line, point, start, tidy

WIDEST = (1.2, 1.6, 2.0, 3.0)
"""Ends of the axis of lateral acceleration [g]."""
STEEPEST = (3.0, 5.0, 8.0, 12.0, 20.0, 40.0, 80.0)
"""Tops of the axis of steering [deg]."""
ROWS = (1.0, 0.0)
"""Where the two setups have their rows: the reference above."""
LOOKS = ("reference", "now")


class ThreeQuestions:
    """Two cars in one corner: steering with its top marked, and where hands still, front and rear come to their end."""

    def __init__(self, names: Sequence[str]) -> None:
        """Build the picture of two setups: the reference's name and the other's."""
        alt = (
            "Total steering against lateral acceleration at one speed for both setups, its top marked: from there on "
            "still hands no longer settle the car. Below, on the same axis: that top, and where each end slides."
        )
        self.picture, (curve, lanes) = start(660, 400, alt, 2, 1, height_ratios=[2.3, 1.0])
        keep = self.picture.moving
        self.curve = tidy(curve, "", "", "front wheels turned [deg]")
        self.lanes = tidy(lanes, "", "lateral acceleration [g]", "")
        self.curve.tick_params(labelbottom=False)
        self.lanes.set_yticks(ROWS, ["", ""])
        self.lanes.set_ylim(-0.6, 1.75)
        self.here = [keep(axes.axvline(0.7, color="#767676", linewidth=1.4)) for axes in (self.curve, self.lanes)]
        self.moment = keep(self.curve.text(0.7, 0, " asked here", va="bottom", fontsize=FONT["note"]))
        self.lines, self.tops, self.still, self.front, self.rear, self.speeds = [], [], [], [], [], []
        for look, name, row in zip(LOOKS, names, ROWS, strict=True):
            self.lines.append(keep(self.curve.plot([], [], **line(look, label=name))[0]))
            self.speeds.append(keep(self.curve.text(0, 0, "", fontsize=FONT["note"], va="bottom", ha="center")))
            self.tops.append(keep(self.curve.plot([], [], **point(look, markersize=14))[0]))
            self.still.append(keep(self.lanes.plot([], [], **point(look, markersize=14))[0]))
            self.front.append(keep(self.lanes.plot([], [], **point("front", markersize=10))[0]))
            self.rear.append(keep(self.lanes.plot([], [], **point("rear", markersize=10))[0]))
            self.lanes.text(0.01, row + 0.22, name, fontsize=FONT["note"], transform=self.lanes.get_yaxis_transform())
        self.curve.plot(
            [], [], **point("reference", markersize=11, fillstyle="none", label="top: hands still settle it up to here")
        )
        self.curve.plot([], [], **point("front", label="front slides"))
        self.curve.plot([], [], **point("rear", label="rear slides"))
        self.curve.legend(fontsize=FONT["note"], loc="upper left", frameon=False, ncols=2)
        fixed(self.picture, left=0.075, right=0.985, bottom=0.12, top=0.98, hspace=0.09)

    def draw(self, found: Sequence[Questions], lateral: float) -> None:
        """Move everything to two cars in one corner.

        Parameters:
            found: reference and other [-]
            lateral: lateral acceleration that is looked at [m/s²]
        """
        steer = [from_si(one.steer, "deg") for one in found]
        ends = np.array([one.ends for one in found]) / G
        wide = scale_for(ends[np.isfinite(ends)], WIDEST)
        high = scale_for(np.concatenate(steer) * 1.45, STEEPEST)
        low = min(0.0, float(np.floor(np.nanmin(np.concatenate(steer), initial=0.0))))
        self.picture.frame(self.curve, (0.0, wide), (low, high))
        self.picture.frame(self.lanes, (0.0, wide), self.lanes.get_ylim())
        for mark in self.here:
            mark.set_xdata([lateral / G, lateral / G])
        late = lateral / G > 0.8 * wide  # beyond it the words would leave the picture
        self.moment.set(text="asked here " if late else " asked here", ha="right" if late else "left")
        self.moment.set_position((lateral / G, low + 0.02 * (high - low)))
        upper = int(np.argmax([np.nanmax(each) for each in steer]))
        for i, one in enumerate(found):
            at = one.lateral / G
            self.lines[i].set_data(at, steer[i])
            top = np.nan if one.settles_to_the_end else float(one.hands.limit) / G
            known = np.isfinite(steer[i])
            high_at = int(np.nanargmax(steer[i]))
            self.speeds[i].set_text(f"at {says(one.speed, 'kmh', 0)}")
            beside, over = (0.025 * wide, 0.01) if i == upper else (0.0, -0.15)  # clear of the legend and of the lines
            self.speeds[i].set(ha="left" if i == upper else "center")
            self.speeds[i].set_position((at[high_at] + beside, steer[i][high_at] + over * (high - low)))
            self.tops[i].set_data([top], [np.interp(top, at[known], steer[i][known])])
            self.still[i].set_data([top], [ROWS[i]])
            for marks, place in ((self.front[i], ends[i, 0]), (self.rear[i], ends[i, 1])):
                marks.set_data([place if np.isfinite(place) else np.nan], [ROWS[i]])
