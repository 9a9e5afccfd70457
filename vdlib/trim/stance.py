"""How a car stands whose left and right ride heights differ: how far its body leans, and what each wheel carries more.

The body is stiff: the heights that a tape reads at four wheels lie in one plane, and the body leans with it. What four
*set* heights have beyond a plane, such as one spring seat screwed up alone, twists the springs against each other and
moves load across the diagonal. Bars are unhooked for it and hooked up without preload (common practice, no source).

Arrays are (2, n) for front and rear, (2, 2, n) for wheels with the side first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Array
from .suspension import stop_force

SIDE = np.array([1.0, -1.0])[:, None, None]  # left, right


@dataclass(frozen=True)
class Stance:
    """How the car stands with some height differences left to right."""

    tilt: Array  # lean of the body, right side down positive, (n,) [rad]
    gained: Array  # load that each left wheel has more, and each right one less, than when the car was weighed [N]
    rise: Array  # height of the left side above the axle's mean, of the right side below it, (2, n) [m]


@dataclass(frozen=True)
class Springing:
    """What carries the body of one car while it is twisted."""

    track: Array
    wheel: Array  # rate of spring and stop at each wheel, as the axle stands [N/m]
    rate: Array  # the same with the tyre in line [N/m]
    topple: Array  # roll moment of the leaning weight, (n,) [N·m/rad]

    def stance(self, difference: Array, weighed: Array) -> Stance:
        """Return how the car stands: ``φ = Σ t·K·Δh/Σ t²·K``, twist ``K·(Δh − t·φ)/2``, weight ``−W_s·(H − h_axis)·φ``.

        Parameters:
            difference: height differences left minus right [m]
            weighed: those at which the standing loads are known; only what changed since moves load [m]

        Returns:
            the ``Stance`` [-]

        Validity: to first order in the twist; the leaned weight is shared by the axles as they resist roll.
        """
        pull = self.track * self.rate
        stiff = (self.track * pull).sum(axis=0)
        change = difference - weighed
        more = (pull * change).sum(axis=0) / stiff
        twist = 0.5 * self.rate * (change - self.track * more)
        tilt = (pull * difference).sum(axis=0) / stiff
        return Stance(tilt, twist - pull * (self.topple * more / stiff), 0.5 * difference - twist / self.wheel)


def springing(v: dict[str, Array], topple: Array) -> Springing:
    """Return what carries the body of each case.

    Parameters:
        v: the values of a ``cases.Case`` or part of one [-]
        topple: roll moment of the sprung weight for each radian of lean, (n,) [N·m/rad]

    Returns:
        the ``Springing`` [-]

    Validity: a stop counts with its rate at the axle's mean height.
    """
    rise = v["rise.stops"]
    bump = stop_force(0.0, v["bump_gap"] + rise, v["bump_stiffening"])[1]
    droop = stop_force(0.0, v["droop_gap"] - rise, v["droop_stiffening"])[1]
    wheel = v["wheel_rate"] + bump + droop
    return Springing(v["track"], wheel, wheel * v["tyre_rate"] / (wheel + v["tyre_rate"]), topple)
