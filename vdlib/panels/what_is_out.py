"""The panel that shares a change from the reference over everything that is out on the car, the two turns apart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from html import escape
from typing import Any

import numpy as np

from ..answers.sentences import listed
from ..answers.turns import LEFT, BothTurns, thrust_angle
from ..answers.what_is_out import CAUSES, MAIN_ROUTES, Answer, Out, extra_steering, hands_still, limit_gap, out_in_turns
from ..car.carfile import CarFile
from ..car.keys import ENDS
from ..car.records import PHASES, Moment
from ..car.reference import reference_of
from ..draw.what_is_out import WhatIsOut
from ..setup.page_wheels import inside_tolerance, unread
from ..units import G, from_si, number, to_si
from .base import Panel, choice, table, toggle
from .helps import FELT
from .moments import SPEED, moment_controls

RADIUS = 60.0
"""Radius of the corner in which the hands are held still [m]."""
FOOT = 0.10
"""Engine drag over weight of a closed throttle [-]; common practice, no source."""
WORSE, RIGHT, LEFT_TURN = "the worse one", "right", "left"


@dataclass(frozen=True)
class _Question:
    """One thing that can be asked: its name, unit, what a number below zero means, and what less and more of it do."""

    name: str
    unit: str
    scale: Callable[[Any], Any]
    digits: int
    low: str
    less: str
    more: str

    def printed(self, out: Out) -> tuple[float, float, float]:
        """Return the answer at the reference and as the car is, and its change, so that the three add up as printed."""
        ends = np.round([float(self.scale(value)) for value in (out.causes.before, out.causes.after)], self.digits)
        return float(ends[0]), float(ends[1]), float(ends[1] - ends[0])


QUESTIONS: dict[str, _Question] = {
    "gap": _Question(
        "limit gap: which end slides first",
        "g",
        lambda x: x / G,
        3,
        "the rear has less in hand over the front",
        "the rear lets go {} sooner, against the front,",
        "the rear lets go {} later, against the front,",
    ),
    "hands": _Question(
        "hands-still limit: does it settle?",
        "g",
        lambda x: x / G,
        2,
        "it lets go earlier",
        "hands held still settle the car up to {} less",
        "hands held still settle the car up to {} more",
    ),
    "steering": _Question(
        "extra steering: which way it leans",
        "deg",
        lambda x: from_si(x, "deg"),
        2,
        "toward oversteer",
        "the car leans {} further toward oversteer",
        "the car leans {} further toward understeer",
    ),
}


@dataclass(frozen=True)
class Shared:
    """What the picture shows."""

    question: str
    turn: int
    both: BothTurns[Out]
    thrust: float
    set_again: bool
    guessed: frozenset[str] = frozenset()  # causes of which no number was read on this car
    inside: frozenset[str] = frozenset()  # causes of which every wheel reads within the page's tolerance

    @property
    def shown(self) -> Out:
        """The turn that the bars are of."""
        return self.both.left if self.turn == LEFT else self.both.right


def not_measured(file: CarFile) -> frozenset[str]:
    """Return the causes of which no number was read on this car: they are typical, or another car's.

    Parameters:
        file: the car file; of an example every number counts as read [-]

    Returns:
        keys of ``CAUSES`` [-]
    """
    paths = {f"{end}.{name}": [f"setup.{end}.{name}"] for end in ENDS for name in ("height", "toe", "camber")}
    paths |= {"corners": ["setup.cross_weight"], "pressure": [f"setup.{end}.pressure" for end in ENDS]}
    return frozenset(cause for cause, read in paths.items() if all(unread(file, path) for path in read))


def panel(file: CarFile) -> Panel:
    """Make the panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    car, setup, reference, guessed = file.car, file.setup, reference_of(file), not_measured(file)
    near = inside_tolerance(file)
    view = WhatIsOut(len(CAUSES), len(MAIN_ROUTES))

    @lru_cache(maxsize=32)
    def asked(question: str, phase: str, speed: float, lateral: float, again: bool, roughly: bool) -> BothTurns[Out]:
        foot = None if phase in ("steady", "drive") else FOOT
        answers: dict[str, Answer] = {
            "gap": partial(limit_gap, roughly=roughly),
            "hands": hands_still(RADIUS, foot, -PHASES[phase][0] / G if phase == "brake" else 0.0),
            "steering": extra_steering,
        }
        moment = Moment.in_phase(phase, to_si(speed, "kmh"), lateral * G)
        return out_in_turns(car, setup, reference, moment, answers[question], again, MAIN_ROUTES)

    def compute(state: dict[str, Any], roughly: bool = False) -> Shared:
        question, speed, lateral = state["question"], state["speed"], state["lateral"]
        lateral = lateral if question == "steering" else 0.5  # a limit is sought, whatever the slider says
        speed = SPEED if question == "hands" else speed
        roughly &= question == "gap"  # the others are quick, or move with no slider
        both = asked(question, state["phase"], speed, lateral, state["again"], roughly)
        worse = int(both.worse) or LEFT
        turn = {WORSE: worse, LEFT_TURN: LEFT}.get(state["turn"], -LEFT)
        thrust = 0.0 if "rear.toe" in guessed else float(thrust_angle(car, setup))
        return Shared(state["question"], turn, both, thrust, state["again"], guessed, near)

    def draw(_: Any, found: Shared) -> None:
        asks, shown = QUESTIONS[found.question], found.shown
        names = [f"({word})" if cause in found.guessed else word for cause, word in _named(shown)]
        causes = list(zip(names, asks.scale(shown.causes.parts), strict=True))
        routes = list(zip(shown.route_words, asks.scale(shown.routes.parts), strict=True))
        view.draw(asks.unit, causes, routes, asks.printed(shown)[2], asks.digits)

    controls = {
        "question": choice("What is asked", [(asks.name, key) for key, asks in QUESTIONS.items()], "gap"),
        "again": toggle(
            "Set alignment again", False, "Toe and camber set to the reference's figures at the new heights"
        ),
        "turn": choice("Turn shown", (WORSE, LEFT_TURN, RIGHT), WORSE),
        **moment_controls(),
    }
    return Panel(controls, compute, draw, words, view.picture, rough=partial(compute, roughly=True))


def _named(shown: Out) -> list[tuple[str, str]]:
    """Each cause with its plain name."""
    return list(zip(shown.causes.causes, shown.words, strict=True))


def _rear_toe(found: Shared) -> str:
    """What the rear toe has in the change of either turn."""
    asks, told = QUESTIONS[found.question], []
    for name, one in (("left", found.both.left), ("right", found.both.right)):
        part = dict(zip(one.causes.causes, asks.scale(one.causes.parts), strict=True)).get("rear.toe", 0.0)
        told += [(name, number(float(part), asks.digits, sign=True))]
    if all(size == number(0.0, asks.digits) for _, size in told):
        return "here the rear toe changes nothing to speak of"
    return f"the rear toe makes {' and '.join(f'{size} {asks.unit} of it in the {name} turn' for name, size in told)}"


def words(found: Shared) -> str:
    """Describe what is out, what it does in either turn, and what has the most part in it.

    Parameters:
        found: what the picture shows [-]

    Returns:
        HTML [-]
    """
    asks, shown = QUESTIONS[found.question], found.shown
    name = asks.name.partition(":")[0]
    if not shown.causes.causes:
        return f"<b>Nothing is out: the car is as its reference, {escape(shown.reference)}.</b>"
    turn = "left" if found.turn == LEFT else "right"
    change = asks.printed(shown)[2]
    size = f"{number(change, asks.digits, sign=True)} {asks.unit}"
    toward = 1 if change > 0 else -1
    cause, most = _named(shown)[shown.causes.largest(toward)]
    most += " (typical, not measured)" * (cause in found.guessed)
    does = (asks.less if change < 0 else asks.more).format(size.lstrip("+−"))
    head = f"In a {turn} turn {does} than at “{shown.reference}”; most of it is the {most}."
    if abs(change) < FELT[found.question]:
        head = f"In a {turn} turn what is out hardly moves the {name}: by {size} from “{shown.reference}”."
        parts, ends = asks.scale(shown.causes.parts), [shown.causes.largest(way) for way in (-1, 1)]
        if min(abs(float(parts[i])) for i in ends) > 2 * abs(change) and parts[ends[0]] * parts[ends[1]] < 0:
            sizes = [f"{shown.words[i]} ({number(float(parts[i]), asks.digits, sign=True)} {asks.unit})" for i in ends]
            head += f" {listed(sizes)[0].upper()}{listed(sizes)[1:]} cancel."
    lines = [f"<b>{escape(head)}</b>", escape(f"The {name} moved by {size}; below zero means {asks.low}.")]
    if not bool(shown.causes.usable):
        lines.append("Somewhere between the reference and the car the corner is past the grip: the parts are rough.")
    if abs(found.thrust) > np.radians(0.005):
        side = "left" if found.thrust > 0 else "right"
        points = f"The rear axle points {number(abs(from_si(found.thrust, 'deg')), 2)}° to the {side} (thrust angle)"
        lines.append(f"{points}: {_rear_toe(found)}.")
    if found.question == "hands":
        lines.append(f"On a radius of {RADIUS:.0f} m; speed and lateral acceleration go together there.")
    if found.set_again:
        lines.append("Setting toe and camber again changes nothing about travel that is spent.")
    rows = []
    for told, one in zip(("left turn", "right turn"), (found.both.left, found.both.right), strict=True):
        rows.append([told, *(f"{number(v, asks.digits, sign=True)} {asks.unit}" for v in asks.printed(one))])
    near = {*shown.in_order, *found.inside} & set(shown.causes.causes)
    fine = [word for cause, word in _named(shown) if cause in near - found.guessed]
    typical = [word for cause, word in _named(shown) if cause in found.guessed]
    out = listed([cause for cause in shown.words if cause not in (CAUSES["alignment"], *fine, *typical)])
    lines.append(escape(f"Out against the reference: {out or 'nothing beyond its tolerance'}."))
    if fine:
        lines.append(escape(f"Off it, but inside tolerance: {listed(fine)}."))
    if typical:
        lines.append(escape(f"Typical, not measured (bars in brackets): {listed(typical)}. Read them before asking."))
    return "<br>".join(lines) + table(["", "reference", "as it is", "change"], rows)
