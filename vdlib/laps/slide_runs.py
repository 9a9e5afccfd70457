"""Slides driven by the motion model, over corners, speeds, lifts and hands: what invented drives are made from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from ..answers.lift import Run, Scenario, simulate
from ..car.examples import load_example
from ..car.records import Car, Moment, Setup
from ..trim.trim import trim
from ..units import Array, G
from .clubday import CORNERS

CAR = "low-two-seater"
"""The example car that is driven."""
FINE = 0.01
"""Time step at which everything is worked out [s]."""
PLACES = (0, 1, 3, 4, 6)
"""Corners of the invented course that are long enough for a slide."""
LEVELS = np.array([0.78, 0.83, 0.88]) * G
LIFTS = np.array([0.05, 0.11, 0.18, 0.26])
"""Engine drag over weight once the foot has come up."""
HANDS = ((0.0, 0.5), (0.6, 0.25), (1.0, 0.25), (1.0, 0.5), (1.4, 0.4))
"""Counter-steer for each angle of slide, and reaction time [s], of the drivers in the collection."""
STARTS = 0.3
"""When the foot moves in each run [s]."""
_LASTS = 4.5


@dataclass(frozen=True)
class SlideRun:
    """One run of the motion model, from the foot's move on."""

    corner: int
    speed0: float
    lateral0: float
    lift: float
    kind: str
    peak: float
    ends: int  # row at which the driver has it again, or it is spinning
    data: Array  # (rows, 5): speed, acceleration along the path, path rate, yaw rate, slide angle of the path [rad]


@lru_cache(maxsize=2)
def collection(wide: bool = True) -> tuple[tuple[SlideRun, ...], Array, Array]:
    """Run the motion model over corners, levels, lifts and hands, and keep what slides by more than one degree.

    Parameters:
        wide: all of them, or the few that make an example quickly [-]

    Returns:
        the runs; lateral accelerations; the rear's steady slip angle at each [rad]
    """
    file = load_example(CAR)
    places = PLACES if wide else PLACES[1:4:2]
    levels, lifts = (LEVELS, LIFTS) if wide else (LEVELS[:2], LIFTS[1::2])
    radius = np.array([CORNERS[i][0] for i in places])[:, None, None, None]
    level = levels[:, None, None]
    hands = np.array(HANDS)
    speed = np.sqrt(radius * level)
    what = Scenario(
        speed, level, lifts[:, None], starts=STARTS, closing=0.15, counter_steer=hands[:, 0], reaction=hands[:, 1],
        lasts=_LASTS,
    )  # fmt: skip
    run = simulate(file.car, file.setup, what, step=FINE)
    slide, shape = run.slide, run.x.shape[1:]
    runs = []
    for at in np.ndindex(*shape):
        angle, held = slide[:, *at], float(run.held[at])
        if float(np.abs(angle).max()) < np.radians(1.0) or held <= STARTS:
            continue
        spins = np.isfinite(held)
        top = int(np.abs(angle).argmax())
        restless = np.abs(rate_of(run)[:, *at]) > np.radians(4.0)
        busy = np.flatnonzero(restless | (np.abs(angle) > np.radians(3.0)))
        last = max(int(busy[-1]) + 1 if len(busy) else 0, top + 1)
        if not spins and not top < last < len(angle) - 20:
            continue  # neither caught nor spun within the run
        runs.append(cut(run, at, places[at[0]], float(lifts[at[2]]), last + 20))
    return (tuple(runs), *steady_rear(file.car, file.setup))


def rate_of(run: Run) -> Array:
    """Return the rate at which the car turns against its path, yaw less path.

    Parameters:
        run: runs of the motion model [-]

    Returns:
        at each moment, (t, …) [rad/s]
    """
    return np.asarray(run.yaw_rate - run.lateral / run.speed)


def cut(run: Run, at: tuple[int, ...], corner: int, lift: float, ends: int) -> SlideRun:
    """Cut one run out of a batch at ``FINE`` steps, from its beginning to where it spins or the driver has it again.

    Parameters:
        run: the batch [-]
        at: which of its cases [-]
        corner: number of the corner on the invented course, from 0 [-]
        lift: engine drag over weight [-]
        ends: last row, at ``FINE`` steps, of a run that does not spin [-]

    Returns:
        a ``SlideRun`` [-]
    """
    here: Any = (slice(None), *at)
    held = float(run.held[at])
    spins = np.isfinite(held)
    ends = int(held / FINE) - 1 if spins else ends
    path = run.lateral[here] / run.speed[here]
    columns = (run.speed[here], run.longitudinal[here], path, run.yaw_rate[here], run.sideslip[here])
    time = FINE * np.arange(ends + 1)
    data = np.stack([np.interp(time, run.time, column) for column in columns], axis=1)
    peak, kind = float(np.abs(run.slide[here]).max()), "spin" if spins else "catch"
    return SlideRun(corner, float(data[0, 0]), float(data[0, 0] * data[0, 2]), lift, kind, peak, ends, data)


def steady_rear(car: Car, setup: Setup) -> tuple[Array, Array]:
    """Return the rear's slip angle in steady corners.

    Parameters:
        car: the car [-]
        setup: its setup [-]

    Returns:
        lateral accelerations [m/s²]; the slip angle at each [rad]
    """
    lateral = np.linspace(0.0, 0.95 * G, 40)
    return lateral, np.asarray(trim(car, setup, Moment(25.0, lateral)).slip[1])
