"""What the workshop is asked to do, in the order of the work, and what can be set on this car."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..car.carfile import CarFile
from ..car.keys import CORNERS, ENDS
from ..car.known import Figures
from ..car.reference import reference_of
from ..shown import digits_for, label_for, retold, says, seen
from ..units import from_si, number
from .candidate import Candidate, Version
from .page_wheels import AS_NOW, OUT, WheelCell, WheelTable, fixed_ends, rim_of, within
from .spring_seats import SeatAnswer, corners_of, seats_for

UNDOES = {
    "spring": "New springs undo ride heights, corner weights, camber and toe.",
    "bar": "A bar hooked up with preload undoes the corner weights: links go in free, after them, driver in the seat.",
    "load": "A mass put in or taken out undoes ride heights and corner weights. Ballast is bolted to the structure as "
    "the event's rules say: a loose mass kills.",
    "tyre": "Other tyres undo pressures and ride heights, and their balance is new: learn them gently.",
    "height": "A ride height undoes toe, camber, caster, corner weights and the headlamps' aim.",
    "camber": "Camber undoes toe.",
    "toe": "Toe undoes the steering wheel's centre.",
    "cross_weight": "Turning a spring seat undoes that corner's height unless the other three are turned with it.",
}
"""Kind of change → what it undoes; common practice, no source."""
ORDER = (
    "Look first; parts",
    "Pressures cold, same warmth, left = right (0.05 bar; on an adjustable track car 0.03 bar)",
    "Level pads, driver's weight, fuel; rolled 2 m, bounced, bars off (floor to 2 mm; 0.5 mm)",
    "Heights against the reference (±5 mm, left-right 5 mm; ±1 mm, 2 mm)",
    "Cross weight (note only; ±0.3 %)",
    "Heights again; bar links go in free",
    "Camber, caster (±0.25°; ±0.1°)",
)
"""Order of the work, in brackets within what: road car; adjustable track car. Common practice, no source."""
HALF = 5e-4
"""Half a millimetre: heights as near as that to the reference are called it [m]."""
FINE_TOE = float(np.radians(0.05))
"""Within what toe is set on an adjustable track car; common practice, no source [rad]."""


def toe_within(size: float, visit: Mapping[str, str]) -> str:
    """Write a tolerance of toe, with its millimetres at the rim where the page has toe in them.

    Parameters:
        size: how far either way [rad]
        visit: what the car file says of the visit [-]

    Returns:
        such as "±0.08°, 0.6 mm at the rim", in millimetres whatever the reader sees elsewhere [-]
    """
    words = f"±{number(from_si(size, 'deg'), 2)}°"
    if visit.get("toe_unit", "mm") != "mm":
        return words
    return f"{words}, {number(from_si(rim_of(visit) * float(np.sin(size)), 'mm'), 1)} mm at the rim"


def within_words(figures: Figures | None, visit: Mapping[str, str]) -> str:
    """Write within what a figure is left alone, in short: a road car's, or the reference's own.

    Parameters:
        figures: the figures of the car file [-]
        visit: what it says of the visit [-]

    Returns:
        words [-]
    """
    kinds = {
        "cold": ("cold", "bar", 2),
        "height": ("height", "mm", 0),
        "camber": ("camber", "deg", 2),
        "toe": ("toe", "deg", 2),
    }
    told = []
    for field, (word, unit, digits) in kinds.items():
        sizes = {within(figures, corner, field) for corner in CORNERS}
        far = sizes.pop()
        size = f"±{number(from_si(far, 'deg'), digits)}°" if unit == "deg" else f"±{says(far, unit, digits)}"
        size = toe_within(far, visit) if field == "toe" else size
        told.append(f"{word} {'as its own figure says' if sizes else size}")
    return f"WITHIN {', '.join(told)}: leave."


def order_of(visit: Mapping[str, str]) -> tuple[str, ...]:
    """Write the order of the work for the back of the page, in the units that the reader sees and toe as on the page.

    Parameters:
        visit: what the car file says of the visit [-]

    Returns:
        numbered lines [-]
    """
    toe = f"{toe_within(OUT['toe'], visit)}; {toe_within(FINE_TOE, visit)}"
    lines = (
        *map(retold, ORDER),
        f"Rear toe and thrust, then front toe, wheel locked straight ({toe})",
        "Bolts and wheels torqued to the maker's figures at ride height, headlamps aimed; mark, road test",
    )
    return tuple(f"{i} {line}" for i, line in enumerate(lines, 1))


def orders(
    file: CarFile,
    base: Version,
    asked: Version,
    able: Candidate,
    table: WheelTable,
    ring: bool,
    seats: SeatAnswer | None = None,
) -> tuple[str, ...]:
    """Write what is to be done, in the order of the work: one line a setting, nothing that cannot be set.

    Parameters:
        file: the car file [-]
        base: the car as it stands [-]
        asked: the car as asked for [-]
        able: what can be set of what is asked for [-]
        table: the four wheels [-]
        ring: whether the driver is rung before anything is set [-]
        seats: as of ``seats_asked`` [-]

    Returns:
        numbered lines; common practice, no source [-]
    """
    visit = file.known.visit
    reference = reference_of(file)
    name = reference.name
    lines = ["Look first (list above). Found something: ring." + (" RING BEFORE SETTING ANYTHING." if ring else "")]
    heights = any(key.endswith("height") for key in table.changed)
    lines += _parts(base, asked, able)
    if any(key.endswith("cold") for key in table.changed):
        lines.append("Cold pressures as asked, all four at one warmth. The hot ones are the driver's job.")
    elif heights:
        lines.append("Cold pressures as in the table first, all four at one warmth; driver's weight and fuel in.")
    back = all(
        bool(
            np.allclose(
                getattr(asked.setup, end).wheels("height"), getattr(reference.setup, end).wheels("height"), 0, HALF
            )
        )
        for end in ENDS
        if f"{end} height" in table.changed
    )
    lines += _heights(visit, table, ring, name if back else "")
    weights = _corners(visit.get("seats", ""), table, seats)
    lines += weights
    if len(lines) > 1:
        lines.append(f"{'Heights again. ' if heights or weights else ''}Bar links in, free of preload.")
    lines += _camber(visit, table, heights)
    if float(base.setup.caster) != float(asked.setup.caster):
        lines.append(f"Caster {from_si(float(asked.setup.caster), 'deg'):.1f}°.")
    lines += _toe(visit, table, heights)
    if len(lines) > 1:
        lamps = ", headlamps aimed" if heights else ""
        end = f"Bolts and wheels torqued at ride height{lamps}; mark, road test."
        lines.append(f"{end} Write AS LEFT, ring.")
    else:
        cells = (*(cell for _, four in table.rows for cell in four), table.cross, table.thrust)
        fine = "." if any(cell.out for cell in cells) else f": every figure compared with {name} is inside tolerance."
        lines.append(f"Nothing is asked for{fine}")
    return tuple(f"{i} {line}" for i, line in enumerate(lines, 1))


def _parts(base: Version, asked: Version, able: Candidate) -> list[str]:
    """What is fitted anew, in one line; none where nothing is."""
    parts = []
    for end in ENDS:
        one, two = getattr(base.setup, end), getattr(asked.setup, end)
        if one.bar != two.bar:
            part = 100 * (float(two.bar) / float(one.bar) - 1) if one.bar else 100
            parts.append(f"{end} anti-roll bar {number(part, 0, sign=True)} %, nearest hole")
        if one.spring != two.spring:
            part = 100 * (float(two.spring) / float(one.spring) - 1)
            rate = says(float(two.spring), "N_per_mm", 0)
            parts.append(f"{end} springs {number(part, 0, sign=True)} %, to {rate}")
    parts += [f"{end} tyres: {kind}" for end, kind in able.tyres.items()]
    for load in able.loads:
        spot = f"{from_si(load.behind_front, 'mm'):.0f} mm behind the front axle"
        parts.append(f"{number(load.mass, 1, sign=True)} kg {load.name}, {spot}, bolted to the structure")
    return [f"Parts: {'; '.join(parts)}."] if parts else []


def _heights(visit: Mapping[str, str], table: WheelTable, ring: bool, name: str) -> list[str]:
    """How the heights come to the reference by its name, or as asked; none where no height is asked for."""
    asked = [end for end in ENDS if f"{end} height" in table.changed]
    if not asked:
        return []
    lines, shut = [], [end for end in fixed_ends(visit) if end in asked]
    if shut:
        to, do = (f"to the reference ({name})", "find why") if name else ("as asked", "only by")
        why = f"{do}{':' * bool(name)} {'wrong or sagged springs' if name else 'other springs'}, seats, spacers"
        far = f"Heights {to}: seats are fixed {' and '.join(shut)}, so {why}."
        lines.append(f"{far} Only with the heights right go on.")
    elif ring:
        why = "find why they are out (wrong or sagged springs, seats, spacers) and ring"
        lines.append(f"Heights: {why}. Then {f'to {name}' if name else 'as asked'}.")
    if len(shut) < len(asked):
        begin = "With the heights set, camber" if ring else "Heights as asked. Camber"
        lines.append(f"{begin}, corner weights and toe read above are void{' after that' * (not ring)}.")
    return lines


def _camber(visit: Mapping[str, str], table: WheelTable, heights: bool) -> list[str]:
    """Camber as asked, or read again after the heights."""
    if any(key.endswith("camber") for key in table.changed):
        again = " Read caster again." if heights else ""
        return ["Camber as asked" + ("." if visit.get("camber_by") else ", where it can be set.") + again]
    return ["Camber and caster: read again after the heights; inside tolerance, leave."] if heights else []


def _toe(visit: Mapping[str, str], table: WheelTable, heights: bool) -> list[str]:
    """Toe last, as asked or read again after the heights."""
    if not heights and not any(f"{end} toe" in table.changed for end in ENDS):
        return []
    how = "rear toe and thrust first, then front."
    if visit.get("rear_toe") == "not adjustable":
        how = "front only. Rear toe cannot be set on this car: if it is out, something is bent or has slipped."
    rim = f"{number(float(seen(rim_of(visit), 'mm')), digits_for('mm', 0) // 2)} {label_for('mm')}"
    across = "" if visit.get("toe_unit", "mm") != "mm" else f" (over {rim} of each rim)"
    again = " Read again after the heights: inside tolerance, leave." if heights else ""
    return [f"Toe last{across}, wheel locked straight: {how}{again}"]


def seats_asked(file: CarFile, base: Version, asked: Version, table: WheelTable) -> SeatAnswer | None:
    """Return what to turn at which seat for the cross weight; None where none is asked for or no seat can be turned.

    Parameters:
        file: the car file [-]
        base: the car as it stands [-]
        asked: the car as asked for [-]
        table: the four wheels [-]

    Returns:
        a ``SeatAnswer`` [-]

    Errors:
        as ``seats_for``.
    """
    seats = file.known.visit.get("seats", "")
    if table.cross.ask == AS_NOW or table.cross.now == "?" or seats in ("", "not known", "fixed"):
        return None
    free = np.array([["front" in seats or "four" in seats] * 2, ["rear" in seats or "four" in seats] * 2])
    pitch = file.known.visit.get("thread")
    even = replace(asked.setup, cross_weight=base.setup.cross_weight)
    thread = float(pitch) / 1e3 if pitch else None
    return seats_for(corners_of(asked.car, even), float(asked.setup.cross_weight), free, thread)


def with_seats(table: WheelTable, seats: SeatAnswer | None) -> WheelTable:
    """Put what to turn at each seat at its wheel.

    Parameters:
        table: the four wheels [-]
        seats: as of ``seats_asked`` [-]

    Returns:
        the table, one row longer where something is to be turned [-]
    """
    if seats is None or not seats.turn.any():
        return table
    name = "seat, turns" if seats.thread else f"seat {label_for('mm')}"
    cells = []
    for turn in seats.turn.ravel():
        size = abs(float(turn)) / seats.thread if seats.thread else float(seen(abs(float(turn)), "mm"))
        digits = 2 if seats.thread else digits_for("mm", 1)
        told = f"{number(size, digits)} {'up' if turn > 0 else 'down'}"
        cells.append(WheelCell("", "", told if turn else AS_NOW))
    return replace(table, rows=(*table.rows, (name, tuple(cells))))


def _corners(seats: str, table: WheelTable, answer: SeatAnswer | None) -> list[str]:
    """What to do about the corner weights, where they are asked for or void after the heights."""
    if table.cross.ask == AS_NOW and not any(key.endswith("height") for key in table.changed):
        return []
    if seats == "fixed":
        return ["Corner weights cannot be set with fixed seats: note them."]
    if seats in ("", "not known") or table.cross.now == "?":
        return ["Corner weights: only where the seats can be turned; note the cross weight."]
    if answer is None:  # none is asked for
        wanted = f"cross weight {table.cross.book} %; inside tolerance, leave."
        return [f"Weigh again after the heights, bars unhooked: {wanted}"]
    if not answer.turn.any():
        return [f"Corner weights after the heights, bars unhooked: {answer.words()[0]}"]
    scales = " ".join(answer.words()[1:2])
    return [f"Corner weights after the heights, bars unhooked: seats as asked at each wheel (up raises it). {scales}"]


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
