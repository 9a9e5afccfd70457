"""Laps typed by hand: the boxes, what was made of them, and what is still wanting."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets as widgets

from ..checks import InputError
from ..laps.notes import KEYS, SESSIONS, UNITS, corner_names, typed_session
from .day_laps import judge_day
from .day_sessions import Day, Run
from .logbox import LABELS
from .shared_whatif import row, say

HOW = (
    "One lap a line: the lap time, then <b>t</b> if traffic held it up, then the lowest speed in each corner named, in "
    "that order. Such as <code>1:32.45</code> or <code>92.45 t 63 88</code>. Saved as you type. Have a passenger or "
    "the logger read the numbers: never write while driving."
)


class TypedLaps:
    """A box of text for each session, the corners' names, the unit of their speeds, and the day that comes of them."""

    def __init__(self, notes: Mapping[str, Any], changed: Callable[[], None]) -> None:
        """Fill the boxes from the notes; ``changed`` is called after every change, the day read."""
        self.changed = changed
        self.day: Day | None = None
        self.fault = ""
        """What is wrong with the laps typed last; empty where they could be read."""
        self.said = widgets.HTML()
        self.texts: dict[str, Any] = {
            key: widgets.Textarea(
                value=notes.get(f"typed.{key}", ""),
                placeholder="1:32.45\n1:32.80 t\n1:31.90",
                rows=7,
                layout=widgets.Layout(width="17em"),
            )
            for key in KEYS
        }
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
            control.observe(lambda _: self._change(), names="value")
        heads = [widgets.HTML(f"<b>{LABELS[n].replace('Log', 'Laps')}</b>") for n in SESSIONS]
        columns = [widgets.VBox([h, t]) for h, t in zip(heads, self.texts.values(), strict=True)]
        how = widgets.HTML(f'<div class="vd-words">{HOW}</div>')
        self.box = widgets.VBox([how, row(self.corners, self.unit), row(*columns), self.said])
        self.read()

    @property
    def begun(self) -> bool:
        """Whether anything is typed."""
        return any(text.value.strip() for text in self.texts.values())

    @property
    def notes(self) -> dict[str, str]:
        """What is kept of it, by its dotted name."""
        out = {f"typed.{key}": text.value for key, text in self.texts.items()}
        return out | {"typed.corners": self.corners.value, "typed.speed_unit": self.unit.value}

    def _change(self) -> None:
        self.read()
        self.changed()

    def read(self) -> None:
        """Turn the typed laps into a day; what cannot be read is said, and the day read before stays."""
        self.fault = ""
        texts = {name: self.texts[key].value for key, name in zip(KEYS, SESSIONS, strict=True)}
        if not self.begun:
            self.day = None
            say(self.said, "")
            return
        used = [name for name in SESSIONS if name != SESSIONS[2] or texts[name].strip()]
        empty = [name for name in used if not texts[name].strip()] if self.day is None else []
        try:
            corners = corner_names(self.corners.value)
            full = [name for name in used if name not in empty]
            runs = tuple(Run(typed_session(name, texts[name], corners, self.unit.value)) for name in full)
            if empty:
                say(self.said, f"Read and saved: {_counted(runs)}. Still to type: laps {' and '.join(empty)}.")
                return
            day = Day(runs)
            judge_day(day, "usual")
        except InputError as fault:
            stays = "\nThe laps typed before stay in the picture." if self.day else ""
            self.fault = str(fault)
            say(self.said, f"{fault}{stays}", bad=True)
        else:
            self.day = day
            say(self.said, f"Read: {_counted(runs)}. Saved.")


def _counted(runs: Sequence[Run]) -> str:
    return ", ".join(f"{len(run.session.lap_time)} {run.session.name}" for run in runs)
