"""Plausible cars about each example: what their stance does, by the travel left behind."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

from ..answers.doubts import doubts_of
from ..answers.film import CORNER
from ..answers.hands_still import hands_still_limit
from ..answers.sentences import listed
from ..answers.spread import Doubt, draw, plausible_pair, spread
from ..car.carfile import CarFile
from ..car.records import Moment
from ..car.reference import reference_of
from ..car.typical import Kinds
from ..draw.reasons import GapShare
from ..units import Array, G, from_si, to_si
from .compare_cars import LATERAL, SPEED, cars
from .reasons import boxed

PLAUSIBLE = 4000
"""Plausible cars drawn for each example."""
FEWER = 400
"""Plausible cars drawn for each example where hands still are asked."""
CALM, CALM_RADIUS, CALM_LIFT = 8.0, 100.0, 0.10
"""A car is called calm that settles after this lift at this lateral acceleration [m/s²], on this radius [m]."""
DECIDES = 20.0
"""The travel left is said to decide where it moves so many more of 100 cars with the least than with the most."""
CLASSES = np.arange(0.0, 61.0, 10.0)
"""Edges of the classes of rear gap [mm]."""


def panel() -> Any:
    """Show the share of plausible cars that their stance moves toward oversteer, by the travel left behind.

    Returns:
        an ipywidgets box [-]
    """
    files = cars()
    names = [file.car.name.removeprefix("Example ") for file in files]
    view = GapShare(names)
    middles = 0.5 * (CLASSES[1:] + CLASSES[:-1])
    shares = [gap_share(file) for file in files]
    view.draw(middles, shares)
    all_cars = np.nanmean(shares, axis=0)
    told = (
        f"With under 10 mm of wheel travel left, {all_cars[0]:.0f} of 100 plausible cars move toward oversteer; "
        f"with over 50 mm, {all_cars[-1]:.0f}. {decides_for(names, np.array(shares))}"
    )
    more = (
        f"{PLAUSIBLE} cars about each example, throttle closed at {LATERAL:g} g and {SPEED:g} km/h; every number that "
        "is not measured is drawn from its typical range, the heights alone are out. Counted is which way the extra "
        "steering moves; what speed travel gives back in the corner is in the bars of the one car. The first "
        "car was chosen because it shows the effect."
    )
    asked = [settling(file) for file in files]
    settle = np.nanmean([one.lose for one in asked], axis=0)
    more += (
        f" In the film's corner, with all that is out, {settle[0]:.0f} of 100 with under 10 mm lose speed up to which "
        f"hands still settle them after the lift; with over 50 mm, {settle[-1]:.0f} ({FEWER} cars each)."
    )
    calm = listed([f"{one.calm:.0f} about the {name}" for one, name in zip(asked, names, strict=True)])
    own = sum(one.own for one in asked)
    more += (
        f" Some plausible cars are calm. After a lift of {CALM_LIFT:g} g at {CALM / G:.2f} g on a radius of "
        f"{CALM_RADIUS:g} m still hands settle, of 100 each, {calm}. With the numbers of their own car files they "
        f"settle {own or 'not one'} of these {len(files)} cars."
    )
    return boxed(f"<b>{escape(told)}</b> {escape(more)}", view.picture)


def decides_for(names: list[str], shares: Array) -> str:
    """State for which cars the travel left decides, and what the others do whatever is left.

    Parameters:
        names: of the cars [-]
        shares: each car's share that moves toward oversteer, in each of ``CLASSES`` [%]

    Returns:
        sentences [-]
    """
    falls = shares[:, 0] - shares[:, -1]
    some = [f"the {name}" for name, fall in zip(names, falls, strict=True) if fall >= DECIDES]
    told = f"The travel left decides for cars like {listed(some) if some else 'not one of these'}."
    for name, fall, own in zip(names, falls, shares, strict=True):
        if fall < DECIDES:
            told += f" About the {name} it is {np.nanmin(own):.0f} to {np.nanmax(own):.0f} of 100 whatever is left."
    return told


@dataclass(frozen=True)
class Settling:
    """What still hands do for plausible versions of a car."""

    lose: Array  # share whose hands-still limit is lower as they came back, in each of ``CLASSES`` [%]
    calm: float  # share that still hands settle after a lift at ``CALM`` [%]
    own: bool  # whether they settle the car itself there


def settling(file: CarFile) -> Settling:
    """Ask plausible versions of a car what still hands settle, before and as it came back.

    Parameters:
        file: the car file [-]

    Returns:
        the ``Settling`` [-]
    """
    doubts, gap = _any_gap(file)
    both = plausible_pair(file.car, reference_of(file).setup, file.setup, doubts, FEWER, 1)
    then, now = (hands_still_limit(both[0], setup, CORNER.radius, CORNER.lift).limit for setup in both[1:3])
    lose = _by_class(gap.middle + both[3][gap.path], np.where(now < then, 1.0, 0.0))
    calm = hands_still_limit(both[0], both[2], CALM_RADIUS, CALM_LIFT).limit >= CALM
    own = hands_still_limit(file.car, file.setup, CALM_RADIUS, CALM_LIFT).limit >= CALM
    return Settling(lose, 100 * float(np.mean(calm)), bool(own))


def gap_share(file: CarFile) -> Array:
    """Draw plausible cars about one, and return the share that its heights move toward oversteer by class of gap.

    Parameters:
        file: the car file [-]

    Returns:
        share in each of ``CLASSES`` [%]
    """
    doubts, gap = _any_gap(file)
    moment = Moment.in_phase("lift", to_si(SPEED, "kmh"), LATERAL * G)
    level = reference_of(file)
    found = spread(file.car, level.setup, level.at_heights_of(file.setup), moment, doubts, PLAUSIBLE)
    return _by_class(gap.middle + draw(doubts, PLAUSIBLE)[gap.path], np.where(found.known, found.change < 0, np.nan))


def _any_gap(file: CarFile) -> tuple[list[Doubt], Doubt]:
    """Return the doubts of a car whose rear gap may be anything in the classes, and that doubt alone."""
    wide = [to_si(CLASSES[i], "mm") for i in (0, -1)]
    gap = Doubt("rear.bump_gap", 0.5 * (wide[0] + wide[1]), *wide)
    rest = [doubt for doubt in doubts_of(file, file.known.kinds or Kinds()) if doubt.path != gap.path]
    return [*rest, gap], gap


def _by_class(gap: Array, falls: Array) -> Array:
    """Return the share of the cars in each class of gap that fall, NaN among them left out [%]."""
    place = np.digitize(from_si(gap, "mm"), CLASSES) - 1
    return np.array([100 * np.nanmean(falls[place == k]) for k in range(len(CLASSES) - 1)])
