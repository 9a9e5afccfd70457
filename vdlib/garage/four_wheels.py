"""The four wheels side by side: each reading, what it should be, and how far it is off, in the words of a workshop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..car.keys import CORNERS
from ..units import from_si, number
from .car_from import MeasuredCar
from .form import TOE_UNITS
from .reckoning import LEFT_RIGHT
from .typed import RIM, Readings, numbers

OUT = {"cold": (0.05, "bar"), "height": (5.0, "mm"), "camber": (0.25, "deg"), "toe": (0.08, "deg"), "gap": (15.0, "mm")}
"""Row → how far off what it should be is beyond the trade's tolerance; the gap's is the least free shaft; no source."""
NAMES = {
    "cold": "cold bar",
    "hot": "hot bar",
    "height": "height mm",
    "gap": "gap mm",
    "camber": "camber °",
    "toe": "toe",
    "kg": "kg",
}
"""Row → its name at a wheel."""


@dataclass(frozen=True)
class Cell:
    """One row at one wheel: what it is now, what it should be, how far off, and whether it is beyond tolerance."""

    now: str
    should: str = ""
    off: str = ""
    out: bool = False


def toe_words(angle: float, unit: str, rim: float = RIM) -> str:
    """Write a wheel's toe in one unit with o for out and nothing for in.

    Parameters:
        angle: toe of one wheel, in positive [rad]
        unit: "mm", "deg" or "arcmin" [-]
        rim: distance across the rim between the two places read, for mm [m]

    Returns:
        such as "1.5 out" [-]
    """
    size = from_si(rim * np.sin(angle), "mm") if unit == "mm" else from_si(angle, unit)
    text = number(abs(float(size)), {"mm": 1, "deg": 2, "arcmin": 0}[unit])
    return text if float(text) == 0 else f"{text} {'in' if size > 0 else 'out'}"


def typed_rows(readings: Readings, answer: MeasuredCar) -> dict[str, tuple[Cell, ...]]:
    """Return what is typed, wheel by wheel, beside what it should be.

    Parameters:
        readings: the readings as typed [-]
        answer: what they say [-]

    Returns:
        row → one ``Cell`` for each of the four wheels; rows of which nothing is typed are left out [-]
    """
    read = numbers(readings).good
    wheels = {path: float(m.value) for o in answer.steps.values() for path, m in o.wheels.items()}
    toe_unit = TOE_UNITS.get(readings.choice("toe.read"), "deg")
    rim = read.get("toe.diameter", RIM)
    found: dict[str, list[Cell]] = {name: [] for name in NAMES}

    def cell(row: str, value: float | None, should: float | None, unit: str, digits: int) -> None:
        found[row].append(_cell(row, value, should, unit, digits))

    for name in CORNERS:
        end = name.partition("_")[0]
        cell("cold", read.get(f"tyres.{name}_cold"), read.get(f"tyres.{end}_reference"), "bar", 2)
        cell("hot", read.get(f"tyres.{name}"), None, "bar", 2)
        cell("height", read.get(f"heights.{name}"), read.get(f"heights.{end}_reference"), "mm", 0)
        shaft, tie = read.get(f"stops.{end}_shaft"), read.get(f"stops.{name}_tie")
        told = "" if shaft is None else number(from_si(shaft, "mm"), 0)
        told += f", {number(from_si(tie, 'mm'), 0)} left" if tie is not None else ""
        least = min((v for v in (shaft, tie) if v is not None), default=1.0)
        found["gap"].append(Cell(told.removeprefix(", "), "", "", least < OUT["gap"][0] * 1e-3))
        cell("camber", wheels.get(f"setup.{name}.camber"), read.get(f"camber.{end}_reference"), "deg", 1)
        toe, due = wheels.get(f"setup.{name}.toe"), read.get(f"toe.{end}_reference")
        if toe is None:
            found["toe"].append(Cell(""))
        else:
            off = None if due is None else toe - due
            wrong = (end == "rear" and toe < 0) or (off is not None and abs(from_si(off, "deg")) > OUT["toe"][0])
            now, should, far = ("" if v is None else toe_words(v, toe_unit, rim) for v in (toe, due, off))
            found["toe"].append(Cell(now, should, far, wrong))
        cell("kg", read.get(f"corners.{name}"), None, "kg", 0)
    return {row: tuple(cells) for row, cells in found.items() if any(c.now for c in cells)}


def _cell(row: str, value: float | None, should: float | None, unit: str, digits: int) -> Cell:
    if value is None:
        return Cell("", "" if should is None else number(from_si(should, unit), digits))
    if row == "height" and any(round(float(from_si(v, unit)), 1) % 1 for v in (value, should) if v is not None):
        digits = 1  # read to the half millimetre: what is shown is what was typed, and their difference
    now = number(from_si(value, unit), digits)
    if should is None:
        return Cell(now)
    off = float(from_si(value - should, unit))
    out = row in OUT and abs(off) > OUT[row][0] * (1 + 1e-9)
    return Cell(now, number(from_si(should, unit), digits), number(off, digits, sign=True), out)


def uneven(rows: dict[str, tuple[Cell, ...]]) -> tuple[str, ...]:
    """List rows whose left and right differ beyond the trade's tolerance: "front height".

    Parameters:
        rows: as of ``typed_rows`` [-]

    Returns:
        words [-]
    """
    step = {"cold": "cold", "hot": "tyres", "height": "heights", "camber": "camber"}
    told = []
    for row, cells in rows.items():
        if row not in step:
            continue
        for i, end in enumerate(("front", "rear")):
            left, right = cells[2 * i].now, cells[2 * i + 1].now
            if left and right and abs(_plain(left) - _plain(right)) > LEFT_RIGHT[step[row]][0] * (1 + 1e-9):
                told.append(f"{end} {NAMES[row]}")
    return tuple(told)


def _plain(text: str) -> float:
    return float(text.replace("\u2212", "-"))
