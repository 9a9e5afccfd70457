"""Axle lift: how high the centre of gravity is, from one axle's scale while the other axle is raised.

Caution: a raised car can roll or fall. Level hard floor, wheels of one axle wedged and the others free to
roll, gearbox in neutral, the raised axle on stands or a lift made for it, nobody in, under or in the path of the car; a
workshop's lift is the right place. Suspension blocked so that it cannot move, tank full, loose things out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive
from ..glossary import GLOSSARY
from ..units import Array, G, Value, brief, from_si, to_si
from .instruments import Measured, Scale, Tape, carry, fit, left_over, measured

TYPICAL_SIGMA = (0.598 - 0.506) / (2 * 1.645)
"""Spread of cars' heights, from the 5th and 95th percentile of NHTSA's list: what is known without lifting [m]."""
_STEEP = np.sin(np.radians(20.0))
"""No one should be asked to lift further than this; common practice, no source [-]."""
_USUAL = (0.35, 0.75)
"""Heights outside are worth a question; common practice, no source [m]."""


@dataclass(frozen=True)
class Lift:
    """What an axle lift says; the error is one standard deviation."""

    cg_height: Measured  # above the ground [m]
    above_axle: Measured  # above the line through the wheel centres [m]
    each: Array  # what each lift alone would give for the height above the ground (lifts, …) [m]
    residuals: Array  # residuals of the fit: level reading first, then the lifts (lifts + 1, …) [kg]
    angle: Array  # how far the axle line is tipped in each lift (lifts, …) [rad]
    questions: tuple[Problem, ...]


def lifted_height(
    mass: Value | Measured,
    wheelbase: Value | Measured,
    level: Value,
    rises: Any,
    readings: Any,
    standing_radius: Value | Measured,
    lifted_radius: Value | Measured,
    scale: Scale | None = None,
    tape: Tape | None = None,
    tyre_rate: Value | None = None,
) -> Lift:
    """Find the height of the centre of gravity: ``h = L·(ΔW/W)·cot θ`` above the axle line, ``sin θ = H/L``.

    With several lifts the reading is fitted as a straight line against ``tan θ``: ``W_i = c + (W·h/L)·tan θ_i``.

    Parameters:
        mass: mass as it stands on the scales; a plain number gets four scales' error [kg]
        wheelbase: wheelbase; a plain number gets the tape's error [m]
        level: both scales under the standing axle, car level, any shape [kg]
        rises: rise of the lifted axle's wheel centres above where they stood, leading axis counts the lifts [m]
        readings: both scales under the standing axle in each lift, same leading axis [kg]
        standing_radius: wheel-centre height of the axle on the scales, car level [m]
        lifted_radius: wheel-centre height of the lifted axle, car level [m]
        scale: one scale; None for 0.5 kg divisions in service [-]
        tape: the tape; None for class II [-]
        tyre_rate: vertical rate of one standing tyre; None leaves its squash out [N/m]

    Returns:
        a ``Lift``; each lift's own answer and the residuals stand beside the fitted one [any]

    Errors:
        ``InputError`` where the lift is too small to tell more than a typical value would (says how high to lift), and
        where no car can be so low or high (names the reading to take again).

    Validity: suspension blocked, wheels free to roll, nothing shifts inside, angle below 20°.

    Source: ISO 10392:2011, 6.2 and 6.5 (the plot against the tangent: 6.2.4; three or more steps advised: 6.2.2).
    """
    scale, tape = scale or Scale(), tape or Tape()
    rises, readings, level = (np.asarray(v, dtype=float) for v in (rises, readings, level))
    if rises.ndim == 0 or readings.ndim == 0 or len(rises) != len(readings):
        raise InputError(
            [Problem("lifts", "", "must be two lists of the same length", "give one rise for each reading")]
        )
    need_positive(level_reading=level, rise=rises, lifted_reading=readings)

    def two_scales(load: Any) -> Any:
        return np.sqrt(2.0) * scale.sigma(load / 2)

    inputs = {
        "mass": measured(mass, lambda m: 2 * scale.sigma(m / 4)),
        "base": measured(wheelbase, tape.sigma),
        "level": Measured(level, two_scales(level)),
        "rises": Measured(rises, tape.sigma(rises)),
        "readings": Measured(readings, two_scales(readings)),
        "standing": measured(standing_radius, tape.sigma),
        "lifted": measured(lifted_radius, tape.sigma),
    }
    need_positive(**{k: inputs[k].value for k in ("mass", "base", "standing", "lifted")})
    _check_sizes(inputs)
    squash = 0.0 if tyre_rate is None else G / (2 * np.asarray(tyre_rate, dtype=float))

    def lay_out(mass: Any, base: Any, level: Any, rises: Any, readings: Any, standing: Any, lifted: Any) -> Any:
        """Tangents and readings, the level one first."""
        rest = (lifted - standing) / base
        sines = [rest] + [rest + (r + squash * (w - level)) / base for r, w in zip(rises, readings, strict=True)]
        all_of = np.stack(np.broadcast_arrays(*sines, level, *readings))
        sine = all_of[: len(sines)]
        return sine / np.sqrt(1 - sine**2), all_of[len(sines) :]

    def height(above: Any, load: Any, mass: Any, base: Any, standing: Any, lifted: Any) -> Any:
        rest = (lifted - standing) / base
        return standing + base * (1 - load / mass) * rest + above * np.sqrt(1 - rest**2)

    def compute(**v: Any) -> dict[str, Any]:
        tangent, load = lay_out(**v)
        line = fit(tangent, load, 1)
        above = v["base"] * line[1] / v["mass"]
        sizes = (v["mass"], v["base"], v["standing"], v["lifted"])
        return {"cg_height": height(above, line[0], *sizes), "above_axle": above}

    found = carry(compute, inputs, {"rises": 1, "readings": 1})
    values = {k: m.value for k, m in inputs.items()}
    tangent, load = lay_out(**values)
    alone = values["base"] * (load[1:] - load[0]) / (values["mass"] * (tangent[1:] - tangent[0]))
    sizes = (values["mass"], values["base"], values["standing"], values["lifted"])
    over = left_over(tangent, load, fit(tangent, load, 1))
    questions = _judge(found["cg_height"], values, tangent, load, over, np.max(inputs["readings"].sigma))
    return Lift(
        found["cg_height"], found["above_axle"], height(alone, load[0], *sizes), over, np.arctan(tangent[1:]), questions
    )


def _check_sizes(inputs: dict[str, Measured]) -> None:
    """Refuse readings that no geometry allows."""
    base, mass = inputs["base"].value, inputs["mass"].value
    problems = []
    if np.any(inputs["rises"].value + inputs["lifted"].value - inputs["standing"].value >= 0.6 * base):
        got = f"{np.max(inputs['rises'].value):.4g} m"
        problems.append(
            Problem("rise", got, "must be well below the wheelbase", "give it in metres, measured at the wheel centre")
        )
    for name in ("level", "readings"):
        if np.any(inputs[name].value >= mass):
            words = "level reading" if name == "level" else "lifted reading"
            got = f"{np.max(inputs[name].value):.5g} kg"
            remedy = "give the two scales of the standing axle only, and the mass of the whole car"
            problems.append(Problem(words, got, "must be below the car's mass", remedy))
    if problems:
        raise InputError(problems)


def _judge(
    h: Measured, values: dict[str, Any], tangent: Array, load: Array, over: Array, sigma: float
) -> tuple[Problem, ...]:
    """Refuse what tells nothing or cannot be, and give questions for what is odd."""
    span = GLOSSARY["cg_height"]
    name, low, high = span.name, to_si(span.low, span.unit), to_si(span.high, span.unit)
    again = _suspect(tangent, load)
    worst = float(np.max(h.sigma))
    change = load[1:] - load[0]
    if np.all(change < 0) and np.all(np.asarray(h.value) < _USUAL[0]):
        remedy = "were level and lifted readings swapped, or is the scale under the lifted axle?"
        got = f"{float(change.flat[0]):+.4g} kg"
        raise InputError([Problem("change of the reading", got, "must be a gain: lifting tips weight over", remedy)])
    spread = f"±{from_si(worst, 'mm'):.0f} mm"
    if worst > TYPICAL_SIGMA:
        rule = f"must be better than ±{from_si(TYPICAL_SIGMA, 'mm'):.0f} mm, which is known without lifting"
        raise InputError([Problem(name, spread, rule, _lift_to(values, tangent, worst))])
    value = np.ravel(h.value)
    far = float(value[np.argmax(np.abs(value - np.mean(_USUAL)))])
    if not low <= far <= high:
        rule = f"must be {span.low:g} to {span.high:g} mm"
        raise InputError([Problem(name, f"{from_si(far, 'mm'):.0f} mm", rule, f"read again: {again}")])
    problems = []
    if not _USUAL[0] <= far <= _USUAL[1]:
        problems.append(Problem(name, f"{from_si(far, 'mm'):.0f} mm", "is unusual for a car", f"read again: {again}"))
    if worst > TYPICAL_SIGMA / 2:
        rule = f"should be ±{from_si(TYPICAL_SIGMA / 2, 'mm'):.0f} mm or better"
        problems.append(Problem(name, spread, rule, _lift_to(values, tangent, worst)))
    if len(load) > 2 and np.max(np.abs(over)) > 3 * sigma:
        got = f"{brief(float(np.max(np.abs(over))), 2)} kg off the straight line"
        problems.append(
            Problem("lift readings", got, f"should be within {brief(3 * sigma, 2)} kg", f"read again: {again}")
        )
    return tuple(problems)


def _lift_to(values: dict[str, Any], tangent: Array, sigma: float) -> str:
    """Return how high to lift for half the spread that is known without lifting."""
    base = float(np.min(values["base"]))
    need = float(np.min(tangent.max(axis=0))) * sigma / (TYPICAL_SIGMA / 2)
    sine = need / np.hypot(1, need)
    if sine > _STEEP:
        return "these scales are too coarse for a safe lift: use finer ones, or keep the typical value"
    high = base * sine - float(np.max(values["lifted"] - values["standing"]))
    return f"lift the wheel centres by at least {np.ceil(20 * high) / 20:.2f} m, only where the car is safe up there"


def _suspect(tangent: Array, load: Array) -> str:
    """Name the reading that disagrees with the others: the one without which the rest lie straightest."""
    n = len(load)
    if n < 4:
        one = "the lifted reading, its rise and the level reading"
        return one if n == 2 else "all lifts and the level reading; a third lift would tell which is wrong"
    line, cases = tangent.reshape(n, -1), load.reshape(n, -1)
    worst = int(np.argmax(np.abs(left_over(line, cases, fit(line, cases, 1))).max(axis=0)))
    x, y = line[:, worst], cases[:, worst]
    rest = [np.delete(np.arange(n), i) for i in range(n)]
    size = [float(np.abs(left_over(x[k], y[k], fit(x[k], y[k], 1))).max()) for k in rest]
    i = int(np.argmin(size))
    return "the level reading" if i == 0 else f"lift {i} (its reading of {y[i]:.5g} kg and its rise)"
