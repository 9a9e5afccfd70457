"""Closed forms for wheel loads: standing, braking, cornering, and how far the body rolls.

Plain functions of SI numbers or arrays; every result is a small record with its intermediate quantities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .checks import InputError, Problem
from .units import G, Value


def need_positive(**named: Value) -> None:
    """Refuse numbers that must be finite and above zero: ``0 < x < ∞``.

    Parameters:
        named: the numbers under the names the reader knows them by, any shape [any]

    Returns:
        nothing [-]

    Errors:
        ``InputError`` naming each number that is not finite and above zero.
    """
    bad = [(k.replace("_", " "), np.asarray(v)) for k, v in named.items()]
    bad = [(k, v) for k, v in bad if not np.all(np.isfinite(v) & (v > 0))]
    if bad:
        raise InputError(
            Problem(
                k,
                f"{float(v[~(np.isfinite(v) & (v > 0))].flat[0]):.6g}",
                "must be finite and above zero",
                "measure it again",
            )
            for k, v in bad
        )


@dataclass(frozen=True)
class AxleLoads:
    """Loads of the two axles and of one wheel of each [N]."""

    front: Value
    rear: Value

    @property
    def front_wheel(self) -> Value:
        """Half the front axle's load [N]."""
        return self.front / 2

    @property
    def rear_wheel(self) -> Value:
        """Half the rear axle's load [N]."""
        return self.rear / 2


def static_loads(mass: Value, front_share: Value) -> AxleLoads:
    """Give the axle loads of a standing car: ``N_f = F·m·g``, ``N_r = (1 − F)·m·g``.

    Parameters:
        mass: mass ready to drive, any shape [kg]
        front_share: front share of weight, any shape [-]

    Returns:
        axle loads and wheel loads [N]

    Errors:
        ``InputError`` if the mass is not above zero.

    Validity: level ground, left and right alike for the wheel loads.

    Source: Jazar, Vehicle Dynamics, section 2.1.
    """
    need_positive(mass=mass)
    weight = mass * G
    return AxleLoads(weight * front_share, weight * (1 - front_share))


@dataclass(frozen=True)
class Centre:
    """Where the centre of gravity is along the car: distances to the axles [m], share [-], mass [kg]."""

    behind_front: Value
    ahead_of_rear: Value
    front_share: Value
    mass: Value


def centre_of_gravity(front_load: Value, rear_load: Value, wheelbase: Value) -> Centre:
    """Find the centre of gravity from two axle loads: ``a = L·N_r/(N_f + N_r)``.

    Parameters:
        front_load: load of the front axle, any shape [N]
        rear_load: load of the rear axle, any shape [N]
        wheelbase: wheelbase, any shape [m]

    Returns:
        distances, front share and mass [any]

    Errors:
        ``InputError`` if a load or the wheelbase is not above zero.

    Validity: level ground.

    Source: Jazar, Vehicle Dynamics, section 2.1.
    """
    need_positive(front_load=front_load, rear_load=rear_load, wheelbase=wheelbase)
    total = front_load + rear_load
    return Centre(wheelbase * rear_load / total, wheelbase * front_load / total, front_load / total, total / G)


@dataclass(frozen=True)
class Corners:
    """The four wheel loads [N]."""

    front_left: Value
    front_right: Value
    rear_left: Value
    rear_right: Value


def corner_loads(mass: Value, front_share: Value, left_share: Value, cross_weight: Value) -> Corners:
    """Give the four loads of a standing car: ``N_fl = m·g·(F + Y − X)/2`` and so on round the car.

    Parameters:
        mass: mass ready to drive, any shape [kg]
        front_share: front share of weight F, any shape [-]
        left_share: left share of weight Y, any shape [-]
        cross_weight: right front plus left rear over the total X, any shape [-]

    Returns:
        the four loads [N]

    Errors:
        ``InputError`` if the shares leave a wheel with less than nothing.

    Validity: level ground. With Y other than one half no single cross weight makes both axles even.

    Source: own derivation from the three sums that define F, Y and X.
    """
    need_positive(mass=mass)
    f, y, x = (np.asarray(v, dtype=float) for v in (front_share, left_share, cross_weight))
    half = np.asarray(mass) * G / 2
    loads = [half * part for part in (f + y - x, f - y + x, y - f + x, 2 - f - y - x)]
    low = min(float(np.min(load)) for load in loads)
    if not low >= 0:
        raise InputError(
            [
                Problem(
                    "corner weight",
                    f"{low / G:.4g} kg",
                    "must not be below zero",
                    "front share, left share and cross weight do not belong together; weigh again",
                )
            ]
        )
    return Corners(*(load[()] for load in loads))


def longitudinal_transfer(mass: Value, longitudinal: Value, cg_height: Value, wheelbase: Value) -> Any:
    """Give the load that moves from front to rear axle: ``ΔN = m·a_x·h/L``.

    Parameters:
        mass: mass ready to drive, any shape [kg]
        longitudinal: longitudinal acceleration, negative slowing down, any shape [m/s²]
        cg_height: centre-of-gravity height, any shape [m]
        wheelbase: wheelbase, any shape [m]

    Returns:
        load gained by the rear axle and lost by the front, both wheels together [N]

    Errors:
        ``InputError`` if mass or wheelbase is not above zero.

    Validity: steady acceleration, no air forces; pitch moves the centre of gravity very little.

    Source: Gillespie, Fundamentals of Vehicle Dynamics, chapter 1 (from memory).
    """
    need_positive(mass=mass, wheelbase=wheelbase)
    return mass * longitudinal * cg_height / wheelbase


@dataclass(frozen=True)
class Stop:
    """Braking with every braked wheel at its grip: deceleration [m/s²], distance [m], axle loads over weight [-]."""

    deceleration: Value
    distance: Value
    front: Value
    rear: Value


def stop(
    speed: Value, friction: Value, wheelbase: Value, cg_height: Value, behind_front: Value, braked: str = "all"
) -> Stop:
    """Stop a car on its front, rear or all brakes: ``d = μ·g`` times the load share of the braked axles.

    Rear only ``μ·g·a/(L + μ·h)``; front only ``μ·g·b/(L − μ·h)``; all ``μ·g``.

    Parameters:
        speed: speed, any shape [m/s]
        friction: grip of the braked wheels, any shape [-]
        wheelbase: wheelbase, any shape [m]
        cg_height: centre-of-gravity height, any shape [m]
        behind_front: distance of the centre of gravity behind the front axle, any shape [m]
        braked: "front", "rear" or "all" [-]

    Returns:
        deceleration, distance and axle loads as shares of the weight [any]

    Errors:
        ``InputError`` for another word, or if the rear wheels would leave the ground.

    Validity: no air forces, no driver's delay, wheels at their grip from the first instant.

    Source: Bevan, Theory of Machines, example 6 p. 264.
    """
    need_positive(friction=friction, wheelbase=wheelbase)
    ahead = wheelbase - np.asarray(behind_front)
    if braked == "all":
        share: Any = np.asarray(friction, dtype=float)
    elif braked == "rear":
        share = friction * np.asarray(behind_front) / (wheelbase + friction * np.asarray(cg_height))
    elif braked == "front":
        share = friction * ahead / np.maximum(wheelbase - friction * np.asarray(cg_height), 1e-12)
    else:
        raise InputError(
            [Problem("braked", repr(braked), "must be front, rear or all", "choose one of the three words")]
        )
    front = (ahead + share * cg_height) / wheelbase
    if np.any(front > 1):
        raise InputError(
            [
                Problem(
                    "load on the front axle",
                    f"{100 * float(np.max(front)):.4g} %",
                    "must stay below 100 %",
                    "the rear wheels would leave the ground; lower the grip or the centre of gravity",
                )
            ]
        )
    slowing = share * G
    return Stop(slowing[()], (np.asarray(speed) ** 2 / (2 * slowing))[()], front[()], (1 - front)[()])


def skid(speed: Value, distance: Value, wheelbase: Value, cg_height: Value, behind_front: Value) -> Stop:
    """Read grip and axle loads off a skid with all wheels locked: ``d = V²/(2·s)``, ``μ = d/g``.

    Parameters:
        speed: speed at which the wheels locked, any shape [m/s]
        distance: length of the skid to rest, any shape [m]
        wheelbase: wheelbase, any shape [m]
        cg_height: centre-of-gravity height, any shape [m]
        behind_front: distance of the centre of gravity behind the front axle, any shape [m]

    Returns:
        deceleration, distance and axle loads as shares of the weight; the grip is deceleration over g [any]

    Errors:
        ``InputError`` as for ``stop``.

    Validity: level road, all four wheels sliding.

    Source: Beer & Johnston, Vector Mechanics, sample problem 16.1 (from memory).
    """
    need_positive(distance=distance, speed=speed)
    return stop(speed, np.asarray(speed) ** 2 / (2 * np.asarray(distance) * G), wheelbase, cg_height, behind_front)


def rigid_transfer(mass: Value, lateral: Value, cg_height: Value, track: Value) -> Any:
    """Give the load that moves from the inner to the outer side of a rigid car: ``ΔN = m·a_y·h/t``.

    Parameters:
        mass: mass ready to drive, any shape [kg]
        lateral: lateral acceleration, any shape [m/s²]
        cg_height: centre-of-gravity height, any shape [m]
        track: track, any shape [m]

    Returns:
        load gained by the outer side, both its wheels together [N]

    Errors:
        ``InputError`` if mass or track is not above zero.

    Validity: no suspension, equal tracks, inner wheels still on the ground.

    Source: Gillespie, Fundamentals of Vehicle Dynamics, chapter 9 (from memory).
    """
    need_positive(mass=mass, track=track)
    return mass * lateral * cg_height / track


def stability_factor(track: Value, cg_height: Value) -> Any:
    """Give the static stability factor: ``t/(2·h)``.

    Parameters:
        track: average track, any shape [m]
        cg_height: centre-of-gravity height, any shape [m]

    Returns:
        lateral acceleration in g at which a rigid car tips [-]

    Errors:
        ``InputError`` if a size is not above zero.

    Validity: rigid car; a real one leans on its springs and tyres and tips some 10 to 20 % earlier.

    Source: NHTSA, Rollover Resistance, final rule, section V.
    """
    need_positive(track=track, cg_height=cg_height)
    return track / (2 * cg_height)


def overturning_speed(radius: Value, track: Value, cg_height: Value) -> Any:
    """Give the speed at which a rigid car's inner wheels leave the ground: ``V = √(g·R·t/(2·h))``.

    Parameters:
        radius: radius of the turn, any shape [m]
        track: track, any shape [m]
        cg_height: centre-of-gravity height, any shape [m]

    Returns:
        speed [m/s]

    Errors:
        ``InputError`` if a size is not above zero.

    Validity: rigid car, level road, grip enough to get there.

    Source: Tayal, Engineering Mechanics, example 15.20.
    """
    need_positive(radius=radius)
    return np.sqrt(G * radius * stability_factor(track, cg_height))


def spring_roll_stiffness(spring: Value, motion_ratio: Value, track: Value) -> Any:
    """Give the roll stiffness of one axle's two springs: ``K = ½·k·MR²·t²``.

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
    """
    need_positive(track=track)
    return 0.5 * spring * motion_ratio**2 * track**2


def bar_roll_stiffness(
    diameter: Value, length: Value, twist: Value, track: Value, bore: Value = 0.0, shear_modulus: Value = 80e9
) -> Any:
    """Give the roll stiffness of an anti-roll bar: ``K = π·(D⁴ − d⁴)·G/(32·l)·c²·t²``.

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
    """Body roll: angle [rad], moment about the roll axis [N·m], stiffness left after gravity's part [N·m/rad]."""

    angle: Value
    moment: Value
    net_stiffness: Value


def roll(lateral: Value, sprung_mass: Value, arm: Value, stiffness: Value, gravity_roll: bool = True) -> Roll:
    """Give the roll angle in a steady turn: ``φ = m_s·a_y·d/(ΣK − m_s·g·d)``.

    Parameters:
        lateral: lateral acceleration, any shape [m/s²]
        sprung_mass: mass that rides on the springs, any shape [kg]
        arm: height of its centre of gravity above the roll axis, any shape [m]
        stiffness: roll stiffness of both axles together, any shape [N·m/rad]
        gravity_roll: count the moment of the leaning body's own weight [-]

    Returns:
        angle, moment and net stiffness; positive angle in a left turn is the right side dropping [any]

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
    return Roll(moment / net, moment, net)


def roll_gradient(sprung_mass: Value, arm: Value, stiffness: Value, gravity_roll: bool = True) -> Any:
    """Give roll for each unit of lateral acceleration: ``dφ/da_y = m_s·d/(ΣK − m_s·g·d)``.

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


def roll_centre_height(instant_height: Value, instant_distance: Value, track: Value) -> Any:
    """Give the roll-centre height from one wheel's front-view instant centre: ``h_rc = (t/2)·z/y``.

    Parameters:
        instant_height: height of the instant centre above the ground, any shape [m]
        instant_distance: distance of the instant centre inward from the contact patch, any shape [m]
        track: track, any shape [m]

    Returns:
        roll-centre height [m]

    Errors:
        ``InputError`` if the track is not above zero or the distance is zero.

    Validity: both wheels alike, car upright; parallel links put the instant centre at infinity, use a large distance.

    Source: Milliken & Milliken, Race Car Vehicle Dynamics, section 17.3 (from memory).
    """
    need_positive(track=track, instant_distance=np.abs(instant_distance))
    return track / 2 * instant_height / instant_distance


def anti_angle(instant_height: Value, instant_distance: Value) -> Any:
    """Give the anti angle from a side-view instant centre: ``ψ = atan(z/x)``.

    Parameters:
        instant_height: its height above the ground (brakes) or above the wheel centre (drive), any shape [m]
        instant_distance: distance of the instant centre toward the middle of the car, any shape [m]

    Returns:
        anti angle, positive when it holds the body against its pitching [rad]

    Errors:
        ``InputError`` if the distance is zero.

    Validity: from the ground for outboard brakes, from the wheel centre for drive through half shafts.

    Source: K. Tse, Anti-lift, anti-dive and kinematic pitch centre analysis (2021).
    """
    need_positive(instant_distance=np.abs(instant_distance))
    return np.arctan(instant_height / np.asarray(instant_distance))
