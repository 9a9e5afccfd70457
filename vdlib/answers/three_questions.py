"""Three questions on one axis: which way does it lean, which end slides first, does it settle with hands still?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..trim.trim import trim
from ..units import G, from_si
from .balance import HALF_SPAN
from .hands_still import HandsStill, Steering, hands_still_limit, slowing, steering
from .limits import Limits, limits

LEANS_AT = 0.5 * G
"""Lateral acceleration at which a car is asked which way it leans [m/s²]; the middle of what a road tyre gives."""
LITTLE = 0.1
"""Gradient below which a car is called neutral [deg/g]."""
POINTS = 60


@dataclass(frozen=True)
class Questions:
    """The three answers for one car in one corner, and total steering against lateral acceleration behind them."""

    gradient: float  # understeer gradient at ``LEANS_AT``, steady, at that point's own speed [rad/(m/s²)]
    limits: Limits  # of both ends, with this lift where there is one
    hands: HandsStill  # with this lift where there is one
    line: Steering  # the picture: total steering on this radius, its top where hands still no longer settle it

    @property
    def leans(self) -> int:
        """1 toward understeer, −1 toward oversteer, 0 for neither [-]."""
        size = from_si(self.gradient, "deg_per_g")
        return 0 if abs(size) < LITTLE else int(np.sign(size))

    @property
    def rear_first(self) -> bool:
        """Whether the rear slides before the front [-]."""
        return bool(self.limits.first == 1)

    @property
    def answers(self) -> tuple[str, str, str]:
        """The three answers in words [-]."""
        size = from_si(self.gradient, "deg_per_g")
        lean = {1: "toward understeer", -1: "toward oversteer", 0: "neither way"}[self.leans]
        at = self.limits.lateral / G
        first, other = ("rear", "front") if self.rear_first else ("front", "rear")
        low, high = float(at.min()), float(at.max())
        hands = float(self.hands.limit) / G
        return (
            f"It leans {lean}: {abs(size):.1f} deg/g at {LEANS_AT / G:.1f} g, steady.",
            f"The {first} slides first, at {low:.2f} g; the {other} would at {high:.2f} g.",
            f"With hands still it settles up to {hands:.2f} g."
            if bool(self.hands.exists)
            else f"With hands still it settles to the end: the grip ends first, at {hands:.2f} g.",
        )

    @property
    def why_they_differ(self) -> str:
        """One sentence where two of the answers seem to disagree, empty where they agree [-]."""
        settles = not bool(self.hands.exists)
        if self.leans > 0 and self.rear_first:
            return "It leans toward understeer while grip is plenty, and turns round on the way to its limit."
        if self.leans < 0 and not self.rear_first:
            return (
                "It leans toward oversteer while grip is plenty; near the limit the front runs out first all the same."
            )
        if self.leans < 0 and settles:
            return "It leans toward oversteer, yet settles on its own at the speeds that this corner allows."
        if settles and self.rear_first:
            return "The rear slides first, yet steering keeps rising until it does: there is no warning in the wheel."
        if not settles and not self.rear_first:
            return "The front slides first in the end, but a held wheel stops settling the car before that."
        return ""


def ask(car: Car, setup: Setup, radius: float, lift: Any = None, turn: float = 1.0) -> Questions:
    """Ask the three questions of one car in one corner.

    Parameters:
        car: the car, plain numbers [-]
        setup: its setup, plain numbers [-]
        radius: radius of the corner [m]
        lift: engine's drag over weight; None for a speed that is held [-]
        turn: 1 to the left, −1 to the right [-]

    Returns:
        the ``Questions`` [-]

    Errors:
        as ``trim``.

    Validity: settled moments; limits are read at the speed of the lower one on this radius.
    Source: ISO 4138 for gradient and steering.
    """
    hands = hands_still_limit(car, setup, radius, lift, turn)
    speed = float(np.sqrt(float(hands.grip_ends) * radius))
    along = 0.0 if lift is None else float(slowing(car, lift, speed))
    own = Moment(float(np.sqrt(LEANS_AT * radius)), LEANS_AT * turn)
    span = turn * (LEANS_AT + HALF_SPAN * np.array([-1.0, 1.0]))
    angle = trim(car, setup, replace(own, lateral=span)).understeer_angle
    most = float(hands.grip_ends)
    line = steering(car, setup, radius, np.linspace(0.12 * most, 0.995 * most, POINTS), lift, turn)
    return Questions(
        gradient=float(angle[1] - angle[0]) / (2 * HALF_SPAN),
        limits=limits(car, setup, Moment(speed, turn, along)),
        hands=hands,
        line=line,
    )


def why_it_spins(steady: HandsStill, closed: HandsStill, lateral: float) -> str:
    """Say why a corner in which a small slide dies out can still end in a spin after a lift.

    Parameters:
        steady: hands-still limit at a speed that is held [-]
        closed: the same with the throttle closed [-]
        lateral: lateral acceleration of the corner [m/s²]

    Returns:
        a sentence, empty where the corner is beyond both limits or within both by a tenth [-]
    """
    held, shut = float(steady.limit), float(closed.limit)
    if not lateral < held or lateral < 0.9 * shut or not bool(closed.exists):
        return ""
    over = "past" if lateral >= shut else "up to"
    return (
        f"Steady, a small slide dies out here. With the throttle closed a held wheel tightens the line: the car pulls "
        f"more than its {lateral / G:.2f} g and goes {over} the {shut / G:.2f} g from which it no longer settles."
    )
