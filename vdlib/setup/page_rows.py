"""The table of the workshop sheet: what stands now and what is asked for, in the order of the work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.keys import ENDS
from ..car.known import Points
from ..car.records import Moment
from ..garage.alignment import rim_difference
from ..garage.readings import height_readings
from ..shown import digits_for, label_for, says, seen, unit_for
from ..trim.trim import trim
from ..units import G, from_si, number
from .candidate import Candidate, Load, Version
from .tolerances import UNITS_OF, least, too_small, within_words

CUT = " … (cut here to fit the page)"
"""What stands where a text was too long for the page."""
UNREAD = "not measured"
"""What stands in the table in the place of a number that was not read on this car."""


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    step: str
    setting: str
    now: str
    asked: str
    within: str
    changed: bool


def cut(text: str, most: int) -> str:
    """Shorten a text at a word and say so in words.

    Parameters:
        text: the text [-]
        most: most characters, the mark not counted [-]

    Returns:
        the text on one line, or its beginning and the mark ``CUT`` [-]
    """
    plain = " ".join(text.split())
    if len(plain) <= most:
        return plain
    short = plain[:most]
    return (short.rsplit(" ", 1)[0] if " " in short[most // 2 :] else short) + CUT


def rows_of(
    base: Version, asked: Version, able: Candidate, rim: float, points: Points | None, unread: frozenset[str]
) -> list[Row]:
    """Write the table, in the order of the work; common practice, no source.

    Parameters:
        base: the car as it stands [-]
        asked: the car as asked for [-]
        able: what can be set of what is asked for [-]
        rim: distance across the rim between the two places read for toe [m]
        points: the driver's own measuring points [-]
        unread: paths of the numbers that were not read on this car [-]

    Returns:
        the lines [-]
    """
    old, new = base.setup, asked.setup
    rows: list[Row] = []

    def add(step: str, setting: str, now: str, then: str, within: str, part: bool = False) -> None:
        if not part or now != then:
            again = any(row.step == step for row in rows)  # a step's name stands once
            rows.append(Row("" if again else step, setting, now, then, within, now != then))

    def read(path: str, sizes: list[float], digits: int, label: str, part: bool = False) -> tuple[str, str]:
        now, then = _two(sizes, digits, label)
        return _unsure(sizes, now, then, part) if path in unread else (now, then)

    def pair(step: str, words: str, field: str, digits: int, part: bool = False) -> None:
        unit, label = UNITS_OF[field]
        label = label if unit_for(unit) == unit else f" {label_for(unit)}"
        for end in ENDS:
            sizes = [float(seen(float(getattr(getattr(s, end), field)), unit)) for s in (old, new)]
            told = read(f"setup.{end}.{field}", sizes, digits_for(unit, digits), label, part)
            add(step, f"{end} {words}", *told, within_words(field), part)

    for end in ENDS:
        tyres = [getattr(v.car, end).tyre.kind for v in (base, asked)]
        add("0 parts", f"{end} tyres", tyres[0], tyres[1], "", part=True)
    pair("0 parts", "springs", "spring", 0, part=True)
    pair("0 parts", "anti-roll bar, nearest hole", "bar", 0, part=True)
    for load in able.loads[:4]:
        add("0 parts", _place(load), "not there", says(load.mass, "kg", 1, sign=True), within_words("load"))
    pair("1 tyres", "hot pressure, both sides", "pressure", 2)
    now, then = (f"{says(float(v.car.mass), 'kg', 0)} in all" for v in (base, asked))
    add("2 level floor", "driver's weight in the seat, fuel as driven", now, then, "")
    if points is not None:
        both = np.array([height_readings(base.car, setup, points.behind)[:2] for setup in (old, new)]) + points.above
        for i, (end, behind) in enumerate(zip(ENDS, points.behind, strict=True)):
            spot = f"{abs(from_si(behind, 'mm')):.0f} mm {'behind' if behind >= 0 else 'ahead of'} front axle line"
            now, then = (says(float(v), "mm", 0) for v in both[:, i])
            add("3 ride heights", f"your {end} point, {spot}", now, then, within_words("height"))
    pair("3 ride heights", "axle line, both sides", "height", 0)
    loads = [_corners(v) for v in (base, asked)]
    for i, end in enumerate(ENDS):
        for j, side in enumerate(("left", "right")):
            kept, moved = (float(kg[i][j]) for kg in loads)
            moved = kept if too_small("corner", kept, moved) else moved
            sizes = [float(seen(size, "kg")) for size in (kept, moved)]
            told = read("car.mass", sizes, digits_for("kg", 0), f" {label_for('kg')}")
            add("4 corner weights", f"{end} {side}, bars unhooked", *told, within_words("corner"))
    now, then = _two([100 * float(s.cross_weight) for s in (old, new)], 1, " %")
    add("4 corner weights", "right front + left rear, of all", now, then, within_words("cross_weight"))
    pair("5 camber, caster", "camber, each wheel", "camber", 1)
    told = read("setup.caster", [from_si(float(s.caster), "deg") for s in (old, new)], 1, "°")
    add("5 camber, caster", "caster", *told, within_words("caster"))
    within = f"{within_words('toe')} = {says(float(rim_difference(least('toe', 0.0), rim)), 'mm', 1)}"
    for end in ENDS:
        now, then = (toe_words(float(getattr(s, end).toe), rim) for s in (old, new))
        if f"setup.{end}.toe" in unread:
            now, then = _unsure([], now, then, False)
        add("6 toe, last", f"{end} toe, each wheel, {says(rim, 'mm', 0)} rim", now, then, within)
    return rows


def _unsure(sizes: list[float], now: str, then: str, parts: bool) -> tuple[str, str]:
    """Write a size nobody read as such; of a part, only by how much it is to change."""
    if now != then and parts and sizes[0]:
        return UNREAD, f"{number(100 * (sizes[1] / sizes[0] - 1), 0, sign=True)} %"
    told = f"{now} *"
    return told, told if now == then else then


def _two(sizes: list[float], digits: int, label: str) -> tuple[str, str]:
    """Write two sizes, with one digit more where rounding would hide that they differ."""
    for more in (digits, digits + 1):
        now, then = (f"{number(size, more)}{label}" for size in sizes)
        if now != then or sizes[0] == sizes[1]:
            break
    return now, then


def toe_words(toe: float, rim: float) -> str:
    """Write a wheel's toe in degrees and in millimetres at the rim.

    Parameters:
        toe: toe-in of one wheel [rad]
        rim: distance between the two places read [m]

    Returns:
        words such as "0.15° in = 1.1 mm" [-]
    """
    degrees, size = from_si(toe, "deg"), says(float(rim_difference(abs(toe), rim)), "mm", 1)
    way = "" if round(abs(degrees), 2) == 0 else " in" if degrees > 0 else " out"
    return f"{number(abs(degrees), 2)}°{way} = {size}"


def _place(load: Load) -> str:
    aside = load.left
    far = says(abs(aside), "mm", 0)
    side = "in the middle" if round(from_si(aside, "mm")) == 0 else f"{far} {'left' if aside > 0 else 'right'}"
    back, high = says(load.behind_front, "mm", 0), says(load.height, "mm", 0)
    return cut(f"{load.name[:30]}, {back} behind front axle, {side}, {high} high", 90)


def _corners(one: Version) -> Any:
    """Corner weights standing still, (2 axles, 2 sides) [kg]."""
    return trim(one.car, one.setup, Moment(20.0, 0.0)).standing_load / G
