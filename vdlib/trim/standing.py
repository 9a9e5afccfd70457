"""A car standing still: what each wheel carries, and how it points and leans at its own ride height."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..car.records import Car, Moment, Setup
from ..units import Array
from . import suspension
from .cases import Case
from .fixed import prepare

_STILL = Moment(20.0, 0.0)
"""Any moment: nothing that is read off here depends on it."""


@dataclass(frozen=True)
class Standing:
    """Wheel numbers of a standing car. Leading axes: [axle front/rear], [side left/right], then the inputs' shape."""

    load: Array  # [N]
    rise: Array  # height of the body at each wheel above the reference height [m]
    toe: Array  # toe-in [rad]
    camber: Array  # against the road, negative when the top leans in [rad]
    roll: Array  # lean of the body, right side down positive [rad]


def stands(car: Car, setup: Setup) -> Standing:
    """Return how a car stands: corner weights, heights, toe and camber of each wheel at its own ride height.

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: the setup [-]

    Returns:
        a ``Standing`` with the inputs' broadcast shape [any]

    Errors:
        as ``trim``.

    Validity: as ``trim``; level ground.
    """
    case = Case(car, setup, _STILL, None)
    c = prepare(case.values)
    toe = c.toe + suspension.toe_change(c.bump, case.values["toe_slope"], case.values["toe_bend"])

    def shaped(value: Array) -> Array:
        wheels = np.broadcast_to(value, (2, 2, case.size)).swapaxes(0, 1)
        return wheels.reshape(2, 2, *case.shape)

    roll = np.broadcast_to(c.tilt, case.size).reshape(case.shape)
    return Standing(shaped(c.vertical.standing), shaped(c.rise), shaped(toe), shaped(c.camber), roll)
