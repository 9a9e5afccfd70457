"""The measuring form on paper: the same steps, drawings and boxes on A4, blank to take along or as filled in."""

from __future__ import annotations

import textwrap
from io import BytesIO
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.patches import Rectangle

from ..car import store
from ..car.examples import FIRST, load_example
from ..garage.car_from import (
    STEPS,
    Choice,
    Field,
    MeasuredCar,
    Outcome,
    Readings,
    Step,
    asked,
    choices_at,
    fields_at,
    label_of,
)
from .garage import Still, where

A4 = (595, 842)
"""Width and height of a page [points]."""
_EDGE, _ROW, _LINE = 28, 13.5, 8.6
_DRAWING, _SMALLER = (168, 98), (137, 80)  # on a blank form, and on a filled one, which then fits two pages
_TITLE, _TEXT, _SMALL = 10.0, 7.4, 6.8
_COLUMNS = 2
_BOX = 48
_CHARS = 140
"""Characters of small text that fit on one line."""
_HEAD = (
    "A teaching model's measuring form; the order of work is common practice. Level ground, axle stands, never under "
    "a car on a jack. Brakes, steering and suspension are for qualified people; scrutineering and local rules decide."
)


class _Page:
    """One page: the axes for words and boxes, and how far down it is filled."""

    def __init__(self, title: str, number: int) -> None:
        self.picture = Still(*A4, "The measuring form, page by page: steps, drawings and boxes to write in.", scale=1.0)
        self.picture.figure.set_layout_engine("none")
        self.axes: Axes = self.picture.figure.add_axes((0, 0, 1, 1))
        self.axes.set(xlim=(0, A4[0]), ylim=(A4[1], 0))
        self.axes.set_axis_off()
        self.write(_EDGE, 30, f"{title}   page {number}", 12, weight="bold")
        self.down = 42.0
        for line in textwrap.wrap(_HEAD, _CHARS) if number == 1 else []:
            self.write(_EDGE, self.down, line, _SMALL)
            self.down += _LINE

    def write(self, x: float, y: float, text: str, size: float, **look: Any) -> None:
        own: dict[str, Any] = {"va": "center", "parse_math": False}
        self.axes.text(x, y, text, fontsize=size, **(own | look))

    def box(self, x: float, y: float, width: float, height: float, **look: Any) -> None:
        own: dict[str, Any] = {"facecolor": "white", "edgecolor": "black", "linewidth": 0.6}
        self.axes.add_patch(Rectangle((x, y), width, height, **(own | look)))

    def drawing(self, step: str, top: float, size: tuple[int, int]) -> None:
        left, wide, high = _EDGE / A4[0], size[0] / A4[0], size[1] / A4[1]
        axes = self.picture.figure.add_axes((left, 1 - top / A4[1] - high, wide, high))
        where(step, self.picture, axes, load_example(FIRST).car, 5.6)


def _printed(readings: Readings, blank: bool, step: Step) -> tuple[list[Choice], list[Field]]:
    """The choices and boxes of one step that go on paper; a blank form has the bars' sizes too."""
    if blank:
        sizes = {f"springs.{end}_bar": "sizes below" for end in ("front", "rear")}
        readings = Readings(readings.name, {}, readings.chosen | sizes)
    return [c for c in choices_at(step.key) if c.options], [f for f in fields_at(step.key) if asked(readings, f)]


def _small_lines(step: Step, outcome: Outcome | None) -> list[str]:
    lines = textwrap.wrap(f"Caution: {step.caution}", _CHARS)
    if outcome is not None:
        found = "; ".join(f"{name} {words}" for name, words in outcome.lines)
        lines += textwrap.wrap(f"Worked out (± one standard deviation): {found}.", _CHARS) if found else []
        told = [*(f"Question: {q}" for q in outcome.questions), *(f"Take again: {q}" for q in outcome.errors)]
        lines += [line for text in told for line in textwrap.wrap(text, _CHARS)]
    return lines


def pages(readings: Readings, answer: MeasuredCar | None = None) -> list[Still]:
    """Lay the form out.

    Parameters:
        readings: for the units and ways of measuring chosen, and what is typed [-]
        answer: what the readings say; None for a blank form [-]

    Returns:
        one picture a page, one point to the screen pixel [-]
    """
    title = "Measure your car" if answer is None else f"{readings.name}{' (invented)' if readings.invented else ''}"
    done, size = [_Page(title, 1)], _DRAWING if answer is None else _SMALLER
    if answer is None:
        done[0].write(A4[0] - _EDGE, 30, "Car ____________________   Date ______________", _TEXT, ha="right")
    for number, step in enumerate(STEPS, 1):
        outcome = None if answer is None else answer.steps.get(step.key, Outcome())
        choices, boxes = _printed(readings, answer is None, step)
        small = _small_lines(step, outcome)
        per_line = 2 if step.key == "start" else 1
        words = -(-len(choices) // per_line) * (_LINE + 1.5)
        rows = -(-len(boxes) // _COLUMNS)
        drawn = step.key != "start"
        body = max(size[1] if drawn else 0, words + rows * _ROW)
        height = 15 + len(small) * _LINE + body + 7
        if done[-1].down + height > A4[1] - 16:
            done.append(_Page(title, len(done) + 1))
        page = done[-1]
        top = page.down
        page.write(
            _EDGE, top + 7, f"{number}  {step.title}{' (optional)' if step.optional else ''}", _TITLE, weight="bold"
        )
        page.axes.plot([_EDGE, A4[0] - _EDGE], [top, top], color="black", linewidth=0.4)
        top += 15
        for line in small:
            page.write(_EDGE, top + _LINE / 2, line, _SMALL)
            top += _LINE
        if drawn:
            page.drawing(step.key, top, size)
        left = _EDGE + (size[0] + 6 if drawn else 0)
        _choices(page, readings, choices, answer is None, left, top, per_line)
        _boxes(page, readings, boxes, answer is None, left, top + words)
        page.down = top + body + 7
    return [page.picture for page in done]


def _choices(
    page: _Page, readings: Readings, choices: list[Choice], blank: bool, left: float, top: float, per_line: int
) -> None:
    """Write the choices, all options to ring on a blank form."""
    wide = (A4[0] - _EDGE - left) / per_line
    for i, choice in enumerate(choices):
        options = " / ".join(o.replace("_per_", "/") for o in choice.options)
        said = options if blank and len(options) < 46 else "________" if blank else readings.choice(choice.key)
        spot = (left + wide * (i % per_line), top + (i // per_line) * (_LINE + 1.5) + _LINE / 2)
        page.write(*spot, f"{choice.label}: {said.replace('_per_', '/')}", _SMALL)


def _boxes(page: _Page, readings: Readings, boxes: list[Field], blank: bool, left: float, top: float) -> None:
    """Draw the boxes to write in, column by column, with what is typed where the form is filled."""
    wide = (A4[0] - _EDGE - left) / _COLUMNS
    rows = -(-len(boxes) // _COLUMNS)
    for i, field in enumerate(boxes):
        x, y = left + wide * (i // rows), top + (i % rows) * _ROW
        label = label_of(readings, field)
        room = wide - _BOX - 12
        size = min(_TEXT, room / (0.57 * len(label)))  # a letter is a little over half as wide as it is high
        page.write(x + wide - _BOX - 8, y + _ROW / 2, label, size, ha="right")
        page.box(x + wide - _BOX - 5, y + 1.2, _BOX, _ROW - 2.4)
        if not blank:
            text = readings.typed.get(field.key, "")
            page.write(x + wide - _BOX - 2, y + _ROW / 2, text[:11], _TEXT + 0.6)


def write(path: Path, readings: Readings, answer: MeasuredCar | None = None) -> Path:
    """Write the form as a PDF, whole or not at all.

    Parameters:
        path: where to, ending in .pdf [-]
        readings: the readings [-]
        answer: what they say; None for a blank form [-]

    Returns:
        the resolved path [-]

    Errors:
        ``InputError`` in the system's words where it cannot be written.
    """
    raw = BytesIO()
    with PdfPages(raw, metadata={"Title": "Measure your car", "Subject": "measuring form"}) as book:
        for page in pages(readings, answer):
            book.savefig(page.figure)
    return store.put(path, raw.getvalue()).resolve()
