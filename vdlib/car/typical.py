"""Typical values for what was not measured, each with its range and source; and words that say where a number is from.

Origin words: "measured", "typical", "example" stand in a car file's ``[origin]`` table. Two more are worked out here:
"typed in" (in the file, nobody said from where) and "left out" (not in the file: the record's own default).
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..glossary import GLOSSARY
from ..units import to_si
from .carfile import CarFile, Entry, fields_of
from .keys import WHEEL_TABLES
from .kinds import TYRES, Kinds, kinds_at
from .records import Car, Setup
from .typical_table import BODIES, HEIGHTS, MEASURED_ERROR, PACEJKA, ROWS, SUSPENSIONS, TRADE, TYRE_SPREAD, UNKNOWN, Row
from .tyre import KINDS, of_kind
from .writing import records

NINETY = 2 * 1.645
"""Standard deviations between the 5th and the 95th percentile of a normal distribution [-]."""
BORROWED, PART = 5.0, 0.05
"""A number borrowed from an example car lies off by this many times a careful measurement's error, or by this part of
it if that is more; common practice, no source [-]."""
FAR = 1.0
"""Beyond its usual range by this part of the range's width a number is asked about; common practice, no source [-]."""
INERTIA = (0.8, 1.0, 1.25)
"""Yaw inertia over what the mass makes likely: usual least, middle and most; common practice, no source [-]."""
WORDS: dict[str, str] = {
    "measured": "measured on this car",
    "typical": "typical of cars of this kind, not measured here",
    "example": "invented for the example",
    "typed in": "typed into the car file; nobody said how it was found",
    "left out": "not in the car file; the value that then holds",
}
"""Origin word → what to tell the reader."""


@dataclass(frozen=True)
class Range:
    """A value and how far it may lie off: low and high are the 5th and 95th percentile; all in SI."""

    low: float
    central: float
    high: float
    origin: str
    source: str

    @property
    def sigma(self) -> float:
        """One standard deviation, were it normal: the width that holds nine tenths of it, over 3.29 [any]."""
        return (self.high - self.low) / NINETY


@dataclass(frozen=True)
class Filled:
    """A car with typical values in the place of what was not measured."""

    car: Car
    setup: Setup
    origin: dict[str, str]  # path → "measured", "typical" or "example", as a car file keeps it
    changed: dict[str, Range]  # path → what was filled in


def typical(path: str, kinds: Kinds) -> Range | None:
    """Look one number up in the table.

    Parameters:
        path: dotted name as ``[origin]`` uses it, such as "front.roll_centre" or "rear.tyre.grip" [-]
        kinds: what kind of car it is [-]

    Returns:
        a ``Range`` in SI, or None where the table has nothing [any]
    """
    table, _, field = path.rpartition(".")
    unit = GLOSSARY[field].unit if field in GLOSSARY else ""
    end = table.partition(".")[0]
    if table.endswith(".tyre"):
        if field not in TYRE_SPREAD:
            return None
        central = KINDS[kinds.tyre][field]
        low, high = sorted(central * part for part in TYRE_SPREAD[field])
        return Range(low, central, high, "typical", PACEJKA if kinds.tyre == "road" else TRADE)
    if table not in ("car", "front", "rear") and field != "caster":
        return None
    near = {"", kinds.tyre, kinds.body, kinds.height} | ({getattr(kinds, end)} if end in ("front", "rear") else set())
    rows = [row for row in ROWS if row.field == field and row.end in ("", end) and row.kind in near]
    return _in_si(rows[0], unit) if rows else None


def _in_si(row: Row, unit: str) -> Range:
    low, central, high = (float(to_si(v, unit)) for v in (row.low, row.central, row.high))
    return Range(low, central, high, "typical", row.source)


def origins(file: CarFile) -> dict[str, str]:
    """Return for every number of a car file where it is from.

    Parameters:
        file: the car file [-]

    Returns:
        path → a word from ``WORDS`` [-]
    """
    text = tomllib.loads(file.text)
    given = {"mass", "left_share", "cross_weight"} if "corner_weights" in text else set()

    def word(entry: Entry) -> str:
        if entry.path in file.origin:
            return file.origin[entry.path]
        tables = [entry.table, *(wheel for wheel, (axle, _) in WHEEL_TABLES.items() if axle == entry.table)]
        wheels = [file.origin[path] for path in (f"{t}.{entry.field}" for t in tables[1:]) if path in file.origin]
        if wheels:  # an axle is known no better than the less well known of its wheels
            return max(wheels, key=("measured", "example", "typical").index)
        if file.path is None:
            return "example"
        there = any(entry.name in _held(text, table) for table in tables)
        return "typed in" if there or entry.field in given else "left out"

    return {entry.path: word(entry) for entry in fields_of()}


def _held(text: Any, table: str) -> Any:
    """Return what a table of the text holds; nothing where it is not there."""
    for name in table.split("."):
        text = text.get(name, {})
    return text


def fill(file: CarFile, kinds: Kinds, keep: Collection[str] = ("measured", "typed in")) -> Filled:
    """Put typical values in the place of every number of a car that was not measured.

    Parameters:
        file: the car file [-]
        kinds: what kind of car it is [-]
        keep: origin words whose numbers stay as they are [-]

    Returns:
        a ``Filled`` car; sizes that only a tape can tell (track, wheelbase, heights) stay and keep their origin [-]

    Errors:
        ``InputError`` where the measured and typical numbers do not go together.
    """
    words = origins(file)
    found = {p: r for p, word in words.items() if word not in keep and (r := typical(p, kinds)) is not None}
    car = file.car
    for end in ("front", "rear"):
        axle = getattr(car, end)
        kept = {f: getattr(axle.tyre, f) for f in TYRE_SPREAD if f"{end}.tyre.{f}" not in found}
        tyre = of_kind(kinds.tyre, **kept)
        car = replace(car, **{end: replace(_replaced(axle, end, found), tyre=tyre)})
    setup = _replaced(file.setup, "setup", found)
    kept = {p: word for p, word in words.items() if word in ("measured", "typical", "example")}
    return Filled(_replaced(car, "car", found), setup, kept | {p: "typical" for p in found}, found)


def _replaced(record: Any, table: str, found: Mapping[str, Range]) -> Any:
    changes = {p.rpartition(".")[2]: r.central for p, r in found.items() if p.rpartition(".")[0] == table}
    return replace(record, **changes) if changes else record


def unusual(file: CarFile) -> dict[str, tuple[float, Range]]:
    """Find the numbers of a car that lie far from what is usual: a slip of ten, or a ratio upside down, is among them.

    Parameters:
        file: the car file [-]

    Returns:
        path → value and usual ``Range``, of each number beyond that by ``FAR`` of its width or more [any]

    Validity: a question, no fault: a car may be so. Only numbers with a typical value are looked at.
    """
    held, kinds, far = records(file.car, file.setup), file.known.kinds or Kinds(), {}
    for entry in fields_of():
        value, usual = getattr(held[entry.table], entry.field), typical(entry.path, kinds)
        if entry.field == "yaw_inertia":
            middle = float(replace(file.car, yaw_inertia=None).inertia)
            low, central, high = (part * middle for part in INERTIA)
            usual = Range(low, central, high, "typical", TRADE)
        if usual is not None and value is not None and usual.high > usual.low:
            beyond = max(usual.low - float(value), float(value) - usual.high)
            if beyond > FAR * (usual.high - usual.low):
                far[entry.path] = float(value), usual
    return far


def ranges(file: CarFile, kinds: Kinds, errors: Mapping[str, float] | None = None) -> dict[str, Range]:
    """Return how far each number of a car may lie off: measuring error, or the spread among cars of the kind.

    Parameters:
        file: the car file [-]
        kinds: what kind of car it is [-]
        errors: path → one standard deviation of its own measurement, in SI, where one is known [any]

    Returns:
        path → ``Range`` in SI around the car's own number; those with nothing known are left out [any]

    Validity: errors taken as independent; a number counted as measured without its own error gets a careful
    measurement's; one typed in without an origin is taken as measured; one borrowed from an example gets far more.
    """
    return dict(_ranges(file, kinds, errors or {}))


def _ranges(file: CarFile, kinds: Kinds, errors: Mapping[str, float]) -> Iterator[tuple[str, Range]]:
    words, held = origins(file), records(file.car, file.setup)
    for entry in fields_of():
        path, word = entry.path, words[entry.path]
        value = getattr(held[entry.table], entry.field)
        usual = typical(path, kinds)
        if value is None or entry.field in UNKNOWN:
            continue
        value = float(value)
        if path in errors:
            yield path, _around(value, errors[path], word, "its own measurement")
        elif word in ("typical", "example", "left out") and usual is not None:
            move = value - usual.central
            yield path, replace(usual, low=usual.low + move, central=value, high=usual.high + move, origin=word)
        elif entry.field in MEASURED_ERROR:
            fixed, part = MEASURED_ERROR[entry.field]
            sigma = to_si(fixed, entry.quantity.unit) + part * abs(value)
            source = "a careful measurement; common practice, no source"
            if word == "example" and file.path is not None:  # an invented car's number in a car that somebody owns
                sigma = max(BORROWED * sigma, PART * abs(value))
                source = "borrowed from an example, this car's own was not read; common practice, no source"
            yield path, _around(value, sigma, word, source)
        elif usual is not None:
            yield path, _around(value, usual.sigma / 2, word, "half the typical spread; common practice, no source")


def _around(value: float, sigma: float, word: str, source: str) -> Range:
    return Range(value - NINETY / 2 * sigma, value, value + NINETY / 2 * sigma, word, source)


__all__ = [
    "BODIES",
    "HEIGHTS",
    "SUSPENSIONS",
    "TYRES",
    "UNKNOWN",
    "WORDS",
    "Filled",
    "Kinds",
    "Range",
    "fill",
    "kinds_at",
    "origins",
    "ranges",
    "typical",
    "unusual",
]
