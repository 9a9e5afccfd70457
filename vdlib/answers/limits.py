"""Where each end of a car runs out of side force: one reader of sweeps of lateral acceleration, for every limit asked.

The part of its side force that an axle uses is smooth past its limit, where the tyres are taken at their best; just
before it the use bends, because the steering runs away. So a limit is read from past it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..glossary import GLOSSARY
from ..trim.trim import Heights, State, Trim, shape_of, trim
from ..units import Array, Flags, G, to_si

_MOST = to_si(GLOSSARY["lateral"].high, GLOSSARY["lateral"].unit)
_PAST = 1.000002  # an end that uses more than this is past its limit, and not just at it
_LIKELY = 1.3  # the first sweep is close up to this many times the tyres' peak grip
_FIRST, _FAR = 24, 4  # points of the first sweep up to there and beyond
_PARTS = 20  # parts of each narrower sweep
_QUICK = 0.0015 * G  # step of a quick one
SWEEPS = 3
"""Narrower sweeps after the first, each of twenty times as small a step."""
ROUGH = 1
"""So many are enough for a limit that is right to 0.002 g."""

_Run = Callable[[Array, Any], tuple[Array, Flags]]


@dataclass(frozen=True)
class Limits:
    """The lateral acceleration at which each end runs out of side force, (2, …) front and rear."""

    lateral: Array  # where the end lets go, the car tips, or the model's range ends [m/s²]
    slides: Flags  # True where the end's own tyres are what lets go [-]
    tips: Flags  # True where the car tips before [-]

    @property
    def sliding(self) -> Array:
        """Where the end's own tyres let go, NaN where something else comes first [m/s²]."""
        return np.where(self.slides, self.lateral, np.nan)

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


def limits(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None, sweeps: int = SWEEPS) -> Limits:
    """Find where each end runs out of side force, turning as the moment does: ``F_y,i(a_y) = F_y,max,i(a_y)``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: speed and longitudinal acceleration; of the lateral acceleration only the sign counts [-]
        heights: ride heights for single routes in place of the setup's own [m]
        sweeps: narrower sweeps after the first; ``ROUGH`` for a quick answer [-]

    Returns:
        a ``Limits`` with the inputs' broadcast shape [-]

    Errors:
        as ``trim``.

    Validity: longitudinal acceleration and speed held; wheel loads keep following the lateral acceleration asked
    for, also past the limit of the other end; up to 3 g. Right to 1e-5 g, to 0.001 g where much caster steers the
    wheel loads, and to 0.002 g where a car tips or it is asked roughly; a limit past which an end soon holds again,
    with a wheel in the air, may be missed for the next one.
    """
    shape = shape_of(car, setup, moment, heights)
    run = _asked(car, setup, moment, shape, heights)
    likely = min(_LIKELY * G * max(float(np.max(axle.tyre.grip)) for axle in (car.front, car.rear)), _MOST)
    closer = likely * np.sqrt(np.linspace(0.0, 1.0, _FIRST))  # closer where limits are
    sweep = np.append(closer, np.linspace(likely, _MOST, _FAR + 1)[1:]).reshape(-1, 1, *(1,) * len(shape))
    use, fell = run(sweep[:_FIRST], None)
    read = _read(sweep[:_FIRST], use, fell)
    if not np.all(np.isfinite(read.at) & (read.high <= closer[-3])):  # a parabola takes two points more
        further, falls = run(sweep[_FIRST:], None)
        read = _read(sweep, np.concatenate([use, further]), np.concatenate([fell, falls]))
    for _ in range(sweeps):
        read = _closer(run, read)
    there = np.isfinite(read.at)
    return Limits(np.where(there, read.at, _MOST), there & ~read.fell, there & read.fell)


def finer(
    car: Car, setup: Setup, moment: Moment, near: Any, within: float = 0.01 * G, heights: Heights | None = None
) -> Array:
    """Find the limits near a guess of them, with one narrow sweep about each.

    Parameters:
        car: as of ``limits`` [-]
        setup: likewise [-]
        moment: likewise [-]
        near: guess of the limits of front and rear, broadcast to (2, …); NaN for none [m/s²]
        within: how far off the guess may be [m/s²]
        heights: ride heights for single routes in place of the setup's own [m]

    Returns:
        lateral acceleration at which front and rear let go, (2, …); NaN without a guess, where the limit is not that
        near it, or where the car tips before [m/s²]

    Errors:
        as ``trim``.

    Validity: as ``limits``, right to 0.001 g, and to 1e-5 g where nothing bends just past the limit.
    """
    shape = shape_of(car, setup, moment, heights)
    middle = near + np.zeros((2, *shape))
    about = _Read(middle, middle - within, middle + within, np.zeros(middle.shape, dtype=bool))
    read = _narrow(_asked(car, setup, moment, shape, heights), about, round(2 * within / _QUICK))
    return np.where(np.isfinite(read.at) & ~read.fell, read.at, np.nan)


def first_above(sweep: Array, use: Array, fallen: Flags) -> Array:
    """Find where along a sweep a use first passes one: the parabola through the first points past it, back to one.

    Parameters:
        sweep: values rising along the first axis, broadcast to ``use`` [m/s²]
        use: part in use, any shape behind the first axis, three points at least [-]
        fallen: where there is no solution, broadcast to ``use`` [-]

    Returns:
        the crossing; NaN where there is none before the sweep ends or the car falls over [m/s²]
    """
    read = _read(sweep, use, fallen)
    return np.where(read.fell, np.nan, np.where(np.isfinite(read.at), read.at, np.nan))


def tipped(found: Trim) -> Flags:
    """Return where a car has fallen over.

    Parameters:
        found: the trim [-]

    Returns:
        True where it has [-]

    Validity: a point right at a limit may stay unsolved, for the steering runs away there; its use is as good as one.
    """
    return np.asarray((np.asarray(found.state, dtype=int) & int(State.TIPS)) != 0)


@dataclass(frozen=True)
class _Read:
    """What a sweep says."""

    at: Array  # where the use passes one or the car falls over, infinite where neither is seen to [m/s²]
    low: Array  # the last point before it [m/s²]
    high: Array  # the first point past it [m/s²]
    fell: Flags


def _asked(car: Car, setup: Setup, moment: Moment, shape: tuple[int, ...], heights: Heights | None = None) -> _Run:
    """Make the function of the lateral acceleration (points, 1 or 2 ends, …), and of which ends are wanted: use of each
    end, and whether it fell."""
    turn = np.where(np.broadcast_to(np.asarray(moment.lateral, dtype=float), shape) < 0, -1.0, 1.0)

    def run(lateral: Array, where: Flags | None) -> tuple[Array, Flags]:
        found = trim(car, setup, replace(moment, lateral=lateral * turn), heights, where)
        return np.stack([found.use[0][:, 0], found.use[1][:, -1]], axis=1), tipped(found)

    return run


def _closer(run: _Run, known: _Read) -> _Read:
    """Read more closely. Where the narrow sweep is past one at its very start, an end that lets go, holds again and
    lets go once more hid between two points: what is sought lies one stretch further back."""
    now = _narrow(run, known, _PARTS)
    lost = np.isfinite(known.at) & ~np.isfinite(now.at)
    back = _Read(known.low, 2 * known.low - known.high, known.low, known.fell)
    return _Read(*(np.where(lost, getattr(back, name), value) for name, value in vars(now).items()))


def _narrow(run: _Run, known: _Read, parts: int) -> _Read:
    """Read a sweep from the point before what is sought to the point past it, a step more before, two more past; only
    where something is sought."""
    there = np.isfinite(known.at)
    low, high = np.where(there, known.low, 0.5 * G), np.where(there, known.high, 0.6 * G)
    step = (np.arange(-1, parts + 3) / parts).reshape(-1, *(1,) * low.ndim)
    sweep = np.clip(low + (high - low) * step, 0.0, _MOST)
    read = _read(sweep, *run(sweep, there))
    return replace(read, at=np.where(there, read.at, np.inf))


def _read(sweep: Array, use: Array, fallen: Flags) -> _Read:
    """Find the first point past one, and follow the parabola through it and the two after it back to one."""
    over = (use > _PAST) | fallen
    last = len(use) - 1
    first = np.argmax(over, axis=0)[None]
    sweep, fallen = np.broadcast_to(sweep, use.shape), np.broadcast_to(fallen, use.shape)
    places = [np.clip(first + step, 0, last) for step in (-1, 0, 1, 2)]
    before, x0, x1, x2 = (np.take_along_axis(sweep, place, 0)[0] for place in places)
    y0, y1, y2 = (np.take_along_axis(use, place, 0)[0] - 1 for place in places[1:])
    fell = np.take_along_axis(fallen, first, 0)[0]
    with np.errstate(all="ignore"):
        rise = (y1 - y0) / (x1 - x0)
        bend = ((y2 - y1) / (x2 - x1) - rise) / (x2 - x0)
        bend = np.where(np.isfinite(bend), bend, 0.0)  # fewer than three points past one: a straight line
        slope = rise - bend * (x1 - x0)
        back = 2 * y0 / (slope + np.sqrt(np.maximum(slope**2 - 4 * bend * y0, 0.0)))
        width = x0 - before
        at = x0 - np.where(fell, 0.5 * width, np.clip(back, 0.0, width))
    seen = over.any(axis=0) & (first[0] > 0) & np.isfinite(at)
    return _Read(np.where(seen, at, np.inf), before, x0, fell)
