"""How fast a small slide grows on its own: the two-wheel motion with wheel loads, toe and camber following the car."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..units import Array


def growth_rate(mass: Any, inertia: Any, arms: Any, stiffness: Any, follows: Any, speed: Any) -> Array:
    """Return the growth rate of a small slide, steering and throttle held: the largest real part of the poles.

    ``dF_i = C_i·dα_i + G_i·da_y``, ``da_y = ΣdF/m``; ``m·V·(β' + r) = ΣF``, ``I·r' = a·F_f − b·F_r``.

    Parameters:
        mass: mass, any shape [kg]
        inertia: yaw inertia, any shape [kg·m²]
        arms: distance from the centre of gravity to front and rear axle, (2, …) [m]
        stiffness: local slope of side force of each axle, loads held, (2, …) [N/rad]
        follows: growth of each axle's side force with lateral acceleration, slip angles held, (2, …) [kg]
        speed: speed, any shape [m/s]

    Returns:
        growth rate, negative where a small slide dies out [1/s]

    Validity: a small slide about that moment, constant speed, loads and tyres without lag. It is nought just where the
    settled car's steering stops rising with lateral acceleration at that speed (K + L/V² = 0).
    Source: the two-wheel model of Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 1.3, loads following.
    """
    (a, b), (front, rear), (g_f, g_r) = arms, np.asarray(stiffness), np.asarray(follows)
    left = np.maximum(mass - g_f - g_r, 0.05 * np.asarray(mass))  # what loads that follow give back
    share_f, share_r = g_f / left, g_r / left
    ff, fr, rf, rr = front * (1 + share_f), share_f * rear, share_r * front, rear * (1 + share_r)
    front_beta, rear_beta = -(ff + fr), -(rf + rr)
    front_rate, rear_rate = (b * fr - a * ff) / speed, (b * rr - a * rf) / speed
    a11 = (front_beta + rear_beta) / (mass * speed)
    a12 = (front_rate + rear_rate) / (mass * speed) - 1
    a21, a22 = (a * front_beta - b * rear_beta) / inertia, (a * front_rate - b * rear_rate) / inertia
    half, square = 0.5 * (a11 + a22), a11 * a22 - a12 * a21
    return np.asarray(half + np.sqrt(np.maximum(half * half - square, 0.0)))


def doubling(rate: Any) -> Array:
    """Return the time in which what grows at a rate doubles: ``T₂ = ln 2/λ``.

    Parameters:
        rate: growth rate, any shape [1/s]

    Returns:
        time to double, infinite where nothing grows, NaN where the rate is [s]
    """
    rate = np.asarray(rate, dtype=float)
    grows = rate > 0
    return np.where(np.isnan(rate), np.nan, np.where(grows, np.log(2) / np.where(grows, rate, 1.0), np.inf))
