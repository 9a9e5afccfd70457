"""The equations of the moving car behind ``lift``: plane motion in body axes with every term, four tyres, the driver.

``m·(u' − r·v) = ΣX``, ``m·(v' + r·u) = ΣY``, ``I·r' = ΣM``. Cases lie on the last axis, wheels are front left, front
right, rear left, rear right. Source of the form: Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), sections 1.3 and
7.2 (sections from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.tyre import Curve
from ..trim.aero import AIR_DENSITY, ROLLING
from ..trim.solver import LOCK, pulls
from ..units import Array, Flags
from .wheel_table import FORWARD, GRIP, LEFT, LOAD, OFFSET, PEAK, STEEPNESS, Table

U, V, YAW_RATE, SLIP_F, SLIP_R, FELT_Y, FELT_X, FELT_Y_RATE, FELT_X_RATE, STEER = range(10)
"""Rows of the state: forward and leftward speed, yaw rate, lagged slips and accelerations, their rates, steer."""
HANDS = 0.05  # lag of the hands behind what the driver wants [s], common practice, no source
COMING_IN = 0.1  # time over which the hands begin to move [s], common practice, no source
_AXLE = [SLIP_F, SLIP_F, SLIP_R, SLIP_R]


@dataclass(frozen=True)
class Plan:
    """One batch of n cases laid out for the equations of motion; every number (n,) unless said."""

    table: Table
    car: NDArray[np.intp]  # which of the table's cars each case is
    form: Array  # (2, 4, n)
    mass: Array
    inertia: Array
    a: Array
    b: Array
    half: Array  # (4, n) half tracks, left positive [m]
    air: Array  # drag per squared speed and mass [1/m]
    relax: float  # relaxation length [m]
    roll: tuple[float, float]  # ω² [1/s²] and 2ζω [1/s]
    pitch: tuple[float, float]
    start: Array  # (10, n)
    holds: Flags  # False where there is no steady corner to start from
    engine: tuple[Array, Array]  # the engine's push at the driven wheels before and after [N]
    brake: Array  # the brakes' push after, not above zero [N]
    drive_front: Array
    brake_front: Array
    starts: Array  # when the foot moves [s]
    closing: Array  # how long it takes [s]
    turn: Array  # +1 in a left turn, −1 in a right one
    gain: Array  # counter-steer per angle of slide [-]
    acts_from: Array  # when the driver begins to answer [s]
    acts: bool  # whether any driver does
    steer_rate: float  # [rad/s]

    @property
    def sideslip(self) -> Array:
        """Sideslip of the steady corner, (n,) [rad]."""
        return np.asarray(np.arctan2(self.start[V], self.start[U]))

    @property
    def damped(self) -> Array:
        """What the dampers carry for each rate of a felt acceleration, ``2ζ/ω``, (2, 1): across and along [s]."""
        return np.array([[self.roll[1] / self.roll[0]], [self.pitch[1] / self.pitch[0]]])

    def carried(self, s: Array) -> Array:
        """Return the accelerations whose load transfer the wheels carry: springs' and dampers' parts, (2, n) [m/s²]."""
        felt: Array = s[FELT_Y : FELT_X + 1] + self.damped * s[FELT_Y_RATE : FELT_X_RATE + 1]
        return felt

    def row(self, s: Array, felt: Array | None = None) -> Array:
        """Return what the table says at the accelerations that each case feels, or at given ones, (22, n) [any]."""
        felt = self.carried(s) if felt is None else felt
        pressure = None
        if self.table.pressure.shape[0] > 1:
            pressure = 0.5 * AIR_DENSITY * (s[U] * s[U] + s[V] * s[V])
        return self.table.look(self.car, felt[0], felt[1], pressure)

    def asked(self, time: Any) -> Array:
        """Return the longitudinal force that engine and brakes ask of each wheel, (4, n) [N]."""
        moved = np.minimum(np.maximum((time - self.starts) / self.closing, 0.0), 1.0)
        engine = self.engine[0] + (self.engine[1] - self.engine[0]) * moved
        brake = self.brake * moved
        front = 0.5 * (engine * self.drive_front + brake * self.brake_front)
        rear = 0.5 * (engine + brake) - front
        return np.stack([front, front, rear, rear])

    def wheels(self, row: Array, time: Any) -> Wheels:
        """Return what the tyres can do at one moment, from a row of the table."""
        along = rolled(self.asked(time), row)
        used = along / row[GRIP]
        peak = row[PEAK] * np.sqrt(1 - used * used)
        pull = along[::2] + along[1::2]
        return Wheels(
            row[STEEPNESS], peak, row[OFFSET], pull, -(self.half * along).sum(axis=0), row[FORWARD], row[LEFT]
        )

    def sides(self, wheels: Wheels, s: Array) -> Array:
        """Return the side force of each wheel across itself, (4, n): the Magic Formula [N]."""
        x = wheels.steepness * (s[_AXLE] + wheels.offset)
        psi = x - self.form[1] * (x - np.arctan(x))
        side: Array = wheels.peak * np.sin(self.form[0] * np.arctan(psi))
        return side

    def slopes(self, s: Array, time: float, wheels: Wheels) -> Array:
        """Return the time derivative of the state: forces of four tyres, three motions, four lags and the hands."""
        u, v, rate, steer = s[U], s[V], s[YAW_RATE], s[STEER]
        side = self.sides(wheels, s)
        speed = np.sqrt(u * u + v * v)
        cos, sin = np.cos(steer), np.sin(steer)
        pull, axle = wheels.pull, side[::2] + side[1::2]
        front = axle[0] * cos + pull[0] * sin
        air = self.air * speed
        body_y = (front + axle[1]) / self.mass - air * v
        body_x = (pull[0] * cos - axle[0] * sin + pull[1]) / self.mass - air * u
        d = np.empty_like(s)
        d[U], d[V] = body_x + rate * v, body_y - rate * u
        turning = wheels.moment + self.half[0] * sin * (side[0] - side[1])
        turning += self.mass * (wheels.left * body_x - wheels.forward * body_y)  # all act past a moved mass
        d[YAW_RATE] = (self.a * front - self.b * axle[1] + turning) / self.inertia
        quick = speed / self.relax
        d[SLIP_F] = quick * (steer - np.arctan2(v + self.a * rate, u) - s[SLIP_F])
        d[SLIP_R] = quick * (np.arctan2(self.b * rate - v, u) - s[SLIP_R])
        d[FELT_Y : FELT_X + 1] = s[FELT_Y_RATE : FELT_X_RATE + 1]
        d[FELT_Y_RATE] = self.roll[0] * (body_y - s[FELT_Y]) - self.roll[1] * s[FELT_Y_RATE]
        d[FELT_X_RATE] = self.pitch[0] * (body_x - s[FELT_X]) - self.pitch[1] * s[FELT_X_RATE]
        d[STEER] = self.answer(u, v, steer, time) if self.acts else 0.0
        return d

    def answer(self, u: Array, v: Array, steer: Array, time: float) -> Array:
        """Return the driver's steering rate: toward gain times the slide beyond the start's, as fast as hands go."""
        slide = np.arctan2(v, u) - self.sideslip
        wanted = self.turn * self.gain * np.minimum(self.turn * slide, 0.0) + self.start[STEER]
        rate = np.minimum(np.maximum((wanted - steer) / HANDS, -self.steer_rate), self.steer_rate)
        answer: Array = rate * np.minimum(np.maximum((time - self.acts_from) / COMING_IN, 0.0), 1.0)
        return answer


@dataclass(frozen=True)
class Wheels:
    """What the tyres of each case can do at one moment."""

    steepness: Array  # (4, n) [1/rad]
    peak: Array  # (4, n) greatest side force beside the longitudinal one [N]
    offset: Array  # (4, n) [rad]
    pull: Array  # (2, n) longitudinal force of each axle [N]
    moment: Array  # (n,) yaw moment of unequal pulls, left turning positive [N·m]
    forward: Array  # (n,) centre of gravity forward of where it stands [m]
    left: Array  # (n,) and left of the middle line [m]


def shared(asked: Array, grip: Array) -> Array:
    """Return each wheel's longitudinal force: equal halves until one wheel has no more to give, then its partner.

    Parameters:
        asked: force asked of each wheel, (4, …) [N]
        grip: longitudinal grip of each, (4, …) [N]

    Returns:
        forces, (4, …) [N]
    """
    if not (np.abs(asked) > LOCK * grip).any():
        return asked
    size, has = (np.moveaxis(each.reshape(2, 2, *each.shape[1:]), 1, 0) for each in (np.abs(asked), grip))
    return np.asarray(np.sign(asked) * np.moveaxis(pulls(size, has), 0, 1).reshape(grip.shape))


def rolled(asked: Array, row: Array) -> Array:
    """Return each wheel's longitudinal force on the road: what engine and brakes ask, as far as there is grip, less
    rolling resistance.

    Parameters:
        asked: force that engine and brakes ask of each wheel, (4, …) [N]
        row: from the table, (22, …) [any]

    Returns:
        forces, (4, …) [N]
    """
    most = LOCK * row[GRIP]
    return np.asarray(np.minimum(np.maximum(shared(asked, row[GRIP]) - ROLLING * row[LOAD], -most), most))


def wheel_slip(row: Array, slip: Array) -> Array:
    """Return the argument of each wheel's side-force curve, ``B·(α + offset)``.

    Parameters:
        row: from the table, (22, …) [any]
        slip: slip angles of front and rear, (2, …) [rad]

    Returns:
        (4, …) [-]
    """
    return np.asarray(row[STEEPNESS] * (np.repeat(slip, 2, axis=0) + row[OFFSET]))


def axle_forces(plan: Plan, row: Array, x: Array, along: Array, both: bool = False) -> Any:
    """Return side force and slope of each axle; on request the front wheels' forces one by one as well.

    Parameters:
        plan: the cases [-]
        row: from the table, (22, n) [any]
        x: from ``wheel_slip``, (4, n) [-]
        along: longitudinal force of each wheel, (4, n) [N]
        both: whether the front wheels' forces are wanted [-]

    Returns:
        force [N] and slope [N/rad] of each axle, (2, n); then the force of front left and right, (n,) [any]
    """
    left = np.sqrt(1 - np.square(along / row[GRIP]))
    tyres = Curve(row[STEEPNESS], plan.form[0], row[PEAK] * left, plan.form[1], np.zeros_like(x))
    force, slope = tyres.force_and_slope(x / row[STEEPNESS])
    pair = force[::2] + force[1::2], slope[::2] + slope[1::2]
    return (*pair, force[0], force[1]) if both else pair


def picked(plan: Plan, case: NDArray[np.intp]) -> Plan:
    """Return the cases named, as often as they are named.

    Parameters:
        plan: the cases [-]
        case: which of them [-]

    Returns:
        a ``Plan`` [-]
    """

    def take(value: Any) -> Any:
        if isinstance(value, tuple) and value and isinstance(value[0], np.ndarray):
            return tuple(take(each) for each in value)
        return value[..., case] if isinstance(value, np.ndarray) else value

    return Plan(**{name: take(value) for name, value in vars(plan).items()})
