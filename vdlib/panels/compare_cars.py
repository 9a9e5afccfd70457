"""Tables that put the same question to every car: the examples, and the open saved one if there is one."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers.height_study import net_change
from ..answers.limits import limits
from ..answers.sentences import PHASE_WORDS, attitude_words, toward
from ..car import examples, shelf
from ..car.carfile import CarFile
from ..car.records import Moment, attitude
from ..car.reference import reference_of
from ..checks import InputError
from ..shown import retold
from ..trim.trim import trim
from ..units import G, number, to_si
from .base import CSS, table

SPEED, LATERAL = 110.0, 0.8
"""The moment at which all cars are asked [km/h] and [g]; chosen before any answer was seen."""


def cars() -> list[CarFile]:
    """Return the example cars, after the open saved car if there is one that can be read.

    Returns:
        car files [-]
    """
    found = [examples.load_example(name) for name in examples.example_names()]
    try:
        own = [shelf.current()] if shelf.opened() else []
    except InputError:
        own = []
    return own + found


def lift_and_heights() -> Any:
    """Set the effect of closing the throttle beside that of the ride heights, car by car.

    Returns:
        an ipywidgets box [-]
    """
    rows = []
    for file in cars():
        car, reference = file.car, reference_of(file)
        level, setup = reference.setup, reference.at_heights_of(file.setup)
        steady, lift = (_moment(phase) for phase in ("steady", "lift"))
        found = trim(car, level, _both(steady, lift))
        alone = float(np.diff(found.understeer_angle)[0]) if bool(found.usable.all()) else np.nan
        at = limits(car, level, _both(steady, lift))
        now = limits(car, setup, lift)
        rows.append(
            [
                f"{car.name} ({attitude_words(float(attitude(car, setup)))})",
                _toward(alone),
                _toward(float(net_change(car, setup, lift, level))),
                f"{_end(at.first[0])} → {_end(at.first[1])}",
                f"{number((at.lateral[1, 1] - at.lateral[1, 0]) / G, 3, sign=True)} g",
                f"{number((now.lateral[1] - at.lateral[1, 1]) / G, 3, sign=True)} g",
            ]
        )
    head = [
        "",
        "throttle closed, heights at reference",
        "heights, throttle closed",
        "end that lets go first, steady → closed",
        "rear limit, by closing",
        "rear limit, by the heights",
    ]
    return _box(f"At {LATERAL:g} g and {SPEED:g} km/h, extra steering and limits:", head, rows)


def signs() -> Any:
    """Return for every car and phase which way the ride heights move the balance.

    Returns:
        an ipywidgets box [-]
    """
    rows = []
    for file in cars():
        car, reference = file.car, reference_of(file)
        setup, level = reference.at_heights_of(file.setup), reference.setup
        change = [float(net_change(car, setup, _moment(phase), level)) for phase in PHASE_WORDS]
        name = f"{car.name} ({attitude_words(float(attitude(car, setup)))})"
        rows.append([name, *(_toward(c) for c in change)])
    return _box(f"At {LATERAL:g} g and {SPEED:g} km/h:", ["", *PHASE_WORDS.values()], rows)


def _moment(phase: str) -> Moment:
    return Moment.in_phase(phase, to_si(SPEED, "kmh"), LATERAL * G)


def _both(one: Moment, other: Moment) -> Moment:
    pairs = (np.array([getattr(one, n), getattr(other, n)]) for n in ("longitudinal", "braking"))
    return Moment(one.speed, one.lateral, *pairs)


def _end(first: Any) -> str:
    return {0: "front", 1: "rear"}.get(int(first), "neither")


def _toward(change: float) -> str:
    return toward(change) if np.isfinite(change) else "past the limit"


def _box(title: str, head: list[str], rows: list[list[str]]) -> Any:
    box = widgets.VBox(
        [widgets.HTML(CSS), widgets.HTML(f'<div class="vd-words">{escape(retold(title))}</div>{table(head, rows)}')]
    )
    box.add_class("vd-panel")
    return box
