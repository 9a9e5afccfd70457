"""Taking turns: the one lock of the process under which pictures are moved, drawn and shown.

A notebook's cells and timers run in one thread, what a user does with a control in another. Pictures of both share
matplotlib's settings and caches, so only one thread at a time may draw. Long drawings go in parts and take a turn for
each part, so that nobody waits long.
"""

from __future__ import annotations

from collections import deque
from threading import Lock, get_ident
from time import thread_time
from types import TracebackType

LONGEST = 0.04
"""No turn should last longer than this [s]."""


class Turn:
    """A lock that one thread may take again inside itself, and that is handed on in the order of asking.

    An ordinary lock goes back to whoever asks first after it was freed, most often the thread that had it: a thread
    that works in parts would let nobody else in.
    """

    def __init__(self) -> None:
        """Start with nobody's turn."""
        self._guard = Lock()
        self._waiting: deque[tuple[int, Lock]] = deque()
        self._owner: int | None = None
        self._depth = 0
        self._since = 0.0
        self.longest = 0.0
        """The longest turn so far, in processor time of the thread that had it; may be set back to zero [s]."""

    def __enter__(self) -> None:
        """Wait for the turn; at once where this thread already has it."""
        me = get_ident()
        with self._guard:
            if self._owner in (me, None):
                if self._owner is None:
                    self._since = thread_time()
                self._take(me, self._depth + 1)
                return
            gate = Lock()
            gate.acquire()
            self._waiting.append((me, gate))
        try:
            gate.acquire()
        except BaseException:  # interrupted while waiting: nobody may hand the turn to a thread that has gone
            with self._guard:
                if self._owner != me:
                    self._waiting.remove((me, gate))
                    raise
            self.__exit__(None, None, None)
            raise
        self._since = thread_time()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Hand the turn on to the thread that has waited longest."""
        with self._guard:
            self._depth -= 1
            if self._depth:
                return
            self.longest = max(self.longest, thread_time() - self._since)
            if self._waiting:
                next_one, gate = self._waiting.popleft()
                self._take(next_one, 1)
                gate.release()
            else:
                self._owner = None

    def _take(self, who: int, depth: int) -> None:
        self._owner, self._depth = who, depth


TURN = Turn()
"""The one lock of the process. While a thread has it, it must wait for nothing else."""
