"""The boxed answers of the first workbooks, and their questions: every number in them is that of the car shown."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers.balance import balance
from ..answers.corner import Corner
from ..answers.hands_still import hands_still_limit
from ..answers.lift import REACTION
from ..answers.limits import limits
from ..answers.split import TENTH, study
from ..car import tyre
from ..car.carfile import CarFile
from ..car.records import PHASES, Moment, reference_setup
from ..lessons import simple
from ..lessons.bicycle import TwoWheel, critical_speed, motion, understeer_gradient
from ..lessons.terms import TERMS
from ..trim.suspension import wheel_rate
from ..trim.trim import trim
from ..units import G, from_si, number, to_si
from . import gg
from . import split as split_panels
from . import two_wheel as two_wheel_panels
from . import weight as weight_panels
from .base import CSS, table
from .fold import Asked, Closing, closing, fold
from .moments import LATERAL, SPEED
from .sizes import RATIO, RIM, UNNOTICED
from .two_wheel import balance_word

CORNER = 0.7
"""Lateral acceleration of the examples [g]."""
STEADY = 0.5
"""Gentler lateral acceleration, which every car holds [g]."""
FAST = to_si(100, "kmh")
"""Speed of the examples [m/s]."""
ENDS = ("front", "rear")


def _kg(load: Any) -> str:
    return f"{number(abs(float(load)) / G, 0)} kg"


def _grade(gradient: Any) -> str:
    return f"{number(float(from_si(gradient, 'deg_per_g')), 2, True)} deg/g"


def words(file: CarFile) -> Any:
    """Return the end of the workbook on words.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    own, car = file.setup.front, file.car
    rate = from_si(own.spring, "N_per_mm")
    felt = from_si(wheel_rate(own.spring, car.front.motion_ratio), "N_per_mm")
    ratio = number(float(car.front.motion_ratio), 2)
    fixed = reference_setup(car, file.setup)
    low = fixed.with_heights(fixed.front.height, fixed.rear.height - 0.01)
    still = Moment.in_phase("steady", FAST, 0.0)
    before, after = (trim(car, setup, still) for setup in (fixed, low))
    toe = float(np.degrees(after.toe - before.toe)[1].mean())
    camber = float(np.degrees((after.lean - before.lean)[1] @ [0.5, -0.5]))
    return closing(
        Closing(
            f"A spring's printed number says little alone: {number(float(rate), 1)} N/mm at this car's front spring is "
            f"<b>{number(float(felt), 1)} N/mm at the wheel</b>, for its motion ratio is {ratio}, and it counts twice.",
            [
                Asked(
                    "Which words change when only the ride heights change?",
                    f"On this car 10 mm less at the tail turns each rear wheel's toe by {number(60 * toe, 1, True)} "
                    f"minutes (plus: toe-in) and its camber by {number(camber, 2, True)} deg. The rear bump gap loses "
                    "its share of those 10 mm, and the corner weights change unless both sides move alike.",
                ),
                Asked(
                    "What must the workshop set again after a change of ride height?",
                    "Corner weights, then camber and caster, toe last. Common practice, no source.",
                ),
                Asked(
                    "Search for “came round” or “twitchy”. Which words come up, and can you measure one this evening?",
                    "Ride heights with a tape measure, toe with a string and a ruler, the bump gap with a cable tie on "
                    "the damper rod, driven gently. Or with a ruler along that rod, the car on its wheels on "
                    "ramps: work for qualified people. Common practice, no source. Workbook 7 takes them.",
                ),
            ],
            [Asked(f"What is {TERMS[key].name}?", TERMS[key].plain) for key in ("toe", "camber", "bump_gap")],
        )
    )


def weight(file: CarFile) -> Any:
    """Return the end of the workbook on weight.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    car, setup = file.car, file.setup
    turn = simple.wheel_loads(car, setup, CORNER * G, 0.0)
    lift = simple.wheel_loads(car, setup, 0.0, PHASES["lift"][0])
    front, rear = turn.transfer.front, turn.transfer.rear
    both = front.total + rear.total
    loads = turn.load.reshape(2, 2)
    least = np.unravel_index(int(np.argmin(loads)), (2, 2))
    lost = 100 * _pair_loss(file, float(turn.standing[0].mean()), float(front.total))
    links = rear.links + rear.unsprung
    return closing(
        Closing(
            f"A turn at {CORNER:g} g moves <b>{_kg(both)}</b> to this car's outer wheels, "
            f"{number(100 * float(front.total / both), 0)} % of it in front, bump stops left out; closing the throttle "
            f"takes <b>{_kg(lift.longitudinal)}</b> off the rear axle. The workshop can move only the first from "
            "one end to the other.",
            [
                Asked(
                    "Make a wheel leave the ground. Which one is it, and what does the other axle do from then on?",
                    f"The lightest in a left turn at {CORNER:g} g is the inner {ENDS[least[0]]} wheel, with "
                    f"{_kg(loads[least])} left. Once it is up its axle has moved all it can; the other axle "
                    f"takes the rest.",
                ),
                Asked(
                    "Raise the rear roll centre and soften the rear anti-roll bar until the rear moves as much "
                    "as before. "
                    "What is different?",
                    f"When it comes. Of the rear's {_kg(rear.total)} here {_kg(links)} go through the links and "
                    f"the wheels' "
                    "own mass at once; the rest arrives as the body leans.",
                ),
                Asked(
                    "How does closing the throttle compare with the turn?",
                    f"{_kg(lift.longitudinal)} against {_kg(both)}: smaller, and all of it leaves the rear in "
                    f"the moment "
                    "the rear is needed.",
                ),
            ],
            [
                Asked(
                    "Which three numbers decide how much load moves front to rear?",
                    "Mass, height of the centre of gravity, wheelbase. No spring changes that.",
                ),
                Asked(
                    "Why does moving load cost grip?",
                    f"The outer tyre gains less than the inner one loses. This car's front pair loses "
                    f"{number(lost, 1)} % "
                    f"at {CORNER:g} g by the model.",
                ),
                Asked("Which end slides first, all else equal?", "The one that moves more of its own load across."),
            ],
        )
    )


def _pair_loss(file: CarFile, even: float, moved: float) -> float:
    """Part of a front pair's grip that is lost when so much load moves across [-]."""
    own, at = file.car.front.tyre, file.setup.front.pressure
    moved = min(moved, even)
    both = sum(float(tyre.peak_force(own, even + side * moved, 0.0, at)) for side in (-1, 1))
    return 1 - both / (2 * float(tyre.peak_force(own, even, 0.0, at)))


def two_wheel(file: CarFile) -> Any:
    """Return the end of the workbook on the two-wheel car.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    own = simple.two_wheel(file.car, file.setup)
    gradient = float(understeer_gradient(own).total)
    turning = 100 * float(own.rear_mass * own.front_stiffness / own.front_mass / own.rear_stiffness)
    found = limits(file.car, file.setup, Moment.in_phase("lift", FAST, CORNER * G))
    steady = hands_still_limit(file.car, file.setup, Corner().radius).until
    first = {0: "the front slides first", 1: "the rear slides first", -1: "neither end slides within the model's range"}
    return closing(
        Closing(
            f"By tyres and weight alone this car comes out at <b>K = {_grade(gradient)}, {balance_word(gradient)}</b>"
            f"{_special(own, gradient)}. At the limit, throttle closed, <b>{first[int(found.first)]}</b>. With the "
            f"hands still it settles {steady}, in a steady 60 m corner. Three questions, three answers.",
            [
                Asked(
                    "How far must the rear tyres' stiffness go until the balance turns round?",
                    _turns_round(turning),
                ),
                Asked(
                    "Make it oversteer and raise the speed. From when does a slide double faster than you can react?",
                    _too_fast(own, turning),
                ),
                Asked(
                    "Why do cars with the engine behind wear wider rear tyres?",
                    f"K compares load with stiffness at each end. With {number(100 * float(own.a / own.wheelbase), 0)} "
                    f"% of the "
                    "weight on the rear axle here, the rear tyres need that share of the stiffness to be even.",
                ),
            ],
            [
                Asked("What is a slip angle?", "The angle between where a wheel points and where it goes."),
                Asked(
                    "What does K say, and what does it not say?",
                    "How the steering grows with cornering. Not which end slides first at the limit.",
                ),
                Asked(
                    "What brings a small slide back, and what does not?",
                    "Steer the way the tail slides, early, with a steady foot. A throttle snapped shut takes load off "
                    "the rear.",
                ),
            ],
        )
    )


def _turns_round(turning: float) -> str:
    """State how far the rear tyres' stiffness must go until the balance turns, in percent of what it is."""
    if round(turning) == 100:
        return "Hardly any way: this car is as good as neutral now, its slip angles front and rear are equal."
    return f"To {number(turning, 0)} % of what it is: there the slip angles front and rear are equal."


def budget(file: CarFile) -> Any:
    """Return the understeer budget: what each end's tyres and load bring, and all the rest together.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    own = understeer_gradient(simple.two_wheel(file.car, file.setup))
    whole = balance(file.car, file.setup, Moment.in_phase("steady", FAST, 0.3 * G)).gradient
    front, rear = float(own.front.weight), -float(own.rear.weight)
    rows = [
        ["front: load over cornering stiffness", _grade(front)],
        ["rear: the same, minus", _grade(rear)],
        ["lean, toe, camber, moving load and the give of bushes, all together", _grade(float(whole) - front - rear)],
        ["K at 0.3 g, all counted", _grade(float(whole))],
    ]
    made = widgets.HTML(CSS + table(["part", ""], rows))
    made.add_class("vd-panel")
    return made


def _special(own: TwoWheel, gradient: float) -> str:
    if gradient > 0:
        return ""
    speed = number(float(from_si(critical_speed(own.wheelbase, gradient), "kmh")), 0)
    return f", and above {speed} km/h a slide grows on its own"


def _too_fast(own: TwoWheel, turning: float) -> str:
    """State from which speed a slide doubles faster than a driver reacts, on rear tyres a tenth softer than neutral."""
    part = float(number(0.9 * turning, 0))  # as the slider can be set
    soft = replace(own, rear_stiffness=own.rear_stiffness * part / 100)
    speeds = to_si(np.arange(two_wheel_panels.SLOWEST, two_wheel_panels.QUICKEST + 1, 2.0), "kmh")
    double = np.array([float(motion(soft, speed).time_to_double) for speed in speeds])
    quick = REACTION["surprised"][1]
    fast = speeds[double < quick]
    start = number(float(from_si(critical_speed(own.wheelbase, float(understeer_gradient(soft).total)), "kmh")), 0)
    within = f"within a surprised driver's {number(quick, 1)} s"
    if fast.size:
        tail = f"From about {number(float(from_si(fast[0], 'kmh')), 0)} km/h they double {within}."
    else:
        tail = f"Up to {number(two_wheel_panels.QUICKEST, 0)} km/h none doubles {within}."
    return f"With rear tyres at {number(part, 0)} % of this car's, slides grow above {start} km/h. {tail}"


def split(file: CarFile) -> Any:
    """Return the end of the workbook on the roll-stiffness split.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    for lateral in (LATERAL, STEADY):  # as the panel starts; gentler where the car cannot hold that
        moment = Moment.in_phase("steady", to_si(SPEED, "kmh"), lateral * G)
        found = study(file.car, file.setup, moment)
        if np.isfinite(found.gradient[:3]).all():
            break
    share, gradient = (100 * float(found.share[0]), float(found.gradient[0]))
    change = from_si(found.gradient[1:3] - found.gradient[0], "deg_per_g")
    gap = float(found.margin[0]) / G
    first = "the rear slides first" if gap < 0 else "the front slides first"
    front = replace(file.setup.front, bar=file.setup.front.bar / 2)
    worn, sound = (balance(file.car, one, moment) for one in (replace(file.setup, front=front), file.setup))
    eased = replace(file.setup, front=replace(file.setup.front, spring=file.setup.front.spring * (1 - TENTH)))
    soft = float(from_si(balance(file.car, eased, moment).gradient - gradient, "deg_per_g"))
    half = float(from_si(worn.gradient - gradient, "deg_per_g"))
    rim = 1000 * RATIO * RIM * float(worn.understeer_angle - sound.understeer_angle)
    bars = from_si(found.clicks[:2], "Nm_per_deg")
    rule = "the end with the larger share" if (share > 50) == (gap > 0) else "not the end with the larger share"
    return closing(
        Closing(
            f"{escape(file.car.name)}: in a steady corner at {lateral:g} g the front takes <b>{number(share, 0)} %</b> "
            f"of the load that moves, bump stops counted; K is {_grade(gradient)}, and at the limit <b>{first}</b>. "
            f"{_bar(1, bars, change)}; front springs a tenth softer: {_toward(soft)}.",
            [
                Asked(
                    "Which end slides first: always the one with the larger share?",
                    f"Not always. Here it is {rule}: {number(share, 0)} % in front, and {first} by "
                    f"{number(abs(gap), 3)} g. How "
                    "much weight each end carries and which tyres it has count as well.",
                ),
                Asked(
                    "Which way must you move on the map to reduce roll without changing the balance?",
                    _keeps_balance(change / bars),
                ),
                Asked(
                    "An anti-roll bar worn in its bushes is a softer one. Would you feel it?",
                    f"With half the front one a {lateral:g} g corner takes {number(abs(rim), 0)} mm "
                    f"{'more' if rim > 0 else 'less'} at the rim of the steering wheel ({RATIO:g} : 1, "
                    f"{200 * RIM:.0f} cm across: common practice, no source). "
                    f"{'Hardly' if abs(rim) < UNNOTICED else 'You might'}. K at that corner changes by "
                    f"{number(half, 2, True)} deg/g, and the limit is another matter.",
                ),
            ],
            [
                Asked("What does an anti-roll bar do when both wheels move together?", "Nothing. It acts in roll."),
                Asked(
                    "What happens beyond the point where a wheel leaves the ground?",
                    "Its axle has moved all it can. Whatever a corner adds goes to the other axle.",
                ),
                Asked(
                    "What else must be set again after a spring change?", "Ride heights, corner weights, camber, toe."
                ),
            ],
        )
    )


def _keeps_balance(each: Any) -> str:
    """State which steps of both bars keep K, by what one Nm/deg of the front and of the rear one does to it."""
    front, rear = (float(one) for one in each)
    if not front > 0 > rear:
        return "On this car no step of both anti-roll bars keeps K: stiffer springs are left."
    return (
        f"Stiffen both anti-roll bars: by this car's steps {number(-front / rear, 1)} Nm/deg more at the rear for each "
        "Nm/deg more at the front keeps K. The dashed line shows that way only where it passes through the star."
    )


def _bar(end: int, bars: Any, change: Any) -> str:
    return f"{number(float(bars[end]), 0)} Nm/deg more {ENDS[end]} anti-roll bar: {_toward(float(change[end]))}"


def _toward(change: float) -> str:
    """Write a change of K and which way it goes."""
    if abs(change) <= 0.005:
        return "hardly any change"
    return f"{number(change, 2, True)} deg/g, toward {'understeer' if change > 0 else 'oversteer'}"


MOMENTS = fold("Seven moments in a table, for the car as its file gives it", weight_panels.moments)
SHARED = fold("Braking and cornering share one grip: the g-g diagram", gg.from_model)
HONEST = fold("How far to trust the size of that loss", lambda _: weight_panels.honest())
GROWTH = fold("How quickly does a slide grow? Poles and damping", two_wheel_panels.growth)
BUDGET = fold("The understeer budget: which part brings what", budget)
THREE_WHEELS = fold("What does K do once the inner rear wheel is in the air?", split_panels.three_wheels)
