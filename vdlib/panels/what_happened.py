"""What happened there: the moments at which the car did not follow its path, one of them looked at for five seconds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np
import tomlkit

from ..car import shelf, store
from ..car.carfile import CarFile
from ..checks import InputError
from ..draw.incident import MomentPicture, ShownMoment
from ..laps.course import course_of
from ..laps.incident import KIND_WORDS, Incident, doubted, find, sentence, threshold
from ..laps.laps import find_laps
from ..laps.logfile import Log
from ..laps.mounting import mounting_words
from ..laps.scare_day import SAYS, make_scare
from ..laps.slide_rate import Turning, turning
from ..shown import label_for, says, seen
from .base import Nothing, Panel, Refused, choice, slider, still, table
from .drive_again import Again, drive_again
from .logbox import LogBox, Logs, about
from .said import more
from .shared_whatif import button, row, say
from .stage import in_corner

INVENTED, OWN = "an invented session with a scare", "a log of my own"
SESSION = "INVENTED SESSION"
"""What stands before everything that is shown of one: no driver is to take its scare for their own."""
LABEL = {"scare": "Your log"}
NOTE = (
    "The path's turning is read off lateral g and speed; what the car turned more than that is slide. Level ground is "
    "taken for granted. Never look for the limit on a public road."
)
SAFE = "A teaching model, arithmetic on a log: nothing here says whether the car is safe."
SEEN = 5.0
"""Smallest angle of slide that is said to be missing where none is found, degrees [-]; see ``incident.find``."""


@dataclass(frozen=True)
class Session:
    """One log: its drive, and the moments found, the worst first."""

    drive: Turning
    moments: tuple[Incident, ...]
    said: tuple[str, ...] = ()
    compared: bool = True  # whether laps could be told apart, so that their corners were compared


@dataclass(frozen=True)
class Answer:
    """What is shown: the session, which of its moments, and the same moment in the model."""

    session: Session
    number: int
    shown: ShownMoment
    again: Again | None
    invented: bool


def session_of(log: Log) -> Session:
    """Find the moments of one log.

    Parameters:
        log: the log [-]

    Returns:
        a ``Session`` [-]
    """
    drive = turning(log)
    laps = course = None
    said: list[str] = []
    try:
        laps = find_laps(log)
        course = course_of(log, laps)
    except InputError as fault:
        said.append(f"Laps could not be told apart, so moments have no lap number: {fault}.")
    drive, moments = doubted(drive, find(drive, laps, course))
    if drive.doubts and not log.doubts:
        said.append(_doubts(drive))
    return Session(drive, moments, tuple(said), course is not None and laps is not None and len(laps.time) > 2)


def nothing_found(session: Session) -> str:
    """State what it means that no moment was found: never more than the log can show.

    Parameters:
        session: one without moments [-]

    Returns:
        sentences, the verdict first [-]
    """
    drive = session.drive
    if drive.doubts:
        return f"Whether the car slid cannot be said. {_doubts(drive)}"
    corners = "no corner was much slower than on the other laps"
    corners = corners if session.compared else "too few whole laps to compare their corners"
    if drive.rate is None:
        return (
            "This log has no yaw rate, so a slide cannot be seen in it. Log one: the gyro of a phone fixed to the car "
            f"will do. By speed alone: {corners}; a slide that is caught quickly does not show there."
        )
    least = max(SEEN, float(np.ceil(np.degrees(threshold(drive)))))
    return f"In this log the car followed its path all the time: no slide of {least:.0f}° or more, and {corners}."


def _doubts(drive: Turning) -> str:
    """Return what contradicts itself in a log, in sentences."""
    return " ".join(f"{doubt[:1].upper()}{doubt[1:]}." for doubt in drive.doubts)


@lru_cache(maxsize=4)
def invented(number: int) -> Session:
    """Make an invented session, and look at it as at any log.

    Parameters:
        number: which one [-]

    Returns:
        a ``Session`` [-]
    """
    return session_of(make_scare(number, wide=False).log)


def kept_path(file: CarFile) -> Path:
    """Return the small file beside the car file that keeps where its log is.

    Parameters:
        file: the car file [-]

    Returns:
        its path; it may not exist yet [-]
    """
    home = shelf.home(file)
    return home.with_name(f"{home.name}.moment.toml")


def kept_log(file: CarFile) -> Session | None:
    """Read the log that was chosen for this car before; None where there is none that can be read.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Session``, or None [-]
    """
    try:
        path = store.load(kept_path(file)).data.get("log", "")
    except InputError:
        return None
    if not path or not isinstance(path, str):
        return None
    found = LogBox({"logs.scare": path}, lambda: None, LABEL, 1, _made)
    found.read()
    return found.day if isinstance(found.day, Session) else None


def panel(file: CarFile) -> Any:
    """Make the panel of one log.

    Parameters:
        file: the car file; the path of the log is kept beside it [-]

    Returns:
        a widget whose attribute ``panel`` is the ``Panel`` [-]
    """
    return MomentDesk(file)


class MomentDesk:
    """The panel and the box that feeds it a log."""

    def __init__(self, file: CarFile) -> None:
        """Build everything from the path kept."""
        self.file, self.view = file, MomentPicture()
        self.message = widgets.HTML()
        self._text: str | None = None
        held = self._kept()
        self._ready = False
        self._driven: dict[tuple[int, int], tuple[Session, Again | None]] = {}
        self.logs = LogBox({"logs.scare": held}, self._changed, LABEL, 1, _made)
        if held:
            self.logs.read()
        controls = {
            "moment": slider("Moment, the worst first", 1, 12, 1, 1),
            "log_from": choice("Log", (INVENTED, OWN), OWN if self.logs.day is not None else INVENTED),
            "number": slider("Invented session number", 1, 20, 1, 1),
        }
        draw = lambda _, answer: self.view.draw(answer.shown)  # noqa: E731
        told = lambda answer: still(words(answer), "" if answer.invented else self.logs.former)  # noqa: E731
        self.panel = Panel(controls, self._compute, draw, told, self.view.picture)
        self.panel.add(row(self.logs.box), self.message, place="controls")
        self.film, self._film_of = widgets.VBox(), None
        self.film_said = widgets.HTML()
        self.film_button = button(
            "Show this corner in the film",
            "The film of workbook 4, in this corner, at speeds around what it forgives, with this foot",
            self._filmed,
            self.film_said,
        )
        self.film_button.layout.align_self = "flex-start"
        self.panel.add(self.film_button, self.film_said, self.film)
        self.panel.when_shown = self._shown
        self.panel.controls["log_from"].observe(lambda _: self._hold_idle(), names="value")
        self._hold_idle()
        self._ready = True

    def _hold_idle(self) -> None:
        """Hold the sliders that move nothing: the session's number with an own log, the moment before there is one."""
        own = self.panel.controls["log_from"].value == OWN
        self.panel.controls["number"].disabled = own
        self.panel.controls["moment"].disabled = own and not isinstance(self.logs.day, Session)

    def show(self) -> Any:
        """Return the widget."""
        return self.panel.show()

    def _shown(self) -> None:
        """Take away the film of another moment."""
        if self._film_of is not None and self.panel.result is not self._film_of:
            self.film.children, self._film_of = (), None
            say(self.film_said, "")

    def _filmed(self) -> str:
        """Put the film of the moment shown under the panel."""
        answer = self.panel.result
        self.film.children = ()
        if answer is not None and answer.session.drive.doubts:
            return "Numbers of this log contradict each other: look at its columns first, then at the film."
        if answer is None or answer.again is None:
            return "This moment shows no move of the foot that the model can drive, so there is no film of it."
        say(self.film_said, "Working: the model drives this corner at many speeds. It takes some seconds.")
        self._film_of = answer
        self.film.children = (in_corner(self.file, answer.again.corner).show(),)
        radius, lift = answer.again.radius, answer.again.lift
        whose = "An invented session's moment: a" if answer.invented else "A"
        return (
            f"{whose} corner of {radius:.0f} m to the {answer.shown.moment.turn}, engine drag {lift:.2f} of the weight "
            "once the foot is up; hands held still."
        )

    def _kept(self) -> str:
        try:
            found = store.load(kept_path(self.file))
        except InputError as fault:
            say(self.message, str(fault), bad=True)
            return ""
        self._text = found.text
        path = found.data.get("log", "")
        return path if isinstance(path, str) else ""

    def _changed(self) -> None:
        if not self._ready:
            return
        text = tomlkit.dumps({"log": store.writable(self.logs.texts["logs.scare"])})
        if text != self._text:
            try:
                said = store.save(kept_path(self.file), text, self._text)
                self._text = text
                say(self.message, said, bad=True)
            except InputError as fault:
                say(self.message, str(fault), bad=True)
        self._driven.clear()
        self._hold_idle()
        if self.logs.day is not None and self.panel.state["log_from"] != OWN:
            self.panel.set("log_from", OWN)
        else:
            self.panel.refresh()

    def _compute(self, state: dict[str, Any]) -> Answer:
        if state["log_from"] == OWN:
            if self.logs.day is None:
                begun = bool(self.logs.texts["logs.scare"])
                raise Refused(f"No log read yet: {'see what is wanted above' if begun else 'choose it with Browse'}.")
            session = self.logs.day
        else:
            session = invented(int(state["number"]))
        if not session.moments:
            former = f"Still {self.logs.former}: " if state["log_from"] == OWN and self.logs.former else ""
            raise Nothing(former + nothing_found(session))
        number = min(int(state["moment"]), len(session.moments))
        moment = session.moments[number - 1]
        key = (id(session), number)
        if key not in self._driven:  # a search over speeds: worth keeping
            again = None if session.drive.doubts else drive_again(self.file, session.drive, moment)
            self._driven[key] = session, again
        again = self._driven[key][1]
        driven = () if again is None else again.driven
        made_up = state["log_from"] == INVENTED
        shown = ShownMoment(session.drive, moment, driven, SESSION.split()[0] if made_up else "")
        return Answer(session, number, shown, again, made_up)


def _made(logs: Logs) -> tuple[Session, list[str]]:
    """Read one log: the session, and what to say of it."""
    (_, log), *_ = logs
    found = session_of(log)
    lines = [f"{about(log)}.", *(f"{note}." for note in log.notes), *found.said]
    return found, lines


def words(answer: Answer) -> str:
    """Describe what happened.

    Parameters:
        answer: what is shown [-]

    Returns:
        HTML [-]
    """
    session, moment = answer.session, answer.shown.moment
    head = f"{KIND_WORDS[moment.kind]} at {says(moment.speed, 'kmh', 0)} ({moment.sure})."
    head = f"{SESSION}: {head}" if answer.invented else head[:1].upper() + head[1:]
    head += f" {answer.again.head}" if answer.again is not None else ""
    lines = [f"<b>{escape(head)}</b> {escape(sentence(moment))}."]
    if session.drive.doubts:
        lines.insert(1, f"<b>Look at the columns first.</b> {escape(_doubts(session.drive))}")
    if answer.again is not None:
        lines.append(f"<b>The same moment in the model.</b> {escape(answer.again.words)}")
    rows = [
        [f"{i}: {one.name}", f"{seen(one.speed, 'kmh'):.0f}", f"{one.lateral / 9.81:.2f}", _degrees(one), one.sure]
        for i, one in enumerate(session.moments, start=1)
    ]
    found = table(["moments found, the worst first", label_for("kmh"), "g", "slide [°]", "how sure"], rows)
    notes = list(session.drive.notes)
    if session.drive.mounting is not None:
        notes = [*notes, *mounting_words(session.drive.mounting)]
    made_up = f"<i>{escape(SAYS[:1].upper() + SAYS[1:])}.</i> " if answer.invented else ""
    sits = f"<b>How the logger sits, read off the log.</b> {escape('; '.join(notes))}.<br>"
    return f"{'<br>'.join(lines)} <i>{escape(SAFE)}</i>{found}{more(f'{made_up}{sits}<i>{escape(NOTE)}</i>')}"


def _degrees(one: Incident) -> str:
    return "not known" if one.angle is None else f"{min(float(np.degrees(one.angle)), 360.0):.0f}"
