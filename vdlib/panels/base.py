"""The one idea of a panel: controls give a state, a pure compute gives a result, a pure draw shows it."""

from __future__ import annotations

from asyncio import AbstractEventLoop, TimerHandle, get_running_loop
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from html import escape
from threading import RLock, get_ident
from typing import Any

import ipywidgets as widgets
from traitlets import TraitError

from ..checks import InputError
from ..draw.live import LivePicture, Overdrawn, greyed
from ..draw.png import encode
from ..draw.turn import TURN
from ..units import number
from . import choice, next_steps, on_step, slider, toggle, unit_of
from .ahead import STEPS, Ahead

__all__ = ["Panel", "Refused", "choice", "number", "slider", "table", "toggle"]

STILL = 0.5
"""Time without a move after which a picture is drawn with all its sharpness [s]."""
LETTER = "var(--jp-widgets-font-size)"
"""Size of letters in the panels [screen pixels]: 13, or 20 where they are large."""
NOT_UPDATED = "not updated: see message"
BROKEN = "Something in the workbook broke, please report: "
CSS = """<style>
.vd-panel {--jp-widgets-inline-label-width: auto}
.vd-panel .jupyter-widget-tab {--jp-widgets-horizontal-tab-width: auto; --jp-widgets-container-padding: 4px}
.vd-panel .widget-checkbox input, .vd-panel .widget-radio-box input {vertical-align: middle}
.vd-panel .vd-control {margin: 0 12px 0 0}
.vd-panel .vd-control, .vd-panel .vd-control .widget-slider {flex: 0 0 auto; max-width: 100%}
.vd-panel .vd-alert {border-left: 5px solid #D55E00; background: #FFF4E5; color: #000; padding: 4px 10px}
.vd-panel table.vd-numbers {border-collapse: collapse; font-size: var(--jp-widgets-font-size)}
.vd-panel table.vd-numbers th, .vd-panel table.vd-numbers td {padding: 2px 12px 2px 0; text-align: right}
.vd-panel table.vd-numbers th:first-child {text-align: left; font-weight: normal}
.vd-panel table.vd-numbers thead th {border-bottom: 1px solid #767676; font-weight: bold}
.vd-panel {position: relative}
.vd-panel .vd-alt {position: absolute; width: 1px; height: 1px; margin: 0; overflow: hidden; clip-path: inset(50%)}
.vd-panel .vd-words {line-height: 1.45}
.vd-large {--jp-widgets-font-size: 20px; --jp-widgets-inline-height: 38px; font-size: 20px}
.vd-large .vd-panel .vd-picture, body[data-voila]:has(.vd-large) .vd-picture
 {width: calc(100% - 4px); height: auto; max-width: 1340px; align-self: flex-start}
body[data-voila]:has(.vd-large) {--jp-widgets-font-size: 20px; --jp-widgets-inline-height: 38px;
 --jp-ui-font-size1: 20px; --jp-code-font-size: 20px; --jp-content-font-size0: 20px; --jp-content-font-size1: 20px;
 --jp-content-font-size2: 22px; --jp-content-font-size3: 25px; --jp-content-font-size4: 29px;
 --jp-content-font-size5: 36px}
body[data-voila] .vd-menu {display: none}
.vd-large input[type=checkbox], .vd-large input[type=radio] {width: 20px; height: 20px}
.vd-large .widget-radio-box label {height: auto; line-height: 1.6}
.vd-large .widget-radio-box input {margin-top: 6px}
</style>"""


class Refused(Exception):
    """A result the model will not give for this state, with the reason in words for the user."""


class Outdated(Exception):
    """A newer request has come in: what was being made for this one is no longer wanted."""


@dataclass(frozen=True)
class ShownPanel:
    """What one state comes to."""

    result: Any
    words: str
    picture: bytes


class Panel:
    """Controls, a picture and words that stay in step: ``state → compute (pure) → draw (pure)``.

    ``compute(state)`` gives a result, not None; ``draw(picture, result)`` moves the picture's artists, or returns PNG
    bytes of its own, or an iterator that moves some of the artists at each step; ``words(result)`` gives HTML. One
    observer for each control, synchronous. ``InputError`` and ``Refused`` are shown in words and the picture is greyed;
    any other error is shown too, and then raised.

    Controls may be moved in several threads at once. The newest request wins: an older one ends where it is, and shows
    nothing. Drawing and showing take turns with all other panels, in short parts (``draw.turn``); computing does not,
    for it is pure, but one panel computes one state at a time. No lock is held while a callback runs.

    ``layout`` is "above" (controls over the picture) or "beside" (controls left of it). ``ahead`` says that result and
    words hang on the controls alone until ``refresh`` is called, so that pictures may be kept and made ahead.
    """

    def __init__(
        self,
        controls: Mapping[str, Any],
        compute: Callable[[dict[str, Any]], Any],
        draw: Callable[[Any, Any], bytes | Iterator[None] | None],
        words: Callable[[Any], str],
        picture: LivePicture | None = None,
        layout: str = "above",
        ahead: bool = False,
    ) -> None:
        """Build the widgets, watch the controls and show the starting state."""
        if layout not in ("above", "beside"):
            raise ValueError(f"layout must be 'above' or 'beside', got {layout!r}")
        self.controls = dict(controls)
        self.compute, self.draw, self.words, self.picture = compute, draw, words, picture
        self.result: Any = None
        """Result of the present state; None while it is refused."""
        self.drawn_from: Any = None
        """Result that the picture was last drawn from, even if it is greyed now."""
        self.message = ""
        """What is wrong, in words; empty when all is well."""
        self._png = b""
        self._held: set[int] = set()
        """Threads that move several controls, and show the outcome once they have moved them all."""
        self._asked: object = None
        """The newest request."""
        self._computing = RLock()
        self._timer: TimerHandle | None = None
        self._ahead = Ahead(partial(self._make, quick=True)) if ahead else None
        self.when_shown: Callable[[], object] = lambda: None
        """Called after every state that could be shown."""
        self.when_still: Callable[[], object] = lambda: None
        """Called half a second after the last move of a control, where time can be told."""
        self.image = widgets.Image(format="png", layout=widgets.Layout(max_width="100%", flex="0 0 auto"))
        self.image.add_class("vd-picture")
        if picture is not None:
            self.image.width, self.image.height = str(picture.width), str(picture.height)
            if layout == "beside":  # it grows with the letters, so that it stays beside them
                self.image.layout.width = f"calc({picture.width} / 13 * {LETTER})"
        self.words_html = widgets.HTML()
        self.message_html = widgets.HTML()
        self.rows: dict[str, Any] = {}
        """Each control, in a box with its unit if it has one, by name."""
        self._more: dict[str, list[Any]] = {"top": [], "controls": [], "end": []}
        self._build(layout)
        self._start = self.state
        for control in self.controls.values():
            control.observe(self._changed, names="value")
        self.refresh()

    @property
    def state(self) -> dict[str, Any]:
        """The controls' values by name, sliders rounded to their step."""
        return {name: on_step(control) for name, control in self.controls.items()}

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
            ``KeyError`` for an unknown name, ``ValueError`` for a value the control cannot take.
        """
        self.set_all({name: value})

    def set_all(self, values: Mapping[str, Any]) -> None:
        """Move several controls and show the outcome once.

        Parameters:
            values: control's name → value it can take [any]

        Errors:
            ``KeyError`` for an unknown name, ``ValueError`` for a value a control cannot take.
        """
        unknown = set(values) - set(self.controls)
        if unknown:
            raise KeyError(f"no control named {sorted(unknown)}; there are {list(self.controls)}")
        before = self.state
        try:
            with self._hold():
                for name, value in values.items():
                    self._put(name, value)
        except ValueError:
            with self._hold():
                for name, value in before.items():
                    self.controls[name].value = value
            raise
        if self.state != before:
            self.refresh()

    def _put(self, name: str, value: Any) -> None:
        """Move one control, and see that it went there."""
        control = self.controls[name]
        try:
            control.value = value
        except TraitError as error:
            raise ValueError(f"{name} cannot be {value!r}: {error}") from error
        now = on_step(control)
        near = _is_number(value) and abs(now - value) <= 0.5001 * getattr(control, "step", 0)
        if now != value and not near:
            raise ValueError(f"{name} cannot be {value!r}, it went to {now!r}")

    def reset(self) -> None:
        """Move every control back to its starting value."""
        self.set_all(self._start)

    def add(self, *parts: Any, place: str = "end") -> None:
        """Put further widgets into the panel, behind those put there before.

        Parameters:
            parts: ipywidgets [-]
            place: "top", "controls" (under the controls, over the message) or "end" [-]
        """
        self._more[place] += parts
        self._arrange()

    def take_rows(self, names: Iterable[str]) -> list[Any]:
        """Take controls out of the panel's own row of controls, to be put elsewhere; they go on working.

        Parameters:
            names: the controls' names [-]

        Returns:
            each control with its unit [-]
        """
        taken = [self.rows[name] for name in names]
        self._controls.children = [each for each in self._controls.children if each not in taken]
        return taken

    def show(self) -> Any:
        """Give the widget box to be displayed as a cell's last value.

        Returns:
            an ipywidgets box, the same one at every call [-]
        """
        return self._box

    @contextmanager
    def _hold(self) -> Iterator[None]:
        """Leave the observers idle inside the block."""
        self._held.add(get_ident())
        try:
            yield
        finally:
            self._held.discard(get_ident())

    def _changed(self, change: Any) -> None:
        if get_ident() in self._held:
            return
        clock = _clock()
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
        clock = _clock()
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
            self._fail(str(error) or type(error).__name__, wanted)
        except Exception as error:
            self._fail(f"{BROKEN}{type(error).__name__}: {error}", wanted)
            raise
        else:
            with TURN:
                if not wanted():
                    return
                self.result = self.drawn_from = made.result
                self.message, self._png = "", made.picture
                self.image.value = made.picture
                self.words_html.value = f'<div class="vd-words" role="status" aria-live="polite">{made.words}</div>'
                self.message_html.value = ""
            self.when_shown()
            if clock is not None and wanted():
                self._timer = clock.call_later(STILL, partial(self._settle, clock, asked))

    def _make(
        self, state: Mapping[str, Any], wanted: Callable[[], bool], stubborn: bool = True, quick: bool = False
    ) -> ShownPanel:
        with self._computing:
            if not wanted():
                raise Outdated
            result = self.compute(dict(state))
        return ShownPanel(result, self.words(result), self._draw(result, wanted, stubborn, quick))

    def _draw(self, result: Any, wanted: Callable[[], bool], stubborn: bool, quick: bool) -> bytes:
        if self.picture is not None and not self.picture.placed:
            with TURN:
                list(self.draw(self.picture, result) or ())
            self.picture.place()
        for png in self._parts(result, quick, stubborn):
            if png is not None:
                return png
            if not wanted():
                raise Outdated
        raise AssertionError("a drawing ends with its picture")

    def _parts(self, result: Any, quick: bool, stubborn: bool = True) -> Iterator[bytes | None]:
        """Draw in short parts, each in a turn of its own: None after each, and after the last one the PNG.

        Where another drawing gets in between, a stubborn one begins anew and any other gives up: two stubborn ones
        cannot meet, for of two requests the older is no longer wanted.
        """
        while True:
            drawing, pixels = None, None
            with TURN:
                own = self.draw(self.picture, result)
                if not isinstance(own, bytes) and self.picture is not None:
                    drawing = self.picture.drawing(min(1.0, self.picture.scale) if quick else None, own or ())
                    pixels = next(drawing)
            if drawing is None:
                yield own if isinstance(own, bytes) else b""
                return
            try:
                while pixels is None:
                    yield None
                    with TURN:
                        pixels = next(drawing)
            except Overdrawn:
                if not stubborn:
                    raise Outdated from None
                yield None
                continue
            yield encode(pixels)
            return

    def _prepare(self, clock: AbstractEventLoop, asked: object) -> None:
        """Draw the background that a first move will need, so that it need not wait for it."""
        self._go_on(clock, asked, self._parts(self.result, quick=True), lambda png: None)

    def _settle(self, clock: AbstractEventLoop, asked: object) -> None:
        """Nothing moves any more: draw what is shown with all its sharpness, and say so to who wants to know."""

        def sharp(png: bytes) -> None:
            self._png = self.image.value = png

        self._go_on(clock, asked, self._parts(self.result, quick=False), sharp)
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

    def _fail(self, message: str, wanted: Callable[[], bool]) -> None:
        """Say in words what is wrong, and grey the last picture: never blank, never looking valid."""
        last = self._png or (self.picture.blank() if self.picture is not None else b"")
        grey = greyed(last, NOT_UPDATED) if last else b""
        with TURN:
            if not wanted():
                return
            self.result, self.message = None, message
            self.message_html.value = alert(message)
            self.words_html.value = f'<div class="vd-words"><em>{NOT_UPDATED}</em></div>'
            if grey:
                self.image.value = grey

    def _build(self, layout: str) -> None:
        """Make the widgets, and put them together."""
        label_em = 0.52 * max((len(c.description) for c in self.controls.values() if c.description), default=0) + 1
        longest = max((len(unit_of(c)) for c in self.controls.values()), default=0)
        units = f"{0.62 * longest + 0.6:.1f} * {LETTER}"
        beside, plain = widgets.Layout(min_width=f"calc({units})"), widgets.Layout()  # one for all
        for name, control in self.controls.items():
            row, unit = control, unit_of(control)
            if not isinstance(control, widgets.Checkbox):
                control.style.description_width = f"{label_em:.1f}em"
                said = [one[0] if isinstance(one, tuple) else one for one in getattr(control, "options", ())]
                room = max(14, 0.52 * max(map(len, said), default=0) + 3)
                wide = f"max(215px, {room:.1f} * {LETTER})"
                control.layout.width = f"calc({label_em:.1f} * {LETTER} + {wide})"
                if longest and not unit:  # with the room of a unit beside it: columns stay straight
                    beyond = f"({wide} - max(215px, 14 * {LETTER}))"
                    control.layout.margin = f"2px max(12px, {units} + 18px - {beyond}) 2px 2px"
            if unit:  # boxes round everything would double the widgets that a browser has to build
                row = widgets.HBox([control, widgets.HTML(escape(unit), layout=beside)], layout=plain)
            row.add_class("vd-control")
            self.rows[name] = row
        button = widgets.Button(
            description="Back to the start",
            tooltip="Put every control back to its starting value",
            layout=widgets.Layout(width="auto"),
        )
        button.on_click(lambda _: self.reset())
        self.reset_button = button
        wrap = widgets.Layout(flex_flow="row wrap" if layout == "above" else "column", align_items="center")
        if layout == "beside":
            wrap.align_items = "flex-start"
        self._controls = widgets.Box([*self.rows.values(), button], layout=wrap)
        # ipywidgets' Image has no alt text, and breaks in the browser if given a tooltip: words for screen readers
        self._alt = widgets.HTML(escape(self.picture.alt) if self.picture is not None else "")
        self._alt.add_class("vd-alt")
        self._style = widgets.HTML(CSS, layout=widgets.Layout(display="none"))
        self._left = widgets.VBox(layout=widgets.Layout(flex="1 1 340px")) if layout == "beside" else None
        self._box = widgets.VBox()
        self._box.add_class("vd-panel")
        self._arrange()

    def _arrange(self) -> None:
        """Put everything in its order."""
        more = self._more
        top = [self._controls, *more["controls"], self.message_html]
        if self._left is None:
            middle = [*top, self._alt, self.image, self.words_html]
        else:
            self._left.children = [*top, self.words_html]
            middle = [self._alt, widgets.Box([self._left, self.image], layout=widgets.Layout(flex_flow="row wrap"))]
        self._box.children = [self._style, *more["top"], *middle, *more["end"]]


def _clock() -> AbstractEventLoop | None:
    """Give what can call back later: there in a kernel, None elsewhere."""
    try:
        return get_running_loop()
    except RuntimeError:
        return None


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def alert(message: str) -> str:
    """Write what is wrong in HTML, one line a line.

    Parameters:
        message: plain text [-]

    Returns:
        HTML; empty where there is nothing to say [-]
    """
    lines = "<br>".join(escape(line) for line in message.splitlines())
    return f'<div class="vd-alert" role="alert">{lines}</div>' if message else ""


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write a table of numbers in HTML, the first column its row names.

    Parameters:
        head: column names; none if empty [-]
        rows: one sequence of texts for each row, name first [-]

    Returns:
        HTML [-]
    """
    top = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = ""
    for name, *cells in rows:
        body += f'<tr><th scope="row">{escape(name)}</th>' + "".join(f"<td>{escape(c)}</td>" for c in cells) + "</tr>"
    return f'<table class="vd-numbers">{f"<thead><tr>{top}</tr></thead>" if head else ""}<tbody>{body}</tbody></table>'
