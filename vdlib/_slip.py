"""Side-force balance of each axle: the slip angle at which its two tyres make the force that is asked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ._layout import Mask
from .tyre import Curve, inverse_bend
from .units import Array


@dataclass(frozen=True)
class Slip:
    """What was found for each axle, (2, n)."""

    slip: Array  # [rad], at the peak where the axle falls short
    top: Array  # slip angle of the greatest side force [rad]
    peak: Array  # greatest side force [N]
    stiffness: Array  # local slope [N/rad]
    short: Mask  # True where more is asked than there is


def solve_slip(tyres: Curve, offset: Array, asked: Array, start: Slip | None, near: float) -> Slip:
    """Find each axle's slip angle on the rising part of its curve.

    Parameters:
        tyres: the four curves, (2, 2, n) with the side first, in the sense in which the asked force is positive [-]
        offset: what toe and compliance add to the axle's slip angle at each wheel, (2, 2, n) [rad]
        asked: side force asked of each axle, not negative, (2, n) [N]
        start: what was found for nearly the same tyres [-]
        near: force that may be left over, as part of the greatest force [-]

    Returns:
        a ``Slip`` [-]
    """
    share = _sides(tyres.peak)
    weight = tyres.peak / np.maximum(share, 1e-9)
    top, peak = _summit(
        tyres, offset, _sides(weight * (tyres.peak_slip() - offset)) if start is None else start.top, near**0.5
    )
    short = asked > peak
    if start is None:
        psi = np.tan(np.arcsin(np.minimum(asked / np.maximum(share, 1e-9), 0.98)) / tyres.shape)
        steep = _sides(weight * tyres.steepness)
        slip = inverse_bend(psi, tyres.curvature) / steep - _sides(weight * (tyres.shift + offset))
    else:
        slip = start.slip
    floor, ceiling = np.full_like(top, -0.6), top
    slip = np.minimum(slip, ceiling)
    enough = near * peak + 1e-12
    for _ in range(50):
        force, slope = tyres.force_and_slope(slip + offset)
        left, steep = _sides(force) - asked, _sides(slope)
        done = short | (np.abs(left) <= enough)
        if done.all():
            break
        ceiling = np.where(left > 0, slip, ceiling)
        floor = np.where(left <= 0, slip, floor)
        with np.errstate(all="ignore"):
            new = slip - left / steep
        inside = (new > floor) & (new < ceiling) & (steep > 0)
        slip = np.where(done, slip, np.where(inside, new, 0.5 * (floor + ceiling)))
    return Slip(np.where(short, top, slip), top, peak, np.where(short, 0.0, steep), short)


def _sides(value: Array) -> Array:
    """Add up left and right, (2, n)."""
    total: Array = value[0] + value[1]
    return total


def _summit(tyres: Curve, offset: Array, top: Array, near: float) -> tuple[Array, Array]:
    """Climb to the slip angle of the axle's greatest side force; give it and that force.

    Newton's method on the slope ``Σ D·cos y·y'``; its own slope is ``−Σ D·sin y·y'²`` where both tyres are near their
    peaks. What the last step leaves out of the greatest force goes with that step's square.
    """
    for _ in range(12):
        force, along, rate = tyres.wave(top + offset)
        slope, fall = _sides(along * rate), _sides(force * rate * rate)
        step = np.clip(slope / np.where(fall > 0, fall, np.inf), -0.02, 0.02)
        top = top + step
        if np.abs(step).max() <= near:
            break
    return top, _sides(force) + 0.5 * slope * step
