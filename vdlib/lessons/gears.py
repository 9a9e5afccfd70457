"""Gears and power: speed in each gear, thrust at the wheels, when to change up, which gear for a corner, top speed.

Full throttle on a level road. The engine's torque runs in straight lines between the points given, so the thrust in one
gear is straight lines over speed too, and the places where two gears push alike are found exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..trim.aero import dynamic_pressure
from ..units import UNITS, Array, Flags, G, Value

RPM = UNITS["rpm"].to_si
"""One revolution a minute [rad/s]."""
ROLLING = 0.012
"""Rolling resistance over weight of a road tyre on asphalt [-]; common practice, no source."""


@dataclass(frozen=True)
class Drivetrain:
    """Engine curve, gears and tyre; ``torque`` is at the engine, or at the wheels over the gearing with no losses."""

    engine_speed: Array  # rising (points,) [rad/s]
    torque: Array  # full throttle (points,) [N·m]
    ratios: Array  # falling, first gear first (gears,) [-]
    final_drive: float  # [-]
    tyre_radius: float  # rolling radius [m]
    efficiency: float = 0.9  # part of the power that reaches the wheels [-]; common practice, no source
    limit: float | None = None  # rev limit; None for the end of the curve [rad/s]

    def __post_init__(self) -> None:
        """Check every number and keep the curves as arrays."""
        for name in ("engine_speed", "torque", "ratios"):
            object.__setattr__(self, name, np.asarray(getattr(self, name), dtype=float))
        speed, torque, ratios = self.engine_speed, self.torque, self.ratios
        limit = self.limit if self.limit is not None else (speed.flat[-1] if speed.size else 0.0)
        rising = speed.ndim == 1 and bool(np.all(np.diff(speed) > 0) and np.all((speed >= 0) & (speed < 3000)))
        pulls = bool(np.all((torque >= 0) & (torque <= 3000))) and bool(np.any(torque > 0))
        falling = ratios.ndim == 1 and ratios.size > 0 and bool(np.all(np.diff(ratios) < 0))
        graded = falling and bool(np.all((ratios > 0.2) & (ratios < 20)))
        ends = speed.size < 2 or bool(speed.flat[0] < limit <= speed.flat[-1])
        pairs = speed.size >= 2 and speed.shape == torque.shape
        sizes = f"{speed.size} speeds, {torque.size} torques"
        roll = "measure how far the car rolls in one turn of the wheel and divide by 2π"
        rules = (
            (pairs, "engine curve", sizes, "must be at least two pairs", "give one torque for each engine speed"),
            (rising, "engine speed", _rev(speed), "must rise and stay below 28 600 rev/min", "is the unit rev/min?"),
            (pulls, "torque", torque.tolist(), "must be 0 to 3000 N·m and somewhere above 0", "check the unit"),
            (
                graded,
                "gear ratios",
                ratios.tolist(),
                "must be 0.2 to 20 and fall from gear to gear",
                "start with first",
            ),
            (0.5 <= self.final_drive <= 20, "final drive", self.final_drive, "must be 0.5 to 20", "1 if in the ratios"),
            (0.1 <= self.tyre_radius <= 0.6, "tyre radius", f"{self.tyre_radius} m", "must be 0.1 to 0.6 m", roll),
            (0.5 <= self.efficiency <= 1, "efficiency", self.efficiency, "must be 0.5 to 1", "1 if read at the wheels"),
            (
                ends,
                "rev limit",
                _rev(np.array(limit)),
                "must lie on the engine curve",
                "give the curve up to the limit",
            ),
        )
        found = [Problem(what, str(got), rule, remedy) for good, what, got, rule, remedy in rules if not good]
        if found:
            raise InputError(found)

    @property
    def top_engine_speed(self) -> float:
        """Rev limit, or the end of the curve [rad/s]."""
        return float(self.engine_speed[-1] if self.limit is None else self.limit)

    @property
    def gearing(self) -> Array:
        """Engine turns for one metre of road, ``i·i₀/r``, (gears,) [rad/m]."""
        out: Array = self.ratios * self.final_drive / self.tyre_radius
        return out

    def turns(self, engine_speed: Value) -> Flags:
        """Return where the engine can turn: on its curve and not above the limit.

        Parameters:
            engine_speed: any shape [rad/s]

        Returns:
            True where it can [-]
        """
        speed = np.asarray(engine_speed)
        above = speed >= self.engine_speed[0] * (1 - 1e-12)
        return np.asarray(above & (speed <= self.top_engine_speed * (1 + 1e-12)))

    def torque_at(self, engine_speed: Value) -> Array:
        """Return the torque on the curve, 0 beyond its ends.

        Parameters:
            engine_speed: any shape [rad/s]

        Returns:
            torque [N·m]
        """
        inside = (engine_speed >= self.engine_speed[0]) & (
            np.asarray(engine_speed) <= self.top_engine_speed * (1 + 1e-12)
        )
        return np.where(inside, np.interp(engine_speed, self.engine_speed, self.torque), 0.0)


def _rev(speed: Array) -> str:
    return f"{np.array2string(speed / RPM, precision=0, threshold=4)} rev/min"


def torque_from_power(engine_speed: Value, power: Value) -> Value:
    """Compute torque from power: ``T = P/ω``.

    Parameters:
        engine_speed: engine speed, any shape [rad/s]
        power: power at that speed, any shape that broadcasts with it [W]

    Returns:
        torque [N·m]

    Errors:
        ``InputError`` for an engine speed that is not above zero.
    """
    if not np.all(np.asarray(engine_speed) > 0):
        got = f"{float(np.min(engine_speed)):.6g} rad/s"
        raise InputError([Problem("engine speed", got, "must be above zero", "start the curve at idle")])
    return power / engine_speed


def engine_speed_at(train: Drivetrain, speed: Value) -> Array:
    """Compute the engine speed in every gear: ``ω = V·i·i₀/r``.

    Parameters:
        train: the drivetrain [-]
        speed: road speed, any shape [m/s]

    Returns:
        engine speed, gears first, then the shape given [rad/s]

    Validity: no tyre slip.
    """
    return np.asarray(speed) * _gears_first(train.gearing, speed)


def _gears_first(gearing: Array, value: Value) -> Array:
    return gearing.reshape(-1, *([1] * np.ndim(value)))


@dataclass(frozen=True)
class Thrust:
    """Push of the driven wheels in every gear, gears first."""

    force: Array  # 0 where the engine cannot turn at that speed [N]
    usable: Flags  # True where the engine speed lies on its curve, below the limit
    engine_speed: Array  # [rad/s]


def thrust(train: Drivetrain, speed: Value) -> Thrust:
    """Compute the push of the driven wheels at full throttle: ``F = T·i·i₀·η/r``.

    Parameters:
        train: the drivetrain [-]
        speed: road speed, any shape [m/s]

    Returns:
        a ``Thrust``, gears first, then the shape given [-]

    Validity: no tyre slip, clutch closed, steady engine speed (nothing spent on spinning the engine up).
    """
    turning = engine_speed_at(train, speed)
    force = train.torque_at(turning) * _gears_first(train.gearing, speed) * train.efficiency
    return Thrust(force, train.turns(turning), turning)


def resistance(speed: Value, mass: Value, drag_area: Value, rolling: Value = ROLLING) -> Value:
    """Compute what holds the car back on a level road: ``½·ρ·V²·C_D·A + f·m·g``.

    Parameters:
        speed: road speed, any shape [m/s]
        mass: mass ready to drive, any shape [kg]
        drag_area: drag coefficient times frontal area, any shape [m²]
        rolling: rolling resistance over weight, any shape [-]

    Returns:
        resistance [N]

    Validity: level road, still air, straight ahead (a cornering tyre holds the car back more).
    """
    held: Value = dynamic_pressure(speed) * drag_area + rolling * np.asarray(mass) * G
    return held


def acceleration(train: Drivetrain, speed: Value, mass: Value, drag_area: Value, rolling: Value = ROLLING) -> Array:
    """Compute the acceleration in the best gear: ``a = (max F − F_res)/m``.

    Parameters:
        train: the drivetrain [-]
        speed: road speed, any shape [m/s]
        mass: mass ready to drive, any shape that broadcasts with it [kg]
        drag_area: drag coefficient times frontal area, any shape that broadcasts with it [m²]
        rolling: rolling resistance over weight [-]

    Returns:
        acceleration, negative above top speed [m/s²]

    Validity: as of ``thrust``; the tyres may not be able to pass on the push; turning parts counted as no mass.
    """
    out: Array = (thrust(train, speed).force.max(axis=0) - resistance(speed, mass, drag_area, rolling)) / mass
    return out


@dataclass(frozen=True)
class Shifts:
    """Change up from each gear to the next, one element a change."""

    speed: Array  # [m/s]
    before: Array  # engine speed in the lower gear [rad/s]
    after: Array  # engine speed in the upper gear [rad/s]
    at_limit: Flags  # True where the lower gear still pushes more at the rev limit
    gap: Flags  # True where the next gear falls below the engine curve's beginning


def shift_points(train: Drivetrain) -> Shifts:
    """Find the speed from which on the next gear pushes at least as hard, or the rev limit where it never does.

    Parameters:
        train: the drivetrain, with two gears or more [-]

    Returns:
        a ``Shifts`` [-]

    Validity: best acceleration at full throttle; the time the change itself takes is not counted. Of several crossings,
    as a dip in the torque makes them, the last one counts.
    """
    gearing, low, high = train.gearing, float(train.engine_speed[0]), train.top_engine_speed
    pairs = [_shift(train, gearing[i], gearing[i + 1], low, high) for i in range(len(gearing) - 1)]
    speed = np.array([p[0] for p in pairs])
    flags = np.array([p[1:] for p in pairs], dtype=bool).reshape(-1, 2)
    return Shifts(speed, speed * gearing[:-1], speed * gearing[1:], flags[:, 0], flags[:, 1])


def _shift(train: Drivetrain, short: float, long: float, low: float, high: float) -> tuple[float, bool, bool]:
    """Find one shift point: (speed, at the limit, next gear below its curve)."""
    top = high / short
    start = low / long  # the next gear pulls from here on
    if start >= top:
        return top, True, True
    knots = np.concatenate((train.engine_speed / short, train.engine_speed / long, [start, top]))
    knots = np.unique(knots[(knots >= start) & (knots <= top)])
    more = train.torque_at(np.minimum(knots * short, high)) * short - train.torque_at(knots * long) * long
    if more[-1] > 0:
        return top, True, False
    ahead = np.flatnonzero(more > 0)
    if not len(ahead):
        return float(knots[0]), False, False
    at = int(ahead[-1])
    part = more[at] / (more[at] - more[at + 1])
    return float(knots[at] + part * (knots[at + 1] - knots[at])), False, False


@dataclass(frozen=True)
class CornerGear:
    """Which gear pushes hardest at a speed, and how much room it has; every field has the shape of the speed."""

    gear: NDArray[np.int64]  # counted from 1; 0 where none can be used: too fast, or slower than first gear pulls
    engine_speed: Array  # [rad/s]
    force: Array  # [N]
    speed_left: Array  # how much faster the car can go in that gear before the rev limit [m/s]


def gear_for(train: Drivetrain, speed: Value) -> CornerGear:
    """Return which gear pushes hardest at a corner's speed.

    Parameters:
        train: the drivetrain [-]
        speed: speed in the corner, any shape [m/s]

    Returns:
        a ``CornerGear`` [-]

    Validity: the hardest push is not always wanted: with little speed left before the limit, or with more push than the
    tyres can use, the next gear up is calmer.
    """
    found = thrust(train, speed)
    ranked = np.where(found.usable, found.force, -1.0)
    best = np.argmax(ranked, axis=0)
    some = found.usable.any(axis=0)
    at = best[None, ...]
    turning = np.take_along_axis(found.engine_speed, at, axis=0)[0]
    force = np.take_along_axis(found.force, at, axis=0)[0]
    left = train.top_engine_speed / train.gearing[best] - speed
    gear = np.where(some, best + 1, 0).astype(np.int64)
    return CornerGear(gear, turning, np.where(some, force, 0.0), left)


def corner_speed(radius: Value, lateral: Value) -> Value:
    """Compute the speed on a circle: ``V = √(a_y·R)``.

    Parameters:
        radius: radius of the way driven, any shape [m]
        lateral: sideways acceleration the car can hold, any shape that broadcasts with it [m/s²]

    Returns:
        speed [m/s]

    Validity: level road.
    """
    return np.sqrt(np.asarray(lateral) * radius)


@dataclass(frozen=True)
class TopSpeed:
    """The fastest the car goes on the level, and what stops it there."""

    speed: Array  # [m/s]
    gear: NDArray[np.int64]  # counted from 1
    at_limit: Flags  # True where the rev limit of the longest gear stops it, False where the air does


def top_speed(train: Drivetrain, mass: Value, drag_area: Value, rolling: Value = ROLLING) -> TopSpeed:
    """Find the highest speed at which the push in some gear still equals the resistance.

    Parameters:
        train: the drivetrain [-]
        mass: mass ready to drive, any shape [kg]
        drag_area: drag coefficient times frontal area, any shape that broadcasts with it [m²]
        rolling: rolling resistance over weight, any shape that broadcasts with it [-]

    Returns:
        a ``TopSpeed`` of the broadcast shape [-]

    Errors:
        ``InputError`` where the car cannot move itself at any speed.

    Validity: level road, still air, as of ``thrust``.
    """
    mass, drag_area, rolling = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (mass, drag_area, rolling)))
    ends = np.concatenate((train.engine_speed[:1], [train.top_engine_speed]))
    knots = (ends[:, None] / train.gearing).ravel()
    knots = np.unique(np.concatenate((knots, np.linspace(knots.min(), knots.max(), 4001))))
    push = thrust(train, knots).force
    shape = (1,) * mass.ndim
    spare = push.max(axis=0).reshape(-1, *shape) - resistance(knots.reshape(-1, *shape), mass, drag_area, rolling)
    able = spare >= 0
    if not able.any(axis=0).all():
        rule = "must be enough to hold some speed on the level"
        raise InputError([Problem("thrust", f"{push.max():.0f} N at most", rule, "check power, gears, mass and drag")])
    last = len(knots) - 1 - np.argmax(able[::-1], axis=0)
    low, high = knots[last], knots[np.minimum(last + 1, len(knots) - 1)]
    for _ in range(60):  # halving: the spare push changes sign once between the two
        middle = 0.5 * (low + high)
        enough = thrust(train, middle).force.max(axis=0) >= resistance(middle, mass, drag_area, rolling)
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
    gear = gear_for(train, low).gear
    at_limit = low * train.gearing[gear - 1] >= train.top_engine_speed * (1 - 1e-9)
    return TopSpeed(np.asarray(low), gear, np.asarray(at_limit))
