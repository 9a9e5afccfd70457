"""The main picture: the car from the side and from above, the steering it asks for, and the ledger."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..answers.height_study import Study
from ..answers.ledger import ROUTE_WORDS
from ..answers.sentences import attitude_words
from ..car.records import Car
from ..trim.trim import ROUTES
from ..units import G, from_si, number
from .carviews import SideView, TopView
from .frame import scale_for
from .style import FONT, fill, line, point, start, tidy

TIMES = 3.0
"""Height changes are exaggerated this many times."""
PLACES = {"left": 0.07, "right": 0.985, "bottom": 0.09, "top": 0.955, "wspace": 0.56, "hspace": 0.14}
"""Where the axes stand: as a layout would find, which costs a third of the first picture."""


class NoseHigh:
    """Four drawings of one ``Study`` in one live picture."""

    def __init__(self, car: Car, routes: Sequence[str] = ROUTES) -> None:
        """Build the picture of one car."""
        self.routes = tuple(routes)
        alt = (
            "The car from the side and from above with its wheel loads, the steering it asks for against lateral "
            "acceleration, and the part each route of a ride-height change has in the balance."
        )
        self.picture, axes = start(660, 470, alt, 2, 2, height_ratios=[1, 1.6], gridspec_kw=PLACES)
        self.picture.figure.set_layout_engine("none")
        (side, above), (curve, bars) = axes
        self.side, self.above = SideView(self.picture, side, car), TopView(self.picture, above, car)
        side.set_title(f"From the side (heights drawn {TIMES:g} times)", fontsize=FONT["label"], loc="left")
        above.set_title("Wheel loads (dashed: standing still)", fontsize=FONT["label"], loc="left")
        self.stance = self.picture.moving(side.text(0, 1.5, "", ha="center", va="center", fontsize=FONT["title"]))
        self._curves(curve)
        self._bars(bars)

    def _curves(self, axes: object) -> None:
        self.curve = tidy(axes, "", "lateral acceleration [g]", "extra steering [deg]")  # type: ignore[arg-type]
        self.curve.set_title("Steering beyond the corner's own", fontsize=FONT["label"], loc="left")
        self.curve.axhline(0, color="black", linewidth=1)
        keep = self.picture.moving
        (self.before,) = self.curve.plot([], [], **line("reference", label="reference heights"))
        (self.now,) = self.curve.plot([], [], **line("now", label="as set here"))
        (self.spot,) = self.curve.plot([], [], **point("now", markersize=13, label="this moment"))
        (self.past,) = self.curve.plot([], [], **point("warning", markersize=13, label="past the limit"))
        self.ends = []
        for end in ("front", "rear"):
            (mark,) = self.curve.plot([], [], **line(end, linewidth=3, label=f"{end} lets go"))
            self.ends.append(keep(mark))
        for artist in (self.before, self.now, self.spot, self.past):
            keep(artist)
        self.curve.legend(
            fontsize=FONT["note"], loc="upper left", frameon=False, ncols=2, borderaxespad=0, columnspacing=0.8
        )
        self.curve.set(xlim=(0, 1), ylim=(-1, 1))

    def _bars(self, axes: object) -> None:
        self.bars = tidy(axes, "", "change of extra steering [deg]")  # type: ignore[arg-type]
        self.bars.set_title("← oversteer    understeer →", fontsize=FONT["label"], loc="center")
        keep = self.picture.moving
        rows = [*range(len(self.routes)), len(self.routes) + 0.4]
        self.bars.set_yticks(rows, [*(ROUTE_WORDS[r] for r in self.routes), "all together"])
        self.bars.set(ylim=(rows[-1] + 0.6, -0.6), xlim=(-1, 1))
        self.bars.axvline(0, color="black", linewidth=1)
        self.parts = [keep(patch) for patch in self.bars.barh(rows, 0.0, height=0.7, linewidth=0.8)]
        self.values = [keep(self.bars.text(0, y, "", va="center", fontsize=FONT["note"])) for y in rows]

    def draw(self, found: Study) -> None:
        """Move everything to one study.

        Parameters:
            found: the study [-]
        """
        front, rear = (r + h for r, h in zip(self.side.reference, found.rise, strict=True))
        self.side.update(heights=(front, rear), times=TIMES)
        words = attitude_words(found.attitude)
        self.stance.set_text(words)
        now = found.at.load[..., 1]
        self.above.update(
            loads=now,
            standing=found.at.standing_load[..., 1],
            side=found.at.side_force[:, 1],
            steer=float(found.at.steer[1]),
            cg=float(found.at.cg_to_axle[0, 1]),
        )
        self._draw_curve(found)
        self._draw_bars(found)

    def _draw_curve(self, found: Study) -> None:
        lateral, angle = found.sweep / G, from_si(found.angle, "deg")
        high = scale_for(np.where(angle > 0, 1.35 * angle, angle), (2.0, 4.0, 8.0, 16.0, 32.0))  # below the legend
        low = -high if np.nanmin(angle, initial=0.0) < -0.4 * high else -0.5 * high
        self.picture.frame(self.curve, (0.0, max(float(lateral[-1]), 1.5)), (low, high))
        self.before.set_data(lateral, angle[0])
        self.now.set_data(lateral, angle[1])
        here, good = abs(float(found.moment.lateral)) / G, bool(found.at.usable[1])
        self.spot.set_data([here], [from_si(found.at.understeer_angle[1], "deg") if good else np.nan])
        self.past.set_data([here], [np.nan if good else 0.0])
        for mark, limit in zip(self.ends, found.limit[:, 1], strict=True):
            at_limit = limit / G if np.isfinite(limit) else np.nan
            mark.set_data([at_limit, at_limit], [low, 0.6 * low])

    def _draw_bars(self, found: Study) -> None:
        known = dict(zip(found.ledger.causes, from_si(found.ledger.parts, "deg"), strict=True))
        values = [known.get(route) for route in self.routes] + [float(from_si(found.ledger.total, "deg"))]
        if not found.usable:
            values = [None] * len(values)
        shown = np.array([np.nan if value is None else value for value in values], dtype=float)
        wide = scale_for(shown)
        self.picture.frame(self.bars, (-wide * 1.35, wide * 1.35), self.bars.get_ylim())
        for i, (patch, text, value) in enumerate(zip(self.parts, self.values, shown, strict=True)):
            size = 0.0 if np.isnan(value) else float(value)
            patch.set_width(size)
            role = "toward_understeer" if size >= 0 else "toward_oversteer"
            patch.set(**fill(role))
            if np.isnan(value):
                text.set_text("past the limit" if not found.usable else "switched off")
            else:
                text.set_text(number(size, 3 if wide < 0.5 else 2, sign=True))
            text.set_position((size + (0.02 if size >= 0 else -0.02) * wide, text.get_position()[1]))
            text.set_horizontalalignment("left" if size >= 0 else "right")
            text.set_fontweight("bold" if i == len(values) - 1 else "normal")
