"""The measuring form: a day in the garage step by step, saved at every change, and the car that comes of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from html import escape
from time import monotonic
from typing import Any

from ..car import shelf, store
from ..car.examples import FIRST, load_example
from ..checks import InputError, Problem
from ..draw import paper
from ..garage import kept
from ..garage.car_from import MeasuredCar, base_of, car_from, save_measured_car, starts, unsaved
from ..garage.form import STEPS
from ..garage.form_fields import ASKED, CHOICES, FIELDS, MAY_SLIP, PRINTOUT, fields_at
from ..garage.invented import NAME as INVENTED
from ..garage.invented import invented_day
from ..garage.printout import read_printout
from ..garage.reckoning import Outcome
from ..garage.typed import Readings, asked, label_of
from ..shown import PAIRS, chosen, unit_for, use
from .base import BROKEN
from .in_question import CHANGED
from .later import on_page
from .measure_boxes import Doings, FormBoxes
from .measure_parts import (
    NO_ANSWER,
    alert,
    first_answer,
    four_wheels,
    origin_table,
    printout_words,
    progress,
    step_words,
    summary,
)
from .onscreen import onscreen
from .said import note
from .which import Which

FIRST_NAME = "my car"
PAUSE = 1.0
"""A second press within this time is one of a double click [s]."""


class Form(FormBoxes):
    """Boxes and lists whose text gives readings, which are saved, worked out (pure) and put into words (pure).

    ``InputError`` is shown in words and what was typed stays; any other error is shown too, and then raised.
    """

    def __init__(self) -> None:
        """Open the form that was open last, or an empty one that is saved with its first change."""
        self.readings = Readings(FIRST_NAME, {}, own_units())
        self.answer: MeasuredCar
        self.said = ""
        """What was said last about files, in words."""
        self._text: str | None = None
        self._held, self._refused = False, ""
        self._warned: float | None = None
        """When it was said that another file has the name; None where it was not."""
        super().__init__(
            Doings(
                lambda key: self._on(key, Readings.with_typed),
                lambda key: self._on(key, Readings.with_choice),
                lambda text: self._printout(text),
                lambda name: None if self._held else self.rename(name),
                lambda name: None if self._held else self.open(name),
                self.new,
                self.invent,
                self.save,
                self.print,
            )
        )
        self.steps.observe(lambda _: self._look_again(), names="selected_index")
        name = kept.last()
        if name:
            self.open(name)
        else:
            self._show()
        if fault := store.unread(shelf.folder()):
            self._say(fault, bad=True)

    # ---- what a user does -----------------------------------------------------------------------------------------

    def type(self, key: str, text: str) -> None:
        """Write in one box, as a user would.

        Parameters:
            key: the field's key [-]
            text: what is typed [-]
        """
        self.boxes[key].value = text

    def choose(self, key: str, option: str) -> None:
        """Choose from one list, as a user would.

        Parameters:
            key: the choice's key [-]
            option: one of its options [-]
        """
        self.lists[key].value = option

    def open(self, name: str) -> None:
        """Open the form of another car; what cannot be read is said, and the form shown before stays.

        Parameters:
            name: one of ``kept.form_names()`` [-]
        """
        try:
            found = kept.load_form(name)
            self._take(found.readings, found.text)
            self._say(found.said, bad=bool(found.said))
            kept.make_last(name)
        except (InputError, OSError) as fault:
            self._say(str(fault), bad=True)
        self._show()

    def new(self) -> None:
        """Start an empty form under a name of its own; the one shown before stays saved."""
        self._take(Readings(kept.free_name(FIRST_NAME), {}, own_units()), None)
        self._say("An empty form. Give it the car's name; the others are in the list.")
        self._keep()
        self._show()

    def rename(self, name: str) -> None:
        """Rename the form; refused in words where that cannot be.

        Parameters:
            name: the new name [-]
        """
        try:
            former, stays = self.readings.name, ""
            if former != name.strip() and former in shelf.car_names():
                stays = f" The car saved as {former} stays as it is: save the car to have it under the new name too."
            if self._text is None:  # not on the disk yet: nothing to move
                if kept.form_path(name).exists():
                    raise InputError([Problem("the car's name", repr(name), "has a form already", "open that one")])
                found = kept.save_form(self._named(name))
            else:
                found = kept.rename(self.readings, name, self._text)
            self._take(found.readings, found.text)
            self._say(f"This form is now called {found.readings.name}.{stays} {found.said}")
        except InputError as fault:
            self._refused = name
            self._name_refused(fault)
        self._show()

    def invent(self) -> None:
        """Open a form full of invented readings, in a form of its own: nothing typed elsewhere is touched."""
        if INVENTED in kept.form_names():
            self.open(INVENTED)
            self._say(f"The form '{INVENTED}' as it was left: invented readings. Your own forms are in the list.")
            self._show()
            return
        self._take(invented_day(load_example(FIRST)), None)
        self._say(
            f"A full form of invented readings, as somebody might have typed who measured the invented {FIRST}. It has "
            f"a name of its own, '{INVENTED}'; your own forms are untouched, in the list."
        )
        self._keep()
        self._show()

    def save(self) -> None:
        """Save the car that the readings make, or say in words which reading to take again."""
        try:
            if self._warned is not None and monotonic() - self._warned < PAUSE:
                return  # the second half of a double click: the warning has not been read yet
            aside = store.free_aside(shelf.car_path(self.readings.name)).name if self._warned is not None else ""
            file = save_measured_car(self.readings, self._warned is not None)
            self._warned = None
            where = f"The file that was there is kept as <b>{escape(aside)}</b>. " if aside else ""
            where += f"Saved in <b>{escape(str(shelf.car_path(file.car.name).resolve()))}</b> and open"
            told = (
                '<div class="vd-words" role="status">{}: the panels below {} this car. Every other workbook {}.</div>'
            )
            rest = "shows it when it is opened" if on_page() else "shows it when it is run"
            self.result.value = told.format(where, "are being made anew for", rest)
            Which.show_opened()
            self.result.value = told.format(where, "show", rest)
        except InputError as fault:
            self._warned = monotonic() if any("not from this form" in p.rule for p in fault.problems) else None
            self.result.value = alert(["The car is not saved; nothing typed is lost.", *fault.problems])

    def print(self, filled: bool) -> None:
        """Write the paper form, blank or with what is typed, and say where it went.

        Parameters:
            filled: whether with what is typed [-]
        """
        try:
            name = f"{self.readings.name} - readings.pdf" if filled else "blank measuring form.pdf"
            path = paper.write(shelf.folder() / name, self.readings, self.answer if filled else None)
            self.result.value = f'<div class="vd-words" role="status">Written to <b>{escape(str(path))}</b>.</div>'
        except InputError as fault:
            self.result.value = alert(fault.problems)

    def show(self) -> Any:
        """Return the widget box to be displayed as a cell's last value.

        Returns:
            an ipywidgets box, the same one at every call [-]
        """
        return self.box

    # ---- inside ---------------------------------------------------------------------------------------------------

    def _named(self, name: str) -> Readings:
        return replace(self.readings, name=name.strip())

    def _put(self, what: str, values: Iterable[tuple[Any, Any]]) -> None:
        """Set the "value" or "options" of widgets with the observers idle."""
        self._held = True
        try:
            for made, value in values:
                setattr(made, what, value)
        finally:
            self._held = False

    def _take(self, readings: Readings, text: str | None) -> None:
        """Put readings into the boxes."""
        self.readings, self._text = readings, text
        self.result.value, self._warned, self._refused = "", None, ""
        start = dict.fromkeys([*starts(), readings.choice("start.from")])
        self._put("options", [(self.lists["start.from"], [(car, car) for car in start])])
        self._put("value", ((box, readings.typed.get(key, "")) for key, box in self.boxes.items()))

    def _changed(self, readings: Readings) -> None:
        """Save and show what was just changed."""
        if self._held:
            return
        self.readings, self._warned = readings, None
        self.result.value = ""
        self._say("")
        if self._refused:
            self._name_refused()
        self._keep()
        self._show()

    def _name_refused(self, fault: InputError | None = None) -> None:
        """Say, until it is mended, that the name typed cannot be, and under which one the form goes on."""
        why = fault or f"{self._refused!r} cannot be this form's name"
        self._say(f"{why}. Until you change it, this form stays {self.readings.name}.", bad=True)

    def _keep(self) -> None:
        """Save the readings; what cannot be saved is said, and stays in the boxes."""
        try:
            saved = kept.save_form(self.readings, self._text)
            self._text = saved.text
            if saved.said:
                self._say(saved.said, bad=True)
        except InputError as fault:
            self._say(f"Not saved: {fault}", bad=True)

    def _look_again(self) -> None:
        """Say, as a step is opened, where another tab has changed these readings."""
        if kept.elsewhere(self.readings.name, self._text):
            told = "Another tab has changed these readings: what is shown here is older. Load this page again first."
            self._say(told, bad=True)

    def _say(self, text: str, bad: bool = False) -> None:
        self.said = text
        self.message.value = alert([text]) if bad and text else note(text)

    def _show(self) -> None:
        """Work everything out, then show it."""
        try:
            answer = self.compute(self.readings)
            words = {step.key: step_words(answer.steps[step.key]) for step in STEPS if step.key in answer.steps}
            whole, origin = summary(self.readings, answer), origin_table(answer)
            first = first_answer(answer) or NO_ANSWER
        except Exception as fault:
            self.message.value = alert([f"{BROKEN}{type(fault).__name__}: {fault}"])
            raise
        self.answer = answer
        self.first.value = f'<div role="status">{first}</div>'
        self._put("value", ((made, self.readings.choice(key)) for key, made in self.lists.items()))
        bad = {p.field for outcome in answer.steps.values() for p in outcome.errors}
        for i, step in enumerate(STEPS):
            self.words[step.key].value = words.get(step.key, "")
            told = progress(self.readings, answer, step.key)
            name = f"{i + 1} {step.title}{' (optional)' if step.optional else ''}"
            self.steps.set_title(i, f"{name} \u2013 {told}" if told else name)
            for field in fields_at(step.key):
                box = self.boxes[field.key]
                box.description = label_of(self.readings, field)
                box.layout.display = "" if asked(self.readings, field) else "none"
                wrong = any(name.startswith(f"{field.label} (") for name in bad)
                (box.add_class if wrong else box.remove_class)("vd-bad")
            if step.key in MAY_SLIP:
                outcome = answer.steps.get(step.key, Outcome())
                there = outcome.doubted
                self.lists[step.key + ASKED].layout.display = "" if there else "none"
        self._picture(self.steps.selected_index)
        self.four.value = four_wheels(self.readings, answer)
        self.overall.value = f'<div class="vd-words" role="status">{whole}</div>'
        self.origins.value = origin or "<em>No car yet.</em>"
        have = dict.fromkeys([*kept.form_names(), self.readings.name])
        self._put("options", [(self.forms, list(have))])
        self._put("value", [(self.name, self._refused or self.readings.name), (self.forms, self.readings.name)])
        self._behind()

    def _behind(self) -> None:
        """Say beside the button, and over the answers below, where the saved car is not what is typed."""
        name, screen = self.readings.name, onscreen()
        screen.form = name
        if not self.result.value:
            try:
                late = name in shelf.car_names() and unsaved(self.answer, shelf.load_car(name))
            except InputError:  # a car file that cannot be read is said by the chooser
                late = False
            told = f'<div class="vd-alert" role="status">{CHANGED}: press <i>Save the car</i>.</div>'
            self.result.value = told if late else ""
        for chooser in screen.following:
            chooser.say_over()

    @staticmethod
    def compute(readings: Readings) -> MeasuredCar:
        """Work the readings out; a start car that cannot be read is one more problem.

        Parameters:
            readings: the readings [-]

        Returns:
            an ``Answer`` [-]
        """
        try:
            return car_from(readings, base_of(readings))
        except InputError as fault:
            remedy = "choose another car to start from, in the first step"
            lost = Problem("start car", readings.choice("start.from"), "cannot be read", f"{remedy} ({fault})")
            found = car_from(readings, load_example(FIRST))
            return MeasuredCar(None, found.steps, (*found.problems, lost), found.measured, {}, ())

    def _printout(self, text: str) -> None:
        """Fill boxes in from a table; a bad cell is named and its box stays as it is."""
        if self._held:
            return
        readings = self.readings.with_typed(PRINTOUT, text)
        found = read_printout(text, readings.typed, readings.choice("toe.read"))
        for key, value in found.boxes.items():
            readings = readings.with_typed(key, value)
        for key, option in found.chosen.items():
            readings = readings.with_choice(key, option)
        self._put("value", ((self.boxes[key], value) for key, value in found.boxes.items()))
        self.printed.value = printout_words(found)
        self._changed(readings)

    def _on(self, key: str, change: Callable[[Readings, str, str], Readings]) -> Callable[[Any], None]:
        return lambda event: self._changed(change(self.readings, key, event["new"]))


def own_units() -> dict[str, str]:
    """Return the first step's choices of a new form: the units that the reader sees elsewhere, where others."""
    now = chosen()
    told = {kind: (pair[0], getattr(now, kind)) for kind, pair in PAIRS.items()}
    told["rate"] = ("N_per_mm", unit_for("N_per_mm"))
    return {f"start.{kind}": unit for kind, (usual, unit) in told.items() if unit != usual}


def form() -> Any:
    """Return the measuring form, to be displayed as a cell's last value.

    Returns:
        an ipywidgets box [-]
    """
    use(shelf.kept_units())  # a new form is typed in the units of the other workbooks
    onscreen().later.first()
    return Form().show()


__all__ = ["CHOICES", "FIELDS", "Form", "form"]
