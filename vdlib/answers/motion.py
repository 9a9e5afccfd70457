"""The moving car behind ``lift``: wheel numbers tabulated from the trim, equations of motion, Runge-Kutta steps.

Cases lie on the first axis here, wheels are front left, front right, rear left, rear right.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.records import Car, Moment, Setup
from ..car.tyre import Curve, curve, grip
from ..checks import InputError, Problem
from ..trim.aero import AIR_DENSITY, dynamic_pressure
from ..trim.solver import LOCK, pulls
from ..trim.trim import State, Trim, numbers, trim
from ..units import Array, Flags, G
from .scenario import Lags, Scenario

X, Y, HEADING, SPEED, SIDESLIP, YAW_RATE, SLIP_F, SLIP_R, FELT_Y, FELT_X, FELT_Y_RATE, FELT_X_RATE, STEER = range(13)
"""Columns of the state: place, heading, speed, sideslip, yaw rate, lagged slips, lagged accelerations, steer."""
STEEPNESS, PEAK, OFFSET, GRIP, LOAD = (slice(4 * i, 4 * i + 4) for i in range(5))
"""Columns of a table row, four wheels each."""
FORWARD = np.array([-1.2, -0.8, -0.5, -0.3, -0.15, 0.0, 0.15, 0.4]) * G  # nodes of longitudinal acceleration
STRAIGHT = 20  # the node of no lateral acceleration; as many lie on each side
MOST_TABLES = 500
HANDS = 0.05  # lag of the hands behind what the driver wants [s], common practice, no source
COMING_IN = 0.1  # time over which the hands begin to move [s], common practice, no source
_SIDE = np.array([1.0, -1.0])
_GAPS = np.diff(FORWARD)
_AROUND = (np.array([[0], [1]]) + np.arange(-1, 3) * FORWARD.size).reshape(-1, 1)
# Catmull-Rom weights of four neighbours, as a cubic in the place between the middle two
_CUBIC = 0.5 * np.array([[0.0, -1, 2, -1], [2, 0, -5, 3], [0, 1, 4, -3], [0, 0, -1, 1]])


@dataclass(frozen=True)
class Table:
    """What the trim gives each wheel over lateral and longitudinal acceleration and air pressure, for m cars.

    ``rows`` (m, nodes, 20) holds steepness B [1/rad], peak D [N], offset of the slip angle [rad], lengthways grip [N]
    and load [N] of four wheels; ``stands`` (m, nodes) is False where the trim found no pose: the nearest is held.
    """

    shape: tuple[int, ...]
    rows: Array
    stands: Flags
    step: float
    pressure: Array  # (1 or 2, m) [Pa]
    form: Array  # (m, 2, 4) shape C and curvature E of the tyre curves [-]

    def look(self, car: NDArray[np.intp], felt_y: Array, felt_x: Array, speed: Array) -> Array:
        """Give the twenty numbers of each case, cubic along lateral acceleration and linear along the others."""
        place = np.minimum(np.maximum(felt_y / self.step + STRAIGHT, 1.0), 2 * STRAIGHT - 1.000001)
        node = place.astype(int)
        part = place - node
        square = part * part
        weight = _CUBIC @ np.array([np.ones_like(part), part, square, square * part])
        felt_x = np.minimum(np.maximum(felt_x, FORWARD[0]), FORWARD[-1] - 1e-9)
        low = np.searchsorted(FORWARD, felt_x, side="right") - 1
        inner = (felt_x - FORWARD[low]) / _GAPS[low]
        weight = np.concatenate([weight * (1 - inner), weight * inner])
        index = node * FORWARD.size + low + _AROUND
        if self.pressure.shape[0] > 1:
            first, second = self.pressure[:, car]
            here = (dynamic_pressure(speed) - second) / (first - second)
            weight = np.concatenate([weight * here, weight * (1 - here)])
            index = np.concatenate([index, index + (2 * STRAIGHT + 1) * FORWARD.size])
        found: Array = np.einsum("kn,knc->nc", weight, self.rows[car, index])
        np.maximum(found[:, GRIP], 1.0, out=found[:, GRIP])  # the cubic may dip below nothing beside a lifting wheel
        return found

    def beyond(self, car: NDArray[np.intp], felt_y: Array, felt_x: Array) -> Flags:
        """Say where the accelerations lie outside what the trim could follow."""
        node = np.rint(felt_y / self.step).astype(int) + STRAIGHT
        near = np.abs(felt_x[..., None] - FORWARD).argmin(axis=-1)
        outside = (node < 0) | (node > 2 * STRAIGHT) | (felt_x < FORWARD[0]) | (felt_x > FORWARD[-1])
        fallen: Flags = ~self.stands[car, np.clip(node, 0, 2 * STRAIGHT) * FORWARD.size + near]
        either: Flags = outside | fallen
        return either


def tabulate(car: Car, setup: Setup, speed: Any, braking: Any) -> Table:
    """Ask the trim for every wheel over a grid of accelerations, all cars in one call.

    Parameters:
        car: the car [-]
        setup: its setup [-]
        speed: speed at the start, any shape that broadcasts with the car's [m/s]
        braking: part of the slowing done by the brakes, likewise [-]

    Returns:
        a ``Table`` [-]

    Errors:
        ``InputError`` for more cars than a table is meant for, and as of ``trim``.
    """
    shape = np.broadcast_shapes(*(np.shape(value) for value in (*numbers(car), *numbers(setup), speed, braking)))
    many = int(np.prod(shape))
    if many > MOST_TABLES:
        raise InputError([Problem("cars in one run", str(many), f"must be at most {MOST_TABLES}", "run them in parts")])
    axles = (car.front, car.rear)
    winged = any(np.any(value) for axle in axles for value in (axle.lift_area, axle.lift_attitude))
    speed = np.asarray(speed, dtype=float)
    slower = speed * np.where(speed > 12.0, 0.5, 1.5)  # a second air pressure, within the trim's range
    speeds = np.stack([speed, slower] if winged else [speed])
    most = 1.2 * max(float(np.max(axle.tyre.grip)) for axle in axles) * G
    lateral = np.linspace(-most, most, 2 * STRAIGHT + 1)
    ones = (1,) * len(shape)
    moment = Moment(
        speeds.reshape(-1, 1, 1, *ones[speed.ndim :], *speed.shape),
        lateral.reshape(-1, 1, *ones),
        FORWARD.reshape(-1, *ones),
        braking,
    )
    pose = trim(car, setup, moment)
    grid = pose.state.shape[: pose.state.ndim - len(shape)]
    columns, form = [], []
    for i, (axle, own, way) in enumerate(zip(axles, (setup.front, setup.rear), (-1.0, 1.0), strict=True)):
        tyre, load = axle.tyre, pose.load[i]
        pressure = _by_wheel(own.wheels("pressure"), load.ndim)
        made = curve(tyre, load, pose.lean[i], pressure)
        side = _SIDE.reshape(-1, *(1,) * pose.state.ndim)
        bend = way * np.multiply(axle.compliance_steer, pose.side_force[i])
        has = tyre.long_ratio * grip(tyre, load, pressure) * load
        wheel = (made.steepness, made.peak, made.shift + bend - side * pose.toe[i], np.maximum(has, 1.0), load)
        columns.append([np.broadcast_to(value, (2, *grid, *shape)) for value in wheel])
        form.append([np.broadcast_to(value, (2, *shape)) for value in (made.shape, made.curvature)])
    rows = np.stack([np.concatenate(pair) for pair in zip(*columns, strict=True)]).reshape(20, *grid, many)
    stands: Flags = (pose.state.astype(int) & int(State.TIPS | State.NOT_SOLVED)) == 0
    stands = np.broadcast_to(stands, (*grid, *shape)).reshape(1, *grid, many)
    rows, held = _outward(rows, stands, 3, int(np.searchsorted(FORWARD, 0.0)))
    rows, _ = _outward(rows, held, 2, STRAIGHT)
    return Table(
        shape=shape,
        rows=np.ascontiguousarray(rows.reshape(20, -1, many).T),
        stands=stands[0, 0].reshape(-1, many).T,
        step=float(lateral[1] - lateral[0]),
        pressure=np.stack([np.broadcast_to(dynamic_pressure(each), shape).reshape(many) for each in speeds]),
        form=np.stack([np.concatenate(pair).reshape(4, many) for pair in zip(*form, strict=True)]).transpose(2, 0, 1),
    )


def _by_wheel(sides: tuple[Any, Any], axes: int) -> Array:
    """Lay a number of the left and of the right wheel along the first of so many axes, the cases along the last."""
    both = np.stack(np.broadcast_arrays(*sides)).astype(float)
    return both.reshape(2, *(1,) * (axes - both.ndim), *both.shape[1:])


def _outward(rows: Array, good: Flags, axis: int, middle: int) -> tuple[Array, Flags]:
    """Put the nearest good node toward the middle in place of each bad one along an axis; say which are good now."""
    shape = [1] * rows.ndim
    shape[axis] = -1
    place = np.where(good, np.arange(rows.shape[axis]).reshape(shape), middle)
    upper = np.maximum.accumulate(np.maximum(place, middle), axis=axis)
    lower = np.flip(np.minimum.accumulate(np.flip(np.minimum(place, middle), axis), axis=axis), axis)
    source = np.where(np.arange(rows.shape[axis]).reshape(shape) >= middle, upper, lower)
    return np.take_along_axis(rows, source, axis), np.take_along_axis(good, source, axis)


@dataclass(frozen=True)
class Plan:
    """One batch of n cases laid out for the equations of motion; every number (n,) unless said."""

    table: Table
    car: NDArray[np.intp]  # which of the table's cars each case is
    form: Array  # (n, 2, 4)
    mass: Array
    inertia: Array
    a: Array
    b: Array
    half: Array  # (n, 4) half tracks, left positive [m]
    drag: Array  # drag per squared speed and mass [1/m]
    relax: float  # relaxation length [m]
    roll: tuple[float, float]  # ω² [1/s²] and 2ζω [1/s]
    pitch: tuple[float, float]
    start: Array  # (n, 13)
    turn: Array  # +1 in a left turn, −1 in a right one
    gain: Array  # counter-steer per angle of slide [-]
    acts_from: Array  # when the driver begins to answer [s]
    acts: bool  # whether any driver does
    steer_rate: float  # [rad/s]

    def along(self, asked: Array, grip: Array) -> Array:
        """Give each wheel's lengthways force: equal halves until one wheel has no more to give, then its partner."""
        if not (np.abs(asked) > LOCK * grip).any():
            return asked
        size, has = (np.moveaxis(each.reshape(-1, 2, 2), 2, 0) for each in (np.abs(asked), grip))
        return np.asarray(np.sign(asked) * np.moveaxis(pulls(size, has), 0, 2).reshape(grip.shape))

    def row(self, s: Array) -> Array:
        """Read the table at the accelerations that each case feels."""
        return self.table.look(self.car, s[:, FELT_Y], s[:, FELT_X], s[:, SPEED])

    def slopes(self, s: Array, asked: Array, time: float, row: Array) -> Array:
        """Give the time derivative of the state: forces of four tyres, three motions, four lags and the hands.

        ``m·V·(β' + r) = Y·cos Δ − X·sin Δ``, ``m·V' = X·cos Δ + Y·sin Δ``, ``Δ = β − β₀``,
        ``I·r' = a·Y_f − b·Y_r + M``.
        """
        speed, beta, rate, felt_y, felt_x, steer = s[:, 3], s[:, 4], s[:, 5], s[:, 8], s[:, 9], s[:, 12]
        square = speed * speed
        along = self.along(asked, row[:, GRIP])
        x = row[:, STEEPNESS] * (s[:, _AXLE] + row[:, OFFSET])
        psi = x - self.form[:, 1] * (x - np.arctan(x))
        used = along / row[:, GRIP]
        across = row[:, PEAK] * np.sqrt(1 - used * used) * np.sin(self.form[:, 0] * np.arctan(psi))
        pull, side = along[:, ::2] + along[:, 1::2], across[:, ::2] + across[:, 1::2]
        turned = steer - self.start[:, STEER]
        cos, sin = np.cos(turned), np.sin(turned)
        front = side[:, 0] * cos + pull[:, 0] * sin
        body_y = (front + side[:, 1]) / self.mass
        body_x = (pull[:, 0] * cos - side[:, 0] * sin + pull[:, 1]) / self.mass - self.drag * square
        slide = beta - self.start[:, SIDESLIP]
        cos, sin = np.cos(slide), np.sin(slide)
        forward, sideways = speed * np.cos(beta), speed * np.sin(beta)
        d = np.empty_like(s)
        course = s[:, HEADING] + beta
        d[:, X], d[:, Y], d[:, HEADING] = speed * np.cos(course), speed * np.sin(course), rate
        d[:, SPEED] = body_x * cos + body_y * sin
        d[:, SIDESLIP] = (body_y * cos - body_x * sin) / speed - rate
        d[:, YAW_RATE] = (self.a * front - self.b * side[:, 1] - (self.half * along).sum(axis=1)) / self.inertia
        quick = speed / self.relax
        d[:, SLIP_F] = quick * (steer - np.arctan2(sideways + self.a * rate, forward) - s[:, SLIP_F])
        d[:, SLIP_R] = quick * (np.arctan2(self.b * rate - sideways, forward) - s[:, SLIP_R])
        d[:, FELT_Y], d[:, FELT_X] = s[:, FELT_Y_RATE], s[:, FELT_X_RATE]
        d[:, FELT_Y_RATE] = self.roll[0] * (body_y - felt_y) - self.roll[1] * s[:, FELT_Y_RATE]
        d[:, FELT_X_RATE] = self.pitch[0] * (body_x - felt_x) - self.pitch[1] * s[:, FELT_X_RATE]
        d[:, STEER] = self.answer(slide, turned, time) if self.acts else 0.0
        return d

    def answer(self, slide: Array, turned: Array, time: float) -> Array:
        """Give the driver's steering rate: toward gain times the slide beyond the start's, no faster than the hands."""
        wanted = self.turn * self.gain * np.minimum(self.turn * slide, 0.0)
        rate = np.minimum(np.maximum((wanted - turned) / HANDS, -self.steer_rate), self.steer_rate)
        answer: Array = rate * np.minimum(np.maximum((time - self.acts_from) / COMING_IN, 0.0), 1.0)
        return answer


_AXLE = [SLIP_F, SLIP_F, SLIP_R, SLIP_R]


def flatten(value: Any, shape: tuple[int, ...]) -> Array:
    """Give a number of any shape as one float for each case."""
    return np.broadcast_to(np.asarray(value, dtype=float), shape).reshape(-1)


def lay_out(
    car: Car, setup: Setup, scenario: Scenario, lags: Lags, table: Table, corner: Trim
) -> tuple[Plan, tuple[int, ...]]:
    """Lay the cases out one by one, each starting in its steady corner with the trim's slip angles."""
    shape = np.broadcast_shapes(*(np.shape(value) for value in (*numbers(car), *numbers(setup), *numbers(scenario))))
    flat = partial(flatten, shape=shape)

    speed, curvature, mass = flat(scenario.speed), flat(corner.curvature), flat(car.mass)
    a, b = (flat(distance) for distance in corner.cg_to_axle)
    front, rear = (flat(slip) for slip in corner.slip)
    yaw_rate = speed * curvature
    # sideslip at which the rear axle has the trim's slip angle: tan(−α_r) = (V·sin β − b·r)/(V·cos β)
    sideslip = np.arcsin(np.clip(b * curvature * np.cos(rear), -1, 1)) - rear
    steer = front + np.arctan2(speed * np.sin(sideslip) + a * yaw_rate, speed * np.cos(sideslip))
    none = np.zeros_like(speed)
    start = [
        none,
        none,
        -sideslip,
        speed,
        sideslip,
        yaw_rate,
        front,
        rear,
        flat(scenario.lateral),
        none,
        none,
        none,
        steer,
    ]
    which = np.broadcast_to(np.arange(len(table.rows)).reshape(table.shape), shape).reshape(-1)
    left = [0.5 * flat(axle.track) for axle in (car.front, car.rear)]
    roll, pitch = 2 * np.pi * lags.roll_frequency, 2 * np.pi * lags.pitch_frequency
    plan = Plan(
        table=table,
        car=which,
        form=table.form[which],
        mass=mass,
        inertia=flat(car.inertia),
        a=a,
        b=b,
        half=np.stack([left[0], -left[0], left[1], -left[1]], axis=1),
        drag=0.5 * AIR_DENSITY * flat(car.drag_area) / mass,
        relax=lags.relaxation,
        roll=(roll**2, 2 * lags.roll_damping * roll),
        pitch=(pitch**2, 2 * lags.pitch_damping * pitch),
        start=np.stack(start, axis=1),
        turn=np.where(curvature < 0, -1.0, 1.0),
        gain=flat(scenario.counter_steer),
        acts_from=flat(scenario.starts) + flat(scenario.reaction),
        acts=bool(np.any(np.asarray(scenario.counter_steer) > 0)),
        steer_rate=lags.steer_rate,
    )
    return plan, shape


def feet(car: Car, scenario: Scenario, shape: tuple[int, ...], time: Array) -> Array:
    """Give the lengthways force asked of each wheel at every time, (t, n, 4), split as in the trim."""
    flat = partial(flatten, shape=shape)

    moved = np.clip((time[:, None] - flat(scenario.starts)) / flat(scenario.closing), 0.0, 1.0)
    drag = dynamic_pressure(flat(scenario.speed)) * flat(car.drag_area)
    total = flat(car.mass) * flat(scenario.longitudinal) * moved + drag
    brake = np.where(total < 0, total * flat(scenario.braking), 0.0)
    front = brake * flat(car.brake_front) + (total - brake) * flat(car.drive_front)
    return np.repeat(0.5 * np.stack([front, total - front], axis=-1), 2, axis=-1)


def march(
    plan: Plan,
    start: Array,
    asked: Array,
    step: float,
    spun: float,
    slowest: float,
    goes: Flags,
) -> tuple[Array, Array, Array]:
    """Step the state by the classical fourth-order Runge-Kutta rule, holding a case still once it spins or stops.

    The table is read twice a step, at its middle and its end: the accelerations that are felt move slowly.

    Parameters:
        plan: the cases [-]
        start: state at the start, (n, 13) [any]
        asked: lengthways forces at every half step, (2·steps + 1, n, 4) [N]
        step: time step [s]
        spun: sideslip at which a case is held [rad]
        slowest: speed at which a case is held [m/s]
        goes: False for a case that is held from the start, (n,) [-]

    Returns:
        states and their derivatives, (steps + 1, n, 13), and the time each case was held, infinite if never, (n,) [any]
    """
    steps = (asked.shape[0] - 1) // 2
    states, rates = np.empty((2, steps + 1, *start.shape))
    now, held, row = start, np.where(goes, np.inf, 0.0), plan.row(start)
    for i in range(steps + 1):
        time = i * step
        k1 = plan.slopes(now, asked[2 * i], time, row)
        states[i], rates[i] = now, k1
        if i == steps or not goes.any():
            break
        middle = now + 0.5 * step * k1
        row = plan.row(middle)
        k2 = plan.slopes(middle, asked[2 * i + 1], time + 0.5 * step, row)
        k3 = plan.slopes(now + 0.5 * step * k2, asked[2 * i + 1], time + 0.5 * step, row)
        end = now + step * k3
        row = plan.row(end)
        k4 = plan.slopes(end, asked[2 * i + 2], time + step, row)
        new = now + step / 6 * (k1 + 2 * (k2 + k3) + k4)
        ends = (np.abs(new[:, SIDESLIP]) > spun) | (new[:, SPEED] < slowest)
        if ends.any() or not goes.all():
            ends &= goes
            part = _part_before(now, new, spun, slowest)
            held = np.where(ends, time + part * step, held)
            new = now + np.where(ends, part, np.where(goes, 1.0, 0.0))[:, None] * (new - now)
            goes = goes & ~ends
            row = plan.row(new)
        now = new
    states[i:], rates[i:] = states[i], rates[i]
    return states, rates, held


def _part_before(now: Array, new: Array, spun: float, slowest: float) -> Array:
    """Give the part of a step after which a case reaches the angle or the speed at which it is held."""
    part = np.ones(len(now))
    for column, limit in ((SIDESLIP, np.copysign(spun, new[:, SIDESLIP])), (SPEED, slowest)):
        moved = new[:, column] - now[:, column]
        reached = np.where(moved == 0, 1.0, (limit - now[:, column]) / np.where(moved == 0, 1.0, moved))
        part = np.where((reached >= 0) & (reached < part), reached, part)
    return part


def along_run(plan: Plan, states: Array, asked: Array) -> tuple[Array, Array, Array]:
    """Give loads (t, n, 4), lengthways forces (t, n, 4) and axle stiffnesses (t, n, 2) along a run."""
    steps, n = states.shape[:2]
    flat = states.reshape(steps * n, -1)
    case = np.tile(np.arange(n), steps)
    row = plan.table.look(plan.car[case], flat[:, FELT_Y], flat[:, FELT_X], flat[:, SPEED])
    along = plan.along(asked.reshape(-1, 4), row[:, GRIP])
    left = np.sqrt(1 - np.square(along / row[:, GRIP]))
    form = plan.form[case]
    tyres = Curve(row[:, STEEPNESS], form[:, 0], row[:, PEAK] * left, form[:, 1], row[:, OFFSET])
    slope = tyres.force_and_slope(flat[:, _AXLE])[1].reshape(steps, n, 2, 2).sum(axis=-1)
    return np.maximum(row[:, LOAD], 0.0).reshape(steps, n, 4), along.reshape(steps, n, 4), slope
