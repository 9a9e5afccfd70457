"""Laps laid over each other by distance; corners and straights of a course; how fast each corner was taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..checks import InputError, Problem
from ..units import Array, Flags
from .grip import Grip, circle_radius, lateral_from_radius
from .laps import Laps, Line, Section, Session, find_laps, line_at, odd_laps
from .logfile import Log
from .repeating import STEP
from .same_course import Profiles, driven_there, long_enough

_MOST = 4000  # stations a lap
_NEAR = 0.02  # part of the lap within which a corner's slowest place may lie beside the course's
_SLOW = 1.5  # m/s above the lowest speed: the middle of that stretch is where the corner is
_DROP = 2.5  # m/s: a dip in speed smaller than this is no corner
_SHARE = 0.3  # a corner reaches up to this part of the rise in speed on either side
_HARD = 0.35  # part of the hardest sideways acceleration from which on it is a corner
_LEAST = 20.0  # m: shortest corner
_KNOWN = 0.8  # part of the lap that positions must know to tell how it bends


@dataclass(frozen=True)
class Aligned:
    """Laps at the same stations of the course, one row a lap; the last column of ``elapsed`` is the lap time."""

    distance: Array  # (stations,) [m]
    elapsed: Array  # (laps, stations) [s]
    speed: Array  # (laps, stations) [m/s]
    length: Array  # way driven in each lap (laps,) [m]
    lateral: Array | None = None  # (laps, stations) [m/s²]
    x: Array | None = None  # (laps, stations) [m]
    y: Array | None = None  # (laps, stations) [m]


@dataclass(frozen=True)
class Corner:
    """One corner: where it is [m], the way it turns where that is known, its radius where it was measured [m]."""

    name: str
    start: float
    apex: float
    end: float
    turn: str = ""
    radius: float | None = None

    def middle(self, distance: Array) -> Flags:
        """Return which stations lie in the middle of the corner, as near its slowest place as that allows.

        Parameters:
            distance: stations, (stations,) [m]

        Returns:
            True for those within a fifth of the corner's length of it, at least 10 m, (stations,) [-]
        """
        size = self.end - self.start
        centre = np.clip(self.apex, self.start + 0.3 * size, self.end - 0.3 * size)
        near: Flags = np.abs(distance - centre) <= max(10.0, 0.2 * size)
        return near


@dataclass(frozen=True)
class Course:
    """What the laps of one log say about the course, so that another log can be laid over it."""

    length: float
    distance: Array  # (stations,) [m]
    speed: Array  # usual speed at each (stations,) [m/s]
    corners: tuple[Corner, ...]
    sections: tuple[Section, ...]
    line: Line | None = None
    apexes: Array = field(default_factory=lambda: np.empty(0))  # places that laps are laid together at [m]
    usual: Profiles = field(default_factory=dict)  # of the usual lap at each station, to know the course again [any]
    unit: str = ""  # in which the speed was read of the log that it was read off
    begins: Line | None = None  # where its laps begin, told by a lap column beside positions

    @property
    def every_step(self) -> Array:
        """Usual speed every ``repeating.STEP`` metres from the line, as ``laps.find_laps`` takes it [m/s]."""
        speed: Array = np.interp(np.arange(0.0, self.length, STEP), self.distance, self.speed)
        return speed

    def laps_of(self, log: Log) -> Laps:
        """Find the laps of another log that begin where the course does.

        Parameters:
            log: the log [-]

        Returns:
            its ``Laps`` [-]

        Errors:
            ``InputError`` when there is no whole lap.
        """
        line = self.line
        if line is None and log.lap is None and log.x is not None:  # the first log's lap column told where laps begin
            line = self.begins
            if line is None or (line.origin is None) != (log.origin is None):
                log, line = replace(log, x=None, y=None), None
        return find_laps(log, line, like=self.every_step)


def align(log: Log, laps: Laps, course: Course | None = None) -> Aligned:
    """Lay laps over each other: ``u = s/L`` in each lap, then shifted so that each corner's slowest place coincides.

    Parameters:
        log: the log [-]
        laps: its laps [-]
        course: the course to lay them over; None for the laps' own median length and no shifting [-]

    Returns:
        an ``Aligned`` [-]

    Validity: between two corners the shift changes in a straight line; a corner whose slowest place lies more than
    2 % of the lap from the course's is left where it is.
    """
    way = log.travelled
    begin, finish = np.interp(laps.start, log.time, way), np.interp(laps.end, log.time, way)
    length = finish - begin
    if course is None:
        size = float(np.median(length))
        stations = np.linspace(0.0, size, int(np.clip(size / STEP, 200, _MOST)) + 1)
    else:
        size, stations = course.length, course.distance
    part = stations / size
    first = _at(log, way, begin, length, np.broadcast_to(part, (len(length), len(part))), laps)
    if course is None or not len(course.apexes):
        return replace(first, distance=stations, length=length)
    nodes = np.concatenate(([0.0], course.apexes / size, [1.0]))
    moved = np.broadcast_to(nodes, (len(length), len(nodes))).copy()
    gap = np.minimum(np.diff(nodes)[:-1], np.diff(nodes)[1:])
    for i, middle in enumerate(nodes[1:-1], start=1):
        near = np.abs(part - middle) <= min(_NEAR, 0.4 * gap[i - 1])
        moved[:, i] += _slowest(part[near], first.speed[:, near]) - _slowest(part[near], course.speed[None, near])
    weights = np.stack([np.interp(part, nodes, row) for row in np.eye(len(nodes))])
    again = _at(log, way, begin, length, moved @ weights, laps)
    return replace(again, distance=stations, length=length)


def _at(log: Log, way: Array, begin: Array, length: Array, part: Array, laps: Laps) -> Aligned:
    place = begin[:, None] + length[:, None] * part
    elapsed = np.interp(place, way, log.time) - laps.start[:, None]
    elapsed[:, 0], elapsed[:, -1] = 0.0, laps.time
    lateral, x, y = (None if c is None else np.interp(place, way, c) for c in (log.lateral, log.x, log.y))
    return Aligned(np.empty(0), elapsed, np.interp(place, way, log.speed), length, lateral, x, y)


def _slowest(part: Array, speed: Array) -> Array:
    """Return the middle of the slowest stretch of each lap, steadier than the place of the one lowest reading."""
    weight = np.maximum(speed.min(axis=1, keepdims=True) + _SLOW - speed, 0.0)
    middle: Array = (weight * part).sum(axis=1) / weight.sum(axis=1)
    return middle


def course_of(log: Log, laps: Laps) -> Course:
    """Read the course off its laps: length, usual speed, corners and straights.

    Parameters:
        log: the log [-]
        laps: its laps [-]

    Returns:
        a ``Course`` [-]

    Errors:
        ``InputError`` when no corner is found.

    Validity: with sideways acceleration in the log a corner is where it exceeds 35 % of its greatest value;
    without it a corner is a dip in speed of at least 9 km/h, up to 30 % of the rise on either side.
    """
    flat = align(log, laps)
    usual = ~odd_laps(laps.time)
    speed = _smooth(np.median(flat.speed[usual], axis=0), flat.distance)
    known = _profiles(flat, usual, speed)
    side = known.get("lateral", known.get("bend"))
    spans = [] if side is None else _by_lateral(flat.distance, side)
    spans = spans or _by_dips(speed)
    if not spans:
        rule = "must hold a corner"
        raise InputError([Problem("the laps", "speeds without a dip", rule, "check that the speed column is right")])
    corners = tuple(_corner(f"corner {i}", a, b, flat, speed, usual) for i, (a, b) in enumerate(spans, start=1))
    length = float(flat.distance[-1])
    plain = Course(length, flat.distance, speed, corners, _sections(corners, length), laps.line)
    gap = _NEAR * length
    steady = [c.apex for c in corners if gap < c.apex < length - gap]
    return replace(plain, apexes=np.array(steady), usual=_sure(log, known), begins=_begins(log, laps),
                   unit=log.columns.get("speed", ("", ""))[1])  # fmt: skip


def _smooth(value: Array, distance: Array, over: float = 12.0) -> Array:
    half = max(1, round(over / float(distance[1]) / 2))
    padded = np.concatenate((np.repeat(value[:1], half), value, np.repeat(value[-1:], half)))
    return np.convolve(padded, np.full(2 * half + 1, 1 / (2 * half + 1)), "valid")


def _profiles(flat: Aligned, usual: Flags, speed: Array) -> dict[str, Array]:
    """Return what tells the course at each station: speed, and the usual sideways acceleration logged and by bend."""
    out = {"speed": speed}
    if flat.lateral is not None:
        out["lateral"] = _smooth(np.median(flat.lateral[usual], axis=0), flat.distance)
    if flat.x is not None and flat.y is not None and np.isfinite(flat.x[usual]).any(axis=0).mean() > _KNOWN:
        x, y = (_smooth(_middle(c[usual]), flat.distance, 20.0) for c in (flat.x, flat.y))
        heading = np.unwrap(np.arctan2(np.gradient(y), np.gradient(x)))
        out["bend"] = speed**2 * np.gradient(_smooth(heading, flat.distance, 20.0), flat.distance)
    return out


def _begins(log: Log, laps: Laps) -> Line | None:
    """Lay a line where laps begin that something else told; None where no position is known within a second."""
    if laps.line is not None or log.x is None:
        return laps.line
    known = log.time[np.isfinite(log.x)]
    near = [t for t in laps.start if len(known) and np.abs(known - t).min() < 1.0]
    return line_at(log, float(near[0])) if near else None


def _sure(log: Log, known: dict[str, Array]) -> dict[str, Array]:
    """Leave out how positions bend where they contradict other columns: latitude and longitude may be swapped."""
    return {kind: value for kind, value in known.items() if kind != "bend" or not log.doubts}


def _middle(value: Array) -> Array:
    """Return the median of the laps at each station; a straight line where no lap knows it."""
    known = np.isfinite(value).any(axis=0)
    out = np.full(value.shape[1], np.nan)
    out[known] = np.nanmedian(value[:, known], axis=0)
    at = np.arange(len(out))
    return np.interp(at, at[known], out[known]) if known.any() else np.zeros(len(out))


def _by_lateral(distance: Array, side: Array) -> list[tuple[int, int]]:
    """Find stretches of one sign of hard sideways acceleration."""
    hard = np.where(np.abs(side) > _HARD * np.abs(side).max(), np.sign(side), 0).astype(int)
    edges = np.flatnonzero(np.diff(hard) != 0) + 1
    spans: list[tuple[int, int]] = []
    for a, b in zip(np.concatenate(([0], edges)), np.concatenate((edges, [len(hard)])), strict=True):
        if hard[a] == 0:
            continue
        near = bool(spans) and distance[a] - distance[spans[-1][1]] < _LEAST
        if near and hard[a] == hard[spans[-1][0]]:
            spans[-1] = (spans[-1][0], int(b) - 1)
        else:
            spans.append((int(a), int(b) - 1))
    return [(a, b) for a, b in spans if distance[b] - distance[a] >= _LEAST]


def _by_dips(speed: Array) -> list[tuple[int, int]]:
    """Find dips in speed deep enough on both sides, each up to part of the way to the higher speed beside it."""
    turn = np.flatnonzero(np.diff(np.sign(np.diff(speed))) != 0) + 1
    at = [0, *map(int, turn), len(speed) - 1]
    while len(at) > 2:  # take out the smallest rise or fall until every one left is large enough
        change = np.abs(np.diff(speed[at]))
        small = int(np.argmin(change))
        if change[small] >= _DROP:
            break
        if 0 < small < len(change) - 1:
            del at[small : small + 2]
        else:
            del at[1 if small == 0 else -2]
    spans = []
    for left, low, right in zip(at[:-2], at[1:-1], at[2:], strict=True):
        if speed[low] < speed[left] and speed[low] < speed[right]:
            up = low + np.flatnonzero(speed[low : right + 1] > speed[low] + _SHARE * (speed[right] - speed[low]))[0]
            down = left + np.flatnonzero(speed[left : low + 1] > speed[low] + _SHARE * (speed[left] - speed[low]))[-1]
            spans.append((int(down), int(up)))
    return spans


def _corner(name: str, a: int, b: int, flat: Aligned, speed: Array, usual: Flags) -> Corner:
    part = speed[None, a : b + 1]
    apex = float(_slowest(flat.distance[a : b + 1], part)[0])
    corner = Corner(name, float(flat.distance[a]), apex, float(flat.distance[b]))
    turn, radius = "", None
    if flat.lateral is not None:
        turn = "left" if np.median(flat.lateral[usual][:, a : b + 1]) > 0 else "right"
    if flat.x is not None and flat.y is not None:
        reach = corner.middle(flat.distance)
        bend = float(circle_radius(_middle(flat.x[usual])[reach], _middle(flat.y[usual])[reach]))
        radius = abs(bend) if abs(bend) < 1000 else None
        turn = turn or ("left" if bend > 0 else "right")
    return replace(corner, turn=turn, radius=radius)


def _sections(corners: Sequence[Corner], length: float) -> tuple[Section, ...]:
    """Fill the course with corners and the straights between them."""
    out: list[Section] = []
    at, straights = 0.0, 0
    for corner in corners:
        if corner.start > at:
            straights += 1
            out.append(Section(f"straight {straights}", "straight", at, corner.start))
        out.append(Section(corner.name, "corner", max(corner.start, at), corner.end))
        at = corner.end
    if at < length:
        name = "straight 1, up to the line" if out[0].kind == "straight" else f"straight {straights + 1}"
        out.append(Section(name, "straight", at, length))
    return tuple(out)


def section_times(aligned: Aligned, sections: Sequence[Section]) -> Array:
    """Return the time in each section: ``t(end) − t(start)``; the sections of a lap add up to its time.

    Parameters:
        aligned: the laps [-]
        sections: pieces that fill the course from its line to its line [-]

    Returns:
        section times, (laps, sections) [s]
    """
    edges = np.array([sections[0].start, *(s.end for s in sections)])
    clock = np.stack([np.interp(edges, aligned.distance, row) for row in aligned.elapsed])
    return np.diff(clock, axis=1)


def minimum_speeds(aligned: Aligned, corners: Sequence[Corner]) -> Array:
    """Return the lowest speed in each corner of each lap, over 12 m so that one bad reading does not count.

    Parameters:
        aligned: the laps [-]
        corners: the corners [-]

    Returns:
        lowest speeds, (laps, corners) [m/s]
    """
    even = np.stack([_smooth(row, aligned.distance) for row in aligned.speed])
    inside = [(aligned.distance >= c.start) & (aligned.distance <= c.end) for c in corners]
    return np.stack([even[:, span].min(axis=1) for span in inside], axis=1)


def grip(aligned: Aligned, course: Course, radius: Array | None = None) -> Grip:
    """Return the sideways acceleration in the middle of each corner, logged and from ``V²/R``.

    Parameters:
        aligned: the laps [-]
        course: the course [-]
        radius: radius of each corner, (corners,); None for what was measured from positions [m]

    Returns:
        a ``Grip`` [-]
    """
    names = tuple(c.name for c in course.corners)
    near = [c.middle(aligned.distance) for c in course.corners]
    logged = None
    if aligned.lateral is not None:
        logged = np.stack([np.abs(aligned.lateral[:, n].mean(axis=1)) for n in near], axis=1)
    known = [np.nan if c.radius is None else c.radius for c in course.corners] if radius is None else radius
    size = np.asarray(known, dtype=float)
    if not np.isfinite(size).any():
        return Grip(names, logged, None)
    speed = np.stack([aligned.speed[:, n].mean(axis=1) for n in near], axis=1)
    lateral = lateral_from_radius(speed, np.where(np.isfinite(size), size, np.inf))
    return Grip(names, logged, np.where(np.isfinite(size), lateral, np.nan))


def session(log: Log, name: str, course: Course | None = None, laps: Laps | None = None) -> tuple[Session, Course]:
    """Turn a log into a session: laps, sections and minimum speeds, laid over one course.

    Parameters:
        log: the log [-]
        name: what the session is called [-]
        course: the course of an earlier log; None reads it off this one [-]
        laps: the laps, where they were found or marked already [-]

    Returns:
        the session, and the course to hand on to the next log [-]

    Errors:
        ``InputError`` when there is no whole lap, or the laps are of another course.
    """
    if laps is None:
        laps = course.laps_of(log) if course else find_laps(log)
    known = course or course_of(log, laps)
    aligned = align(log, laps, known)
    odd = odd_laps(laps.time)
    notes = [f"laps found by {laps.how}: {laps.sure}"]
    if course is not None:
        unit = log.columns.get("speed", ("", ""))[1]
        long_enough(name, float(np.median(aligned.length)), unit, course.length, course.unit)
        flat = align(log, laps, replace(course, apexes=np.empty(0)))
        speed = _smooth(np.median(flat.speed[~odd], axis=0), flat.distance)
        notes += filter(None, [driven_there(name, course.usual, _sure(log, _profiles(flat, ~odd, speed)))])
    if odd.any():
        which = ", ".join(str(i + 1) for i in np.flatnonzero(odd))
        notes.append(f"far from the usual lap time, so set aside (traffic, the pits, a corner cut): lap {which}")
    found = Session(
        name,
        laps.time,
        ~odd,
        known.sections,
        section_times(aligned, known.sections),
        tuple(c.name for c in known.corners),
        minimum_speeds(aligned, known.corners),
        (*log.notes, *notes),
    )
    return found, known
