"""One corner driven by one car in several states at several speeds: what a film of it needs, made in one call.

The states differ in ride heights and in the travel left to the rear bump stops, so that a press of a button can ask
which end did it: the nose raised alone, the tail sunk alone, both, neither, or the tail given its travel back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.keys import ENDS
from ..car.records import Car, Moment, Setup
from ..car.reference import Reference
from ..trim.trim import numbers, trim
from ..units import Array, to_si
from .corner import HOLDS, QUICK_LIFT, Corner
from .edge import By, Edge
from .forgiven import FINE, SLIDE, forgiven_speed, table_of
from .hands_still import SPEEDS
from .lift import Scenario, track
from .margins import TRAVEL
from .stacking import stack

FORGIVEN = SLIDE
"""Slide beyond the corner's own from which a corner is no longer forgiven [rad]."""
BEFORE, AFTER = 0.6, 4.0
"""Seconds shown before the foot moves, and after it [s]."""
STEP = to_si(0.5, "kmh")
"""Distance between two speeds of the film [m/s]."""
CORNER = Corner(radius=60.0, width=10.0, turn="left", lift=QUICK_LIFT)
"""The corner that the film opens with."""
AROUND = 8
"""Speeds of the film to either side of its own."""
FRAME = 0.04
"""Time between two kept moments; what lies between is drawn on a straight line [s]."""


@dataclass(frozen=True)
class State:
    """One state of a car: its name for the user, and everything as it then is."""

    key: str
    name: str
    car: Car
    setup: Setup
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
    forgiven: Array  # (s,) first speed that is not forgiven [m/s]
    by: tuple[By, ...]  # what ends it there, one a state
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

    def place(self, key: str) -> int:
        """Return the place of a state among the states.

        Parameters:
            key: the state's key [-]

        Returns:
            its place [-]

        Errors:
            ``ValueError`` for a key that no state has.
        """
        return [state.key for state in self.states].index(key)

    def edge(self, key: str) -> Edge:
        """Return up to where a state is forgiven.

        Parameters:
            key: the state's key [-]

        Returns:
            its ``Edge`` [-]

        Errors:
            as ``place``.
        """
        at = self.place(key)
        return Edge(float(self.forgiven[at]), self.by[at])


def states_of(car: Car, setup: Setup, reference: Reference) -> tuple[State, ...]:
    """Return the states that ask what made the car come round: one thing out at a time, then what would help.

    Parameters:
        car: the car [-]
        setup: the car as it came back [-]
        reference: what it is compared with [-]

    Returns:
        the reference, as it came back, the front's height alone, the rear's height alone, all but the heights where
        anything else is out, the tail given its travel back, both heights out as far the other way, half the lift [-]
    """
    level, aligned = reference.setup, reference.car
    front, rear = (float(getattr(setup, end).height - getattr(level, end).height) for end in ENDS)

    def at(front_rise: float, rear_rise: float, of: Setup = level) -> Setup:
        return of.with_heights(level.front.height + front_rise, level.rear.height + rear_rise)

    nose = "nose raised alone" if front > 0 else "nose lowered alone" if front < 0 else "nose untouched"
    tail = "tail sunk alone" if rear < 0 else "tail raised alone" if rear > 0 else "tail untouched"
    name = reference.name if reference.name.startswith(("as ", "at ")) else f"at {reference.name}"
    rest = State("rest", "toe, camber, the rest alone", car, at(0.0, 0.0, setup))
    roomy = replace(car, rear=replace(car.rear, bump_gap=max(float(car.rear.bump_gap), TRAVEL)))
    found = [
        State("reference", name, aligned, level),
        State("now", "as it came back", car, setup),
        State("nose", nose, aligned, at(front, 0.0)),
        State("tail", tail, aligned, at(0.0, rear)),
        rest,
        State("travel", "tail given its travel back", roomy, setup),
        State("mirror", _turned(front, rear), car, at(-front, -rear, setup)),
        State("foot", "as it came back, half that lift", car, setup, 0.5),
    ]
    if _alike((rest.car, rest.setup), (aligned, level)):
        found.remove(rest)
    return tuple(found)


def _turned(front: float, rear: float) -> str:
    """Return in words heights that are out as far the other way."""
    ways = [("nose", -front), ("tail", -rear)]
    told = ", ".join(f"{end} {'up' if way > 0 else 'down'}" for end, way in ways if way)
    return f"{told} instead" if told else "heights untouched"


def states_between(before: tuple[Car, Setup], after: tuple[Car, Setup], names: tuple[str, str]) -> tuple[State, ...]:
    """Return the states that set one car and setup beside another, and beside half the lift.

    Parameters:
        before: car and setup on the left [-]
        after: car and setup on the right [-]
        names: what the two are called [-]

    Returns:
        before, after, and after under half the lift [-]
    """
    return (
        State("reference", names[0], *before),
        State("now", names[1], *after),
        State("foot", f"{names[1]}, half that lift", *after, 0.5),
    )


def film(states: tuple[State, ...], corner: Corner = CORNER) -> Film:
    """Drive one corner with every state of a car, at speeds about the one it opens with.

    Parameters:
        states: states of one car, the reference first and the car as it is second [-]
        corner: the corner and the lift, plain numbers [-]

    Returns:
        a ``Film``, hands held still [-]

    Errors:
        ``InputError`` for numbers out of range.

    Validity: as ``simulate`` and ``forgiven_speed``; a car that cannot hold the corner ends at once.
    """
    each, setup = stack([state.car for state in states], 1), stack([state.setup for state in states], 1)
    radius, lift, turn = float(corner.radius), float(corner.lift), corner.sign
    lifts = lift * np.array([state.foot for state in states])[:, None]
    edges = forgiven_speed(each, setup, replace(corner, lift=lifts), HOLDS).edges
    forgiven = np.array([one.speed for one in edges])
    least, most = (STEP * np.ceil(SPEEDS[0] / STEP) + AROUND * STEP, SPEEDS[1] - AROUND * STEP)
    own = float(np.clip(opens_at(forgiven[:2]), least, most))
    speeds = own + STEP * np.arange(-AROUND, AROUND + 1)
    table = table_of(each, setup, corner)  # the search's own: what is shown is what was found
    run = track(each, setup, _scenario(speeds, radius, lifts, turn, BEFORE, AFTER), table=table)
    every = np.round(np.arange(0.0, run.time[-1] + 1e-9, FRAME) / run.time[1]).astype(int)
    at = int(np.argmin(np.abs(speeds - own)))
    moment = trim(each, setup, Moment(own, turn * own**2 / radius))
    outer = 1 if turn > 0 else 0
    high = np.array([[float(getattr(state.setup, end).height) for state in states] for end in ENDS])
    gap = np.array([float(one.car.rear.bump_gap) for one in states])
    standing = gap + moment.standing_rise[1, outer].ravel()  # of the wheel shown, not of the axle
    return Film(
        states=states,
        radius=radius,
        width=float(corner.width),
        turn=turn,
        lift=lift,
        speeds=speeds,
        own=at,
        forgiven=forgiven,
        by=tuple(one.by for one in edges),
        time=run.time[every],
        **{name: getattr(run, name)[every] for name in ("x", "y", "heading", "sideslip", "slide", "steer")},
        ends=run.held,
        rise=high - high[:, :1],
        room=np.stack([standing, standing - moment.travel[1, outer].ravel()]),
    )


def _scenario(speed: Array, radius: float, lift: Array, turn: float, before: float, after: float) -> Scenario:
    return Scenario(speed=speed, lateral=turn * speed**2 / radius, lift=lift, starts=before, lasts=after)


def _alike(one: tuple[Any, ...], other: tuple[Any, ...]) -> bool:
    """Whether two tuples of records hold the same numbers."""
    pairs = zip(one, other, strict=True)
    return all(np.allclose(list(numbers(a)), list(numbers(b)), rtol=1e-9, atol=1e-12) for a, b in pairs)


def opens_at(forgiven: Array) -> float:
    """Choose the speed a film opens with: one at which its first two states part, or hold where they are alike.

    Parameters:
        forgiven: first speed of each of the two that is not forgiven [m/s]

    Returns:
        a whole number of ``STEP`` [m/s]
    """
    first, last = float(np.min(forgiven)), float(np.max(forgiven))
    if last - first < STEP - 1e-6:  # below both, and by enough that no rounded speed says otherwise
        return float(STEP * np.floor((first - 2 * FINE) / STEP + 1e-9))
    between = STEP * np.arange(np.ceil(first / STEP - 1e-9), np.ceil(last / STEP - 1e-9))
    return float(min(between, key=lambda speed: abs(speed - 0.5 * (first + last))))
