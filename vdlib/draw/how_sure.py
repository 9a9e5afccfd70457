"""How sure is the sign: a hundred cars, the spread of the answer, and which doubt carries it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..answers.spread import Spread
from ..units import from_si
from .frame import scale_for
from .style import FONT, fill, line, point, start, tidy

ROWS = 7
"""Doubts shown."""
_BINS = 30
_KINDS = {"toward_oversteer": "oversteer", "toward_understeer": "understeer", "muted": "past the limit"}


class HowSure:
    """Three drawings of one ``Spread`` in one live picture."""

    def __init__(self) -> None:
        """Build the picture."""
        alt = "A hundred plausible cars by the way they move, the spread of the change, and the doubts that carry it."
        self.picture, (cars, spread, doubts) = start(660, 330, alt, columns=3, width_ratios=[0.8, 1, 1.05])
        keep = self.picture.moving
        cars.set(xlim=(-0.3, 10.3), ylim=(-2.6, 10.3), aspect="equal")
        cars.set_axis_off()
        cars.set_title("Of 100 plausible cars", fontsize=FONT["label"], loc="left")
        self.cars = {}
        for place, (role, words) in enumerate(_KINDS.items()):
            (self.cars[role],) = cars.plot([], [], **point(role, markersize=13))
            keep(self.cars[role])
            cars.plot([0.5 + 5.2 * (place % 2)], [-0.9 - 1.1 * (place // 2)], **point(role, markersize=13))
            at = (1.3 + 5.2 * (place % 2), -0.9 - 1.1 * (place // 2))
            cars.text(*at, words, va="center", fontsize=FONT["tick"])
        self.spread = tidy(spread, "", "change of extra steering [deg]", "plausible cars in 100")
        spread.set_title("How far, and which way", fontsize=FONT["label"], loc="left")
        spread.axvline(0, color="black", linewidth=1.5)
        self.bars = [keep(patch) for patch in spread.bar(np.zeros(_BINS), 0.0, width=0.0, linewidth=0.5)]
        (self.band,) = spread.plot([], [], **line("now", linewidth=5, solid_capstyle="butt"))
        keep(self.band)
        spread.text(
            0.98,
            0.95,
            "thick line: nine in ten;\nend bars: all beyond",
            ha="right",
            va="top",
            fontsize=FONT["note"],
            transform=spread.transAxes,
        )
        self.doubts = tidy(doubts, "", "decided wrongly, times in 100")
        doubts.set_title("How often the decision is wrong", fontsize=FONT["label"], loc="left")
        doubts.set(xlim=(0, 70), ylim=(ROWS - 0.4, -0.6), yticks=[])
        self.shares = [keep(patch) for patch in doubts.barh(np.arange(ROWS) + 0.18, 0.0, height=0.35, linewidth=0.8)]
        for patch in self.shares:
            patch.set(**fill("reference", hatch=""))
        self.names = [keep(doubts.text(1, i - 0.2, "", va="center", fontsize=FONT["tick"])) for i in range(ROWS)]

    def draw(self, found: Spread, wrong: float, after: Mapping[str, float]) -> None:
        """Move everything to one spread and one decision.

        Parameters:
            found: the spread of an understeer angle [-]
            wrong: chance of deciding wrongly now [-]
            after: reading → the chance once it is taken, the best first [-]
        """
        known, count = found.known, found.change.size
        first = 0
        for role, number in zip(_KINDS, found.of_hundred, strict=True):
            places = np.arange(first, first + number)
            self.cars[role].set_data(places % 10 + 0.5, 9.5 - places // 10)
            first += number
        change = from_si(found.change[known], "deg")
        wide = scale_for(np.quantile(change, [0.01, 0.99]) if change.size else np.zeros(1))
        edges = np.linspace(-wide, wide, _BINS + 1)
        inside = np.clip(change, -wide, wide)
        high = 100 * np.histogram(inside, edges)[0] / count
        top = scale_for(high, (5.0, 10.0, 20.0, 40.0, 60.0, 80.0, 100.0)) * 1.25
        self.picture.frame(self.spread, (-wide, wide), (-0.08 * top, top))
        for patch, left, right, value in zip(self.bars, edges[:-1], edges[1:], high, strict=True):
            patch.set(x=left, width=right - left, height=value)
            patch.set(**fill("toward_oversteer" if left + right < 0 else "toward_understeer", hatch=""))
        low, _, up = from_si(np.array(found.band()), "deg")
        self.band.set_data([low, up], [-0.04 * top] * 2)
        bars = [("now", wrong), *list(after.items())[: ROWS - 1]]
        bars += [("", 0.0)] * (ROWS - len(bars))
        for row, (name, part) in enumerate(bars):
            self.shares[row].set_width(100 * part)
            self.names[row].set_text(f"{name if row == 0 else f'with {name}'}: {100 * part:.0f}" if name else "")
