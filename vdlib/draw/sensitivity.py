"""Bars that say which number of an equation matters most."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from ..units import number
from .live import LivePicture
from .shapes import NOTHING
from .style import FONT, fill, tidy

ROWS = 13
"""Most symbols an equation may hold."""
WIDE = 3.3
"""Room left of zero for a bar and, beside it, the longest name, in lengths of the longest bar."""
FEWEST = 8
"""Rows that there is always room for."""


class SensitivityBars:
    """One bar for each symbol, the longest as long as the axes, with its meaning and its percent as text."""

    def __init__(self, picture: LivePicture, axes: Axes) -> None:
        """Take the axes."""
        tidy(axes, "1 % more of each number changes the result by")
        self.picture, self.axes = picture, axes
        axes.set(xlim=(-WIDE, 1.7), ylim=(-ROWS + 0.4, 0.6), xticks=[], yticks=[])
        axes.grid(False)
        axes.spines[["left", "bottom"]].set_visible(False)
        self.zero = picture.moving(axes.plot([], [], color="black", linewidth=1)[0])
        self.bars: list[Any] = []
        self.names, self.sizes = [], []
        for row in range(ROWS):
            self.bars.append(picture.moving(axes.add_patch(Polygon(NOTHING, closed=True, **fill("front", hatch="")))))
            look: dict[str, Any] = {"va": "center", "fontsize": FONT["tick"]}
            self.names.append(picture.moving(axes.text(0.02 - WIDE, -row, "", ha="left", **look)))
            self.sizes.append(picture.moving(axes.text(1.65, -row, "", ha="right", **look)))

    def update(self, percents: Mapping[str, float]) -> None:
        """Move the bars.

        Parameters:
            percents: name → change of the result, NaN where it leaves none, largest first [%]
        """
        longest = max((abs(v) for v in percents.values() if np.isfinite(v)), default=0.0) or 1.0
        self.picture.frame(self.axes, (-WIDE, 1.7), (0.4 - max(len(percents), FEWEST), 0.6))
        self.zero.set_data([0, 0], [0.6, 0.4 - len(percents)])
        rows = [*percents.items(), *[("", np.nan)] * (ROWS - len(percents))]
        for row, (name, percent) in enumerate(rows):
            end = 0.0 if np.isnan(percent) else percent / longest
            low, high = -row - 0.33, -row + 0.33
            self.bars[row].set_xy([(0, low), (end, low), (end, high), (0, high)] if name else NOTHING)
            self.names[row].set_text(name)
            self.sizes[row].set_text(
                "" if not name else "none left" if np.isnan(percent) else f"{number(percent, 2, True)} %"
            )
