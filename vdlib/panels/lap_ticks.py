"""Laps left out: a tick box for every lap of the day shown, and what was ticked for each source of laps."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from html import escape
from typing import Any

import ipywidgets as widgets

from .base import toggle
from .day_sessions import Day
from .shared_whatif import row

TICKS = (
    "A ticked lap is left out. Laps far from the usual one are ticked at the start. Tick a lap for what happened in "
    "it, such as traffic, never for its time: leaving out laps because they are slow makes chance look like an effect."
)
TYPED = "Typed laps: put a <b>t</b> behind the lap time of every lap that traffic held up."


class LapTicks:
    """The boxes, and source of laps → session → laps ticked, counted from 1."""

    def __init__(self, changed: Callable[[], None]) -> None:
        """Start without laps; ``changed`` is called after every tick."""
        self.changed = changed
        self.left_out: dict[str, dict[str, list[int]]] = {}
        self.ticks: dict[str, list[Any]] = {}
        self.box = widgets.VBox()
        self._of: Any = None
        self._place = ""
        self._logs: Any = None

    def new_logs(self, source: str, texts: dict[str, str], day: Day | None, ticked: dict[str, list[int]]) -> None:
        """Start with these ticks where the logs hold other laps than before.

        Parameters:
            source: under which name the ticks of logs are kept [-]
            texts: paths of the logs [-]
            day: what was read of them [-]
            ticked: session → laps ticked [-]
        """
        laps = {} if day is None else {r.session.name: len(r.session.lap_time) for r in day.runs}
        told = (texts, laps)
        if told == self._logs or not laps:
            return
        self._logs = told
        good = {n: v for n, v in ticked.items() if n in laps and all(1 <= i <= laps[n] for i in v)}
        self.left_out[source] = good

    def offer(self, key: Hashable, place: str, day: Day | None) -> None:
        """Make a tick box for every lap, when another day is shown.

        Parameters:
            key: what tells this day from others [-]
            place: under which name its ticks are kept [-]
            day: the day; None where laps are marked as they are typed [-]
        """
        if key == self._of:
            return
        self._of, self._place, self.ticks = key, place, {}
        if day is None:
            self.box.children = [widgets.HTML(f'<div class="vd-words">{TYPED}</div>')]
            return
        lines = []
        for run in day.mark(self.left_out.get(place, {})).runs:
            one = run.session
            for i, (time, clear) in enumerate(zip(one.lap_time, one.clear, strict=True), start=1):
                box = toggle(f"{i}: {time:.2f} s", not clear, f"Leave out lap {i} {one.name}")
                box.observe(lambda _: self._ticked(), names="value")
                self.ticks.setdefault(one.name, []).append(box)
            lines.append(row(widgets.HTML(f"<b>{escape(one.name)}</b>"), *self.ticks[one.name]))
        self.box.children = [widgets.HTML(f'<div class="vd-words">{TICKS}</div>'), *lines]

    def wait(self, words: str) -> None:
        """Offer no laps until another day is shown.

        Parameters:
            words: why there are none [-]
        """
        self._of, self._place, self.ticks = None, "", {}
        self.box.children = [widgets.HTML(f'<div class="vd-words">{escape(words)}</div>')]

    def _ticked(self) -> None:
        out = {name: [i for i, box in enumerate(boxes, start=1) if box.value] for name, boxes in self.ticks.items()}
        self.left_out[self._place] = out
        self.changed()
