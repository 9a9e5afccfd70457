"""Travel left to the stops: free shaft as it stands, and what a cable tie tells after a session."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..car.keys import CORNERS, ENDS
from ..car.records import Moment
from ..checks import Problem
from ..glossary import GLOSSARY
from ..trim.trim import trim
from ..units import G, number, to_si
from .form import SIDES
from .instruments import Measured
from .reckoning import Outcome, Reckoning, line

HARD = (30.0, 0.85, -0.10)
"""Speed [m/s], lateral and longitudinal acceleration [g] of the hardest corner of a session on road tyres.

Common practice, no source.
"""
KERB = 0.010
"""What bumps and kerbs add to or take from it (one standard deviation); common practice, no source [m]."""
TOUCHED = 0.002
"""A tie left nearer the stop than this says that the stop was touched: a mark of the rule and the tie's width [m]."""


def stops(bench: Reckoning) -> Outcome:
    """Return the travel to bump stop and full droop, counted from the reference height; a tie says how much was used.

    Parameters:
        bench: the readings so far [-]

    Returns:
        the step's ``Outcome`` [-]
    """
    out: dict[str, Measured] = {}
    lines: list[tuple[str, str]] = []
    questions: list[Problem] = []
    for end in ENDS:
        rise = bench.known(f"setup.{end}.height") - bench.known(f"{end}.reference_height")
        high = bench.size(f"setup.{end}.height").sigma
        if (shaft := bench.typed.get(f"stops.{end}_shaft")) is not None:
            ratio = bench.known(f"{end}.motion_ratio")
            loose = bench.found.get(f"{end}.motion_ratio", Measured(ratio, 0.05 * ratio)).sigma
            travel = shaft / ratio
            sigma = float(np.hypot(bench.ruler.sigma() / ratio, travel * loose / ratio))
            lines.append((f"{end} wheel travel to the stop, as it stands", Measured(travel, sigma).words("mm", 1)))
            out[f"{end}.bump_gap"] = Measured(travel - rise, float(np.hypot(sigma, high)))
        if (drop := bench.typed.get(f"stops.{end}_drop")) is not None:
            out[f"{end}.droop_gap"] = Measured(drop + rise, float(np.hypot(bench.tape.sigma(drop), high)))
        ties = [bench.typed.get(f"stops.{end}_{side}_tie") for side in ("left", "right")]
        if (left := min((v for v in ties if v is not None), default=None)) is not None:
            questions += _tie(bench, end, left, rise, out, lines)
        for key in ("bump_gap", "droop_gap"):
            if f"{end}.{key}" in out:
                lines.append(line(key, f"{end} {GLOSSARY[key].name}, from the reference", out[f"{end}.{key}"], 1))
    for name in CORNERS:
        tie, end = bench.typed.get(f"stops.{name}_tie"), name.partition("_")[0]
        shaft = bench.typed.get(f"stops.{end}_shaft")
        if tie is not None and shaft is not None and tie > max(shaft, 0.0):
            got = f"{number(1e3 * tie, 0)} mm left, {number(1e3 * shaft, 0)} mm standing"
            remedy = "was the tie pushed down first, and are the two boxes the right way round?"
            questions.append(Problem(f"{SIDES[name]} cable tie", got, "shows more shaft than standing still", remedy))
    return Outcome(out, {}, tuple(lines), tuple(questions))


def _tie(
    bench: Reckoning, end: str, left: float, rise: float, out: dict[str, Measured], lines: list[tuple[str, str]]
) -> list[Problem]:
    """What the nearest cable tie of an axle says; a gap from it where no shaft was read standing."""
    ratio = bench.known(f"{end}.motion_ratio")
    deep = free_travel(bench, end)
    touched = left < TOUCHED
    told = "the stop was touched: the travel is used up" if touched else f"{number(1e3 * left, 0)} mm were left"
    lines.append((f"{end} travel after a session", told))
    if f"{end}.bump_gap" not in out:
        gap = deep + left / ratio - (KERB if touched else 0.0)
        out[f"{end}.bump_gap"] = Measured(max(gap - rise, to_si(GLOSSARY["bump_gap"].low, "mm")), KERB)
        lines.append(
            (f"{end} gap to the stop from the tie", f"{number(1e3 * gap, 0)} ± {number(1e3 * KERB, 0)} mm, standing")
        )
        return []
    had = float(out[f"{end}.bump_gap"].value) + rise
    if touched and had > deep + 3 * KERB:
        got = f"{number(1e3 * had, 0)} mm standing, {number(1e3 * deep, 0)} mm asked for in a hard corner"
        remedy = "a kerb, or is the shaft misread? read both again"
        return [
            Problem(f"{end} stop", got, "was touched though there is more travel than a hard corner asks for", remedy)
        ]
    return []


def free_travel(bench: Reckoning, end: str) -> float:
    """Return how far the outer wheel would go into bump in a hard corner, were there no stop in the way.

    Parameters:
        bench: the readings so far [-]
        end: "front" or "rear" [-]

    Returns:
        travel from standing [m]

    Validity: steady, at ``HARD``; what bumps add is in the error of what is made of it.
    """
    speed, side, back = HARD
    car = bench.car
    for name in ENDS:
        axle = getattr(car, name)
        own = {f: bench.known(f"{name}.{f}") for f in ("motion_ratio", "reference_height", "track")}
        car = replace(car, **{name: replace(axle, bump_gap=0.25, droop_gap=0.25, **own)})
    setup = bench.setup
    for name in ENDS:
        held = {f: bench.known(f"setup.{name}.{f}") for f in ("spring", "bar", "height")}
        setup = replace(setup, **{name: replace(getattr(setup, name), **held)})
    found = trim(car, setup, Moment(speed, side * G, back * G, 0.0))
    return float(np.max(found.travel[ENDS.index(end)]))
