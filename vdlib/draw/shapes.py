"""Shapes that move in a picture, and one drawing that has a pair of axes to itself; distances in metres."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from ..units import Array, G
from .live import LivePicture
from .style import FONT

NOTHING = np.full((1, 2), np.nan)
"""Outline of a shape that is not there."""


def turned(points: Any, angle: Any, about: Any = (0.0, 0.0)) -> Array:
    """Turn points counter-clockwise about one of them: ``p' = c + R(angle)·(p − c)``.

    Parameters:
        points: points, shape (n, 2) [m]
        angle: angle [rad]
        about: centre c of the turn [m]

    Returns:
        points, same shape [m]
    """
    cos, sin = np.cos(angle), np.sin(angle)
    matrix = np.array([[cos, -sin], [sin, cos]])
    found: Array = np.asarray(np.add(np.subtract(points, about) @ matrix.T, about))
    return found


def arrow(start: Any, step: Any, width: float = 0.05) -> Array:
    """Return the outline of an arrow; nothing to see where it has no length.

    Parameters:
        start: where it begins [m]
        step: from there to its point [m]
        width: width of its shaft [m]

    Returns:
        outline, shape (7, 2) [m]
    """
    x, y = (float(v) for v in step)
    length = float(np.hypot(x, y))
    if not length > 1e-6:
        return NOTHING
    head = min(3.2 * width, 0.7 * length)
    half = width / 2
    shape = [(0, half), (length - head, half), (length - head, 1.4 * width), (length, 0)]
    outline = np.array([*shape, (length - head, -1.4 * width), (length - head, -half), (0, -half)])
    found: Array = turned(outline, float(np.arctan2(y, x))) + np.asarray(start, dtype=float)
    return found


def box(width: float, height: float) -> Array:
    """Return the four corners of a rectangle about the origin.

    Parameters:
        width: size along x [m]
        height: size along y [m]

    Returns:
        corners, shape (4, 2) [m]
    """
    corners: Array = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array([width, height]) / 2
    return corners


class View:
    """One drawing of a car: the axes it has to itself and the artists that move."""

    def __init__(self, picture: LivePicture, axes: Axes, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Take the axes over: no frame, one scale both ways, fixed limits [m]."""
        axes.set_axis_off()
        axes.set_aspect("equal")
        axes.set(xlim=x, ylim=y)
        self.picture, self.axes = picture, axes
        self.artists: list[Artist] = []

    def show(self, seen: bool) -> None:
        """Show or hide this view, for several views that share one spot of the picture.

        Parameters:
            seen: whether it is seen [-]
        """
        for artist in (*self.axes.patches, *self.axes.lines, *self.artists):
            artist.set_visible(seen)
        self.picture.refresh_background()

    def _keep(self, artist: Any) -> Any:
        self.artists.append(self.picture.moving(artist))
        return artist

    def patch(self, zorder: float, **look: Any) -> Any:
        """Add a moving outline, not yet anywhere."""
        return self._keep(self.axes.add_patch(Polygon(NOTHING, closed=True, zorder=zorder, **look)))

    def line(self, zorder: float, **look: Any) -> Any:
        """Add a moving line or marker, not yet anywhere."""
        return self._keep(self.axes.plot([], [], zorder=zorder, **look)[0])

    def text(self, zorder: float = 9, size: float = FONT["tick"], **look: Any) -> Any:
        """Add a moving text, still empty."""
        both: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": size} | look
        return self._keep(self.axes.text(0, 0, "", zorder=zorder, **both))


def kilograms(load: Any) -> str:
    """Write a load as the scales would show it.

    Parameters:
        load: load [N]

    Returns:
        such as "312 kg"; "in the air" for none [-]
    """
    return f"{float(load) / G:.0f} kg" if float(load) > 0 else "in the air"
