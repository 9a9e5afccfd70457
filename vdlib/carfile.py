"""Car files: TOML a person can read and edit, to and from the records, comments kept, saved whole or not at all.

A key is the record's field name and the user's unit (``track_mm``); both come from the records and the glossary.
"""

from __future__ import annotations

import codecs
import contextlib
import difflib
import functools
import math
import os
import re
import secrets
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field, dataclass, fields
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import tomlkit
from tomlkit import TOMLDocument

from .car import Axle, AxleSetup, Car, Setup, Tyre
from .checks import InputError, Problem, range_problem
from .glossary import GLOSSARY, Quantity
from .tyre import KINDS
from .units import UNITS, from_si, to_si

MAX_BYTES = 1_000_000
TABLES: dict[str, type[Any]] = {
    "car": Car,
    "front": Axle,
    "front.tyre": Tyre,
    "rear": Axle,
    "rear.tyre": Tyre,
    "setup": Setup,
    "setup.front": AxleSetup,
    "setup.rear": AxleSetup,
}
"""Table of a car file → the record it fills."""
ORIGINS = ("measured", "typical", "example")
"""Where a number may come from, as the ``[origin]`` table says it."""
CORNERS = ("front_left", "front_right", "rear_left", "rear_right")
EXTRA_TABLES = ("corner_weights", "origin")
OWN_NUMBERS = "own numbers"
LONGEST = {"name": 100, "note": 2000, "kind": 40}


class _Faults(list[Problem]):
    """Everything found wrong so far."""

    def tell(self, field: str, got: str, rule: str, remedy: str) -> None:
        self.append(Problem(field, got, rule, remedy))


class Entry(NamedTuple):
    """One number of a car file: its dotted key, the record and field it fills, and its glossary entry."""

    key: str
    record: type[Any]
    field: str
    quantity: Quantity

    @property
    def table(self) -> str:
        """The table it stands in."""
        return self.key.rpartition(".")[0]

    @property
    def name(self) -> str:
        """Its key within that table, with the unit."""
        return self.key.rpartition(".")[2]

    @property
    def path(self) -> str:
        """Its dotted name without the unit, as ``[origin]`` uses it."""
        return f"{self.table}.{self.field}"


@dataclass(frozen=True)
class CarFile:
    """What a car file holds: the two records, where the numbers come from, and the text with its comments."""

    car: Car
    setup: Setup
    origin: dict[str, str]
    document: TOMLDocument
    path: Path | None = None


@functools.cache
def fields_of() -> tuple[Entry, ...]:
    """List every number a car file may hold, in the order of the tables and records.

    Returns:
        one ``Entry`` (key, record, field, quantity) each [-]
    """
    return tuple(
        Entry(f"{table}.{field.name}{_ending(field.name)}", record, field.name, GLOSSARY[field.name])
        for table, record in TABLES.items()
        for field in fields(record)
        if field.name in GLOSSARY
    )


def _ending(field: str) -> str:
    unit = GLOSSARY[field].unit
    return "" if unit == "number" else f"_{unit}"


def _texts(table: str) -> list[Field[Any]]:
    return [field for field in fields(TABLES[table]) if field.type == "str"]


@functools.cache
def _allowed() -> dict[str, list[str]]:
    """Table → the keys it may hold; "" is the top of the file. ``[origin]`` is not here: its keys are paths."""
    allowed: dict[str, list[str]] = {"": list(EXTRA_TABLES), "corner_weights": [f"{c}_kg" for c in CORNERS]}
    for table in TABLES:
        allowed[table] = [f.name for f in _texts(table)] + [e.name for e in fields_of() if e.table == table]
        parent, _, name = table.rpartition(".")
        allowed[parent].append(name)
    return allowed


# ---- reading ----------------------------------------------------------------------------------------------------


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
            raise _whole("must be there, but there is no such file", "check the name and the folder", where)
        if not path.is_file():
            what = "a folder" if path.is_dir() else "not a plain file"
            raise _whole("must be a file", "give the name of the file itself", where, what)
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as fault:  # ValueError: a NUL in the name; InputError is one too
        if isinstance(fault, InputError):
            raise
        raise _whole("cannot be opened", "check the name and its permissions", where, _reason(fault)) from None
    if len(raw) > MAX_BYTES:
        raise _whole("must be at most 1 MB", "is it really a car file?", where, "a larger file")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        got = f"byte 0x{raw[fault.start]:02x} in line {line}"
        raise _whole("must be UTF-8 text", "save it again as UTF-8 in the editor", where, got) from None
    found = parse(text, where)
    return CarFile(found.car, found.setup, found.origin, found.document, path)


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
    problems = _Faults()
    tables = _find_tables(data, problems)
    words = {table: _read_texts(table, content, problems) for table, content in tables.items()}
    kinds = {table: texts["kind"] for table, texts in words.items() if "kind" in texts}
    shares = _corner_shares(data["corner_weights"], problems) if "corner_weights" in data else {}
    origin = _read_origin(data.get("origin", {}), problems)

    known: dict[str, Any] = {}
    for entry in fields_of():
        if entry.table not in tables:
            continue
        value: Any
        if entry.name in tables[entry.table]:
            value = _number(tables[entry.table][entry.name], entry.key, entry.quantity, problems)
        else:
            value = _default(entry, known, kinds, shares)
            if value is MISSING:
                problems.append(_missing(entry))
        if value is None or (value is not MISSING and not math.isnan(value)):
            known[entry.path] = value
    problems += _disagreements(shares, known)

    whole = set(TABLES) <= set(tables) and all(len(words[t]) == len(_texts(t)) for t in TABLES)
    car = setup = None
    if whole and all(e.path in known for e in fields_of() if not e.table.startswith("setup")):
        car = _make_car(known, words, problems)
    if not problems:
        setup = _make("setup", known, words, **{end: _make(f"setup.{end}", known, words) for end in ("front", "rear")})
    if problems or car is None or setup is None:
        raise InputError(problems, where)
    return CarFile(car, setup, origin, _document(text, where))


def _whole(rule: str, remedy: str, where: str, got: str = "") -> InputError:
    return InputError([Problem("car file", got, rule, remedy)], where)


def _reason(fault: Exception) -> str:
    return (fault.strerror if isinstance(fault, OSError) else None) or str(fault)


def _toml(text: str, where: str) -> dict[str, Any]:
    if not text.strip():
        raise _whole("must not be empty", "begin with a copy of one of the example files", where, "an empty file")
    remedy = "write each line as key = number, decimals with a point, text in double quotes, each key once"
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _whole("is not TOML (brackets within brackets too deep)", remedy, where) from None
    except ValueError as fault:  # includes TOMLDecodeError, which names line and column
        at = re.search(r"at line (\d+)", str(fault))
        lines = text.split("\n")
        got = _shown(lines[int(at[1]) - 1].strip()) if at and int(at[1]) <= len(lines) else ""
        raise _whole(f"is not TOML: {fault}", remedy, where, got) from None


def _document(text: str, where: str) -> TOMLDocument:
    try:
        return tomlkit.parse(text)
    except Exception as fault:  # the plain parser has read it, so this is a form only the comment-keeping one refuses
        raise _whole(f"is not TOML: {fault}", "write it in the form of the example files", where) from None


def _shown(raw: Any) -> str:
    """A value in words short enough for a message."""
    if isinstance(raw, dict | list):
        return "a table" if isinstance(raw, dict) else "a list"
    if isinstance(raw, bool):
        return str(raw).lower()
    if isinstance(raw, int) and raw.bit_length() > 200:
        return "a huge number"
    text = repr(raw) if isinstance(raw, str) else str(raw)
    return text if len(text) <= 60 else text[:57] + "…"


def _dotted(table: str, key: str) -> str:
    plain = key if re.fullmatch(r"[A-Za-z0-9_.-]{1,60}", key) else _shown(key)
    return f"{table}.{plain}" if table else plain


def _find_tables(data: dict[str, Any], problems: _Faults) -> dict[str, dict[str, Any]]:
    """Give each table that is there, tell of those that are not, and of every unknown key."""
    tables: dict[str, dict[str, Any]] = {}
    for table in TABLES:
        parent, _, name = table.rpartition(".")
        if parent and parent not in tables:
            continue  # told of once, with the parent
        home = tables[parent] if parent else data
        if name not in home:
            keys = ", ".join(_allowed()[table][:4])
            problems.tell(table, "", "is missing", f"add a table [{table}] with {keys}, … as in the example files")
        elif not isinstance(home[name], dict):
            problems.tell(table, _shown(home[name]), "must be a table", f"write [{table}] on a line of its own")
        else:
            tables[table] = home[name]
    for table, content in {"": data, "corner_weights": data.get("corner_weights"), **tables}.items():
        if isinstance(content, dict):
            _tell_unknown(table, content, problems)
    return tables


def _tell_unknown(table: str, content: dict[str, Any], problems: _Faults) -> None:
    for count, key in enumerate(key for key in content if key not in _allowed()[table]):
        hint = _suggest(table, key) if count < 50 and len(key) <= 60 else ""  # guessing is slow
        problems.tell(
            _dotted(table, key), "", "is an unknown key", hint or "take the line out, or see the example files"
        )


def _suggest(table: str, key: str) -> str:
    """Guess which key was meant: the same one in another table, a like one here, a like one anywhere."""
    known = {name for names in _allowed().values() for name in names}
    near = [key] if key in known else difflib.get_close_matches(key, _allowed()[table], 1, 0.6)
    near = near or difflib.get_close_matches(key, sorted(known), 1, 0.75)
    if not near:
        return ""
    homes = [home for home, names in _allowed().items() if near[0] in names]
    # this very table, else the one that shares most of its name: front's camber_deg belongs in setup.front
    home = max(homes, key=lambda t: (t == table, len(set(t.split(".")) & set(table.split(".")))))
    return f"did you mean {_dotted(home, near[0])}?"


def _read_texts(table: str, content: dict[str, Any], problems: _Faults) -> dict[str, str]:
    texts: dict[str, str] = {}
    for field in _texts(table):
        key, longest = f"{table}.{field.name}", LONGEST[field.name]
        raw = content.get(field.name, field.default)
        if raw is MISSING:
            problems.tell(key, "", "is missing", f'add {field.name} = "…" under [{table}]')
        elif not isinstance(raw, str) or len(raw) > longest or (field.default is MISSING and not raw.strip()):
            problems.tell(
                key, _shown(raw), f"must be text of at most {longest} characters", 'write it in double quotes: "…"'
            )
        elif field.name == "kind" and raw not in (*KINDS, OWN_NUMBERS):
            choices = ", ".join(f'"{kind}"' for kind in KINDS)
            problems.tell(
                key, _shown(raw), f"must be one of {choices}", "choose one, or leave it out and give every number"
            )
            texts[field.name] = next(iter(KINDS))  # refused all the same; this keeps it to one fault
        else:
            texts[field.name] = raw
    return texts


def _number(raw: Any, key: str, quantity: Quantity, problems: _Faults, low: float | None = None) -> float:
    """Give one number in SI, or NaN after telling what is wrong with it."""
    low = quantity.low if low is None else low
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        label = UNITS[quantity.unit].label
        remedy = "take the quote marks away and write a number" if isinstance(raw, str) else "give one number"
        problems.tell(key, _shown(raw), f"must be {low:g} to {quantity.high:g} {label}".rstrip(), remedy)
        return math.nan
    try:
        value = float(to_si(float(raw), quantity.unit))
    except OverflowError:
        value = math.inf
    found = range_problem(key, value, quantity.unit, low, quantity.high)
    if found:
        problems.append(found)
        return math.nan
    return value


def _missing(entry: Entry) -> Problem:
    q = entry.quantity
    span = f"{q.low:g} to {q.high:g} {UNITS[q.unit].label}".rstrip()
    return Problem(entry.key, "", "is missing", f"add {entry.name} = …, {span}, under [{entry.table}]. {q.plain}")


def _default(entry: Entry, known: Mapping[str, Any], kinds: Mapping[str, str], shares: Mapping[str, float]) -> Any:
    """Give the SI value of a number that is left out, or MISSING where it must be there."""
    if entry.record is Tyre:
        return KINDS.get(kinds.get(entry.table, ""), {}).get(entry.field, MISSING)
    if entry.field == "aligned_height":
        return known.get(f"{entry.table.rpartition('.')[2]}.reference_height", math.nan)
    if entry.field in ("left_share", "cross_weight") and entry.field in shares:
        return shares[entry.field]
    return next(field.default for field in fields(entry.record) if field.name == entry.field)


def _corner_shares(raw: Any, problems: _Faults) -> dict[str, float]:
    """Give mass and shares from corner weights: ``F = (fl + fr)/m``, ``Y = (fl + rl)/m``, ``X = (fr + rl)/m``."""
    if not isinstance(raw, dict):
        problems.tell("corner_weights", _shown(raw), "must be a table", "write [corner_weights] on a line of its own")
        return {}
    top = GLOSSARY["mass"].high / 2
    corner = Quantity("corner weight", "m", "kg", 5, top, "What one scale shows with the driver in the seat.")
    loads: dict[str, float] = {}
    for name in CORNERS:
        key = f"corner_weights.{name}_kg"
        if f"{name}_kg" in raw:
            loads[name] = _number(raw[f"{name}_kg"], key, corner, problems)
        else:
            problems.tell(
                key, "", "is missing", f"give all four scale readings, 5 to {top:g} kg, or take [corner_weights] out"
            )
    if len(loads) < len(CORNERS) or any(map(math.isnan, loads.values())):
        return {}
    fl, fr, rl, rr = (loads[name] for name in CORNERS)
    mass = fl + fr + rl + rr
    shares = {
        "mass": mass,
        "front_share": (fl + fr) / mass,
        "left_share": (fl + rl) / mass,
        "cross_weight": (fr + rl) / mass,
    }
    found = [
        range_problem(f"corner_weights ({(q := GLOSSARY[n]).name})", v, q.unit, q.low, q.high)
        for n, v in shares.items()
    ]
    problems += [problem for problem in found if problem]
    return shares


def _disagreements(shares: Mapping[str, float], known: Mapping[str, Any]) -> list[Problem]:
    """Say where the corner weights differ from the numbers by more than 1 % of mass or one percent point of a share."""
    problems = _Faults()
    for entry in fields_of():
        given = known.get(entry.path)
        if entry.field not in shares or given is None:
            continue
        found, slack = shares[entry.field], 0.01 * (given if entry.field == "mass" else 1.0)
        if abs(found - given) > slack * (1 + 1e-9):
            label = UNITS[entry.quantity.unit].label
            got, other = (f"{from_si(v, entry.quantity.unit):.5g} {label}" for v in (found, given))
            rule = f"must give {entry.key} = {other} within {'1 %' if entry.field == 'mass' else 'one percent point'}"
            remedy = f"weigh again, correct {entry.key}, or take [corner_weights] out"
            problems.tell("corner_weights", got, rule, remedy)
    return problems


def _flat(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, Mapping) and prefix.count(".") < 4:
            yield from _flat(value, f"{prefix}{key}.")
        else:
            yield prefix + key, value


def _read_origin(raw: Any, problems: _Faults) -> dict[str, str]:
    if not isinstance(raw, Mapping):
        problems.tell("origin", _shown(raw), "must be a table", "write [origin] on a line of its own")
        return {}
    paths = [entry.path for entry in fields_of()]
    origin: dict[str, str] = {}
    for count, (path, word) in enumerate(_flat(raw)):
        key = f"origin.{_dotted('', path)}"
        if path not in paths:
            close = difflib.get_close_matches(path, paths, 1) if count < 50 and len(path) <= 60 else []
            problems.tell(key, "", "is an unknown key", f"did you mean {close[0]}?" if close else "take the line out")
        elif word not in ORIGINS:
            problems.tell(
                key, _shown(word), f"must be one of {', '.join(ORIGINS)}", "use one of these words, in quotes"
            )
        elif path in origin:
            problems.tell(key, _shown(word), "must stand there once", "take one of the two lines out")
        else:
            origin[path] = word
    return origin


def _make(table: str, known: Mapping[str, Any], words: Mapping[str, Mapping[str, str]], **parts: Any) -> Any:
    numbers = {entry.field: known[entry.path] for entry in fields_of() if entry.table == table}
    return TABLES[table](**numbers, **words[table], **parts)


def _make_car(known: Mapping[str, Any], words: Mapping[str, Mapping[str, str]], problems: _Faults) -> Car | None:
    axles = {end: _make(end, known, words, tyre=_make(f"{end}.tyre", known, words)) for end in ("front", "rear")}
    try:
        car: Car = _make("car", known, words, **axles)
    except InputError as fault:  # every number is in range by now: it is the two unsprung masses against the whole
        keys = " and ".join(entry.key for entry in fields_of() if entry.field == "unsprung_mass")
        problems += [Problem(keys, p.value, p.rule, p.remedy) for p in fault.problems]
        return None
    return car


# ---- writing ----------------------------------------------------------------------------------------------------


def write(
    path: str | Path,
    car: Car,
    setup: Setup,
    origin: Mapping[str, str] | None = None,
    document: TOMLDocument | None = None,
) -> CarFile:
    """Save a car file whole or not at all; the former file stays as it was until the new one is complete on the disk.

    Parameters:
        path: where to save [-]
        car: the car, plain numbers only [-]
        setup: the setup, plain numbers only [-]
        origin: where the numbers come from; None keeps what the document says [-]
        document: text whose comments, order and unchanged values are kept; None for a new one [-]

    Returns:
        the ``CarFile`` as it now stands on the disk [-]

    Errors:
        ``InputError`` where the file cannot be saved, or would not be read back; nothing is changed then.

    Validity: corner weights in the document that no longer agree with the car are taken out: they were not read on it.
    A writer killed half-way may leave a hidden ``.part`` file behind.
    """
    text = render(car, setup, origin, document)
    found = parse(text)
    try:
        target = Path(path).resolve()
        raw = text.encode("utf-8")
        if target.is_file() and target.read_bytes()[:3] == codecs.BOM_UTF8:
            raw = codecs.BOM_UTF8 + raw  # some editors put it there; an untouched file stays as it was
        save_whole(target, raw)
    except (OSError, ValueError, RuntimeError) as fault:  # RuntimeError: a ring of links
        raise _whole(
            "cannot be saved", "check the folder, its permissions and the space left", str(path), _reason(fault)
        ) from None
    return CarFile(found.car, found.setup, found.origin, found.document, Path(path))


def render(
    car: Car, setup: Setup, origin: Mapping[str, str] | None = None, document: TOMLDocument | None = None
) -> str:
    """Give the text of a car file, checked to read back as the same records.

    Parameters:
        car: the car, plain numbers only [-]
        setup: the setup, plain numbers only [-]
        origin: where the numbers come from; None keeps what the document says [-]
        document: text whose comments, order and unchanged values are kept; None for a new one [-]

    Returns:
        TOML text [-]

    Errors:
        ``InputError`` for an array where one number is needed, and for anything a car file may not hold.
    """
    start = document.as_string() if document is not None else "\n".join(f"[{table}]\n" for table in TABLES)
    doc = _document(start, "")
    records = _records(car, setup)
    known = {e.path: _plain(getattr(records[e.table], e.field), e.key) for e in fields_of()}
    kinds = {table: record.kind for table, record in records.items() if isinstance(record, Tyre)}
    shares: dict[str, float] = {}
    if "corner_weights" in doc:
        faults = _Faults()
        shares = _corner_shares(doc.unwrap()["corner_weights"], faults)
        if faults or _disagreements(shares, known):
            del doc["corner_weights"]
            shares = {}

    for table, record in records.items():
        home = _home(doc, table)
        for field in _texts(table):
            text = getattr(record, field.name)
            if home.get(field.name) != text:
                _put(home, field.name, text, text == field.default)
        for entry in (e for e in fields_of() if e.table == table):
            value, unit = known[entry.path], entry.quantity.unit
            if not _same(_si(home.get(entry.name), unit), value):
                spare = _same(_default(entry, known, kinds, shares), value)
                _put(home, entry.name, None if value is None else short(value, unit), spare)
    if origin is not None:
        _put_origin(doc, dict(origin))

    text = doc.as_string()
    again = parse(text)
    held = _records(again.car, again.setup)
    # A last look before anything is saved; it can only fail where the comment-keeping parser has a flaw of its own.
    wrong = [e.key for e in fields_of() if not _same(getattr(held[e.table], e.field), known[e.path])]
    wrong += [
        f"{t}.{f.name}" for t in TABLES for f in _texts(t) if getattr(held[t], f.name) != getattr(records[t], f.name)
    ]
    if wrong or (origin is not None and again.origin != dict(origin)):
        raise RuntimeError(f"the text would not read back as the same car: {', '.join(wrong) or 'origin'}")
    return text


def short(value: float, unit: str) -> float:
    """Give an SI value in the user's unit with as few digits as still stand for it (1490.0, not 1489.9999999999998).

    Parameters:
        value: one number in SI [any]
        unit: name of the user's unit [-]

    Returns:
        the number in the user's unit; ``to_si`` takes it back to within a few units in the last place [any]
    """
    exact = float(from_si(value, unit))
    for digits in range(1, 13):
        brief = float(f"{exact:.{digits}g}")
        if abs(brief - exact) <= 4e-15 * abs(exact):
            return brief
    return exact


def save_whole(target: Path, raw: bytes) -> None:
    """Put bytes on the disk so that at any instant the name holds either the former file or the new one, whole.

    Parameters:
        target: the file's resolved path [-]
        raw: what it is to hold [-]

    Errors:
        ``OSError`` from the system; the former file is then as it was.
    """
    mode = 0o666
    if target.exists():
        if not os.access(target, os.W_OK):
            raise PermissionError(13, "the file is write-protected")
        mode = target.stat().st_mode & 0o777
    part = target.with_name(f".{target.name[:100]}.{secrets.token_hex(4)}.part")
    try:
        with os.fdopen(
            os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode), "wb"
        ) as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    with contextlib.suppress(OSError):  # some systems cannot open a folder; the file itself is safe by now
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _records(car: Car, setup: Setup) -> dict[str, Any]:
    records: dict[str, Any] = {"car": car, "setup": setup}
    for end in ("front", "rear"):
        axle = getattr(car, end)
        records |= {end: axle, f"{end}.tyre": axle.tyre, f"setup.{end}": getattr(setup, end)}
    return {table: records[table] for table in TABLES}


def _plain(value: Any, key: str) -> float | None:
    if value is None:
        return None
    if np.ndim(value):
        raise InputError(
            [Problem(key, f"{np.size(value)} values", "must be one number in a car file", "save one car at a time")]
        )
    return float(value)


def _si(raw: Any, unit: str) -> float:
    """A document's value in SI; NaN, which equals nothing, for what is no number."""
    try:
        return math.nan if isinstance(raw, bool) or not isinstance(raw, int | float) else float(to_si(float(raw), unit))
    except OverflowError:
        return math.inf


def _same(one: Any, other: Any) -> bool:
    if not isinstance(one, int | float) or not isinstance(other, int | float):
        return one is other
    return bool(one == other or abs(one - other) <= 1e-12 * max(abs(one), abs(other)))


def _home(doc: Any, table: str) -> Any:
    """Give a table of the document, made where it is not there."""
    home = doc
    for name in table.split("."):
        if not isinstance(home.get(name), Mapping):
            home[name] = tomlkit.table()
        home = home[name]
    return home


def _put(home: Any, key: str, value: Any, spare: bool) -> None:
    """Change one value in a table: taken out where it is None, not added where the default already says it."""
    if value is None:
        home.pop(key, None)
    elif key in home or not spare:
        home[key] = value


def _put_origin(doc: Any, wanted: dict[str, str]) -> None:
    held = dict(_flat(doc["origin"])) if isinstance(doc.get("origin"), Mapping) else {}
    if held == wanted:
        return
    home = _home(doc, "origin")
    for path in held.keys() | wanted.keys():
        place, key = _place(home, path)
        if path not in wanted:
            del place[key]
        elif held.get(path) != wanted[path]:
            place[key] = wanted[path]


def _place(table: Any, path: str) -> tuple[Any, str]:
    """Find where a dotted path stands: as one quoted key or as tables within tables; else where to put it."""
    if path not in table:
        head, _, rest = path.partition(".")
        if rest and isinstance(table.get(head), Mapping):
            return _place(table[head], rest)
    return table, path
