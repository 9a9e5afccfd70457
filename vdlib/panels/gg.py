"""The g-g diagram of a log, with the model's front and rear limits in it; without a log, the limits alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..answers.limits import Limits, limits
from ..car.carfile import CarFile
from ..car.records import Moment
from ..draw.gg import GripPicture, ShownGrip, limits_drawn
from ..laps.slide_rate import Turning
from ..shown import says
from ..units import Array, G, from_si, number, to_si
from .base import Panel, Refused, choice, slider
from .what_happened import INVENTED, OWN, invented, kept_log

NOTHING = "no log: the model alone"
ALONG = np.linspace(-0.9, 0.4, 14) * G
"""Longitudinal accelerations at which the limits are asked for [m/s²]."""
BRAKES_FROM = -0.12 * G
"""Below this the brakes do the slowing, above it the engine and the air; our choice."""
NEAR = 0.9
"""Share of the limit from which on the tyres count as nearly used up."""


@dataclass(frozen=True)
class Used:
    """The limits at one speed, and how much of them was driven."""

    speed: float
    both: Limits  # (2 ends, 2 turns, n)
    drive: Turning | None
    shown: ShownGrip
    share: float  # of the time in corners spent above ``NEAR`` of the model's limit, NaN without a log
    most: float  # hardest lateral acceleration held for a second [m/s²]


def panel(file: CarFile) -> Panel:
    """Make the panel of one car.

    Parameters:
        file: the car file; the log is the one chosen for "what happened there" [-]

    Returns:
        a ``Panel`` [-]
    """
    view = GripPicture()
    own = kept_log(file)

    def compute(state: dict[str, Any]) -> Used:
        speed = float(to_si(state["speed"], "kmh"))
        turns = np.array([1.0, -1.0])[:, None]
        braking = np.where(ALONG < BRAKES_FROM, 1.0, 0.0)
        both = limits(file.car, file.setup, Moment(speed, turns, ALONG, braking))
        drive = None
        if state["log_from"] == INVENTED:
            drive = invented(int(state["number"])).drive
        elif state["log_from"] == OWN:
            if own is None:
                raise Refused(
                    "No log of your own is read yet: choose it in the panel What happened there, then run this cell."
                )
            drive = own.drive
        return _used(speed, both, drive)

    controls = {
        "log_from": choice("Log", (NOTHING, INVENTED, OWN), NOTHING if own is None else OWN),
        "number": slider("Invented session number", 1, 20, 1, 1),
        "speed": slider("Speed of the limits", 40, 200, 5, 90, "km/h"),
    }
    return Panel(controls, compute, lambda _, found: view.draw(found.shown), words, view.picture)


def _used(speed: float, both: Limits, drive: Turning | None) -> Used:
    size = np.abs(both.lateral)
    signed = limits_drawn(size, both.slides) * np.array([1.0, -1.0])[:, None]
    none = np.empty(0)
    lateral = along = none
    share, most = float("nan"), float("nan")
    if drive is not None:
        near = drive.good & np.isfinite(drive.lateral) & np.isfinite(drive.along)
        near &= np.abs(drive.speed - speed) < 0.25 * speed
        lateral, along = drive.lateral[near], drive.along[near]
        share, most = _share(lateral, along, size), _held(drive)
    shown = ShownGrip(ALONG, np.moveaxis(signed, 0, 1), lateral, along)
    return Used(speed, both, drive, shown, share, most)


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
    """State which end lets go where, and how much of it was used.

    Parameters:
        found: what is shown [-]

    Returns:
        HTML [-]
    """
    steady = int(np.abs(ALONG).argmin())
    first = found.both.first[0]
    ends = {0: "the front", 1: "the rear", -1: "neither end"}
    names = [f"braking {ends[int(first[0])]}", f"steady {ends[int(first[steady])]}"]
    lift = int(np.abs(ALONG - BRAKES_FROM).argmin())
    names.insert(1, f"throttle closed {ends[int(first[lift])]}")
    out = (
        f"<b>At {says(found.speed, 'kmh', 0)} this model slides first: {', '.join(names)}.</b> "
        f"Steady in a left turn: front {_g(found.both, 0, steady)}, rear {_g(found.both, 1, steady)}. "
    )
    if found.drive is not None:
        near = f"of the time in corners near that speed, {100 * found.share:.0f} % above {NEAR:.0%} of the limit"
        near = "no driving near that speed" if np.isnan(found.share) else near
        out += (
            f"Logged: {near}; hardest held for a second {number(float(from_si(found.most, 'g')), 2)} g. Points outside "
            "the lines say that the car has more grip than the car file, or that the road is banked. "
        )
    return out + "<i>Warm dry tyres, level road; the points within a quarter of that speed.</i>"


def _g(both: Limits, end: int, at: int) -> str:
    return f"{abs(float(both.lateral[end, 0, at])) / G:.2f} g" if both.slides[end, 0, at] else "not within range"
