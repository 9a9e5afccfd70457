"""What would help most: gain of every setting a workshop can turn, and what each can do alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..answers.balance import HALF_SPAN, settled_growth, slopes
from ..answers.turns import LEFT, RIGHT
from ..car.keys import ENDS
from ..car.records import PHASES, Car, Moment, Setup
from ..trim.trim import trim
from ..units import Array, G, to_si
from .candidate import Version, put_all
from .whatif import PHASE_ORDER, Comparison, compare, plain

GOALS: dict[str, tuple[str, str]] = {
    "gap": ("limit gap", "g"),
    "steering": ("extra steering", "deg"),
    "growth": ("how fast a small slide dies out", "1/s"),
}
"""Goal → its plain name and unit; each grows as the rear gets calmer."""
KINDS: dict[str, tuple[str, float, float]] = {
    "height": ("mm", 1.0, 5.0),
    "spring": ("N_per_mm", 5.0, 5.0),
    "bar": ("Nm_per_deg", 1.0, 1.0),
    "toe": ("deg", 0.05, 0.05),
    "camber": ("deg", 0.1, 0.25),
    "pressure": ("bar", 0.05, 0.1),
}
"""Setting → unit, the workshop's finest step and one usual change in it.

A bar's are counted in clicks. Usual changes weigh one kind against another; common practice, no source.
"""
KIND_WORDS = {
    "height": "ride heights",
    "spring": "springs",
    "bar": "anti-roll bars",
    "toe": "toe",
    "camber": "camber",
    "pressure": "pressures",
}
"""Kind of setting → its plain name."""
_PAST = 0.005 * G  # how far past a limit an axle is looked at
_NUDGE = 0.25  # of a usual change: half the span of a finite difference


@dataclass(frozen=True)
class Bounds:
    """How far each setting may go; SI. All of them common practice, no source: put in your own."""

    clearance: float = 0.080  # least ride height, for what hangs lower than the measuring point [m]
    gap: float = 0.015  # least travel left to the bump stop and to full droop, standing [m]
    height: float = 0.025  # most a ride height may differ from now [m]
    camber: tuple[float, float] = (float(np.radians(-3.0)), float(np.radians(-0.3)))  # for the tyre's edges [rad]
    toe: tuple[float, float] = (float(np.radians(-0.15)), float(np.radians(0.30)))  # of each wheel, for tyre wear [rad]
    bar: float = 0.5  # a bar may go this part below and above what it is [-]
    click: float = 0.1  # one click of a bar, as part of what it is [-]
    spring: float = 0.25  # likewise a spring [-]
    pressure: float = 0.3e5  # most a pressure may differ from now [Pa]


@dataclass(frozen=True)
class Lever:
    """One setting that can be turned: what it is now and how far it may go, in SI."""

    path: str
    now: float
    low: float
    high: float
    grid: float  # the workshop's finest step
    usual: float  # one usual change, for which its gain is given

    @property
    def field(self) -> str:
        """The setting's own name, without the axle [-]."""
        return self.path.rpartition(".")[2]

    @property
    def words(self) -> str:
        """Its plain name [-]."""
        return plain(self.path)


@dataclass(frozen=True)
class Ask:
    """What is wanted: more or less of a goal in one phase of a corner."""

    goal: str = "gap"
    phase: str = "lift"
    speed: float = to_si(110.0, "kmh")  # [m/s]
    lateral: float = 0.8 * G  # [m/s²]
    way: int = 1  # +1 for a calmer rear, -1 for a car that turns more willingly


@dataclass(frozen=True)
class Gains:
    """Change of what is read off, for one SI unit of each lever; axes [lever], [phase]."""

    base: Comparison
    limit: Array  # (2 ends, levers, 4) [(m/s²)/unit]
    steering: Array  # (levers, 4) [rad/unit]
    growth: Array  # (levers, 4) growth rate of a small slide [1/s/unit]

    def of(self, ask: Ask) -> Array:
        """Return the gain of the goal for one SI unit of each lever.

        Parameters:
            ask: what is wanted [-]

        Returns:
            gain in the goal's unit, (levers,), NaN where it is not known [any]
        """
        at = self.base.phases.index(ask.phase)
        if ask.goal == "gap":
            return (self.limit[1, :, at] - self.limit[0, :, at]) / G
        table = np.degrees(self.steering) if ask.goal == "steering" else -self.growth
        return np.asarray(table[:, at])


def levers(
    car: Car, setup: Setup, bounds: Bounds | None = None, kinds: Iterable[str] = tuple(KINDS)
) -> tuple[Lever, ...]:
    """List what can be turned on a car and how far.

    Parameters:
        car: the car, plain numbers [-]
        setup: the setup as it stands, toe and camber at its own heights [-]
        bounds: how far each setting may go; the usual ones if left out [-]
        kinds: which kinds of setting may be touched, of ``KINDS`` [-]

    Returns:
        the levers; a bar the car does not have is none [-]

    Validity: a setting already outside its bounds may come back but not go further out.
    """
    found = []
    kept = bounds or Bounds()
    for field in kinds:
        unit, grid, usual = KINDS[field]
        for end in ENDS:
            axle, now = getattr(car, end), float(getattr(getattr(setup, end), field))
            low, high = {
                "height": (
                    max(kept.clearance, axle.reference_height + kept.gap - axle.bump_gap, now - kept.height),
                    min(axle.reference_height - kept.gap + axle.droop_gap, now + kept.height),
                ),
                "spring": (now * (1 - kept.spring), now * (1 + kept.spring)),
                "bar": (now * (1 - kept.bar), now * (1 + kept.bar)),
                "toe": kept.toe,
                "camber": kept.camber,
                "pressure": (now - kept.pressure, now + kept.pressure),
            }[field]
            if field == "bar" and not now:
                continue
            size = kept.click * now if field == "bar" else float(to_si(1.0, unit))
            sizes = (grid * size, usual * size)
            found.append(Lever(f"{end}.{field}", now, min(float(low), now), max(float(high), now), *sizes))
    return tuple(found)


def turned(setup: Setup, steps: Mapping[str, float]) -> Setup:
    """Turn some settings; toe and camber are set back at a new ride height.

    Parameters:
        setup: the setup as it stands, toe and camber at its own heights [-]
        steps: dotted name → change, numbers or arrays of one shape [any]

    Returns:
        a new ``Setup`` [-]

    Errors:
        ``InputError`` for a value out of range.
    """
    new: dict[str, Any] = {}
    for path, step in steps.items():
        end, _, field = path.rpartition(".")
        new[path] = getattr(getattr(setup, end), field) + step
        if field == "height":
            new[f"{end}.aligned_height"] = new[path]
    out: Setup = put_all(setup, new)
    return out


def value(found: Comparison, ask: Ask, row: int = 0) -> float:
    """Read a goal off a comparison.

    Parameters:
        found: the comparison [-]
        ask: what is wanted [-]
        row: which of its versions [-]

    Returns:
        the goal in its own unit in the turn furthest from what is wanted; NaN where it is not known there [any]
    """
    return ask.way * min((ask.way * _read(one, ask, row) for one in found.turns), key=_known)


def worst(found: Comparison, ask: Ask, row: int = 0) -> Comparison:
    """Return the turn in which a goal is furthest from what is wanted.

    Parameters:
        found: the comparison [-]
        ask: what is wanted [-]
        row: which of its versions [-]

    Returns:
        a ``Comparison``; the left turn where both are alike [-]
    """
    both = [found.turning(turn) for turn in (LEFT, RIGHT)]
    return min(both, key=lambda one: _known(ask.way * _read(one, ask, row)))


def _read(found: Comparison, ask: Ask, row: int) -> float:
    """The goal in one turn."""
    at = found.phases.index(ask.phase)
    if ask.goal == "gap":
        return float(found.gap[row, at]) / G
    if ask.goal == "steering":
        return float(np.degrees(found.angle[row, at]))
    return -float(found.growth[row, at])


def _known(value: float) -> float:
    """What cannot be told is the worst."""
    return -np.inf if np.isnan(value) else value


def gains(
    base: Version,
    ask: Ask,
    wanted: Sequence[Lever],
    phases: Sequence[str] = PHASE_ORDER,
    alone: Comparison | None = None,
) -> Gains:
    """Return what each lever does in the turn furthest from what is wanted, by central differences in one trim call.

    A limit moves by ``Δa = −Δuse/(∂use/∂a)``, both taken just past it, where ``use`` is smooth.

    Parameters:
        base: the car as it stands [-]
        ask: speed and lateral acceleration [-]
        wanted: the levers [-]
        phases: phases of the corner looked at [-]
        alone: the car as it stands, in these phases, to save working it out again [-]

    Returns:
        a ``Gains`` [-]

    Errors:
        as ``trim``.

    Validity: for small changes; a bump stop that is about to touch makes the true answer bend.
    """
    here = worst(compare([base], ask.speed, ask.lateral, phases) if alone is None else alone, ask)
    usual = np.array([PHASES[phase] for phase in phases]).T[:, :, None]
    count = len(wanted)
    nudge = np.array([_NUDGE * lever.usual for lever in wanted])
    sides = np.concatenate([np.eye(count), -np.eye(count), np.zeros((1, count))]) * nudge  # up, down, as it stands
    setup = turned(base.setup, {lever.path: sides[:, i].reshape(-1, 1, 1) for i, lever in enumerate(wanted)})
    limit = np.where(np.isfinite(here.limit[:, 0]), here.limit[:, 0], 0.5 * G)  # (2, phases)
    beside = here.turn * ask.lateral + HALF_SPAN * np.array([0.0, -1.0, 1.0])
    past = [*(here.turn * (limit + _PAST)), *(here.turn * (limit + 2 * _PAST))]
    lateral = np.stack([*np.repeat(beside, len(phases)).reshape(3, -1), *past], axis=-1)
    found = trim(base.car, setup, Moment(np.full((len(sides), 1, 1), ask.speed), lateral, *usual))
    near = np.stack([found.use[0][..., 3], found.use[1][..., 4]])  # (2, setups, phases)
    slope = (np.stack([found.use[0][..., 5], found.use[1][..., 6]]) - near)[:, -1] / _PAST
    at = found.pick(..., 0)
    width = 2 * nudge[:, None]

    def central(values: Array) -> Array:
        difference: Array = (values[..., :count, :] - values[..., count : 2 * count, :]) / width
        return difference

    known = (np.isfinite(here.limit[:, 0]) & (slope > 0))[:, None]
    moved = np.where(known, -central(near) / np.where(slope > 0, slope, 1.0)[:, None], np.nan)
    steering = np.where(at.usable, at.understeer_angle, np.nan)
    steeper = slopes(np.moveaxis(found.slip[..., :3], -1, 1), np.moveaxis(found.usable[..., :3], -1, 0))
    rate = settled_growth(base.car.mass, base.car.inertia, at, steeper, ask.speed)
    return Gains(here, moved, central(steering), central(rate))


@dataclass(frozen=True)
class Help:
    """What one lever can do alone: its gain for one usual change, and the whole way to the end of its bounds."""

    lever: Lever
    gain: float  # of the goal, wanted way positive, for one usual change [goal's unit]
    way: int  # +1 where more of the setting helps, -1 where less does, 0 where neither
    room: float  # how far it may go that way [SI]
    reach: float  # of the goal at the end of that room, wanted way positive [goal's unit]
    end: Comparison | None  # the car there beside the car as it stands; None without room


def ranked(base: Version, ask: Ask, wanted: Sequence[Lever]) -> tuple[Help, ...]:
    """Rank the levers by what each can do for the goal within its bounds, the best first.

    Parameters:
        base: the car as it stands [-]
        ask: what is wanted [-]
        wanted: the levers [-]

    Returns:
        one ``Help`` a lever [-]

    Errors:
        as ``trim``.

    Validity: one lever at a time; two together do not quite add up.
    """
    found = gains(base, ask, wanted)
    slope = np.nan_to_num(found.of(ask)) * ask.way
    ways = np.sign(slope).astype(int)
    rooms = [
        lever.high - lever.now if way > 0 else lever.now - lever.low for lever, way in zip(wanted, ways, strict=True)
    ]
    moves = [way * room for way, room in zip(ways, rooms, strict=True)]
    free = [i for i, move in enumerate(moves) if abs(move) > 1e-9 * wanted[i].usual]
    far: dict[int, Comparison] = {}
    if free:
        there = [Version("", base.car, turned(base.setup, {wanted[i].path: moves[i]})) for i in free]
        every = compare(there, ask.speed, ask.lateral)
        far = {i: found.base.beside(every.only(row)) for row, i in enumerate(free)}
    now = value(found.base, ask)
    told = [
        Help(
            lever,
            float(abs(slope[i]) * lever.usual),
            int(ways[i]),
            rooms[i],
            (value(far[i], ask, 1) - now) * ask.way if i in far else 0.0,
            far.get(i),
        )
        for i, lever in enumerate(wanted)
    ]
    return tuple(sorted(told, key=lambda one: -np.nan_to_num(one.reach, nan=-1e9)))
