"""Lateral acceleration in corners: what was logged, what ``V²/R`` says, and radii from positions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..checks import InputError, Problem
from ..units import Array, Value


def lateral_from_radius(speed: Value, radius: Value) -> Value:
    """Compute the sideways acceleration on a circle: ``a_y = V²/R``.

    Parameters:
        speed: speed, any shape [m/s]
        radius: radius of the way driven, any shape that broadcasts with it [m]

    Returns:
        sideways acceleration [m/s²]

    Errors:
        ``InputError`` for a radius that is not above zero.

    Validity: steady cornering on level ground.
    """
    if not np.all(np.asarray(radius) > 0):
        raise InputError(
            [Problem("radius", f"{float(np.min(radius)):.6g} m", "must be above zero", "measure it again")]
        )
    return np.square(speed) / radius


def circle_radius(x: Array, y: Array) -> Array:
    """Fit a circle to positions: least squares of ``x² + y² = 2·x_c·x + 2·y_c·y + (R² − x_c² − y_c²)``.

    Parameters:
        x: positions, (..., points) [m]
        y: positions, (..., points) [m]

    Returns:
        radius, positive where the way bends to the left, infinite where it is straight, (...) [m]

    Validity: at least three points on well under half a circle; noise makes it read a little small.

    Source: the algebraic fit of Kåsa (IEEE Trans. Instrum. Meas. IM-25, 1976, p. 8), from memory.
    """
    u, v = x - x.mean(axis=-1, keepdims=True), y - y.mean(axis=-1, keepdims=True)
    w = u**2 + v**2
    suu, svv, suv = (u * u).sum(-1), (v * v).sum(-1), (u * v).sum(-1)
    su, sv = (u * w).sum(-1) / 2, (v * w).sum(-1) / 2
    size = suu * svv - suv**2
    straight = size <= 1e-12 * (suu + svv) ** 2
    safe = np.where(straight, 1.0, size)
    xc, yc = (su * svv - sv * suv) / safe, (sv * suu - su * suv) / safe
    radius = np.sqrt(xc**2 + yc**2 + (suu + svv) / x.shape[-1])
    ahead = (x[..., -1] - x[..., 0]) * yc - (y[..., -1] - y[..., 0]) * xc
    return np.where(straight, np.inf, np.where(ahead >= 0, radius, -radius))


@dataclass(frozen=True)
class Grip:
    """Sideways acceleration in each corner: what was logged, what ``V²/R`` says, and their spread over the laps."""

    corners: tuple[str, ...]
    logged: Array | None  # (laps, corners) [m/s²]
    from_radius: Array | None  # (laps, corners), NaN where no radius was measured [m/s²]

    def spread(self) -> Array:
        """Return the standard deviation over the laps, of the logged or else of those from the radius.

        Returns:
            one for each corner, (corners,) [m/s²]

        Errors:
            ``InputError`` where sideways acceleration was neither logged nor can be had from a radius.
        """
        held = self.logged if self.logged is not None else self.from_radius
        if held is None:
            raise InputError(
                [Problem("sideways acceleration", "", "must be logged or have a radius", "give the radius")]
            )
        return np.std(held, axis=0, ddof=1) if len(held) > 1 else np.full(held.shape[1], np.nan)
