"""The shelf of saved cars beside the workbooks, and which of them is open: every workbook starts from that one."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path

from ..checks import InputError, Problem
from ..shown import PAIRS, Choice, use
from . import examples, store
from .carfile import CarFile, read
from .carfile import write as write_file
from .known import Known
from .records import Car, Setup

VARIABLE = "VDLIB_CARS"
"""Environment variable that names another folder for the saved cars."""
_OPEN, _UNITS = ".open", ".units"
_NAME = re.compile(r"[\w][\w -]{0,58}[\w]|\w")


def folder() -> Path:
    """Return the folder of saved cars: ``my-cars`` beside the workbook, or what ``VDLIB_CARS`` names.

    Returns:
        its path; it may not exist yet [-]
    """
    return Path(os.environ.get(VARIABLE, "my-cars")).expanduser()


def car_names() -> tuple[str, ...]:
    """List the saved cars in order of the alphabet.

    Returns:
        names that ``load`` takes [-]
    """
    return listed(folder())


def listed(place: Path) -> tuple[str, ...]:
    """List what is saved in a folder, in order of the alphabet: files whose name is a plain one with ``.toml`` behind.

    Parameters:
        place: the folder; it may not exist [-]

    Returns:
        names without ending [-]
    """
    return store.names(place, ".toml")


def plain_name(name: str, what: str) -> str:
    """Return a name that can be a file's name, without blanks around it.

    Parameters:
        name: letters, digits, spaces, dashes and underscores, at most 60 [-]
        what: what it is the name of, such as "the car" [-]

    Returns:
        the name [-]

    Errors:
        ``InputError`` for a name that cannot be a file's name.

    Example:
        >>> plain_name(" blue car ", "the car")
        'blue car'
    """
    if not _NAME.fullmatch(name.strip()):
        rule = "must be 1 to 60 letters, digits, spaces, dashes or underscores"
        raise InputError([Problem(f"{what}'s name", repr(name)[:80], rule, "give it a plain name")])
    return name.strip()


def car_path(name: str) -> Path:
    """Return the file in which a car of this name is saved.

    Parameters:
        name: as for ``plain_name`` [-]

    Returns:
        its path [-]

    Errors:
        as ``plain_name``.
    """
    return folder() / f"{plain_name(name, 'the car')}.toml"


def home(file: CarFile) -> Path:
    """Return the path that what is kept with a car begins with: its file without ending, on the shelf for an example.

    Parameters:
        file: the car file [-]

    Returns:
        a path to put an ending behind [-]
    """
    if file.path is not None:
        return file.path.parent / file.path.stem
    return folder() / (re.sub(r"[^\w -]", "", file.car.name).strip(" -") or "car")


def on_shelf(file: CarFile) -> bool:
    """Return whether a car's file is one of those saved on the shelf.

    Parameters:
        file: the car file [-]

    Returns:
        False for an invented example and for a file of another folder [-]
    """
    path = file.path
    return path is not None and path.stem in car_names() and path.resolve() == car_path(path.stem).resolve()


def load_car(name: str) -> CarFile:
    """Read one saved car.

    Parameters:
        name: one of ``names()`` [-]

    Returns:
        a ``CarFile`` [-]

    Errors:
        ``InputError`` as of ``carfile.read``.
    """
    return read(car_path(name))


def save_car(
    name: str,
    car: Car,
    setup: Setup,
    origin: Mapping[str, str] | None = None,
    former: str | None = None,
    more: Known | None = None,
) -> CarFile:
    """Save a car on the shelf, whole or not at all, and make it the open one.

    Parameters:
        name: what it is to be called [-]
        car: the car [-]
        setup: the setup [-]
        origin: where the numbers come from; None keeps what the former text says [-]
        former: text whose comments are kept; None for a new one [-]
        more: errors, kinds, points and book figures; None keeps what the former text says [-]

    Returns:
        the ``CarFile`` as saved [-]

    Errors:
        ``InputError`` for a name or numbers that cannot be saved; the former file is then as it was.
    """
    target = car_path(name)
    store.made(target.parent)
    saved = write_file(target, car, setup, origin, former, more)
    make_open(name)
    return saved


def make_open(name: str) -> None:
    """Make a saved car the one that every workbook starts from.

    Parameters:
        name: one of ``names()``; empty for none of them, so that the first example is shown [-]

    Errors:
        ``InputError`` when no car of that name is saved, or where the choice cannot be kept.
    """
    if name and not car_path(name).is_file():
        have = ", ".join(car_names()) or "no car yet"
        raise InputError([Problem("the car's name", repr(name), "must be one that is saved", f"saved so far: {have}")])
    store.put(folder() / _OPEN, name.strip().encode("utf-8"))


def opened() -> str:
    """Return the name of the saved car that is open.

    Returns:
        its name; empty when none is, or when its file is gone [-]
    """
    name = store.marked(folder() / _OPEN)
    return name if name in car_names() else ""


def current() -> CarFile:
    """Return the car that a workbook starts from: the open saved one, or else the first example.

    Returns:
        a ``CarFile`` [-]

    Errors:
        ``InputError`` when the open car's file cannot be read.
    """
    name = opened()
    return load_car(name) if name else examples.load_example(examples.FIRST)


def keep_units(choice: Choice) -> None:
    """Show everything in these units, in this workbook and in those opened later.

    Parameters:
        choice: the units [-]

    Errors:
        ``InputError`` where the choice cannot be kept; it holds for this workbook all the same.
    """
    use(choice)
    store.put(folder() / _UNITS, " ".join(getattr(choice, kind) for kind in PAIRS).encode())


def kept_units() -> Choice:
    """Return the units that were chosen last.

    Returns:
        a ``Choice``; the usual one where none was kept, or none that can be read [-]
    """
    try:
        return Choice(*store.marked(folder() / _UNITS).split())
    except (InputError, TypeError):
        return Choice()
