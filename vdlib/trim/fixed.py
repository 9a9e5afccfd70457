"""Numbers that a trim works out only once: standing loads, arms, longitudinal forces, curves as the car stands."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np

from ..checks import InputError, Problem
from ..units import Array, G
from . import aero, suspension
from .loads import corner_loads
from .stance import SIDE, Stance, springing
from .vertical import Vertical

BACK = np.array([-1.0, 1.0])[:, None]  # front, rear


@dataclass(frozen=True)
class Fixed:
    """Numbers that one trim needs and no step of it changes; shapes as in ``cases.Case``."""

    n: int
    wheelbase: Array
    half: Array  # half the track [m]
    side: Array  # (2, n) side force of each axle, left and right pulling alike [N]
    off_middle: Array  # moment of the standing weight about the car's middle line, left positive, (n,) [N·m]
    lateral: Array
    curvature: Array
    straight: Array  # steer angle without slip, (n,) [rad]
    long_sign: Array  # of each axle's longitudinal force
    long_half: Array  # half of its size [N]
    give: Array  # steer of each axle for unit side force, against its slip angle [rad/N]
    caster: Array
    caster_lift: Array  # rise of the front left hub for each radian of steer [m/rad]
    toe: Array  # toe at the reference height, (2, n), or (2, 2, n) where left and right differ [rad]
    bump: Array  # travel from the reference height at which the toe curve stands, likewise [m]
    camber: Array  # against the road, standing, likewise [rad]
    rise: Array  # height of the body above the reference height that the stops see, likewise [m]
    tilt: Array  # lean of the standing body, right side down positive, (n,) [rad]
    vertical: Vertical
    tyre: Any  # axle arrays in place of a Tyre record's numbers: they were checked when the records were made


def prepare(v: dict[str, Array]) -> Fixed:
    """Work out standing loads, arms, longitudinal forces and the rest that does not depend on the solution.

    Parameters:
        v: the values of a ``cases.Case`` or part of one [-]

    Returns:
        a ``Fixed`` [-]

    Errors:
        ``InputError`` when corner loads cannot all be positive.
    """
    n = max(value.shape[-1] for value in v.values())
    base, half, unsprung, mass = v["wheelbase"], 0.5 * v["track"], v["unsprung_mass"], v["mass"]
    unsprung_moment = (unsprung * v["radius"]).sum(axis=0)
    sprung_mass = mass - unsprung.sum(axis=0)
    sprung_height = (mass * v["cg_height"] - unsprung_moment) / sprung_mass
    wheel_height = 0.5 * v["radius"].sum(axis=0)

    # routes "weight" and "cg_height": the body tips about the wheel centres, and rises
    share = v["front_share"] - sprung_mass / mass * (sprung_height - wheel_height) * _nose_up(v, "weight") / base
    to_front, to_rear = base * (1 - share), base * share
    rise = v["rise.cg_height"]
    sprung_height = sprung_height + (to_rear * rise[0] + to_front * rise[1]) / base
    corners = corner_loads(mass, share, v["left_share"], v["cross_weight"])
    standing = np.empty((2, 2, n))
    standing[0, 0], standing[0, 1] = corners.front_left, corners.rear_left
    standing[1, 0], standing[1, 1] = corners.front_right, corners.rear_right

    sprung_weight = sprung_mass * G
    sprung_share = (mass * _axle_pair(share, 1 - share) - unsprung) / sprung_mass
    centre = v["roll_centre"] + v["roll_centre_slope"] * v["rise.roll_centres"]

    # where left and right stand at different heights, the body leans and wheel loads move
    heights = {name: v["rise." + name] for name in ("stops", "toe", "camber")} | {"aligned": v["aligned_rise"]}
    tilt, leaned = np.zeros(1), None
    if "uneven.weight" in v:
        carrying = springing(v, sprung_weight * (sprung_height - (sprung_share * centre).sum(axis=0)))
        stands = {name: carrying.stance(v["uneven." + name], v["uneven.weighed"]) for name in ("weight", *heights)}
        _load_twist(standing, stands["weight"])
        heights = {name: rise + SIDE * stands[name].rise for name, rise in heights.items()}
        tilt, leaned = stands["camber"].tilt, SIDE * (stands["camber"].tilt - stands["aligned"].tilt)

    # longitudinal forces, axle by axle, from engine and brakes
    pressure = aero.dynamic_pressure(v["speed"])
    air, rolling = pressure * v["drag_area"], v["coasting"] * aero.ROLLING * G
    along = v["longitudinal"] - rolling - v["coasting"] * air / mass
    total = mass * along + air
    pedals = total + mass * rolling  # rolling resistance, when named apart, goes with the engine's drag
    braked = np.where(pedals < 0, pedals * v["braking"], 0.0)
    driven = total - braked
    brake = _axle_pair(braked * v["brake_front"], braked * (1 - v["brake_front"]))
    engine = _axle_pair(driven * v["drive_front"], driven * (1 - v["drive_front"]))
    tip = v["anti_slope"] * v["rise.anti"]
    at_centre = engine - unsprung * along  # what unsprung mass takes never reaches the body
    anti = BACK * (brake * np.tan(v["anti_brake"] + tip) + at_centre * np.tan(v["anti_drive"] + tip))

    arm, curvature, long_axle = _axle_pair(to_front, -to_rear), v["lateral"] / v["speed"] ** 2, brake + engine
    bump_gap, droop_gap = v["bump_gap"] + heights["stops"], v["droop_gap"] - heights["stops"]
    camber = v["camber"] + v["camber_slope"] * (heights["aligned"] - heights["camber"])
    caster = v["caster"] + _nose_up(v, "caster")
    vertical = Vertical(
        standing=standing,
        weight=standing.sum(axis=(0, 1)),
        arm=arm,
        half=half,
        track=v["track"],
        base=arm[0] - arm[1],
        tyre_rate=v["tyre_rate"],
        wheel_rate=v["wheel_rate"],
        bar_rate=v["bar_rate"],
        bump_gap=bump_gap,
        bump_stiffening=v["bump_stiffening"],
        droop_gap=droop_gap,
        droop_stiffening=v["droop_stiffening"],
        held_up=0.5 * anti
        - suspension.stop_force(0.0, bump_gap, v["bump_stiffening"])[0]
        + suspension.stop_force(0.0, droop_gap, v["droop_stiffening"])[0],
        roll_centre=centre,
        roll_centre_slope=v["roll_centre_slope"],
        sprung_mass=sprung_mass,
        sprung_weight=sprung_weight,
        sprung_height=sprung_height,
        wheel_height=wheel_height,
        sprung_share=sprung_share,
        carried=sprung_weight * sprung_share,
        unsprung_side=v["lateral"] * unsprung,
        unsprung_moment=v["lateral"] * unsprung * v["radius"],
        unsprung_pitch=unsprung_moment * along,
        lateral=v["lateral"],
        longitudinal=along,
        lift=aero.lift(v["speed"], v["lift_area"], v["lift_attitude"], _nose_up(v, "air")),
        lift_slope=pressure * v["lift_attitude"],
    )
    return Fixed(
        n=n,
        wheelbase=base,
        half=half,
        side=mass * _axle_pair(share, 1 - share) * v["lateral"],
        off_middle=(half * (standing[0] - standing[1])).sum(axis=0),
        lateral=v["lateral"],
        curvature=curvature,
        straight=base * curvature,
        long_sign=np.sign(long_axle),
        long_half=0.5 * np.abs(long_axle),
        give=BACK * v["compliance_steer"],
        caster=caster,
        caster_lift=v["caster_offset"] * caster,
        toe=v["toe"] - suspension.toe_change(-heights["aligned"], v["toe_slope"], v["toe_bend"]),
        bump=-heights["toe"],
        camber=camber if leaned is None else camber - leaned,
        rise=heights["stops"],
        tilt=tilt,
        vertical=vertical,
        tyre=SimpleNamespace(**{name[5:]: value for name, value in v.items() if name.startswith("tyre.")}),
    )


def _load_twist(standing: Array, twist: Stance) -> None:
    """Add to the standing loads what the twisted springs bring."""
    standing[0] += twist.gained
    standing[1] -= twist.gained
    low = float(np.min(standing, initial=0.0))
    if low < 0:
        rule = "must not be below zero: a wheel would hang in the air, the car standing"
        remedy = "the four ride heights are too far from one plane; read them again"
        raise InputError([Problem("corner weight", f"{low / G:.4g} kg", rule, remedy)])


def _nose_up(v: dict[str, Array], route: str) -> Array:
    """Return the nose-up angle that a route sees [rad]."""
    rise = v["rise." + route]
    angle: Array = (rise[0] - rise[1]) / v["wheelbase"]
    return angle


def _axle_pair(front: Array, rear: Array) -> Array:
    """Put a front and a rear number together, (2, n)."""
    return np.stack(np.broadcast_arrays(front, rear))
