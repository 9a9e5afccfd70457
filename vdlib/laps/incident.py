"""Moments at which the car did not follow its path: found, told apart, ranked and put into a sentence.

With a yaw rate a moment is where the angle of slide, added up from its rate, leaves what is usual in this log. Without
one it is a lap that was much slower in one corner than the others: other signs then say what it may have been.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..shown import says
from ..units import Array, Flags, G
from .course import Course
from .doubts import MOST, NOT_SURE
from .laps import Laps
from .mounting import smooth
from .slide_rate import Turning
from .text import counted
from .usual_line import LEFT_BY, beside_line

Kind = Literal["spin", "catch", "slow corner"]
LEAST = np.radians(3.0)
"""Smallest angle of slide beyond the usual that is looked at [rad]; our choice."""
TIMES = 8.0
"""So many times the log's own scatter of that angle, where that is more [-]; our choice."""
ONE = 5.0
"""Moments closer together than this are one [s]."""
SPUN = np.radians(60.0)
"""Angle of slide from which nobody is expected to catch it [rad]; common practice, no source."""
KNEE = 3.0
"""A slide began at most so long before it is told from ordinary driving: some begin slowly [s]; our choice."""
NEAR = 0.3
"""Share of the angle looked for below which a slide has not begun [-]; our choice."""
BEGUN = 0.15
"""Share of its greatest rate below which a slide has not begun, or is over [-]; our choice."""
QUIET = np.radians(3.0)
"""Rate of slide that is noise [rad/s]; our choice."""
RESTS = 0.5
"""A caught slide is over when next to no angle is left for so long [s]; our choice."""
STOPPED = 4.0
"""Speed below which the car counts as stopped [m/s]."""
FOOT = 0.04 * G
"""Smallest change of the acceleration along the path that is called a move of the foot [m/s²]."""
FAR = 4.5
"""So many times the log's own scatter beside the usual line, where that is more than ``LEFT_BY`` [-]; our choice."""
REJOINS = 25.0
"""So long after it began a spin may still be under way or the car be driving on [s]; our choice."""
OTHER_SIGNS = "without yaw rate only other signs speak"
SHOWN = 5.0
"""How much of a moment is shown [s]."""
KIND_WORDS = {"spin": "a spin", "catch": "a slide that was caught", "slow corner": "a slow corner"}


@dataclass(frozen=True)
class Foot:
    """The move of the foot before a slide."""

    time: float  # when it began [s]
    took: float  # [s]
    drop: float  # of the acceleration along the path [m/s²]


@dataclass(frozen=True)
class Incident:
    """One moment."""

    kind: Kind
    sure: str  # how sure that is, in words
    time: float  # when the car began to leave its path, or was slowest [s]
    speed: float  # then [m/s]
    lateral: float  # size, then [m/s²]
    turn: str  # left | right
    rank: float  # larger is worse: greatest angle, or loss of speed as a share
    angle: float | None = None  # greatest angle of slide beyond the usual [rad]
    rate: float | None = None  # greatest rate of slide [rad/s]
    rate_time: float | None = None  # when [s]
    back: float | None = None  # when the car followed its path again; None if it never did [s]
    swung: bool = False  # whether the tail swung out to the other side too
    foot: Foot | None = None
    lowest: float | None = None  # lowest speed in the seconds after [m/s]
    lap: int | None = None  # counted from 1
    corner: str = ""

    @property
    def name(self) -> str:
        """What it is called in a list."""
        where = f"lap {self.lap}, {self.corner}" if self.lap and self.corner else f"at {self.time:.0f} s"
        return f"{KIND_WORDS[self.kind]}, {where}"


def threshold(drive: Turning) -> float:
    """Return the angle of slide from which on a moment is looked at: ``max(3°, 8 × scatter of this log)``.

    Parameters:
        drive: from ``slide_rate.turning``, with a yaw rate [-]

    Returns:
        angle beyond the usual [rad]
    """
    assert drive.angle is not None
    scatter = 1.4826 * float(np.median(np.abs(drive.angle[drive.good])))
    return float(max(LEAST, TIMES * scatter))


def find(drive: Turning, laps: Laps | None = None, course: Course | None = None) -> tuple[Incident, ...]:
    """Find the moments at which the car did not follow its path, the worst first.

    Parameters:
        drive: from ``slide_rate.turning`` [-]
        laps: the whole laps, where there are any [-]
        course: their course [-]

    Returns:
        the moments [-]

    Validity: with a yaw rate, slides of 5° and more beyond what the corner itself needs; without, only what cost speed.
    """
    found = _by_rate(drive) if drive.angle is not None else []
    if laps is not None and course is not None and len(laps.time) > 2:
        found += _by_speed(drive, laps, course, found)
        found = _by_line(drive, laps, course, found) if drive.rate is None else found
        found = [_placed(one, drive, laps, course) for one in found]
    order = {"spin": 0, "catch": 1, "slow corner": 2}
    return tuple(sorted(found, key=lambda one: (order[one.kind], -one.rank)))


def doubted(drive: Turning, found: Sequence[Incident]) -> tuple[Turning, tuple[Incident, ...]]:
    """Take out moments whose forces no car reaches, and take back how sure the rest is where columns do not agree.

    Parameters:
        drive: from ``slide_rate.turning`` [-]
        found: from ``find`` [-]

    Returns:
        the drive, with a doubt where moments were taken out, and the moments that are left [-]
    """
    left = [one for one in found if one.lateral < MOST and (one.foot is None or one.foot.drop < MOST)]
    if len(left) < len(found) and not drive.doubts:
        where = counted(len(found) - len(left), "place")
        why = f"in {where} its numbers mean more than {MOST / G:.0f} g, which no car on the road reaches"
        drive = replace(drive, doubts=(f"{why}: nothing is said of what happened there",))
    return drive, tuple(replace(one, sure=NOT_SURE) if drive.doubts else one for one in left)


def _by_rate(drive: Turning) -> list[Incident]:
    assert drive.angle is not None
    assert drive.rate is not None
    limit, step = threshold(drive), drive.step
    quick = _held(drive.good, round(2.0 / step))  # fast just before
    over = np.flatnonzero((np.abs(drive.angle) > limit) & quick)
    if not len(over):
        return []
    groups = np.split(over, np.flatnonzero(np.diff(over) > ONE / step) + 1)
    return [one for group in groups if (one := _one(drive, group, limit)) is not None]


def _held(flag: Flags, count: int) -> Flags:
    """Mark what is within so many moments after a mark."""
    total = np.cumsum(np.concatenate((np.zeros(count), flag.astype(float))))
    out: Flags = (total[count:] - np.concatenate(([0.0], total))[: len(flag)]) > 0
    return out


def _one(drive: Turning, group: NDArray[np.int64], limit: float) -> Incident | None:
    assert drive.angle is not None
    assert drive.rate is not None
    step, n = drive.step, len(drive.time)
    first = int(group[0])
    sign = float(np.sign(drive.angle[first]))
    # it began where the rate of slide last was next to nothing before it grew
    around = slice(max(0, first - round(1.5 / step)), min(n, first + round(0.5 / step)))
    early = sign * np.nan_to_num(drive.rate[around])
    top = around.start + int(np.argmax(early))
    small = np.flatnonzero(early[: top - around.start + 1] < BEGUN * early.max())
    begin = around.start + (int(small[-1]) if len(small) else 0)
    foot = _foot(drive, begin, top)
    if foot is None:  # some come in two steps, a jolt and then the growth: the angle tells the first of them
        before = slice(max(0, first - round(KNEE / step)), first)
        near = np.flatnonzero(sign * drive.angle[before] < NEAR * limit)
        sooner = min(begin, before.start + int(near[-1])) if len(near) else begin
        foot = _foot(drive, sooner, top)
        begin = begin if foot is None else sooner
    last = min(n - 1, int(group[-1]) + round(1.0 / step))
    rate = np.nan_to_num(drive.rate[begin : last + 1])
    angle = np.cumsum(rate) * step
    after = slice(begin, min(n, begin + round(8.0 / step)))
    lowest = float(np.nanmin(drive.speed[after]))
    furthest = int(np.argmax(np.abs(angle)))
    greatest = float(np.abs(angle[furthest]))
    grows = np.sign(angle[furthest]) * rate[: furthest + 1]  # what follows brings it back
    if not np.isfinite(drive.lateral[begin]) or greatest < 0.6 * limit:
        return None
    stops = lowest < STOPPED and float(drive.speed[begin]) > 2 * STOPPED
    spin = greatest > SPUN or (stops and greatest > np.radians(20.0))
    ease = float(np.max(np.abs(drive.angle[group]))) / limit
    back = _back(angle, rate, limit, step)
    slid = angle if back is None else angle[:back]
    return Incident(
        kind="spin" if spin else "catch",
        sure="sure" if spin or ease > 1.6 else ("likely" if ease > 1.25 else "possible"),
        time=float(drive.time[begin]),
        speed=float(drive.speed[begin]),
        lateral=float(abs(drive.lateral[begin])),
        turn="left" if drive.lateral[begin] > 0 else "right",
        rank=greatest,
        angle=greatest,
        rate=float(np.max(grows)),
        rate_time=float(drive.time[begin + int(np.argmax(grows))]),
        back=None if spin or back is None else float(drive.time[begin + back]),
        swung=bool(slid.max() > limit and slid.min() < -limit) and not spin,
        foot=foot,
        lowest=lowest,
    )


def _back(angle: Array, rate: Array, limit: float, step: float) -> int | None:
    """Find from which moment, after the greatest angle, hardly any is left for a while: not as it swings across."""
    small = (np.abs(angle) < 0.5 * limit) & (np.abs(rate) < max(QUIET, BEGUN * float(np.abs(rate).max())))
    top, span = int(np.argmax(np.abs(angle))), max(1, round(RESTS / step))
    whole = np.convolve(small.astype(int), np.ones(span, dtype=int), "valid") == span
    there = np.flatnonzero(whole[top:])
    return top + int(there[0]) if len(there) else None


def _foot(drive: Turning, begin: int, top: int) -> Foot | None:
    """Find the last fall of the acceleration along the path before the slide was at its quickest."""
    step = drive.step
    start = max(0, begin - round(1.2 / step))
    along = drive.along[start : top + 1]
    if len(along) < round(1.0 / step) or not np.isfinite(along).all():
        return None
    even = smooth(along, step, 0.2)
    reach = max(1, round(0.4 / step))
    fall = even[:-reach] - even[reach:]
    # the last move of any size: before it the driver may have braked for the corner
    peaks = np.flatnonzero((fall[1:-1] >= fall[:-2]) & (fall[1:-1] > fall[2:])) + 1
    peaks = peaks[fall[peaks] > max(FOOT, 0.12 * float(fall.max()))]
    if not len(peaks):
        return None
    at = int(peaks[-1])
    drop = float(fall[at])
    piece = even[at : at + reach + 1]
    down = (piece[0] - piece) / drop
    t1, t2 = int(np.argmax(down > 0.1)), int(np.argmax(down > 0.9))
    return Foot(float(drive.time[start + at + t1]), max(step, (t2 - t1) * step), drop)


def _way(drive: Turning) -> Array:
    return np.concatenate(([0.0], np.cumsum(0.5 * (drive.speed[1:] + drive.speed[:-1]) * np.diff(drive.time))))


def _by_speed(drive: Turning, laps: Laps, course: Course, known: Sequence[Incident]) -> list[Incident]:
    """Find corners taken much slower than on the other laps, and say what other signs speak for."""
    way = _way(drive)
    begin, end = (np.interp(t, drive.time, way) for t in (laps.start, laps.end))
    part = course.distance / course.length
    place = begin[:, None] + (end - begin)[:, None] * part
    speed = np.interp(place, way, drive.speed)
    force = np.interp(place, way, np.abs(np.nan_to_num(drive.lateral)))
    usual, usual_force = np.median(speed, axis=0), np.median(force, axis=0)
    scatter = 1.4826 * np.median(np.abs(speed - usual), axis=0) + 0.3
    out: list[Incident] = []
    for corner in course.corners:
        near = (course.distance >= corner.start) & (course.distance <= min(corner.end + 60.0, course.length))
        if near.sum() < 5:
            continue
        lost = (usual[near] - speed[:, near]) / usual[near]
        much = (usual[near] - speed[:, near]) / scatter[near]
        for lap in map(int, np.flatnonzero((lost.max(axis=1) > 0.12) & (much.max(axis=1) > 5))):
            at = int(np.flatnonzero(near)[np.argmax(lost[lap])])
            moment = float(np.interp(place[lap, at], way, drive.time))
            if any(abs(one.time - moment) < 3 * ONE or _after(one, moment) for one in [*known, *out]):
                continue
            before = np.flatnonzero((course.distance >= corner.start - 60) & (course.distance <= course.distance[at]))
            lack = usual_force[before] - force[lap, before]
            fast = speed[lap, before] > 0.9 * usual[before]
            reach = max(1, round(0.5 * float(usual[at]) / float(course.distance[1])))
            grew = np.where(fast[:-reach], lack[reach:] - lack[:-reach], 0.0) if len(lack) > reach else np.zeros(1)
            sudden = float(grew.max()) > 0.3 * G
            usually = np.flatnonzero(speed[lap, before] > 0.98 * usual[before])
            first = before[int(np.argmax(grew)) if sudden else (int(usually[-1]) if len(usually) else 0)]
            when = float(np.interp(place[lap, first], way, drive.time))
            out.append(_slow(drive, when, moment, float(lost[lap].max()), sudden))
    return out


def _by_line(drive: Turning, laps: Laps, course: Course, found: list[Incident]) -> list[Incident]:
    """Add where the car ran far beside its usual line, and take a slow corner there for a slide."""
    aside = beside_line(drive, laps, course)
    if aside is None:
        return found
    way = _way(drive)
    begin, end = (np.interp(t, drive.time, way) for t in (laps.start, laps.end))
    place = begin[:, None] + (end - begin)[:, None] * (course.distance / course.length)
    size = np.where(np.isfinite(aside), np.abs(aside), 0.0)
    over = size > max(LEFT_BY, FAR * 1.4826 * float(np.nanmedian(size)))
    times, far = np.interp(place[over], way, drive.time), size[over]
    out = list(found)
    for group in np.split(np.arange(len(times)), np.flatnonzero(np.diff(times) > ONE) + 1):
        if not len(group):
            continue
        first, most = float(times[group[0]]), float(far[group].max())
        sure = f"possible: it ran {most:.0f} m beside its usual line; {OTHER_SIGNS}"
        near = [i for i, one in enumerate(out) if -2 * ONE < first - one.time < 2 * ONE or _after(one, first)]
        if near:
            out = [replace(one, kind="catch", sure=sure) if i in near and one.kind == "slow corner" else one
                   for i, one in enumerate(out)]  # fmt: skip
            continue
        one = _slow(drive, max(first - 1.5, float(drive.time[0])), first, 0.0, True)
        out.append(one if one.kind == "spin" else replace(one, sure=sure))
    return out


def _after(one: Incident, moment: float) -> bool:
    """Whether a moment is when a car that spun drives on."""
    return one.kind == "spin" and 0 < moment - one.time < REJOINS


def _slow(drive: Turning, first: float, moment: float, lost: float, sudden: bool) -> Incident:
    """Describe what a corner taken slowly may have been."""
    step, n = drive.step, len(drive.time)
    at, start = (int(np.searchsorted(drive.time, t)) for t in (moment, first))
    lowest = float(np.min(drive.speed[start : min(n, at + round(3.0 / step))]))
    kind: Kind = "slow corner"
    sure = "sure: nothing turned more than its path"
    if drive.rate is None:
        stops = lowest < STOPPED
        kind = "spin" if stops else ("catch" if sudden else "slow corner")
        how = {
            "spin": "likely" if sudden else "possible: the car stopped",
            "catch": "possible",
            "slow corner": "likely",
        }
        sure = f"{how[kind]}: {OTHER_SIGNS}" if sudden or not stops else f"{how[kind]}; {OTHER_SIGNS}"
    lateral = drive.lateral[start : at + 1]
    return Incident(
        kind,
        sure,
        first,
        float(drive.speed[start]),
        float(np.nanmax(np.abs(lateral))) if np.isfinite(lateral).any() else 0.0,
        "left" if np.nansum(lateral) > 0 else "right",
        lost,
        lowest=lowest,
        foot=_foot(drive, start, min(at, start + round(1.0 / step))),
    )


def _placed(one: Incident, drive: Turning, laps: Laps, course: Course) -> Incident:
    """Return in which lap and corner it was."""
    lap = int(np.searchsorted(laps.start, one.time, side="right"))
    if not 1 <= lap <= len(laps.start) or one.time > laps.end[lap - 1]:
        return one
    way, ends = _way(drive), (one.time, laps.start[lap - 1], laps.end[lap - 1])
    here, begin, end = (float(np.interp(t, drive.time, way)) for t in ends)
    gone = (here - begin) * (course.length / (end - begin) if 0.9 < (end - begin) / course.length < 1.1 else 1.0)
    inside = [c for c in course.corners if c.start - 40 <= gone <= c.end + 40]
    name = min(inside, key=lambda c: abs(c.apex - gone)).name if inside else ""
    return replace(one, lap=lap, corner=name)


def sentence(one: Incident) -> str:
    """Describe one moment in one sentence.

    Parameters:
        one: the moment [-]

    Returns:
        such as "78 km/h, 0.82 g: throttle closed by 0.14 g within 0.2 s; …" [-]
    """
    out = f"{says(one.speed, 'kmh', 0)}, {one.lateral / G:.2f} g to the {one.turn}: "
    if one.foot is not None:
        out += f"slowing grew by {one.foot.drop / G:.2f} g within {one.foot.took:.1f} s (foot); "
    else:
        out += "no move of the foot is seen; "
    if one.rate is None or one.rate_time is None or one.angle is None:
        slower = f", {one.rank:.0%} slower than on the usual lap here" if one.rank else ""
        return f"{out}then down to {says(one.lowest or 0.0, 'kmh', 0)}{slower}"
    since = one.foot.time if one.foot is not None else one.time
    out += f"{max(one.rate_time - since, 0.0):.1f} s later it turned {np.degrees(one.rate):.0f}°/s more than its path"
    if one.kind == "spin":
        return out + f"; it was not caught, and came down to {says(one.lowest or 0.0, 'kmh', 0)}"
    out += f", {np.degrees(one.angle):.0f}° in all"
    if one.swung:
        out += "; it swung to the other side as well"
    if one.back is None:
        return out
    return out + f"; it followed its path again {one.back - one.time:.1f} s after it began to leave it"
