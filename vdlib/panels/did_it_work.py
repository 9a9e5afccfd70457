"""Did it work: laps before and after a change, typed or from logs, with what they can and cannot show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import ipywidgets as widgets

from ..answers.sentences import PHASE_WORDS
from ..car import shelf
from ..car.carfile import CarFile
from ..checks import InputError
from ..draw.evidence import EvidencePicture
from ..laps.notes import KEYS, SESSIONS, keep, kept
from ..setup.driven import own_corner
from ..setup.saved import unread
from ..units import to_si
from .base import Panel, Refused, choice, slider, still
from .day_laps import DayVerdict, judge_day, look_at, scores, set_beside, usual_speed
from .day_promise import NOT_SAID, first_asked, promised, rear_promise, versions, was_it_done
from .day_sessions import INVENTED, Coming, Day, invented, write_invented
from .daywords import KNOWN, QUESTIONS, is_driven, words
from .lap_ticks import LapTicks
from .logbox import LogBox
from .said import note
from .shared_whatif import button, row, say
from .typed_laps import TypedLaps

TYPED, LOGS = "laps typed by hand", "logs of my own"
SOURCES = (*INVENTED, TYPED, LOGS)
FELT = ("felt_before", "felt_after", "felt_again")
RULES = ("by_rule", "offset", "corner", *FELT)
"""Sliders that are kept as numbers."""
DRAWN = {"the usual lap": "usual", "the quickest lap": "best"}
SPEED = 90.0
"""Speed at which the model is asked where no corner speeds are known [km/h]."""
SHEETS = ("Calmer?", "Invented day", "Laps by hand", "Logs", "Laps left out", "What else differed", "What was promised")
TO_TYPE = "type some before and some with the change, under the tab Laps by hand."
TO_NAME = "type their paths under the tab Logs, each with Enter."


def panel(file: CarFile) -> Any:
    """Make the panel of one car's day of laps.

    Parameters:
        file: the car file; what was entered is kept beside it [-]

    Returns:
        a widget whose attribute ``panel`` is the ``Panel`` [-]
    """
    return DayDesk(file)


class DayDesk:
    """The panel, the sheets that feed it, and what is kept between two visits."""

    def __init__(self, file: CarFile) -> None:
        """Build everything from the notes kept."""
        self.file, self.view = file, EvidencePicture()
        notes, self._text, said = kept(file)
        self._saved, self._ready, self._written = dict(notes), False, False
        self._weighed: tuple[Any, DayVerdict] | None = None
        self._looked: tuple[DayVerdict, int, DayVerdict] | None = None
        self.message = widgets.HTML()
        self.typed = TypedLaps(notes, self._typed_changed)
        self.logs = LogBox(notes, self._logs_changed)
        self.laps_out = LapTicks(self._ticked)
        controls = self._controls(notes)
        if any(self.logs.texts.values()):
            self.logs.read()
        self._logs_day = self.logs.day
        self._new_logs(
            {n: notes[f"left_out.{k}"] for k, n in zip(KEYS, SESSIONS, strict=True) if f"left_out.{k}" in notes}
        )
        mass = float(file.car.mass)
        self.panel = Panel(
            controls,
            self._compute,
            self._draw,
            lambda answer: still(words(answer, mass), self._former()),
            self.view.picture,
            rough=self._to_drive,
        )
        self.write_button = button(
            "Write its logs to my-cars",
            "Write this invented day as CSV files, to try the logs with",
            self._write,
            self.message,
        )
        self.box = self._sheets()
        say(self.message, said or unread(self.file), bad=True)
        for control in controls.values():
            control.observe(lambda _: self._keep(), names="value")
        controls["laps_from"].observe(lambda _: self._turn(), names="value")
        self._ready = True
        self._turn()

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    # ---- widgets ---------------------------------------------------------------------------------------------

    def _controls(self, notes: dict[str, Any]) -> dict[str, Any]:
        def pick(label: str, name: str, options: Any, start: str) -> Any:
            values = [o[1] if isinstance(o, tuple) else o for o in options]
            found = notes.get(name, start)
            return choice(label, list(options), found if found in values else start)

        setups = (NOT_SAID, *versions(self.file))
        was, then = first_asked(self.file)
        foot = own_corner(self.file.known.visit).foot if "foot" in self.file.known.visit else "steady"
        phases = [(words, phase) for phase, words in PHASE_WORDS.items()]
        made = {
            "laps_from": pick("Laps from", "laps_from", SOURCES, SOURCES[0]),
            "laps_drawn": pick("Laps drawn", "laps_drawn", tuple(DRAWN), next(iter(DRAWN))),
            "number": slider("Invented day number", 1, 30, 1, 1),
            "by_rule": slider(
                "First laps of each session that never count", 0, 3, 1, _kept_number(notes, "by_rule", 3)
            ),
            "offset": slider(
                "A whole session may be off by",
                0.0,
                1.0,
                0.05,
                _kept_number(notes, "offset", 1),
                "s",
                "Weather, fuel, mood: one standard deviation, as you judge it; no laps can tell it",
            ),
            "corner": slider("Corner looked at, 0 for all", 0, 20, 1, _kept_number(notes, "corner", 20)),
            "felt_before": slider(
                "How calm it felt before, 0 for not said", 0, 10, 1, _kept_number(notes, "felt_before", 10)
            ),
            "felt_after": slider("Felt calm with the change", 0, 10, 1, _kept_number(notes, "felt_after", 10)),
            "felt_again": slider("Felt calm before again", 0, 10, 1, _kept_number(notes, "felt_again", 10)),
        }
        for key, label in QUESTIONS.items():
            made[key] = pick(label, f"answers.{key}", KNOWN, "not known")
        made["setup_before"] = pick("Setup before", "promise.before", setups[1:], was)
        made["setup_after"] = pick("Setup with the change", "promise.after", setups, then)
        made["phase"] = pick("Phase of the corner", "promise.phase", phases, foot)
        return made

    def _sheets(self) -> Any:
        """Put the panel's controls and the other boxes on sheets over the picture."""
        take = self.panel.take_rows
        sheets = [
            row(*take(["corner", *FELT])),
            row(*take(["number"]), self.write_button),
            self.typed.box,
            self.logs.box,
            widgets.VBox([row(*take(["by_rule", "offset"])), self.laps_out.box]),
            row(*take(QUESTIONS)),
            row(*take(["setup_before", "setup_after", "phase"])),
        ]
        self.tabs = widgets.Tab(sheets, titles=list(SHEETS))
        self.panel.controls["laps_from"].layout.width = "calc(32 * var(--jp-widgets-font-size))"
        done = was_it_done(self.file)
        self.done = widgets.HTML(note(f"{done} Then: did it work?") if done else "")
        self.panel.add(self.done, *take(["laps_from"]), self.message, place="top")
        self.panel.add(self.tabs)
        return self.panel.show()

    def _turn(self) -> None:
        """Show the sheet of the source chosen; of the own car nothing is said beside an invented day."""
        shown = self.done.value and self.panel.state["laps_from"] not in INVENTED
        self.done.layout.display = "" if shown else "none"
        self.tabs.selected_index = {TYPED: 2, LOGS: 3}.get(self.panel.state["laps_from"], 0)

    # ---- what comes in ---------------------------------------------------------------------------------------

    def _typed_changed(self) -> None:
        if not self._ready:
            return
        self._keep()
        if self.panel.state["laps_from"] == TYPED:
            self.panel.refresh()

    def _logs_changed(self) -> None:
        if not self._ready:
            return
        if self._written and self.logs.day is not self._logs_day:
            say(self.message, "")  # where to type the paths of what was written is no longer asked
            self._written = False
        self._new_logs({})
        self._keep()
        other, self._logs_day = self.logs.day is not self._logs_day, self.logs.day
        if other and self.panel.state["laps_from"] != LOGS:  # whoever chose logs wants to see them
            self.panel.set("laps_from", LOGS)
        elif self.panel.state["laps_from"] == LOGS:
            self.panel.refresh()

    def _new_logs(self, ticked: dict[str, list[int]]) -> None:
        self.laps_out.new_logs(LOGS, self.logs.texts, self.logs.day, ticked)

    def _ticked(self) -> None:
        self._keep()
        self.panel.refresh()

    def _write(self) -> str:
        """Write the invented day shown, or the first kind, as logs, and name them on the sheet if it is empty."""
        state = self.panel.state
        kind = state["laps_from"] if state["laps_from"] in INVENTED else next(iter(INVENTED))
        try:
            paths = write_invented(kind, int(state["number"]), shelf.folder())
        except OSError as fault:
            return f"The logs could not be written: {fault.strerror or fault}"
        told = "Written: " + ", ".join(str(p) for p in paths)
        if any(self.logs.texts.values()):
            self._written = True
            return f"{told}. Type these paths under the tab Logs."
        self.logs.fill(dict(zip(KEYS, map(str, paths), strict=False)))
        self._written = True
        return f"{told}. They stand under the tab Logs; choose there or above: {LOGS}."

    def _keep(self) -> None:
        """Save everything entered, at once; a fault is said in words."""
        if not self._ready:
            return
        state = self.panel.state
        notes: dict[str, Any] = {name: state[name] for name in ("laps_from", "laps_drawn")}
        notes |= self.typed.notes | self.logs.texts
        notes |= {f"answers.{key}": state[key] for key in QUESTIONS}
        notes |= {f"rules.{key}": f"{state[key]:g}" for key in RULES if state[key]}
        notes |= {
            "promise.before": state["setup_before"],
            "promise.after": state["setup_after"],
            "promise.phase": state["phase"],
        }
        for key, name in zip(KEYS, SESSIONS, strict=True):
            if name in self.laps_out.left_out.get(LOGS, {}):
                notes[f"left_out.{key}"] = self.laps_out.left_out[LOGS][name]
        if notes == self._saved:
            return
        try:
            self._saved, self._text, said = keep(self.file, notes, self._text)
        except InputError as fault:
            say(self.message, str(fault), bad=True)
        else:
            if said:
                say(self.message, said, bad=True)

    # ---- what comes out --------------------------------------------------------------------------------------

    def _day(self, state: dict[str, Any]) -> tuple[Any, Day]:
        """Return the day of the source chosen, and what tells it from others."""
        source = state["laps_from"]
        if source in INVENTED:
            return (source, state["number"]), invented(source, int(state["number"]))
        if source == TYPED:
            if self.typed.day is None and self.typed.fault:
                raise Refused(f"Under the tab {SHEETS[2]}: {self.typed.fault}")
            if self.typed.day is None:
                raise Refused(f"{'Not enough laps' if self.typed.begun else 'No laps'} typed yet: {TO_TYPE}")
            return (source, id(self.typed.day)), self.typed.day
        if self.logs.day is None:
            begun = any(self.logs.texts.values())
            raise Refused(f"No logs read yet: {'see the tab Logs for what is wanted.' if begun else TO_NAME}")
        return (source, id(self.logs.day)), self.logs.day

    def _to_drive(self, state: dict[str, Any]) -> Coming | None:
        """Return the invented day whose number has just been chosen: driving it takes too long while a slider moves."""
        weighed = None if self._weighed is None else self._weighed[0][0]
        day = Coming(state["laps_from"], int(state["number"]))
        if day.kind not in INVENTED or weighed is None or weighed[0] != day.kind or weighed[1] == state["number"]:
            return None
        self.laps_out.wait(is_driven(day))
        return day

    def _former(self) -> str:
        """Return what is still shown where what came in since could not be read; empty where all is well."""
        source = self.panel.state["laps_from"] if self._ready else ""
        if source == TYPED and self.typed.fault:
            return "the laps typed before"
        return self.logs.former if source == LOGS else ""

    def _draw(self, _: Any, answer: DayVerdict | Coming) -> Iterator[None] | None:
        if isinstance(answer, Coming):
            self.view.wait(is_driven(answer))
            return None
        return self.view.draw(answer.shown)

    def _compute(self, state: dict[str, Any]) -> DayVerdict:
        key, day = self._day(state)
        place = LOGS if key[0] == LOGS else str(key)
        self.laps_out.offer(key, place, None if key[0] == TYPED else day)
        marks = self.laps_out.left_out.get(place, {})
        rules = int(state["by_rule"]), float(state["offset"])
        which = (key, str(sorted(marks.items())), state["laps_drawn"], *rules)
        if self._weighed is None or self._weighed[0] != which:
            self._weighed = (which, judge_day(day.mark(marks), DRAWN[state["laps_drawn"]], *rules))
        near = (self._weighed[1], int(state["corner"]))
        if self._looked is None or self._looked[0] is not near[0] or self._looked[1] != near[1]:
            self._looked = (*near, look_at(*near))
        answer = self._looked[2]
        felt = scores(tuple(float(state[name]) for name in FELT), len(answer.sessions))
        answer = replace(answer, felt=felt, answers=tuple((name, state[name]) for name in QUESTIONS))
        if state["setup_after"] == NOT_SAID:
            return answer
        if answer.day.made_of and self.file.path is not None:
            return replace(answer, promise_waits=True)
        speed = usual_speed(answer.day) or float(to_si(SPEED, "kmh"))
        setups = (state["setup_before"], state["setup_after"])
        found = promised(self.file, *setups, state["phase"], speed)
        rear = rear_promise(self.file, answer.day, int(state["corner"]), *setups)
        return set_beside(answer, replace(found, rear=rear))


def _kept_number(notes: dict[str, Any], name: str, most: float) -> float:
    """What was kept of a slider, zero where nothing that it can hold was."""
    try:
        value = float(notes.get(f"rules.{name}", "0"))
    except ValueError:
        return 0
    return value if 0 <= value <= most else 0
