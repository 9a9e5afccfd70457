"""The two-wheel car: slip angles and understeer gradient, the steady circle read three ways, how a slide grows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..answers.lift import REACTION
from ..car.carfile import CarFile
from ..draw.carviews import top_view
from ..draw.style import start
from ..draw.twowheelviews import FASTEST, MOST_LATERAL, AnswerCharts, CircleReadings, Reading, SlipLines, SteerAnswer
from ..lessons import circle, simple
from ..lessons.bicycle import (
    Motion,
    NeutralPoint,
    TwoWheel,
    characteristic_speed,
    critical_speed,
    motion,
    neutral_gain,
    neutral_point,
    poles,
    system,
    understeer_gradient,
    yaw_rate_gain,
)
from ..shown import says
from ..units import Array, from_si, number, to_si
from . import own_slider
from .base import Panel, Refused, slider, table
from .predict import ask

NEUTRAL = to_si(0.05, "deg_per_g")
"""Gradients smaller than this are called neutral [rad/(m/s²)]."""

SLOWEST, QUICKEST = 40.0, 250.0
"""Ends of the slider of speed [km/h]."""
BEYOND = to_si(400.0, "kmh")
"""A characteristic or critical speed above this is never driven: the car is as good as neutral [m/s]."""


def balance_word(gradient: float) -> str:
    """Name the balance of an understeer gradient.

    Parameters:
        gradient: understeer gradient [rad/(m/s²)]

    Returns:
        "understeer", "neutral" or "oversteer" [-]
    """
    return "neutral" if abs(gradient) < NEUTRAL else "understeer" if gradient > 0 else "oversteer"


def changed(file: CarFile, state: dict[str, Any]) -> TwoWheel:
    """Return the open car as a two-wheel car, with the panel's changes.

    Parameters:
        file: the car file [-]
        state: "front" and "rear" stiffness in % of its own, and if given "share", front share of weight in % [-]

    Returns:
        the two-wheel car [-]
    """
    own = simple.two_wheel(file.car, file.setup)
    base = own.wheelbase
    share = state["share"] / 100 if "share" in state else own.b / base
    stiff = (own.front_stiffness * state["front"] / 100, own.rear_stiffness * state["rear"] / 100)
    return replace(own, a=base * (1 - share), b=base * share, front_stiffness=stiff[0], rear_stiffness=stiff[1])


def _stiffness_sliders() -> dict[str, Any]:
    return {
        "front": slider("Front tyres' stiffness", 60, 140, 1, 100, "%", "In percent of the car's own"),
        "rear": slider("Rear tyres' stiffness", 60, 140, 1, 100, "%", "In percent of the car's own"),
    }


def _sliders(file: CarFile) -> dict[str, Any]:
    share = float(from_si(file.car.front_share, "percent"))
    return _stiffness_sliders() | {
        "share": own_slider("Weight on the front", 30, 70, 0.5, share, "%"),
        "speed": slider("Speed", SLOWEST, QUICKEST, 2, 100, "km/h"),
    }


def _deg(angle: Any, decimals: int = 2) -> str:
    return f"{number(float(from_si(angle, 'deg')), decimals)} deg"


def _gradient(value: Any) -> str:
    return f"{number(float(from_si(value, 'deg_per_g')), 2, True)} deg/g"


@dataclass(frozen=True)
class Balance:
    """The steady turn of a two-wheel car at 0.4 g."""

    car: TwoWheel
    speed: float
    gradient: float
    slip: Array  # front, rear [rad]
    radius: float
    steer: float
    neutral: NeutralPoint


def steady(car: TwoWheel, speed: float) -> Balance:
    """Compute the steady turn at 0.4 g: ``α_i = m_i·a_y/C_i``, ``R = V²/a_y``, ``δ = L/R + K·a_y``.

    Parameters:
        car: the two-wheel car [-]
        speed: speed [m/s]

    Returns:
        slip angles, radius, steer angle, gradient and neutral point [any]

    Validity: straight-line tyre.
    """
    gradient = float(understeer_gradient(car).total)
    slip = MOST_LATERAL * np.array([car.front_mass / car.front_stiffness, car.rear_mass / car.rear_stiffness])
    radius = speed**2 / MOST_LATERAL
    steer = float(circle.steady_steer(radius, MOST_LATERAL, car.wheelbase, gradient))
    return Balance(car, speed, gradient, slip, radius, steer, neutral_point(car))


TOWARD_UNDER, TOWARD_OVER, NO_CHANGE = "toward understeer", "toward oversteer", "not at all"


def judge_rear(start: Balance, now: Balance) -> str | None:
    """State which way the balance went, once the rear stiffness is clearly another.

    Parameters:
        start: the result with that slider where it started [-]
        now: its present one [-]

    Returns:
        one of the three answers; None while the rear stiffness is above 85 % of the first [-]
    """
    if now.car.rear_stiffness > 0.85 * start.car.rear_stiffness:
        return None
    change = now.gradient - start.gradient
    return NO_CHANGE if abs(change) < NEUTRAL else TOWARD_UNDER if change > 0 else TOWARD_OVER


def because_rear(start: Balance, now: Balance) -> str:
    """Return the reason: the slip angle that each axle needs for the same turn."""
    grades = f"K goes from {_gradient(start.gradient)} to {_gradient(now.gradient)}"
    return (
        f"for the same 0.4 g the rear axle now needs {_deg(now.slip[1])} of slip instead of {_deg(start.slip[1])}, "
        f"and the front {_deg(now.slip[0])} as before: {grades}."
    )


def balance(file: CarFile) -> Panel:
    """Make the panel of slip angles and understeer gradient, with its question.

    Parameters:
        file: the car file [-]

    Returns:
        a panel; its attribute ``question`` is the prediction [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(balance(load_example("coupe")).controls)
        ['front', 'rear', 'share', 'speed']
    """
    picture, axes = start(660, 350, "the car from above with where each axle points and goes; slip angles", columns=2)
    view, lines = top_view(picture, axes[0], file.car), SlipLines(picture, axes[1])

    def compute(state: dict[str, Any]) -> Balance:
        return steady(changed(file, state), to_si(state["speed"], "kmh"))

    def draw(picture: Any, now: Balance) -> None:
        point = now.car.a + now.neutral.behind_cg
        view.update(steer=now.steer, slip=now.slip, cg=now.car.a, neutral=point, times=3)
        lines.update(MOST_LATERAL, now.slip)

    def words(now: Balance) -> str:
        word = balance_word(now.gradient)
        behind = float(now.neutral.behind_cg) * 1e3
        where = "behind" if behind > 0 else "ahead of"
        special = _special_speed(now.car, now.gradient)
        geometric = now.car.wheelbase / now.radius
        return (
            f"<b>K = {_gradient(now.gradient)}: {word}.</b> "
            f"At 0.4 g, {says(now.speed, 'kmh', 0)} the radius is {number(now.radius, 0)} m. "
            f"The curve alone needs {_deg(geometric)} of steering; the slip angles are {_deg(now.slip[0])} in front, "
            f"{_deg(now.slip[1])} at the rear; so the wheels are turned by {_deg(now.steer)}. "
            f"The neutral steer point (diamond) is {number(abs(behind), 0)} mm {where} the centre of gravity "
            f"(ring). {special}<br>Angles drawn 3 times; dashes: where an axle points, arrows: where it goes."
        )

    made = Panel(_sliders(file), compute, draw, words, picture, ahead=True)
    text = "You fit rear tyres that are 20 % less stiff, nothing else. Which way does the balance go?"
    return ask(made, "rear", 80, text, (TOWARD_UNDER, TOWARD_OVER, NO_CHANGE), judge_rear, because_rear)


def _special_speed(car: TwoWheel, gradient: float) -> str:
    """Name the characteristic or the critical speed."""
    if gradient > 0:
        told = _at(float(characteristic_speed(car.wheelbase, gradient)))
        return f"Its characteristic speed, at which a turn needs twice the steering of a crawl, {told}."
    if gradient < 0:
        told = _at(float(critical_speed(car.wheelbase, gradient)))
        return f"Its critical speed, above which it will not run straight on its own, {told}."
    return "It is neutral: steering is the same at every speed."


def _at(speed: float) -> str:
    return f"is {says(speed, 'kmh', 0)}" if speed < BEYOND else f"lies beyond {says(BEYOND, 'kmh', 0)}"


@dataclass(frozen=True)
class Circles:
    """The steady circle driven three ways, and the gradient the car was given."""

    given: float
    readings: tuple[Reading, Reading, Reading]


def steady_circle(file: CarFile) -> Panel:
    """Make the panel of the steady circle driven the three ways of ISO 4138.

    Parameters:
        file: the car file [-]

    Returns:
        a panel [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(steady_circle(load_example("coupe")).controls)
        ['front', 'rear', 'radius', 'speed', 'steer']
    """
    picture, axes = start(660, 330, "readings of three tests: same circle, same speed, same steering", columns=3)
    charts = CircleReadings(picture, axes)
    controls = _stiffness_sliders() | {
        "radius": slider("Same circle: radius", 20, 100, 5, 40, "m"),
        "speed": slider("Same speed", 40, 120, 5, 70, "km/h"),
        "steer": slider("Same steering", 2, 8, 0.5, 4, "deg"),
    }

    def compute(state: dict[str, Any]) -> Circles:
        car = changed(file, state)
        base, gradient = car.wheelbase, understeer_gradient(car).total
        speed, steer = to_si(state["speed"], "kmh"), to_si(state["steer"], "deg")
        lateral = np.linspace(0.1, 1, 7) * MOST_LATERAL
        around = circle.steady_steer(state["radius"], lateral, base, gradient)
        along = circle.steady_steer(speed**2 / lateral, lateral, base, gradient)
        bends = (steer - gradient * lateral) / base
        if np.any(bends <= 0):
            raise Refused("With so little steering this car would run straight on before 0.4 g: steer more.")
        return Circles(
            float(gradient),
            (
                Reading(lateral, around, float(circle.gradient_at_radius(lateral, around))),
                Reading(lateral, along, float(circle.gradient_at_speed(lateral, along, speed, base))),
                Reading(lateral, bends, float(circle.gradient_at_steer(lateral, bends, base))),
            ),
        )

    def draw(picture: Any, now: Circles) -> None:
        charts.update(now.readings)

    def words(now: Circles) -> str:
        names = (
            "same circle, faster and faster",
            "same speed, tighter and tighter",
            "same steering, faster and faster",
        )
        rules = (
            "the steering gained for each g",
            "the same, less what the tighter circle itself needs",
            "the steering that the circle lost needed, for each g",
        )
        rows = [[n, r, _gradient(one.gradient)] for n, r, one in zip(names, rules, now.readings, strict=True)]
        return (
            f"<b>{_agree(now)}</b>"
            + table(["how it is driven (ISO 4138)", "K is", "read off"], rows)
            + "<p>The dots are worked out, not measured.</p>"
        )

    return Panel(controls, compute, draw, words, picture, ahead=True)


def _agree(now: Circles) -> str:
    """State whether the three tests read what the car was given."""
    off = max(abs(float(one.gradient) - now.given) for one in now.readings)
    if from_si(off, "deg_per_g") < 0.005:
        return f"All three tests read the K that the car was given: {_gradient(now.given)}."
    return f"The car was given K = {_gradient(now.given)}; a test reads up to {_gradient(off)} beside it."


def nudge(car: TwoWheel, speed: float, time: Array, sideslip: float) -> Array:
    """Compute the sideslip after a nudge, steering held: ``x(t) = e^{s·t}·(cosh(q·t) + sinh(q·t)/q·(A − s))·x₀``.

    Parameters:
        car: the two-wheel car, single numbers [-]
        speed: speed [m/s]
        time: times, shape (n,) [s]
        sideslip: sideslip at the start, yaw rate zero [rad]

    Returns:
        sideslip, shape (n,) [rad]

    Validity: as ``bicycle.system``; ``s = tr(A)/2``, ``q² = s² − det(A)``.
    """
    matrix = system(car, speed).A
    half = float(np.trace(matrix)) / 2
    root = np.sqrt(complex(half**2 - float(np.linalg.det(matrix))))
    slope = time * np.sinc(1j * root * time / np.pi)  # sinh(q·t)/q, also where q is zero
    shape = np.cosh(root * time) + slope * (matrix[0, 0] - half)
    return np.asarray(sideslip * np.exp(half * time) * shape.real)


def answer(car: TwoWheel, speed: float) -> SteerAnswer:
    """Return how a two-wheel car answers at one speed.

    Parameters:
        car: the two-wheel car, single numbers [-]
        speed: speed [m/s]

    Returns:
        poles, nudge and yaw-rate gain [any]
    """
    gradient = float(understeer_gradient(car).total)
    base, time, speeds = car.wheelbase, np.linspace(0, 2, 81), np.linspace(2, FASTEST, 80)
    gain = yaw_rate_gain(speeds, base, gradient)
    special = characteristic_speed if gradient > 0 else critical_speed
    return SteerAnswer(
        car=car, speed=speed, gradient=gradient, poles=poles(car, speed), motion=motion(car, speed), time=time,
        sideslip=nudge(car, speed, time, to_si(1, "deg")), speeds=speeds, gain=np.where(gain > 0, gain, np.nan),
        neutral=neutral_gain(speeds, base), mark=float(special(base, gradient)),
    )  # fmt: skip


def growth(file: CarFile) -> Panel:
    """Make the panel of poles, a nudge and the answer to steering.

    Parameters:
        file: the car file [-]

    Returns:
        a panel [-]
    """
    picture, axes = start(660, 340, "poles, the course of a nudge, and the answer to steering over speed", columns=3)
    charts = AnswerCharts(picture, axes)

    def compute(state: dict[str, Any]) -> SteerAnswer:
        return answer(changed(file, state), to_si(state["speed"], "kmh"))

    def draw(picture: Any, now: SteerAnswer) -> None:
        charts.update(now)

    def words(now: SteerAnswer) -> str:
        return (
            f"{_course(now.motion)}<br>At {says(float(now.speed), 'kmh', 0)}, "
            f"K = {_gradient(now.gradient)} ({balance_word(now.gradient)}). "
            f"{_special_speed(now.car, now.gradient)}<br>Steering held still all the while."
        )

    return Panel(_sliders(file), compute, draw, words, picture, ahead=True)


def _course(own: Motion) -> str:
    """Describe what becomes of a small slide."""
    double, damping = float(own.time_to_double), float(own.damping)
    if np.isfinite(double):
        low, high = REACTION["expecting it"][0], REACTION["surprised"][1]
        size = "shorter than" if double < low else "longer than" if double > high else "within"
        return (
            f"<b>A slide grows: it doubles every {number(double, 2)} s.</b> That is {size} a driver's reaction time: "
            f"from {number(low, 1)} s expecting it to {number(high, 1)} s surprised (M. Green, Transportation Human "
            "Factors, 2000; to the brake pedal)."
        )
    if damping < 0.995:  # nearer to 1 there is no swing to be seen
        swings = number(float(own.natural_frequency) / (2 * np.pi), 2)
        return (
            f"<b>A slide dies out, swinging.</b> Natural frequency {swings} swings a second, damping "
            f"{number(damping, 2)} (0: it would swing for ever, 1: no swing at all)."
        )
    return "<b>A slide dies out without swinging.</b>"
