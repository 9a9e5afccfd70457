"""Cars, setups and moments drawn at random, and the balances that a trim of them must hold, written anew."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from vdlib.car import examples, tyre
from vdlib.car.records import WHEEL_FIELDS, AxleSetup, Car, Moment, Setup, attitude
from vdlib.glossary import GLOSSARY
from vdlib.trim.aero import dynamic_pressure
from vdlib.trim.trim import State, Trim
from vdlib.units import G, to_si

MANY = 250  # cars a batch
SIDES = np.array([1.0, -1.0])[None, :, None]
FILES = [examples.load_example(name) for name in examples.example_names()]
MOMENT = Moment(30.0, 5.0, -1.0, 0.5, 0.5)
UNSOLVED = int(State.TIPS | State.NOT_SOLVED)


def drawn(
    record: Any, rng: np.random.Generator, n: int, wild: float, keep: frozenset[str] = frozenset()
) -> dict[str, Any]:
    """New numbers for a record: near the old one, or with the chance ``wild`` anywhere in the glossary's range."""
    new: dict[str, Any] = {}
    for field in fields(record):
        value = getattr(record, field.name)
        if is_dataclass(value):
            new[field.name] = replace(value, **drawn(value, rng, n, wild, keep))
        elif field.name in GLOSSARY and value is not None and field.name not in keep:
            entry = GLOSSARY[field.name]
            low, high = to_si(entry.low, entry.unit), to_si(entry.high, entry.unit)
            near = value + 0.15 * (np.abs(value) + 0.05 * (high - low)) * rng.uniform(-1, 1, n)
            far = rng.uniform(low, high, n)
            new[field.name] = np.clip(np.where(rng.random(n) < wild, far, near), low, high)
    return new


def picked(record: Any, which: Any) -> Any:
    """Some of a batch's cars, or one of them as plain numbers."""

    def part(value: Any) -> Any:
        if is_dataclass(value):
            return picked(value, which)
        return value[..., which][()] if isinstance(value, np.ndarray) and value.ndim else value

    return replace(record, **{field.name: part(getattr(record, field.name)) for field in fields(record)})


def batch(seed: int, wild: float, n: int = MANY) -> tuple[Car, Setup, Moment]:
    """Cars that stand on four wheels; each number is anything in the glossary's range with the chance ``wild``."""
    rng = np.random.default_rng(seed)
    file = FILES[seed % len(FILES)]
    heights = frozenset({"height", "reference_height", "aligned_height", "weighed_difference", *WHEEL_FIELDS.values()})
    alike = dict.fromkeys((*WHEEL_FIELDS.values(), "weighed_difference"), 0.0)  # drawn anew below
    ends = {end: replace(getattr(file.setup, end), **alike) for end in ("front", "rear")}
    start = (file.car, replace(file.setup, **ends), MOMENT)
    car, setup, moment = (drawn(record, rng, n, wild, heights) for record in start)
    light = 0.4 * car["mass"] * np.minimum(car["front_share"], 1 - car["front_share"])
    for end, base in (("front", 0.13), ("rear", 0.14)):
        axle, tyres, own = car[end], car[end].tyre, setup[end]
        gentle = {key: getattr(tyres, key).clip(-7e-6, 7e-6) for key in ("stiffness_per_bar", "grip_per_bar")}
        mass = np.clip(axle.unsprung_mass, 10.0, np.maximum(10.0, light))
        car[end] = replace(axle, tyre=replace(tyres, **gentle), unsprung_mass=mass, reference_height=np.full(n, base))
        setup[end] = replace(
            own,
            height=base + rng.uniform(-0.04, 0.04, n),
            aligned_height=base + rng.uniform(-0.02, 0.02, n),
            pressure=own.pressure.clip(tyres.pressure_nominal - 1.2e5, tyres.pressure_nominal + 1.2e5),
        )
    made = replace(file.car, **car), replace(file.setup, **setup), Moment(**moment)
    front = made[0].front_share - 0.05 * made[0].cg_height * attitude(*made[:2]) / 0.1 / made[0].wheelbase ** 2
    left, cross = made[0].left_share, made[1].cross_weight
    least = np.min([front + left - cross, front - left + cross, left - front + cross, 2 - front - left - cross], axis=0)
    stands = least > 0.03
    made = made[0], uneven(*made[:2], np.maximum(least, 0.0), np.random.default_rng([seed, 1])), made[2]
    return tuple(picked(record, stands) for record in made)  # type: ignore[return-value]


def uneven(car: Car, setup: Setup, least: np.ndarray, rng: np.random.Generator) -> Setup:
    """The same setups with left and right wheels that differ in everything, heights as far as all four wheels stand."""
    n = least.size
    bound = np.minimum(0.02, 0.5 * least * car.mass * G / np.maximum(car.front.tyre_rate, car.rear.tyre_rate))
    made = {}
    for end in ("front", "rear"):
        own = getattr(setup, end)
        weighed = 0.02 * rng.uniform(-1, 1, n)
        made[end] = replace(
            own,
            weighed_difference=weighed,
            height_difference=weighed + bound * rng.uniform(-1, 1, n),
            aligned_height_difference=weighed + bound * rng.uniform(-1, 1, n),
            **{
                f"{key}_difference": 2 * room(own, key) * rng.uniform(-1, 1, n) ** 3
                for key in ("toe", "camber", "pressure")
            },
        )
    return replace(setup, **made)


def other_way(axle: AxleSetup) -> AxleSetup:
    """An axle whose left wheel is the right one's."""
    return replace(axle, **{key: -getattr(axle, key) for key in (*WHEEL_FIELDS.values(), "weighed_difference")})


def mirrored(car: Car, setup: Setup, moment: Moment) -> tuple[Car, Setup, Moment]:
    return (
        replace(car, left_share=1 - car.left_share),
        replace(setup, cross_weight=1 - setup.cross_weight, front=other_way(setup.front), rear=other_way(setup.rear)),
        replace(moment, lateral=-moment.lateral),
    )


def room(own: Any, key: str) -> np.ndarray:
    """How far a wheel's number may move before it leaves its range."""
    entry = GLOSSARY[key]
    low, high = to_si(entry.low, entry.unit), to_si(entry.high, entry.unit)
    most = 1.5e4 if key == "pressure" else np.inf
    return np.minimum(np.minimum(getattr(own, key) - low, high - getattr(own, key)), most)


def solved(found: Trim) -> np.ndarray:
    return np.asarray((found.state & UNSOLVED) == 0)


def ends(car: Car | Setup, field: str) -> np.ndarray:
    """One number of both axles, (2, n)."""
    return np.stack(np.broadcast_arrays(getattr(car.front, field), getattr(car.rear, field)))


class Body:
    """What the balances need of a batch: masses, heights and arms as they stand, worked out here anew."""

    def __init__(self, car: Car, setup: Setup, moment: Moment, found: Trim) -> None:
        self.track, self.unsprung, self.radius = (ends(car, key) for key in ("track", "unsprung_mass", "wheel_radius"))
        rise = ends(setup, "height") - ends(car, "reference_height")
        self.rise, self.nose_up = rise, (rise[0] - rise[1]) / car.wheelbase
        self.sprung = car.mass - self.unsprung.sum(axis=0)
        front, rear = found.cg_to_axle
        over = (front * rise[1] + rear * rise[0]) / car.wheelbase
        self.height = (car.mass * car.cg_height - (self.unsprung * self.radius).sum(axis=0)) / self.sprung + over
        self.arm = np.stack([front, -rear])
        self.own = car.mass * np.stack([rear, front]) / car.wheelbase - self.unsprung  # sprung mass over each axle
        self.half = self.track[:, None] / 2 * SIDES
        steer_lift = np.zeros_like(found.load)
        steer_lift[0] = car.caster_offset * (setup.caster + self.nose_up) * found.steer * SIDES[0]
        corner = found.heave - self.arm[:, None] * found.pitch + self.half * found.roll
        self.hub = found.travel + corner - steer_lift


def left_over(car: Car, setup: Setup, moment: Moment, found: Trim) -> dict[str, np.ndarray]:
    """Each balance of the whole car, from the trim's outputs, over the weight."""
    body = Body(car, setup, moment, found)
    weight, gained = car.mass * G, found.load - found.standing_load
    lean = (
        body.height + found.heave
    ) * found.roll  # how far the weight has gone sideways: roll centres stay on the axles
    axle_lean = (body.hub[:, 0] - body.hub[:, 1]) / body.track
    lean -= (body.own * found.roll_centre * (found.roll - axle_lean)).sum(axis=0) / body.sprung
    tall = body.sprung * (body.height + found.heave)
    unsprung = (body.unsprung * body.radius).sum(axis=0)
    drag = dynamic_pressure(moment.speed) * car.drag_area
    along = moment.longitudinal - moment.coasting * (0.013 * G + drag / car.mass)
    yaw = found.side_force[0] * body.arm[0] + found.side_force[1] * body.arm[1]
    dip = body.sprung * G * (body.height + found.heave - body.radius.mean(axis=0)) * found.pitch
    return {
        "vertical force": (found.load.sum(axis=(0, 1)) + found.lift.sum(axis=0) - weight) / weight,
        "roll moment": (
            (body.half * gained).sum(axis=(0, 1)) + moment.lateral * (tall + unsprung) + body.sprung * G * lean
        ) / weight,
        "pitch moment": (
            (body.arm * (gained.sum(axis=1) + found.lift)).sum(axis=0) + along * (tall + unsprung) - dip
        ) / weight,
        "side force": (found.side_force.sum(axis=0) - car.mass * moment.lateral) / weight,
        # about the centre of gravity, which stands off the middle, leans over to one side and dips forward
        "yaw moment": (
            yaw
            - (body.half * found.long_force).sum(axis=(0, 1))
            + along * ((body.half * found.standing_load).sum(axis=(0, 1)) - body.sprung * G * lean) / G
            - moment.lateral * dip / G
        ) / weight,
        "longitudinal force": np.where(
            found.state & int(State.LONGITUDINAL),
            0.0,
            (found.long_force.sum(axis=(0, 1)) - car.mass * along - drag) / weight,
        ),
        "links": np.abs(across(car, setup, moment, found, body)).max(axis=0) / weight,
    }  # fmt: skip


def across(car: Car, setup: Setup, moment: Moment, found: Trim, body: Body) -> np.ndarray:
    """What moves from left to right on each axle, less what springs, bar, stops and links move."""
    rate = ends(setup, "spring") * ends(car, "motion_ratio") ** 2
    difference = found.travel[:, 1] - found.travel[:, 0]
    force = rate * difference + 2 * ends(setup, "bar") / body.track**2 * difference
    for sign, gap, hard in (
        (1, ends(car, "bump_gap")[:, None] + found.standing_rise, ends(car, "bump_stiffening")),
        (-1, ends(car, "droop_gap")[:, None] - found.standing_rise, ends(car, "droop_stiffening")),
    ):
        depth = np.maximum(0.0, sign * found.travel - gap)
        at_rest = np.maximum(0.0, -gap)
        force -= sign * hard / 2 * (at_rest[:, 1] ** 2 - at_rest[:, 0] ** 2)
        force += sign * hard / 2 * (depth[:, 1] ** 2 - depth[:, 0] ** 2)
    sprung_side = found.side_force - moment.lateral * body.unsprung
    links = (sprung_side * found.roll_centre + moment.lateral * body.unsprung * body.radius) / body.track
    gained = found.load - found.standing_load
    return np.asarray(gained[:, 1] - gained[:, 0] - force - 2 * links)


def tyres_make(car: Car, setup: Setup, found: Trim) -> np.ndarray:
    """Side force of each axle's two tyres at the slip angles found, (2, n)."""
    made = []
    for i, end in enumerate((car.front, car.rear)):
        pressure = np.stack(np.broadcast_arrays(*(setup.front, setup.rear)[i].wheels("pressure")))
        most = end.tyre.long_ratio * tyre.grip(end.tyre, found.load[i], pressure) * found.load[i]
        used = np.minimum(np.abs(found.long_force[i]) / np.maximum(most, 1e-9), 0.95)
        bend = end.compliance_steer * found.side_force[i] * (-1.0, 1.0)[i]
        slip = found.slip[i] + bend - SIDES[0] * found.toe[i]
        made.append(tyre.side_force(end.tyre, found.load[i], slip, found.lean[i], pressure, used).sum(axis=0))
    return np.stack(made)
