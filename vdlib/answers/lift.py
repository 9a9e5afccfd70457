"""The seconds after the throttle closes, or the brake is touched, in a steady corner: a simulation in time.

``m·(u' − r·v) = ΣX``, ``m·(v' + r·u) = ΣY``, ``I·r' = ΣM`` in the car's own axes, moments about the centre of gravity
where the leaning, dipping body has taken it; each axle's slip angle lags by ``σ·α' = V·(α_road − α)``; the wheel loads
are the trim's at what springs and dampers carry of the accelerations.
Source of the form: Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), sections 1.3 and 7.2 (sections from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntFlag
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..checks import InputError, range_problem
from ..trim.trim import Trim, trim
from ..units import Array, Value, to_si
from .growth import doubling, growth_rate
from .motion import SLIP_F, SLIP_R, STEER, Plan
from .motion_record import along_run, integrate
from .motion_start import lay_out, shape_of_all
from .motion_steps import March, march
from .scenario import Lags, Scenario
from .wheel_table import Table, tabulate

REACTION: dict[str, tuple[float, float]] = {
    # M. Green, "How long does it take to stop?", Transportation Human Factors 2(3), 195-216 (2000), abstract
    "expecting it": (0.70, 0.75),
    "not expecting it": (1.25, 1.25),
    "surprised": (1.5, 1.5),
}
"""State of mind → a driver's usual reaction time, least and most [s]; from signal to brake pedal, not to steering."""

SPUN = to_si(30.0, "deg")
"""Sideslip beyond which the model stops meaning anything, and the car is held [rad]; common practice, no source."""
SLOWEST = 3.0
"""Speed below which the car is held [m/s]."""


class Mark(IntFlag):
    """What is out of the ordinary at one moment of a run; zero means nothing is."""

    NO_CORNER = 1
    FRONT_PAST_PEAK = 2
    REAR_PAST_PEAK = 4
    WHEEL_IN_AIR = 8
    LONGITUDINAL = 16
    BEYOND_TRIM = 32
    SPUN = 64
    STOPPED = 128


MARK_WORDS: dict[Mark, str] = {
    Mark.NO_CORNER: "the car cannot hold this corner even before the foot moves; nothing is simulated",
    Mark.FRONT_PAST_PEAK: "the front tyres are past their peak: more angle gives less side force",
    Mark.REAR_PAST_PEAK: "the rear tyres are past their peak: more angle gives less side force",
    Mark.WHEEL_IN_AIR: "a wheel is in the air",
    Mark.LONGITUDINAL: "a wheel is asked for more slowing than its tyre can give",
    Mark.BEYOND_TRIM: "the car leans or pitches further than the wheel loads are known for",
    Mark.SPUN: f"the car has turned more than {np.degrees(SPUN):.0f} degrees from its path: the model stops here",
    Mark.STOPPED: "the car is nearly standing: the model stops here",
}
"""Mark → the words for it."""


def mark_words(marks: Any) -> list[str]:
    """State in words what is out of the ordinary.

    Parameters:
        marks: one moment's marks, or those of several moments or-ed together [-]

    Returns:
        a sentence part for each mark, none when nothing is [-]
    """
    return [words for mark, words in MARK_WORDS.items() if int(marks) & mark]


@dataclass(frozen=True)
class Track:
    """Where one batch of runs went. Axes: time, then the shape of the inputs."""

    time: Array  # (t,) [s]
    x: Array  # (t, …) along the path's direction at the start [m]
    y: Array  # (t, …) to the left of it [m]
    heading: Array  # where the car points, left positive [rad]
    speed: Array  # [m/s]
    sideslip: Array  # angle of the path against the car's middle line, left positive [rad]
    yaw_rate: Array  # [rad/s]
    steer: Array  # at the front wheels [rad]
    held: Array  # (…) time from which the car is held still, infinite if never [s]
    start: Trim  # the steady corner

    @property
    def slide(self) -> Array:
        """Sideslip beyond the steady corner's own, positive as the tail swings out, (t, …) [rad]."""
        turn = np.where(self.start.curvature < 0, -1.0, 1.0)
        return np.asarray(-turn * (self.sideslip - self.sideslip[:1]))


@dataclass(frozen=True)
class Run(Track):
    """A batch of runs with what wheels and axles did. Axes: [axle front/rear], [side left/right], as a track's."""

    lateral: Array  # across the path [m/s²]
    longitudinal: Array  # along the path [m/s²]
    body_lateral: Array  # across the car, as a logger fixed to it reads [m/s²]
    body_longitudinal: Array  # along the car, likewise [m/s²]
    slip: Array  # (2, t, …) lagged slip angles [rad]
    stiffness: Array  # (2, t, …) local slope of each axle's side force, negative past its peak [N/rad]
    growth: Array  # (t, …) growth rate of a small slide about that moment, wheel held [1/s]
    load: Array  # (2, 2, t, …) wheel loads [N]
    long_force: Array  # (2, 2, t, …) longitudinal force of each wheel [N]
    marks: Array  # (t, …) Mark flags [-]


def simulate(
    car: Car,
    setup: Setup,
    scenario: Scenario,
    lags: Lags | None = None,
    step: float | None = None,
    table: Table | None = None,
) -> Run:
    """Drive a steady corner, close the throttle or brake, and return what follows, all cases at once.

    ``m·(u' − r·v) = ΣX``, ``m·(v' + r·u) = ΣY``, ``I·r' = ΣM``; the engine first holds the corner's speed against air,
    rolling and the front tyres' drag, then pulls back with ``lift·m·g``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        scenario: the corner, the feet and the hands [-]
        lags: how late tyres, body and hands answer; usual ones if left out [-]
        step: time step; 10 ms, or shorter at high speed, if left out [s]
        table: from ``tabulate`` with the same car, setup and speed, to save making it again [-]

    Returns:
        a ``Run``; what is beyond the model is flagged in ``marks`` and held [-]

    Errors:
        ``InputError`` for numbers out of range, more cars than a table is meant for, or a table that is not of these.

    Validity: flat dry road, steering by the front wheels only, one slip angle an axle, open differential; body roll and
    pitch lag like a spring and damper, wheel loads are a settled car's at what springs and dampers carry of the
    accelerations, ``(2ζω·s + ω²)/(s² + 2ζω·s + ω²)``; sideslip below ``SPUN``. A teaching model, not a forecast.
    Source: Pacejka (2006), sections 1.3 and 7.2 (sections from memory); wheel loads as ``trim``.
    """
    driven = _drive(car, setup, scenario, lags, step, table)
    return _results(driven, _track(driven))


def track(
    car: Car,
    setup: Setup,
    scenario: Scenario,
    lags: Lags | None = None,
    step: float | None = None,
    table: Table | None = None,
) -> Track:
    """Drive as ``simulate`` does and return only where the cars went, in two thirds of the time.

    Parameters:
        car: as of ``simulate`` [-]
        setup: likewise [-]
        scenario: likewise [-]
        lags: likewise [-]
        step: likewise [s]
        table: likewise [-]

    Returns:
        a ``Track`` [-]

    Errors:
        as ``simulate``.

    Validity: as ``simulate``.
    """
    return _track(_drive(car, setup, scenario, lags, step, table))


@dataclass(frozen=True)
class _Driven:
    """A batch of motions with what they were driven from."""

    plan: Plan
    corner: Trim
    found: March
    step: float
    shape: tuple[int, ...]

    @property
    def time(self) -> Array:
        return np.linspace(0.0, (len(self.found.states) - 1) * self.step, len(self.found.states))

    def shaped(self, value: Any, *axes: int) -> Array:
        """Return an array with the cases in their own shape behind the named axes and time."""
        out: Array = np.asarray(value).reshape(*axes, len(self.found.states), *self.shape)
        return out


def _drive(
    car: Car, setup: Setup, scenario: Scenario, lags: Lags | None, step: float | None, table: Table | None
) -> _Driven:
    """Step the motions in time."""
    lags = lags or Lags()
    quickest = lags.relaxation / float(np.max(scenario.speed))  # the fastest lag sets the step
    step = min(0.01, quickest) if step is None else step
    problem = range_problem("time step", step, "s", 1e-5, min(0.02, 2 * quickest))
    if problem:
        raise InputError([problem])
    table = table or tabulate(car, setup, scenario.speed, np.where(np.asarray(scenario.brake) > 0, 1.0, 0.0))
    shape = shape_of_all(car, setup, scenario)
    corner = trim(car, setup, Moment(scenario.speed, np.broadcast_to(scenario.lateral, shape)))
    plan = lay_out(car, setup, scenario, lags, table, corner.cg_to_axle)
    steps = int(np.ceil((float(np.max(scenario.starts)) + scenario.lasts) / step - 1e-9))
    found = march(plan, steps, step, (-SPUN, SPUN), SLOWEST, plan.start)
    return _Driven(plan, corner, found, step, shape)


def _track(driven: _Driven) -> Track:
    """Read where the cars went off their states."""
    found, shaped = driven.found, driven.shaped
    s, d = found.states.transpose(1, 0, 2), found.rates.transpose(1, 0, 2)
    u, v, rate = s[:3]
    sideslip = np.arctan2(v, u)
    heading = integrate(rate, d[2], found.passed, -sideslip[0])
    cos, sin = np.cos(heading), np.sin(heading)
    ahead, left = u * cos - v * sin, u * sin + v * cos
    x = integrate(ahead, d[0] * cos - d[1] * sin - rate * left, found.passed, 0.0)
    y = integrate(left, d[0] * sin + d[1] * cos + rate * ahead, found.passed, 0.0)
    return Track(
        time=driven.time,
        x=shaped(x),
        y=shaped(y),
        heading=shaped(heading),
        speed=shaped(np.sqrt(u * u + v * v)),
        sideslip=shaped(sideslip),
        yaw_rate=shaped(rate),
        steer=shaped(s[STEER]),
        held=found.held.reshape(driven.shape),
        start=driven.corner,
    )


def _results(driven: _Driven, went: Track) -> Run:
    """Read the rest of a run off its states."""
    plan, found, time, shaped = driven.plan, driven.found, driven.time, driven.shaped
    s, d = found.states.transpose(1, 0, 2), found.rates.transpose(1, 0, 2)
    u, v, rate = s[:3]
    square = u * u + v * v
    speed, sideslip = went.speed.reshape(u.shape), went.sideslip.reshape(u.shape)
    turning = (u * d[1] - v * d[0]) / square  # rate of the sideslip
    along = along_run(plan, found.states, time)
    stopped = time[:, None] >= found.held
    felt = plan.carried(s.reshape(10, -1)).reshape(2, *s.shape[1:])
    marks = (
        np.where(found.held <= 0, Mark.NO_CORNER, 0)
        | np.where(along.stiffness[0] < 0, Mark.FRONT_PAST_PEAK, 0)
        | np.where(along.stiffness[1] < 0, Mark.REAR_PAST_PEAK, 0)
        | np.where((along.load < 1e-3 * plan.mass).any(axis=0), Mark.WHEEL_IN_AIR, 0)
        | np.where(along.short > 1.0, Mark.LONGITUDINAL, 0)
        | np.where(plan.table.beyond(plan.car, *felt), Mark.BEYOND_TRIM, 0)
        | np.where(stopped & (np.abs(sideslip) > SPUN - 1e-3), Mark.SPUN, 0)
        | np.where(stopped & (u < SLOWEST + 1e-3), Mark.STOPPED, 0)
    )
    growth = growth_rate(plan.mass, plan.inertia, (plan.a, plan.b), along.stiffness, along.follows, speed)

    return Run(
        **vars(went),
        lateral=shaped(speed * (turning + rate)),
        longitudinal=shaped((u * d[0] + v * d[1]) / speed),
        body_lateral=shaped(d[1] + rate * u),
        body_longitudinal=shaped(d[0] - rate * v),
        slip=shaped(s[[SLIP_F, SLIP_R]], 2),
        stiffness=shaped(along.stiffness, 2),
        growth=shaped(growth),
        load=shaped(along.load, 2, 2),
        long_force=shaped(along.force, 2, 2),
        marks=shaped(marks),
    )


def time_to_double(car: Car, pose: Run) -> Any:
    """Return the time in which a small slide about each moment of a run doubles, steering held: ``T₂ = ln 2/λ``.

    Parameters:
        car: the car [-]
        pose: the run [-]

    Returns:
        time to double; infinite where a small slide dies out [s]

    Validity: as ``growth.growth_rate``, past its peak an axle counts with its negative slope.
    Source: as ``growth.growth_rate``.
    """
    return doubling(pose.growth)


@dataclass(frozen=True)
class Road:
    """Where the car is on a road that follows its steady circle."""

    outward: Array  # (t, …) centre of gravity from the road's middle, outward; on a straight, to its right [m]
    over: Array  # (t, …) True while a wheel is over an edge
    leaves: Array  # (…) when the first wheel crosses an edge, infinite if never [s]


def road(run: Run, car: Car, half_width: Value) -> Road:
    """Return whether the car stays on its road: every wheel within half the road's width of the steady circle.

    ``offset = √(x² + (y − R)²) − R``, for each of the four wheels.

    Parameters:
        run: the run [-]
        car: the same car [-]
        half_width: half the road's width, a shape that broadcasts with the cases' [m]

    Returns:
        a ``Road`` [-]

    Errors:
        ``InputError`` for a half width out of range.

    Validity: the road keeps the radius of the steady corner; a car held still stays where it is.
    """
    problem = range_problem("half of the road's width", half_width, "m", 0.5, 50)
    if problem:
        raise InputError([problem])
    bend = run.start.curvature
    way = np.where(bend < 0, -1.0, 1.0)

    def offset(x: Array, y: Array) -> Array:
        right = (bend * (x * x + y * y) - 2 * y) / (np.hypot(bend * x, bend * y - 1) + 1)
        return np.asarray(way * right)

    over = np.zeros(run.x.shape, dtype=bool)
    cos, sin = np.cos(run.heading), np.sin(run.heading)
    for axle, arm in ((car.front, run.start.cg_to_axle[0]), (car.rear, -run.start.cg_to_axle[1])):
        for side in (0.5, -0.5):
            left = np.multiply(side, axle.track)
            over |= np.abs(offset(run.x + arm * cos - left * sin, run.y + arm * sin + left * cos)) > half_width
    first = run.time[over.argmax(axis=0)]
    return Road(offset(run.x, run.y), over, np.where(over.any(axis=0), first, np.inf))


__all__ = [
    "REACTION",
    "SLOWEST",
    "SPUN",
    "Lags",
    "Mark",
    "Road",
    "Run",
    "Scenario",
    "Table",
    "Track",
    "mark_words",
    "road",
    "simulate",
    "tabulate",
    "time_to_double",
    "track",
]
