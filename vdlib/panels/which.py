"""Which car a workbook shows: a list of saved and example cars, a box for any car file, and the panels below it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
from traitlets import TraitError

from ..car import examples, shelf, store
from ..car.carfile import CarFile, fields_of
from ..car.typical import Range, unusual
from ..checks import InputError
from ..glossary import GLOSSARY
from ..shown import chosen, label_for, seen, use
from ..units import brief
from . import hover
from .base import BROKEN, Panel, Refused, clock_here
from .in_question import over_answers
from .later import WAITING, on_page
from .look import CSS
from .measure_parts import name_of
from .onscreen import onscreen
from .said import alert
from .unit_switch import unit_switch

Maker = Callable[[CarFile], Any]
"""Takes a car file and gives a panel, or any widget."""
_LETTERS = ".letters"
"""File on the shelf that keeps the size of the letters."""
CARS = 3
"""Cars whose panels are kept as they were left."""
WORKING = "Working on the new car, {}: what was here is the car before it."
"""What stands over the panels while they are made for another car."""
TURNING = "Working on the new units."
"""What stands over them while they are made for other units."""
_SAVED, _EXAMPLE, _FILE = "saved", "example", "file"


class Which:
    """The car chooser over the panels it feeds; a panel of a car once shown keeps its controls as they were left.

    The choosers of one notebook follow each other: what one of them opens the others show too. Only the first of them
    can be seen; the others follow it. One that was given a ``path`` stands apart. *Large letters* is one switch for
    all of them, kept from workbook to workbook. A cell run again puts its new chooser in the place of the one it made
    before.
    """

    def __init__(self, *makers: Maker, path: str = "") -> None:
        """Show what ``path`` names, else what the other choosers show, else the open saved car or the first example."""
        self.makers, self.screen = makers, onscreen()
        self.file: CarFile | None = None
        """The car file shown now; None when it could not be read."""
        self._kept: dict[tuple[str, str], tuple[str, tuple[Any, ...]]] = {}
        """Where a car is from → the text of its file and the widgets made for it, the car shown last at the end."""
        self._given, self._alone, self._held = path, bool(path), False
        former = self.screen.former(makers)
        self.leads: bool = self._alone or (
            former.leads if former is not None else not any(other.leads for other in self.screen.following)
        )
        """Whether it is the one of the notebook that can be seen."""
        wide = widgets.Layout(width="25em")
        self.list = widgets.Dropdown(options=_offered(), description="Car shown", layout=wide)
        self.path = widgets.Text(
            placeholder="or a file such as my-cars/blue.toml, then Enter",
            description="Car file",
            continuous_update=False,
            layout=widgets.Layout(width="30em"),
        )
        self.again = widgets.Button(description="Read it again", tooltip="Read the car's file again after editing it")
        self.again.layout.width = "auto"
        self.large = widgets.Checkbox(description="Large letters", indent=False)
        self.large.layout.width = "auto"
        self.large.add_class("vd-large-switch")
        self.about, self.message, self._working = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self._working.layout.display = "none"
        self.place, self._over = widgets.VBox(), widgets.HTML()
        self._source = self._listed = self._first(path)
        self._set_controls()
        self.list.observe(lambda change: self._chosen(change["new"]), names="value")
        self.path.observe(lambda change: self._chosen((_FILE, change["new"].strip())), names="value")
        self.again.on_click(lambda _: self._read_again())
        self.large.observe(lambda change: self._enlarge(change["new"]), names="value")
        wrap = widgets.Layout(flex_flow="row wrap", grid_gap="4px 16px", overflow="visible")
        use(shelf.kept_units())
        self.units = unit_switch(self._show_units)
        other = widgets.Accordion(
            [widgets.VBox([widgets.HBox([self.path, self.again], layout=wrap), self.units])], selected_index=None
        )
        other.set_title(0, "Another car file, other units")
        other.add_class("vd-fold")
        choosing = widgets.HBox([self.list, self.large, other], layout=wrap)
        style = widgets.HTML(CSS, layout=widgets.Layout(display="none"))
        top = widgets.HBox([choosing, self.about], layout=widgets.Layout(flex_flow="row wrap", grid_gap="0 16px"))
        top.layout.display = "" if self.leads else "none"
        hovering = [hover.shown()] if self.leads else []
        self.box = widgets.VBox([style, top, self.message, self._over, self._working, self.place, *hovering])
        self.box.add_class("vd-panel")
        self.large.value = any(other.large.value for other in self.screen.choosers) or kept_large()
        self.screen.choosers.add(self)
        if not self._alone:
            self.screen.follow(makers, self)
        clock = clock_here()
        if self.screen.later.first() or clock is None or not on_page():
            self.open(self._source)
            self._say_if_unread()
        else:
            self.place.children = (widgets.HTML(WAITING),)
            self.screen.later.add(clock, self._come)

    def _come(self) -> None:
        """Show the car that the others show by now, unless one of them has brought this one along."""
        if self.file is not None:
            return
        self._source = self._first(self._given)
        file = self._read(self._source)
        if file is not None:
            self._show(self._source, file)
        self._say_if_unread()

    def _first(self, path: str) -> tuple[str, str]:
        """The car to start with: a choice made here counts until another saved car is opened."""
        if path:
            return (_EXAMPLE if path in examples.example_names() else _FILE, path)
        opened = shelf.opened()
        last = self.screen.last
        if last is not None and last[0] == opened:
            return last[1]
        return (_SAVED, opened) if opened else (_EXAMPLE, examples.FIRST)

    def _read_again(self) -> None:
        """Read the car's file and the list of saved cars again."""
        self.open(self._source)
        self._say_if_unread()

    def _chosen(self, source: tuple[str, str]) -> None:
        if not self._held:
            self.open(source)

    def open(self, source: tuple[str, str]) -> None:
        """Show another car, here and in the choosers that follow; what cannot be read is said, and all stays."""
        kind, name = source
        if kind == _FILE and not name:
            source = self._listed
        file = self._read(source)
        if file is None:
            return
        others = [] if self._alone else [other for other in self.screen.following if other is not self]
        for one in (self, *others):
            one._begin(WORKING.format(escape(file.car.name)))
        try:
            if self._show(source, file) and not self._alone:
                self.screen.last = (shelf.opened(), source)
                for other in others:
                    other._show(source, file)
        finally:
            for one in (self, *others):
                one._begin("")

    def _read(self, source: tuple[str, str]) -> CarFile | None:
        """Read a car; None where it cannot be, which is said, beside an example where nothing is shown yet."""
        kind, name = source
        try:
            return {_SAVED: shelf.load_car, _EXAMPLE: examples.load_example, _FILE: examples.open_car}[kind](name)
        except InputError as error:
            first = self.file is None and kind != _EXAMPLE
            if first:
                self._show((_EXAMPLE, examples.FIRST), examples.load_example(examples.FIRST))
            self._refuse(error, "An invented example is shown instead." if first else "")
            return None

    def _begin(self, told: str) -> None:
        """Mark what is shown as former while what is told is worked on; nothing told: that is over."""
        if not told:
            self.place.remove_class("vd-former")
            self._working.value, self._working.layout.display = "", "none"
        elif self.file is not None:
            self.place.add_class("vd-former")
            self._working.layout.display = ""
            self._working.value = f'<div class="vd-words" role="status"><b>{told}</b></div>'

    @staticmethod
    def show_opened() -> None:
        """Show the open saved car in this notebook's choosers, as when it has just been saved."""
        opened = shelf.opened()
        for one in onscreen().following[:1] if opened else []:
            one.open((_SAVED, opened))

    def _show(self, source: tuple[str, str], file: CarFile) -> bool:
        """Show a car that was read; say so and keep the one before where a panel refuses it."""
        text, (kept, shown) = file.text, self._kept.get(source, ("", ()))
        try:
            if not shown or kept != text:
                shown = tuple(_widget(maker(file)) for maker in self.makers)
        except (InputError, Refused) as error:
            self._refuse(error)
            return False
        except Exception as error:
            self._refuse(RuntimeError(f"{BROKEN}{type(error).__name__}: {error}"))
            raise
        self._source, self.file = source, file
        self._set_controls()
        self.message.value = ""
        self.about.value = f'<div class="vd-words">{about(file)}</div>' if self.leads else ""
        self.place.children = shown
        self.say_over()
        self._begin("")
        self._keep(source, text, shown)
        return True

    def say_over(self) -> None:
        """Say over the answers what has to be known of the car before they are read."""
        told = "" if self.file is None else over_answers(self.file, self.screen.form)
        self._over.value, self._over.layout.display = told, "" if told else "none"

    def _keep(self, source: tuple[str, str], text: str, shown: tuple[Any, ...]) -> None:
        """Keep what is shown, and close what is neither of the last few cars nor of the file as it now is."""
        former = self._kept.pop(source, ("", ()))[1]
        self._kept[source] = (text, shown)
        gone = [one for one in former if all(one is not other for other in shown)]
        while len(self._kept) > CARS:
            gone += self._kept.pop(next(iter(self._kept)))[1]
        for one in gone:
            close(one)

    def _set_controls(self, path: bool = True) -> None:
        """Put list and box at what is shown, without opening it once more; the box only where that is wanted."""
        self._held = True
        try:
            options = _offered()
            if self._source[0] == _FILE:
                options += ((f"{Path(self._source[1]).name} (file)", self._source),)
            if tuple(self.list.options) != options:
                self.list.options = options
            values = [value for _, value in options]
            self.list.value = next(one for one in (self._source, self._listed, values[-1]) if one in values)
            if self.list.value[0] != _FILE:
                self._listed = self.list.value
            if path:
                self.path.value = self._source[1] if self._source[0] == _FILE else ""
        finally:
            self._held = False

    def _refuse(self, error: Exception, more: str = "") -> None:
        """Return what is wrong; the list goes back to the car that is shown, what was typed stays to be mended."""
        self._set_controls(path=False)
        self._say(str(error), more or ("" if self.file is None else "The car shown before stays below."))

    def _enlarge(self, large: bool) -> None:
        """Make the letters large or small, here and in every other chooser of the notebook."""
        (self.box.add_class if large else self.box.remove_class)("vd-large")
        for other in list(self.screen.choosers):
            other.large.value = large
        if large != kept_large():
            with suppress(InputError):  # a folder that cannot be written: the letters are only for this notebook
                store.put(shelf.folder() / _LETTERS, b"large" if large else b"usual")

    def _show_units(self) -> None:
        """Make every panel anew, in the units just chosen, and set the other switches alike."""
        for one in (every := list(self.screen.choosers)):
            for kind, made in one.units.lists.items():
                made.value = getattr(chosen(), kind)
            one._begin(TURNING)
        try:
            for one in every:
                one._made_anew()
        finally:
            for one in every:
                one._begin("")

    def _made_anew(self) -> None:
        """Make the panels of every car kept anew when they are next shown, those shown now at once and as they were."""
        if self.file is None:
            return
        before, kept = self.place.children, list(self._kept.values())
        self._kept.clear()
        if not self._show(self._source, self.file):
            return
        for old, new in zip(before, self.place.children, strict=False):
            as_left(old, new)
        for old in {id(widget): widget for _, made in kept for widget in made}.values():
            close(old)

    def _say_if_unread(self) -> None:
        """Say why no saved car is in the list, where that is because their folder cannot be read."""
        fault = store.unread(shelf.folder()) if self.leads and not self.message.value else ""
        if fault:
            self._say(fault, "The saved cars cannot be listed; the invented examples are.")

    def _say(self, text: str, more: str) -> None:
        self.message.value = alert(f"{text}\n{more}".strip())


def as_left(old: Any, new: Any) -> None:
    """Put a widget made anew as the one before it was left: its controls, what was opened, what was answered.

    Parameters:
        old: the widget before [-]
        new: the one in its place, made by the same maker of the same car [-]
    """
    if hasattr(old, "line") and hasattr(new, "line"):
        new.line.value = old.line.value
    was, now = getattr(old, "panel", None), getattr(new, "panel", None)
    if isinstance(was, Panel) and isinstance(now, Panel):
        with suppress(ValueError, KeyError, TraitError):  # a control that has no such value now stays at its start
            if was.question is not None and was.question.answer.value is not None:
                now.question.answer.value = was.question.answer.value
            now.set_all(was.state)
    if hasattr(old, "as_left") and hasattr(new, "as_left"):
        new.as_left(old)
    for one, other in zip(getattr(old, "children", ()), getattr(new, "children", ()), strict=False):
        as_left(one, other)


def close(widget: Any) -> None:
    """Close a widget with all that is in it, so that nothing of it stays in memory or in the browser.

    Parameters:
        widget: any widget [-]
    """
    inside = [getattr(widget, name, None) for name in widget.keys]
    widget.unobserve_all()
    widget.close()
    for found in inside:
        for one in found if isinstance(found, list | tuple) else [found]:
            if isinstance(one, widgets.Widget) and one.comm is not None:
                close(one)


def kept_large() -> bool:
    """Return whether large letters were chosen in a workbook before; a page without code keeps that in the browser.

    Returns:
        whether letters start large [-]
    """
    return not on_page() and store.marked(shelf.folder() / _LETTERS) == "large"


def _offered() -> tuple[tuple[str, tuple[str, str]], ...]:
    """The saved cars and the examples, as they are now."""
    saved = [(f"{name} (saved)", (_SAVED, name)) for name in shelf.car_names()]
    return (*saved, *((f"{name} (invented example)", (_EXAMPLE, name)) for name in examples.example_names()))


def _widget(made: Any) -> Any:
    return made.show() if hasattr(made, "show") else made


def about(file: CarFile) -> str:
    """State which car this is and where its numbers come from.

    Parameters:
        file: the car file [-]

    Returns:
        one line of HTML [-]
    """
    count = Counter(file.origin.get(entry.path, "") for entry in fields_of())
    told = [f"{count[word]} {word}" for word in ("measured", "typical", "example") if count[word]]
    rest = "; the others have no note of where they come from" if count[""] else ""
    where = f"Numbers: {', '.join(told)}{rest}." if told else ""
    if file.path is None:
        where = "An invented car: every number is an example."
    else:
        where = f"From {escape(str(Path(file.path)))}. {where}"
        if odd := [_asked(path, *found) for path, found in unusual(file).items()]:
            more = f" and {len(odd) - 3} more" if len(odd) > 3 else ""
            where += f" <b>Is that so?</b> {escape('; '.join(odd[:3]))}{more}."
    return f"<b>{escape(file.car.name)}</b>. {where}"


def _asked(path: str, value: float, usual: Range) -> str:
    """Ask about one number: "front motion ratio 1.43, usual 0.55 to 0.85"."""
    unit = GLOSSARY[path.rpartition(".")[2]].unit
    size, low, high = (brief(float(seen(v, unit)), 3) for v in (value, usual.low, usual.high))
    return f"{name_of(path)} {size}, usual {low} to {high} {label_for(unit)}".rstrip()


def with_car(*makers: Maker, path: str = "") -> Any:
    """Return the car chooser with panels under it, to be displayed as a cell's last value.

    Parameters:
        makers: functions of a car file, each giving a panel [-]
        path: car to start with, and then to stand apart from the other choosers; empty to go with them [-]

    Returns:
        an ipywidgets box [-]
    """
    return Which(*makers, path=path).box
