"""Vertical balance of the body on four corners by a batched Newton method.

Unknowns of each case: heave z, roll φ, pitch θ and the rise w of each hub. Equations: each wheel's vertical force, and the
whole car's vertical force, roll moment and pitch moment. The four wheel equations are eliminated axle by axle (2×2 blocks), so
one step costs a closed 3×3 solve for every case.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from .suspension import roll_centre_height, stop_force
from .units import G, Array

_SIDE = np.array([1.0, -1.0])[None, :, None]
_MOST = 60  # Newton steps
_NEAR = 1e-11  # force left over, as part of the weight


@dataclass(frozen=True)
class Vertical:
    """Everything the vertical balance needs; whole-car numbers (n,), axle numbers (2, 1, n), wheel numbers (2, 2, n)."""

    standing: Array
    arm: Array
    half: Array
    track: Array
    tyre_rate: Array
    wheel_rate: Array
    bar_rate: Array
    bump_gap: Array
    bump_stiffening: Array
    droop_gap: Array
    droop_stiffening: Array
    roll_centre: Array
    roll_centre_slope: Array
    sprung_mass: Array
    sprung_height: Array
    wheel_height: Array
    sprung_share: Array
    unsprung_moment: Array
    unsprung_pitch: Array
    lateral: Array
    longitudinal: Array
    anti: Array
    pressure: Array
    lift_area: Array
    lift_attitude: Array
    nose_up: Array

    def part(self, which: Array) -> Vertical:
        """Give the same for some of the cases."""
        return Vertical(**{f.name: _pick(getattr(self, f.name), which) for f in fields(self)})


@dataclass(frozen=True)
class Pose:
    """The solved pose of each case and what follows from it."""

    heave: Array
    roll: Array
    pitch: Array
    hub: Array
    load: Array
    travel: Array
    on_stop: Array
    links: Array
    roll_centre: Array
    lift: Array
    residual: Array
    closed: Array
    tips: Array


def _pick(value: Array, which: Array) -> Array:
    return value if value.shape[-1] == 1 else value[..., which]


def solve_pose(p: Vertical, sprung_side: Array, steer_lift: Array, start: Pose | None) -> Pose:
    """Find the pose at which every vertical force and moment is balanced.

    Parameters:
        p: the cases [-]
        sprung_side: side force each axle passes to the body, (2, 1, n) [N]
        steer_lift: rise of each hub against the body by steering alone, (2, 2, n) [m]
        start: a former pose to start from [-]

    Returns:
        a ``Pose``; cases that did not close say so in ``closed`` [-]
    """
    n = p.standing.shape[-1]
    sprung_side = np.broadcast_to(sprung_side, (2, 1, n))
    if start is None:
        body, hub = np.zeros((3, n)), np.zeros((2, 2, n))
    else:
        body, hub = np.stack([start.heave, start.roll, start.pitch]), start.hub.copy()
    weight = p.standing.sum(axis=(0, 1))
    active = np.arange(n)
    q, side, lift = p, sprung_side, steer_lift
    for step in range(_MOST):
        whole = active.size == n
        b, w = (body, hub) if whole else (body[:, active], hub[..., active])
        change_b, change_w, left = _step(q, side, lift, b, w)
        todo = left > _NEAR * weight[active]
        if not todo.any():
            break
        calm = np.minimum(1.0, 0.04 / np.maximum(np.abs(change_b).max(axis=0), 1e-12)) * (1.0 if step < 25 else 0.5)
        change_b, change_w = np.where(todo, change_b * calm, 0.0), np.where(todo, change_w * calm, 0.0)
        if whole:
            body, hub = body + change_b, hub + change_w
        else:
            body[:, active] += change_b
            hub[..., active] += change_w
        if np.count_nonzero(todo) < 0.5 * active.size:
            active = active[todo]
            q, side, lift = p.part(active), sprung_side[..., active], steer_lift[..., active]
    return _finish(p, sprung_side, steer_lift, body, hub, weight)


@dataclass(frozen=True)
class _Forces:
    travel: Array
    rate: Array
    on_stop: Array
    load: Array
    touching: Array
    links: Array
    roll_centre: Array
    lift: Array
    wheel_left: Array
    sums: tuple[Array, Array, Array]
    jack: Array
    height: Array
    roll_axis: Array


def _forces(p: Vertical, side: Array, steer_lift: Array, body: Array, hub: Array) -> _Forces:
    heave, roll, pitch = body
    travel = hub - (heave - p.arm * pitch + p.half * roll) + steer_lift
    bump, bump_rate = stop_force(travel, p.bump_gap, p.bump_stiffening)
    bump_at_rest, _ = stop_force(0.0, p.bump_gap, p.bump_stiffening)
    droop, droop_rate = stop_force(-travel, p.droop_gap, p.droop_stiffening)
    droop_at_rest, _ = stop_force(0.0, p.droop_gap, p.droop_stiffening)
    load = np.maximum(0.0, p.standing - p.tyre_rate * hub)
    touching = load > 0
    mean = 0.5 * (travel[:, :1] + travel[:, 1:])
    centre = roll_centre_height(p.roll_centre, p.roll_centre_slope, 0.0, mean)
    links = (side * centre + p.unsprung_moment) / p.track
    sum_load = np.maximum(load[:, :1] + load[:, 1:], 1.0)
    jack = side * 2 * centre / p.track  # jacking force for each unit of load imbalance
    lifted = 0.5 * jack * (load[:, 1:] - load[:, :1]) / sum_load
    spring = p.wheel_rate * travel + (bump - bump_at_rest) - (droop - droop_at_rest) + p.bar_rate * (travel - travel[:, ::-1])
    gained = load - p.standing
    wheel_left = gained - spring + _SIDE * links - lifted - 0.5 * p.anti
    air = p.pressure * (p.lift_area + p.lift_attitude * (p.nose_up - pitch))
    height = p.sprung_height + heave
    axis = (p.sprung_share * centre).sum(axis=(0, 1))
    tyre_roll = (p.sprung_share * centre / p.track * (hub[:, :1] - hub[:, 1:])).sum(axis=(0, 1))
    weight = p.sprung_mass * G
    vertical = gained.sum(axis=(0, 1)) + air.sum(axis=(0, 1))
    rolling = (-(p.half * gained).sum(axis=(0, 1)) - p.lateral * p.sprung_mass * height - p.unsprung_moment.sum(axis=(0, 1))
               - weight * ((height - axis) * roll + tyre_roll))
    pitching = ((p.arm * gained).sum(axis=(0, 1)) + p.longitudinal * p.sprung_mass * height + p.unsprung_pitch
                + (p.arm * air).sum(axis=(0, 1)) - weight * (height - p.wheel_height) * pitch)
    return _Forces(travel, p.wheel_rate + bump_rate + droop_rate, bump, load, touching, links[:, 0], centre[:, 0], air[:, 0], wheel_left,
                   (vertical, rolling, pitching), jack / sum_load**2, height, axis)


def _step(p: Vertical, side: Array, steer_lift: Array, body: Array, hub: Array) -> tuple[Array, Array, Array]:
    """Give one Newton step for body and hubs, and the largest force left over (moments over track or wheelbase)."""
    f = _forces(p, side, steer_lift, body, hub)
    left = _left_over(p, f)
    tyre = np.where(f.touching, p.tyre_rate, 0.0)
    own = f.rate + p.bar_rate
    moves = side * p.roll_centre_slope / (2 * p.track)
    # −∂(wheel equation)/∂hub, one 2×2 block an axle; columns left and right
    jack_left = f.jack * f.load[:, 1:] * tyre[:, :1]  # ∂(jacking share)/∂(left hub)
    jack_right = f.jack * f.load[:, :1] * tyre[:, 1:]
    b11 = tyre[:, :1] + own[:, :1] + moves + jack_left
    b12 = -p.bar_rate + moves - jack_right
    b21 = -p.bar_rate - moves + jack_left
    b22 = tyre[:, 1:] + own[:, 1:] - moves - jack_right
    det = b11 * b22 - b12 * b21

    def inverse(top: Array, bottom: Array) -> Array:
        return np.concatenate([(b22 * top - b12 * bottom) / det, (b11 * bottom - b21 * top) / det], axis=1)

    g_heave = f.rate + 2 * _SIDE * moves
    g_roll = (f.rate + 2 * p.bar_rate) * p.half
    v_heave = inverse(g_heave[:, :1], g_heave[:, 1:])
    v_roll = inverse(g_roll[:, :1], g_roll[:, 1:])
    v_left = inverse(f.wheel_left[:, :1], f.wheel_left[:, 1:])
    columns = (v_heave, v_roll, -p.arm * v_heave, v_left)
    weight = p.sprung_mass * G
    shift = weight * p.sprung_share * f.roll_centre[:, None] / p.track * _SIDE
    rows = (-tyre, p.half * tyre - shift, -p.arm * tyre)
    m = [[(row * column).sum(axis=(0, 1)) for column in columns] for row in rows]
    heave, roll, pitch = body
    air = -p.pressure * p.lift_attitude
    m[0][2] = m[0][2] + air.sum(axis=(0, 1))
    m[1][0] = m[1][0] - p.sprung_mass * (p.lateral + G * roll)
    m[1][1] = m[1][1] - weight * (f.height - f.roll_axis)
    m[2][0] = m[2][0] + p.sprung_mass * (p.longitudinal - G * pitch)
    m[2][2] = m[2][2] - weight * (f.height - p.wheel_height) + (p.arm * air).sum(axis=(0, 1))
    r = [-(m[i][3] + f.sums[i]) for i in range(3)]
    with np.errstate(all="ignore"):
        db = _solve3(m, r)
        dw = v_left + v_heave * db[0] + v_roll * db[1] + columns[2] * db[2]
    good = np.isfinite(db).all(axis=0) & np.isfinite(dw).all(axis=(0, 1))
    return np.where(good, db, 0.0), np.where(good, dw, 0.0), left


def _solve3(m: list[list[Array]], r: list[Array]) -> Array:
    """Solve 3×3 systems by Cramer's rule."""
    (a, b, c, _), (d, e, f, _), (g, h, i, _) = m
    ei, fg, dh = e * i - f * h, f * g - d * i, d * h - e * g
    det = a * ei + b * fg + c * dh
    x = r[0] * ei + r[1] * (c * h - b * i) + r[2] * (b * f - c * e)
    y = r[0] * fg + r[1] * (a * i - c * g) + r[2] * (c * d - a * f)
    z = r[0] * dh + r[1] * (b * g - a * h) + r[2] * (a * e - b * d)
    return np.stack([x, y, z]) / det


def _left_over(p: Vertical, f: _Forces) -> Array:
    track = 0.5 * p.track.sum(axis=(0, 1))
    base = p.arm[0, 0] - p.arm[1, 0]
    wheel = np.abs(f.wheel_left).max(axis=(0, 1))
    whole = np.maximum(np.abs(f.sums[0]), np.maximum(np.abs(f.sums[1]) / track, np.abs(f.sums[2]) / base))
    return np.maximum(wheel, whole)


def _finish(p: Vertical, side: Array, steer_lift: Array, body: Array, hub: Array, weight: Array) -> Pose:
    f = _forces(p, side, steer_lift, body, hub)
    residual = _left_over(p, f) / weight
    lifted = f.load <= 1e-6 * weight
    n = weight.size
    return Pose(heave=body[0], roll=body[1], pitch=body[2], hub=hub, load=f.load, travel=f.travel, on_stop=f.on_stop,
                links=np.broadcast_to(f.links, (2, n)), roll_centre=np.broadcast_to(f.roll_centre, (2, n)), lift=np.broadcast_to(f.lift, (2, n)),
                residual=residual, closed=residual < 1e-8, tips=lifted.all(axis=0).any(axis=0))
