"""The ends of the workbooks that open with the film, and what folds away in them."""

from __future__ import annotations

from html import escape
from typing import Any

import numpy as np

from ..answers.corner import Corner
from ..answers.film import Film
from ..answers.hands_still import HandsStill, hands_still_limit
from ..answers.lift import REACTION
from ..answers.power_off import RADIUS
from ..car.carfile import CarFile
from ..car.reference import reference_of
from ..setup.whatif import uneven
from ..shown import label_for, says, seen
from ..units import G, number
from . import by_gap, compare_cars, difference, nose_high, power_off, reasons, sizes, turning_point
from .fold import Asked, Closing, closing, fold
from .stage import filmed


def film(file: CarFile) -> Any:
    """Return the questions at the end of the workbook that opens with the film; its answer has a box of its own.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    found = filmed(file)
    one, other = sorted(float(found.forgiven[place]) for place in (0, found.place("now")))
    step = float(np.diff([round(float(seen(speed, "kmh")), 1) for speed in (one, other)])[0])
    told = (
        f"Both below {says(one, 'kmh', 1)}, neither from {says(other, 'kmh', 1)}: "
        f"a step of {number(step, 1)} {label_for('kmh')}."
    )
    return closing(
        Closing(
            "",
            [
                Asked(
                    "At which speed do both setups hold, and at which does neither?",
                    told,
                ),
                Asked(
                    "Turn the corner the other way. Is one way worse?",
                    "This car's wheels or its weight differ from side to side, so yes: compare the two films."
                    if uneven(file.car, file.setup)
                    else "This car is alike left and right, so both ways are the same.",
                ),
                Asked(
                    "If the heights explain only a little of what you felt, what else changed at that repair?",
                    "Springs and anti-roll bars (workbook 5), alignment of single wheels and tyres (workbook "
                    "9), or nothing "
                    "but the foot and the day (workbooks 6 and 10).",
                ),
            ],
            [
                Asked(
                    "What does “forgiven” mean?",
                    "The tail stays within 10° of what the corner needs, for 4 s.",
                ),
                Asked(
                    "Which beats which, the foot or putting the car right?",
                    f"{reasons.foot_words(found)} Other tyres are no setting; the bars above show what they add.",
                ),
                Asked("Does the travel left at the tail decide on this car?", _decides(found)),
            ],
        )
    )


def _decides(found: Film) -> str:
    """State whether more travel at the tail would help this car in the film's corner."""
    more = reasons.travel_words(found)
    told = f"Here it does.{more}" if more else "Not here: more travel adds very little in this corner."
    return f"{told} Measure it first; no other number is so often the one."


def lift(file: CarFile) -> Any:
    """Return the end of the workbook on the seconds after the throttle closes.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    corner = Corner()
    radius = number(float(corner.radius), 0)
    steady, lifted = (hands_still_limit(file.car, file.setup, corner.radius, lift=foot) for foot in (None, corner.lift))
    fixed = reference_of(file)
    then = hands_still_limit(fixed.car, fixed.setup, corner.radius, lift=corner.lift)
    late = REACTION["surprised"][1]
    gained = float(then.limit - lifted.limit) / G
    return closing(
        Closing(
            f"On a radius of {radius} m this car, as it is now, settles with the hands still <b>{steady.until}</b> in "
            f"steady driving, and <b>{lifted.until}</b> once the throttle closes. "
            f"{_beyond(steady, lifted)}",
            [
                Asked(
                    "Find the lateral acceleration from which the same closing of the throttle is no longer "
                    "forgiven. How "
                    "wide is the step from “nothing much” to “gone”?",
                    "Narrow: a slide that grows, grows fast. Move the speed by 0.5 km/h around the edge and look. "
                    f"{_edges(corner, lifted)}",
                ),
                Asked(
                    "What do the heights move here, against the foot?",
                    f"Heights back to “{escape(fixed.name)}”: {number(gained, 2, True)} g. The foot alone: "
                    f"{number(float(steady.limit - lifted.limit) / G, 2)} g between steady driving and closed.",
                ),
                Asked(
                    "Is there a reaction time after which counter-steering comes too late?",
                    f"Yes, and no training removes the delay of a surprise: about {number(late, 1)} s "
                    "to a brake pedal (Green, 2000). A car that does not start the slide beats a quicker driver.",
                ),
            ],
            [
                Asked(
                    "What is the slide?", "How far the tail has swung out beyond what the steady corner itself needs."
                ),
                Asked(
                    "Why does counter-steer work?",
                    "The front then pushes less, and the turning ends. Straighten again in time.",
                ),
                Asked(
                    "What does a closed throttle take from the rear?",
                    "Load, and at driven rear wheels side force as well.",
                ),
            ],
        )
    )


def _edges(corner: Corner, lifted: HandsStill) -> str:
    """State why the film, the box and the knee each have an edge of their own."""
    radius, speed = number(float(corner.radius), 0), says(float(corner.speed(lifted.limit)), "kmh", 1)
    box = f"the box's {number(float(lifted.limit) / G, 2)} g, {speed} there, is where a small slide begins to grow"
    if not lifted.exists:
        box = f"the box's {number(float(lifted.limit) / G, 2)} g, {speed} there, is where the grip ends"
    return (
        f"Three edges: the film, on {radius} m, asks whether the slide passes 10° within 4 s; {box}; the knee, on "
        f"{RADIUS:g} m and with less engine drag, is the first circle where the tail gains 5°."
    )


def _beyond(steady: HandsStill, lifted: HandsStill) -> str:
    """State what comes past the limit; where the grip ends first nothing says that a slide grows."""
    if not lifted.exists:
        return "There the grip itself ends."
    return f"Beyond {'that' if steady.exists else 'the second'} a slide grows until somebody steers."


BY_HAND = fold("Move the heights yourself, or switch a route off", nose_high.panel)
TURNING_POINT = fold("Where the sign turns: one number of the car through its usual span", turning_point.panel)
EVERY_CAR = fold("Which way the heights move each car, phase by phase", lambda _: compare_cars.signs())
HOW_SURE = fold("How sure is that? A hundred plausible cars, each both ways (takes some seconds)", difference.panel)
POWER_OFF = fold("The standard's test: circles driven ever harder, the throttle closed in each", power_off.panel)
MANNERS = fold("How these cars answer the wheel, beside published road cars", lambda _: compare_cars.manners())
FEEL = fold("How much is that, from the seat?", sizes.feel)
OTHER_CARS = fold("The other invented cars in the same corner", lambda _: reasons.other_cars())
BY_GAP = fold(
    "Plausible cars: how many move toward oversteer, by the travel left behind (takes some seconds)",
    lambda _: by_gap.panel(),
)
