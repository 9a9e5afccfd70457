"""Tables that put the same question to every car: the examples, and the open saved one if there is one."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers.balance import HALF_SPAN
from ..answers.height_study import net_change
from ..answers.sentences import PHASE_WORDS, attitude_words, toward
from ..car import examples, shelf
from ..car.carfile import CarFile
from ..car.records import Car, Moment, Setup, attitude
from ..car.reference import reference_of
from ..checks import InputError
from ..lessons.bicycle import TwoWheel, characteristic_speed, understeer_gradient
from ..lessons.step import step_answer
from ..shown import retold, says
from ..trim.trim import trim
from ..units import G, from_si, to_si
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


PUBLISHED = ("65 to 100 km/h", "0.2 to 0.4 s")
"""Characteristic speed of road cars, and time to nine tenths of the yaw rate after a step of the steering at 100 km/h:
from memory, books on vehicle dynamics; the example cars are fitted to neither."""
GENTLE, AT = 0.3 * G, to_si(100.0, "kmh")
"""Where the cars' manners are read [m/s²] and [m/s]."""


def manners() -> Any:
    """Set each car's characteristic speed and its answer to a step of the steering beside the published spans.

    Returns:
        an ipywidgets box [-]
    """
    rows = []
    for file in cars():
        reference = reference_of(file)
        wheels = two_wheels(reference.car, reference.setup)
        gradient = understeer_gradient(wheels).total
        speed = says(characteristic_speed(wheels.wheelbase, gradient), "kmh", 0) if gradient > 0 else "none"
        found = step_answer(wheels, AT)
        quick = f"{found.response:.2f} s" if np.isfinite(found.response) else "does not settle"
        rows.append([file.car.name, f"{from_si(gradient, 'deg_per_g'):.1f} deg/g", speed, quick])
    rows.append(["road cars, published (from memory)", "", *PUBLISHED])
    head = ["", "understeer gradient", "characteristic speed", "yaw rate after a step"]
    return _box(
        f"At {GENTLE / G:g} g and {says(AT, 'kmh', 0)}, at the reference, lean, toe, camber and give "
        "counted; workbook 3 counts tyres and weight alone, so its figures differ. A low "
        "characteristic speed is a car that understeers a lot. "
        "The invented cars understeer less than most road cars; nothing was fitted:",
        head,
        rows,
    )


def two_wheels(car: Car, setup: Setup) -> TwoWheel:
    """Return the two-wheel car that answers as this one does about a gentle corner.

    Parameters:
        car: the car [-]
        setup: its setup [-]

    Returns:
        a ``TwoWheel`` whose stiffnesses take in load transfer, toe, camber and what bends [-]

    Errors:
        as ``trim``.

    Validity: as settled: each axle's side force against its own slip angle, ``C_i = m_i·da_y/dα_i``.
    """
    found = trim(car, setup, Moment(AT, GENTLE + HALF_SPAN * np.array([-1.0, 1.0])))
    a, b = found.cg_to_axle[:, 0]
    own = float(car.mass) * np.array([b, a]) / (a + b)
    stiffness = own * 2 * HALF_SPAN / np.diff(found.slip, axis=1)[:, 0]
    return TwoWheel(float(car.mass), float(car.inertia), float(a), float(b), *(float(each) for each in stiffness))


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
