"""How sure is the difference between two setups in one corner: both asked of the same plausible cars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..car.records import Car, Setup
from ..units import Array, Flags
from .corner import Corner, Driver
from .forgiven import forgiven_speed
from .hands_still import hands_still_limit
from .spread import Doubt, plausible_pair

BY_LIMIT, BY_FILM = 500, 100
"""Plausible cars asked for the hands-still limit, and for the forgiven speed itself."""


@dataclass(frozen=True)
class Band:
    """Two setups asked of the same plausible cars; speeds are (2, cars), the setup changed from first."""

    speed: Array  # [m/s]
    exists: Flags  # False where the grip ends first: the speed is then where it does

    @property
    def change(self) -> Array:
        """Change from the first setup to the second, (cars,) [m/s]."""
        return np.asarray(self.speed[1] - self.speed[0])

    def of(self, what: Array, part: float = 0.9) -> tuple[float, float, float]:
        """Return the band that holds a part of the cars.

        Parameters:
            what: ``change``, or one of the two speeds, (cars,) [m/s]
            part: part of the cars inside [-]

        Returns:
            lower edge, median, upper edge [m/s]
        """
        low, middle, high = np.quantile(what, [0.5 - part / 2, 0.5, 0.5 + part / 2])
        return float(low), float(middle), float(high)

    @property
    def worse(self) -> float:
        """Part of the cars that forgive less with the second setup [-]."""
        return float((self.change < 0).mean())


@dataclass(frozen=True)
class Difference:
    """The band of the difference, by the hands-still limit and by the motion itself."""

    by_limit: Band  # speed at the hands-still limit of this corner
    by_film: Band  # forgiven speed


def difference(
    car: Car,
    before: Setup,
    after: Setup,
    corner: Corner,
    driver: Driver,
    doubts: Sequence[Doubt],
    counts: tuple[int, int] = (BY_LIMIT, BY_FILM),
    seed: int = 1,
) -> Difference:
    """Ask plausible cars how far a change of setup moves the speed that a corner forgives.

    Parameters:
        car: the car with its best numbers, plain numbers [-]
        before: setup changed from, plain numbers [-]
        after: setup changed to, plain numbers [-]
        corner: the corner, plain numbers [-]
        driver: the driver, plain numbers [-]
        doubts: what is not known exactly [-]
        counts: how many plausible cars are asked for the limit and for the motion [-]
        seed: seed of the generator [-]

    Returns:
        the ``Difference``; both setups of a car share its draw, so that what errs in both cancels [-]

    Errors:
        as ``spread``.

    Validity: as ``hands_still_limit`` and ``forgiven_speed``.
    """
    bands = []
    for count, by_limit in zip(counts, (True, False), strict=True):
        cars, first, second, _ = plausible_pair(car, before, after, doubts, count, seed)
        if by_limit:
            found = [
                hands_still_limit(cars, setup, corner.radius, corner.lift, corner.sign, corner.brake)
                for setup in (first, second)
            ]
            speed = np.stack([np.broadcast_to(corner.speed(one.limit), (count,)) for one in found])
            exists = np.stack([np.broadcast_to(one.exists, (count,)) for one in found])
        else:
            films = [forgiven_speed(cars, setup, corner, driver) for setup in (first, second)]
            speed = np.stack([np.broadcast_to(one.speed, (count,)) for one in films])
            exists = np.stack([np.broadcast_to(one.passes, (count,)) for one in films])
        bands.append(Band(speed, exists))
    return Difference(*bands)


__all__ = ["Band", "Difference", "difference"]
