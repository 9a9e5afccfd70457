"""Reading a logger's table: any column names, units and delimiters, the unit of speed never guessed.

``look`` says what the file holds, ``guess`` proposes which column is what, ``read`` gives the numbers in SI.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.carfile import save_whole
from ..checks import InputError, Problem
from ..units import Array, Flags, from_si
from . import text
from .text import Look, fault, look

__all__ = ["CHANNELS", "Log", "Look", "UnitQuestion", "guess", "look", "read", "recall", "remember"]

MAX_BYTES = 500_000_000
"""Largest file read; see also ``_logtext.MAX_ROWS``."""
LARGE_BYTES = 100_000_000
"""From this size on a note says that the file was read in blocks."""
Columns = dict[str, tuple[str, str]]
"""Channel → (column of the file, unit); an empty unit stands for what the file states."""

CHANNELS: dict[str, tuple[str, tuple[str, ...]]] = {
    "time": ("time", ("s", "ms", "min", "clock")),
    "speed": ("speed", ("km/h", "mph", "m/s", "kn")),
    "distance": ("distance", ("m", "km", "mi", "ft")),
    "lateral": ("lateral acceleration", ("g", "m/s²")),
    "lap": ("lap number", ("",)),
    "latitude": ("latitude", ("deg",)),
    "longitude": ("longitude", ("deg",)),
    "x": ("position x", ("m", "km", "ft")),
    "y": ("position y", ("m", "km", "ft")),
}
"""Channel → its plain name and the units it may be in; a channel with one unit needs no question."""
PAIRS = (("latitude", "longitude"), ("x", "y"))
"""Channels of which one without the other places nothing."""
_EARTH = 6_371_008.8  # mean radius of the Earth [m]
_FASTEST = 140.0  # m/s: no car on a circuit is faster


class UnitQuestion(InputError):
    """The file does not say in which unit a column is: the question to put, and what each answer would mean."""

    def __init__(self, channel: str, column: str, choices: Mapping[str, str], where: str = "") -> None:
        """Put the question about one column, with what each answer would mean."""
        self.channel, self.column, self.choices = channel, column, dict(choices)
        means = "; or ".join(choices.values())
        remedy = f"say which one it is: {means}"
        name = f"column {column!r} ({CHANNELS[channel][0]})"
        super().__init__([Problem(name, "", "has no stated unit", remedy)], where)


@dataclass(frozen=True)
class Log:
    """What a log holds, row by row, in SI; time runs on without a step back, ``run`` counts the unbroken pieces."""

    time: Array  # [s]
    speed: Array  # [m/s]
    run: NDArray[np.int64]  # [-]
    row: NDArray[np.int64]  # line of the file [-]
    lateral: Array | None = None  # [m/s²]
    lap: Array | None = None  # [-]
    x: Array | None = None  # [m], east of the first point where the file has latitude and longitude
    y: Array | None = None  # [m], north of it
    distance: Array | None = None  # as logged [m]
    origin: tuple[float, float] | None = None  # latitude and longitude of x = y = 0 [deg]
    notes: tuple[str, ...] = ()
    columns: Columns = field(default_factory=dict)
    path: Path | None = None

    @property
    def travelled(self) -> Array:
        """Way driven since the first row, by adding up speed over time within each run [m]."""
        step = 0.5 * (self.speed[1:] + self.speed[:-1]) * np.diff(self.time)
        step = np.where(np.diff(self.run) == 0, np.maximum(step, 0.0), 0.0)
        return np.concatenate(([0.0], np.cumsum(step)))


_WORDS = (
    ("time", r"^(time|elapsed( time)?|t|timestamp|zeit|temps|tiempo|tempo|clock|utc time)( s)?$|^time\b(?!.*lap)"),
    ("latitude", r"\blatitude\b|^lat$|^gps lat$"),
    ("longitude", r"\blongitude\b|^(gps )?(lon|lng|long)$"),
    ("lateral", r"\blat(eral)?[ ]?(acc\w*|g|force)\b|\blateral\b|\b(g|acc\w*) ?(lat\w*|y)\b|^a ?y$|querbeschl"),
    ("speed", r"\b(speed|velocity|velocidad|vitesse|geschw\w*|snelheid)\b(?!.*(wheel|engine|wind))|^v$"),
    ("distance", r"\b(distance|dist|odometer|strecke)\b|^s$"),
    ("lap", r"^(lap|laps|lap (number|no|nr|count)|runde)$"),
    ("x", r"^(pos\w* |gps )?x( pos\w*)?$|\beasting\b"),
    ("y", r"^(pos\w* |gps )?y( pos\w*)?$|\bnorthing\b"),
)


def guess(found: Look) -> Columns:
    """Propose which column is what, from the names alone; a unit only where the file states it.

    Parameters:
        found: what ``look`` found [-]

    Returns:
        channel → (column, unit); an empty unit where the file states none [-]
    """
    out: Columns = {}
    for channel, pattern in _WORDS:
        for column, unit in zip(found.columns, found.units, strict=True):
            if column not in (c for c, _ in out.values()) and re.search(pattern, text.plain(column)):
                out[channel] = (column, unit if unit in CHANNELS[channel][1] else "")
                break
    for pair in PAIRS:
        if sum(one in out for one in pair) == 1:  # one alone places nothing
            out = {channel: held for channel, held in out.items() if channel not in pair}
    return out


def read(path: str | Path, columns: Mapping[str, tuple[str, str]] | None = None) -> Log:
    """Read a log in SI, block by block.

    Parameters:
        path: a text table: commas, semicolons, tabs or bars between columns, decimal point or comma [-]
        columns: channel → (column, unit), from ``CHANNELS``; None for what ``guess`` says [-]

    Returns:
        a ``Log``; what was left out, filled or taken for granted stands in its ``notes`` [-]

    Errors:
        ``UnitQuestion`` where a unit must be asked for; ``InputError`` in words, with row and column, for the rest.

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
    chosen = dict(columns) if columns is not None else guess(found)
    _check_columns(chosen, found, where)
    notes = list(found.notes)
    if size > LARGE_BYTES:
        notes.append(f"a large file ({size / 1e6:.0f} MB): read in blocks, only the columns that are needed are kept")
    names = list(chosen)
    table = text.table(source, found, [found.columns.index(chosen[c][0]) for c in names], notes)
    if not len(table.row):
        raise fault("the file", "no rows", "must hold rows of numbers", "choose a log with laps in it", where)
    raw = dict(zip(names, table.values, strict=True))
    chosen = {c: (chosen[c][0], _unit(c, chosen[c], found, raw, notes, where)) for c in names}
    values = {c: raw[c] * text.FACTORS[chosen[c][1]] for c in names}
    return _assemble(values, table.row, chosen, notes, source)


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
        says = {u: f"{u} (one row every {step * text.FACTORS[u]:.4g} s)" for u in ("s", "ms")}
    elif channel == "speed":
        says = {u: f"{u} (top speed {top:.0f} {u}, that is {_also(top, u)})" for u in allowed}
    else:
        says = {u: f"{u} (largest value {top:.4g} {u})" for u in allowed}
    raise UnitQuestion(channel, column, says, where)


def _also(top: float, unit: str) -> str:
    other = "mph" if unit == "km/h" else "km/h"
    return f"{top * text.FACTORS[unit] / text.FACTORS[other]:.0f} {other}"


def _assemble(values: dict[str, Array], row: NDArray[np.int64], chosen: Columns, notes: list[str], source: Path) -> Log:
    where = source.name
    keep = np.isfinite(values["time"])
    if not keep.all():
        notes.append(f"{_count(int((~keep).sum()), 'row')} without a time left out")
    values, row = {c: v[keep] for c, v in values.items()}, row[keep]
    if len(row) < 2:
        raise fault(
            "the log", _count(len(row), "row"), "must have at least two rows with a time", "choose a longer log", where
        )
    time, run, keep, step = _clock(values["time"], row, notes, where)
    values, row = {c: v[keep] for c, v in values.items()}, row[keep]
    values["time"] = time
    speed = values["speed"]
    if not np.isfinite(speed).any():
        column = repr(chosen["speed"][0])
        raise fault(f"column {column}", "no numbers", "must hold the speed", "choose another column", where)
    for at, wrong, rule in (
        (np.nanargmax(speed), np.nanmax(speed) > _FASTEST, "must be at most 504 km/h"),
        (np.nanargmin(speed), np.nanmin(speed) < -1, "must not be below zero"),
    ):
        if wrong:
            got = f"{from_si(speed[at], 'kmh'):.0f} km/h ({from_si(speed[at], 'mph'):.0f} mph) in row {row[at]}"
            remedy = f"is {chosen['speed'][1]} the right unit, and the column the right one?"
            raise fault("speed", got, rule, remedy, where)
    for channel in [c for c in values if c not in ("time", "lap")]:
        if not np.isfinite(values[channel]).any():
            notes.append(f"column {chosen[channel][0]!r} holds no number and was left out")
            del values[channel]
            continue
        run = _fill(values, channel, run, max(2.0, 3 * step), notes)
    good = np.isfinite(np.stack(list(values.values()))).all(axis=0)
    if not good.all():
        values, row, run = {c: v[good] for c, v in values.items()}, row[good], run[good]
        if len(row) < 2:
            raise fault(
                "the log", "no rows", "must have rows in which every column holds a number", "leave a column out", where
            )
    run = np.concatenate(([0], np.cumsum(np.diff(run) != 0)))
    origin = None
    if "latitude" in values and "longitude" in values:
        _check_degrees(values, row, chosen, where)
        lat, lon = values.pop("latitude"), values.pop("longitude")
        origin = float(lat[0]), float(lon[0])
        values["x"], values["y"] = to_plane(lat, lon, origin)
    series: dict[str, Any] = dict(values)
    log = Log(run=run, row=row, columns=chosen, path=source, origin=origin, **series)
    if log.distance is not None and log.travelled[-1] > 500 and np.all(np.diff(log.distance) > -1):
        ratio = float(np.ptp(log.distance) / log.travelled[-1])
        if not 0.95 < ratio < 1.05:
            notes.append(f"the distance column grows {ratio:.2f} times as fast as the speed says: check both units")
    return replace(log, notes=tuple(notes))


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


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _clock(
    time: Array, row: NDArray[np.int64], notes: list[str], where: str
) -> tuple[Array, NDArray[np.int64], Flags, float]:
    """Make time run on: equal times dropped, a clock that starts again joined on as a new run."""
    step = np.diff(time)
    keep = np.concatenate(([True], step != 0))
    if not keep.all():
        notes.append(f"{_count(int((~keep).sum()), 'row')} with the time of the row before left out")
    time, row = time[keep], row[keep]
    step = np.diff(time)
    if not len(step):
        raise fault("time", f"{time[0]:g} s in every row", "must run on", "choose another column for the time", where)
    back = np.flatnonzero(step < 0)
    usual = float(np.median(step[step > 0])) if (step > 0).any() else 0.0
    # a few long steps back, each followed by a piece that runs on, are a clock started again
    pieces = np.diff(np.concatenate(([0], back + 1, [len(time)])))
    if len(back) and (len(back) > 50 or pieces.min() < 20 or step[back].max() > -max(2.0, 10 * usual)):
        at = back[np.argmax(step[back])]
        got = f"{time[at + 1]:.6g} s after {time[at]:.6g} s in row {row[at + 1]}"
        times = _count(len(back), "time")
        remedy = f"it does {times}: choose the column with the logger's own clock, or take the row out"
        raise fault("time", got, "must not run back", remedy, where)
    if len(back):
        rows = ", ".join(str(row[at + 1]) for at in back[:5])
        notes.append(f"the clock starts again {_count(len(back), 'time')} (row {rows}): each piece is a run of its own")
        step[back] = usual
    hole = step > max(2.0, 10 * usual)
    if hole.any():
        longest = float(step.max())
        notes.append(
            f"{_count(int(hole.sum()), 'gap')} without rows, the longest {longest:.1f} s: no lap is counted across them"
        )
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
    empty = int((~good & ~short).sum())
    notes.append(
        f"column of {CHANNELS[channel][0]}: {_count(int(short.sum()), 'empty cell')} filled by a straight line"
        + (f", {_count(empty, 'row')} in longer holes left out" if empty else "")
    )
    starts = (~good & ~short).astype(int)
    broken: NDArray[np.int64] = run + np.cumsum(np.concatenate(([0], np.diff(starts) == 1)))
    return broken


def _check_degrees(values: Mapping[str, Array], row: NDArray[np.int64], chosen: Columns, where: str) -> None:
    for channel, most in (("latitude", 90.0), ("longitude", 180.0)):
        bad = np.flatnonzero(np.abs(values[channel]) > most)
        if len(bad):
            got = f"{values[channel][bad[0]]:.6g} in row {row[bad[0]]}"
            raise fault(f"column {chosen[channel][0]!r}", got, f"must be within {most:g} degrees either way",
                         "write positions in degrees with decimals", where)  # fmt: skip


def remember(found: Look, columns: Mapping[str, tuple[str, str]], store: str | Path) -> None:
    """Keep which column is what, for the next file with the same set of column names.

    Parameters:
        found: what ``look`` found [-]
        columns: channel → (column, unit), as given to ``read`` or as in ``Log.columns`` [-]
        store: the small file that keeps them; made where it is not there, saved whole or not at all [-]

    Errors:
        ``InputError`` where the file cannot be read or written; it is then as it was.
    """
    held = [e for e in _stored(Path(store)) if sorted(e["columns"]) != sorted(found.columns)]
    held.append({"columns": sorted(found.columns), "channels": {c: list(v) for c, v in columns.items()}})
    try:
        Path(store).parent.mkdir(parents=True, exist_ok=True)
        save_whole(Path(store).resolve(), json.dumps(held, indent=1, ensure_ascii=False).encode("utf-8"))
    except OSError as error:
        raise fault("the remembered columns", "", "cannot be saved", str(error.strerror), str(store)) from None


def recall(found: Look, store: str | Path) -> Columns | None:
    """Give back what was kept for a file with the same set of column names, in any order.

    Parameters:
        found: what ``look`` found [-]
        store: the small file that keeps them [-]

    Returns:
        channel → (column, unit), or None where nothing was kept [-]

    Errors:
        ``InputError`` where the small file is damaged.
    """
    for entry in _stored(Path(store)):
        if sorted(entry["columns"]) == sorted(found.columns):
            return {c: (v[0], v[1]) for c, v in entry["channels"].items()}
    return None


def _stored(store: Path) -> list[dict[str, Any]]:
    if not store.exists():
        return []
    try:
        held: list[dict[str, Any]] = json.loads(store.read_text(encoding="utf-8"))
        good = all(isinstance(e["columns"], list) and all(len(v) == 2 for v in e["channels"].values()) for e in held)
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        good, held = False, []
    if not good:
        raise fault(
            "the remembered columns",
            "",
            "cannot be read",
            "delete that file and say again which column is what",
            str(store),
        )
    return held
