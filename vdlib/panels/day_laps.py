"""A day's sessions from an invented day, from typed laps or from logs, and what the panel reads off them."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..answers.limits import Limits, limits
from ..car.carfile import CarFile
from ..car.records import Moment
from ..car.reference import reference_of
from ..checks import InputError, Problem
from ..draw.evidence import ShownLaps
from ..laps.calm import Calm, Calmer, calm_of, calmer
from ..laps.clubday import SAYS, make
from ..laps.course import Aligned, Course, align, grip, session
from ..laps.evidence import Change, Estimate, Part, Promise, compare, estimate, promise, slow_starts
from ..laps.laps import Session, find_laps
from ..laps.logfile import Log, read
from ..laps.notes import SESSIONS
from ..laps.slide_rate import turning
from ..setup import saved
from ..setup.candidate import AS_IT_STANDS, Version, baseline, version
from ..units import Array

INVENTED = {
    "an invented day, 5 % more grip in corners": (0.05, 0.0),
    "an invented day, nothing changed at all": (0.0, 0.0),
    "an invented day, 10 % more power only": (0.0, 0.1),
}
"""Invented day → gain of sideways acceleration in corners and of power [-]."""
HARDEST = 0.8
"""Share of a corner's way on which the sideways acceleration that counts is not exceeded [-]; our choice."""
MOST_LAPS = 100
"""Most laps of one session."""
AT_REFERENCE = "at its reference heights"
NOT_SAID = "not said"


@dataclass(frozen=True)
class Run:
    """One session and what its log adds."""

    session: Session
    aligned: Aligned | None = None
    lateral: Array | None = None  # in the middle of each corner, NaN where not known (laps, corners) [m/s²]
    hardest: Array | None = None  # exceeded on a fifth of each corner, where logged (laps, corners) [m/s²]
    calm: Calm | None = None  # what says how calm the rear was, lap by lap and corner by corner


@dataclass(frozen=True)
class Day:
    """The sessions of one day, in the order driven."""

    runs: tuple[Run, ...]
    course: Course | None = None
    truth: float | None = None  # change of lap time that was put into an invented day [s]
    made_of: str = ""  # what was put in, in words

    def __post_init__(self) -> None:
        """Refuse more laps than anyone drives in one go: comparing them would take minutes."""
        for run in self.runs:
            if len(run.session.lap_time) > MOST_LAPS:
                what, got = f"laps {run.session.name}", str(len(run.session.lap_time))
                remedy = "cut the log to the session, or type fewer laps"
                raise InputError([Problem(what, got, f"must be at most {MOST_LAPS}", remedy)])

    def without_first(self, count: int) -> Day:
        """Return the same day with the first laps of each session marked as not counting."""
        runs = []
        for run in self.runs:
            clear = run.session.clear & (np.arange(len(run.session.lap_time)) >= count)
            runs.append(replace(run, session=run.session.mark(clear)))
        return replace(self, runs=tuple(runs))

    def mark(self, left_out: Mapping[str, Sequence[int]]) -> Day:
        """Return the same day with other laps left out: session name → lap numbers, counted from 1."""
        runs = []
        for run in self.runs:
            numbers = left_out.get(run.session.name)
            if numbers is not None:
                clear = ~np.isin(np.arange(1, len(run.session.lap_time) + 1), list(numbers))
                run = replace(run, session=run.session.mark(clear))
            runs.append(run)
        return replace(self, runs=tuple(runs))


def from_logs(logs: Sequence[tuple[str, Log]]) -> Day:
    """Lay the logs of a day over the course of the first one."""
    course, runs = None, []
    for name, log in logs:
        laps = find_laps(log, course.line if course else None, like=course.every_step if course else None)
        found, course = session(log, name, course, laps)
        aligned = align(log, laps, course)
        held = grip(aligned, course)
        lateral = held.logged if held.logged is not None else held.from_radius
        drive = None
        if log.lateral is not None:
            with suppress(InputError):  # too short to tell: the other measures stay
                drive = turning(log)
        calm = calm_of(aligned, course, drive, laps)
        runs.append(Run(found, aligned, lateral, _hardest(aligned, course), calm))
    return Day(tuple(runs), course)


def _hardest(aligned: Aligned, course: Course) -> Array | None:
    """Return the sideways acceleration exceeded on a fifth of each corner, reached too where the way in is slower."""
    if aligned.lateral is None:
        return None
    inside = [(aligned.distance >= c.start) & (aligned.distance <= c.end) for c in course.corners]
    size = np.abs(aligned.lateral)
    return np.stack([np.quantile(size[:, span], HARDEST, axis=1) for span in inside], axis=1)


@lru_cache(maxsize=12)
def invented(kind: str, number: int) -> Day:
    """Make an invented day, write its logs where they are read from, and forget them."""
    corner, power = INVENTED[kind]
    day = make(number, SESSIONS, corner_gain=corner, power_gain=power)
    with tempfile.TemporaryDirectory() as folder:
        logs = [(name, read(path)) for name, path in zip(day.names, day.write(folder), strict=True)]
    what = f"{100 * corner:.0f} % more sideways acceleration in corners and {100 * power:.0f} % more power"
    made_of = f"{SAYS}. What was put in: {what}"
    return replace(from_logs(logs), truth=day.change, made_of=made_of)


@dataclass(frozen=True)
class Promised:
    """What the model says of two setups: the sideways acceleration at which the first end lets go."""

    before: str
    after: str
    limit: tuple[float, float]  # [m/s²]
    first: tuple[int, int]  # end that lets go first: 0 front, 1 rear, -1 neither found
    speed: float  # [m/s]
    corner_time: Promise | None = None  # beside what the laps say of the corners together

    @property
    def share(self) -> float:
        """Change of the limit [%]."""
        return 100 * (self.limit[1] / self.limit[0] - 1)


def versions(file: CarFile) -> tuple[str, ...]:
    """List the setups that can have been on the car: as it stands, at its reference heights, saved what-ifs."""
    return (AS_IT_STANDS, AT_REFERENCE, *saved.whatif_names(file))


def setup_called(file: CarFile, name: str) -> Version:
    """Return a setup of ``versions`` with its car."""
    base = baseline(file.car, file.setup)
    if name == AS_IT_STANDS:
        return base
    if name == AT_REFERENCE:
        reference = reference_of(file)
        return Version(name, reference.car, reference.setup)
    return version(replace(saved.load_whatif(file, name), name=name), base)


@lru_cache(maxsize=64)
def _limits(one: Version, speed: float, phase: str) -> Limits:
    return limits(one.car, one.setup, Moment.in_phase(phase, speed, 1.0))


def promised(file: CarFile, before: str, after: str, phase: str, speed: float) -> Promised:
    """Ask the model what a change of setup does to the sideways acceleration the car can reach."""
    pair = [_limits(setup_called(file, name), speed, phase) for name in (before, after)]
    both = (float(pair[0].car), float(pair[1].car))
    return Promised(before, after, both, (int(pair[0].first), int(pair[1].first)), speed)


def calmer_in(day: Day, corner: int) -> tuple[Calmer, ...]:
    """Compare how calm the sessions were, over all corners for 0, or in the corner of that number."""
    held = [run.calm for run in day.runs]
    calm = [c for c in held if c is not None]
    if len(calm) != len(held) or len(calm) < 2:
        return ()
    names = calm[0].corners
    name = names[min(corner, len(names)) - 1] if corner else ""
    return calmer(calm, [run.session.clear for run in day.runs], name)


@dataclass(frozen=True)
class DayVerdict:
    """What one day's laps say."""

    day: Day
    change: Change
    level: Estimate | None  # change of cornering [%]
    level_from: str  # what that is read from, in words
    lateral: tuple[Part, ...]  # change of sideways acceleration in each corner [m/s²]
    shown: ShownLaps
    promised: Promised | None = None
    answers: tuple[tuple[str, str], ...] = ()
    slow: tuple[int, float] = (0, 0.0)  # from ``slow_starts``
    calmer: tuple[Calmer, ...] = ()  # in all corners, then in the one chosen
    felt: tuple[float, ...] = ()  # how calm each session felt, 1 to 10

    @property
    def sessions(self) -> tuple[Session, ...]:
        """The sessions, in the order driven."""
        return tuple(run.session for run in self.day.runs)


def judge_day(day: Day, drawn: str, by_rule: int = 0, offset: float = 0.0) -> DayVerdict:
    """Compare the sessions of a day.

    Parameters:
        day: the day, with the laps to leave out marked [-]
        drawn: "usual" draws the lap nearest to each session's median, "best" its quickest [-]
        by_rule: first laps of each session that never count [-]
        offset: what a whole session may be off by, as the user states it [s]

    Returns:
        an ``Answer`` without a promise [-]

    Errors:
        ``InputError`` for too few laps.
    """
    slow = slow_starts([run.session for run in day.runs])
    day = day.without_first(by_rule)
    sessions = tuple(run.session for run in day.runs)
    change = compare(
        sessions[0], sessions[1], sessions[2] if len(sessions) > 2 else None, by_rule=by_rule, offset=offset
    )
    lateral: tuple[Part, ...] = ()
    held = [run.lateral for run in day.runs]
    if day.course is not None and all(v is not None for v in held):
        names = [c.name for c in day.course.corners]
        known = np.flatnonzero(np.all([np.isfinite(v).all(axis=0) for v in held if v is not None], axis=0))
        parts = _column(sessions, [v[:, known] for v in held if v is not None]) if len(known) else []
        lateral = tuple(Part(names[k], "corner", part) for k, part in zip(known, parts, strict=True))
    each, level_from = cornering(day)
    level = _column(sessions, each)[0] if each else None
    shown = ShownLaps(sessions, change, truth=day.truth)
    if day.course is not None:
        pairs = [(run, _pick(run.session, drawn)) for run in day.runs[:2]]
        speed = tuple(run.aligned.speed[i] for run, i in pairs if run.aligned is not None)
        names = [f"{run.session.name}, lap {i + 1} ({run.session.lap_time[i]:.2f} s)" for run, i in pairs]
        shown = replace(shown, distance=day.course.distance, speed=speed, drawn=tuple(names))
    return DayVerdict(day, change, level, level_from, lateral, shown, slow=slow)


def cornering(day: Day) -> tuple[list[Array], str]:
    """Compute how hard each lap corners, ``100·ln a_y`` or ``200·ln V``, and from what; nothing without corners."""
    held = [run.hardest for run in day.runs]
    if all(v is not None for v in held):
        return [100 * np.log(v.mean(axis=1)) for v in held if v is not None], "the logged sideways acceleration"
    speeds = [run.session.minimum_speed for run in day.runs]
    if all(v is not None for v in speeds):
        return [200 * np.log(v).mean(axis=1) for v in speeds if v is not None], "the lowest speeds, as V²/R on one line"
    return [], ""


def _pick(one: Session, drawn: str) -> int:
    """Number, from 0, of the free lap to draw."""
    free = np.flatnonzero(one.clear)
    time = one.lap_time[free]
    return int(free[np.argmin(time if drawn == "best" else np.abs(time - np.median(time)))])


def _column(sessions: Sequence[Session], values: Sequence[Array]) -> list[Estimate]:
    """Compare further numbers of each lap as ``evidence.compare`` does the lap times, one estimate a column."""
    clear = [s.clear for s in sessions]
    group = np.repeat(np.arange(len(clear)), [int(c.sum()) for c in clear])
    design = (group[:, None] == np.arange(len(clear))).astype(float)
    contrast = np.array([-1.0, 1.0]) if len(clear) == 2 else np.array([-0.5, 1.0, -0.5])
    y = np.concatenate([v[c] for v, c in zip(values, clear, strict=True)])
    found = estimate(y.reshape(len(y), -1), design, contrast, group)
    ends = np.broadcast_arrays(found.value, found.low, found.high, found.p)
    return [Estimate(*map(float, row)) for row in zip(*ends, strict=True)]


def usual_speed(day: Day) -> float | None:
    """Mean of the lowest speeds in the corners before the change; None where none are known [m/s]."""
    first = day.runs[0].session
    return None if first.minimum_speed is None else float(first.minimum_speed[first.clear].mean())


def set_beside(answer: DayVerdict, found: Promised) -> DayVerdict:
    """Set what the model says beside what the laps say.

    With the line held, ``V = √(a_y·R)``: the time in corners changes as ``(a₁/a₀)^(−1/2)``; what the straights gain
    from a faster exit is left out.
    """
    corners = next((p.change for p in answer.change.kinds if p.kind == "corner"), None)
    first = answer.sessions[0]
    if corners is None or first.section_time is None:
        return replace(answer, promised=found)
    inside = np.array([s.kind == "corner" for s in first.sections])
    spent = float(first.section_time[first.clear][:, inside].sum(axis=1).mean())
    seconds = spent * ((found.limit[1] / found.limit[0]) ** -0.5 - 1)
    only = replace(answer.change.alike, change=corners)
    beside = promise(replace(answer.change, plain=corners, learned=None, alike=only), seconds)
    shown = replace(answer.shown, promised=seconds)
    return replace(answer, promised=replace(found, corner_time=beside), shown=shown)
