"""What is read off a trim: understeer angle and gradient, stability, how fast a slide grows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..trim.trim import Heights, Trim, shape_of, trim
from ..units import Array, G
from .growth import doubling, growth_rate

HALF_SPAN = 0.004 * G
"""Half the span of lateral acceleration over which a local slope is taken [m/s²]."""


@dataclass(frozen=True)
class Balance:
    """The balance of one moment; whatever has no value there is NaN, and ``trim.usable`` is False."""

    trim: Trim
    understeer_angle: Array  # front slip angle less rear slip angle [rad]
    gradient: Array  # its local slope against lateral acceleration at this speed [rad/(m/s²)]
    yaw_stability: Array  # b·C_r − a·C_f from the local stiffnesses, stable when positive [N·m/rad]
    critical_speed: Array  # with those stiffnesses; infinite where there is none [m/s]
    time_to_double: Array  # of a small slide, steering held, loads and toe following; infinite where it dies out [s]


def balance(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None) -> Balance:
    """Read the balance of one moment: ``α_f − α_r``, its slope ``K = d(α_f − α_r)/da_y``, and the stability.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: what the car is doing [-]
        heights: ride heights for single routes in place of the setup's own [m]

    Returns:
        a ``Balance`` with the inputs' broadcast shape [-]

    Errors:
        as ``trim``.

    Validity: the slope is taken at constant speed and longitudinal acceleration, over ±0.004 g, or one half of that
    where the other half is past the limit; stability is that of the two-wheel model with the local axle stiffnesses.
    Source: ISO 4138 (constant speed); Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 1.3.3.
    """
    shape = shape_of(car, setup, moment, heights)
    lateral = np.broadcast_to(np.asarray(moment.lateral, dtype=float), shape)
    spread = np.array([0.0, -HALF_SPAN, HALF_SPAN]).reshape(3, *(1,) * len(shape))
    three = trim(car, setup, replace(moment, lateral=lateral + spread), heights)
    middle = three.pick(0)
    front, rear = middle.stiffness
    a, b = middle.cg_to_axle
    stability = b * rear - a * front
    speed = np.broadcast_to(np.asarray(moment.speed, dtype=float), shape)
    bound = np.maximum(front * rear, 0.0) * (a + b) ** 2 / (np.where(stability < 0, -stability, 1.0) * car.mass)
    critical = np.where(stability < 0, np.sqrt(bound), np.inf)
    usable = middle.usable
    steeper = slopes(three.slip, three.usable)
    return Balance(
        trim=middle,
        understeer_angle=np.where(usable, middle.understeer_angle, np.nan),
        gradient=steeper[0] - steeper[1],
        yaw_stability=np.where(usable, stability, np.nan),
        critical_speed=np.where(usable, critical, np.nan),
        time_to_double=doubling(settled_growth(car.mass, car.inertia, middle, steeper, speed)),
    )


def slopes(slip: Array, usable: Array) -> Array:
    """Return how each slip angle grows with lateral acceleration, from a moment and those beside it: ``dα_i/da_y``.

    Parameters:
        slip: slip angles of front and rear, (2, 3, …): at the moment, and ``HALF_SPAN`` below and above it [rad]
        usable: where a steady corner exists, (3, …) [-]

    Returns:
        slopes, (2, …), over one half of the span where the other is past the limit; NaN where there is none
        [rad/(m/s²)]
    """
    low = np.where(usable[1], slip[:, 1], slip[:, 0])
    high = np.where(usable[2], slip[:, 2], slip[:, 0])
    width = HALF_SPAN * (usable[1].astype(float) + usable[2])
    known = usable[0] & (width > 0)
    return np.where(known, (high - low) / np.where(width > 0, width, 1.0), np.nan)


def settled_growth(mass: Any, inertia: Any, middle: Trim, steeper: Array, speed: Any) -> Array:
    """Return the growth rate of a small slide about a settled moment, wheel loads, toe and camber following the car.

    ``G_i = m_i − C_i·dα_i/da_y`` is how each axle's side force follows lateral acceleration at a slip angle held.

    Parameters:
        mass: mass, any shape that goes with the trim's [kg]
        inertia: yaw inertia, likewise [kg·m²]
        middle: the moment's trim [-]
        steeper: from ``slopes``, (2, …) [rad/(m/s²)]
        speed: speed [m/s]

    Returns:
        growth rate, negative where a small slide dies out, NaN past the limit [1/s]

    Source: as ``growth.growth_rate``.
    """
    a, b = middle.cg_to_axle
    own = np.multiply(mass, np.stack([b, a]) / (a + b))
    rate = growth_rate(mass, inertia, (a, b), middle.stiffness, own - middle.stiffness * steeper, speed)
    return np.where(middle.usable, rate, np.nan)
