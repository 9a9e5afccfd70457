"""Closed forms for wheel loads: standing, braking, a rigid car cornering; and what an instant centre gives.

Plain functions of SI numbers or arrays; every result is a small record with its intermediate quantities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive
from ..units import G, Value


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
    """Compute the axle loads of a standing car: ``N_f = F·m·g``, ``N_r = (1 − F)·m·g``.

    Parameters:
        mass: mass ready to drive, any shape [kg]
        front_share: front share of weight, any shape [-]

    Returns:
        axle loads and wheel loads [N]

    Errors:
        ``InputError`` if the mass is not above zero.

    Validity: level ground, left and right alike for the wheel loads.

    Source: Jazar, Vehicle Dynamics, section 2.1.

    Example:
        >>> round(float(static_loads(1000.0, 0.41).front_wheel))
        2011
    """
    need_positive(mass=mass)
    weight = mass * G
    return AxleLoads(weight * front_share, weight * (1 - front_share))


@dataclass(frozen=True)
class Centre:
    """Where the centre of gravity is along the car: distance behind the front axle [m], front share [-], mass [kg]."""

    behind_front: Value
    front_share: Value
    mass: Value


def centre_of_gravity(front_load: Value, rear_load: Value, wheelbase: Value) -> Centre:
    """Find the centre of gravity from two axle loads: ``a = L·N_r/(N_f + N_r)``.

    Parameters:
        front_load: load of the front axle, any shape [N]
        rear_load: load of the rear axle, any shape [N]
        wheelbase: wheelbase, any shape [m]

    Returns:
        distance behind the front axle, front share and mass [any]

    Errors:
        ``InputError`` if a load or the wheelbase is not above zero.

    Validity: level ground.

    Source: Jazar, Vehicle Dynamics, section 2.1.
    """
    need_positive(front_load=front_load, rear_load=rear_load, wheelbase=wheelbase)
    total = front_load + rear_load
    return Centre(wheelbase * rear_load / total, front_load / total, total / G)


@dataclass(frozen=True)
class Corners:
    """The four wheel loads [N]."""

    front_left: Value
    front_right: Value
    rear_left: Value
    rear_right: Value


def corner_loads(mass: Value, front_share: Value, left_share: Value, cross_weight: Value) -> Corners:
    """Compute the four loads of a standing car: ``N_fl = m·g·(F + Y − X)/2`` and so on round the car.

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
    """Compute the load that moves from front to rear axle: ``ΔN = m·a_x·h/L``.

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

    Example:
        >>> round(float(longitudinal_transfer(1000.0, -3.0, 0.45, 2.4)), 1)
        -562.5
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

    Source: Bevan, Theory of Machines, example 6 p. 264, as worked in a published notebook; the page was not seen.
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
    """Compute the load that moves from the inner to the outer side of a rigid car: ``ΔN = m·a_y·h/t``.

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
    """Return the static stability factor: ``t/(2·h)``.

    Parameters:
        track: average track, any shape [m]
        cg_height: centre-of-gravity height, any shape [m]

    Returns:
        lateral acceleration in g at which a rigid car tips [-]

    Errors:
        ``InputError`` if a size is not above zero.

    Validity: rigid car; a real one leans on its springs and tyres and tips some 10 to 20 % earlier.

    Source: NHTSA, Rollover Resistance, final rule, section V.

    Example:
        >>> stability_factor(1.5, 0.5)
        1.5
    """
    need_positive(track=track, cg_height=cg_height)
    return track / (2 * cg_height)


def overturning_speed(radius: Value, track: Value, cg_height: Value) -> Any:
    """Compute the speed at which a rigid car's inner wheels leave the ground: ``V = √(g·R·t/(2·h))``.

    Parameters:
        radius: radius of the turn, any shape [m]
        track: track, any shape [m]
        cg_height: centre-of-gravity height, any shape [m]

    Returns:
        speed [m/s]

    Errors:
        ``InputError`` if a size is not above zero.

    Validity: rigid car, level road, grip enough to get there.

    Source: Tayal, Engineering Mechanics, example 15.20, as worked in a published notebook; the page was not seen.
    """
    need_positive(radius=radius)
    return np.sqrt(G * radius * stability_factor(track, cg_height))


def roll_centre_from_instant_centre(instant_height: Value, instant_distance: Value, track: Value) -> Any:
    """Compute the roll-centre height from one wheel's front-view instant centre: ``h_rc = (t/2)·z/y``.

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
    """Compute the anti angle from a side-view instant centre: ``ψ = atan(z/x)``.

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
