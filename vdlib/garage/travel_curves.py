"""Travel curves of toe and camber, from readings at two or more ride heights with jack, stands and string.

Raise or lower the body with its own height adjusters, or with weight and blocks, wheels on the ground on slip plates
(two greased sheets will do), settle it and read again. Caution: axle stands at all times, nobody under a car on a jack.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem, range_problem
from ..glossary import GLOSSARY
from ..units import Array, Value, from_si, to_si
from .instruments import Measured, Tape, carry, fit, lead, left_over

UNKNOWN_BEND: dict[str, float] = {
    "toe": to_si(60.0, "deg_per_m2"),
    "camber": to_si(60.0, "deg_per_m2"),
}
"""How bent a curve may be where only two heights were read: a limit either way; common practice, no source [rad/m²]."""
_APART = 0.005
"""Heights nearer together than this count as one place when a bend is looked for; common practice, no source [m]."""
_LEAST = 0.015
"""Heights nearer together than this say little about a slope; common practice, no source [m]."""


@dataclass(frozen=True)
class TravelCurve:
    """A curve counted from the reference height, bump positive; errors are one standard deviation.

    ``bend`` is None where it was not fitted; the slope's error then allows for a bend of unknown size.
    """

    at_reference: Measured  # [rad]
    slope: Measured  # [rad/m]
    bend: Measured | None  # [rad/m²]
    residuals: Array  # (readings, …) [rad]
    questions: tuple[Problem, ...]


def toe_curve(heights: Any, toes: Any, reference: Value, sigma: Value, tape: Tape | None = None) -> TravelCurve:
    """Find toe change with bump: ``τ(x) = τ₀ + τ₁·x + τ₂·x²``, ``x = h₀ − h``; τ₂ from three heights up.

    Parameters:
        heights: ride heights at this axle line, leading axis counts them [m]
        toes: toe of one wheel (or half the axle's total) at each, same leading axis [rad]
        reference: reference ride height, from which the curve counts [m]
        sigma: one standard deviation of each toe reading [rad]
        tape: the tape for the heights; None for class II [-]

    Returns:
        a ``TravelCurve``: slope goes into ``toe_slope``, bend into ``toe_bend`` [any]

    Errors:
        ``InputError`` for too few or equal heights, and for a curve no car has.

    Validity: steering held straight; both wheels moved together.

    Source: least squares on the curve that ``suspension.toe_change`` draws.
    """
    return _curve("toe", heights, toes, reference, sigma, tape)


def camber_curve(heights: Any, cambers: Any, reference: Value, sigma: Value, tape: Tape | None = None) -> TravelCurve:
    """Find camber change with bump: ``γ(x) = γ₀ + γ₁·x (+ γ₂·x²)``, ``x = h₀ − h``.

    Parameters:
        heights: ride heights at this axle line, leading axis counts them [m]
        cambers: camber at each, same leading axis [rad]
        reference: reference ride height [m]
        sigma: one standard deviation of each camber reading [rad]
        tape: the tape for the heights; None for class II [-]

    Returns:
        a ``TravelCurve``: slope goes into ``camber_slope``; the car record keeps no bend of camber [any]

    Errors:
        ``InputError`` as for ``toe_curve``.

    Validity: both wheels moved together, so a live axle shows none; in roll its wheels stay upright all the same.
    """
    return _curve("camber", heights, cambers, reference, sigma, tape)


def _curve(what: str, heights: Any, angles: Any, reference: Value, sigma: Value, tape: Tape | None) -> TravelCurve:
    heights, angles = np.asarray(heights, dtype=float), np.asarray(angles, dtype=float)
    if heights.ndim == 0 or angles.ndim == 0 or len(heights) != len(angles) or len(heights) < 2:
        remedy = "read height and angle together, at two heights at least and better at three"
        raise InputError([Problem(f"{what} curve", "", "needs two lists of the same length", remedy)])
    cases = max(heights.ndim - 1, angles.ndim - 1, np.ndim(reference))
    heights, angles = lead(heights, 1, cases), lead(angles, 1, cases)
    span = np.ptp(heights, axis=0)
    if np.any(span < 1e-3):
        remedy = "read again with the body at least 15 mm higher or lower"
        raise InputError(
            [Problem("ride heights of the readings", f"{1e3 * np.min(span):.2g} mm apart", "must differ", remedy)]
        )
    places = 1 + np.min((np.diff(np.sort(heights, axis=0), axis=0) > _APART).sum(axis=0))
    degree = 2 if places > 2 else 1
    inputs = {
        "x": Measured(reference - heights, (tape or Tape()).sigma(heights)),
        "y": Measured(angles, np.broadcast_to(sigma, angles.shape)),
    }
    x = inputs["x"].value

    def compute(x: Any, y: Any) -> dict[str, Any]:
        return {f"c{k}": c for k, c in enumerate(fit(x, y, degree))}

    found = carry(compute, inputs, {"x": 1, "y": 1})
    over = left_over(x, angles, fit(x, angles, degree))
    start, slope, bend = found["c0"], found["c1"], found.get("c2")
    if bend is None:  # a bend τ₂ left out adds τ₂·(x₁ + x₂) to the slope and −τ₂·x₁·x₂ to the value at the reference
        wide = UNKNOWN_BEND[what] / np.sqrt(3.0)
        square = fit(x, x**2, 1)
        slope = Measured(slope.value, np.hypot(slope.sigma, wide * square[1]))
        start = Measured(start.value, np.hypot(start.sigma, wide * square[0]))
    _check_curve(what, slope, bend)
    questions = []
    if np.any(span < _LEAST):
        got = f"{from_si(float(np.min(span)), 'mm'):.0f} mm apart"
        questions.append(
            Problem(
                "ride heights of the readings",
                got,
                "should be 15 mm apart or more",
                "move the body further and read again",
            )
        )
    if len(angles) > degree + 1 and np.max(np.abs(over)) > 3 * np.max(sigma):
        i = int(np.argmax(np.abs(over).reshape(len(over), -1).max(axis=1)))
        got = f"{from_si(float(np.max(np.abs(over))), 'deg'):.2f}° off the curve"
        ask = f"read {what} at {from_si(float(np.ravel(heights[i])[0]), 'mm'):.0f} mm again"
        questions.append(
            Problem(
                f"{what} reading {i + 1}", got, f"should be within {from_si(3 * float(np.max(sigma)), 'deg'):.2f}°", ask
            )
        )
    return TravelCurve(start, slope, bend, over, tuple(questions))


def _check_curve(what: str, slope: Measured, bend: Measured | None) -> None:
    wrong = []
    for key, value in ((f"{what}_slope", slope), (f"{what}_bend", bend)):
        if value is not None and key in GLOSSARY:
            q = GLOSSARY[key]
            wrong.append(range_problem(q.name, value.value, q.unit, q.low, q.high))
    if any(wrong):
        remedy = f"read {what} and ride height again at each step, in degrees and mm; was a sign mixed up?"
        raise InputError(Problem(p.field, p.value, p.rule, remedy) for p in wrong if p)
