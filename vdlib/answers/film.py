"""One corner driven by one car in several states at several speeds: what a film of it needs, made in one call.

The states differ in ride heights and in the travel left to the rear bump stops, so that a press of a button can ask
which end did it: the nose raised alone, the tail sunk alone, both, neither, or the tail given its travel back.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup, reference_setup
from ..trim.trim import trim
from ..units import Array, G, to_si
from .lift import Scenario, simulate

TRAVEL = to_si(45.0, "mm")
"""Travel to the rear stop at the reference height that counts as given back [m]; common practice, no source."""
FORGIVEN = to_si(10.0, "deg")
"""Slide beyond the corner's own from which a corner is no longer forgiven [rad]."""
BEFORE, AFTER = 0.6, 4.0
"""Seconds shown before the foot moves, and after it [s]."""
STEP = to_si(0.5, "kmh")
"""Distance between two speeds of the film [m/s]."""
AROUND = 8
"""Speeds of the film to either side of its own."""
FRAME = 0.04
"""Time between two kept moments; what lies between is drawn on a straight line [s]."""


@dataclass(frozen=True)
class State:
    """One state of the car: its name for the user, and what differs from the car as it is."""

    key: str
    name: str
    setup: Setup
    rear_gap: float  # travel to the rear stop at the reference height [m]
    foot: float = 1.0  # part of the corner's lift that the foot asks for [-]


@dataclass(frozen=True)
class Film:
    """A corner driven by every state at every speed. Axes: time, state, speed; wheels of the tail are outer ones."""

    states: tuple[State, ...]
    radius: float  # of the corner [m]
    width: float  # of the road [m]
    turn: float  # 1 to the left, -1 to the right [-]
    lift: float  # engine drag over weight [-]
    speeds: Array  # (v,) [m/s]
    own: int  # which of the speeds the film opens with
    forgiven: Array  # (s,) first speed that is not forgiven, infinite where all tried are [m/s]
    tried: tuple[float, float]  # least and greatest speed tried for it [m/s]
    time: Array  # (t,) [s]
    x: Array  # (t, s, v) along the path's direction at the start [m]
    y: Array  # to the left of it [m]
    heading: Array  # [rad]
    sideslip: Array  # [rad]
    slide: Array  # tail out beyond the corner's own [rad]
    steer: Array  # at the front wheels [rad]
    ends: Array  # (s, v) time at which the model stops, infinite where it does not [s]
    rise: Array  # (2, s) ride height above the reference, front and rear [m]
    room: Array  # (2, s) standing, and at the film's own speed: gap of the outer rear stop, below zero pressed [m]

    def holds(self, state: int, speed: float) -> bool:
        """Whether a state is still forgiven at a speed [m/s]."""
        return bool(speed < self.forgiven[state] - 1e-9)

    def state(self, key: str) -> int:
        """Place of a state among the states, by its key."""
        return [state.key for state in self.states].index(key)


def states_of(car: Car, setup: Setup, reference: Setup | None = None, name: str = "") -> tuple[State, ...]:
    """Give the states that ask which end of the car did it.

    Parameters:
        car: the car [-]
        setup: the car as it came back [-]
        reference: the setup it is compared with; the same one at the reference heights if left out [-]
        name: what the reference is called [-]

    Returns:
        reference, as it came back, front alone, rear alone, travel given back, the heights the other way round, and
        the car as it came back under half the lift [-]
    """
    level = reference or reference_setup(car, setup)
    front, rear = (float(getattr(setup, end).height - getattr(level, end).height) for end in ("front", "rear"))
    gap = float(car.rear.bump_gap)

    def at(front_rise: float, rear_rise: float) -> Setup:
        return setup.with_heights(level.front.height + front_rise, level.rear.height + rear_rise)

    nose = "nose raised alone" if front > 0 else "nose lowered alone" if front < 0 else "nose untouched"
    tail = "tail sunk alone" if rear < 0 else "tail raised alone" if rear > 0 else "tail untouched"
    return (
        State("reference", name or "at its reference heights", level, gap),
        State("now", "as it came back", setup, gap),
        State("nose", nose, at(front, 0.0), gap),
        State("tail", tail, at(0.0, rear), gap),
        State("travel", "tail given its travel back", setup, max(gap, TRAVEL)),
        State("mirror", "heights the other way round", at(-front, -rear), gap),
        State("foot", "as it came back, half the lift", setup, gap, 0.5),
    )


def film(car: Car, states: tuple[State, ...], radius: float, width: float, lift: float, turn: float = 1.0) -> Film:
    """Drive one corner with every state of a car, at speeds about the one where two of them part.

    Parameters:
        car: the car [-]
        states: its states, the reference first and the car as it is second [-]
        radius: radius of the corner [m]
        width: width of the road [m]
        lift: engine drag over weight after the foot has moved [-]
        turn: 1 for a corner to the left, -1 for one to the right [-]

    Returns:
        a ``Film``, hands held still [-]

    Errors:
        ``InputError`` for numbers out of range.

    Validity: as ``simulate``; speeds from 0.35 to 1.3 g of this corner are tried.
    """
    each, setup = _together(car, states)
    lifts = lift * np.array([state.foot for state in states])[:, None]
    forgiven, tried = _forgiven(each, setup, radius, lifts, turn)
    middle = _between(forgiven[:2], tried)
    own = STEP * np.round(middle / STEP)
    speeds = own + STEP * np.arange(-AROUND, AROUND + 1)
    speeds = speeds[(speeds >= tried[0]) & (speeds <= tried[1])]
    run = simulate(each, setup, _scenario(speeds, radius, lifts, turn, BEFORE, AFTER))
    every = np.round(np.arange(0.0, run.time[-1] + 1e-9, FRAME) / run.time[1]).astype(int)
    at = int(np.argmin(np.abs(speeds - own)))
    corner = trim(each, setup, Moment(own, turn * own**2 / radius))
    outer = 1 if turn > 0 else 0
    rise = np.array([[getattr(s.setup, e).height - getattr(car, e).reference_height for s in states] for e in _ENDS])
    standing = np.array([state.rear_gap for state in states]) + rise[1]
    return Film(
        states=states,
        radius=radius,
        width=width,
        turn=turn,
        lift=lift,
        speeds=speeds,
        own=at,
        forgiven=forgiven,
        tried=tried,
        time=run.time[every],
        **{name: getattr(run, name)[every] for name in ("x", "y", "heading", "sideslip", "slide", "steer")},
        ends=run.held,
        rise=rise,
        room=np.stack([standing, standing - corner.travel[1, outer].ravel()]),
    )


_ENDS = ("front", "rear")


def _scenario(speed: Array, radius: float, lift: Array, turn: float, before: float, after: float) -> Scenario:
    return Scenario(speed=speed, lateral=turn * speed**2 / radius, longitudinal=-lift * G, starts=before, lasts=after)


def _together(car: Car, states: tuple[State, ...]) -> tuple[Car, Setup]:
    """Put the states along a first axis, with room for the speeds behind it."""
    gaps = np.array([state.rear_gap for state in states])[:, None]
    return replace(car, rear=replace(car.rear, bump_gap=gaps)), _stack([state.setup for state in states])


def _stack(records: list[Any]) -> Any:
    """Stack records of one kind number by number, each (s, 1)."""
    first = records[0]
    values = {}
    for field in fields(first):
        each = [getattr(record, field.name) for record in records]
        values[field.name] = _stack(each) if is_dataclass(each[0]) else np.array(each, dtype=float)[:, None]
    return replace(first, **values)


def _forgiven(car: Car, setup: Setup, radius: float, lift: Array, turn: float) -> tuple[Array, tuple[float, float]]:
    """Find the first speed of each state at which the slide passes ``FORGIVEN``: in steps, then in finer ones."""
    least, most = (float(np.sqrt(a * G * radius)) for a in (0.35, 1.3))
    low, step = np.full(np.shape(setup.front.height), least), (most - least) / 12
    found = np.full(low.shape, np.inf)
    for count, next_step in ((12, STEP), (int(np.ceil(step / STEP)), STEP / 4), (4, 0.0)):
        speed = low + step * np.arange(count + 1)
        run = simulate(car, setup, _scenario(speed, radius, lift, turn, 0.1, AFTER))
        lost = np.logical_or(run.slide.max(axis=0) > FORGIVEN, np.logical_not(run.start.usable))
        first = np.argmax(lost, axis=1)
        found = np.where(lost.any(axis=1), np.take_along_axis(speed, first[:, None], 1)[:, 0], np.inf)
        low = np.take_along_axis(speed, np.maximum(first - 1, 0)[:, None], 1)
        step = next_step
    return found, (least, most)


def _between(forgiven: Array, tried: tuple[float, float]) -> float:
    """Give the speed half-way between two forgiven ones, or a little under the only one."""
    known = forgiven[np.isfinite(forgiven)]
    return float(known.mean()) if known.size else 0.9 * tried[1]
