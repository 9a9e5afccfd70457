"""The moving car behind ``lift``: plane motion in body axes with every term, four tyres, Runge-Kutta steps.

``m·(u' − r·v) = ΣX``, ``m·(v' + r·u) = ΣY``, ``I·r' = ΣM``. Cases lie on the last axis, wheels are front left, front
right, rear left, rear right. Source of the form: Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), sections 1.3 and
7.2 (sections from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.records import Car, Setup
from ..car.tyre import Curve, inverse_bend
from ..trim.aero import AIR_DENSITY, ROLLING
from ..trim.solver import LOCK, pulls
from ..trim.trim import Trim, numbers
from ..units import Array, Flags, G
from .scenario import Lags, Scenario
from .wheel_table import GRIP, LOAD, OFFSET, PEAK, STEEPNESS, Table

U, V, YAW_RATE, SLIP_F, SLIP_R, FELT_Y, FELT_X, FELT_Y_RATE, FELT_X_RATE, STEER = range(10)
"""Rows of the state: forward and leftward speed, yaw rate, lagged slips and accelerations, their rates, steer."""
HANDS = 0.05  # lag of the hands behind what the driver wants [s], common practice, no source
COMING_IN = 0.1  # time over which the hands begin to move [s], common practice, no source
_AXLE = [SLIP_F, SLIP_F, SLIP_R, SLIP_R]
_NEAR = 1e-9  # force left over in the corner before the foot moves, of the weight
_MOST = 40  # steps toward that corner
_GONE = 0.15  # part of the cases that must have gone before the others are laid out anew


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
        """Return what the table says at the accelerations that each case feels, or at given ones, (20, n) [any]."""
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
        return Wheels(row[STEEPNESS], peak, row[OFFSET], pull, -(self.half * along).sum(axis=0))

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
        row: from the table, (20, …) [any]

    Returns:
        forces, (4, …) [N]
    """
    most = LOCK * row[GRIP]
    return np.asarray(np.minimum(np.maximum(shared(asked, row[GRIP]) - ROLLING * row[LOAD], -most), most))


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
        force, slope = _forces(plan, row, x, _along(plan, engine, row))
        dragged = force[0] * sin
        engine = (mass * (felt_x + air * u) + dragged + roll_f * cos + roll_r) / (plan.drive_front * (cos - 1) + 1)
        along = _along(plan, engine, row)
        force, slope, left, right = _forces(plan, row, x, along, both=True)
        pull = along[0] + along[1]
        turning = -(plan.half * along).sum(axis=0) + plan.half[0] * sin * (left - right)
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


def wheel_slip(row: Array, slip: Array) -> Array:
    """Return the argument of each wheel's side-force curve, ``B·(α + offset)``.

    Parameters:
        row: from the table, (20, …) [any]
        slip: slip angles of front and rear, (2, …) [rad]

    Returns:
        (4, …) [-]
    """
    return np.asarray(row[STEEPNESS] * (np.repeat(slip, 2, axis=0) + row[OFFSET]))


def _along(plan: Plan, engine: Array, row: Array) -> Array:
    """Return the wheels' longitudinal forces with the engine's push and rolling resistance alone."""
    front = 0.5 * engine * plan.drive_front
    rear = 0.5 * engine - front
    return rolled(np.stack([front, front, rear, rear]), row)


def _forces(plan: Plan, row: Array, x: Array, along: Array, both: bool = False) -> Any:
    """Return side force and slope of each axle, (2, n); on request the front wheels' forces one by one as well."""
    left = np.sqrt(1 - np.square(along / row[GRIP]))
    tyres = Curve(row[STEEPNESS], plan.form[0], row[PEAK] * left, plan.form[1], np.zeros_like(x))
    force, slope = tyres.force_and_slope(x / row[STEEPNESS])
    pair = force[::2] + force[1::2], slope[::2] + slope[1::2]
    return (*pair, force[0], force[1]) if both else pair


def _first_slip(plan: Plan, row: Array, axle: int, asked: Array) -> Array:
    """Guess a slip angle as if an axle's two tyres had one curve."""
    pair = slice(2 * axle, 2 * axle + 2)
    peak = row[PEAK][pair]
    share = peak / peak.sum(axis=0)
    part = np.clip(asked / peak.sum(axis=0), -0.98, 0.98)
    psi = np.tan(np.arcsin(part) / plan.form[0, 2 * axle])
    x = inverse_bend(psi, plan.form[1, 2 * axle])
    return np.asarray(x / (share * row[STEEPNESS][pair]).sum(axis=0) - (share * row[OFFSET][pair]).sum(axis=0))


@dataclass(frozen=True)
class March:
    """A batch of motions: states and their derivatives (t, 10, n), time passed in each step, when each was held."""

    states: Array
    rates: Array
    passed: Array  # (t − 1, n) [s]
    held: Array  # infinite if never, (n,) [s]


def march(plan: Plan, steps: int, step: float, bounds: tuple[Any, Any], slowest: float, start: Array) -> March:
    """Step the state by the classical fourth-order Runge-Kutta rule, holding a case still once it spins or stops.

    Parameters:
        plan: the cases [-]
        steps: number of steps [-]
        step: time step [s]
        bounds: sideslip at which a case is held, on either side [rad]
        slowest: speed at which a case is held [m/s]
        start: state at the start, (10, n) [any]

    Returns:
        the ``March`` [-]
    """
    now, goes = start, plan.holds.copy()
    held = np.where(goes, np.inf, 0.0)
    states, rates = np.empty((2, steps + 1, *start.shape))
    passed = np.zeros((steps, start.shape[1]))
    still, i, last = bool(goes.all()), 0, np.zeros_like(start)
    for i in range(steps):
        if not goes.any():
            break
        states[i] = now
        new, rates[i], last = _step_on(plan, now, i * step, step, last)
        turned = np.arctan2(new[V], new[U])
        ends = (turned < bounds[0]) | (turned > bounds[1]) | (new[U] < slowest)
        passed[i] = step
        if not still or ends.any():
            still = False
            ends &= goes
            part = np.where(ends, _part_before(now, new, bounds, slowest), np.where(goes, 1.0, 0.0))
            held = np.where(ends, (i + part) * step, held)
            new = now + part * (new - now)
            passed[i] = part * step
            goes = goes & ~ends
        now = new
    else:
        i = steps
    states[i:] = now
    rates[i:] = plan.slopes(now, i * step, plan.wheels(plan.row(now), i * step))
    return March(states, rates, passed, held)


def spins(plan: Plan, steps: int, step: float, slide: float, slowest: float) -> Flags:
    """Find which cases swing their tail out past an angle beyond their corner's own; those are followed no more.

    Parameters:
        plan: the cases [-]
        steps: number of steps [-]
        step: time step [s]
        slide: the angle [rad]
        slowest: speed below which a case has not [m/s]

    Returns:
        True where the tail does, (n,) [-]
    """
    out, done = np.zeros((2, plan.mass.size), dtype=bool)
    left = np.flatnonzero(plan.holds)
    plan = picked(plan, left) if left.size < out.size else plan
    now, last = plan.start, np.zeros_like(plan.start)
    for i in range(steps):
        if not left.size:
            break
        now, _, last = _step_on(plan, now, i * step, step, last)
        over = plan.turn * (plan.sideslip - np.arctan2(now[V], now[U])) > slide
        out[left[over & ~done[left]]] = True
        done[left[over | (now[U] < slowest)]] = True
        gone = done[left]
        if gone.sum() > _GONE * left.size:
            stays = np.flatnonzero(~gone)
            left, now, last, plan = left[stays], now[:, stays], last[:, stays], picked(plan, stays)
        elif gone.any():
            now = np.where(gone, plan.start, now)  # what becomes of them no longer matters
    return out


def _step_on(plan: Plan, now: Array, time: float, step: float, last: Array) -> tuple[Array, Array, Array]:
    """Return the state one step later, the rates now and about then; the table is read once, in the step's middle."""
    half = 0.5 * step
    wheels = plan.wheels(plan.row(now, plan.carried(now + half * last)), time + half)
    k1 = plan.slopes(now, time, wheels)
    k2 = plan.slopes(now + half * k1, time + half, wheels)
    k3 = plan.slopes(now + half * k2, time + half, wheels)
    k4 = plan.slopes(now + step * k3, time + step, wheels)
    return now + step / 6 * (k1 + 2 * (k2 + k3) + k4), k1, k4


def _part_before(now: Array, new: Array, bounds: tuple[Any, Any], slowest: float) -> Array:
    """Return the part of a step after which a case reaches the angle or the speed at which it is held."""
    before, after = (np.arctan2(s[V], s[U]) for s in (now, new))
    part = np.ones(before.shape)
    limit = np.where(after < bounds[0], bounds[0], bounds[1])
    for old, fresh, edge in ((before, after, limit), (now[U], new[U], slowest)):
        moved = fresh - old
        reached = np.where(moved == 0, 1.0, (edge - old) / np.where(moved == 0, 1.0, moved))
        part = np.where((reached >= 0) & (reached < part), reached, part)
    return part


def integrate(rate: Array, rise: Array, passed: Array, first: Any) -> Array:
    """Return the integral of a rate over time from its values and slopes: Hermite's rule, of fourth order.

    Parameters:
        rate: what is integrated, (t, …) [any]
        rise: its time derivative, (t, …) [any]
        passed: time from each value to the next, (t − 1, …) [s]
        first: value at the start [any]

    Returns:
        the integral at every time, (t, …) [any]
    """
    grown = passed * (0.5 * (rate[:-1] + rate[1:]) + passed / 12 * (rise[:-1] - rise[1:]))
    out: Array = np.concatenate([np.broadcast_to(first, rate[:1].shape), grown]).cumsum(axis=0)
    return out


@dataclass(frozen=True)
class Along:
    """What wheels and axles do along a run."""

    load: Array  # (4, t, n) [N]
    force: Array  # (4, t, n) longitudinal [N]
    stiffness: Array  # (2, t, n) local slope of each axle's side force, loads held [N/rad]
    follows: Array  # (2, t, n) growth of each axle's side force with lateral acceleration, slips held [kg]
    short: Array  # (t, n) how much less engine and brakes get than they ask [N]


def along_run(plan: Plan, states: Array, time: Array) -> Along:
    """Return loads, longitudinal forces and the slopes of the axles' side forces along a run.

    Parameters:
        plan: the cases [-]
        states: from ``march``, (t, 10, n) [any]
        time: (t,) [s]

    Returns:
        an ``Along`` [-]
    """
    steps, _, n = states.shape
    s = states.transpose(1, 0, 2).reshape(10, -1)
    case = np.tile(np.arange(n), steps)
    pressure = 0.5 * AIR_DENSITY * (s[U] ** 2 + s[V] ** 2)
    own = picked(plan, case)
    shape = (-1, steps, n)
    asked = own.asked(np.repeat(time, n))
    forces = []
    row = along = slope = np.empty(0)
    felt = own.carried(s)
    for shift in (-0.02 * G, 0.02 * G, 0.0):
        row = plan.table.look(own.car, felt[0] + shift, felt[1], pressure)
        along = rolled(asked, row)
        force, slope = _forces(own, row, wheel_slip(row, s[[SLIP_F, SLIP_R]]), along)
        forces.append(force)
    follows = (forces[1] - forces[0]) / (0.04 * G)
    load = np.maximum(row[LOAD], 0.0)
    short = np.abs(asked).sum(axis=0) - np.abs(shared(asked, row[GRIP])).sum(axis=0)
    return Along(
        load=load.reshape(shape),
        force=along.reshape(shape),
        stiffness=slope.reshape(shape),
        follows=follows.reshape(shape),
        short=short.reshape(shape[1:]),
    )


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


__all__ = ["Along", "March", "Plan", "Trim", "along_run", "integrate", "lay_out", "march"]
