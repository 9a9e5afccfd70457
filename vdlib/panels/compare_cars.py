"""Tables that put the same question to every car: the examples, and the open saved one if there is one."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers.height_study import net_change
from ..answers.sentences import PHASE_WORDS, attitude_words, toward
from ..car import examples, shelf
from ..car.carfile import CarFile
from ..car.records import Moment, attitude
from ..car.reference import reference_of
from ..checks import InputError
from ..shown import retold
from ..units import G, to_si
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


def _toward(change: float) -> str:
    return toward(change) if np.isfinite(change) else "past the limit"


def _box(title: str, head: list[str], rows: list[list[str]]) -> Any:
    box = widgets.VBox(
        [widgets.HTML(CSS), widgets.HTML(f'<div class="vd-words">{escape(retold(title))}</div>{table(head, rows)}')]
    )
    box.add_class("vd-panel")
    return box
