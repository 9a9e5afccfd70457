"""Candidates saved by name beside the car file: TOML that a person can read, whole or not at all."""

from __future__ import annotations

import difflib
import functools
import tomllib
from pathlib import Path
from typing import Any

import tomlkit

from ..car import shelf, store
from ..car.carfile import CarFile, Entry, fields_of, rounded_for_file
from ..car.keys import ENDS
from ..car.records import WHEEL_FIELDS, AxleSetup
from ..car.tyre import KINDS
from ..checks import InputError, Problem, range_problem
from ..glossary import GLOSSARY
from ..units import UNITS, to_si
from .candidate import LOAD_RANGES, Candidate, Load

LEFT_OFF = "where I left off"
"""Name under which what the sliders show is kept on its own."""
BACK = "back to the reference"
"""Name of what a page asks for where nothing else was chosen; the page saves it."""
FELT = "what was felt.txt"
"""File that keeps what the driver typed."""
LONGEST = 4000
"""Most characters of a note."""
_LOAD_KEYS = {f"{key}_{unit}": (key, unit) for key, (_, unit, _, _) in LOAD_RANGES.items()}
_TEXTS = ("name", "note")


def whatif_folder(file: CarFile) -> Path:
    """Return the folder of one car's candidates and sheets: beside its file, or on the shelf for an example.

    Parameters:
        file: the car file [-]

    Returns:
        its path; it may not exist yet [-]
    """
    home = shelf.home(file)
    return home.with_name(f"{home.name} - what-ifs")


def whatif_names(file: CarFile) -> tuple[str, ...]:
    """List a car's saved candidates in order of the alphabet.

    Parameters:
        file: the car file [-]

    Returns:
        names that ``load`` takes [-]
    """
    return shelf.listed(whatif_folder(file))


def unread(file: CarFile) -> str:
    """State why a car's saved candidates cannot be listed.

    Parameters:
        file: the car file [-]

    Returns:
        words; empty where they can be, or where there are none yet [-]
    """
    return store.unread(whatif_folder(file))


def whatif_path(file: CarFile, name: str) -> Path:
    """Return the file in which a candidate of this name is saved.

    Parameters:
        file: the car file [-]
        name: as for ``shelf.plain_name`` [-]

    Returns:
        its path [-]

    Errors:
        as ``shelf.plain_name``.
    """
    return whatif_folder(file) / f"{shelf.plain_name(name, 'the what-if')}.toml"


def save_whatif(file: CarFile, candidate: Candidate, over: bool = False, own: bool = False) -> Path:
    """Save a candidate beside the car file, whole or not at all.

    Parameters:
        file: the car file [-]
        candidate: the candidate; saved under its own name [-]
        over: whether an older one of this name may be replaced [-]
        own: whether the workbook saves it on its own, under the name ``LEFT_OFF`` [-]

    Returns:
        where it went [-]

    Errors:
        ``InputError`` for a name that cannot be used or is taken by another candidate, and where nothing can be saved.
    """
    if candidate.name.strip().lower() == LEFT_OFF.lower() and not own:
        rule = "is the one under which the workbook keeps what the sliders show"
        raise InputError([Problem("the what-if's name", candidate.name, rule, "give it another name")])
    target, raw = whatif_path(file, candidate.name), text(candidate).encode("utf-8")
    parse(raw.decode("utf-8"))
    if not over and store.load(target).text not in (None, raw.decode("utf-8")):
        rule = "is taken by a what-if with other settings"
        raise InputError([Problem("the what-if's name", candidate.name, rule, "give another name, or allow replacing")])
    return store.put(target, raw)


def load_whatif(file: CarFile, name: str) -> Candidate:
    """Open a saved candidate.

    Parameters:
        file: the car file [-]
        name: one of ``names(file)`` [-]

    Returns:
        a ``Candidate`` under the name of its file [-]

    Errors:
        ``InputError`` when there is no such file or it cannot be read, every fault at once.
    """
    path = whatif_path(file, name)
    found = store.load(path)
    if found.text is None:
        have = ", ".join(whatif_names(file)) or "none yet"
        raise InputError([Problem("what-if", name, "is not saved here", f"saved so far: {have}")])
    if found.fault:
        raise _no_toml(found.fault, str(path))
    read = understood(found.data, str(path))
    return Candidate(name.strip(), read.settings, read.loads, read.tyres, read.note)


def text(candidate: Candidate) -> str:
    """Return the text of a candidate's file: only what differs from the car as it stands.

    Parameters:
        candidate: the candidate [-]

    Returns:
        TOML text [-]
    """
    doc = tomlkit.document()
    doc.add(
        tomlkit.comment("A what-if: only what differs from the car file. Toe and camber are read at aligned_height.")
    )
    doc["name"] = candidate.name
    if candidate.note:
        doc["note"] = candidate.note
    homes: dict[str, Any] = {}
    for entry in _entries().values():
        path = entry.path.removeprefix("setup.")
        if path in candidate.settings:
            home = homes.setdefault(entry.table, {})
            home[entry.name] = rounded_for_file(candidate.settings[path], entry.quantity.unit)
    if homes:
        top = tomlkit.table()
        for table in sorted(homes, key=len):
            inner = top if table == "setup" else tomlkit.table()
            for key, value in homes[table].items():
                inner[key] = value
            if table != "setup":
                top[table.removeprefix("setup.")] = inner
        doc["setup"] = top
    if candidate.tyres:
        doc["tyres"] = dict(candidate.tyres)
    if candidate.loads:
        rows = tomlkit.aot()
        for one in candidate.loads:
            row = tomlkit.table()
            row["name"] = one.name
            for key, (name, unit) in _LOAD_KEYS.items():
                row[key] = rounded_for_file(getattr(one, name), unit)
            rows.append(row)
        doc["load"] = rows
    return tomlkit.dumps(doc)


def parse(raw: str, where: str = "") -> Candidate:
    """Make a candidate from the text of its file.

    Parameters:
        raw: the TOML text [-]
        where: file name for the error message [-]

    Returns:
        a ``Candidate`` [-]

    Errors:
        ``InputError`` that lists every fault at once.
    """
    try:
        data = tomllib.loads(raw)
    except (ValueError, RecursionError) as fault:
        raise _no_toml(str(fault)[:120], where) from None
    return understood(data, where)


def _no_toml(fault: str, where: str) -> InputError:
    return InputError([Problem("what-if", fault, "must be TOML", "mend that line, or save the what-if again")], where)


def understood(data: dict[str, Any], where: str = "") -> Candidate:
    """Make a candidate from what its file holds.

    Parameters:
        data: the tables of the file [-]
        where: file name for the error message [-]

    Returns:
        a ``Candidate`` [-]

    Errors:
        ``InputError`` that lists every fault at once.
    """
    problems: list[Problem] = []
    settings = _settings(data.get("setup", {}), problems)
    loads = _loads(data.get("load", []), problems)
    tyres = data.get("tyres", {})
    if not isinstance(tyres, dict) or not all(k in ENDS and v in tuple(KINDS) for k, v in tyres.items()):
        rule, remedy = "must name front, rear or both", f"the kinds are {', '.join(KINDS)}"
        problems.append(Problem("tyres", repr(tyres)[:60], rule, remedy))
    words = {key: data.get(key, "") for key in _TEXTS}
    for key, value in words.items():
        if not isinstance(value, str) or len(value) > LONGEST:
            problems.append(Problem(key, "", f"must be text of at most {LONGEST} characters", "shorten it"))
    problems += [
        _unknown(key, ("setup", "tyres", "load", *_TEXTS))
        for key in data
        if key not in ("setup", "tyres", "load", *_TEXTS)
    ]
    if problems:
        raise InputError(problems, where)
    return Candidate(words["name"], settings, loads, dict(tyres), words["note"])


def keep_felt(file: CarFile, words: str, former: str | None = None) -> tuple[Path, str]:
    """Keep what the driver typed, so that a closed browser loses nothing.

    Parameters:
        file: the car file [-]
        words: the text [-]
        former: the text last read or kept here; another one on the disk is set aside; None for a new file [-]

    Returns:
        where it went, and what to tell; empty where nothing was set aside [-]

    Errors:
        ``InputError`` where nothing can be saved.
    """
    target = whatif_folder(file) / FELT
    before = former if former is None else store.writable(former)
    return target, store.save(target, store.writable(words), before)


def kept_felt(file: CarFile) -> str:
    """Return what the driver typed before.

    Parameters:
        file: the car file [-]

    Returns:
        the text; empty when there is none, or none that can be read [-]
    """
    try:
        return (whatif_folder(file) / FELT).read_bytes().decode("utf-8")
    except (OSError, ValueError):
        return ""


@functools.cache
def _entries() -> dict[str, Entry]:
    """Every setting by its key in the file; left minus right of an axle among them."""
    uneven = [
        Entry(f"setup.{end}.{name}_{GLOSSARY[name].unit}", AxleSetup, name, GLOSSARY[name])
        for end in ENDS
        for name in WHEEL_FIELDS.values()
    ]
    return {entry.key: entry for entry in (*fields_of(), *uneven) if entry.table.startswith("setup")}


def _settings(table: Any, problems: list[Problem], prefix: str = "setup") -> dict[str, float]:
    """Read the setup tables, to SI."""
    found: dict[str, float] = {}
    if not isinstance(table, dict):
        problems.append(Problem(prefix, repr(table)[:60], "must be a table", f"write [{prefix}] on a line of its own"))
        return found
    for key, raw in table.items():
        full = f"{prefix}.{key}"
        entry = _entries().get(full)
        if prefix == "setup" and key in ENDS:
            found |= _settings(raw, problems, full)
        elif entry is None:
            problems.append(_unknown(full, tuple(_entries())))
        elif (
            value := _number(full, raw, entry.quantity.unit, entry.quantity.low, entry.quantity.high, problems)
        ) is not None:
            found[entry.path.removeprefix("setup.")] = value
    return found


def _loads(rows: Any, problems: list[Problem]) -> tuple[Load, ...]:
    found = []
    for row in rows if isinstance(rows, list) else [rows]:
        missing = [key for key in _LOAD_KEYS if not isinstance(row, dict) or key not in row]
        if missing:
            problems.append(Problem("load", "", f"needs {missing[0]}", f"each [[load]] has {', '.join(_LOAD_KEYS)}"))
            continue
        numbers = {
            name: _number(f"load.{key}", row[key], unit, *LOAD_RANGES[name][2:], problems)
            for key, (name, unit) in _LOAD_KEYS.items()
        }
        if all(value is not None for value in numbers.values()):
            found.append(Load(str(row.get("name", "load"))[:60], **numbers))  # type: ignore[arg-type]
    return tuple(found)


def _number(key: str, raw: Any, unit: str, low: float, high: float, problems: list[Problem]) -> float | None:
    """Return a number in SI, or nothing after reporting what is wrong with it."""
    span = f"must be {low:g} to {high:g} {UNITS[unit].label}".rstrip()
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        problems.append(Problem(key, repr(raw)[:60], span, "give one number"))
        return None
    value = float(to_si(float(raw), unit)) if abs(raw) < 1e15 else float("inf")
    problem = range_problem(key, value, unit, low, high)
    if problem:
        problems.append(problem)
        return None
    return value


def _unknown(key: str, known: tuple[str, ...]) -> Problem:
    near = difflib.get_close_matches(key, known, 1)
    return Problem(key[:80], "", "is an unknown key", f"did you mean {near[0]}?" if near else "take the line out")
