"""Laps: found in a log, or typed in by hand; which were driven freely; the record that before and after share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..units import UNITS, Array, Flags, brief, from_si
from .logfile import FASTEST, Log
from .places import to_plane
from .repeating import repeating

SHORTEST = 15.0
"""No lap is shorter than this [s]: two crossings closer together are one."""
_ODD = 0.07  # part of the usual lap time by which a lap may differ from it; common practice, no source
_ODD_LEAST = 0.03  # the least that such a lap differs by, however alike the others are; our choice
_ENOUGH = 4  # laps from which a scatter is read
_BLIND = 3.0  # longest time between two positions across which a crossing is timed [s]
_WIDE = 40.0  # length of a line that is laid [m]


@dataclass(frozen=True)
class Line:
    """The start and finish line on the ground: its two ends [m]."""

    x1: float
    y1: float
    x2: float
    y2: float
    origin: tuple[float, float] | None = None  # latitude and longitude of x = y = 0, where the log has them [deg]

    def seen_from(self, origin: tuple[float, float] | None) -> Line:
        """Return the same line in the plane of another log, whose own positions start elsewhere.

        Parameters:
            origin: that log's latitude and longitude of x = y = 0, degrees [-]

        Returns:
            a ``Line`` [-]
        """
        if self.origin is None or origin is None or self.origin == origin:
            return self
        x, y = (float(c) for c in to_plane(np.array(self.origin[0]), np.array(self.origin[1]), origin))
        return Line(self.x1 + x, self.y1 + y, self.x2 + x, self.y2 + y, origin)


@dataclass(frozen=True)
class Laps:
    """The whole laps of a log: when each began and ended [s], how they were found and how sure that is."""

    start: Array
    end: Array
    how: str
    sure: str
    line: Line | None = None

    @property
    def time(self) -> Array:
        """Lap times [s]."""
        return self.end - self.start


@dataclass(frozen=True)
class Section:
    """One piece of the course, in metres from the line: a corner or a straight."""

    name: str
    kind: str
    start: float
    end: float


@dataclass(frozen=True)
class Session:
    """Laps driven in one go with one setup; section times add up to the lap time."""

    name: str
    lap_time: Array  # (laps,) [s]
    clear: Flags  # (laps,) False for a lap in traffic
    sections: tuple[Section, ...] = ()
    section_time: Array | None = None  # (laps, sections) [s]
    corners: tuple[str, ...] = ()
    minimum_speed: Array | None = None  # (laps, corners) [m/s]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Check that the numbers belong together."""
        laps = np.shape(self.lap_time)
        if len(laps) != 1 or not laps[0]:
            raise _problem(f"laps of {self.name!r}", "none", "must be at least one", "choose or type in some laps")
        time = np.asarray(self.lap_time)
        if not np.all(np.isfinite(time) & (time >= SHORTEST) & (time <= 3600)):
            bad = int(np.flatnonzero(~(np.isfinite(time) & (time >= SHORTEST) & (time <= 3600)))[0])
            remedy = "type it in seconds, or as minutes:seconds"
            raise _problem(f"lap {bad + 1} of {self.name!r}", f"{time[bad]:.6g} s", "must be 15 to 3600 s", remedy)
        shapes: dict[str, tuple[Any, tuple[int, ...]]] = {"marks of traffic": (self.clear, laps)}
        if self.section_time is not None:
            shapes["section times"] = (self.section_time, (*laps, len(self.sections)))
        if self.minimum_speed is not None:
            shapes["minimum speeds"] = (self.minimum_speed, (*laps, len(self.corners)))
        for name, (value, shape) in shapes.items():
            if np.shape(value) != shape:
                got, rule = f"{np.shape(value)}", f"must be one for each lap, {shape}"
                raise _problem(f"{name} of {self.name!r}", got, rule, "give as many as there are laps")
        if self.section_time is not None and not np.allclose(np.sum(self.section_time, axis=1), time, atol=1e-6):
            raise _problem(f"section times of {self.name!r}", "", "must add up to the lap time", "give every section")

    def mark(self, clear: Sequence[bool] | Flags) -> Session:
        """Return the same session with other laps marked as driven freely.

        Parameters:
            clear: True for each lap without traffic, (laps,) [-]

        Returns:
            a new ``Session`` [-]
        """
        return replace(self, clear=np.asarray(clear, dtype=bool))


def _problem(what: str, got: str, rule: str, remedy: str) -> InputError:
    return InputError([Problem(what, got, rule, remedy)])


def lap_seconds(typed: str | float) -> float:
    """Return a lap time typed as seconds or as minutes:seconds, with a decimal point or comma.

    Parameters:
        typed: such as "1:32.45", "92,45" or 92.45 [-]

    Returns:
        lap time [s]

    Errors:
        ``InputError`` for anything that is no time.

    Example:
        >>> lap_seconds("1:32.45")
        92.45
    """
    parts = str(typed).strip().replace(",", ".").split(":")
    try:
        numbers = [float(p) for p in parts]
    except ValueError:
        numbers = []
    if not 1 <= len(numbers) <= 2 or any(not 0 <= n < 1e4 for n in numbers) or (len(numbers) == 2 and numbers[1] >= 60):
        raise _problem("lap time", repr(typed)[:40], "must be seconds or minutes:seconds", "type 92.45 or 1:32.45")
    return numbers[-1] + 60 * (numbers[0] if len(numbers) == 2 else 0.0)


def hand_laps(
    name: str,
    lap_times: Sequence[str | float],
    traffic: Sequence[int] = (),
    corners: Sequence[str] = (),
    minimum_speed: Sequence[Sequence[float]] | Array | None = None,
    unit: str = "kmh",
) -> Session:
    """Make a session from laps written down by hand.

    Parameters:
        name: what the session is called [-]
        lap_times: one for each lap, seconds or minutes:seconds, (laps,) [s]
        traffic: numbers of the laps held up by traffic, counted from 1 [-]
        corners: names of the corners whose lowest speed was written down [-]
        minimum_speed: lowest speed in each of them, (laps, corners) [m/s]
        unit: name of the unit that they were typed in, for what is said of them [-]

    Returns:
        a ``Session`` without sections [-]

    Errors:
        ``InputError`` for no laps, a time or speed out of range, or a lap number that is not there.
    """
    time = np.array([lap_seconds(t) for t in lap_times], dtype=float)
    wrong = [n for n in traffic if not 1 <= n <= len(time)]
    if wrong:
        raise _problem("lap in traffic", str(wrong[0]), f"must be 1 to {len(time)}", "laps are counted from 1")
    clear = ~np.isin(np.arange(1, len(time) + 1), list(traffic))
    speed = None if minimum_speed is None else np.asarray(minimum_speed, dtype=float)
    odd = np.argwhere(~((speed > 0) & (speed < FASTEST))) if speed is not None else np.empty((0, 2), dtype=int)
    if speed is not None and len(odd):
        at: tuple[int, ...] = tuple(odd[0])
        where = f" in {corners[at[-1]]}" if at[-1] < len(corners) else ""
        got, most = (f"{from_si(v, unit):.4g}" for v in (float(speed[at]), FASTEST))
        label = UNITS[unit].label
        rule, remedy = f"must be above 0 and below {most} {label}", "check it, and the unit chosen for the speeds"
        raise _problem(f"{name}, lap {at[0] + 1}: lowest speed{where}", f"{got} {label}", rule, remedy)
    return Session(name, time, clear, corners=tuple(corners), minimum_speed=speed)


def odd_laps(lap_time: Array) -> Flags:
    """Mark laps far from the usual one: ``|t/median − 1|`` over six times the laps' own scatter, 3 to 7 %.

    Parameters:
        lap_time: lap times, (laps,) [s]

    Returns:
        True for a lap in traffic, in or out of the pits, or with the course cut short, (laps,) [-]

    Validity: common practice, no source; leaving laps out after seeing their times makes the rest look more alike than
    they were, so look at each lap that is left out. Six times the scatter leaves ordinary laps in, also those of a
    driver whose laps differ by seconds; the scatter is that of the laps within 7 %, by their median deviation.
    """
    time = np.asarray(lap_time, dtype=float)
    near = time[np.abs(time / np.median(time) - 1) <= _ODD]
    usual = float(np.median(near)) if len(near) >= _ENOUGH else float(np.median(time))
    scatter = 1.4826 * float(np.median(np.abs(near / usual - 1))) if len(near) >= _ENOUGH else _ODD
    out: Flags = np.abs(time / usual - 1) > np.clip(6 * scatter, _ODD_LEAST, _ODD)
    return out


def line_at(log: Log, time: float | None = None) -> Line:
    """Lay a line across the way driven, where the car was fastest or at a given time.

    Parameters:
        log: a log with positions [-]
        time: when the car was there; None for where it was fastest [s]

    Returns:
        a ``Line`` [-]

    Errors:
        ``InputError`` when the log has no positions, or the car stood there.
    """
    if log.x is None or log.y is None:
        raise _problem("position", "", "must be in the log", "find the laps another way")
    known = np.flatnonzero(np.isfinite(log.x))
    at = int(known[np.argmax(log.speed[known] if time is None else -np.abs(log.time[known] - time))])
    way = log.travelled
    ahead = way[at] + np.array([-10.0, 10.0])
    x, y = (np.interp(ahead, way[known], c[known]) for c in (log.x, log.y))
    length = float(np.hypot(x[1] - x[0], y[1] - y[0]))
    if length < 2:
        raise _problem("the line", "", "must lie where the car moves", "choose another moment for the line")
    right = np.array([y[1] - y[0], x[0] - x[1]]) / length * _WIDE / 2
    x0, y0 = float(log.x[at]), float(log.y[at])
    return Line(x0 - right[0], y0 - right[1], x0 + right[0], y0 + right[1], log.origin)


def find_laps(
    log: Log,
    line: Line | None = None,
    marks: Sequence[float] | None = None,
    like: Array | None = None,
) -> Laps:
    """Find the whole laps of a log: by marked times, by its lap column, by crossing a line, or by speeds that repeat.

    Parameters:
        log: the log [-]
        line: start and finish line; None lays one where the car was fastest [-]
        marks: times at which a lap ends and the next begins, in the log's time, (laps + 1,) [s]
        like: for a log without position or laps, the course's speed every ``repeating.STEP`` metres from its line,
            so that two logs begin their laps at the same place [m/s]

    Returns:
        a ``Laps`` with at least one lap [-]

    Errors:
        ``InputError`` when there is no whole lap.

    Validity: laps that fall into a gap or across a clock that starts again are not counted. With speed alone a lap
    begins where the car was fastest, not at the official line.
    """
    if marks is not None:
        times = np.unique(np.asarray(marks, dtype=float))
        if len(times) and (times[0] < log.time[0] or times[-1] > log.time[-1]):
            got = f"{brief(float(times[0]), 12)} to {brief(float(times[-1]), 12)} s"
            rule = f"must lie within the log, {brief(float(log.time[0]), 12)} to {brief(float(log.time[-1]), 12)} s"
            raise _problem("marked times", got, rule, "mark each end of a lap in the log's own time")
        return _laps(log, times, "marked times", "as sure as the marks")
    if log.lap is not None and np.any(np.diff(log.lap) != 0) and line is None:
        at, words = _lap_changes(log.lap)
        step = max(float(np.median(np.diff(log.time))), log.lap_good_to)
        return _laps(log, log.time[at + 1], "the lap column", f"each end is good to {step:.2g} s{words}")
    if log.x is not None and log.y is not None:
        laid = line.seen_from(log.origin) if line else line_at(log)
        times, step = _crossings(log, laid)
        where = "" if line else "; the line was laid where the car was fastest, not at the official one"
        found = _laps(log, times, "crossing the line", f"positions came every {step:.2g} s{where}")
        return replace(found, line=laid)
    places, sure = repeating(log.travelled, log.speed, like)
    return _laps(log, np.interp(places, log.travelled, log.time), "speeds that repeat", sure)


def _lap_changes(lap: Array) -> tuple[NDArray[np.int64], str]:
    """Find the rows before which a lap ends: each new number, or with a beacon's pulses the beginning of each."""
    at = np.flatnonzero(np.diff(lap) != 0)
    values, counts = np.unique(lap, return_counts=True)
    rest = values[np.argmax(counts)]  # what the column holds between pulses
    if (
        counts.max() > 0.5 * len(lap)
        and (lap[at[1:] + 1] == rest).sum() >= 1
        and np.sum(lap[at + 1] == rest) >= 0.4 * len(at)
    ):
        return at[lap[at + 1] != rest], "; the column holds a beacon's pulses, and laps run from pulse to pulse"
    return at, ""


def _laps(log: Log, times: Array, how: str, sure: str) -> Laps:
    """Make laps of the times at which one ends and the next begins, within one run each."""
    run = log.run[np.clip(np.searchsorted(log.time, times), 0, len(log.run) - 1)]
    whole = (np.diff(run) == 0) & (np.diff(times) >= SHORTEST)
    if not whole.any():
        remedy = "choose a log that goes round at least once from line to line, or one with a column of lap numbers"
        raise _problem(f"whole laps, found by {how},", "none", "must be one at least", remedy)
    return Laps(times[:-1][whole], times[1:][whole], how, sure)


def _crossings(log: Log, line: Line) -> tuple[Array, float]:
    """Find when the way driven crosses a line the way it mostly does, and the step between positions."""
    assert log.x is not None
    assert log.y is not None
    moved = np.concatenate(([True], (np.diff(log.x) != 0) | (np.diff(log.y) != 0)))  # slower positions are held
    moved &= np.isfinite(log.x)
    x, y, time, run = log.x[moved], log.y[moved], log.time[moved], log.run[moved]
    ux, uy = line.x2 - line.x1, line.y2 - line.y1
    side = ux * (y - line.y1) - uy * (x - line.x1)
    at = np.flatnonzero((side[:-1] < 0) != (side[1:] < 0))
    part = side[at] / (side[at] - side[at + 1])
    along = (
        (x[at] + part * (x[at + 1] - x[at]) - line.x1) * ux + (y[at] + part * (y[at + 1] - y[at]) - line.y1) * uy
    ) / (ux**2 + uy**2)
    on = (along >= 0) & (along <= 1) & (run[at] == run[at + 1]) & (time[at + 1] - time[at] < _BLIND)
    at, part = at[on], part[on]
    up = side[at] < 0
    keep = up if up.sum() >= (~up).sum() else ~up
    times = time[at] + part * (time[at + 1] - time[at])
    times = times[keep]
    if len(times):
        times = times[np.concatenate(([True], np.diff(times) >= SHORTEST))]
    step = float(np.median(np.diff(time))) if len(time) > 1 else 0.0
    return times, step
