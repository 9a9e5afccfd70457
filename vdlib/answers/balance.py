"""What is read off a trim: understeer angle and gradient, stability, how fast a slide grows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..car.records import Car, Moment, Setup
from ..lessons.bicycle import TwoWheel, motion
from ..trim.trim import Heights, Trim, shape_of, trim
from ..units import Array, G

_STEP = 0.004 * G  # half the span over which the local slope is taken


@dataclass(frozen=True)
class Balance:
    """The balance of one moment; whatever has no value there is NaN, and ``trim.usable`` is False."""

    trim: Trim
    understeer_angle: Array  # front slip angle less rear slip angle [rad]
    gradient: Array  # its local slope against lateral acceleration at this speed [rad/(m/s²)]
    yaw_stability: Array  # b·C_r − a·C_f from the local stiffnesses, stable when positive [N·m/rad]
    critical_speed: Array  # with those stiffnesses; infinite where there is none [m/s]
    time_to_double: Array  # of a small disturbance, steering held; infinite where it dies out [s]


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

    Validity: the slope is taken at constant speed and lengthways acceleration, over ±0.004 g, or over one half of that
    where the other half is past the limit; stability is that of the two-wheel model with the local axle stiffnesses.
    Source: ISO 4138 (constant speed); Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 1.3.3.
    """
    shape = shape_of(car, setup, moment, heights)
    lateral = np.broadcast_to(np.asarray(moment.lateral, dtype=float), shape)
    spread = np.array([0.0, -_STEP, _STEP]).reshape(3, *(1,) * len(shape))
    three = trim(car, setup, replace(moment, lateral=lateral + spread), heights)
    angle, good = three.slip[0] - three.slip[1], three.usable
    low, high = np.where(good[1], angle[1], angle[0]), np.where(good[2], angle[2], angle[0])
    width = _STEP * (good[1].astype(float) + good[2])
    known = good[0] & (width > 0)
    slope = np.where(known, (high - low) / np.where(width > 0, width, 1.0), np.nan)
    middle = three.pick(0)
    front, rear = middle.stiffness
    a, b = middle.cg_to_axle
    stability = b * rear - a * front
    speed = np.broadcast_to(np.asarray(moment.speed, dtype=float), shape)
    bound = np.maximum(front * rear, 0.0) * (a + b) ** 2 / (np.where(stability < 0, -stability, 1.0) * car.mass)
    critical = np.where(stability < 0, np.sqrt(bound), np.inf)
    double = motion(TwoWheel(car.mass, car.inertia, a, b, front, rear), speed).time_to_double
    usable = middle.usable
    return Balance(
        trim=middle,
        understeer_angle=np.where(usable, middle.understeer_angle, np.nan),
        gradient=slope,
        yaw_stability=np.where(usable, stability, np.nan),
        critical_speed=np.where(usable, critical, np.nan),
        time_to_double=np.where(usable, double, np.nan),
    )
