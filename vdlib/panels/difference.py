"""How sure is the difference that putting the car right makes: plausible cars, each with both setups."""

from __future__ import annotations

from html import escape
from typing import Any

from ..answers.corner import HOLDS
from ..answers.difference import Band, difference
from ..answers.doubts import doubts_of
from ..answers.film import CORNER
from ..car.carfile import CarFile
from ..car.reference import reference_of
from ..car.typical import Kinds
from ..draw.difference import DifferencePicture
from ..shown import says
from .reasons import boxed


def panel(file: CarFile) -> Any:
    """Ask plausible versions of a car how far what is out moves the speed that the film's corner forgives.

    Parameters:
        file: the car file [-]

    Returns:
        an ipywidgets box [-]
    """
    reference = reference_of(file)
    doubts = doubts_of(file, file.known.kinds or Kinds())
    found = difference(file.car, reference.setup, file.setup, CORNER, HOLDS, doubts)
    if not found.by_film.exists.all(axis=0).any():
        return boxed("<b>In no plausible car does a slide pass before the grip ends: there is nothing to compare.</b>")
    view = DifferencePicture(("before", "as it came back"))
    view.draw(found.by_film)
    return boxed(words(found.by_film, found.by_limit), view.picture)


def words(film: Band, limit: Band) -> str:
    """Describe how sure the sign and the size of the difference are.

    Parameters:
        film: by the motion itself [-]
        limit: by the hands-still limit [-]

    Returns:
        HTML [-]
    """
    count, share = film.change.size, round(100 * film.worse)
    low, middle, high = (says(value, "kmh", 1, sign=True) for value in film.of(film.change))
    edges = [says(value, "kmh", 0) for value in film.of(film.speed[1])[::2]]
    head = f"Of {count} plausible cars like yours, {share} in 100 forgive less as it came back: {middle} in the middle."
    ends = int((~film.exists).any(axis=0).sum())
    grip = f"In {ends} of these {count} the grip ends first in one of the two, before any slide. " if ends else ""
    rest = (
        f"{grip}Nine of ten lie between {low} and {high}. The speed itself is far less sure, {edges[0]} to {edges[1]}: "
        "what is not known of your car is wrong in both setups, and mostly cancels. "
        f"{limit.change.size} cars asked by the hands-still limit instead: {round(100 * limit.worse)} in 100 lose, "
        f"{_middle(limit)} in the middle."
    )
    return f"<b>{escape(head)}</b> {escape(rest)}"


def _middle(band: Band) -> str:
    return says(band.of(band.change)[1], "kmh", 1, sign=True)
