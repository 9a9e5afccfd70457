"""The three questions of one car, side by side with its reference: which way, which end, and does it settle?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Any

import numpy as np

from ..answers.corner import QUICK_LIFT
from ..answers.hands_still import HandsStill, hands_still_limit
from ..answers.three_questions import LEANS_AT, Questions, ask, why_it_spins
from ..car.carfile import CarFile
from ..car.records import Car, Setup
from ..car.reference import reference_of
from ..draw.three_questions import ThreeQuestions
from ..units import G
from .base import Panel, Refused, choice, slider, table
from .nose_high import exact_height, height_slider

FEET: dict[str, float | None] = {"a quick lift": QUICK_LIFT, "a gentle lift": 0.08, "steady": None}
"""What the foot does → engine's drag over weight; common practice, no source."""
FOOT_WORDS = {
    "a quick lift": "After a quick lift",
    "a gentle lift": "After a gentle lift",
    "steady": "Steady",
}
"""How the verdict begins."""
NO_CORNER = "One of the two holds no steady corner of this radius with this foot: lift less, or try a wider corner."
QUESTIONS = (
    f"which way does it lean? (steady, at {LEANS_AT / G:.1f} g)",
    "which end slides first?",
    "does it settle with hands still?",
)


NARROW = 0.02 * G
"""Room to the hands-still limit below which a car only just settles [m/s²]."""


@dataclass(frozen=True)
class Asked:
    """Both setups' answers, and the moment they are looked at."""

    names: tuple[str, str]
    answers: tuple[Questions, Questions]
    steady: tuple[HandsStill, HandsStill]
    lateral: float
    foot: str


def panel(file: CarFile) -> Panel:
    """Make the panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(panel(load_example("coupe")).controls)
        ['front', 'rear', 'foot', 'lateral', 'radius', 'turn']
    """
    car, setup, reference = file.car, file.setup, reference_of(file)
    level = reference.setup
    name = reference.name
    names = (name if name.startswith(("as ", "at ")) else f"at {name}", "as set here")
    view = ThreeQuestions(names)

    @lru_cache(maxsize=8)
    def before(radius: float, lift: float | None, turn: float) -> tuple[Questions, HandsStill]:
        return asked(reference.car, level, radius, lift, turn)

    def compute(state: dict[str, Any]) -> Asked:
        pairs = [(getattr(setup, end).height, getattr(level, end).height) for end in ("front", "rear")]
        front, rear = (exact_height(state[end], *pair) for end, pair in zip(("front", "rear"), pairs, strict=True))
        here = setup.with_heights(front, rear)
        radius, lift, turn = state["radius"], FEET[state["foot"]], 1.0 if state["turn"] == "left" else -1.0
        then, held = before(radius, lift, turn)
        now, steady = asked(car, here, radius, lift, turn)
        if not all(np.isfinite(one.steer).any() for one in (then, now)):
            raise Refused(NO_CORNER)
        return Asked(names, (then, now), (held, steady), state["lateral"] * G, FOOT_WORDS[state["foot"]])

    controls = {
        "front": height_slider("Front ride height", setup.front.height, level.front.height),
        "rear": height_slider("Rear ride height", setup.rear.height, level.rear.height),
        "foot": choice("Foot", list(FEET), next(iter(FEET))),
        "lateral": slider("Lateral acceleration asked about", 0.3, 1.2, 0.01, 0.7, "g"),
        "radius": slider("Radius of the corner", 20, 200, 5, 60, "m"),
        "turn": choice("Corner to the", ["left", "right"], "left"),
    }
    return Panel(
        controls,
        compute,
        lambda _, found: view.draw(found.answers, found.lateral),
        words,
        view.picture,
        ahead=True,
        folded={"Another corner": ("radius", "turn")},
    )


def asked(car: Car, setup: Setup, radius: float, lift: float | None, turn: float) -> tuple[Questions, HandsStill]:
    """Ask the three questions of one setup, and for its hands-still limit at a speed that is held, side by side.

    Parameters:
        car: the car [-]
        setup: its setup [-]
        radius: radius of the corner [m]
        lift: engine's drag over weight; None for a speed that is held [-]
        turn: 1 to the left, −1 to the right [-]

    Returns:
        the answers, and that limit: the answers' own one where the speed is held anyway [-]
    """
    if lift is None:
        now = ask(car, setup, radius, None, turn)
        return now, now.hands
    both = hands_still_limit(car, setup, radius, np.array([lift, np.nan]), turn)
    return ask(car, setup, radius, lift, turn, both.one(0)), both.one(1)


def words(found: Asked) -> str:
    """Answer the three questions for both setups, and say why where two answers seem to disagree.

    Parameters:
        found: the answers [-]

    Returns:
        HTML [-]
    """
    told = [f"<b>{escape(verdict(found))}</b>"]
    why = [one.why_they_differ for one in found.answers]
    if why[0] == why[1]:
        told.append(escape(why[1]))
    else:
        told += [
            escape(f"{name[0].upper()}{name[1:]}: {_lower(sentence)}")
            for name, sentence in zip(found.names, why, strict=True)
            if sentence
        ]
    told.append(escape(spin_words(found)))
    pair = [one.answers for one in found.answers]
    rows = [[question, pair[0][i], pair[1][i]] for i, question in enumerate(QUESTIONS)]
    return " ".join(part for part in told if part) + table(["", *found.names], rows)


def _lower(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]


def verdict(found: Asked) -> str:
    """State at the lateral acceleration asked about whether either setup settles with hands still.

    Parameters:
        found: the answers [-]

    Returns:
        a sentence [-]
    """
    fates = [_fate(one, found.lateral) for one in found.answers]
    then, now = found.names
    start = f"{found.foot} at {found.lateral / G:.2f} g, hands still, a small slide:"
    if fates[0] == fates[1]:
        return f"{start} it {fates[0]}, {then} and {now}."
    return f"{start} {then} it {fates[0]}; {now} it {fates[1]}."


def _fate(one: Questions, lateral: float) -> str:
    if one.no_grip(lateral):
        return f"has no grip left at the {'rear' if one.rear_first else 'front'}"
    room = float(one.hands.limit) - lateral
    return "settles" if room > NARROW else "only just settles" if room > 0 else "no longer settles"


def spin_words(found: Asked) -> str:
    """State why a corner that settles at steady speed can still end in a spin, where it can as set here.

    Parameters:
        found: the answers [-]

    Returns:
        a sentence, empty where there is nothing to explain [-]
    """
    now = found.answers[1]
    return "" if now.hands is found.steady[1] else why_it_spins(found.steady[1], now, found.lateral)
