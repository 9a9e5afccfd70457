"""The workings: each governing equation step by step, its number for the open car, and which number matters most."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from inspect import signature
from typing import Any

import numpy as np
import sympy as sp
from IPython import display as ipython_display

from ..answers.sentences import listed
from ..car.carfile import CarFile
from ..draw.sensitivity import SensitivityBars
from ..draw.style import start
from ..lessons import simple, working
from ..lessons.terms import low
from ..lessons.working import Working
from ..units import UNITS, G, from_si, number, to_si
from .base import CSS, Panel, Refused, choice, slider, table
from .predict import ask
from .two_wheel import BEYOND

_show: Any = ipython_display


@dataclass(frozen=True)
class Equation:
    """One equation: how it is made, the unit of its result, and why some cars have none."""

    make: Callable[[], Working]
    unit: str
    decimals: int
    none: str = "This car has no such number."


EQUATIONS: dict[str, Equation] = {
    "load between the axles": Equation(working.longitudinal_transfer, "N", 0),
    "roll angle": Equation(working.roll_angle, "deg", 2),
    "load across the front axle": Equation(working.lateral_transfer, "N", 0),
    "load across the rear axle": Equation(lambda: working.lateral_transfer("rear"), "N", 0),
    "understeer gradient": Equation(working.understeer_gradient, "deg_per_g", 2),
    "characteristic speed": Equation(
        working.characteristic_speed,
        "kmh",
        0,
        "By tyres and weight alone this car does not understeer: there is no such speed.",
    ),
    "critical speed": Equation(
        working.critical_speed,
        "kmh",
        0,
        "By tyres and weight alone this car does not oversteer: there is no such speed.",
    ),
    "answer to steering": Equation(working.yaw_rate_gain, "number", 1),
}
"""Name → equation, in teaching order."""
ON_THE_WAY = {
    "N_f": "load on the front axle",
    "N_r": "load on the rear axle",
    "ΔN": "load that moves: to the rear axle (minus: to the front), or to the outer wheel",
    "F_f": "side force at the front axle",
    "F_r": "side force at the rear axle",
    "φ": "roll angle",
    "R": "radius of the turn",
    "δ": "steer angle",
    "β": "sideslip angle: where the car's middle goes against where it points",
    "β'": "how fast the sideslip angle grows",
    "r": "yaw rate: how fast the car turns",
    "r'": "how fast the yaw rate grows",
    "I": "yaw inertia: how hard the car is to spin",
    "G_r": "yaw rate for each radian of steer angle",
} | {key: words for key, (words, _) in working.MEANINGS.items()}
"""Meaning of every symbol that a step may hold."""
LATERAL, BRAKING, SPEED = 0.4, 0.3, 100.0
"""Where the numbers are taken if nothing else is said: lateral acceleration [g], slowing [g], speed [km/h]."""


@cache
def derive(name: str) -> Working:
    """Derive one equation, once.

    Parameters:
        name: a name from ``EQUATIONS`` [-]

    Returns:
        the derivation [-]

    Errors:
        ``KeyError`` for another name.
    """
    return EQUATIONS[name].make()


@dataclass(frozen=True)
class Value:
    """The number of one equation for a car: which, its symbols' numbers and the result in SI; NaN for none."""

    name: str
    symbols: dict[str, float]
    result: float
    lateral: float

    @property
    def told(self) -> str:
        """The result in the user's unit, as text [-]."""
        equation = EQUATIONS[self.name]
        if equation.unit == "kmh" and self.result > BEYOND:
            return f"beyond {number(float(from_si(BEYOND, 'kmh')), 0)} km/h"
        unit = "1/s" if self.name == "answer to steering" else UNITS[equation.unit].label
        return f"{number(float(from_si(self.result, equation.unit)), equation.decimals)} {unit}"


def value(name: str, file: CarFile, lateral: float = LATERAL, braking: float = BRAKING, speed: float = SPEED) -> Value:
    """Put a car's numbers into one equation.

    Parameters:
        name: a name from ``EQUATIONS`` [-]
        file: the car file [-]
        lateral: lateral acceleration [g]
        braking: slowing [g]
        speed: speed [km/h]

    Returns:
        its symbols and result, SI; the result is NaN where the car has no such number [any]

    Errors:
        ``KeyError`` for another name.
    """
    known = _car_numbers(file, lateral, braking, speed)
    done = derive(name)
    if name.startswith("load across"):
        known["h"] = known["h_s"]  # there h is the body's own centre of gravity
    result = _number(done, known)
    shown = {key: float(known[key]) for key in done.symbols}
    return Value(name, shown, result, lateral)


def _car_numbers(
    file: CarFile, lateral: float = LATERAL, braking: float = BRAKING, speed: float = SPEED
) -> dict[str, Any]:
    """The car's number for every symbol, SI."""
    return simple.symbols(file.car, file.setup, lateral * G, -braking * G, to_si(speed, "kmh"))


def _number(done: Working, known: Mapping[str, Any]) -> float:
    """Put numbers into an equation; NaN where it has no real or finite result."""
    with np.errstate(invalid="ignore", divide="ignore"):
        result = float(done.numeric(**{key: np.float64(known[key]) for key in _asked(done)}))
    return result if np.isfinite(result) else float("nan")


def _asked(done: Working) -> list[str]:
    """The symbols that an equation asks for."""
    return list(signature(done.numeric).parameters)


def show_all(file: CarFile) -> None:
    """Display every equation with its number for a car; its symbols and steps are under that line.

    Parameters:
        file: the car file [-]
    """
    _show.display(_show.HTML(CSS), *(_show.Markdown(folded(name, file)) for name in EQUATIONS))


def folded(name: str, file: CarFile) -> str:
    """Write one equation as a line that opens: title and number, then what the symbols mean, then each step.

    Parameters:
        name: a name from ``EQUATIONS`` [-]
        file: the car file [-]

    Returns:
        Markdown [-]

    Errors:
        ``KeyError`` for another name.
    """
    table_part, *steps, result = parts(name, file)[1:]
    text = "\n\n".join(f"$$\n{one.data}\n$$" if isinstance(one, _show.Math) else one.data for one in steps)
    line = f"<b>{escape(derive(name).title)}</b>: {escape(value(name, file).told)}"
    if np.isnan(value(name, file).result):
        line = f"<b>{escape(derive(name).title)}</b>: none for this car"
    return f"<details><summary>{line}</summary>\n\n{table_part.data}\n\n{text}\n\n{result.data}\n\n</details>"


def parts(name: str, file: CarFile) -> list[Any]:
    """Return the pieces of ``folded``: title, what the symbols mean, each step as sentence and equation, the result.

    Parameters:
        name: a name from ``EQUATIONS`` [-]
        file: the car file [-]

    Returns:
        objects of ``IPython.display`` [-]

    Errors:
        ``KeyError`` for another name.
    """
    done = derive(name)
    made: list[Any] = [_show.Markdown(f"#### {done.title}"), _boxed(symbols(name, file))]
    for count, (sentence, equation) in enumerate(done.steps, 1):
        made += [_show.Markdown(f"{count}. {sentence}"), _show.Math(sp.latex(equation))]
    return [*made, _boxed(f"<p>{outcome(name, file)}</p>")]


def _boxed(html: str) -> Any:
    return _show.HTML(f'<div class="vd-panel"><div class="vd-words">{html}</div></div>')


def symbols(name: str, file: CarFile) -> str:
    """Write what the symbols of one equation and of its steps mean, with their numbers for a car.

    Parameters:
        name: a name from ``EQUATIONS`` [-]
        file: the car file [-]

    Returns:
        HTML [-]
    """
    done, own = derive(name), value(name, file).symbols
    passing = {symbol.name for _, equation in done.steps for symbol in equation.free_symbols} - set(own)
    fixed = passing & set(working.MEANINGS) - {"a_x", "a_y", "V", done.result.lhs.name}  # numbers of the car
    known = own | {key: float(number) for key, number in _car_numbers(file).items() if key in fixed}
    body = {"h": ", of the body without wheels and hubs"} if name.startswith("load across") else {}
    rows = [
        [f"{key}: {ON_THE_WAY[key]}{body.get(key, '')}", _si(known[key], working.MEANINGS[key][1])]
        if key in known
        else [f"{key}: {ON_THE_WAY[key]}", "on the way"]
        for key in [*own, *(key for key in ON_THE_WAY if key in passing)]
    ]
    return low(table(["symbol", "number"], rows))


def outcome(name: str, file: CarFile) -> str:
    """Write one equation's result for a car.

    Parameters:
        name: a name from ``EQUATIONS`` [-]
        file: the car file [-]

    Returns:
        HTML [-]
    """
    own = value(name, file)
    asked = {"a_y": f"{LATERAL:g} g sideways", "a_x": f"slowing by {BRAKING:g} g", "V": f"{SPEED:g} km/h"}
    where = "".join(f", {words}" for key, words in asked.items() if key in own.symbols)
    told = EQUATIONS[name].none if np.isnan(own.result) else f"<b>{own.told}</b>"
    return f"{escape(file.car.name)}{where}: {told}.".replace("..", ".")


def _si(amount: float, unit: str) -> str:
    """Write a number in SI to five digits, without an exponent."""
    digits = np.format_float_positional(amount, precision=5, unique=False, fractional=False, trim="-")
    return f"{digits.replace('-', '−')} {'' if unit == '-' else unit}".strip()


@dataclass(frozen=True)
class Weighed:
    """The number of one equation, and how far one percent more of each symbol moves it."""

    value: Value
    percents: dict[str, float]


def weigh_example(name: str, file: CarFile, lateral: float, braking: float, speed: float) -> Weighed:
    """Return which number matters: ``100·(f(1.01·x) − f(x))/f(x)`` for each symbol x, the largest first.

    Parameters:
        name: a name from ``EQUATIONS`` [-]
        file: the car file [-]
        lateral: lateral acceleration [g]
        braking: slowing [g]
        speed: speed [km/h]

    Returns:
        the number and each symbol's percent [any]

    Errors:
        ``Refused`` where the car has no such number.
    """
    own = value(name, file, lateral, braking, speed)
    if np.isnan(own.result) or own.result == 0:
        raise Refused(EQUATIONS[name].none)
    done = derive(name)
    found = {}
    for key in _asked(done):
        more = _number(done, own.symbols | {key: 1.01 * own.symbols[key]})
        found[done.symbols[key][0]] = 100 * (more / own.result - 1)
    return Weighed(own, dict(sorted(found.items(), key=lambda item: -np.nan_to_num(abs(item[1]), nan=np.inf))))


def _matters(percents: Mapping[str, float]) -> str:
    """Name the number that moves the result most, or all of those that are printed as moving it as much."""
    moved = {name: number(abs(percent), 2) for name, percent in percents.items()}
    most = next(iter(moved.values()))
    names = [name for name, told in moved.items() if told == most]
    if len(names) == 1:
        return f"The number that matters most is {names[0]}."
    return f"These matter most, all alike: {listed(names)}."


ASKED = "roll angle"
"""The equation that the question is about."""
FASTER, IN_STEP, SLOWER = "it grows by a larger factor", "it grows by the same factor", "it grows by a smaller factor"


def judge_lean(start: Weighed, now: Weighed) -> str | None:
    """Describe how the result grew against lateral acceleration, once that is half as much again.

    Parameters:
        start: the result with that slider where it started [-]
        now: its present one [-]

    Returns:
        one of the three answers; None for another equation or a smaller change [-]
    """
    factor = now.value.lateral / start.value.lateral
    if now.value.name != ASKED or factor < 1.5:
        return None
    grown = now.value.result / start.value.result / factor
    return IN_STEP if abs(grown - 1) < 0.01 else FASTER if grown > 1 else SLOWER


def because_lean(start: Weighed, now: Weighed) -> str:
    """Return the reason: by how much the result grew against what was changed."""
    factor, grown = now.value.lateral / start.value.lateral, now.value.result / start.value.result
    return (
        f"{number(factor, 2)} times the lateral acceleration gives {number(grown, 2)} times the result "
        f"({start.value.told} before, {now.value.told} now)."
    )


def panel(file: CarFile) -> Panel:
    """Make the panel that says which number of an equation matters most, with its question.

    Parameters:
        file: the car file [-]

    Returns:
        a panel; its attribute ``question`` is the prediction [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(panel(load_example("coupe")).controls)
        ['name', 'lateral', 'braking', 'speed']
    """
    picture, axes = start(660, 360, "how far one percent more of each number moves the result")
    bars = SensitivityBars(picture, axes)
    controls = {
        "name": choice("Equation", list(EQUATIONS), ASKED),
        "lateral": slider("Sideways", 0.1, 1, 0.05, LATERAL, "g"),
        "braking": slider("Slowing", 0.05, 0.8, 0.05, BRAKING, "g"),
        "speed": slider("Speed", 20, 250, 5, SPEED, "km/h"),
    }

    def compute(state: dict[str, Any]) -> Weighed:
        return weigh_example(state["name"], file, state["lateral"], state["braking"], state["speed"])

    def draw(picture: Any, now: Weighed) -> None:
        bars.update(now.percents)

    def words(now: Weighed) -> str:
        title = escape(derive(now.value.name).title)
        return (
            f"<b>{title}: {now.value.told}.</b> {escape(_matters(now.percents))} "
            "Where one percent moves the result by many, it is a small difference of large numbers: measure those well."
        )

    made = Panel(controls, compute, draw, words, picture, ahead=True)
    text = f"You corner at twice the lateral acceleration. By which factor does the {ASKED} grow?"
    return ask(made, "lateral", 2 * LATERAL, text, (FASTER, IN_STEP, SLOWER), judge_lean, because_lean)
