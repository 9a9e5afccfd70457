"""The meaning of a word where it is used: seen when a reader points at it or reaches it by Tab."""

from __future__ import annotations

from pathlib import Path

import anywidget
import ipywidgets as widgets
import traitlets

from ..lessons.meanings import meanings
from .onscreen import onscreen

HERE = Path(__file__).parent


class Meanings(anywidget.AnyWidget):
    """Marks words in the page around it, and says when the page is seen first; see ``hover.js``."""

    _esm = HERE / "hover.js"
    _css = HERE / "hover.css"
    sent = traitlets.Dict().tag(sync=True)
    """Phrase → its meaning."""


def shown() -> Meanings:
    """Return the widget that shows meanings on its page; it takes no room.

    Returns:
        a widget, to be put anywhere on the page once [-]
    """
    made = Meanings(sent=meanings(), layout=widgets.Layout(display="none"))
    made.on_msg(lambda *_: onscreen().later.seen())
    return made
