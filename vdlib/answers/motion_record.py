"""What is read off a motion once it is driven: its path, and what wheels and axles did along it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..trim.aero import AIR_DENSITY
from ..units import Array, G
from .motion import SLIP_F, SLIP_R, Plan, U, V, axle_forces, picked, rolled, shared, wheel_slip
from .wheel_table import GRIP, LOAD


def integrate(rate: Array, rise: Array, passed: Array, first: Any) -> Array:
    """Return the integral of a rate over time from its values and slopes: Hermite's rule, of fourth order.

    Parameters:
        rate: what is integrated, (t, …) [any]
        rise: its time derivative, (t, …) [any]
        passed: time from each value to the next, (t − 1, …) [s]
        first: value at the start [any]

    Returns:
        the integral at every time, (t, …) [any]
    """
    grown = passed * (0.5 * (rate[:-1] + rate[1:]) + passed / 12 * (rise[:-1] - rise[1:]))
    out: Array = np.concatenate([np.broadcast_to(first, rate[:1].shape), grown]).cumsum(axis=0)
    return out


@dataclass(frozen=True)
class Along:
    """What wheels and axles do along a run."""

    load: Array  # (4, t, n) [N]
    force: Array  # (4, t, n) longitudinal [N]
    stiffness: Array  # (2, t, n) local slope of each axle's side force, loads held [N/rad]
    follows: Array  # (2, t, n) growth of each axle's side force with lateral acceleration, slips held [kg]
    short: Array  # (t, n) how much less engine and brakes get than they ask [N]


def along_run(plan: Plan, states: Array, time: Array) -> Along:
    """Return loads, longitudinal forces and the slopes of the axles' side forces along a run.

    Parameters:
        plan: the cases [-]
        states: from ``march``, (t, 10, n) [any]
        time: (t,) [s]

    Returns:
        an ``Along`` [-]
    """
    steps, _, n = states.shape
    s = states.transpose(1, 0, 2).reshape(10, -1)
    case = np.tile(np.arange(n), steps)
    pressure = 0.5 * AIR_DENSITY * (s[U] ** 2 + s[V] ** 2)
    own = picked(plan, case)
    shape = (-1, steps, n)
    asked = own.asked(np.repeat(time, n))
    forces = []
    row = along = slope = np.empty(0)
    felt = own.carried(s)
    for shift in (-0.02 * G, 0.02 * G, 0.0):
        row = plan.table.look(own.car, felt[0] + shift, felt[1], pressure)
        along = rolled(asked, row)
        force, slope = axle_forces(own, row, wheel_slip(row, s[[SLIP_F, SLIP_R]]), along)
        forces.append(force)
    follows = (forces[1] - forces[0]) / (0.04 * G)
    load = np.maximum(row[LOAD], 0.0)
    short = np.abs(asked).sum(axis=0) - np.abs(shared(asked, row[GRIP])).sum(axis=0)
    return Along(
        load=load.reshape(shape),
        force=along.reshape(shape),
        stiffness=slope.reshape(shape),
        follows=follows.reshape(shape),
        short=short.reshape(shape[1:]),
    )
