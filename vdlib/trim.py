"""The one equilibrium every answer rests on: wheel loads, body pose, slip angles and steering of a car held in a corner.

``trim`` solves any number of cases at once: it lays them out (``_case``), balances the vertical forces (``_pose``), then each
axle's side force (``_slip``), and repeats while steering and pose still move each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields, is_dataclass
from enum import IntFlag
from types import SimpleNamespace
from typing import Any

import numpy as np

from . import suspension
from ._pose import Vertical, solve_pose
from ._slip import solve_slip
from .aero import dynamic_pressure
from .car import Car, Moment, Setup
from .loads import corner_loads
from .tyre import curve
from .units import Array, Value

ROUTES: tuple[str, ...] = ("weight", "cg_height", "roll_centres", "stops", "toe", "camber", "caster", "anti", "air")
"""The ways a change of ride heights reaches the balance; each can be given ride heights of its own."""

Heights = Mapping[str, tuple[Value, Value]]
"""Route → the (front, rear) ride heights [m] that this route sees."""

_CHUNK = 2048
_SIDE = np.array([1.0, -1.0])[None, :, None]  # left, right
_LOCK = 0.95  # part of a wheel's lengthways grip at which its partner takes over
_LOAD_RANGE = 2.3  # loads beyond this many nominal loads are outside the tyre's numbers


class State(IntFlag):
    """What is out of the ordinary about one case; zero means nothing is."""

    FRONT_SLIDES = 1
    REAR_SLIDES = 2
    WHEEL_IN_AIR = 4
    TIPS = 8
    WHEEL_HELD = 16
    LENGTHWAYS = 32
    RESTS_ON_STOP = 64
    TYRE_RANGE = 128
    NOT_SOLVED = 256


UNUSABLE = State.FRONT_SLIDES | State.REAR_SLIDES | State.TIPS | State.LENGTHWAYS | State.NOT_SOLVED
"""States in which there is no steady corner to speak of: slip angles are then those at the peak."""

STATE_WORDS: dict[State, str] = {
    State.FRONT_SLIDES: "the front tyres cannot hold this corner: the front slides first",
    State.REAR_SLIDES: "the rear tyres cannot hold this corner: the rear slides first",
    State.WHEEL_IN_AIR: "a wheel is in the air",
    State.TIPS: "the car tips over before it gets here",
    State.WHEEL_HELD: "one lightly loaded wheel gives all its lengthways grip and its partner does the rest",
    State.LENGTHWAYS: "an axle is asked for more braking or drive than its tyres can give",
    State.RESTS_ON_STOP: "standing still, the car already rests on a bump stop",
    State.TYRE_RANGE: "a tyre carries more than its numbers are good for",
    State.NOT_SOLVED: "no equilibrium was found",
}
"""State → the words for it."""


def state_words(state: Any) -> list[str]:
    """Say in words what is out of the ordinary.

    Parameters:
        state: one case's state [-]

    Returns:
        a sentence part for each flag, none when nothing is [-]
    """
    return [words for flag, words in STATE_WORDS.items() if int(state) & flag]


@dataclass(frozen=True)
class Trim:
    """One steady moment solved. Leading axes: [axle front/rear] and [side left/right]; then the shape of the inputs."""

    load: Array  # (2, 2, …) wheel loads [N]
    standing_load: Array  # (2, 2, …) wheel loads standing still [N]
    travel: Array  # (2, 2, …) suspension travel from standing, bump positive [m]
    heave: Array  # rise of the body at the centre of gravity [m]
    roll: Array  # right side down positive [rad]
    pitch: Array  # nose down positive [rad]
    toe: Array  # (2, 2, …) toe-in of each wheel [rad]
    lean: Array  # (2, 2, …) lean of each wheel to the left, against the road [rad]
    on_stop: Array  # (2, 2, …) force of the bump stop at the wheel [N]
    links: Array  # (2, …) load transferred by links and unsprung mass, inner to outer for a left turn [N]
    roll_centre: Array  # (2, …) roll-centre height [m]
    lift: Array  # (2, …) lift at each axle [N]
    long_force: Array  # (2, 2, …) lengthways force of each wheel [N]
    side_force: Array  # (2, …) side force asked of each axle [N]
    peak_force: Array  # (2, …) greatest side force each axle has at these loads [N]
    slip: Array  # (2, …) slip angle of each axle, at the peak where the axle slides [rad]
    stiffness: Array  # (2, …) local slope of side force of each axle [N/rad]
    cg_to_axle: Array  # (2, …) distance from centre of gravity to front and rear axle [m]
    steer: Array  # steer angle [rad]
    curvature: Array  # 1/R of the path [1/m]
    state: Array  # State flags [-]
    residual: Array  # largest force left unbalanced, as part of the weight [-]

    @property
    def understeer_angle(self) -> Array:
        """Front slip angle less rear slip angle, signed so that understeer is positive in either turn [rad]."""
        angle: Array = self.slip[0] - self.slip[1]
        return np.where(self.curvature < 0, -angle, angle)

    @property
    def usable(self) -> Array:
        """True where a steady corner exists [-]."""
        return np.asarray((self.state & int(UNUSABLE)) == 0)

    @property
    def use(self) -> Array:
        """Side force asked of each axle over what it has, (2, …) [-]."""
        return np.abs(self.side_force) / np.maximum(self.peak_force, 1e-9)


def numbers(record: Any) -> Iterator[Any]:
    """Give every number a record holds, records inside it included.

    Parameters:
        record: a dataclass [-]

    Returns:
        an iterator of numbers and arrays [any]
    """
    for field in fields(record):
        value = getattr(record, field.name)
        if is_dataclass(value):
            yield from numbers(value)
        elif value is not None and not isinstance(value, str):
            yield value


def trim(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None) -> Trim:
    """Solve the steady moment of a car: four wheel loads, pose, slip angles and steering.

    ``ΣN = m·g − lift``, roll and pitch moments about the ground, each wheel's own vertical balance, then
    ``F_y,i(α_i) = demand`` on each axle and ``δ = L/R + α_f − α_r``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: what the car is doing [-]
        heights: ride heights for single routes in place of the setup's own [m]

    Returns:
        a ``Trim`` with the inputs' broadcast shape [-]

    Errors:
        ``InputError`` when corner loads cannot all be positive; a case without solution is flagged in ``state``.

    Validity: small angles (cos δ = 1, radius well above the track), roll centre shared by both wheels of an axle, drag of
    cornering itself not counted, open differential and equal brakes left and right.
    Source: moments about the roll axis as in Barton & Fieldhouse, Automotive Chassis Engineering (2018), p. 174.
    """
    seen = {route: (setup.front.height, setup.rear.height) for route in ROUTES} | dict(heights or {})
    leaves = [*numbers(car), *numbers(setup), *numbers(moment), *(h for pair in seen.values() for h in pair)]
    shape = np.broadcast_shapes(*(np.shape(leaf) for leaf in leaves))
    size = int(np.prod(shape))
    case = _Case(car, setup, moment, seen, shape)
    if size <= _CHUNK:
        parts = [_solve(case.values)]
    else:
        cuts = [slice(i, min(i + _CHUNK, size)) for i in range(0, size, _CHUNK)]
        with ThreadPoolExecutor() as pool:
            parts = list(pool.map(lambda cut: _solve(case.part(cut)), cuts))
    out = {}
    for name in parts[0]:
        flat = parts[0][name] if len(parts) == 1 else np.concatenate([part[name] for part in parts], axis=-1)
        out[name] = flat.reshape(flat.shape[:-1] + shape)
    return Trim(**out)


class _Case:
    """All inputs laid out as arrays: whole-car numbers (n,), axle numbers (2, 1, n); n is 1 where all cases share one value."""

    def __init__(self, car: Car, setup: Setup, moment: Moment, seen: Heights, shape: tuple[int, ...]) -> None:
        self.shape = shape
        one, pair = self._one, self._pair
        v: dict[str, Array] = {}
        for name in ("mass", "cg_height", "wheelbase", "front_share", "left_share", "drag_area", "brake_front", "drive_front", "caster_offset"):
            v[name] = one(getattr(car, name))
        v["caster"], v["cross_weight"] = one(setup.caster), one(setup.cross_weight)
        for name in ("speed", "lateral", "longitudinal", "braking"):
            v[name] = one(getattr(moment, name))
        kept = ("tyre", "reference_height", "wheel_radius", "motion_ratio")
        for field in fields(car.front):
            if field.name not in kept:
                v[field.name] = pair(getattr(car.front, field.name), getattr(car.rear, field.name))
        v["radius"] = pair(car.front.wheel_radius, car.rear.wheel_radius)
        for field in fields(car.front.tyre):
            if field.name != "kind":
                v["tyre_" + field.name] = pair(getattr(car.front.tyre, field.name), getattr(car.rear.tyre, field.name))
        for name in ("toe", "camber", "pressure"):
            v[name] = pair(getattr(setup.front, name), getattr(setup.rear, name))
        v["wheel_rate"] = pair(suspension.wheel_rate(setup.front.spring, car.front.motion_ratio),
                               suspension.wheel_rate(setup.rear.spring, car.rear.motion_ratio))
        v["bar_rate"] = pair(suspension.bar_wheel_rate(setup.front.bar, car.front.track), suspension.bar_wheel_rate(setup.rear.bar, car.rear.track))
        v["aligned_rise"] = pair(np.subtract(setup.front.aligned_height, car.front.reference_height),
                                 np.subtract(setup.rear.aligned_height, car.rear.reference_height))
        for route, (front, rear) in seen.items():
            v["rise_" + route] = pair(np.subtract(front, car.front.reference_height), np.subtract(rear, car.rear.reference_height))
        self.values = v

    def _one(self, value: Any) -> Array:
        array = np.asarray(value, dtype=float)
        return array.reshape(1) if array.size == 1 else np.broadcast_to(array, self.shape).reshape(-1)

    def _pair(self, front: Any, rear: Any) -> Array:
        f, r = self._one(front), self._one(rear)
        n = max(f.size, r.size)
        out = np.empty((2, 1, n))
        out[0, 0], out[1, 0] = f, r
        return out

    def part(self, cut: slice) -> dict[str, Array]:
        """Give the same layout for some of the cases."""
        return {name: value if value.shape[-1] == 1 else value[..., cut] for name, value in self.values.items()}


def _solve(v: dict[str, Array]) -> dict[str, Array]:
    """Solve the cases of one layout."""
    n = max(value.shape[-1] for value in v.values())
    track, base = v["track"], v["wheelbase"]
    half = 0.5 * track * _SIDE
    unsprung = v["unsprung_mass"]
    sprung_mass = v["mass"] - unsprung.sum(axis=(0, 1))
    sprung_height = (v["mass"] * v["cg_height"] - (unsprung * v["radius"]).sum(axis=(0, 1))) / sprung_mass
    wheel_height = 0.5 * v["radius"].sum(axis=(0, 1))

    # routes "weight" and "cg_height": the body tips about the wheel centres, and rises
    nose_up = (v["rise_weight"][0, 0] - v["rise_weight"][1, 0]) / base
    share = v["front_share"] - sprung_mass / v["mass"] * (sprung_height - wheel_height) * nose_up / base
    to_front, to_rear = base * (1 - share), base * share
    rise = v["rise_cg_height"]
    sprung_height = sprung_height + (to_rear * rise[0, 0] + to_front * rise[1, 0]) / base
    corners = corner_loads(v["mass"], share, v["left_share"], v["cross_weight"])
    four = (corners.front_left, corners.front_right, corners.rear_left, corners.rear_right)
    standing = np.stack([np.broadcast_to(load, (n,)) for load in four]).reshape(2, 2, n)
    arm = np.stack([np.broadcast_to(to_front, (n,)), -np.broadcast_to(to_rear, (n,))])[:, None, :]

    # lengthways forces, axle by axle, from engine and brakes
    pressure = dynamic_pressure(v["speed"])
    total_x = v["mass"] * v["longitudinal"] + pressure * v["drag_area"]
    brake_x = np.where(total_x < 0, total_x * v["braking"], 0.0)
    engine_x = total_x - brake_x
    brake = np.stack(np.broadcast_arrays(brake_x * v["brake_front"], brake_x * (1 - v["brake_front"])))[:, None, :]
    engine = np.stack(np.broadcast_arrays(engine_x * v["drive_front"], engine_x * (1 - v["drive_front"])))[:, None, :]
    long_axle = brake + engine
    back = np.array([-1.0, 1.0])[:, None, None]
    tip = v["anti_slope"] * v["rise_anti"]
    anti = back * (brake * np.tan(v["anti_brake"] + tip) + engine * np.tan(v["anti_drive"] + tip))

    caster = v["caster"] + (v["rise_caster"][0, 0] - v["rise_caster"][1, 0]) / base
    lateral = v["lateral"]
    curvature = np.broadcast_to(lateral / v["speed"] ** 2, (n,))
    steer = base * curvature
    pose = Vertical(
        standing=standing, arm=arm, half=half, track=track, tyre_rate=v["tyre_rate"],
        wheel_rate=v["wheel_rate"], bar_rate=v["bar_rate"],
        bump_gap=v["bump_gap"] + v["rise_stops"], bump_stiffening=v["bump_stiffening"],
        droop_gap=v["droop_gap"] - v["rise_stops"], droop_stiffening=v["droop_stiffening"],
        roll_centre=v["roll_centre"] + v["roll_centre_slope"] * v["rise_roll_centres"], roll_centre_slope=v["roll_centre_slope"],
        sprung_mass=sprung_mass, sprung_height=sprung_height, wheel_height=wheel_height,
        sprung_share=(v["mass"] * np.stack(np.broadcast_arrays(share, 1 - share))[:, None, :] - unsprung) / sprung_mass,
        unsprung_moment=lateral * unsprung * v["radius"], unsprung_pitch=(unsprung * v["radius"]).sum(axis=(0, 1)) * v["longitudinal"],
        lateral=lateral, longitudinal=v["longitudinal"], anti=anti, pressure=pressure, lift_area=v["lift_area"],
        lift_attitude=v["lift_attitude"], nose_up=(v["rise_air"][0, 0] - v["rise_air"][1, 0]) / base,
    )
    # axle arrays in place of a Tyre record's numbers: they were checked when the records were made
    tyre = {name[5:]: value for name, value in v.items() if name.startswith("tyre_") and name != "tyre_rate"}
    axle_tyre: Any = SimpleNamespace(**tyre)
    standing_bump = -v["rise_toe"]
    toe_set = v["toe"] - suspension.toe_change(-v["aligned_rise"], v["toe_slope"], v["toe_bend"])
    camber_set = v["camber"] + v["camber_slope"] * (v["aligned_rise"] - v["rise_camber"])

    slip: Array | None = None
    start = None
    for _ in range(8):
        long_force, used, held, beyond = _share_long(long_axle, standing if start is None else start.load, tyre)
        yaw = -(half * long_force).sum(axis=(0, 1))  # left and right pulling unequally turn the car
        side = np.stack(np.broadcast_arrays((v["mass"] * lateral * to_rear - yaw) / base, (v["mass"] * lateral * to_front + yaw) / base))
        lift_corner = np.zeros((2, 1, n))
        lift_corner[0, 0] = v["caster_offset"] * caster * steer
        solved = solve_pose(pose, side[:, None, :] - lateral * unsprung, lift_corner * _SIDE, start)
        toe = toe_set + suspension.toe_change(standing_bump + solved.travel, v["toe_slope"], v["toe_bend"])
        lean = _SIDE * (camber_set + v["camber_slope"] * solved.travel) - solved.roll
        lean[0] = lean[0] + caster * steer
        side_sign = np.where(side < 0, -1.0, 1.0)[:, None, :]
        bend = v["compliance_steer"] * side[:, None, :] * np.array([-1.0, 1.0])[:, None, None]
        tyres = curve(axle_tyre, solved.load, lean * side_sign, v["pressure"], used)
        found = solve_slip(tyres, (bend - _SIDE * toe) * side_sign, np.abs(side), slip)
        slip = found.slip
        turned = side_sign[:, 0] * slip
        before, steer = steer, base * curvature + turned[0] - turned[1]
        settled = np.abs(steer - before).max() < 1e-8
        start = solved
        if settled:
            break
    state = (
        np.where(found.short[0], State.FRONT_SLIDES, 0) | np.where(found.short[1], State.REAR_SLIDES, 0)
        | np.where((solved.load <= 0).any(axis=(0, 1)), State.WHEEL_IN_AIR, 0)
        | np.where(held, State.WHEEL_HELD, 0) | np.where(beyond, State.LENGTHWAYS, 0)
        | np.where((pose.bump_gap < 0).any(axis=(0, 1)), State.RESTS_ON_STOP, 0)
        | np.where((solved.load > _LOAD_RANGE * tyre["nominal_load"]).any(axis=(0, 1)), State.TYRE_RANGE, 0)
        | np.where(~solved.closed, np.where(solved.tips, State.TIPS, State.NOT_SOLVED), 0)
    )
    result = {
        "load": solved.load, "standing_load": standing, "travel": solved.travel, "heave": solved.heave, "roll": solved.roll, "pitch": solved.pitch,
        "toe": toe, "lean": lean, "on_stop": solved.on_stop, "links": solved.links, "roll_centre": solved.roll_centre, "lift": solved.lift,
        "long_force": long_force, "side_force": side, "peak_force": found.peak, "slip": turned, "stiffness": found.stiffness,
        "cg_to_axle": np.abs(arm[:, 0]), "steer": steer, "curvature": curvature, "state": state, "residual": solved.residual,
    }
    return {name: np.broadcast_to(value, value.shape[:-1] + (n,)) for name, value in result.items()}


def _share_long(axle: Array, load: Array, tyre: dict[str, Array]) -> tuple[Array, Array, Array, Array]:
    """Split each axle's lengthways force over its two wheels: equal halves until one wheel has no more to give."""
    grip = tyre["long_ratio"] * tyre["grip"] * (1 - tyre["grip_fall"] * (load / tyre["nominal_load"] - 1)) * load
    most = _LOCK * grip
    half = 0.5 * np.abs(axle)
    first = np.minimum(half, most)
    rest = 2 * half - first.sum(axis=1, keepdims=True)
    taken = np.minimum(first + np.where(first < half, 0.0, rest), most)
    short = (2 * half - taken.sum(axis=1, keepdims=True)) > 1e-9 * (1 + half)
    used = np.minimum(taken / np.maximum(grip, 1e-9), _LOCK)
    force = np.sign(axle) * taken
    held = (first < half).any(axis=(0, 1)) & (np.abs(axle) > 1.0).any(axis=(0, 1))
    return force, used, held, short.any(axis=(0, 1))


__all__ = ["ROUTES", "STATE_WORDS", "UNUSABLE", "Heights", "State", "Trim", "numbers", "state_words", "trim"]
