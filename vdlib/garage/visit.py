"""What the workshop learns of a car besides its numbers, taken from the form in the words of the car file."""

from __future__ import annotations

from collections.abc import Mapping

from ..car.keys import CORNERS
from ..units import from_si, number
from .form import TOE_UNITS
from .form_fields import CHOICES, FINE, FOUND, LOOK, UNSAID
from .typed import Readings, numbers

EMPTY = "–"
"""What stands for a wheel of which nothing was read."""
_WORDS = {
    "felt": "felt.words",
    "since": "felt.since",
    "work": "felt.work",
    "km": "start.km",
    "contact": "start.contact",
    "event": "start.event",
    "tyres": "tyres.make",
    "found": "look.note",
}
_CHOSEN = {
    "seats": "adjust.seats",
    "camber_by": "adjust.camber",
    "rear_toe": "adjust.rear_toe",
    "differential": "start.differential",
    "control": "start.control",
}


def visit_of(readings: Readings) -> dict[str, str]:
    """Return what the form says of the visit.

    Parameters:
        readings: the readings [-]

    Returns:
        key of ``known.VISIT`` → words; what was not typed or chosen is left out [-]
    """
    read = numbers(readings).good
    said = {key: readings.words(box) for key, box in _WORDS.items()}
    said |= {key: readings.chosen[box] for key, box in _CHOSEN.items() if box in readings.chosen}
    way, foot = (readings.choice(key).replace(UNSAID, "") for key in ("felt.direction", "felt.phase"))
    corner = readings.words("felt.corner")
    said["corner"] = ", ".join(part for part in (corner, f"turning {way}" if way else "") if part)
    said["foot"] = foot
    if "felt.speed" in read:
        said["speed"] = f"{number(from_si(read['felt.speed'], 'kmh'), 0)} km/h"
    if readings.chosen.get("floor.driver") == CHOICES["floor.driver"].options[1]:
        said["load"] = "the driver's weight in the seat, fuel as driven"
    states = {key: readings.choice(f"look.{key}") for key in LOOK}
    said["looked"] = ", ".join(key for key, state in states.items() if state == FINE)
    odd = [LOOK[key].partition(":")[0] for key, state in states.items() if state == FOUND]
    said["found"] = ": ".join(part for part in (", ".join(odd), said["found"]) if part)
    said["cold"] = _four([read.get(f"tyres.{name}_cold") for name in CORNERS], "bar", 3)
    said["ties"] = _four([read.get(f"stops.{name}_tie") for name in CORNERS], "mm", 0)
    if "tyres.cold_air" in read:
        said["cold_air"] = f"{number(read['tyres.cold_air'], 0)} °C"
    if "toe.diameter" in read:
        said["rim"] = number(from_si(read["toe.diameter"], "mm"), 0)
    if "adjust.thread" in read:
        said["thread"] = number(from_si(read["adjust.thread"], "mm"), 2)
    said["toe_unit"] = TOE_UNITS.get(readings.choice("toe.read"), "mm")
    holes = [readings.words(f"adjust.{end}_hole") for end in ("front", "rear")]
    said["holes"] = " | ".join(holes) if any(holes) else ""
    clicks = [readings.words(f"adjust.{name}_clicks") for name in CORNERS]
    said["clicks"] = " | ".join(text or EMPTY for text in clicks) if any(clicks) else ""
    return {key: text for key, text in said.items() if text}


def unticked(visit: Mapping[str, str]) -> tuple[str, ...]:
    """List what nobody has looked at yet; where something was found, somebody has.

    Parameters:
        visit: what the car file says of the visit [-]

    Returns:
        the inspection's items, in words [-]
    """
    seen = {key.strip() for key in visit.get("looked", "").split(",")}
    found = visit.get("found", "")
    return tuple(w for key, w in LOOK.items() if key not in seen and w.partition(":")[0] not in found)


def _four(values: list[float | None], unit: str, digits: int) -> str:
    if all(value is None for value in values):
        return ""
    return " | ".join(EMPTY if v is None else number(from_si(v, unit), digits) for v in values)
