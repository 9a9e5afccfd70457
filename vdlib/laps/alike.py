"""Laps that are alike their neighbours: the correlation measured, and a difference whose interval allows for it.

Laps of one session follow ``e_n = ρ·e_(n−1) + noise``. Every correlation from 0 to 0.9 is weighed by how well it fits
the laps (restricted likelihood), and the interval is the mixture: it is wide where laps are alike, and also where too
few laps can say whether they are. What a whole session may be off by is stated by the user and added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..units import Array, Flags
from .bootstrap import DUST, Estimate

GRID = np.linspace(0.0, 0.9, 19)
"""Correlations between neighbouring laps that are weighed [-]."""
FOUND = 0.8
"""Share of days on which a plan of laps is to find a difference [-]."""
_LEVELS = np.linspace(-3.2, 3.2, 33)  # of the scatter, in its own standard deviations
_PARTS = np.array([[0.025], [0.975]])  # of the days below either end of an interval


def quantile_of_t(free: float) -> float:
    """Return the 97.5 % quantile of t by its expansion about the normal one.

    Parameters:
        free: degrees of freedom [-]

    Returns:
        the quantile, within 1 % from 4 degrees on [-]

    Validity: at least 3 degrees of freedom.

    Source: Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.5, from memory.
    """
    z = 1.959964
    first, second = (z**3 + z) / 4, (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return float(z + first / free + second / free**2 + third / free**3)


def error_function(x: Array) -> Array:
    """Return ``2/√π·∫₀ˣ exp(−t²) dt`` by a rational approximation.

    Parameters:
        x: any shape [-]

    Returns:
        the same shape, within 1.5e-7 [-]

    Validity: all x.

    Source: Abramowitz & Stegun, Handbook of Mathematical Functions, 7.1.26, from memory.
    """
    size = np.abs(x)
    t = 1 / (1 + 0.3275911 * size)
    part = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    out: Array = np.copysign(1 - part * np.exp(-np.square(x)), x)
    return out


@dataclass(frozen=True)
class Likeness:
    """How alike neighbouring laps are, and the difference with that allowed for."""

    change: Estimate
    correlation: Estimate


def allow_for_likeness(
    y: Array, design: Array, contrast: Array, group: NDArray[np.int64], number: Array, offset: float = 0.0
) -> Likeness:
    """Estimate ``c·β`` of ``y = X·β + e`` with errors alike from lap to lap within a session.

    Parameters:
        y: what was measured, (laps,) or (laps, columns), each column for itself [any]
        design: X, (laps, parameters) [-]
        contrast: c, (parameters,), the sessions first [-]
        group: session of each lap, (laps,) [-]
        number: number of each lap in its session, those left out counted too, (laps,) [-]
        offset: standard deviation of what a whole session may be off by, as the user states it [any]

    Returns:
        a ``Likeness`` [-]

    Errors:
        ``InputError`` for an offset below zero.

    Validity: ρ of 0 to 0.9, all held equally likely beforehand; sessions independent of each other. The interval is
    a bound for whatever ρ the laps leave possible: over 1,000 invented days of 8 and 8 laps it held the truth on 96 %
    at ρ = 0.8, 99 % at 0.5 and 0.3, 99.8 % at 0; with 15 and 15 on 97, 97, 98 and 99 % (``tests/test_alike.py``).
    """
    if not 0 <= offset < np.inf:
        raise InputError(
            [Problem("offset of a session", f"{offset:g} s", "must be zero or more", "state it in seconds")]
        )
    columns = y.reshape(len(y), -1)
    count, many = design.shape
    free = count - many
    sessions = len(np.unique(group))
    between = offset**2 * float(np.sum(contrast[:sessions] ** 2))
    size = np.abs(columns).max(axis=0)
    plain = contrast @ np.linalg.lstsq(design, columns, rcond=None)[0]
    if free < 2:
        return _shaped(y, _unbound(plain), _unbound(0.0 * plain, 0.0, 1.0))
    apart = np.abs(number[:, None] - number[None, :])
    same = group[:, None] == group[None, :]
    matrix = np.where(same, GRID[:, None, None] ** apart, 0.0)
    matrix[0] = np.eye(count)
    inverse = np.linalg.inv(matrix)
    inner = design.T @ inverse @ design
    cover = np.linalg.inv(inner)
    beta = cover @ (design.T @ inverse @ columns)  # (correlations, parameters, columns)
    left = columns - design @ beta
    rest = np.einsum("rik,rik->rk", left, inverse @ left)
    known = (np.ptp(columns, axis=0) > DUST * size) & (rest.min(axis=0) > (DUST * size) ** 2)
    rest = np.where(known, rest, 1.0)
    fixed = np.linalg.slogdet(matrix)[1] + np.linalg.slogdet(inner)[1]
    score = -0.5 * (fixed[:, None] + free * np.log(rest))
    weight = np.exp(score - score.max(axis=0))
    weight /= weight.sum(axis=0)
    value, spread = contrast @ beta, np.einsum("i,rij,j->r", contrast, cover, contrast)
    chi = free * (1 - 2 / (9 * free) + _LEVELS * np.sqrt(2 / (9 * free))) ** 3  # Wilson & Hilferty
    chance = np.exp(-0.5 * _LEVELS**2) * (chi > 0.05)
    chance /= chance.sum()
    sigma = np.sqrt((spread[:, None] * rest)[..., None] / np.maximum(chi, 0.05) + between)  # (…, columns, levels)
    both = weight[..., None] * chance

    def below(at: Array) -> Array:
        far = (at[..., None, :] - value)[..., None] / sigma / 2**0.5
        out: Array = np.sum(both * 0.5 * (1 + error_function(far)), axis=(-3, -1))
        return out

    def density(at: Array) -> Array:
        far = (at[..., None, :] - value)[..., None] / sigma
        out: Array = np.sum(both * np.exp(-0.5 * far**2) / sigma, axis=(-3, -1)) / np.sqrt(2 * np.pi)
        return out

    best = np.sum(weight * value, axis=0)
    reach = 12 * sigma.max(axis=(0, 2)) + np.ptp(value, axis=0)

    low, high = (np.stack([end, end]) for end in (best - reach, best + reach))  # of both ends of the interval
    ends = best + np.array([[-2.0], [2.0]]) * reach / 12
    for _ in range(60):  # Newton, or halves where it would leave what is known
        share = below(ends)
        under = share < _PARTS
        low, high = np.where(under, ends, low), np.where(under, high, ends)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            step = ends - (share - _PARTS) / density(ends)
        former, ends = ends, np.where((step >= low) & (step <= high), step, 0.5 * (low + high))
        if np.all(np.abs(ends - former) <= 1e-9 * reach):
            break
    tail = below(np.zeros_like(best))
    total = np.cumsum(weight, axis=0)
    low, high = (np.array([np.interp(q, one, GRID) for one in total.T]) for q in _PARTS[:, 0])
    change = Estimate(best, ends[0], ends[1], 2 * np.minimum(tail, 1 - tail))
    correlation = Estimate(GRID @ weight, low, high, weight[0])
    return _shaped(
        y, _where(known, change, _unbound(plain)), _where(known, correlation, _unbound(0.0 * plain, 0.0, 1.0))
    )


def _unbound(value: Array, low: float = -np.inf, high: float = np.inf) -> Estimate:
    one = np.ones_like(value)
    return Estimate(value, low * one, high * one, one)


def _where(known: Flags, one: Estimate, other: Estimate) -> Estimate:
    value, low, high, p = (np.where(known, a, b) for a, b in zip(_ends(one), _ends(other), strict=True))
    return Estimate(value, low, high, p)


def _shaped(y: Array, *found: Estimate) -> Likeness:
    """Return plain numbers for one column."""
    if y.ndim > 1:
        return Likeness(found[0], found[1])
    plain = []
    for one in found:
        value, low, high, p = (float(np.asarray(end)[0]) for end in _ends(one))
        plain.append(Estimate(value, low, high, p))
    return Likeness(plain[0], plain[1])


def _ends(one: Estimate) -> tuple[Array | float, Array | float, Array | float, Array | float]:
    return one.value, one.low, one.high, one.p


def plan_reach(
    laps: Sequence[int], spread: float, correlation: float = 0.0, offset: float = 0.0, learning: bool = False
) -> tuple[float, float]:
    """Return beforehand what a plan of laps can show: half the interval's width, and what it finds on 4 days of 5.

    ``se² = σ²·c(XᵀR⁻¹X)⁻¹cᵀ + τ²·Σc²``; half the width ``t·se``, found ``(t + 0.84)·se``.

    Parameters:
        laps: free laps of each session that count: two sessions, or three with the change taken back [-]
        spread: standard deviation of a driver's laps [s]
        correlation: between neighbouring laps [-]
        offset: standard deviation of what a whole session may be off by [s]
        learning: whether the driver's learning is allowed for [-]

    Returns:
        half the interval's width, and the difference that is shown on ``FOUND`` of days [s]

    Errors:
        ``InputError`` for a plan that cannot be compared.

    Validity: spread and correlation known; measured from the laps themselves they cost a little more.
    """
    sizes = [int(n) for n in laps]
    if len(sizes) not in (2, 3) or min(sizes) < 1 or sum(sizes) < len(sizes) + 1 + learning:
        got, rule = ", ".join(map(str, sizes)), "must be two or three sessions with laps to compare"
        raise InputError([Problem("laps that count", got, rule, "drive more laps, or leave fewer out")])
    group = np.repeat(np.arange(len(sizes)), sizes)
    design = (group[:, None] == np.arange(len(sizes))).astype(float)
    contrast = np.array([-1.0, 1.0] if len(sizes) == 2 else [-0.5, 1.0, -0.5])
    between = offset**2 * float(np.sum(contrast**2))
    if learning:
        practice = np.log(1.0 + np.arange(len(group)))
        design = np.column_stack([design, practice - practice.mean()])
        contrast = np.append(contrast, 0.0)
    number = np.arange(len(group), dtype=float)
    apart = np.abs(number[:, None] - number[None, :])
    matrix = np.where(group[:, None] == group[None, :], float(correlation) ** apart, 0.0)
    cover = np.linalg.inv(design.T @ np.linalg.solve(matrix, design))
    error = float(np.sqrt(spread**2 * (contrast @ cover @ contrast) + between))
    t = quantile_of_t(max(len(group) - design.shape[1], 3))
    return t * error, (t + 0.8416) * error
