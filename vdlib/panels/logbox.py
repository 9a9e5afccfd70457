"""Choosing the logs of a day: paths typed, columns and units said once, what was read put into words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from html import escape
from itertools import combinations
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..car import shelf
from ..car.store import put, typed_path
from ..checks import InputError, Problem
from ..laps.logfile import (
    CHANNELS,
    ColumnQuestion,
    Columns,
    Log,
    Look,
    UnitQuestion,
    ask_where_two_fit,
    guess,
    look,
    read,
    recall,
    remember,
    whole_pairs,
)
from ..laps.notes import KEYS
from ..shown import says
from ..units import to_si
from .day_sessions import Day, from_logs
from .shared_whatif import row, say

LARGE = 30e6
"""From this size on it is said beforehand that reading takes a while [bytes]."""
STORE = "log-columns.json"
"""File on the shelf that remembers which column is what."""
NO_COLUMN, NO_UNIT = "", ""
LABELS = {"before": "Log before", "after": "Log after", "before again": "Log before again"}
COLUMNS = "Which column is what"
KEPT = "What was read before stays in the picture."
MOST = 20_000_000
"""Largest file taken from the browser; a larger one is read by its path [bytes]."""
Logs = list[tuple[str, Log]]


def of_a_day(logs: Logs) -> tuple[Day, list[str]]:
    """Lay the logs of a day over each other.

    Parameters:
        logs: name of a session, and its log [-]

    Returns:
        the day, and what to say of it, one line a line [-]
    """
    for (other, one), (name, log) in combinations(logs, 2):
        few, many = sorted((one, log), key=lambda each: len(each.time))
        at = np.clip(np.searchsorted(many.time, few.time), 0, len(many.time) - 1)
        if np.array_equal(many.time[at], few.time) and np.array_equal(many.speed[at], few.speed):
            rule, remedy = f"must be of other laps than the log {other}", "choose the other file"
            got = "the same rows" if len(few.time) == len(many.time) else "the same drive, some of its rows left out"
            raise InputError([Problem(f"the log {name}", got, rule, remedy)])
    day = from_logs(logs)
    lines = [
        f"{name}: {about(log)}; {'; '.join(run.session.notes)}. {run.matched}".rstrip()
        for (name, log), run in zip(logs, day.runs, strict=True)
    ]
    return day, [*lines, *_corners(day, logs[0][1])]


class Wanting(Exception):
    """The logs are good so far, and another one is needed, in words."""


class LogBox:
    """Paths of logs, the columns of the log that is asked about, and what was made of the logs read."""

    def __init__(
        self,
        paths: Mapping[str, str],
        changed: Callable[[], None],
        labels: Mapping[str, str] = LABELS,
        need: int = 2,
        make: Callable[[Logs], tuple[Any, list[str]]] = of_a_day,
    ) -> None:
        """Build the widgets; ``changed`` is called when a path changes or other logs were read."""
        self.day: Any = None
        self.former = ""
        """The files that ``day`` is of, where others are named now and not read; empty where it is of those named."""
        self._of: tuple[str, ...] = ()
        self.took = ""
        self.changed, self.labels, self.need, self.make = changed, dict(labels), need, make
        self.names = {name.replace(" ", "_"): name for name in labels}
        self._logs: dict[tuple[Any, ...], Log] = {}
        self._chosen: dict[tuple[str, tuple[str, ...]], Columns] = {}  # of a file with these column names
        self._guessed: set[tuple[str, tuple[str, ...]]] = set()  # read without a word said of their columns
        self._seen: dict[str, tuple[Look, Columns]] = {}
        self.paths: dict[str, Any] = {}
        self.browse: dict[str, Any] = {}
        rows = []
        for key, name in self.names.items():
            self.paths[key] = widgets.Text(
                value=paths.get(f"logs.{key}", ""),
                placeholder="a CSV file, then Enter" if key != KEYS[2] else "best habit: change taken back, then Enter",
                description=self.labels[name],
                continuous_update=False,
                layout=widgets.Layout(width="29em", max_width="100%"),
            )
            self.paths[key].style.description_width = "auto"
            self.paths[key].observe(self._typed, names="value")
            self.browse[key] = widgets.FileUpload(
                accept=".csv,.txt,.tsv,.log", description="Browse ...", tooltip=f"Choose the file: {self.labels[name]}",
                layout=widgets.Layout(width="9em"),
            )  # fmt: skip
            self.browse[key].observe(lambda change, key=key: self._chosen_file(key, change["new"]), names="value")
            rows.append(widgets.VBox([self.paths[key], self.browse[key]]))
        self.again = widgets.Button(description="Read the logs again", layout=widgets.Layout(width="auto"))
        self.again.on_click(lambda _: self.read())
        self.message, self.ask = widgets.HTML(), widgets.HTML()
        self.grid = widgets.Box(layout=widgets.Layout(flex_flow="row wrap"))
        self.columns: dict[str, Any] = {}
        self.units: dict[str, Any] = {}
        self.use = widgets.Button(description="Use these columns", layout=widgets.Layout(width="auto"))
        self.use.on_click(lambda _: self._use())
        self.of = widgets.Dropdown(options=list(self.labels), description="Columns of the log")
        self.of.style.description_width = "auto"
        self.of.observe(lambda _: self._show(), names="value")
        self.of.layout.display = "" if len(self.labels) > 1 else "none"
        self.fold = widgets.Accordion([widgets.VBox([self.of, self.ask, self.grid, row(self.use)])], titles=[COLUMNS])
        self.fold.layout.display = "none"
        self.box = widgets.VBox([row(*rows, self.again), self.message, self.fold])

    @property
    def texts(self) -> dict[str, str]:
        """The typed paths, for the notes."""
        return {f"logs.{key}": _bare(text.value) for key, text in self.paths.items()}

    def fill(self, paths: Mapping[str, str]) -> None:
        """Put paths into the boxes and read them once."""
        for key, path in paths.items():
            self.paths[key].unobserve(self._typed, names="value")
            self.paths[key].value = path
            self.paths[key].observe(self._typed, names="value")
        self.read()

    def _typed(self, _: Any) -> None:
        self.read()

    def _chosen_file(self, key: str, files: Any) -> None:
        """Keep a file chosen in the browser in the cars folder, and nowhere else, and read it by its path there."""
        if not files:
            return
        name, size = str(files[0]["name"]), int(files[0]["size"])
        self.browse[key].value = ()  # its bytes are not held twice
        try:
            if size > MOST:
                rule = f"must be at most {MOST / 1e6:.0f} MB to come through the browser"
                remedy = "put it into the cars folder and type its path"
                raise InputError([Problem(f"the file {name!r}", f"{size / 1e6:.1f} MB", rule, remedy)])
            raw = bytes(files[0]["content"])
            plain = re.sub(r"[^\w.\- ]", "", Path(name).name).strip(". ") or "log.csv"
            path = shelf.folder() / plain
            count = 1
            while path.exists() and path.read_bytes() != raw:
                count += 1
                path = path.with_name(f"{Path(plain).stem} ({count}){Path(plain).suffix}")
            put(path, raw)
        except InputError as fault:
            say(self.message, str(fault), bad=True)
        except OSError as fault:
            say(self.message, f"{name} cannot be kept: {fault.strerror or fault}", bad=True)
        else:
            self.took = f"{name}, {size / 1e6:.2f} MB, is kept as {path} and nowhere else."
            if self.paths[key].value == str(path):
                self.read()
            else:
                self.paths[key].value = str(path)
            said = f'<div class="vd-words">{escape(self.took)}</div>'
            self.message.value = said + self.message.value

    def read(self) -> None:
        """Read every log named; whatever is wrong is said, and the day read before stays."""
        named = [(name, _bare(self.paths[key].value)) for key, name in self.names.items()]
        paths = tuple(path for _, path in named)
        self.former = ", ".join(Path(path).name for path in self._of if path) if self.day is not None else ""
        if self.former and paths != self._of:
            self.changed()  # reading may take long: what is shown is said to be of the files before
        self._seen.clear()
        self.grid.children = ()
        try:
            if not any(paths):
                say(self.message, "")
                self._show()
                self.changed()
                return
            day = self._day([(name, typed_path(path, self.labels[name])) for name, path in named if path])
        except Wanting as wanting:  # half chosen is no fault
            say(self.message, str(wanting))
        except InputError as fault:
            told = _asked(fault) if isinstance(fault, UnitQuestion | ColumnQuestion) else str(fault)
            say(self.message, f"{told}\n{KEPT}" if self.day else told, bad=True)
            if not self.grid.children:
                self._show()
            if COLUMNS in told and self.grid.children:
                self.fold.selected_index = 0
        except MemoryError:
            say(
                self.message,
                f"The log does not fit into memory: cut it to one day. {KEPT if self.day else ''}",
                bad=True,
            )
        else:
            self.day, self._of, self.former = day, paths, ""
            self.fold.selected_index = None
        self.changed()

    def _day(self, named: list[tuple[str, Path]]) -> Any:
        for name, path in named:
            if not path.exists():
                folder, there = path.parent.absolute(), path.parent.is_dir()
                rule = f"cannot be read: it is not in {folder}" if there else f"cannot be read: no folder {folder}"
                raise InputError([Problem(f"{self.labels[name]}, {path.name}", "", rule, "look for it with Browse")])
        logs = [(name, self._log(name, path)) for name, path in named]
        missing = [name for name in list(self.labels)[: self.need] if name not in dict(named)]
        if missing:
            found = "".join(f"\n{name}: {about(log)}" for name, log in logs)
            raise Wanting(f"Read. Now choose the {self.labels[missing[0]].lower()}, by Browse or its path.{found}")
        made, lines = self.make(logs)
        paths = dict(named)
        for name, log in logs:
            held, _ = self._seen[name]
            alike = [other for one, other in logs if sorted(self._seen[one][0].columns) == sorted(held.columns)]
            if _key(paths[name], held) in self._chosen and all(other.columns == log.columns for other in alike):
                remember(held, log.columns, shelf.folder() / STORE)
        if self.of.value not in dict(named):
            self.of.value = next(iter(self.labels))
        self._show()
        say(self.message, "\n".join(lines))
        return made

    def _log(self, name: str, path: Path) -> Log:
        """Read one log, with the columns chosen, remembered or guessed."""
        found = look(path)
        own = _key(path, found)
        columns = self._chosen.get(own) or recall(found, shelf.folder() / STORE)
        if columns is None and own not in self._guessed:  # as said of another log with the same columns
            columns = next((held for (_, names), held in self._chosen.items() if names == own[1]), None)
        asked = columns is None
        columns = whole_pairs(columns or guess(found))
        self._seen[name] = (found, columns)
        info = path.stat()
        key = (str(path.resolve()), info.st_mtime_ns, info.st_size, tuple(sorted(columns.items())))
        if key not in self._logs:
            if info.st_size > LARGE:
                say(self.message, f"Reading {path.name}, {info.st_size / 1e6:.0f} MB: this can take a minute or two.")
            try:
                if asked:
                    ask_where_two_fit(found, path.name)
                log = read(path, columns)
            except InputError as fault:
                self.of.value = name
                self._show(fault if isinstance(fault, UnitQuestion | ColumnQuestion) else None)
                self.fold.selected_index = 0
                raise
            self._logs = dict(list(self._logs.items())[-3:]) | {key: log}
        log = self._logs[key]
        self._seen[name] = (found, log.columns)
        if asked:
            self._guessed.add(own)
        elif self._chosen:
            self._chosen.setdefault(own, log.columns)
        return log

    def _show(self, question: UnitQuestion | ColumnQuestion | None = None) -> None:
        """Offer every channel the columns of the log chosen, or put the question about one of them."""
        if self.of.value not in self._seen:
            self.grid.children = ()
            self.fold.layout.display = "" if self._seen else "none"
            return
        found, columns = self._seen[self.of.value]
        say(self.ask, _question(question) if question else "Choose the column of each; time and speed are needed.")
        self.fold.layout.display = ""
        rows = []
        for channel, (label, units) in CHANNELS.items():
            column, unit = columns.get(channel, (NO_COLUMN, NO_UNIT))
            here = question is not None and question.channel == channel
            means = question.choices if here and isinstance(question, UnitQuestion) else {}
            if here and isinstance(question, ColumnQuestion):
                column = NO_COLUMN
            options = [(means.get(u, u) or "as written", u) for u in units]
            if units != ("",):
                stated = "as the file says" if column and not means else "say which"
                options.insert(0, (f"({stated})", NO_UNIT))
            names = [("(none)", NO_COLUMN), *((c, c) for c in found.columns)]
            known = column if column in found.columns else NO_COLUMN
            pick = widgets.Dropdown(options=names, value=known, description=label, layout=widgets.Layout(width="22em"))
            pick.style.description_width = "11em"
            measure = widgets.Dropdown(
                options=options,
                value=unit if unit in units else NO_UNIT,
                layout=widgets.Layout(width="20em" if means else "10em"),
            )
            self.columns[channel], self.units[channel] = pick, measure
            rows.append(widgets.HBox([pick, measure]))
        self.grid.children = rows

    def _use(self) -> None:
        """Take the columns as chosen, and read again."""
        if self.of.value not in self._seen or not self.grid.children:
            return
        found, _ = self._seen[self.of.value]
        picked = {c: (pick.value, self.units[c].value) for c, pick in self.columns.items() if pick.value}
        path = _bare(self.paths[self.of.value.replace(" ", "_")].value)
        self._chosen[_key(typed_path(path, self.labels[self.of.value]), found)] = picked
        self.read()


def _key(path: Path, found: Look) -> tuple[str, tuple[str, ...]]:
    """Return what columns are chosen for: a log's are its own."""
    return str(path), tuple(sorted(found.columns))


def _bare(path: str) -> str:
    """Take off the blanks and quotes that a path copied from a file manager has round it."""
    return path.strip().strip("\"'").strip()


def _asked(question: UnitQuestion | ColumnQuestion) -> str:
    """Say in one line what is not known; what the answers are stands with the question."""
    (one,) = question.problems
    where = f"{question.where}: " if question.where else ""
    if isinstance(question, ColumnQuestion):
        return f"{where}more than one column could be the {one.field}. Which is it?"
    return f"{where}{one.field} {one.rule}, and it is never guessed. Which is it?"


def _question(question: UnitQuestion | ColumnQuestion) -> str:
    """List what the answers are; what is asked is said above."""
    answers = question.fitting if isinstance(question, ColumnQuestion) else question.choices.values()
    return "\n".join(f"• {text}" for text in answers)


def about(log: Log) -> str:
    """Describe how long a log is, how fast it got and what it holds, so that a wrong choice is seen.

    Parameters:
        log: the log [-]

    Returns:
        the words [-]
    """
    top, way = says(float(log.speed.max()), "kmh", 0), float(log.travelled[-1]) / 1e3
    unit = log.columns["speed"][1]
    kept = {"latitude": log.x, "longitude": None, "x": log.x, "y": None, "turn_x": None, "turn_y": None}
    held = [
        "position" if channel in ("latitude", "x") else CHANNELS[channel][0].partition(" (")[0]
        for channel in log.columns
        if channel not in ("time", "speed") and kept.get(channel, getattr(log, channel, None)) is not None
    ]
    holds = f"; it holds {', '.join(held)}" if held else "; it holds speed alone"
    return f"{len(log.time)} rows, {way:.1f} km, top speed {top} (read in {unit}){holds}"


def _corners(day: Day, log: Log) -> list[str]:
    """State which corners were found, how, and what that way of finding them misses."""
    assert day.course is not None
    corners, sections = day.course.corners, day.course.sections
    out = [
        f"{len(corners)} corners on {day.course.length:.0f} m: "
        + ", ".join(f"{c.name.removeprefix('corner ')} at {c.apex:.0f} m" for c in corners)
    ]
    if log.lateral is None and log.x is None:
        least = says(float(to_si(9.0, "kmh")), "kmh", 0)
        out.append(f"Found from speed alone: a corner taken without slowing by {least} is missed.")
    spanning = sections[0].kind == "corner" and sections[-1].kind == "corner"
    if spanning and np.isclose(sections[0].start, 0) and np.isclose(sections[-1].end, day.course.length):
        out.append("The lap begins inside a corner, which therefore counts as two sections.")
    return out
