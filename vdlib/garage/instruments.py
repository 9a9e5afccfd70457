"""How far a tape, a scale and a ruler can be wrong, and how those errors go through a calculation.

A *limit* is the most an instrument may be wrong; every value within it is as likely, so one standard deviation is
``limit/√3``. Every ``Measured`` carries one standard deviation, never a limit. The leading axis of an array of readings
counts the readings; further axes are cases.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem
from ..units import UNITS, Array, Value, brief, from_si, number

TAPES: dict[str, tuple[float, float, float]] = {
    "I": (0.1e-3, 0.1e-3, 0.1e-3),
    "II": (0.3e-3, 0.2e-3, 0.2e-3),
    "III": (0.6e-3, 0.4e-3, 0.3e-3),
}
"""Tape class → a [m], b [m for each metre begun] and c, added where the tape's own end is one of the two marks [m]."""


@dataclass(frozen=True)
class Measured:
    """A number found by measuring, in SI, with its error as one standard deviation."""

    value: Any
    sigma: Any

    def words(self, unit: str, decimals: int) -> str:
        """Write one number with its error: "512 ± 10 mm"; the second number is one standard deviation.

        Parameters:
            unit: name of the user's unit [-]
            decimals: digits after the point [-]

        Returns:
            words [-]
        """
        value, sigma = (number(float(from_si(v, unit)), decimals) for v in (self.value, self.sigma))
        return f"{value} ± {sigma} {UNITS[unit].label}".rstrip()


@dataclass(frozen=True)
class Found:
    """One number found from several readings: its residuals, and questions worth asking."""

    value: Measured
    residuals: Array
    questions: tuple[Problem, ...] = ()


def measured(value: Any, sigma: Any = 0.0) -> Measured:
    """Take a plain number as measured with the given error; leave a ``Measured`` as it is.

    Parameters:
        value: number, array or ``Measured`` [any]
        sigma: one standard deviation for a plain number, or what gives it from the number [any]

    Returns:
        a ``Measured`` [any]
    """
    if isinstance(value, Measured):
        return value
    plain = np.asarray(value, dtype=float)[()]
    return Measured(plain, sigma(plain) if callable(sigma) else sigma)


def uniform(limit: Value) -> Any:
    """Compute one standard deviation of an error that may lie anywhere within a limit: ``limit/√3``.

    Parameters:
        limit: the most it can be, either way, any shape [any]

    Returns:
        standard deviation [any]

    Validity: every size of error within the limit equally likely.

    Source: JCGM 100:2008 (Guide to the expression of uncertainty in measurement), 4.3.7 (from memory).
    """
    return np.asarray(limit)[()] / np.sqrt(3.0)


def tape_limit(length: Value, kind: str = "II", from_end: bool = False) -> Any:
    """Return the most a new tape may be wrong: ``a + b·L`` with L rounded up to whole metres, ``+ c`` from its own end.

    Parameters:
        length: length read, any shape [m]
        kind: "I", "II" or "III", printed on the tape in an oval [-]
        from_end: whether the tape's own end or hook is one of the two marks [-]

    Returns:
        limit, either way [m]

    Errors:
        ``InputError`` for another class.

    Validity: 20 °C, pulled straight; a bent hook is not counted.

    Source: Directive 2014/32/EU, Annex MI-008, chapter I, table 1.
    """
    if kind not in TAPES:
        raise InputError([Problem("tape class", repr(kind), "must be I, II or III", "read it in the oval on the tape")])
    a, b, c = TAPES[kind]
    return a + b * np.ceil(np.abs(length)) + (c if from_end else 0.0)


@dataclass(frozen=True)
class Tape:
    """A tape measure: its class, the most one misreads it by [m], and whether it is held by its own end."""

    kind: str = "II"
    reading: float = 0.5e-3
    from_end: bool = True

    def sigma(self, length: Value) -> Any:
        """Return one standard deviation of a length: both limits over √3, squared and added.

        Parameters:
            length: length read, any shape [m]

        Returns:
            standard deviation [m]
        """
        return np.hypot(uniform(tape_limit(length, self.kind, self.from_end)), uniform(self.reading))


@dataclass(frozen=True)
class Ruler:
    """A steel rule held against a string: the most one misreads it by [m]; ±0.5 mm, common practice, no source."""

    reading: float = 0.5e-3

    def sigma(self, length: Value = 0.0) -> Any:
        """Compute one standard deviation of a reading: ``limit/√3``.

        Parameters:
            length: length read; it does not matter, any shape [m]

        Returns:
            standard deviation [m]
        """
        return uniform(self.reading + 0.0 * np.asarray(length))


@dataclass(frozen=True)
class Scale:
    """One platform of a set of scales: its division [kg] and whether it has been in use since it was verified.

    For scales that nobody verifies, give as division what their maker states as accuracy.
    """

    division: float = 0.5
    in_service: bool = True

    def limit(self, load: Value) -> Any:
        """Return the most a class III scale may be wrong: ½, 1 or 1½ divisions, twice that in service.

        Parameters:
            load: mass on this platform, any shape [kg]

        Returns:
            limit, either way [kg]

        Errors:
            ``InputError`` above 10 000 divisions, where class III ends.

        Validity: up to 500, 2000 and 10 000 divisions.

        Source: OIML R 76-1:2006, table 6 and 3.5.2.
        """
        count = np.abs(np.asarray(load, dtype=float)) / self.division
        if np.any(count > 10_000):
            got = f"{brief(float(np.max(count)), 6)} divisions"
            remedy = f"is {self.division:g} kg really one division of this scale?"
            raise InputError([Problem("load on the scale", got, "must be at most 10000 divisions", remedy)])
        steps = np.where(count <= 500, 0.5, np.where(count <= 2000, 1.0, 1.5))
        return (steps * self.division * (2.0 if self.in_service else 1.0))[()]

    def sigma(self, load: Value) -> Any:
        """Compute one standard deviation of one platform's reading: ``limit/√3``.

        Parameters:
            load: mass on this platform, any shape [kg]

        Returns:
            standard deviation [kg]
        """
        return uniform(self.limit(load))


def carry(
    compute: Callable[..., Mapping[str, Any]],
    inputs: Mapping[str, Measured],
    separate: Mapping[str, int] | None = None,
) -> dict[str, Measured]:
    """Carry the inputs' errors through a calculation: ``σ² = Σ_i [(f(x_i + σ_i) − f(x_i − σ_i))/2]²``.

    Parameters:
        compute: takes the inputs' values by name, gives named results [-]
        inputs: name → value and standard deviation, any shapes that broadcast [any]
        separate: name → how many leading axes hold readings that err independently of each other [-]

    Returns:
        name of each result → ``Measured`` [any]

    Validity: errors independent and small enough that the calculation is straight across them.

    Source: JCGM 100:2008, 5.1.2 and 5.1.3 note 2 (from memory).
    """
    values = {name: given.value for name, given in inputs.items()}
    base = compute(**values)
    variance: dict[str, Any] = {name: 0.0 for name in base}
    for name, given in inputs.items():
        if not np.any(given.sigma):
            continue
        value = np.asarray(given.value, dtype=float)
        step = np.broadcast_to(given.sigma, np.broadcast_shapes(value.shape, np.shape(given.sigma)))
        for place in np.ndindex(step.shape[: (separate or {}).get(name, 0)]):
            one = np.zeros(step.shape)
            one[place] = step[place]
            up, down = compute(**(values | {name: value + one})), compute(**(values | {name: value - one}))
            for result in base:
                variance[result] = variance[result] + ((up[result] - down[result]) / 2) ** 2
    return {name: Measured(base[name], np.sqrt(variance[name])) for name in base}


def lead(values: Any, axes: int, cases: int) -> Array:
    """Make room for axes of cases behind the leading axes, so that readings and cases broadcast.

    Parameters:
        values: readings, shape (leading axes, …) [any]
        axes: how many leading axes count readings [-]
        cases: how many axes of cases the result is to have [-]

    Returns:
        the same values with axes of length one put in [any]
    """
    array = np.asarray(values, dtype=float)
    spare = cases - (array.ndim - axes)
    return array.reshape(array.shape[:axes] + (1,) * spare + array.shape[axes:])


def fit(x: Any, y: Any, degree: int) -> Array:
    """Fit a polynomial to readings by least squares: ``y = c₀ + c₁·x + …``.

    Parameters:
        x: where the readings were taken, leading axis counts them (n, …) [any]
        y: the readings (n, …) [any]
        degree: highest power, below n [-]

    Returns:
        coefficients (degree + 1, …), lowest power first [any]

    Validity: at least degree + 1 different places.
    """
    cases = max(np.ndim(x), np.ndim(y)) - 1
    x, y = np.broadcast_arrays(lead(x, 1, cases), lead(y, 1, cases))
    size = np.abs(x).max(axis=0)
    rows = np.moveaxis(np.stack([(x / size) ** k for k in range(degree + 1)], axis=-1), 0, -2)
    found = np.linalg.pinv(rows) @ np.moveaxis(y, 0, -1)[..., None]
    return np.stack([found[..., k, 0] / size**k for k in range(degree + 1)])


def left_over(x: Any, y: Any, coefficients: Array) -> Array:
    """Compute the residuals of a fit at each reading: ``y − Σ c_k·x^k``.

    Parameters:
        x: where the readings were taken (n, …) [any]
        y: the readings (n, …) [any]
        coefficients: what ``fit`` gave [any]

    Returns:
        residuals (n, …) [any]
    """
    return np.asarray(y - sum(c * np.asarray(x) ** k for k, c in enumerate(coefficients)))
