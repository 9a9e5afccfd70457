"""What the workshop is asked to do, in the order of the work, and what can be set on this car."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..car.carfile import CarFile
from ..car.keys import ENDS
from ..car.reference import reference_of
from ..units import from_si, number
from .candidate import Candidate, Version
from .page_wheels import AS_NOW, WheelTable, fixed_ends
from .spring_seats import corners_of, seats_for


def orders(
    file: CarFile, base: Version, asked: Version, able: Candidate, table: WheelTable, ring: bool
) -> tuple[str, ...]:
    """Write what is to be done, in the order of the work: one line a setting, nothing that cannot be set.

    Parameters:
        file: the car file [-]
        base: the car as it stands [-]
        asked: the car as asked for [-]
        able: what can be set of what is asked for [-]
        table: the four wheels [-]
        ring: whether the driver is rung before anything is set [-]

    Returns:
        numbered lines; common practice, no source [-]
    """
    visit = file.known.visit
    name = reference_of(file).name
    lines = ["Look first (list above). Found something: ring." + (" RING BEFORE SETTING ANYTHING." if ring else "")]
    parts = []
    for end in ENDS:
        one, two = getattr(base.setup, end), getattr(asked.setup, end)
        if one.bar != two.bar:
            part = 100 * (float(two.bar) / float(one.bar) - 1) if one.bar else 100
            parts.append(f"{end} anti-roll bar {number(part, 0, sign=True)} %, nearest hole")
        if one.spring != two.spring:
            part = 100 * (float(two.spring) / float(one.spring) - 1)
            rate = from_si(float(two.spring), "N_per_mm")
            parts.append(f"{end} springs {number(part, 0, sign=True)} %, to {rate:.0f} N/mm")
    parts += [f"{end} tyres: {kind}" for end, kind in able.tyres.items()]
    for load in able.loads:
        spot = f"{from_si(load.behind_front, 'mm'):.0f} mm behind the front axle"
        parts.append(f"{number(load.mass, 1, sign=True)} kg {load.name}, {spot}, bolted to the structure")
    lines += [f"Parts: {'; '.join(parts)}."] if parts else []
    if any(key.endswith("cold") for key in table.changed):
        lines.append("Cold pressures as asked, all four at one warmth. The hot ones are the driver's job.")
    seats = visit.get("seats", "")
    if any(key.endswith("height") for key in table.changed):
        shut = [end for end in fixed_ends(visit) if f"{end} height" in table.changed]
        if shut:
            why = "wrong or sagged springs, seats, spacers"
            lines.append(f"Heights to {name}: seats are fixed {' and '.join(shut)}, so find why they are out: {why}.")
        if len(shut) < sum(f"{end} height" in table.changed for end in ENDS):
            lines.append("Heights as asked. Camber, corner weights and toe read above are void after that.")
    lines += _seats(file, base, asked, seats, table)
    if any(key.endswith("camber") for key in table.changed):
        lines.append("Camber as asked.")
    if float(base.setup.caster) != float(asked.setup.caster):
        lines.append(f"Caster {from_si(float(asked.setup.caster), 'deg'):.1f}°.")
    toes = [end for end in ("rear", "front") if f"{end} toe" in table.changed]
    heights = any(key.endswith("height") for key in table.changed)
    if toes or heights:
        how = "rear toe and thrust first, then front."
        if visit.get("rear_toe") == "not adjustable":
            how = "front only. Rear toe cannot be set on this car: if it is out, something is bent or has slipped."
        lines.append(f"Toe last, wheel locked straight: {how}")
    if len(lines) > 1:
        lines.append("Torque rubber-bushed bolts at ride height, mark, road test. Write AS LEFT. Then ring.")
    else:
        lines.append(f"Nothing is asked for: every figure compared with {name} is within what can be set.")
    return tuple(f"{i} {line}" for i, line in enumerate(lines, 1))


def _seats(file: CarFile, base: Version, asked: Version, seats: str, table: WheelTable) -> list[str]:
    """What to turn for the cross weight, where it is asked for or seats can be turned for heights anyway."""
    if table.cross.ask == AS_NOW and not any(key.endswith("height") for key in table.changed):
        return []
    if seats == "fixed":
        return ["Corner weights cannot be set with fixed seats: note them."]
    if seats in ("", "not known") or table.cross.now == "?":
        return ["Corner weights: only where the seats can be turned; note the cross weight."]
    free = np.array([["front" in seats or "four" in seats] * 2, ["rear" in seats or "four" in seats] * 2])
    pitch = file.known.visit.get("thread")
    even = replace(asked.setup, cross_weight=base.setup.cross_weight)
    thread = float(pitch) / 1e3 if pitch else None
    answer = seats_for(corners_of(asked.car, even), float(asked.setup.cross_weight), free, thread)
    return [f"Corner weights after the heights, bars unhooked: {answer.words()[0]} {' '.join(answer.words()[1:2])}"]


def settable(said: Mapping[str, str]) -> str:
    """Write what can be set on this car.

    Parameters:
        said: what the car file says of the visit [-]

    Returns:
        words [-]
    """
    names = {"seats": "spring seats {}", "thread": "{} mm a turn", "camber_by": "camber by {}"}
    names |= {"rear_toe": "rear toe {}", "holes": "bars, hole front and rear: {}"}
    told = [words.format(said[key]) for key, words in names.items() if key in said]
    return ", ".join(told) or "nobody has said: please look"
