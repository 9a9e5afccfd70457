"""What stands over the answers of a saved car: readings in question, readings not saved yet, another car's form."""

from __future__ import annotations

from functools import lru_cache
from html import escape

from ..car import shelf
from ..car.carfile import CarFile, parse
from ..checks import InputError
from ..garage import kept
from ..garage.car_from import base_of, car_from, unsaved
from ..shown import retold

CHANGED = "The readings have changed since this car was saved"


def over_answers(file: CarFile, form: str = "") -> str:
    """Return what a reader has to know before reading any answer about a car.

    Parameters:
        file: the car shown [-]
        form: the name of the car whose form is open on the same page; empty where there is none [-]

    Returns:
        HTML; empty where nothing is in question [-]
    """
    told: list[str] = []
    name = "" if file.path is None else file.path.stem
    if form and form != name:
        shown = escape(name or file.car.name)
        told.append(f"These answers are about <b>{shown}</b>, the form above about <b>{escape(form)}</b>: two cars.")
    if asked := file.known.visit.get("in_question"):
        there = "above" if form == name else "in workbook 7"
        mend = f"Then correct it, or say below the question {there} that it is as typed, and save the car."
        mend = mend if name in kept.form_names() else "This car has no form of its own: correct it in the car file."
        told.append(f"<b>In question: {escape(retold(asked))}.</b> Every answer rests on it. Read it again. {mend}")
    if file.path is not None and behind(file):
        there = "" if form == name else " in workbook 7"
        told.append(f"<b>{CHANGED}: press <i>Save the car</i>{there}.</b>")
    return f'<div class="vd-alert">{"<br>".join(told)}</div>' if told else ""


def behind(file: CarFile) -> bool:
    """Return whether a saved car differs from what its form now says.

    Parameters:
        file: the car as it was saved [-]

    Returns:
        False where the car has no form [-]
    """
    try:
        if file.path is None or not shelf.on_shelf(file):
            return False
        name = file.path.stem
        readings = kept.readings_of(name)
        return readings is not None and _behind(name, kept.text_of(readings), file.text)
    except InputError:
        return False


@lru_cache(maxsize=8)
def _behind(name: str, form: str, saved: str) -> bool:
    """The same for a form and a car file as they read now, worked out once for all choosers of a page."""
    readings = kept.readings_of(name)
    return readings is not None and unsaved(car_from(readings, base_of(readings)), parse(saved))
