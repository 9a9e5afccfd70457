"""A day's sessions, from an invented day, from typed laps or from logs laid over one course."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from ..checks import InputError, Problem
from ..laps import visit_day
from ..laps.calm import Calm, calm_of
from ..laps.clubday import SAYS, make
from ..laps.course import Aligned, Course, align, grip, session
from ..laps.doubts import too_much
from ..laps.even import as_one
from ..laps.laps import Session, find_laps
from ..laps.logfile import Log, read
from ..laps.notes import SESSIONS
from ..laps.slide_rate import turning
from ..laps.visit_day import make_visit
from ..units import Array

VISIT = "an invented workshop visit"
"""The one with a yaw rate: the motion model drives it."""
INVENTED: dict[str, tuple[float, float] | None] = {
    VISIT: None,
    "an invented day, 5 % more grip in corners": (0.05, 0.0),
    "an invented day, nothing changed at all": (0.0, 0.0),
    "an invented day, 10 % more power only": (0.0, 0.1),
}
"""Invented day → gain of sideways acceleration in corners and of power [-]; None where only the car's rear differs."""
PUT_IN = (
    "one driver who lifts in two corners of every lap, by as much in both sessions; before with the heights as the car "
    "came back, after with its reference's. Nothing else"
)
HARDEST = 0.8
"""Share of a corner's way on which the sideways acceleration that counts is not exceeded [-]; our choice."""
NOT_COMPARED = "so neither how fast the car slid nor its sideways g is compared"
MOST_LAPS = 100
"""Most laps of one session."""


@dataclass(frozen=True)
class Run:
    """One session and what its log adds."""

    session: Session
    aligned: Aligned | None = None
    lateral: Array | None = None  # in the middle of each corner, NaN where not known (laps, corners) [m/s²]
    hardest: Array | None = None  # exceeded on a fifth of each corner, where logged (laps, corners) [m/s²]
    calm: Calm | None = None  # what says how calm the rear was, lap by lap and corner by corner
    slide: Array | None = None  # rate of slide at the course's stations, where a yaw rate was logged [rad/s]
    evened: str = ""  # how its log was made comparable with the others', in words

    @property
    def matched(self) -> str:
        """How its log was made comparable, in a sentence; empty where it was so."""
        return f"For how calm the rear was, the log {self.session.name} was {self.evened}." if self.evened else ""


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


@dataclass(frozen=True)
class Coming:
    """An invented day that is still to be driven."""

    kind: str
    number: int

    @property
    def made_of(self) -> str:
        """What is put in, in words [-]."""
        gains = INVENTED[self.kind]
        if gains is None:
            return f"{visit_day.SAYS}. What was put in: {PUT_IN}"
        corner, power = (f"{100 * gain:.0f}" for gain in gains)
        what = f"{corner} % more sideways acceleration in corners and {power} % more power"
        return f"{SAYS}. What was put in: {what}"


def from_logs(logs: Sequence[tuple[str, Log]]) -> Day:
    """Lay the logs of a day over the course of the first one."""
    course, runs = None, []
    for (name, log), (same, told) in zip(logs, as_one([log for _, log in logs]), strict=True):
        laps = course.laps_of(log) if course else find_laps(log)
        found, course = session(log, name, course, laps)
        aligned, evenly = align(log, laps, course), align(same, laps, course)
        drive = None
        if log.lateral is not None:
            with suppress(InputError):  # too short to tell: the other measures stay
                drive = turning(same)
        doubts = [doubt for doubt in (drive.doubts if drive is not None else (too_much(same),)) if doubt]
        if doubts:  # neither can be read off columns that do not agree
            new = [doubt for doubt in doubts if doubt not in found.notes]
            found = replace(found, notes=(*found.notes, *new, NOT_COMPARED))
            drive, aligned, evenly = None, *(replace(one, lateral=None) for one in (aligned, evenly))
        held = grip(evenly, course)
        lateral = None if doubts else held.logged if held.logged is not None else held.from_radius
        calm = calm_of(evenly, course, drive, laps)
        slide = None
        if drive is not None and drive.rate is not None:
            slide = np.interp(laps.start[:, None] + aligned.elapsed, drive.time, np.nan_to_num(drive.rate))
        runs.append(Run(found, aligned, lateral, _hardest(evenly, course), calm, slide, told))
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
    """Make an invented day; one that comes as text is written, read back and forgotten."""
    gains = INVENTED[kind]
    if gains is None:
        visit = make_visit(number)
        found = from_logs([(name, one.log) for name, one in zip(visit_day.NAMES, visit.sessions, strict=True)])
        return replace(found, made_of=Coming(kind, number).made_of)
    corner, power = gains
    day = make(number, SESSIONS, corner_gain=corner, power_gain=power)
    with tempfile.TemporaryDirectory() as folder:
        logs = [(name, read(path)) for name, path in zip(day.names, day.write(folder), strict=True)]
    return replace(from_logs(logs), truth=day.change, made_of=Coming(kind, number).made_of)


def write_invented(kind: str, number: int, folder: str | Path) -> tuple[Path, ...]:
    """Write the logs of an invented day, one a session."""
    gains = INVENTED[kind]
    if gains is None:
        return make_visit(number).write(folder)
    return make(number, SESSIONS, corner_gain=gains[0], power_gain=gains[1]).write(folder)
