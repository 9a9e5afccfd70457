"""Power-off in a turn, read off a run as the standard test does: what a closed throttle does to a steady circle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.records import Car, Setup
from ..checks import InputError, Problem
from ..units import Array, Flags
from .lift import Mark, Run, simulate
from .scenario import Scenario
from .wheel_table import Table, tabulate

RADIUS = 100.0
"""Radius of the circle [m]; ISO 9816."""
FROM, STEP = 4.0, 0.5
"""Least lateral acceleration, and the step from one to the next [m/s²]; ISO 9816 has steps of 1 at most."""
AFTER = 3.0
"""Time after the throttle closes that is looked at [s]."""


@dataclass(frozen=True)
class PowerOff:
    """What the test reads, shape of the run's cases; where the car spun in that time, what it had reached by then."""

    lateral: Array  # before the throttle closes [m/s²]
    yaw_ratio_1s: Array  # yaw rate over that of the first circle at the speed of the moment, 1 s after [-]
    yaw_ratio_2s: Array  # the same 2 s after [-]
    sideslip_gained: Array  # the most within 3 s beyond the circle's own, tail out positive [rad]
    radius_ratio: Array  # radius of the path 2 s after over the circle's [-]
    path_deviation: Array  # distance from the circle 2 s after, outward positive [m]
    deceleration: Array  # mean along the path over 2 s [m/s²]
    spun: Flags
    holds: Flags  # False where the circle cannot be held even before the throttle closes

    @property
    def knee(self) -> Array:
        """First lateral acceleration along the last axis at which the tail gains 5° and more; else infinite [m/s²]."""
        far = self.sideslip_gained >= np.radians(5.0)
        return np.where(
            far.any(axis=-1), np.take_along_axis(self.lateral, far.argmax(axis=-1)[..., None], -1)[..., 0], np.inf
        )


def power_off(run: Run, starts: float) -> PowerOff:
    """Read a run as the test does: ``r/(V/R₀)`` at 1 and 2 s, sideslip gained, ``R/R₀``, path, slowing.

    Parameters:
        run: runs with the wheel held, each from its steady circle [-]
        starts: when the throttle closes [s]

    Returns:
        a ``PowerOff`` [-]

    Errors:
        ``InputError`` for a run that ends less than 3 s after the throttle closes.

    Validity: as the run; steering held.
    Source: ISO 9816, Passenger cars: power-off reaction of a vehicle in a turn (from memory).
    """
    if run.time[-1] < starts + AFTER - 1e-6:
        got = f"{run.time[-1] - starts:.1f} s"
        raise InputError(
            [Problem("time after the throttle closes", got, f"must be {AFTER:g} s at least", "run longer")]
        )
    circle = np.abs(run.start.curvature)
    turn = np.where(run.start.curvature < 0, -1.0, 1.0)
    first, one, two, three = (int(np.argmin(np.abs(run.time - starts - t))) for t in (0.0, 1.0, 2.0, AFTER))

    def ratio(at: int) -> Array:
        return np.asarray(turn * run.yaw_rate[at] / (run.speed[at] * circle))

    bend = run.start.curvature
    square = run.x[two] ** 2 + run.y[two] ** 2
    inward = (bend * square - 2 * run.y[two]) / (np.hypot(bend * run.x[two], bend * run.y[two] - 1) + 1)
    moving = run.time[two] < run.held
    course = np.where(moving, turn * run.lateral[two], np.nan)
    marks = np.bitwise_or.reduce(run.marks[first : three + 1].astype(int), axis=0)
    return PowerOff(
        lateral=np.abs(np.broadcast_to(run.lateral[0], course.shape)),
        yaw_ratio_1s=ratio(one),
        yaw_ratio_2s=ratio(two),
        sideslip_gained=run.slide[first : three + 1].max(axis=0),
        radius_ratio=np.asarray(run.speed[two] ** 2 * circle / np.where(course > 0, course, np.nan)),
        path_deviation=np.asarray(turn * inward),
        deceleration=(run.speed[first] - run.speed[two]) / (run.time[two] - run.time[first]),
        spun=(marks & int(Mark.SPUN)) != 0,
        holds=(marks & int(Mark.NO_CORNER)) == 0,
    )


def circles(most: float = 9.0, radius: float = RADIUS) -> tuple[Array, Array]:
    """Return the speeds and lateral accelerations of the test's circles: from 4 m/s² up in steps of 0.5 m/s².

    Parameters:
        most: greatest lateral acceleration [m/s²]
        radius: of the circle [m]

    Returns:
        speed [m/s] and lateral acceleration [m/s²]
    """
    lateral = np.arange(FROM, most + 1e-9, STEP)
    return np.sqrt(lateral * radius), lateral


def table_of(car: Car, setup: Setup, most: float = 9.0) -> Table:
    """Ask the trim for every wheel over the whole test: no lift of the throttle moves it.

    Parameters:
        car: as of ``series`` [-]
        setup: likewise [-]
        most: likewise [m/s²]

    Returns:
        a ``Table`` [-]

    Errors:
        as ``simulate``.
    """
    return tabulate(car, setup, circles(most)[0], 0.0)


def series(
    car: Car,
    setup: Setup,
    lift: Any,
    most: float = 9.0,
    radius: float = RADIUS,
    step: float | None = None,
    table: Table | None = None,
) -> PowerOff:
    """Run the whole test: circles of one radius from 4 m/s² up in steps of 0.5 m/s², each from its own steady speed.

    Parameters:
        car: the car; other shapes than one come first [-]
        setup: its setup, likewise with a last axis of length one where it is an array [-]
        lift: engine's drag over weight once the throttle is closed [-]
        most: greatest lateral acceleration [m/s²]
        radius: of the circle [m]
        step: as of ``simulate`` [s]
        table: from ``table_of`` with the same car and setup, to save making it again [-]

    Returns:
        a ``PowerOff``, lateral acceleration along the last axis; a circle that cannot be held reads as it stands [-]

    Errors:
        as ``simulate``.
    """
    scenario = Scenario(*circles(most, radius), lift, starts=0.2, lasts=AFTER + 0.1)
    return power_off(simulate(car, setup, scenario, step=step, table=table), 0.2)
