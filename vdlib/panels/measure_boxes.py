"""The boxes, lists and buttons of the measuring form, step by step: how it looks, and nothing of what it does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import Any

import ipywidgets as widgets
from ipywidgets.widgets.widget_description import DescriptionStyle
from ipywidgets.widgets.widget_string import TextStyle

from ..car.examples import FIRST, load_example
from ..draw import garage as drawn
from ..garage.car_from import starts
from ..garage.form import STEPS, WAYS, Field, Step
from ..garage.form_fields import ASKED, MAY_SLIP, PRINTOUT, choices_at, fields_at
from ..garage.printout import HINT
from ..shown import retold
from ..units import UNITS
from .base import CSS
from .measure_parts import FORM_CSS

UNIT_NAMES = {name for ways in WAYS.values() for name in ways}
LABEL = "21em"
BOX = widgets.Layout
ALONE = {"toe.diameter": "2px 29em 2px 2px"}
"""Box that has a line to itself, so that the wheels behind it stand left and right → its margins."""
Heard = Callable[[Any], None]


@dataclass(frozen=True)
class Doings:
    """What boxes, lists and buttons do."""

    type: Callable[[str], Heard]  # field's key → what hears its box
    choose: Callable[[str], Heard]  # choice's key → what hears its list
    table: Callable[[str], None]  # an alignment print-out was typed
    rename: Callable[[str], None]
    open: Callable[[str], None]
    new: Callable[[], None]
    invent: Callable[[], None]
    save: Callable[[], None]
    print: Callable[[bool], None]


class FormBoxes:
    """Every widget of the form, by the key of what it holds, and the box that holds them all."""

    def __init__(self, doings: Doings) -> None:
        """Put the widgets together; what they do is given."""
        self._doings = doings
        self.boxes: dict[str, Any] = {}
        self.lists: dict[str, Any] = {}
        self.words: dict[str, Any] = {}
        self.images: dict[str, Any] = {}
        self.alts: dict[str, Any] = {}
        self._drawn: dict[str, str] = {}
        """Step → from where to where heights are read in its drawing."""
        self.name = widgets.Text(description="Car's name", continuous_update=False, layout=BOX(width="20em"))
        self.forms = widgets.Dropdown(description="Open a form", options=[], layout=BOX(width="22em"))
        self.message, self.overall, self.result, self.origins, self.four, self.first = (
            widgets.HTML() for _ in range(6)
        )
        self.steps = widgets.Accordion(children=[self._step(step) for step in STEPS], selected_index=0)
        buttons = [
            self._button("New empty form", "Start another car", doings.new),
            self._button("Show an invented day", "Open a full form of invented readings", doings.invent),
        ]
        self.save_button = self._button("Save the car", "Write the car file that every workbook shows", doings.save)
        last = [
            self.save_button,
            self._button("Blank paper form (PDF)", "Two pages to take to the garage", lambda: doings.print(False)),
            self._button("Paper form as filled in (PDF)", "What is typed, on paper", lambda: doings.print(True)),
        ]
        wrap = BOX(flex_flow="row wrap")
        more = widgets.Accordion(children=[self.origins], selected_index=None)
        more.set_title(0, "Every number of the car, its range and where it is from")
        self.name.observe(lambda c: doings.rename(c["new"]), names="value")
        self.forms.observe(lambda c: doings.open(c["new"]), names="value")
        self.steps.observe(lambda c: self._picture(c["new"]), names="selected_index")
        self._picture(0)
        self.box = widgets.VBox(
            [
                widgets.HTML(CSS + FORM_CSS, layout=BOX(display="none")),
                widgets.HBox([self.forms, self.name, *buttons], layout=wrap),
                self.message,
                self.first,
                self.four,
                self.steps,
                self.overall,
                widgets.HBox(last, layout=wrap),
                self.result,
                more,
            ]
        )
        self.first.add_class("vd-first")
        self.box.layout.overflow = "visible"
        self.box.add_class("vd-panel")
        self.box.add_class("vd-form")

    def _button(self, text: str, hint: str, act: Callable[[], None]) -> Any:
        button = widgets.Button(description=text, tooltip=hint, layout=BOX(width="auto"))
        button.on_click(lambda _: act())
        return button

    def _step(self, step: Step) -> Any:
        """One step: caution and what to do, drawing, lists, boxes, what is behind *more*, and what the readings say."""
        style, listed = TextStyle(description_width=LABEL), DescriptionStyle(description_width=LABEL)
        wide = BOX(width="36em", max_width="100%")
        if step.key == "look":
            listed, wide = DescriptionStyle(description_width="44em"), BOX(width="59em", max_width="100%")
        main: list[Any] = []
        more: list[Any] = []
        for choice in choices_at(step.key):
            own = choice.options or starts()
            options = [(UNITS[o].label, o) if o in UNIT_NAMES else (o, o) for o in own]
            made = widgets.Dropdown(description=choice.label, options=options, style=listed, layout=wide)
            made.observe(self._doings.choose(choice.key), names="value")
            self.lists[choice.key] = made
            if choice.key.endswith(ASKED):  # that one stands below the questions, where there are any
                made.layout = BOX(width="36em", max_width="100%", display="none")
            else:
                (more if choice.more else main).append(made)
        for field in fields_at(step.key):
            if field.key == PRINTOUT:
                main += self._printout_box(field)
                continue
            long = field.holds == "text"
            made = widgets.Text(
                description=field.label,
                continuous_update=False,
                style=style,
                layout=BOX(width="57em" if long else "28em", max_width="100%", margin=ALONE.get(field.key)),
                tooltip=f"{field.label}; Enter or leave the box to save it",
            )
            made.observe(self._doings.type(field.key), names="value")
            self.boxes[field.key] = made
            (more if field.more else main).append(made)
        self.words[step.key] = widgets.HTML()
        care = f'<div class="vd-care"><b>Caution.</b> {escape(step.caution)}</div>'
        parts = [widgets.HTML(f'<div class="vd-how">{escape(retold(step.how))}</div>{care}')]
        boxes = [widgets.Box(main, layout=BOX(flex_flow="row wrap", flex="1 1 28em", align_content="flex-start"))]
        if step.key in drawn.ALT:
            image = widgets.Image(format="png", width=str(drawn.SIZE[0]), height=str(drawn.SIZE[1]))
            image.layout = BOX(flex="0 0 auto", max_width="100%")
            self.images[step.key] = image
            self.alts[step.key] = widgets.HTML()
            self.alts[step.key].add_class("vd-alt")
            parts.append(self.alts[step.key])
            boxes.insert(0, image)
        parts.append(widgets.HBox(boxes, layout=BOX(flex_flow="row wrap", align_items="flex-start")))
        if more:
            fold = widgets.Accordion(
                children=[widgets.Box(more, layout=BOX(flex_flow="row wrap"))], selected_index=None
            )
            fold.set_title(0, "More")
            parts.append(fold)
        answered = [self.lists[step.key + ASKED]] if step.key in MAY_SLIP else []
        return widgets.VBox([*parts, self.words[step.key], *answered])

    def _printout_box(self, field: Field) -> list[Any]:
        """The box that takes a whole table, and what is said of it."""
        made = widgets.Textarea(
            description=field.label, placeholder=HINT, continuous_update=False, rows=6,
            style={"description_width": LABEL}, layout=BOX(width="57em", max_width="100%"),
        )  # fmt: skip
        made.observe(lambda event: self._doings.table(event["new"]), names="value")
        self.boxes[field.key], self.printed = made, widgets.HTML()
        return [made, self.printed]

    def _picture(self, index: int | None) -> None:
        """Draw a step's picture when the step is first opened, and anew where it is measured in another way."""
        if index is None:
            return
        step, way = STEPS[index].key, str(self.lists["heights.way"].value)
        if step in self.images and self._drawn.get(step) != (way if step == "heights" else ""):
            self.images[step].value = drawn.picture_of(step, load_example(FIRST).car, way).render()
            self.alts[step].value = escape(drawn.alt_of(step, way))
            self._drawn[step] = way if step == "heights" else ""
