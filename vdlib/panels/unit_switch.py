"""The switch of the units: four small lists, kept from workbook to workbook."""

from __future__ import annotations

from asyncio import TimerHandle
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from ..car import shelf
from ..checks import InputError
from ..shown import PAIRS, Choice, chosen
from ..units import UNITS
from .base import clock_here
from .said import alert

TOGETHER = 0.8
"""Units chosen within this time of each other are shown anew once, and none waits for the others [s]."""


def unit_switch(changed: Callable[[], None]) -> Any:
    """Make the lists of units.

    Parameters:
        changed: called after another unit was chosen and none more for a moment, to show everything anew [-]

    Returns:
        an ipywidgets box whose attribute ``lists`` holds the list of each kind [-]
    """
    said = widgets.HTML()
    pending: list[TimerHandle] = []
    lists = {
        kind: widgets.Dropdown(
            options=[(UNITS[unit].label, unit) for unit in pair],
            value=getattr(chosen(), kind),
            description=kind.capitalize(),
            tooltip=f"The unit in which every {kind} is shown",
            layout=widgets.Layout(width="11em"),
        )
        for kind, pair in PAIRS.items()
    }

    def choose(_: Any) -> None:
        choice = Choice(**{kind: made.value for kind, made in lists.items()})
        if choice == chosen():
            return
        said.value = ""
        try:
            shelf.keep_units(choice)
        except InputError as fault:  # they hold for this workbook
            said.value = alert(str(fault))
        clock = clock_here()
        while pending:
            pending.pop().cancel()
        if clock is None:
            changed()
        else:
            pending.append(clock.call_later(TOGETHER, changed))

    for made in lists.values():
        made.observe(choose, names="value")
    wrap = widgets.Layout(flex_flow="row wrap", overflow="visible")
    box = widgets.VBox([widgets.HBox(list(lists.values()), layout=wrap), said])
    box.lists = lists
    return box
