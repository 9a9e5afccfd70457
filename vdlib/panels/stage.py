"""The film in the browser: one corner twice, side by side, drawn on a canvas from arrays the kernel sends once."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from pathlib import Path
from typing import Any, cast

import anywidget
import ipywidgets as widgets
import numpy as np
import traitlets

from ..answers import film_words
from ..answers.corner import Corner
from ..answers.edge import SHORT
from ..answers.film import BEFORE, CORNER, FORGIVEN, Film, State, film, states_between, states_of
from ..car.carfile import CarFile
from ..car.records import Setup
from ..car.reference import reference_of
from ..checks import InputError
from ..draw import stage_layout
from ..draw.liftpath import save_animation
from ..draw.stage import CAUTION, StagePicture
from .base import Refused
from .said import alert, retold_all
from .shared_whatif import SharedWhatIf, button

FILMS = 6
"""Films kept: every panel of a page shows the same one."""
EVERY = 0.08
"""Time from one picture of a saved film to the next [s]."""
HERE = Path(__file__).parent


class FilmWidget(anywidget.AnyWidget):
    """The canvas, its buttons and its keys; see ``film.js``."""

    _esm = HERE / "film.js"
    _css = HERE / "film.css"
    sent = traitlets.Dict().tag(sync=True)
    """Words, places and colours."""
    runs = traitlets.Bytes().tag(sync=True)
    """The runs as float32: [channel][state][speed][time]."""
    turn = traitlets.Float(1.0).tag(sync=True)
    """The way the corner goes that the user asks for: 1 left, -1 right."""
    state = traitlets.Int(1).tag(sync=True)
    """The state on the right, and the speed, when the film was last asked for as a file."""
    speed = traitlets.Int(0).tag(sync=True)
    said = traitlets.Int(-1).tag(sync=True)
    """The answer that was given to the question; below zero while there is none."""
    saves = traitlets.Int(0).tag(sync=True)
    """How often the user has asked for the film as a file."""

    def as_left(self, old: FilmWidget) -> None:
        """Put the film as one of the same car was left: the way its corner goes and the answer given.

        Parameters:
            old: the film in whose place this one comes [-]
        """
        self.turn, self.said = old.turn, old.said


def packed(found: Film) -> bytes:
    """Put the runs of a film into the bytes that the browser reads.

    Parameters:
        found: the film [-]

    Returns:
        float32 numbers [channel][state][speed][time] [-]
    """
    channels = [found.x, found.y, found.heading, found.sideslip, found.slide, found.steer]
    return np.ascontiguousarray(np.moveaxis(np.array(channels), 1, -1), dtype="<f4").tobytes()


def sent(found: Film, shape: dict[str, Any], asks: bool = True) -> dict[str, Any]:
    """Put everything else about a film into words and plain numbers.

    Parameters:
        found: the film [-]
        shape: the car's outline, from ``stage_layout.outline`` [-]
        asks: whether a question is put first [-]

    Returns:
        what ``film.js`` reads [-]
    """
    states, speeds = range(len(found.states)), range(len(found.speeds))
    told = {
        "plan": stage_layout.PLAN,
        "colours": stage_layout.COLOURS,
        "units": stage_layout.units(),
        "frame": stage_layout.frame(found),
        "shape": shape,
        "names": [state.name for state in found.states],
        "driver": [state.foot < 1 for state in found.states],
        "radius": found.radius,
        "width": found.width,
        "turn": found.turn,
        "before": BEFORE,
        "lost": FORGIVEN,
        "step": float(found.time[1]),
        "count": len(found.time),
        "speeds": found.speeds.tolist(),
        "own": found.own,
        "forgiven": found.forgiven.tolist(),
        "marks": [SHORT[by] for by in found.by],
        "beyond": stage_layout.beyond(found),
        "ends": [[_known(v) for v in row] for row in found.ends],
        "rise": found.rise.tolist(),
        "room": found.room.tolist(),
        "question": film_words.question(found) if asks else "",
        "options": list(film_words.options(found)) if asks else [],
        "verdict": film_words.verdict(found),
        "verdicts": [film_words.verdict(found, said) for said in range(3)],
        "thresholds": [film_words.threshold(found, k) for k in states],
        "sentences": [[film_words.sentence(found, k, v) for v in speeds] for k in states],
        "alt": "The same corner twice from above, the throttle closed: left the reference, right one state.",
        "note": CAUTION,
        "foot": film_words.foot(found),
        "title": stage_layout.title(found),
    }
    return cast(dict[str, Any], retold_all(told))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


_KEPT: dict[tuple[str, float, str], Film] = {}


def filmed(file: CarFile, turn: float = 1.0, states: tuple[State, ...] | None = None, corner: Corner = CORNER) -> Film:
    """Drive the corner with every state of a car, or take the film of the last few that were driven.

    Parameters:
        file: the car file [-]
        turn: 1 for a corner to the left, -1 for one to the right [-]
        states: its states; those that ask what did it if left out [-]
        corner: the corner and the foot; the one that every film opens with if left out [-]

    Returns:
        the ``Film`` [-]
    """
    key = (file.text, turn, f"{states!r} {corner!r}")
    if key not in _KEPT:
        while len(_KEPT) >= FILMS:
            del _KEPT[next(iter(_KEPT))]
        corner = replace(corner, turn="left" if turn > 0 else "right")
        _KEPT[key] = film(states or states_of(file.car, file.setup, reference_of(file)), corner)
    return _KEPT[key]


class StagePanel:
    """The film of one car, its question, and the button that saves it."""

    def __init__(
        self, file: CarFile, asks: bool = True, states: tuple[State, ...] | None = None, corner: Corner = CORNER
    ) -> None:
        """Drive the corner with the states that ask what did it, or with those given, and show the first moment."""
        self.file, self.asks, self.states, self.corner = file, asks, states, corner
        self.whatif: Any = None
        self.shape = stage_layout.outline(file.car)
        self.said = widgets.HTML()
        way = 1.0 if corner.turn == "left" else -1.0
        found = filmed(file, way, states, corner)
        self.film: Film = found
        self.widget = FilmWidget(sent=sent(found, self.shape, asks), runs=packed(found), speed=found.own, turn=way)
        self.widget.observe(lambda change: self._turned(change["new"]), names="turn")
        self.widget.observe(lambda _: self._asked(), names="saves")
        self.box = widgets.VBox([self.widget, self.said])
        self.box.add_class("vd-panel")

    def _turned(self, turn: float) -> None:
        """Send the same corner the other way round."""
        try:
            found = filmed(self.file, 1.0 if turn > 0 else -1.0, self.states, self.corner)
        except (InputError, Refused) as error:
            self.said.value = alert(str(error))
            return
        self.film = found
        with self.widget.hold_sync():
            self.widget.runs, self.widget.sent = packed(found), sent(found, self.shape, self.asks)

    def drive(self, states: tuple[State, ...]) -> None:
        """Drive the corner with other states, and show that.

        Parameters:
            states: the states [-]

        Errors:
            ``InputError`` for numbers out of range.
        """
        self.states = states
        self._turned(self.film.turn)

    def _asked(self) -> None:
        """Write the film beside the workbook, in the state and at the speed that are shown."""
        self.said.value = "Writing the film: some ten seconds."
        plain = "".join(c if c.isalnum() else "-" for c in self.file.car.name.lower()).strip("-")[:40] or "car"
        free = next(p for i in range(1, 1000) if not (p := Path(f"film-{plain}-{i}.gif")).exists())
        try:
            self.said.value = escape(self.save(free))
        except (InputError, Refused) as error:
            self.said.value = alert(str(error))

    def save(self, path: str | Path) -> str:
        """Write the film that is shown as an animated picture with its caution.

        Parameters:
            path: where to write, ending in .gif or .png [-]

        Returns:
            a sentence for the user [-]

        Errors:
            ``InputError`` for another ending, or where the file cannot be written.
        """
        view, found = StagePicture(self.file.car, CAUTION, 1.0), self.film
        state = min(max(int(self.widget.state), 1), len(found.states) - 1)
        speed = min(max(int(self.widget.speed), 0), len(found.speeds) - 1)
        lasts = float(found.time[-1])
        return save_animation(view.picture, lambda time: view.draw(found, state, speed, time), lasts, path, EVERY)

    def show(self) -> Any:
        """Return the widget box to be displayed as a cell's last value.

        Returns:
            an ipywidgets box [-]
        """
        return self.box


def panel(file: CarFile) -> StagePanel:
    """Make the film of one car, its question first.

    Parameters:
        file: the car file [-]

    Returns:
        a ``StagePanel`` [-]
    """
    return StagePanel(file)


def shown(file: CarFile) -> StagePanel:
    """Make the film of one car without the question.

    Parameters:
        file: the car file [-]

    Returns:
        a ``StagePanel`` [-]
    """
    return StagePanel(file, asks=False)


def between(file: CarFile, after: Setup, names: tuple[str, str] = ("as it is now", "as asked for")) -> StagePanel:
    """Make the film of one car beside itself at another setup.

    Parameters:
        file: the car file, as the car is [-]
        after: the other setup [-]
        names: what the two are called [-]

    Returns:
        a ``StagePanel`` [-]
    """
    states = states_between((file.car, file.setup), (file.car, after), names)
    return StagePanel(file, asks=False, states=states)


def whatif(file: CarFile) -> StagePanel:
    """Make the film of a car as it stands beside the what-if on the sliders, driven anew at the press of a button.

    Parameters:
        file: the car file [-]

    Returns:
        a ``StagePanel`` [-]
    """
    shared = SharedWhatIf.of(file)

    def states() -> tuple[State, ...]:
        base, now = shared.base, shared.version
        return states_between((base.car, base.setup), (now.car, now.setup), ("as it stands", "the what-if"))

    def drive() -> str:
        made.drive(states())
        return ""

    made = StagePanel(file, asks=False, states=states())
    made.whatif = shared  # kept alive with the film
    hint = "Drive the corner again with the what-if as its sliders are now"
    made.box.children = (button("Film the what-if as it is now", hint, drive, made.said), *made.box.children)
    return made


def in_corner(file: CarFile, corner: Corner) -> StagePanel:
    """Make the film of one car in another corner, without the question.

    Parameters:
        file: the car file [-]
        corner: the corner and the foot, such as those of a moment in a log [-]

    Returns:
        a ``StagePanel`` [-]
    """
    return StagePanel(file, asks=False, corner=corner)
