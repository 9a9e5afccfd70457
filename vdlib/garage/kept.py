"""The readings on the disk: one TOML file a car beside the saved cars, saved whole at every change, never overwritten.

What cannot be read, or was changed by someone else meanwhile, is kept aside under another name.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import tomlkit

from ..car import shelf, store
from ..checks import InputError, Problem
from .form_fields import CHOICES, FIELDS
from .typed import Readings

ENDING = ".readings.toml"
_MARK = ".form"
_HEAD = (
    "Readings as typed into the measuring form, workbook 7. The form reads this file when it is run and writes it at\n"
    "every change; edit it only while the form is closed."
)


class Loaded(NamedTuple):
    """Readings from the disk, the text they were read from, and what to tell the reader; empty where all is well."""

    readings: Readings
    text: str
    said: str


def form_path(name: str) -> Path:
    """Return the file that holds the readings of a car of this name.

    Parameters:
        name: as for ``shelf.car_path`` [-]

    Returns:
        its path [-]

    Errors:
        ``InputError`` for a name that cannot be a file's name.
    """
    car = shelf.car_path(name)
    return car.with_name(car.stem + ENDING)


def form_names() -> tuple[str, ...]:
    """List the cars that have readings, in order of the alphabet.

    Returns:
        names that ``load`` takes [-]
    """
    return store.names(shelf.folder(), ENDING)


def free_name(wish: str) -> str:
    """Return a name that no form has yet: the wish itself, or with a number behind it.

    Parameters:
        wish: a good name [-]

    Returns:
        a name [-]
    """
    taken = {name.lower() for name in form_names()}
    count = 1
    while (name := wish if count == 1 else f"{wish} {count}").lower() in taken:
        count += 1
    return name


def text_of(readings: Readings) -> str:
    """Write readings as TOML.

    Parameters:
        readings: the readings [-]

    Returns:
        the text of the file [-]
    """
    form = {"name": tomlkit.string(readings.name), "invented": tomlkit.item(readings.invented)}
    tables = {"form": [f"{key} = {value.as_string()}" for key, value in form.items()]}
    for title, held in (("chosen", readings.chosen), ("typed", readings.typed)):
        for dotted, text in held.items():
            table, line = _line(title, dotted, text)
            tables.setdefault(table, []).append(line)
    said = ["".join(f"# {line}\n" for line in _HEAD.splitlines())]
    said += [f"[{title}]\n" + "".join(f"{line}\n" for line in lines) for title, lines in tables.items()]
    return "\n".join(said)


@lru_cache(maxsize=2048)
def _line(title: str, dotted: str, text: str) -> tuple[str, str]:
    """Return one reading's table and line; all but one are those of the last time."""
    step, _, rest = dotted.partition(".")
    table = f"{title}.{tomlkit.key(step).as_string()}"
    return table, f"{tomlkit.key(rest).as_string()} = {tomlkit.string(store.writable(text)).as_string()}"


def save_form(readings: Readings, former: str | None = None) -> Loaded:
    """Save readings whole or not at all, and make them the ones that open next time.

    Parameters:
        readings: the readings [-]
        former: the text this form last read or wrote; another one on the disk is kept aside; None for a new file [-]

    Returns:
        what now stands on the disk, and what to tell [-]

    Errors:
        ``InputError`` for a bad name, and in the system's words where it cannot be saved; the former file then stays.
    """
    text = text_of(readings)
    said = store.save(form_path(readings.name), text, former)
    make_last(readings.name)
    return Loaded(readings, text, said)


def load_form(name: str) -> Loaded:
    """Read the readings of one car; a file that cannot be read is kept aside, and an empty form given in its place.

    Parameters:
        name: one of ``names()`` [-]

    Returns:
        the readings, and in words what was wrong [-]

    Errors:
        ``InputError`` where the system does not let the file be read; it stays where it is.
    """
    path = form_path(name)
    found = store.load(path)
    readings, faults = _understood(name, found.data)
    if found.text is None:
        faults.append("there is no such file any more")
    elif found.fault:
        faults.append(f"it is not the TOML text of a form ({found.fault})")
    if not faults:
        return Loaded(readings, str(found.text), "")
    aside = f" It is kept as {store.set_aside(path).name}." if found.text is not None else ""
    more = "What could be read is below." if readings.typed else "The form below is empty."
    said = f"{path.name}: {'; '.join(faults[:5])}.{aside} {more}"
    return save_form(readings)._replace(said=said)


def readings_of(name: str) -> Readings | None:
    """Return what is typed into the form of a car, without touching its file.

    Parameters:
        name: the car's name [-]

    Returns:
        its readings; None where there is no form, or none that can be read whole [-]
    """
    try:
        found = store.load(form_path(name))
    except InputError:
        return None
    readings, faults = _understood(name, found.data)
    return None if found.text is None or found.fault or faults else readings


def elsewhere(name: str, text: str | None) -> bool:
    """Return whether somebody else has changed a form on the disk.

    Parameters:
        name: the car's name [-]
        text: the text this form last read or wrote; None where it has none yet [-]

    Returns:
        False also where there is no such file, or none that can be read [-]
    """
    try:
        there = store.load(form_path(name)).text
    except InputError:
        return False
    return bool(text and there) and there != text


def rename(readings: Readings, name: str, former: str) -> Loaded:
    """Rename a form; its file moves, a car saved under the old name stays.

    Parameters:
        readings: the readings [-]
        name: the new name [-]
        former: the text this form last read or wrote [-]

    Returns:
        what now stands on the disk [-]

    Errors:
        ``InputError`` for a bad name, one that another form has, or where it cannot be saved; nothing is changed then.
    """
    wanted, old = name.strip(), form_path(readings.name)
    target = form_path(wanted)
    if target.exists() and not (old.exists() and target.samefile(old)):
        raise InputError(
            [Problem("the car's name", repr(wanted), "has a form already", "open that one, or choose anew")]
        )
    saved = save_form(replace(readings, name=wanted))
    if old.exists() and old.read_bytes() == former.encode() and not target.samefile(old):
        old.unlink()
    return saved


def make_last(name: str) -> None:
    """Make a form the one that opens next time.

    Parameters:
        name: its name [-]

    Errors:
        ``InputError`` in words where that cannot be kept.
    """
    mark = shelf.folder() / _MARK
    if store.marked(mark) != name:
        store.put(mark, name.encode("utf-8"))


def last() -> str:
    """Return the form that was open last.

    Returns:
        its name; the first one where that is gone; empty when there is none [-]
    """
    have = form_names()
    name = store.marked(shelf.folder() / _MARK)
    return name if name in have else next(iter(have), "")


def _understood(name: str, data: dict[str, Any]) -> tuple[Readings, list[str]]:
    """Take from a file what the form knows, and say what it does not."""
    faults: list[str] = []
    found: dict[str, dict[str, str]] = {"chosen": {}, "typed": {}}
    for title, known in (("chosen", CHOICES), ("typed", FIELDS)):
        table = data.get(title, {})
        for step, rest in table.items() if isinstance(table, dict) else [(title, table)]:
            for key, value in rest.items() if isinstance(rest, dict) else [("", rest)]:
                dotted = f"{step}.{key}"
                text = value if isinstance(value, str) else str(value)
                if isinstance(value, dict | list | bool) or dotted not in known:
                    faults.append(f"{title}.{dotted[:40]} is not of this form")
                elif title == "chosen" and text not in (CHOICES[dotted].options or (text,)):
                    faults.append(f"{title}.{dotted} cannot be {text[:40]!r}")
                else:
                    found[title][dotted] = text
    form = data.get("form", {})
    invented = form.get("invented", False) if isinstance(form, dict) else False
    faults += [f"{key[:40]!r} is not of this form" for key in data.keys() - {"form", "chosen", "typed"}]
    order = [key for key in FIELDS if key in found["typed"]]
    return Readings(name, {k: found["typed"][k] for k in order}, found["chosen"], invented is True), faults
