"""A log at even moments; several logs as one logger would have written them: the same rows a second, the same noise.

The greatest of many readings grows with their noise, and what is read over a few rows depends on how far apart they
are. Logs of two loggers are therefore compared with the fewer rows and the larger noise of the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ..units import Array, Flags, brief
from .logfile import Log

COLUMNS = ("speed", "lateral", "longitudinal", "yaw_rate", "turn_x", "turn_y", "steer")
"""Columns that are given the same noise; positions are smoothed over longer than any noise of theirs."""
ALIKE = 0.05
"""Rows that come this much farther apart are as many [-]; our choice."""
TOLD = 1.25
"""A noise so many times larger is said [-]; our choice."""
MOVES = 8.0
"""Noise is read off rows faster than this [m/s]."""


def row_step(log: Log) -> float:
    """Return the usual time between two rows.

    Parameters:
        log: the log [-]

    Returns:
        time [s]
    """
    return float(np.median(np.diff(log.time)))


class Even:
    """Means of a log's columns round even moments."""

    def __init__(self, log: Log, least: float) -> None:
        """Lay the moments, ``least`` seconds apart, or as far as the log's rows are."""
        self.log_time = log.time
        usual = row_step(log)
        self.step = max(least, usual)
        self.time = np.arange(log.time[0], log.time[-1], self.step)
        at = np.clip(np.searchsorted(log.time, self.time), 1, len(log.time) - 1)
        same = log.run[at] == log.run[at - 1]
        self.inside: Flags = same & (log.time[at] - log.time[at - 1] < max(0.5, 3 * usual))
        self.fine = usual < 0.7 * self.step

    def __call__(self, value: Array) -> Array:
        """Return the means of one column."""
        known = np.isfinite(value)
        if not known.any():
            return np.full(len(self.time), np.nan)
        time, value = self.log_time[known], value[known]
        if self.fine:
            total = np.concatenate(([0.0], np.cumsum(0.5 * (value[1:] + value[:-1]) * np.diff(time))))
            low, high = np.clip([self.time - self.step / 2, self.time + self.step / 2], time[0], time[-1])
            wide = high - low
            out = (np.interp(high, time, total) - np.interp(low, time, total)) / np.where(wide > 0, wide, 1.0)
            out = np.where(wide > 0, out, np.interp(self.time, time, value))
        else:
            out = np.interp(self.time, time, value)
        if not known.all():
            at = np.clip(np.searchsorted(time, self.time), 1, len(time) - 1)
            out = np.where(time[at] - time[at - 1] > 0.5, np.nan, out)
        return np.asarray(out)


def as_one(logs: Sequence[Log]) -> list[tuple[Log, str]]:
    """Return logs as if one logger had written them: the fewest rows a second of all, the largest noise of each column.

    Parameters:
        logs: of the sessions that are compared [-]

    Returns:
        each log, and in words what it was for that, empty where that is nothing to speak of [-]

    Validity: noise is taken to be different from row to row; what a logger smooths away itself stays away. Noise is
    drawn by chance, the same at every call.
    """
    step = max(map(row_step, logs))
    thin = [with_rows(log, step) if row_step(log) < (1 - ALIKE) * step else log for log in logs]
    loud = [{c: noise(log, c) for c in COLUMNS if getattr(log, c) is not None} for log in thin]
    out = []
    for i, (log, own) in enumerate(zip(thin, loud, strict=True)):
        most = {c: max(other.get(c, 0.0) for other in loud) for c in own}
        rng = np.random.default_rng(i)
        more = {c: np.sqrt(max(most[c] ** 2 - own[c] ** 2, 0.0)) for c in own}
        louder: dict[str, Any] = {
            c: getattr(log, c) + size * rng.standard_normal(len(log.time)) for c, size in more.items() if size
        }
        said = []
        if log is not logs[i]:
            said.append(f"thinned to {brief(1 / step, 3)} rows a second")
        if any(most[c] > TOLD * own[c] for c in louder):
            said.append("made as noisy")
        words = f"{' and '.join(said)}, to match another log of the day" if said else ""
        out.append((replace(log, **louder), words))
    return out


def with_rows(log: Log, step: float) -> Log:
    """Return a log with rows farther apart, each the mean round its moment.

    Parameters:
        log: the log [-]
        step: time between two rows [s]

    Returns:
        a ``Log`` without lap numbers and logged distance [-]
    """
    even = Even(log, step)
    keep = even.inside
    time = even.time[keep]
    at = np.clip(np.searchsorted(log.time, time), 0, len(log.time) - 1)
    rows: dict[str, Any] = {c: even(getattr(log, c))[keep] for c in (*COLUMNS, "x", "y") if getattr(log, c) is not None}
    return replace(log, time=time, run=log.run[at], row=log.row[at], lap=None, distance=None, **rows)


def noise(log: Log, column: str) -> float:
    """Return how far a column scatters from row to row: ``median|second difference|/(0.6745·√6)``.

    Parameters:
        log: the log [-]
        column: one of ``COLUMNS`` [-]

    Returns:
        standard deviation of a noise that differs from row to row [any]
    """
    bend = np.abs(np.diff(getattr(log, column), 2))
    moves = (log.speed[1:-1] > MOVES) & (log.run[2:] == log.run[:-2]) & np.isfinite(bend)
    return float(np.median(bend[moves])) / 0.6745 / 6**0.5 if moves.any() else 0.0
