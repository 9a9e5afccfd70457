"""Pictures for the README and the course, drawn from the library: ``python -m vdlib.draw.figures`` writes them all."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from ..answers.doubts import doubts_of
from ..answers.film import Film, film, states_of
from ..answers.height_study import net_change, study
from ..answers.sentences import PHASE_WORDS, lets_go, story, toward
from ..answers.spread import spread
from ..car import examples
from ..car.records import PHASES, Moment
from ..car.reference import reference_of
from ..car.typical import Kinds
from ..setup.candidate import Candidate, baseline
from ..setup.decision import decide
from ..setup.decision import words as decision_words
from ..setup.page import build
from ..units import G, from_si, to_si
from .how_sure import HowSure
from .liftpath import save_animation
from .live import LivePicture
from .nose_high import NoseHigh
from .page import laid_out
from .stage import CAUTION, StagePicture
from .turning_point import TurningPoint
from .typeset import pdf

FOLDER = Path(__file__).parents[2] / "figures"
PLAIN = "two-seater"
"""The car of the still pictures but the first: one with some travel left, whose answer is not sure."""
EVERY = 0.08
"""Time from one picture of an animation to the next [s]."""


def film_moment() -> LivePicture:
    """Draw the moment of the film at which the two cars have parted.

    Returns:
        the picture, its alt text written by the numbers [-]
    """
    view, show, found = _story()
    show(_parted(found))
    return view.picture


def film_moving() -> tuple[LivePicture, Callable[[float], None], float]:
    """Return the film's picture, what moves it to a time, and how long it lasts [s].

    Returns:
        picture, mover and length [-]
    """
    view, show, found = _story(1.0)
    return view.picture, show, float(found.time[-1])


def _story(scale: float = 1.5) -> tuple[StagePicture, Callable[[float], None], Film]:
    file = examples.load_example(examples.FIRST)
    found = film(states_of(file.car, file.setup, reference_of(file)))
    view = StagePicture(file.car, CAUTION, scale)
    return view, lambda time: view.draw(found, found.place("now"), found.own, time), found


def _parted(found: Film) -> float:
    """The first moment at which the two cars' tails are fifteen degrees apart, or the last of all."""
    slide = from_si(found.slide[:, [0, found.place("now")], found.own], "deg")
    apart = np.abs(np.diff(slide, axis=1)[:, 0]) >= 15
    return float(found.time[int(np.argmax(apart)) if apart.any() else -1])


def nose_high() -> LivePicture:
    """Draw the main picture: the two-seater as it stands, throttle closed at 0.8 g and 110 km/h.

    Returns:
        the picture, its alt text written by the numbers [-]
    """
    file = examples.load_example(PLAIN)
    found = study(file.car, file.setup, Moment.in_phase("lift", to_si(110, "kmh"), 0.8 * G))
    view = NoseHigh(file.car)
    view.draw(found)
    ends = lets_go((float(found.limit[0, 1]), float(found.limit[1, 1])))
    view.picture.alt = f"The invented two-seater, throttle closed at 110 km/h. {story(found)} As it stands, {ends}."
    return view.picture


def turning_point() -> LivePicture:
    """Draw where the sign turns: the effect of the two-seater's heights against its rear bump-stop gap, at 0.9 g.

    Returns:
        the picture, its alt text written by the numbers [-]
    """
    file = examples.load_example(PLAIN)
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
    file = examples.load_example(PLAIN)
    doubts = doubts_of(file, Kinds(body="low two-seater"))
    moment = Moment.in_phase("lift", to_si(110, "kmh"), 0.8 * G)
    found = spread(file.car, reference_of(file).setup, file.setup, moment, doubts)
    level = reference_of(file).setup
    decision = decide(file.car, level, file.setup, doubts, moment)
    view = HowSure()
    view.draw(found, decision.wrong, decision.left)
    low, middle, high = found.band()
    view.picture.alt = (
        f"Of 100 plausible two-seaters {100 * found.falls:.0f} move toward oversteer by standing nose-high; nine in "
        f"ten lie between {toward(low)} and {toward(high)}, the middle one is {toward(middle)}. "
        f"{' '.join(decision_words(decision))}"
    )
    return view.picture


FIGURES: dict[str, Callable[[], LivePicture]] = {
    "film": film_moment,
    "nose-high": nose_high,
    "turning-point": turning_point,
    "how-sure": how_sure,
}
"""File name without ending → the function that draws it."""


ANIMATIONS = {"film": film_moving}
"""File name without ending → what gives its picture, what moves it, and how long it lasts."""
CARS = ("low-two-seater", "coupe", "hatch")
"""The invented cars whose workshop pages are drawn."""
_VISITS: dict[str, dict[str, str]] = {
    "low-two-seater": {
        "felt": "In the long right, foot just lifted, the rear came round.",
        "corner": "the long right, turning right",
        "foot": "foot just lifted",
        "speed": "75 km/h",
        "since": "since the springs were looked at",
        "work": "spacers in front",
        "km": "61 400",
        "contact": "invented",
        "event": "an invented track day",
        "seats": "fixed",
        "camber_by": "shims",
        "rear_toe": "adjustable",
        "holes": "2 of 3 | 1 of 3",
    },
    "coupe": {
        "felt": "Braking into the tight left it will not turn, then the tail steps out.",
        "corner": "the tight left, turning left",
        "foot": "braking",
        "since": "since the alignment in spring",
        "work": "alignment",
        "seats": "threaded, all four",
        "thread": "1.5",
        "toe_unit": "deg",
        "looked": "parts, springs, tyres, boot",
        "found": "nothing yet",
    },
    "hatch": {
        "felt": "Lifting in the fast bend it turns in too far.",
        "foot": "foot just lifted",
        "since": "since the rear springs were changed",
        "work": "rear springs",
        "seats": "threaded, rear only",
        "rear_toe": "not adjustable",
        "clicks": "8 | 8 | 12 | 12",
    },
}


def workshop_page(name: str) -> bytes:
    """Write the workshop page of one invented car, back to its reference, both sides.

    Parameters:
        name: one of ``CARS`` [-]

    Returns:
        the bytes of a PDF file [-]
    """
    file = examples.load_example(name)
    file = replace(file, known=replace(file.known, visit=_VISITS[name]))
    base = baseline(file.car, file.setup)
    page = build(file, base, Candidate(), when=date(2026, 5, 1))
    return pdf(laid_out(page), page.title)


def main(folder: Path = FOLDER) -> None:
    """Write every picture, still and moving, and say which.

    Parameters:
        folder: where to write [-]
    """
    for name, draw in FIGURES.items():
        path = folder / f"{name}.png"
        draw().save(path)
        sys.stdout.write(f"{path}\n")
    for name, moving in ANIMATIONS.items():
        picture, show, lasts = moving()
        path = folder / f"{name}.gif"
        save_animation(picture, show, lasts, path, EVERY)
        sys.stdout.write(f"{path}\n")
    for name in CARS:
        path = folder / f"workshop-page-{name}.pdf"
        path.write_bytes(workshop_page(name))
        sys.stdout.write(f"{path}\n")


if __name__ == "__main__":
    main()
