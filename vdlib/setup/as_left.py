"""As left comes back: the figures a workshop wrote on the page become the new car, with what was missed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..car.carfile import CarFile
from ..car.keys import CORNERS, ENDS
from ..car.known import Points
from ..car.records import Setup
from ..car.reference import reference_of
from ..checks import InputError, Problem, range_problem
from ..garage.form import WAYS
from ..garage.four_wheels import toe_words
from ..garage.typed import Readings, number_from, numbers, with_unit
from ..shown import chosen, retold, says
from ..trim.standing import stands
from ..units import from_si, number, to_si
from .candidate import Candidate, Version, at_heights_of, standing, version
from .driven import own_corner
from .page_wheels import CROSS, compared, four, rim_of, rises, within
from .promised import Promise, promise

ROWS: dict[str, tuple[str, str, float, float]] = {
    "height": ("height, where it was read", "mm", 20, 1200),
    "camber": ("camber", "deg", -8, 4),
    "toe": ("toe, in unless it says out", "deg", -4, 4),
    "cold": ("cold pressure", "bar", 0.8, 4.5),
    "kg": ("scale, bars unhooked", "kg", 5, 2000),
}
"""Row of the page that is set or weighed → its words, unit and range."""
TOE = {"mm": "(mm at the rim)", "deg": "(degrees)", "arcmin": "(minutes)"}
"""Unit of toe on the page → how it is said; it is the page's whatever units the reader sees elsewhere."""
HEAVIER = 0.02
"""Scales that add up to more or less than the car by a larger part are asked about; common practice, no source [-]."""


@dataclass(frozen=True)
class AsLeft:
    """What was left, wheel by wheel, and what it makes of the car."""

    file: CarFile  # the new car
    missed: tuple[str, ...]  # what is off what was asked for, beyond tolerance
    done: tuple[str, ...]  # what was asked for and is as asked
    promise: Promise  # made anew: from the car as it was to the car as it was left, in the page's turn
    asked: Promise  # as the page has it: from the car as it was to the car asked for
    odd: tuple[str, ...] = ()  # what of the scales cannot be right or is not used


def key(row: str, corner: str) -> str:
    """Return the name under which one figure is typed.

    Parameters:
        row: a key of ``ROWS`` [-]
        corner: a wheel [-]

    Returns:
        such as "toe.rear_left" [-]
    """
    return f"{row}.{corner}"


def read(file: CarFile, typed: Mapping[str, str]) -> dict[str, float]:
    """Read the figures as typed; empty ones are left out.

    Parameters:
        file: the car file, for the unit and rim that toe is read with [-]
        typed: as of ``key`` → text [-]

    Returns:
        the same keys → numbers in SI [any]

    Errors:
        ``InputError`` naming every figure that cannot be.
    """
    visit, found, problems = file.known.visit, dict[str, float](), list[Problem]()
    rim = rim_of(visit)
    way = visit.get("toe_unit", "mm")
    for row, (words, unit, low, high) in ROWS.items():
        for corner in CORNERS:
            text = typed.get(key(row, corner), "").strip()
            if not text:
                continue
            name = f"{corner.replace('_', ' ')} {words.partition(',')[0]}"
            if row == "toe":
                text = f"{text} toe-in" if re.match(r"[\d.,]", text) and number_from(text) is not None else text
                value: float | Problem = _toe(text, way, rim)
            else:
                ways = {"mm": WAYS["length"], "deg": WAYS["angle"], "bar": WAYS["pressure"], "kg": WAYS["mass"]}[unit]
                size, said = with_unit(text, ways, unit)
                none = Problem("", repr(text[:12]), "must be a number", "write digits")
                value = none if size is None else float(to_si(size, said))
            if isinstance(value, Problem):
                problems.append(replace(value, field=name))
            elif wrong := range_problem(name, value, unit, low, high):
                problems.append(replace(wrong, value=retold(wrong.value), rule=retold(wrong.rule)))
            else:
                found[key(row, corner)] = value
    if problems:
        raise InputError(problems)
    return found


def _toe(text: str, way: str, rim: float) -> float | Problem:
    """One wheel's toe as the form reads it."""
    named = {"mm": "mm at the rim, each wheel", "deg": "degrees, each wheel", "arcmin": "minutes, each wheel"}[way]
    ending = {"mm": "_mm", "deg": "", "arcmin": "_minutes"}[way]
    box = f"toe.front_left{ending}"
    typed = {box: text, "toe.diameter": f"{from_si(rim, 'mm'):.3f} mm"}
    read = numbers(Readings("as left", typed, {"toe.read": named, "start.length": chosen().length}))
    if box in read.good:
        return read.good[box]
    return read.bad["toe"][0]


def as_left(file: CarFile, base: Version, asked: Candidate, left: Mapping[str, float]) -> AsLeft:
    """Make the new car of what was left: first *was it done*, then what that promises.

    Parameters:
        file: the car file as it was before the workshop [-]
        base: the car as it stood [-]
        asked: what was asked for [-]
        left: figures as of ``read`` [any]

    Returns:
        an ``AsLeft``; a row of which an axle has but one figure keeps what was asked for at the other wheel; where
        nothing was asked for, a figure within tolerance of the reference is none that was missed [-]

    Errors:
        ``InputError`` where nothing was typed, or the car that comes of it is out of range.

    Validity: what nobody wrote down is taken as asked for where it was asked, else as before.
    """
    if not left:
        raise InputError([Problem("as left", "", "holds no figure yet", "type what the workshop wrote down")])
    wanted = version(asked, base)
    aim, book = standing(wanted.car, wanted.setup), standing(base.car, reference_of(file).setup)
    rise = rises(file.known.visit, *(four(s, "pressure") for s in (base.setup, book, aim)))
    heights = _at_axles(file, left)
    rest = at_heights_of(base, aim)  # toe and camber where nobody sets them
    setup, missed, done = aim, list[str](), list[str]()
    for i, end in enumerate(ENDS):
        for row in ("height", "camber", "toe", "cold"):
            field = "pressure" if row == "cold" else row
            own: Any = getattr(setup, end)
            values = [float(v) for v in own.wheels(field)]
            old = [float(v) for v in getattr(base.setup, end).wheels(field)]
            was = old if row == "height" else [float(v) for v in getattr(rest, end).wheels(field)]
            due = [float(v) for v in getattr(book, end).wheels(field)]
            known = row == "height" or compared(file, end, field)
            for j in (0, 1):
                corner = CORNERS[2 * i + j]
                if (told := left.get(key(row, corner))) is None:
                    continue
                now = told + rise[2 * i + j] if row == "cold" else heights[corner] if row == "height" else told
                off, moved, what = now - values[j], abs(values[j] - was[j]) > 1e-9, "what was asked"
                if not moved:  # left alone where it is as it was, or as the reference has it
                    follows = abs(was[j] - old[j]) > 1e-9
                    what = "what the heights make of it" if follows else "what it was"
                    if known and abs(now - due[j]) < abs(off) + 1e-9 * follows:
                        off, what = now - due[j], "the reference"
                words = f"{corner.replace('_', ' ')} {ROWS[row][0].partition(',')[0]}"
                name = f"{words} {TOE[file.known.visit.get('toe_unit', 'mm')]}" if row == "toe" else words
                if abs(off) > within(file.known.figures, corner, row) * (1 + 1e-9):
                    missed.append(f"{name}: left {_size(file, row, told)}, {_size(file, row, off, True)} off {what}")
                elif moved:
                    done.append(words)
                values[j] = now
            setup = _with(setup, end, field, values)
    setup = _settled(setup)
    loads = [left.get(key("kg", corner)) for corner in CORNERS]
    car, scales, odd = wanted.car, [v for v in loads if v is not None], tuple[str, ...]()
    if len(scales) == 4:
        total = sum(scales)
        front, side = (scales[0] + scales[1]) / total, (scales[0] + scales[2]) / total
        cross = (scales[1] + scales[2]) / total
        odd = _odd(Version("", car, aim), total, cross, file, float(book.cross_weight))
        car, setup = replace(car, mass=total, front_share=front, left_share=side), replace(setup, cross_weight=cross)
    elif scales:
        odd = (f"{len(scales)} of four scales are typed: weights are taken from all four only.",)
    where = own_corner(file.known.visit)
    before = promise(wanted.car, base.setup, wanted.setup, where, base.car)
    anew = promise(car, base.setup, setup, where, base.car)
    left_so = replace(anew, names=("before the visit", "as left"))
    return AsLeft(replace(file, car=car, setup=setup), tuple(missed), tuple(done), left_so, before, odd)


def _odd(asked: Version, total: float, cross: float, file: CarFile, due: float) -> tuple[str, ...]:
    """What four scales say that does not fit the car: another mass, or a diagonal far from what it was to be."""
    told, mass = [], float(asked.car.mass)
    load = stands(asked.car, asked.setup).load.reshape(4)
    aim = min((float((load[1] + load[2]) / load.sum()), due), key=lambda share: abs(cross - share))
    if abs(total - mass) > HEAVIER * mass:
        told.append(
            f"The scales add up to {says(total, 'kg', 0)}, the car was {says(mass, 'kg', 0)}: is the load the same, "
            "and is no scale misread?"
        )
    figures = file.known.figures
    if abs(cross - aim) > (figures.tolerances.get("cross_weight", CROSS) if figures else CROSS) * (1 + 1e-9):
        told.append(f"Cross weight: left {100 * cross:.1f} %, {100 * aim:.1f} % was to be.")
    return tuple(told)


def _at_axles(file: CarFile, left: Mapping[str, float]) -> dict[str, float]:
    """Ride heights at the axle lines, by wheel, from the figures read at the car file's points [m]."""
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


def _with(setup: Setup, end: str, field: str, values: list[float]) -> Setup:
    own = getattr(setup, end)
    return replace(setup, **{end: own.with_wheels(field, values[0], values[1])})


def _settled(setup: Setup) -> Setup:
    """Toe and camber were read at the heights the car was left at; so were the corner weights."""
    out: Any = setup
    for end in ENDS:
        own = getattr(setup, end)
        read = {"aligned_height": own.height, "aligned_height_difference": own.height_difference}
        out = replace(out, **{end: replace(own, **read, weighed_difference=own.height_difference)})
    return out  # type: ignore[no-any-return]


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


def words(found: AsLeft) -> tuple[str, ...]:
    """State first whether it was done, then what that promises.

    Parameters:
        found: what was left [-]

    Returns:
        sentences [-]
    """
    first = f"Was it done? As asked: {', '.join(found.done) or 'nothing that was to change'}."
    off = f" Missed: {'; '.join(found.missed)}." if found.missed else " Nothing was missed."
    asked = f"As asked, the page promised {found.asked.told[1]} in that corner."
    return (first + off, *found.odd, found.promise.words[0], asked, *found.promise.words[1:])
