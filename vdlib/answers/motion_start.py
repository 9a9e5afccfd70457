"""The steady corner that a motion starts from: cases laid out one by one, each at a speed that the engine holds."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from ..car.records import Car, Setup
from ..car.tyre import inverse_bend
from ..trim.aero import AIR_DENSITY, ROLLING
from ..trim.trim import numbers
from ..units import Array, Flags, G
from .motion import (
    FELT_X,
    FELT_Y,
    SLIP_F,
    SLIP_R,
    STEER,
    YAW_RATE,
    Plan,
    U,
    V,
    axle_forces,
    rolled,
    wheel_slip,
)
from .scenario import Lags, Scenario
from .wheel_table import FORWARD, LEFT, LOAD, OFFSET, PEAK, STEEPNESS, Table

_NEAR = 1e-9  # force left over in the corner before the foot moves, of the weight
_MOST = 40  # steps toward that corner


def flatten(value: Any, shape: tuple[int, ...]) -> Array:
    """Return a number of any shape as one float for each case.

    Parameters:
        value: the number [any]
        shape: shape of the cases [-]

    Returns:
        one axis [any]
    """
    return np.broadcast_to(np.asarray(value, dtype=float), shape).reshape(-1)


def shape_of_all(*records: Any) -> tuple[int, ...]:
    """Return the broadcast shape of every number that some records hold.

    Parameters:
        records: dataclasses [-]

    Returns:
        the shape [-]
    """
    return np.broadcast_shapes(*(np.shape(value) for record in records for value in numbers(record)))


def lay_out(car: Car, setup: Setup, scenario: Scenario, lags: Lags, table: Table, arms: Any = None) -> Plan:
    """Lay the cases out one by one, each starting in its steady corner at a speed that the engine holds.

    Parameters:
        car: the car [-]
        setup: its setup [-]
        scenario: what happens [-]
        lags: how late the car answers [-]
        table: from ``tabulate`` with this car and setup [-]
        arms: distance from the centre of gravity to front and rear axle, (2, …); from the car's share if left out [m]

    Returns:
        a ``Plan`` [-]
    """
    shape = shape_of_all(car, setup, scenario)
    flat = partial(flatten, shape=shape)
    which = np.broadcast_to(np.arange(len(table.rows)).reshape(table.shape), shape).reshape(-1)
    mass, air = flat(car.mass), 0.5 * AIR_DENSITY * flat(car.drag_area)
    a, b = (flat(distance) for distance in (standing_arms(car, setup) if arms is None else arms))
    left = [0.5 * flat(axle.track) for axle in (car.front, car.rear)]
    roll, pitch = 2 * np.pi * lags.roll_frequency, 2 * np.pi * lags.pitch_frequency
    none = np.zeros_like(mass)
    lateral = flat(scenario.lateral)
    bare = Plan(
        table=table,
        car=which,
        form=table.form[..., which],
        mass=mass,
        inertia=flat(car.inertia),
        a=a,
        b=b,
        half=np.stack([left[0], -left[0], left[1], -left[1]]),
        air=air / mass,
        relax=lags.relaxation,
        roll=(roll**2, 2 * lags.roll_damping * roll),
        pitch=(pitch**2, 2 * lags.pitch_damping * pitch),
        start=np.zeros((10, mass.size)),
        holds=none > 0,
        engine=(none, none),
        brake=-flat(scenario.brake) * mass * G * flat(scenario.foot),
        drive_front=flat(car.drive_front),
        brake_front=flat(car.brake_front),
        starts=flat(scenario.starts),
        closing=flat(scenario.closing),
        turn=np.where(lateral < 0, -1.0, 1.0),
        gain=flat(scenario.counter_steer),
        acts_from=flat(scenario.starts) + flat(scenario.reaction),
        acts=bool(np.any(np.asarray(scenario.counter_steer) > 0)),
        steer_rate=lags.steer_rate,
    )
    start, engine, holds = _steady(bare, flat(scenario.speed), lateral)
    closed = -flat(scenario.lift) * mass * G
    after = engine + (closed - engine) * flat(scenario.foot)
    return Plan(**{**vars(bare), "start": start, "holds": holds, "engine": (engine, after)})


def standing_arms(car: Car, setup: Setup) -> tuple[Any, Any]:
    """Return the distances from the centre of gravity to front and rear axle as the car stands at its ride heights.

    Parameters:
        car: the car [-]
        setup: the setup [-]

    Returns:
        both distances, any shape [m]

    Validity: as in the trim: the body tips about the wheel centres.
    """
    unsprung = [np.asarray(axle.unsprung_mass) for axle in (car.front, car.rear)]
    radius = [np.asarray(axle.wheel_radius) for axle in (car.front, car.rear)]
    sprung = car.mass - unsprung[0] - unsprung[1]
    height = (np.multiply(car.mass, car.cg_height) - unsprung[0] * radius[0] - unsprung[1] * radius[1]) / sprung
    rise = np.subtract(setup.front.height, car.front.reference_height) - np.subtract(
        setup.rear.height, car.rear.reference_height
    )
    moved = sprung / car.mass * (height - 0.5 * (radius[0] + radius[1])) * rise / car.wheelbase
    share = car.front_share - moved / car.wheelbase
    return car.wheelbase * (1 - share), car.wheelbase * share


def _steady(plan: Plan, speed: Array, lateral: Array) -> tuple[Array, Array, Flags]:
    """Find the steady corner by Newton steps on the slips: state and engine's push at which nothing changes."""
    curvature = lateral / (speed * speed)
    rate = speed * curvature
    way, mass = plan.turn, plan.mass
    size = np.abs(lateral)
    a, b = plan.a, plan.b
    base = a + b
    row = plan.table.look(plan.car, lateral, 0 * lateral, 0.5 * AIR_DENSITY * speed * speed)
    slip = np.stack([_first_slip(plan, row, k, mass * size * (b, a)[k] / base * way) for k in (0, 1)])
    state = np.zeros((10, size.size))
    engine, good = np.zeros_like(size), np.zeros(size.shape, dtype=bool)
    for _ in range(_MOST):
        front, rear = slip
        # sideslip at which the rear axle has this slip angle: tan(−α_r) = (V·sin β − b·r)/(V·cos β)
        beta = np.arcsin(np.clip(b * curvature * np.cos(rear), -1, 1)) - rear
        u, v = speed * np.cos(beta), speed * np.sin(beta)
        steer = front + np.arctan2(v + a * rate, u)
        felt_y, felt_x = rate * u, -rate * v
        state[[U, V, YAW_RATE, SLIP_F, SLIP_R, FELT_Y, FELT_X, STEER]] = u, v, rate, front, rear, felt_y, felt_x, steer
        row = plan.row(state)
        cos, sin = np.cos(steer), np.sin(steer)
        rolling = ROLLING * row[LOAD]
        roll_f, roll_r = rolling[0] + rolling[1], rolling[2] + rolling[3]
        air = plan.air * speed
        x = wheel_slip(row, slip)
        force, slope = axle_forces(plan, row, x, _along(plan, engine, row))
        dragged = force[0] * sin
        engine = (mass * (felt_x + air * u) + dragged + roll_f * cos + roll_r) / (plan.drive_front * (cos - 1) + 1)
        along = _along(plan, engine, row)
        force, slope, left, right = axle_forces(plan, row, x, along, both=True)
        pull = along[0] + along[1]
        turning = -(plan.half * along).sum(axis=0) + plan.half[0] * sin * (left - right)
        turning += mass * (row[LEFT] * felt_x - row[FORWARD] * felt_y)
        whole = mass * (felt_y + air * v)
        front_body = (b * whole - turning) / base
        wanted = np.stack([(front_body - pull * sin) / cos, whole - front_body])
        off = wanted - force
        good = (np.abs(off) < _NEAR * mass * G).all(axis=0)
        if good.all():
            break
        firm = np.maximum(slope, 0.02 * mass * G)
        slip = slip + np.clip(off / firm, -0.03, 0.03)
        slip = np.clip(slip, -0.35, 0.35)
    return state, engine, good & (slope > 0).all(axis=0)


def _along(plan: Plan, engine: Array, row: Array) -> Array:
    """Return the wheels' longitudinal forces with the engine's push and rolling resistance alone."""
    front = 0.5 * engine * plan.drive_front
    rear = 0.5 * engine - front
    return rolled(np.stack([front, front, rear, rear]), row)


def _first_slip(plan: Plan, row: Array, axle: int, asked: Array) -> Array:
    """Guess a slip angle as if an axle's two tyres had one curve."""
    pair = slice(2 * axle, 2 * axle + 2)
    peak = row[PEAK][pair]
    share = peak / peak.sum(axis=0)
    part = np.clip(asked / peak.sum(axis=0), -0.98, 0.98)
    psi = np.tan(np.arcsin(part) / plan.form[0, 2 * axle])
    x = inverse_bend(psi, plan.form[1, 2 * axle])
    return np.asarray(x / (share * row[STEEPNESS][pair]).sum(axis=0) - (share * row[OFFSET][pair]).sum(axis=0))
