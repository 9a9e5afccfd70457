"""One moment of a log driven again in the model: the car as it is, and at its reference, beside what was logged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..answers.lift import Scenario, simulate
from ..car.carfile import CarFile
from ..car.reference import reference_of
from ..checks import InputError
from ..draw.incident import Driven
from ..laps.incident import Incident
from ..laps.slide_rate import Turning
from ..units import from_si

WAITS = 0.3
"""Seconds of steady corner before the foot moves in the model."""
LASTS = 4.0
APART = np.radians(4.0)
"""Difference of the greatest slide from which on the two are said to differ [rad]; our choice."""


@dataclass(frozen=True)
class Again:
    """What the model makes of a moment."""

    driven: tuple[Driven, ...]
    words: str
    speed: float  # [m/s]
    lateral: float  # [m/s²]
    drop: float  # the foot, as slowing [m/s²]
    radius: float  # of the path when the car began to leave it [m]


def drive_again(file: CarFile, drive: Turning, moment: Incident) -> Again | None:
    """Drive a moment again: its speed, lateral g and foot, with the wheel held.

    Parameters:
        file: the car [-]
        drive: the drive it is of [-]
        moment: the moment [-]

    Returns:
        an ``Again``; None where the log shows no move of the foot, or the model cannot hold that corner [-]
    """
    if moment.foot is None or moment.rate is None:
        return None
    at = int(np.searchsorted(drive.time, moment.foot.time))
    before = slice(max(0, at - round(0.4 / drive.step)), at + 1)
    speed = float(np.nanmean(drive.speed[before]))
    lateral = float(np.nanmean(np.abs(drive.lateral[before])))
    sign = 1.0 if moment.turn == "left" else -1.0
    what = Scenario(speed, lateral, -moment.foot.drop, 0.0, WAITS, float(np.clip(moment.foot.took, 0.05, 1.0)),
                    lasts=LASTS)  # fmt: skip
    reference = reference_of(file)
    driven, peaks = [], []
    try:
        for setup, name, role in (
            (file.setup, "model, as the car is", "toward_oversteer"),
            (reference.setup, f"model, {reference.name}", "reference"),
        ):
            run = simulate(file.car, setup, what)
            if float(run.held) <= 0:
                return None
            moves = run.time <= (float(run.held) if np.isfinite(run.held) else np.inf)
            peaks.append(float(run.slide[moves].max()))
            driven.append(Driven(name, role, run.time[moves] - WAITS, run.speed[moves], sign * run.lateral[moves],
                                 sign * run.yaw_rate[moves], run.slide[moves]))  # fmt: skip
    except InputError:
        return None
    radius = speed * speed / lateral
    return Again(tuple(driven), _words(moment, peaks, reference.name, radius), speed, lateral, moment.foot.drop, radius)


def _words(moment: Incident, peaks: list[float], reference: str, radius: float) -> str:
    """Compare what was logged with what the model does with the wheel held."""
    here, there = (f"{min(np.degrees(p), 30):.0f}°{' and more' if np.degrees(p) > 25 else ''}" for p in peaks)
    out = (
        f"A corner of {radius:.0f} m at {from_si(moment.speed, 'kmh'):.0f} km/h with the same foot and the wheel held "
        f"still: the tail comes out by {here} with the car as it is, by {there} with {reference}. "
    )
    logged = moment.angle or 0.0
    if abs(min(logged, np.radians(30)) - min(peaks[0], np.radians(30))) < APART:
        return out + "The log agrees with the car as it is."
    if logged < peaks[0]:
        return out + (
            f"Logged: {np.degrees(logged):.0f}°, less. The driver's hands are in the log and not in the model; more "
            "grip, more travel at the rear or a smaller move of the foot than read would explain it too."
        )
    return out + (
        f"Logged: {np.degrees(logged):.0f}°, more. A brake, a bump, a cold or worn rear tyre, less travel at the rear "
        "than in the car file, or steering put on in the corner would explain it."
    )
