"""The panels of the roll-stiffness split: bars, springs and pressures; and the same bar on three wheels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from html import escape
from math import ceil, floor
from typing import Any

import numpy as np

from ..answers.balance import balance
from ..answers.ledger import setting_words
from ..answers.limits import limits, tipped
from ..answers.sentences import lets_go
from ..answers.split import CLICKS, Along, Maps, Split, between, lift_and_limit, lift_off, study, transfer, with_bars
from ..car.carfile import CarFile
from ..car.records import Moment, Setup
from ..draw.split import SplitView, WheelsView, crossings
from ..trim.state import State, state_words
from ..units import UNITS, Array, G, from_si, number, to_si
from . import own_slider
from .base import Panel, choice, table
from .moments import MOMENT, moment_controls, moment_of
from .said import more

POINTS = 9
"""Points of the gradient's map along each bar."""
LIMIT_POINTS = 6
"""Points of the limits' map along each bar."""
BARS = 31
"""Points along the one bar of the second panel."""
_BESIDE = 0.08  # of a bar: K this near the point where a wheel lifts is a mixture of both sides
_STEEP = 20.0  # K beyond this is the limit close by, not a balance to tune [deg/g]
BEYOND = "So close to the limit K grows beyond all bounds: trust its sign, and compare the limits instead."
HELD = (
    "While a light wheel spends all its grip on braking or drive, a stiffer bar at its own end can help that end, "
    "against the usual rule."
)
_STEP = 5.0  # of a bar's slider [Nm/deg]
_CLICK_UNITS = {"bar": ("Nm_per_deg", 0), "spring": ("N_per_mm", 1), "pressure": ("bar", 1)}


@dataclass(frozen=True)
class ShownSplit:
    """What the first panel shows: the setup studied, the maps, and its bars [Nm/deg]."""

    split: Split
    maps: Maps
    now: tuple[float, float]


def panel(file: CarFile) -> Panel:
    """Make the panel of the roll-stiffness split of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    car, setup = file.car, file.setup
    bars = _bars(setup)
    top = _slider_end(bars, 3)
    view = SplitView(car, bars)
    few, some = (to_si(np.linspace(0, top, n), "Nm_per_deg") for n in (LIMIT_POINTS, POINTS))

    @lru_cache(maxsize=64)
    def grades(springs: tuple[float, ...], moment: Moment) -> Array:
        return balance(car, with_bars(_sprung(setup, springs), some, some[:, None]), moment).gradient

    @lru_cache(maxsize=64)
    def slides(springs: tuple[float, ...], moment: Moment) -> Array:
        return limits(car, with_bars(_sprung(setup, springs), few, few[:, None]), moment).sliding

    def compute(state: dict[str, Any], roughly: bool = False) -> ShownSplit:
        springs = tuple(float(to_si(state[f"{axle}_{field}"], unit)) for axle, field, unit in _SPRUNG)
        now = (state["front_bar"], state["rear_bar"])
        moment = moment_of(state)
        limit = slides(springs, replace(moment, lateral=G))
        fitted = [float(to_si(bar, "Nm_per_deg")) for bar in now]
        guess = between(few, few, limit, *fitted)
        split = study(car, with_bars(_sprung(setup, springs), *fitted), moment, guess, roughly)
        return ShownSplit(split, Maps(some, grades(springs, moment), few, limit), now)

    controls = {
        "front_bar": _bar("Front anti-roll bar", bars[0], top),
        "rear_bar": _bar("Rear anti-roll bar", bars[1], top),
        "front_spring": _spring("Front springs", setup.front.spring),
        "rear_spring": _spring("Rear springs", setup.rear.spring),
        "front_pressure": _pressure("Front tyre pressure", setup.front.pressure),
        "rear_pressure": _pressure("Rear tyre pressure", setup.rear.pressure),
    } | moment_controls("steady")
    return Panel(
        controls,
        compute,
        lambda _, found: view.draw(found.split, found.maps, found.now),
        words,
        view.picture,
        ahead=True,
        folded={"Tyre pressures": ["front_pressure", "rear_pressure"], "The corner": MOMENT},
        rough=partial(compute, roughly=True),
    )


_SPRUNG = (
    ("front", "spring", "N_per_mm"),
    ("rear", "spring", "N_per_mm"),
    ("front", "pressure", "bar"),
    ("rear", "pressure", "bar"),
)


def _sprung(setup: Setup, springs: Sequence[float]) -> Setup:
    """Return the same setup with other springs and pressures, in the order of ``_SPRUNG``."""
    front, rear = (
        replace(own, spring=springs[i], pressure=springs[i + 2]) for i, own in enumerate((setup.front, setup.rear))
    )
    return replace(setup, front=front, rear=rear)


def _bars(setup: Setup) -> tuple[float, float]:
    """Return the file's bars on the sliders' steps [Nm/deg]."""
    front, rear = (_STEP * round(from_si(own.bar, "Nm_per_deg") / _STEP) for own in (setup.front, setup.rear))
    return front, rear


def _slider_end(bars: tuple[float, float], times: float) -> float:
    """Return the stiffest bar of the sliders: so many times the larger, within what the library takes [Nm/deg]."""
    return float(np.clip(10 * ceil(times * max(bars) / 10), 300, 3000))


def _bar(label: str, now: float, top: float) -> Any:
    return own_slider(label, 0, top, _STEP, now, "Nm/deg", f"{label}; the car file says {now:g} Nm/deg, 0 is none")


def _spring(label: str, now: Any) -> Any:
    at = round(2 * from_si(now, "N_per_mm")) / 2
    low, high = max(5, floor(0.5 * at)), min(500, ceil(2 * at))
    return own_slider(label, low, high, 0.5, at, "N/mm", f"{label}; the car file says {at:g} N/mm")


def _pressure(label: str, now: Any) -> Any:
    at = round(20 * from_si(now, "bar")) / 20
    low, high = max(0.8, round(at - 0.8, 2)), min(4.5, round(at + 0.8, 2))
    return own_slider(label, low, high, 0.05, at, "bar", f"{label}, hot; the car file says {at:g} bar")


def words(found: ShownSplit) -> str:
    """State in words and numbers what the first panel shows, and what one more click of each setting changes.

    Parameters:
        found: what is shown [-]

    Returns:
        HTML [-]
    """
    split, maps = found.split, found.maps
    first = f"{_fallen(split)} {_headline(split)}".strip()
    lines = [f"<b>{escape(first)}</b>", *(escape(note) for note in _notes(split))]
    unknown = int(np.isnan(maps.gradient).sum())
    if unknown:
        lines.append(
            f"Striped on the map of K: {unknown} of {maps.gradient.size} pairs of bars cannot hold this corner at all."
        )
    lost = int(np.isnan(maps.margin).sum())
    if lost:
        text = f"Striped on the map of limits: no limit was found for {lost} of {maps.margin.size} pairs of bars."
        lines.append(text)
    return "<br>".join(lines) + more(f"One more click of each, ride heights kept:{_clicks(split, CLICKS)}")


def _headline(split: Split) -> str:
    limit = np.where(np.isnan(split.limit[:, 0]), np.inf, split.limit[:, 0])
    said = lets_go((float(limit[0]), float(limit[1])))
    limits_told = f"{said[0].upper()}{said[1:]}."
    if split.fallen:
        return limits_told
    return (
        f"{limits_told} The front takes {number(100 * split.share[0], 1)} % of the load transfer; "
        f"{_grade(split.gradient[0])} at {number(abs(float(split.moment.lateral)) / G, 2)} g."
    )


def _fallen(split: Split) -> str:
    """State that the car tips over, and what is left out for that; empty where it does not."""
    if not split.fallen:
        return ""
    lateral = number(abs(float(split.moment.lateral)) / G, 2)
    return f"The car tips over before it gets to {lateral} g, so no loads are shown."


def _grade(gradient: float) -> str:
    """State a gradient with its sign in words."""
    if np.isnan(gradient):
        return "no K, for this corner is past the limit"
    value = float(from_si(gradient, "deg_per_g"))
    word = "neutral" if abs(value) < 0.005 else "understeer" if value > 0 else "oversteer"
    return f"K {number(value, 2, sign=True)} deg/g, {word}"


def _notes(split: Split) -> list[str]:
    """Describe what is out of the ordinary at this moment."""
    told, said = [], state_words(split.trim.state)
    if said and not split.fallen:  # which tyres hold in a pose that never settles says nothing
        past = "" if bool(split.trim.usable) else " The loads are those it would have if the tyres held."
        told.append(f"Note: {'; '.join(said)}.{past}")
    if int(split.trim.state) & State.WHEEL_HELD and bool(split.trim.usable):
        told.append(HELD)
    if abs(from_si(split.gradient[0], "deg_per_g")) > _STEEP:
        told.append(BEYOND)
    return told


def _clicks(split: Split, shown: Sequence[tuple[str, str]]) -> str:
    """Write the table of small changes, those of ``shown`` only."""
    rows, unknown = [], "at rest" if split.guessed else "cannot be told"
    for i, (click, size) in enumerate(zip(CLICKS, split.clicks, strict=True), start=1):
        if click not in shown:
            continue
        unit, digits = _CLICK_UNITS[click[1]]
        name = f"{setting_words('.'.join(click))} +{from_si(size, unit):.{digits}f} {UNITS[unit].label}"
        rows.append(
            [
                name,
                _shift(np.nan if split.fallen else float(100 * (split.share[i] - split.share[0])), 2, "points", _NONE),
                _shift(float(from_si(split.gradient[i] - split.gradient[0], "deg_per_g")), 2, "deg/g"),
                _shift(float(split.margin[i] - split.margin[0]) / G, 3, "g", unknown),
            ]
        )
    return table(["", "front share", "K (plus: more understeer)", "rear limit less front limit"], rows)


_NONE = "tips over"
"""What the table says of loads where there are none."""


def _shift(value: float, digits: int, unit: str, unknown: str = "past the limit") -> str:
    return unknown if np.isnan(value) else f"{number(value, digits, sign=True)} {unit}"


@dataclass(frozen=True)
class OneBar:
    """What the second panel shows: the setup as set, the same over one bar, and which bar that is [Nm/deg]."""

    split: Split
    along: Along
    axle: str
    bars: Array
    now: float


def three_wheels(file: CarFile) -> Panel:
    """Make the panel that takes one bar from none to very stiff, past the point where a wheel lifts.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    car, setup = file.car, file.setup
    bars = _bars(setup)
    top = _slider_end(bars, 6)
    view = WheelsView(car)
    range_ = np.linspace(0, top, BARS)

    def ranged(axle: str, other: float) -> Setup:
        pair = (to_si(range_, "Nm_per_deg"), to_si(other, "Nm_per_deg"))
        return with_bars(setup, *(pair if axle == "front" else pair[::-1]))

    @lru_cache(maxsize=64)
    def up_to_the_limit(axle: str, other: float, moment: Moment, roughly: bool) -> tuple[Array, Array]:
        tried = ranged(axle, other)
        if roughly:
            return lift_and_limit(car, tried, moment)
        return lift_off(car, tried, moment), limits(car, tried, moment).sliding

    @lru_cache(maxsize=64)
    def at_the_moment(axle: str, other: float, moment: Moment) -> tuple[Array, Array, Array]:
        tried = ranged(axle, other)
        found = balance(car, tried, moment)
        moved = np.where(tipped(found.trim), np.nan, transfer(car, tried, found.trim).sum(axis=1))  # fallen over: none
        return moved, found.understeer_angle, found.gradient

    def compute(state: dict[str, Any], roughly: bool = False) -> OneBar:
        axle, moment = state["axle"], moment_of(state)
        now = {"front": state["front_bar"], "rear": state["rear_bar"]}
        other = now["rear" if axle == "front" else "front"]
        lift, limit = up_to_the_limit(axle, other, replace(moment, lateral=G), roughly)
        fitted = with_bars(setup, *(to_si(now[end], "Nm_per_deg") for end in ("front", "rear")))
        guess = np.array([np.interp(now[axle], range_, values) for values in limit])
        split = study(car, fitted, moment, guess, roughly)
        return OneBar(split, Along(*at_the_moment(axle, other, moment), lift, limit), axle, range_, now[axle])

    def draw(_: Any, found: OneBar) -> None:
        view.draw(found.split, found.along, found.bars, found.now, f"{found.axle} bar [Nm/deg]")

    options = [("the rear bar", "rear"), ("the front bar", "front")]
    controls = {
        "axle": choice("Bar along the axes", options, "rear"),
        "front_bar": _bar("Front anti-roll bar", bars[0], top),
        "rear_bar": _bar("Rear anti-roll bar", bars[1], top),
    } | moment_controls()
    rough = partial(compute, roughly=True)
    return Panel(controls, compute, draw, wheel_words, view.picture, ahead=True, rough=rough)


def wheel_words(found: OneBar) -> str:
    """State in words and numbers where a wheel lifts, and what more bar does before and after.

    Parameters:
        found: what is shown [-]

    Returns:
        HTML [-]
    """
    split = found.split
    lines = [f"<b>{escape(_standing(split))} {escape(_headline(split))}</b>"]
    lines += [escape(text) for text in dict.fromkeys((*_lifts(found), *_notes(split)))]
    shown = [click for click in CLICKS if click[1] != "pressure"]
    return "<br>".join(lines) + more(f"One more click of each, ride heights kept:{_clicks(split, shown)}")


def _standing(split: Split) -> str:
    """State which inner wheels are in the air."""
    if split.fallen:
        return _fallen(split)
    inner = split.trim.load[:, 0]
    up = [f"the inner {end} wheel" for end, load in zip(("front", "rear"), inner, strict=True) if load <= 0]
    lateral = number(abs(float(split.moment.lateral)) / G, 2)
    if not up:
        front, rear = (number(load / G, 0) for load in inner)
        return f"At {lateral} g all wheels are down: the inner front carries {front} kg, the inner rear {rear} kg."
    return f"At {lateral} g {' and '.join(up)} {'is' if len(up) == 1 else 'are'} in the air."


def _lifts(found: OneBar) -> list[str]:
    """State where along the bar a wheel lifts and what K does there; and at which lateral g it lifts as set."""
    along, bars, said = found.along, found.bars, []
    lateral = abs(float(found.split.moment.lateral))
    hold = float(np.interp(found.now, bars, along.limit.min(axis=0)))
    for end, lift in zip(("front", "rear"), along.lift_off, strict=True):
        here = float(np.interp(found.now, bars, lift))
        if np.isfinite(here):
            against = "" if np.isnan(hold) else f"; this car holds {hold / G:.2f} g"
            said.append(f"With these bars the inner {end} wheel leaves the ground at {here / G:.2f} g{against}.")
        for place in crossings(bars, lift - lateral):
            said += _turns(found, end, place)
    if not said:
        said.append(f"No {found.axle} bar up to {bars[-1]:g} Nm/deg lifts a wheel within the range of the model.")
    return said


def _turns(found: OneBar, end: str, place: float) -> list[str]:
    """Describe what K does along the bar up to the point at which a wheel lifts, and beyond it."""
    grades, bars = from_si(found.along.gradient, "deg_per_g"), found.bars
    head = f"At this lateral acceleration the inner {end} wheel lifts at a {found.axle} bar of about {place:.0f} Nm/deg"
    sides = (bars < place - _BESIDE * place, bars > place + _BESIDE * place)
    told, ends_at = [], []
    for side, word in zip(sides, ("Below", "Above"), strict=True):
        known = np.flatnonzero(side & np.isfinite(grades))
        if known.size > 1:
            first, last = known[0], known[-1]
            ends_at += [grades[first], grades[last]]
            told.append(
                f"{word} it, from {bars[first]:.0f} to {bars[last]:.0f} Nm/deg, K goes from"
                f" {number(grades[first], 2, sign=True)} to {number(grades[last], 2, sign=True)} deg/g"
                f" ({_way(grades[last] - grades[first])})"
            )
    if len(told) == 2:
        jump = ends_at[2] - ends_at[1]
        told.append(f"Between the two K changes by {number(jump, 2, sign=True)} deg/g ({_way(jump)})")
    steep = [BEYOND] if ends_at and np.abs(ends_at).max() > _STEEP else []
    return [f"{'. '.join([head, *told])}.", *steep]


def _way(change: float) -> str:
    if abs(change) < 0.005:
        return "no change to speak of"
    return f"toward {'understeer' if change > 0 else 'oversteer'}"
