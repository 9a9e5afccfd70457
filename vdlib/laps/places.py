"""Positions of a log: what no car can have done is emptied, and the way by positions is held against that by speed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..units import Array, Flags
from . import text
from .columns import CHANNELS, Columns
from .text import counted, fault

_EARTH = 6_371_008.8  # mean radius of the Earth [m]
FAR = 50e3
"""Farthest from the middle of all positions that one may lie [m]."""
SPARE = 25.0
"""How much farther than twice the way driven two positions may lie apart [m]."""
HOLE = 2.0
"""Longest hole filled by a straight line; longest time that a position may be held while the car moves [s]."""
_PIECES = 2000  # more breaks than this and the positions place nothing


def to_plane(latitude: Array, longitude: Array, origin: tuple[float, float]) -> tuple[Array, Array]:
    """Lay positions on a plane: ``x = R·cos(lat₀)·(lon − lon₀)``, ``y = R·(lat − lat₀)``.

    Parameters:
        latitude: any shape, degrees as in a log [-]
        longitude: the same shape, degrees as in a log [-]
        origin: latitude and longitude of x = y = 0, degrees [-]

    Returns:
        x to the east and y to the north [m]

    Validity: within some 20 km of the origin; the Earth taken as a ball of radius 6371.0088 km.
    """
    lat0, lon0 = np.radians(origin)
    return _EARTH * np.cos(lat0) * (np.radians(longitude) - lon0), _EARTH * (np.radians(latitude) - lat0)


def possible_degrees(
    latitude: Array, longitude: Array, names: tuple[str, str], row: NDArray[np.int64], where: str, notes: list[str]
) -> tuple[Array, Array]:
    """Empty the rows without a fix (0, 0) and those that are no place on the Earth.

    Parameters:
        latitude: as logged, degrees, (rows,) [-]
        longitude: likewise [-]
        names: names of the two columns [-]
        row: lines of the file [-]
        where: the file [-]
        notes: what was emptied is added here [-]

    Returns:
        latitude and longitude, NaN in those rows [-]

    Errors:
        ``InputError`` where most rows are no place on the Earth.
    """
    none = (latitude == 0) & (longitude == 0)
    off = (np.abs(latitude) > 90) | (np.abs(longitude) > 180)
    if off.sum() > 0.5 * np.isfinite(latitude).sum():
        column, value, most = next(
            (n, v, m) for n, v, m in zip(names, (latitude, longitude), (90, 180), strict=True) if (np.abs(v) > m).any()
        )
        at = int(np.flatnonzero(np.abs(value) > most)[0])
        got, rule = f"{value[at]:.6g} in row {row[at]}", f"must be within {most} degrees either way"
        turned = np.nanmax(np.abs(latitude)) <= 180 and np.nanmax(np.abs(longitude)) <= 90
        remedy = "write positions in degrees with decimals"
        remedy = f"are {names[0]!r} and {names[1]!r} the wrong way round? Else {remedy}" if turned else remedy
        raise fault(f"column {column!r}", got, rule, remedy, where)
    if (none | off).any():
        notes.append(f"positions: {counted(int((none | off).sum()), 'row')} without a fix (0, 0), taken as empty")
    bad = none | off | np.isnan(latitude) | np.isnan(longitude)
    return np.where(bad, np.nan, latitude), np.where(bad, np.nan, longitude)


def cleaned(
    x: Array, y: Array, time: Array, way: Array, run: NDArray[np.int64], notes: list[str]
) -> tuple[Array, Array]:
    """Empty positions that no car can have had, then fill holes of up to two seconds by a straight line.

    Parameters:
        x: as logged, NaN where empty, (rows,) [m]
        y: likewise [m]
        time: running time [s]
        way: way driven by the speed [m]
        run: unbroken piece of each row [-]
        notes: what was done is added here [-]

    Returns:
        x and y, NaN where not known [m]

    Validity: two positions of one run lie at most twice the way since the first was new and ``SPARE`` apart; of pieces
    that contradict each other the longer ones are kept. Rows are kept: speed and forces in them count all the same.
    """
    bad = np.isnan(x) | np.isnan(y)
    empty = int(bad.sum())
    if not bad.all():
        bad = bad | (np.hypot(x - np.median(x[~bad]), y - np.median(y[~bad])) > FAR)
    held = ~bad
    for _ in range(2):  # a frozen stretch may hide a jump, and a jump a frozen stretch
        held = held & ~_frozen(x, y, time, way, held)
        held = held & _together(x, y, way, run, held)
    odd = int((~held).sum()) - empty
    if odd:
        notes.append(
            f"positions: {counted(odd, 'row')} with a place where the car cannot have been (a jump, or the "
            "same place while it moved), taken as empty"
        )
    if not held.any():
        return np.full(len(x), np.nan), np.full(len(x), np.nan)
    at = np.flatnonzero(held)
    before = np.searchsorted(at, np.arange(len(x)), side="right") - 1
    left, right = at[np.maximum(before, 0)], at[np.minimum(before + 1, len(at) - 1)]
    near = held | (
        (before >= 0) & (before + 1 < len(at)) & (time[right] - time[left] <= HOLE) & (run[right] == run[left])
    )
    if not near.all():
        notes.append(f"positions: not known in {counted(int((~near).sum()), 'row')}; speed and forces there are used")
    return tuple(np.where(near, np.interp(time, time[at], c[at]), np.nan) for c in (x, y))  # type: ignore[return-value]


def _frozen(x: Array, y: Array, time: Array, way: Array, held: Flags) -> Flags:
    """Mark rows that repeat a position for longer than ``HOLE`` while the car moved on."""
    at = np.flatnonzero(held)
    if len(at) < 2:
        return np.zeros(len(x), dtype=bool)
    new = np.concatenate(([True], (np.diff(x[at]) != 0) | (np.diff(y[at]) != 0)))
    first = at[new]
    last = np.concatenate((at[np.flatnonzero(new)[1:] - 1], at[-1:]))
    long = (time[last] - time[first] > HOLE) & (way[last] - way[first] > SPARE)
    out = np.zeros(len(x), dtype=bool)
    for a, b in zip(first[long], last[long], strict=True):
        out[a + 1 : b + 1] = True
    return out


def _together(x: Array, y: Array, way: Array, run: NDArray[np.int64], held: Flags) -> Flags:
    """Keep the pieces that can belong to one drive, from the longest piece outward."""
    at = np.flatnonzero(held)
    if len(at) < 2:
        return held
    since = way.copy()  # the way when a place was new: one held for a moment is old when the next comes
    new = np.concatenate(([True], (np.diff(x[at]) != 0) | (np.diff(y[at]) != 0)))
    since[at] = way[at[np.maximum.accumulate(np.where(new, np.arange(len(at)), 0))]]

    def agree(a: NDArray[np.int64], b: NDArray[np.int64]) -> Flags:
        near: Flags = np.hypot(x[b] - x[a], y[b] - y[a]) <= 2 * np.abs(way[b] - since[a]) + SPARE
        out: Flags = near | (run[a] != run[b])
        return out

    breaks = np.flatnonzero(~agree(at[:-1], at[1:])) + 1
    if not len(breaks):
        return held
    out = held.copy()
    if len(breaks) > _PIECES:
        out[:] = False
        return out
    pieces = np.split(at, breaks)
    longest = int(np.argmax([len(piece) for piece in pieces]))
    for order, ahead in ((range(longest + 1, len(pieces)), True), (range(longest - 1, -1, -1), False)):
        known = pieces[longest]
        for i in order:
            piece = pieces[i]
            one, other = (known[-1:], piece[:1]) if ahead else (piece[-1:], known[:1])
            if bool(agree(one, other)[0]):
                known = piece
            else:
                out[piece] = False
    return out


def beside_speed(
    x: Array,
    y: Array,
    time: Array,
    way: Array,
    run: NDArray[np.int64],
    chosen: Columns,
    swapped: tuple[Array, Array] | None = None,
) -> list[str]:
    """Hold the way by positions against the way by speed, second by second, and say where they differ.

    Parameters:
        x: positions, NaN where not known, (rows,) [m]
        y: likewise [m]
        time: running time [s]
        way: way driven by the speed [m]
        run: unbroken piece of each row [-]
        chosen: channel → (column, unit) [-]
        swapped: x and y with latitude and longitude the other way round; None where the file has neither [m]

    Returns:
        one sentence, or none [-]

    Validity: half of the seconds driven faster than 8 m/s are within 5 %.
    """
    step = max(1, round(1.0 / max(float(np.median(np.diff(time))), 1e-3)))
    a, b = slice(None, -step, step), slice(step, None, step)

    def far(x: Array, y: Array) -> float | None:
        chord, driven = np.hypot(x[b] - x[a], y[b] - y[a]), way[b] - way[a]
        use = np.isfinite(chord) & (run[b] == run[a]) & (driven > 8.0)
        return float(np.median(chord[use] / driven[use])) if use.sum() >= 10 else None

    ratio = far(x, y)
    if ratio is None or 0.95 < ratio < 1.05:
        return []
    unit = chosen["speed"][1]
    fits = [
        f"the speed is in {other}, not in {unit}"
        for other in CHANNELS["speed"][1]
        if other != unit and abs(text.FACTORS[other] / text.FACTORS[unit] / ratio - 1) < 0.04
    ]
    other = None if swapped is None else far(*swapped)
    if other is not None and 0.95 < other < 1.05:
        fits.append("latitude and longitude are the wrong way round")
    hint = f": that is so where {', or '.join(fits)}" if fits else ": one of the two is wrong"
    words = f"check the units: the positions are {ratio:.2f} times as far apart as the speed says{hint}"
    return [words]
