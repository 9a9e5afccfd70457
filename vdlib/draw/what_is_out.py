"""What is out: a bar for each thing that differs from the reference, and the heights' own bar split by how they act."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ..units import number
from .frame import fixed, scale_for
from .style import FONT, fill, start, tidy

SCALES = (0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)

LEAST = 5
"""Rows that there is always room for."""
APART = 0.3
"""How much further below the others the sum is [rows]."""


class _Bars:
    """Rows of named bars to either side of nothing, the last of them all together."""

    def __init__(self, picture: Any, axes: Any, rows: int) -> None:
        self.picture, self.axes = picture, tidy(axes)
        places = np.arange(rows + 1, dtype=float)
        axes.set(ylim=(places[-1] + 0.6, -0.6), xlim=(-3.3, 1.6), yticks=[])
        axes.axvline(0, color="black", linewidth=1)
        self.title = picture.moving(axes.text(0.0, 1.02, "", transform=axes.transAxes, fontsize=FONT["label"]))
        self.bars = [picture.moving(bar) for bar in axes.barh(places, 0.0, height=0.7, linewidth=0.8)]
        own = {"va": "center", "fontsize": FONT["note"]}
        self.names = [picture.moving(axes.text(0, y, "", ha="left", **own)) for y in places]
        self.values = [picture.moving(axes.text(0, y, "", ha="right", **own)) for y in places]

    def draw(
        self, title: str, rows: Sequence[tuple[str, float]], total: float, digits: int, wide: float, most: int
    ) -> None:
        """Move the bars, the sum a little apart; there is room for as many as either column has."""
        self.title.set_text(title)
        self.axes.set_xticks([-wide, 0, wide])
        self.picture.frame(self.axes, (-3.3 * wide, 1.6 * wide), (max(most, LEAST) + APART + 0.6, -0.6))
        shown = [*rows, ("all together", total), *[("", 0.0)] * (len(self.bars) - 1 - len(rows))]
        for row, (bar, name, value, (words, size)) in enumerate(
            zip(self.bars, self.names, self.values, shown, strict=True)
        ):
            place = row + (APART if row == len(rows) else 0.0)
            bar.set(y=place - 0.5 * bar.get_height(), width=size)
            bar.set(**fill("toward_understeer" if size >= 0 else "toward_oversteer"))
            bar.set_visible(bool(words))
            name.set(text=words, x=-3.27 * wide, y=place)
            value.set(text=number(size, digits, sign=True) if words else "", x=1.57 * wide, y=place)


class WhatIsOut:
    """Two columns of bars in one live picture: everything that is out, and the heights by the ways they act."""

    def __init__(self, causes: int, routes: int) -> None:
        """Build the picture for so many rows in either column."""
        alt = "What each thing that is out has in the change from the reference, and how the ride heights act."
        self.picture, axes = start(660, 430, alt, columns=2)
        fixed(self.picture, left=0.01, right=0.99, top=0.92, bottom=0.08, wspace=0.04)
        self.causes, self.routes = _Bars(self.picture, axes[0], causes), _Bars(self.picture, axes[1], routes)

    def draw(
        self,
        unit: str,
        causes: Sequence[tuple[str, float]],
        routes: Sequence[tuple[str, float]],
        total: float,
        digits: int,
    ) -> None:
        """Move every bar.

        Parameters:
            unit: the unit of all sizes, as it is written [-]
            causes: plain name and part of each thing that is out, in that unit [any]
            routes: plain name and part of each way the heights act [any]
            total: the whole change [any]
            digits: digits shown [-]
        """
        sizes = [size for _, size in (*causes, *routes)]
        wide = scale_for(np.array([total, *sizes]), SCALES)
        most = max(len(causes), len(routes))
        self.causes.draw(f"Everything that is out [{unit}]", causes, total, digits, wide, most)
        heights = float(sum(size for _, size in routes))
        self.routes.draw(f"of it the heights, by how they act [{unit}]", routes, heights, digits, wide, most)
