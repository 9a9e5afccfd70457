"""Travel left to the stops: free shaft as it stands, and what a cable tie tells after a session."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from ..car.keys import CORNERS, ENDS
from ..car.records import SIDES as SIDES_OF
from ..car.records import Car, Moment, Setup
from ..checks import Problem
from ..glossary import GLOSSARY
from ..trim.trim import trim
from ..units import G, number, to_si
from .form import SIDES
from .instruments import Measured
from .reckoning import Outcome, Reckoning, line, mean

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
        questions += _tie(bench, end, rise, out, lines)
        for key in ("bump_gap", "droop_gap"):
            if f"{end}.{key}" in out:
                lines.append(line(key, f"{end} {GLOSSARY[key].name}, from the reference", out[f"{end}.{key}"], 1))
    for name in CORNERS:
        tie, end = bench.typed.get(f"stops.{name}_tie"), name.partition("_")[0]
        shaft = bench.typed.get(f"stops.{end}_shaft")
        if shaft is not None:  # read once an axle: a wheel that stands higher has more
            shaft += bench.known(f"{end}.motion_ratio") * apart(bench, name)
        if tie is not None and shaft is not None and tie > max(shaft, 0.0) + 1e-9:
            got = f"{number(1e3 * tie, 0)} mm left, {number(1e3 * shaft, 0)} mm standing"
            remedy = "was the tie pushed down first, and are the two boxes the right way round?"
            questions.append(Problem(f"{SIDES[name]} cable tie", got, "shows more shaft than standing still", remedy))
    return Outcome(out, {}, tuple(lines), tuple(questions))


def apart(bench: Reckoning, corner: str) -> float:
    """Return how much higher the body stands at one wheel than at the middle of its axle, by the heights typed.

    Parameters:
        bench: the readings so far [-]
        corner: such as "rear_left" [-]

    Returns:
        height above the axle's mean; 0 where not both of its heights are typed [m]
    """
    end = corner.partition("_")[0]
    own, both = bench.typed.get(f"heights.{corner}"), [bench.typed.get(f"heights.{end}_{side}") for side in SIDES_OF]
    middle = mean(both) if None not in both else None
    return 0.0 if own is None or middle is None else own - middle


def _tie(
    bench: Reckoning, end: str, rise: float, out: dict[str, Measured], lines: list[tuple[str, str]]
) -> list[Problem]:
    """What the cable ties of an axle say, each at its wheel; a gap from them where no shaft was read standing."""
    ties = {f"{end}_{side}": bench.typed.get(f"stops.{end}_{side}_tie") for side in SIDES_OF}
    read = {corner: tie for corner, tie in ties.items() if tie is not None}
    if not read:
        return []
    ratio, deep = bench.known(f"{end}.motion_ratio"), free_travel(bench, end)
    touched = min(read.values()) < TOUCHED
    nearest = number(1e3 * min(read.values()), 0)
    told = "the stop was touched: the travel is used up" if touched else f"{nearest} mm were left"
    lines.append((f"{end} travel after a session", told))
    if f"{end}.bump_gap" not in out:
        gaps = {c: deep + tie / ratio - (KERB if tie < TOUCHED else 0.0) for c, tie in read.items()}
        # the stops of an axle are alike: a wheel that stands lower has the less for it
        from_mean = min(gap - apart(bench, corner) for corner, gap in gaps.items())
        out[f"{end}.bump_gap"] = Measured(max(from_mean - rise, to_si(GLOSSARY["bump_gap"].low, "mm")), KERB)
        lines += [
            (
                f"{SIDES[c]} gap to the stop from the tie",
                f"{number(1e3 * gap, 0)} ± {number(1e3 * KERB, 0)} mm, standing",
            )
            for c, gap in gaps.items()
        ]
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
    return _furthest(car, setup, Moment(speed, side * G, back * G, 0.0))[ENDS.index(end)]


@lru_cache(maxsize=4)
def _furthest(car: Car, setup: Setup, moment: Moment) -> tuple[float, float]:
    """How far the further wheel of either axle goes into bump, kept while readings of other steps are typed."""
    front, rear = (float(np.max(travel)) for travel in trim(car, setup, moment).travel)
    return front, rear
