"""The driver's own measuring points: where on the body the tape was read, as the measuring form keeps it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..car import shelf
from ..car.carfile import CarFile
from ..checks import InputError
from ..units import from_si, to_si
from . import car_from, kept
from .readings import height_readings

AGREE = to_si(1.0, "mm")
"""The form's readings and the car file's heights may differ by this: within it a tape cannot tell them apart [m]."""
_KEYS = ("front_point", "rear_point", "front_left", "front_right", "rear_left", "rear_right")


@dataclass(frozen=True)
class Points:
    """Two points of the body by their distance behind the front axle line, and what is wrong with them, in words."""

    behind: tuple[float, float] | None = None  # front and rear point; None where they are not known or do not fit [m]
    said: str = ""


def points_of(file: CarFile) -> Points:
    """Find the points at which the ride heights of a saved car were read.

    Parameters:
        file: the car file [-]

    Returns:
        ``Points``; without distances where no form is kept with this car, or where its readings are not those that
        the car file's heights came from [-]

    Validity: the straight line through the two axle lines' heights must give the form's readings within ``AGREE``.
    """
    path = file.path
    if path is None or path.stem not in kept.form_names() or path.resolve().parent != shelf.folder().resolve():
        return Points()
    try:
        typed, _ = car_from.numbers(kept.load_form(path.stem).readings)
    except InputError as fault:
        return Points(said=f"The measuring form of this car cannot be read: {fault}.")
    if not all(f"heights.{key}" in typed for key in _KEYS):
        return Points()
    front, rear, *four = (typed[f"heights.{key}"] for key in _KEYS)
    read = np.mean(np.reshape(four, (2, 2)), axis=1)
    off = np.abs(np.array(height_readings(file.car, file.setup, (front, rear))[:2]) - read).max()
    if off > AGREE:
        size = f"{from_si(float(off), 'mm'):.0f} mm"
        return Points(
            said=f"The measuring form's heights are up to {size} off the car file's: save the car there again."
        )
    return Points((front, rear))
