"""The seconds after the throttle closes, or the brake is touched, in a steady corner: a simulation in time.

``m·V·(β' + r) = ΣF_across``, ``m·V' = ΣF_along − ½ρV²·C_D·A``, ``I·r' = a·Y_f − b·Y_r + M``; each axle's slip angle
lags by ``σ·α' = V·(α_road − α)``; the wheel loads are the trim's at accelerations that lag like a spring and damper.
Source of the form: Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), sections 1.3 and 7.2 (sections from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntFlag
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..checks import InputError, range_problem
from ..lessons.bicycle import TwoWheel, motion
from ..trim.trim import Trim, trim
from ..units import Array, Value, to_si
from . import motion as slide_motion
from .motion import Table, tabulate
from .scenario import Lags, Scenario

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
    LENGTHWAYS = 16
    BEYOND_TRIM = 32
    SPUN = 64
    STOPPED = 128


MARK_WORDS: dict[Mark, str] = {
    Mark.NO_CORNER: "the car cannot hold this corner even before the foot moves; nothing is simulated",
    Mark.FRONT_PAST_PEAK: "the front tyres are past their peak: more angle gives less side force",
    Mark.REAR_PAST_PEAK: "the rear tyres are past their peak: more angle gives less side force",
    Mark.WHEEL_IN_AIR: "a wheel is in the air",
    Mark.LENGTHWAYS: "a wheel is asked for more slowing than its tyre can give",
    Mark.BEYOND_TRIM: "the car leans or pitches further than the wheel loads are known for",
    Mark.SPUN: f"the car has turned more than {np.degrees(SPUN):.0f} degrees from its path: the model stops here",
    Mark.STOPPED: "the car is nearly standing: the model stops here",
}
"""Mark → the words for it."""


def mark_words(marks: Any) -> list[str]:
    """Say in words what is out of the ordinary.

    Parameters:
        marks: one moment's marks, or those of several moments or-ed together [-]

    Returns:
        a sentence part for each mark, none when nothing is [-]
    """
    return [words for mark, words in MARK_WORDS.items() if int(marks) & mark]


@dataclass(frozen=True)
class Run:
    """One batch of runs. Axes: [axle front/rear], [side left/right], time, then the shape of the inputs."""

    time: Array  # (t,) [s]
    x: Array  # (t, …) along the path's direction at the start [m]
    y: Array  # (t, …) to the left of it [m]
    heading: Array  # where the car points, left positive [rad]
    speed: Array  # [m/s]
    sideslip: Array  # angle of the path against the car's middle line, left positive [rad]
    yaw_rate: Array  # [rad/s]
    steer: Array  # at the front wheels [rad]
    lateral: Array  # across the path [m/s²]
    longitudinal: Array  # along the path [m/s²]
    slip: Array  # (2, t, …) lagged slip angles [rad]
    stiffness: Array  # (2, t, …) local slope of each axle's side force, negative past its peak [N/rad]
    load: Array  # (2, 2, t, …) wheel loads [N]
    long_force: Array  # (2, 2, t, …) lengthways force of each wheel [N]
    marks: Array  # (t, …) Mark flags [-]
    held: Array  # (…) time from which the car is held still, infinite if never [s]
    start: Trim  # the steady corner

    @property
    def slide(self) -> Array:
        """Sideslip beyond the steady corner's own, positive as the tail swings out, (t, …) [rad]."""
        turn = np.where(self.start.curvature < 0, -1.0, 1.0)
        return np.asarray(-turn * (self.sideslip - self.sideslip[:1]))


def simulate(
    car: Car,
    setup: Setup,
    scenario: Scenario,
    lags: Lags | None = None,
    step: float | None = None,
    table: Table | None = None,
) -> Run:
    """Drive a steady corner, close the throttle or brake, and give what follows, all cases at once.

    ``m·V·(β' + r) = Y·cos Δ − X·sin Δ``, ``m·V' = X·cos Δ + Y·sin Δ``, ``I·r' = a·Y_f − b·Y_r + M``, ``Δ = β − β₀``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        scenario: the corner, the feet and the hands [-]
        lags: how late tyres, body and hands answer; usual ones if left out [-]
        step: time step; 10 ms, or shorter at high speed, if left out [s]
        table: from ``tabulate`` with the same car, setup, speed and braking, to save making it again [-]

    Returns:
        a ``Run``; what is beyond the model is flagged in ``marks`` and held [-]

    Errors:
        ``InputError`` for numbers out of range, more than 500 cars, or a table that is not of these cars.

    Validity: flat dry road, steering by the front wheels only, one slip angle an axle, open differential; as in the
    trim, forces are square to the path in the steady corner (they turn with the car from there) and the corner's own
    drag takes no grip; sideslip below ``SPUN``. A teaching model, not a forecast.
    Source: Pacejka (2006), sections 1.3 and 7.2 (sections from memory); wheel loads as ``trim``.
    """
    lags = lags or Lags()
    quickest = lags.relaxation / float(np.max(scenario.speed))  # the fastest lag sets the step
    step = min(0.01, quickest) if step is None else step
    problem = range_problem("time step", step, "s", 1e-5, min(0.02, 2 * quickest))
    if problem:
        raise InputError([problem])
    table = table or tabulate(car, setup, scenario.speed, scenario.braking)
    corner = trim(car, setup, Moment(scenario.speed, scenario.lateral, 0.0, scenario.braking))
    plan, shape = slide_motion.lay_out(car, setup, scenario, lags, table, corner)
    steps = int(np.ceil((float(np.max(scenario.starts)) + scenario.lasts) / step - 1e-9))
    asked = slide_motion.feet(car, scenario, shape, np.linspace(0.0, steps * step, 2 * steps + 1))
    goes = slide_motion.flatten(corner.usable, shape) > 0
    states, rates, held = slide_motion.march(plan, plan.start, asked, step, SPUN, SLOWEST, goes)
    return _results(plan, corner, states, rates, held, asked[::2], step, shape)


def _results(
    plan: slide_motion.Plan,
    corner: Trim,
    states: Array,
    rates: Array,
    held: Array,
    asked: Array,
    step: float,
    shape: tuple[int, ...],
) -> Run:
    """Read a run off its states."""
    time = np.linspace(0.0, (len(states) - 1) * step, len(states))
    load, along, stiffness = slide_motion.along_run(plan, states, asked)
    speed, sideslip = states[..., slide_motion.SPEED], states[..., slide_motion.SIDESLIP]
    stopped = time[:, None] >= held
    short = np.abs(asked).sum(axis=-1) - np.abs(along).sum(axis=-1) > 1.0
    beyond = plan.table.beyond(plan.car, states[..., slide_motion.FELT_Y], states[..., slide_motion.FELT_X])
    marks = (
        np.where(held <= 0, Mark.NO_CORNER, 0)
        | np.where(stiffness[..., 0] < 0, Mark.FRONT_PAST_PEAK, 0)
        | np.where(stiffness[..., 1] < 0, Mark.REAR_PAST_PEAK, 0)
        | np.where((load < 1e-3 * plan.mass[:, None]).any(axis=-1), Mark.WHEEL_IN_AIR, 0)
        | np.where(short, Mark.LENGTHWAYS, 0)
        | np.where(beyond, Mark.BEYOND_TRIM, 0)
        | np.where(stopped & (np.abs(sideslip) > SPUN - 1e-6), Mark.SPUN, 0)
        | np.where(stopped & (speed < SLOWEST + 1e-6), Mark.STOPPED, 0)
    )

    def shaped(value: Any, *axes: int) -> Array:
        """Put the last axis in front as the named axes, and the cases in their own shape."""
        if axes:
            value = np.moveaxis(value, -1, 0)
        out: Array = value.reshape(*axes, len(time), *shape)
        return out

    column = {name: shaped(states[..., getattr(slide_motion, name.upper())]) for name in _COLUMNS}
    return Run(
        time=time,
        **column,
        lateral=shaped(speed * (rates[..., slide_motion.SIDESLIP] + states[..., slide_motion.YAW_RATE])),
        longitudinal=shaped(rates[..., slide_motion.SPEED]),
        slip=shaped(states[..., [slide_motion.SLIP_F, slide_motion.SLIP_R]], 2),
        stiffness=shaped(stiffness, 2),
        load=shaped(load, 2, 2),
        long_force=shaped(along, 2, 2),
        marks=shaped(marks),
        held=held.reshape(shape),
        start=corner,
    )


_COLUMNS = ("x", "y", "heading", "speed", "sideslip", "yaw_rate", "steer")


def time_to_double(car: Car, pose: Trim | Run, speed: Value | None = None) -> Any:
    """Give the time in which a small slide doubles, steering held: ``T₂ = ln 2/max Re λ`` of the local 2×2 model.

    Parameters:
        car: the car [-]
        pose: a trim, or a run for the time at each of its moments [-]
        speed: speed of the trim; a run has its own [m/s]

    Returns:
        time to double; infinite where a small slide dies out by itself [s]

    Errors:
        ``InputError`` if the speed is not above zero; ``TypeError`` for a trim without speed.

    Validity: a small slide about that moment, constant speed, loads and tyres without lag; past its peak an axle of a
    run counts with its negative slope, one of a trim with none.
    Source: as ``bicycle.motion``.
    """
    arms = pose.cg_to_axle if isinstance(pose, Trim) else pose.start.cg_to_axle[:, None]
    speed = pose.speed if isinstance(pose, Run) else speed
    if speed is None:
        raise TypeError("a trim does not hold its speed: give it")
    local = TwoWheel(car.mass, car.inertia, arms[0], arms[1], pose.stiffness[0], pose.stiffness[1])
    return motion(local, speed).time_to_double


@dataclass(frozen=True)
class Road:
    """Where the car is on a road that follows its steady circle."""

    outward: Array  # (t, …) centre of gravity from the road's middle, outward; on a straight, to its right [m]
    over: Array  # (t, …) True while a wheel is over an edge
    leaves: Array  # (…) when the first wheel crosses an edge, infinite if never [s]


def road(run: Run, car: Car, half_width: Value) -> Road:
    """Say whether the car stays on its road: every wheel within half the road's width of the steady circle.

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
    "mark_words",
    "road",
    "simulate",
    "tabulate",
    "time_to_double",
]
