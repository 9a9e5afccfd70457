"""An invented day in the garage: what somebody would have typed who measured one of the example cars."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ..car.carfile import CarFile
from ..car.keys import CORNERS, ENDS
from ..car.records import Axle, AxleSetup, Car, Setup
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
    day = _Day(file, seed)
    for step in (day.tyres, day.heights, day.scales, day.camber, day.toe, day.springs_and_stops):
        step()
    return Readings(NAME, day.typed | WORDS, _chosen(file), True)


class _Day:
    """Who measures: each step of the form is one method, in the order in which chance is drawn."""

    def __init__(self, file: CarFile, seed: int | None) -> None:
        """Take the tools along."""
        self.chance = None if seed is None else np.random.default_rng(seed)
        self.car, self.setup = file.car, file.setup
        self.now = as_it_stands(file.car, file.setup)
        self.axles, self.setups = (file.car.front, file.car.rear), (file.setup.front, file.setup.rear)
        self.tape, self.rule, self.scale = Tape(), float(Ruler().sigma()), Scale()
        self.toes = standing_toe(file.car, file.setup)
        self.lean = [
            float(s.camber + a.camber_slope * (s.aligned_height - s.height))
            for s, a in zip(self.setups, self.axles, strict=True)
        ]
        self.typed = {"start.division": "0.5", "tyres.cold_air": "15", "adjust.thread": "1.5"}
        self.typed |= {"floor.step": "0" if seed is None else "1"}
        self.typed |= {f"adjust.{end}_hole": "2 of 3" for end in ENDS}
        self.typed |= {f"adjust.{name}_clicks": "8" for name in CORNERS}

    def put(self, key: str, value: Any, unit: str, sigma: float, mark: float) -> None:
        """Write one reading; sigma in SI, mark in the unit."""
        off = 0.0 if self.chance is None else sigma * self.chance.uniform(-1, 1)  # rounding adds the rest
        shown = float(from_si(float(value) + off, unit))
        text = f"{shown:.9f}" if self.chance is None else f"{round(shown / mark) * mark:.3f}"
        self.typed[key] = text.rstrip("0").rstrip(".") if "." in text else text

    def put_toe(self, key: str, value: Any, unit: str, mark: float) -> None:
        """Write a toe without error, with the word in or out behind it."""
        self.put(key, value, unit, 0.0, mark)
        self.typed[key] = _in_or_out(self.typed[key])

    def by_tape(self, key: str, value: Any) -> None:
        """Write what the tape says."""
        self.put(key, value, "mm", float(self.tape.sigma(value)), 1.0)

    def by_rule(self, key: str, value: Any, mark: float = 0.5) -> None:
        """Write what the rule says."""
        self.put(key, value, "mm", self.rule, mark)

    def on_scale(self, key: str, load: Any, scales: int = 1) -> None:
        """Write a load, held by one scale or shared by more."""
        self.put(key, load, "kg", float(self.scale.sigma(load / scales)), 0.5)

    def tyres(self) -> None:
        """Pressures and tread."""
        for name, own in zip(CORNERS, _each_twice(self.setups), strict=True):
            self.put(f"tyres.{name}", own.pressure, "bar", 2000.0, 0.05)
            self.put(f"tyres.{name}_cold", own.pressure - RISE, "bar", 2000.0, 0.05)
            for place, worn in (("outer", 5.0e-3), ("middle", 5.4e-3), ("inner", 4.6e-3)):
                self.put(f"tyres.{name}_{place}", worn, "mm", 0.0, 0.1)
        for end, own in zip(ENDS, self.setups, strict=True):
            self.put(f"tyres.{end}_reference", own.pressure - RISE, "bar", 0.0, 0.05)

    def heights(self) -> None:
        """Heights, wheelbase, wheels and tracks, all by tape."""
        front, rear, front_due, rear_due = height_readings(self.car, self.setup, POINTS)
        self.by_tape("heights.wheelbase", float(self.car.wheelbase))
        for key, value in zip(("front_point", "rear_point"), POINTS, strict=True):
            self.by_tape(f"heights.{key}", value)
        for name, height in zip(CORNERS, (front, front, rear, rear), strict=True):
            self.by_tape(f"heights.{name}", height)
        self.put("heights.front_reference", front_due, "mm", 0.0, 1.0)
        self.put("heights.rear_reference", rear_due, "mm", 0.0, 1.0)
        for end, axle in zip(ENDS, self.axles, strict=True):
            self.by_tape(f"heights.{end}_wheel", axle.wheel_radius)
            self.by_tape(f"corners.{end}_track", axle.track)

    def scales(self) -> None:
        """Corner weights, and the front's with the rear axle raised."""
        for name, load in zip(CORNERS, corner_readings(self.now, self.setup), strict=True):
            self.on_scale(f"corners.{name}", load)
        level, lifted = lift_readings(self.now, np.array(_RISES))
        self.on_scale("lift.level", level, scales=2)
        for i, (rise, load) in enumerate(zip(_RISES, lifted, strict=True), 1):
            self.by_tape(f"lift.rise_{i}", rise)
            self.on_scale(f"lift.reading_{i}", load, scales=2)

    def camber(self) -> None:
        """Camber by gauge and by plumb line, caster."""
        height = 0.38
        self.by_rule("camber.height", height)
        for name, lean in zip(CORNERS, np.repeat(self.lean, 2), strict=True):
            self.put(f"camber.{name}", lean, "deg", np.radians(0.05), 0.1)
            self.by_rule(f"camber.{name}_bottom", 0.05)
            self.by_rule(f"camber.{name}_top", 0.05 - height * np.sin(lean))
        for side in ("left", "right"):
            self.put(f"camber.caster_{side}", self.setup.caster, "deg", np.radians(0.15), 0.1)

    def toe(self) -> None:
        """Toe in three units, and by strings; what it should be."""
        for end, lean, angle in zip(ENDS, self.lean, self.toes, strict=True):
            self.put(f"camber.{end}_reference", lean, "deg", 0.0, 0.1)
            self.put_toe(f"toe.{end}_reference", angle, "deg", 0.01)
        for name, angle in zip(CORNERS, np.repeat(self.toes, 2), strict=True):
            self.put_toe(f"toe.{name}", angle, "deg", 0.01)
            self.put_toe(f"toe.{name}_minutes", angle, "arcmin", 1.0)
            self.put_toe(f"toe.{name}_mm", _RIM * np.sin(angle), "mm", 0.1)
        widths = (float(self.car.front.track) + _WIDER, float(self.car.rear.track) + _WIDER)
        lines = ((0.93, 0.90), (0.91, 0.92))
        both = np.repeat(self.toes[:, None], 2, axis=1)
        ahead, behind, _ = string_readings(both, _RIM, float(self.car.wheelbase), widths, lines)
        for name, one, two in zip(CORNERS, ahead.ravel(), behind.ravel(), strict=True):
            self.by_rule(f"toe.{name}_ahead", one)
            self.by_rule(f"toe.{name}_behind", two)
        self.by_rule("toe.diameter", _RIM, 1.0)
        for end, width in zip(ENDS, widths, strict=True):
            self.by_tape(f"toe.{end}_width", width)

    def springs_and_stops(self) -> None:
        """Springs, levers, bars, curves and stops of each axle in turn."""
        for end, axle, own, lean, angle in zip(ENDS, self.axles, self.setups, self.lean, self.toes, strict=True):
            self.spring(end, axle, own)
            self.bar(end, axle, own)
            self.curves(end, axle, own, float(lean), float(angle))
            self.stops(end, axle, own)

    def spring(self, end: str, axle: Axle, own: AxleSetup) -> None:
        """Pressed on a scale, and beside the wheel as it moves."""
        rate = float(own.spring)
        self.put(f"springs.{end}_rate", rate, "N_per_mm", 0.0, 1.0)
        for i, load in enumerate(_PRESS, 1):
            self.on_scale(f"springs.{end}_load_{i}", load)
            self.by_rule(f"springs.{end}_length_{i}", 0.28 - load * G / rate)
        for i, up in enumerate(_WHEEL, 1):
            self.by_rule(f"springs.{end}_wheel_{i}", up)
            self.by_rule(f"springs.{end}_spring_{i}", float(axle.motion_ratio) * up)

    def bar(self, end: str, axle: Axle, own: AxleSetup) -> None:
        """A solid bar of the stiffness that the car has."""
        arm, straight, link = 0.20, 0.75, 0.8
        thick = (float(own.bar) * 32 * straight / (np.pi * 80e9 * (link / arm) ** 2 * axle.track**2)) ** 0.25
        self.put(f"springs.{end}_diameter", thick, "mm", 3e-5, 0.1)
        self.put(f"springs.{end}_straight", straight, "mm", 5e-4, 1.0)
        self.put(f"springs.{end}_arm", arm, "mm", 5e-4, 1.0)
        self.put(f"springs.{end}_bore", 0.0, "mm", 0.0, 1.0)
        self.put(f"springs.{end}_link", link, "number", 0.0, 0.1)

    def curves(self, end: str, axle: Axle, own: AxleSetup, lean: float, angle: float) -> None:
        """Toe and camber with the body raised and lowered."""
        for i, move in enumerate(_MOVES, 1):
            curve = (axle.reference_height, axle.toe_slope, axle.toe_bend)
            there = static_toe(angle, own.height + move, own.height, *curve)
            self.put(f"curves.{end}_move_{i}", move, "mm", 0.0, 1.0)
            self.put(f"curves.{end}_toe_{i}", _RIM * np.sin(2 * there), "mm", 2 * self.rule, 0.5)
            self.put(f"curves.{end}_camber_{i}", lean - axle.camber_slope * move, "deg", np.radians(0.05), 0.1)

    def stops(self, end: str, axle: Axle, own: AxleSetup) -> None:
        """What is left to the bump stops, the drop to full length, and the tie slid down the shaft."""
        ratio, rise = float(axle.motion_ratio), float(own.height - axle.reference_height)
        self.by_rule(f"stops.{end}_shaft", ratio * (axle.bump_gap + rise))
        self.by_tape(f"stops.{end}_drop", axle.droop_gap - rise)
        for side in ("left", "right"):
            self.by_rule(f"stops.{end}_{side}_tie", max(0.0, ratio * (axle.bump_gap + rise - 0.03)), 1.0)


def _each_twice(ends: tuple[AxleSetup, AxleSetup]) -> tuple[AxleSetup, ...]:
    return ends[0], ends[0], ends[1], ends[1]


def _chosen(file: CarFile) -> dict[str, str]:
    kinds = file.known.kinds or Kinds()
    driven = {0.0: "rear", 1.0: "front"}.get(float(file.car.drive_front), "as the start car")
    return {
        "start.from": f"{EXAMPLE}{'hatch' if 'hatch' not in file.car.name else 'coupe'}",
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
