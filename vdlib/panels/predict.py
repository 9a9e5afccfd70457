"""Predict, then move the slider: one question before a panel, answered before its slider can be moved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any

import ipywidgets as widgets

from ..checks import InputError
from .base import Panel, Refused


class Question:
    """A question over a panel; one of its controls waits for the answer, which the panel's numbers then judge."""

    def __init__(
        self, panel: Panel, control: str, text: str, options: Sequence[str], judge: Callable[[Any, Any], str | None]
    ) -> None:
        """Put the question over the panel."""
        self.panel, self.judge = panel, judge
        self.control = panel.controls[control]
        self.name, self.first = control, panel.state[control]
        self.control.disabled = True
        self.answer = widgets.RadioButtons(options=list(options), value=None, layout=widgets.Layout(width="auto"))
        self.verdict = widgets.HTML()
        self.answer.observe(lambda _: self._answered(), names="value")
        ask = widgets.HTML(f"<b>Predict first.</b> {escape(text)}")
        panel.add(ask, self.answer, self.verdict, place="top")

    def _answered(self) -> None:
        self.control.disabled = False
        self.moved()

    def moved(self) -> None:
        """Judge the answer anew, for what the panel shows has changed."""
        mine = self.answer.value
        if mine is None:
            return
        true = self._true()
        if true is None:
            self.verdict.value = (
                f"You said: {escape(mine)}. Now move <b>{escape(self.control.description)}</b> and look."
            )
            return
        how = "As you said" if true == mine else f"You said {escape(mine)}"
        self.verdict.value = f'<div role="status">{how}; the numbers say: <b>{escape(true)}</b>.</div>'

    def _true(self) -> str | None:
        """The option the numbers say: this state against the same one with the asked control at its start."""
        if self.panel.result is None:
            return None
        try:
            before = self.panel.compute(self.panel.state | {self.name: self.first})
        except (InputError, Refused):
            return None
        return self.judge(before, self.panel.result)


def ask(
    panel: Panel, control: str, text: str, options: Sequence[str], judge: Callable[[Any, Any], str | None]
) -> Panel:
    """Put a question over a panel, to be answered before one of its controls can be moved.

    Parameters:
        panel: the panel, at its starting values [-]
        control: name of the control that waits [-]
        text: the question [-]
        options: the answers to choose from [-]
        judge: takes the result with that control at its start and the present one, gives the true option or None [-]

    Returns:
        the same panel; its attribute ``question`` holds the question [-]
    """
    panel.question = Question(panel, control, text, options, judge)
    return panel
