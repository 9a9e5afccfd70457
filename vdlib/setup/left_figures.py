"""What the workshop wrote down, kept as typed beside the car that went there, and which car came of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import tomlkit

from ..car import carfile, shelf, store
from ..car.carfile import CarFile
from ..car.keys import CORNERS
from ..checks import InputError, Problem
from .as_left import AsLeft, as_left, read
from .candidate import Candidate, baseline
from .left_rows import ROWS, key
from .page import back_to_reference_of
from .saved import load_whatif, whatif_folder

BACK = "reference"
"""What was asked for where it was to go back to the reference, and no saved what-if."""
FILE = "as left.figures"
"""File beside a car's what-ifs that keeps them; its ending tells it from a what-if."""
ENDING = " - as left"
"""How the name of a car ends that came back from a workshop."""
LONGEST = 60
"""Most characters of one figure."""
_ROOM = 60 - len(ENDING) - 4  # letters of a name that leave room for the ending and a number
_CAME_BACK = re.compile(rf"(?P<before>.+){re.escape(ENDING)}(?: (?P<again>\d+))?")
_KEYS = frozenset(key(row, corner) for row in ROWS for corner in CORNERS)
_HEAD = "What the workshop wrote down in the last column of the page, as typed; one table a wheel."


@dataclass(frozen=True)
class LeftFigures:
    """The figures as typed, what had been asked for, the text on the disk (None: no file), and what to tell."""

    typed: Mapping[str, str] = field(default_factory=dict)
    asked: str = BACK
    text: str | None = None
    said: str = ""


def kept(file: CarFile) -> LeftFigures:
    """Read the figures kept beside a car; a file that cannot be understood is set aside, and that is said.

    Parameters:
        file: the car file as it was before the workshop [-]

    Returns:
        the figures, empty where none are kept [-]
    """
    path = _path(file)
    try:
        found = store.load(path)
        typed, asked, why = _understood(found.data)
        if not (found.fault or why):
            return LeftFigures(typed, asked, found.text)
        aside = store.set_aside(path).name
    except InputError as fault:
        return LeftFigures(said=f"The figures typed before cannot be read. {fault}")
    return LeftFigures(said=f"{path} cannot be read ({found.fault or why}). It is kept as {aside}; new figures begin.")


def keep(file: CarFile, typed: Mapping[str, str], asked: str, former: LeftFigures) -> LeftFigures:
    """Save the figures whole; what another window typed meanwhile is taken over box by box.

    Parameters:
        file: the car file as it was before the workshop [-]
        typed: as of ``as_left.key`` → text [-]
        asked: ``BACK`` or the name of a saved what-if [-]
        former: what was last read or saved here [-]

    Returns:
        what is on the disk now; a box that both windows changed holds what was typed here, and the other window's file
        is set aside, which ``said`` tells [-]

    Errors:
        ``InputError`` where it cannot be saved; nothing is lost then.
    """
    there = kept(file)
    now = {name: store.writable(text.strip())[:LONGEST] for name, text in typed.items() if text.strip()}
    clash = False
    for name in _KEYS:
        mine, theirs, was = (each.get(name, "") for each in (now, there.typed, former.typed))
        if theirs in (was, mine):
            continue
        if mine == was:
            now[name] = theirs
        else:
            clash = True
    now = {name: text for name, text in now.items() if text}
    if asked == former.asked:
        asked = there.asked
    doc = tomlkit.document()
    doc.add(tomlkit.comment(_HEAD))
    doc["asked"] = store.writable(asked)
    for corner in CORNERS:
        table = tomlkit.table()
        for row in ROWS:
            if text := now.get(key(row, corner)):
                table[row] = text
        if len(table):
            doc[corner] = table
    text = tomlkit.dumps(doc)
    if text == there.text:
        return LeftFigures(now, asked, text)
    said = store.save(_path(file), text, former.text if clash else there.text)
    return LeftFigures(now, asked, text, said)


def asked_for(file: CarFile, asked: str) -> Candidate:
    """Return what had been asked of the workshop.

    Parameters:
        file: the car file as it was before [-]
        asked: ``BACK`` or the name of a saved what-if [-]

    Returns:
        a ``Candidate`` [-]

    Errors:
        as ``saved.load_whatif``.
    """
    return back_to_reference_of(file) if asked == BACK else load_whatif(file, asked)


def done(file: CarFile, figures: LeftFigures) -> AsLeft:
    """Compare the figures with what had been asked, and make the new car of them.

    Parameters:
        file: the car file as it was before [-]
        figures: the figures [-]

    Returns:
        an ``AsLeft`` [-]

    Errors:
        as ``as_left.read`` and ``as_left.as_left``.
    """
    base = baseline(file.car, file.setup)
    return as_left(file, base, asked_for(file, figures.asked), read(file, figures.typed))


def name_after(name: str) -> str:
    """Return the one name of the car that comes back from the workshop.

    Parameters:
        name: the name of the car before [-]

    Returns:
        the name with ``ENDING``, and a number from the second visit on [-]

    Example:
        >>> name_after("red roadster"), name_after("red roadster - as left")
        ('red roadster - as left', 'red roadster - as left 2')
    """
    stem, count = _visits(name)
    return _numbered(stem, count + 1)


def save_left(left: CarFile) -> tuple[CarFile, str]:
    """Save the car as it was left beside the car that went to the workshop, and make it the open one.

    Parameters:
        left: the car as left, with the path of the car before [-]

    Returns:
        the car file as saved, and what to tell; the same car saved once more is one car, and an older one that differs
        is set aside [-]

    Errors:
        ``InputError`` for a car that is not one of the saved ones, and where it cannot be saved.
    """
    if left.path is None:
        rule, remedy = "is an invented example and stays as it is", "save a car of your own with the form first"
        raise InputError([Problem("this car", "", rule, remedy)])
    if not shelf.on_shelf(left):
        rule = f"must lie among the saved cars, in {shelf.folder().resolve()}"
        remedy = "copy its file there and its folder of what-ifs too, then choose it as “Car shown”"
        raise InputError([Problem("this car's file", str(left.path), rule, remedy)])
    name, aside = name_after(left.path.stem), ""
    target = shelf.car_path(name)
    text = carfile.render(left.car, left.setup, left.origin, left.text, left.known)
    if target.exists():
        former = _opened(name)
        if former is not None and former.text == text:
            shelf.make_open(name)
            return former, f"It is saved as {name} already, and open: {target}."
        aside = f" The one saved before is kept as {store.set_aside(target).name}."
    saved = shelf.save_car(name, left.car, left.setup, left.origin, left.text, left.known)
    return saved, f"Saved as {name} and open: {target}. The car as it was stays.{aside}"


def came_from(file: CarFile) -> CarFile | None:
    """Return the car as it was before the workshop, for one that came back from there.

    Parameters:
        file: the car file [-]

    Returns:
        the car file before the visit; None where there is none that can be read [-]
    """
    stem, count = _visits(file.path.stem if file.path else "")
    for before in range(count - 1, -1, -1):
        for name in shelf.car_names():
            if name == _numbered(stem, before) or (before == 0 and name[:_ROOM] == stem and not _visits(name)[1]):
                return _opened(name)
    return None


def visit(file: CarFile) -> tuple[CarFile, CarFile] | None:
    """Find the car as it was before the workshop and as it was left, where what was left has been saved.

    Parameters:
        file: either of the two; of a car that went twice, the later one of the first visit [-]

    Returns:
        both car files, or None [-]
    """
    before = came_from(file)
    if before is not None:
        return before, file
    stem, count = _visits(file.path.stem if file.path else "")
    left = _numbered(stem, count + 1)
    after = _opened(left) if file.path and left in shelf.car_names() else None
    return None if after is None else (file, after)


def _visits(name: str) -> tuple[str, int]:
    """The car's name before any visit, and how many there were."""
    found = _CAME_BACK.fullmatch(name)
    return (found["before"], int(found["again"] or 1)) if found else (name, 0)


def _numbered(stem: str, count: int) -> str:
    """The name after so many visits."""
    return f"{stem[:_ROOM]}{ENDING}{f' {count}' if count > 1 else ''}" if count else stem


def _opened(name: str) -> CarFile | None:
    try:
        return shelf.load_car(name)
    except InputError:  # a car that cannot be read promises nothing; opening it says why
        return None


def _path(file: CarFile) -> Path:
    return whatif_folder(file) / FILE


def _understood(data: Mapping[str, Any]) -> tuple[dict[str, str], str, str]:
    """Take the figures out of their tables, and say what is in them that does not belong there."""
    typed: dict[str, str] = {}
    asked = data.get("asked", BACK)
    for corner, table in data.items():
        if corner == "asked":
            continue
        for row, text in table.items() if isinstance(table, dict) else [("", table)]:
            if key(row, corner) not in _KEYS or not isinstance(text, str) or len(text) > LONGEST:
                return {}, BACK, f"{corner}.{row} holds {str(text)[:40]!r}, which is not expected there"
            typed[key(row, corner)] = text
    if not isinstance(asked, str):
        return {}, BACK, "asked must be text"
    return typed, asked, ""
