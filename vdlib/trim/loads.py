"""Closed forms for wheel loads: the four of a standing car, and what moves between the axles.

Plain functions of SI numbers or arrays; every result is a small record with its intermediate quantities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive
from ..units import G, Value


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
