"""A picture in the units that the reader sees: its texts, the heads of its axes, and round numbers on their scales."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import Formatter, MaxNLocator

from ..shown import Choice, chosen, head, head_unit, per, retold


class Places(MaxNLocator):
    """Places of the ticks: where the numbers are round in the unit that the reader sees."""

    def __init__(self, factor: float) -> None:
        """Take how many of the reader's unit make one of the axis."""
        super().__init__(nbins="auto", steps=[1, 2, 2.5, 5, 10])
        self.factor = factor

    def tick_values(self, vmin: float, vmax: float) -> Any:
        """Return the places between two ends, in the unit of the axis."""
        return np.asarray(super().tick_values(vmin * self.factor, vmax * self.factor)) / self.factor


class Numbers(Formatter):
    """The numbers at the ticks, in the unit that the reader sees, with as many digits as tell them apart."""

    def __init__(self, factor: float) -> None:
        """Take how many of the reader's unit make one of the axis."""
        self.factor = factor

    def format_ticks(self, values: Any) -> list[str]:
        """Write all numbers of an axis."""
        own = np.asarray(values, dtype=float) * self.factor
        step = float(np.min(np.diff(np.unique(own)), initial=np.inf)) if own.size > 1 else 1.0
        digits = next((d for d in range(6) if np.all(np.abs(np.round(own, d) - own) < 1e-3 * step)), 6)
        return [f"{value + 0.0:.{digits}f}".replace("-", "−") for value in np.round(own, digits) + 0.0]

    def __call__(self, x: float, pos: int | None = None) -> str:
        """Write one number."""
        return self.format_ticks([x])[0]


def in_units(figure: Figure) -> None:
    """Write a figure's texts and scales in the units that the reader sees; what is there already stays as it is.

    An axis whose head ends in a unit with a choice, such as [kg], gets round numbers of the other one: its data stay.
    A unit in the title is that of the upright axis.

    Parameters:
        figure: the figure, its artists moved [-]
    """
    if chosen() == Choice():
        return
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            _scale(axis, axis.get_label_text())
        _scale(axes.yaxis, axes.get_title("left"))
    for text in figure.findobj(Text):
        said = text.get_text()
        if said and (new := head(retold(said))) != said:
            text.set_text(new)


def _scale(axis: Axis, label: str) -> None:
    unit = head_unit(label)
    if unit:
        axis.set_major_locator(Places(per(unit)))
        axis.set_major_formatter(Numbers(per(unit)))
