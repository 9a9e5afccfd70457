"""How much of the world a picture shows: a few scales to choose among, so that the limits seldom move."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..units import Array
from .live import LivePicture

SCALES = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
"""Half-widths that an axis of angles can take [deg]."""


def scale_for(values: Array, scales: Sequence[float] = SCALES) -> float:
    """Return the smallest scale that holds every value with some room; the largest where none does.

    Parameters:
        values: what is to be shown; NaN is left out, any shape [any]
        scales: choices in rising order [any]

    Returns:
        one of the scales [any]
    """
    top = np.nanmax(np.abs(values), initial=0.0) * 1.05
    return next((scale for scale in scales if scale >= top), scales[-1])


def span(values: Array, step: float, least: float) -> tuple[float, float]:
    """Return limits on whole steps that hold every value, at least ``least`` apart; NaN and infinity are left out."""
    good = values[np.isfinite(values)]
    low, high = (float(good.min()), float(good.max())) if good.size else (0.0, 0.0)
    low, high = np.floor(low / step - 0.3) * step, np.ceil(high / step + 0.3) * step
    return float(low), float(max(high, low + least))


def fixed(picture: LivePicture, **edges: float) -> None:
    """Lay the axes out once and for all: a layout that follows the tick labels would depend on what came before."""
    picture.figure.set_layout_engine(None)
    picture.figure.subplots_adjust(**edges)
