"""What folds away behind one visible line, and the boxed answer with its questions at the end of a workbook."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any, NamedTuple

import ipywidgets as widgets

from ..car.carfile import CarFile
from ..checks import InputError
from ..shown import retold
from .base import CSS, Refused
from .frame import line
from .said import alert

STYLE = """<style>
.vd-close .vd-answer {border: 2px solid #00416A; border-radius: 4px; padding: 6px 12px; margin: 4px 0; max-width: 60em}
.vd-close details {margin: 3px 0} .vd-close summary {cursor: pointer} .vd-close h3 {margin: 10px 0 2px}
.vd-close details > div {border-left: 3px solid #767676; padding: 2px 10px; margin: 2px 0; max-width: 60em}
</style>"""


THINK, RECALL = "Explore and think", "Do you remember? Three questions"
"""What stands over the questions to try oneself on, and on the line behind which those to remember are."""


class Asked(NamedTuple):
    """A question and its answer; the answer is HTML, and folded."""

    question: str
    answer: str


class Closing(NamedTuple):
    """The end of a workbook: what was found (empty where the page says it elsewhere), what to try, what to remember."""

    answer: str
    think: Sequence[Asked]
    recall: Sequence[Asked]


def closing(end: Closing) -> Any:
    """Return the end of a workbook as a widget: the boxed answer, and the questions with their answers folded.

    Parameters:
        end: answer and questions [-]

    Returns:
        an ipywidgets ``HTML`` [-]
    """
    made = widgets.HTML(closing_html(end))
    made.add_class("vd-panel")
    return made


def closing_html(end: Closing) -> str:
    """Write the end of a workbook.

    Parameters:
        end: answer and questions [-]

    Returns:
        HTML [-]
    """
    parts = [f'<div class="vd-answer" role="note"><b>Answer.</b> {end.answer}</div>'] if end.answer else []
    think, recall = (
        "".join(f"<details><summary>{escape(one.question)}</summary><div>{one.answer}</div></details>" for one in asked)
        for asked in (end.think, end.recall)
    )
    parts.append(f"<h3>{THINK}</h3>{think}<details><summary><b>{RECALL}</b></summary><div>{recall}</div></details>")
    return retold(f'{CSS}{STYLE}<div class="vd-close">{"".join(parts)}</div>')


def fold(title: str, *makers: Callable[[CarFile], Any]) -> Callable[[CarFile], Any]:
    """Return a maker that shows one line only; what is under it is made when it is opened for the first time.

    Parameters:
        title: the visible line [-]
        makers: functions of a car file, each giving a panel or a widget [-]

    Returns:
        a function of a car file for ``which.with_car`` [-]
    """

    def maker(file: CarFile) -> Any:
        inside = widgets.VBox()

        def turn(shown: bool) -> None:
            if shown and not inside.children:
                inside.children = _made(makers, file)
            inside.layout.display = "" if shown else "none"

        inside.layout.display = "none"
        box = widgets.VBox([line(title, turn), inside])
        box.add_class("vd-panel")
        box.line = box.children[0]
        return box

    return maker


def _made(makers: Sequence[Callable[[CarFile], Any]], file: CarFile) -> tuple[Any, ...]:
    """Make what is under a line; what is refused is said in words."""
    try:
        found = [maker(file) for maker in makers]
    except (InputError, Refused) as error:
        return (widgets.HTML(alert(str(error))),)
    return tuple(one.show() if hasattr(one, "show") else one for one in found)
