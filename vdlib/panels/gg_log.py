"""The g-g diagram of a log, with the model's front and rear limits in it; without a log, the limits alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any

import numpy as np

from ..answers.limits import ROUGH, SWEEPS
from ..car.carfile import CarFile
from ..draw.gg import GripPicture, ShownGrip
from ..laps.slide_rate import Turning
from ..units import Array, from_si, number, to_si
from .base import Panel, Refused, choice, slider
from .gg import ALONG, NONE, Grip, grip_at, speed_slider, verdict
from .what_happened import INVENTED, OWN, SESSION, invented, kept_log

NOTHING = "no log: the model alone"
NEAR = 0.9
"""Share of the limit from which on the tyres count as nearly used up."""


@dataclass(frozen=True)
class Used:
    """The limits at one speed, and how much of them was driven."""

    grip: Grip
    drive: Turning | None
    shown: ShownGrip
    share: float  # of the time in corners spent above ``NEAR`` of the model's limit, NaN without a log
    most: float  # hardest lateral acceleration held for a second [m/s²]
    invented: bool = False  # whether the log is


def panel(file: CarFile) -> Panel:
    """Make the panel of one car.

    Parameters:
        file: the car file; the log is the one chosen for "what happened there" [-]

    Returns:
        a ``Panel`` [-]
    """
    view = GripPicture(driven=True)
    own = kept_log(file)
    at_speed = lru_cache(maxsize=4)(partial(grip_at, file))  # another log moves no limit

    def compute(state: dict[str, Any], sweeps: int = SWEEPS) -> Used:
        grip = at_speed(float(to_si(state["speed"], "kmh")), sweeps)
        drive = None
        if state["log_from"] == INVENTED:
            drive = invented(int(state["number"])).drive
        elif state["log_from"] == OWN:
            if own is None:
                raise Refused(
                    "No log of your own is read yet: choose it in the panel What happened there, then run this cell."
                )
            drive = own.drive
        return _used(grip, drive, state["log_from"] == INVENTED)

    controls = {
        "log_from": choice("Log", (NOTHING, INVENTED, OWN), NOTHING if own is None else OWN),
        "number": slider("Invented session number", 1, 20, 1, 1),
        "speed": speed_slider(),
    }
    rough = partial(compute, sweeps=ROUGH)
    return Panel(controls, compute, lambda _, found: view.draw(found.shown), words, view.picture, rough=rough)


def _used(grip: Grip, drive: Turning | None, made_up: bool = False) -> Used:
    lateral = along = NONE
    share, most = float("nan"), float("nan")
    if drive is not None:
        near = drive.good & np.isfinite(drive.lateral) & np.isfinite(drive.along)
        near &= np.abs(drive.speed - grip.speed) < 0.25 * grip.speed
        lateral, along = drive.lateral[near], drive.along[near]
        share, most = _share(lateral, along, np.abs(grip.both.lateral)), _held(drive)
    return Used(grip, drive, ShownGrip(ALONG, grip.limit, lateral, along), share, most, made_up)


def _share(lateral: Array, along: Array, size: Array) -> float:
    """Share of the time at more than half the limit that was spent near it."""
    if not len(lateral):
        return float("nan")
    limit = np.where(lateral > 0, *(np.interp(along, ALONG, size.min(axis=0)[turn]) for turn in range(2)))
    part = np.abs(lateral) / limit
    return float(np.mean(part[part > 0.5] > NEAR)) if (part > 0.5).any() else 0.0


def _held(drive: Turning) -> float:
    """Hardest lateral acceleration held for one second."""
    step = max(1, round(1.0 / drive.step))
    side = np.abs(np.where(drive.good, np.nan_to_num(drive.lateral), 0.0))
    return float(np.convolve(side, np.full(step, 1 / step), "valid").max())


def words(found: Used) -> str:
    """Describe which end lets go where, and how much of it was used.

    Parameters:
        found: what is shown [-]

    Returns:
        HTML [-]
    """
    out = f"{verdict(found.grip)} "
    if found.invented:
        out = out.replace("<b>", f"<b>Points: an {SESSION}. ", 1)
    if found.drive is not None:
        near = f"of the time in corners near that speed, {100 * found.share:.0f} % above {NEAR:.0%} of the limit"
        near = "no driving near that speed" if np.isnan(found.share) else near
        out += (
            f"Logged: {near}; hardest held for a second {number(float(from_si(found.most, 'g')), 2)} g. Points outside "
            "the lines: more grip than the car file says, or a banked road. "
        )
        out += (
            "<b>Numbers of this log contradict each other: see What happened there.</b> " if found.drive.doubts else ""
        )
    return out + "<i>Warm dry tyres, level road; points within a quarter of that speed.</i>"
