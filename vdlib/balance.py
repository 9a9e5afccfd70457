"""What is read off a trim: understeer angle and gradient, the limit of each end, how fast a slide grows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .bicycle import TwoWheel, motion
from .car import Car, Moment, Setup
from .glossary import GLOSSARY
from .trim import Heights, State, Trim, numbers, trim
from .units import Array, Flags, G, to_si

_STEP = 0.004 * G  # half the span over which the local slope is taken
_ROUNDS, _POINTS = 6, 8  # each round narrows the search eightfold
_MOST = to_si(GLOSSARY["lateral"].high, GLOSSARY["lateral"].unit)


@dataclass(frozen=True)
class Limits:
    """The lateral acceleration at which each end runs out of side force, (2, …) front and rear."""

    lateral: Array  # where the end gives up, the car tips, or the model's range ends [m/s²]
    slides: Flags  # True where the end's own tyres are what gives up [-]
    tips: Flags  # True where the car tips before [-]

    @property
    def first(self) -> Array:
        """The end that slides first: 0 front, 1 rear, -1 where neither does within the model's range [-]."""
        reach = np.where(self.slides, self.lateral, np.inf)
        return np.where(np.isinf(reach).all(axis=0), -1, np.argmin(reach, axis=0))

    @property
    def car(self) -> Array:
        """The lateral acceleration that the whole car reaches: the lower of the two [m/s²]."""
        lowest: Array = self.lateral.min(axis=0)
        return lowest

    @property
    def margin(self) -> Array:
        """Front limit less rear limit, oversteer positive: how much longer the front holds [m/s²]."""
        gap: Array = self.lateral[0] - self.lateral[1]
        return gap


@dataclass(frozen=True)
class Balance:
    """The balance of one moment; whatever has no value there is NaN, and ``trim.usable`` is False."""

    trim: Trim
    understeer_angle: Array  # front slip angle less rear slip angle [rad]
    gradient: Array  # its local slope against lateral acceleration at this speed [rad/(m/s²)]
    yaw_stability: Array  # b·C_r − a·C_f from the local stiffnesses, stable when positive [N·m/rad]
    critical_speed: Array  # with those stiffnesses; infinite where there is none [m/s]
    time_to_double: Array  # of a small disturbance, steering held; infinite where it dies out [s]


def balance(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None) -> Balance:
    """Read the balance of one moment: ``α_f − α_r``, its slope ``K = d(α_f − α_r)/da_y``, and the stability.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: what the car is doing [-]
        heights: ride heights for single routes in place of the setup's own [m]

    Returns:
        a ``Balance`` with the inputs' broadcast shape [-]

    Errors:
        as ``trim``.

    Validity: the slope is taken at constant speed and lengthways acceleration, over ±0.004 g, or over one half of that
    where the other half is past the limit; stability is that of the two-wheel model with the local axle stiffnesses.
    Source: ISO 4138 (constant speed); Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 1.3.3.
    """
    shape = shape_of(car, setup, moment, heights)
    lateral = np.broadcast_to(np.asarray(moment.lateral, dtype=float), shape)
    spread = np.array([0.0, -_STEP, _STEP]).reshape(3, *(1,) * len(shape))
    three = trim(car, setup, replace(moment, lateral=lateral + spread), heights)
    angle, good = three.slip[0] - three.slip[1], three.usable
    low, high = np.where(good[1], angle[1], angle[0]), np.where(good[2], angle[2], angle[0])
    width = _STEP * (good[1].astype(float) + good[2])
    known = good[0] & (width > 0)
    slope = np.where(known, (high - low) / np.where(width > 0, width, 1.0), np.nan)
    middle = Trim(**{name: value[_at(name)] for name, value in vars(three).items()})
    front, rear = middle.stiffness
    a, b = middle.cg_to_axle
    stability = b * rear - a * front
    speed = np.broadcast_to(np.asarray(moment.speed, dtype=float), shape)
    bound = np.maximum(front * rear, 0.0) * (a + b) ** 2 / (np.where(stability < 0, -stability, 1.0) * car.mass)
    critical = np.where(stability < 0, np.sqrt(bound), np.inf)
    double = motion(TwoWheel(car.mass, car.inertia, a, b, front, rear), speed).time_to_double
    usable = middle.usable
    return Balance(
        trim=middle,
        understeer_angle=np.where(usable, middle.understeer_angle, np.nan),
        gradient=slope,
        yaw_stability=np.where(usable, stability, np.nan),
        critical_speed=np.where(usable, critical, np.nan),
        time_to_double=np.where(usable, double, np.nan),
    )


def _at(name: str) -> Any:
    """Where the middle one of three stands in an array of the trim, behind its axes of axle and side."""
    return (slice(None),) * _AXES.get(name, 0) + (0,)


_AXES = {name: 2 for name in ("load", "standing_load", "travel", "toe", "lean", "on_stop", "long_force")} | {
    name: 1 for name in ("links", "roll_centre", "lift", "side_force", "peak_force", "slip", "stiffness", "cg_to_axle")
}


def shape_of(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None) -> tuple[int, ...]:
    """Give the broadcast shape of everything that goes into a trim.

    Parameters:
        car: the car [-]
        setup: the setup [-]
        moment: the moment [-]
        heights: ride heights for single routes [m]

    Returns:
        the shape [-]
    """
    pairs = [height for pair in dict(heights or {}).values() for height in pair]
    leaves = [*numbers(car), *numbers(setup), *numbers(moment), *pairs]
    return np.broadcast_shapes(*(np.shape(leaf) for leaf in leaves))


def limits(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None) -> Limits:
    """Find where each end runs out of side force, turning as the moment does: ``F_y,i(a_y) = F_y,max,i(a_y)``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: speed and lengthways acceleration; of the lateral acceleration only the sign counts [-]
        heights: ride heights for single routes in place of the setup's own [m]

    Returns:
        a ``Limits`` with the inputs' broadcast shape [-]

    Errors:
        as ``trim``.

    Validity: lengthways acceleration and speed held; wheel loads keep following the lateral acceleration that is asked
    for, also past the limit of the other end; up to 3 g.
    """
    shape = shape_of(car, setup, moment, heights)
    turn = np.where(np.broadcast_to(np.asarray(moment.lateral, dtype=float), shape) < 0, -1.0, 1.0)

    def over(size: Array) -> tuple[Array, Flags]:
        """How far past its limit each end is at its own lateral acceleration (points, ends, …), and what has tipped."""
        found = trim(car, setup, replace(moment, lateral=size * turn), heights)
        fallen = (np.asarray(found.state, dtype=int) & int(State.TIPS)) != 0
        past = np.stack([found.use[0, :, 0], found.use[1, :, 1]], axis=1) - 1
        return np.where(fallen | ~np.isfinite(past), np.inf, past), fallen

    grip = max(float(np.max(axle.tyre.grip)) for axle in (car.front, car.rear))
    return Limits(*_crossing(over, (2, *shape), min(1.35 * grip * G, _MOST)))


def _crossing(
    over: Callable[[Array], tuple[Array, Flags]], shape: tuple[int, ...], likely: float
) -> tuple[Array, Flags, Flags]:
    """Find the first zero of a function below zero at none: each round asks points between the ends found so far."""
    low, high = np.zeros(shape), np.full(shape, likely)
    at_low, at_high = np.full(shape, -1.0), np.full(shape, np.inf)
    fell: Flags = np.zeros(shape, dtype=bool)
    held: Flags = np.zeros(shape, dtype=bool)
    parts = np.linspace(0.0, 1.0, _POINTS + 1)[1:].reshape(-1, *(1,) * len(shape))
    for step in range(_ROUNDS):
        asked = low + (high - low) * parts
        value, fallen = over(asked)
        past = value >= 0
        none = ~past.any(axis=0)
        if step < 2:
            held = np.asarray(none)
        at = np.argmax(past, axis=0)[None]
        before = np.maximum(at - 1, 0)
        first = at[0] == 0
        new_low = np.where(first, low, np.take_along_axis(asked, before, 0)[0])
        at_low = np.where(first, at_low, np.take_along_axis(value, before, 0)[0])
        low, high = new_low, np.take_along_axis(asked, at, 0)[0]
        at_high, fell = np.take_along_axis(value, at, 0)[0], np.take_along_axis(fallen, at, 0)[0]
        if step == 0:  # past what is likely, the search goes on to the end of the range
            low, high = np.where(none, likely, low), np.where(none, _MOST, high)
            at_low, at_high = np.where(none, value[-1], at_low), np.where(none, np.inf, at_high)
    with np.errstate(invalid="ignore"):
        found = low + (high - low) * np.where(np.isfinite(at_high), -at_low / (at_high - at_low), 0.5)
    return np.where(held, _MOST, found), ~held & ~fell, fell & ~held
