"""The only place where workshop units meet SI.

Every unit has a short name that is also the ending of a car-file key (``track_mm``) and the label the user sees.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

G = 9.81
"""Standard gravity used throughout [m/s²]; 9.81 as in the textbooks the check values come from."""

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Value = float | Array


@dataclass(frozen=True)
class Unit:
    """One unit: its label for people and the factor that takes it to SI."""

    label: str
    to_si: float
    si: str


_INCH, _POUND_FORCE = 25.4e-3, 0.45359237 * 9.80665  # exact by definition, the pound-force by standard gravity

UNITS: dict[str, Unit] = {
    "mm": Unit("mm", 1e-3, "m"),
    "cm": Unit("cm", 1e-2, "m"),
    "m": Unit("m", 1.0, "m"),
    "m2": Unit("m²", 1.0, "m²"),
    "m2_per_deg": Unit("m²/deg", 180 / pi, "m²/rad"),
    "deg": Unit("deg", pi / 180, "rad"),
    "arcmin": Unit("min of arc", pi / 180 / 60, "rad"),
    "celsius": Unit("°C", 1.0, "°C"),
    "deg_per_m": Unit("deg/m", pi / 180, "rad/m"),
    "deg_per_m2": Unit("deg/m²", pi / 180, "rad/m²"),
    "deg_per_kN": Unit("deg/kN", pi / 180 / 1e3, "rad/N"),
    "kg": Unit("kg", 1.0, "kg"),
    "kgm2": Unit("kg·m²", 1.0, "kg·m²"),
    "percent": Unit("%", 1e-2, "-"),
    "number": Unit("", 1.0, "-"),
    "per_rad": Unit("1/rad", 1.0, "1/rad"),
    "per_rad2": Unit("1/rad²", 1.0, "1/rad²"),
    "N": Unit("N", 1.0, "N"),
    "N_per_mm": Unit("N/mm", 1e3, "N/m"),
    "N_per_mm2": Unit("N/mm²", 1e6, "N/m²"),
    "kN_per_rad": Unit("kN/rad", 1e3, "N/rad"),
    "Nm_per_deg": Unit("Nm/deg", 180 / pi, "N·m/rad"),
    "bar": Unit("bar", 1e5, "Pa"),
    "percent_per_bar": Unit("%/bar", 1e-2 / 1e5, "1/Pa"),
    "kmh": Unit("km/h", 1 / 3.6, "m/s"),
    "mph": Unit("mph", 0.44704, "m/s"),
    "lb": Unit("lb", 0.45359237, "kg"),
    "g": Unit("g", G, "m/s²"),
    "deg_per_g": Unit("deg/g", pi / 180 / G, "rad/(m/s²)"),
    "s": Unit("s", 1.0, "s"),
    "deg_per_s": Unit("deg/s", pi / 180, "rad/s"),
    "rpm": Unit("rev/min", pi / 30, "rad/s"),
    "kW": Unit("kW", 1e3, "W"),
    "m_per_s": Unit("m/s", 1.0, "m/s"),
    "m_per_s2": Unit("m/s²", 1.0, "m/s²"),
    "ms": Unit("ms", 1e-3, "s"),
    "min": Unit("min", 60.0, "s"),
    "km": Unit("km", 1e3, "m"),
    "mi": Unit("mi", 1609.344, "m"),
    "ft": Unit("ft", 0.3048, "m"),
    "in": Unit("in", _INCH, "m"),
    "kn": Unit("kn", 1852 / 3600, "m/s"),
    "psi": Unit("psi", _POUND_FORCE / _INCH**2, "Pa"),
    "lbf_per_in": Unit("lb/in", _POUND_FORCE / _INCH, "N/m"),
}
"""Unit name → label, factor and SI unit."""


def to_si(value: Any, unit: str) -> Any:
    """Change a value in the named unit to SI: ``value · factor``.

    Parameters:
        value: number or array, any shape [any]
        unit: a name from ``UNITS`` [-]

    Returns:
        the same shape in SI [any]

    Errors:
        ``KeyError`` for an unknown unit name.

    Example:
        >>> round(to_si(110.0, "kmh"), 2)
        30.56
    """
    return value * UNITS[unit].to_si


def from_si(value: Any, unit: str) -> Any:
    """Change an SI value to the named unit: ``value / factor``.

    Parameters:
        value: number or array in SI, any shape [any]
        unit: a name from ``UNITS`` [-]

    Returns:
        the same shape in the named unit [any]

    Errors:
        ``KeyError`` for an unknown unit name.

    Example:
        >>> round(from_si(30.0, "kmh"), 1)
        108.0
    """
    return value / UNITS[unit].to_si


def brief(value: float, digits: int) -> str:
    """Write a number with so many significant digits, without the power of ten that a reader would have to work out.

    Parameters:
        value: the number [any]
        digits: significant digits [-]

    Returns:
        the text; a power of ten only below a millionth, or from 1e15 on [-]

    Example:
        >>> brief(99.6, 2), brief(12345.6, 4), brief(1.7e9, 6), brief(0.00002, 3), brief(2.50, 3)
        ('100', '12350', '1700000000', '0.00002', '2.5')
    """
    rounded = float(f"{value:.{digits}g}")
    if not 1e-6 <= abs(rounded) < 1e15:
        return f"{rounded:.{digits}g}"
    return np.format_float_positional(rounded, trim="-")


def number(value: float, decimals: int, sign: bool = False) -> str:
    """Write a number for people: fixed decimals, a true minus, no minus zero.

    Parameters:
        value: the number [any]
        decimals: digits after the point [-]
        sign: whether a plus is written too [-]

    Returns:
        the text; "no value" for NaN or infinity [-]

    Example:
        >>> number(-0.004, 2), number(-1.25, 1), number(3.0, 0, sign=True)
        ('0.00', '−1.2', '+3')
    """
    if not abs(value) < float("inf"):
        return "no value"
    rounded = round(float(value), decimals) + 0.0  # + 0.0 turns −0.0 into 0.0
    plus = "+" if sign and rounded > 0 else ""
    return plus + f"{rounded:.{decimals}f}".replace("-", "−")
