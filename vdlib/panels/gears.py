"""Gears and power: which gear for a corner, when to change up, and whether power or grip limits the way out."""

from __future__ import annotations

import re
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..car.carfile import CarFile
from ..car.records import Car
from ..checks import InputError, Problem
from ..draw.gears import MOST_GEARS, SPEEDS, Geared, GearPicture
from ..lessons.gears import (
    RPM,
    Drivetrain,
    corner_speed,
    gear_for,
    resistance,
    shift_points,
    thrust,
    top_speed,
    torque_from_power,
)
from ..shown import says
from ..units import Array, G, from_si, number, to_si
from . import own_slider
from .base import Panel, slider, table
from .moments import lateral_slider
from .shared_whatif import row, say

RATIOS = "3.2 2.0 1.45 1.12 0.9"
"""An invented gearbox, first gear first."""
LOWEST = 1000.0
"""Where the simple engine curve begins [rev/min]."""
RISE, RISE_AT, FLAT = 0.12, 0.65, 0.8
"""Greatest torque over that at the power peak, less one; where it is over the power peak's engine speed; torque at the
beginning over the greatest: an invented shape, common practice, no source [-]."""
NEAR = 8.0
"""With less speed left than this before the rev limit the next gear is named too [km/h]."""
BOUNDS = (
    "Full throttle, level road, still air, no tyre slip, engine and gears as set here (invented at the start). "
    "What the tyres can pass on: grip times load on the driven axle, from the car file, shared with cornering by an "
    "ellipse. A teaching model: never look for the limit on a public road."
)


def grip_limit(car: Car) -> float:
    """Compute the most push that the driven tyres can pass on straight ahead: ``F = μ·W(F)``, load moved by ``F·h/L``.

    Parameters:
        car: the car [-]

    Returns:
        push [N]; with both axles driven, where the first of them spins
    """
    weight, lift = float(car.mass) * G, float(car.cg_height) / float(car.wheelbase)
    share = float(car.drive_front)
    front, rear = float(car.front.tyre.grip), float(car.rear.tyre.grip)
    most = np.inf
    if share > 0:
        most = min(most, front * weight * float(car.front_share) / (share + front * lift))
    if share < 1 and (1 - share) - rear * lift > 0:
        most = min(most, rear * weight * (1 - float(car.front_share)) / ((1 - share) - rear * lift))
    return float(min(most, max(front, rear) * weight))


def grip_left(car: Car, lateral: float) -> float:
    """Compute what is left of that push while cornering: ``F = F₀·√(1 − (a_y/(μ·g))²)``; zero past the limit.

    Parameters:
        car: the car [-]
        lateral: sideways acceleration [m/s²]

    Returns:
        push [N]
    """
    used = lateral / (G * float(min(car.front.tyre.grip, car.rear.tyre.grip)))
    return grip_limit(car) * float(np.sqrt(max(0.0, 1 - used**2)))


def typed_ratios(text: str) -> Array:
    """Read gear ratios typed with blanks between them.

    Parameters:
        text: such as "3.2 2.0 1.45"; a decimal comma will do [-]

    Returns:
        ratios, first gear first [-]

    Errors:
        ``InputError`` for what is no number, or too many gears.
    """
    words = re.split(r"[\s;/]+", text.strip())
    values = [_number("gear ratios", word) for word in words if word]
    if not 2 <= len(values) <= MOST_GEARS:
        rule = f"must be 2 to {MOST_GEARS}"
        raise InputError(
            [Problem("gear ratios", str(len(values)), rule, "type them with blanks between, first gear first")]
        )
    return np.array(values)


def typed_curve(text: str) -> tuple[Array, Array] | None:
    """Read an engine curve typed as pairs of engine speed and torque.

    Parameters:
        text: such as "1000 120, 3000 170, 6500 160"; empty for none [-]

    Returns:
        engine speed [rad/s] and torque [N·m], or None

    Errors:
        ``InputError`` for what is no pair of numbers.
    """
    pairs = [p.split() for p in re.split(r"[,;\n]", text) if p.strip()]
    if not pairs:
        return None
    wrong = next((p for p in pairs if len(p) != 2), None)
    if wrong is not None:
        got, rule = repr(" ".join(wrong))[:40], "must be pairs of engine speed and torque"
        raise InputError([Problem("engine curve", got, rule, "type 1000 120, 3000 170, 6500 160 (rev/min and N·m)")])
    values = np.array([[_number("engine curve", word) for word in pair] for pair in pairs])
    return values[:, 0] * RPM, values[:, 1]


def _number(what: str, word: str) -> float:
    try:
        value = float(word.replace(",", "."))
    except ValueError:
        value = np.nan
    if not np.isfinite(value):
        raise InputError([Problem(what, repr(word)[:30], "must be numbers", "type it again")])
    return value


def simple_curve(power: float, power_at: float, past: float) -> tuple[Array, Array]:
    """Compute an engine curve from its power peak: ``T = P/ω`` there, straight lines of torque on either side.

    Parameters:
        power: greatest power [W]
        power_at: where it is [rad/s]
        past: how far the engine turns past it [rad/s]

    Returns:
        engine speed [rad/s] and torque [N·m]

    Validity: an invented shape: torque is ``RISE`` higher at ``RISE_AT`` of that engine speed, ``FLAT`` of that at the
    start, and falls past the peak by 1.5 % for each 1 % of engine speed, so that power falls too.
    """
    peak = float(torque_from_power(power_at, power))
    speed = np.array([LOWEST * RPM, RISE_AT * power_at, power_at, power_at + past])
    torque = peak * np.array([FLAT * (1 + RISE), 1 + RISE, 1.0, max(0.0, 1 - 1.5 * past / power_at)])
    return (speed, torque) if past > 0 else (speed[:-1], torque[:-1])


def panel(file: CarFile) -> Any:
    """Make the panel of gears and power of one car.

    Parameters:
        file: the car file: its mass, drag, driven axle, grip and wheel radius [-]

    Returns:
        a widget whose attribute ``panel`` is the ``Panel`` [-]
    """
    return Gearbox(file)


class Gearbox:
    """The panel and the two typed boxes under it."""

    def __init__(self, file: CarFile) -> None:
        """Build everything, an invented engine and gearbox to start with."""
        self.car, self.view = file.car, GearPicture()
        self.ratios, self.curve = typed_ratios(RATIOS), typed_curve("")
        driven = self.car.front if self.car.drive_front > 0.5 else self.car.rear
        radius = round(float(from_si(driven.wheel_radius, "mm")))
        controls = {
            "power": slider("Greatest power", 30, 400, 5, 150, "kW"),
            "power_at": slider("at an engine speed of", 3000, 9000, 100, 6800, "rev/min"),
            "past": slider("Rev limit above the power peak", 0, 1000, 50, 600, "rev/min"),
            "final": slider("Final drive", 2, 6, 0.01, 4.1),
            "radius": own_slider("Tyre radius, rolling", 250, 370, 1, radius, "mm"),
            "corner": slider("Radius of the corner", 10, 250, 5, 60, "m"),
            "lateral": lateral_slider(),
        }
        self.ratio_text = self._text("Gear ratios", RATIOS, "first gear first, blanks between", "24em")
        self.curve_text = self._text("Engine curve", "", "rev/min N·m, such as 1000 120, 3000 170, 6500 160", "32em")
        self.message = widgets.HTML()
        self.panel = Panel(
            controls,
            self._compute,
            lambda _, now: self.view.draw(now),
            lambda now: words(now, self.car),
            self.view.picture,
            ahead=True,
        )
        typed = row(
            self.ratio_text,
            self.curve_text,
            widgets.HTML("Typed points take the place of the three engine sliders; the last point is the rev limit."),
        )
        self.panel.add(typed, self.message, place="controls")
        self.box = self.panel.show()

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    def _text(self, label: str, value: str, hint: str, width: str) -> Any:
        made = widgets.Text(
            value=value,
            placeholder=hint,
            description=label,
            continuous_update=False,
            layout=widgets.Layout(width=width),
        )
        made.style.description_width = "auto"
        made.observe(lambda _: self._typed(), names="value")
        return made

    def _typed(self) -> None:
        """Take over what was typed; what cannot be used is said, and what was there before stays."""
        before = (self.ratios, self.curve)
        try:
            self.ratios, self.curve = typed_ratios(self.ratio_text.value), typed_curve(self.curve_text.value)
            self._compute(self.panel.state)
        except InputError as fault:
            self.ratios, self.curve = before
            say(self.message, f"{fault}\nThe picture still shows the numbers before.", bad=True)
            return
        say(self.message, "")
        self.panel.refresh()

    def _compute(self, state: dict[str, Any]) -> Geared:
        curve = self.curve or simple_curve(to_si(state["power"], "kW"), state["power_at"] * RPM, state["past"] * RPM)
        train = Drivetrain(*curve, self.ratios, state["final"], to_si(state["radius"], "mm"))
        lateral = state["lateral"] * G
        speed = float(corner_speed(state["corner"], lateral))
        mass, area = float(self.car.mass), float(self.car.drag_area)
        return Geared(
            train,
            thrust(train, SPEEDS),
            np.asarray(resistance(SPEEDS, mass, area)),
            shift_points(train),
            top_speed(train, mass, area),
            speed,
            gear_for(train, speed),
            grip_limit(self.car),
            grip_left(self.car, lateral),
        )


def words(now: Geared, car: Car) -> str:
    """State which gear, whether power or grip is short, when to change up, and how fast the car can go.

    Parameters:
        now: what was found [-]
        car: the car [-]

    Returns:
        HTML [-]
    """
    lines = [f"<b>{escape(corner_words(now))}</b>", escape(limit_words(now))]
    why = "the rev limit stops it" if bool(now.top.at_limit) else "the air stops it"
    lines.append(f"Top speed {says(float(now.top.speed), 'kmh', 0)} in gear {int(now.top.gear)}: {why}.")
    if float(car.drag_area) == 0:
        lines.append("The car file gives no drag area, so no air holds this car back: its top speed is too high.")
    head, rows = ["change up", "at", "engine before", "engine after", ""], []
    for i, speed in enumerate(now.shifts.speed):
        before, after = (float(x[i]) / RPM for x in (now.shifts.before, now.shifts.after))
        note = "at the rev limit" if now.shifts.at_limit[i] else "both gears push alike"
        if now.shifts.gap[i]:
            note = "the next gear falls below the engine's curve"
        rows.append([f"{i + 1} to {i + 2}", says(speed, "kmh", 0), f"{before:.0f}", f"{after:.0f} rev/min", note])
    return "<br>".join(lines) + table(head, rows) + f"<i>{escape(BOUNDS)}</i>"


def corner_words(now: Geared) -> str:
    """State which gear pushes hardest at the corner's speed."""
    at, best = f"At the corner's {says(now.speed, 'kmh', 0)}", now.best
    gear = int(best.gear)
    if gear == 0:
        slow = now.speed * now.train.gearing[0] < now.train.engine_speed[0]
        return f"{at} no gear fits: {'slower than first gear pulls' if slow else 'faster than the top gear goes'}."
    out = f"{at} gear {gear} pushes hardest, {float(best.force) / 1e3:.1f} kN"
    left = float(best.speed_left)
    out += f" at {float(best.engine_speed) / RPM:.0f} rev/min, with {says(left, 'kmh', 0)} left before the rev limit."
    if from_si(left, "kmh") < NEAR and gear < len(now.train.ratios):
        force = float(thrust(now.train, now.speed).force[gear])
        out += f" That is little: gear {gear + 1} gives {number(force / 1e3, 1)} kN and no change in the corner."
    return out


def limit_words(now: Geared) -> str:
    """State whether the engine or the tyres limit the way out of the corner."""
    push, left = float(now.best.force), now.left
    if int(now.best.gear) == 0:
        return "So nothing can be said about the way out."
    if left <= 0:
        return (
            "At this lateral acceleration the tyres have nothing left to drive with: corner less before the throttle."
        )
    told = f"The tyres have about {left / 1e3:.1f} kN left for driving there,"
    if push > left:
        return f"{told} less than the engine can give: grip limits the way out, and setup acts on grip."
    return f"{told} more than the engine can give: power or gearing limits the way out, hardly the setup."
