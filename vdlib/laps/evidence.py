"""Did it work: what the laps before and after a change can and cannot show.

Each figure is a weighted sum of lap times ``w·y``: the difference of the means, or that with the driver's learning
allowed for, by which lap time falls with the logarithm of the laps driven so far. Interval and p-value are those of
``bootstrap.estimate``. A change is called shown when both figures show it. How often all that is right is measured on
invented days in ``tests/test_evidence.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..units import Array, Flags
from .alike import Likeness, allow_for_likeness
from .bootstrap import DRAWS, Estimate, estimate
from .laps import Session

Verdict = Literal["faster", "slower", "not shown"]


@dataclass(frozen=True)
class Part:
    """What one section, or all of one kind, added to the difference in lap time [s]."""

    name: str
    kind: str
    change: Estimate


@dataclass(frozen=True)
class Change:
    """Difference between the sessions with the change and without it: after less before, negative is faster."""

    laps: tuple[int, ...]  # laps used in each session [-]
    left_out: tuple[int, ...]  # laps in traffic [-]
    names: tuple[str, ...]
    mean: Array  # mean lap time of each session [s]
    plain: Estimate  # difference of the means [s]
    learned: Estimate | None  # the same with the driver's learning allowed for; None with too few laps [s]
    learning: Estimate | None  # what learning does to the lap time from the day's first lap to its last [s]
    parts: tuple[Part, ...]  # section by section; they add up to ``plain.value``
    kinds: tuple[Part, ...]  # all corners, all straights
    minimum_speed: tuple[Part, ...]  # change of the lowest speed in each corner [m/s]
    alike: Likeness  # the difference with laps alike their neighbours and the sessions' offset allowed for [s]
    by_rule: int = 0  # first laps of each session that were left out by a rule made beforehand [-]
    offset: float = 0.0  # what a whole session may be off by, as stated [s]

    @property
    def fits(self) -> Estimate:
        """Range that these laps fit: the wider of ``best`` and the one that allows for alike neighbours [s]."""
        wide = [float(e.high) - float(e.low) for e in (self.best, self.alike.change)]
        return self.alike.change if wide[1] > wide[0] else self.best

    @property
    def best(self) -> Estimate:
        """The figure to go by: the one that allows for learning, where there are laps enough for it [s]."""
        return self.plain if self.learned is None else self.learned

    @property
    def verdict(self) -> Verdict:
        """What the laps show: all three figures leave zero out, on the same side."""
        figures = (self.plain, self.best, self.alike.change)
        signs = {float(np.sign(float(e.value))) for e in figures}
        if len(signs) > 1 or not all(bool(e.shown) for e in figures):
            return "not shown"
        return "faster" if float(self.plain.value) < 0 else "slower"

    @property
    def no_scatter(self) -> bool:
        """True where the laps of each session, two or more, are alike to the last digit: every likeness fits them."""
        return min(self.laps) > 1 and float(self.alike.correlation.high) >= 1

    @property
    def cause_open(self) -> bool:
        """True where the laps differ, but learning alone could be why."""
        return self.verdict == "not shown" and bool(self.plain.shown) and not bool(self.best.shown)

    @property
    def wider(self) -> float:
        """By how much allowing for laps alike their neighbours widens the interval of the lap time, 1 at least [-]."""
        return float(_ratio(self.alike.change, self.plain))

    @property
    def withheld(self) -> bool:
        """True where the laps differ, but laps alike their neighbours or the sessions' offset could be why."""
        return self.verdict == "not shown" and bool(self.plain.shown) and not bool(self.alike.change.shown)


def compare(
    before: Session,
    after: Session,
    again: Session | None = None,
    seed: int = 1,
    draws: int = DRAWS,
    by_rule: int = 0,
    offset: float = 0.0,
) -> Change:
    """Compare laps with a change and without it: ``mean(after) − mean(before)``, or with a third session
    ``mean(after) − ½·(mean(before) + mean(again))``.

    Parameters:
        before: laps before the change [-]
        after: laps with it [-]
        again: laps with it taken back, driven last [-]
        seed: seed of the random draws: the same laps give the same answer [-]
        draws: how many draws [-]
        by_rule: first laps of each session to leave out, decided before the laps were seen: cold tyres [-]
        offset: what a whole session may be off by, one standard deviation, as the user states it [s]

    Returns:
        a ``Change`` [-]

    Errors:
        ``InputError`` for too few laps without traffic, or sessions cut into other sections.

    Validity: ``plain`` and ``learned`` take laps to scatter independently; ``alike`` does not, and a change is claimed
    only where all three show it. Nothing in lap times tells the change from anything else that
    differs between the sessions; the third session takes out what drifts steadily. That practice goes with the
    logarithm of repetitions is the power law of practice (Newell & Rosenbloom, 1981, from memory), here to first order.
    """
    sessions = (before, after) if again is None else (before, after, again)
    free = [np.asarray(s.clear, dtype=bool) for s in sessions]
    clear = [c & (np.arange(len(c)) >= by_rule) for c in free]
    sizes = tuple(int(c.sum()) for c in clear)
    if min(sizes) < 1:
        which = sessions[sizes.index(min(sizes))].name
        rule = "must leave at least one lap in each session"
        raise InputError([Problem(f"laps that count in {which!r}", "none", rule, "mark fewer laps, or drive more")])
    for one in sessions[1:]:  # a session by hand may have none
        other_sections = one.sections and before.sections and one.sections != before.sections
        if other_sections or (one.corners and before.corners and one.corners != before.corners):
            rule, remedy = (
                "must be cut into the same sections and corners",
                "lay every log over the course of the first",
            )
            raise InputError([Problem(f"session {one.name!r}", "", rule, remedy)])
    y = np.concatenate([s.lap_time[c] for s, c in zip(sessions, clear, strict=True)])
    first = np.cumsum([0, *(len(c) for c in clear)])
    driven = 1.0 + np.concatenate([first[i] + np.flatnonzero(c) for i, c in enumerate(clear)])
    practice = np.log(driven / driven[0])
    group = np.repeat(np.arange(len(sizes)), sizes)
    contrast = np.array([-1.0, 1.0]) if again is None else np.array([-0.5, 1.0, -0.5])
    flat = (group[:, None] == np.arange(len(sizes))).astype(float)
    learned = learning = None
    if len(y) > len(sizes) + 1 and max(sizes) > 1:
        sloped = np.column_stack([flat, practice - practice.mean()])
        learned = estimate(y, sloped, np.append(contrast, 0.0), group, seed, draws)
        learning = estimate(y, sloped, np.eye(len(sizes) + 1)[-1] * practice[-1], group, seed, draws)
    plain = estimate(y, flat, contrast, group, seed, draws)
    number = np.concatenate([np.flatnonzero(c) for c in clear]).astype(float)
    alike = allow_for_likeness(y, flat, contrast, group, number, offset)
    alike = replace(alike, change=_no_surer(alike.change, plain))
    learned = None if learned is None else _no_surer(learned, plain)
    least = _ratio(alike.change, plain)

    def each(values: Array) -> Estimate:
        return widened(
            estimate(values, flat, contrast, group, seed, draws), values, flat, contrast, group, number, least
        )

    parts, kinds, lowest = _parts(sessions, clear, each)
    return Change(
        sizes,
        tuple(int((~c[by_rule:]).sum()) for c in free),
        tuple(s.name for s in sessions),
        np.array([s.lap_time[c].mean() for s, c in zip(sessions, clear, strict=True)]),
        plain,
        learned,
        learning,
        parts,
        kinds,
        lowest,
        alike,
        by_rule,
        offset,
    )


def _no_surer(one: Estimate, plain: Estimate) -> Estimate:
    """Return the same figure, without a bound where the plain one has none."""
    none = np.isinf(np.asarray(plain.high))
    low, high = np.where(none, -np.inf, one.low), np.where(none, np.inf, one.high)
    return replace(one, low=low[()], high=high[()])


def _ratio(wide: Estimate, one: Estimate) -> Array:
    """Return by how much one interval is wider than another; 1 where it is not, or has no bound."""
    width = [np.asarray(e.high) - np.asarray(e.low) for e in (wide, one)]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = width[0] / width[1]
    return np.where(np.isfinite(ratio), np.maximum(ratio, 1.0), 1.0)


def widened(
    one: Estimate,
    y: Array,
    design: Array,
    contrast: Array,
    group: NDArray[np.int64],
    number: Array,
    least: Array | float = 1.0,
) -> Estimate:
    """Widen intervals of independent tries by what each figure's own likeness from lap to lap costs, or the lap time's.

    Parameters:
        one: the figures, from ``bootstrap.estimate`` [any]
        y: what they are of, (laps, columns) [any]
        design: as of ``estimate`` [-]
        contrast: as of ``estimate`` [-]
        group: as of ``estimate`` [-]
        number: number of each lap in its session [-]
        least: by how much at least: what the lap time's interval is widened by [-]

    Returns:
        the same figures with both ends farther off, never nearer [any]

    Validity: with nothing changed, 8 and 8 laps and a likeness of 0.8, at most 5 of 100 corners are marked
    (``tests/test_alike.py``).
    """
    by = np.maximum(least, _ratio(allow_for_likeness(y, design, contrast, group, number).change, one))
    value, low, high = (np.asarray(end) for end in (one.value, one.low, one.high))
    return Estimate(one.value, value + by * (low - value), value + by * (high - value), one.p)


def slow_starts(sessions: Sequence[Session]) -> tuple[int, float]:
    """Return whether the first laps of sessions are slower than the rest, as on cold tyres.

    Parameters:
        sessions: the sessions [-]

    Returns:
        how many first laps are slow, and by how much the first is, zero where none is [s]

    Validity: a lap counts as slow at a start where its mean over the sessions is three standard errors above the rest.
    """
    rest = [s.lap_time[3:][s.clear[3:]] for s in sessions]
    if any(len(r) < 3 for r in rest):
        return 0, 0.0
    free = sum(len(r) - 1 for r in rest)
    sigma = float(np.sqrt(sum(((r - r.mean()) ** 2).sum() for r in rest) / free))
    first = [np.where(s.clear[:3], s.lap_time[:3], np.nan) - r.mean() for s, r in zip(sessions, rest, strict=True)]
    known = np.isfinite(first).sum(axis=0)
    more = np.nan_to_num(np.nansum(first, axis=0) / np.maximum(known, 1))
    slow = more > 3 * max(sigma, 1e-9) / np.sqrt(np.maximum(known, 1))
    count = int(np.argmin(slow)) if not slow.all() else 3
    return count, float(more[0]) if count else 0.0


def _parts(
    sessions: tuple[Session, ...], clear: list[Flags], compared: Callable[[Array], Estimate]
) -> tuple[tuple[Part, ...], tuple[Part, ...], tuple[Part, ...]]:
    """Compare section by section, kind by kind, and corner by corner."""

    def each(names: list[str], kinds: list[str], y: Array) -> tuple[Part, ...]:
        found = compared(y)
        ends = np.broadcast_arrays(found.value, found.low, found.high, found.p)
        return tuple(Part(n, k, Estimate(*map(float, e))) for n, k, *e in zip(names, kinds, *ends, strict=True))

    parts: tuple[Part, ...] = ()
    kinds: tuple[Part, ...] = ()
    lowest: tuple[Part, ...] = ()
    times = [s.section_time for s in sessions]
    speeds = [s.minimum_speed for s in sessions]
    first = sessions[0]
    if all(t is not None for t in times):
        y = np.concatenate([t[c] for t, c in zip(times, clear, strict=True) if t is not None])
        kind = [s.kind for s in first.sections]
        parts = each([s.name for s in first.sections], kind, y)
        all_kinds = sorted(set(kind))
        sums = np.stack([y[:, [k == one for k in kind]].sum(axis=1) for one in all_kinds], axis=1)
        kinds = each([f"all {one}s" for one in all_kinds], all_kinds, sums)
    if all(v is not None for v in speeds):
        y = np.concatenate([v[c] for v, c in zip(speeds, clear, strict=True) if v is not None])
        lowest = each(list(first.corners), ["corner"] * len(first.corners), y)
    return parts, kinds, lowest
