"""The what-if panel: every setting a workshop can change on sliders, beside the car as it stands and saved what-ifs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..car.carfile import CarFile
from ..car.keys import ENDS
from ..car.tyre import KINDS
from ..checks import InputError
from ..draw.whatif import WhatIf
from ..setup import saved as saved_whatifs
from ..setup.candidate import Candidate, Load, Version, between, put_all, version
from ..setup.page_wheels import tape_words
from ..setup.whatif import MOST, Comparison, compare, uneven, why
from ..shown import says
from ..units import from_si, to_si
from .base import Panel, choice, slider, toggle
from .moments import MOMENT, lateral_of, moment_controls, moment_of, speed_of
from .shared_whatif import SharedWhatIf, button, inspected, row, say, say_unread
from .whatif_words import ShownWhatIf, words

SPANS: dict[str, tuple[str, str, float, float]] = {
    "height": ("ride height", "mm", 1, 30),
    "spring": ("spring", "N_per_mm", 1, 40),
    "bar": ("anti-roll bar", "Nm_per_deg", 5, 300),
    "toe": ("toe, each wheel", "deg", 0.01, 0.4),
    "camber": ("camber", "deg", 0.1, 2),
    "pressure": ("hot pressure", "bar", 0.05, 0.6),
}
"""Setting → its short name, unit, step, and how far its slider goes to either side of the car as it stands."""
LOWEST = {"spring": 5.0, "bar": 0.0, "pressure": 0.8, "height": 20.0}
"""Where a slider ends at the latest."""
AS_FITTED = "as fitted"
PLACES = {
    "load_behind": ("Behind front axle", "behind_front", 0, 4000, 1200),
    "load_left": ("Left of the middle", "left", -800, 800, 0),
    "load_height": ("Above the ground", "height", 100, 1200, 300),
}
"""Control → its label, the field of the load, and range and start [mm]."""
FOLDS = {
    "The corner": MOMENT,
    "Toe, camber, pressures": [f"{end}_{field}" for field in ("toe", "camber", "pressure") for end in ENDS],
    "Weight and tyres": ["load_name", "load_mass", *PLACES, "front_tyre", "rear_tyre"],
}
"""Fold of controls → the controls in it; the others are always in sight."""


class Sliders:
    """Sliders that start at numbers between their steps: untouched, they stand for the exact number."""

    def __init__(self, base: Version) -> None:
        """Make one for each setting of both ends."""
        self.base = base
        self.exact: dict[str, float] = {}
        self.made: dict[str, Any] = {}
        for field in SPANS:
            for end in ENDS:
                self._make(end, field)

    def _make(self, end: str, field: str) -> None:
        words, unit, step, reach = SPANS[field]
        now = float(getattr(getattr(self.base.setup, end), field))
        at = round(from_si(now, unit) / step)
        low = round(max(LOWEST.get(field, -1e9), (at * step) - reach) / step)
        count = round(reach / step)
        low, high = min(low, at), at + count
        name = f"{end}_{field}"
        self.exact[name] = now
        label = f"{end.capitalize()} {words}"
        digits = {"toe": 2, "camber": 1, "pressure": 2}.get(field, 0)
        shown = {"N_per_mm": "N/mm", "Nm_per_deg": "Nm/deg"}.get(unit, unit)
        hint = f"{label}; as it stands {from_si(now, unit):.{digits}f} {shown}"
        first, start, last = (round(v * step, 6) for v in (low, at, high))
        self.made[name] = slider(label, first, last, step, start, shown, hint)

    def value(self, name: str, shown: float) -> float:
        """Return the SI value a slider stands for: the exact one while it shows that one, rounded to its step."""
        _, unit, step, _ = SPANS[name.partition("_")[2]]
        exact = self.exact[name]
        near = abs(from_si(exact, unit) - shown) <= 0.5001 * step
        return exact if near else float(to_si(shown, unit))

    def move(self, name: str, value: float) -> float:
        """Take over an exact SI value, give what the slider shows for it, and widen the slider where it must be."""
        _, unit, step, _ = SPANS[name.partition("_")[2]]
        self.exact[name] = value
        shown = float(round(round(from_si(value, unit) / step) * step, 6))
        control = self.made[name]
        control.min, control.max = min(control.min, shown), max(control.max, shown)
        return shown


def panel(file: CarFile) -> Any:
    """Make the what-if panel of one car, with the row that saves and opens what-ifs.

    Parameters:
        file: the car file [-]

    Returns:
        a widget whose attribute ``panel`` is the ``Panel`` [-]
    """
    return WhatIfDesk(SharedWhatIf.of(file))


class WhatIfDesk:
    """The panel and what stands under it."""

    def __init__(self, bench: SharedWhatIf) -> None:
        """Build everything, the sliders at the car as it stands."""
        self.bench, self.view = bench, WhatIf()
        self.sliders = Sliders(bench.base)
        self.rest: Candidate = Candidate()
        """Settings and loads of an opened what-if that no slider holds."""
        self._others: dict[bool, tuple[Any, Comparison, tuple[Version, ...]]] = {}
        bench.compared = ()
        self.name = widgets.Text(value="what-if", description="Name", layout=widgets.Layout(width="19em"))
        self.panel = Panel(
            self._controls(),
            self._compute,
            self._draw,
            words,
            self.view.picture,
            ahead=True,
            folded=FOLDS,
            rough=partial(self._compute, roughly=True),
        )
        self.panel.when_shown, self.panel.when_still = self._tell, self.keep
        bench.put, bench.saved_more = self.put, lambda: self._refill(self.list.value or "")
        self.over = widgets.Checkbox(value=False, description="may replace", indent=False)
        self.over.layout.width = "auto"
        self.list = widgets.Dropdown(description="Saved", layout=widgets.Layout(width="19em"))
        self.beside = widgets.SelectMultiple(
            description="Show beside",
            rows=3,
            tooltip="Hold Ctrl (Cmd) for several",
            layout=widgets.Layout(width="22em"),
        )
        self.message = widgets.HTML()
        for control in (self.name, self.list, self.beside):
            control.style.description_width = "auto"
        self.save_button = button("Save it", "Save this what-if beside the car file", self._save, self.message)
        self.open_button = button("Open it", "Put a saved what-if on the sliders", self._open, self.message)
        self.beside.observe(lambda change: self._compare(change["new"]), names="value")
        self._refill()
        self._tell()
        if saved_whatifs.LEFT_OFF in self.list.options:
            self.list.value = saved_whatifs.LEFT_OFF
            say(
                self.message,
                f'"{saved_whatifs.LEFT_OFF}" is what the sliders showed last time: press Open it to have it back.',
            )
        say_unread(bench.file, self.message)
        keep = row(self.name, self.save_button, self.over, self.list, self.open_button, self.beside)
        care = widgets.HTML(f'<div class="vd-words"><b>Caution.</b> {BALLAST}</div>')
        self.box = widgets.VBox([inspected(bench.file), self.panel.show(), care, keep, self.message])

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    def put(self, candidate: Candidate) -> None:
        """Set every control to a candidate; what no slider holds is kept as it is."""
        base = self.bench.base
        setup, left = put_all(base.setup, candidate.settings), {}
        for path, value in candidate.settings.items():
            if path.rpartition(".")[2] not in SPANS and not path.endswith("aligned_height"):
                left[path] = value
        moved = {
            f"{end}_{field}": self.sliders.move(f"{end}_{field}", float(getattr(getattr(setup, end), field)))
            for end in ENDS
            for field in SPANS
        }
        aligned = {end: (float(getattr(setup, end).aligned_height), float(getattr(setup, end).height)) for end in ENDS}
        anew = all(read == height for read, height in aligned.values())
        if not anew:
            left |= {f"{end}.aligned_height": read for end, (read, _) in aligned.items()}
        first = candidate.loads[0] if candidate.loads else None
        fits = first is not None and all(self._fits(first, name) for name in PLACES) and first.mass % 5 == 0
        load = first if fits else None
        self.rest = replace(candidate, settings=left, loads=candidate.loads[1:] if fits else candidate.loads)
        values: dict[str, Any] = moved | {"anew": anew, "load_mass": load.mass if load else 0.0}
        values["load_name"] = load.name if load and load.name in LOADS else LOADS[0]
        for name, (_, key, _, _, start) in PLACES.items():
            values[name] = from_si(getattr(load, key), "mm") if load else start
        values |= {f"{end}_tyre": candidate.tyres.get(end, AS_FITTED) for end in ENDS}
        self.name.value = candidate.name
        self.panel.set_all(values)
        self.panel.refresh()

    def _fits(self, load: Load, name: str) -> bool:
        """Whether a slider can hold a load's place."""
        _, key, low, high, _ = PLACES[name]
        value = from_si(getattr(load, key), "mm")
        return bool(low <= value <= high and abs(value / 50 - round(value / 50)) < 1e-6)

    def _controls(self) -> dict[str, Any]:
        controls: dict[str, Any] = {
            **moment_controls(),
            **self.sliders.made,
            "anew": toggle("toe and camber set anew", True, "Toe and camber are set again at the new ride heights"),
            "load_name": choice("What goes in or out", LOADS, LOADS[0]),
            "load_mass": slider("Mass in or out", -100, 150, 5, 0, "kg"),
        }
        for name, (label, _, low, high, start) in PLACES.items():
            controls[name] = slider(label, low, high, 50, start, "mm")
        for end in ENDS:
            controls[f"{end}_tyre"] = choice(f"{end.capitalize()} tyre kind", [AS_FITTED, *KINDS], AS_FITTED)
        return controls

    def candidate(self, state: Mapping[str, Any]) -> Candidate:
        """Return the candidate that the controls stand for."""
        base, made = self.bench.base, self.sliders.made
        values = {name.replace("_", ".", 1): self.sliders.value(name, state[name]) for name in made}
        if state["anew"]:
            values |= {f"{end}.aligned_height": values[f"{end}.height"] for end in ENDS}
        for path, value in self.rest.settings.items():
            if not (state["anew"] and path.endswith("aligned_height")):
                values[path] = value
        setup = put_all(base.setup, values)
        loads = self.rest.loads
        if state["load_mass"]:
            places = {key: float(to_si(state[name], "mm")) for name, (_, key, *_) in PLACES.items()}
            loads = (Load(state["load_name"], state["load_mass"], **places), *loads)
        tyres = {end: state[f"{end}_tyre"] for end in ENDS if state[f"{end}_tyre"] != AS_FITTED}
        name = self.name.value.strip() or "what-if"
        return between(base, setup, name, loads=loads, tyres=tyres, note=self.rest.note)

    def _compute(self, state: dict[str, Any], roughly: bool = False) -> ShownWhatIf:
        bench = self.bench
        speed, lateral = speed_of(state), lateral_of(state)
        tried = replace(version(self.candidate(state), bench.base), name="this what-if")
        found, saved = self._beside(tried, speed, lateral, roughly)
        found = found.worse(state["phase"])
        moment = moment_of(state)
        moment = replace(moment, lateral=found.turn * moment.lateral)
        at = found.phases.index(state["phase"])
        both = bool(np.isfinite(found.angle[:2, at]).all())
        ledger = why(bench.base, tried, moment) if both else None
        tape = tape_words(bench.file, tried.car, tried.setup)
        return ShownWhatIf(found, ledger, (bench.base, tried, *saved), state["phase"], tape)

    def _tell(self) -> None:
        """Let the other panels know what the sliders show."""
        self.bench.candidate = self.candidate(self.panel.state)

    def _beside(
        self, tried: Version, speed: float, lateral: float, roughly: bool
    ) -> tuple[Comparison, tuple[Version, ...]]:
        """The car as it stands, the what-if and the saved ones; those that no slider moves, solved once a moment.

        A rough what-if stands beside others that are as rough: else it would differ where nothing was changed.
        """
        fine = () if roughly else None
        key, others = (speed, lateral, self.bench.compared), self._others.get(roughly)
        if others is not None and others[0] == key:
            _, base, saved = others
            found = base.only(0).beside(compare([tried], speed, lateral, fine=fine))
            for i in range(1, len(base.names)):
                found = found.beside(base.only(i))
            return found, saved
        saved = tuple(self.bench.saved(name) for name in self.bench.compared)
        found = compare([self.bench.base, tried, *saved], speed, lateral, fine=fine)
        base = found.only(0)
        for i in range(2, len(found.names)):
            base = base.beside(found.only(i))
        if not any(uneven(one.car, one.setup) for one in (self.bench.base, *saved)):
            base = replace(base, other=None)  # only the what-if turns otherwise to the right than to the left
        self._others[roughly] = (key, base, saved)
        return found, saved

    def _draw(self, _: Any, shown: ShownWhatIf) -> None:
        self.view.draw(shown.found, shown.ledger, shown.phase)

    def _save(self) -> str:
        candidate = replace(self.candidate(self.panel.state), name=self.name.value.strip())
        where = saved_whatifs.save_whatif(self.bench.file, candidate, self.over.value)
        self.over.value = False
        self._refill(candidate.name)
        return f"Saved as {where}"

    def keep(self) -> None:
        """Keep what the sliders show beside the car file, under a name of its own."""
        candidate = self.candidate(self.panel.state)
        if candidate.empty:
            return
        try:
            saved_whatifs.save_whatif(
                self.bench.file, replace(candidate, name=saved_whatifs.LEFT_OFF), over=True, own=True
            )
            self._refill(self.list.value or "")
        except InputError as fault:
            say(self.message, str(fault), bad=True)

    def _open(self) -> str:
        if not self.list.value:
            return "No what-if of this car is saved yet."
        self.put(saved_whatifs.load_whatif(self.bench.file, self.list.value))
        if self.list.value == saved_whatifs.LEFT_OFF:
            self.name.value = "what-if"
        more = f"; kept as saved: {', '.join(self.rest.settings)}" if self.rest.settings else ""
        return f"{self.list.value} is on the sliders{more}"

    def _compare(self, names: Sequence[str]) -> None:
        self.bench.compared = tuple(names)[: MOST - 2]
        self.panel.refresh()
        if self.panel.message:
            self.bench.compared = ()
        elif len(names) > len(self.bench.compared):
            say(self.message, f"Shown beside: the first {len(self.bench.compared)}. No more fit into the picture.")

    def _refill(self, chosen: str = "") -> None:
        names = saved_whatifs.whatif_names(self.bench.file)
        kept = [name for name in self.beside.value if name in names]
        self.list.options = names
        if chosen:
            self.list.value = chosen
        self.beside.options = names
        self.beside.value = kept


LOADS = ("ballast", "fuel", "driver", "luggage")
BALLAST = "Ballast: bolt it to the car's structure as the event's rules say. A loose mass kills."


def _kg(one: Version) -> str:
    return says(float(one.car.mass), "kg", 0)
