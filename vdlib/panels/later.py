"""What stands further down a page without code is made once the reader sees the first panel, in the page's order.

A page is sent whole when its last cell has run, and only then shows anything: what is not seen at first would keep the
reader waiting for what is.
"""

from __future__ import annotations

import os
from asyncio import AbstractEventLoop, TimerHandle
from collections import deque
from collections.abc import Callable

UNSEEN = 2.5
"""Time without a word from the browser after which the rest is made all the same: the page was made ahead [s]."""
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
        self._begun = False

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
        self._after(UNSEEN)

    def seen(self) -> None:
        """Make what is due: the browser shows the page."""
        self._after(PAUSE)

    def _after(self, delay: float) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = self._clock.call_later(delay, self._next) if self._clock is not None and self._due else None

    def _next(self) -> None:
        make = self._due.popleft()
        self._after(PAUSE)  # before it is made: one that breaks does not keep the others from being made
        make()
