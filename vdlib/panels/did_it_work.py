"""Did it work: laps before and after a change, typed or from logs, with what they can and cannot show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from html import escape
from typing import Any

import ipywidgets as widgets

from ..answers.sentences import PHASE_WORDS
from ..car import shelf
from ..car.carfile import CarFile
from ..checks import InputError
from ..draw.evidence import EvidencePicture
from ..laps.clubday import make
from ..laps.notes import KEYS, SESSIONS, UNITS, corner_names, keep, kept, typed_session
from ..setup.candidate import AS_IT_STANDS
from ..units import to_si
from .base import Panel, Refused, choice, slider, toggle
from .day_laps import (
    INVENTED,
    NOT_SAID,
    Day,
    DayVerdict,
    Run,
    calmer_in,
    invented,
    judge_day,
    promised,
    set_beside,
    usual_speed,
    versions,
)
from .daywords import KNOWN, QUESTIONS, words
from .logbox import LABELS, LogBox
from .shared_whatif import button, row, say

TYPED, LOGS = "laps typed by hand", "logs of my own"
SOURCES = (*INVENTED, TYPED, LOGS)
RULES = ("by_rule", "offset", "corner", "felt_before", "felt_after")
"""Sliders that are kept as numbers."""
DRAWN = {"the usual lap": "usual", "the quickest lap": "best"}
SPEED = 90.0
"""Speed at which the model is asked where no corner speeds are known [km/h]."""
SHEETS = ("Calmer?", "Invented day", "Laps by hand", "Logs", "Laps left out", "What else differed", "What was promised")
HOW = (
    "One lap a line: the lap time, then <b>t</b> if traffic held it up, then the lowest speed in each corner named, in "
    "that order. Such as <code>1:32.45</code> or <code>92.45 t 63 88</code>. Everything is saved as you type. Have a "
    "passenger or the logger read the numbers: never write while driving."
)
TO_TYPE = "type some before and some with the change, on the sheet Laps by hand."
TO_NAME = "type their paths on the sheet Logs, each with Enter."
TICKS = (
    "A ticked lap is left out. Laps far from the usual one are ticked at the start. Tick a lap for what happened in "
    "it, such as traffic, never for its time: leaving out laps because they are slow makes chance look like an effect."
)


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
        self._saved, self._ready = dict(notes), False
        self.typed: Day | None = None
        self.left_out: dict[str, dict[str, list[int]]] = {}
        """Source → session → laps ticked, counted from 1."""
        self._logs_told: Any = None
        self._weighed: tuple[Any, DayVerdict] | None = None
        self.ticks: dict[str, list[Any]] = {}
        self._ticks_of: Any = None
        self.message, self.typed_said = widgets.HTML(), widgets.HTML()
        self._typing(notes)
        self.logs = LogBox(notes, self._logs_changed)
        self.tick_box = widgets.VBox()
        controls = self._controls(notes)
        self._retype()
        if any(self.logs.texts.values()):
            self.logs.read()
        self._new_laps(
            {n: notes[f"left_out.{k}"] for k, n in zip(KEYS, SESSIONS, strict=True) if f"left_out.{k}" in notes}
        )
        mass = float(file.car.mass)
        draw = lambda _, answer: self.view.draw(answer.shown)  # noqa: E731
        self.panel = Panel(controls, self._compute, draw, lambda answer: words(answer, mass), self.view.picture)
        self.write_button = button(
            "Write its logs to my-cars",
            "Write this invented day as CSV files, to try the logs with",
            self._write,
            self.message,
        )
        self.box = self._sheets()
        say(self.message, said, bad=True)
        for control in controls.values():
            control.observe(lambda _: self._keep(), names="value")
        controls["laps_from"].observe(lambda _: self._turn(), names="value")
        self._ready = True
        self._turn()

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    # ---- widgets ---------------------------------------------------------------------------------------------

    def _typing(self, notes: dict[str, Any]) -> None:
        """Make the boxes for typed laps."""
        self.texts: dict[str, Any] = {}
        for key in KEYS:
            self.texts[key] = widgets.Textarea(
                value=notes.get(f"typed.{key}", ""),
                placeholder="1:32.45\n1:32.80 t\n1:31.90",
                rows=7,
                layout=widgets.Layout(width="17em"),
            )
        self.corners = widgets.Text(
            value=notes.get("typed.corners", ""),
            placeholder="hairpin, long left (or nothing)",
            description="Corners with a lowest speed",
            layout=widgets.Layout(width="32em"),
        )
        units = [("speed in ?", ""), *((u, u) for u in UNITS)]
        unit = notes.get("typed.speed_unit", "")
        self.unit = widgets.Dropdown(
            options=units, value=unit if unit in UNITS else "", layout=widgets.Layout(width="8em")
        )
        self.corners.style.description_width = "auto"
        for control in (*self.texts.values(), self.corners, self.unit):
            control.observe(lambda _: self._typed_changed(), names="value")

    def _controls(self, notes: dict[str, Any]) -> dict[str, Any]:
        def pick(label: str, name: str, options: Any, start: str) -> Any:
            values = [o[1] if isinstance(o, tuple) else o for o in options]
            found = notes.get(name, start)
            return choice(label, list(options), found if found in values else start)

        setups = (NOT_SAID, *versions(self.file))
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
        }
        for key, label in QUESTIONS.items():
            made[key] = pick(label, f"answers.{key}", KNOWN, "not known")
        made["setup_before"] = pick("Setup before", "promise.before", setups[1:], AS_IT_STANDS)
        made["setup_after"] = pick("Setup with the change", "promise.after", setups, NOT_SAID)
        made["phase"] = pick("Phase of the corner", "promise.phase", phases, "steady")
        return made

    def _sheets(self) -> Any:
        """Put the panel's controls and the other boxes on sheets over the picture."""
        take = self.panel.take_rows
        heads = [widgets.HTML(f"<b>{LABELS[n].replace('Log', 'Laps')}</b>") for n in SESSIONS]
        columns = [widgets.VBox([h, t]) for h, t in zip(heads, self.texts.values(), strict=True)]
        how = widgets.HTML(f'<div class="vd-words">{HOW}</div>')
        sheets = [
            row(*take(["corner", "felt_before", "felt_after"])),
            row(*take(["number"]), self.write_button),
            widgets.VBox([how, row(self.corners, self.unit), row(*columns), self.typed_said]),
            self.logs.box,
            widgets.VBox([row(*take(["by_rule", "offset"])), self.tick_box]),
            row(*take(QUESTIONS)),
            row(*take(["setup_before", "setup_after", "phase"])),
        ]
        self.tabs = widgets.Tab(sheets, titles=list(SHEETS))
        self.panel.controls["laps_from"].layout.width = "calc(32 * var(--jp-widgets-font-size))"
        self.panel.add(*take(["laps_from"]), self.message, place="top")
        self.panel.add(self.tabs)
        return self.panel.show()

    def _turn(self) -> None:
        """Show the sheet of the source chosen."""
        self.tabs.selected_index = {TYPED: 2, LOGS: 3}.get(self.panel.state["laps_from"], 0)

    # ---- what comes in ---------------------------------------------------------------------------------------

    def _typed_changed(self) -> None:
        self._keep()
        self._retype()
        if self.panel.state["laps_from"] == TYPED:
            self.panel.refresh()

    def _retype(self) -> None:
        """Turn the typed laps into a day; what cannot be read is said, and the day read before stays."""
        texts = {name: self.texts[key].value for key, name in zip(KEYS, SESSIONS, strict=True)}
        if not any(t.strip() for t in texts.values()):
            self.typed = None
            say(self.typed_said, "")
            return
        used = [name for name in SESSIONS if name != SESSIONS[2] or texts[name].strip()]
        empty = [name for name in used if not texts[name].strip()] if self.typed is None else []
        try:
            corners = corner_names(self.corners.value)
            full = [name for name in used if name not in empty]
            runs = tuple(Run(typed_session(name, texts[name], corners, self.unit.value)) for name in full)
            if empty:
                say(self.typed_said, f"Read and saved: {_counted(runs)}. Still to type: laps {' and '.join(empty)}.")
                return
            day = Day(runs)
            judge_day(day, "usual")
        except InputError as fault:
            stays = "\nThe laps typed before stay in the picture." if self.typed else ""
            say(self.typed_said, f"{fault}{stays}", bad=True)
        else:
            self.typed = day
            say(self.typed_said, f"Read: {_counted(runs)}. Saved.")

    def _logs_changed(self) -> None:
        if not self._ready:
            return
        self._new_laps({})
        self._keep()
        if self.panel.state["laps_from"] == LOGS:
            self.panel.refresh()

    def _new_laps(self, ticked: dict[str, list[int]]) -> None:
        """Start with these ticks where the logs hold other laps than before."""
        day = self.logs.day
        laps = {} if day is None else {r.session.name: len(r.session.lap_time) for r in day.runs}
        told = (self.logs.texts, laps)
        if told == self._logs_told or not laps:
            return
        self._logs_told = told
        good = {n: v for n, v in ticked.items() if n in laps and all(1 <= i <= laps[n] for i in v)}
        self.left_out[LOGS] = good

    def _write(self) -> str:
        """Write the invented day shown, or the first kind, as logs, and name them on the sheet if it is empty."""
        state = self.panel.state
        kind = state["laps_from"] if state["laps_from"] in INVENTED else next(iter(INVENTED))
        corner, power = INVENTED[kind]
        try:
            paths = make(int(state["number"]), SESSIONS, corner_gain=corner, power_gain=power).write(shelf.folder())
        except OSError as fault:
            return f"The logs could not be written: {fault.strerror or fault}"
        told = "Written: " + ", ".join(str(p) for p in paths)
        if any(self.logs.texts.values()):
            return f"{told}. Type these paths on the sheet Logs."
        self.logs.fill(dict(zip(KEYS, map(str, paths), strict=True)))
        return f"{told}. They stand on the sheet Logs; choose there or above: {LOGS}."

    def _keep(self) -> None:
        """Save everything entered, at once; a fault is said in words."""
        if not self._ready:
            return
        state = self.panel.state
        notes: dict[str, Any] = {name: state[name] for name in ("laps_from", "laps_drawn")}
        notes |= {f"typed.{key}": text.value for key, text in self.texts.items()}
        notes |= {"typed.corners": self.corners.value, "typed.speed_unit": self.unit.value}
        notes |= self.logs.texts
        notes |= {f"answers.{key}": state[key] for key in QUESTIONS}
        notes |= {f"rules.{key}": f"{state[key]:g}" for key in RULES if state[key]}
        notes |= {
            "promise.before": state["setup_before"],
            "promise.after": state["setup_after"],
            "promise.phase": state["phase"],
        }
        for key, name in zip(KEYS, SESSIONS, strict=True):
            if name in self.left_out.get(LOGS, {}):
                notes[f"left_out.{key}"] = self.left_out[LOGS][name]
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
            if self.typed is None:
                begun = any(text.value.strip() for text in self.texts.values())
                raise Refused(f"{'Not enough laps' if begun else 'No laps'} typed yet: {TO_TYPE}")
            return (source, id(self.typed)), self.typed
        if self.logs.day is None:
            begun = any(self.logs.texts.values())
            raise Refused(f"No logs read yet: {'see the sheet Logs for what is wanted.' if begun else TO_NAME}")
        return (source, id(self.logs.day)), self.logs.day

    def _compute(self, state: dict[str, Any]) -> DayVerdict:
        key, day = self._day(state)
        self._offer(key, day)
        marks = self.left_out.get(_place(key), {})
        rules = int(state["by_rule"]), float(state["offset"])
        which = (key, str(sorted(marks.items())), state["laps_drawn"], *rules)
        if self._weighed is None or self._weighed[0] != which:
            self._weighed = (which, judge_day(day.mark(marks), DRAWN[state["laps_drawn"]], *rules))
        felt = (float(state["felt_before"]), float(state["felt_after"]))
        answer = self._weighed[1]
        answer = replace(answer, calmer=calmer_in(answer.day, int(state["corner"])), felt=felt if all(felt) else ())
        answer = replace(answer, answers=tuple((name, state[name]) for name in QUESTIONS))
        if state["setup_after"] == NOT_SAID:
            return answer
        speed = usual_speed(answer.day) or float(to_si(SPEED, "kmh"))
        setups = (state["setup_before"], state["setup_after"])
        return set_beside(answer, promised(self.file, *setups, state["phase"], speed))

    def _offer(self, key: Any, day: Day) -> None:
        """Make a tick box for every lap, when another day is shown."""
        if key == self._ticks_of:
            return
        self._ticks_of, self.ticks = key, {}
        if key[0] == TYPED:
            told = "Typed laps: put a <b>t</b> behind the lap time of every lap that traffic held up."
            self.tick_box.children = [widgets.HTML(f'<div class="vd-words">{told}</div>')]
            return
        marks, lines = self.left_out.get(_place(key), {}), []
        for run in day.mark(marks).runs:
            one = run.session
            for i, (time, clear) in enumerate(zip(one.lap_time, one.clear, strict=True), start=1):
                box = toggle(f"{i}: {time:.2f} s", not clear, f"Leave out lap {i} {one.name}")
                box.observe(lambda _: self._ticked(), names="value")
                self.ticks.setdefault(one.name, []).append(box)
            lines.append(row(widgets.HTML(f"<b>{escape(one.name)}</b>"), *self.ticks[one.name]))
        self.tick_box.children = [widgets.HTML(f'<div class="vd-words">{TICKS}</div>'), *lines]

    def _ticked(self) -> None:
        out = {name: [i for i, box in enumerate(boxes, start=1) if box.value] for name, boxes in self.ticks.items()}
        self.left_out[_place(self._ticks_of)] = out
        self._keep()
        self.panel.refresh()


def _counted(runs: Sequence[Run]) -> str:
    return ", ".join(f"{len(run.session.lap_time)} {run.session.name}" for run in runs)


def _kept_number(notes: dict[str, Any], name: str, most: float) -> float:
    """What was kept of a slider, zero where nothing that it can hold was."""
    try:
        value = float(notes.get(f"rules.{name}", "0"))
    except ValueError:
        return 0
    return value if 0 <= value <= most else 0


def _place(key: Any) -> str:
    """Under which name the ticks of a source stand."""
    return LOGS if key[0] == LOGS else str(key)
