"""Predict, observe, explain: a question in the place of a panel's result, which is shown once it is answered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any

import ipywidgets as widgets

from ..checks import InputError
from ..shown import retold
from .base import Panel, Refused

Judge = Callable[[Any, Any], str | None]
"""Takes the result before and after; gives the true option, or None where the two do not answer the question."""
Because = Callable[[Any, Any], str]
"""Takes the result before and after; gives the reason in plain text, with its numbers, as "because" goes on."""

LATER = "Your answer brings the result here."
"""What stands with every question: why the place of the result is empty."""


class Question:
    """A question about one control of a panel: nothing of the result is seen before it is answered.

    The answer moves the control as the question says; the panel's own numbers then say right or wrong, and why.
    """

    def __init__(
        self,
        panel: Panel,
        control: str,
        to: Any,
        text: str,
        options: Sequence[str],
        judge: Judge,
        because: Because,
    ) -> None:
        """Put the question in the place of the panel's result."""
        self.panel, self.judge, self.because = panel, judge, because
        self.name, self.to, self.starts = control, to, dict(panel.state)
        self.first = self.starts[control]
        self._waiting = [one for one in (*panel.controls.values(), *panel.frame.buttons.children) if not one.disabled]
        self.answer = widgets.RadioButtons(options=list(options), value=None, layout=widgets.Layout(width="auto"))
        self.verdict = widgets.HTML()
        self.verdict.add_class("vd-answer")
        asked = widgets.HTML(f'<div class="vd-question"><b>Predict first.</b> {escape(text)} {LATER}</div>')
        self.place = widgets.VBox([asked, self.answer])
        self.place.add_class("vd-stage")
        self.answer.observe(lambda change: self._answered(change["old"]), names="value")
        panel.add(self.verdict, place="top")
        self._wait(True)

    def _wait(self, waiting: bool) -> None:
        """Hide the result and hold the controls, or let both go."""
        for one in self._waiting:
            one.disabled = waiting
        self.panel.frame.cover(self.place if waiting else None)

    def _answered(self, before: Any) -> None:
        if before is None:
            self._wait(False)
            if self.to is not None:
                self.panel.set(self.name, self.to)
        self.moved()

    def moved(self) -> None:
        """Judge the answer anew, for what the panel shows has changed."""
        mine = self.answer.value
        if mine is None:
            return
        before = self._before()
        now = self.panel.result
        true = None if before is None or now is None else self.judge(before, now)
        if true is None:
            label = escape(self.panel.controls[self.name].description)
            self.verdict.value = retold(f"You said: {escape(mine)}. Move <b>{label}</b> to see it.")
            return
        how = (
            f"<b>Right:</b> {escape(true)}"
            if true == mine
            else f"<b>Not so:</b> not “{escape(mine)}” but {escape(true)}"
        )
        self.verdict.value = retold(f'<div role="status">{how}, because {escape(self.because(before, now))}</div>')

    def _before(self) -> Any:
        """The result of the present state with the asked control where it started; None where there is none.

        Where the first state answers the question, it is that one, whatever has moved since.
        """
        first = self.starts if self.to is None else self.panel.state | {self.name: self.first}
        try:
            return self.panel.compute(first)
        except (InputError, Refused):
            return None


def ask(
    panel: Panel,
    control: str,
    to: Any,
    text: str,
    options: Sequence[str],
    judge: Judge,
    because: Because,
) -> Panel:
    """Put a question in the place of a panel's result.

    Parameters:
        panel: the panel, at its starting values [-]
        control: name of the control that the question is about [-]
        to: where the answer moves it; None where the first state answers the question [any]
        text: the question [-]
        options: the answers to choose from [-]
        judge: takes the result with that control at its start and the present one, gives the true option or None [-]
        because: takes the same two, gives the reason in plain text, a sentence with its numbers [-]

    Returns:
        the same panel; its attribute ``question`` holds the question [-]
    """
    panel.question = Question(panel, control, to, text, options, judge, because)
    return panel
