"""Pictures for the README and the course, drawn from the library: ``python -m vdlib.draw.figures`` writes them all."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..answers.doubts import doubts_of
from ..answers.height_study import net_change, study
from ..answers.sentences import PHASE_WORDS, gives_up, story, toward
from ..answers.spread import spread
from ..car import examples
from ..car.records import PHASES, Moment
from ..car.reference import reference_of
from ..car.typical import Kinds
from ..units import G, from_si, to_si
from .how_sure import HowSure
from .live import LivePicture
from .nose_high import NoseHigh
from .turning_point import TurningPoint

FOLDER = Path(__file__).parents[2] / "figures"


def nose_high() -> LivePicture:
    """Draw the main picture: the two-seater as it stands, throttle closed at 0.8 g and 110 km/h.

    Returns:
        the picture, its alt text written by the numbers [-]
    """
    file = examples.load_example(examples.FIRST)
    found = study(file.car, file.setup, Moment.in_phase("lift", to_si(110, "kmh"), 0.8 * G))
    view = NoseHigh(file.car)
    view.draw(found)
    ends = gives_up((float(found.limit[0, 1]), float(found.limit[1, 1])))
    view.picture.alt = f"The invented two-seater, throttle closed at 110 km/h. {story(found)} As it stands, {ends}."
    return view.picture


def turning_point() -> LivePicture:
    """Draw where the sign turns: the effect of the two-seater's heights against its rear bump-stop gap, at 0.9 g.

    Returns:
        the picture, its alt text written by the numbers [-]
    """
    file = examples.load_example(examples.FIRST)
    gap = np.linspace(0, 60, 61)
    car = replace(file.car, rear=replace(file.car.rear, bump_gap=to_si(gap, "mm")))
    change = {
        phase: from_si(net_change(car, file.setup, Moment.in_phase(phase, to_si(110, "kmh"), 0.9 * G)), "deg")
        for phase in PHASES
    }
    own = float(from_si(file.car.rear.bump_gap, "mm"))
    view = TurningPoint(PHASE_WORDS)
    view.draw("rear travel to the bump stop [mm]", gap, change, own)
    told = [
        f"{PHASE_WORDS[phase]} {values[0]:+.2f} deg with no gap, {values[-1]:+.2f} deg with 60 mm"
        for phase, values in change.items()
    ]
    view.picture.alt = (
        "Change of extra steering by the two-seater's nose-high stance at 0.9 g, against its rear bump-stop gap, "
        f"understeer positive: {'; '.join(told)}; the car's own gap is {own:g} mm."
    )
    return view.picture


def how_sure() -> LivePicture:
    """Draw how sure the sign is for the two-seater as it stands, throttle closed at 0.8 g and 110 km/h: 10,000 cars.

    Returns:
        the picture, its alt text written by the numbers [-]
    """
    file = examples.load_example(examples.FIRST)
    doubts = doubts_of(file, Kinds(body="low two-seater"))
    moment = Moment.in_phase("lift", to_si(110, "kmh"), 0.8 * G)
    found = spread(file.car, reference_of(file).setup, file.setup, moment, doubts)
    view = HowSure()
    view.draw(found)
    low, middle, high = found.band()
    best = int(np.argmax(found.share))
    view.picture.alt = (
        f"Of 100 plausible two-seaters {100 * found.falls:.0f} move toward oversteer by standing nose-high; nine in "
        f"ten lie between {toward(low)} and {toward(high)}, the middle one is {toward(middle)}. "
        f"The {found.names[best]} carries {100 * found.share[best]:.0f} % of the variance."
    )
    return view.picture


FIGURES: dict[str, Callable[[], LivePicture]] = {
    "nose-high": nose_high,
    "turning-point": turning_point,
    "how-sure": how_sure,
}
"""File name without ending → the function that draws it."""


def main(folder: Path = FOLDER) -> None:
    """Write every picture, and say which.

    Parameters:
        folder: where to write [-]
    """
    for name, draw in FIGURES.items():
        path = folder / f"{name}.png"
        draw().save(path)
        sys.stdout.write(f"{path}\n")


if __name__ == "__main__":
    main()
