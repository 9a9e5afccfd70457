"""Pictures made before they are asked for: the next few steps of the slider that moved last, while the kernel is idle.

A step of a slider then costs no more than the way to the browser. What was shown a moment ago is kept too.
"""

from __future__ import annotations

from asyncio import AbstractEventLoop, TimerHandle
from collections.abc import Callable, Hashable, Iterable, Mapping
from contextlib import suppress
from threading import Lock
from typing import Any, Generic, TypeVar

State = Mapping[str, Any]
Wanted = Callable[[], bool]
"""Says whether what is being made is still wanted."""
Made = TypeVar("Made")

STEPS = 4
"""Steps of a slider made ahead of it."""
KEPT = 40
"""Pictures kept, some ten thousands of bytes each."""
PAUSE = 0.04
"""Time left before each, for the answer to be painted and for what the user does next to come in [s]."""


class Ahead(Generic[Made]):
    """What was shown of some states, or will likely be asked for next; to be forgotten when anything else changes."""

    def __init__(self, make: Callable[[State, Wanted, bool], Made]) -> None:
        """Note what makes the pictures; errors it raises ahead are left until the state is asked for.

        It takes the state, whether it is still wanted, and whether to begin anew when another drawing gets in between.
        """
        self.make = make
        self._kept: dict[Hashable, Made] = {}
        self._timer: TimerHandle | None = None
        self._looking: object = None
        self._world: object = object()
        """All that the pictures depend on beside the controls; another object once that has changed."""
        self._lock = Lock()

    def get(self, state: State, wanted: Wanted = lambda: True, stubborn: bool = True) -> Made:
        """Return what is kept of a state, or else make it.

        Parameters:
            state: the controls' values by name, hashable [-]
            wanted: says whether it is still wanted [-]
            stubborn: whether to begin anew when another drawing gets in between [-]

        Returns:
            what ``make`` gives for it [-]

        Errors:
            those of ``make``.
        """
        key, world = tuple(state.items()), self._world
        with self._lock:
            found = self._kept.pop(key, None)
        if found is None:
            found = self.make(state, wanted, stubborn)
        with self._lock:
            if world is self._world:
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
        looking = self._looking = object()
        coming = iter(states)

        def one() -> None:
            for state in coming:
                if self._looking is not looking:
                    return
                if tuple(state.items()) not in self._kept:
                    with suppress(Exception):  # told when the state is asked for
                        self.get(state, lambda: self._looking is looking, stubborn=False)
                    if self._looking is not looking:
                        return
                    self._timer = clock.call_later(PAUSE, one)
                    return

        self._timer = clock.call_later(PAUSE, one)

    def stop(self) -> None:
        """Make no more pictures ahead until ``look`` is called anew."""
        self._looking = None
        if self._timer is not None:
            self._timer.cancel()

    def forget(self) -> None:
        """Keep nothing: more than a state has changed."""
        self.stop()
        with self._lock:
            self._world = object()
            self._kept.clear()
