"""The units the reader sees, chosen once for everything: km/h or mph, kg or lb, bar or psi, mm or inch.

SI stays inside and the car file keeps its own units; words, sliders and pages ask here how to write a size.
"""

from __future__ import annotations

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
_DIGITS = {"mph": 0, "lb": 0, "psi": -1, "in": 2}
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
    kind = next((kind for kind, pair in PAIRS.items() if unit == pair[0]), None)
    return getattr(chosen(), kind) if kind else unit


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


def turned(text: str, unit: str) -> str:
    """Write a number that stands in a unit's own label in the one the reader sees; for the readout of a slider.

    Parameters:
        text: the number as written, in ``unit`` [-]
        unit: the name of that unit [-]

    Returns:
        the number in the chosen unit with its label [-]
    """
    decimals = len(text.partition(".")[2])
    return says(float(to_si(float(text), unit)), unit, decimals)


def named(label: str) -> str:
    """Return the name of the unit with a choice that has this label.

    Parameters:
        label: such as "km/h" [-]

    Returns:
        its name in ``units``; empty where it is none of those with a choice [-]
    """
    return next((pair[0] for pair in PAIRS.values() if UNITS[pair[0]].label == label), "")
