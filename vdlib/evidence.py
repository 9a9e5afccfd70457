"""Did it work: what the laps before and after a change can and cannot show.

Each figure is a weighted sum of lap times ``w·y`` (a difference of means, or that with a steady drift allowed for). Its
interval is a studentised bootstrap: residuals are drawn again, each figure is divided by its own standard error, and
the 95 % quantile takes the place of the table of t. Its p-value is from shuffled residuals (with two sessions and no
drift, plain shuffling of laps between them). Measured on 2,000 invented days: see ``tests/test_evidence.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .checks import InputError, Problem
from .laps import Session
from .units import Array

LEVEL = 0.95
"""Part of days on which such an interval holds the true value."""
DRAWS = 2000
Verdict = Literal["faster", "slower", "not shown"]


@dataclass(frozen=True)
class Estimate:
    """One figure with its 95 % interval and p-value; an infinite end means that so few laps set no bound."""

    value: Array | float
    low: Array | float
    high: Array | float
    p: Array | float

    @property
    def shown(self) -> NDArray[np.bool_]:
        """True where it differs from zero: the interval leaves zero out and p is at most 5 %."""
        out: NDArray[np.bool_] = ((np.asarray(self.low) > 0) | (np.asarray(self.high) < 0)) & (
            np.asarray(self.p) <= 1 - LEVEL + 1e-12
        )
        return out


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
    plain: Estimate  # [s]
    steady: Estimate | None  # with a steady drift over the day allowed for [s]
    drift: Estimate | None  # lap time gained (negative) with each lap driven [s]
    parts: tuple[Part, ...]  # section by section; they add up to ``plain.value``
    kinds: tuple[Part, ...]  # all corners, all straights
    minimum_speed: tuple[Part, ...]  # change of the lowest speed in each corner [m/s]

    @property
    def drifting(self) -> bool:
        """True where the laps show, or nearly show, a drift within the sessions (p below 20 %)."""
        return self.drift is not None and float(self.drift.p) < 0.2

    @property
    def best(self) -> Estimate:
        """The figure to go by: the plain one, or with a drift the one that allows for it [s]."""
        return self.steady if self.steady is not None and self.drifting else self.plain

    @property
    def verdict(self) -> Verdict:
        """What the laps show; no word on the cause."""
        if not bool(self.best.shown):
            return "not shown"
        return "faster" if float(self.best.value) < 0 else "slower"


def _design(sizes: tuple[int, ...], drift: bool, place: Array) -> Array:
    group = np.repeat(np.arange(len(sizes)), sizes)
    columns = (group[:, None] == np.arange(len(sizes))).astype(float)
    return np.column_stack([columns, place - place.mean()]) if drift else columns


def estimate(
    y: Array, design: Array, contrast: Array, group: NDArray[np.int64], seed: int = 1, draws: int = DRAWS
) -> Estimate:
    """Estimate ``c·β`` of ``y = X·β + noise`` with a bootstrap interval and a shuffling p-value.

    Parameters:
        y: what was measured, (laps,) or (laps, columns), each column for itself [any]
        design: X, (laps, parameters) [-]
        contrast: c, (parameters,) [-]
        group: session of each lap; each may have its own spread, (laps,) [-]
        seed: seed of the random draws [-]
        draws: how many draws [-]

    Returns:
        value, ends of the interval and p-value, scalar or (columns,) [any]

    Errors:
        ``InputError`` where there are no more laps than parameters.

    Validity: laps that scatter independently of each other. Standard error ``√Σ w²r²/(1 − h)``, which for two sessions
    is Welch's; spreads of the sessions are drawn toward their common one with the weight of one lap.

    Source: Efron & Tibshirani, An Introduction to the Bootstrap, ch. 12 (bootstrap-t), and Freedman & Lane, J. Business
    & Economic Statistics 1 (1983) for the shuffling; both from memory.
    """
    columns = y[:, None] if y.ndim == 1 else y
    count, free = design.shape
    if count <= free:
        rule = f"must be more than {free} in all"
        raise InputError(
            [Problem("laps without traffic", str(count), rule, "drive more laps, or mark fewer as in traffic")]
        )
    inverse = np.linalg.pinv(design)
    weight, rest = contrast @ inverse, np.eye(count) - design @ inverse
    loose = np.maximum(np.diag(rest), 1e-12)  # 1 − h; a lap alone in its session has none
    alone = np.diag(rest) < 1e-9
    scale = weight**2 / loose * ~alone

    def error(values: Array) -> Array:
        return np.sqrt(np.einsum("...nk,n->...k", (rest @ values) ** 2, scale))

    value, sigma = weight @ columns, error(columns)
    rng = np.random.default_rng(seed)
    # interval
    raw = (rest @ columns) / np.sqrt(loose)[:, None] * ~alone[:, None]
    common = (raw**2).sum(axis=0) / max((~alone).sum(), 1)
    spread = np.empty_like(raw)
    for g in np.unique(group):
        inside = group == g
        n = max(int(inside.sum()) - 1, 0)
        spread[inside] = np.sqrt((n * (raw[inside] ** 2).mean(axis=0) + common) / (n + 1))
    unit = raw / np.where(spread > 0, spread, 1.0)
    unit = (unit - unit[~alone].mean(axis=0))[~alone]
    drawn = unit[rng.integers(0, len(unit), (draws, count))] * spread
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.abs(np.einsum("bnk,n->bk", drawn, weight)) / error(drawn)
    ratio = np.where(np.isnan(ratio), np.inf, ratio)
    factor = np.quantile(ratio, LEVEL, axis=0, method="higher")
    reach = np.where(sigma > 0, factor * sigma, np.where(np.isinf(factor), np.inf, 0.0))
    reach = np.where(alone.any() & (np.abs(weight) > 0)[alone].any(), np.inf, reach)
    # p-value
    null = design @ _orthogonal(contrast)
    fitted = null @ (np.linalg.pinv(null) @ columns)
    left = columns - fitted
    order = rng.permuted(np.tile(np.arange(count), (draws, 1)), axis=1)
    shuffled = fitted + left[order]
    with np.errstate(divide="ignore", invalid="ignore"):
        chance = np.abs(np.einsum("bnk,n->bk", shuffled, weight)) / error(shuffled)
        seen = np.abs(value) / sigma
    chance, seen = np.nan_to_num(chance, nan=0.0, posinf=np.inf), np.nan_to_num(seen, nan=0.0, posinf=np.inf)
    p = (1 + (chance >= seen * (1 - 1e-9)).sum(axis=0)) / (draws + 1)
    if y.ndim == 1:
        return Estimate(float(value[0]), float(value[0] - reach[0]), float(value[0] + reach[0]), float(p[0]))
    return Estimate(value, value - reach, value + reach, p)


def _orthogonal(contrast: Array) -> Array:
    """Give the directions in which the contrast is zero, one a column."""
    _, _, rows = np.linalg.svd(contrast[None, :])
    other: Array = rows[1:].T
    return other


def compare(before: Session, after: Session, again: Session | None = None, seed: int = 1, draws: int = DRAWS) -> Change:
    """Compare laps with a change and without it: ``mean(after) − mean(before)``, or with a third session
    ``mean(after) − ½·(mean(before) + mean(again))``.

    Parameters:
        before: laps before the change [-]
        after: laps with it [-]
        again: laps with it taken back, driven last [-]
        seed: seed of the random draws: the same laps give the same answer [-]
        draws: how many draws [-]

    Returns:
        a ``Change`` [-]

    Errors:
        ``InputError`` for too few laps without traffic, or sessions cut into other sections.

    Validity: laps within a session scatter independently. Nothing in lap times tells the change from anything else that
    differs between the sessions; the third session takes out what drifts steadily.
    """
    sessions = (before, after) if again is None else (before, after, again)
    clear = [np.asarray(s.clear, dtype=bool) for s in sessions]
    sizes = tuple(int(c.sum()) for c in clear)
    if min(sizes) < 1:
        which = sessions[sizes.index(min(sizes))].name
        rule = "must leave at least one lap in each session"
        raise InputError(
            [Problem(f"laps without traffic in {which!r}", "none", rule, "mark fewer laps, or drive more")]
        )
    for one in sessions[1:]:
        if [s.name for s in one.sections] != [s.name for s in before.sections] or one.corners != before.corners:
            rule = "must be cut into the same sections and corners"
            raise InputError([Problem(f"session {one.name!r}", "", rule, "lay every log over the course of the first")])
    y = np.concatenate([s.lap_time[c] for s, c in zip(sessions, clear, strict=True)])
    first = np.cumsum([0, *(len(c) for c in clear)])
    place = np.concatenate([first[i] + np.flatnonzero(c) for i, c in enumerate(clear)]).astype(float)
    group = np.repeat(np.arange(len(sizes)), sizes)
    contrast = np.array([-1.0, 1.0]) if again is None else np.array([-0.5, 1.0, -0.5])
    flat, sloped = _design(sizes, False, place), _design(sizes, True, place)
    steady = drift = None
    if len(y) > sloped.shape[1] and max(sizes) > 1:
        steady = estimate(y, sloped, np.append(contrast, 0.0), group, seed, draws)
        drift = estimate(y, sloped, np.eye(sloped.shape[1])[-1], group, seed, draws)
    parts, kinds, lowest = _parts(sessions, clear, flat, contrast, group, seed, draws)
    return Change(
        sizes,
        tuple(int((~c).sum()) for c in clear),
        tuple(s.name for s in sessions),
        np.array([s.lap_time[c].mean() for s, c in zip(sessions, clear, strict=True)]),
        estimate(y, flat, contrast, group, seed, draws),
        steady,
        drift,
        parts,
        kinds,
        lowest,
    )


def _parts(
    sessions: tuple[Session, ...],
    clear: list[NDArray[np.bool_]],
    design: Array,
    contrast: Array,
    group: NDArray[np.int64],
    seed: int,
    draws: int,
) -> tuple[tuple[Part, ...], tuple[Part, ...], tuple[Part, ...]]:
    """Compare section by section, kind by kind, and corner by corner."""

    def each(names: list[str], kinds: list[str], y: Array) -> tuple[Part, ...]:
        found = estimate(y, design, contrast, group, seed, draws)
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
