"""Checks of what a person typed, and the one error that says what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from .units import UNITS, Value, brief, from_si


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: which field, what it holds, what it may hold and what to do."""

    field: str
    value: str
    rule: str
    remedy: str

    def __str__(self) -> str:
        got = f", got {self.value}" if self.value else ""
        return f"{self.field} {self.rule}{got}: {self.remedy}"


class InputError(ValueError):
    """Everything that is wrong with one piece of input, each fault with its remedy."""

    def __init__(self, problems: Iterable[Problem], where: str = "") -> None:
        self.problems = tuple(problems)
        self.where = where
        head = f"{where}: " if where else ""
        super().__init__("\n".join(head + str(p) for p in self.problems))


def range_problem(field: str, value: Any, unit: str, low: float, high: float) -> Problem | None:
    """Return what is wrong with an SI value that must be finite and between two limits.

    Parameters:
        field: the name the user knows it by [-]
        value: number or array in SI, any shape [any]
        unit: name of the user's unit [-]
        low: smallest allowed, in the user's unit [any]
        high: largest allowed, in the user's unit [any]

    Returns:
        a ``Problem``, or None when every element is allowed [-]
    """
    slack = 1e-9 * max(abs(low), abs(high), 1e-9)
    if isinstance(value, float) and low - slack <= from_si(value, unit) <= high + slack:
        return None  # by far the most frequent case, told without an array
    label = UNITS[unit].label
    span = f"must be {low:g} to {high:g} {label}".rstrip()
    if isinstance(value, bool) or not isinstance(value, int | float | np.ndarray | np.generic):
        return Problem(field, repr(value), span, "give one number")
    try:
        shown = np.asarray(from_si(np.asarray(value, dtype=float), unit))
    except (TypeError, ValueError, OverflowError):
        return Problem(field, repr(value), span, "give one number")
    good = (shown >= low - slack) & (shown <= high + slack)  # NaN and infinity fail this too
    if good.all():
        return None
    bad = float(shown[~good].flat[0])
    got = f"{brief(bad, 6)} {label}".rstrip()
    if not np.isfinite(bad):
        return Problem(field, got, span, "measure it again, or leave the line out if it may be left out")
    return Problem(field, got, span, _remedy(bad, unit, low, high))


def need_positive(**named: Value) -> None:
    """Refuse numbers that must be finite and above zero: ``0 < x < ∞``.

    Parameters:
        named: the numbers under the names the reader knows them by, any shape [any]

    Returns:
        nothing [-]

    Errors:
        ``InputError`` naming each number that is not finite and above zero.
    """
    bad = [(k.replace("_", " "), np.asarray(v)) for k, v in named.items()]
    bad = [(k, v) for k, v in bad if not np.all(np.isfinite(v) & (v > 0))]
    if bad:
        raise InputError(
            Problem(
                k,
                brief(float(v[~(np.isfinite(v) & (v > 0))].flat[0]), 6),
                "must be finite and above zero",
                "measure it again",
            )
            for k, v in bad
        )


def _remedy(bad: float, unit: str, low: float, high: float) -> str:
    """Guess at the slip of the pen behind a value out of range."""
    slips = {
        "mm": (
            (1e3, "was it typed in metres?"),
            (25.4, "was it typed in inches?"),
            (1e-3, "are there three zeros too many?"),
        ),
        "m": ((1e-3, "was it typed in millimetres?"),),
        "kg": ((0.45359237, "was it typed in pounds?"), (1e3, "was it typed in tonnes?")),
        "percent": ((100.0, "was it typed as a fraction of one?"),),
        "bar": ((0.0689476, "was it typed in psi?"), (0.01, "was it typed in kPa?")),
        "N_per_mm": ((1e-3, "was it typed in N/m?"),),
        "deg": ((1 / 60, "was it typed in minutes of arc?"),),
    }
    for factor, words in slips.get(unit, ()):
        if low <= bad * factor <= high:
            return words
    if bad == 0 and low > 0:
        return "it cannot be zero"
    if -high <= bad <= -low and low >= 0:
        return "it cannot be negative; is the sign mistyped?"
    return "measure it again or check the unit"
