"""Tape and ruler on body, springs and bars: ride heights at the axle lines, rates and motion ratios, with errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive, range_problem
from ..glossary import GLOSSARY
from ..lessons.rolling import bar_roll_stiffness
from ..units import G, Value, from_si
from .instruments import Found, Measured, Ruler, Scale, Tape, carry, fit, left_over, measured, uniform

_NEAR = 0.4
"""Two measuring points nearer than this part of the wheelbase make a question."""


@dataclass(frozen=True)
class RideHeights:
    """Ride heights at the two axle lines, and how the car stands against its reference; one standard deviation each."""

    front: Measured  # [m]
    rear: Measured  # [m]
    nose_high: Measured | None  # front rise less rear rise from the reference, at the axle lines [m]
    angle: Measured | None  # the same as an angle, nose-high positive [rad]
    questions: tuple[Problem, ...]


def ride_heights(
    front_reading: Value,
    rear_reading: Value,
    front_point: Value,
    rear_point: Value,
    wheelbase: Value,
    reference: tuple[Value | Measured, Value | Measured] | None = None,
    tape: Tape | None = None,
) -> RideHeights:
    """Take heights read at two points of the body to the axle lines: ``h(x) = h₁ + (h₂ − h₁)·(x − x₁)/(x₂ − x₁)``.

    Nose-high is ``L·(Δh₁ − Δh₂)/(x₂ − x₁)`` with Δh the readings less the reference heights of the same points.

    Parameters:
        front_reading: height at the front point above level ground, mean of left and right, any shape [m]
        rear_reading: height at the rear point, likewise, any shape [m]
        front_point: distance of the front point behind the front axle, negative ahead of it, any shape [m]
        rear_point: distance of the rear point behind the front axle, any shape [m]
        wheelbase: wheelbase, any shape [m]
        reference: heights that the same two points should have; None where they are not known [m]
        tape: the tape; None for class II [-]

    Returns:
        a ``RideHeights``; without a reference its last two are None [any]

    Errors:
        ``InputError`` where the points lie on each other or the heights at the axle lines are no car's.

    Validity: stiff body; the two points at one height on the body, else only nose-high and angle mean something;
    reference heights are exact unless given with an error.

    Source: own derivation, a straight line through two points.
    """
    tape = tape or Tape()
    need_positive(wheelbase=wheelbase, front_height_reading=front_reading, rear_height_reading=rear_reading)
    apart = (np.asarray(rear_point, dtype=float) - front_point) / wheelbase
    if np.any(apart < 0.1):
        got = f"{float(np.min(apart * wheelbase)):.4g} m"
        remedy = "give both distances behind the front axle in metres; are front and rear point swapped?"
        raise InputError(
            [Problem("distance between the measuring points", got, "must be a good part of the wheelbase", remedy)]
        )
    questions = []
    if np.any(apart < _NEAR):
        got = f"{float(np.min(apart)):.2f} wheelbases"
        remedy = "choose points nearer the axle lines; the error grows as they come together"
        questions.append(
            Problem("distance between the measuring points", got, f"should be at least {_NEAR} wheelbases", remedy)
        )

    def compute(one: Any, two: Any, x1: Any, x2: Any, base: Any, ref1: Any = None, ref2: Any = None) -> dict[str, Any]:
        slope = (two - one) / (x2 - x1)
        out = {"front": one - slope * x1, "rear": one + slope * (base - x1)}
        if ref1 is not None:
            tip = ((one - ref1) - (two - ref2)) / (x2 - x1)
            out |= {"nose_high": tip * base, "angle": np.arctan(tip)}
        return out

    names = ("one", "two", "x1", "x2", "base")
    given = (front_reading, rear_reading, front_point, rear_point, wheelbase)
    inputs = {name: measured(value, tape.sigma(value)) for name, value in zip(names, given, strict=True)}
    if reference is not None:
        inputs |= {"ref1": measured(reference[0]), "ref2": measured(reference[1])}
    found = carry(compute, inputs)
    span = GLOSSARY["height"]
    wrong = [
        range_problem(f"{end} ride height at the axle line", found[end].value, "mm", span.low, span.high)
        for end in ("front", "rear")
    ]
    if any(wrong):
        raise InputError(
            Problem(p.field, p.value, p.rule, f"read both heights and both distances again; {p.remedy}")
            for p in wrong
            if p
        )
    return RideHeights(found["front"], found["rear"], found.get("nose_high"), found.get("angle"), tuple(questions))


def reference_heights(
    reference: tuple[Value, Value], front_point: Value, rear_point: Value, wheelbase: Value
) -> tuple[Any, Any]:
    """Return the reference heights at the axle lines, as the car record holds them, from those of two body points.

    Parameters:
        reference: heights that the two points should have [m]
        front_point: distance of the front point behind the front axle [m]
        rear_point: distance of the rear point behind the front axle [m]
        wheelbase: wheelbase [m]

    Returns:
        front and rear reference height at the axle lines [m]

    Errors:
        ``InputError`` as for ``ride_heights``.
    """
    found = ride_heights(*reference, front_point, rear_point, wheelbase)
    return found.front.value, found.rear.value


def _slope(x: Any, y: Any, x_sigma: Any, y_sigma: Any, what: str) -> tuple[Measured, Any]:
    """Fit a straight line and carry the readings' errors to its slope; readings along the leading axis."""
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if x.ndim == 0 or x.shape != y.shape or len(x) < 2 or np.any(np.ptp(x, axis=0) == 0):
        remedy = "read both at two places at least, as far apart as the work allows"
        raise InputError([Problem(what, "", "needs two lists of the same length with different places", remedy)])
    inputs = {"x": Measured(x, x_sigma + 0 * x), "y": Measured(y, y_sigma + 0 * y)}
    found = carry(lambda x, y: {"slope": fit(x, y, 1)[1]}, inputs, {"x": 1, "y": 1})["slope"]
    return found, left_over(x, y, fit(x, y, 1))


def spring_rate(loads: Any, lengths: Any, scale: Scale | None = None, ruler: Ruler | None = None) -> Found:
    """Measure one spring's rate by pressing it on a scale: slope of force over shortening, ``k = −g·dm/dl``.

    Parameters:
        loads: what the scale shows, leading axis counts the readings [kg]
        lengths: length of the spring at each, same shape [m]
        scale: the scale; None for 0.5 kg divisions in service [-]
        ruler: the ruler; None for ±0.5 mm [-]

    Returns:
        rate with one standard deviation, and residuals in force [N/m]

    Errors:
        ``InputError`` for too few readings or a rate no car's spring has.

    Validity: a spring of even rate, pressed straight. Caution: pressed springs are dangerous; only in a proper press.
    """
    loads = np.asarray(loads, dtype=float)
    sigma = (scale or Scale()).sigma(loads)
    slope, over = _slope(
        -np.asarray(lengths, dtype=float), loads * G, (ruler or Ruler()).sigma(), sigma * G, "spring rate"
    )
    return _found(
        slope, over, "spring", "take the loads in kg and the lengths again; did the length shrink as the load grew?"
    )


def motion_ratio(wheel_travels: Any, spring_travels: Any, ruler: Ruler | None = None) -> Found:
    """Measure the motion ratio by moving the wheel with a jack: slope of spring travel over wheel travel.

    Parameters:
        wheel_travels: how far the wheel was raised, leading axis counts the readings [m]
        spring_travels: how much shorter the spring (or its strut) became at each, same shape [m]
        ruler: the ruler for both; None for ±0.5 mm [-]

    Returns:
        motion ratio with one standard deviation, and residuals of spring travel [-]

    Errors:
        ``InputError`` for too few readings or a ratio no car has.

    Validity: straight within the travel used. Caution: car on stands, nobody under it, spring out or kept seated.
    """
    sigma = (ruler or Ruler()).sigma()
    slope, over = _slope(wheel_travels, spring_travels, sigma, sigma, "motion ratio")
    found = _found(slope, over, "motion_ratio", "read wheel and spring travel again; were the two lists swapped?")
    if np.any(np.asarray(slope.value) > 1.02):
        got = f"{float(np.max(slope.value)):.3g}"
        ask = Problem("motion ratio", got, "is seldom above 1", "were wheel travel and spring travel swapped?")
        return Found(found.value, found.residuals, (ask,))
    return found


def _found(value: Measured, residuals: Any, key: str, remedy: str) -> Found:
    quantity = GLOSSARY[key]
    wrong = range_problem(quantity.name, value.value, quantity.unit, quantity.low, quantity.high)
    if wrong:
        raise InputError([Problem(wrong.field, wrong.value, wrong.rule, remedy)])
    return Found(value, residuals)


def bar_of(
    diameter: Value | Measured,
    length: Value | Measured,
    arm: Value | Measured,
    link_ratio: Value | Measured,
    track: Value,
    bore: Value | Measured = 0.0,
    shear_modulus: Value = 80e9,
    caliper: float = 0.1e-3,
) -> Measured:
    """Compute an anti-roll bar's roll stiffness from its sizes: ``K = π·(D⁴ − d⁴)·G/(32·l)·(r/arm)²·t²``.

    Parameters:
        diameter: outer diameter where it twists; a plain number gets the caliper's error [m]
        length: straight length between the arms; a plain number gets a class II tape's error [m]
        arm: lever arm, bar's axis to drop link, square to the bar; likewise [m]
        link_ratio: movement of the drop link's lower end for each movement of the wheel [-]
        track: track [m]
        bore: inner diameter of a tube, 0 for a solid bar; likewise caliper [m]
        shear_modulus: stiffness of the steel in shear [Pa]
        caliper: the most the caliper may be misread, paint included [m]

    Returns:
        roll stiffness at the axle with one standard deviation [N·m/rad]

    Errors:
        ``InputError`` for sizes that are no bar's.

    Validity: upper limit: rubber bushes, links and bending arms make a real bar softer, often by a fifth or more
    (common practice, no source), and that is not in the error.

    Source: as ``rolling.bar_roll_stiffness``, with twist for each metre of wheel movement = link ratio over arm.
    """
    tape = Tape()
    slim = uniform(caliper)
    inputs = {
        "diameter": measured(diameter, slim),
        "length": measured(length, tape.sigma),
        "arm": measured(arm, tape.sigma),
        "ratio": measured(link_ratio),
        "bore": measured(bore, lambda d: np.where(d > 0, slim, 0.0)),
    }
    need_positive(diameter=inputs["diameter"].value, arm=inputs["arm"].value, link_ratio=inputs["ratio"].value)
    if np.any(np.asarray(inputs["diameter"].value) > 0.08):
        got = f"{from_si(float(np.max(inputs['diameter'].value)), 'mm'):.4g} mm"
        raise InputError([Problem("bar diameter", got, "must be at most 80 mm", "measure again; is the unit right?")])

    def compute(diameter: Any, length: Any, arm: Any, ratio: Any, bore: Any) -> dict[str, Any]:
        return {"bar": bar_roll_stiffness(diameter, length, ratio / arm, track, bore, shear_modulus)}

    return carry(compute, inputs)["bar"]
