"""The sheet panel: what was felt, the measuring diameter, and the button that writes the page for the workshop."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from typing import Any

import ipywidgets as widgets

from ..car.carfile import CarFile
from ..car.store import put
from ..checks import InputError
from ..draw.page import Page, fitted, pdf, picture
from ..setup import saved
from ..setup.advice import Ask
from ..setup.candidate import Candidate, version
from ..setup.page import LIMITS, RIM, build, html
from ..setup.tolerances import without_unsettable
from ..units import G, from_si, to_si
from . import slider
from .base import CSS
from .request import sure_words
from .shared_whatif import SharedWhatIf, button, row, say


def panel(file: CarFile) -> Any:
    """Make the sheet panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    return SheetDesk(SharedWhatIf.of(file))


class SheetDesk:
    """What is typed for the sheet, the buttons, and the page as it will be printed."""

    def __init__(self, bench: SharedWhatIf) -> None:
        """Build everything; what was felt is as it was left."""
        self.bench = bench
        self.page: Page | None = None
        self.message, self.note = widgets.HTML(), widgets.HTML()
        self._felt = saved.kept_felt(bench.file)
        self.felt = widgets.Textarea(
            value=self._felt,
            placeholder="What was felt, where, doing what: 'in the long right, throttle closed, the rear came round'",
            continuous_update=False,
            rows=3,
            layout=widgets.Layout(width="48em", max_width="calc(100% - 4px)"),
        )
        self.felt.observe(lambda _: self._keep(), names="value")
        self.source = widgets.Dropdown(description="What is asked for", layout=widgets.Layout(width="26em"))
        self.again = button("Look for saved ones", "Read the list of saved what-ifs again", self._refill, self.message)
        self.speed = slider("Speed", 40, 240, 5, 110, "km/h")
        self.lateral = slider("Lateral acceleration", 0.1, 1.3, 0.02, 0.8, "g")
        hint = "Distance across the rim between the two places where toe is read"
        self.rim = slider("Toe read across rim", 250, 700, 5, from_si(RIM, "mm"), "mm", hint)
        for control in (self.source, self.speed, self.lateral, self.rim):
            control.style.description_width = "10em"
            control.layout.width = "26em"
        self.look_button = button("Show the page", "Show the page as it will be printed", self._look, self.message)
        self.write_button = button("Write the sheet", "Write the page as PDF and HTML", self._write, self.message)
        self.image = widgets.Image(format="png", layout=widgets.Layout(max_width="100%", border="1px solid #767676"))
        self.image.layout.display = "none"
        felt = widgets.HTML("<b>What was felt</b> (kept as soon as you leave the box)")
        what = "The page tells its numbers for this moment of a corner, and toe in mm for this width of rim."
        units = [widgets.HBox([c, widgets.HTML(escape(c.unit))]) for c in (self.speed, self.lateral, self.rim)]
        self.box = widgets.VBox(
            [
                widgets.HTML(CSS, layout=widgets.Layout(display="none")),
                felt,
                self.felt,
                self.note,
                row(self.source, self.again),
                row(*units),
                widgets.HTML(f'<div class="vd-words">{what}</div>'),
                row(self.look_button, self.write_button),
                self.message,
                self.image,
            ]
        )
        self.box.add_class("vd-panel")
        self._refill()

    def show(self) -> Any:
        """Give the widget."""
        return self.box

    def _refill(self) -> str:
        now = self.source.value
        names = saved.whatif_names(self.bench.file)
        self.source.options = [("the what-if above", ""), *((f"{name} (saved)", name) for name in names)]
        self.source.value = now if now in names else ""
        return f"Saved what-ifs of this car: {', '.join(names) or 'none yet'}."

    def _keep(self) -> None:
        """Keep what was typed, and say so, or why it could not be kept."""
        try:
            where, said = saved.keep_felt(self.bench.file, self.felt.value, self._felt)
            self._felt = self.felt.value
        except InputError as fault:
            say(self.note, str(fault), bad=True)
            return
        long = len(" ".join(self.felt.value.split())) - LIMITS["felt"]
        more = f" The page has room for {LIMITS['felt']} characters: the last {long} are cut there." if long > 0 else ""
        say(self.note, f"{said} Kept in {where}.{more}".strip(), bad=bool(said))

    @property
    def candidate(self) -> Candidate:
        """What is asked for."""
        name = self.source.value
        return saved.load_whatif(self.bench.file, name) if name else self.bench.candidate

    def make(self) -> Page:
        """Make the page from what is typed and chosen."""
        bench, wanted = self.bench, self.candidate
        able, _ = without_unsettable(wanted, bench.base)
        speed, lateral = float(to_si(self.speed.value, "kmh")), round(self.lateral.value, 2) * G
        sure = "Nothing is asked for, so there is nothing to be sure of."
        if able.settings:
            sure = sure_words(bench.file, bench.base, version(able, bench.base), Ask(speed=speed, lateral=lateral))
        elif not able.empty:
            sure = "How sure: not worked out for ballast and tyres."
        rim = float(to_si(self.rim.value, "mm"))
        return fitted(build(bench.file, bench.base, wanted, speed, lateral, self.felt.value, sure, rim))

    def _look(self) -> str:
        self.page = self.make()
        self.image.value = picture(self.page)
        self.image.layout.display = ""
        return f"The page as it will be printed, in {self.page.size:g} point letters."

    def _write(self) -> str:
        said = self._look()
        if self.page is None:
            return said
        folder, name = saved.whatif_folder(self.bench.file), self.candidate.name.strip() or "what-if"
        stem = saved.whatif_path(self.bench.file, f"sheet {name}"[:60].rstrip(" .-")).stem
        put(folder / f"{stem}.pdf", pdf(self.page))
        put(folder / f"{stem}.html", html(self.page.sheet).encode("utf-8"))
        return f"Written: {folder / stem}.pdf and {stem}.html beside it. Print either on A4, full size. {self._saved()}"

    def _saved(self) -> str:
        """Save what the page asks for, so that it can be opened again and be asked about after the workshop; say so."""
        wanted = self.candidate
        if self.source.value or wanted.empty:
            return ""
        wanted = replace(wanted, name=wanted.name.strip() or "what-if")
        try:
            saved.save_whatif(self.bench.file, wanted)
        except InputError as fault:
            return f"What it asks for is not saved as a what-if, so workbook 10 cannot set laps beside it: {fault}"
        self._refill()
        self.bench.saved_more()
        return f"What it asks for is saved as the what-if '{wanted.name}', for workbook 10."
