"""How springs and anti-roll bars share the cornering load transfer, and what that does to the balance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..trim.suspension import bar_wheel_rate, stop_force, wheel_rate
from ..trim.trim import Trim, shape_of, trim
from ..units import Array, G, to_si
from .balance import balance
from .limits import finer, first_above, limits, tipped

PARTS: dict[str, str] = {
    "links": "links and wheels' own mass",
    "springs": "springs",
    "bar": "anti-roll bar",
    "stops": "bump and droop stops",
}
"""Part of an axle's load transfer → its plain name."""
CLICKS: tuple[tuple[str, str], ...] = tuple(
    (axle, field) for field in ("bar", "spring", "pressure") for axle in ("front", "rear")
)
"""Axle and setting of each small change that ``study`` tries."""
TENTH = 0.1
"""A small change of a bar or spring, as part of what it is."""
LEAST_BAR = float(to_si(10.0, "Nm_per_deg"))
"""Smallest change of a bar that is tried, for a car without one [N·m/rad]."""
PRESSURE_CLICK = float(to_si(0.1, "bar"))
"""A small change of pressure [Pa]."""
_OPEN = 0.02  # of the weight: with more force than this left over, the car has fallen over


def with_bars(setup: Setup, front: Any, rear: Any) -> Setup:
    """Return the same setup with other anti-roll bars.

    Parameters:
        setup: the setup [-]
        front: roll stiffness of the front bar, any shape [N·m/rad]
        rear: roll stiffness of the rear bar, any shape [N·m/rad]

    Returns:
        a new ``Setup`` [-]
    """
    return replace(setup, front=replace(setup.front, bar=front), rear=replace(setup.rear, bar=rear))


def transfer(car: Car, setup: Setup, found: Trim) -> Array:
    """Split each axle's cornering load transfer into its parts: ``ΔN = links + ½·k_w·Δs + K_b/t²·Δs + ½·ΔF_stop``.

    Parameters:
        car: the car that was trimmed [-]
        setup: the setup that was trimmed [-]
        found: its trim [-]

    Returns:
        parts in the order of ``PARTS``, shape (2 axles, 4, …), inner to outer wheel, from standing [N]

    Validity: as the trim; ``Δs`` is outer less inner travel; a lifted wheel adds nothing further.
    Source: the wheel balance of the trim; links and unsprung mass after Barton & Fieldhouse, Automotive Chassis
    Engineering (2018), p. 174.
    """
    sign = _turn(found.curvature)
    out = []
    for i, (axle, own) in enumerate(((car.front, setup.front), (car.rear, setup.rear))):
        travel, rise = found.travel[i], found.standing_rise[i]
        bump = found.on_stop[i] - stop_force(0.0, axle.bump_gap + rise, axle.bump_stiffening)[0]
        droop = stop_force(-travel, axle.droop_gap - rise, axle.droop_stiffening)[0]
        droop -= stop_force(0.0, axle.droop_gap - rise, axle.droop_stiffening)[0]
        lean = travel[1] - travel[0]
        parts = (
            found.links[i],
            0.5 * wheel_rate(own.spring, axle.motion_ratio) * lean,
            bar_wheel_rate(own.bar, axle.track) * lean,
            0.5 * (bump[1] - bump[0] - droop[1] + droop[0]),
        )
        out.append([sign * part for part in parts])
    return np.array(out)


def front_share(found: Trim) -> Array:
    """Return the front axle's share of the cornering load transfer: ``ΔN_f/(ΔN_f + ΔN_r)``.

    Parameters:
        found: the trim [-]

    Returns:
        share, NaN without cornering [-]

    Validity: as the trim; counted from the loads standing still.
    """
    moved = found.load - found.standing_load
    both = 0.5 * (moved[:, 1] - moved[:, 0])
    whole = both.sum(axis=0)
    with np.errstate(all="ignore"):
        share: Array = np.where(np.abs(whole) > 1e-6, both[0] / whole, np.nan)
    return share


def _turn(value: Any) -> Array:
    """Return -1 for a right-hand turn, else 1."""
    return np.where(np.asarray(value) < 0, -1.0, 1.0)


@dataclass(frozen=True)
class Split:
    """One setup at one moment; of 7 values the first is the setup's own, the others are for each small change."""

    moment: Moment
    trim: Trim  # of the setup alone
    parts: Array  # (2 axles, 4 parts) of the load transfer, in the order of PARTS, NaN where the car tips over [N]
    clicks: Array  # (6,) size of each small change, SI
    share: Array  # (7,) front share of the load transfer [-]
    angle: Array  # (7,) understeer angle, NaN past the limit [rad]
    gradient: Array  # (7,) understeer gradient, NaN past the limit [rad/(m/s²)]
    limit: Array  # (2 ends, 7) where front and rear let go, NaN where not found [m/s²]
    guessed: bool = False  # the limits are those guessed, of the setup alone

    @property
    def fallen(self) -> bool:
        """Whether the car tips over: it settles in no pose, so its loads say nothing."""
        return bool(tipped(self.trim))

    @property
    def margin(self) -> Array:
        """Rear limit less front limit, (7,); below zero the rear lets go first [m/s²]."""
        gap: Array = self.limit[1] - self.limit[0]
        return gap


def study(car: Car, setup: Setup, moment: Moment, near: Any = np.nan, roughly: bool = False) -> Split:
    """Split the load transfer of one setup and try a small change of each bar, spring and pressure.

    Parameters:
        car: the car, plain numbers [-]
        setup: the setup, plain numbers [-]
        moment: the moment, plain numbers [-]
        near: guess of the two limits, good to 0.03 g, shape (2,); NaN for none [m/s²]
        roughly: with the guess for the setup's own limits, where there is one, and none for the small changes [-]

    Returns:
        a ``Split`` [-]

    Errors:
        as ``trim``.

    Validity: as ``trim``; ride heights are held, as if the spring platforms were re-set.
    """
    base = np.array([float(getattr(getattr(setup, axle), field)) for axle, field in CLICKS])
    clicks = np.array([_click(field, value) for (_, field), value in zip(CLICKS, base, strict=True)])
    varied = base[:, None] + clicks[:, None] * np.eye(len(CLICKS), len(CLICKS) + 1, 1)
    rows = dict(zip(CLICKS, varied, strict=True))
    tried = replace(
        setup,
        **{
            axle: replace(getattr(setup, axle), **{f: rows[axle, f] for a, f in CLICKS if a == axle})
            for axle in ("front", "rear")
        },
    )
    found = balance(car, tried, moment)
    own = found.trim.pick(..., 0)
    limit = np.broadcast_to(np.asarray(near, dtype=float), (2,))[:, None]
    guessed = roughly and bool(np.isfinite(limit).all())
    if guessed:
        limit = np.where(np.arange(len(CLICKS) + 1) == 0, limit, np.nan)
    else:
        limit = finer(car, tried, moment, limit, within=0.03 * G)
    return Split(
        moment=moment,
        trim=own,
        parts=np.where(tipped(own), np.nan, transfer(car, setup, own)),
        clicks=clicks,
        share=front_share(found.trim),
        angle=found.understeer_angle,
        gradient=found.gradient,
        limit=limit if guessed or np.isfinite(limit).all() else limits(car, tried, moment).sliding,
        guessed=guessed,
    )


def _click(field: str, value: float) -> float:
    if field == "pressure":
        return PRESSURE_CLICK
    return max(TENTH * value, LEAST_BAR) if field == "bar" else TENTH * value


@dataclass(frozen=True)
class Maps:
    """The balance over both bars; each map has the rear bar before the front bar, both over the same values."""

    bars: Array  # (n,) bars of the map of the gradient [N·m/rad]
    gradient: Array  # (n, n) understeer gradient, NaN past the limit [rad/(m/s²)]
    limit_bars: Array  # (m,) bars of the maps of the limits [N·m/rad]
    limit: Array  # (2 ends, m, m) where front and rear let go, NaN where not found [m/s²]

    @property
    def margin(self) -> Array:
        """Rear limit less front limit, (m, m); below zero the rear lets go first [m/s²]."""
        gap: Array = self.limit[1] - self.limit[0]
        return gap


def between(x: Array, y: Array, values: Array, at_x: float, at_y: float) -> Array:
    """Read maps between their points, by straight lines along both axes.

    Parameters:
        x: places along the last axis, rising, shape (n,) [any]
        y: places along the axis before it, rising, shape (m,) [any]
        values: maps, shape (…, m, n) [any]
        at_x: where to read along x [any]
        at_y: where to read along y [any]

    Returns:
        values there, shape (…) [any]

    Validity: inside the ranges; the nearest edge outside them.
    """
    read: Array = np.asarray(values)
    for places, at in ((x, at_x), (y, at_y)):
        i = int(np.clip(np.searchsorted(places, at) - 1, 0, len(places) - 2))
        part = float(np.clip((at - places[i]) / (places[i + 1] - places[i]), 0, 1))
        read = (1 - part) * read[..., i] + part * read[..., i + 1]
    return read


def lift_off(car: Car, setup: Setup, moment: Moment, points: int = 33) -> Array:
    """Find the lateral acceleration at which the first inner wheel leaves the ground: ``N_inner(a_y) = 0``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: speed and longitudinal acceleration; of the lateral acceleration only the sign counts [-]
        points: points of the sweep [-]

    Returns:
        lateral acceleration for front and rear, (2, …); NaN where the other end's wheel lifts first, or the wheel stays
        down up to 1.25 times the peak grip of the tyres [m/s²]

    Errors:
        as ``trim``.

    Validity: as ``trim``; the load is read on by a straight line from the last two points of the sweep with the wheel
    down; loads follow the lateral acceleration asked for, also past the limit.
    """
    return _lifted(*_swept(car, setup, moment, points))


def lift_and_limit(car: Car, setup: Setup, moment: Moment, points: int = 33) -> tuple[Array, Array]:
    """Find where an inner wheel lifts, as ``lift_off``, and roughly where each end lets go, both from one sweep.

    Parameters:
        car: as of ``lift_off`` [-]
        setup: likewise [-]
        moment: likewise [-]
        points: likewise [-]

    Returns:
        lateral acceleration where a wheel lifts, and where the end lets go, both (2, …); NaN where not found [m/s²]

    Errors:
        as ``trim``.

    Validity: as ``lift_off``; half of the limits within 0.001 g, all within 0.03 g.
    """
    found, sweep, turn = _swept(car, setup, moment, points)
    fallen = tipped(found)
    return _lifted(found, sweep, turn), np.stack([first_above(sweep, use, fallen) for use in found.use])


def _swept(car: Car, setup: Setup, moment: Moment, points: int) -> tuple[Trim, Array, Array]:
    """Return a sweep's trim, its lateral accelerations, points along the first axis, and which way it turns."""
    shape = shape_of(car, setup, moment)
    turn = _turn(np.broadcast_to(np.asarray(moment.lateral, dtype=float), shape))
    top = 1.25 * G * np.maximum(car.front.tyre.grip, car.rear.tyre.grip)
    sweep = np.linspace(0.0, 1.0, points).reshape(-1, *(1,) * len(shape)) * top
    return trim(car, setup, replace(moment, lateral=sweep * turn)), sweep, turn


def _lifted(found: Trim, sweep: Array, turn: Array) -> Array:
    """Read off a sweep where the first inner wheel leaves the ground."""
    inner = np.where(turn > 0, found.load[:, 0], found.load[:, 1])  # (2, points, …)
    fallen = found.residual > _OPEN
    up = (inner <= 0) | fallen
    first = np.argmax(up, axis=1)[:, None]
    near, last = (np.take_along_axis(inner, np.maximum(first - back, 0), 1)[:, 0] for back in (2, 1))
    step = sweep[1] - sweep[0]
    with np.errstate(all="ignore"):
        at: Array = (first[:, 0] - 1) * step + step * last / (near - last)
    lifted = (first[:, 0] > 1) & ~np.take_along_axis(np.stack([fallen, fallen]), first, 1)[:, 0]
    at = np.where(lifted, at, np.inf)
    return np.where(lifted & (at <= at[::-1]), at, np.nan)


@dataclass(frozen=True)
class Along:
    """One setup at one moment over a range of one bar."""

    moved: Array  # (2, n) cornering load transfer of each axle, inner to outer, NaN where the car has fallen over [N]
    angle: Array  # (n,) understeer angle, NaN past the limit [rad]
    gradient: Array  # (n,) understeer gradient, NaN past the limit [rad/(m/s²)]
    lift_off: Array  # (2, n) where the inner wheel of each axle leaves the ground, NaN where it stays down [m/s²]
    limit: Array  # (2, n) where front and rear let go, NaN where not found [m/s²]
