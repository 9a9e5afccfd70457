"""An interval and a p-value for a weighted sum of laps, without the table of t.

The interval is a studentised bootstrap: residuals are drawn again, each figure is divided by its own standard error,
and the 95 % quantile takes the place of the table of t. The p-value is from shuffled residuals, which for the plain
difference of two sessions are the laps themselves. How often both are right is measured on invented days in
``tests/test_evidence.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..units import Array, Flags

LEVEL = 0.95
"""Part of days on which such an interval holds the true value."""
DRAWS = 2000
DUST = 1e-9
"""Scatter below this part of the size of what was measured is none: rounding leaves that."""
FARTHEST = 12.7
"""Most standard errors that an interval may reach: the 97.5 % quantile of t with one degree of freedom. Draws that ask
for more hold too little scatter to divide by."""
MOST_LAPS = 300
"""Most laps that ``estimate`` takes: its work grows with their square, and no day has as many."""


@dataclass(frozen=True)
class Estimate:
    """One figure with its 95 % interval and p-value; an infinite end means that these laps set no bound."""

    value: Array | float
    low: Array | float
    high: Array | float
    p: Array | float

    @property
    def shown(self) -> Flags:
        """True where it differs from zero: the interval leaves zero out and p is at most 5 %."""
        out: Flags = ((np.asarray(self.low) > 0) | (np.asarray(self.high) < 0)) & (
            np.asarray(self.p) <= 1 - LEVEL + 1e-12
        )
        return out


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
        ``InputError`` where there are no more laps than parameters, or more than ``MOST_LAPS``.

    Validity: laps that scatter independently of each other; laps alike to the last digit give no scatter to judge by,
    so the interval has no bound and p is 1. Nor has it one where more than 5 % of the draws give each session laps that
    are nearly alike, as with two laps each. Standard error ``√Σ w²r²/(1 − h)``, which for two sessions is Welch's; the
    spreads of the sessions are drawn toward their common one with the weight of one lap.

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
    if count > MOST_LAPS:
        raise InputError([Problem("laps", str(count), f"must be at most {MOST_LAPS} in all", "leave some of them out")])
    inverse = np.linalg.pinv(design)
    weight, rest = contrast @ inverse, np.eye(count) - design @ inverse
    loose = np.maximum(np.diag(rest), 1e-12)  # 1 − h; a lap alone in its session has none
    alone = np.diag(rest) < 1e-9
    scale = weight**2 / loose * ~alone

    def error(values: Array) -> Array:
        out: Array = np.sqrt(np.einsum("...nk,n->...k", (rest @ values) ** 2, scale))
        return np.where(out <= DUST * np.abs(values).max(axis=-2), 0.0, out)  # laps alike leave rounding, no scatter

    value, sigma = weight @ columns, error(columns)
    alike = sigma == 0  # such laps say nothing about how far laps scatter, so they set no bound
    value = np.where(np.abs(value) <= DUST * np.abs(columns).max(axis=0), 0.0, value)
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
    unbound = (factor > FARTHEST) | bool(alone.any() and np.any(weight[alone] != 0))
    reach = np.where(unbound, np.inf, np.minimum(factor, FARTHEST) * sigma)
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
    p = (1 + (chance >= seen * (1 - 1e-9) - 1e-9).sum(axis=0)) / (draws + 1)
    reach, p = np.where(alike, np.inf, reach), np.where(alike, 1.0, p)
    if y.ndim == 1:
        return Estimate(float(value[0]), float(value[0] - reach[0]), float(value[0] + reach[0]), float(p[0]))
    return Estimate(value, value - reach, value + reach, p)


def _orthogonal(contrast: Array) -> Array:
    """Return the directions in which the contrast is zero, one a column."""
    _, _, rows = np.linalg.svd(contrast[None, :])
    other: Array = rows[1:].T
    return other
