"""Pictures made before they are asked for: the next few steps of the slider that moved last, while the kernel is idle.

A step of a slider then costs no more than the way to the browser. What was shown a moment ago is kept too.
"""

from __future__ import annotations

from asyncio import AbstractEventLoop, TimerHandle
from collections.abc import Callable, Hashable, Iterable, Mapping
from contextlib import suppress
from typing import Any, Generic, TypeVar

State = Mapping[str, Any]
Made = TypeVar("Made")

STEPS = 4
"""Steps of a slider made ahead of it."""
KEPT = 40
"""Pictures kept, some ten thousands of bytes each."""
PAUSE = 0.04
"""Time left before each, for the answer to be painted and for what the user does next to come in [s]."""


class Ahead(Generic[Made]):
    """What was shown of some states, or will likely be asked for next; to be forgotten when anything else changes."""

    def __init__(self, make: Callable[[State], Made]) -> None:
        """Note what makes the pictures; errors it raises ahead are left until the state is asked for."""
        self.make = make
        self._kept: dict[Hashable, Made] = {}
        self._timer: TimerHandle | None = None

    def get(self, state: State) -> Made:
        """Give what is kept of a state, or else make it.

        Parameters:
            state: the controls' values by name, hashable [-]

        Returns:
            what ``make`` gives for it [-]

        Errors:
            those of ``make``.
        """
        key = tuple(state.items())
        found = self._kept.pop(key) if key in self._kept else self.make(state)
        self._kept[key] = found  # the latest last
        while len(self._kept) > KEPT:
            del self._kept[next(iter(self._kept))]
        return found

    def look(self, clock: AbstractEventLoop, states: Iterable[State]) -> None:
        """Make some states' pictures, one at a time, with a pause before each in which other work is done first.

        Parameters:
            clock: the event loop [-]
            states: the likeliest first [-]
        """
        wanted = iter(states)

        def one() -> None:
            for state in wanted:
                if tuple(state.items()) not in self._kept:
                    with suppress(Exception):  # told when the state is asked for
                        self.get(state)
                    self._timer = clock.call_later(PAUSE, one)
                    return

        self._timer = clock.call_later(PAUSE, one)

    def stop(self) -> None:
        """Make no more pictures ahead until ``look`` is called anew."""
        if self._timer is not None:
            self._timer.cancel()

    def forget(self) -> None:
        """Keep nothing: more than a state has changed."""
        self.stop()
        self._kept.clear()
