"""What a day's sessions say: lap times, cornering, how calm the rear was, beside what was promised."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..draw.evidence import ShownCorner, ShownLaps
from ..laps.bootstrap import Estimate, estimate
from ..laps.calm import Calmer, calmer
from ..laps.evidence import Change, Part, compare, slow_starts, widened
from ..laps.evidence_words import promise
from ..laps.laps import Session
from ..units import Array
from .day_promise import Promised
from .day_sessions import Day

BESIDE = 40.0
"""How much of the way before and after the corner is shown with it [m]."""


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
    promise_waits: bool = False  # what was promised is of a car of one's own, and these laps are invented

    @property
    def sessions(self) -> tuple[Session, ...]:
        """The sessions, in the order driven."""
        return tuple(run.session for run in self.day.runs)


def look_at(answer: DayVerdict, corner: int) -> DayVerdict:
    """Look at one corner of a day, or at all of them.

    Parameters:
        answer: what the laps say [-]
        corner: number of the corner, 0 for all [-]

    Returns:
        the same with that corner compared and its laps laid over each other [-]
    """
    found = calmer_in(answer.day, corner)
    alike = next((one.same_lift for one in found if one.same_lift is not None), None)
    shown = replace(answer.shown, corner=_laps_in(answer.day, corner), same_lift=alike)
    return replace(answer, calmer=found, shown=shown)


def scores(felt: tuple[float, ...], sessions: int) -> tuple[float, ...]:
    """Return how calm each session felt, where that was said of all of those told and of two or more.

    Parameters:
        felt: how calm each session felt, 0 where nobody said, before first [-]
        sessions: how many there are [-]

    Returns:
        a score a session, or none [-]
    """
    said = felt[:sessions]
    while said and not said[-1]:
        said = said[:-1]
    return said if len(said) > 1 and all(said) else ()


def _laps_in(day: Day, number: int) -> ShownCorner | None:
    """Lay the laps that count over each other in one corner; None for all corners, or without logs."""
    if not number or day.course is None or any(run.aligned is None for run in day.runs):
        return None
    corner = day.course.corners[min(number, len(day.course.corners)) - 1]
    near = (day.course.distance >= corner.start - BESIDE) & (day.course.distance <= corner.end + BESIDE)
    free = [run.session.clear for run in day.runs]
    speed = tuple(run.aligned.speed[c][:, near] for run, c in zip(day.runs, free, strict=True) if run.aligned)
    rates = [run.slide for run in day.runs]
    slide = tuple(r[c][:, near] for r, c in zip(rates, free, strict=True) if r is not None)
    sideways = [run.aligned.lateral if run.aligned else None for run in day.runs]
    side = tuple(v[c][:, near] for v, c in zip(sideways, free, strict=True) if v is not None)
    whole = len(day.runs)
    return ShownCorner(
        corner.name,
        day.course.distance[near],
        speed,
        slide if len(slide) == whole else (),
        side if len(side) == whole else (),
    )


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
        parts = _column(sessions, [v[:, known] for v in held if v is not None], change.wider) if len(known) else []
        lateral = tuple(Part(names[k], "corner", part) for k, part in zip(known, parts, strict=True))
    each, level_from = cornering(day)
    level = _column(sessions, each, change.wider)[0] if each else None
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


def _column(sessions: Sequence[Session], values: Sequence[Array], least: float = 1.0) -> list[Estimate]:
    """Compare further numbers of each lap as ``evidence.compare`` does the lap times, one estimate a column."""
    clear = [s.clear for s in sessions]
    group = np.repeat(np.arange(len(clear)), [int(c.sum()) for c in clear])
    design = (group[:, None] == np.arange(len(clear))).astype(float)
    contrast = np.array([-1.0, 1.0]) if len(clear) == 2 else np.array([-0.5, 1.0, -0.5])
    y = np.concatenate([v[c] for v, c in zip(values, clear, strict=True)])
    y = y.reshape(len(y), -1)
    number = np.concatenate([np.flatnonzero(c) for c in clear]).astype(float)
    found = widened(estimate(y, design, contrast, group), y, design, contrast, group, number, least)
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
