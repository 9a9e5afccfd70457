"""Picture of how sure a difference is: plausible cars with both setups, and the spread of what lies between."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..answers.difference import Band
from ..shown import label_for, seen
from .style import FONT, ROLES, fill, line, start, tidy

WIDTH = 0.5
"""Width of a bar of the histogram, in the unit of the speeds."""


class DifferencePicture:
    """Left, a line for each plausible car from one setup to the other; right, how often each change occurs."""

    def __init__(self, names: Sequence[str]) -> None:
        """Build the picture: what the two setups are called."""
        alt = (
            "Each plausible car's forgiven speed with both setups, joined by a line; and how often each change occurs."
        )
        self.picture, (each, change) = start(660, 340, alt, 1, 2)
        self.each = tidy(each, "One line a plausible car", "", f"forgiven up to [{label_for('kmh')}]")
        self.change = tidy(change, "What lies between", f"change [{label_for('kmh')}]", "cars")
        self.names = tuple(names)

    def draw(self, band: Band) -> None:
        """Draw the band; once, for nothing moves it.

        Parameters:
            band: both setups of the plausible cars [-]
        """
        speed, change = (np.asarray(seen(value, "kmh")) for value in (band.speed, band.change))
        for k, colour in ((True, "toward_oversteer"), (False, "toward_understeer")):
            chosen = (change < 0) == k
            if chosen.any():
                self.each.plot([0, 1], speed[:, chosen], color=ROLES[colour].colour, linewidth=0.9, alpha=0.7)
        self.each.set(xlim=(-0.1, 1.1))
        self.each.set_xticks([0, 1], self.names, fontsize=FONT["note"])
        first, last = np.floor(change.min() / WIDTH), np.ceil(change.max() / WIDTH)
        counts, edges = np.histogram(change, WIDTH * np.arange(first, last + 1.5))
        for count, low, high in zip(counts, edges[:-1], edges[1:], strict=True):
            look = fill("toward_oversteer" if low + high < 0 else "toward_understeer")
            self.change.bar(low, count, high - low, align="edge", **look)
        self.change.axvline(0, color="black", linewidth=1.4)
        low, middle, high = (float(seen(value, "kmh")) for value in band.of(band.change))
        self.change.plot([low, high], [1.06 * counts.max()] * 2, **line("now", linewidth=3.0))
        self.change.plot([middle], [1.06 * counts.max()], color="black", marker="*", markersize=12)
        self.change.text(low, 1.1 * counts.max(), "nine of ten", fontsize=FONT["note"], va="bottom")
        self.change.set_ylim(0, 1.25 * counts.max())
