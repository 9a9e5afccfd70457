"""Weight on the wheels: standing, braking, cornering; the three parts; a pair of tyres loses grip as load moves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..car import tyre
from ..car.carfile import CarFile
from ..car.records import PHASES, Car, Setup
from ..draw.carviews import front_view, side_view, top_view
from ..draw.loadviews import PART_WORDS, Pair, PairCurves, PartBars
from ..draw.style import start
from ..lessons import simple
from ..lessons.rolling import LateralTransfer
from ..shown import says
from ..units import G, from_si, number, to_si
from . import own_slider
from .base import Panel, choice, slider, table
from .predict import ask
from .said import more

CORNER = 0.7 * G
"""Lateral acceleration of the examples in the text [m/s²]."""
SAME = 0.03
"""Relative change below which a sum is said to stay about the same."""
# Milliken & Milliken, Race Car Vehicle Dynamics, fig. 2.9 as tabulated: loads [lbf], side force over load at its peak
POUNDS, MEASURED_GRIP = np.array([900.0, 1350.0, 1800.0]), np.array([1.10, 1.08, 0.97])


def _kg(load: Any) -> str:
    return says(float(load) / G, "kg", 0)


def _about(value: float, half: float, step: float) -> tuple[float, float, float, float]:
    """Range of a slider about a car's own number: low, high, step, start."""
    middle = round(value / step) * step
    return round(middle - half, 6), round(middle + half, 6), step, round(middle, 6)


def moment_words(lateral: float, longitudinal: float) -> str:
    """Name a moment: "braking while turning left".

    Parameters:
        lateral: lateral acceleration, left positive [m/s²]
        longitudinal: longitudinal acceleration [m/s²]

    Returns:
        words [-]
    """
    lift, slow = PHASES["lift"][0], 0.01 * G
    along = "speeding up" if longitudinal > slow else ""
    if longitudinal < -slow:
        along = "braking" if longitudinal < 1.5 * lift else "slowing as after a lift"
    side = "" if abs(lateral) < slow else f"turning {'left' if lateral > 0 else 'right'}"
    return " while ".join(word for word in (along, side) if word) or "standing, or straight on at steady speed"


def moments(file: CarFile) -> Any:
    """Return a table of the four wheel loads in seven moments.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    rows = []
    cases: dict[str, tuple[float, str]] = {
        "standing": (0.0, "steady"),
        "lift, straight": (0.0, "lift"),
        "brakes, straight": (0.0, "brake"),
        "drive, straight": (0.0, "drive"),
        "left turn at 0.7 g": (CORNER, "steady"),
        "the same, and a lift": (CORNER, "lift"),
        "the same, and brakes": (CORNER, "brake"),
    }
    for name, (lateral, phase) in cases.items():
        load = simple.wheel_loads(file.car, file.setup, lateral, PHASES[phase][0]).load
        along = number(PHASES[phase][0] / G, 2, True)
        rows.append([f"{name} ({along} g front to rear)", *(_kg(v) for v in load.ravel())])
    head = ["", "left front", "right front", "left rear", "right rear"]
    made = widgets.HTML(table(head, rows))
    made.add_class("vd-panel")
    return made


@dataclass(frozen=True)
class Moved:
    """Wheel loads of one moment and what it was."""

    car: Car
    lateral: float
    longitudinal: float
    loads: simple.WheelLoads


def moment(file: CarFile) -> Panel:
    """Make the panel of wheel loads while cornering and braking.

    Parameters:
        file: the car file [-]

    Returns:
        a panel [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(moment(load_example("coupe")).controls)
        ['lateral', 'longitudinal', 'height']
    """
    height = float(from_si(file.car.cg_height, "mm"))
    picture, axes = start(
        660, 360, "the car from above and from the side; wheel loads as circles and arrows", columns=2
    )
    above, beside = top_view(picture, axes[0], file.car), side_view(picture, axes[1], file.car)
    controls = {
        "lateral": slider("Sideways, left turn +", -1, 1, 0.02, 0, "g"),
        "longitudinal": slider("Front to rear, braking −", -0.8, 0.4, 0.02, 0, "g"),
        "height": slider("Centre-of-gravity height", *_about(height, 100, 5), "mm"),
    }

    def compute(state: dict[str, Any]) -> Moved:
        lateral, longitudinal = state["lateral"] * G, state["longitudinal"] * G
        car = replace(file.car, cg_height=to_si(state["height"], "mm"))
        return Moved(car, lateral, longitudinal, simple.wheel_loads(car, file.setup, lateral, longitudinal))

    def draw(picture: Any, now: Moved) -> None:
        loads = now.loads
        above.update(loads=loads.load, standing=loads.standing, cg=now.car.wheelbase * (1 - now.car.front_share))
        centre = (now.car.wheelbase * (1 - now.car.front_share), now.car.cg_height)
        beside.update(loads=loads.load.sum(axis=1), cg=centre, push=-now.car.mass * now.longitudinal)

    def words(now: Moved) -> str:
        car, shift = now.car, float(now.loads.longitudinal)
        to = "to the rear axle" if shift > 0 else "to the front axle"
        sums = (
            f"Front to rear, in SI units: m·a<sub>x</sub>·h/L = {number(float(car.mass), 0)} × "
            f"{number(now.longitudinal, 2)} × {number(float(car.cg_height), 3)} / {number(float(car.wheelbase), 3)} = "
            f"{number(shift, 0)} N."
        )
        along = f"Front to rear: {_kg(abs(shift))} {to}." if abs(shift) >= 0.5 else "Front to rear: nothing moves."
        front, rear = (float(one.total) for one in (now.loads.transfer.front, now.loads.transfer.rear))
        outer = "right" if now.lateral > 0 else "left"
        across = f"To the {outer} wheels: {_kg(abs(front))} on the front axle, {_kg(abs(rear))} on the rear."
        across = across if abs(front) + abs(rear) >= 0.5 else "Left to right: nothing moves."
        air = [end for end, up in zip(("front", "rear"), now.loads.lifted, strict=True) if up]
        lifted = f" <b>The inner {air[0]} wheel is in the air</b>; the other axle takes the rest." if air else ""
        return f"<b>Now {moment_words(now.lateral, now.longitudinal)}.</b> {along} {across}{lifted}{more(sums)}"

    return Panel(controls, compute, draw, words, picture, ahead=True)


@dataclass(frozen=True)
class Parts:
    """Both axles' transfer, the loads of the inner wheels standing, and the setup it is for."""

    transfer: LateralTransfer
    inner: tuple[float, float]
    setup: Setup

    @property
    def both(self) -> float:
        """Load moved on both axles together [N]."""
        return float(self.transfer.front.total + self.transfer.rear.total)


GROWS, STAYS, SHRINKS = "it grows by more than 3 %", "it stays within 3 %", "it shrinks by more than 3 %"


def judge_sum(start: Parts, now: Parts) -> str | None:
    """Describe what became of the load moved on both axles together, once the front bar is clearly another.

    Parameters:
        start: the result with that slider where it started [-]
        now: its present one [-]

    Returns:
        one of the three answers; None while the front bar has moved by less than 100 Nm/deg [-]
    """
    if abs(from_si(now.setup.front.bar - start.setup.front.bar, "Nm_per_deg")) < 100:
        return None
    change = now.both / start.both - 1
    return GROWS if change > SAME else SHRINKS if change < -SAME else STAYS


def because_sum(start: Parts, now: Parts) -> str:
    """Return the reason: what a bar moves is only which axle carries the load."""
    shares = [100 * float(one.transfer.front_share) for one in (start, now)]
    return (
        f"push, height and track set the sum ({_kg(start.both)} before, {_kg(now.both)} now); the bar only moves it "
        f"between the axles: the front had {number(shares[0], 0)} % of it, and has {number(shares[1], 0)} % now."
    )


def parts(file: CarFile) -> Panel:
    """Make the panel of the three parts of the lateral load transfer, with its question.

    Parameters:
        file: the car file [-]

    Returns:
        a panel; its attribute ``question`` is the prediction [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(parts(load_example("coupe")).controls)
        ['lateral', 'front_bar', 'rear_bar', 'front_centre', 'rear_centre']
    """
    car, setup = file.car, file.setup
    picture, axes = start(
        660, 360, "load moved at both axles in three parts, and the body leaning", columns=2, width_ratios=[3, 2]
    )
    bars, body = PartBars(picture, axes[0], 500), front_view(picture, axes[1], car)
    bar = [float(from_si(s.bar, "Nm_per_deg")) for s in (setup.front, setup.rear)]
    standing = simple.roll_car(car, setup)
    centre = [float(from_si(a.roll_centre, "mm")) for a in (standing.front, standing.rear)]
    controls = {
        "lateral": slider("Sideways, left turn", 0.1, 1, 0.02, 0.7, "g"),
        "front_bar": own_slider("Front anti-roll bar", 0, 1000, 10, bar[0], "Nm/deg"),
        "rear_bar": own_slider("Rear anti-roll bar", 0, 1000, 10, bar[1], "Nm/deg"),
        "front_centre": slider("Front roll centre", *_about(centre[0], 100, 2), "mm"),
        "rear_centre": slider("Rear roll centre", *_about(centre[1], 100, 2), "mm"),
    }

    def compute(state: dict[str, Any]) -> Parts:
        changed_car, changed = car, setup
        for axle in ("front", "rear"):
            own = replace(getattr(changed, axle), bar=to_si(state[f"{axle}_bar"], "Nm_per_deg"))
            changed = replace(changed, **{axle: own})
            at = getattr(car, axle)  # its number is for the reference height, the slider's for the car as it stands
            asked = to_si(state[f"{axle}_centre"], "mm") - getattr(standing, axle).roll_centre
            changed_car = replace(changed_car, **{axle: replace(at, roll_centre=at.roll_centre + asked)})
        loads = simple.wheel_loads(changed_car, changed, state["lateral"] * G, 0.0)
        return Parts(loads.transfer, (float(loads.standing[0, 0]), float(loads.standing[1, 0])), changed)

    def draw(picture: Any, now: Parts) -> None:
        bars.update(now.transfer, now.inner)
        height = standing.cg_height
        body.update(
            roll=now.transfer.roll.angle, cg=height, roll_centre=height - now.transfer.arm, push=2000, times=3, bar=True
        )

    def words(now: Parts) -> str:
        rows = []
        for name, axle in (("front", now.transfer.front), ("rear", now.transfer.rear)):
            rows.append([name, *(_kg(getattr(axle, part)) for part in PART_WORDS), _kg(axle.total)])
        lean = number(float(from_si(now.transfer.roll.angle, "deg")), 2)
        both, share = _kg(now.both), number(100 * float(now.transfer.front_share), 1)
        return (
            f"<b>Both axles (the two stars) move {both}, {share} % of it at the front.</b>"
            + table(["axle", *PART_WORDS.values(), "all"], rows)
            + f"<p>The body leans {lean} deg (drawn 3 times as much). Ring: its centre of gravity; diamond: the roll "
            "axis below it, between both roll centres, which are given as the car stands. A star beyond the black "
            "mark: that wheel is in the air.</p>"
        )

    made = Panel(controls, compute, draw, words, picture, ahead=True)
    text = "You fit a much stiffer front anti-roll bar. What becomes of the load moved on both axles together?"
    stiff = min(controls["front_bar"].max, controls["front_bar"].value + 400)
    return ask(made, "front_bar", stiff, text, (GROWS, STAYS, SHRINKS), judge_sum, because_sum)


def pair(file: CarFile) -> Panel:
    """Make the panel of a pair of tyres between which load moves.

    Parameters:
        file: the car file [-]

    Returns:
        a panel [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(pair(load_example("coupe")).controls)
        ['axle', 'share', 'fall']
    """
    tyres = {"front": (file.car.front.tyre, file.setup.front), "rear": (file.car.rear.tyre, file.setup.rear)}
    found = simple.wheel_loads(file.car, file.setup, CORNER, 0.0)
    wheel = {"front": found.standing[0].mean(), "rear": found.standing[1].mean()}
    moved = {"front": found.transfer.front.total, "rear": found.transfer.rear.total}
    most = 2.05 * max(wheel.values())
    picture, axes = start(660, 340, "largest side force of one tyre against its load, and of a pair", columns=2)
    top = 1.25 * max(float(tyre.peak_force(own, most, 0.0, at.pressure)) for own, at in tyres.values())
    curves = PairCurves(picture, axes, most, top)
    controls = {
        "axle": choice("Axle", ["front", "rear"], "front"),
        "share": slider("Load moved", 0, 95, 1, 0, "% of one wheel's"),
        "fall": own_slider("Fall of grip with load", 0, 0.4, 0.01, float(file.car.front.tyre.grip_fall)),
    }

    def compute(state: dict[str, Any]) -> tuple[str, Pair]:
        own, at = tyres[state["axle"]]
        own, even, share = replace(own, grip_fall=state["fall"]), float(wheel[state["axle"]]), state["share"] / 100

        def peak(load: Any) -> Any:
            return tyre.peak_force(own, load, 0.0, at.pressure)

        loads, steps = np.linspace(0, most, 60), np.linspace(0, 1, 41)
        wheels = even * np.array([1 - share, 1 + share])
        sums = peak(even * (1 - steps)) + peak(even * (1 + steps))
        return state["axle"], Pair(
            loads, peak(loads), wheels, peak(wheels), 2 * float(peak(even)), steps, sums, float(share)
        )

    def draw(picture: Any, now: tuple[str, Pair]) -> None:
        curves.update(now[1])

    def words(now: tuple[str, Pair]) -> str:
        axle, pair = now
        usual = 100 * float(moved[axle]) / float(wheel[axle])
        return (
            f"<b>The {axle} tyres carry {_kg(pair.wheels[0])} and {_kg(pair.wheels[1])}: "
            f"{number(100 * pair.lost, 1)} % of their grip is lost.</b> Together they can push "
            f"{number(pair.peaks.sum(), 0)} N sideways; evenly loaded it would be {number(pair.even, 0)} N. "
            f"In a 0.7 g turn this axle moves about {number(usual, 0)} % "
            f"of one wheel's load.{_known_at(float(tyres[axle][0].nominal_load), float(wheel[axle]))}"
        )

    return Panel(controls, compute, draw, words, picture, ahead=True)


def _known_at(nominal: float, even: float) -> str:
    """State what a steeper fall of grip does where the tyre's grip is known at another load than it carries."""
    way, does = ("less", "raises") if even < nominal else ("more", "lowers")
    return (
        f" The tyre's grip is known at {_kg(nominal)}. These carry {way}, so a steeper fall {does} what an even pair "
        "can push; the part lost by moving load grows all the same."
    )


def honest() -> Any:
    """Return how far the straight fall of grip is from one measured tyre: the loss of its pair, measured and modelled.

    Returns:
        a widget [-]

    Source: Milliken & Milliken, Race Car Vehicle Dynamics, fig. 2.9 as tabulated.
    """
    measured, model = pair_losses()
    made = widgets.HTML(
        "<p>One measured tyre (Milliken &amp; Milliken, <i>Race Car Vehicle Dynamics</i>, fig. 2.9), loaded 900 and "
        f"1800 lbf instead of twice 1350: the pair lost <b>{number(100 * measured, 1)} %</b>. The model here lets grip "
        "fall along a straight line; drawn through that tyre's lightest and heaviest load it gives only "
        f"<b>{number(100 * model, 1)} %</b>. So these workbooks understate what moving load costs such a tyre: trust "
        "its direction more than its size.</p>"
    )
    made.add_class("vd-panel")
    return made


def pair_losses() -> tuple[float, float]:
    """Return the grip lost by a pair of one measured tyre, as measured and by the model's straight fall of grip.

    Returns:
        parts lost, measured and modelled [-]

    Source: Milliken & Milliken, Race Car Vehicle Dynamics, fig. 2.9 as tabulated.
    """
    force = MEASURED_GRIP * POUNDS
    fall = (MEASURED_GRIP[0] - MEASURED_GRIP[2]) / (MEASURED_GRIP[0] + MEASURED_GRIP[2]) / (450 / POUNDS[1])
    grip = float(MEASURED_GRIP[[0, 2]].mean())
    model = tyre.of_kind("track", nominal_load=to_si(POUNDS[1], "lb") * G, grip=grip, grip_fall=float(fall))
    light, middle, heavy = tyre.peak_force(model, to_si(POUNDS, "lb") * G)
    return float(1 - (force[0] + force[2]) / (2 * force[1])), float(1 - (light + heavy) / (2 * middle))
