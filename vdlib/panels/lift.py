"""The lift panel: one corner, one lift, the car as it stands beside itself at its reference heights."""

from __future__ import annotations

from functools import lru_cache
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from ..answers.lift import (
    Run,
    Scenario,
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
from ..trim.trim import UNUSABLE, state_words
from ..units import Array, from_si, number
from .base import Panel, Refused, slider, toggle
from .lift_words import LEVEL, PAST, Lift, ahead_of_other, course, words
from .moments import lateral_of, lateral_slider, speed_of, speed_slider
from .predict import ask
from .said import alert

LONG = 4.0
"""Length of a run [s]; the foot moves within the first second of it."""
CAUTION = (
    "A teaching model with stated bounds: it tells two setups apart and is no forecast of where a car goes. "
    "Never look for the limit on a public road."
)
"""The line under every picture of a saved run."""


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
                f"{name[0].upper()}{name[1:]}: {listed(state_words(int(run.start.state[k]) & UNUSABLE))}."
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


def asked(file: CarFile) -> Panel:
    """Make the lift panel of one car under a question that is answered before the foot's slider can be moved.

    Parameters:
        file: the car file [-]

    Returns:
        the ``Panel``; its attribute ``question`` holds the question [-]
    """
    text = (
        "The foot will slow the car harder than now. Which car will then swing its tail out further, "
        f"or be the first to turn {PAST}?"
    )
    options = ("the car as it stands", f"the car {LEVEL}", "hardly any difference")

    def judge(start: Lift, now: Lift) -> str | None:
        if now.scenario.lift + now.scenario.brake <= start.scenario.lift + start.scenario.brake:
            return None
        first = ahead_of_other(now)
        return options[2] if first is None else options[0] if first else options[1]

    def because(_: Lift, now: Lift) -> str:
        most = [
            f"turns the car {PAST} after {now.run.held[k]:.2f} s"
            if now.spun[k]
            else f"swings out {number(from_si(float(now.run.slide[:, k].max()), 'deg'), 1)}°"
            for k in (0, 1)
        ]
        if ahead_of_other(now) is None:  # how fast each grows is no reason then
            return f"{LEVEL} the tail {most[0]}; as it stands the tail {most[1]}."
        grows = [course(now, k) for k in (0, 1)]
        return (
            f"{LEVEL} a small slide {grows[0]} and the tail {most[0]}; as it stands it {grows[1]} and the tail "
            f"{most[1]}."
        )

    return ask(panel(file), "slowing", 0.2, text, options, judge, because)
