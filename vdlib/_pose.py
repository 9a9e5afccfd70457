"""Vertical balance of the body on four corners: what one pose leaves over, and one Newton step toward nothing.

Unknowns of each case: heave z, roll φ, pitch θ and the rise w of each hub. Equations: each wheel's vertical force, and
the whole car's vertical force, roll moment and pitch moment about the ground. A step eliminates the four wheel
equations axle by axle (2×2 blocks), so it costs one closed 3×3 solve for every case.

Arrays hold the cases last: whole-car numbers (n,), axle numbers (2, n), wheel numbers (2, 2, n) with the side first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ._layout import Mask
from .suspension import roll_centre_height, stop_force
from .units import Array

_FURTHEST = 0.04  # longest step of heave [m], roll or pitch [rad]


@dataclass(frozen=True)
class Vertical:
    """Everything the vertical balance needs that the pose does not change."""

    standing: Array
    weight: Array  # what stands on the four wheels [N]
    arm: Array  # from centre of gravity forward to each axle [m]
    half: Array  # half the track [m]
    tyre_rate: Array
    wheel_rate: Array
    bar_rate: Array
    bump_gap: Array
    bump_stiffening: Array
    droop_gap: Array
    droop_stiffening: Array
    held_up: Array  # force on each wheel at no travel: half the anti force, less the stops as they stand [N]
    roll_centre: Array
    roll_centre_slope: Array
    sprung_mass: Array
    sprung_weight: Array
    sprung_height: Array
    wheel_height: Array
    sprung_share: Array
    unsprung_moment: Array
    unsprung_pitch: Array
    lateral: Array
    longitudinal: Array
    lift: Array  # lift at no pitch [N]
    lift_slope: Array  # its fall per nose-down radian [N/rad]


@dataclass(frozen=True)
class Forces:
    """The vertical forces of one pose and what follows from them."""

    travel: Array
    rate: Array  # of spring and stops at each wheel [N/m]
    on_stop: Array
    load: Array
    uneven: Array  # right load less left over their sum, each axle [-]
    both: Array  # load of each axle [N]
    jack: Array  # jacking force of each axle for unit load imbalance [N]
    links: Array
    roll_centre: Array
    lift: Array
    height: Array  # of the sprung mass [m]
    roll_axis: Array  # height of the roll axis under it [m]
    hub_tilt: Array  # roll of each axle's hubs, right side down [rad]
    wheels: Array  # force left over at each wheel [N]
    sums: Array  # (3, n) vertical force [N], roll and pitch moment [N·m] left over
    left: Array  # largest force left over, moments over half the track and over the wheelbase [N]
    tips: Mask  # both wheels of one side are in the air


def forces(p: Vertical, side: Array, steer_lift: Array, body: Array, hub: Array) -> Forces:
    """Give the vertical forces of one pose and what they leave over.

    Parameters:
        p: the cases [-]
        side: side force each axle hands to the body, (2, n) [N]
        steer_lift: rise of each hub against the body by steering alone, (2, 2, n) [m]
        body: heave [m], roll and pitch [rad], (3, n) [any]
        hub: rise of each hub, (2, 2, n) [m]

    Returns:
        the ``Forces`` [-]
    """
    heave, roll, pitch = body
    travel = hub + steer_lift
    travel -= heave - p.arm * pitch
    tilt = p.half * roll
    travel[0] -= tilt
    travel[1] += tilt
    bump, bump_rate = stop_force(travel, p.bump_gap, p.bump_stiffening)
    droop, droop_rate = stop_force(-travel, p.droop_gap, p.droop_stiffening)
    load = np.maximum(p.standing - p.tyre_rate * hub, 0.0)
    gained = load - p.standing
    centre = roll_centre_height(p.roll_centre, p.roll_centre_slope, 0.0, 0.5 * (travel[0] + travel[1]))
    pushed = side * centre
    links = (pushed + p.unsprung_moment) / (2 * p.half)
    both = np.maximum(load[0] + load[1], 1.0)
    uneven = (load[1] - load[0]) / both
    jack = pushed / p.half
    across = links - p.bar_rate * (travel[0] - travel[1])
    wheels = gained - p.wheel_rate * travel
    wheels -= bump
    wheels += droop
    wheels -= 0.5 * jack * uneven + p.held_up
    wheels[0] += across
    wheels[1] -= across

    air = p.lift - p.lift_slope * pitch
    height = p.sprung_height + heave
    hub_tilt = (hub[0] - hub[1]) / (2 * p.half)
    carried = p.sprung_share * centre
    axis = _total(carried)
    axle = gained[0] + gained[1] + air
    sums = np.empty_like(body)
    sums[0] = _total(axle)
    sums[1] = _total(p.half * (gained[1] - gained[0]) - p.unsprung_moment)
    sums[1] -= p.lateral * p.sprung_mass * height + p.sprung_weight * (
        (height - axis) * roll + _total(carried * hub_tilt)
    )
    sums[2] = _total(p.arm * axle) + p.longitudinal * p.sprung_mass * height + p.unsprung_pitch
    sums[2] -= p.sprung_weight * (height - p.wheel_height) * pitch
    left = np.maximum(np.abs(sums[0]), np.abs(sums[1]) / _total(p.half))
    left = np.maximum(left, np.abs(sums[2]) / (p.arm[0] - p.arm[1]))
    left = np.maximum(left, np.abs(wheels).max(axis=(0, 1)))
    tips = load.max(axis=1).min(axis=0) <= 1e-6 * p.weight
    return Forces(
        travel,
        p.wheel_rate + bump_rate + droop_rate,
        bump,
        load,
        uneven,
        both,
        jack,
        links,
        centre,
        air,
        height,
        axis,
        hub_tilt,
        wheels,
        sums,
        left,
        tips,
    )


def newton(p: Vertical, f: Forces, side: Array, body: Array, more_lift: Array, more_side: Array) -> tuple[Array, Array]:
    """Give one Newton step for body and hubs.

    Parameters:
        p: the cases [-]
        f: the forces of the pose [-]
        side: side force each axle hands to the body, (2, n) [N]
        body: heave [m], roll and pitch [rad], (3, n) [any]
        more_lift: coming change of the front hubs' rise by steering, left up and right down, (n,) [m]
        more_side: coming change of the side forces, (2, n) [N]

    Returns:
        change of body, (3, n), and of the hubs, (2, 2, n) [any]
    """
    arm, half = p.arm, p.half
    tyre = p.tyre_rate * (f.load > 0)
    # −∂(wheel equation)/∂hub, one 2×2 block an axle; links and jacking follow the roll centre, jacking the loads too
    moves = side * p.roll_centre_slope / (4 * half)
    links_left, links_right = moves * (1 - f.uneven), moves * (1 + f.uneven)
    jack = f.jack / (f.both * f.both)
    jack_left, jack_right = jack * f.load[1] * tyre[0], jack * f.load[0] * tyre[1]
    own = tyre + f.rate + p.bar_rate
    b11, b12 = own[0] + links_left + jack_left, links_left - p.bar_rate - jack_right
    b21, b22 = jack_left - p.bar_rate - links_right, own[1] - links_right - jack_right
    # what each wheel's equation gains with axle height and roll, and what is left over of it; then how the hubs answer
    given = np.empty((3, *f.wheels.shape))
    given[0] = f.rate
    given[0, 0] += 2 * links_left
    given[0, 1] -= 2 * links_right
    given[1] = f.rate + 2 * p.bar_rate
    across = more_side * f.roll_centre / (2 * half)
    across[0] -= more_lift * given[1, 0, 0]
    given[2, 0] = f.wheels[0] + across
    given[2, 1] = f.wheels[1] - across
    given[2, 1, 0] += more_lift * (given[1, 1, 0] - given[1, 0, 0])
    given[1, 0] *= half
    given[1, 1] *= -half
    given /= b11 * b22 - b12 * b21
    left, right = given[:, 0], given[:, 1]
    answer_left, answer_right = b22 * left - b12 * right, b11 * right - b21 * left
    load_left, load_right = tyre[0] * answer_left, tyre[1] * answer_right
    up = -(load_left + load_right)  # (3, 2, n) load each axle gains with its height, with roll, and of itself
    carried = p.sprung_weight * p.sprung_share
    follow = 0.5 * carried * p.roll_centre_slope * (body[1] - f.hub_tilt)  # the roll axis follows travel
    shift = carried * f.roll_centre / (2 * half)
    over = (
        half * (load_left - load_right) - shift * (answer_left - answer_right) - follow * (answer_left + answer_right)
    )
    over[0] += 2 * follow
    armed = arm * up
    a, b, r0 = up[:, 0] + up[:, 1]
    d, e, r1 = over[:, 0] + over[:, 1]
    g, h, r2 = armed[:, 0] + armed[:, 1]
    roll, pitch = body[1:]
    c = -g - _total(p.lift_slope)
    d = d - p.sprung_mass * p.lateral - p.sprung_weight * roll
    e = e - p.sprung_weight * (f.height - f.roll_axis)
    k = -_total(arm * over[0])
    g = g + p.sprung_mass * p.longitudinal - p.sprung_weight * pitch
    i = -_total(arm * (armed[0] + p.lift_slope)) - p.sprung_weight * (f.height - p.wheel_height)
    with np.errstate(all="ignore"):
        change = _solve3((a, b, c, d, e, k, g, h, i), (r0 + f.sums[0], r1 + f.sums[1], r2 + f.sums[2]))
        at_axle = change[0] - arm * change[2]
        hub = np.stack([each[0] * at_axle + each[1] * change[1] + each[2] for each in (answer_left, answer_right)])
    furthest = np.abs(change).max(axis=0)
    if not np.isfinite(furthest).all():
        good = np.isfinite(furthest)
        change, hub, furthest = np.where(good, change, 0.0), np.where(good, hub, 0.0), np.where(good, furthest, 0.0)
    calm = np.minimum(_FURTHEST / np.maximum(furthest, _FURTHEST), 1.0)
    return change * calm, hub * calm


def _total(axles: Array) -> Array:
    """Add up front and rear."""
    total: Array = axles[0] + axles[1]
    return total


def _solve3(m: tuple[Array, ...], r: tuple[Array, ...]) -> Array:
    """Solve ``M·x = −r``, 3×3 for each case, by Cramer's rule."""
    a, b, c, d, e, f, g, h, i = m
    ei, fg, dh = e * i - f * h, f * g - d * i, d * h - e * g
    out = np.empty((3, ei.size))
    out[0] = r[0] * ei + r[1] * (c * h - b * i) + r[2] * (b * f - c * e)
    out[1] = r[0] * fg + r[1] * (a * i - c * g) + r[2] * (c * d - a * f)
    out[2] = r[0] * dh + r[1] * (b * g - a * h) + r[2] * (a * e - b * d)
    out /= -(a * ei + b * fg + c * dh)
    return out
