"""Closed forms for a rolling body: roll stiffness of springs and bars, roll angle, and each axle's load transfer.

Plain functions of SI numbers or arrays; every result is a small record with its intermediate quantities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive
from ..trim.suspension import wheel_rate
from ..units import G, Value


def spring_roll_stiffness(spring: Value, motion_ratio: Value, track: Value) -> Any:
    """Compute the roll stiffness of one axle's two springs: ``K = ½·k·MR²·t²``.

    Parameters:
        spring: rate of one spring, any shape [N/m]
        motion_ratio: spring travel over wheel travel, any shape [-]
        track: track, any shape [m]

    Returns:
        roll stiffness of the axle [N·m/rad]

    Errors:
        ``InputError`` if the track is not above zero.

    Validity: independent suspension, small roll, rigid tyre.

    Source: K. Tse, Simplified steady-state lateral load transfer analysis (2021).

    Example:
        >>> round(float(spring_roll_stiffness(48.9e3, 0.92, 1.482)))
        45452
    """
    need_positive(track=track)
    return 0.5 * wheel_rate(spring, motion_ratio) * track**2


def bar_roll_stiffness(
    diameter: Value, length: Value, twist: Value, track: Value, bore: Value = 0.0, shear_modulus: Value = 80e9
) -> Any:
    """Compute the roll stiffness of an anti-roll bar: ``K = π·(D⁴ − d⁴)·G/(32·l)·c²·t²``.

    Parameters:
        diameter: outer diameter, any shape [m]
        length: effective length in twist, any shape [m]
        twist: twist of the bar for each metre one wheel moves, any shape [rad/m]
        track: track, any shape [m]
        bore: inner diameter of a tube, 0 for a solid bar, any shape [m]
        shear_modulus: stiffness of the steel in shear, any shape [Pa]

    Returns:
        roll stiffness of the bar at the axle [N·m/rad]

    Errors:
        ``InputError`` if a size is not above zero or the bore reaches the outside.

    Validity: straight bar in pure twist; bending arms, rubber bushes and drop links make a real one softer.

    Source: K. Tse, Simplified steady-state lateral load transfer analysis (2021); the tube by the same torsion formula.
    """
    need_positive(diameter=diameter, length=length, track=track, wall=np.subtract(diameter, bore))
    return np.pi * (diameter**4 - bore**4) * shear_modulus / (32 * length) * twist**2 * track**2


@dataclass(frozen=True)
class Roll:
    """Body roll: angle [rad], moment about the roll axis [N·m]."""

    angle: Value
    moment: Value


def roll(lateral: Value, sprung_mass: Value, arm: Value, stiffness: Value, gravity_roll: bool = True) -> Roll:
    """Compute the roll angle in a steady turn: ``φ = m_s·a_y·d/(ΣK − m_s·g·d)``.

    Parameters:
        lateral: lateral acceleration, any shape [m/s²]
        sprung_mass: mass that rides on the springs, any shape [kg]
        arm: height of its centre of gravity above the roll axis, any shape [m]
        stiffness: roll stiffness of both axles together, any shape [N·m/rad]
        gravity_roll: count the moment of the leaning body's own weight [-]

    Returns:
        angle and moment; positive angle in a left turn is the right side dropping [any]

    Errors:
        ``InputError`` if the springs cannot hold the body up.

    Validity: small angles, no stop touching, no wheel in the air, rigid tyres.

    Source: Barton & Fieldhouse, Automotive Chassis Engineering (2018), eq. 3.18.
    """
    need_positive(sprung_mass=sprung_mass, roll_stiffness=stiffness)
    moment = sprung_mass * lateral * arm
    net = stiffness - (sprung_mass * G * arm if gravity_roll else 0.0)
    if np.any(np.asarray(net) <= 0):
        raise InputError(
            [
                Problem(
                    "roll stiffness",
                    f"{float(np.min(stiffness)):.6g} N·m/rad",
                    "must exceed the body's weight times its height above the roll axis",
                    "the body would fall over on its springs; check spring rates and units",
                )
            ]
        )
    return Roll(moment / net, moment)


def roll_gradient(sprung_mass: Value, arm: Value, stiffness: Value, gravity_roll: bool = True) -> Any:
    """Compute roll for each unit of lateral acceleration: ``dφ/da_y = m_s·d/(ΣK − m_s·g·d)``.

    Parameters:
        sprung_mass: mass that rides on the springs, any shape [kg]
        arm: height of its centre of gravity above the roll axis, any shape [m]
        stiffness: roll stiffness of both axles together, any shape [N·m/rad]
        gravity_roll: count the moment of the leaning body's own weight [-]

    Returns:
        roll gradient [rad/(m/s²)]

    Errors:
        ``InputError`` as for ``roll``.

    Validity: as for ``roll``.

    Source: Barton & Fieldhouse, Automotive Chassis Engineering (2018), eq. 3.18.
    """
    return roll(1.0, sprung_mass, arm, stiffness, gravity_roll).angle


@dataclass(frozen=True)
class RollAxle:
    """What one axle brings to roll: track, heights [m], roll stiffness [N·m/rad], unsprung mass of both sides [kg]."""

    track: Value
    roll_centre: Value
    stiffness: Value
    unsprung_mass: Value = 0.0
    unsprung_height: Value = 0.0


@dataclass(frozen=True)
class Transfer:
    """One axle's lateral load transfer in its three parts, inner wheel to outer wheel [N]."""

    links: Value
    unsprung: Value
    springs: Value

    @property
    def total(self) -> Value:
        """The three parts together [N]."""
        return self.links + self.unsprung + self.springs


@dataclass(frozen=True)
class LateralTransfer:
    """Both axles' transfer [N], its front share [-], the roll that goes with it, arm above the roll axis [m]."""

    front: Transfer
    rear: Transfer
    front_share: Value
    roll: Roll
    arm: Value


def lateral_transfer(
    lateral: Value,
    sprung_mass: Value,
    front_share: Value,
    cg_height: Value,
    front: RollAxle,
    rear: RollAxle,
    gravity_roll: bool = True,
) -> LateralTransfer:
    """Split each axle's transfer: ``ΔN_i = (m_s,i·a_y·h_rc,i + m_u,i·a_y·h_u,i + K_i·φ)/t_i``.

    Parameters:
        lateral: lateral acceleration, any shape [m/s²]
        sprung_mass: mass that rides on the springs, any shape [kg]
        front_share: front share of the sprung weight, any shape [-]
        cg_height: height of the sprung mass's centre of gravity, any shape [m]
        front: the front axle [-]
        rear: the rear axle [-]
        gravity_roll: count the moment of the leaning body's own weight [-]

    Returns:
        links, unsprung and springs-and-bars part of both axles, front share, and the roll [any]

    Errors:
        ``InputError`` if a track is not above zero or the springs cannot hold the body up.

    Validity: steady turn, small angles, rigid tyres and body, no stop touching, both inner wheels on the ground.

    Source: Barton & Fieldhouse, Automotive Chassis Engineering (2018), section 3.10 and p. 174.
    """
    need_positive(front_track=front.track, rear_track=rear.track)
    rear_share = 1 - np.asarray(front_share)
    arm = cg_height - front_share * front.roll_centre - rear_share * rear.roll_centre
    lean = roll(lateral, sprung_mass, arm, front.stiffness + rear.stiffness, gravity_roll)

    gradient = roll_gradient(sprung_mass, arm, front.stiffness + rear.stiffness, gravity_roll)

    def parts(axle: RollAxle, share: Any, lateral: Any, angle: Any) -> Transfer:
        return Transfer(
            links=sprung_mass * share * lateral * axle.roll_centre / axle.track,
            unsprung=axle.unsprung_mass * lateral * axle.unsprung_height / axle.track,
            springs=axle.stiffness * angle / axle.track,
        )

    # the share is taken for one unit of lateral acceleration, so that it exists on the straight too
    ahead, behind = parts(front, front_share, 1.0, gradient).total, parts(rear, rear_share, 1.0, gradient).total
    return LateralTransfer(
        front=parts(front, front_share, lateral, lean.angle),
        rear=parts(rear, rear_share, lateral, lean.angle),
        front_share=ahead / (ahead + behind),
        roll=lean,
        arm=arm,
    )
