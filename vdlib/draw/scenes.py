"""Which picture belongs to which word of workbook 1, and what in it moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.carfile import CarFile
from ..car.records import attitude
from ..lessons import simple
from ..lessons.bicycle import neutral_point, understeer_gradient
from ..units import G, to_si
from . import term_poses as poses
from .term_poses import EXTRA, Pose


@dataclass(frozen=True)
class Scene:
    """One word's picture: which view, where its number starts, how far it moves, how the view follows.

    ``start`` and ``pose`` take the car file, ``pose`` also the number in the word's unit; ``span`` is in that unit, or
    a share of the start where ``share`` is set. ``shows`` says what is drawn, ``times`` how much it is exaggerated.
    """

    view: str
    start: Callable[[CarFile], Any]
    span: float
    pose: Callable[[CarFile, float], Pose]
    shows: str
    decimals: int = 1
    share: bool = False
    times: float = 1.0
    low: float = -np.inf

    def value(self, file: CarFile, step: float) -> float:
        """Return the number at a slider step from −10 to 10, in the word's unit."""
        begin = float(self.start(file))
        span = self.span * abs(begin) if self.share else self.span
        return round(max(begin + span * step / 10, self.low), self.decimals) + 0.0


_FRONT_MM = poses.si("mm", lambda f: f.setup.front.height)
_LEAN = "the body in a steady left turn at 0.6 g, seen from behind"
SCENES: dict[str, Scene] = {
    "height": Scene(
        "side",
        _FRONT_MM,
        30,
        lambda f, v: {"heights": (v / 1e3, f.setup.rear.height)},
        "the front end going up and down",
        times=3,
    ),
    "attitude": Scene(
        "side",
        poses.si("mm", lambda f: attitude(f.car, f.setup)),
        40,
        poses.nose,
        "one end going up as the other goes down",
        times=3,
    ),
    "load": Scene(
        "top",
        lambda f: poses.standing(f)[0, 0],
        1500,
        lambda f, v: poses.rings(f, np.array([[v, poses.standing(f)[0, 1]], poses.standing(f)[1]])),
        "the load of the left front wheel as an area",
        0,
    ),
    "corner_weight": Scene(
        "top",
        lambda f: poses.standing(f)[0, 0] / G,
        40,
        poses.diagonal,
        "the left front spring raised: load comes to it and to the wheel across, and leaves the other two",
        0,
    ),
    "cross_weight": Scene(
        "top",
        poses.si("percent", lambda f: f.setup.cross_weight),
        6,
        lambda f, v: poses.rings(f, poses.standing(f, cross_weight=v / 100)),
        "four wheel loads as areas; dashed rings: as the car stands",
    ),
    "front_share": Scene(
        "top",
        poses.si("percent", lambda f: f.car.front_share),
        12,
        lambda f, v: poses.rings(f, poses.standing(f, front_share=v / 100)) | {"cg": f.car.wheelbase * (1 - v / 100)},
        "the centre of gravity (ring in the middle) moving along the car",
    ),
    "cg_height": Scene(
        "side",
        poses.si("mm", lambda f: f.car.cg_height),
        120,
        lambda f, v: {"cg": (f.car.wheelbase * (1 - f.car.front_share), v / 1e3)},
        "the centre of gravity (ring) going up and down",
        0,
    ),
    "wheelbase": Scene(
        "side",
        poses.si("mm", lambda f: f.car.wheelbase),
        150,
        lambda f, v: {"wheelbase": v / 1e3},
        "the distance between the axles",
        0,
    ),
    "track": Scene(
        "behind",
        poses.si("mm", lambda f: f.car.front.track),
        150,
        lambda f, v: {"track": v / 1e3},
        "the front wheels moving apart",
        0,
    ),
    "unsprung_mass": Scene(
        "behind",
        poses.si("kg", lambda f: f.car.front.unsprung_mass),
        0.5,
        lambda f, v: {"width": v / f.car.front.unsprung_mass},
        "heavier wheels, drawn wider",
        0,
        share=True,
    ),
    "toe": Scene(
        "top",
        poses.si("deg", lambda f: f.setup.front.toe),
        0.5,
        lambda f, v: {"toe": (np.radians(v), f.setup.rear.toe)},
        "the front wheels turning in (toe-in) and out",
        2,
        times=20,
    ),
    "camber": Scene(
        "behind",
        poses.si("deg", lambda f: f.setup.front.camber),
        3,
        lambda f, v: {"camber": np.radians([v, v])},
        "the front wheels leaning",
        times=3,
    ),
    "caster": Scene(
        "side",
        poses.si("deg", lambda f: f.setup.caster),
        5,
        lambda f, v: {"caster": np.radians(v)},
        "the steering axis (thick line) leaning back",
        times=2,
        low=0,
    ),
    "thrust_angle": Scene(
        "top",
        poses.nothing,
        0.5,
        lambda f, v: {"thrust": np.radians(v), "slip": (0.0, 0.0)},
        "both rear wheels pointing left or right",
        2,
        times=20,
    ),
    "toe_slope": Scene(
        "top",
        poses.si("deg_per_m", lambda f: f.car.rear.toe_slope),
        20,
        lambda f, v: {"toe": (f.setup.front.toe, f.setup.rear.toe + np.radians(v) * 0.03)},
        "toe of the rear wheels when both are 30 mm in bump",
        times=20,
    ),
    "camber_slope": Scene(
        "behind",
        poses.si("deg_per_m", lambda f: f.car.front.camber_slope),
        20,
        lambda f, v: {"rise": -0.03, "camber": f.setup.front.camber + np.radians([v, v]) * 0.03},
        "front wheels when the body has sunk 30 mm",
        times=3,
    ),
    "spring": Scene(
        "behind",
        poses.si("N_per_mm", lambda f: f.setup.front.spring),
        0.5,
        lambda f, v: {"rise": -EXTRA / (v * 1e3 * f.car.front.motion_ratio**2)},
        "the body sinking under 500 N more on each front wheel",
        share=True,
        times=2,
    ),
    "motion_ratio": Scene(
        "behind",
        lambda f: f.car.front.motion_ratio,
        0.25,
        lambda f, v: {"motion_ratio": v},
        "the spring moving in along its arm: the further in, the less it moves",
        2,
    ),
    "wheel_rate": Scene(
        "behind",
        poses.si("N_per_mm", poses.rate),
        0.5,
        lambda f, v: {"rise": -EXTRA / (v * 1e3)},
        "the body sinking under 500 N more on each front wheel",
        share=True,
        times=2,
    ),
    "bar": Scene(
        "behind",
        poses.si("Nm_per_deg", lambda f: f.setup.front.bar),
        250,
        lambda f, v: poses.leaning(f, bar=to_si(v, "Nm_per_deg")) | {"bar": True},
        f"{_LEAN}, with another front bar (black)",
        0,
        times=4,
        low=0,
    ),
    "roll_stiffness": Scene(
        "behind",
        poses.si("Nm_per_deg", poses.stiffness),
        0.5,
        poses.roll_by,
        f"{_LEAN}; both axles' stiffness together",
        0,
        share=True,
        times=3,
    ),
    "roll_split": Scene(
        "top",
        poses.si("percent", poses.share),
        30,
        poses.split,
        "wheel loads in a left turn at 0.6 g; dashed rings: standing",
    ),
    "bump_gap": Scene(
        "behind",
        poses.si("mm", lambda f: f.car.front.bump_gap),
        40,
        lambda f, v: {"stop": v / 1e3},
        "the block of the bump stop above each arm, and the gap under it",
        0,
        times=3,
        low=0,
    ),
    "droop_gap": Scene(
        "behind",
        poses.si("mm", lambda f: f.car.front.droop_gap),
        50,
        lambda f, v: {"rise": v / 1e3},
        "the body lifted until the damper is at full length",
        0,
        times=2,
        low=0,
    ),
    "damper": Scene(
        "behind",
        lambda f: 0.5,
        0.5,
        poses.damped,
        "the body a quarter of a second after a 50 mm push down; 0.5 is a usual start (common practice, no source)",
        2,
        times=4,
        low=0,
    ),
    "travel": Scene(
        "behind",
        poses.nothing,
        50,
        lambda f, v: {"rise": -v / 1e3},
        "both wheels moving toward the body: the body sinks",
        0,
        times=2,
    ),
    "pressure": Scene(
        "behind",
        poses.si("bar", lambda f: f.setup.front.pressure),
        0.6,
        poses.tyre_width,
        "a softer tyre, drawn wider as a sketch",
        2,
    ),
    "tyre_rate": Scene(
        "behind",
        poses.si("N_per_mm", lambda f: f.car.front.tyre_rate),
        0.5,
        lambda f, v: {"rise": -EXTRA / (v * 1e3), "squash": EXTRA / (v * 1e3)},
        "the tyres squashed under 500 N more on each front wheel",
        0,
        share=True,
        times=12,
    ),
    "grip": Scene(
        "top",
        lambda f: f.car.front.tyre.grip,
        0.4,
        lambda f, v: {"side": v * np.sum(poses.standing(f), axis=1)},
        "the largest side force of each axle (arrows), loads and all else as they are",
        2,
    ),
    "slip": Scene(
        "top",
        poses.nothing,
        8,
        poses.push,
        "where the front axle points (dashes) and goes (thin arrow), and how hard it pushes sideways (thick arrow)",
        times=2,
    ),
    "cornering_stiffness": Scene(
        "top",
        poses.si("kN_per_rad", lambda f: simple.two_wheel(f.car, f.setup).front_stiffness),
        0.5,
        lambda f, v: {"slip": (f.car.mass * f.car.front_share * 0.3 * G / (v * 1e3), 0.0)},
        "the slip angle the front axle needs at 0.3 g: dashes where it points, arrow where it goes",
        0,
        share=True,
        times=6,
    ),
    "lateral": Scene(
        "top",
        poses.nothing,
        0.9,
        poses.cornering,
        "wheel loads as areas and the side force of each axle; above zero a left turn",
        2,
    ),
    "roll": Scene(
        "behind",
        poses.nothing,
        4,
        lambda f, v: {"roll": np.radians(v)},
        "the body leaning; above zero the right side drops",
        times=2,
    ),
    "pitch": Scene("side", poses.nothing, 1, poses.pitched, "nose down above zero", 2, times=3),
    "roll_centre": Scene(
        "behind",
        poses.si("mm", lambda f: simple.roll_car(f.car, f.setup).front.roll_centre),
        120,
        poses.roll_centre,
        f"{_LEAN}: diamond the front roll centre as the car stands, ring the centre of gravity",
        0,
        times=4,
    ),
    "load_transfer": Scene(
        "behind",
        poses.nothing,
        200,
        lambda f, v: {"loads": np.maximum(poses.standing(f)[0] + np.array([-v, v]) * G, 0)},
        "load leaving the left front wheel for the right one",
        0,
    ),
    "longitudinal_transfer": Scene(
        "side",
        poses.nothing,
        200,
        lambda f, v: poses.longitudinal(f, v * G),
        "load leaving the front axle for the rear one; below zero the other way",
        0,
    ),
    "anti_brake": Scene(
        "side",
        poses.si("deg", lambda f: f.car.front.anti_brake),
        8,
        lambda f, v: {"anti": np.radians(v)},
        "the line along which the front brakes' force reaches the body",
        times=3,
    ),
    "lift": Scene(
        "side",
        lambda f: 0.1,
        0.1,
        poses.lifted,
        "how hard the engine slows the car, and the load that goes forward",
        2,
    ),
    "steer": Scene(
        "top",
        poses.nothing,
        20,
        lambda f, v: {"steer": np.radians(v)},
        "the front wheels turned; left above zero",
        0,
    ),
    "understeer": Scene(
        "top",
        lambda f: 2.0,
        2,
        poses.turn,
        "dashes: where each axle points; arrows: where it goes; the front needs the larger angle",
        times=3,
    ),
    "oversteer": Scene(
        "top",
        lambda f: 2.0,
        2,
        lambda f, v: poses.turn(f, -v),
        "dashes: where each axle points; arrows: where it goes; the rear needs the larger angle",
        times=3,
    ),
    "gradient": Scene(
        "top",
        poses.si("deg_per_g", lambda f: understeer_gradient(simple.two_wheel(f.car, f.setup)).total),
        4,
        poses.gradient,
        "steering needed on a 40 m circle at 0.6 g",
        times=4,
    ),
    "sideslip": Scene(
        "top",
        poses.nothing,
        8,
        lambda f, v: {"slip": np.radians([v, v])},
        "the car pointing one way (dashes) and going another (arrows)",
        times=2,
    ),
    "neutral_point": Scene(
        "top",
        poses.si("mm", lambda f: neutral_point(simple.two_wheel(f.car, f.setup)).behind_cg),
        250,
        poses.neutral,
        "ring: centre of gravity; diamond: neutral steer point",
        0,
    ),
}
"""Key of a word → its picture."""
