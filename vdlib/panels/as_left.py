"""The panel that takes back what the workshop wrote: four wheels, misses told, the car file becomes the new car."""

from __future__ import annotations

from functools import partial
from typing import Any

import ipywidgets as widgets

from ..car.carfile import CarFile
from ..car.keys import CORNERS
from ..car.reference import reference_of
from ..checks import InputError
from ..garage.typed import number_from
from ..laps import notes
from ..setup import as_left as left
from ..setup import left_figures, left_rows, saved
from ..setup.left_figures import BACK
from ..shown import label_for, retold, unit_for
from ..units import UNITS
from .base import CSS
from .onscreen import onscreen
from .shared_whatif import SharedWhatIf, button, row, say, say_unread
from .which import Which


def panel(file: CarFile) -> Any:
    """Make the panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    return AsLeftDesk(SharedWhatIf.of(file))


class AsLeftDesk:
    """A box a figure at its wheel, what was asked for, and the button that makes the new car."""

    def __init__(self, bench: SharedWhatIf) -> None:
        """Build everything; what was typed before is there again."""
        self.bench = bench
        self.message, self.note = widgets.HTML(), widgets.HTML()
        self.kept = left_figures.kept(bench.file)
        """The figures as last read from the disk or kept there."""
        self._held = False
        self._above: list[Which] = []
        """Choosers that showed this panel when the new car was saved: a double click goes on after that."""
        self.boxes: dict[str, Any] = {}
        self.source = widgets.Dropdown(
            description="What was asked", layout=widgets.Layout(width="44em", max_width="100%")
        )
        self.source.style.description_width = "initial"
        names = saved.whatif_names(bench.file)
        back = f"back to the reference ({reference_of(bench.file).name})"
        self.source.options = [(back, BACK), *((f"{name} (saved)", name) for name in names)]
        self.source.value = self.kept.asked if self.kept.asked in (BACK, *names) else BACK
        self.source.observe(lambda _: self._keep(), names="value")
        wheels = []
        toe = {"deg": "°", "arcmin": "minutes"}.get(bench.file.known.visit.get("toe_unit", "mm"), "mm at the rim")
        for corner in CORNERS:
            made = [widgets.HTML(f"<b>{corner.replace('_', ' ')}</b>")]
            for name, (words, unit, _, _) in left_rows.ROWS.items():
                shown = toe if name == "toe" else {"deg": "°"}.get(unit, label_for(unit))
                start = self.kept.typed.get(left_rows.key(name, corner), "")
                box = widgets.Text(description=f"{words} [{shown}]", continuous_update=False)
                box.value = with_label(start, unit, UNITS[unit].label)
                box.observe(partial(self._typed, unit), names="value")
                box.style.description_width = "21em"
                box.layout.width = "30em"
                self.boxes[left_rows.key(name, corner)] = box
                made.append(box)
            wheels.append(widgets.VBox(made))
        self.look_button = button("Was it done?", "Compare with what was asked for", self._look, self.message)
        self.save_button = button("Save the new car", "Write the car as it was left", self._save, self.message)
        grid = widgets.GridBox(wheels, layout=widgets.Layout(grid_template_columns="auto auto", grid_gap="6px 18px"))
        self.box = widgets.VBox(
            [
                widgets.HTML(CSS, layout=widgets.Layout(display="none")),
                row(self.source),
                grid,
                self.note,
                row(self.look_button, self.save_button),
                self.message,
            ]
        )
        count = len(self.kept.typed)
        say(self.note, self.kept.said or (f"{count} figures, as typed before." if count else ""), bool(self.kept.said))
        say_unread(bench.file, self.message)
        self.box.add_class("vd-panel")

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    @property
    def figures(self) -> left_figures.LeftFigures:
        """What is in the boxes."""
        typed = {key: box.value for key, box in self.boxes.items()}
        return left_figures.LeftFigures(typed, self.source.value)

    def make(self) -> left.AsLeft:
        """Make the new car of what is typed."""
        return left_figures.done(self.bench.file, self.figures)

    def _typed(self, unit: str, change: Any) -> None:
        """Write the unit that is meant behind a bare number, so that it means the same whatever is chosen later."""
        whole = with_label(change["new"], unit, label_for(unit))
        if whole != change["new"] and not self._held:
            change["owner"].value = whole  # which comes back here
        else:
            self._keep()

    def _keep(self) -> None:
        """Keep what was typed, show what another window typed meanwhile, and say so."""
        if self._held:
            return
        figures = self.figures
        try:
            self.kept = left_figures.keep(self.bench.file, figures.typed, figures.asked, self.kept)
        except InputError as fault:
            say(self.note, str(fault), bad=True)
            return
        self._held = True
        try:
            for key, box in self.boxes.items():
                if box.value.strip() != self.kept.typed.get(key, ""):
                    box.value = self.kept.typed.get(key, "")
        finally:
            self._held = False
        say(self.note, f"{len(self.kept.typed)} figures kept. {self.kept.said}".strip(), bool(self.kept.said))

    def _look(self) -> str:
        return "\n".join(map(retold, left.words(self.make())))

    def _save(self) -> str:
        found = self.make()
        old = found.file
        saved_car, told = left_figures.save_left(old)
        day, there = notes.kept(old), notes.kept(saved_car)
        if day.notes and not there.notes:  # laps typed before the visit are those to compare with
            laps = {name: text for name, text in day.notes.items() if not name.startswith("promise.")}
            notes.keep(saved_car, laps, there.text)
        told = "\n".join([told, *map(retold, left.words(found))])
        self._above = [one for one in onscreen().following if _inside(one.place, self.box)] or self._above
        Which.show_opened()
        for one in self._above:  # this panel, of the car before, is no longer seen
            if not one.message.value:
                say(one.message, told)
        return told


def _inside(widget: Any, part: Any) -> bool:
    return widget is part or any(_inside(child, part) for child in getattr(widget, "children", ()))


def with_label(text: str, unit: str, label: str) -> str:
    """Return what was typed with its unit behind it, where the reader sees another than the usual one.

    Parameters:
        text: what was typed [-]
        unit: the name of the usual unit of its box [-]
        label: the unit that a bare number is meant in [-]

    Returns:
        the text; as it was where it is no bare number [-]
    """
    bare = unit_for(unit) != unit and number_from(text.strip()) is not None
    return f"{text.strip()} {label}" if bare else text
