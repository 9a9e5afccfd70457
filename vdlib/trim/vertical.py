"""Vertical balance of the body on four corners: the residuals of one pose, and one Newton step toward zero.

Unknowns of each case: heave z, roll φ, pitch θ and the rise w of each hub. Equations: each wheel's vertical force, and
the whole car's vertical force, roll moment and pitch moment about the ground. A step eliminates the four wheel
equations axle by axle (2×2 blocks), so it costs one closed 3×3 solve for every case.

Arrays hold the cases last: whole-car numbers (n,), axle numbers (2, n), wheel numbers (2, 2, n) with the side first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Array, Flags
from .suspension import roll_centre_height, stop_force

_FURTHEST = 0.04  # longest step of heave [m], roll or pitch [rad]


@dataclass(frozen=True)
class Vertical:
    """Everything the vertical balance needs that the pose does not change."""

    standing: Array
    weight: Array  # what stands on the four wheels [N]
    arm: Array  # from centre of gravity forward to each axle [m]
    half: Array  # half the track [m]
    track: Array  # [m]
    base: Array  # from the rear axle to the front one [m]
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
    carried: Array  # sprung weight on each axle [N]
    unsprung_moment: Array
    unsprung_side: Array  # side force of each axle that its own unsprung mass takes [N]
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
    held: Array  # side force of each axle's tyres [N]
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
    tips: Flags  # both wheels of one side, or of one axle, are in the air


def stand(p: Vertical, steer_lift: Array, body: Array, hub: Array) -> tuple[Array, Array]:
    """Return the travel and the load of each wheel in one pose.

    Parameters:
        p: the cases [-]
        steer_lift: rise of each hub against the body by steering alone, (2, 2, n) [m]
        body: heave [m], roll and pitch [rad], (3, n) [any]
        hub: rise of each hub, (2, 2, n) [m]

    Returns:
        travel [m] and load [N], (2, 2, n) [any]
    """
    travel = hub + steer_lift
    travel -= body[0] - p.arm * body[2]
    tilt = p.half * body[1]
    travel[0] -= tilt
    travel[1] += tilt
    return travel, np.maximum(p.standing - p.tyre_rate * hub, 0.0)


def forces(p: Vertical, side: Array, steer_lift: Array, body: Array, hub: Array) -> Forces:
    """Compute the vertical forces of one pose and their residuals.

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
    travel, load = stand(p, steer_lift, body, hub)
    bump, bump_rate = stop_force(travel, p.bump_gap, p.bump_stiffening)
    droop, droop_rate = stop_force(-travel, p.droop_gap, p.droop_stiffening)
    gained = load - p.standing
    centre = roll_centre_height(p.roll_centre, p.roll_centre_slope, 0.0, 0.5 * (travel[0] + travel[1]))
    pushed = side * centre
    links = (pushed + p.unsprung_moment) / p.track
    both = np.maximum(load[0] + load[1], 1.0)
    uneven = (load[1] - load[0]) / both
    held = side + p.unsprung_side
    jack = held * centre / p.half  # a tyre's whole side force is shared as the loads
    across = links - p.bar_rate * (travel[0] - travel[1])
    wheels = gained - p.wheel_rate * travel
    wheels -= bump
    wheels += droop
    wheels -= 0.5 * jack * uneven + p.held_up
    wheels[0] += across
    wheels[1] -= across

    air = p.lift - p.lift_slope * pitch
    height = p.sprung_height + heave
    hub_tilt = (hub[0] - hub[1]) / p.track
    axis = _total(p.sprung_share * centre)
    axle = gained[0] + gained[1] + air
    forward, right = _moments(p, centre, height, roll - hub_tilt, body)
    sums = np.empty_like(body)
    sums[0] = _total(axle)
    sums[1] = _total(p.half * (gained[1] - gained[0]) - p.unsprung_moment)
    sums[1] -= p.lateral * p.sprung_mass * height + right
    sums[2] = _total(p.arm * axle) + p.longitudinal * p.sprung_mass * height + p.unsprung_pitch - forward
    over, most = np.abs(sums), np.abs(wheels).reshape(4, -1)
    left = np.maximum(over[0], over[1] / _total(p.half))
    left = np.maximum(left, over[2] / p.base)
    for wheel in most:
        left = np.maximum(left, wheel)
    sides, axles = np.maximum(load[:, 0], load[:, 1]), np.maximum(load[0], load[1])
    heavier = np.minimum(np.minimum(sides[0], sides[1]), np.minimum(axles[0], axles[1]))  # wheel of the lightest pair
    tips = heavier <= 1e-6 * p.weight
    return Forces(
        travel,
        p.wheel_rate + bump_rate + droop_rate,
        bump,
        load,
        uneven,
        both,
        held,
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


def moved(p: Vertical, travel: Array, body: Array, hub: Array) -> tuple[Array, Array]:
    """Return the moments of the weight that one pose has moved: forward by its pitch, to the right by its roll.

    Parameters:
        p: the cases [-]
        travel: of the four wheels, (2, 2, n) [m]
        body: heave [m], roll and pitch [rad], (3, n) [any]
        hub: rise of each hub, (2, 2, n) [m]

    Returns:
        both moments, (n,) [N·m]
    """
    centre = roll_centre_height(p.roll_centre, p.roll_centre_slope, 0.0, 0.5 * (travel[0] + travel[1]))
    lean = body[1] - (hub[0] - hub[1]) / p.track
    return _moments(p, centre, p.sprung_height + body[0], lean, body)


def _moments(p: Vertical, centre: Array, height: Array, lean: Array, body: Array) -> tuple[Array, Array]:
    """Return both moments; the body leans over each axle's hubs, with which the roll centres stay."""
    _, roll, pitch = body
    right = p.sprung_weight * (height * roll - _total(p.sprung_share * centre * lean))
    return p.sprung_weight * (height - p.wheel_height) * pitch, right


def newton(p: Vertical, f: Forces, side: Array, body: Array) -> tuple[Array, Array]:
    """Return one Newton step for body and hubs.

    Parameters:
        p: the cases [-]
        f: the forces of the pose [-]
        side: side force each axle hands to the body, (2, n) [N]
        body: heave [m], roll and pitch [rad], (3, n) [any]

    Returns:
        change of body, (3, n), and of the hubs, (2, 2, n) [any]
    """
    arm, half = p.arm, p.half
    tyre = p.tyre_rate * (f.load > 0)
    # −∂(wheel equation)/∂hub, one 2×2 block an axle, and its inverse; links and jacking follow the roll centre
    twice = 2 * p.track
    moves = side * p.roll_centre_slope / twice
    jacks = f.uneven * p.roll_centre_slope * f.held / twice
    links_left, links_right = moves - jacks, moves + jacks
    jack = f.jack / (f.both * f.both)
    jack_left, jack_right = jack * f.load[1] * tyre[0], jack * f.load[0] * tyre[1]
    own = tyre + f.rate + p.bar_rate
    b11, b12 = own[0] + links_left + jack_left, links_left - p.bar_rate - jack_right
    b21, b22 = jack_left - p.bar_rate - links_right, own[1] - links_right - jack_right
    determinant = b11 * b22 - b12 * b21
    b11, b12, b21, b22 = b22 / determinant, -b12 / determinant, -b21 / determinant, b11 / determinant
    # what each wheel's equation gains with axle height, with roll, and what is left over of it
    twisted = half * (f.rate + 2 * p.bar_rate)
    given = (
        (f.rate[0] + 2 * links_left, f.rate[1] - 2 * links_right),
        (twisted[0], -twisted[1]),
        (f.wheels[0], f.wheels[1]),
    )
    # what the hubs' answer to it does to the axle's load and to its roll moment; the roll axis follows travel
    follow = 0.5 * p.carried * p.roll_centre_slope * (body[1] - f.hub_tilt)
    shift = p.carried * f.roll_centre / p.track
    turn_left, turn_right = half * tyre[0] - shift - follow, shift - half * tyre[1] - follow
    up_left, up_right = -(tyre[0] * b11 + tyre[1] * b21), -(tyre[0] * b12 + tyre[1] * b22)
    over_left, over_right = turn_left * b11 + turn_right * b21, turn_left * b12 + turn_right * b22
    by_height, by_roll, by_itself = [up_left * left + up_right * right for left, right in given]
    over_height, over_roll, over_itself = [over_left * left + over_right * right for left, right in given]
    over_height += 2 * follow
    lift_slope, (roll, pitch) = p.lift_slope, body[1:]
    armed = arm * by_height
    g = _total(armed)
    change = _solve3(
        (_total(by_height), _total(by_roll), -g - _total(lift_slope)),
        (
            _total(over_height) - p.sprung_mass * p.lateral - p.sprung_weight * roll,
            _total(over_roll) - p.sprung_weight * (f.height - f.roll_axis),
            -_total(arm * over_height),
        ),
        (
            g + p.sprung_mass * p.longitudinal - p.sprung_weight * pitch,
            _total(arm * by_roll),
            -_total(arm * (armed + lift_slope)) - p.sprung_weight * (f.height - p.wheel_height),
        ),
        (_total(by_itself) + f.sums[0], _total(over_itself) + f.sums[1], _total(arm * by_itself) + f.sums[2]),
    )
    at_axle = change[0] - arm * change[2]
    left, right = [height * at_axle + rolled * change[1] + own for height, rolled, own in zip(*given, strict=True)]
    hub = np.empty_like(f.wheels)
    hub[0] = b11 * left + b12 * right
    hub[1] = b21 * left + b22 * right
    furthest = np.abs(change).max(axis=0)
    calm = np.minimum(_FURTHEST / np.maximum(furthest, _FURTHEST), 1.0)
    if not np.isfinite(furthest).all():
        good = np.isfinite(furthest)
        change, hub, calm = np.where(good, change, 0.0), np.where(good, hub, 0.0), np.where(good, calm, 0.0)
    return change * calm, hub * calm


def _total(axles: Array) -> Array:
    """Add up front and rear."""
    total: Array = axles[0] + axles[1]
    return total


_Row = tuple[Array, Array, Array]


def _solve3(top: _Row, middle: _Row, bottom: _Row, right: _Row) -> Array:
    """Solve ``M·x = −r``, 3×3 for each case, by Cramer's rule; infinite or NaN where M has no inverse."""
    (a, b, c), (d, e, f), (g, h, i), (r, s, t) = top, middle, bottom, right
    ei, fg, dh = e * i - f * h, f * g - d * i, d * h - e * g
    out = np.empty((3, ei.size))
    out[0] = r * ei + s * (c * h - b * i) + t * (b * f - c * e)
    out[1] = r * fg + s * (a * i - c * g) + t * (c * d - a * f)
    out[2] = r * dh + s * (b * g - a * h) + t * (a * e - b * d)
    with np.errstate(all="ignore"):
        out /= -(a * ei + b * fg + c * dh)
    return out
