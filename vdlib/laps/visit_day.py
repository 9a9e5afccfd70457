"""An invented day before and after a workshop visit: the same driver, the same habit of lifting, another rear.

Before, the example car is at the heights it came back with; after, at its reference. The motion model drives every
lift, on both cars, and a phone writes it down. Nothing is put into the laps but this.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from ..answers.corner import QUICK_LIFT
from ..answers.lift import REACTION, Run, Scenario, simulate, tabulate
from ..answers.stacking import stack
from ..car.examples import load_example
from ..car.reference import reference_of
from ..units import Array, G
from .clubday import CORNERS, write_logs
from .phone import Phone
from .scare_day import ScareDay, drive_session
from .slide_runs import CAR, FINE, STARTS, cut, rate_of, steady_rear

NAMES = ("before", "after")
SAYS = "an invented day on an invented course, an invented car before and after a workshop: no such car, driver or day"
LAPS = 12
"""Laps of a session: about twenty minutes, as track days have them; common practice, no source."""
LEVEL = 0.74 * G
"""Lateral acceleration of the driver's laps [m/s²]: the most, by steps of 0.02 g, at which the car as it came back
spins less than once a session."""
PLACES = (0, 6)
"""Corners in which the driver lifts, from 0: the longest of the course."""
LIFTS = (0.5 * QUICK_LIFT, 1.5 * QUICK_LIFT)
"""Least and most engine drag over weight once the foot has come up [-]: a quick lift, give or take half of it."""
WANDERS = 0.02
"""Scatter of the lateral acceleration at which the driver is when lifting, as a part of it."""
RATE = 50.0
"""Rows a second of the phone."""
_FOOT_UP = 1.5
_LASTS = 4.5
_COARSE = 0.02
"""Time step of the motion model [s]: half as dear as ``FINE``, and within 0.3 °/s of it."""
_QUIET = np.radians(4.0)


@dataclass(frozen=True)
class VisitDay:
    """One invented day: what happened in each session, and what a phone wrote down of it."""

    number: int
    sessions: tuple[ScareDay, ...]
    lifts: Array  # (sessions, laps, places) engine drag over weight once the foot has come up [-]

    def write(self, folder: str | Path) -> tuple[Path, ...]:
        """Write one log for each session.

        Parameters:
            folder: where to; made where it is not there [-]

        Returns:
            the paths [-]
        """
        names = (f"workshop-visit-{self.number}-{name}.csv" for name in NAMES)
        return write_logs(folder, {name: one.csv() for name, one in zip(names, self.sessions, strict=True)})


def make_visit(number: int, laps: int = LAPS, changed: bool = True) -> VisitDay:
    """Drive one invented day.

    Parameters:
        number: any whole number; the same number gives the same day [-]
        laps: whole laps of each session [-]
        changed: whether the workshop did anything; False drives the car as it came back in both sessions [-]

    Returns:
        a ``VisitDay`` [-]

    Validity: as ``make_scare``. In three corners of each lap the foot comes up by a size that chance draws alike for
    both sessions; the driver expects it and steers against the slide after ``REACTION``; the throttle stays closed
    until the car is quiet again.
    """
    rng = np.random.default_rng((number, 1))
    file = load_example(CAR)
    pair = [(file.car, file.setup)] * 2
    if changed:
        reference = reference_of(file)
        pair[1] = (reference.car, reference.setup)
    shape = (len(NAMES), laps, len(PLACES))
    lifts = rng.uniform(*LIFTS, shape)
    lateral = LEVEL * (1 + WANDERS * rng.standard_normal(shape))
    speed = np.sqrt(lateral * np.array([CORNERS[place][0] for place in PLACES]))
    what = Scenario(
        speed, lateral, lifts, starts=STARTS, closing=0.15, counter_steer=1.0, reaction=REACTION["expecting it"][1],
        lasts=_LASTS,
    )  # fmt: skip
    car, setup = (stack(each, 2) for each in zip(*pair, strict=True))
    run = simulate(car, setup, what, step=_COARSE, table=tabulate(car, setup, float(speed.mean()), 0.0, 1.0))
    ends = _ends(run)
    sessions = []
    for i, (car, setup) in enumerate(pair):
        chosen = [
            (lap + 1, cut(run, (i, lap, k), place, float(lifts[i, lap, k]), int(ends[i, lap, k])))
            for lap in range(laps)
            for k, place in enumerate(PLACES)
        ]
        steady = list(steady_rear(car, setup))
        drive = partial(drive_session, rng, number, laps, partial(list, chosen), steady, LEVEL, Phone(), RATE)
        sessions.append(drive(says=SAYS))
    return VisitDay(number, tuple(sessions), lifts)


def _ends(run: Run) -> Array:
    """Return the row at which the driver goes back to the throttle: after long enough, once the car is quiet."""
    busy = np.abs(rate_of(run)) > _QUIET
    rows = np.arange(len(busy)).reshape(-1, *(1,) * (busy.ndim - 1))
    last = np.max(np.where(busy, rows, 0), axis=0)
    least, most = round((STARTS + _FOOT_UP) / FINE), round(float(run.time[-1]) / FINE)
    return np.asarray(np.clip(np.round((run.time[last] + 0.2) / FINE), least, most), dtype=int)
