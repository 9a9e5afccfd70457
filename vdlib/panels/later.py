"""What stands further down a page without code is made once the reader sees the first panel, in the page's order.

A page is sent whole when its last cell has run, and only then shows anything: what is not seen at first would keep the
reader waiting for what is. Nothing is made before the browser has said that it shows the page, however long ago that
was made: while it reads the widgets' states it would miss that one of them has changed.
"""

from __future__ import annotations

import os
from asyncio import AbstractEventLoop, TimerHandle
from collections import deque
from collections.abc import Callable

PAUSE = 0.03
"""Time before each part, in which what the reader does is done first [s]."""
WAITING = '<div class="vd-words vd-later" role="status" style="min-height: 24em"><p>Being drawn …</p></div>'
"""What stands in its place until then."""


def on_page() -> bool:
    """Return whether this kernel serves a page without code.

    Returns:
        whether it does [-]
    """
    return os.environ.get("SERVER_SOFTWARE", "").startswith("voila")


class Later:
    """The parts of one page that are still to be made."""

    def __init__(self) -> None:
        """Wait for nothing yet."""
        self._due: deque[Callable[[], None]] = deque()
        self._clock: AbstractEventLoop | None = None
        self._timer: TimerHandle | None = None
        self._begun = self._seen = False

    def first(self) -> bool:
        """Return whether nothing has been put on the page before; from then on something has.

        Returns:
            whether it is the page's first part [-]
        """
        first, self._begun = not self._begun, True
        return first

    def add(self, clock: AbstractEventLoop, make: Callable[[], None]) -> None:
        """Have one more part made when its turn comes.

        Parameters:
            clock: the event loop [-]
            make: makes it [-]
        """
        self._clock = clock
        self._due.append(make)
        self._go_on()

    def seen(self) -> None:
        """Make what is due: the browser shows the page."""
        self._seen = True
        self._go_on()

    def _go_on(self) -> None:
        if self._timer is None and self._seen and self._due and self._clock is not None:
            self._timer = self._clock.call_later(PAUSE, self._next)

    def _next(self) -> None:
        make, self._timer = self._due.popleft(), None
        self._go_on()  # before it is made: one that breaks does not keep the others from being made
        make()
