"""The invented example cars that come with the workbook, and one door for an example's name or a file of one's own."""

from __future__ import annotations

import difflib
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from ..checks import InputError, Problem
from .carfile import CarFile, parse, read
from .store import typed_path

FIRST = "low-two-seater"
"""The car that everything opens with."""


def example_names() -> tuple[str, ...]:
    """List the example cars, the one that everything opens with first.

    Returns:
        names that ``load`` takes [-]
    """
    found = [file.name.removesuffix(".toml") for file in _folder().iterdir() if file.name.endswith(".toml")]
    return tuple(sorted(found, key=lambda name: (name != FIRST, name)))


def load_example(name: str) -> CarFile:
    """Read one example car.

    Parameters:
        name: one of ``names()`` [-]

    Returns:
        a ``CarFile`` without a path [-]

    Errors:
        ``InputError`` that names the choices, for another name.

    Example:
        >>> load_example("hatch").car.mass
        1210.0
    """
    if name not in example_names():
        raise _no_example(str(name), "must be one of the examples")
    return _example(name)


@cache
def _example(name: str) -> CarFile:
    """What comes with the workbook stays as it is: it is read once."""
    return parse((_folder() / f"{name}.toml").read_bytes().decode("utf-8"), f"example {name}")


def open_car(path_or_name: str | Path) -> CarFile:
    """Read an example car by its name, or any car file by its path (``~`` is your home folder).

    Parameters:
        path_or_name: one of ``names()``, which goes before a file of the same name, or a path [-]

    Returns:
        a ``CarFile`` [-]

    Errors:
        ``InputError`` as of ``read``; for a bare word that is neither, it names the examples.
    """
    word = str(path_or_name)
    if word in example_names():
        return load_example(word)
    path = typed_path(word, "car")
    try:
        bare = path.name == word and not path.suffix and not path.exists()
    except (OSError, ValueError) as fault:  # a name too long
        raise InputError([Problem("car", repr(word)[:80], "must name a file", str(fault))]) from None
    if bare:
        raise _no_example(word, "must be an example or a car file")
    return read(path)


def _folder() -> Traversable:
    return files("vdlib") / "cars"


def _no_example(word: str, rule: str) -> InputError:
    close = difflib.get_close_matches(word[:60], example_names(), 1)
    hint = f"did you mean {close[0]}? " if close else ""
    return InputError([Problem("car", repr(word)[:80], rule, f"{hint}the examples are {', '.join(example_names())}")])
