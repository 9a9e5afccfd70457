"""What the panels of one car's what-ifs share: the car as it stands, the what-if on the sliders, who hears of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from html import escape
from typing import Any

import ipywidgets as widgets

from ..car.carfile import CarFile
from ..checks import InputError
from ..door.job import looked_over
from ..garage.visit import unticked
from ..setup import saved as saved_whatifs
from ..setup.candidate import Candidate, Version, baseline, version
from .onscreen import onscreen
from .said import alert, note


class SharedWhatIf:
    """One car's what-if, shared by every panel that shows this car."""

    def __init__(self, file: CarFile) -> None:
        """Start with the car as it stands."""
        self.saved_more: Callable[[], object] = lambda: None
        """Reads the list of saved candidates again; given by the panel that shows it."""
        self.file = file
        self.base: Version = baseline(file.car, file.setup)
        self.candidate = Candidate()
        self.compared: tuple[str, ...] = ()
        """Names of saved candidates shown beside."""
        self.put: Callable[[Candidate], None] | None = None
        """Sets the sliders to a candidate; given by the panel that has them."""

    @classmethod
    def of(cls, file: CarFile) -> SharedWhatIf:
        """Return the bench of a car file; the same one for the same file with the same text."""
        return onscreen().whatif((str(file.path), file.text), lambda: cls(file))

    @property
    def version(self) -> Version:
        """The what-if as a car and a setup."""
        return version(self.candidate, self.base)

    def saved(self, name: str) -> Version:
        """Return a saved candidate as a car and a setup."""
        return version(replace(saved_whatifs.load_whatif(self.file, name), name=name), self.base)

    def take(self, candidate: Candidate) -> None:
        """Make a candidate the what-if, on the sliders too where there are any."""
        self.candidate = candidate
        if self.put is not None:
            self.put(candidate)


def say(place: Any, text: str, bad: bool = False) -> None:
    """Show a message, one line a line; nothing where it is empty."""
    place.value = alert(text) if bad else note(text)


def say_unread(file: CarFile, place: Any) -> None:
    """Return why a car's saved what-ifs are not in a list, where that is because their folder cannot be read."""
    if fault := saved_whatifs.unread(file):
        say(place, fault, bad=True)


def inspected(file: CarFile) -> Any:
    """Return the caution that goes with every what-if, as a widget: what was found, and what nobody has looked at."""
    visit, told = file.known.visit if file.path is not None else {}, ""
    left = () if file.path is None or looked_over(file) else unticked(visit)
    if left:
        told = (
            f"{len(left)} of the form's inspection list not looked at yet, first: {escape(left[0])}. "
            "Have that looked at before you trust a what-if."
        )
    if found := visit.get("found"):
        told = f"Found: {escape(found)}. Have that put right before you trust a what-if. {told}"
    told = f"<b>Is it safe to drive?</b> {told}" if told else ""
    return widgets.HTML(f'<div class="vd-alert">{told}</div>' if told else "")


def button(label: str, tooltip: str, act: Callable[[], str], place: Any) -> Any:
    """Make a button whose outcome, or what was wrong, is shown in words."""
    made = widgets.Button(description=label, tooltip=tooltip, layout=widgets.Layout(width="auto"))

    def press(_: Any) -> None:
        try:
            say(place, act())
        except InputError as fault:
            say(place, str(fault), bad=True)

    made.on_click(press)
    return made


def row(*parts: Any) -> Any:
    """Lay widgets side by side, on further lines where they do not fit."""
    return widgets.HBox(list(parts), layout=widgets.Layout(flex_flow="row wrap", align_items="center", grid_gap="10px"))
