"""The text of a log: encoding, delimiter, header, unit row and columns found."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import pi
from pathlib import Path

import numpy as np

from ..checks import InputError, Problem
from ..units import UNITS

FACTORS: dict[str, float] = {"": 1.0, "clock": 1.0, "deg": 1.0, "rad": 180 / pi, "rad/s": 1.0} | {
    UNITS[name].label: UNITS[name].to_si
    for name in ("s", "ms", "min", "kmh", "mph", "m_per_s", "kn", "m", "km", "mi", "ft", "g", "m_per_s2", "deg_per_s")
}
"""Unit of a log's column → factor to SI; angles stay degrees, rates of turning become radians."""
_SPELLINGS = {
    "km/h": "kmh km/h kph kmph km/hr kilometers/hour km·h-1",
    "mph": "mph mi/h miles/hour mile/h",
    "m/s": "m/s ms-1 mps m/sec meters/second m·s-1",
    "kn": "kn kt kts knot knots",
    "s": "s sec secs second seconds",
    "ms": "ms msec millisecond milliseconds",
    "min": "min minute minutes",
    "m": "m metre metres meter meters",
    "km": "km kilometre kilometres",
    "mi": "mi mile miles",
    "ft": "ft feet foot",
    "g": "g gee gs",
    "m/s²": "m/s² m/s2 m/s^2 m/s/s m/sec2 ms-2",
    "deg": "deg ° degree degrees",
    "rad": "rad radian radians",
    "deg/s": "deg/s deg/sec °/s dps degrees/second",
    "rad/s": "rad/s rad/sec radians/second",
}
_UNIT = {word: unit for unit, words in _SPELLINGS.items() for word in words.split()}
_OTHER_UNITS = set("rpm % bar psi c °c k v a nm l l/h kw hp lap no mbar kpa lb hz - n/a none".split())  # noqa: SIM905
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA_NUMBER = re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?")
CLOCK = re.compile(r"(?:(\d{4}-\d\d-\d\d)[T ])?(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)(?:Z|[+-]\d\d:?\d\d)?")
"""A time of day or of a session: hours, minutes, seconds, with or without a date."""


@dataclass(frozen=True)
class Look:
    """What a log file holds: its columns, the units it states, and how its text is written."""

    columns: tuple[str, ...]
    units: tuple[str, ...]  # as in ``FACTORS``; empty where none is stated, or none of these
    clock: tuple[bool, ...]  # True where the column holds hours:minutes:seconds
    delimiter: str
    decimal: str
    encoding: str
    first_row: int  # lines before the first row of numbers
    notes: tuple[str, ...] = ()


def plain(name: str) -> str:
    """Return a column's name in lower-case words without its unit.

    Parameters:
        name: as the file has it [-]

    Returns:
        words with single blanks [-]
    """
    bare = re.sub(r"[\[(<].*?[\])>]", " ", name)
    bare = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", bare)
    words = re.sub(r"[\W_]+", " ", bare).strip().lower().split()
    while len(words) > 1 and _UNIT.get(words[-1]) not in (None, "g"):
        words.pop()
    return " ".join(words)


def _stated(name: str, below: str) -> str:
    """Find the unit that a column's name, or the unit row below it, states."""
    bracket = re.findall(r"[\[(<](.*?)[\])>]", name)
    bare = re.sub(r"[\[(<].*?[\])>]", "", name)
    tail = re.split(r"[\s_]+", bare.strip())
    words = [below.strip(" []()<>\"'"), *bracket, *(["_".join(tail[-2:]), tail[-1]] if len(tail) > 1 else [])]
    for word in words:
        key = word.strip().lower().replace(" ", "").replace("_", "/")
        if key in _UNIT:
            return _UNIT[key]
    return ""


def look(path: str | Path) -> Look:
    """Find out how a log file is written: encoding, delimiter, decimal sign, header, unit row, columns.

    Parameters:
        path: the file [-]

    Returns:
        a ``Look`` [-]

    Errors:
        ``InputError`` in words: no such file, empty, no text, no table of numbers, too few columns.
    """
    source = Path(path)
    try:
        with source.open("rb") as file:
            head = file.read(1 << 18)
    except (OSError, ValueError) as error:  # a NUL in the name
        why = getattr(error, "strerror", None) or str(error)
        raise fault("the file", "", "cannot be read", why, source.name) from None
    encoding = _encoding(head)
    lines = head.decode(encoding, "replace").lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(head) == 1 << 18:
        lines.pop()
    if not any(line.strip() for line in lines):
        raise fault("the file", "nothing", "must hold a table", "it is empty: save the log again", source.name)
    if "\x00" in "".join(lines[:50]):
        rule = "must be a text table"
        raise fault("the file", "", rule, "write the log out as text with commas (CSV) first", source.name)
    best = max((_layout(lines, sign) for sign in ",;\t|"), key=lambda found: found[0])
    score, delimiter, decimal, first, width = best
    if score == 0:
        rule = "must hold rows with at least two columns of numbers"
        remedy = "write the log out as a table (CSV); nothing of this file is shown"
        raise fault("the file", "", rule, remedy, source.name)
    names, below = _header(lines[:first], delimiter, width)
    sample = [_cells(line, delimiter) for line in lines[first : first + 5]]
    clock = tuple(any(i < len(r) and ":" in r[i] for r in sample) for i in range(len(names)))
    units = tuple(_stated(n, b) for n, b in zip(names, below, strict=True))
    notes = () if first else ("the file has no line of names: the columns are numbered",)
    return Look(tuple(names), units, clock, delimiter, decimal, encoding, first, notes)


def fault(what: str, got: str, rule: str, remedy: str, where: str = "") -> InputError:
    """Make the one error of this module.

    Parameters:
        what: what is wrong [-]
        got: what it holds [-]
        rule: what it may hold [-]
        remedy: what to do [-]
        where: the file [-]

    Returns:
        an ``InputError`` to raise [-]
    """
    return InputError([Problem(what, got, rule, remedy)], where)


def _encoding(head: bytes) -> str:
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 4:  # not just a character cut in two
            return "cp1252"
    return "utf-8-sig"


def _cells(line: str, delimiter: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]


def _kind(cell: str, decimal: str) -> bool:
    pattern = _COMMA_NUMBER if decimal == "," else _NUMBER
    return bool(pattern.fullmatch(cell) or CLOCK.fullmatch(cell))


def _layout(lines: Sequence[str], delimiter: str) -> tuple[float, str, str, int, int]:
    """Score one delimiter: (numbers a row, delimiter, decimal sign, first row of numbers, cells a row)."""
    rows = {i: _cells(line, delimiter) for i, line in enumerate(lines[:400]) if delimiter in line}
    filled = {i: sum(map(bool, row)) for i, row in rows.items()}
    best: tuple[float, str, str, int, int] = (0.0, delimiter, ".", 0, 0)
    for decimal in ".,":
        counts = {i: sum(_kind(c, decimal) for c in row) for i, row in rows.items()}
        table = [i for i, count in counts.items() if count >= 2 and count >= 0.5 * filled[i]]
        if not table:
            continue
        width = Counter(len(rows[i]) for i in table).most_common(1)[0][0]
        table = [i for i in table if len(rows[i]) == width]
        score = float(np.mean([counts[i] ** 2 / filled[i] for i in table])) - 0.01 * (decimal == ",")
        if score > best[0]:
            best = (score, delimiter, decimal, table[0], width)
    return best


def _header(lines: Sequence[str], delimiter: str, width: int) -> tuple[list[str], list[str]]:
    """Find the line of names and the unit row among the lines before the first row of numbers."""
    names, below = [""] * width, [""] * width
    for line in reversed(lines):
        cells = _cells(line.lstrip("#% "), delimiter)
        if not width - 1 <= len(cells) <= width + 1 or not any(cells):
            continue
        cells = (cells + [""] * width)[:width]
        if _is_units(cells):
            below = cells
            continue
        names = cells
        break
    seen: Counter[str] = Counter()
    for i, name in enumerate(names):
        shown = name or f"column {i + 1}"
        seen[shown] += 1
        names[i] = shown if seen[shown] == 1 else f"{shown} ({seen[shown]})"
    return names, below


def _is_units(cells: Sequence[str]) -> bool:
    words = [c.strip(" []()<>").lower().replace(" ", "") for c in cells]
    known = [w for w in words if w in _UNIT or w in _OTHER_UNITS]
    filled = [w for w in words if w]
    bracketed = all(re.fullmatch(r"[\[(<].*[\])>]", c) for c in cells if c)
    return len(filled) > 0 and (bracketed or (len(known) >= 0.6 * len(filled) and "time" not in words))


def counted(number: int, word: str) -> str:
    """Return a number with its noun.

    Parameters:
        number: how many [-]
        word: one of them [-]

    Returns:
        such as "3 rows" [-]
    """
    return f"{number} {word}{'' if number == 1 else 's'}"
