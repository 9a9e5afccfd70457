"""The units the reader sees, chosen once for everything: km/h or mph, kg or lb, bar or psi, mm or inch.

SI stays inside and the car file keeps its own units; words, sliders and pages ask here how to write a size. Where a
number is at hand, ``says`` writes it. Finished sentences, which the core writes in the usual units, are written anew by
``retold`` where they reach the screen or the paper, so that no sentence is left over.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from typing import Any

from .checks import InputError, Problem
from .units import UNITS, from_si, number, to_si

PAIRS: dict[str, tuple[str, str]] = {
    "speed": ("kmh", "mph"),
    "mass": ("kg", "lb"),
    "pressure": ("bar", "psi"),
    "length": ("mm", "in"),
}
"""Kind of size → the unit that everything is written for, and the other one that may stand in its place."""
FOLLOWS: dict[str, tuple[str, str]] = {"N_per_mm": ("length", "lbf_per_in")}
"""Unit that goes with the choice of a kind → that kind, and the unit beside that kind's other one."""
_DIGITS = {"mph": 0, "lb": 0, "psi": -1, "in": 2, "lbf_per_in": 0}
"""Digits after the point that the other unit has more, so that it says about as much."""


@dataclass(frozen=True)
class Choice:
    """One unit for each kind of size, by its name in ``units``."""

    speed: str = "kmh"
    mass: str = "kg"
    pressure: str = "bar"
    length: str = "mm"

    def __post_init__(self) -> None:
        """Refuse a unit that is not one of the two."""
        for field in fields(self):
            unit, pair = getattr(self, field.name), PAIRS[field.name]
            if unit not in pair:
                rule = f"must be {' or '.join(pair)}"
                raise InputError([Problem(f"unit of {field.name}", repr(unit)[:40], rule, "choose one of the two")])


_now = [Choice()]


def use(choice: Choice) -> None:
    """Write everything in these units from now on.

    Parameters:
        choice: the units [-]
    """
    _now[0] = choice


def chosen() -> Choice:
    """Return the units in use.

    Returns:
        a ``Choice`` [-]
    """
    return _now[0]


def unit_for(unit: str) -> str:
    """Return the unit that the reader sees in place of one.

    Parameters:
        unit: a name from ``units.UNITS`` [-]

    Returns:
        the name of the unit chosen for its kind; the same where there is no choice [-]

    Example:
        >>> unit_for("kmh"), unit_for("deg")
        ('kmh', 'deg')
    """
    if unit in FOLLOWS:
        kind, other = FOLLOWS[unit]
        return unit if getattr(chosen(), kind) == PAIRS[kind][0] else other
    found = next((kind for kind, pair in PAIRS.items() if unit == pair[0]), None)
    return getattr(chosen(), found) if found else unit


def label_for(unit: str) -> str:
    """Return the label of the unit that the reader sees in place of one.

    Parameters:
        unit: a name from ``units.UNITS`` [-]

    Returns:
        such as "km/h" or "mph" [-]
    """
    return UNITS[unit_for(unit)].label


def seen(value: Any, unit: str) -> Any:
    """Return an SI value in the unit that the reader sees.

    Parameters:
        value: number or array in SI, any shape [any]
        unit: the name of the unit it would be written in without a choice [-]

    Returns:
        the same shape in the chosen unit [any]
    """
    return from_si(value, unit_for(unit))


def says(value: float, unit: str, decimals: int, sign: bool = False) -> str:
    """Write an SI value with its unit, as the reader wants to see it.

    Parameters:
        value: one number in SI [any]
        unit: the name of the unit it would be written in without a choice [-]
        decimals: digits after the point in that unit; the other one has as many as say about the same [-]
        sign: whether a plus is written too [-]

    Returns:
        the number and its unit [-]

    Example:
        >>> says(30.0, "kmh", 0), says(-0.018, "mm", 0, sign=True)
        ('108 km/h', '−18 mm')
    """
    shown = number(float(seen(value, unit)), digits_for(unit, decimals), sign)
    return f"{shown} {label_for(unit)}".rstrip()


def digits_for(unit: str, decimals: int) -> int:
    """Return how many digits after the point the unit that the reader sees needs, to say about as much.

    Parameters:
        unit: the name of the unit it would be written in without a choice [-]
        decimals: digits after the point in that unit [-]

    Returns:
        digits after the point [-]
    """
    other = unit_for(unit)
    return decimals if other == unit else max(0, decimals + _DIGITS[other])


def a_or_an(value: float) -> str:
    """Write a whole number with the article that is spoken before it.

    Parameters:
        value: a number not below zero [any]

    Returns:
        such as "a 60" or "an 80" [-]

    Example:
        >>> a_or_an(60.0), a_or_an(80.0), a_or_an(18.0), a_or_an(110.0)
        ('a 60', 'an 80', 'an 18', 'a 110')
    """
    text = f"{value:.0f}"
    return f"{'an' if text[0] == '8' or text in ('11', '18') else 'a'} {text}"


def named(label: str) -> str:
    """Return the name of the unit with a choice that has this label.

    Parameters:
        label: such as "km/h" [-]

    Returns:
        its name in ``units``; empty where it is none of those with a choice [-]
    """
    return _NAMES.get(label, "")


_NAMES = {UNITS[name].label: name for name in (*(pair[0] for pair in PAIRS.values()), *FOLLOWS)}
_NUMBER = r"[+−±-]?\d+(?:,\d{3})*(?:\.\d+)?"
_END = r"(?:(?:front|nose|rear|tail)(?: left| right)?|left|right)"
_BETWEEN = rf"(?: ?[–-] ?| ?± ?| to | and | or |,? (?:and )?{_END} (?:up |down )?|(?: before)?, )"
_UNITS = "|".join(sorted((*_NAMES, "cm"), key=len, reverse=True))
_COUNTED = re.compile(r"(corners?|laps?|steps?|session|workbook) $")
"""Words behind which a whole number is no size: "corner 2 and 110 km/h"."""
_SIZE = re.compile(rf"(?<![\w.,])(?<!\d : )({_NUMBER}(?:{_BETWEEN}{_NUMBER})*)(\s|&nbsp;|-)?({_UNITS})(?![\w/·²³])")
"""Numbers with a unit behind the last: "42 mm", "440 to 510 mm", "2380 ± 1 mm", "front up 18, tail down 24 mm".
The 1 of "15 : 1" is none."""
_HEAD = re.compile(rf"\[({_UNITS})\]")
_TAGS = re.compile(r"(<style.*?</style>|<[^>]*>)", re.DOTALL)


def retold(text: str) -> str:
    """Write a finished text or HTML in the units that the reader sees; what is there already is left as it is.

    Each number is turned as it was rounded, which is good to its last digit. Only sizes are: number, then unit. Texts
    that a person typed do not belong here.

    Parameters:
        text: a sentence or HTML, written in the usual units [-]

    Returns:
        the same with other numbers and units [-]

    Example:
        >>> retold("5 to 10 mm lower at 110 km/h")
        '5 to 10 mm lower at 110 km/h'
    """
    if chosen() == Choice() or not text:
        return text
    parts = _TAGS.split(text)
    parts[::2] = [_SIZE.sub(_turned, part) for part in parts[::2]]
    return "".join(parts)


def _turned(found: re.Match[str]) -> str:
    """One match of ``_SIZE`` in the units chosen."""
    numbers, gap, label = found.groups()
    name = named(label) or "mm"
    if unit_for(name) == name:
        return found[0]
    tenfold = 10.0 if label == "cm" else 1.0
    counts = ""
    if _COUNTED.search(found.string[: found.start()]) and re.search(" (and|or) |, ", numbers):
        counts, numbers = re.findall(r"(.*(?: and | or |, ))(.*)", numbers)[0]

    def one(number_found: re.Match[str]) -> str:
        return turned(number_found[0], name, tenfold)

    return f"{counts}{re.sub(_NUMBER, one, numbers)}{gap or ' '}{label_for(name)}"


def turned(text: str, unit: str, times: float = 1.0) -> str:
    """Turn one number, as it stands in words, into the unit that the reader sees.

    Parameters:
        text: the number as written, in ``unit`` [-]
        unit: the name of that unit [-]
        times: how many of that unit it counts in [-]

    Returns:
        the number in the chosen unit, without its label [-]
    """
    sign = text[0] if text[0] in "+±" else ""
    plain = float(text.removeprefix(sign).replace("−", "-").replace(",", "")) * times
    decimals = digits_for(unit, len(text.partition(".")[2]) - (times > 1))
    written = number(float(seen(to_si(plain, unit), unit)), decimals)
    return ("" if sign == "+" and not plain else sign) + written


def head(text: str) -> str:
    """Write the unit in the brackets of a heading or an axis as the reader sees it; its numbers must be turned too.

    Parameters:
        text: such as "wheel load [kg]" [-]

    Returns:
        the same with the label of the unit chosen [-]
    """
    return _HEAD.sub(lambda found: f"[{label_for(named(found[1]) or 'mm')}]", text)


def head_unit(text: str) -> str:
    """Return the unit in the brackets at the end of a heading, where the reader sees another in its place.

    Parameters:
        text: such as "wheel load [kg]" [-]

    Returns:
        the unit's name in ``units``; empty where there is none, or no other [-]
    """
    found = _HEAD.search(text)
    name = named(found[1]) if found is not None else ""
    return name if name and unit_for(name) != name else ""


def per(unit: str) -> float:
    """Return how many of the unit that the reader sees make one of another.

    Parameters:
        unit: the name of the unit it would be written in without a choice [-]

    Returns:
        the factor [-]
    """
    return float(seen(to_si(1.0, unit), unit))
