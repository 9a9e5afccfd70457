"""The one idea of a panel: controls give a state, a pure compute gives a result, a pure draw shows it."""

from __future__ import annotations

from asyncio import AbstractEventLoop, TimerHandle, get_running_loop
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from html import escape
from threading import RLock
from typing import Any

import ipywidgets as widgets

from ..checks import InputError
from ..draw.live import greyed
from ..draw.turn import TURN
from ..units import number
from . import choice, next_steps, slider, toggle
from .ahead import STEPS, Ahead
from .controls import Controls
from .drawer import Drawer, Outdated
from .frame import NOT_UPDATED, NOTHING, Frame
from .look import CSS
from .said import alert, table, verdict_of

__all__ = [
    "CSS",
    "NOT_UPDATED",
    "Nothing",
    "Panel",
    "Refused",
    "alert",
    "choice",
    "number",
    "slider",
    "still",
    "table",
    "toggle",
]

STILL = 0.5
"""Time without a move after which a picture is drawn with all its sharpness, and a rough result made whole [s]."""
ROUGH = "<em>Rough while it moves:</em> "
"""What the verdict of a rough result begins with."""
BROKEN = "Something in the workbook broke, please report: "


class Refused(Exception):
    """A result the model will not give for this state, with the reason in words for the user."""


class Nothing(Refused):
    """A result that leaves nothing to draw: its words are the verdict, and no fault is told."""


@dataclass(frozen=True)
class ShownPanel:
    """Result of one state, as shown."""

    result: Any
    words: str
    picture: bytes
    rough: bool


class Panel:
    """Controls, a picture and words that stay in step: ``state → compute (pure) → draw (pure)``.

    ``compute(state)`` gives a result, not None; ``draw(picture, result)`` moves the picture's artists, or returns PNG
    bytes of its own, or an iterator that moves some of the artists at each step; ``words(result)`` gives HTML. One
    observer for each control, synchronous. ``InputError`` and ``Refused`` are shown in words and the picture is greyed;
    any other error is shown too, and then raised, but by the first state: the panel is built all the same.

    Controls may be moved in several threads at once. The newest request wins: an older one ends where it is, and shows
    nothing. Drawing and showing take turns with all other panels, in short parts (``draw.turn``); computing does not,
    for it is pure, but one panel computes one state at a time. No lock is held while a callback runs.

    Makers name which controls are ``folded`` away; the others stand in the column beside the picture. ``starts`` puts
    a button there for each set of values that is worth going back to, and its name says them. In the picture's place
    may stand any widget: ``draw`` is then given that widget, and returns None. ``words`` begin with the verdict in
    bold. ``ahead`` says that result and words depend on the controls alone until ``refresh`` is called, so that
    pictures may be kept and made ahead. ``rough`` is a quicker, coarser ``compute``: where time can be told its result
    is shown while a control moves, said to be rough, and ``compute``'s own follows once nothing moves; where it gives
    None, ``compute`` is as quick.
    """

    def __init__(
        self,
        controls: Mapping[str, Any],
        compute: Callable[[dict[str, Any]], Any],
        draw: Callable[[Any, Any], bytes | Iterator[None] | None],
        words: Callable[[Any], str],
        picture: Any = None,
        ahead: bool = False,
        folded: Mapping[str, Sequence[str]] | Sequence[str] = (),
        starts: Mapping[str, Mapping[str, Any]] | None = None,
        rough: Callable[[dict[str, Any]], Any] | None = None,
    ) -> None:
        """Build the widgets, watch the controls and show the starting state."""
        self.controls = Controls(controls)
        self.compute, self.rough, self.words, self.drawer = compute, rough, words, Drawer(draw, picture)
        self.picture = self.drawer.picture
        self.result: Any = None
        """Result of the present state; None while it is refused."""
        self.drawn_from: Any = None
        """Result that the picture was last drawn from, even if it is greyed now."""
        self.message = ""
        """What is wrong, in words; empty when all is well."""
        self._png = b""
        self._asked: object = None
        """The newest request."""
        self._computing = RLock()
        self._timer: TimerHandle | None = None
        self._ahead = Ahead(partial(self._make, quick=True)) if ahead else None
        self.when_shown: Callable[[], object] = lambda: None
        """Called after every state that could be shown."""
        self.question: Any = None
        """The question that is answered before the result is shown; none for most panels."""
        self.when_still: Callable[[], object] = lambda: None
        """Called half a second after the last move of a control, where time can be told."""
        self.frame = Frame(self.controls, picture, folded)
        self.image, self.words_html, self.message_html = self.frame.image, self.frame.said, self.frame.message
        self.frame.box.panel = self
        self.rows = self.frame.rows
        """Each control, in a box with its unit if it has one, by name."""
        self.reset_button = self._button("Back to the start", "Put every control back where it was", self.reset)
        for name, values in (starts or {}).items():
            self._button(name, "Put these values on the controls", partial(self.set_all, values))
        self.controls.watch(self._changed)
        with suppress(Exception):  # it is shown in words: a panel whose first state fails can be moved to another
            self.refresh()

    def _button(self, name: str, hint: str, act: Callable[[], None]) -> Any:
        made = widgets.Button(description=name, tooltip=hint)
        made.on_click(lambda _: act())
        self.frame.buttons.children = [made, *self.frame.buttons.children]
        return made

    @property
    def state(self) -> dict[str, Any]:
        """The controls' values by name, sliders rounded to their step."""
        return self.controls.state

    @property
    def stale(self) -> bool:
        """Whether the picture is greyed because the present state could not be shown."""
        return bool(self.message)

    def set(self, name: str, value: Any) -> None:
        """Move one control, as a user would.

        Parameters:
            name: the control's name [-]
            value: a value the control can take [any]

        Errors:
            as ``set_all``.
        """
        self.set_all({name: value})

    def set_all(self, values: Mapping[str, Any]) -> None:
        """Move several controls and show the outcome once.

        Parameters:
            values: control's name → value it can take [any]

        Errors:
            ``KeyError`` for an unknown name, ``ValueError`` for a value a control cannot take; none is moved then.
        """
        if self.controls.put(values):
            self.refresh()

    def reset(self) -> None:
        """Move every control back to its starting value."""
        self.set_all(self.controls.first)

    def add(self, *parts: Any, place: str = "end") -> None:
        """Put further widgets into the panel, behind those put there before.

        Parameters:
            parts: ipywidgets [-]
            place: "top" (over the verdict), "controls" (in the column, under the controls) or "end" (below all) [-]
        """
        self.frame.add(parts, place)

    def take_rows(self, names: Iterable[str]) -> list[Any]:
        """Take controls out of the panel's column, to be put elsewhere; they go on working.

        Parameters:
            names: the controls' names [-]

        Returns:
            each control with its unit [-]
        """
        return self.frame.take(names)

    def show(self) -> Any:
        """Return the widget box to be displayed as a cell's last value.

        Returns:
            an ipywidgets box, the same one at every call [-]
        """
        return self.frame.box

    def _changed(self, change: Any) -> None:
        clock = clock_here()
        self._show(clock)
        if self._ahead is not None and clock is not None:
            name = next(name for name, control in self.controls.items() if control is change["owner"])
            steps = next_steps(change["owner"], change["old"], STEPS)
            self._ahead.look(clock, (self.state | {name: value} for value in steps))

    def refresh(self) -> None:
        """Compute, draw and show the present state; all three are done before anything on the screen changes."""
        if self._ahead is not None:
            self._ahead.forget()
        self._show(None)
        clock = clock_here()
        if clock is not None and self.picture is not None and self.result is not None:
            self._timer = clock.call_later(STILL, partial(self._prepare, clock, self._asked))

    def _show(self, clock: AbstractEventLoop | None) -> None:
        """Show the present state: where time can be told quickly now, and with all sharpness once nothing moves."""
        if self._timer is not None:
            self._timer.cancel()
        asked = self._asked = object()  # before the state is read: whoever asks last has read the latest state

        def wanted() -> bool:
            return self._asked is asked

        try:
            if clock is None:
                made = self._make(self.state, wanted)
            elif self._ahead is None:
                made = self._make(self.state, wanted, quick=True)
            else:
                self._ahead.stop()
                made = self._ahead.get(self.state, wanted)
        except Outdated:
            return
        except (InputError, Refused) as error:
            self._fail(str(error) or type(error).__name__, wanted, not isinstance(error, Nothing))
            if self.question is not None:
                self.question.moved()
        except Exception as error:
            self._fail(f"{BROKEN}{type(error).__name__}: {error}", wanted)
            raise
        else:
            with TURN:
                if not wanted():
                    return
                self.result = self.drawn_from = made.result
                self.message, self._png = "", made.picture
                self.frame.fresh(made.picture, made.words)
            self.when_shown()
            if self.question is not None:
                self.question.moved()
            if clock is not None and wanted():
                rest = self._refine if made.rough else self._settle
                self._timer = clock.call_later(STILL, partial(rest, clock, asked))

    def _make(
        self, state: Mapping[str, Any], wanted: Callable[[], bool], stubborn: bool = True, quick: bool = False
    ) -> ShownPanel:
        with self._computing:
            if not wanted():
                raise Outdated
            coarse = None if self.rough is None or not quick else self.rough(dict(state))
            result = self.compute(dict(state)) if coarse is None else coarse
        words = self.words(result) if coarse is None else roughly(self.words(result))
        return ShownPanel(result, words, self.drawer.whole(result, wanted, stubborn, quick), coarse is not None)

    def _prepare(self, clock: AbstractEventLoop, asked: object) -> None:
        """Draw the background that a first move will need, so that it need not wait for it."""
        self._go_on(clock, asked, self.drawer.parts(self.result, quick=True), lambda png: None)

    def _settle(self, clock: AbstractEventLoop, asked: object) -> None:
        """Nothing moves any more: draw what is shown with all its sharpness, and say so to who wants to know."""

        def sharp(png: bytes) -> None:
            self._png = self.image.value = png

        self._go_on(clock, asked, self.drawer.parts(self.result, quick=False), sharp)
        self.when_still()

    def _refine(self, clock: AbstractEventLoop, asked: object) -> None:
        """Nothing moves any more: put the whole result in the rough one's place, and say so to who wants to know."""
        if self._asked is asked:
            self._show(None)
            self.when_still()

    def _go_on(
        self, clock: AbstractEventLoop, asked: object, parts: Iterator[bytes | None], show: Callable[[bytes], None]
    ) -> None:
        """Draw one part and come back for the next, so that whatever the user does meanwhile is done first."""
        png = next(parts) if self._asked is asked else b""
        if png is None:
            self._timer = clock.call_later(0, partial(self._go_on, clock, asked, parts, show))
            return
        with TURN:
            if self._asked is asked:
                show(png)

    def _fail(self, message: str, wanted: Callable[[], bool], fault: bool = True) -> None:
        """Return in words what is wrong, and grey the last picture: never blank, never looking valid."""
        last = self._png or (self.picture.blank() if self.picture is not None else b"")
        grey = greyed(last, NOT_UPDATED if fault else NOTHING) if last else b""
        with TURN:
            if not wanted():
                return
            self.result, self.message = None, message
            self.frame.grey(grey, message, fault)


def roughly(words: str) -> str:
    """Say of a panel's words that they are rough, where their verdict begins.

    Parameters:
        words: HTML [-]

    Returns:
        HTML [-]

    Example:
        >>> roughly("<b>The rear slides first.</b>")
        '<b><em>Rough while it moves:</em> The rear slides first.</b>'
    """
    return _marked(words, ROUGH)


def still(words: str, what: str) -> str:
    """Say of a panel's words that they are of what was read before, where their verdict begins.

    Parameters:
        words: HTML [-]
        what: what it is of; nothing is said where it is empty [-]

    Returns:
        HTML [-]

    Example:
        >>> still("<b>A spin.</b>", "monday.csv")
        '<b><em>Still monday.csv:</em> A spin.</b>'
    """
    return _marked(words, f"<em>Still {escape(what)}:</em> ") if what else words


def _marked(words: str, mark: str) -> str:
    return words.replace("<b>", f"<b>{mark}", 1) if verdict_of(words)[0] else mark + words


def clock_here() -> AbstractEventLoop | None:
    """Return what can call back later: there in a kernel, None elsewhere.

    Returns:
        the event loop, or None [-]
    """
    try:
        return get_running_loop()
    except RuntimeError:
        return None
