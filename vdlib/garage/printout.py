"""An alignment print-out typed or pasted as a table: one line a wheel, toe and camber now and perhaps before."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from ..car.keys import CORNERS
from ..checks import Problem, range_problem
from ..units import UNITS, to_si
from .form import SIDES, TOE_UNITS, WAYS
from .form_fields import FIELDS
from .typed import number_from, turned, with_unit

WHEELS: dict[str, tuple[str, ...]] = {
    "front_left": ("front left", "fl", "lf", "left front"),
    "front_right": ("front right", "fr", "rf", "right front"),
    "rear_left": ("rear left", "rl", "lr", "left rear"),
    "rear_right": ("rear right", "rr", "right rear"),
}
"""Wheel → how people write it at the start of a line."""
NOW, BEFORE = "now", "before"
_BEFORE_WORDS, _NOW_WORDS = (
    ("before", "was", "initial", "first"),
    ("now", "after", "left", "actual", "final", "current"),
)
_USUAL = {2: (("toe", NOW), ("camber", NOW)), 4: tuple((w, t) for w in ("toe", "camber") for t in (BEFORE, NOW))}
"""Columns of a table without a heading, by how many there are."""
HINT = (
    "wheel; toe before; toe now; camber before; camber now\n"
    "front left; 0.10; 0.05; -0.7; -1.2\n(or only toe now and camber now; minutes as 6', mm with the rim's size)"
)
_RIM = re.compile(r"\brim\b\D{0,12}(\d+(?:[.,]\d+)?)\s*(mm|in|inch|\")?", re.IGNORECASE)
_CUT = re.compile(r"\s*[;|\t]\s*|\s{2,}")
SIGNS = "+-\u2212\u2013"
"""Signs as people and machines write them."""
_HEADS = {"deg": ("°", "deg"), "arcmin": ("min", "'", "′"), "mm": ("mm",)}


@dataclass(frozen=True)
class PrintOut:
    """What a table says: boxes of the form and what goes into them, choices, what it was before, and what is wrong."""

    boxes: dict[str, str] = field(default_factory=dict)
    chosen: dict[str, str] = field(default_factory=dict)
    before: dict[str, str] = field(default_factory=dict)  # "rear_left.toe" → as written
    problems: tuple[Problem, ...] = ()


def read_printout(text: str, typed: Mapping[str, str], toe_read: str) -> PrintOut:
    """Read a table: cells apart by semicolon, tab, bar or two blanks; a first line may name the columns and units.

    Parameters:
        text: the table [-]
        typed: the form's boxes as typed, for the rim [-]
        toe_read: how toe is read where the table does not say, a key of ``TOE_UNITS`` or another way [-]

    Returns:
        a ``PrintOut``; each bad cell has one problem and its box is left out [-]
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    columns: tuple[tuple[str, str], ...] = ()
    unit = TOE_UNITS.get(toe_read, "deg")
    rim = typed.get("toe.diameter", "")
    found = PrintOut()
    rows: dict[str, list[str]] = {}
    problems: list[Problem] = []
    for line in lines:
        if stated := _RIM.search(line):
            size = f"{stated[1]}{' in' if (stated[2] or 'mm').lower() != 'mm' else ' mm'}"
            found.boxes["toe.diameter"] = rim = size
        head, *cells = _CUT.split(line)
        wheel = _wheel(head)
        if wheel is None and (named := _columns([head, *cells])):
            columns, unit = named, _unit_of(cells) or unit
        elif wheel is None and not stated:
            remedy = "begin each line with the wheel, such as front left or FL"
            problems.append(Problem("alignment print-out", repr(line[:24]), "is no line of a wheel", remedy))
        elif wheel in rows:
            problems.append(Problem(f"{SIDES[wheel]} in the print-out", "", "is there twice", "leave one line out"))
        elif wheel is not None:
            rows[wheel] = cells
    most = max(map(len, rows.values()), default=0)
    columns = columns or _USUAL.get(most, ())
    if rows and not columns:
        rule, remedy = f"has {most} figures a wheel", "give toe and camber, or each before and now, or name the columns"
        problems.append(Problem("alignment print-out", "", rule, remedy))
    for missing in [corner for corner in CORNERS if rows and corner not in rows]:
        problems.append(Problem(f"{SIDES[missing]} in the print-out", "", "is missing", "add its line"))
    for row in rows.values():
        row += [""] * (len(columns) - len(row))
    signed = any(
        cells[k][:1] in tuple(SIGNS) for cells in rows.values() for k, (w, _) in enumerate(columns) if w == "toe"
    )
    for corner, cells in rows.items():
        for (what, when), cell in zip(columns, cells, strict=False):
            if not cell or cell in ("-", "–", "?"):
                continue
            name = f"{SIDES[corner]} {what} {when} in the print-out"
            got = _toe(cell, unit, signed, rim) if what == "toe" else _camber(cell)
            if isinstance(got, Problem):
                problems.append(Problem(name, got.value, got.rule, got.remedy))
                continue
            if when == BEFORE:
                found.before[f"{corner}.{what}"] = cell
            elif what == "camber":
                found.boxes[f"camber.{corner}"] = got
            else:
                ending = {"mm": "_mm", "deg": "", "arcmin": "_minutes"}[unit]
                found.boxes[f"toe.{corner}{ending}"] = got
    if any(key.startswith("toe.") and key != "toe.diameter" for key in found.boxes):
        found.chosen["toe.read"] = next(way for way, one in TOE_UNITS.items() if one == unit)
    if any(key.startswith("camber.") for key in found.boxes):
        found.chosen["camber.way"] = "degrees on a gauge"
    return PrintOut(found.boxes, found.chosen, found.before, tuple(problems))


def _wheel(head: str) -> str | None:
    plain = head.strip(" :.").lower().replace("_", " ").replace("-", " ")
    return next((corner for corner, names in WHEELS.items() if plain in names), None)


def _columns(cells: list[str]) -> tuple[tuple[str, str], ...]:
    """What the columns of a heading hold; nothing where it is none."""
    found = []
    for cell in cells:
        plain = cell.lower()
        what = next((w for w in ("toe", "camber") if w in plain), "")
        if what:
            words = re.findall(r"[a-z]+", plain)
            found.append((what, BEFORE if any(w in words for w in _BEFORE_WORDS) else NOW))
    return tuple(found)


def _unit_of(cells: list[str]) -> str:
    """The unit of toe that a heading gives; empty where it gives none."""
    told = " ".join(cell.lower() for cell in cells if "toe" in cell.lower())
    return next((unit for unit, words in _HEADS.items() if any(word in told for word in words)), "")


def _toe(cell: str, unit: str, signed: bool, rim: str) -> str | Problem:
    """One toe as the form's box takes it, or what is wrong with the cell."""
    plain, way = turned(cell)
    value, own = with_unit(plain, WAYS["toe"], unit)
    if value is None:
        return Problem("", repr(cell[:12]), "must be a number", "type it as printed, such as 0.10 or -0.05")
    if own != unit:
        told = f"is in {UNITS[own].label}, the others in {UNITS[unit].label}"
        return Problem("", repr(cell[:12]), told, "give one unit for all, in the heading")
    if unit == "mm" and not rim.strip():
        return Problem("", repr(cell[:12]), "is in mm at a rim nobody gave", "add a line such as: rim 430 mm")
    if value and not way and not signed:
        return Problem("", repr(cell[:12]), "must say in or out", f"write {cell[:12]} in, or a minus where it is out")
    way = way or (1 if value >= 0 else -1)
    size = value * (way if value >= 0 else -1)
    box = FIELDS["toe.front_left"]
    if unit != "mm" and (wrong := range_problem("", to_si(size, unit), WAYS["toe"][0], box.low, box.high)):
        return wrong
    figure = plain.strip().lstrip(SIGNS).strip()
    if number_from(figure) is not None:  # so that "in" behind it is never read as inches
        figure += {"mm": " mm", "deg": " deg", "arcmin": " min"}[unit]
    return f"{figure} {'in' if size >= 0 else 'out'}"


def _camber(cell: str) -> str | Problem:
    value, unit = with_unit(cell, WAYS["angle"], "deg")
    if value is None:
        return Problem("", repr(cell[:12]), "must be a number", "type it as printed, such as -1.2 or -1°12'")
    box = FIELDS["camber.front_left"]
    wrong = range_problem("", to_si(value, unit), "deg", box.low, box.high)
    return wrong or cell.strip()
