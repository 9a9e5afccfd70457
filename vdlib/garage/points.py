"""The driver's own measuring points: where on the body the tape was read, as the car file keeps it."""

from __future__ import annotations

from dataclasses import dataclass

from ..car.carfile import CarFile


@dataclass(frozen=True)
class Points:
    """Two points of the body: distance behind the front axle line, and height above the line of the ride heights."""

    behind: tuple[float, float] | None = None  # front and rear point; None where they are not known [m]
    above: tuple[float, float] = (0.0, 0.0)  # [m]


def points_of(file: CarFile) -> Points:
    """Return the points at which the ride heights of a car were read.

    Parameters:
        file: the car file [-]

    Returns:
        ``Points``; without distances where the file does not hold them [-]
    """
    spot = file.known.points
    return Points() if spot is None else Points(spot.behind, spot.above)
