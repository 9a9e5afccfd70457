"""The tables of a car file that hold what is known of its numbers: read into ``known`` and laid out for writing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from typing import Any, NamedTuple

from ..checks import InputError, range_problem
from ..glossary import GLOSSARY, Quantity
from ..units import UNITS, from_si, to_si
from .keys import CORNERS, ENDS, Faults, dotted, fields_of, flat, number, shown, span, wheel_entries
from .kinds import Kinds
from .known import BOOK, FIGURES, PLACES, REFERENCE, VISIT, Figures, Known, Points, axle_heights
from .tyre import KINDS

_BEHIND = Quantity("distance of a measuring point behind the front axle", "x", "mm", -1500, 5500, "Negative before it.")
_ABOVE = Quantity("height of a measuring point above the ride-height line", "z", "mm", -500, 900, "Often 0.")
_POINT_KEYS = {
    f"{end}_{key}_mm": quantity for end in ENDS for key, quantity in (("behind", _BEHIND), ("above", _ABOVE))
}
_LONG = {"what": 200, "source": 500, "name": 60, **dict.fromkeys(VISIT, 700)}


class _Figure(NamedTuple):
    """One key that the figures may hold: its dotted path, the quantity, and whether it is a tolerance."""

    path: str
    quantity: Quantity
    tolerance: bool


def figure_keys() -> dict[str, _Figure]:
    """Key below ``[book]`` or ``[reference]``, such as ``rear_left.toe_deg`` → what it says."""
    found: dict[str, _Figure] = {}
    for place in (*ENDS, *CORNERS):
        for name in FIGURES:
            entry = GLOSSARY[name]
            ends = {f"{name}_{entry.unit}": False, f"{name}_tolerance_{entry.unit}": True}
            found |= {f"{place}.{key}": _Figure(f"{place}.{name}", entry, true) for key, true in ends.items()}
    entry = GLOSSARY["cross_weight"]
    found["cross_weight_percent"] = _Figure("cross_weight", entry, False)
    found["cross_weight_tolerance_percent"] = _Figure("cross_weight", entry, True)
    return found


# ---- reading -----------------------------------------------------------------------------------------------------


def read_known(data: Mapping[str, Any], problems: Faults) -> Known:
    """Return what the tables ``[error]``, ``[kinds]``, ``[points]`` and ``[book]`` or ``[reference]`` say."""
    errors = _read_errors(data.get("error", {}), problems)
    kinds = _read_kinds(data["kinds"], problems) if "kinds" in data else None
    points = _read_points(data["points"], problems) if "points" in data else None
    figures = None
    if BOOK in data and REFERENCE in data:
        rule = "must not stand beside [reference]: a car is compared with one set of figures"
        problems.tell(BOOK, "", rule, "take one of the two tables out")
    elif BOOK in data or REFERENCE in data:
        table = BOOK if BOOK in data else REFERENCE
        figures = _read_figures(table, data[table], "points" in data, problems)
    return Known(errors, kinds, points, figures, _read_visit(data.get("visit", {}), problems))


def _table(name: str, raw: Any, problems: Faults) -> Mapping[str, Any]:
    if isinstance(raw, Mapping):
        return raw
    problems.tell(name, shown(raw), "must be a table", f"write [{name}] on a line of its own")
    return {}


def error_keys() -> dict[str, tuple[str, Quantity]]:
    """Key of ``[error]``, such as ``setup.front.height_mm`` → its path without the unit, and its quantity."""
    entries = (*fields_of(), *wheel_entries().values())
    return {entry.key: (entry.path, entry.quantity) for entry in entries}


def _read_errors(raw: Any, problems: Faults) -> dict[str, float]:
    keys, errors = error_keys(), dict[str, float]()
    for key, value in flat(_table("error", raw, problems)):
        name = f"error.{dotted('', key)}"
        if key not in keys:
            hint = next((k for k, (path, _) in keys.items() if path == key), "")
            remedy = f"write its unit too: {hint}" if hint else "take the line out, or name it as its own line is named"
            problems.tell(name, "", "is an unknown key", remedy)
            continue
        path, quantity = keys[key]
        errors[path] = _size(value, name, quantity, problems)
    return {path: value for path, value in errors.items() if not math.isnan(value)}


def _size(raw: Any, key: str, quantity: Quantity, problems: Faults) -> float:
    """Return a size above zero in SI, or NaN after telling what is wrong with it."""
    most = quantity.high - quantity.low
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not 0 < raw <= most:
        label = UNITS[quantity.unit].label
        rule = f"must be more than 0, up to {most:g} {label}".rstrip()
        problems.tell(key, f"{shown(raw)} {label}".rstrip(), rule, "give how far off it may be, either way")
        return math.nan
    return float(to_si(float(raw), quantity.unit))


def _read_kinds(raw: Any, problems: Faults) -> Kinds | None:
    table = _table("kinds", raw, problems)
    keys = [one.name for one in fields(Kinds)]
    for key in table.keys() - set(keys):
        problems.tell(dotted("kinds", key), "", "is an unknown key", f"the keys are {', '.join(keys)}")
    words = {key: str(value) for key, value in table.items() if key in keys}
    try:
        return Kinds(**words)
    except InputError as fault:
        problems += [replace(p, field=f"kinds ({p.field})") for p in fault.problems]
        return None


def _read_visit(raw: Any, problems: Faults) -> dict[str, str]:
    table, found = _table("visit", raw, problems), dict[str, str]()
    for key in table:
        if key not in VISIT:
            problems.tell(dotted("visit", str(key)), "", "is an unknown key", f"the keys are {', '.join(VISIT)}")
        else:
            found[key] = _text(table, "visit", key, problems)
    return found


def _read_points(raw: Any, problems: Faults) -> Points | None:
    table, before = _table("points", raw, problems), len(problems)
    for key in table.keys() - {*_POINT_KEYS, "what"}:
        problems.tell(dotted("points", key), "", "is an unknown key", f"the keys are what, {', '.join(_POINT_KEYS)}")
    found = {}
    for key, quantity in _POINT_KEYS.items():
        if key in table:
            found[key] = number(table[key], f"points.{key}", quantity, problems)
        elif "behind" in key:
            problems.tell(f"points.{key}", "", "is missing", f"give it, {span(quantity)}, or take [points] out")
    what = _text(table, "points", "what", problems)
    if len(problems) > before:
        return None
    behind, above = (tuple(found.get(f"{end}_{key}_mm", 0.0) for end in ENDS) for key in ("behind", "above"))
    if not behind[1] - behind[0] > 0.3:
        got = f"{from_si(behind[1] - behind[0], 'mm'):.0f} mm behind the front one"
        problems.tell(
            "points.rear_behind_mm", got, "must be at least 300 mm behind the front point", "measure it again"
        )
        return None
    return Points((behind[0], behind[1]), (above[0], above[1]), what)


def _text(table: Mapping[str, Any], where: str, key: str, problems: Faults) -> str:
    raw, longest = table.get(key, ""), _LONG[key]
    if isinstance(raw, str) and len(raw) <= longest:
        return raw
    remedy = 'write it in double quotes: "…"'
    problems.tell(f"{where}.{key}", shown(raw), f"must be text of at most {longest} characters", remedy)
    return ""


def _read_figures(name: str, raw: Any, have_points: bool, problems: Faults) -> Figures | None:
    table, before = _table(name, raw, problems), len(problems)
    texts = ("source",) if name == BOOK else ("source", "name")
    said = {key: _text(table, name, key, problems) for key in texts}
    if name == REFERENCE and not said["name"].strip():
        remedy = 'say what it is, such as name = "as lowered, before it sagged"'
        problems.tell("reference.name", "", "is missing", remedy)
    keys, values, tolerances, tyres = figure_keys(), dict[str, float](), dict[str, float](), dict[str, str]()
    for key, value in flat(table):
        place, _, last = key.rpartition(".")
        full = dotted(name, key)
        if key in (*texts, "heights_at"):
            continue
        if last == "tyre" and place in ENDS:
            if value in KINDS:
                tyres[place] = value
            else:
                problems.tell(full, shown(value), f"must be one of {', '.join(KINDS)}", "choose one, or leave it out")
        elif key not in keys:
            problems.tell(full, "", "is an unknown key", "take the line out, or see the example files")
        elif keys[key].tolerance:
            tolerances[keys[key].path] = _size(value, full, keys[key].quantity, problems)
        else:
            quantity = keys[key].quantity
            if keys[key].path.endswith(".height"):  # at a point it may be an arch's
                quantity = Quantity(quantity.name, quantity.symbol, "mm", quantity.low, 1200, quantity.plain)
            values[keys[key].path] = number(value, full, quantity, problems)
    _by_axle_or_wheel(name, values, problems)
    place = _place(name, table, values, have_points, problems)
    if len(problems) > before:
        return None
    return Figures(name, said.get("name", "book"), said["source"], place, values, tolerances, tyres)


def tell_heights(known: Known, wheelbase: float, problems: Faults) -> None:
    """Report heights among the figures that no car has at its axle lines."""
    if known.figures is None:
        return
    entry, table = GLOSSARY["height"], known.figures.table
    for end, pair in axle_heights(known.figures, known.points, wheelbase).items():
        found = next((f for v in pair if (f := range_problem(end, v, entry.unit, entry.low, entry.high))), None)
        if found:
            rule = f"must be {span(entry)} at the {end} axle line"
            remedy = "check them, and in [points] where they are read and how far above the line of the ride heights"
            problems.tell(f"{table} heights", found.value, rule, remedy)


def _by_axle_or_wheel(name: str, values: Mapping[str, float], problems: Faults) -> None:
    """Report figures given both for an axle and for a wheel, and a wheel that is missing."""
    for end in ENDS:
        for field_name in FIGURES:
            unit = GLOSSARY[field_name].unit
            told = [side for side in ("left", "right") if f"{end}_{side}.{field_name}" in values]
            key = f"{name}.{end}.{field_name}_{unit}"
            tell_both_or_missing(key, f"{end}.{field_name}" in values, told, problems)


def tell_both_or_missing(key: str, axle: bool, sides: list[str], problems: Faults) -> bool:
    """Report a number given both for an axle and for a wheel, or for one wheel only; return whether it is by wheel."""
    table, _, name = key.rpartition(".")
    if axle and sides:
        remedy = "keep the axle's line where both wheels are alike, else the two wheels'"
        problems.tell(key, "", f"must not stand beside {table}_{sides[0]}.{name}", remedy)
    elif len(sides) == 1:
        other = "left" if sides[0] == "right" else "right"
        remedy = f"give both wheels, or {key} for the two together"
        problems.tell(f"{table}_{other}.{name}", "", f"is missing, while {table}_{sides[0]}.{name} is there", remedy)
    return bool(sides)


def _place(
    name: str, table: Mapping[str, Any], values: Mapping[str, float], have_points: bool, problems: Faults
) -> str:
    """Return where the heights among the figures are meant, told where that is not said."""
    place = table.get("heights_at", "")
    high = sorted(path for path in values if path.endswith(".height"))
    if "heights_at" in table and place not in PLACES:
        problems.tell(f"{name}.heights_at", shown(place), f"must be one of {', '.join(PLACES)}", "write it in quotes")
    elif high and not place:
        rule = f"is missing, while {name}.{high[0]}_mm is there: a height means nothing without its measuring point"
        problems.tell(
            f"{name}.heights_at", "", rule, 'write heights_at = "axle lines", or "points" for those of [points]'
        )
    elif place == "points" and not have_points:
        remedy = "add [points] with front_behind_mm and rear_behind_mm, or give the heights at the axle lines"
        problems.tell(f"{name}.heights_at", shown(place), "must not be points in a file without [points]", remedy)
    elif high and not {f"{end}.height" for end in ENDS} <= {p.replace("_left", "").replace("_right", "") for p in high}:
        problems.tell(f"{name} heights", "", "must be there for both axles or for none", "add those of the other axle")
    return place if isinstance(place, str) else ""


# ---- writing -----------------------------------------------------------------------------------------------------


def tables_of(known: Known, rounded: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    """Return each table's name with the keys and values it must hold; ``rounded`` writes SI in a unit."""
    keys = {path: (key, quantity) for key, (path, quantity) in error_keys().items()}
    yield "error", {keys[path][0]: rounded(value, keys[path][1].unit) for path, value in known.errors.items()}
    yield "kinds", {} if known.kinds is None else dict(vars(known.kinds))
    points: dict[str, Any] = {}
    if known.points is not None:
        spot = known.points
        points = {"what": spot.what} if spot.what else {}
        for i, end in enumerate(ENDS):
            points[f"{end}_behind_mm"] = rounded(spot.behind[i], "mm")
            if spot.above[i]:
                points[f"{end}_above_mm"] = rounded(spot.above[i], "mm")
    yield "points", points
    yield "visit", {key: text for key, text in known.visit.items() if text}
    for table in (BOOK, REFERENCE):
        yield table, _figures_table(known.figures, rounded) if known.figures and known.figures.table == table else {}


def _figures_table(figures: Figures, rounded: Any) -> dict[str, Any]:
    out: dict[str, Any] = {"name": figures.name} if figures.table == REFERENCE else {}
    out |= {key: text for key, text in (("source", figures.source), ("heights_at", figures.heights_at)) if text}
    for key, (path, quantity, tolerance) in figure_keys().items():
        held = figures.tolerances if tolerance else figures.values
        if path in held:
            out[key] = rounded(held[path], quantity.unit)
    return out | {f"{end}.tyre": kind for end, kind in figures.tyres.items()}
