"""An invented day in the garage: what somebody would have typed who measured one of the example cars."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ..car.carfile import CarFile
from ..car.keys import CORNERS, ENDS
from ..car.records import Car, Setup
from ..car.typical import Kinds
from ..trim.suspension import static_toe
from ..units import G, from_si
from .form import KIND_AT, SILL, STRINGS
from .form_fields import FINE, LOOK
from .instruments import Ruler, Scale, Tape
from .readings import corner_readings, height_readings, lift_readings, standing_toe, string_readings
from .typed import EXAMPLE, Readings
from .whole_car import RISE

NAME = "Invented day"
POINTS = (0.30, 2.10)
"""Distance of the two measuring points behind the front axle [m]."""
_RIM = 0.42
_WIDER = 0.19
_PRESS, _WHEEL, _MOVES, _RISES = (60.0, 140.0, 220.0), (0.030, 0.060), (0.025, -0.025), (0.30, 0.45, 0.60)


WORDS = {
    "start.km": "61 400",
    "start.contact": "invented",
    "start.event": "an invented track day",
    "felt.words": "In the long right, foot just lifted, the rear came round.",
    "felt.corner": "the long right",
    "felt.speed": "95",
    "felt.since": "since the springs were done",
    "felt.work": "new springs, front spacers",
    "look.note": "nothing found",
    "tyres.make": "invented, three years old",
}
"""Words of the day."""


def _in_or_out(text: str) -> str:
    """Write a signed toe as people do."""
    plain = text.replace("\u2212", "-")
    return f"{plain.lstrip('-')} {'out' if plain.startswith('-') else 'in'}"


def as_it_stands(car: Car, setup: Setup) -> Car:
    """Return the car with front share and height of the centre of gravity as they are at its present ride heights.

    Parameters:
        car: the car, its numbers true at the reference heights [-]
        setup: the setup, with its ride heights [-]

    Returns:
        a ``Car`` [-]

    Validity: the wheels stay, the body moves as one stiff piece, its points over the axles straight up and down.

    Source: own derivation, a turn of the sprung mass in the side view.
    """
    rises = [float(s.height - a.reference_height) for s, a in ((setup.front, car.front), (setup.rear, car.rear))]
    base, mass = float(car.wheelbase), float(car.mass)
    wheels = [(0.0, float(car.front.wheel_radius)), (-base, float(car.rear.wheel_radius))]
    unsprung = [float(car.front.unsprung_mass), float(car.rear.unsprung_mass)]
    still = np.sum([m * np.array(at) for m, at in zip(unsprung, wheels, strict=True)], axis=0)
    whole = np.array([-base * (1 - float(car.front_share)), float(car.cg_height)])
    body = (mass * whole - still) / (mass - sum(unsprung))
    angle, pivot = np.arctan((rises[0] - rises[1]) / base), np.array(wheels[0])
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    moved = pivot + (0.0, rises[0]) + turn @ (body - pivot)
    now = (still + (mass - sum(unsprung)) * moved) / mass
    return replace(car, front_share=float(1 + now[0] / base), cg_height=float(now[1]))


def invented_day(file: CarFile, seed: int | None = 1) -> Readings:
    """Return readings of an example car as typed, each off by what the tools may be wrong, and rounded to their marks.

    Parameters:
        file: the car that is measured [-]
        seed: which day; None for readings without error, to many digits [-]

    Returns:
        ``Readings`` marked as invented [-]
    """
    chance = None if seed is None else np.random.default_rng(seed)
    typed: dict[str, str] = {}

    def put(key: str, value: Any, unit: str, sigma: float, mark: float) -> None:
        """Write one reading; sigma in SI, mark in the unit."""
        off = 0.0 if chance is None else sigma * chance.uniform(-1, 1)  # rounding adds the rest
        shown = float(from_si(float(value) + off, unit))
        text = f"{shown:.9f}" if chance is None else f"{round(shown / mark) * mark:.3f}"
        typed[key] = text.rstrip("0").rstrip(".") if "." in text else text

    car, setup, tape, ruler, scale = file.car, file.setup, Tape(), Ruler(), Scale()

    def tape_at(key: str, value: Any) -> None:
        put(key, value, "mm", float(tape.sigma(value)), 1.0)

    rule = float(ruler.sigma())
    axles, setups = (car.front, car.rear), (setup.front, setup.rear)
    now = as_it_stands(car, setup)

    typed["start.division"] = "0.5"
    for name, own in zip(CORNERS, np.repeat(np.array(setups, dtype=object), 2), strict=True):
        put(f"tyres.{name}", own.pressure, "bar", 2000.0, 0.05)
        put(f"tyres.{name}_cold", own.pressure - RISE, "bar", 2000.0, 0.05)
        for place, worn in (("outer", 5.0e-3), ("middle", 5.4e-3), ("inner", 4.6e-3)):
            put(f"tyres.{name}_{place}", worn, "mm", 0.0, 0.1)
    typed["tyres.cold_air"] = "15"
    for end, own in zip(ENDS, setups, strict=True):
        put(f"tyres.{end}_reference", own.pressure - RISE, "bar", 0.0, 0.05)
    typed["floor.step"] = "0" if chance is None else "1"

    base = float(car.wheelbase)
    front, rear, front_due, rear_due = height_readings(car, setup, POINTS)
    tape_at("heights.wheelbase", base)
    for key, value in zip(("front_point", "rear_point"), POINTS, strict=True):
        tape_at(f"heights.{key}", value)
    for name, height in zip(CORNERS, (front, front, rear, rear), strict=True):
        tape_at(f"heights.{name}", height)
    put("heights.front_reference", front_due, "mm", 0.0, 1.0)
    put("heights.rear_reference", rear_due, "mm", 0.0, 1.0)
    for end, axle in zip(ENDS, axles, strict=True):
        tape_at(f"heights.{end}_wheel", axle.wheel_radius)
        tape_at(f"corners.{end}_track", axle.track)

    for name, load in zip(CORNERS, corner_readings(now, setup), strict=True):
        put(f"corners.{name}", load, "kg", float(scale.sigma(load)), 0.5)
    level, lifted = lift_readings(now, np.array(_RISES))
    put("lift.level", level, "kg", float(scale.sigma(level / 2)), 0.5)
    for i, (rise, load) in enumerate(zip(_RISES, lifted, strict=True), 1):
        tape_at(f"lift.rise_{i}", rise)
        put(f"lift.reading_{i}", load, "kg", float(scale.sigma(load / 2)), 0.5)

    camber = [
        float(s.camber + a.camber_slope * (s.aligned_height - s.height)) for s, a in zip(setups, axles, strict=True)
    ]
    height = 0.38
    put("camber.height", height, "mm", rule, 0.5)
    for name, lean in zip(CORNERS, np.repeat(camber, 2), strict=True):
        put(f"camber.{name}", lean, "deg", np.radians(0.05), 0.1)
        put(f"camber.{name}_bottom", 0.05, "mm", rule, 0.5)
        put(f"camber.{name}_top", 0.05 - height * np.sin(lean), "mm", rule, 0.5)
    for side in ("left", "right"):
        put(f"camber.caster_{side}", setup.caster, "deg", np.radians(0.15), 0.1)

    toe = standing_toe(car, setup)
    for end, lean, angle in zip(ENDS, camber, toe, strict=True):
        put(f"camber.{end}_reference", lean, "deg", 0.0, 0.1)
        put(f"toe.{end}_reference", angle, "deg", 0.0, 0.01)
        typed[f"toe.{end}_reference"] = _in_or_out(typed[f"toe.{end}_reference"])
    for name, angle in zip(CORNERS, np.repeat(toe, 2), strict=True):
        for ending, size, unit, mark in (
            ("", angle, "deg", 0.01),
            ("_minutes", angle, "arcmin", 1.0),
            ("_mm", _RIM * np.sin(angle), "mm", 0.1),
        ):
            put(f"toe.{name}{ending}", size, unit, 0.0, mark)
            typed[f"toe.{name}{ending}"] = _in_or_out(typed[f"toe.{name}{ending}"])
    widths = (float(car.front.track) + _WIDER, float(car.rear.track) + _WIDER)
    lines = ((0.93, 0.90), (0.91, 0.92))
    ahead, behind, _ = string_readings(np.repeat(toe[:, None], 2, axis=1), _RIM, base, widths, lines)
    for name, one, two in zip(CORNERS, ahead.ravel(), behind.ravel(), strict=True):
        put(f"toe.{name}_ahead", one, "mm", rule, 0.5)
        put(f"toe.{name}_behind", two, "mm", rule, 0.5)
    put("toe.diameter", _RIM, "mm", rule, 1.0)
    for end, width in zip(ENDS, widths, strict=True):
        tape_at(f"toe.{end}_width", width)

    for end, axle, own, lean, angle in zip(ENDS, axles, setups, camber, toe, strict=True):
        rate, ratio, rise = float(own.spring), float(axle.motion_ratio), float(own.height - axle.reference_height)
        put(f"springs.{end}_rate", rate, "N_per_mm", 0.0, 1.0)
        for i, load in enumerate(_PRESS, 1):
            put(f"springs.{end}_load_{i}", load, "kg", float(scale.sigma(load)), 0.5)
            put(f"springs.{end}_length_{i}", 0.28 - load * G / rate, "mm", rule, 0.5)
        for i, up in enumerate(_WHEEL, 1):
            put(f"springs.{end}_wheel_{i}", up, "mm", rule, 0.5)
            put(f"springs.{end}_spring_{i}", ratio * up, "mm", rule, 0.5)
        arm, straight, link = 0.20, 0.75, 0.8
        thick = (float(own.bar) * 32 * straight / (np.pi * 80e9 * (link / arm) ** 2 * axle.track**2)) ** 0.25
        for what, size, tool, mark in (
            ("diameter", thick, 3e-5, 0.1),
            ("straight", straight, 5e-4, 1.0),
            ("arm", arm, 5e-4, 1.0),
        ):
            put(f"springs.{end}_{what}", size, "mm", tool, mark)
        put(f"springs.{end}_bore", 0.0, "mm", 0.0, 1.0)
        put(f"springs.{end}_link", link, "number", 0.0, 0.1)
        for i, move in enumerate(_MOVES, 1):
            curve = (axle.reference_height, axle.toe_slope, axle.toe_bend)
            there = static_toe(float(angle), own.height + move, own.height, *curve)
            put(f"curves.{end}_move_{i}", move, "mm", 0.0, 1.0)
            put(f"curves.{end}_toe_{i}", _RIM * np.sin(2 * there), "mm", 2 * rule, 0.5)
            put(f"curves.{end}_camber_{i}", lean - axle.camber_slope * move, "deg", np.radians(0.05), 0.1)
        put(f"stops.{end}_shaft", ratio * (axle.bump_gap + rise), "mm", rule, 0.5)
        tape_at(f"stops.{end}_drop", axle.droop_gap - rise)

        for side in ("left", "right"):
            left = max(0.0, ratio * (axle.bump_gap + rise - 0.03))
            put(f"stops.{end}_{side}_tie", left, "mm", rule, 1.0)
        typed[f"adjust.{end}_hole"] = "2 of 3"
    typed["adjust.thread"] = "1.5"
    typed |= {f"adjust.{name}_clicks": "8" for name in CORNERS} | WORDS

    kinds = file.known.kinds or Kinds()
    driven = {0.0: "rear", 1.0: "front"}.get(float(car.drive_front), "as the start car")
    chosen = {
        "start.from": f"{EXAMPLE}{'hatch' if 'hatch' not in car.name else 'coupe'}",
        "start.driven": driven,
        **{key: getattr(kinds, part) for key, part in KIND_AT.items()},
        "floor.driver": "in the seat",
        "heights.way": SILL,
        "toe.read": STRINGS,
        "felt.phase": "foot just lifted",
        "adjust.seats": "threaded, all four",
        "adjust.camber": "shims",
        "adjust.rear_toe": "adjustable",
        **{f"look.{key}": FINE for key in LOOK},
        "corners.bars": "unhooked",
        "springs.front_bar": "sizes below",
        "springs.rear_bar": "sizes below",
    }
    return Readings(NAME, typed, chosen, True)
