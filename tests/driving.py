"""Drive a panel through its states and check that result, message, words and picture stay in step."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import escape
from typing import Any

from vdlib.draw.png import SIGNATURE
from vdlib.panels import ends_and_middle, unit_of
from vdlib.panels.base import BROKEN, NOT_UPDATED, Panel
from vdlib.shown import retold

BAD_NUMBER = re.compile(r"(?<![a-z])(nan|inf|none(?! allowed))(?![a-z])", re.IGNORECASE)
"""A number that went wrong, as it would show in words."""


@dataclass(frozen=True)
class Visit:
    """One state the panel was driven to, and what it then said."""

    state: dict[str, Any]
    result: Any
    message: str
    words: str
    picture: bytes


def drive(panel: Panel, again: bool = True, brief: bool = False) -> list[Visit]:
    """Move every control to both ends and a middle, or through all options, and check the panel at each.

    Where a control started is not visited again but at the very end: that state was seen.

    Parameters:
        panel: the panel, at its starting values; left there [-]
        again: whether every state is visited a second time, in reverse, and must look the same [-]
        brief: whether only the first control of each kind (a slider of this unit, a list of these options) is moved,
            and a slider to its ends only, where random walks do the rest [-]

    Returns:
        every state visited, the starting one first [-]

    Errors:
        ``AssertionError`` if result, message, words and picture do not stay in step, or depend on what came before.
    """
    panel.reset()
    visits = [look(panel)]
    seen = set()
    for name, control in panel.controls.items():
        kind = (type(control), unit_of(control), str(getattr(control, "options", "")))
        if brief and kind in seen:
            continue
        seen.add(kind)
        for value in ends_and_middle(control)[: 2 if brief and hasattr(control, "step") else None]:
            if value == panel.controls.first[name]:
                continue
            panel.set_all(panel.controls.first | {name: value})  # the one before goes back in the same move
            _must(panel.state[name] == value, f"{name} was moved to {value!r} but is {panel.state[name]!r}")
            visits.append(look(panel))
    panel.reset()
    for visit in reversed(visits if again else visits[:1]):
        panel.set_all(visit.state)
        _must(panel.message == visit.message, f"{visit.state}: another message at the second visit: {panel.message!r}")
        _must(panel.words_html.value == visit.words, f"{visit.state}: other words at the second visit")
        _must(
            bool(visit.message) or panel.image.value == visit.picture,
            f"{visit.state}: the picture differs at the second visit: drawing depends on what came before",
        )
    return visits


def look(panel: Panel) -> Visit:
    """Check that a panel is in step at its present state.

    Parameters:
        panel: the panel [-]

    Returns:
        the state and what the panel says [-]

    Errors:
        ``AssertionError`` if result, message, words and picture do not fit together.
    """
    where, words = panel.state, panel.words_html.value
    _must(not panel.message.startswith(BROKEN), f"{where}: {panel.message}")
    if panel.message:
        _must(panel.result is None, f"{where}: a message and a result at once")
        if panel.message_html.value:
            _must('role="alert"' in panel.message_html.value, f"{where}: the message is not shown")
            _must(NOT_UPDATED in words, f"{where}: old words stay beside a message")
        else:  # an answer with nothing to draw
            _must(words == f"<b>{escape(retold(panel.message))}</b>", f"{where}: the answer is not the verdict")
    else:
        _must(
            panel.result is not None and panel.drawn_from is panel.result, f"{where}: the picture shows another result"
        )
        _must(panel.message_html.value == "", f"{where}: an old message is still shown")
        _must(retold(panel.words(panel.result)) in words, f"{where}: the words are of another result")
        _must(BAD_NUMBER.search(re.sub("<[^>]*>", " ", words)) is None, f"{where}: a number that went wrong: {words}")
    if panel.picture is not None:
        _must(bytes(panel.image.value).startswith(SIGNATURE), f"{where}: no picture")
    return Visit(where, panel.result, panel.message, words, bytes(panel.image.value))


def _must(good: bool, complaint: str) -> None:
    if not good:
        raise AssertionError(complaint)
