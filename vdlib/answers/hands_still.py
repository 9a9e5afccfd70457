"""The hands-still limit: up to which lateral acceleration a wheel that is held steadies the car in its corner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..trim.aero import ROLLING, dynamic_pressure
from ..trim.trim import Heights, State, numbers, shape_of, trim
from ..units import Array, Flags, G, to_si
from .edge import MARKS, By
from .limits import first_above

_STEP = 0.004 * G  # half the span over which a point's own derivative is taken
_LEAST = 0.05 * G
_POINTS, _FINE = 24, 7
SPEEDS = to_si(20.5, "kmh"), to_si(345.0, "kmh")
"""Speeds that a moment may hold, least and greatest [m/s]."""


@dataclass(frozen=True)
class HandsStill:
    """Where the held wheel stops steadying the car; no number is NaN."""

    limit: Array  # lateral acceleration up to which it does; where the grip ends first, that [m/s²]
    exists: Flags  # False where steering rises until the grip ends: there is no such limit
    grip_ends: Array  # where an end runs out of side force, or the car tips [m/s²]

    def one(self, place: int) -> HandsStill:
        """Return one of the cases along the first axis.

        Parameters:
            place: which [-]

        Returns:
            a ``HandsStill`` [-]
        """
        return HandsStill(self.limit[place], self.exists[place], self.grip_ends[place])

    @property
    def told(self) -> Any:
        """Words for each case, shape as the limit [-]."""
        return np.vectorize(_words, otypes=[str])(self.limit / G, self.exists)

    @property
    def until(self) -> Any:
        """The same as a sentence goes on with "hands still, it settles": shape as the limit [-]."""
        return np.vectorize(_until, otypes=[str])(self.limit / G, self.exists)


def _until(limit: float, exists: bool) -> str:
    return f"up to {limit:.2f} g" if exists else f"until the grip ends, at {limit:.2f} g"


def _words(limit: float, exists: bool) -> str:
    return f"{limit:.2f} g" if exists else f"{limit:.2f} g ({MARKS[By.GRIP]})"


@dataclass(frozen=True)
class Steering:
    """Total steering against lateral acceleration on one radius, points along the first axis."""

    lateral: Array  # [m/s²]
    speed: Array  # [m/s]
    steer: Array  # total steering at the front wheels, turning in positive; NaN past the grip [rad]
    rise: Array  # its growth with lateral acceleration at that point's own speed [rad/(m/s²)]
    usable: Flags


def slowing(car: Car, lift: Any, speed: Any, brake: Any = 0.0) -> Any:
    """Return the longitudinal acceleration of a car on a closed throttle: ``−g·(lift + brake + f_r) − ½ρV²·C_D·A/m``.

    Parameters:
        car: the car [-]
        lift: engine's drag over weight, any shape [-]
        speed: speed, any shape [m/s]
        brake: brakes' force over weight, any shape [-]

    Returns:
        longitudinal acceleration [m/s²]

    Validity: the corner's own drag left out, as the trim does.
    """
    air = dynamic_pressure(speed) * np.asarray(car.drag_area) / car.mass
    return -(np.asarray(lift) + brake + ROLLING) * G - air


def steering(
    car: Car, setup: Setup, radius: Any, lateral: Any, lift: Any = None, turn: Any = 1.0, brake: Any = 0.0
) -> Steering:
    """Compute total steering along lateral acceleration on one radius, each point at its own speed ``V² = a_y·R``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        radius: radius of the corner [m]
        lateral: lateral accelerations, points along a new first axis, above zero [m/s²]
        lift: engine's drag over weight; None for a speed that is held [-]
        turn: 1 to the left, −1 to the right [-]
        brake: brakes' force over weight, with a lift [-]

    Returns:
        a ``Steering`` [-]

    Errors:
        as ``trim``.

    Validity: as ``trim``; the derivative is taken at constant speed and longitudinal acceleration, over ±0.004 g.
    """
    lateral = np.asarray(lateral, dtype=float)
    speed = np.sqrt(lateral * radius)
    along = 0.0 * speed if lift is None else slowing(car, lift, speed, brake)
    braking = 0.0 if lift is None else _part_braked(lift, brake)
    shape = np.broadcast_shapes(lateral.shape, speed.shape, np.shape(along), np.shape(braking), np.shape(turn))
    span = np.array([-_STEP, _STEP]).reshape(2, *(1,) * len(shape_of(car, setup, Moment(np.full(shape, 20.0), 1.0))))
    found = trim(car, setup, Moment(speed, (lateral + span) * turn, along, braking))
    steer = np.where(found.curvature < 0, -found.steer, found.steer)
    usable = found.usable.all(axis=0)
    whole = np.where(usable, steer.mean(axis=0), np.nan)
    rise = np.where(usable, (steer[1] - steer[0]) / (2 * _STEP), np.nan)
    return Steering(*np.broadcast_arrays(lateral, speed, whole, rise, usable))


def hands_still_limit(
    car: Car,
    setup: Setup,
    radius: Any,
    lift: Any = None,
    turn: Any = 1.0,
    brake: Any = 0.0,
    heights: Heights | None = None,
) -> HandsStill:
    """Find the first lateral acceleration at which total steering stops rising: ``dδ/da_y = L/V² + K ≤ 0``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        radius: radius of the corner [m]
        lift: engine's drag over weight, air and rolling come on top; None, or NaN among many, where a speed is held [-]
        turn: 1 to the left, −1 to the right [-]
        brake: brakes' force over weight, with a lift [-]
        heights: ride heights for single routes in place of the setup's own [m]

    Returns:
        a ``HandsStill`` with the inputs' broadcast shape [-]

    Errors:
        as ``trim``.

    Validity: ``V² = a_y·R`` at every point, its derivative at constant speed; to 0.002 g; settled moments, no motion.
    Source: ISO 4138, constant radius for the points and constant speed for their slopes.
    """
    axles = (car.front, car.rear)
    most = 1.15 * max(float(np.max(axle.tyre.grip)) for axle in axles) * G
    given = (*numbers(car), *numbers(setup), radius, turn, brake, 0.0 if lift is None else lift)
    given += tuple(height for pair in dict(heights or {}).values() for height in pair)
    cases = len(np.broadcast_shapes(*(np.shape(value) for value in given)))
    held = np.zeros(1, dtype=bool) if lift is None else np.isnan(lift)
    lift = None if lift is None else np.where(held, 0.0, lift)

    def ask(points: Array) -> tuple[Array, Array, Flags]:
        """Return the growth of steering, and where the grip ends, from a sweep along the first axis."""
        speed = np.sqrt(points * radius)
        along, braking = (0.0, 0.0) if lift is None else (slowing(car, lift, speed, brake), _part_braked(lift, brake))
        if held.any():
            along, braking = np.where(held, 0.0, along), np.where(held, 0.0, braking)
        span = np.array([-_STEP, _STEP]).reshape(2, *(1,) * (cases + 1))
        found = trim(car, setup, Moment(speed, (points + span) * turn, along, braking), heights)
        steer = np.where(found.curvature < 0, -found.steer, found.steer)
        fallen = (found.state.astype(int) & int(State.TIPS)) != 0
        use = np.where(fallen, 2.0, found.use.max(axis=0))
        return (steer[1] - steer[0]) / (2 * _STEP), use.mean(axis=0), use.max(axis=0) <= 1.0

    slowest, fastest = (np.square(speed) / np.asarray(radius, dtype=float) for speed in SPEEDS)
    low, high = np.maximum(slowest, _LEAST), np.minimum(fastest, most)
    closer = np.sqrt(np.linspace(0.0, 1.0, _POINTS)).reshape(-1, *(1,) * cases)  # closer where limits are
    sweep = low + (high - low) * closer
    rise, use, holds = ask(sweep)
    ends = first_above(sweep, use, np.zeros(use.shape, dtype=bool))
    ends = np.where(np.isfinite(ends), ends, high)
    turns = (rise <= 0) & holds
    # the stretch before the first point at which steering has stopped rising, or before the grip ends
    past = turns | ~holds
    first = np.where(past.any(axis=0), past.argmax(axis=0), _POINTS - 1)[None]
    high = np.take_along_axis(np.broadcast_to(sweep, rise.shape), first, 0)
    low = np.take_along_axis(np.broadcast_to(sweep, rise.shape), np.maximum(first - 1, 0), 0)
    fine = low + (high - low) * np.linspace(0.0, 1.0, _FINE).reshape(-1, *(1,) * (high.ndim - 1))
    rise, _, holds = ask(fine)
    turns = (rise <= 0) & holds
    exists = np.asarray(turns.any(axis=0))
    at = np.maximum(turns.argmax(axis=0), 1)[None]
    x1, y1 = np.take_along_axis(fine, at, 0)[0], np.take_along_axis(rise, at, 0)[0]
    x0, y0 = np.take_along_axis(fine, at - 1, 0)[0], np.take_along_axis(rise, at - 1, 0)[0]
    fall = np.where(y0 > y1, y0 - y1, 1.0)
    limit = np.where(exists, x0 + (x1 - x0) * np.clip(y0 / fall, 0.0, 1.0), ends)
    return HandsStill(limit, exists, np.maximum(ends, limit))


def _part_braked(lift: Any, brake: Any) -> Any:
    """Return the part of the feet's slowing that the brakes do; the engine's drag counts as its own."""
    lift, brake = np.asarray(lift, dtype=float), np.asarray(brake, dtype=float)
    whole = np.maximum(lift, 0.0) + brake + ROLLING
    return brake / whole


__all__ = ["HandsStill", "Steering", "hands_still_limit", "slowing", "steering"]
