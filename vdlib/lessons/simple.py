"""A car and its setup put into the terms of the closed forms: rolling body, two-wheel car, four wheel loads, symbols.

Roll centres are taken at the heights the car stands at; weight share and centre-of-gravity height are the file's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.records import Axle, AxleSetup, Car, Setup
from ..car.tyre import cornering_stiffness
from ..checks import InputError, Problem
from ..trim.loads import corner_loads, longitudinal_transfer
from ..trim.suspension import roll_centre_height
from ..units import Array, G, Value
from .bicycle import TwoWheel, understeer_gradient
from .rolling import LateralTransfer, RollAxle, lateral_transfer, spring_roll_stiffness


@dataclass(frozen=True)
class RollCar:
    """What rolls: sprung mass [kg], its front share [-], height of its centre of gravity [m], and both axles."""

    sprung_mass: Value
    front_share: Value
    cg_height: Value
    front: RollAxle
    rear: RollAxle


def roll_car(car: Car, setup: Setup) -> RollCar:
    """Put a car into the terms of the roll formulae: ``m_s = m − m_uf − m_ur``, ``K_i = ½·k·MR²·t² + K_b``.

    Parameters:
        car: what stays, any shapes [-]
        setup: what the workshop can change [-]

    Returns:
        sprung mass, its front share and height, and both axles [any]

    Validity: rigid tyres, no stop touching; unsprung mass at wheel-centre height.
    """
    front_mass, rear_mass = np.asarray(car.front.unsprung_mass), np.asarray(car.rear.unsprung_mass)
    sprung = car.mass - front_mass - rear_mass
    moment = front_mass * car.front.wheel_radius + rear_mass * car.rear.wheel_radius
    return RollCar(
        sprung_mass=sprung[()],
        front_share=((np.multiply(car.mass, car.front_share) - front_mass) / sprung)[()],
        cg_height=((np.multiply(car.mass, car.cg_height) - moment) / sprung)[()],
        front=_roll_axle(car.front, setup.front),
        rear=_roll_axle(car.rear, setup.rear),
    )


def _roll_axle(axle: Axle, setup: AxleSetup) -> RollAxle:
    rise = np.subtract(setup.height, axle.reference_height)
    springs = spring_roll_stiffness(setup.spring, axle.motion_ratio, axle.track)
    return RollAxle(
        track=axle.track,
        roll_centre=roll_centre_height(axle.roll_centre, axle.roll_centre_slope, rise),
        stiffness=springs + setup.bar,
        unsprung_mass=axle.unsprung_mass,
        unsprung_height=axle.wheel_radius,
    )


def transfer(car: Car, setup: Setup, lateral: Value) -> LateralTransfer:
    """Return both axles' lateral load transfer in its three parts for this car.

    Parameters:
        car: what stays, any shapes [-]
        setup: what the workshop can change [-]
        lateral: lateral acceleration, positive in a left-hand turn [m/s²]

    Returns:
        as ``rolling.lateral_transfer`` [any]

    Errors:
        ``InputError`` where the springs cannot hold the body up.

    Validity: as ``rolling.lateral_transfer``.
    """
    body = roll_car(car, setup)
    return lateral_transfer(lateral, body.sprung_mass, body.front_share, body.cg_height, body.front, body.rear)


@dataclass(frozen=True)
class WheelLoads:
    """Four wheel loads of a moment [N]; arrays start with [axle front/rear][side left/right]."""

    load: Array  # (2, 2, …) [N]
    standing: Array  # (2, 2, …) standing still [N]
    transfer: LateralTransfer  # what the formulae ask for, before a wheel lifts
    longitudinal: Value  # moved from the front axle to the rear [N]
    lifted: Array  # (2, …) whether the axle's inner wheel is in the air [-]


def wheel_loads(car: Car, setup: Setup, lateral: Value, longitudinal: Value) -> WheelLoads:
    """Return the four loads while cornering and braking or driving: standing load, ``∓ΔN_long/2``, ``∓ΔN_i``.

    Where an inner wheel would carry less than nothing it is in the air: its axle can move no more load, and the moment
    left over goes to the other axle, ``ΔN_f·t_f + ΔN_r·t_r`` being what holds the car up.

    Parameters:
        car: what stays, any shapes [-]
        setup: what the workshop can change [-]
        lateral: lateral acceleration, positive in a left-hand turn [m/s²]
        longitudinal: longitudinal acceleration, negative slowing down [m/s²]

    Returns:
        loads and what made them [any]

    Errors:
        ``InputError`` where both wheels of a side or of an end would leave the ground.

    Validity: rigid tyres, no stop touching, no air forces, no anti angles; a lifted wheel makes the roll
    angle no larger.

    Source: Barton & Fieldhouse, Automotive Chassis Engineering (2018), section 3.10; the lifted wheel follows.
    """
    moved = transfer(car, setup, lateral)
    shift = longitudinal_transfer(car.mass, longitudinal, car.cg_height, car.wheelbase)
    corners = corner_loads(car.mass, car.front_share, car.left_share, setup.cross_weight)
    front_l, front_r, rear_l, rear_r, shift, front_t, rear_t, track_f, track_r = np.broadcast_arrays(
        *(corners.front_left, corners.front_right, corners.rear_left, corners.rear_right),
        *(shift, moved.front.total, moved.rear.total, car.front.track, car.rear.track),
    )
    standing = np.array([[front_l, front_r], [rear_l, rear_r]], dtype=float)
    level = standing + np.array([-shift, shift])[:, None] / 2
    if np.any(level < 0):
        low = float(np.min(level)) / G
        raise _tips(f"{low:.0f} kg on one wheel", "an end of the car would leave the ground", "brake or drive less")
    track = np.array([track_f, track_r], dtype=float)
    ask = np.array([front_t, rear_t], dtype=float)
    inner = np.where(ask >= 0, level[:, 0], level[:, 1])
    over = np.maximum(np.abs(ask) - inner, 0.0)
    given = np.minimum(np.abs(ask), inner) + (over * track)[::-1] / track
    if np.any(given > inner * (1 + 1e-12)):
        raise _tips("both inner wheels in the air", "the car would tip over", "corner less, or lower the car")
    side = np.sign(ask) * given
    load = level + np.stack([-side, side], axis=1)
    return WheelLoads(np.maximum(load, 0.0), standing, moved, shift[()], over > 0)


def _tips(got: str, rule: str, remedy: str) -> InputError:
    return InputError([Problem("this moment", got, f"cannot be: {rule}", remedy)])


def two_wheel(car: Car, setup: Setup) -> TwoWheel:
    """Make the two-wheel car: ``a = L·(1 − F)``, ``b = L·F``, each axle as stiff as its two tyres standing.

    Parameters:
        car: what stays, any shapes [-]
        setup: what the workshop can change [-]

    Returns:
        a ``TwoWheel`` [-]

    Validity: tyres and weight alone: no load transfer, toe, camber, roll steer or compliance.
    """
    loads = corner_loads(car.mass, car.front_share, car.left_share, setup.cross_weight)

    def axle(axle: Axle, setup: AxleSetup, left: Any, right: Any) -> Any:
        both = (cornering_stiffness(axle.tyre, load, setup.pressure) for load in (left, right))
        return sum(both)

    return TwoWheel(
        mass=car.mass,
        inertia=car.inertia,
        a=car.wheelbase * (1 - np.asarray(car.front_share))[()],
        b=car.wheelbase * car.front_share,
        front_stiffness=axle(car.front, setup.front, loads.front_left, loads.front_right),
        rear_stiffness=axle(car.rear, setup.rear, loads.rear_left, loads.rear_right),
    )


def symbols(car: Car, setup: Setup, lateral: Value, longitudinal: Value, speed: Value) -> dict[str, Value]:
    """Return the car's number for every symbol of ``working``, SI.

    Parameters:
        car: what stays [-]
        setup: what the workshop can change [-]
        lateral: lateral acceleration [m/s²]
        longitudinal: longitudinal acceleration [m/s²]
        speed: speed [m/s]

    Returns:
        symbol's name → its number [any]

    Validity: where an equation of ``working`` uses one symbol for the whole car and the body, as ``h``, the body's is
    under ``h_s``.
    """
    body, two = roll_car(car, setup), two_wheel(car, setup)
    arm = transfer(car, setup, lateral).arm
    return {
        "m": car.mass, "m_s": body.sprung_mass, "m_uf": car.front.unsprung_mass, "m_ur": car.rear.unsprung_mass,
        "g": G, "a_x": longitudinal, "a_y": lateral, "h": car.cg_height, "h_s": body.cg_height,
        "h_f": body.front.roll_centre, "h_r": body.rear.roll_centre,
        "h_uf": body.front.unsprung_height, "h_ur": body.rear.unsprung_height, "d": arm, "q": body.front_share,
        "L": car.wheelbase, "a": two.a, "b": two.b, "t_f": car.front.track, "t_r": car.rear.track,
        "K_f": body.front.stiffness, "K_r": body.rear.stiffness,
        "C_f": two.front_stiffness, "C_r": two.rear_stiffness, "K": understeer_gradient(two).total, "V": speed,
    }  # fmt: skip
