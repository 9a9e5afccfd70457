"""The second panel of the main workbook: at which value of a measurable number the effect of the ride heights turns."""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape
from typing import Any

import numpy as np

from ..answers.height_study import net_change
from ..answers.sentences import LEAST_ANGLE, PHASE_WORDS, attitude_words, listed, toward
from ..car.carfile import CarFile
from ..car.records import PHASES, Moment, attitude
from ..car.reference import reference_of
from ..draw.turning_point import TurningPoint
from ..glossary import GLOSSARY
from ..units import Array, from_si, number, to_si
from .base import Panel, choice
from .moments import lateral_of, lateral_slider, speed_of, speed_slider

SPANS: dict[tuple[str, str], tuple[float, float]] = {
    ("rear", "bump_gap"): (0, 60),
    ("front", "bump_gap"): (0, 60),
    ("rear", "bump_stiffening"): (0, 30),
    ("rear", "toe_slope"): (-15, 15),
    ("front", "toe_slope"): (-15, 15),
    ("front", "roll_centre_slope"): (0, 3.5),
    ("rear", "roll_centre_slope"): (0, 3.5),
    ("front", "camber_slope"): (-40, 0),
    ("rear", "camber_slope"): (-40, 0),
    ("front", "lift_attitude"): (0, 0.05),
}
"""Axle and field → span shown, in the user's unit; wide enough for road cars: common practice, no source."""
POINTS = 41


@dataclass(frozen=True)
class Turn:
    """What the picture shows; angles in radians, ``x`` and ``own`` in the user's unit."""

    label: str
    unit: str
    x: Array
    change: dict[str, Array]
    own: float
    own_change: dict[str, float]
    attitude: str
    lateral: float


def panel(file: CarFile) -> Panel:
    """Make the panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    car, reference = file.car, reference_of(file)
    setup = reference.at_heights_of(file.setup)
    view = TurningPoint(PHASE_WORDS)
    stance = attitude_words(float(attitude(car, setup)))

    def compute(state: dict[str, Any]) -> Turn:
        axle, field = state["number"]
        quantity = GLOSSARY[field]
        own = float(from_si(getattr(getattr(car, axle), field), quantity.unit))
        low, high = SPANS[axle, field]
        x = np.linspace(min(low, own), max(high, own), POINTS)
        values = to_si(np.append(x, own), quantity.unit)
        varied = replace(car, **{axle: replace(getattr(car, axle), **{field: values})})
        usual = np.array([PHASES[phase] for phase in PHASE_WORDS]).T[:, :, None]
        moment = Moment(speed_of(state), lateral_of(state), *usual)
        change = net_change(varied, setup, moment, reference.setup)
        return Turn(
            label=f"{axle} {quantity.label}",
            unit=quantity.label[len(quantity.name) :].strip(" []"),
            x=x,
            change=dict(zip(PHASE_WORDS, change[:, :-1], strict=True)),
            own=own,
            own_change=dict(zip(PHASE_WORDS, (float(c) for c in change[:, -1]), strict=True)),
            attitude=stance,
            lateral=state["lateral"],
        )

    def draw(_: Any, found: Turn) -> None:
        shown = {phase: from_si(values, "deg") for phase, values in found.change.items()}
        view.draw(found.label, found.x, shown, found.own)

    options = [(f"{axle} {GLOSSARY[field].name}", (axle, field)) for axle, field in SPANS]
    controls = {
        "number": choice("Number along the axis", options, options[0][1]),
        "speed": speed_slider(),
        "lateral": lateral_slider(),
    }
    return Panel(controls, compute, draw, words, view.picture, ahead=True)


def words(found: Turn) -> str:
    """Describe what the heights do at this car's own number, and where each phase's effect turns.

    Parameters:
        found: what the picture shows [-]

    Returns:
        HTML [-]
    """
    own = _brief(found.own, found.unit)
    told = [
        f"{PHASE_WORDS[phase]}: {toward(change) if np.isfinite(change) else 'past the limit'}"
        for phase, change in found.own_change.items()
    ]
    lines = [
        f"This car ({found.attitude}; {found.label.split(' [')[0]} {own}) at {found.lateral:.2f} g: {'; '.join(told)}."
    ]
    lines += [_turns(PHASE_WORDS[phase], found, values) for phase, values in found.change.items()]
    if not any(lines[1:]) and any(np.isfinite(values).any() for values in found.change.values()):
        lines.append("No curve crosses zero: this number alone does not turn the sign on this car.")
    rest = "<br>".join(escape(text) for text in lines if text)
    return f"<b>{escape(verdict(found))}</b><br>{rest}"


def verdict(found: Turn) -> str:
    """State in a sentence how much of this number the heights need to act toward oversteer.

    Parameters:
        found: what the picture shows [-]

    Returns:
        plain text [-]
    """
    past = [PHASE_WORDS[phase] for phase, change in found.own_change.items() if not np.isfinite(change)]
    known = {PHASE_WORDS[phase]: from_si(c, "deg") for phase, c in found.own_change.items() if np.isfinite(c)}
    if not known:
        return f"At {found.lateral:.2f} g it is past the limit in every phase of the corner: take a lower one."
    falls = [phase for phase, change in known.items() if change <= -LEAST_ANGLE]
    where = listed(falls)
    if len(falls) in (0, len(known)):
        where = f"in {'every' if falls else 'no'} phase {'that it can hold' if past else 'of the corner'}"
    out = f" Past the limit: {listed(past)}." if past else ""
    of = f"With {_brief(found.own, found.unit)} of {found.label.split(' [')[0]}"
    return f"{of} the heights act toward oversteer {where}.{out}"


def _brief(value: float, unit: str) -> str:
    """Write a number as finely as it can be known."""
    size = 20.0 if unit == "mm" else abs(value)
    return f"{number(value, 0 if size >= 20 else 1 if size >= 2 else 2 if size >= 0.1 else 3)} {unit}".strip()


def _turns(name: str, found: Turn, values: Array) -> str:
    """State where one curve crosses zero."""
    pairs = zip(found.x[:-1], found.x[1:], values[:-1], values[1:], strict=True)
    places = [x0 + (x1 - x0) * y0 / (y0 - y1) for x0, x1, y0, y1 in pairs if y0 * y1 < 0]
    if not places:
        return ""
    at = listed([_brief(place, found.unit) for place in places])
    return f"{name[0].upper()}{name[1:]}: the sign turns at {at}."
