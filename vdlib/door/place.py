"""The reader's place in the course: which pages were opened, kept beside the saved cars."""

from __future__ import annotations

from contextlib import suppress

from ..car import shelf
from .course import COURSE, Page, named

NAME = ".place"
"""File in the cars folder: one workbook a line, the last one opened at the end."""


def opened() -> tuple[Page, ...]:
    """Return the pages of the course that were opened, the last one opened at the end.

    Returns:
        pages, each once; none where nothing is kept or it cannot be read [-]
    """
    found: list[Page] = []
    with suppress(OSError, UnicodeDecodeError):
        lines = (shelf.folder() / NAME).read_text(encoding="utf-8")[:10_000].splitlines()
        found = [page for page in map(named, lines) if page is not None and page in COURSE]
    return tuple(dict.fromkeys(found[::-1]))[::-1]


def note(page: Page) -> None:
    """Keep that a page was opened; a folder that cannot be written to costs the reader's place and nothing else.

    Parameters:
        page: the page; pages outside the course are not kept [-]
    """
    if page not in COURSE:
        return
    lines = [one.file for one in opened() if one is not page] + [page.file]
    with suppress(OSError):
        shelf.folder().mkdir(parents=True, exist_ok=True)
        (shelf.folder() / NAME).write_text("\n".join(lines) + "\n", encoding="utf-8")
