"""Reading car files: from TOML text to the records, every fault told at once."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, replace
from dataclasses import field as set_to
from pathlib import Path
from typing import Any

from ..checks import InputError, Problem
from .keys import (
    ORIGINS,
    OWN_NUMBERS,
    TABLES,
    WHEEL_TABLES,
    Entry,
    Faults,
    allowed,
    corner_shares,
    default,
    disagreements,
    dotted,
    fields_of,
    flat,
    is_by_wheel,
    number,
    reason,
    shown,
    span,
    suggest,
    texts_of,
    wheel_entries,
    whole,
)
from .known import Known
from .known_tables import read_known, tell_both_or_missing, tell_heights
from .records import SIDES, WHEEL_FIELDS, Car, Setup
from .store import DEEP
from .tyre import KINDS

MAX_BYTES = 1_000_000
LONGEST = {"name": 100, "note": 2000, "kind": 40}
_TABLE = re.compile(rb"^[ \t]*\[[ \t]*(?:%s)\b" % "|".join(map(re.escape, TABLES)).encode(), re.MULTILINE)
MOST_LINES = 20_000
"""Most lines of a car file; the parser that keeps comments is slow on more."""


@dataclass(frozen=True)
class CarFile:
    """What a car file holds: the two records, what is known of their numbers, and its text."""

    car: Car
    setup: Setup
    origin: dict[str, str]
    text: str
    path: Path | None = None
    known: Known = set_to(default_factory=Known)


def read(path: str | Path) -> CarFile:
    """Read one car file and check everything in it.

    Parameters:
        path: where the file is [-]

    Returns:
        a ``CarFile`` [-]

    Errors:
        ``InputError``: no such file, a folder, larger than 1 MB, not UTF-8, and every fault that ``parse`` finds.
    """
    where = str(path)
    try:
        path = Path(path)
        if not path.exists():
            raise whole("must be there, but there is no such file", "check the name and the folder", where)
        if not path.is_file():
            what = "a folder" if path.is_dir() else "not a plain file"
            raise whole("must be a file", "give the name of the file itself", where, what)
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as fault:  # ValueError: a NUL in the name; InputError is one too
        if isinstance(fault, InputError):
            raise
        raise whole("cannot be opened", "check the name and its permissions", where, reason(fault)) from None
    if len(raw) > MAX_BYTES:
        raise whole("must be at most 1 MB", "is it really a car file?", where, "a larger file")
    if raw.strip() and not _TABLE.search(raw):
        remedy = "give the path of a car file; nothing of this one is shown"
        tables = ", ".join(f"[{table}]" for table in TABLES)
        raise whole(f"must hold the tables {tables}", remedy, where, "none of them")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        got = f"byte 0x{raw[fault.start]:02x} in line {line}"
        raise whole("must be UTF-8 text", "save it again as UTF-8 in the editor", where, got) from None
    found = parse(text, where)
    return replace(found, path=path)


def parse(text: str, where: str = "") -> CarFile:
    """Make the records from the text of a car file.

    Parameters:
        text: the TOML text [-]
        where: file name for the error message [-]

    Returns:
        a ``CarFile`` without a path [-]

    Errors:
        ``InputError`` that lists every fault at once, each with key, value, unit, allowed range and remedy.
    """
    data = _toml(text, where)
    problems = Faults()
    tables = _find_tables(data, problems)
    words = {table: _read_texts(table, tables[table], problems) for table in TABLES if table in tables}
    kinds = {table: texts["kind"] for table, texts in words.items() if "kind" in texts}
    shares = corner_shares(data["corner_weights"], problems) if "corner_weights" in data else {}
    origin = _read_origin(data.get("origin", {}), problems)
    more = read_known(data, problems)

    weighed = "cross_weight_percent" in tables.get("setup", {}) or "left_share_percent" in tables.get("car", {})
    known: dict[str, Any] = {"weighed": weighed or "corner_weights" in data}
    for entry in fields_of():
        if entry.table not in tables:
            continue
        value: Any
        if is_by_wheel(entry) and (wheels := _wheels(entry, tables, problems)):
            value = 0.5 * (wheels[0] + wheels[1])
            known[f"{entry.table}.{WHEEL_FIELDS[entry.field]}"] = wheels[0] - wheels[1]
        elif entry.name in tables[entry.table]:
            value = number(tables[entry.table][entry.name], entry.key, entry.quantity, problems)
        else:
            value = default(entry, known, kinds, shares)
            if value is MISSING:
                problems.append(_missing(entry))
        if value is None or (value is not MISSING and not math.isnan(value)):
            known[entry.path] = value
    problems += disagreements(shares, known)

    full = set(TABLES) <= set(tables) and all(len(words[t]) == len(texts_of(t)) for t in TABLES)
    car = setup = None
    if full and all(e.path in known for e in fields_of() if not e.table.startswith("setup")):
        car = _make_car(known, words, problems)
    if car is not None:
        tell_heights(more, float(car.wheelbase), problems)
    if not problems:
        setup = _make("setup", known, words, **{end: _make(f"setup.{end}", known, words) for end in ("front", "rear")})
    if problems or car is None or setup is None:
        raise InputError(problems, where)
    return CarFile(car, setup, origin, text, known=more)


def _wheels(entry: Entry, tables: Mapping[str, dict[str, Any]], problems: Faults) -> tuple[float, ...]:
    """Return a number of the left and of the right wheel in SI, NaN where wrong; nothing where the axle has it."""
    homes = [table for table, (axle, _) in WHEEL_TABLES.items() if axle == entry.table]
    given = {side: home for side, home in zip(SIDES, homes, strict=True) if entry.name in tables.get(home, {})}
    axle = entry.name in tables[entry.table]
    if not tell_both_or_missing(entry.key, axle, list(given), problems):
        return ()
    if axle or len(given) < len(homes):
        return (math.nan, math.nan)
    return tuple(number(tables[h][entry.name], f"{h}.{entry.name}", entry.quantity, problems) for h in homes)


def _toml(text: str, where: str) -> dict[str, Any]:
    if not text.strip():
        raise whole("must not be empty", "begin with a copy of one of the example files", where, "an empty file")
    if (count := text.count("\n")) > MOST_LINES:
        raise whole(f"must have at most {MOST_LINES:,} lines", "is it really a car file?", where, f"{count:,}")
    if deep := DEEP.search(text):
        rule = "must not hold a key of more than 20 parts joined by dots"
        got = f"{shown(deep[0])} in line {text.count(chr(10), 0, deep.start()) + 1}"
        raise whole(rule, "keys have at most four parts, as in the example files", where, got)
    remedy = "write each line as key = number, decimals with a point, text in double quotes, each key once"
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise whole("is not TOML (brackets within brackets too deep)", remedy, where) from None
    except ValueError as fault:  # includes TOMLDecodeError, which names line and column
        at = re.search(r"at line (\d+)", str(fault))
        lines = text.split("\n")
        got = shown(lines[int(at[1]) - 1].strip()) if at and int(at[1]) <= len(lines) else ""
        raise whole(f"is not TOML: {fault}", remedy, where, got) from None


def _find_tables(data: dict[str, Any], problems: Faults) -> dict[str, dict[str, Any]]:
    """Return each table that is there; report those that are not, and every unknown key."""
    tables: dict[str, dict[str, Any]] = {}
    for table in TABLES:
        parent, _, name = table.rpartition(".")
        if parent and parent not in tables:
            continue  # told of once, with the parent
        home = tables[parent] if parent else data
        if name not in home:
            keys = ", ".join(allowed()[table][:4])
            problems.tell(table, "", "is missing", f"add a table [{table}] with {keys}, … as in the example files")
        elif not isinstance(home[name], dict):
            problems.tell(table, shown(home[name]), "must be a table", f"write [{table}] on a line of its own")
        else:
            tables[table] = home[name]
    for table in WHEEL_TABLES:
        axle, _, own = table.rpartition(".")
        found = tables.get(axle, {}).get(own)
        if isinstance(found, dict):
            tables[table] = found
        elif found is not None:
            problems.tell(table, shown(found), "must be a table", f"write [{table}] on a line of its own")
    for table, content in {"": data, "corner_weights": data.get("corner_weights"), **tables}.items():
        if isinstance(content, dict):
            _tell_unknown(table, content, problems)
    return tables


def _tell_unknown(table: str, content: dict[str, Any], problems: Faults) -> None:
    for count, key in enumerate(key for key in content if key not in allowed()[table]):
        hint = suggest(table, key) if count < 50 and len(key) <= 60 else ""  # guessing is slow
        problems.tell(
            dotted(table, key), "", "is an unknown key", hint or "take the line out, or see the example files"
        )


def _read_texts(table: str, content: dict[str, Any], problems: Faults) -> dict[str, str]:
    texts: dict[str, str] = {}
    for field in texts_of(table):
        key, longest = f"{table}.{field.name}", LONGEST[field.name]
        raw = content.get(field.name, field.default)
        if raw is MISSING:
            problems.tell(key, "", "is missing", f'add {field.name} = "…" under [{table}]')
        elif not isinstance(raw, str) or len(raw) > longest or (field.default is MISSING and not raw.strip()):
            problems.tell(
                key, shown(raw), f"must be text of at most {longest} characters", 'write it in double quotes: "…"'
            )
        elif field.name == "kind" and raw not in (*KINDS, OWN_NUMBERS):
            choices = ", ".join(f'"{kind}"' for kind in KINDS)
            problems.tell(
                key, shown(raw), f"must be one of {choices}", "choose one, or leave it out and give every number"
            )
            texts[field.name] = next(iter(KINDS))  # refused all the same; this keeps it to one fault
        else:
            texts[field.name] = raw
    return texts


def _missing(entry: Entry) -> Problem:
    remedy = f"add {entry.name} = …, {span(entry.quantity)}, under [{entry.table}]. {entry.quantity.plain}"
    return Problem(entry.key, "", "is missing", remedy)


def _read_origin(raw: Any, problems: Faults) -> dict[str, str]:
    if not isinstance(raw, Mapping):
        problems.tell("origin", shown(raw), "must be a table", "write [origin] on a line of its own")
        return {}
    paths = [*(entry.path for entry in fields_of()), *wheel_entries()]
    origin: dict[str, str] = {}
    for count, (path, word) in enumerate(flat(raw)):
        key = f"origin.{dotted('', path)}"
        if path not in paths:
            close = difflib.get_close_matches(path, paths, 1) if count < 50 and len(path) <= 60 else []
            problems.tell(key, "", "is an unknown key", f"did you mean {close[0]}?" if close else "take the line out")
        elif word not in ORIGINS:
            problems.tell(key, shown(word), f"must be one of {', '.join(ORIGINS)}", "use one of these words, in quotes")
        elif path in origin:
            problems.tell(key, shown(word), "must stand there once", "take one of the two lines out")
        else:
            origin[path] = word
    return origin


def _make(table: str, known: Mapping[str, Any], words: Mapping[str, Mapping[str, str]], **parts: Any) -> Any:
    numbers = {entry.field: known[entry.path] for entry in fields_of() if entry.table == table}
    differences = {name: known.get(f"{table}.{name}") for name in WHEEL_FIELDS.values()}
    numbers |= {name: value for name, value in differences.items() if value is not None}
    return TABLES[table](**numbers, **words[table], **parts)


def _make_car(known: Mapping[str, Any], words: Mapping[str, Mapping[str, str]], problems: Faults) -> Car | None:
    axles = {end: _make(end, known, words, tyre=_make(f"{end}.tyre", known, words)) for end in ("front", "rear")}
    try:
        car: Car = _make("car", known, words, **axles)
    except InputError as fault:  # every number is in range by now: it is the two unsprung masses against the whole
        keys = " and ".join(entry.key for entry in fields_of() if entry.field == "unsprung_mass")
        problems += [Problem(keys, p.value, p.rule, p.remedy) for p in fault.problems]
        return None
    return car
