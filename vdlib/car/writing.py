"""Saving car files: from the records to TOML text, comments kept, on the disk whole or not at all."""

from __future__ import annotations

import codecs
import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit
from tomlkit import TOMLDocument

from ..checks import InputError, Problem
from ..units import from_si, to_si
from .keys import (
    TABLES,
    WHEEL_TABLES,
    Entry,
    Faults,
    corner_shares,
    default,
    disagreements,
    fields_of,
    flat,
    is_by_wheel,
    reason,
    texts_of,
    whole,
)
from .known import Known
from .known_tables import tables_of
from .reading import CarFile, parse
from .records import WHEEL_FIELDS, AxleSetup, Car, Setup, Tyre
from .store import save_whole


def write(
    path: str | Path,
    car: Car,
    setup: Setup,
    origin: Mapping[str, str] | None = None,
    former: str | None = None,
    more: Known | None = None,
) -> CarFile:
    """Save a car file whole or not at all; the former file stays as it was until the new one is complete on the disk.

    Parameters:
        path: where to save [-]
        car: the car, plain numbers only [-]
        setup: the setup, plain numbers only [-]
        origin: where the numbers come from; None keeps what the former text says [-]
        former: text whose comments, order and unchanged values are kept; None for a new one [-]
        more: errors, kinds, points and book figures; None keeps what the former text says [-]

    Returns:
        the ``CarFile`` as it now stands on the disk [-]

    Errors:
        ``InputError`` where the file cannot be saved, or would not be read back; nothing is changed then.

    Validity: corner weights of the former text that the car no longer agrees with are taken out: not read on it.
    """
    text = render(car, setup, origin, former, more)
    found = parse(text)
    try:
        target = Path(path).resolve()
        raw = text.encode("utf-8")
        if target.is_file() and target.read_bytes()[:3] == codecs.BOM_UTF8:
            raw = codecs.BOM_UTF8 + raw  # some editors put it there; an untouched file stays as it was
        save_whole(target, raw)
    except (OSError, ValueError, RuntimeError) as fault:  # RuntimeError: a ring of links
        raise whole(
            "cannot be saved", "check the folder, its permissions and the space left", str(path), reason(fault)
        ) from None
    return replace(found, path=Path(path))


def render(
    car: Car,
    setup: Setup,
    origin: Mapping[str, str] | None = None,
    former: str | None = None,
    more: Known | None = None,
) -> str:
    """Return the text of a car file, checked to read back as the same records.

    Parameters:
        car: the car, plain numbers only [-]
        setup: the setup, plain numbers only [-]
        origin: where the numbers come from; None keeps what the former text says [-]
        former: text whose comments, order and unchanged values are kept; None for a new one [-]
        more: errors, kinds, points and book figures; None keeps what the former text says [-]

    Returns:
        TOML text [-]

    Errors:
        ``InputError`` for an array where one number is needed, and for anything a car file may not hold.
    """
    doc = _with_comments("\n".join(f"[{table}]\n" for table in TABLES) if former is None else former)
    held = records(car, setup)
    known: dict[str, Any] = {e.path: _plain(getattr(held[e.table], e.field), e.key) for e in fields_of()}
    kinds = {table: record.kind for table, record in held.items() if isinstance(record, Tyre)}
    shares: dict[str, float] = {}
    if "corner_weights" in doc:
        faults = Faults()
        shares = corner_shares(doc.unwrap()["corner_weights"], faults)
        if faults or disagreements(shares, known):
            del doc["corner_weights"]
            shares = {}

    own = {"weighed": "corner_weights" in doc or known["setup.cross_weight"] != 0.5 or known["car.left_share"] != 0.5}
    own["weighed"] |= any(
        k in doc.get(t, {}) for t, k in (("setup", "cross_weight_percent"), ("car", "left_share_percent"))
    )
    own |= {f"setup.{end}.height_difference": getattr(setup, end).height_difference for end in ("front", "rear")}
    for table, record in held.items():
        home = _home(doc, table)
        for field in texts_of(table):
            text = getattr(record, field.name)
            if home.get(field.name) != text:
                _put(home, field.name, text, text == field.default)
        for entry in (e for e in fields_of() if e.table == table):
            value, unit = known[entry.path], entry.quantity.unit
            if is_by_wheel(entry) and _put_wheels(doc, entry, record):
                continue
            if not _same(_si(home.get(entry.name), unit), value):
                spare = _same(default(entry, known | own, kinds, shares), value)
                _put(home, entry.name, None if value is None else rounded_for_file(value, unit), spare)
    if origin is not None:
        _put_paths(doc, "origin", dict(origin))
    if more is not None:
        for name, wanted in tables_of(more, rounded_for_file):
            _put_paths(doc, name, wanted)

    text = doc.as_string()
    again = parse(text)
    found = records(again.car, again.setup)
    # A last look before anything is saved; it can only fail where the comment-keeping parser has a flaw of its own.
    wrong = [
        e.key
        for e in fields_of()
        if not (
            _same_wheels(found[e.table], held[e.table], e.field)
            if is_by_wheel(e)
            else _same(getattr(found[e.table], e.field), known[e.path])
        )
    ]
    wrong += [
        f"{t}.{f.name}" for t in TABLES for f in texts_of(t) if getattr(found[t], f.name) != getattr(held[t], f.name)
    ]
    if wrong or (origin is not None and again.origin != dict(origin)):
        raise RuntimeError(f"the text would not read back as the same car: {', '.join(wrong) or 'origin'}")
    return text


def _with_comments(text: str) -> TOMLDocument:
    """Parse a text with its comments and order kept."""
    try:
        return tomlkit.parse(text)
    except Exception as fault:  # the plain parser has read it, so this is a form only the comment-keeping one refuses
        raise whole(f"is not TOML: {fault}", "write it in the form of the example files", "") from None


def rounded_for_file(value: float, unit: str) -> float:
    """Return an SI value in the user's unit with as few digits as still mean the same (1490.0, not 1489.9999999999998).

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


def records(car: Car, setup: Setup) -> dict[str, Any]:
    """Return each table's record, in the order of the tables."""
    found: dict[str, Any] = {"car": car, "setup": setup}
    for end in ("front", "rear"):
        axle = getattr(car, end)
        found |= {end: axle, f"{end}.tyre": axle.tyre, f"setup.{end}": getattr(setup, end)}
    return {table: found[table] for table in TABLES}


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


def _same_wheels(one: Any, other: Any, name: str) -> bool:
    """Whether two axles have the same number at both wheels, to rounding of the larger."""
    pairs = list(zip(one.wheels(name), other.wheels(name), strict=True))
    return all(abs(a - b) <= 1e-12 * max(abs(v) for pair in pairs for v in pair) for a, b in pairs)


def _put_wheels(doc: Any, entry: Entry, axle: AxleSetup) -> bool:
    """Write a number wheel by wheel where left and right differ or the document has it so; say whether it did."""
    homes = [table for table, (of, _) in WHEEL_TABLES.items() if of == entry.table]
    there = [_home(doc, table) for table in homes if _has(doc, table)]
    by_wheel = any(entry.name in home for home in there)
    _plain(getattr(axle, WHEEL_FIELDS[entry.field]), entry.key)
    if not by_wheel and not getattr(axle, WHEEL_FIELDS[entry.field]):
        return False
    _home(doc, entry.table).pop(entry.name, None)
    values = [float(value) for value in axle.wheels(entry.field)]
    for table, value in zip(homes, values, strict=True):
        home, unit = _home(doc, table), entry.quantity.unit
        if not abs(_si(home.get(entry.name), unit) - value) <= 1e-12 * max(map(abs, values)):
            home[entry.name] = rounded_for_file(value, unit)
    return True


def _has(doc: Any, table: str) -> bool:
    home = doc
    for name in table.split("."):
        if not isinstance(home.get(name), Mapping):
            return False
        home = home[name]
    return True


def _home(doc: Any, table: str) -> Any:
    """Return a table of the document, made where it is not there."""
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


def _put_paths(doc: Any, table: str, wanted: Mapping[str, Any]) -> None:
    """Change what a table holds under dotted paths: only what differs, comments kept."""
    held = dict(flat(doc[table])) if isinstance(doc.get(table), Mapping) else {}
    if held == wanted:
        return
    if not wanted:
        del doc[table]
        return
    home = _home(doc, table)
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
