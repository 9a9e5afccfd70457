"""The controls of one panel: their values as a state, moved by a user or all at once, whatever thread they move in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from threading import get_ident
from typing import Any

from traitlets import TraitError

from . import on_step, to_step


class Controls(dict[str, Any]):
    """Widgets by name, in their order."""

    def __init__(self, made: Mapping[str, Any]) -> None:
        """Take the widgets, each with a value."""
        super().__init__(made)
        self._idle: set[int] = set()
        """Threads that move several controls, and tell of it once they have moved them all."""
        self.first = self.state
        """The state that the controls started with."""

    @property
    def state(self) -> dict[str, Any]:
        """The controls' values by name, sliders rounded to their step."""
        return {name: on_step(control) for name, control in self.items()}

    def watch(self, moved: Callable[[Any], None]) -> None:
        """Report every move to another step: a browser answers a slider set to 0.8 with 0.7999999999999999.

        Parameters:
            moved: called with the change, but for the moves that ``put`` makes in the same thread [-]
        """

        def tell(change: Any) -> None:
            control = change["owner"]
            if get_ident() not in self._idle and to_step(control, change["old"]) != on_step(control):
                moved(change)

        for control in self.values():
            control.observe(tell, names="value")

    def put(self, values: Mapping[str, Any]) -> bool:
        """Move several controls, or none of them.

        Parameters:
            values: control's name → value it can take [any]

        Returns:
            whether the state is another one now [-]

        Errors:
            ``KeyError`` for an unknown name, ``ValueError`` for a value a control cannot take.
        """
        unknown = set(values) - set(self)
        if unknown:
            raise KeyError(f"no control named {sorted(unknown)}; there are {list(self)}")
        before = self.state
        try:
            with self.idle():
                for name, value in values.items():
                    self._put(name, value)
        except ValueError:
            with self.idle():
                for name, value in before.items():
                    self[name].value = value
            raise
        return self.state != before

    def _put(self, name: str, value: Any) -> None:
        """Move one control, and see that it went there."""
        control = self[name]
        try:
            control.value = value
        except TraitError as error:
            raise ValueError(f"{name} cannot be {value!r}: {error}") from error
        now = on_step(control)
        near = _is_number(value) and abs(now - value) <= 0.5001 * getattr(control, "step", 0)
        if now != value and not near:
            raise ValueError(f"{name} cannot be {value!r}, it went to {now!r}")

    @contextmanager
    def idle(self) -> Iterator[None]:
        """Report to nobody the moves that this thread makes inside the block."""
        self._idle.add(get_ident())
        try:
            yield
        finally:
            self._idle.discard(get_ident())


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
