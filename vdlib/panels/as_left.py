"""The panel that takes back what the workshop wrote: four wheels, misses told, the car file becomes the new car."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from ..car import shelf
from ..car.carfile import CarFile
from ..car.keys import CORNERS
from ..car.reference import reference_of
from ..checks import InputError, Problem
from ..setup import as_left as left
from ..setup import saved
from ..setup.candidate import Candidate
from ..setup.page import back_to_reference
from .base import CSS
from .shared_whatif import SharedWhatIf, button, row
from .which import Which

BACK = "reference"
AS_LEFT = " - as left"


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
        self.message = widgets.HTML()
        self.boxes: dict[str, Any] = {}
        self.source = widgets.Dropdown(
            description="What was asked", layout=widgets.Layout(width="44em", max_width="100%")
        )
        self.source.style.description_width = "initial"
        names = saved.whatif_names(bench.file)
        back = f"back to the reference ({reference_of(bench.file).name})"
        self.source.options = [(back, BACK), *((f"{name} (saved)", name) for name in names)]
        self.source.value = BACK
        wheels = []
        for corner in CORNERS:
            made = [widgets.HTML(f"<b>{corner.replace('_', ' ')}</b>")]
            for name, (words, unit, _, _) in left.ROWS.items():
                shown = {"deg": "°, or as on the page"}.get(unit, unit)
                box = widgets.Text(description=f"{words} [{shown}]", continuous_update=False)
                box.style.description_width = "21em"
                box.layout.width = "30em"
                self.boxes[left.key(name, corner)] = box
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
                row(self.look_button, self.save_button),
                self.message,
            ]
        )
        self.box.add_class("vd-panel")

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    @property
    def asked(self) -> Candidate:
        """What was asked for."""
        if self.source.value == BACK:
            return back_to_reference(self.bench.base, reference_of(self.bench.file), self.bench.file.known.figures)
        return saved.load_whatif(self.bench.file, self.source.value)

    def make(self) -> left.AsLeft:
        """Make the new car of what is typed."""
        typed = {key: box.value for key, box in self.boxes.items()}
        return left.as_left(self.bench.file, self.bench.base, self.asked, left.read(self.bench.file, typed))

    def _look(self) -> str:
        return "\n".join(left.words(self.make()))

    def _save(self) -> str:
        found = self.make()
        old = found.file
        if old.path is None or old.path.stem not in shelf.car_names():
            rule, remedy = "is an invented example and stays as it is", "save a car of your own with the form first"
            raise InputError([Problem("this car", "", rule, remedy)])
        name = f"{old.path.stem.removesuffix(AS_LEFT)[:50]}{AS_LEFT}"
        saved_car = shelf.save_car(name, old.car, old.setup, old.origin, old.document, old.known)
        Which.show_opened()
        told = f"Saved as {name} and open: {saved_car.path}. The car as it was stays."
        return "\n".join([told, *left.words(found)])
