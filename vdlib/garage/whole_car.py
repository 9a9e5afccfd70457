"""What tape, gauge and scales say of the whole car: pressures, heights, floor, corner weights, axle lift."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from ..car.keys import CORNERS, ENDS
from ..checks import Problem
from ..trim.suspension import wheel_rate
from ..units import from_si, number, to_si
from . import tape as taped
from .axle_lift import lifted_height
from .form import BEFORE, SIDES, SILL
from .instruments import Measured, measured, uniform
from .reckoning import GAUGE, Outcome, Reckoning, apart, coarse, line, mean, missed
from .scales import floor_effect, to_reference, weigh_corners

WEIGHED, STANDING = "weighed.front_share", "standing.cg_height"
"""Numbers found at the heights as they stand, before they are taken to the reference heights."""


RISE, RISE_SIGMA = 0.3e5, 0.1e5
"""How far a pressure usually rises from cold to hot, and its spread; common practice, no source [Pa]."""
AIR, KELVIN, WARM = 1.013e5, 273.15, 20.0
"""Pressure of the air outside [Pa], freezing point [K], and the temperature that cold pressures are given for [°C]."""
FAR = 0.06
"""A height further than this from what it should be is worth a question; common practice, no source [m]."""


def at_warmth(pressure: float, was: float, then: float = WARM) -> float:
    """Return a tyre's pressure at another temperature of the air: ``(p + p₀)·T₂/T₁ − p₀``.

    Parameters:
        pressure: gauge pressure read [Pa]
        was: temperature at which it was read [°C]
        then: the other temperature [°C]

    Returns:
        gauge pressure [Pa]

    Validity: the tyre as warm as the air; its volume unchanged.
    Source: law of ideal gases at constant volume.
    """
    return (pressure + AIR) * (then + KELVIN) / (was + KELVIN) - AIR


def tyres(bench: Reckoning) -> Outcome:
    """Pressure of each wheel, hot; from the cold one and a usual rise where no hot one was read."""
    out: dict[str, Measured] = {}
    lines: list[tuple[str, str]] = []
    questions: list[Problem] = []
    figures: dict[str, float] = {}
    sigma = float(uniform(to_si(*GAUGE["pressure"])))
    hot, cold = bench.four("tyres"), bench.four("tyres", "_cold")
    wheels = bench.side("tyres", "pressure", sigma)
    air = bench.typed.get("tyres.cold_air", WARM)
    for i, name in enumerate(CORNERS):
        was, now = cold[i], hot[i]
        if now is None and was is not None:
            wheels[f"setup.{name}.pressure"] = Measured(was + RISE, float(np.hypot(sigma, RISE_SIGMA)))
        if now is not None and was is not None and now < was:
            got = f"{number(from_si(now, 'bar'), 2)} bar hot, {number(from_si(was, 'bar'), 2)} cold"
            remedy = "were hot and cold swapped, or does it leak?"
            questions.append(Problem(f"{SIDES[name]} tyre", got, "is lower hot than cold", remedy))
    for end, pair in zip(ENDS, ("front", "rear"), strict=True):
        own = [wheels.get(f"setup.{end}_{side}.pressure") for side in ("left", "right")]
        given = [m for m in own if m is not None]
        if given:
            both = Measured(mean([float(m.value) for m in given]), max(float(m.sigma) for m in given))
            out[f"setup.{end}.pressure"] = both
            lines.append(line("pressure", f"{pair} pressure, hot", both, 2))
        if (should := bench.typed.get(f"tyres.{end}_reference")) is not None:
            figures[f"{end}.pressure"] = should + RISE
    for step, ending, pair_of in (("tyres", "", hot), ("cold", "_cold", cold)):
        words = "hot" if step == "tyres" else "cold"
        for end, (left, right) in zip(ENDS, (pair_of[:2], pair_of[2:]), strict=True):
            questions += apart(step, f"{end} tyre pressures, {words},", left, right)
        keys = [f"tyres.{name}{ending}" for name in CORNERS]
        questions += coarse(bench, keys, f"tyre pressures, {words},", step)
    if any(v is not None for v in cold) and abs(air - WARM) > 5:
        told = [number(from_si(at_warmth(v, air), "bar"), 2) for v in cold if v is not None]
        lines.append((f"cold pressures at {WARM:.0f} °C", f"{', '.join(told)} bar"))
    lines += _tread(bench)
    keys = [f"tyres.{name}" for name in CORNERS]
    return Outcome(out, {}, tuple(lines), tuple(questions), waiting=bench.lacking(keys), wheels=wheels, figures=figures)


def _tread(bench: Reckoning) -> list[tuple[str, str]]:
    """State where a tyre is worn more on one side than on the other."""
    lines = []
    for name in CORNERS:
        places = [bench.typed.get(f"tyres.{name}_{place}") for place in ("outer", "middle", "inner")]
        if None in places:
            continue
        outer, middle, inner = (float(v or 0.0) for v in places)
        told = "even"
        if abs(outer - inner) > 1e-3:
            told = "worn inside: much negative camber or toe-out" if inner < outer else "worn outside: little camber"
        elif abs(middle - (outer + inner) / 2) > 0.7e-3:
            told = "worn in the middle: pressure high" if middle < outer else "worn at both edges: pressure low"
        lines.append((f"{SIDES[name]} tread", told))
    return lines


def heights(bench: Reckoning) -> Outcome:
    """Ride heights of the wheels and at the axle lines, what they should be, nose-high, wheel centres and wheelbase."""
    typed, out = bench.typed, dict[str, Measured]()
    lines: list[tuple[str, str]] = []
    for end in ENDS:
        if (radius := typed.get(f"heights.{end}_wheel")) is not None:
            out[f"{end}.wheel_radius"] = measured(radius, bench.tape.sigma)
    if "heights.wheelbase" in typed:
        out["car.wheelbase"] = measured(typed["heights.wheelbase"], bench.tape.sigma)
        lines.append(line("wheelbase", "", out["car.wheelbase"], 0))
    found = _sill(bench) if bench.chosen["heights.way"] == SILL else _arches(bench)
    questions: list[Problem] = []
    four = bench.four("heights")
    for end, pair in zip(ENDS, (four[:2], four[2:]), strict=True):
        questions += apart("heights", f"{end} heights", *pair)
        should = typed.get(f"heights.{end}_reference")
        for side, value in zip(("left", "right"), pair, strict=True):
            if value is not None and should is not None:
                questions += missed(f"{end} {side} height", value, should, FAR, "mm", 0)
    questions += coarse(bench, [f"heights.{name}" for name in CORNERS], "heights", "heights")
    return replace(
        found,
        numbers=out | found.numbers,
        lines=(*lines, *found.lines),
        questions=(*questions, *found.questions),
    )


def _unknown_reference() -> Problem:
    remedy = "ask the maker, or the workshop from before the repair; until then as it stands is the reference"
    return Problem("reference heights", "", "are not typed, so nose-high cannot be told", remedy)


def _stance(size: Measured) -> tuple[str, str]:
    way = "nose-high" if size.value >= 0 else "nose-low"
    return (f"{way}, at the axle lines", Measured(abs(size.value), size.sigma).words("mm", 1))


def _sill(bench: Reckoning) -> Outcome:
    """Heights read at two points of the sill or floor."""
    typed = bench.typed
    four = bench.four("heights")
    front, rear = mean(four[:2]), mean(four[2:])
    sizes = ["heights.wheelbase", "heights.front_point", "heights.rear_point"]
    names = [f"heights.{name}" for name in CORNERS]
    references = ["heights.front_reference", "heights.rear_reference"]
    waiting = bench.lacking([*sizes, *names]) + bench.lacking(references)
    if front is None or rear is None or not all(key in typed for key in sizes):
        return Outcome(waiting=waiting)
    base, one, two = (typed[key] for key in sizes)
    wanted = (typed[references[0]], typed[references[1]]) if all(key in typed for key in references) else None
    found = taped.ride_heights(front, rear, one, two, base, wanted, bench.tape)
    out = {"setup.front.height": found.front, "setup.rear.height": found.rear}
    wheels: dict[str, Measured] = {}
    for i, side in enumerate(("left", "right")):
        ahead, behind = four[i], four[2 + i]
        if ahead is not None and behind is not None:
            own = taped.ride_heights(ahead, behind, one, two, base, None, bench.tape)
            wheels |= {f"setup.{end}_{side}.height": getattr(own, end) for end in ENDS}
    lines = [line("height", f"{end} ride height, at the axle line", getattr(found, end), 1) for end in ENDS]
    if wanted is None or found.nose_high is None:
        assumed = {f"{end}.reference_height": getattr(found, end) for end in ENDS}
        return Outcome(out, assumed, tuple(lines), (*found.questions, _unknown_reference()), (), waiting, wheels)
    at = taped.reference_heights(wanted, one, two, base)
    out |= {f"{end}.reference_height": Measured(h, 0.0) for end, h in zip(ENDS, at, strict=True)}
    lines.append(_stance(found.nose_high))
    figures = {f"{end}.height": float(h) for end, h in zip(ENDS, at, strict=True)}
    return Outcome(out, {}, tuple(lines), found.questions, (), waiting, wheels, figures)


def _arches(bench: Reckoning) -> Outcome:
    """Heights read at the wheel arches: only their difference from what they should be counts."""
    typed, out, assumed = bench.typed, dict[str, Measured](), dict[str, Measured]()
    four = bench.four("heights")
    keys = [f"heights.{name}" for name in CORNERS]
    references = ["heights.front_reference", "heights.rear_reference"]
    waiting = bench.lacking([*keys, *references])
    wheels: dict[str, Measured] = {}
    figures: dict[str, float] = {}
    lines: list[tuple[str, str]] = []
    rises: list[Measured] = []
    for end, pair, reference in zip(ENDS, (four[:2], four[2:]), references, strict=True):
        should, level = typed.get(reference), bench.known(f"{end}.reference_height")
        middle = mean(pair)
        if middle is None:
            continue
        sigma = float(bench.tape.sigma(middle))
        if bench.chosen["heights.reference_is"] == BEFORE:
            sigma = float(np.hypot(sigma, sigma))
        mark = max(bench.marks.get(f"heights.{end}_{side}", 0.0) for side in ("left", "right"))
        sigma = max(sigma, float(uniform(mark)))
        at = middle if should is None else should
        out[f"setup.{end}.height"] = Measured(level + middle - at, sigma / np.sqrt(sum(v is not None for v in pair)))
        for side, value in zip(("left", "right"), pair, strict=True):
            if value is not None:
                wheels[f"setup.{end}_{side}.height"] = Measured(level + value - at, sigma)
        if should is None:
            assumed[f"{end}.reference_height"] = Measured(level, 0.0)
            continue
        figures[f"{end}.height"] = level
        rise = Measured(middle - should, out[f"setup.{end}.height"].sigma)
        rises.append(rise)
        words = Measured(abs(rise.value), rise.sigma).words("mm", 1)
        lines.append((f"{end} {'up' if rise.value >= 0 else 'down'} from what it should be", words))
    questions: tuple[Problem, ...] = ()
    if len(rises) == 2:
        lines.append(_stance(Measured(rises[0].value - rises[1].value, np.hypot(rises[0].sigma, rises[1].sigma))))
    elif wheels:
        questions = (_unknown_reference(),)
    return Outcome(out, assumed, tuple(lines), questions, (), waiting, wheels, figures)


def floor(bench: Reckoning) -> Outcome:
    """What an uneven floor does to cross weight and camber."""
    questions = []
    weighed = any(value is not None for value in bench.four("corners"))
    if weighed and bench.chosen["floor.driver"] == "not in the seat yet":
        remedy = "put it there and weigh again, or choose 'in the seat' if it was"
        questions.append(Problem("driver's weight", "", "is not in the seat, but corner scales are typed", remedy))
    step = bench.typed.get("floor.step")
    if step is None:
        return Outcome(questions=tuple(questions))
    tilt = np.arctan(step / min(bench.track(end) for end in ENDS))
    lines = (
        ("cross weight may be off by", f"±{number(from_si(floor_shift(bench), 'percent'), 2)} points"),
        ("cambers of that axle may be off by", f"±{number(np.degrees(tilt), 2)}°"),
    )
    if from_si(floor_shift(bench), "percent") > 1:
        remedy = "level the places with thin sheets, or weigh elsewhere"
        rule = "moves the cross weight by more than 1 point"
        questions.append(Problem("floor", f"{number(from_si(step, 'mm'), 1)} mm", rule, remedy))
    return Outcome(lines=lines, questions=tuple(questions))


def floor_shift(bench: Reckoning) -> float:
    """Change of cross weight that the floor's unevenness makes [-]."""

    def corner(end: str) -> Any:
        wheel = wheel_rate(bench.known(f"setup.{end}.spring"), bench.known(f"{end}.motion_ratio"))
        return 1 / (1 / wheel + 1 / bench.known(f"{end}.tyre_rate"))

    four = [value for value in bench.four("corners") if value is not None]
    mass = sum(four) if len(four) == 4 else bench.known("car.mass")
    return float(floor_effect(bench.typed.get("floor.step", 0.0), corner("front"), corner("rear"), mass))


def corners(bench: Reckoning) -> Outcome:
    """Total, shares, cross weight and the place of the centre of gravity in plan."""
    typed, out = bench.typed, dict[str, Measured]()
    tracks = {}
    for end in ENDS:
        key = f"corners.{end}_track"
        tracks[end] = bench.size(f"{end}.track")
        if key in typed:
            out[f"{end}.track"] = tracks[end] = measured(typed[key], bench.tape.sigma)
    base = bench.size("car.wheelbase")
    keys = [f"corners.{name}" for name in CORNERS]
    missing = bench.lacking([*keys, "corners.front_track", "corners.rear_track"])
    if not all(key in typed for key in keys):
        return Outcome(out, waiting=missing)
    known = (typed.get("corners.known_mass"), typed.get("corners.known_share"))
    four = (typed[keys[0]], typed[keys[1]], typed[keys[2]], typed[keys[3]])
    found = weigh_corners(*four, base, tracks["front"], tracks["rear"], bench.scale, *known)
    cross = Measured(found.cross_weight.value, np.hypot(found.cross_weight.sigma, uniform(floor_shift(bench))))
    out |= {
        "car.mass": found.total,
        WEIGHED: found.front_share,
        "car.left_share": found.left_share,
        "setup.cross_weight": cross,
    }
    lines = (
        line("mass", "total", found.total, 1),
        line("front_share", "front share, as it stands", found.front_share, 2),
        line("left_share", "", found.left_share, 2),
        line("cross_weight", "cross weight, right front plus left rear", cross, 2),
        ("centre of gravity behind the front axle", found.behind_front.words("mm", 0)),
        ("centre of gravity left of the middle", found.left_of_middle.words("mm", 0)),
    )
    questions = list(found.questions)
    if bench.chosen["corners.bars"] == "not unhooked yet":
        remedy = "unhook them and weigh again, or choose 'unhooked' if they were"
        questions.append(Problem("anti-roll bars", "", "still hooked up can shift weight between corners", remedy))
    return Outcome(out, {}, lines, tuple(questions), waiting=missing)


def lift(bench: Reckoning) -> Outcome:
    """Height of the centre of gravity as the car stands."""
    typed = bench.typed
    pairs = [(f"lift.rise_{i}", f"lift.reading_{i}") for i in (1, 2, 3)]
    missing = tuple(label for pair in pairs for label in bench.lacking(pair))
    used = [pair for pair in pairs if all(key in typed for key in pair)]
    end = bench.chosen["lift.end"]
    stays = "front" if end == "rear" else "rear"
    four = bench.four("corners")
    stand = four[:2] if stays == "front" else four[2:]
    level = typed.get("lift.level")
    if level is None and None not in stand:
        level = sum(value for value in stand if value is not None)
    if not used:
        return Outcome(waiting=missing)
    if level is None or "car.mass" not in bench.found:
        return Outcome(waiting=(*missing, "the four corner scales" if "car.mass" not in bench.found else "car level"))
    base = bench.size("car.wheelbase")
    radii = [bench.size(f"{e}.wheel_radius") for e in (stays, end)]
    rises, readings = (tuple(typed[pair[k]] for pair in used) for k in (0, 1))
    rate = bench.known(f"{stays}.tyre_rate")
    mass = bench.found["car.mass"]
    found = _lifted(mass, base, level, rises, readings, radii[0], radii[1], bench.scale, bench.tape, rate)
    each = ", ".join(number(from_si(float(h), "mm"), 0) for h in found.each)
    lines = (
        line("cg_height", "height of the centre of gravity, as it stands", found.cg_height, 0),
        ("each lift alone says", f"{each} mm"),
        ("car tipped by", f"{', '.join(number(a, 1) for a in np.degrees(found.angle))}°"),
    )
    return Outcome({STANDING: found.cg_height}, {}, lines, found.questions, waiting=missing)


_lifted = lru_cache(maxsize=4)(lifted_height)
"""The same, kept for as long as readings of other steps are typed."""


def settle(bench: Reckoning) -> dict[str, Measured]:
    """Front share and height of the centre of gravity taken from where they were read to the reference heights."""
    share, height = bench.found.get(WEIGHED), bench.found.get(STANDING)
    rises = [bench.known(f"setup.{end}.height") - bench.known(f"{end}.reference_height") for end in ENDS]
    if share is None:
        return {}
    standing = bench.known("car.cg_height") if height is None else float(height.value)
    unsprung, radii = ([bench.known(f"{end}.{what}") for end in ENDS] for what in ("unsprung_mass", "wheel_radius"))
    at = to_reference(
        float(share.value),
        standing,
        rises[0],
        rises[1],
        bench.known("car.wheelbase"),
        bench.known("car.mass"),
        (unsprung[0], unsprung[1]),
        (radii[0], radii[1]),
    )
    found = {"car.front_share": Measured(at.front_share, share.sigma)}
    return found | ({} if height is None else {"car.cg_height": Measured(at.cg_height, height.sigma)})


WHOLE_CAR_STEPS = {"tyres": tyres, "heights": heights, "floor": floor, "corners": corners, "lift": lift}
"""Step → its sums."""
