"""As left comes back: the figures a workshop wrote on the page become the new car, with what was missed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..car.carfile import CarFile
from ..car.keys import CORNERS, ENDS
from ..car.records import SIDES, WHEEL_FIELDS, Setup
from ..car.reference import reference_of
from ..checks import InputError, Problem, range_problem
from ..garage.form import WAYS
from ..garage.typed import Readings, number_from, numbers, with_unit
from ..garage.visit import EMPTY
from ..shown import chosen, retold, says
from ..trim.standing import stands
from ..units import from_si, number, to_si
from .candidate import Candidate, Version, at_heights_of, standing, version
from .driven import own_corner
from .left_rows import FIELD, ROWS, at_axles, at_wheels, can_stand, compare, key, row_words
from .page_wheels import CROSS, rim_of
from .promised import Promise, promise
from .tolerances import without_unsettable
from .whatif import plain

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
    untyped: tuple[str, ...] = ()  # what was asked for, has a box and is not typed
    odd: tuple[str, ...] = ()  # how the rest is taken, and what of the scales cannot be right or is not used


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
                if row == "camber" and size and re.match(r"[\d.,]", text):
                    remedy = f"write −{text[:12]} where its top leans in, +{text[:12]} where it leans out"
                    value = Problem("", text[:12], "must have its sign", remedy)
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
        an ``AsLeft``; where nothing was asked for, a figure within tolerance of the reference is none that was
        missed [-]

    Errors:
        ``InputError`` where nothing was typed, where the heights asked for are typed in part, or where no car can stand
        so or the car that comes of it is out of range.

    Validity: what has a box and is not typed is taken as it was before, toe and camber moving along the car's curves;
    what has no box, such as a spring, is taken as asked for.
    """
    if not left:
        raise InputError([Problem("as left", "", "holds no figure yet", "type what the workshop wrote down")])
    able, _ = without_unsettable(asked, base)  # as the page asks for it
    wanted = version(able, base)
    aim, book = standing(wanted.car, wanted.setup), standing(base.car, reference_of(file).setup)
    heights = at_axles(file, left)
    rest = at_heights_of(base, aim)  # toe and camber where nobody sets them
    found = compare(file, (base.setup, rest, book, aim), heights, left)
    if heights and (some := found.untyped.get("height")):
        names = " and ".join(f"{corner.replace('_', ' ')} height" for corner in some)
        remedy = "asked for as well, and the heights of a car belong together"
        raise InputError([Problem(names, "", "must be typed beside the others", remedy)])
    can_stand(base, aim, heights, left)
    setup = _before(wanted.setup, base.setup)
    for row, typed in found.typed.items():
        setup = _with(setup, row, typed)
        if row == "height":
            setup = standing(wanted.car, setup)  # toe and camber as they stand at the heights left, until typed
    loads = [left.get(key("kg", corner)) for corner in CORNERS]
    car, scales, odd = wanted.car, [v for v in loads if v is not None], tuple[str, ...]()
    untyped = tuple(f"{row_words(row)} ({at_wheels(some)})" for row, some in found.untyped.items())
    if len(scales) == 4:
        total = sum(scales)
        front, side = (scales[0] + scales[1]) / total, (scales[0] + scales[2]) / total
        cross = (scales[1] + scales[2]) / total
        odd = _odd(Version("", car, aim), total, cross, file, float(book.cross_weight))
        car, setup = replace(car, mass=total, front_share=front, left_share=side), _weighed(setup, cross)
    elif scales:
        odd = (f"{len(scales)} of four scales are typed: weights are taken from all four only.",)
    if len(scales) < 4 and wanted.setup.cross_weight != base.setup.cross_weight:
        untyped += ("corner weights",)
    where = own_corner(file.known.visit)
    before = promise(wanted.car, base.setup, wanted.setup, where, base.car)
    anew = promise(car, base.setup, setup, where, base.car)
    left_so = replace(anew, names=("before the visit", "as left"))
    known = replace(file.known, visit=_overtaken(file.known.visit, left))
    return AsLeft(
        replace(file, car=car, setup=setup, known=known), found.missed, found.done, left_so, before, untyped,
        (*_taken(able, untyped, left), *odd),
    )  # fmt: skip


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


def _overtaken(visit: Mapping[str, str], left: Mapping[str, float]) -> dict[str, str]:
    """What the car file says of the visit, with readings from before the work that it has overtaken left out."""
    said = {name: text for name, text in visit.items() if name != "ties"}
    typed = [left.get(key("cold", corner)) for corner in CORNERS]
    if any(value is not None for value in typed):
        was = [text.strip() for text in visit.get("cold", "").split("|")]
        was = was if len(was) == len(CORNERS) else [EMPTY] * len(CORNERS)
        new = [None if value is None else number(from_si(value, "bar"), 3) for value in typed]
        said["cold"] = " | ".join(one or old for one, old in zip(new, was, strict=True))
    again = {FIELD.get(row, row) for row in ROWS if all(key(row, corner) in left for corner in CORNERS)}
    doubted = [one for one in said.get("in_question", "").split("; ") if not any(name in one for name in again)]
    said["in_question"] = "; ".join(doubted)
    return {name: text for name, text in said.items() if text}


def _before(wanted: Setup, base: Setup) -> Setup:
    """What has no box as asked for, what has one as it was before."""
    out: Any = replace(wanted, cross_weight=base.cross_weight)
    names = (*WHEEL_FIELDS, *WHEEL_FIELDS.values(), "weighed_difference")
    for end in ENDS:
        was = {name: getattr(getattr(base, end), name) for name in names}
        out = replace(out, **{end: replace(getattr(wanted, end), **was)})
    return out  # type: ignore[no-any-return]


def _with(setup: Setup, row: str, typed: Mapping[str, float]) -> Setup:
    """The setup with one row's figures where they were typed."""
    out: Any = setup
    for end in ENDS:
        own, field = getattr(setup, end), FIELD.get(row, row)
        pair = [typed.get(f"{end}_{side}", v) for side, v in zip(SIDES, own.wheels(field), strict=True)]
        out = replace(out, **{end: own.with_wheels(field, *pair)})
    return out  # type: ignore[no-any-return]


def _weighed(setup: Setup, cross: float) -> Setup:
    """The setup with its corner weights as read at the heights that it was left at."""
    ends = {end: replace(own := getattr(setup, end), weighed_difference=own.height_difference) for end in ENDS}
    return replace(setup, cross_weight=cross, **ends)


def _taken(asked: Candidate, untyped: tuple[str, ...], left: Mapping[str, float]) -> tuple[str, ...]:
    """How what is not typed is taken, with a box and without."""
    told = []
    if untyped or any(key(row, corner) not in left for row in ("height", "camber", "toe") for corner in CORNERS):
        told.append(
            "What is not typed is taken as it was before the visit; toe and camber move with the heights where "
            "nobody typed them."
        )
    boxed = (*WHEEL_FIELDS, *WHEEL_FIELDS.values(), "weighed_difference", "cross_weight")
    others = [plain(path) for path in asked.settings if path.rpartition(".")[2] not in boxed]
    others += [f"{end} tyres" for end in asked.tyres] + [load.name for load in asked.loads]
    if others:
        told.append(f"Taken as asked, having no box here: {', '.join(others)}.")
    return tuple(told)


def words(found: AsLeft) -> tuple[str, ...]:
    """State first whether it was done, then what that promises.

    Parameters:
        found: what was left [-]

    Returns:
        sentences [-]
    """
    first = f"Was it done? As asked: {', '.join(found.done) or 'nothing that was to change'}."
    missed = f"Missed: {'; '.join(found.missed)}." if found.missed else ""
    none = "Of what is typed, nothing was missed." if found.untyped else "Nothing was missed."
    open_yet = f"Not typed yet: {', '.join(found.untyped)}." if found.untyped else ""
    first = " ".join(filter(None, (first, missed or none, open_yet)))
    asked = f"As asked, the page promised {found.asked.told[1]} in that corner."
    return (first, *found.odd, found.promise.words[0], asked, *found.promise.words[1:])
