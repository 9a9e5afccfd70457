"""What tape, gauge and scales say of the whole car: pressures, heights, floor, corner weights, axle lift."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..car.keys import CORNERS, ENDS
from ..checks import Problem
from ..trim.suspension import wheel_rate
from ..units import from_si, number, to_si
from . import tape as taped
from .axle_lift import lifted_height
from .instruments import Measured, measured, uniform
from .reckoning import GAUGE, Outcome, Reckoning, apart, line, mean
from .scales import floor_effect, to_reference, weigh_corners

WEIGHED, STANDING = "weighed.front_share", "standing.cg_height"
"""Numbers found at the heights as they stand, before they are taken to the reference heights."""


def tyres(bench: Reckoning) -> Outcome:
    """Mean pressure of each axle."""
    out: dict[str, Measured] = {}
    lines, questions = [], []
    four = bench.four("tyres")
    for end, pair in zip(ENDS, (four[:2], four[2:]), strict=True):
        if (middle := mean(pair)) is not None:
            limit, unit = GAUGE["pressure"]
            out[f"setup.{end}.pressure"] = at = Measured(middle, uniform(to_si(limit, unit)))
            lines.append(line("pressure", f"{end} pressure", at, 2))
            questions += apart("tyres", f"{end} tyre pressures", *pair)
    keys = [f"tyres.{name}" for name in CORNERS]
    return Outcome(out, {}, tuple(lines), tuple(questions), waiting=bench.lacking(keys))


def heights(bench: Reckoning) -> Outcome:
    """Ride heights at the axle lines, reference heights, nose-high, wheel centres and wheelbase."""
    typed, out = bench.typed, dict[str, Measured]()
    assumed: dict[str, Measured] = {}
    lines: list[tuple[str, str]] = []
    questions: list[Problem] = []
    for end in ENDS:
        if (radius := typed.get(f"heights.{end}_wheel")) is not None:
            out[f"{end}.wheel_radius"] = measured(radius, bench.tape.sigma)
    if "heights.wheelbase" in typed:
        out["car.wheelbase"] = measured(typed["heights.wheelbase"], bench.tape.sigma)
        lines.append(line("wheelbase", "", out["car.wheelbase"], 0))
    four = bench.four("heights")
    for end, pair in zip(ENDS, (four[:2], four[2:]), strict=True):
        questions += apart("heights", f"{end} heights", *pair)
    front, rear = mean(four[:2]), mean(four[2:])
    sizes = ["heights.wheelbase", "heights.front_point", "heights.rear_point"]
    names = [f"heights.{name}" for name in CORNERS]
    references = ["heights.front_reference", "heights.rear_reference"]
    if front is not None and rear is not None and all(key in typed for key in sizes):
        base, one, two = (typed[key] for key in sizes)
        wanted = (typed[references[0]], typed[references[1]]) if all(key in typed for key in references) else None
        found = taped.ride_heights(front, rear, one, two, base, wanted, bench.tape)
        questions += found.questions
        out |= {"setup.front.height": found.front, "setup.rear.height": found.rear}
        lines += [line("height", f"{end} ride height, at the axle line", getattr(found, end), 1) for end in ENDS]
        if wanted is not None and found.nose_high is not None:
            at = taped.reference_heights(wanted, one, two, base)
            out |= {f"{end}.reference_height": Measured(h, 0.0) for end, h in zip(ENDS, at, strict=True)}
            way = "nose-high" if found.nose_high.value >= 0 else "nose-low"
            size = Measured(abs(found.nose_high.value), found.nose_high.sigma)
            lines.append((f"{way}, at the axle lines", size.words("mm", 1)))
        else:
            remedy = "ask the maker, or the workshop from before the repair; until then as it stands is the reference"
            questions.append(Problem("reference heights", "", "are not typed, so nose-high cannot be told", remedy))
            assumed = {f"{end}.reference_height": getattr(found, end) for end in ENDS}
    waiting = bench.lacking([*sizes, *names]) + bench.lacking(references)
    return Outcome(out, assumed, tuple(lines), tuple(questions), waiting=waiting)


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
    rises, readings = (np.array([typed[pair[k]] for pair in used]) for k in (0, 1))
    rate = bench.known(f"{stays}.tyre_rate")
    mass = bench.found["car.mass"]
    found = lifted_height(mass, base, level, rises, readings, radii[0], radii[1], bench.scale, bench.tape, rate)
    each = ", ".join(number(from_si(float(h), "mm"), 0) for h in found.each)
    lines = (
        line("cg_height", "height of the centre of gravity, as it stands", found.cg_height, 0),
        ("each lift alone says", f"{each} mm"),
        ("car tipped by", f"{', '.join(number(a, 1) for a in np.degrees(found.angle))}°"),
    )
    return Outcome({STANDING: found.cg_height}, {}, lines, found.questions, waiting=missing)


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
