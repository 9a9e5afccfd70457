"""The workshop page's panel: what was felt, what is asked for, and the button that writes the page."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import Any

import ipywidgets as widgets

from ..answers.doubts import doubts_of
from ..car.carfile import CarFile
from ..car.records import Moment
from ..car.reference import reference_of
from ..car.store import put
from ..checks import InputError
from ..draw.page import laid_out
from ..draw.typeset import PAPERS, Leaf, html, pdf, picture
from ..setup import saved
from ..setup.candidate import Candidate, Version, version
from ..setup.decision import decide, words
from ..setup.driven import own_corner
from ..setup.page import WorkshopPage, back_to_reference_of, build
from ..setup.tolerances import without_unsettable
from .base import CSS
from .how_sure import known_of
from .measure_parts import HERE
from .shared_whatif import SharedWhatIf, button, row, say, say_unread

MOST = 700
"""Most characters of what was felt that the page has room for."""
WORKING = "Working on the page and on how sure it is: about ten seconds."
SIDES_OF_PAPER = ("front", "back")
ALT = "The workshop page as it will be printed, its {}. Write the page saves the same words as HTML too."
"""What is said of its picture to those who do not see it."""
BACK, ABOVE = "reference", "above"
"""What can be asked for besides the saved what-ifs."""


def panel(file: CarFile) -> Any:
    """Make the panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    return PageDesk(SharedWhatIf.of(file))


class PageDesk:
    """What is typed for the page, the buttons, and both sides of it as they will be printed."""

    def __init__(self, bench: SharedWhatIf) -> None:
        """Build everything; what was felt is as it was left, or as the car file says."""
        self.bench = bench
        self.page: WorkshopPage | None = None
        self.leaves: list[Leaf] = []
        self.message, self.note = widgets.HTML(), widgets.HTML()
        self._felt = saved.kept_felt(bench.file)
        """What was felt as it was last read from the disk or kept there."""
        self.felt = widgets.Textarea(
            value=self._felt or bench.file.known.visit.get("felt", ""),
            placeholder="What was felt, where, doing what: 'in the long right, throttle closed, the rear came round'",
            continuous_update=False,
            rows=3,
            layout=widgets.Layout(width="48em", max_width="calc(100% - 4px)"),
        )
        self.felt.observe(lambda _: self._keep(), names="value")
        wide = widgets.Layout(width="42em", max_width="100%")
        self.source = widgets.Dropdown(description="What is asked for", layout=wide)
        self.paper = widgets.Dropdown(
            description="Paper", options=list(PAPERS), layout=widgets.Layout(width="12em"), tooltip="A4 or letter"
        )
        self.again = button("Look for saved ones", "Read the list of saved what-ifs again", self._refill, self.message)
        self.source.style.description_width = "9em"
        self.paper.style.description_width = "4em"
        self.look_button = button("Show the page", "Show the page as it will be printed", self._look, self.message)
        self.write_button = button("Write the page", "Write the page as PDF and HTML", self._write, self.message)
        self.images = [widgets.Image(format="png", layout=widgets.Layout(max_width="100%")) for _ in range(2)]
        for image in self.images:
            image.layout.border = "1px solid #767676"
            image.layout.display = "none"
        alts = [widgets.HTML(f'<p class="vd-alt">{ALT.format(side)}</p>') for side in SIDES_OF_PAPER]
        felt = widgets.HTML("<b>What was felt</b> (kept as soon as you leave the box)")
        self.box = widgets.VBox(
            [
                widgets.HTML(CSS, layout=widgets.Layout(display="none")),
                felt,
                self.felt,
                self.note,
                row(self.source, self.again, self.paper),
                row(self.look_button, self.write_button),
                self.message,
                *chain(*zip(self.images, alts, strict=True)),
            ]
        )
        self.box.add_class("vd-panel")
        self._refill()
        say_unread(bench.file, self.message)

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    def _refill(self) -> str:
        now = self.source.value
        names = saved.whatif_names(self.bench.file)
        back = f"back to the reference ({reference_of(self.bench.file).name})"
        first = [(back, BACK), ("the what-if above", ABOVE)]
        self.source.options = [*first, *((f"{name} (saved)", f"saved {name}") for name in names)]
        self.source.value = now if now in [value for _, value in self.source.options] else BACK
        fault = saved.unread(self.bench.file)
        return fault or f"Saved what-ifs of this car: {', '.join(names) or 'none yet'}."

    def _keep(self) -> None:
        """Keep what was typed, and say so, or why it could not be kept."""
        try:
            where, said = saved.keep_felt(self.bench.file, self.felt.value, self._felt)
            self._felt = self.felt.value
        except InputError as fault:
            say(self.note, str(fault), bad=True)
            return
        long = len(" ".join(self.felt.value.split())) - MOST
        more = f" The page has room for {MOST} characters: the last {long} are cut there." if long > 0 else ""
        say(self.note, f"{said} Kept in {where}.{more}".strip(), bad=bool(said))

    @property
    def candidate(self) -> Candidate:
        """What is asked for."""
        said = self.source.value
        if said == BACK:
            return back_to_reference_of(self.bench.file)
        if said == ABOVE:
            return self.bench.candidate
        return saved.load_whatif(self.bench.file, said.removeprefix("saved "))

    def make(self) -> WorkshopPage:
        """Make the page from what is typed and chosen."""
        bench, wanted = self.bench, self.candidate
        able, _ = without_unsettable(wanted, bench.base)
        sure: tuple[str, ...] = ("Nothing is asked for, so there is nothing to be sure of.",)
        if able.settings:
            sure = sure_of(bench.file, bench.base, version(able, bench.base))
        elif not able.empty:
            sure = ("Not worked out for ballast and tyres.",)
        return build(bench.file, bench.base, wanted, self.felt.value, sure)

    def _look(self) -> str:
        for image in self.images:  # what is shown now is not this page
            image.layout.display, image.value = "none", b""
        say(self.message, WORKING)
        self.page = self.make()
        self.leaves = laid_out(self.page, self.paper.value)
        for image, leaf, side in zip(self.images, self.leaves, SIDES_OF_PAPER, strict=True):
            image.value = picture(leaf, f"{self.page.title}, {side}")
            image.layout.display = ""
        return "Both sides of the page as they will be printed."

    def _write(self) -> str:
        self._look()
        page = self.page
        if page is None:
            return ""
        folder = saved.whatif_folder(self.bench.file)
        stem = saved.whatif_path(self.bench.file, f"page {page.asked}"[:60].rstrip(" .-")).stem
        put(folder / f"{stem}.pdf", pdf(self.leaves, page.title))
        put(folder / f"{stem}.html", html(self.leaves, page.title).encode("utf-8"))
        said = f"Written: {folder / stem}.pdf and {stem}.html beside it. Print both sides on {self.paper.value}."
        return f"{said} {self._saved()}"

    def _saved(self) -> str:
        """Save what the page asks for, so that it can be opened again and be asked about after the workshop; say so."""
        wanted = self.candidate
        if self.source.value.startswith("saved ") or wanted.empty:
            return ""
        wanted = replace(wanted, name=wanted.name.strip() or "what-if")
        try:
            saved.save_whatif(self.bench.file, wanted, over=self.source.value == BACK)
        except InputError as fault:
            return f"What it asks for is not saved as a what-if, so workbook 10 cannot set laps beside it: {fault}"
        self._refill()
        self.bench.saved_more()
        return f"What it asks for is saved as the what-if '{wanted.name}', for workbook 10."


def sure_of(file: CarFile, base: Version, asked: Version) -> tuple[str, ...]:
    """Describe how sure it is that what is asked for helps, by the decision of workbook 7.

    Parameters:
        file: the car file [-]
        base: the car as it stands [-]
        asked: the car as asked for; only its setup counts [-]

    Returns:
        sentences [-]
    """
    kinds, errors = known_of(file)
    doubts = doubts_of(file, kinds, errors)
    braked = own_corner(file.known.visit).foot == "brake"
    found = decide(base.car, asked.setup, base.setup, doubts, Moment.in_phase("brake" if braked else "lift", *HERE))
    told = words(found, True, file.known.visit.get("in_question", ""))
    left = ("Ballast and tyres are left out of this count.",) if asked.car != base.car else ()
    none = () if file.origin else ("Nothing in the car file is marked as measured: measure your car to be surer.",)
    kind = () if file.known.kinds else ("The car file does not say what kind of car it is: usual kinds are taken.",)
    return (
        f"{'Braking at 0.3 g' if braked else 'Throttle closed'}, 110 km/h, 0.8 g. {told[0]}",
        *told[1:],
        *left,
        *none,
        *kind,
    )
