"""How the views of a car follow one number of it: the poses behind the pictures of the words.

Each takes the car file and a number in the user's unit, and gives keywords of a view's ``update``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from ..car import tyre
from ..car.carfile import CarFile
from ..lessons import simple
from ..lessons.bicycle import neutral_point
from ..lessons.circle import steady_steer
from ..lessons.rolling import lateral_transfer, roll
from ..trim.loads import corner_loads
from ..units import G, from_si, to_si

Pose = dict[str, Any]
RADIUS = 40.0
"""Radius of the turn in the pictures that show one [m]."""
PUSH = 0.6 * G
"""Lateral acceleration of the pictures that lean [m/s²]."""
EXTRA = 500.0
"""Load laid on each wheel in the pictures of spring rates [N]."""


def nothing(file: CarFile) -> float:
    return 0.0


def si(unit: str, read: Callable[[CarFile], Any]) -> Callable[[CarFile], Any]:
    return lambda file: from_si(read(file), unit)


def standing(file: CarFile, **changes: Any) -> Any:
    car = file.car
    given = {"mass": car.mass, "front_share": car.front_share, "left_share": car.left_share} | changes
    loads = corner_loads(**({"cross_weight": file.setup.cross_weight} | given))
    return np.array([[loads.front_left, loads.front_right], [loads.rear_left, loads.rear_right]], dtype=float)


def rings(file: CarFile, loads: Any) -> Pose:
    return {"loads": np.maximum(loads, 0), "standing": standing(file)}


def diagonal(file: CarFile, kilograms: float) -> Pose:
    own = standing(file)
    more = kilograms * G - own[0, 0]
    return rings(file, own + more * np.array([[1, -1], [-1, 1]]))


def leaning(file: CarFile, body: Any = None, bar: Any = None) -> Pose:
    """Body leaning in a steady left turn, with another rolling body or front bar."""
    setup = file.setup if bar is None else replace(file.setup, front=replace(file.setup.front, bar=bar))
    body = body or simple.roll_car(file.car, setup)
    moved = lateral_transfer(PUSH, body.sprung_mass, body.front_share, body.cg_height, body.front, body.rear)
    middle = body.cg_height - moved.arm
    return {"roll": moved.roll.angle, "roll_centre": middle, "cg": body.cg_height, "push": 0.25 * file.car.mass * PUSH}


def roll_centre(file: CarFile, millimetres: float) -> Pose:
    body = simple.roll_car(file.car, file.setup)
    body = replace(body, front=replace(body.front, roll_centre=to_si(millimetres, "mm")))
    return leaning(file, body) | {"roll_centre": body.front.roll_centre}


def stiffness(file: CarFile) -> float:
    body = simple.roll_car(file.car, file.setup)
    return float(body.front.stiffness + body.rear.stiffness)


def share(file: CarFile) -> float:
    return float(simple.roll_car(file.car, file.setup).front.stiffness) / stiffness(file)


def split(file: CarFile, percent: float) -> Pose:
    body, both = simple.roll_car(file.car, file.setup), stiffness(file)
    front = replace(body.front, stiffness=both * percent / 100)
    rear = replace(body.rear, stiffness=both * (1 - percent / 100))
    moved = lateral_transfer(PUSH, body.sprung_mass, body.front_share, body.cg_height, front, rear)
    shift = np.array([[moved.front.total], [moved.rear.total]]) * np.array([-1, 1])
    return rings(file, standing(file) + shift)


def roll_by(file: CarFile, stiffness: float) -> Pose:
    body = simple.roll_car(file.car, file.setup)
    arm = simple.transfer(file.car, file.setup, PUSH).arm
    return {"roll": roll(PUSH, body.sprung_mass, arm, to_si(stiffness, "Nm_per_deg")).angle, "cg": body.cg_height}


def rate(file: CarFile) -> float:
    return float(file.setup.front.spring * file.car.front.motion_ratio**2)


def damped(file: CarFile, ratio: float) -> Pose:
    """Body a quarter of a second after a 50 mm push down, from wheel rate and the sprung mass of one front corner."""
    mass = (file.car.mass * file.car.front_share - file.car.front.unsprung_mass) / 2
    swing, time = np.sqrt(rate(file) / mass), 0.25
    edge = swing * np.sqrt(complex(ratio**2 - 1))
    shape = np.cosh(edge * time) + ratio * swing * time * np.sinc(1j * edge * time / np.pi)
    return {"rise": -0.05 * float(np.real(shape)) * float(np.exp(-ratio * swing * time))}


def push(file: CarFile, slip: float) -> Pose:
    """Side force of both front tyres at a slip angle."""
    car, own = file.car, file.setup.front
    force = tyre.side_force(car.front.tyre, standing(file)[0], np.radians(slip), 0.0, own.pressure)
    return {"slip": np.radians([slip, 0.0]), "side": (float(force.sum()), 0.0)}


def cornering(file: CarFile, lateral: float) -> Pose:
    found = simple.wheel_loads(file.car, file.setup, lateral * G, 0.0)
    share = np.array([file.car.front_share, 1 - file.car.front_share])
    return {"loads": found.load, "standing": found.standing, "side": share * file.car.mass * lateral * G}


def turn(file: CarFile, degrees: float) -> Pose:
    """A turn with so many degrees of understeer: the rear at 3 degrees, the front at that much more."""
    slip = np.radians([3 + degrees, 3.0])
    return {"slip": slip, "steer": file.car.wheelbase / RADIUS + np.radians(degrees)}


def gradient(file: CarFile, gradient: float) -> Pose:
    value = to_si(gradient, "deg_per_g")
    return {"steer": steady_steer(RADIUS, PUSH, file.car.wheelbase, value)}


def neutral(file: CarFile, millimetres: float) -> Pose:
    car = simple.two_wheel(file.car, file.setup)
    point = car.a + neutral_point(car).behind_cg
    return {"neutral": point, "cg": point - to_si(millimetres, "mm")}


def axle(loads: Any) -> tuple[float, float]:
    return tuple(np.sum(loads, axis=1))


def longitudinal(file: CarFile, shift: Any) -> Pose:
    front, rear = axle(standing(file))
    return {"loads": (max(front - shift, 0.0), max(rear + shift, 0.0))}


def lifted(file: CarFile, lateral: float) -> Pose:
    car = file.car
    shift = -car.mass * lateral * G * car.cg_height / car.wheelbase
    centre = (car.wheelbase * (1 - car.front_share), car.cg_height)
    return longitudinal(file, shift) | {"cg": centre, "push": car.mass * lateral * G}


def pitched(file: CarFile, degrees: float) -> Pose:
    drop = file.car.wheelbase * np.tan(np.radians(degrees)) / 2
    return {"heights": (file.setup.front.height - drop, file.setup.rear.height + drop)}


def nose(file: CarFile, millimetres: float) -> Pose:
    half = to_si(millimetres, "mm") / 2
    return {"heights": (file.car.front.reference_height + half, file.car.rear.reference_height - half)}


def tyre_width(file: CarFile, bar: float) -> Pose:
    """A softer tyre, drawn wider; only a sketch."""
    return {"width": 1.0 - 0.25 * (bar - from_si(file.car.front.tyre.pressure_nominal, "bar"))}
