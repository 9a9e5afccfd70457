"""Side-force balance of each axle: the residuals of slip angles, and one Newton step toward zero.

An axle's slip angle is wanted on the rising part of its curve. Where more is asked than the axle has, the slip angle
goes to that of its greatest force and stays there.

Arrays are (2, n), an axle's two tyres (2, 2, n) with the side first, all in the sense in which the asked force is
positive.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..car.tyre import Curve, inverse_bend
from ..units import Array, Flags

_NEAR = 1e-12  # side force left over, as part of the greatest
_NEAR_TOP = 1e-6  # distance to the peak [rad]; the greatest force misses a part that goes with its square
_COUPLING = 0.1  # as much as steering may do to an axle's force through the loads, as part of its greatest [1/rad]
_FURTHEST = 0.2  # longest step [rad]


@dataclass(frozen=True)
class Slip:
    """Residuals of the slip angles of a moment."""

    slip: Array  # [rad]
    top: Array  # slip angle of the greatest force, better than the one handed in [rad]
    peak: Array  # greatest side force [N]
    fall: Array  # how fast the slope falls at the top [N/rad²]
    stiffness: Array  # local slope, wheels leaning as they do [N/rad]
    tilt: Array  # force the front axle gains as its wheels lean with steering, (n,) [N/rad]
    left: Array  # force made less force asked [N]
    short: Flags  # True where more is asked than there is
    far: Flags  # True where this is not yet the answer


def first_slip(tyres: Curve, offset: Array, asked: Array) -> tuple[Array, Array]:
    """Guess slip angles, and those of the greatest force, as if an axle's two tyres had one curve.

    Parameters:
        tyres: the four curves [-]
        offset: what toe and compliance add to the axle's slip angle at each wheel [rad]
        asked: side force asked of each axle, not negative [N]

    Returns:
        both angles [rad]
    """
    share = _sides(tyres.peak)
    weight = tyres.peak / np.maximum(share, 1e-9)
    top = _sides(weight * (tyres.peak_slip() - offset))
    psi = np.tan(np.arcsin(np.minimum(asked / np.maximum(share, 1e-9), 0.98)) / tyres.shape)
    steep = np.maximum(_sides(weight * tyres.steepness), 1e-3)  # none where both wheels are in the air
    slip = inverse_bend(psi, tyres.curvature) / steep - _sides(weight * (tyres.shift + offset))
    return np.minimum(slip, top), top


def look(tyres: Curve, offset: Array, asked: Array, slip: Array, top: Array, shifting: Array, fading: Array) -> Slip:
    """Compute the residuals of the slip angles.

    Parameters:
        tyres: the four curves [-]
        offset: what toe and compliance add to the axle's slip angle at each wheel [rad]
        asked: side force asked of each axle, not negative [N]
        slip: the slip angles [rad]
        top: about the slip angles of the greatest force [rad]
        shifting: growth of each front tyre's shift with the steer angle, (2, n) [rad/rad]
        fading: growth of each front tyre's peak with the steer angle, as part of it, (2, n) [1/rad]

    Returns:
        a ``Slip`` [-]
    """
    # the greatest force: Newton's method on the slope Σ D·cos y·y', whose own slope near there is −Σ D·sin y·y'²
    force, along, rate = tyres.wave(top + offset)
    slope, fall = _sides(along * rate), _sides(force * rate * rate)
    climb = slope / np.where(fall > 0, fall, np.inf)
    climb = np.minimum(np.maximum(climb, -_FURTHEST), _FURTHEST)
    peak, fall = _sides(force) + 0.5 * slope * climb, np.maximum(fall, 0.0)
    top = top + climb
    x = slip + offset
    force, along, rate = tyres.wave(x)
    slope = along * rate
    front = slope[:, 0]
    tilt = _sides(shifting * front + fading * (force[:, 0] - (x[:, 0] + tyres.shift[:, 0]) * front))
    left = _sides(force) - asked
    short = (slip >= top - _NEAR_TOP) & (asked > peak)
    far = np.where(short, np.abs(slip - top) > _NEAR_TOP**1.5, np.abs(left) > _NEAR * peak + 1e-12)
    return Slip(slip, top, peak, fall, _sides(slope), tilt, left, short, far | (np.abs(climb) > _NEAR_TOP))


def newton_slip(s: Slip, sense: Array, missed: Array) -> Array:
    """Return one Newton step of the slip angles, to the peak at the furthest.

    Parameters:
        s: their residuals [-]
        sense: 1 where front and rear are asked for force the same way, −1 elsewhere, (n,) [-]
        missed: how the force of each axle also changes with the slip angle of each, (2, 2, n) [N/rad]

    Returns:
        change of the slip angles [rad]
    """
    own, across = s.stiffness[0] + s.tilt, -sense * s.tilt
    (a, b), (c, d) = (own + missed[0, 0], across + missed[0, 1]), (missed[1, 0], s.stiffness[1] + missed[1, 1])
    change = np.empty_like(s.slip)
    change[1] = _step(s, 1, s.left[1], d)
    change[0] = _step(s, 0, s.left[0] + b * change[1], a)
    if missed.any():
        change[1] = _step(s, 1, s.left[1] + c * change[0], d)
        change[0] = _step(s, 0, s.left[0] + b * change[1], a)
    return change


def slopes(s: Slip, sense: Array) -> Array:
    """Return how the force of each axle changes with the slip angle of each, wheel loads held, (2, 2, n).

    Parameters:
        s: residuals of the slip angles [-]
        sense: as in ``newton_slip`` [-]

    Returns:
        the slopes, first the axle whose force it is [N/rad]
    """
    return np.stack([np.stack([s.stiffness[0] + s.tilt, -sense * s.tilt]), np.stack([0 * s.tilt, s.stiffness[1]])])


def learn(missed: Array, before: Slip, now: Slip, sense: Array) -> Array:
    """Learn from one step what the slopes miss, by Broyden's rule: near its peak an axle's own slope vanishes, and what
    the steering does to the wheel loads then counts.

    Parameters:
        missed: as in ``newton_slip`` [N/rad]
        before: residuals before the step [-]
        now: residuals after it [-]
        sense: as in ``newton_slip`` [-]

    Returns:
        the same, better [N/rad]
    """
    step = now.slip - before.slip
    known = 0.5 * (slopes(before, sense) + slopes(now, sense)) + missed
    surprise = now.left - before.left - (known * step).sum(axis=1)
    square = (step * step).sum(axis=0)
    better = missed + surprise[:, None] * step / np.where(square > 0, square, np.inf)
    most = _COUPLING * np.abs(now.peak)[:, None]
    kept: Array = np.clip(better, -most, most)
    return kept


def _step(s: Slip, axle: int, left: Array, slope: Array) -> Array:
    """Return one axle's step."""
    top, slip = s.top[axle], s.slip[axle]
    bend = np.sqrt(2 * s.fall[axle] * np.maximum(left, 0.0))  # steep enough not to come back too far from the peak
    slope = np.where(slope > 0.2 * s.stiffness[axle], slope, s.stiffness[axle])
    least = 1e-6 * np.abs(s.peak[axle]) + 1e-9
    change = -left / np.maximum(np.maximum(slope, bend), least)
    change = np.minimum(np.maximum(change, -_FURTHEST), _FURTHEST)
    step: Array = np.where(s.short[axle], top, np.minimum(slip + change, top)) - slip
    return step


def _sides(value: Array) -> Array:
    """Add up left and right."""
    total: Array = value[0] + value[1]
    return total
