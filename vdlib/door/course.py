"""The course: every workbook as a page, with its short name, its honest time and its place among the others."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "workbooks"
"""Where the workbooks are."""


@dataclass(frozen=True)
class Page:
    """One workbook: its file, its name for a reader, what it answers, and the minutes it takes [min]."""

    file: str
    name: str
    question: str
    minutes: int

    @property
    def number(self) -> int:
        """The number its file begins with [-]."""
        return int(self.file[:2])


START = Page("00-start.ipynb", "Start here", "where am I, and what comes next?", 3)
WORDS = Page("01-setup-words.ipynb", "Setup words", "what does a word mean?", 15)
WORKINGS = Page("08-workings.ipynb", "Workings", "where do the equations come from?", 30)
FIRST = Page("04-nose-high.ipynb", "Nose-high", "why did it turn from its rear?", 20)
COURSE = (
    FIRST,
    Page("02-weight-on-the-wheels.ipynb", "Weight on the wheels", "where does the weight go?", 20),
    Page("03-two-wheel-car.ipynb", "The two-wheel car", "which way does it lean, and does it settle?", 25),
    Page("05-roll-stiffness-split.ipynb", "Roll-stiffness split", "what do springs and anti-roll bars do?", 25),
    Page("06-lift.ipynb", "The lift", "what happens after the foot moves?", 20),
    Page("07-measure-your-car.ipynb", "Measure your car", "what do the numbers of my own car say?", 60),
    Page("09-before-the-workshop.ipynb", "Before the workshop", "what do I ask the workshop for?", 30),
    Page("10-did-it-work.ipynb", "Did it work?", "do my laps show a change?", 30),
)
"""The pages in the order of a first reading: the film first, then the reasons, then the reader's own car."""
PAGES = (START, *COURSE, WORDS, WORKINGS)
"""Every page there is."""


def named(file: str) -> Page | None:
    """Return the page of a workbook.

    Parameters:
        file: the workbook's file name [-]

    Returns:
        its page, None where there is no such workbook [-]
    """
    return next((page for page in PAGES if page.file == file), None)


def before(page: Page) -> Page | None:
    """Return the page to read before this one.

    Parameters:
        page: one of ``PAGES`` [-]

    Returns:
        the page before it; None before the first and for those outside the course [-]
    """
    place = COURSE.index(page) if page in COURSE else 0
    return COURSE[place - 1] if place else None


def after(page: Page) -> Page | None:
    """Return the page to read after this one.

    Parameters:
        page: one of ``PAGES`` [-]

    Returns:
        the page after it; the first of the course after the start and the appendices, None after the last [-]
    """
    if page not in COURSE:
        return COURSE[0]
    place = COURSE.index(page) + 1
    return COURSE[place] if place < len(COURSE) else None


def likely(page: Page) -> tuple[Page, ...]:
    """Return the pages that a reader of this one will probably open, the likeliest first.

    Parameters:
        page: one of ``PAGES`` [-]

    Returns:
        every other page once, and this one last [-]
    """
    own = COURSE[-3:]
    first = [after(page), START, WORDS, before(page)]
    order = [*first, *(own if page is START or page in own else ()), *COURSE, WORKINGS, page]
    found = [one for one in order if one is not None]
    return tuple(dict.fromkeys([*(one for one in found if one is not page), page]))
