"""What a plan of laps can find, said beforehand: as found from laps that also have to show how alike they are.

With the likeness known, ``alike.plan_reach`` says it in closed form. Found out from the laps themselves it costs more
where laps are few and less alike than they might be; by how much was simulated, once, and is kept here as a factor.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..units import Array
from .alike import FOUND, allow_for_likeness, plan_reach
from .bootstrap import estimate

LAPS = (3, 4, 5, 6, 8, 10, 12, 15)
"""Laps of each session that were simulated."""
LIKENESS = (0.0, 0.2, 0.4, 0.6, 0.8)
"""Likenesses of neighbouring laps that were simulated."""
PLANS = ((2, False), (2, True), (3, True))
"""Sessions, and whether the driver's learning is allowed for."""
DAYS, DRAWS = 600, 299


def simulated(
    sizes: Sequence[int], likeness: float, learning: bool, offset: float = 0.0, days: int = DAYS, seed: int = 1
) -> tuple[float, float]:
    """Drive a plan of laps on many days, and see what is found.

    Parameters:
        sizes: laps of each session that count [-]
        likeness: between neighbouring laps [-]
        learning: whether the driver's learning is allowed for [-]
        offset: standard deviation of what a whole session is off by, over that of the laps [-]
        days: how many days [-]
        seed: seed of the random laps [-]

    Returns:
        usual half width of the interval to go by, and the difference that all figures show on ``FOUND`` of days, both
        over the standard deviation of the laps [-]

    Validity: laps that scatter normally; the intervals are those of ``evidence.compare``, its shuffling left out.
    """
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(len(sizes)), sizes)
    laps = rng.standard_normal((len(group), days))
    for i in range(1, len(group)):
        if group[i] == group[i - 1]:
            laps[i] = likeness * laps[i - 1] + np.sqrt(1 - likeness**2) * laps[i]
    laps += offset * rng.standard_normal((len(sizes), days))[group]
    flat = (group[:, None] == np.arange(len(sizes))).astype(float)
    contrast = np.array([-1.0, 1.0] if len(sizes) == 2 else [-0.5, 1.0, -0.5])
    number = np.concatenate([np.arange(n, dtype=float) for n in sizes])
    alike = allow_for_likeness(laps, flat, contrast, group, number, offset).change
    low, half = [np.asarray(alike.low)], [(np.asarray(alike.high) - np.asarray(alike.low)) / 2]
    practice = np.log(1.0 + np.arange(len(group)))
    sloped = np.column_stack([flat, practice - practice.mean()])
    for design, c in ((flat, contrast), (sloped, np.append(contrast, 0.0)))[: 1 + learning]:
        parts = np.array_split(np.arange(days), max(1, days // 100))
        ends = [estimate(laps[:, part], design, c, group, seed, DRAWS) for part in parts]
        low.append(np.concatenate([np.asarray(one.low) for one in ends]))
        half.append(np.concatenate([(np.asarray(one.high) - np.asarray(one.low)) / 2 for one in ends]))
    return float(np.median(np.max(half, axis=0))), float(np.quantile(-np.min(low, axis=0), FOUND))


def costs(days: int = DAYS) -> Array:
    """Simulate every plan, as ``COST`` keeps it.

    Parameters:
        days: how many days of each [-]

    Returns:
        what is simulated over what the closed form says: half width and difference found, (2, plans, laps, likenesses)
        [-]
    """
    out = np.empty((2, len(PLANS), len(LAPS), len(LIKENESS)))
    for i, (sessions, learning) in enumerate(PLANS):
        for j, laps in enumerate(LAPS):
            for k, likeness in enumerate(LIKENESS):
                sizes = [laps] * sessions
                out[:, i, j, k] = np.array(simulated(sizes, likeness, learning, days=days)) / np.array(
                    plan_reach(sizes, 1.0, likeness, 0.0, learning)
                )
    return out


COST = np.array([
    [  # half the interval
        [  # before, after; nobody learns
            [2.09, 1.69, 1.33, 1.01, 0.65], [2.17, 1.75, 1.40, 1.06, 0.69], [2.16, 1.79, 1.45, 1.10, 0.71],
            [2.03, 1.72, 1.42, 1.09, 0.73], [1.78, 1.63, 1.46, 1.20, 0.82], [1.55, 1.47, 1.39, 1.22, 0.85],
            [1.42, 1.36, 1.36, 1.25, 0.92], [1.31, 1.26, 1.31, 1.30, 0.98],
        ],
        [  # before, after; learning allowed for
            [1.21, 1.07, 0.93, 0.75, 0.55], [1.33, 1.15, 0.99, 0.81, 0.59], [1.33, 1.16, 1.01, 0.83, 0.61],
            [1.30, 1.14, 1.00, 0.82, 0.61], [1.21, 1.11, 1.02, 0.89, 0.68], [1.14, 1.03, 0.97, 0.90, 0.70],
            [1.08, 0.99, 0.95, 0.92, 0.75], [1.05, 0.93, 0.92, 0.96, 0.79],
        ],
        [  # before, after, before again; learning allowed for
            [1.89, 1.57, 1.27, 1.00, 0.65], [1.92, 1.62, 1.32, 1.02, 0.69], [1.81, 1.58, 1.34, 1.06, 0.72],
            [1.65, 1.51, 1.33, 1.10, 0.78], [1.45, 1.39, 1.34, 1.19, 0.88], [1.28, 1.21, 1.22, 1.18, 0.89],
            [1.20, 1.14, 1.18, 1.19, 0.96], [1.14, 1.09, 1.12, 1.19, 1.00],
        ],
    ],
    [  # found on 4 days of 5
        [  # before, after; nobody learns
            [2.13, 1.76, 1.40, 1.08, 0.78], [2.16, 1.77, 1.43, 1.11, 0.78], [2.06, 1.73, 1.42, 1.13, 0.82],
            [1.91, 1.68, 1.43, 1.14, 0.83], [1.75, 1.60, 1.47, 1.24, 0.93], [1.56, 1.52, 1.43, 1.26, 0.95],
            [1.46, 1.45, 1.46, 1.33, 1.00], [1.36, 1.37, 1.42, 1.38, 1.04],
        ],
        [  # before, after; learning allowed for
            [1.43, 1.24, 1.05, 0.88, 0.70], [1.38, 1.22, 1.07, 0.88, 0.70], [1.33, 1.15, 1.01, 0.89, 0.72],
            [1.31, 1.17, 1.04, 0.91, 0.73], [1.25, 1.16, 1.08, 0.97, 0.79], [1.18, 1.10, 1.06, 0.98, 0.79],
            [1.14, 1.09, 1.08, 1.00, 0.83], [1.11, 1.04, 1.02, 1.02, 0.85],
        ],
        [  # before, after, before again; learning allowed for
            [1.82, 1.55, 1.28, 1.03, 0.74], [1.79, 1.51, 1.28, 1.04, 0.78], [1.71, 1.53, 1.35, 1.12, 0.84],
            [1.64, 1.52, 1.39, 1.17, 0.86], [1.41, 1.40, 1.35, 1.20, 0.92], [1.29, 1.31, 1.31, 1.21, 0.95],
            [1.22, 1.23, 1.29, 1.27, 1.01], [1.15, 1.16, 1.23, 1.26, 1.06],
        ],
    ],
])  # fmt: skip
"""What finding the likeness out from the laps costs: simulated over closed form, as of ``costs``; by plan, laps and
likeness [-]."""


def promised(
    sessions: int, laps: int, spread: float, likeness: float = 0.0, offset: float = 0.0, learning: bool = False
) -> tuple[float, float]:
    """Return beforehand what a plan of laps shows: half the interval's usual width, and what is found on 4 days of 5.

    Parameters:
        sessions: two, or three with the change taken back [-]
        laps: free laps that count in each of them [-]
        spread: standard deviation of a driver's laps [s]
        likeness: between neighbouring laps, 0 to 0.8 [-]
        offset: standard deviation of what a whole session may be off by [s]
        learning: whether the driver's learning is allowed for [-]

    Returns:
        half the interval's usual width, and the difference that is shown on ``FOUND`` of days; infinite where so few
        laps never show one [s]

    Validity: 3 to 15 laps; between the plans simulated the cost is read off straight lines. The share of days on which
    ``evidence.compare`` finds the promised difference is counted in ``tests/test_plans.py``.
    """
    if laps < LAPS[0]:
        return np.inf, np.inf
    cost = COST[:, PLANS.index((sessions, learning))]
    by_laps = [[float(np.interp(np.log(laps), np.log(LAPS), row)) for row in of.T] for of in cost]
    sizes = [laps] * sessions
    bare, whole = (plan_reach(sizes, spread, likeness, off, learning) for off in (0.0, offset))
    half, found = (
        float(np.sqrt((float(np.interp(likeness, LIKENESS, rows)) * one) ** 2 + all_of**2 - one**2))
        for rows, one, all_of in zip(by_laps, bare, whole, strict=True)
    )
    never = sessions == 2 and laps == LAPS[0]  # of 20 ways to deal six laps out, two differ as much: 10 of 100
    return half, np.inf if never else found
