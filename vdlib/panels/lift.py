"""The lift panel: one corner, one lift, the car as it stands beside itself at its reference heights."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np
from numpy.typing import NDArray

from ..answers.forgiven import SLIDE
from ..answers.lift import (
    REACTION,
    SPUN,
    Mark,
    Road,
    Run,
    Scenario,
    mark_words,
    road,
    simulate,
    tabulate,
    time_to_double,
)
from ..answers.sentences import attitude_words, listed
from ..answers.stacking import stack
from ..car.carfile import CarFile
from ..car.records import attitude
from ..car.reference import reference_of
from ..checks import InputError
from ..draw.liftpath import LiftPath, save_animation
from ..shown import says
from ..trim.trim import state_words
from ..units import Array, G, from_si, number
from .base import Panel, Refused, slider, table, toggle
from .moments import lateral_of, lateral_slider, speed_of, speed_slider
from .predict import ask
from .said import alert

LONG = 4.0
"""Length of a run [s]; the foot moves within the first second of it."""
LEAST = 0.1
"""Differences of slide below this are called none [deg]."""
LONG_DOUBLING = 20.0
"""A slide that takes longer than this to double is said hardly to grow [s]."""
LEVEL = "at its reference heights"
TOLD = f"{np.degrees(SLIDE):.0f}°"
PAST = f"{np.degrees(SPUN):.0f}°"
CAUTION = (
    "A teaching model with stated bounds: it tells two setups apart and is no forecast of where a car goes. "
    "Never look for the limit on a public road."
)
"""The line under every picture of a saved run."""
BOUNDS = (
    "A teaching model: flat dry road, warm tyres, an open differential, no kerbs, no electronic help; how late body, "
    "tyres and hands answer is common practice, not measured on this car. It says which setup turns more, not where "
    f"your car would go, and it stops once the car points more than {np.degrees(SPUN):.0f}° off its path. "
    "Never look for the limit on a public road."
)


@dataclass(frozen=True)
class Lift:
    """One run of two cars, the one at the reference heights first, at one moment of it."""

    run: Run
    road: Road
    doubling: Array  # (t, 2) [s]
    half_width: float
    scenario: Scenario
    time: float

    @property
    def moments(self) -> tuple[float, ...]:
        """When the foot moves, and the hands if they do [s]."""
        foot = float(self.scenario.starts)
        return (foot, foot + float(self.scenario.reaction)) if self.scenario.counter_steer else (foot,)

    @property
    def spun(self) -> NDArray[np.bool_]:
        """Which of the two cars turn round, (2,)."""
        return np.asarray(self._marked(Mark.SPUN).any(axis=0))

    def stops(self, k: int) -> bool:
        """Whether one car's slide stops before it passes the angle from which a corner has not forgiven."""
        return bool(self.run.slide[:, k].max() < SLIDE)

    def shortest(self, k: int) -> float:
        """Shortest time to double of one car while its slide still grows toward that angle, infinite if none [s]."""
        slide = self.run.slide[:, k]
        first = int(np.argmax(slide > SLIDE)) if not self.stops(k) else 0
        return float(self.doubling[: first + 1, k].min())

    def past_peak(self, k: int) -> bool:
        """Whether an axle of one car is past its peak at the moment shown."""
        return bool(self._marked(Mark.FRONT_PAST_PEAK | Mark.REAR_PAST_PEAK)[self.at, k])

    def _marked(self, marks: Mark) -> NDArray[np.bool_]:
        return np.asarray((self.run.marks.astype(int) & int(marks)) != 0)

    @property
    def at(self) -> int:
        """Which moment of the run is shown."""
        return int(np.searchsorted(self.run.time, self.time + 1e-9, side="right")) - 1


def panel(file: CarFile) -> Panel:
    """Make the lift panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` with a button that saves an animated picture [-]
    """
    car, setup = file.car, file.setup
    both = stack([reference_of(file).setup, setup])
    stance = attitude_words(float(attitude(car, setup)))
    view = LiftPath(car, (LEVEL, f"as it stands ({stance})"))

    @lru_cache(maxsize=4)
    def tables(speed: float, braking: float) -> Any:
        return tabulate(car, both, speed, braking)

    @lru_cache(maxsize=16)
    def runs(scenario: Scenario) -> tuple[Run, Array]:
        run = simulate(car, both, scenario, table=tables(float(scenario.speed), float(scenario.brake > 0)))
        return run, time_to_double(car, run)

    def compute(state: dict[str, Any]) -> Lift:
        starts, hands = float(state["starts"]), bool(state["hands"])
        scenario = Scenario(
            speed=speed_of(state),
            lateral=lateral_of(state),
            lift=0.0 if state["brake"] else float(state["slowing"]),
            brake=float(state["slowing"]) if state["brake"] else 0.0,
            starts=starts,
            counter_steer=1.0 if hands else 0.0,
            reaction=float(state["reaction"]) if hands else 0.0,
            lasts=LONG - starts,
        )
        run, doubling = runs(scenario)
        if not run.start.usable.all():
            told = [
                f"{name[0].upper()}{name[1:]}: {listed(state_words(run.start.state[k]))}."
                for k, name in enumerate((LEVEL, "as it stands"))
                if not run.start.usable[k]
            ]
            raise Refused(
                " ".join([*told, "There is no steady corner to start from: ask for less lateral acceleration."])
            )
        half = 0.5 * float(state["width"])
        return Lift(run, road(run, car, half), doubling, half, scenario, float(state["time"]))

    def draw(_: Any, found: Lift) -> None:
        view.draw(found.run, found.road, found.half_width, found.moments, found.time)

    controls = {
        "time": slider("Moment shown", 0, LONG, 0.05, 2.5, "s", "Move through the run; nothing is computed anew"),
        "speed": speed_slider(),
        "lateral": lateral_slider(),
        "slowing": slider(
            "Engine drag after lifting",
            0,
            0.6,
            0.01,
            0.1,
            "g",
            "The engine's pull at the driven wheels over the car's weight; 0.1 is usual for a closed throttle. Air, "
            "rolling and the corner's own drag come on top",
        ),
        "starts": slider("The foot moves at", 0.2, 1, 0.1, 0.5, "s"),
        "width": slider("Width of the road", 4, 20, 0.5, 10, "m"),
        "reaction": slider(
            "Reaction time",
            0.2,
            2.5,
            0.05,
            0.75,
            "s",
            "From the foot moving to the hands moving; only for a driver who counter-steers",
        ),
        "hands": toggle("Driver counter-steers", False, "Takes off one degree of steering for each degree of slide"),
        "brake": toggle("With the brake", False, "The same pull comes from the brakes and not from the engine"),
    }
    widgets.dlink((controls["hands"], "value"), (controls["reaction"], "disabled"), lambda ticked: not ticked)
    folded = ("starts", "width", "reaction", "hands", "brake")
    made = Panel(controls, compute, draw, words, view.picture, ahead=True, folded=folded)
    _add_button(made, file.car.name)
    return made


def save_film(made: Panel, path: str | Path) -> str:
    """Write the run a lift panel shows as an animated picture, and say where it went.

    Parameters:
        made: the panel [-]
        path: where to write, ending in .gif or .png [-]

    Returns:
        a sentence for the user [-]

    Errors:
        ``InputError`` for another ending, or where the file cannot be written; ``Refused`` when there is no run.
    """
    found, picture = made.result, made.picture
    if found is None or picture is None:
        raise Refused("There is no run to save: see the message above.")

    def show(time: float) -> None:
        made.drawer.draw(picture, Lift(**{**found.__dict__, "time": time}))

    try:
        return save_animation(picture, show, float(found.run.time[-1]), path, caution=CAUTION)
    finally:
        made.drawer.draw(picture, found)


def _add_button(made: Panel, name: str) -> None:
    """Put the button that saves an animated picture under a panel."""
    button = widgets.Button(
        description="Save as an animated picture",
        tooltip="Write the whole run as a .gif beside this workbook; it takes a few seconds",
        layout=widgets.Layout(width="auto"),
    )
    said = widgets.HTML()
    plain = "".join(c if c.isalnum() else "-" for c in name.lower()).strip("-")[:40] or "car"

    def pressed(_: Any) -> None:
        try:
            free = next(p for i in range(1, 1000) if not (p := Path(f"lift-{plain}-{i}.gif")).exists())
            said.value = escape(save_film(made, free))
        except (InputError, Refused) as error:
            said.value = alert(str(error))

    button.on_click(pressed)
    made.save_button, made.saved = button, said  # type: ignore[attr-defined]
    made.add(widgets.HBox([button, said], layout=widgets.Layout(grid_gap="12px")))


def words(found: Lift) -> str:
    """State in words and numbers what the picture shows.

    Parameters:
        found: one moment of a run [-]

    Returns:
        HTML [-]
    """
    run, at = found.run, found.at
    whole = ["In the whole run", "tail out at most", "on the road?", f"doubled, on the way to {TOLD}, in"]
    now = [
        f"At {found.time:.2f} s",
        "speed",
        "lateral",
        "tail out",
        "front wheels turned",
        "a small slide more",
        "rear left / right",
    ]
    rows, moments = [], []
    for k, name in ((1, "as it stands"), (0, LEVEL)):
        most, least = from_si(float(run.slide[:, k].max()), "deg"), found.shortest(k)
        spun = f"past {PAST} at {run.held[k]:.2f} s" if found.spun[k] else f"{number(most, 1)}°"
        doubles = f"{least:.2f} s" if np.isfinite(least) else "it grows slowly"
        rows.append([name, spun, _on_the_road(found, k), "it stops" if found.stops(k) else doubles])
        grows, load = float(found.doubling[at, k]), run.load[1, :, at, k] / G
        small = f"doubles in {grows:.2f} s" if grows < LONG_DOUBLING else "dies out or hardly grows"
        moments.append(
            [
                name,
                says(float(run.speed[at, k]), "kmh", 0),
                f"{number(float(run.lateral[at, k]) / G, 2)} g",
                f"{number(from_si(float(run.slide[at, k]), 'deg'), 1)}°",
                f"{number(from_si(float(run.steer[at, k]), 'deg'), 1)}°",
                "past the tyres' peak" if found.past_peak(k) else small,
                " / ".join(says(float(value), "kg", 0) for value in load),
            ]
        )
    return (
        f"<div><b>{escape(which_turned_more(found))}</b> {escape(against_the_driver(found))}</div>{table(whole, rows)}"
        f"{table(now, moments)}{_marks(found)}<div><em>{escape(BOUNDS)}</em></div>"
    )


def _marks(found: Lift) -> str:
    """Describe what is out of the ordinary at the moment shown, and for which car."""
    first, second = ({*mark_words(found.run.marks[found.at, k])} for k in (0, 1))
    told = [
        f"{words} ({'both cars' if words in first & second else LEVEL if words in first else 'as it stands'})"
        for words in sorted(first | second)
    ]
    return f"<div>At {found.time:.2f} s: {escape('; '.join(told))}.</div>" if told else ""


def which_turned_more(found: Lift) -> str:
    """State which of the two cars swung its tail out further, and by how much.

    Parameters:
        found: one moment of a run [-]

    Returns:
        a sentence [-]
    """
    gap = float(np.subtract(*from_si(found.run.slide.max(axis=0), "deg")[::-1]))
    held, spun = found.run.held, found.spun
    more = "As it stands" if (held[1] < held[0] if spun.all() else gap > 0) else f"{LEVEL[0].upper()}{LEVEL[1:]}"
    if spun.all() and abs(float(held[0] - held[1])) < 0.05:
        return f"Both slide past {PAST}, as good as together."
    if spun.all():
        return f"Both slide past {PAST}. {more} the car does so {abs(float(held[0] - held[1])):.2f} s sooner."
    if spun.any():
        return f"Only one slides past {PAST}: the car {'as it stands' if spun[1] else LEVEL}."
    if abs(gap) < LEAST:
        return "No difference to speak of in how far the tail swings out."
    return f"{more} the car turns more: its tail swings out {number(abs(gap), 1)}° further."


def against_the_driver(found: Lift) -> str:
    """Set the time in which a small slide doubles beside the time a driver needs to answer.

    Parameters:
        found: one moment of a run [-]

    Returns:
        sentences [-]
    """
    ready, late = REACTION["expecting it"], REACTION["surprised"][1]
    least, most = found.shortest(1), from_si(float(found.run.slide[:, 1].max()), "deg")
    needs = (
        f"A driver who expects a signal needs {ready[0]:.2f} to {ready[1]:.2f} s to move a foot, one who does not "
        f"{REACTION['not expecting it'][0]:.2f} s, a surprised one about {late:.1f} s (Green 2000)."
    )
    if found.stops(1):
        held = "and the wheel held still" if not found.scenario.counter_steer else "with the hands answering it"
        return f"As the car stands, the slide stops at {number(most, 1)}°, {held}. {needs}"
    if not np.isfinite(least):
        return f"As the car stands, the slide grows slowly but does not stop. {needs}"
    return (
        f"As the car stands, the slide doubles in {least:.2f} s where it grows fastest on its way to {TOLD}: "
        f"{_fold(ready[0] / least)} in {ready[0]:.2f} s, {_fold(late / least)} in {late:.1f} s, were it to go on so. "
        f"{needs}"
    )


def _fold(doublings: float) -> str:
    return f"{2**doublings:.1f} times as large" if doublings < 5 else "more than 30 times as large"


def _on_the_road(found: Lift, k: int) -> str:
    """State whether one car leaves the road, when and to which side."""
    run, leaves = found.run, float(found.road.leaves[k])
    end = min(float(run.held[k]), float(run.time[-1]))
    if leaves > end:
        return f"yes, until the run ends at {end:.1f} s"
    outward = float(found.road.outward[np.searchsorted(run.time, leaves), k])
    return f"a wheel is off at {leaves:.2f} s, on the {'outside' if outward > 0 else 'inside'}"


def asked(file: CarFile) -> Panel:
    """Make the lift panel of one car under a question that is answered before the foot's slider can be moved.

    Parameters:
        file: the car file [-]

    Returns:
        the ``Panel``; its attribute ``question`` holds the question [-]
    """
    text = (
        "The foot will slow the car harder than now. Which car will then swing its tail out further, "
        f"or be the first to slide past {PAST}?"
    )
    options = ("the car as it stands", f"the car {LEVEL}", "hardly any difference")

    def judge(start: Lift, now: Lift) -> str | None:
        if now.scenario.lift + now.scenario.brake <= start.scenario.lift + start.scenario.brake:
            return None
        said = which_turned_more(now)
        return options[2] if said.startswith("No") else options[0] if "s it stands" in said else options[1]

    def because(_: Lift, now: Lift) -> str:
        most = [
            f"slides past {PAST} after {now.run.held[k]:.2f} s"
            if now.spun[k]
            else f"swings out {number(from_si(float(now.run.slide[:, k].max()), 'deg'), 1)}°"
            for k in (0, 1)
        ]
        least = [float(now.doubling[:, k].min()) for k in (0, 1)]
        grows = ["never grows" if not np.isfinite(t) else f"doubles in {t:.2f} s at worst" for t in least]
        return (
            f"{LEVEL} a small slide {grows[0]} and the tail {most[0]}; as it stands it {grows[1]} and the tail "
            f"{most[1]}."
        )

    return ask(panel(file), "slowing", 0.2, text, options, judge, because)
