"""The frame that every panel sits in: verdict on top, a narrow column of controls, the picture beside it, words below.

It fits one screen of a small laptop, in a notebook beside its sidebar too. Nothing here computes or draws.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from html import escape
from math import isclose, isfinite
from typing import Any

import ipywidgets as widgets

from ..draw.live import LivePicture
from ..shown import digits_for, named, per, retold, seen, unit_for
from ..units import UNITS, to_si
from . import unit_of
from .look import CSS, LETTER
from .said import alert, parted, verdict_of

NOT_UPDATED = "not updated: see message"
NOTHING = "nothing to draw"
MORE = "More settings"
"""Name of the fold that holds the controls a maker calls seldom used."""


NUMBERS = "In numbers"
"""The line under a picture behind which its tables and details are."""


def line(title: str, turn: Callable[[bool], None]) -> Any:
    """Return a line that opens and shuts what is under it.

    Parameters:
        title: what it says [-]
        turn: called with whether it is now open [-]

    Returns:
        a toggle button, shut [-]
    """
    made = widgets.ToggleButton(
        description=f"▸ {title}", layout=widgets.Layout(width="auto", height="auto", align_self="flex-start")
    )
    made.style.text_color = "#00416A"

    def turned_to(change: Any) -> None:
        made.description = f"{'▾' if change['new'] else '▸'} {title}"
        turn(change["new"])

    made.observe(turned_to, names="value")
    return made


class Said:
    """What a panel says in words: the verdict over its picture, the rest below, its tables behind a line."""

    def __init__(self) -> None:
        """Start with nothing said."""
        self.verdict, self.rest, self.numbers = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.verdict.add_class("vd-verdict")
        self.line = line(NUMBERS, lambda _: self._show_numbers())
        self._value = self._numbers = ""
        self._show_numbers()

    @property
    def value(self) -> str:
        """All of it, as HTML."""
        return self._value

    @value.setter
    def value(self, words: str) -> None:
        self._value = words = retold(words)
        first, rest = verdict_of(words)
        rest, self._numbers = parted(rest) if first else (rest, "")
        self.verdict.value = f'<p role="status" aria-live="polite">{first}</p>' if first else ""
        self.rest.value = f'<div class="vd-words">{rest}</div>' if rest else ""
        self._show_numbers()

    def _show_numbers(self) -> None:
        """Send what is folded only where the line is open."""
        opened = bool(self._numbers) and self.line.value
        self.line.layout.display = "" if self._numbers else "none"
        self.numbers.layout.display = "" if opened else "none"
        if opened:
            self.numbers.value = f'<div class="vd-words">{self._numbers}</div>'


class Frame:
    """The widgets of one panel, put together."""

    def __init__(
        self,
        controls: Mapping[str, Any],
        picture: Any = None,
        folded: Mapping[str, Sequence[str]] | Sequence[str] = (),
        opened: bool = False,
    ) -> None:
        """Put controls and a picture together.

        Parameters:
            controls: name → widget, in their order [-]
            picture: a ``LivePicture``, any widget that stands in its place, or None [-]
            folded: the controls that are folded away, by name; or name of a fold → those in it [-]
            opened: whether the first fold starts open [-]
        """
        self.image = widgets.Image(format="png")
        self.image.add_class("vd-picture")
        self.said, self.message = Said(), widgets.HTML()
        self.rows: dict[str, Any] = {name: _row(control) for name, control in controls.items()}
        self.stage = widgets.VBox()
        self.stage.add_class("vd-stage")
        self._alt = widgets.HTML()  # ipywidgets' Image has no alt text, and breaks in the browser if given a tooltip
        self._alt.add_class("vd-alt")
        shown: Any = self.image
        self._picture = picture if isinstance(picture, LivePicture) else None
        if isinstance(picture, LivePicture):
            self.image.width, self.image.height = str(picture.width), str(picture.height)
            self._alt.value = escape(retold(picture.alt))
            self.stage.layout.max_width = f"calc({picture.width} / 13 * {LETTER})"
        elif picture is not None:
            shown = picture
        self.shown = shown
        self.stage.children = [self._alt, shown]
        self.buttons = widgets.Box(layout=widgets.Layout(flex_flow="row wrap", overflow="visible"))
        self._main = widgets.VBox(layout=widgets.Layout(overflow="visible"))
        folds = dict(folded) if isinstance(folded, Mapping) else {MORE: folded} if folded else {}
        self._folds = self._folded(folds, opened)
        taken = {name for names in folds.values() for name in names}
        self._main.children = [row for name, row in self.rows.items() if name not in taken]
        self._more: dict[str, list[Any]] = {"top": [], "controls": [], "end": []}
        self._cover: Any = None
        self._style = widgets.HTML(CSS, layout=widgets.Layout(display="none"))
        self.side = widgets.VBox()
        self.side.add_class("vd-side")
        self._body = widgets.Box()
        self._body.add_class("vd-main")
        self.box = widgets.VBox()
        self.box.add_class("vd-panel")
        self._arrange()

    def _folded(self, folds: Mapping[str, Sequence[str]], opened: bool) -> Any:
        """The controls folded away; nothing where there are none."""
        if not folds:
            return None
        parts = [
            widgets.VBox([self.rows[n] for n in names], layout=widgets.Layout(overflow="visible"))
            for names in folds.values()
        ]
        return widgets.Accordion(parts, titles=list(folds), selected_index=0 if opened else None)

    def take(self, names: Iterable[str]) -> list[Any]:
        """Take controls out of the column, to be put elsewhere; they go on working.

        Parameters:
            names: the controls' names [-]

        Returns:
            each control with its unit [-]
        """
        taken = [self.rows[name] for name in names]
        for box in (self._main, *(self._folds.children if self._folds is not None else ())):
            box.children = [each for each in box.children if each not in taken]
        return taken

    def add(self, parts: Iterable[Any], place: str) -> None:
        """Put further widgets in, behind those put there before.

        Parameters:
            parts: ipywidgets [-]
            place: "top" (over the verdict), "controls" (in the column, under the controls) or "end" (below all) [-]
        """
        self._more[place] += parts
        self._arrange()

    def cover(self, instead: Any) -> None:
        """Show another widget in place of picture, verdict and words; None uncovers them.

        Parameters:
            instead: any widget, or None [-]
        """
        self._cover = instead
        self._arrange()

    def grey(self, png: bytes, message: str, fault: bool = True) -> None:
        """Show that what is seen is no longer up to date, and why.

        Parameters:
            png: the greyed picture; empty for none [-]
            message: what is wrong, in words [-]
            fault: whether it is a fault; else it is the verdict, and nothing is there to draw [-]
        """
        self.message.value = alert(retold(message)) if fault else ""
        self.said.value = f"<b><em>{NOT_UPDATED}</em></b>" if fault else f"<b>{escape(retold(message))}</b>"
        if png:
            self.image.value = png
        self.shown.add_class("vd-stale")

    def fresh(self, png: bytes, words: str) -> None:
        """Show a result.

        Parameters:
            png: its picture; empty where the picture's place holds another widget [-]
            words: its words, HTML that begins with the verdict in bold [-]
        """
        self.image.value = png
        if self._picture is not None:
            self._alt.value = escape(retold(self._picture.alt))
        self.said.value = words
        self.message.value = ""
        self.shown.remove_class("vd-stale")

    def _arrange(self) -> None:
        """Put everything in its order."""
        more, folds = self._more, [] if self._folds is None else [self._folds]
        self.side.children = [self._main, self.buttons, *folds, *more["controls"]]
        covered = self._cover is not None
        stage = self._cover if covered else self.stage
        self._body.children = [self.side, stage] if self.rows or more["controls"] else [stage]
        told = [] if covered else [self.said.verdict]
        rest = [] if covered else [self.said.rest, self.said.line, self.said.numbers]
        self.box.children = [self._style, *more["top"], *told, self.message, self._body, *rest, *more["end"]]


def _row(control: Any) -> Any:
    """A control with its unit beside it, if it has one."""
    row, unit = control, unit_of(control)
    if unit:
        name = named(unit)
        other = bool(name) and unit_for(name) != name
        row = widgets.Box([control, *([in_chosen_unit(control, name)] if other else [])])
        row.children = [*row.children, widgets.HTML(UNITS[unit_for(name)].label if name else unit)]
        row.add_class("vd-with-unit")
    row.add_class("vd-control")
    return row


def in_chosen_unit(control: Any, unit: str) -> Any:
    """Make the number beside a slider in the unit the reader chose; the slider goes on counting in its own.

    Parameters:
        control: the slider; its own number is taken out of sight [-]
        unit: name of the unit of its number [-]

    Returns:
        a box to read and to type in, the slider goes to the step nearest to what is typed [-]
    """
    digits = digits_for(unit, int(str(control.readout_format).strip(".f")))
    control.readout = False
    box = widgets.FloatText(tooltip=control.description, continuous_update=False)
    box.add_class("vd-number")

    def write(_: Any = None) -> None:
        box.value = round(float(seen(to_si(control.value, unit), unit)), digits) + 0.0

    def read(change: Any) -> None:
        if not isfinite(change["new"]):
            write()
            return
        if isclose(change["new"], seen(to_si(control.value, unit), unit), abs_tol=0.5001 * 10.0**-digits):
            return
        steps = (min(max(change["new"] / per(unit), control.min), control.max) - control.min) / control.step
        control.value = min(control.min + round(steps) * control.step, control.max)
        write()

    control.observe(write, names="value")
    box.observe(read, names="value")
    write()
    return box
