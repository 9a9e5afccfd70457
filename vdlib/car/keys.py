"""What a car file may hold: tables, keys, units and origins, and the checks that reading and saving share."""

from __future__ import annotations

import difflib
import functools
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field, dataclass, fields
from typing import Any

from ..checks import InputError, Problem, range_problem
from ..glossary import GLOSSARY, Quantity
from ..units import UNITS, from_si, to_si
from .records import WHEEL_FIELDS, Axle, AxleSetup, Car, Setup, Tyre
from .tyre import KINDS

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
ENDS = ("front", "rear")
CORNERS = ("front_left", "front_right", "rear_left", "rear_right")
"""The four scales, in the order of the ``[corner_weights]`` table."""
WHEEL_TABLES: dict[str, tuple[str, int]] = {
    f"setup.{corner}": (f"setup.{corner.partition('_')[0]}", i % 2) for i, corner in enumerate(CORNERS)
}
"""Table of one wheel → the table of its axle, and its side: 0 left, 1 right."""
EXTRA_TABLES = ("corner_weights", "origin", "error", "kinds", "points", "book", "reference", "visit")
OWN_NUMBERS = "own numbers"
"""Kind of a tyre whose every number is given."""


class Faults(list[Problem]):
    """Everything found wrong so far."""

    def tell(self, field: str, got: str, rule: str, remedy: str) -> None:
        """Put one more problem on the list."""
        self.append(Problem(field, got, rule, remedy))


@dataclass(frozen=True)
class Entry:
    """One number of a car file: its dotted key, the record and field it fills, and its glossary entry."""

    key: str
    record: type[Any]
    field: str
    quantity: Quantity

    @functools.cached_property
    def table(self) -> str:
        """The table it stands in."""
        return self.key.rpartition(".")[0]

    @functools.cached_property
    def name(self) -> str:
        """Its key within that table, with the unit."""
        return self.key.rpartition(".")[2]

    @functools.cached_property
    def path(self) -> str:
        """Its dotted name without the unit, as ``[origin]`` uses it."""
        return f"{self.table}.{self.field}"


@functools.cache
def fields_of() -> tuple[Entry, ...]:
    """List every number a car file may hold, in the order of the tables and records.

    Returns:
        one ``Entry`` (key, record, field, quantity) each [-]
    """

    def ending(field: str) -> str:
        unit = GLOSSARY[field].unit
        return "" if unit == "number" else f"_{unit}"

    return tuple(
        Entry(f"{table}.{field.name}{ending(field.name)}", record, field.name, GLOSSARY[field.name])
        for table, record in TABLES.items()
        for field in fields(record)
        if field.name in GLOSSARY and field.name not in WHEEL_FIELDS.values()
    )


def is_by_wheel(entry: Entry) -> bool:
    """Whether each wheel may have its own value of a number."""
    return entry.record is AxleSetup and entry.field in WHEEL_FIELDS


@functools.cache
def wheel_entries() -> dict[str, Entry]:
    """Path of one wheel's number, such as ``setup.rear_left.toe`` → its entry."""
    entries = [
        Entry(f"{table}.{entry.name}", entry.record, entry.field, entry.quantity)
        for table, (axle, _) in WHEEL_TABLES.items()
        for entry in fields_of()
        if entry.table == axle and is_by_wheel(entry)
    ]
    return {entry.path: entry for entry in entries}


def texts_of(table: str) -> list[Field[Any]]:
    """List the record fields of one table that hold words."""
    return [field for field in fields(TABLES[table]) if field.type == "str"]


@functools.cache
def allowed() -> dict[str, list[str]]:
    """Table → the keys it may hold; "" is the top of the file. ``[origin]`` is not here: its keys are paths."""
    keys: dict[str, list[str]] = {"": list(EXTRA_TABLES), "corner_weights": [f"{c}_kg" for c in CORNERS]}
    for table in TABLES:
        keys[table] = [f.name for f in texts_of(table)] + [e.name for e in fields_of() if e.table == table]
        parent, _, name = table.rpartition(".")
        keys[parent].append(name)
    for table in WHEEL_TABLES:
        keys[table] = [entry.name for entry in wheel_entries().values() if entry.table == table]
        keys["setup"].append(table.rpartition(".")[2])
    return keys


# ---- words for messages ------------------------------------------------------------------------------------------


def whole(rule: str, remedy: str, where: str, got: str = "") -> InputError:
    """Make the error that says what is wrong with a file as a whole."""
    return InputError([Problem("car file", got, rule, remedy)], where)


def reason(fault: Exception) -> str:
    """State in the system's words why something failed."""
    return (fault.strerror if isinstance(fault, OSError) else None) or str(fault)


def shown(raw: Any) -> str:
    """Return a value in words short enough for a message."""
    if isinstance(raw, dict | list):
        return "a table" if isinstance(raw, dict) else "a list"
    if isinstance(raw, bool):
        return str(raw).lower()
    if isinstance(raw, int) and raw.bit_length() > 200:
        return "a huge number"
    text = repr(raw) if isinstance(raw, str) else str(raw)
    return text if len(text) <= 60 else text[:57] + "…"


def dotted(table: str, key: str) -> str:
    """Join table and key, a strange key in quotes and cut short."""
    plain = key if re.fullmatch(r"[A-Za-z0-9_.-]{1,60}", key) else shown(key)
    return f"{table}.{plain}" if table else plain


def suggest(table: str, key: str) -> str:
    """Guess which key was meant: the same one in another table, a like one here, a like one anywhere."""
    known = {name for names in allowed().values() for name in names}
    near = [key] if key in known else difflib.get_close_matches(key, allowed()[table], 1, 0.6)
    near = near or difflib.get_close_matches(key, sorted(known), 1, 0.75)
    if not near:
        return ""
    homes = [home for home, names in allowed().items() if near[0] in names]
    # this very table, else the one that shares most of its name: front's camber_deg belongs in setup.front
    home = max(homes, key=lambda t: (t == table, len(set(t.split(".")) & set(table.split(".")))))
    return f"did you mean {dotted(home, near[0])}?"


# ---- numbers -----------------------------------------------------------------------------------------------------


def span(quantity: Quantity) -> str:
    """Return the allowed range in the user's unit."""
    return f"{quantity.low:g} to {quantity.high:g} {UNITS[quantity.unit].label}".rstrip()


def number(raw: Any, key: str, quantity: Quantity, problems: Faults) -> float:
    """Return one number in SI, or NaN after reporting what is wrong with it."""
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        remedy = "take the quote marks away and write a number" if isinstance(raw, str) else "give one number"
        problems.tell(key, shown(raw), f"must be {span(quantity)}", remedy)
        return math.nan
    if quantity.unit == "percent" and quantity.low < 1 and 0 < raw <= 1:
        rule = f"must be 0, or more than 1 up to {quantity.high:g} %"
        remedy = "was it typed as a fraction of one? one percent or less cannot be told from a fraction; write 0 for it"
        problems.tell(key, f"{raw:g} %", rule, remedy)
        return math.nan
    try:
        value = float(to_si(float(raw), quantity.unit))
    except OverflowError:
        value = math.inf
    found = range_problem(key, value, quantity.unit, quantity.low, quantity.high)
    if found:
        problems.append(found)
        return math.nan
    return value


def default(entry: Entry, known: Mapping[str, Any], kinds: Mapping[str, str], shares: Mapping[str, float]) -> Any:
    """Return the SI value of a number that is left out, or MISSING where it must be there.

    ``known`` holds ``"weighed"`` where the car was weighed as it is: its height differences are then those of that day.
    """
    if entry.field == "weighed_difference":
        return known.get(f"{entry.table}.height_difference", 0.0) if known.get("weighed") else 0.0
    if entry.record is Tyre:
        return KINDS.get(kinds.get(entry.table, ""), {}).get(entry.field, MISSING)
    if entry.field == "aligned_height":
        return known.get(f"{entry.table.rpartition('.')[2]}.reference_height", math.nan)
    if entry.field in ("left_share", "cross_weight") and entry.field in shares:
        return shares[entry.field]
    return next(field.default for field in fields(entry.record) if field.name == entry.field)


def corner_shares(raw: Any, problems: Faults) -> dict[str, float]:
    """Compute mass and shares from corner weights: ``F = (fl + fr)/m``, ``Y = (fl + rl)/m``, ``X = (fr + rl)/m``."""
    if not isinstance(raw, dict):
        problems.tell("corner_weights", shown(raw), "must be a table", "write [corner_weights] on a line of its own")
        return {}
    top = GLOSSARY["mass"].high / 2
    corner = Quantity("corner weight", "m", "kg", 5, top, "What one scale shows with the driver in the seat.")
    loads: dict[str, float] = {}
    for name in CORNERS:
        key = f"corner_weights.{name}_kg"
        if f"{name}_kg" in raw:
            loads[name] = number(raw[f"{name}_kg"], key, corner, problems)
        else:
            remedy = f"give all four scale readings, {span(corner)}, or take [corner_weights] out"
            problems.tell(key, "", "is missing", remedy)
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


def disagreements(shares: Mapping[str, float], known: Mapping[str, Any]) -> list[Problem]:
    """Return where the corner weights are off the numbers by more than 1 % of mass or a percent point of a share."""
    problems = Faults()
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


def flat(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Yield each dotted path under a table with its value, at most five tables deep."""
    for key, value in table.items():
        if isinstance(value, Mapping) and prefix.count(".") < 4:
            yield from flat(value, f"{prefix}{key}.")
        else:
            yield prefix + key, value
