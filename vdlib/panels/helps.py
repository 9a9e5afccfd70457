"""The panel that ranks what would help most, and what it shares with the panel of requests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..advice import GOALS, Ask, Bounds, Help, levers, ranked, value
from ..candidate import Version, standing
from ..carfile import CarFile
from ..draw.whatif import Helps
from ..saying import PHASE_WORDS
from ..units import G, from_si, number, to_si
from ..whatif import PHASE_ORDER, Comparison, compare
from .base import Panel, choice, slider, table
from .bench import Bench, in_sheets, row

STARTS = {"stands": "the car as it stands", "what-if": "the what-if above"}
WAYS = {1: "a calmer rear", -1: "a car that turns more willingly"}
DIGITS = {"gap": 4, "steering": 3, "growth": 3}


def moment_controls() -> dict[str, Any]:
    """Make the controls that say what is wanted and when."""
    return {
        "goal": choice("What counts", [(words, goal) for goal, (words, _) in GOALS.items()], "gap"),
        "way": choice("Wanted", [(words, way) for way, words in WAYS.items()], 1),
        "phase": choice("Phase of the corner", [(PHASE_WORDS[p], p) for p in PHASE_ORDER], "lift"),
        "speed": slider("Speed", 40, 240, 5, 110, "km/h"),
        "lateral": slider("Lateral acceleration", 0.1, 1.3, 0.02, 0.8, "g"),
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
    """Give what is wanted."""
    speed = float(to_si(state["speed"], "kmh"))
    return Ask(state["goal"], state["phase"], speed, state["lateral"] * G, state["way"])


def bounds_of(state: Mapping[str, Any]) -> Bounds:
    """Give the bounds the controls stand for."""
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


def start_of(bench: Bench, state: Mapping[str, Any]) -> Version:
    """Give the version that the changes are counted from."""
    if state["start"] == "stands":
        return bench.base
    made = bench.version
    return replace(made, setup=standing(made.car, made.setup))


@dataclass(frozen=True)
class Ranking:
    """What the ranking shows."""

    ask: Ask
    start: str
    now: float  # the goal now [goal's unit]
    helps: tuple[Help, ...]


def panel(file: CarFile) -> Any:
    """Make the panel that ranks what would help most.

    Parameters:
        file: the car file [-]

    Returns:
        a widget whose attribute ``panel`` is the ``Panel`` [-]
    """
    return HelpDesk(Bench.of(file))


class HelpDesk:
    """The ranking and the button under it."""

    def __init__(self, bench: Bench) -> None:
        """Build everything."""
        self.panel = _ranking(bench)
        box = in_sheets(self.panel, {"How far each setting may go": list(bound_controls())}, folded=True)
        self.again = again_button(self.panel)
        self.box = widgets.VBox([box, row(self.again)])

    def show(self) -> Any:
        """Give the widget."""
        return self.box


def again_button(panel: Panel) -> Any:
    """Make the button that works a panel out again after the what-if above has moved."""
    made = widgets.Button(description="Work it out again", tooltip="After the what-if above has been moved")
    made.layout.width = "auto"
    made.on_click(lambda _: panel.refresh())
    return made


def _ranking(bench: Bench) -> Panel:
    view = Helps(len(levers(bench.base.car, bench.base.setup)))

    def compute(state: dict[str, Any]) -> Ranking:
        base, ask = start_of(bench, state), ask_of(state)
        found = ranked(base, ask, levers(base.car, base.setup, bounds_of(state)))
        now = value(compare([base], ask.speed, ask.lateral, (ask.phase,)), ask)
        return Ranking(ask, STARTS[state["start"]], now, found)

    def draw(_: Any, found: Ranking) -> None:
        names = [one.lever.words for one in found.helps]
        reach = np.array([max(one.reach, 0.0) if np.isfinite(one.reach) else np.nan for one in found.helps])
        view.draw(names, reach, [_told(one, found.ask) for one in found.helps])

    return Panel(moment_controls() | bound_controls(), compute, draw, ranking_words, view.picture)


def _told(one: Help, ask: Ask) -> str:
    """Which way, how far and what for, beside one bar."""
    if one.end is None:
        return "no room that way within the bounds"
    if not np.isfinite(one.reach):
        return "cannot be told: past the limit"
    room = one.room / one.lever.step
    unit = {"0.1 bar": "× 0.1 bar", "click": "clicks", "degree": "degrees"}.get(one.lever.per, one.lever.per)
    return (
        f"{'more' if one.way > 0 else 'less'}, by {room:.3g} {unit}: {number(one.reach, DIGITS[ask.goal], sign=True)}"
    )


def goal_words(ask: Ask) -> str:
    """Say the goal with its unit and moment."""
    words, unit = GOALS[ask.goal]
    speed = from_si(ask.speed, "kmh")
    return f"{words} [{unit}], {PHASE_WORDS[ask.phase]}, {speed:.0f} km/h, {ask.lateral / G:.2f} g"


def ranking_words(found: Ranking) -> str:
    """Say in words and numbers what the ranking shows.

    Parameters:
        found: the ranking [-]

    Returns:
        HTML [-]
    """
    digits = DIGITS[found.ask.goal]
    now = f"{number(found.now, digits, sign=True)}" if np.isfinite(found.now) else "past the limit, nothing to compare"
    head = f"{goal_words(found.ask)}. Now, {found.start}: {now}. Wanted: {WAYS[found.ask.way]}."
    best = next((one for one in found.helps if one.end is not None and np.isfinite(one.reach) and one.reach > 0), None)
    told = f"Most help within the bounds: {best.lever.words}, {_told(best, found.ask)}." if best else (
        "No setting helps within the bounds."
    )  # fmt: skip
    rows = [[one.lever.words, _gain(one, digits + 1), _told(one, found.ask), *_costs(one.end)] for one in found.helps]
    columns = [
        "setting",
        "gain for one step",
        "with all its room",
        "front limit",
        "rear limit",
        "extra steering, steady",
    ]
    notes = "The last three columns say what else changes with all that room used: both limits throttle closed, in g."
    bounds = (
        "The bounds are common practice, with no source: put in your own. A bar's click is a part of what it is now."
    )
    return f"<b>{escape(head)}</b><br>{escape(told)}{table(columns, rows)}{escape(notes)} {escape(bounds)}"


def _gain(one: Help, digits: int) -> str:
    way = {1: " more", -1: " less", 0: ""}[one.way]
    return f"{number(one.gain, digits, sign=True)} a {one.lever.per}{way}"


def _costs(end: Comparison | None) -> list[str]:
    """What else changes from the first version to the second."""
    if end is None:
        return ["no room", "no room", "no room"]
    lift, steady = end.phases.index("lift"), end.phases.index("steady")
    limits = [end.limit[i, 1, lift] - end.limit[i, 0, lift] for i in (0, 1)]
    steer = end.angle[1, steady] - end.angle[0, steady]
    told = [f"{number(v / G, 3, sign=True)}" if np.isfinite(v) else "not found" for v in limits]
    return [*told, f"{number(from_si(steer, 'deg'), 2, sign=True)}°" if np.isfinite(steer) else "past the limit"]
