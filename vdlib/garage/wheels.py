"""What the readings at the wheels say: camber, caster, toe, springs, bars and travel curves."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from ..car.keys import CORNERS, ENDS
from ..car.records import SIDES as SIDES_OF
from ..checks import InputError, Problem
from ..glossary import GLOSSARY
from ..trim.suspension import wheel_rate
from ..units import Array, Value, from_si, number, to_si
from . import tape as taped
from .alignment import camber_from_plumb, rim_difference, toe_from_strings
from .form import SIDES, STRINGS, TOE_UNITS
from .instruments import Measured, Tape, uniform
from .reckoning import GAUGE, Outcome, Reckoning, apart, coarse, line, mean, missed, named, pairs
from .roll_centre import with_links
from .travel_curves import UNKNOWN_BEND, TravelCurve, camber_curve, toe_curve
from .typed import RIM

USUAL_BAR = (0.80, 0.22, 0.6)
"""Length between the arms [m], lever arm [m], link's move over wheel's [-] of a usual bar: trade, no source."""
BAR_DOUBT = 0.4
"""How far a bar known by its diameter alone may lie off, as a part of it (one standard deviation); no source."""
PRINTED = 0.05
"""The most a printed spring rate may be off, as a part of it; common practice, no source."""


def camber(bench: Reckoning) -> Outcome:
    """Camber of each wheel and its mean at each axle, what it should be, and caster."""
    typed, out = bench.typed, dict[str, Measured]()
    lines: list[tuple[str, str]] = []
    questions: list[Problem] = []
    keys = [f"camber.{name}" for name in CORNERS]
    sigma = float(uniform(typed.get("camber.gauge", to_si(*GAUGE["camber"]))))
    if bench.chosen["camber.way"] == "degrees on a gauge":
        wheels = bench.side("camber", "camber", sigma)
        missing = bench.lacking(keys)
        questions += coarse(bench, keys, "cambers", "camber")
    else:
        plumbed = {f"setup.{name}.camber": _plumb(bench, name) for name in CORNERS}
        wheels = {path: found for path, found in plumbed.items() if found is not None}
        wanted = ["camber.height", *(f"{key}_{edge}" for key in keys for edge in ("top", "bottom"))]
        missing = bench.lacking(wanted)
    figures = {}
    for end in ENDS:
        pair_of = [wheels.get(f"setup.{end}_{side}.camber") for side in ("left", "right")]
        given = [m for m in pair_of if m is not None]
        if (should := typed.get(f"camber.{end}_reference")) is not None:
            figures[f"{end}.camber"] = should
        if given:
            values = [None if m is None else float(m.value) for m in pair_of]
            at = Measured(mean(values), max(float(m.sigma) for m in given))
            out[f"setup.{end}.camber"] = at
            lines.append(line("camber", f"{end} camber", at, 2))
            questions += apart("camber", f"{end} camber", *values)
            for value in values:
                if value is not None and should is not None:
                    questions += missed(f"{end} camber", value, should, float(to_si(2.0, "deg")), "deg", 1)
    casters = [typed.get("camber.caster_left"), typed.get("camber.caster_right")]
    if (middle := mean(casters)) is not None:
        out["setup.caster"] = Measured(middle, uniform(to_si(*GAUGE["caster"])))
        lines.append(line("caster", "", out["setup.caster"], 1))
        questions += apart("caster", "caster", *casters)
    return Outcome(out, {}, tuple(lines), tuple(questions), (), missing, wheels, figures)


def _plumb(bench: Reckoning, name: str) -> Measured | None:
    """Camber of one wheel from a plumb line; None while a reading is not there."""
    keys = (f"camber.{name}_top", f"camber.{name}_bottom", "camber.height")
    if not all(key in bench.typed for key in keys):
        return None
    top, bottom, height = (bench.typed[key] for key in keys)
    try:
        return camber_from_plumb(top, bottom, height, 0.0, bench.ruler)
    except InputError as fault:
        raise named(fault, SIDES[name]) from None


TOE_READ = {"deg": 0.05, "arcmin": 0.05, "mm": 0.05}
"""The most a print-out's or ruler's toe of one wheel may be off [deg]; common practice, no source."""


def toe(bench: Reckoning) -> Outcome:
    """Toe of each wheel and of each axle, and where the rear axle points."""
    way = bench.chosen["toe.read"]
    found = _strings(bench) if way == STRINGS else _each_wheel(bench, TOE_UNITS[way])
    should = {end: bench.typed.get(f"toe.{end}_reference") for end in ENDS}
    figures = {f"{end}.toe": value for end, value in should.items() if value is not None}
    return replace(found, figures=figures)


def _each_wheel(bench: Reckoning, unit: str) -> Outcome:
    """Toe typed wheel by wheel, from rulers or an alignment print-out."""
    ending = {"mm": "_mm", "deg": "", "arcmin": "_minutes"}[unit]
    keys = [f"toe.{name}{ending}" for name in CORNERS]
    wheels = bench.side("toe", "toe", float(to_si(uniform(TOE_READ[unit]), "deg")), ending)
    out: dict[str, Measured] = {}
    lines: list[tuple[str, str]] = []
    questions: list[Problem] = []
    if unit == "mm" and wheels and "toe.diameter" not in bench.typed:
        got = f"{from_si(RIM, 'mm'):.0f} mm is taken"
        remedy = "type the distance across the rim between the two places read"
        questions.append(
            Problem("rim edge to rim edge", got, "is not typed, and millimetres mean nothing without it", remedy)
        )
    for end in ENDS:
        pair = [wheels.get(f"setup.{end}_{side}.toe") for side in ("left", "right")]
        given = [m for m in pair if m is not None]
        if not given:
            continue
        values = [None if m is None else float(m.value) for m in pair]
        at = Measured(mean(values), max(float(m.sigma) for m in given) / np.sqrt(len(given)))
        out[f"setup.{end}.toe"] = at
        rim = from_si(float(rim_difference(at.value, bench.typed.get("toe.diameter", RIM))), "mm")
        across = f" = {number(abs(rim), 1)} toe-{'in' if rim >= 0 else 'out'} (mm at the rim)" if unit == "mm" else ""
        lines.append((f"{end} toe, each wheel, in positive", f"{at.words('deg', 2)}{across}"))
        left, right = values
        if left is not None and right is not None:
            if left * right < 0 and min(abs(left), abs(right)) > 2 * float(at.sigma):
                told = [
                    f"{s} {'in' if v > 0 else 'out'} {abs(from_si(v, 'deg')):.2f}°"
                    for s, v in (("left", left), ("right", right))
                ]
                remedy = "was one wheel's in and out mixed up? read that axle again"
                questions.append(
                    Problem(f"{end} toe", ", ".join(told), "is in on one side and out on the other", remedy)
                )
            else:
                questions += apart("toe", f"{end} toe", left, right)
            if end == "rear":
                thrust = from_si((right - left) / 2, "deg")
                side = "left" if thrust > 0 else "right"
                lines.append((f"rear axle points {side} by", f"{number(abs(thrust), 2)}°"))
    questions += coarse(bench, keys, "toe", "toe")
    return Outcome(out, {}, tuple(lines), tuple(questions), waiting=bench.lacking(keys), wheels=wheels)


def _strings(bench: Reckoning) -> Outcome:
    """Toe of each wheel and of each axle, thrust angle, from two strings."""
    typed = bench.typed
    edges = [[f"toe.{name}_{edge}" for name in CORNERS] for edge in ("ahead", "behind")]
    across = ("toe.diameter", "toe.front_width", "toe.rear_width")
    keys = [*edges[0], *edges[1], *across]
    if not all(key in typed for key in keys):
        return Outcome(waiting=bench.lacking(keys))
    size, *widths = (typed[key] for key in across)
    _rim_fits(bench, size)
    ahead, behind = (np.array([typed[key] for key in row]).reshape(2, 2) for row in edges)
    way = "widths" if bench.chosen["toe.way"] == "rim face to rim face" else "spacing"
    base = bench.known("car.wheelbase")
    more: dict[str, Any] = {way: (widths[0], widths[1])}
    found = toe_from_strings(ahead, behind, size, base, **more, ruler=bench.ruler, tape=bench.tape)
    out, lines = {}, []
    for i, end in enumerate(ENDS):
        total = Measured(float(found.total.value[i]), float(found.total.sigma[i]))
        out[f"setup.{end}.toe"] = Measured(total.value / 2, total.sigma / 2)
        in_or_out = "in" if total.value >= 0 else "out"
        rim = from_si(abs(float(rim_difference(total.value, size))), "mm")
        words = (
            f"{Measured(abs(total.value), total.sigma).words('deg', 2)} {in_or_out} = {number(rim, 1)} mm at the rim"
        )
        lines.append((f"{end} toe, both wheels together", words))
        each = ", ".join(number(v, 2, sign=True) for v in np.degrees(found.wheel.value[i]))
        lines.append((f"{end} left, right (toe-in positive)", f"{each}°"))
    for what, angle in (("rear axle points left by", found.thrust), ("front wheels point left by", found.steering)):
        lines.append((what, angle.words("deg", 2)))
    value, sigma = np.asarray(found.wheel.value), np.asarray(found.wheel.sigma)
    wheels = {
        f"setup.{name}.toe": Measured(float(value.reshape(4)[k]), float(sigma.reshape(4)[k]))
        for k, name in enumerate(CORNERS)
    }
    return Outcome(out, {}, tuple(lines), found.questions, wheels=wheels)


def _rim_fits(bench: Reckoning, size: float) -> None:
    wheel = 2 * min(bench.known("front.wheel_radius"), bench.known("rear.wheel_radius"))
    if size >= wheel:
        got, most = (f"{number(from_si(v, 'mm'), 0)} mm" for v in (size, wheel))
        remedy = "measure rim edge to rim edge again, not the tyre"
        raise InputError([Problem("rim edge to rim edge", got, f"must be below the tyre's own {most}", remedy)])


def springs(bench: Reckoning) -> Outcome:
    """Spring rate, motion ratio and anti-roll bar of each axle."""
    out: dict[str, Measured] = {}
    lines: list[tuple[str, str]] = []
    questions: list[Problem] = []
    missing: tuple[str, ...] = ()
    for end in ENDS:
        try:
            missing += _spring(bench, end, out) + _ratio(bench, end, out, questions) + _bar(bench, end, out)
        except InputError as fault:
            raise named(fault, end) from None
        questions += _bounce(bench, end, out)
        for key, path, digits in (
            ("spring", f"setup.{end}.spring", 1),
            ("motion_ratio", f"{end}.motion_ratio", 3),
            ("bar", f"setup.{end}.bar", 0),
        ):
            if path in out:
                lines.append(line(key, f"{end} {GLOSSARY[key].name}", out[path], digits))
    return Outcome(out, {}, tuple(lines), tuple(questions), waiting=missing)


BOUNCE = (1.0, 3.5)
"""Bounce frequencies between which cars driven on roads and tracks lie; common practice, no source [Hz]."""


def bounce(spring: Value, ratio: Value, mass: Value) -> Any:
    """Return the bounce frequency of one corner: ``√(k·MR²/m)/(2π)``.

    Parameters:
        spring: spring rate, any shape [N/m]
        ratio: spring movement over wheel movement [-]
        mass: sprung mass on this corner [kg]

    Returns:
        frequency [1/s]

    Validity: tyre and damper left out; a stop or bar too.
    Source: one mass on one spring.
    """
    return np.sqrt(wheel_rate(spring, ratio) / mass) / (2 * np.pi)


def _bounce(bench: Reckoning, end: str, out: dict[str, Measured]) -> list[Problem]:
    """A question where a spring is far from what carries this corner's mass, and what it would be in the other unit."""
    if f"setup.{end}.spring" not in out:
        return []
    rate, ratio = float(out[f"setup.{end}.spring"].value), bench.known(f"{end}.motion_ratio")
    mass, whose = _carried(bench, end)
    here = float(bounce(rate, ratio, mass))
    if BOUNCE[0] <= here <= BOUNCE[1]:
        return []
    factor = to_si(1.0, "lbf_per_in") / to_si(1.0, "N_per_mm")
    other = {
        f"{number(from_si(rate, 'N_per_mm'), 0)} lb/in": rate * factor,
        f"{number(from_si(rate, 'lbf_per_in'), 0)} N/mm": rate / factor,
    }
    fits = [
        f"as {words} it would be {number(float(bounce(k, ratio, mass)), 1)} Hz"
        for words, k in other.items()
        if BOUNCE[0] <= bounce(k, ratio, mass) <= BOUNCE[1]
    ]
    remedy = f"was it typed in the other unit? {fits[0]}" if fits else "read the spring again, and its motion ratio"
    got = f"{number(from_si(rate, 'N_per_mm'), 0)} N/mm, {number(here, 1)} Hz with {whose}"
    return [Problem(f"{end} spring", got, f"should bounce at {BOUNCE[0]:.1f} to {BOUNCE[1]:.1f} Hz", remedy)]


def _carried(bench: Reckoning, end: str) -> tuple[float, str]:
    """Mass that one spring of an axle carries, from the scales where they are typed, and in words whose it is [kg]."""
    wheel = bench.known(f"{end}.unsprung_mass") / 2
    scale = mean([bench.typed.get(f"corners.{end}_{side}") for side in SIDES_OF])
    if scale is not None and scale > 2 * wheel:
        return scale - wheel, f"the {scale:.0f} kg of its scale, less {wheel:.0f} kg for wheel and hub"
    share = bench.known("car.front_share") if end == "front" else 1 - bench.known("car.front_share")
    mass = bench.typed.get("corners.known_mass", bench.known("car.mass")) * share / 2 - wheel
    return mass, f"the {mass:.0f} kg that it usually carries (no corner scale typed yet)"


def _spring(bench: Reckoning, end: str, out: dict[str, Measured]) -> tuple[str, ...]:
    typed = bench.typed
    if bench.chosen["springs.way"] == "printed on the spring":
        if (rate := typed.get(f"springs.{end}_rate")) is not None:
            out[f"setup.{end}.spring"] = Measured(rate, uniform(PRINTED * rate))
        return ()
    keys, loads, lengths = pairs(bench, f"springs.{end}_load", f"springs.{end}_length", (1, 2, 3))
    if len(loads) >= 2:
        out[f"setup.{end}.spring"] = taped.spring_rate(loads, lengths, bench.scale, bench.ruler).value
    return bench.lacking(keys)


def _ratio(bench: Reckoning, end: str, out: dict[str, Measured], questions: list[Problem]) -> tuple[str, ...]:
    keys, wheel, spring = pairs(bench, f"springs.{end}_wheel", f"springs.{end}_spring", (1, 2))
    if len(wheel):
        start = np.zeros(1)
        found = taped.motion_ratio(np.concatenate([start, wheel]), np.concatenate([start, spring]), bench.ruler)
        out[f"{end}.motion_ratio"] = found.value
        questions += [Problem(f"{end} {p.field}", p.value, p.rule, p.remedy) for p in found.questions]
        off, most = (from_si(v, "mm") for v in (np.abs(found.residuals).max(), 5 * float(bench.ruler.sigma())))
        if off > most:
            rule, remedy = f"should be within {most:.1f} mm", "read both travels again; are two boxes swapped?"
            questions.append(Problem(f"{end} motion ratio", f"{off:.1f} mm off the straight line", rule, remedy))
    return bench.lacking(keys)


def _bar(bench: Reckoning, end: str, out: dict[str, Measured]) -> tuple[str, ...]:
    said = bench.chosen[f"springs.{end}_bar"]
    if said == "no bar":
        out[f"setup.{end}.bar"] = Measured(0.0, 0.0)
    if said == "diameter only" and (thick := bench.typed.get(f"springs.{end}_diameter")) is not None:
        usual = taped.bar_of(thick, USUAL_BAR[0], USUAL_BAR[1], USUAL_BAR[2], bench.track(end))
        out[f"setup.{end}.bar"] = Measured(float(usual.value), BAR_DOUBT * float(usual.value))
    if said != "sizes below":
        return ()
    keys = [f"springs.{end}_{what}" for what in ("diameter", "straight", "arm", "link")]
    if all(key in bench.typed for key in keys):
        sizes = [bench.typed[key] for key in keys]
        track = bench.track(end)
        bore = bench.typed.get(f"springs.{end}_bore", 0.0)
        out[f"setup.{end}.bar"] = taped.bar_of(sizes[0], sizes[1], sizes[2], sizes[3], track, bore)
    return bench.lacking(keys)


def curves(bench: Reckoning) -> Outcome:
    """Toe and camber change with travel at each axle; as the car stands is the first reading."""
    out: dict[str, Measured] = {}
    lines: list[tuple[str, str]] = []
    questions: list[Problem] = []
    missing: tuple[str, ...] = ()
    size = bench.typed.get("toe.diameter")
    for end in ENDS:
        now, rest = bench.known(f"setup.{end}.height"), bench.known(f"{end}.reference_height")
        for what in ("toe", "camber"):
            keys, moves, read = pairs(bench, f"curves.{end}_move", f"curves.{end}_{what}", (1, 2))
            missing += bench.lacking(keys)
            first = bench.found.get(f"setup.{end}.{what}")
            if not len(moves):
                continue
            if first is None or (what == "toe" and size is None):
                missing += (f"{end} {what} as it stands",)
                continue
            if what == "toe" and size is not None:
                read, sigma = np.arcsin(read / size) / 2, float(bench.ruler.sigma()) / size
            else:
                sigma = float(first.sigma)
            places = np.concatenate([[now], now + moves])
            angles = np.concatenate([[first.value], read])
            try:
                found = _curve(bench, what, places, angles, rest, sigma)
            except InputError as fault:
                raise named(fault, end) from None
            questions += [Problem(f"{end}, {p.field}", p.value, p.rule, p.remedy) for p in found.questions]
            _keep_curve(end, what, found, out, lines)
    found_so = Outcome(out, {}, tuple(lines), tuple(questions), waiting=tuple(dict.fromkeys(missing)))
    return with_links(bench, found_so)


def _curve(bench: Reckoning, what: str, places: Array, angles: Array, rest: float, sigma: float) -> TravelCurve:
    """Fit a curve; a straight line through the outermost readings where a bend cannot be told from none."""
    found = _fitted(what, tuple(places), tuple(angles), rest, sigma, bench.tape)
    if found.bend is None or float(found.bend.sigma) < float(uniform(UNKNOWN_BEND[what])):
        return found
    ends = [int(np.argmin(places)), int(np.argmax(places))]
    straight = _fitted(what, tuple(places[ends]), tuple(angles[ends]), rest, sigma, bench.tape)
    return replace(straight, questions=found.questions)


@lru_cache(maxsize=16)
def _fitted(
    what: str, places: tuple[float, ...], angles: tuple[float, ...], rest: float, sigma: float, tape: Tape
) -> TravelCurve:
    """One curve, kept for as long as readings of other steps are typed."""
    return (toe_curve if what == "toe" else camber_curve)(places, angles, rest, sigma, tape)


def _keep_curve(end: str, what: str, found: TravelCurve, out: dict[str, Measured], lines: list[Any]) -> None:
    out[f"{end}.{what}_slope"] = found.slope
    lines.append((f"{end} {what} change with bump", found.slope.words("deg_per_m", 1)))
    if what == "toe" and found.bend is not None:
        out[f"{end}.toe_bend"] = found.bend
        lines.append((f"{end} bend of the toe curve", found.bend.words("deg_per_m2", 0)))


WHEEL_STEPS = {"camber": camber, "toe": toe, "springs": springs, "curves": curves}
"""Step → its sums."""
