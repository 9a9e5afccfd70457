"""Which column of a log is what: channels and their units, what the names propose, what was chosen before.

A column whose stated unit does not fit a channel is never proposed for it; where two columns fit, it is asked.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..car import store as kept
from ..checks import InputError, Problem
from . import text
from .text import Look, fault

Columns = dict[str, tuple[str, str]]
"""Channel → (column of the file, unit); an empty unit stands for what the file states."""

CHANNELS: dict[str, tuple[str, tuple[str, ...]]] = {
    "time": ("time", ("s", "ms", "min", "clock")),
    "speed": ("speed", ("km/h", "mph", "m/s", "kn")),
    "distance": ("distance", ("m", "km", "mi", "ft")),
    "lateral": ("lateral acceleration", ("g", "m/s²")),
    "longitudinal": ("longitudinal acceleration", ("g", "m/s²")),
    "yaw_rate": ("yaw rate (turning about the upright axis)", ("deg/s", "rad/s")),
    "turn_x": ("rate of turning about x", ("deg/s", "rad/s")),
    "turn_y": ("rate of turning about y", ("deg/s", "rad/s")),
    "steer": ("steering angle", ("deg", "rad")),
    "lap": ("lap number", ("",)),
    "latitude": ("latitude", ("deg",)),
    "longitude": ("longitude", ("deg",)),
    "x": ("position x", ("m", "km", "ft")),
    "y": ("position y", ("m", "km", "ft")),
}
"""Channel → its plain name and the units it may be in; a channel with one unit needs no question."""
PAIRS = (("latitude", "longitude"), ("x", "y"), ("turn_x", "turn_y"))
"""Channels of which one without the other tells nothing."""


class UnitQuestion(InputError):
    """The file does not say in which unit a column is: the question to put, and what each answer would mean."""

    def __init__(self, channel: str, column: str, choices: Mapping[str, str], where: str = "") -> None:
        """Put the question about one column, with what each answer would mean."""
        self.channel, self.column, self.choices = channel, column, dict(choices)
        means = "; or ".join(choices.values())
        remedy = f"say which one it is: {means}"
        name = f"column {column!r} ({CHANNELS[channel][0]})"
        super().__init__([Problem(name, "", "has no stated unit", remedy)], where)


class ColumnQuestion(InputError):
    """Several columns could be one channel: the question which."""

    def __init__(self, channel: str, fitting: tuple[str, ...], where: str = "") -> None:
        """Put the question about one channel, with the columns that fit."""
        self.channel, self.fitting = channel, fitting
        listed = ", ".join(map(repr, fitting))
        super().__init__([Problem(CHANNELS[channel][0], listed, "must be one column", "say which one it is")], where)


_ACC = r"acc(el\w*)?"
_GYRO = r"\b(gyro\w*|rot(ation)?( rate)?|angular (rate|velocity))"
_WORDS = (
    ("time", r"^(time|elapsed( time)?|t|timestamp|zeit|temps|tiempo|tempo|clock|utc time)( s)?$|^time\b(?!.*lap)"),
    ("lateral", rf"\blat(eral)? ?({_ACC}|g|force)\b|\blateral\b|\b(g|{_ACC}) ?(lat(eral)?|y)\b|^a ?y$|querbeschl"),
    (
        "longitudinal",
        rf"\blong(itudinal)? ?({_ACC}|g|force)\b|\blongitudinal\b|\b(g|{_ACC}) ?(long(itudinal)?|x)\b|^a ?x$"
        r"|l(ä|ae)ngsbeschl",
    ),

    ("yaw_rate", rf"\byaw\b|{_GYRO} ?z\b|gierrate"),
    ("turn_x", rf"{_GYRO} ?x\b"),
    ("turn_y", rf"{_GYRO} ?y\b"),
    ("steer", r"\bsteer(ing)?\b|lenkwinkel"),
    ("latitude", r"\blatitude\b|^lat$|^gps lat$"),
    ("longitude", r"\blongitude\b|^(gps )?(lon|lng|long)$"),
    ("speed", r"\b(speed|velocity|velocidad|vitesse|geschw\w*|snelheid)\b|^v$"),
    ("distance", r"\b(distance|dist|odometer|strecke)\b|^s$"),
    ("lap", r"^(lap|laps|lap (number|no|nr|count)|runde)$"),
    ("x", r"^(pos\w* |gps )?x( pos\w*)?$|\beasting\b"),
    ("y", r"^(pos\w* |gps )?y( pos\w*)?$|\bnorthing\b"),
)  # fmt: skip
_NEVER = r"\b(accura\w*|error|precision|quality|wind|average|avg|mean|limit|max\w*|min\w*|top|target|predicted|best)\b"
_NOR = {
    "speed": r"\b(wheel|engine|vertical|angular|motor|fan|turbo|sensor|yaw|pit)\b",
    "distance": r"\b(wheel|brake|height|to)\b",
    "lateral": r"\b(offset|position|pos|slip|distance|velocity|speed)\b",
    "longitudinal": r"\b(slip|velocity|speed|position|pos)\b",
    "yaw_rate": r"\b(angle|acc\w*|error)\b",
    "steer": r"\b(torque|rate|speed|velocity|force)\b",
    "time": r"\b(lap|split|sector|delta)\b",
}
_SIDEWAYS = {"lat": "lateral", "long": "longitudinal", "lon": "longitudinal", "lng": "longitudinal"}


def fitting(found: Look) -> dict[str, tuple[str, ...]]:
    """Return every column that its name and stated unit let be a channel.

    Parameters:
        found: what ``look`` found [-]

    Returns:
        channel → columns, only channels with at least one [-]
    """
    out: dict[str, tuple[str, ...]] = {}
    for channel, pattern in _WORDS:
        units = CHANNELS[channel][1]
        held = []
        for column, unit in zip(found.columns, found.units, strict=True):
            name = text.plain(column)
            known = unit in FORCES and _SIDEWAYS.get(name.removeprefix("gps ")) == channel
            if unit and unit not in units and units != ("",):
                continue
            wrong = re.search(_NEVER, name) or re.search(_NOR.get(channel, r"(?!)"), name)
            if known or (re.search(pattern, name) and not wrong):
                held.append(column)
        if held:
            out[channel] = tuple(held)
    return out


FORCES = ("g", "m/s²")
"""Units that make "lat" and "long" accelerations and no position."""


def guess(found: Look) -> Columns:
    """Propose which column is what, from names and stated units alone; a unit only where the file states it.

    Parameters:
        found: what ``look`` found [-]

    Returns:
        channel → (column, unit); an empty unit where the file states none [-]
    """
    out: Columns = {}
    units = dict(zip(found.columns, found.units, strict=True))
    for channel, columns in fitting(found).items():
        free = [c for c in columns if c not in (held for held, _ in out.values())]
        if free:
            unit = units[free[0]]
            out[channel] = (free[0], unit if unit in CHANNELS[channel][1] else "")
    return whole_pairs(out)


def whole_pairs(columns: Columns) -> Columns:
    """Leave out the channels whose other half is missing: one alone tells nothing.

    Parameters:
        columns: channel → (column, unit) [-]

    Returns:
        the same without them [-]
    """
    for pair in PAIRS:
        if sum(one in columns for one in pair) == 1:
            columns = {channel: held for channel, held in columns.items() if channel not in pair}
    return columns


def ask_where_two_fit(found: Look, where: str = "") -> None:
    """Refuse to choose between two columns that could both be one channel.

    Parameters:
        found: what ``look`` found [-]
        where: the file [-]

    Errors:
        ``ColumnQuestion`` for the first such channel.
    """
    for channel, columns in fitting(found).items():
        if len(columns) > 1:
            raise ColumnQuestion(channel, columns, where)


def remember(found: Look, columns: Mapping[str, tuple[str, str]], store: str | Path) -> None:
    """Keep which column is what, for the next file with the same set of column names.

    Parameters:
        found: what ``look`` found [-]
        columns: channel → (column, unit), as given to ``read`` or as in ``Log.columns`` [-]
        store: the small file that keeps them; made where it is not there, saved whole or not at all [-]

    Errors:
        ``InputError`` where the file cannot be read or written; it is then as it was.
    """
    held = [e for e in _stored(Path(store)) if sorted(e["columns"]) != sorted(found.columns)]
    stated = dict(zip(found.columns, found.units, strict=True))
    channels = {c: [*v, stated.get(v[0], "")] for c, v in columns.items()}
    held.append({"columns": sorted(found.columns), "channels": channels})
    kept.put(Path(store), json.dumps(held, indent=1, ensure_ascii=False).encode("utf-8", "replace"))


def recall(found: Look, store: str | Path) -> Columns | None:
    """Return what was kept for a file with the same set of column names, in any order.

    A unit that the file states, and did not state so when the columns were kept, comes before the one kept.

    Parameters:
        found: what ``look`` found [-]
        store: the small file that keeps them [-]

    Returns:
        channel → (column, unit), or None where nothing was kept [-]

    Errors:
        ``InputError`` where the small file is damaged; it is set aside, so that the next try finds none.
    """
    for entry in _stored(Path(store)):
        if sorted(entry["columns"]) == sorted(found.columns):
            stated = dict(zip(found.columns, found.units, strict=True))
            out: Columns = {}
            for channel, (column, unit, *then) in entry["channels"].items():
                now = stated.get(column, "")
                fresh = now in CHANNELS.get(channel, ("", ()))[1] and now != "" and now != "".join(then)
                out[channel] = (column, now if fresh else unit)
            return out
    return None


def _stored(store: Path) -> list[dict[str, Any]]:
    if not store.exists():
        return []
    try:
        held: list[dict[str, Any]] = json.loads(store.read_bytes()[: kept.MOST].decode("utf-8"))
        good = all(_names(e["columns"]) and all(_entry(v) for v in e["channels"].values()) for e in held)
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        good, held = False, []
    if not good:
        aside = kept.set_aside(store).name
        remedy = f"it is kept as {aside}; read the log again and say which column is what"
        raise fault("the remembered columns", "", "cannot be read", remedy, str(store))
    return held


def _names(held: Any) -> bool:
    """Whether it is a list of column names."""
    return isinstance(held, list) and all(isinstance(name, str) for name in held)


def _entry(held: Any) -> bool:
    """Whether a kept channel is its column, its unit and, since later versions, the unit then stated."""
    return isinstance(held, list) and len(held) in (2, 3) and all(isinstance(part, str) for part in held)
