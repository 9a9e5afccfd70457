"""The start workbook's one control: which saved car every workbook opens with."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets

from ..car import examples, shelf
from ..checks import InputError
from .base import CSS
from .which import about


def choose() -> Any:
    """Give a list of the saved cars; the one chosen is what every workbook shows when it is run.

    Returns:
        an ipywidgets box [-]
    """
    first = f"the invented {examples.FIRST}"
    options = [(first, ""), *((f"{name} (saved)", name) for name in shelf.car_names())]
    pick = widgets.Dropdown(options=options, value=shelf.opened(), description="Open car")
    said = widgets.HTML()

    def show(name: str) -> None:
        try:
            shelf.make_open(name)
            said.value = f'<div class="vd-words">{about(shelf.current())} Every workbook shows it when it is run.</div>'
        except (InputError, OSError) as error:
            said.value = f'<div class="vd-alert" role="alert">{escape(str(error))}</div>'

    pick.observe(lambda change: show(change["new"]), names="value")
    if shelf.opened():
        show(pick.value)
    else:
        hint = "" if shelf.car_names() else " No car is saved yet: workbook 7 saves one."
        said.value = f'<div class="vd-words">{about(examples.load_example(examples.FIRST))}{hint}</div>'
    box = widgets.VBox([widgets.HTML(CSS), pick, said])
    box.add_class("vd-panel")
    return box
