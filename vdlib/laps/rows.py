"""Rows of a log turned into numbers, block by block; rows that cannot be read are left out and told."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..units import Array
from .text import CLOCK, Look, counted, fault

BLOCK = 4 << 20
"""Characters read at a time."""
MAX_ROWS = 3_000_000
"""Most rows read: a day of eight hours at 100 rows a second; five columns of them take about 0.6 GB at the most."""
BAD_SHARE = 0.01
"""Largest share of rows that may be left out because they cannot be read; beyond it the file is refused."""
BAD_LEAST = 3
"""So many such rows are left out from however short a file."""
_EMPTY = {"", "-", "--", "na", "n/a", "nan", "null", "none", "nil", "#n/a", "inf", "-inf", "+inf", "infinity"}


_COMMAS = re.compile(r"[+-]?\d{1,3}(,\d{3})+\.\d+")
_POINTS = re.compile(r"[+-]?\d{1,3}(\.\d{3})+,\d+")
"""Thousands parted by the other sign; only with a decimal sign behind them can it be no decimal sign itself."""


@dataclass(frozen=True)
class Table:
    """Columns of numbers, NaN where a cell is empty, and the file's line of each row."""

    values: list[Array]
    row: NDArray[np.int64]


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
        told = f"{reader.bad} of {counted(held + reader.bad, 'row')} that cannot be read ({listed})"
        rule = f"must be numbers, all but {BAD_SHARE:.0%} of the rows"
        remedy = "mend those rows or choose another column; numbers must be plain, such as 1234.5"
        raise fault("the columns chosen", told, rule, remedy, path.name)
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
        self.clocks = [k for k, i in enumerate(self.wanted) if found.clock[i]]
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
        got = self._fast(plain) if plain else None
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
        gaps = sign + sign in block or f"{sign}\n" in f"{block}\n" or f"\n{sign}" in f"\n{block}"
        if comma or gaps:
            block = block.replace(",", ".") if comma else block
            if gaps:  # twice: neighbouring gaps share a delimiter
                block = block.replace(sign + sign, f"{sign}nan{sign}").replace(sign + sign, f"{sign}nan{sign}")
                block = (f"\n{block}").replace(f"\n{sign}", f"\nnan{sign}")[1:]
                block = (f"{block}\n").replace(f"{sign}\n", f"{sign}nan\n")[:-1]
            lines = block.split("\n")
        if quoted and self.clocks:
            return None
        times = []
        for k in self.clocks:
            at = self.wanted[k]
            time = clock_seconds([line.split(sign, at + 1)[at] for line in lines])
            if time is None:
                return None
            times.append(time)
        rest = [i for k, i in enumerate(self.wanted) if k not in self.clocks]
        values = np.empty((len(lines), 0))
        try:
            if rest:
                values = np.loadtxt(
                    lines, delimiter=sign, usecols=rest, ndmin=2, comments=None, quotechar='"' if quoted else None
                )
        except ValueError:
            return None
        if len(values) != len(lines):
            return None
        for k, time in zip(self.clocks, times, strict=True):
            values = np.insert(values, k, time, axis=1)
        return values

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


def clock_seconds(cells: Sequence[str]) -> Array | None:
    """Return the seconds of times of day, all at once where every cell is written as the first is.

    Parameters:
        cells: times such as "10:02:03.45", with or without a date, at least one [-]

    Returns:
        what ``_value`` makes of each; None where they are not all written alike [s]
    """
    match = CLOCK.fullmatch(cells[0])
    text = "".join(cells)
    width = len(cells[0])
    if match is None or not text.isascii() or any(len(cell) != width for cell in cells):
        return None
    codes = np.frombuffer(text.encode("ascii"), dtype=np.uint8).reshape(len(cells), width)
    digit = np.array([sign.isdigit() for sign in cells[0]])
    if (codes[:, ~digit] != codes[0, ~digit]).any() or (codes[:, digit] - 48 > 9).any():
        return None

    def number(group: int) -> Array:
        begin, end = match.span(group)
        whole = np.zeros(len(cells))
        for i in range(begin, end):
            whole = 10 * whole + (codes[:, i] - 48.0) if digit[i] else whole
        sign = next((i for i in range(begin, end) if not digit[i]), end - 1)
        return whole / 10.0 ** (end - 1 - sign)

    days: Array = np.zeros(len(cells))
    if match[1]:
        begin, end = match.span(1)
        written, which = np.unique(codes[:, begin:end].copy().view(f"S{end - begin}").ravel(), return_inverse=True)
        try:
            days = written.astype("U10").astype("datetime64[D]").astype(np.int64).astype(float)[which]
        except ValueError:
            return None
    hours = number(2) if match[2] else 0.0
    return np.asarray(days * 86_400 + hours * 3600 + number(3) * 60 + number(4))


def _value(cell: str, decimal: str) -> float:
    """Return a cell's number, NaN for an empty one."""
    try:
        return float(cell if decimal == "." else cell.replace(",", "."))
    except ValueError:
        bare = cell.strip()
        if bare.lower() in _EMPTY:
            return np.nan
        if (_COMMAS if decimal == "." else _POINTS).fullmatch(bare):
            return float(bare.replace(",", "") if decimal == "." else bare.replace(".", "").replace(",", "."))
        clock = CLOCK.fullmatch(bare)
        if clock is None:
            raise
        day, hours, minutes, seconds = clock.groups()
        days = float(np.datetime64(day, "D").astype(np.int64)) if day else 0.0
        return days * 86_400 + float(hours or 0) * 3600 + float(minutes) * 60 + float(seconds.replace(",", "."))
