"""Side-force balance of each axle: the slip angle at which its two tyres make the force that is asked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .tyre import Curve, inverse_bend
from .units import Array

_NEAR = 1e-12  # force left over, as part of the axle's greatest force


@dataclass(frozen=True)
class Slip:
    """What was found for each axle, (2, n)."""

    slip: Array  # [rad], at the peak where the axle falls short
    peak: Array  # greatest side force [N]
    stiffness: Array  # local slope [N/rad]
    short: Array  # True where more is asked than there is


def solve_slip(tyres: Curve, offset: Array, asked: Array, start: Array | None) -> Slip:
    """Find each axle's slip angle on the rising part of its curve.

    Parameters:
        tyres: the four curves, (2, 2, n), in the sense in which the asked force is positive [-]
        offset: what toe and compliance add to the axle's slip angle at each wheel, (2, 2, n) [rad]
        asked: side force asked of each axle, not negative, (2, n) [N]
        start: slip angles to start from, (2, n) [rad]

    Returns:
        a ``Slip`` [-]
    """

    def axle(slip: Array) -> tuple[Array, Array]:
        force, slope = tyres.force_and_slope(slip[:, None, :] + offset)
        return force.sum(axis=1), slope.sum(axis=1)

    share = tyres.peak.sum(axis=1)
    weight = tyres.peak / np.maximum(share, 1e-9)[:, None, :]
    each = tyres.peak_slip() - offset
    top = (weight * each).sum(axis=1)
    for _ in range(2):  # the two tyres peak close to each other: two secant steps on the slope find the sum's peak
        near = 1e-3
        (_, low), (_, high) = axle(top - near), axle(top + near)
        step = near * (low + high) / np.where(low - high > 0, low - high, np.inf)
        top = top + np.clip(step, -0.02, 0.02)
    peak, _ = axle(top)
    short = asked > peak
    if start is None:
        psi = np.tan(np.arcsin(np.minimum(asked / np.maximum(share, 1e-9), 0.98)) / tyres.shape[:, 0])
        steep = (weight * tyres.steepness).sum(axis=1)
        slip = inverse_bend(psi, tyres.curvature[:, 0]) / steep - (weight * (tyres.shift + offset)).sum(axis=1)
    else:
        slip = start
    floor = np.full_like(top, -0.6)
    ceiling = top.copy()
    slip = np.minimum(slip, 0.5 * (ceiling + np.minimum(slip, ceiling)))
    for _ in range(50):
        force, slope = axle(slip)
        left = force - asked
        if np.all(short | (np.abs(left) <= _NEAR * peak + 1e-12)):
            break
        ceiling = np.where(left > 0, slip, ceiling)
        floor = np.where(left <= 0, slip, floor)
        with np.errstate(all="ignore"):
            new = slip - left / slope
        inside = (new > floor) & (new < ceiling) & (slope > 0)
        new = np.where(inside, new, 0.5 * (floor + ceiling))
        slip = np.where(np.abs(left) <= _NEAR * peak + 1e-12, slip, new)
    slip = np.where(short, top, slip)
    _, slope = axle(slip)
    return Slip(slip, peak, np.where(short, 0.0, slope), short)
