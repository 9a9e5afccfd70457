"""Strings, ruler and plumb line on the wheels: toe, thrust angle and camber, with their errors.

How: a string along each side at wheel-centre height, past both wheels; steering straight and held; the car settled. At
each wheel a ruler reads string to rim at the rim's front and rear edge. Roll the car half a wheel turn and read again:
the mean is free of a bent rim. Arrays lead with [axle front/rear] and [side left/right].
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive, range_problem
from ..glossary import GLOSSARY
from ..units import Array, Value, from_si
from .instruments import Measured, Ruler, Tape, carry, lead, measured

WHEELS = (("front left", "front right"), ("rear left", "rear right"))
"""Names of the wheels in the order of the leading axes."""


def rim_angle(difference: Value, diameter: Value) -> Any:
    """Compute the angle of a wheel from a difference of readings across it: ``asin(d/D)``.

    Parameters:
        difference: front reading less rear one, or toe in millimetres at the rim, any shape [m]
        diameter: distance between the two places read, any shape [m]

    Returns:
        angle [rad]

    Errors:
        ``InputError`` if the diameter is not above the difference.

    Source: geometry; half the diameter is 30 degrees.

    Example:
        >>> round(float(from_si(rim_angle(0.2, 0.4), "deg")), 6)
        30.0
    """
    need_positive(diameter=diameter)
    ratio = np.asarray(difference, dtype=float) / diameter
    if not np.all(np.abs(ratio) < 1):
        got = f"{from_si(float(np.max(np.abs(difference))), 'mm'):.4g} mm"
        raise InputError(
            [Problem("difference across the rim", got, "must be below the measuring diameter", "read it again")]
        )
    return np.arcsin(ratio)


def rim_difference(angle: Value, diameter: Value) -> Any:
    """Compute the millimetres across a rim that an angle makes: ``D·sin τ``.

    Parameters:
        angle: toe of one wheel, or of both together, any shape [rad]
        diameter: distance between the two places read, any shape [m]

    Returns:
        difference across the rim [m]

    Example:
        >>> round(float(rim_difference(rim_angle(0.003, 0.43), 0.43)), 6)
        0.003
    """
    return np.multiply(diameter, np.sin(angle))


@dataclass(frozen=True)
class Toe:
    """What two strings say: toe-in positive, errors one standard deviation."""

    wheel: Measured  # (2, 2, …) toe of each wheel against the car's centre line [rad]
    total: Measured  # (2, …) left and right of each axle together; half of it goes into the setup [rad]
    thrust: Measured  # direction in which the rear axle points, left positive [rad]
    steering: Measured  # the same for the front axle: not zero when the steering is not straight [rad]
    skew: Measured  # (2, …) how far each string spreads outward toward the front, left and right [rad]
    questions: tuple[Problem, ...]


def toe_from_strings(
    front_edge: Any,
    rear_edge: Any,
    diameter: Any,
    wheelbase: Value,
    widths: tuple[Value, Value] | None = None,
    spacing: tuple[Value, Value] | None = None,
    hubs: Any = None,
    ruler: Ruler | None = None,
    tape: Tape | None = None,
) -> Toe:
    """Find each wheel's toe between two strings that need not be parallel to the car or to each other.

    Toe is ``asin((d_front − d_rear)/D) − s``; a string's outward skew s is solved from hub distances c and widths T at
    both axles: ``s = asin((c_f − c_r)/√(L² + ΔT²/4)) + atan(ΔT/2L)``, ``ΔT = T_f − T_r``.

    Parameters:
        front_edge: string to rim at the rim's front edge, (2, 2, …) [m]
        rear_edge: string to rim at the rim's rear edge, (2, 2, …) [m]
        diameter: distance between the two places on a rim, one number or (2, 2, …) [m]
        wheelbase: wheelbase [m]
        widths: front and rear distance between the two rims' outer faces (or tracks, with like wheels all round) [m]
        spacing: in place of widths: string to string, across the car at the front and at the rear axle [m]
        hubs: string to hub, (2, 2, …); None takes the mean of the rim's two edges [m]
        ruler: the ruler; None for ±0.5 mm [-]
        tape: the tape for the long distances; None for class II [-]

    Returns:
        a ``Toe``; its questions name a wheel that looks misread [any]

    Errors:
        ``InputError`` where readings have the wrong shape, are not above zero, or give a toe no car has.

    Validity: centre line through the middles of the two axles; small skew; rims true or read twice half a turn apart.

    Source: own derivation, plane geometry with distances square to the strings.
    """
    ruler, tape = ruler or Ruler(), tape or Tape()
    front_edge, rear_edge = np.asarray(front_edge, dtype=float), np.asarray(rear_edge, dtype=float)
    centres = None if hubs is None else np.asarray(hubs, dtype=float)
    for name, value in (("front edge", front_edge), ("rear edge", rear_edge), ("hub", centres)):
        if value is not None and value.shape[:2] != (2, 2):
            remedy = "give [front [left, right], rear [left, right]]"
            raise InputError([Problem(f"{name} distances", f"shape {value.shape}", "must be four numbers", remedy)])
    _check_distances(front_edge, rear_edge)
    if (widths is None) == (spacing is None):
        rule = "must be given in exactly one way"
        remedy = "give rim to rim, or string to string, at front and rear"
        raise InputError([Problem("width at front and rear", "", rule, remedy)])
    across = np.stack(np.broadcast_arrays(*(widths or spacing or ()))).astype(float)
    need_positive(width=across, wheelbase=wheelbase, diameter=diameter)
    per_wheel = 2 if np.shape(diameter)[:2] == (2, 2) else 0
    cases = max(
        front_edge.ndim - 2, rear_edge.ndim - 2, across.ndim - 1, np.ndim(wheelbase), np.ndim(diameter) - per_wheel
    )
    front_edge, rear_edge, across = lead(front_edge, 2, cases), lead(rear_edge, 2, cases), lead(across, 1, cases)
    diameter = lead(diameter, per_wheel, cases)
    inputs = {
        "ahead": Measured(front_edge, ruler.sigma(front_edge)),
        "behind": Measured(rear_edge, ruler.sigma(rear_edge)),
        "across": Measured(across, tape.sigma(across)),
        "base": measured(wheelbase, tape.sigma(wheelbase)),
        "size": measured(diameter, ruler.sigma(diameter)),
    }
    if centres is not None:
        centres = lead(centres, 2, cases)
        inputs["hub"] = Measured(centres, ruler.sigma(centres))

    def compute(ahead: Any, behind: Any, across: Any, base: Any, size: Any, hub: Any = None) -> dict[str, Any]:
        hub = (ahead + behind) / 2 if hub is None else hub
        wide = across if spacing is None else across - hub.sum(axis=1)
        step = (wide[0] - wide[1]) / 2  # half the change of width, front less rear
        skew = np.arcsin((hub[0] - hub[1]) / np.hypot(base, step)) + np.arctan2(step, base)
        wheel = np.arcsin((ahead - behind) / size) - skew
        points = (wheel[:, 1] - wheel[:, 0]) / 2
        return {"wheel": wheel, "total": wheel.sum(axis=1), "thrust": points[1], "steering": points[0], "skew": skew}

    found = carry(compute, inputs, {"ahead": 2, "behind": 2, "across": 1, "hub": 2})
    return Toe(questions=tuple(_check_toe(found)), **found)


def _check_distances(front_edge: Array, rear_edge: Array) -> None:
    problems = []
    for i, j in np.ndindex(2, 2):
        for name, value in (("front", front_edge[i, j]), ("rear", rear_edge[i, j])):
            if not np.all((value > 0) & (value < 1.0)):
                got = f"{from_si(float(np.ravel(value)[0]), 'mm'):.4g} mm"
                remedy = "read it again in mm; the string must pass clear of the tyre"
                problems.append(
                    Problem(f"{WHEELS[i][j]}, string to rim at its {name} edge", got, "must be 0 to 1000 mm", remedy)
                )
    if problems:
        raise InputError(problems)


def _check_toe(found: dict[str, Measured]) -> Iterator[Problem]:
    """Refuse a toe no car has; ask about signs that do not match and about crooked steering."""
    wheel, sigma = np.asarray(found["wheel"].value), np.asarray(found["wheel"].sigma)
    span = GLOSSARY["toe"]
    wrong = []
    for i, j in np.ndindex(2, 2):
        bad = range_problem(f"toe of the {WHEELS[i][j]} wheel", wheel[i, j], "deg", span.low, span.high)
        if bad:
            wrong.append(
                Problem(bad.field, bad.value, bad.rule, f"read both rim edges of the {WHEELS[i][j]} wheel again")
            )
    if wrong:
        raise InputError(wrong)
    for i, axle in enumerate(("front", "rear")):
        left, right = (wheel[i, j].ravel() for j in (0, 1))
        clear = (left * right < 0) & (np.minimum(np.abs(left), np.abs(right)) > 2 * sigma[i].max())
        if clear.any():
            k = int(np.argmax(clear))
            said = [
                f"{side} toes {'in' if v[k] > 0 else 'out'} {abs(from_si(v[k], 'deg')):.2f}°"
                for side, v in (("left", left), ("right", right))
            ]
            why = "is the steering straight, or" if axle == "front" else "is the axle crooked, or"
            remedy = f"{why} was one wheel's sign or edge mixed up? read that axle again"
            yield Problem(f"{axle} toe", ", ".join(said), "should be in on both sides or out on both", remedy)


def camber_from_plumb(
    top: Value, bottom: Value, height: Value, floor: Value = 0.0, ruler: Ruler | None = None
) -> Measured:
    """Compute camber from a plumb line or upright level outside a wheel: ``−asin((d_top − d_bottom)/H) + f``.

    Parameters:
        top: plumb line to rim at its top edge, any shape [m]
        bottom: plumb line to rim at its bottom edge, any shape [m]
        height: distance between the two places, any shape [m]
        floor: slope of the floor under this wheel, rising toward the outside of the car positive, any shape [rad]
        ruler: the ruler; None for ±0.5 mm [-]

    Returns:
        camber against the floor, negative with the top leaning in, with one standard deviation [rad]

    Errors:
        ``InputError`` naming the wheel's readings when camber is out of range.

    Validity: steering straight; read twice half a wheel turn apart; with a level against the rim one of the two is 0.

    Source: geometry.
    """
    sigma = (ruler or Ruler()).sigma()
    need_positive(height_between_the_readings=height)
    rim_angle(np.subtract(top, bottom), height)
    inputs = {k: measured(v, sigma) for k, v in (("top", top), ("bottom", bottom), ("height", height))}
    found = carry(lambda top, bottom, height: {"camber": floor - np.arcsin((top - bottom) / height)}, inputs)["camber"]
    span = GLOSSARY["camber"]
    wrong = range_problem("camber", found.value, "deg", span.low, span.high)
    if wrong:
        remedy = "read top and bottom again; were the two swapped?"
        raise InputError([Problem(wrong.field, wrong.value, wrong.rule, remedy)])
    return found
