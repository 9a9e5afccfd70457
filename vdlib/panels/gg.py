"""The g-g diagram of the model alone: the lateral g at which each end lets go, while braking and while driving on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from ..answers.limits import ROUGH, SWEEPS, Limits, limits
from ..car.carfile import CarFile
from ..car.records import Moment
from ..draw.gg import GripPicture, ShownGrip, limits_drawn
from ..shown import says
from ..units import Array, G, to_si
from .base import Panel, slider

ALONG = np.linspace(-0.9, 0.4, 14) * G
"""Longitudinal accelerations at which the limits are asked for [m/s²]."""
BRAKES_FROM = -0.12 * G
"""Below this the brakes do the slowing, above it the engine and the air; our choice."""
BRAKED = -0.5 * G
"""Braking of which it is said how much cornering it leaves [m/s²]."""
NONE = np.empty(0)


@dataclass(frozen=True)
class Grip:
    """The limits at one speed, as they are drawn."""

    speed: float
    both: Limits  # (2 ends, 2 turns, n)
    limit: Array  # (2 turns, 2 ends, n), signed, NaN where an end is not what lets go [m/s²]


def grip_at(file: CarFile, speed: float, sweeps: int = SWEEPS) -> Grip:
    """Ask the model for its limits at one speed, in both turns and at every longitudinal acceleration.

    Parameters:
        file: the car [-]
        speed: speed [m/s]
        sweeps: as of ``limits`` [-]

    Returns:
        a ``Grip`` [-]
    """
    turns = np.array([1.0, -1.0])[:, None]
    moment = Moment(speed, turns, ALONG, np.where(ALONG < BRAKES_FROM, 1.0, 0.0))
    both = limits(file.car, file.setup, moment, sweeps=sweeps)
    signed = limits_drawn(np.abs(both.lateral), both.slides) * turns
    return Grip(speed, both, np.moveaxis(signed, 0, 1))


def from_model(file: CarFile) -> Panel:
    """Make the panel of one car, without a log.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    view = GripPicture(driven=False)
    draw = lambda _, found: view.draw(ShownGrip(ALONG, found.limit, NONE, NONE))  # noqa: E731

    def compute(state: dict[str, Any], sweeps: int = SWEEPS) -> Grip:
        return grip_at(file, float(to_si(state["speed"], "kmh")), sweeps)

    rough = partial(compute, sweeps=ROUGH)
    return Panel({"speed": speed_slider()}, compute, draw, words, view.picture, rough=rough)


def speed_slider() -> Any:
    """Return the slider of the speed at which the limits are asked for."""
    return slider("Speed of the limits", 40, 200, 5, 90, "km/h")


def words(found: Grip) -> str:
    """Describe which end lets go first, and what braking leaves for cornering.

    Parameters:
        found: the limits [-]

    Returns:
        HTML [-]
    """
    steady, braked = (int(np.abs(ALONG - at).argmin()) for at in (0.0, BRAKED))
    whole, left = (float(np.abs(found.both.car[0, at])) / G for at in (steady, braked))
    return (
        f"{verdict(found)} A tyre has one grip for both: braking by {-ALONG[braked] / G:.1f} g leaves {left:.2f} g of "
        f"cornering, of {whole:.2f} g. <i>Warm dry tyres, level road.</i>"
    )


def verdict(found: Grip) -> str:
    """Return which end lets go first, braking, with the throttle closed and steady, and both limits.

    Parameters:
        found: the limits [-]

    Returns:
        HTML [-]
    """
    steady, closed = (int(np.abs(ALONG - at).argmin()) for at in (0.0, BRAKES_FROM))
    ends = {0: "the front", 1: "the rear", -1: "neither end"}
    moments = (("braking", 0), ("throttle closed", closed), ("steady", steady))
    names = ", ".join(f"{name} {ends[int(found.both.first[0, at])]}" for name, at in moments)
    front, rear = (
        f"{abs(float(found.both.lateral[end, 0, steady])) / G:.2f} g" if found.both.slides[end, 0, steady]
        else "not within range" for end in (0, 1)
    )  # fmt: skip
    return (
        f"<b>At {says(found.speed, 'kmh', 0)} this model slides first: {names}.</b> Steady in a left turn: front "
        f"{front}, rear {rear}."
    )
