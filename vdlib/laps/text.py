"""The text of a log: encoding, delimiter, header and unit row found; its rows turned into numbers block by block."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import pi
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..units import UNITS, Array

BLOCK = 4 << 20
"""Characters read at a time."""
MAX_ROWS = 3_000_000
"""Most rows read: a day of eight hours at 100 rows a second; five columns of them take about 0.6 GB at the most."""
FACTORS: dict[str, float] = {"": 1.0, "clock": 1.0, "deg": 1.0, "rad": 180 / pi, "rad/s": 1.0} | {
    UNITS[name].label: UNITS[name].to_si
    for name in ("s", "ms", "min", "kmh", "mph", "m_per_s", "kn", "m", "km", "mi", "ft", "g", "m_per_s2", "deg_per_s")
}
"""Unit of a log's column → factor to SI; angles stay degrees, rates of turning become radians."""
BAD_SHARE = 0.01
"""Largest share of rows that may be left out because they cannot be read; beyond it the file is refused."""
BAD_LEAST = 3
"""So many such rows are left out from however short a file."""
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
_EMPTY = {"", "-", "--", "na", "n/a", "nan", "null", "none", "nil", "#n/a", "inf", "-inf", "+inf", "infinity"}
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA_NUMBER = re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?")
_CLOCK = re.compile(r"(?:(\d{4}-\d\d-\d\d)[T ])?(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)(?:Z|[+-]\d\d:?\d\d)?")


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


@dataclass(frozen=True)
class Table:
    """Columns of numbers, NaN where a cell is empty, and the file's line of each row."""

    values: list[Array]
    row: NDArray[np.int64]


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
    return bool(pattern.fullmatch(cell) or _CLOCK.fullmatch(cell))


def _layout(lines: Sequence[str], delimiter: str) -> tuple[float, str, str, int, int]:
    """Score one delimiter: (numbers a row, delimiter, decimal sign, first row of numbers, cells a row)."""
    rows = [_cells(line, delimiter) for line in lines[:400]]
    best: tuple[float, str, str, int, int] = (0.0, delimiter, ".", 0, 0)
    for decimal in ".,":
        counts = [sum(_kind(c, decimal) for c in row) for row in rows]
        filled = [sum(bool(c) for c in row) for row in rows]
        table = [i for i, row in enumerate(rows) if counts[i] >= 2 and counts[i] >= 0.5 * filled[i]]
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


@dataclass
class LeftOut:
    """Rows that were left out, by the reason in words, in the order met."""

    rows: dict[str, list[int]] = field(default_factory=dict)

    def add(self, why: str, rows: Sequence[int] | NDArray[np.int64]) -> None:
        """Note some rows.

        Parameters:
            why: what is the matter with them, after "3 rows" [-]
            rows: their lines in the file [-]
        """
        if len(rows):
            self.rows.setdefault(why, []).extend(map(int, rows))

    @property
    def count(self) -> int:
        """How many rows were left out."""
        return sum(map(len, self.rows.values()))

    def words(self) -> list[str]:
        """Return one line for each reason, with the number of rows and the first of them.

        Returns:
            the lines [-]
        """
        out = []
        for why, rows in self.rows.items():
            which = ", ".join(map(str, rows[:3])) + (", ..." if len(rows) > 3 else "")
            out.append(f"left out: {counted(len(rows), 'row')} {why} (row {which})")
        return out


def counted(number: int, word: str) -> str:
    """Return a number with its noun.

    Parameters:
        number: how many [-]
        word: one of them [-]

    Returns:
        such as "3 rows" [-]
    """
    return f"{number} {word}{'' if number == 1 else 's'}"


EMPTY_LINE, COMMENT = "with nothing in them", "that are comments"
NO_NUMBER, MANY, FEW, QUOTE = (
    "without a number where one must be",
    "with too many cells",
    "with too few cells",
    "with a quotation mark that is never closed",
)


def table(path: Path, found: Look, wanted: Sequence[int], need: Sequence[int], out: LeftOut, notes: list[str]) -> Table:
    """Turn the wanted columns into numbers, one block of text at a time; rows that cannot be read are left out.

    Parameters:
        path: the file [-]
        found: how it is written [-]
        wanted: places of the columns, from 0 [-]
        need: those of them that must hold a number in each row; a word in another counts as empty [-]
        out: rows left out are added here [-]
        notes: cells taken as empty are noted here [-]

    Returns:
        a ``Table`` [-]

    Errors:
        ``InputError`` that names row and column where more than ``BAD_SHARE`` of the rows cannot be read.
    """
    parts: list[Array] = []
    rows: list[NDArray[np.int64]] = []
    reader = _Reader(found, wanted, need, out)
    held = 0
    for start, block, last in _blocks(path, found):
        got = reader.read(block, start, last)
        parts.append(got[0])
        rows.append(got[1])
        held += len(got[1])
        if held > MAX_ROWS:
            rule = f"must hold at most {MAX_ROWS / 1e6:g} million rows"
            raise fault("the file", "more", rule, "cut it to one day, or write fewer rows a second", path.name)
    if reader.faults and reader.bad > max(BAD_LEAST, BAD_SHARE * (held + reader.bad)):
        listed = "; ".join(f"{what} {got}" for what, got in reader.faults[:4])
        rule = f"of {counted(held + reader.bad, 'row')} cannot be read, at most {BAD_SHARE:.0%} may be left out"
        raise fault(counted(reader.bad, "row"), listed, rule, "mend those rows, or choose other columns", path.name)
    notes += [
        f"column {found.columns[i]!r}: {counted(n, 'cell')} that hold no number, taken as empty"
        for i, n in sorted(reader.words.items())
    ]
    if not parts:
        return Table([np.empty(0) for _ in wanted], np.empty(0, dtype=np.int64))
    return Table([np.concatenate([p[:, i] for p in parts]) for i in range(len(wanted))], np.concatenate(rows))


def _blocks(path: Path, found: Look) -> Iterator[tuple[int, str, bool]]:
    """Yield (line number of the first line, text of whole lines, whether it is the last block)."""
    with path.open(encoding=found.encoding, errors="replace") as file:
        for _ in range(found.first_row):
            file.readline()
        at = found.first_row + 1
        block = file.read(BLOCK)
        while block:
            block += file.readline()
            ahead = file.read(BLOCK)
            yield at, block, not ahead
            at += block.count("\n")
            block = ahead


class _Reader:
    """Turns blocks of lines into rows of numbers, and remembers what could not be read."""

    def __init__(self, found: Look, wanted: Sequence[int], need: Sequence[int], out: LeftOut) -> None:
        """Note which columns are wanted."""
        self.found, self.wanted, self.out = found, list(wanted), out
        self.must = {i for i in need if i in self.wanted}
        self.slow = any(found.clock[i] for i in wanted)
        self.words: Counter[int] = Counter()
        self.faults: list[tuple[str, str]] = []
        self.bad = 0

    def read(self, block: str, start: int, last: bool) -> tuple[Array, NDArray[np.int64]]:
        """Read one block: even rows all at once, the others cell by cell."""
        lines = block.split("\n")
        if not lines[-1]:
            lines.pop()
        sign, usual = self.found.delimiter, len(self.found.columns) - 1
        even = np.fromiter((line.count(sign) == usual for line in lines), dtype=bool, count=len(lines))
        place = np.flatnonzero(even)
        rest = [(int(i), lines[i]) for i in np.flatnonzero(~even)]
        plain = lines if len(place) == len(lines) else [lines[i] for i in place]
        got = None if self.slow or not plain else self._fast(plain)
        if got is None:
            rest, place, got = list(enumerate(lines)), place[:0], np.empty((0, len(self.wanted)))
        if not rest:
            return got, start + place
        values, at = self._careful(rest, start, len(lines) - 1 if last else -1)
        order = np.argsort(np.concatenate((place, at)), kind="stable")
        return np.concatenate((got, values))[order], start + np.concatenate((place, at))[order]

    def _fast(self, lines: list[str]) -> Array | None:
        """Read clean numbers; None where anything in them needs the careful reader."""
        sign, comma = self.found.delimiter, self.found.decimal == ","
        block = "\n".join(lines)
        quoted = '"' in block
        if "#" in block or (quoted and (comma or '""' in block)):
            return None
        gaps = sign + sign in block or block[0] == sign or f"\n{sign}" in block
        if comma or gaps:
            block = block.replace(",", ".") if comma else block
            if gaps:  # twice: neighbouring gaps share a delimiter
                block = block.replace(sign + sign, f"{sign}nan{sign}").replace(sign + sign, f"{sign}nan{sign}")
                block = (f"\n{block}").replace(f"\n{sign}", f"\nnan{sign}")[1:]
            lines = block.split("\n")
        try:
            values = np.loadtxt(
                lines, delimiter=sign, usecols=self.wanted, ndmin=2, comments=None, quotechar='"' if quoted else None
            )
        except ValueError:
            return None
        return values if len(values) == len(lines) else None

    def _careful(self, lines: Sequence[tuple[int, str]], start: int, end: int) -> tuple[Array, NDArray[np.int64]]:
        """Read lines cell by cell: empty cells, quotes, clock times; rows that cannot be read are left out."""
        out: list[list[float]] = []
        rows: list[int] = []
        sign, width = self.found.delimiter, len(self.found.columns)
        empty: list[int] = []
        for place, line in lines:
            row = start + place
            if not line or line.isspace():
                empty.append(row)
                continue
            if line.lstrip().startswith("#"):
                self.out.add(COMMENT, [row])
                continue
            cells = line.split(sign) if '"' not in line else self._quoted(line)
            while len(cells) > width and not cells[-1].strip():  # a delimiter at the end of the line
                cells.pop()
            if not any(cell.strip() for cell in cells):
                empty.append(row)
            elif len(cells) > width or (line.count('"') % 2 and len(cells) != width):
                self._leave(row, MANY if len(cells) > width else QUOTE, f"has {len(cells)} cells, not {width}")
            elif len(cells) <= max(self.wanted) or (place == end and len(cells) < width - 1):
                if place == end:
                    self.out.add("that is the last and cut off", [row])
                else:
                    self._leave(row, FEW, f"has {len(cells)} cells, not {width}")
            elif line.count('"') % 2:
                self._leave(row, QUOTE, "has a quotation mark that is never closed")
            else:
                values = self._values(row, cells)
                if values is not None:
                    out.append(values)
                    rows.append(place)
        self.out.add(EMPTY_LINE, empty)
        return np.array(out, dtype=float).reshape(-1, len(self.wanted)), np.array(rows, dtype=np.int64)

    def _quoted(self, line: str) -> list[str]:
        try:
            return next(csv.reader([line], delimiter=self.found.delimiter), [])
        except csv.Error:  # a cell longer than any cell is
            return line.split(self.found.delimiter)

    def _values(self, row: int, cells: Sequence[str]) -> list[float] | None:
        out = []
        for i in self.wanted:
            try:
                out.append(_value(cells[i], self.found.decimal))
            except ValueError:
                if i in self.must:
                    got = cells[i].strip()[:40]
                    self._leave(row, NO_NUMBER, f"holds {got!r} in column {self.found.columns[i]!r}")
                    return None
                self.words[i] += 1
                out.append(np.nan)
        return out

    def _leave(self, row: int, why: str, got: str) -> None:
        self.bad += 1
        self.out.add(why, [row])
        if len(self.faults) < 10:
            self.faults.append((f"row {row}", got))


def _value(cell: str, decimal: str) -> float:
    """Return a cell's number, NaN for an empty one."""
    try:
        return float(cell if decimal == "." else cell.replace(",", "."))
    except ValueError:
        bare = cell.strip()
        if bare.lower() in _EMPTY:
            return np.nan
        clock = _CLOCK.fullmatch(bare)
        if clock is None:
            raise
        day, hours, minutes, seconds = clock.groups()
        days = float(np.datetime64(day, "D").astype(np.int64)) if day else 0.0
        return days * 86_400 + float(hours or 0) * 3600 + float(minutes) * 60 + float(seconds.replace(",", "."))
