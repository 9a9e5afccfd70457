"""The four wheels of the workshop page: now, the reference and what is asked for at each, in a mechanic's units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.carfile import CarFile
from ..car.keys import CORNERS, ENDS
from ..car.known import Figures
from ..car.records import SIDES, Car, Setup
from ..car.reference import reference_of
from ..garage import four_wheels
from ..garage.typed import RIM, number_from
from ..garage.whole_car import RISE
from ..shown import digits_for, label_for, seen
from ..trim.standing import stands
from ..units import Array, G, from_si, number, to_si
from .candidate import Version, at_heights_of, standing

AS_NOW, LOOK_UP, LEAVE, UNREAD = "–", "?", "leave", "not read"
"""What stands where nothing is asked for, where nobody has read it, and where it is inside tolerance as asked."""
OUT = {row: float(to_si(size, unit)) for row, (size, unit) in four_wheels.OUT.items()}
"""Further than this off the reference is beyond tolerance on a road car, as on the form; of the gap the least [SI]."""
CROSS = 0.01
"""Further off than this a cross weight is beyond tolerance where the reference says nothing; no source [-]."""
LEAST = {"cold": 0.025e5, "height": 0.5e-3, "camber": float(np.radians(0.05)), "toe": float(np.radians(0.025))}
"""Below this a change rounds to nothing that can be set: half a mark; common practice, no source [SI]."""


STRAIGHT = 0.02
"""A thrust angle smaller than this is none: less than can be read [deg]; common practice, no source."""
PLACES = ("hub-arch", "arch", "height", "gap")
"""Beginnings of the rows that tell how the car sits."""


@dataclass(frozen=True)
class WheelCell:
    """One row at one wheel: words for now, the reference and what is asked for, and whether it is beyond tolerance."""

    now: str
    book: str = ""
    ask: str = AS_NOW
    out: bool = False


@dataclass(frozen=True)
class WheelTable:
    """All rows at the four wheels, front left first, and what belongs to the whole car."""

    rows: tuple[tuple[str, tuple[WheelCell, ...]], ...]
    cross: WheelCell  # right front plus left rear, bars unhooked
    thrust: WheelCell  # where the rear axle points
    changed: frozenset[str]  # rows in which something is asked for, by "front height"


def wheel_table(file: CarFile, base: Version, book: Setup, asked: Version, after_work: bool = False) -> WheelTable:
    """Write the four wheels of one car.

    Parameters:
        file: the car file: where numbers are from, where the tape was read, what the visit says [-]
        base: the car as it stands, toe and camber at its own heights [-]
        book: the reference, likewise [-]
        asked: the car as asked for, with what is put in or taken out [-]
        after_work: whether it is so since work was done: heights back to the reference are then looked into first [-]

    Returns:
        a ``WheelTable`` [-]
    """
    car, now, ask = base.car, base.setup, standing(asked.car, asked.setup)
    rest = at_heights_of(base, ask)  # toe and camber as the heights asked for make them
    visit = file.known.visit
    rim = rim_of(visit)
    unit = visit.get("toe_unit", "mm")
    changed: set[str] = set()
    found: dict[str, list[WheelCell]] = {}

    def row(name: str, field: str, three: list[Any], write: Any, alone: Any = None, worst: float = -np.inf) -> None:
        """One row from three sets of four numbers; what they become where nothing is set is as now if left out."""
        for k, corner in enumerate(CORNERS):
            end = corner.partition("_")[0]
            old, due, new = (float(np.ravel(v)[k]) for v in three)
            name_of = "pressure" if field == "cold" else field
            blank = unread(file, f"setup.{end}.{name_of}")
            known = field == "height" or compared(file, end, name_of)
            left = old if alone is None else float(alone[k])
            moves = abs(new - left) > LEAST.get(field, np.inf) and (known or not blank)
            changed.update([f"{end} {field}"] if moves else [])
            far = within(file.known.figures, corner, field)
            out = known and not blank and abs(old - due) > far * (1 + 1e-9)
            out |= end == "rear" and not blank and old < worst
            shut = end in fixed_ends(visit) or (after_work and abs(new - due) <= LEAST["height"])
            told = "look" if field == "height" and shut else write(new)
            fine = known and not blank and inside(file.known.figures, corner, name_of, left, due)
            stays = LEAVE if fine and write(old) != write(due) else AS_NOW
            texts = LOOK_UP if blank else write(old), write(due) if known else LOOK_UP, told if moves else stays
            found.setdefault(name, []).append(WheelCell(*texts, out))

    hot = [four(s, "pressure") for s in (now, book, ask)]
    cold = [_cold(visit, hot[0]), hot[1] - RISE, hot[2] - rises(visit, *hot)]
    row(f"cold {label_for('bar')}", "cold", cold, _bar)
    place = file.known.points.what if file.known.points else ""
    name = {"hub centre to arch": "hub-arch", "floor to arch": "arch"}.get(place, "height")
    row(f"{name} {label_for('mm')}", "height", [heights_at(file, car, s) for s in (now, book, ask)], _mm)
    shafts = [gaps(car, s) for s in (now, book, ask)]
    found[f"gap {label_for('mm')}"] = [
        WheelCell(UNREAD, LOOK_UP)
        if unread(file, f"{c.partition('_')[0]}.bump_gap")
        else WheelCell(_mm(shafts[0][k]), _mm(shafts[1][k]), AS_NOW, bool(shafts[0][k] < OUT["gap"]))
        for k, c in enumerate(CORNERS)
    ]
    row("camber °", "camber", [four(s, "camber") for s in (now, book, ask)], _deg, four(rest, "camber"))
    label = {"mm": "toe mm", "deg": "toe °", "arcmin": "toe min"}[unit]
    toes = [four(s, "toe") for s in (now, book, ask)]
    row(label, "toe", toes, lambda v: _toe(v, unit, rim), four(rest, "toe"), -1e-9)
    loads = [stands(c, s).load.reshape(4) / G for c, s in ((car, now), (asked.car, ask))]
    weighed = not unread(file, "setup.cross_weight")
    moved = bool(np.abs(loads[1] - loads[0]).max() >= 3.0)
    found[label_for("kg")] = [
        WheelCell(_kg(loads[0][k]) if weighed else LOOK_UP, "", _kg(loads[1][k]) if moved else AS_NOW) for k in range(4)
    ]
    clicks = [text.strip() for text in visit.get("clicks", "").split("|")]
    found["clicks"] = [WheelCell(clicks[k] if len(clicks) == 4 else "", "", "") for k in range(4)]
    return WheelTable(
        tuple((key, tuple(cells)) for key, cells in found.items()),
        _cross(weighed, loads, now, ask, file.known.figures),
        _thrust(file, now, book, ask, rest),
        frozenset(changed),
    )


def within(figures: Figures | None, corner: str, field: str) -> float:
    """Return how far off its figure a row of one wheel may be: the reference's own tolerance, else a road car's.

    Parameters:
        figures: the figures of the car file [-]
        corner: such as "rear_left" [-]
        field: "cold", "height", "camber" or "toe" [-]

    Returns:
        the tolerance, in SI [any]
    """
    own = figures.tolerance(corner, "pressure" if field == "cold" else field) if figures else None
    return OUT[field] if own is None else own


def given(figures: Figures | None, end: str, name: str) -> bool:
    """Return whether the reference gives a figure; a car without figures is compared with itself as it was aligned.

    Parameters:
        figures: the figures of the car file [-]
        end: "front" or "rear" [-]
        name: such as "toe" [-]

    Returns:
        True or False [-]
    """
    return figures is None or any(f"{end}{side}.{name}" in figures.values for side in ("", "_left", "_right"))


def compared(file: CarFile, end: str, name: str) -> bool:
    """Return whether there is a figure to compare an axle's number with; without any, with itself where it was read.

    Parameters:
        file: the car file [-]
        end: "front" or "rear" [-]
        name: such as "toe" [-]

    Returns:
        True or False [-]
    """
    figures = file.known.figures
    return given(figures, end, name) and (figures is not None or not unread(file, f"setup.{end}.{name}"))


def inside(figures: Figures | None, corner: str, name: str, now: Any, due: Any) -> bool:
    """Return whether a wheel's number lies within the tolerance of its figure; a rear wheel toed out never does.

    Parameters:
        figures: the figures of the car file, for their own tolerances [-]
        corner: such as "rear_left" [-]
        name: "toe", "camber", "pressure" or "height" [-]
        now: as it is, in SI [any]
        due: its figure, in SI [any]

    Returns:
        True or False [-]
    """
    if name == "toe" and corner.startswith("rear") and float(now) < -1e-9 <= float(due):
        return False
    far = within(figures, corner, "cold" if name == "pressure" else name)
    return abs(float(now) - float(due)) <= far * (1 + 1e-9)


def inside_tolerance(file: CarFile) -> frozenset[str]:
    """Return the causes of which every wheel reads within tolerance, as the workshop page has it.

    Parameters:
        file: the car file [-]

    Returns:
        such as "front.height" and "pressure", as ``answers.what_is_out.CAUSES`` names them [-]
    """
    now, due = (standing(file.car, setup) for setup in (file.setup, reference_of(file).setup))
    found: set[str] = set()
    figures = file.known.figures
    for name in ("height", "toe", "camber", "pressure"):
        good = [
            all(
                inside(figures, f"{end}_{side}", name, old, new)
                for side, old, new in zip(
                    SIDES, getattr(now, end).wheels(name), getattr(due, end).wheels(name), strict=True
                )
            )
            for end in ENDS
        ]
        if name == "pressure":
            found.update([name] if all(good) else [])
        else:
            found.update(f"{end}.{name}" for end, fine in zip(ENDS, good, strict=True) if fine)
    return frozenset(found)


def rim_of(visit: Mapping[str, str]) -> float:
    """Return the distance across the rim where toe is read, the usual one where nobody has said.

    Parameters:
        visit: what the car file says of the visit [-]

    Returns:
        distance [m]
    """
    return float(to_si(number_from(visit.get("rim", "")) or from_si(RIM, "mm"), "mm"))


def fixed_ends(visit: Mapping[str, str]) -> tuple[str, ...]:
    """Return the ends whose spring seats are known to be fixed.

    Parameters:
        visit: what the car file says of the visit [-]

    Returns:
        of "front" and "rear" [-]
    """
    found = {"fixed": ENDS, "threaded, rear only": ("front",), "threaded, front only": ("rear",)}
    return tuple(found.get(visit.get("seats", ""), ()))


def heights_at(file: CarFile, car: Car, setup: Setup) -> Array:
    """Return the four heights where the tape is read: at the car file's points, or at the axle lines.

    Parameters:
        file: the car file, for the points [-]
        car: the car, for its wheelbase [-]
        setup: the setup [-]

    Returns:
        front left, front right, rear left, rear right, shape (4,) [m]
    """
    high = four(setup, "height").reshape(2, 2)
    spot = file.known.points
    if spot is None:
        return high.ravel()
    slope = (high[1] - high[0]) / float(car.wheelbase)
    return np.stack([high[0] + slope * spot.behind[i] + spot.above[i] for i in (0, 1)]).ravel()


def tape_words(file: CarFile, car: Car, setup: Setup) -> str:
    """Write the four heights as the owner's tape would read them, which is not what the sliders count.

    Parameters:
        file: the car file, for the points [-]
        car: the car, for its wheelbase [-]
        setup: the setup [-]

    Returns:
        a sentence; empty where heights are read at the axle lines, as the sliders have them [-]
    """
    if file.known.points is None:
        return ""
    a, b, c, d = (_mm(float(value)) for value in heights_at(file, car, setup))
    told = f"front {a} left, {b} right; rear {c} left, {d} right {label_for('mm')}"
    return f"Where your tape is read ({file.known.points.what}) that is {told}."


def four(setup: Setup, field: str) -> Array:
    """Return a setting of the four wheels.

    Parameters:
        setup: the setup, plain numbers [-]
        field: such as "toe" [-]

    Returns:
        front left, front right, rear left, rear right, in SI, shape (4,) [any]
    """
    return np.array([float(v) for end in ENDS for v in getattr(setup, end).wheels(field)])


def gaps(car: Car, setup: Setup) -> Array:
    """Return the free shaft to the bump stop at each damper, standing.

    Parameters:
        car: the car, plain numbers [-]
        setup: the setup, likewise [-]

    Returns:
        front left, front right, rear left, rear right; below zero the stop is pressed, shape (4,) [m]
    """
    out = []
    for end in ENDS:
        axle, own = getattr(car, end), getattr(setup, end)
        out += [float(axle.motion_ratio * (axle.bump_gap + h - axle.reference_height)) for h in own.wheels("height")]
    return np.array(out)


def _cold(visit: Mapping[str, str], hot: Array) -> Array:
    read = [number_from(text) for text in visit.get("cold", "").split("|")]
    usual = hot - RISE
    if len(read) != 4:
        return usual
    return np.array([u if v is None else float(to_si(v, "bar")) for v, u in zip(read, usual, strict=True)])


def rises(visit: Mapping[str, str], now: Array, book: Array, ask: Array) -> Array:
    """Return how far the pressure of each wheel is taken to rise from cold to hot, as asked for.

    Parameters:
        visit: what the car file says of the visit, for the cold pressures read [-]
        now: hot pressures as they are, shape (4,) [Pa]
        book: those of the reference, shape (4,) [Pa]
        ask: those asked for, shape (4,) [Pa]

    Returns:
        the wheel's own rise; the usual one where the reference is asked for, whose cold figure counts, shape (4,) [Pa]
    """
    found: Array = np.where(np.isclose(ask, book, rtol=0, atol=1.0) & (ask != now), RISE, now - _cold(visit, now))
    return found


def _cross(weighed: bool, loads: list[Array], now: Setup, ask: Setup, figures: Figures | None) -> WheelCell:
    shares = [100 * (kg[1] + kg[2]) / kg.sum() for kg in loads]
    due = 100 * (figures.values.get("cross_weight", 0.5) if figures else 0.5)
    far = 100 * (figures.tolerances.get("cross_weight", CROSS) if figures else CROSS)
    moves = abs(float(ask.cross_weight) - float(now.cross_weight)) > 0.0015
    text = number(shares[0], 1) if weighed else LOOK_UP
    out = weighed and bool(abs(shares[0] - due) > far * (1 + 1e-9))
    return WheelCell(text, number(due, 1), number(shares[1], 1) if moves else AS_NOW, out)


def _thrust(file: CarFile, now: Setup, book: Setup, ask: Setup, rest: Setup) -> WheelCell:
    def told(setup: Setup) -> str:
        left, right = (float(v) for v in setup.rear.wheels("toe"))
        size = float(np.degrees(right - left) / 2)
        size = 0.0 if abs(size) < STRAIGHT else size
        return f"{number(abs(size), 2)}°{'' if abs(size) < 0.005 else ' to left' if size > 0 else ' to right'}"

    left, right = (float(v) for v in now.rear.wheels("toe"))
    if unread(file, "setup.rear.toe"):
        return WheelCell(LOOK_UP, told(book), AS_NOW)
    ask_words = told(ask)
    out = abs(np.degrees(right - left) / 2) > 0.08
    return WheelCell(told(now), told(book), AS_NOW if told(rest) == ask_words else ask_words, bool(out))


def unread(file: CarFile, path: str) -> bool:
    """Return whether nobody read a number on this car; an example car is shown with its invented numbers.

    Parameters:
        file: the car file [-]
        path: such as "setup.rear.toe" [-]

    Returns:
        True or False [-]
    """
    return file.path is not None and file.origin.get(path, "measured") != "measured"


def _bar(value: float) -> str:
    return number(float(seen(value, "bar")), digits_for("bar", 2))


def _mm(value: float) -> str:
    return number(float(seen(value, "mm")), digits_for("mm", 0))


def _kg(value: float) -> str:
    return number(float(seen(value, "kg")), 0)


def _deg(value: float) -> str:
    return number(from_si(value, "deg"), 1)


def _toe(value: float, unit: str, rim: float) -> str:
    return four_wheels.toe_words(value, unit, rim).replace(" out", " OUT").replace(" in", "")
