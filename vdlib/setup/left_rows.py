"""The rows that a workshop sets and writes down: their boxes, what was asked for of each, and where a car can stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..car.carfile import CarFile
from ..car.keys import CORNERS, ENDS
from ..car.known import Points
from ..car.records import Setup
from ..checks import InputError, Problem
from ..garage.four_wheels import toe_words
from ..shown import says
from ..trim.standing import stands
from ..trim.suspension import stop_force
from ..units import from_si, number
from .candidate import Version
from .page_wheels import LEAST, compared, four, rim_of, rises, within

ROWS: dict[str, tuple[str, str, float, float]] = {
    "height": ("height, where it was read", "mm", 20, 1200),
    "camber": ("camber, with its sign", "deg", -8, 4),
    "toe": ("toe, in unless it says out", "deg", -4, 4),
    "cold": ("cold pressure", "bar", 0.8, 4.5),
    "kg": ("scale, bars unhooked", "kg", 5, 2000),
}
"""Row of the page that is set or weighed → its words, unit and range."""
TOE = {"mm": "(mm at the rim)", "deg": "(degrees)", "arcmin": "(minutes)"}
"""Unit of toe on the page → how it is said; it is the page's whatever units the reader sees elsewhere."""
FIELD = {"cold": "pressure"}
"""Row whose setting has another name → that name."""


@dataclass
class Rows:
    """What the figures say beside what was asked for."""

    typed: dict[str, dict[str, float]] = field(default_factory=dict)  # row → wheel → as it is in a setup, in SI
    missed: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    untyped: dict[str, list[str]] = field(default_factory=dict)  # row → wheels at which it was to change


def key(row: str, corner: str) -> str:
    """Return the name under which one figure is typed.

    Parameters:
        row: a key of ``ROWS`` [-]
        corner: a wheel [-]

    Returns:
        such as "toe.rear_left" [-]
    """
    return f"{row}.{corner}"


def row_words(row: str) -> str:
    """Return what a row is called in a sentence.

    Parameters:
        row: a key of ``ROWS`` [-]

    Returns:
        such as "cold pressure" [-]
    """
    return ROWS[row][0].partition(",")[0]


def at_wheels(corners: Sequence[str]) -> str:
    """Return where a row is meant, in short.

    Parameters:
        corners: wheels, in the order of ``CORNERS`` [-]

    Returns:
        such as "all wheels", "rear" or "front right, rear right" [-]
    """
    if len(corners) == len(CORNERS):
        return "all wheels"
    told = []
    for end in ENDS:
        own = [corner for corner in corners if corner.startswith(end)]
        told += [end] if len(own) == 2 else [corner.replace("_", " ") for corner in own]
    return ", ".join(told)


def compare(
    file: CarFile, states: tuple[Setup, Setup, Setup, Setup], heights: Mapping[str, float], left: Mapping[str, float]
) -> Rows:
    """Compare what was left with what was asked for, row by row and wheel by wheel.

    Parameters:
        file: the car file as it was before the workshop [-]
        states: as it stood, the same at the heights asked for, the reference and what was asked for, toe and camber at
            their own heights [-]
        heights: heights at the axle lines, as of ``at_axles`` [m]
        left: figures as of ``as_left.read`` [any]

    Returns:
        a ``Rows`` [-]
    """
    found, missed, done = Rows(), list[str](), list[str]()
    rise = rises(file.known.visit, *(four(s, "pressure") for s in (states[0], *states[2:])))
    for row in ("height", "camber", "toe", "cold"):
        found.typed[row] = {}
        old, was, due, asked = (four(s, FIELD.get(row, row)) for s in states)
        was = old if row == "height" else was
        for i, corner in enumerate(CORNERS):
            moved, what, end = abs(asked[i] - was[i]) > LEAST[row], "what was asked", corner.partition("_")[0]
            if (told := left.get(key(row, corner))) is None:
                if moved:
                    found.untyped.setdefault(row, []).append(corner)
                continue
            now = told + float(rise[i]) if row == "cold" else heights[corner] if row == "height" else told
            off = now - float(asked[i])
            if not moved:  # left alone where it is as it was, or as the reference has it
                follows, known = (
                    abs(was[i] - old[i]) > 1e-9,
                    row == "height" or compared(file, end, FIELD.get(row, row)),
                )
                what = "what the heights make of it" if follows else "what it was"
                if known and abs(now - due[i]) < abs(off) + 1e-9 * follows:
                    off, what = now - float(due[i]), "the reference"
            words = f"{corner.replace('_', ' ')} {row_words(row)}"
            name = f"{words} {TOE[file.known.visit.get('toe_unit', 'mm')]}" if row == "toe" else words
            if abs(off) > within(file.known.figures, corner, row) * (1 + 1e-9):
                missed.append(f"{name}: left {_size(file, row, told)}, {_size(file, row, off, True)} off {what}")
            elif moved:
                done.append(words)
            found.typed[row][corner] = now
    found.missed, found.done = tuple(missed), tuple(done)
    return found


def can_stand(base: Version, asked: Setup, heights: Mapping[str, float], left: Mapping[str, float]) -> None:
    """Refuse a height at which no spring could hold the car: past its droop stop, or too far into the bump stop.

    Parameters:
        base: the car as it stood [-]
        asked: what was asked for [-]
        heights: heights at the axle lines, as of ``at_axles`` [m]
        left: figures as of ``as_left.read``, as they are written back [any]

    Errors:
        ``InputError`` naming every such height; none that is no further out than the car was or was to be.

    Validity: the stops of the car file, standing; the load as the car stood.
    """
    car, problems = base.car, list[Problem]()
    loads = stands(car, base.setup).load.reshape(4)
    for i, corner in enumerate(CORNERS):
        if (now := heights.get(corner)) is None:
            continue
        axle = getattr(car, corner.partition("_")[0])
        known = [float(four(setup, "height")[i]) for setup in (base.setup, asked)]
        rise = now - float(axle.reference_height)
        squashed = float(stop_force(-rise, axle.bump_gap, axle.bump_stiffening)[0])
        rule = ""
        if now > max(known) and rise > float(axle.droop_gap):
            rule = "is higher than its droop stop lets it stand"
        elif now < min(known) and squashed > float(loads[i]):
            rule = "is so low that its bump stop alone would carry more than the wheel does"
        if rule:
            name, size = f"{corner.replace('_', ' ')} height", says(left[key("height", corner)], "mm", 0)
            problems.append(Problem(name, size, rule, "measure it again where it was read before the visit"))
    if problems:
        raise InputError(problems)


def at_axles(file: CarFile, left: Mapping[str, float]) -> dict[str, float]:
    """Return the ride heights at the axle lines from the figures read at the car file's points.

    Parameters:
        file: the car file, for its points [-]
        left: figures as of ``as_left.read`` [any]

    Returns:
        wheel → height, of those that were typed [m]

    Errors:
        ``InputError`` where one point of a sill is typed without the other.
    """
    spot: Points | None = file.known.points
    base = float(file.car.wheelbase)
    found: dict[str, float] = {}
    for side in ("left", "right"):
        pair = [left.get(key("height", f"{end}_{side}")) for end in ENDS]
        if spot is None or spot.behind == (0.0, base):
            above = (0.0, 0.0) if spot is None else spot.above
            found |= {f"{end}_{side}": v - up for end, v, up in zip(ENDS, pair, above, strict=True) if v is not None}
        elif None not in pair:
            found |= {
                f"{end}_{side}": float(v) for end, v in zip(ENDS, spot.at_axles(pair[0], pair[1], base), strict=True)
            }
        elif any(v is not None for v in pair):
            remedy = "the two points of a sill make one line: one alone says nothing of its axle"
            raise InputError(
                [Problem(f"{side} heights", "one of two", "must be typed in front and at the rear", remedy)]
            )
    return found


def _size(file: CarFile, row: str, value: float, sign: bool = False) -> str:
    if row == "toe":
        unit = file.known.visit.get("toe_unit", "mm")
        size, _, way = toe_words(value, unit, rim_of(file.known.visit)).partition(" ")
        way = f" toe-{way}" if way else ""
        return f"{'+' if value > 0 else '−'}{size}" if sign else f"{size}{way}"
    unit = ROWS[row][1]
    if unit == "deg":
        return f"{number(from_si(value, unit), 1, sign=sign)}°"
    return says(value, unit, {"mm": 0, "bar": 2}[unit], sign)
