"""A car driven in a circle: the steer it needs, and the understeer gradient read off it by the methods of ISO 4138."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive
from ..units import Value


def steady_steer(radius: Value, lateral: Value, wheelbase: Value, gradient: Value) -> Any:
    """Compute the steer angle of a steady turn: ``δ = L/R + K·a_y``.

    Parameters:
        radius: radius of the turn, any shape [m]
        lateral: lateral acceleration, any shape [m/s²]
        wheelbase: wheelbase, any shape [m]
        gradient: understeer gradient, any shape [rad/(m/s²)]

    Returns:
        steer angle at the front wheels [rad]

    Errors:
        ``InputError`` if radius or wheelbase is not above zero.

    Validity: radius much longer than the wheelbase, straight-line tyre.

    Source: ISO 4138; SAE J670.
    """
    need_positive(radius=radius, wheelbase=wheelbase)
    return wheelbase / radius + gradient * lateral


def _slope(x: Value, y: Value) -> Any:
    """Slope of the straight line through the readings on the last axis, by least squares."""
    x, y = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
    if x.ndim == 0 or x.shape[-1] < 2:
        raise InputError(
            [Problem("readings", str(x.shape[-1:] or 1), "must be at least two", "drive the test at more speeds")]
        )
    dx = x - x.mean(axis=-1, keepdims=True)
    spread = (dx**2).sum(axis=-1)
    need_positive(spread_of_lateral_acceleration=spread)
    return ((dx * y).sum(axis=-1) / spread)[()]


def gradient_at_radius(lateral: Value, steer: Value) -> Any:
    """Read the understeer gradient off a constant-radius test: ``K = dδ/da_y``.

    Parameters:
        lateral: lateral acceleration, readings on the last axis [m/s²]
        steer: steer angle at the front wheels, same shape [rad]

    Returns:
        understeer gradient, last axis gone [rad/(m/s²)]

    Errors:
        ``InputError`` for fewer than two different readings.

    Validity: straight-line range.

    Source: ISO 4138, constant-radius method.
    """
    return _slope(lateral, steer)


def gradient_at_speed(lateral: Value, steer: Value, speed: Value, wheelbase: Value) -> Any:
    """Read the understeer gradient off a constant-speed test: ``K = dδ/da_y − L/V²``.

    Parameters:
        lateral: lateral acceleration, readings on the last axis [m/s²]
        steer: steer angle at the front wheels, same shape [rad]
        speed: the one speed of each test, shape without the last axis [m/s]
        wheelbase: wheelbase, shape without the last axis [m]

    Returns:
        understeer gradient, last axis gone [rad/(m/s²)]

    Errors:
        ``InputError`` for fewer than two different readings.

    Validity: straight-line range.

    Source: ISO 4138, constant-speed method.
    """
    need_positive(speed=speed)
    return _slope(lateral, steer) - wheelbase / np.asarray(speed) ** 2


def gradient_at_steer(lateral: Value, curvature: Value, wheelbase: Value) -> Any:
    """Read the understeer gradient off a constant-steer test: ``K = −L·d(1/R)/da_y``.

    Parameters:
        lateral: lateral acceleration, readings on the last axis [m/s²]
        curvature: one over the radius of the path, same shape [1/m]
        wheelbase: wheelbase, shape without the last axis [m]

    Returns:
        understeer gradient, last axis gone [rad/(m/s²)]

    Errors:
        ``InputError`` for fewer than two different readings.

    Validity: straight-line range.

    Source: ISO 4138, constant-steering-wheel-angle method.
    """
    return -np.asarray(wheelbase) * _slope(lateral, curvature)
