"""The panel that says how sure the sign is, and which reading to take next."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Any

import ipywidgets as widgets

from ..answers.doubts import doubts_of
from ..answers.sentences import PHASE_WORDS, attitude_words, toward
from ..answers.spread import COUNT, Doubt, Spread, spread, tried
from ..car.carfile import CarFile, fields_of
from ..car.records import Moment, attitude
from ..car.reference import reference_of
from ..car.typical import BODIES, HEIGHTS, TYRES, Kinds, kinds_at, origins, ranges
from ..checks import InputError
from ..draw.how_sure import HowSure
from ..setup.decision import Decision, decide, worse_way
from ..setup.decision import words as decision_words
from ..setup.whatif import uneven
from ..shown import unit_for
from ..units import UNITS, G, brief, from_si, to_si
from .base import CSS, Panel, choice, table
from .measure_parts import name_of
from .moments import moment_controls

COUNTS = (COUNT, 1000)
"""How many plausible cars may be drawn: the usual number first, then fewer for a slow machine."""


@dataclass(frozen=True)
class Sureness:
    """What the picture and the words show."""

    spread: Spread
    decision: Decision
    stance: str
    phase: str
    lateral: float
    turn: str = ""  # the turn asked about, in words; empty where both are alike
    in_question: str = ""  # readings behind which a slip may stand
    assumed: bool = False  # whether the car file says nothing of what kind of car it is


KIND_ASSUMED = (
    "This car's file does not say what kind of suspension, tyres and body it has, so usual ones are taken for what was "
    "not measured. Choose yours here, or save the car once more with the form of workbook 7."
)


def known_of(file: CarFile) -> tuple[Kinds, dict[str, float]]:
    """Return what kind of car it is and the errors of what was measured, as the car file says.

    Parameters:
        file: the car file [-]

    Returns:
        the kinds, and path → one standard deviation in SI of what was measured [any]
    """
    where, known = origins(file), file.known
    measured = {path: error for path, error in known.errors.items() if _word(where, path) == "measured"}
    return known.kinds or Kinds(), measured


def _word(where: dict[str, str], path: str) -> str:
    """Return where a number is from; one of a wheel, or a difference, counts with its axle's."""
    axle = re.sub(r"_(left|right)\b|_difference$", "", path)
    return where[axle]


def panel(file: CarFile) -> Panel:
    """Make the panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    car, setup = file.car, file.setup
    level, view = reference_of(file).setup, HowSure()
    stance = attitude_words(float(attitude(car, setup)))
    start, errors = known_of(file)

    @lru_cache(maxsize=4)
    def known_badly(kinds: Kinds) -> list[Doubt]:
        return doubts_of(file, kinds, errors)

    @lru_cache(maxsize=32)
    def asked(kinds: Kinds, phase: str, speed: float, lateral: float, count: int) -> Sureness:
        doubts = known_badly(kinds)
        moment = worse_way(car, level, setup, Moment.in_phase(phase, to_si(speed, "kmh"), lateral * G))
        known = tried(car, level, setup, moment, doubts, count)
        found = spread(car, level, setup, moment, doubts, count, known=known)
        decision = decide(car, level, setup, doubts, moment, count, known=known)
        apart = uneven(car, setup) or uneven(car, level)
        turn = f", in a {'right' if float(moment.lateral) < 0 else 'left'} turn" if apart else ""
        asks = file.known.visit.get("in_question", "")
        return Sureness(found, decision, stance, phase, lateral, turn, asks, file.known.kinds is None)

    def rough(state: dict[str, Any]) -> Sureness:
        return compute(state | {"count": min(COUNTS[1], state["count"])})

    def compute(state: dict[str, Any]) -> Sureness:
        kinds = Kinds(state["front"], state["rear"], state["tyre"], state["body"], state["height"])
        return asked(kinds, state["phase"], state["speed"], state["lateral"], state["count"])

    controls = {
        **moment_controls(),
        "front": choice("Front suspension", kinds_at("front"), start.front),
        "rear": choice("Rear suspension", kinds_at("rear"), start.rear),
        "tyre": choice("Tyres", TYRES, start.tyre),
        "body": choice("Body", BODIES, start.body),
        "height": choice("Springs", HEIGHTS, start.height),
        "count": choice("Plausible cars", [(f"{n:,}", n) for n in COUNTS], COUNTS[0]),
    }
    return Panel(
        controls,
        compute,
        lambda _, found: view.draw(found.spread, found.decision.wrong, found.decision.left),
        words,
        view.picture,
        rough=rough,
    )


def words(found: Sureness) -> str:
    """Describe how sure the sign is and which reading would narrow it most.

    Parameters:
        found: what was computed [-]

    Returns:
        HTML [-]
    """
    one = found.spread
    head = f"{found.stance[0].upper()}{found.stance[1:]}, {PHASE_WORDS[found.phase]}, {found.lateral:.2f} g{found.turn}"
    if not one.known.any():
        return f"<b>{escape(head)}: not one of the {one.change.size:,} plausible cars can hold this corner.</b>"
    falls, rises, lost = one.of_hundred
    low, middle, high = one.band()
    about = "about " if 100 * one.falls_error > 0.5 else ""  # chance in the draw reaches the last digit written
    gone = f", {lost or 'fewer than one'} cannot hold this corner" if one.past_limit >= 0.0005 else ""
    first, *rest = decision_words(found.decision, in_question=found.in_question)
    lines = [
        f"<b>{escape(f'{head}. {first}')}</b>",
        *map(escape, rest),
        f"The steering is another question, drawn here. With all that is out: {about}{falls} of 100 plausible cars "
        "move toward oversteer, "
        f"{rises} toward understeer{gone}. Nine in ten of those that hold it lie between {toward(low)} and "
        f"{toward(high)}; the middle one is {toward(middle)}.",
    ]
    lines += [escape(KIND_ASSUMED)] * found.assumed
    return "<br>".join(lines)


def where_from(file: CarFile) -> Any:
    """List every number of a car with where it comes from and how far it may lie off.

    Parameters:
        file: the car file [-]

    Returns:
        an ipywidgets ``HTML`` [-]
    """
    kinds, errors = known_of(file)
    try:
        known = ranges(file, kinds, errors)
    except InputError as error:
        return widgets.HTML(escape(str(error)))
    word, rows = origins(file), []
    for entry in fields_of():
        if entry.path not in known:
            continue
        unit, extent = unit_for(entry.quantity.unit), known[entry.path]
        low, mid, high = (float(from_si(v, unit)) for v in (extent.low, extent.central, extent.high))
        rows.append(
            [
                name_of(entry.path),
                brief(mid, 4),
                f"{brief(low, 4)} to {brief(high, 4)}",
                UNITS[unit].label,
                word[entry.path],
                extent.source,
            ]
        )
    head = ["number", "value", "nine cars in ten", "unit", "where from", "source of the range"]
    made = widgets.HTML(
        f"{CSS}<details><summary>Every number, its origin and range</summary>{table(head, rows)}</details>"
    )
    made.add_class("vd-panel")
    return made
