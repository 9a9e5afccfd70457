"""The panel that ranks what would help most, and what it shares with the panel of requests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers.sentences import PHASE_WORDS
from ..car.carfile import CarFile
from ..car.keys import ENDS
from ..car.reference import reference_of
from ..draw.whatif import Helps
from ..setup.advice import GOALS, KINDS, Ask, Bounds, Help, Lever, levers, ranked, value
from ..setup.allowed import against, to_the_reference
from ..setup.candidate import Version, standing
from ..setup.driven import MEASURES, Measured, OwnCorner, measured, own_corner, ranked_in_corner
from ..setup.whatif import compare
from ..shown import a_or_an, says
from ..units import G, from_si, number, to_si
from .base import Panel, choice, slider, table
from .moments import MOMENT, lateral_of, moment_controls, speed_of
from .shared_whatif import SharedWhatIf, row

STARTS = {"reference": "the reference", "stands": "the car as it stands", "what-if": "the what-if above"}
WAYS = {1: "a calmer rear", -1: "a car that turns more willingly"}
EVERY = MEASURES | GOALS
"""Everything that can count: the driver's own measures first."""
FELT = {"forgiven": 1.0, "hands": 0.01, "gap": 0.01, "steering": 0.1, "growth": 0.1}
"""Goal → a gain smaller than this is too small to feel; common practice, no source."""
DIGITS = {"forgiven": 1, "hands": 3, "gap": 3, "steering": 2, "growth": 2}
"""Goal → digits shown; the model's doubt is larger than the last one."""
LABELS = {"forgiven": " km/h", "hands": " g", "gap": " g", "steering": "°", "growth": " 1/s"}
"""Goal → the sign of its unit behind a number."""
READ = {
    "forgiven": "the first speed at which a quick lift, wheel held, brings the tail past 10°, or the grip ends",
    "hands": "throttle closed",
    "gap": "below zero the rear goes first",
    "steering": "less of it is toward oversteer",
    "growth": "below zero it grows",
}
"""Goal → how it is read."""
STEPS: dict[str, tuple[str, int, str, str]] = {
    "height": (" mm", 0, "more", "less"),
    "spring": (" N/mm", 0, "more", "less"),
    "bar": (" clicks", 1, "more", "less"),
    "toe": ("°", 2, "toward toe-in", "toward toe-out"),
    "camber": ("°", 1, "less negative", "more negative"),
    "pressure": (" bar", 2, "more", "less"),
}
"""Kind of setting → the sign of its unit, digits shown, and what a change up and down is called."""


def ask_controls(goals: Mapping[str, tuple[str, str]] = GOALS, first: str = "gap") -> dict[str, Any]:
    """Make the controls that say what is wanted and when."""
    return {
        "goal": choice("What counts", [(words, goal) for goal, (words, _) in goals.items()], first),
        "way": choice("Wanted", [(words, way) for way, words in WAYS.items()], 1),
        **moment_controls(),
        "start": choice("Counted from", [(words, key) for key, words in STARTS.items()], "stands"),
    }


def bound_controls() -> dict[str, Any]:
    """Make the controls that say how far a setting may go."""
    usual = Bounds()
    return {
        "clearance": slider("Least ride height", 40, 140, 5, from_si(usual.clearance, "mm"), "mm"),
        "gap": slider("Travel left to the stops", 0, 40, 1, from_si(usual.gap, "mm"), "mm"),
        "height": slider("Ride height, most change", 5, 40, 1, from_si(usual.height, "mm"), "mm"),
        "camber": slider("Camber, most negative", -5, -0.5, 0.1, -3, "deg"),
        "toe": slider("Toe-in, at most", 0, 0.6, 0.05, 0.3, "deg"),
        "toe_out": slider("Toe-out, at most", 0, 0.6, 0.05, 0.15, "deg"),
        "bar": slider("Bars, up and down by", 10, 90, 10, 100 * usual.bar, "%"),
        "click": slider("One click of a bar", 2, 30, 1, 100 * usual.click, "%"),
        "spring": slider("Springs, up and down by", 5, 60, 5, 100 * usual.spring, "%"),
        "pressure": slider("Pressures, up and down", 0.1, 0.6, 0.1, 0.3, "bar"),
    }


def ask_of(state: Mapping[str, Any]) -> Ask:
    """Return what is wanted."""
    return Ask(state["goal"], state["phase"], speed_of(state), lateral_of(state), state["way"])


def bounds_of(state: Mapping[str, Any]) -> Bounds:
    """Return the bounds the controls stand for."""
    flat = float(np.radians(max(state["camber"], -0.3)))
    return Bounds(
        clearance=to_si(state["clearance"], "mm"),
        gap=to_si(state["gap"], "mm"),
        height=to_si(state["height"], "mm"),
        camber=(float(np.radians(state["camber"])), flat),
        toe=(float(np.radians(-state["toe_out"])), float(np.radians(state["toe"]))),
        bar=state["bar"] / 100,
        click=state["click"] / 100,
        spring=state["spring"] / 100,
        pressure=to_si(state["pressure"], "bar"),
    )


def start_of(bench: SharedWhatIf, state: Mapping[str, Any]) -> Version:
    """Return the version that the changes are counted from."""
    if state["start"] == "stands":
        return bench.base
    if state["start"] == "reference":
        return replace(bench.base, setup=standing(bench.base.car, reference_of(bench.file).setup))
    made = bench.version
    return replace(made, setup=standing(made.car, made.setup))


@dataclass(frozen=True)
class Ranking:
    """What the ranking shows."""

    ask: Ask
    corner: OwnCorner
    start: str
    now: float  # the goal now [goal's unit]
    helps: tuple[Help, ...]  # those that nothing speaks against first, the best of each first
    against: tuple[str, ...]  # what speaks against each, empty where nothing does
    back: float  # the goal at the reference [goal's unit]
    reference: str


def panel(file: CarFile) -> Any:
    """Make the panel that ranks what would help most.

    Parameters:
        file: the car file [-]

    Returns:
        a widget whose attribute ``panel`` is the ``Panel`` [-]
    """
    return HelpDesk(SharedWhatIf.of(file))


class HelpDesk:
    """The ranking and the button under it."""

    def __init__(self, bench: SharedWhatIf) -> None:
        """Build everything."""
        self.bench = bench
        self.panel, self.view = _ranking(bench)
        self.again = again_button(self.panel)
        self.box = widgets.VBox([self.panel.show(), row(self.again)])

    def show(self) -> Any:
        """Return the widget."""
        return self.box


def again_button(panel: Panel) -> Any:
    """Make the button that works a panel out again after the what-if above has moved."""
    made = widgets.Button(description="Work it out again", tooltip="After the what-if above has been moved")
    made.layout.width = "auto"
    made.on_click(lambda _: panel.refresh())
    return made


def _ranking(bench: SharedWhatIf) -> tuple[Panel, Helps]:
    view, reference = Helps(len(KINDS) * len(ENDS)), reference_of(bench.file)
    corner, figures = own_corner(bench.file.known.visit), bench.file.known.figures
    kept: Measured = lru_cache(maxsize=8)(measured)  # the corner is the driver's own: no speed chosen here moves it

    def compute(state: dict[str, Any]) -> Ranking:
        base, ask = start_of(bench, state), ask_of(state)
        wanted = to_the_reference(levers(base.car, base.setup, bounds_of(state)), reference.setup, figures)
        level = replace(base, setup=standing(bench.base.car, reference.setup))
        if ask.goal in MEASURES:
            found = ranked_in_corner(base, ask, wanted, corner, kept)
            both = kept(base.car, (base.setup, level.setup), corner, ask.goal)
            now, back = (float(v) / (to_si(1.0, "kmh") if ask.goal == "forgiven" else G) for v in both)
        else:
            found = ranked(base, ask, wanted)
            pair = compare([base, level], ask.speed, ask.lateral, (ask.phase,))
            now, back = value(pair, ask), value(pair, ask, 1)
        told = {one.lever.path: against(one, reference.setup, figures) for one in found}
        found = tuple(sorted(found, key=lambda one: bool(told[one.lever.path])))
        words = tuple(told[one.lever.path] for one in found)
        return Ranking(ask, corner, STARTS[state["start"]], now, found, words, back, reference.name)

    def draw(_: Any, found: Ranking) -> None:
        names = [one.lever.words for one in found.helps]
        reach = np.array([max(one.reach, 0.0) if np.isfinite(one.reach) else np.nan for one in found.helps])
        unit = EVERY[found.ask.goal][1]
        told = [f"{'✗ ' if bad else ''}{_told(one, found.ask)}" for one, bad in _pairs(found)]
        view.draw(names, reach, told, unit)

    bounds = bound_controls()
    folded = {"The corner": MOMENT, "How far each setting may go": list(bounds)}
    first = "forgiven" if corner.speed else "hands"
    return Panel(ask_controls(EVERY, first) | bounds, compute, draw, ranking_words, view.picture, folded=folded), view


def amount(value: float, goal: str, sign: bool = True) -> str:
    """Write a value of a goal with its unit."""
    return f"{number(value, DIGITS[goal], sign=sign)}{LABELS[goal]}"


def move_words(lever: Lever, way: int, size: float) -> str:
    """State a change of a setting: "25 mm more"; a bar's in clicks."""
    label, digits, up, down = STEPS[lever.field]
    value = size / lever.usual if lever.field == "bar" else from_si(size, KINDS[lever.field][0])
    shown = f"{value if size == lever.usual else round(value, digits):.3g}"
    label = label.removesuffix("s") if shown == "1" and lever.field == "bar" else label
    return f"{shown}{label} {up if way > 0 else down}"


def _told(one: Help, ask: Ask) -> str:
    """How far, which way and what for, beside one bar."""
    if one.end is None:
        return "none allowed that way within the bounds"
    if not np.isfinite(one.reach):
        return "cannot be told: past the limit"
    turns = "; a little helps, so much does not" if one.reach < 0 else ""
    return f"{move_words(one.lever, one.way, one.room)}: {amount(ask.way * one.reach, ask.goal)}{turns}"


def goal_words(ask: Ask, corner: OwnCorner | None = None) -> str:
    """Write the goal with its unit and moment, as a sentence begins."""
    words = EVERY[ask.goal][0]
    words = words[0].upper() + words[1:]
    if corner is not None and ask.goal in MEASURES:
        where = corner.words(corner.turn) if corner.turn else f"{a_or_an(corner.radius)} m corner, the worse way"
        braked = corner.foot == "brake"
        read = READ[ask.goal].replace(OwnCorner().event, corner.event)
        read = "braked" if braked and ask.goal == "hands" else read
        return f"{words} ({read}), {where}"
    speed = says(float(ask.speed), "kmh", 0)
    return f"{words} ({READ[ask.goal]}), {PHASE_WORDS[ask.phase]}, {speed}, {ask.lateral / G:.2f} g"


def ranking_words(found: Ranking) -> str:
    """State in words and numbers what the ranking shows.

    Parameters:
        found: the ranking [-]

    Returns:
        HTML [-]
    """
    goal, unit = found.ask.goal, EVERY[found.ask.goal][1]
    plain = goal not in MEASURES
    now = amount(found.now, goal, plain) if np.isfinite(found.now) else "past the limit, nothing to compare"
    way, (size, less) = found.ask.way, ("gain", "") if found.ask.way > 0 else ("change", ", so less of it")
    head = f"{goal_words(found.ask, found.corner)}. Wanted: {WAYS[way]}{less}, from {found.start}."
    usable = [one for one, bad in _pairs(found) if not bad and one.end is not None and np.isfinite(one.reach)]
    told = [f"First back to the reference, {found.reference}: {amount(found.back, goal, plain)} there, now {now}."]
    if not np.isfinite(found.back):
        told = [f"First back to the reference, {found.reference}: past the limit there, nothing to compare."]
    if usable and round(usable[0].reach, DIGITS[goal]) > 0:
        little = " That is too small to feel." if usable[0].reach < FELT[goal] else ""
        more = any(bad and one.end is not None and one.reach > usable[0].reach for one, bad in _pairs(found))
        most = f"Most help from {found.start}{', of what is advised' * more}"
        told.append(f"{most}: {usable[0].lever.words}, {_told(usable[0], found.ask)}.{little}")
    else:
        told.append("No setting alone helps noticeably within the bounds without something that speaks against it.")
    short = all(found.now + one.reach < 0 for one in found.helps if one.end is not None)
    if goal == "gap" and found.ask.way > 0 and found.now < 0 and short:
        told.append("No single setting brings the gap to zero.")
    rows = [
        [
            f"{one.lever.words}{f' (not advised: {bad})' if bad else ''}",
            move_words(one.lever, one.way, one.lever.usual) if one.way else "no change helps",
            number(way * one.gain, DIGITS[goal], sign=True),
            move_words(one.lever, one.way, one.room) if one.end is not None else "none allowed",
            *_costs(one, way, DIGITS[goal]),
        ]
        for one, bad in _pairs(found)
    ]
    columns = [
        "setting",
        "a usual change",
        f"its {size} [{unit}]",
        "allowed change",
        f"{size} from it [{unit}]",
        "front limit [g]",
        "rear limit [g]",
        "extra steering, steady [deg]",
    ]
    notes = (
        "The last three columns say what else changes with all that room used: both limits with the throttle closed, "
        f"the steering with a steady one. A {size} of 0 is less than the last digit shown. ✗ is not advised."
    )
    bounds = (
        "The bounds are common practice, with no source: put in your own. A bar's click is a part of what it is now."
    )
    return f"<b>{escape(' '.join(told))}</b><br>{escape(head)}{table(columns, rows)}{escape(notes)} {escape(bounds)}"


def _pairs(found: Ranking) -> list[tuple[Help, str]]:
    return list(zip(found.helps, found.against, strict=True))


def _costs(one: Help, way: int, digits: int) -> list[str]:
    """What it does to the goal with all the room used, and what else changes then."""
    end = one.end
    if end is None:
        return ["none allowed"] * 4
    reach = number(way * one.reach, digits, sign=True) if np.isfinite(one.reach) else "past the limit"
    lift, steady = end.phases.index("lift"), end.phases.index("steady")
    limits = [end.limit[i, 1, lift] - end.limit[i, 0, lift] for i in (0, 1)]
    steer = from_si(end.angle[1, steady] - end.angle[0, steady], "deg")
    told = [number(v / G, 3, sign=True) if np.isfinite(v) else "not found" for v in limits]
    return [reach, *told, number(steer, 2, sign=True) if np.isfinite(steer) else "past the limit"]
