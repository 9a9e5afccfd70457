"""Which car a workbook shows: a list of saved and example cars, a box for any car file, and the panels below it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from .. import examples, shelf
from ..carfile import CarFile, fields_of
from ..checks import InputError
from .base import CSS, Refused

Maker = Callable[[CarFile], Any]
"""Takes a car file and gives a panel, or any widget."""
_SAVED, _EXAMPLE, _FILE = "saved", "example", "file"


class Which:
    """The car chooser over the panels it feeds; a panel of a car once shown keeps its controls as they were left."""

    def __init__(self, *makers: Maker, path: str = "") -> None:
        """Show the open saved car, else the first example, or what ``path`` names, in every panel of ``makers``."""
        self.makers = makers
        self.file: CarFile | None = None
        """The car file shown now; None when it could not be read."""
        self._kept: dict[tuple[Any, ...], tuple[Any, ...]] = {}
        own = [(f"{name} (saved)", (_SAVED, name)) for name in shelf.names()]
        built = [(f"{name} (invented example)", (_EXAMPLE, name)) for name in examples.names()]
        opened = shelf.opened()
        start = (_SAVED, opened) if opened else (_EXAMPLE, examples.FIRST)
        if path in examples.names():
            start, path = (_EXAMPLE, path), ""
        wide = widgets.Layout(width="23em")
        self.list = widgets.Dropdown(options=own + built, value=start, description="Car shown", layout=wide)
        self.path = widgets.Text(
            value=path,
            placeholder="or a file such as my-cars/blue.toml, then Enter",
            description="Car file",
            continuous_update=False,
            layout=widgets.Layout(width="30em"),
        )
        self.again = widgets.Button(description="Read it again", tooltip="Read the car's file again after editing it")
        self.again.layout.width = "auto"
        self.large = widgets.Checkbox(value=False, description="Large letters", indent=False)
        self.large.layout.width = "auto"
        self.about, self.message = widgets.HTML(), widgets.HTML()
        self.place = widgets.VBox()
        self._source: tuple[str, str] = (_FILE, path) if path else start
        self.list.observe(lambda change: self.open(change["new"]), names="value")
        self.path.observe(lambda change: self.open((_FILE, change["new"].strip())), names="value")
        self.again.on_click(lambda _: self.open(self._source))
        self.large.observe(self._resize, names="value")
        top = widgets.HBox([self.list, self.path, self.again, self.large], layout=widgets.Layout(flex_flow="row wrap"))
        self.box = widgets.VBox([widgets.HTML(CSS), top, self.about, self.message, self.place])
        self.box.add_class("vd-panel")
        self.open(self._source)

    def open(self, source: tuple[str, str]) -> None:
        """Show another car; what cannot be read is said in words, and the car shown before stays."""
        kind, name = source
        if kind == _FILE and not name:
            source = kind, name = self.list.value
        try:
            file = {_SAVED: shelf.load, _EXAMPLE: examples.load, _FILE: examples.open_car}[kind](name)
            key = (source, file.document.as_string())
            if key not in self._kept:
                self._kept[key] = tuple(_widget(maker(file)) for maker in self.makers)
        except (InputError, Refused) as error:
            self._say(str(error), "" if self.file is None else "The car shown before stays below.")
            if self.file is None and kind != _EXAMPLE:
                self.open((_EXAMPLE, examples.FIRST))
                self._say(str(error), "An invented example is shown instead.")
            return
        self._source, self.file = source, file
        self.message.value = ""
        self.about.value = f'<div class="vd-words">{about(file)}</div>'
        self.place.children = self._kept[key]

    def _resize(self, change: Any) -> None:
        (self.box.add_class if change["new"] else self.box.remove_class)("vd-large")

    def _say(self, text: str, more: str) -> None:
        lines = "<br>".join(escape(line) for line in [*text.splitlines(), more] if line)
        self.message.value = f'<div class="vd-alert" role="alert">{lines}</div>'


def _widget(made: Any) -> Any:
    return made.show() if hasattr(made, "show") else made


def about(file: CarFile) -> str:
    """Say which car this is and where its numbers come from.

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
    return f"<b>{escape(file.car.name)}</b>. {where}"


def with_car(*makers: Maker, path: str = "") -> Any:
    """Give the car chooser with panels under it, to be displayed as a cell's last value.

    Parameters:
        makers: functions of a car file, each giving a panel [-]
        path: car file to start with; the open saved car if empty [-]

    Returns:
        an ipywidgets box [-]
    """
    return Which(*makers, path=path).box
