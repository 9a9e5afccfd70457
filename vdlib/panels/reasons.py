"""What stands under the film: foot and heights, limits by phase, tail-out in time, other cars, and the boxed answer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache, partial
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers import film_words
from ..answers.corner import HOLDS, Driver, Turn
from ..answers.edge import note
from ..answers.film import BEFORE, CORNER, Film
from ..answers.forgiven import FINE
from ..answers.limits import ROUGH, SWEEPS, limits
from ..answers.margins import Margin, Margins, margins
from ..answers.sentences import PHASE_WORDS
from ..answers.stacking import stack
from ..car.carfile import CarFile
from ..car.records import PHASES, Moment
from ..car.reference import reference_of
from ..draw.live import LivePicture
from ..draw.reasons import Gains, PhaseLimits, TailOut
from ..shown import label_for, retold, says
from ..units import Array, G, from_si, to_si
from .base import CSS, Panel, choice, slider, table
from .compare_cars import cars
from .look import LETTER
from .stage import filmed


def foot_and_heights(file: CarFile) -> Any:
    """Set what the heights cost beside what half the lift gives, as two bars.

    Parameters:
        file: the car file [-]

    Returns:
        an ipywidgets box [-]
    """
    found, view = filmed(file), Gains(2)
    gains = _two(found)
    marks = [found.edge(key).mark for key in ("reference", "foot")]
    words = [says(to_si(gain, "kmh"), "kmh", 1, sign=True) + mark for gain, mark in zip(gains, marks, strict=True)]
    view.draw(("all that is out put right", "lifting half as far"), ("car", "driver"), gains, words)
    return boxed(f"<b>{escape(foot_words(found))}</b>", view.picture)


def boxed(words: str, picture: LivePicture | None = None) -> Any:
    """Put words, and a picture that no control moves, into a panel's look.

    Parameters:
        words: HTML [-]
        picture: the picture; none if left out [-]

    Returns:
        an ipywidgets box [-]
    """
    parts = [widgets.HTML(CSS), widgets.HTML(f'<div class="vd-words">{retold(words)}</div>')]
    if picture is not None:
        image = widgets.Image(value=picture.render(), format="png", width=str(picture.width))
        image.add_class("vd-picture")
        wide = f"calc({picture.width} / 13 * {LETTER})"
        place = widgets.Box([image], layout=widgets.Layout(max_width=wide, align_items="flex-start", flex="0 0 auto"))
        place.add_class("vd-stage")  # it grows with the letters, as in every panel
        parts += [place, widgets.HTML(f'<p class="vd-alt">{escape(retold(picture.alt))}</p>')]
    box = widgets.VBox(parts)
    box.add_class("vd-panel")
    return box


def _two(found: Film) -> tuple[float, float]:
    now = film_words.lost(found, "now")
    return now, now - film_words.lost(found, "foot")


def foot_words(found: Film) -> str:
    """Set the car beside the foot in one sentence, and say where the grip ends first.

    Parameters:
        found: the film [-]

    Returns:
        one sentence or two [-]
    """
    car, foot = _two(found)
    right, now, half = (found.edge(key) for key in ("reference", "now", "foot"))
    own, more = (says(to_si(abs(gain), "kmh"), "kmh", 1) for gain in (car, foot))
    if abs(car) < film_words.LITTLE:
        start = "Putting the car right changes very little here"
    else:
        start = f"Put right, the car would forgive {own} less" if car < 0 else f"Putting the car right adds {own}"
        start += right.mark
    moves = f"{'adds' if foot > 0 else 'costs'} {more}{half.mark}" if abs(foot) >= 0.05 else "adds nothing"
    as_is = "" if now.slides else f" As it is, this corner is forgiven up to {now.told}."
    return f"{start}; lifting half as far {moves}.{as_is} {note(right, now, half)}".strip()


HANDS = {"held still": HOLDS, "steer against it, after 1.25 s": Driver()}
"""What the driver's hands do → the driver."""
MOST = 13
"""Rows of the margin bars."""


def margin_bars(file: CarFile) -> Panel:
    """Show what each single thing would move the forgiven speed by, marked car, driver or day.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    view, reference = Gains(MOST), reference_of(file)

    @lru_cache(maxsize=4)
    def found(hands: str, turn: Turn) -> Margins:
        return margins(file.car, file.setup, reference, replace(CORNER, turn=turn), HANDS[hands])

    def compute(state: dict[str, Any]) -> Margins:
        return found(state["hands"], state["turn"])

    def show(_: Any, now: Margins) -> None:
        rows = now.rows[:MOST]
        gains = [float(from_si(row.gained, "kmh")) for row in rows]
        view.draw([row.name for row in rows], [row.owner for row in rows], gains, [_gains(row) for row in rows])

    controls = {
        "hands": choice("Hands", list(HANDS), next(iter(HANDS))),
        "turn": choice("Corner to the", ["left", "right"], "left"),
    }
    return Panel(controls, compute, show, margin_words, view.picture)


def _gains(row: Margin) -> str:
    return f"{says(row.gained, 'kmh', 1, sign=True)}{row.edge.mark}"


def margin_words(found: Margins) -> str:
    """Describe what helps most among the car's and among the driver's things.

    Parameters:
        found: the margins [-]

    Returns:
        HTML [-]
    """
    told, edges = [], [found.now]
    for owner, whose, none in (
        ("driver", "you can do", "Nothing you can do alone adds anything"),
        ("car", "a setting can do", "No setting alone adds anything"),
    ):
        rows = [row for row in found.rows if row.owner == owner and not row.fitted]
        best = max(rows, key=lambda row: row.gained)
        adds = best.gained >= 0.5 * FINE
        told.append(f"The most {whose}: {best.name}, {_gains(best)}." if adds else f"{none}.")
        edges += [best.edge] if adds else []
    bought = [row for row in found.rows if row.fitted]
    told += [f"No setting, but bought: {row.name}, {_gains(row)}." for row in bought]
    now = f"Now this corner is forgiven up to {found.now.told}. {note(*edges, *(row.edge for row in bought))}"
    return f"<b>{escape(' '.join(told))}</b> {escape(now.strip())}"


@dataclass(frozen=True)
class Phases:
    """Limits of both ends in every phase, (2 ends, phases), and the speed they are read at."""

    reference: Array
    now: Array
    name: str
    speed: float


def phases(file: CarFile) -> Panel:
    """Show which end lets go first in each phase, at the reference and as the car is.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    reference = reference_of(file)
    car = stack([reference.car, file.car], 1)
    setup = stack([reference.setup, file.setup], 1)
    name = filmed(file).states[0].name
    usual = np.array([PHASES[phase] for phase in PHASE_WORDS]).T
    view = PhaseLimits(list(PHASE_WORDS.values()), name)

    def compute(state: dict[str, Any], sweeps: int = SWEEPS) -> Phases:
        moment = Moment(to_si(state["speed"], "kmh"), G, *usual)
        found = limits(car, setup, moment, sweeps=sweeps).lateral / G
        return Phases(found[:, 0], found[:, 1], name, float(state["speed"]))

    def show(_: Any, found: Phases) -> None:
        view.draw(found.reference, found.now, [_first(at) for at in found.now.T])

    speed = slider("Speed", 40, 200, 5, 75, "km/h")
    rough = partial(compute, sweeps=ROUGH)
    return Panel({"speed": speed}, compute, show, phase_words, view.picture, ahead=True, rough=rough)


def _first(at: Array) -> str:
    return f"{'front' if at[0] < at[1] else 'rear'} first" if abs(at[1] - at[0]) >= 0.0005 else "both at once"


def phase_words(found: Phases) -> str:
    """State in which phases the rear lets go first, and where the car lost most.

    Parameters:
        found: the limits [-]

    Returns:
        HTML [-]
    """
    names = list(PHASE_WORDS.values())
    rear = [name for name, at in zip(names, found.now.T, strict=True) if at[1] < at[0]]
    loss = found.reference - found.now
    end, phase = np.unravel_index(int(np.argmax(loss)), loss.shape)
    first = f"The rear lets go first: {', '.join(rear)}." if rear else "The front lets go first in every phase."
    name = ("front", "rear")[end]
    most = f"Against the dashed bars the {name} loses most here: {names[phase]}, {loss[end, phase]:.2f} g."
    lost = most if loss[end, phase] >= 0.005 else "Neither end has lost anything to speak of."
    return f"<b>{escape(first)}</b> {escape(lost)}"


@dataclass(frozen=True)
class Tails:
    """The tail-out of three runs at one speed of the film."""

    film: Film
    speed: int

    @property
    def which(self) -> list[int]:
        """The states shown: reference, as it came back, the same under half the lift."""
        return [self.film.place(key) for key in ("reference", "now", "foot")]


def tail_out(file: CarFile) -> Panel:
    """Show the tail's swing in time for the whole lift and for half of it, at any speed of the film.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(tail_out(load_example("coupe")).controls)
        ['speed']
    """
    film = filmed(file)
    shown = Tails(film, film.own)
    view = TailOut([film.states[k].name for k in shown.which])
    low, own, high = (round(2 * float(from_si(film.speeds[i], "kmh"))) / 2 for i in (0, film.own, -1))

    def compute(state: dict[str, Any]) -> Tails:
        return Tails(film, int(np.argmin(np.abs(film.speeds - to_si(state["speed"], "kmh")))))

    def show(_: Any, found: Tails) -> None:
        slides = [from_si(film.slide[:, k, found.speed], "deg") for k in found.which]
        ends = [float(film.ends[k, found.speed]) - BEFORE for k in found.which]
        view.draw(film.time - BEFORE, slides, ends)

    speed = slider("Speed into the corner", low, high, 0.5, own, "km/h")
    return Panel({"speed": speed}, compute, show, tail_words, view.picture, ahead=True)


def tail_words(found: Tails) -> str:
    """Describe how far each of the three runs swings out.

    Parameters:
        found: the runs [-]

    Returns:
        HTML [-]
    """
    film = found.film
    told = [f"{film_words.furthest(film, k, found.speed)} {film.states[k].name}" for k in found.which]
    return f"<b>Furthest out at {says(film.speeds[found.speed], 'kmh', 1)}: {escape('; '.join(told))}.</b>"


def other_cars() -> Any:
    """Ask every example car, and the open one, the film's question: a table of forgiven speeds and verdicts.

    Returns:
        an ipywidgets box [-]
    """
    rows = []
    for file in cars():
        found = filmed(file)
        what = film_words.culprit_words(found)
        cost = film_words.lost(found, "now")
        none = "very little is lost" if abs(cost) < film_words.LITTLE else "nothing: it forgives more"
        grip = "" if found.edge("now").slides else "nothing brings the tail round"
        edges = [found.edge(key) for key in ("reference", "now", "nose", "tail")]
        speeds = [one.told.replace(f" {label_for('kmh')}", "") for one in edges]
        rows.append([file.car.name, *speeds, what or grip or none])
    head = [
        f"forgiven up to [{label_for('kmh')}]",
        "before",
        "as it came back",
        "nose alone",
        "tail alone",
        "what made it worse",
    ]
    return boxed(table(head, rows))


def answer(file: CarFile) -> Any:
    """Write the answer of the workbook in a box, from the numbers of the car shown.

    Parameters:
        file: the car file [-]

    Returns:
        an ipywidgets box [-]
    """
    found = filmed(file)
    first = film_words.verdict(found)
    look = "border: 2px solid #000; border-radius: 4px; padding: 8px 14px; font-size: 1.15em; margin: 4px 0"
    return boxed(f'<div style="{look}"><b>{escape(first)}</b>{escape(travel_words(found))}</div>')


def travel_words(found: Film) -> str:
    """State what the tail's travel given back would add, where that is worth it.

    Parameters:
        found: the film [-]

    Returns:
        a sentence behind a space; nothing where it adds very little [-]
    """
    gained = film_words.lost(found, "now") - film_words.lost(found, "travel")
    if gained < film_words.LITTLE:
        return ""
    size = f"{says(to_si(gained, 'kmh'), 'kmh', 1)}{found.edge('travel').mark}"
    return f" Giving the tail its travel back would add {size}."
