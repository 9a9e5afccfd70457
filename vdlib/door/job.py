"""The steps of the job, from the fright to the answer: what is done, read from the cars folder, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..car import shelf
from ..car.carfile import CarFile, fields_of
from ..car.keys import ENDS
from ..checks import InputError
from ..laps import notes
from ..setup import left_figures, saved
from .course import COURSE, FIRST, Page
from .place import opened

MEASURE, ASK, JUDGE = COURSE[-3:]
LOOKED_OVER = "looked over.txt"
"""File beside a car's what-ifs that says it was looked over for wear and damage."""


@dataclass(frozen=True)
class Step:
    """One step: its name, whether it is done, what is known of it, and the page that does it (None: this one)."""

    name: str
    done: bool
    state: str
    page: Page | None


def steps(file: CarFile | None) -> tuple[Step, ...]:
    """Return the steps of the job with their state.

    Parameters:
        file: the open saved car; None where none is saved [-]

    Returns:
        the steps in the order of the work [-]

    Validity: reads what is on the disk now; a file that cannot be read counts as not there, and the step says so.
    """
    film = FIRST in opened() or file is not None
    see = Step("See what happened", film, "seen" if film else "a moving car, one minute", FIRST)
    if file is None:
        return (
            see,
            Step("Put your car in", False, "no car saved yet: the invented one is shown", MEASURE),
            Step("Have it looked over", False, "for wear and damage, in a workshop, before you measure it", None),
            Step("Measure it", False, "a tape measure, string and an hour", MEASURE),
            Step("Give the figures it should have", False, "not given", MEASURE),
            Step("Try what-ifs", False, "none saved", ASK),
            Step("Write the page for the workshop", False, "not written", ASK),
            Step("Type in what the workshop left", False, "not typed in", ASK),
            Step("Compare laps before and after", False, "no laps yet", JUDGE),
        )
    before = left_figures.came_from(file)
    asked = before or file  # what was asked for before the visit was asked of the car as it was then
    pair = left_figures.visit(file)
    after = None if before or pair is None else pair[1]
    looked = looked_over(file)
    known = file.known.figures is not None
    tried = [name for name in saved.whatif_names(asked) if name != saved.BACK]  # that one the page itself saves
    figures = len(left_figures.kept(asked).typed)
    typed = f"{figures} figures typed; press “Save the new car”" if figures else "not typed in"
    page = _written(asked)
    looks = "done" if looked else "for wear and damage, before you measure it: tick it when done"
    left_out = "none saved: the page was written without one" if page else "none saved"
    first, second, said = _laps(after or file)
    back = "done" if after is None else f"done: saved as {after.path.stem if after.path else after.car.name}"
    count, all_told = measured(file)
    return (
        see,
        Step("Put your car in", True, file.car.name, MEASURE),
        Step("Have it looked over", looked, looks, None),
        Step("Measure it", _heights(file), f"{count} of {all_told} numbers measured", MEASURE),
        Step("Give the figures it should have", known, "given" if known else "missing: maker's or usual ones", MEASURE),
        Step("Try what-ifs", bool(tried or page), f"{len(tried)} saved" if tried else left_out, ASK),
        Step("Write the page for the workshop", page != "", page or "not written", ASK),
        Step("Type in what the workshop left", pair is not None, back if pair else typed, ASK),
        Step("Compare laps before and after", first and second, said, JUDGE),
    )


def next_step(found: tuple[Step, ...]) -> Step | None:
    """Return the first step that is not done.

    Parameters:
        found: the steps [-]

    Returns:
        a step; None when the job is done [-]
    """
    return next((step for step in found if not step.done), None)


def measured(file: CarFile) -> tuple[int, int]:
    """Count the numbers of a car that were measured.

    Parameters:
        file: the car file [-]

    Returns:
        how many were measured, and how many there are [-]
    """
    paths = [entry.path for entry in fields_of()]
    return sum(file.origin.get(path) == "measured" for path in paths), len(paths)


def looked_over(file: CarFile) -> bool:
    """Return whether it is noted that a car was looked over for wear and damage.

    Parameters:
        file: the car file [-]

    Returns:
        whether the note is there [-]
    """
    return any(note.is_file() for note in _notes(file))


def _notes(file: CarFile) -> list[Path]:
    """Where the note may be: beside the car, or beside the same car as it was before the workshop."""
    cars = [file, left_figures.came_from(file)]
    return [saved.whatif_folder(car) / LOOKED_OVER for car in cars if car is not None]


def note_looked_over(file: CarFile, done: bool) -> None:
    """Keep or take back the note that a car was looked over.

    Parameters:
        file: the car file [-]
        done: whether it was [-]

    Errors:
        ``InputError`` or ``OSError`` where it cannot be kept.
    """
    note, *before = _notes(file)
    if done:
        note.parent.mkdir(parents=True, exist_ok=True)
        note.write_text("Looked over for wear and damage, as ticked on the start page.\n", encoding="utf-8")
    else:
        for one in (note, *before):
            one.unlink(missing_ok=True)


def open_car() -> CarFile | None:
    """Return the open saved car, None where none is open or its file cannot be read.

    Returns:
        a ``CarFile`` or None [-]
    """
    name = shelf.opened()
    try:
        return shelf.load_car(name) if name else None
    except InputError:
        return None


def _heights(file: CarFile) -> bool:
    """Whether the ride heights of both ends were measured."""
    done = [path for path, word in file.origin.items() if word == "measured" and path.endswith(".height")]
    return all(any(path.startswith(f"setup.{end}") for path in done) for end in ENDS)


def _written(file: CarFile) -> str:
    """Name the page for the workshop that was written last; empty where there is none."""
    folder: Path = saved.whatif_folder(file)
    pages = sorted(folder.glob("*.pdf"), key=lambda path: path.stat().st_mtime) if folder.is_dir() else []
    return pages[-1].name if pages else ""


def _laps(file: CarFile) -> tuple[bool, bool, str]:
    """Whether there are laps before and after, and that in words."""
    found, _, fault = notes.kept(file)
    have = [any(str(found.get(f"{table}.{key}", "")).strip() for table in ("typed", "logs")) for key in notes.KEYS[:2]]
    words = {(False, False): "no laps yet", (True, False): "before: in; after: missing"}
    words |= {(False, True): "after: in; before: missing", (True, True): "both in"}
    return have[0], have[1], fault or words[have[0], have[1]]
