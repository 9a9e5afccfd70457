"""Reading a logger's table: any column names, units and delimiters, the unit of speed never guessed.

``look`` says what the file holds, ``guess`` proposes which column is what, ``read`` gives the numbers in SI.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..shown import says
from ..units import Array, Flags, brief, from_si
from . import places, text
from .columns import (
    CHANNELS,
    PAIRS,
    ColumnQuestion,
    Columns,
    UnitQuestion,
    ask_where_two_fit,
    guess,
    recall,
    remember,
    whole_pairs,
)
from .rows import BAD_LEAST, BAD_SHARE, LeftOut, table
from .text import Look, counted, fault, look

__all__ = [
    "CHANNELS",
    "ColumnQuestion",
    "Columns",
    "Log",
    "Look",
    "UnitQuestion",
    "ask_where_two_fit",
    "guess",
    "look",
    "read",
    "recall",
    "remember",
    "whole_pairs",
]

MAX_BYTES = 500_000_000
"""Largest file read; see also ``rows.MAX_ROWS``."""
LARGE_BYTES = 100_000_000
"""From this size on a note says that the file was read in blocks."""
FASTEST = 140.0
"""No car on a circuit is faster [m/s]."""
_LEAST = -1.0  # m/s: a speed below it is no noise round zero
WILD = "with a speed that no car has, the rows beside them in order"
_OPTIONAL = ("longitudinal", "yaw_rate", "turn_x", "turn_y", "steer", "latitude", "longitude", "x", "y", "distance")
"""Channels whose longer holes stay empty: no reason to leave out a row."""


@dataclass(frozen=True)
class Log:
    """What a log holds, row by row, in SI; time runs on without a step back, ``run`` counts the unbroken pieces."""

    time: Array  # [s]
    speed: Array  # [m/s]
    run: NDArray[np.int64]  # [-]
    row: NDArray[np.int64]  # line of the file [-]
    lateral: Array | None = None  # [m/s²]
    longitudinal: Array | None = None  # NaN where not known [m/s²]
    yaw_rate: Array | None = None  # about the upright axis, as logged, NaN where not known [rad/s]
    turn_x: Array | None = None  # about the two other axes of the logger, likewise [rad/s]
    turn_y: Array | None = None  # [rad/s]
    steer: Array | None = None  # as logged, at the wheel or the road wheels, degrees [-]
    lap: Array | None = None  # [-]
    x: Array | None = None  # [m], east of the origin where the file has latitude and longitude; NaN where not known
    y: Array | None = None  # [m], north of it
    distance: Array | None = None  # as logged [m]
    origin: tuple[float, float] | None = None  # latitude and longitude of x = y = 0 [deg]
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()  # those of the notes that say that columns contradict each other
    left_out: Mapping[str, int] = field(default_factory=dict)  # reason in words → lines of the file left out
    lap_good_to: float = 0.0  # how late the lap column may tell that a lap began [s]
    columns: Columns = field(default_factory=dict)
    path: Path | None = None

    @property
    def travelled(self) -> Array:
        """Way driven since the first row, by adding up speed over time within each run [m]."""
        step = 0.5 * (self.speed[1:] + self.speed[:-1]) * np.diff(self.time)
        step = np.where(np.diff(self.run) == 0, np.maximum(step, 0.0), 0.0)
        return np.concatenate(([0.0], np.cumsum(step)))


def read(path: str | Path, columns: Mapping[str, tuple[str, str]] | None = None) -> Log:
    """Read a log in SI, block by block.

    Parameters:
        path: a text table: commas, semicolons, tabs or bars between columns, decimal point or comma [-]
        columns: channel → (column, unit), from ``CHANNELS``; None for what ``guess`` says [-]

    Returns:
        a ``Log``; what was left out, filled or taken for granted stands in its ``notes`` [-]

    Errors:
        ``UnitQuestion`` or ``ColumnQuestion`` where a unit or a column must be asked for; ``InputError`` in words, with
        row and column, for the rest.

    Validity: files up to ``MAX_BYTES`` and three million rows; cells left empty for up to two seconds are filled by a
    straight line; a longer hole, or a clock that starts again, begins a new run.
    """
    source = Path(path)
    found = look(source)
    where = source.name
    size = os.path.getsize(source)
    if size > MAX_BYTES:
        raise fault("the file", f"{size / 1e6:.0f} MB", f"must be at most {MAX_BYTES / 1e6:.0f} MB",
                     "cut it to one day, or write fewer rows a second", where)  # fmt: skip
    if columns is None:
        ask_where_two_fit(found, where)
    chosen = dict(columns) if columns is not None else guess(found)
    _check_columns(chosen, found, where)
    notes = list(found.notes)
    if size > LARGE_BYTES:
        notes.append(f"a large file ({size / 1e6:.0f} MB): read in blocks, only the columns that are needed are kept")
    names = list(chosen)
    out = LeftOut()
    wanted = [found.columns.index(chosen[c][0]) for c in names]
    need = [found.columns.index(chosen[c][0]) for c in ("time", "speed")]
    read_rows = table(source, found, wanted, need, out, notes)
    if not len(read_rows.row):
        raise fault("the file", "no rows", "must hold rows of numbers", "choose a log with laps in it", where)
    raw = dict(zip(names, read_rows.values, strict=True))
    chosen = {c: (chosen[c][0], _unit(c, chosen[c], found, raw, notes, where)) for c in names}
    values = {c: raw[c] * text.FACTORS[chosen[c][1]] for c in names}
    return _assemble(values, read_rows.row, chosen, out, notes, source)


def _check_columns(chosen: Mapping[str, tuple[str, str]], found: Look, where: str) -> None:
    have = "the columns are " + ", ".join(repr(c) for c in found.columns[:30])
    problems = []
    for need in ("time", "speed"):
        if need not in chosen:
            problems.append(Problem(CHANNELS[need][0], "", "must be one of the columns", f"say which; {have}"))
    for channel, (column, unit) in chosen.items():
        if channel not in CHANNELS:
            problems.append(Problem("channel", repr(channel), "must be known", f"choose from {', '.join(CHANNELS)}"))
        elif column not in found.columns:
            problems.append(Problem(CHANNELS[channel][0], repr(column), "must name a column of the file", have))
        elif unit and unit not in CHANNELS[channel][1]:
            rule = "must be one of " + ", ".join(CHANNELS[channel][1])
            problems.append(Problem(f"unit of {CHANNELS[channel][0]}", repr(unit), rule, "choose one"))
    for one, other in (*PAIRS, *(pair[::-1] for pair in PAIRS)):
        if one in chosen and other not in chosen:
            problems.append(Problem(CHANNELS[other][0], "", f"must be there with {one}", "give both or neither"))
    if problems:
        raise InputError(problems, where)


def _unit(
    channel: str, wanted: tuple[str, str], found: Look, raw: Mapping[str, Array], notes: list[str], where: str
) -> str:
    """Settle the unit of one channel: the caller's, the file's, the only one there is, or a question."""
    column, unit = wanted
    place = found.columns.index(column)
    allowed = CHANNELS[channel][1]
    if channel == "time" and found.clock[place]:
        return "clock"
    unit = unit or (found.units[place] if found.units[place] in allowed else "")
    if unit or len(allowed) == 1:
        return unit or allowed[0]
    good = raw[channel][np.isfinite(raw[channel])]
    top = float(np.max(np.abs(good))) if good.size else 0.0
    if channel == "time":
        step = float(np.median(np.abs(np.diff(good)))) if good.size > 1 else 0.0
        if step < 1.5 and np.ptp(good) < 86_400:
            notes.append(f"column {column!r} has no stated unit: taken to be seconds, one row every {step:.3g} s")
            return "s"
        says = {u: f"{u} (one row every {brief(step * text.FACTORS[u], 4)} s)" for u in ("s", "ms")}
    elif channel == "speed":
        says = {u: f"{u} (top speed {top:.0f} {u}, that is {_also(top, u)})" for u in allowed}
    else:
        says = {u: f"{u} (largest value {brief(top, 4)} {u})" for u in allowed}
    raise UnitQuestion(channel, column, says, where)


def _also(top: float, unit: str) -> str:
    other = "mph" if unit == "km/h" else "km/h"
    return f"{top * text.FACTORS[unit] / text.FACTORS[other]:.0f} {other}"


def _assemble(
    values: dict[str, Array], row: NDArray[np.int64], chosen: Columns, out: LeftOut, notes: list[str], source: Path
) -> Log:
    where = source.name
    keep = np.isfinite(values["time"])
    out.add("without a time", row[~keep])
    values, row = {c: v[keep] for c, v in values.items()}, row[keep]
    if len(row) < 2:
        raise fault(
            "the log", counted(len(row), "row"), "must have at least two rows with a time", "choose a longer log", where
        )
    time, run, keep, step = _clock(values["time"], row, notes, where)
    out.add("with the time of the row before", row[~keep])
    values, row = {c: v[keep] for c, v in values.items()}, row[keep]
    values["time"] = time
    wild = _wild(values["speed"])
    out.add(WILD, row[wild])
    values, row, run = {c: v[~wild] for c, v in values.items()}, row[~wild], run[~wild]
    _check_speed(values["speed"], row, chosen, where)
    late = _fill_laps(values, run, notes) if "lap" in values else 0.0
    for channel in [c for c in values if c not in ("time", "lap")]:
        if not np.isfinite(values[channel]).any():
            notes.append(f"column {chosen[channel][0]!r} holds no number and was left out")
            del values[channel]
            continue
        if channel not in ("latitude", "longitude", "x", "y"):
            run = _fill(values, channel, run, max(2.0, 3 * step), notes)
    values = {
        c: v for c, v in values.items() if c not in sum((p for p in PAIRS if (p[0] in values) != (p[1] in values)), ())
    }
    good = np.isfinite(np.stack([v for c, v in values.items() if c not in _OPTIONAL])).all(axis=0)
    out.add("in holes longer than two seconds, where speed or lateral acceleration is empty", row[~good])
    values, row, run = {c: v[good] for c, v in values.items()}, row[good], run[good]
    if len(row) < 2:
        rule = "must have rows in which speed and lateral acceleration hold a number"
        raise fault("the log", "no rows", rule, "leave a column out", where)
    run = np.concatenate(([0], np.cumsum(np.diff(run) != 0)))
    log = Log(run=run, row=row, time=values["time"], speed=values["speed"], columns=chosen, path=source)
    way = log.travelled
    origin = swapped = None
    doubts: list[str] = []
    if "latitude" in values:
        names = chosen["latitude"][0], chosen["longitude"][0]
        lat, lon = places.possible_degrees(values.pop("latitude"), values.pop("longitude"), names, row, where, notes)
        known = np.isfinite(lat)
        if known.any():
            origin = float(np.median(lat[known])), float(np.median(lon[known]))
            values["x"], values["y"] = places.to_plane(lat, lon, origin)
            swapped = places.to_plane(lon, lat, origin[::-1])
    if "x" in values:
        x, y = places.cleaned(values.pop("x"), values.pop("y"), values["time"], way, run, notes)
        if np.isfinite(x).sum() > 0.2 * len(x):
            values["x"], values["y"] = x, y
            doubts = places.beside_speed(x, y, values["time"], way, run, chosen, swapped)
            notes += doubts
        else:
            notes.append("the positions place nothing and were left out: are these the right columns?")
            origin = None
    for channel in [c for c in _OPTIONAL if c in values]:
        empty = int(np.isnan(values[channel]).sum())
        if empty and channel not in ("x", "y"):
            notes.append(f"column of {CHANNELS[channel][0]}: empty in {counted(empty, 'row')}, which were kept")
    series: dict[str, Any] = dict(values)
    log = Log(run=run, row=row, columns=chosen, path=source, origin=origin, lap_good_to=late,
              doubts=tuple(doubts), **series)  # fmt: skip
    if log.distance is not None and way[-1] > 500 and np.all(np.diff(log.distance) > -1):
        ratio = float(np.ptp(log.distance) / way[-1])
        if not 0.95 < ratio < 1.05:
            notes.append(f"the distance column grows {ratio:.2f} times as fast as the speed says: check both units")
    left_out = {why: len(rows) for why, rows in out.rows.items()}
    return replace(log, notes=(*notes, *out.words()), left_out=left_out)


def _wild(speed: Array) -> Flags:
    """Mark the few single rows whose speed no car has while the rows beside them are in order; more mean a unit."""
    with np.errstate(invalid="ignore"):
        over = (speed > FASTEST) | (speed < _LEAST)
        calm = np.concatenate(([True], ~(speed > 0.9 * FASTEST) & ~over, [True]))
    edges = np.flatnonzero(np.diff(np.concatenate(([False], over, [False])).astype(int)))
    first, last = edges[::2], edges[1::2]  # of each run of such rows, and one beyond it
    single = (last - first <= BAD_LEAST) & calm[first] & calm[last + 1]
    few = over.sum() <= max(BAD_LEAST, BAD_SHARE * len(speed)) and bool(single.all())
    return over if few else np.zeros(len(speed), dtype=bool)


def _check_speed(speed: Array, row: NDArray[np.int64], chosen: Columns, where: str) -> None:
    if not np.isfinite(speed).any():
        column = repr(chosen["speed"][0])
        raise fault(f"column {column}", "no numbers", "must hold the speed", "choose another column", where)
    for at, wrong, rule in (
        (np.nanargmax(speed), np.nanmax(speed) > FASTEST, f"must be at most {says(FASTEST, 'kmh', 0)}"),
        (np.nanargmin(speed), np.nanmin(speed) < _LEAST, "must not be below zero"),
    ):
        if wrong:
            got = f"{from_si(speed[at], 'kmh'):.0f} km/h ({from_si(speed[at], 'mph'):.0f} mph) in row {row[at]}"
            remedy = f"is {chosen['speed'][1]} the right unit, and the column the right one? If so, take those rows out"
            raise fault("speed", got, rule, remedy, where)


_LATE = 0.5  # s: a lap column that tells a new lap later than this finds no lap times


def _fill_laps(values: dict[str, Array], run: NDArray[np.int64], notes: list[str]) -> float:
    """Carry the lap number on to the next cell that holds one; drop the column where it says too seldom.

    Returns how late it may tell that a lap began.
    """
    lap, time = values["lap"], values["time"]
    at = np.flatnonzero(np.isfinite(lap))
    if len(at) == len(lap):
        return 0.0
    if not len(at):
        notes.append("the lap column holds no number and was left out")
        del values["lap"]
        return 0.0
    new = np.flatnonzero(np.diff(lap[at]) != 0)
    wait = time[at[new + 1]] - time[at[new]]
    steady = len(at) > len(new) + 1  # the same number is written again and again, not only where it changes
    late = float(np.max(wait)) if steady and len(wait) else 0.0
    empty = counted(len(lap) - len(at), "empty cell")
    if late > _LATE:
        notes.append(
            f"the lap column is empty for up to {brief(late, 3)} s where the number changes: too seldom to time a lap, "
            "so it was left out"
        )
        del values["lap"]
        return 0.0
    held = np.maximum.accumulate(np.where(np.isfinite(lap), np.arange(len(lap)), -1))
    values["lap"] = np.where(held >= 0, lap[np.maximum(held, 0)], lap[at[0]] - (0.0 if steady else 1.0))
    notes.append(f"column of lap number: {empty} filled with the number before")
    return late


def _clock(
    time: Array, row: NDArray[np.int64], notes: list[str], where: str
) -> tuple[Array, NDArray[np.int64], Flags, float]:
    """Make time run on: equal times dropped, a clock that starts again joined on as a new run."""
    step = np.diff(time)
    keep = np.concatenate(([True], step != 0))
    time, row = time[keep], row[keep]
    step = np.diff(time)
    if not len(step):
        raise fault(
            "time",
            f"{brief(float(time[0]), 12)} s in every row",
            "must run on",
            "choose another column for the time",
            where,
        )
    back = np.flatnonzero(step < 0)
    usual = float(np.median(step[step > 0])) if (step > 0).any() else 0.0
    # a few long steps back, each followed by a piece that runs on, are a clock started again
    pieces = np.diff(np.concatenate(([0], back + 1, [len(time)])))
    if len(back) and (len(back) > 50 or pieces.min() < 20 or step[back].max() > -max(2.0, 10 * usual)):
        at = back[np.argmax(step[back])]
        got = f"{brief(float(time[at + 1]), 12)} s after {brief(float(time[at]), 12)} s in row {row[at + 1]}"
        times = counted(len(back), "time")
        remedy = f"it does {times}: choose the column with the logger's own clock, or take the row out"
        raise fault("time", got, "must not run back", remedy, where)
    if len(back):
        rows = ", ".join(str(row[at + 1]) for at in back[:5])
        notes.append(
            f"the clock starts again {counted(len(back), 'time')} (row {rows}): each piece is a run of its own"
        )
        step[back] = usual
    hole = step > max(2.0, 10 * usual)
    if hole.any():
        longest = float(step.max())
        gaps = f"{counted(int(hole.sum()), 'gap')} without rows, the longest {longest:.1f} s"
        notes.append(f"{gaps}: no lap is counted across them")
    broken = hole.copy()
    broken[back] = True
    run = np.concatenate(([0], np.cumsum(broken)))
    return time[0] + np.concatenate(([0.0], np.cumsum(step))), run, keep, usual


def _fill(
    values: dict[str, Array], channel: str, run: NDArray[np.int64], longest: float, notes: list[str]
) -> NDArray[np.int64]:
    """Fill short holes of one channel by a straight line; a long one stays open and breaks the run."""
    value, time = values[channel], values["time"]
    good = np.isfinite(value)
    if good.all():
        return run
    at = np.flatnonzero(good)
    before = np.searchsorted(at, np.arange(len(value)), side="right") - 1
    left, right = at[np.maximum(before, 0)], at[np.minimum(before + 1, len(at) - 1)]
    inside = ~good & (before >= 0) & (before + 1 < len(at))
    short = inside & (time[right] - time[left] <= longest) & (run[right] == run[left])
    filled = value.copy()
    filled[short] = np.interp(time[short], time[good], value[good])
    values[channel] = filled
    if short.any():
        what = f"column of {CHANNELS[channel][0]}"
        notes.append(f"{what}: {counted(int(short.sum()), 'empty cell')} filled by a straight line")
    if channel in _OPTIONAL:
        return run
    starts = (~good & ~short).astype(int)
    broken: NDArray[np.int64] = run + np.cumsum(np.concatenate(([0], np.diff(starts) == 1)))
    return broken
