"""Laps told from speed alone: after which way the speeds repeat, and which places look like the line."""

from __future__ import annotations

import numpy as np

from ..checks import InputError, Problem
from ..units import Array

STEP = 2.0
"""Distance between the stations at which speed is looked at [m]."""
REACH = 150
"""Stations either side of the line that are held against each other [-]."""


def repeating(way: Array, speed: Array, like: Array | None) -> tuple[Array, str]:
    """Find the places at which laps begin from speeds that repeat.

    Parameters:
        way: distance driven, rising, (rows,) [m]
        speed: speed there, (rows,) [m/s]
        like: the course's speed every ``STEP`` metres from its line, where it is known [m/s]

    Returns:
        distance driven at which each lap begins [m]; how sure that is, in words [-]

    Errors:
        ``InputError`` for a way too short to hold two laps, or speeds that do not repeat.
    """
    stations = np.arange(0.0, way[-1], STEP)
    if len(stations) < 400:
        raise _too_short(float(way[-1]))
    speed = np.interp(stations, way, speed)
    lag, likeness, next_best = _repeat(speed, None if like is None else len(like))
    if like is None:
        middle = int(np.argmax(speed[lag // 2 : -(lag // 2)])) + lag // 2
        middle = min(max(middle, REACH), len(speed) - REACH - 1)
        shape = speed[middle - REACH : middle + REACH + 1]
    else:
        shape = np.concatenate((like[-REACH:], like[: REACH + 1]))
    taps = len(shape)
    square = np.concatenate(([0.0], np.cumsum(speed**2)))
    miss = square[taps:] - square[:-taps] - 2 * np.correlate(speed, shape, "valid") + np.sum(shape**2)
    found = [int(np.argmin(miss))]
    for sign in (1, -1):  # outward from the best match, a lap at a time
        here = found[0]
        while True:
            low, high = sorted((here + sign * int(0.94 * lag), here + sign * int(1.06 * lag)))
            if low < 0 or high >= len(miss):
                break
            here = low + int(np.argmin(miss[low : high + 1]))
            found.append(here)
    at = np.array(sorted(found))
    inner = np.clip(at, 1, len(miss) - 2)
    bend = miss[inner - 1] - 2 * miss[inner] + miss[inner + 1]
    shift = np.where(bend > 0, 0.5 * (miss[inner - 1] - miss[inner + 1]) / np.where(bend > 0, bend, 1.0), 0.0)
    place = (at + REACH + np.clip(shift, -1, 1)) * STEP
    words = f"speeds repeat every {lag * STEP:.0f} m with a likeness of {likeness:.2f} (1 is the same every lap)"
    if likeness < 0.8:
        words += "; that is weak: check the number of laps against what you drove"
    if next_best > likeness - 0.15:
        words += "; a shorter way repeats almost as well, so a lap may be two laps"
    return np.asarray(place), words


def _repeat(speed: Array, expected: int | None) -> tuple[int, float, float]:
    """Find after how many stations speed repeats: (lag, its correlation, the best correlation at shorter lags)."""
    size = len(speed)
    low, high = int(400 / STEP), size // 2
    if expected is not None:
        low, high = int(0.9 * expected), min(int(1.1 * expected), size - expected // 4)
    if high <= low:
        raise _too_short(size * STEP)
    level = speed - speed.mean()
    length = 1 << (2 * size - 1).bit_length()
    spectrum = np.fft.rfft(level, length)
    product = np.fft.irfft(np.abs(spectrum) ** 2, length)[:high]
    total, square = np.concatenate(([0.0], np.cumsum(level))), np.concatenate(([0.0], np.cumsum(level**2)))
    lags = np.arange(high)
    count = size - lags
    head, tail = total[count] / count, (total[-1] - total[lags]) / count
    spread = (square[count] / count - head**2) * ((square[-1] - square[lags]) / count - tail**2)
    likeness = (product / count - head * tail) / np.sqrt(np.maximum(spread, 1e-12))
    peak = np.flatnonzero((likeness[1:-1] >= likeness[:-2]) & (likeness[1:-1] >= likeness[2:])) + 1
    peak = peak[peak >= low]
    if not len(peak):
        raise InputError([Problem("the log", "no speeds that repeat", "must hold two laps", "mark the laps by hand")])
    best = int(peak[np.argmax(likeness[peak])])
    # two laps can look more alike than one, where traffic held up the one between: take the shortest even part
    parts = best / peak
    even = (np.abs(parts - np.round(parts)) < 0.02 * parts) & (likeness[peak] > likeness[best] - 0.3)
    lag = int(peak[even].min())
    shorter = likeness[peak[peak < lag]]
    return lag, float(likeness[lag]), float(shorter.max()) if len(shorter) else -1.0


def _too_short(length: float) -> InputError:
    rule = "must hold two laps to find them by speed"
    return InputError([Problem("the log", f"{length:.0f} m", rule, "mark the laps by hand")])
