"""Corner scales: total, shares, cross weight and where the centre of gravity is in plan, with their errors.

How to weigh: level floor, tyres at their pressures, driver's weight in the seat, anti-roll bars unhooked, brakes off,
the car rolled onto the scales and bounced once. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive, range_problem
from ..glossary import GLOSSARY
from ..units import UNITS, Array, G, Value, from_si
from .instruments import Measured, Scale, Tape, carry, measured

PLACES = ("front left", "front right", "rear left", "rear right")
"""The four scales in the order in which they are given."""
_LB = UNITS["lb"].to_si
_ODD_CROSS, _ODD_LEFT = 0.02, 0.05
"""Cross weight and left share this far from one half are worth a question; common practice, no source."""
_SHOWN = 1.0
"""A total is shown to whole kilograms, and so may be this much off besides the scales' own error [kg]."""
_HEAVY = 1900.0
"""Above this a car on a track day is rare enough to ask about pounds; common practice, no source [kg]."""


@dataclass(frozen=True)
class CornerWeights:
    """What four scales say; every error is one standard deviation."""

    total: Measured  # [kg]
    front_share: Measured  # [-]
    left_share: Measured  # [-]
    cross_weight: Measured  # right front plus left rear over total [-]
    behind_front: Measured  # centre of gravity behind the front axle [m]
    left_of_middle: Measured  # centre of gravity left of the centre line [m]
    questions: tuple[Problem, ...]


def weigh_corners(
    front_left: Value,
    front_right: Value,
    rear_left: Value,
    rear_right: Value,
    wheelbase: Value | Measured,
    front_track: Value | Measured,
    rear_track: Value | Measured,
    scale: Scale | None = None,
    known_mass: float | None = None,
    known_front_share: float | None = None,
) -> CornerWeights:
    """Read four corner scales: ``F = (fl + fr)/m``, ``Y = (fl + rl)/m``, ``X = (fr + rl)/m``, ``x = L·(1 − F)``.

    Parameters:
        front_left: scale under the front left wheel, any shape [kg]
        front_right: scale under the front right wheel, any shape [kg]
        rear_left: scale under the rear left wheel, any shape [kg]
        rear_right: scale under the rear right wheel, any shape [kg]
        wheelbase: wheelbase; a plain number gets a class II tape's error [m]
        front_track: front track, likewise [m]
        rear_track: rear track, likewise [m]
        scale: the kind of scale; None for 0.5 kg divisions in service [-]
        known_mass: what the car is known to weigh, to catch slips [kg]
        known_front_share: front share known from elsewhere, to catch slips [-]

    Returns:
        a ``CornerWeights``; its questions name the likely slip where a reading looks odd [any]

    Errors:
        ``InputError`` for a reading no car gives, and for shares out of range, naming the likely slip.

    Validity: level floor, bars unhooked; see ``floor_effect`` for a floor that is not.

    Source: the definitions in the glossary; moments about the front axle and the centre line.
    """
    scale = scale or Scale()
    readings = [np.asarray(v, dtype=float) for v in (front_left, front_right, rear_left, rear_right)]
    named = [range_problem(f"{place} scale", v, "kg", 5, 2000) for place, v in zip(PLACES, readings, strict=True)]
    if any(named):
        raise InputError(problem for problem in named if problem)
    base, ahead, behind = (measured(v, Tape().sigma) for v in (wheelbase, front_track, rear_track))
    need_positive(wheelbase=base.value, front_track=ahead.value, rear_track=behind.value)

    def compute(fl: Any, fr: Any, rl: Any, rr: Any, base: Any, ahead: Any, behind: Any) -> dict[str, Any]:
        total = fl + fr + rl + rr
        return {
            "total": total,
            "front_share": (fl + fr) / total,
            "left_share": (fl + rl) / total,
            "cross_weight": (fr + rl) / total,
            "behind_front": base * (rl + rr) / total,
            "left_of_middle": ((fl - fr) * ahead + (rl - rr) * behind) / (2 * total),
        }

    loads = {k: measured(v, scale.sigma(v)) for k, v in zip(("fl", "fr", "rl", "rr"), readings, strict=True)}
    found = carry(compute, {**loads, "base": base, "ahead": ahead, "behind": behind})
    sigma = float(np.max(np.asarray(found["total"].sigma)))
    questions = tuple(_slips(np.stack(np.broadcast_arrays(*readings)), known_mass, known_front_share, sigma))
    impossible = [
        range_problem(GLOSSARY[k].name, found[k].value, GLOSSARY[k].unit, GLOSSARY[k].low, GLOSSARY[k].high)
        for k in ("front_share", "left_share", "cross_weight")
    ]
    if any(impossible):
        advice = "; ".join(q.remedy for q in questions) or "weigh all four corners again"
        raise InputError(Problem(p.field, p.value, p.rule, advice) for p in impossible if p)
    return CornerWeights(questions=questions, **found)


def floor_effect(step: Value, front_rate: Value, rear_rate: Value, mass: Value) -> Any:
    """Compute the shift of cross weight by one scale too high: ``ΔX = 2·P/(m·g)``, ``P = s/(2/k_f + 2/k_r)``.

    Parameters:
        step: how much higher one scale stands than the plane of the other three, any shape [m]
        front_rate: rate of one front corner, spring and tyre in series, any shape [N/m]
        rear_rate: rate of one rear corner, likewise, any shape [N/m]
        mass: mass on the scales, any shape [kg]

    Returns:
        change of cross weight, up when the high scale is right front or left rear [-]

    Errors:
        ``InputError`` if a rate or the mass is not above zero.

    Validity: bars unhooked, equal tracks, stiff body.

    Source: own derivation; four springs under a stiff body that may heave, roll and pitch.
    """
    need_positive(front_corner_rate=front_rate, rear_corner_rate=rear_rate, mass=mass)
    extra = np.asarray(step) / (2 / np.asarray(front_rate) + 2 / np.asarray(rear_rate))
    return 2 * extra / (np.asarray(mass) * G)


@dataclass(frozen=True)
class AtReference:
    """Front share of weight [-] and centre-of-gravity height [m] as they are at the reference heights."""

    front_share: Any
    cg_height: Any


def to_reference(
    front_share: Value,
    cg_height: Value,
    front_rise: Value,
    rear_rise: Value,
    wheelbase: Value,
    mass: Value,
    unsprung_mass: tuple[Value, Value],
    wheel_radius: tuple[Value, Value],
) -> AtReference:
    """Take front share and height of the centre of gravity from the heights they were read at to the reference heights.

    ``h₀ = h − (m_s/m)·(b·Δh_f + a·Δh_r)/L`` and ``F₀ = F + (m_s/m)·(h_s − r)·(Δh_f − Δh_r)/L²``.

    Parameters:
        front_share: front share as weighed, any shape [-]
        cg_height: centre-of-gravity height as it stood, any shape [m]
        front_rise: front ride height less its reference, at the axle line, any shape [m]
        rear_rise: rear ride height less its reference, at the axle line, any shape [m]
        wheelbase: wheelbase, any shape [m]
        mass: mass on the scales, any shape [kg]
        unsprung_mass: of front and rear axle [kg]
        wheel_radius: wheel-centre height of front and rear axle [m]

    Returns:
        an ``AtReference`` [any]

    Validity: small angles; the wheels do not move with the body; sprung and whole front share taken as one.

    Source: as ``trim`` counts its routes "weight" and "cg_height".
    """
    need_positive(wheelbase=wheelbase, mass=mass)
    share = np.asarray(front_share, dtype=float)
    unsprung = np.add(*unsprung_mass)
    sprung = np.subtract(mass, unsprung)
    nose = (np.asarray(front_rise, dtype=float) - rear_rise) / wheelbase
    # the share moves far less than it weighs in the rise, so the weighed one serves there
    height = cg_height - sprung / mass * (share * front_rise + (1 - share) * rear_rise)
    moment = mass * height - (unsprung_mass[0] * wheel_radius[0] + unsprung_mass[1] * np.asarray(wheel_radius[1]))
    arm = moment / sprung - np.add(*wheel_radius) / 2
    return AtReference((share + sprung / mass * arm * nose / wheelbase)[()], height)


# ---- slips of the pen ---------------------------------------------------------------------------------------------


def _slips(loads: Array, known_mass: float | None, known_share: float | None, sigma: float) -> Iterator[Problem]:
    """Yield a question for each slip that the oddest of the cases points to."""
    cases = loads.reshape(4, -1)
    four = cases[:, int(np.argmax(_oddness(cases)))]
    total = float(four.sum())
    front = float(four[:2].sum() / total)
    if known_mass is not None and abs(total / known_mass - 1) > 0.10:
        if abs(total * _LB / known_mass - 1) < 0.10:
            remedy = f"were they typed in pounds? as pounds they make {total * _LB:.0f} kg"
        elif abs(total / _LB / known_mass - 1) < 0.10:
            remedy = "were they changed from pounds to kg twice?"
        else:
            remedy = "is the driver's weight in the seat, the fuel as driven, and every scale set to zero first?"
        rule = f"must be within 10 % of the {known_mass:.0f} kg known"
        yield Problem("total of the four scales", f"{total:.0f} kg", rule, remedy)
    elif known_mass is not None and abs(total - known_mass) > 3 * sigma + _SHOWN:
        off = total - known_mass
        alone = ", ".join(f"{place} {v - off:.0f}" for place, v in zip(PLACES, four, strict=True) if v > off)
        remedy = f"read the four again, driver and fuel as before; one alone misread would be {alone} kg"
        rule = (
            f"is {abs(off):.0f} kg {'more' if off > 0 else 'less'} than {known_mass:.0f} kg, beyond the scales' error"
        )
        yield Problem("total of the four scales", f"{total:.0f} kg", rule, remedy)
    elif known_mass is None and total > _HEAVY:
        remedy = f"were they typed in pounds? as pounds they make {total * _LB:.0f} kg"
        yield Problem("total of the four scales", f"{total:.0f} kg", "is a lot for a car on a track day", remedy)
    if float(_oddness(four)) > 1:
        cross, left = (four[1] + four[2]) / total, (four[0] + four[2]) / total
        guesses = list(_guesses(four, known_mass, known_share))
        remedy = f"did this happen: {', or '.join(guesses)}? " if guesses else ""
        remedy += "weigh again on level ground, bars unhooked" if not guesses else "look at the scales again"
        got = f"cross weight {from_si(cross, 'percent'):.1f} %, left {from_si(left, 'percent'):.1f} %"
        yield Problem("corner weights", got, "should both be near 50 %", remedy)
    elif known_share is not None and abs(front - known_share) > 0.08:
        swapped = abs(1 - front - known_share) < 0.04
        remedy = "were front and rear scales swapped?" if swapped else "weigh again, or correct the known share"
        rule = f"should be near the known {from_si(known_share, 'percent'):.1f} %"
        yield Problem("front share of weight", f"{from_si(front, 'percent'):.1f} %", rule, remedy)


def _oddness(four: Array) -> Any:
    """How far cross weight and left share are from usual; above 1 is worth a question."""
    total = four.sum(axis=0)
    cross, left = (four[1] + four[2]) / total, (four[0] + four[2]) / total
    return np.maximum(np.abs(cross - 0.5) / _ODD_CROSS, np.abs(left - 0.5) / _ODD_LEFT)


def _guesses(four: Array, known_mass: float | None, known_share: float | None) -> Iterator[str]:
    """Yield in words each single slip that, taken back, leaves readings as usual as can be; the likeliest first."""
    tries: list[tuple[str, Array]] = []
    for i, j in combinations(range(4), 2):
        back = four.copy()
        back[[i, j]] = four[[j, i]]
        tries.append((f"{PLACES[i]} and {PLACES[j]} swapped", back))
    slips = ((_LB, "in pounds"), (1 / _LB, "alone in kg, the others in pounds"), (0.1, "tenfold"), (10.0, "a tenth"))
    for i, place in enumerate(PLACES):
        for factor, words in slips:
            back = four.copy()
            back[i] *= factor
            tries.append((f"{place} typed {words}", back))
    fit = []
    for words, back in tries:
        front, total = back[:2].sum() / back.sum(), back.sum()
        total = total * _LB if "the others in pounds" in words else total
        near = 0.35 < front < 0.68 if known_share is None else abs(front - known_share) < 0.05
        near = near and (known_mass is None or abs(total / known_mass - 1) < 0.10)
        if near and _oddness(back) < 0.7:
            fit.append((float(_oddness(back)), words))
    yield from (words for _, words in sorted(fit)[:3])
