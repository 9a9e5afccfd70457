"""What was entered about one car's day of laps, kept beside its car file; typed laps turned into sessions."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

import tomlkit

from ..car import shelf, store
from ..car.carfile import CarFile
from ..checks import InputError, Problem
from ..units import to_si
from .laps import Session, hand_laps, lap_seconds

SESSIONS = ("before", "after", "before again")
"""Names of the sessions in the order driven; the last one may be left out."""
KEYS = tuple(name.replace(" ", "_") for name in SESSIONS)
UNITS = {"km/h": "kmh", "mph": "mph"}
"""Unit of typed speeds as shown → name in ``vdlib.units``."""
LONGEST = 200_000
"""Most characters of one text; a day of laps has some hundreds."""
TEXTS = frozenset(
    ["laps_from", "laps_drawn", "typed.corners", "typed.speed_unit"]
    + [f"{table}.{key}" for table in ("typed", "logs") for key in KEYS]
    + [f"answers.{key}" for key in ("same_day", "same_tyres", "same_driver", "only_this", "same_air", "same_fuel")]
    + [f"promise.{key}" for key in ("before", "after", "phase")]
    + [f"rules.{key}" for key in ("by_rule", "offset", "corner", "felt_before", "felt_after", "felt_again")]
)
"""Every text that is kept, by its dotted name."""
LISTS = frozenset(f"left_out.{key}" for key in KEYS)
"""Lap numbers ticked to be left out of a log, counted from 1."""
HEAD = "What was entered in the workbook about laps before and after a change. Typed laps: one a line, t for traffic."
Notes = dict[str, Any]
"""Dotted name → text or list of lap numbers."""


def notes_path(file: CarFile) -> Path:
    """Return the file that keeps the notes of a car's day, ``NAME.day.toml`` beside the car file or on the shelf.

    Parameters:
        file: the car file [-]

    Returns:
        its path; it may not exist yet [-]
    """
    home = shelf.home(file)
    return home.with_name(f"{home.name}.day.toml")


class Kept(NamedTuple):
    """The notes on the disk, their text (None where there is no file yet), and what to tell; empty if all is well."""

    notes: Notes
    text: str | None
    said: str


def keep(file: CarFile, notes: Mapping[str, Any], former: str | None = None) -> Kept:
    """Save the notes, whole or not at all; what somebody else saved meanwhile is set aside.

    Parameters:
        file: the car file [-]
        notes: dotted name → text or list of lap numbers [-]
        former: the text last read or saved here; None for a new file [-]

    Returns:
        what is now on the disk [-]

    Errors:
        ``InputError`` for a text that is too long, and where nothing can be saved; the former file is then as it was.
    """
    long = next((name for name, value in notes.items() if isinstance(value, str) and len(value) > LONGEST), "")
    if long:
        got, rule = f"{len(notes[long]):,} characters", f"must be at most {LONGEST:,} characters to be saved"
        raise InputError([Problem(f"the text {long!r}", got, rule, "shorten it; it stays in its box until then")])
    doc = tomlkit.document()
    doc.add(tomlkit.comment(HEAD))
    tables: dict[str, Any] = {}
    for name in sorted(notes, key=lambda n: ("." in n, n)):
        table, _, key = name.rpartition(".")
        value = notes[name]
        if value == "":
            continue
        if isinstance(value, str):
            value = tomlkit.string(store.writable(value), multiline="\n" in value)
        if table:
            tables.setdefault(table, tomlkit.table())[key] = value
        else:
            doc[key] = value
    for table, held in tables.items():
        doc[table] = held
    text = tomlkit.dumps(doc)
    return Kept(dict(notes), text, store.save(notes_path(file), text, former))


def kept(file: CarFile) -> Kept:
    """Read the notes; a file that cannot be understood is set aside, and that is said.

    Parameters:
        file: the car file [-]

    Returns:
        the notes, empty where there are none or none that can be read [-]
    """
    path = notes_path(file)
    try:
        found = store.load(path)
        flat, fault = _flat(found.data)
        why = found.fault or fault
        if not why:
            return Kept(flat, found.text, "")
        aside = store.set_aside(path).name
    except InputError as fault:
        return Kept({}, None, f"The notes of this day cannot be read. {fault}")
    said = f"The notes of this day, {path}, cannot be read ({why}). They are kept as {aside}; new ones begin."
    return Kept({}, None, said)


def _flat(data: Mapping[str, Any]) -> tuple[Notes, str]:
    """Take the notes out of their tables, and say what is in them that no notes hold."""
    flat: Notes = {}
    for key, value in data.items():
        flat |= {f"{key}.{inner}": v for inner, v in value.items()} if isinstance(value, dict) else {key: value}
    for name, value in flat.items():
        if name in TEXTS:
            good = isinstance(value, str) and len(value) <= LONGEST
        else:
            whole = isinstance(value, list) and all(isinstance(n, int) and not isinstance(n, bool) for n in value)
            good = name in LISTS and whole
        if not good:
            return {}, f"{name[:60]} holds {str(value)[:40]!r}, which is not expected there"
    return flat, ""


def corner_names(text: str) -> tuple[str, ...]:
    """Split typed corner names at commas.

    Parameters:
        text: such as "hairpin, long left" [-]

    Returns:
        the names [-]

    Example:
        >>> corner_names("hairpin, long left")
        ('hairpin', 'long left')
    """
    return tuple(name.strip() for name in re.split(r"[,;\n]", text) if name.strip())


@dataclass(frozen=True)
class Lap:
    """One typed line: lap time as typed, whether in traffic, lowest speeds in the unit typed."""

    time: str
    traffic: bool
    speeds: tuple[float, ...]


def typed_lap(line: str, where: str) -> Lap:
    """Read one line: a lap time, then ``t`` where there was traffic, then lowest speeds in the order of the corners.

    Parameters:
        line: such as "1:32.45 t 63 88" [-]
        where: which line it is, for the error message [-]

    Returns:
        a ``Lap`` [-]

    Errors:
        ``InputError`` naming line and word.
    """
    time, *rest = line.split()
    try:
        lap_seconds(time)
    except InputError as fault:
        raise InputError(replace(p, field=f"{where}, {p.field}") for p in fault.problems) from None
    traffic, speeds = False, []
    for word in rest:
        if word.lower() in ("t", "traffic"):
            traffic = True
            continue
        try:
            speeds.append(float(word.replace(",", ".")))
        except ValueError:
            rule = "must be a speed, or t for traffic"
            remedy = "type the lap time first, then t if there was traffic, then the speeds"
            raise InputError([Problem(where, repr(word)[:40], rule, remedy)]) from None
    return Lap(time, traffic, tuple(speeds))


def typed_session(name: str, text: str, corners: Sequence[str] = (), unit: str = "") -> Session:
    """Make a session of typed laps, one a line.

    Parameters:
        name: what the session is called [-]
        text: the lines; empty ones do not count [-]
        corners: names of the corners whose lowest speed was written down [-]
        unit: "km/h" or "mph"; asked for where speeds were typed [-]

    Returns:
        a ``Session`` [-]

    Errors:
        ``InputError`` naming session and line.
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if not lines:
        remedy = "type one lap a line, such as 1:32.45"
        raise InputError([Problem(f"laps {name}", "none", "must be at least one", remedy)])
    laps: list[Lap] = []
    problems: list[Problem] = []
    for i, line in enumerate(lines, start=1):
        try:
            laps.append(typed_lap(line, f"{name}, line {i}"))
        except InputError as fault:
            problems += fault.problems
    if problems:
        more = (
            [Problem(f"{len(problems) - 8} more lines", "", "cannot be read", "see those first")]
            if problems[8:]
            else []
        )
        raise InputError([*problems[:8], *more])
    with_speed = [i for i, lap in enumerate(laps, start=1) if lap.speeds]
    traffic = [i for i, lap in enumerate(laps, start=1) if lap.traffic]
    times = [lap.time for lap in laps]
    if not with_speed:
        return hand_laps(name, times, traffic)
    for i, lap in enumerate(laps, start=1):
        if len(lap.speeds) != len(corners):
            rule = f"must be {len(corners)}, one for each corner named" if corners else "need the corners' names"
            remedy = "name the corners, and give every lap one speed for each, or none in the whole session"
            raise InputError([Problem(f"{name}, line {i}: speeds", f"{len(lap.speeds)}", rule, remedy)])
    if unit not in UNITS:
        raise InputError([Problem("unit of the typed speeds", "", "is not said", "choose km/h or mph")])
    speeds = [[to_si(speed, UNITS[unit]) for speed in lap.speeds] for lap in laps]
    return hand_laps(name, times, traffic, corners, speeds, UNITS[unit])
