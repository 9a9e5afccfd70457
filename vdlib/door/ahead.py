"""Pages made before they are asked for: kernels that have run a workbook, within a fixed sum of memory.

A page made ahead has run its cells with the cars as they were. The mark of the cars folder is kept beside it, and
looked at again when the page is opened: one whose mark has changed is never given out, so what was saved is shown.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Collection, Hashable, Sequence
from contextlib import suppress
from pathlib import Path
from time import monotonic
from typing import Protocol

from . import place

LIMIT = 1_000_000_000
"""Memory of all kernels together while pages are made ahead [byte]."""
EACH = 170_000_000
"""Memory that one more kernel is counted with before it is made [byte]."""
TURN = 0.5
"""Time between two looks at the cars folder [s]."""
QUIET = {True: 1.0, False: 8.0}
"""Time to wait after a change before pages are made again: after a car was saved, after anything else [s]."""
MOST_FILES = 2000
"""Most files of the cars folder that are looked at."""

Mark = tuple[Hashable, ...]


def mark(folder: Path) -> tuple[Mark, Mark]:
    """Return what tells that something in the cars folder has changed.

    Parameters:
        folder: the folder of saved cars; it may not exist [-]

    Returns:
        name, time of change and size of each car file and of the note which is open; and of every other file [-]
    """
    cars: list[Hashable] = []
    rest: list[Hashable] = []
    with suppress(OSError):
        for count, path in enumerate(sorted(folder.rglob("*"))):
            if count >= MOST_FILES:
                break
            with suppress(OSError):
                about = path.stat()
                if path.name == place.NAME:  # only the start page shows it
                    continue
                is_car = path.parent == folder and (path.suffix == ".toml" or path.name == ".open")
                (cars if is_car else rest).append((str(path), about.st_mtime_ns, about.st_size))
    return tuple(cars), tuple(rest)


class Kernels(Protocol):
    """What makes and ends the kernels of pages."""

    async def make(self, file: str, put: Callable[[str], None], started: Callable[[str], None], asked: bool) -> None:
        """Start a kernel, say its name, and run a workbook in it, putting the page's text as it comes.

        A page that is asked for has the kernel that stands by; one made ahead leaves it for that.
        """

    async def end(self, kernel: str) -> None:
        """End a kernel."""

    async def stand_by(self) -> bool:
        """Have one more kernel ready, for a page that nobody thought of; return whether it had to be started."""

    async def clear(self, kept: Collection[str]) -> None:
        """End kernels that no page looks at any more; those named are pages made ahead."""

    def memory(self) -> int:
        """Return the memory of all kernels now [byte]."""


class Made:
    """One page in the making, or made: its text comes piece by piece."""

    def __init__(self, file: str, marked: Mark, kernels: Kernels, asked: bool) -> None:
        """Begin to make it, asked for or ahead."""
        self.file, self.marked, self.asked, self.kernel = file, marked, asked, ""
        self._kernels, self._unwanted = kernels, False
        self._pieces: asyncio.Queue[str | None] = asyncio.Queue()
        self.task = asyncio.ensure_future(self._make())

    @property
    def failed(self) -> bool:
        """Whether it could not be made."""
        return self.task.done() and (self.task.cancelled() or self.task.exception() is not None)

    async def _make(self) -> None:
        try:
            await self._kernels.make(self.file, self._pieces.put_nowait, self._started, self.asked)
        finally:
            self._pieces.put_nowait(None)

    def _started(self, kernel: str) -> None:
        self.kernel = kernel
        if self._unwanted:
            raise asyncio.CancelledError

    async def text(self) -> AsyncIterator[str]:
        """Return the page's text as it comes, once; raises what went wrong while it was made."""
        while (piece := await self._pieces.get()) is not None:
            yield piece
        await self.task

    async def drop(self) -> None:
        """End it and its kernel; a kernel that is only starting ends as soon as it has a name."""
        self._unwanted = True
        if self.kernel:
            self.task.cancel()
        with suppress(asyncio.CancelledError, Exception):
            await self.task
        if self.kernel:
            await self._kernels.end(self.kernel)


class Ahead:
    """The pages made ahead, one at a time, the likeliest first; the page that is asked for goes before them all."""

    def __init__(self, kernels: Kernels, marks: Callable[[str], tuple[Mark, Mark]], limit: int = LIMIT) -> None:
        """Hold no page yet; ``marks`` tells what a page depends on, in two parts as ``mark`` does."""
        self.kernels, self.marks, self.limit = kernels, marks, limit
        self.pages: dict[str, Made] = {}
        self.wanted: Sequence[str] = ()
        """Files of the pages to make ahead, the likeliest first."""
        self.serving = 0
        """Pages that are being asked for now."""
        self._seen: dict[str, tuple[Mark, Mark]] = {}
        self._due: dict[str, float] = {}
        self._ending: set[asyncio.Future[None]] = set()

    async def take(self, file: str) -> Made:
        """Return a page that shows the cars as they are in this moment: one made ahead, or one begun now."""
        now = sum(self.marks(file), ())
        made = self.pages.pop(file, None)
        if made is not None and (made.marked != now or made.failed):
            await self._forget(made)
            made = None
        if made is None or not made.task.done():  # nothing else is to be made while a reader waits
            for other in [one for one in self.pages.values() if not one.task.done()]:
                await self._forget(other)
        return made or Made(file, now, self.kernels, asked=True)

    async def turn(self) -> None:
        """Look once: drop what has grown old or takes too much memory, and begin the next page if nothing hinders."""
        for file, made in list(self.pages.items()):
            if made.marked != sum(self.marks(file), ()):
                await self._forget(made)
        while self.pages and self.kernels.memory() > self.limit:
            await self._forget(list(self.pages.values())[-1])
        await self.kernels.clear([made.kernel for made in self.pages.values()])
        busy = self.serving or any(not made.task.done() for made in self.pages.values())
        if busy or self.kernels.memory() + EACH > self.limit:
            return
        if self.pages and await self.kernels.stand_by():
            return
        for file in self.wanted:
            if file not in self.pages and self._quiet(file):
                self.pages[file] = Made(file, sum(self.marks(file), ()), self.kernels, asked=False)
                return

    def _quiet(self, file: str) -> bool:
        """Whether nothing that the page depends on has changed for a while."""
        now, last = self.marks(file), self._seen.get(file)
        if last is not None and last != now:
            self._due[file] = monotonic() + QUIET[last[0] != now[0]]
        self._seen[file] = now
        return monotonic() >= self._due.get(file, 0.0)

    async def _forget(self, made: Made) -> None:
        """Abandon a page; nobody waits until it has ended."""
        self.pages.pop(made.file, None)
        self._ending.add(ending := asyncio.ensure_future(made.drop()))
        ending.add_done_callback(self._ending.discard)
        await asyncio.sleep(0)

    async def keep_up(self) -> None:
        """Look again and again until cancelled."""
        while True:
            await self.turn()
            await asyncio.sleep(TURN)

    async def close(self) -> None:
        """End every page made ahead."""
        for made in list(self.pages.values()):
            await self._forget(made)
        await asyncio.gather(*self._ending)
