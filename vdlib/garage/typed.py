"""Readings as typed: text that is never lost, the unit each box is read in, and the numbers that come of it."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass, field, replace

import numpy as np

from ..car import examples
from ..car.keys import CORNERS
from ..car.typical import Kinds
from ..checks import Problem, range_problem
from ..units import UNITS, brief, from_si, to_si
from .form import CHOSEN, HUB, KIND_AT, SILL, STEPS, STRINGS, TOE_UNITS, WAYS, Choice, Field
from .form_fields import ASKED, CHOICES, FIELDS

SAVED = "saved "
EXAMPLE = "example "
RIM = 0.43
"""Usual distance across a rim between the two places read, where none is typed; a 17-inch wheel's is near it [m]."""
LONGEST = 700
"""Most characters of a box of words."""
_NUMBER = re.compile(r"([+-]?)(?:(\d+) +)?(\d+)/(\d+)|[+-]?(?:\d{1,9}(?:[.,]\d{0,9})?|[.,]\d{1,9})")
_MINUTES = re.compile(r"([+-]?)(\d{1,3}) *[°d] *(\d{1,2}(?:[.,]\d{0,3})?) *(?:'|′|min)?")
_TURNED = re.compile(r"(?:(?:toe[- ]?)?(in|out|i|o) +)?(.+?)(?:\s*(toe[- ]?)?(in|out|i|o))?", re.IGNORECASE)
_SMALL = 12
"""Longest piece of a wrong text shown in a message."""
_UNIT_WORDS: dict[str, tuple[str, ...]] = {
    "mm": ("mm",),
    "cm": ("cm",),
    "m": ("m",),
    "in": ("inches", "inch", "in", '"'),
    "kg": ("kg",),
    "lb": ("lbs", "lb"),
    "bar": ("bar",),
    "psi": ("psi",),
    "N_per_mm": ("N/mm", "n/mm"),
    "lbf_per_in": ("lbf/in", "lbs/in", "lb/in"),
    "deg": ("deg", "degrees", "°"),
    "arcmin": ("min", "minutes", "'", "′"),
    "kmh": ("km/h", "kph", "kmh"),
    "mph": ("mph",),
    "celsius": ("°C", "C", "°"),
    "percent": ("%",),
    "number": (),
}
"""Unit → how people write it behind a number, the shortest word first."""


@dataclass(frozen=True)
class Readings:
    """All readings of one car: its name, field → text as typed, choice → option, and whether they are invented."""

    name: str
    typed: dict[str, str] = field(default_factory=dict)
    chosen: dict[str, str] = field(default_factory=dict)
    invented: bool = False

    def choice(self, key: str) -> str:
        """Return what is chosen; where nothing was, what readings or start car imply, or the first option.

        Parameters:
            key: the choice's key [-]

        Returns:
            one of its options [-]
        """
        if key in self.chosen:
            return self.chosen[key]
        if key in KIND_AT and (kinds := _kinds(self.choice("start.from").removeprefix(EXAMPLE))):
            return str(getattr(kinds, KIND_AT[key]))
        if key == "heights.way":
            return SILL if {"heights.front_point", "heights.rear_point"} & self.typed.keys() else HUB
        if key == "toe.read" and any(k.endswith(("_ahead", "_behind")) for k in self.typed):
            return STRINGS
        return CHOICES[key].options[0] if CHOICES[key].options else EXAMPLE + examples.FIRST

    def with_typed(self, key: str, text: str) -> Readings:
        """Return the same readings with one box written anew; an empty one is taken out.

        Parameters:
            key: the field's key [-]
            text: what is typed [-]

        Returns:
            new ``Readings`` [-]
        """
        rest = {k: v for k, v in self.typed.items() if k != key}
        return replace(self._asked_anew(key), typed=rest | ({key: text} if text.strip() else {}))

    def with_choice(self, key: str, option: str) -> Readings:
        """Return the same readings with one choice made.

        Parameters:
            key: the choice's key [-]
            option: one of its options [-]

        Returns:
            new ``Readings`` [-]
        """
        before = self if key.endswith(ASKED) else self._asked_anew(key)
        return replace(before, chosen=before.chosen | {key: option})

    def _asked_anew(self, key: str) -> Readings:
        """The same readings, where what was settled in the step of a changed box counts no longer."""
        return replace(self, chosen={k: v for k, v in self.chosen.items() if k != key.partition(".")[0] + ASKED})

    def words(self, key: str) -> str:
        """Return a box of words on one line, empty where nothing is typed.

        Parameters:
            key: the field's key [-]

        Returns:
            its text [-]
        """
        return " ".join(self.typed.get(key, "").split())


@dataclass(frozen=True)
class Numbers:
    """What the boxes say: numbers in SI, how coarsely each was written, and what is wrong with the others."""

    good: dict[str, float]
    marks: dict[str, float]  # half of the last digit written, in SI [any]
    bad: dict[str, list[Problem]]  # step → faults


@functools.cache
def _kinds(example: str) -> Kinds | None:
    """Return what kind of car an example is."""
    return examples.load_example(example).known.kinds if example in examples.example_names() else None


def asked(readings: Readings, box: Field | Choice) -> bool:
    """Return whether a box or choice is asked for with the choices made.

    Parameters:
        readings: the readings [-]
        box: the field or choice [-]

    Returns:
        True or False [-]
    """
    key, option = box.when
    return not key or readings.choice(key) in ((option,) if isinstance(option, str) else option)


def unit_name(readings: Readings, box: Field) -> str:
    """Return the name of the unit in which a field is read where none is written behind the number.

    Parameters:
        readings: the readings, for the units chosen [-]
        box: the field, not one of words [-]

    Returns:
        a unit's name [-]
    """
    if box.holds == "toe":
        return TOE_UNITS.get(readings.choice("toe.read"), "deg")
    return readings.choice(f"start.{box.holds}") if box.holds in CHOSEN else WAYS[box.holds][0]


def label_of(readings: Readings, box: Field) -> str:
    """Return a field's label: letter in the drawing, name and unit.

    Parameters:
        readings: the readings, for the units chosen [-]
        box: the field [-]

    Returns:
        such as "A wheelbase [mm]" [-]
    """
    unit = UNITS[unit_name(readings, box)].label if WAYS[box.holds] else ""
    if box.holds == "toe":
        way = "toe-in/out" if readings.choice("start.length") == "in" else "in or out"
        unit = f"{unit.removesuffix(' of arc')} {way}"
    return f"{box.mark} {box.label}{f' [{unit}]' if unit else ''}".strip()


def number_from(text: str) -> float | None:
    """Read a number as people type it: decimal point or comma, a true minus, or a fraction such as 5 3/8.

    Parameters:
        text: what is typed [-]

    Returns:
        the number, or None where it is none [any]
    """
    plain = text.strip().replace("\u2212", "-").replace("\u2013", "-")
    found = _NUMBER.fullmatch(plain)
    if found is None or len(plain) > 24:
        return None
    if found[4] is None:
        return float(plain.replace(",", "."))
    if int(found[4]) == 0:
        return None
    return float(f"{found[1]}1") * (int(found[2] or 0) + int(found[3]) / int(found[4]))


def with_unit(text: str, ways: tuple[str, ...], unit: str) -> tuple[float | None, str]:
    """Read a number and the unit written behind it: "450 lb/in", "25.5 in", "-1°30'".

    Parameters:
        text: what is typed [-]
        ways: units the box takes [-]
        unit: the one meant where none is written [-]

    Returns:
        the number, None where it is none, and the name of its unit [any]
    """
    plain = text.strip().replace("\u2212", "-").replace("\u2013", "-")
    if "arcmin" in ways and (found := _MINUTES.fullmatch(plain)):
        return float(f"{found[1]}1") * (int(found[2]) + float(found[3].replace(",", ".")) / 60), "deg"
    for name in ways:
        for ending in _UNIT_WORDS[name]:
            if plain.lower().endswith(ending.lower()) and (value := number_from(plain[: -len(ending)])) is not None:
                return value, name
    return number_from(plain), unit


def numbers(readings: Readings) -> Numbers:
    """Read every box of numbers that is asked for.

    Parameters:
        readings: the readings [-]

    Returns:
        a ``Numbers`` [any]
    """
    found = Numbers({}, {}, {})
    for key, box in FIELDS.items():
        text = readings.typed.get(key, "").strip()
        if not text or not asked(readings, box):
            continue
        label = f"{box.label} ({_title(box.step)})"
        if box.holds == "text":
            if len(text) > LONGEST:
                rule, remedy = f"must be at most {LONGEST} characters", "shorten it; the page has no room for more"
                found.bad.setdefault(box.step, []).append(Problem(label, f"{len(text)}", rule, remedy))
            continue
        value = _value(readings, box, text, found.good)
        if isinstance(value, Problem):
            found.bad.setdefault(box.step, []).append(replace(value, field=label))
        else:
            found.good[key], found.marks[key] = value
    for key in list(found.marks):  # who writes 2 beside 1.9 read both to the same mark
        same = [key.replace(name, other) for name in CORNERS if name in key for other in CORNERS]
        found.marks[key] = min([found.marks[key], *(found.marks[k] for k in same if k in found.marks)])
    return found


def _value(readings: Readings, box: Field, text: str, good: dict[str, float]) -> tuple[float, float] | Problem:
    """One box's number and half of its last digit in SI, or what is wrong with it."""
    own, usual = WAYS[box.holds][0], unit_name(readings, box)
    plain, way = turned(text) if box.holds == "toe" else (text, 0)
    number, name = with_unit(plain, WAYS[box.holds], usual)
    unit = UNITS[name]
    if number is None:
        behind = ", ".join(_UNIT_WORDS[one][0] for one in WAYS[box.holds] if _UNIT_WORDS[one])
        remedy = "write digits, such as 12.5 or 12,5; the unit is the one beside the box"
        remedy += f", or one behind the number: {behind}" if behind else ""
        return Problem("", f"{text[:_SMALL]!r}", "must be a number", remedy)
    digits = re.search(r"[.,](\d+)", plain)
    parts = re.search(r"/(\d+)", plain)
    mark = 0.5 / int(parts[1]) if parts else 0.5 * 10.0 ** -(len(digits[1]) if digits else 0)
    if box.holds == "toe":
        if wrong := in_or_inch(text, usual, readings.choice("start.length") == "in"):
            return wrong
        if number and not way and not re.match(r"[+\-\u2212\u2013]", text):
            size = text[:_SMALL] if number_from(text) is None else f"{text[:_SMALL]} {_UNIT_WORDS[usual][0]}"
            return Problem("", text[:_SMALL], "must say in or out", f"write {size} in, or {size} out")
        number *= way or 1
    value, mark = number * unit.to_si, mark * unit.to_si
    if box.holds == "toe" and name in ("mm", "in"):
        rim = good.get("toe.diameter", RIM)
        value, mark = float(np.arcsin(np.clip(value / rim, -1, 1))), mark / rim
    wrong = range_problem("", value, own, box.low, box.high)
    if wrong is None:
        return value, mark
    rule, remedy = wrong.rule, wrong.remedy
    label = unit.label if number_from(plain) is not None else ""
    if name != own:
        remedy = "read it again, or check the unit chosen in the first step"
        ends, places = [float(to_si(end, own)) for end in (box.low, box.high)], 4
        if box.holds == "toe" and name in ("mm", "in"):  # which count at the rim
            ends, places = [good.get("toe.diameter", RIM) * float(np.sin(end)) for end in ends], 3
        low, high = (
            _inward(float(from_si(end, name)), places, up) for end, up in zip(ends, (True, False), strict=True)
        )
        rule = f"must be {low} to {high} {unit.label}"
    got = (plain[:_SMALL].strip(), label, ("", "in", "out")[way])
    return Problem("", " ".join(filter(None, got)), rule, remedy)


def _inward(end: float, places: int, up: bool) -> str:
    """An end of a range in so many digits, rounded so that it is itself inside."""
    if not end:
        return "0"
    step = 10.0 ** (np.floor(np.log10(abs(end))) + 1 - places)
    size = np.ceil(end / step - 1e-9) if up else np.floor(end / step + 1e-9)
    return brief(float(size * step), places)


def turned(text: str) -> tuple[str, int]:
    """Take "in" or "out" off a toe reading.

    Parameters:
        text: what is typed [-]

    Returns:
        the rest, and +1 for in, −1 for out, 0 where neither is written [-]
    """
    found = _TURNED.fullmatch(text.strip())
    word = (found[1] or found[4] or "").lower()[:1] if found else ""
    if not found or not word:
        return text, 0
    return found[2], 1 if word == "i" else -1


def in_or_inch(text: str, unit: str, inch: bool) -> Problem | None:
    """Refuse a toe with "in" alone behind it where the reader measures in inches: it may mean either.

    Parameters:
        text: what is typed [-]
        unit: the unit of the box where none is written [-]
        inch: whether the reader measures in inches [-]

    Returns:
        what is wrong with it; None where it can mean but one thing [-]

    Example:
        >>> in_or_inch("0.06 in", "mm", True).remedy
        'write 0.06 mm in, or 0.06 inch in'
    """
    found = _TURNED.fullmatch(text.strip())
    word = found[4] if found and not found[3] else None
    if not inch or not found or (word or "").lower() != "in" or number_from(found[2]) is None:
        return None
    size = found[2].strip()[:_SMALL]
    remedy = f"write {size} {_UNIT_WORDS[unit][0]} in, or {size} inch in"
    return Problem("", text[:_SMALL], "may mean toe-in or inch", remedy)


def _title(step: str) -> str:
    return next(s.title for s in STEPS if s.key == step)
