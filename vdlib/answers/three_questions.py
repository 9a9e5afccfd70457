"""Three questions on one axis: which way does it lean, which end slides first, does it settle with hands still?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..glossary import GLOSSARY
from ..trim.trim import trim
from ..units import Array, G, from_si, to_si
from .balance import HALF_SPAN
from .hands_still import SPEEDS, HandsStill, hands_still_limit, slowing
from .limits import first_above, tipped

LEANS_AT = 0.5 * G
"""Lateral acceleration at which a car is asked which way it leans [m/s²]; the middle of what a road tyre gives."""
LITTLE = 0.1
"""Gradient below which a car is called neutral [deg/g]."""
POINTS, _CLOSE = 30, 40
"""Points of the sweep for the ends, and of the line."""
_BEYOND = 1.3  # the sweep goes to so many times the tyres' peak grip
_LEAST, _MOST = 0.1 * G, to_si(GLOSSARY["lateral"].high, GLOSSARY["lateral"].unit)


@dataclass(frozen=True)
class Questions:
    """The three answers for one car in one corner, and the total steering behind them."""

    gradient: float  # understeer gradient at ``LEANS_AT``, steady, at that point's own speed [rad/(m/s²)]
    ends: Array  # (2,) where front and rear slide on this radius; infinite where not within the sweep [m/s²]
    hands: HandsStill  # with this lift where there is one
    speed: float  # of the line: that at the hands-still limit, or where the grip ends [m/s]
    lateral: Array  # (n,) of the line [m/s²]
    steer: Array  # (n,) total steering at that speed, its top at the hands-still limit; NaN past the grip [rad]

    @property
    def leans(self) -> int:
        """1 toward understeer, −1 toward oversteer, 0 for neither [-]."""
        size = from_si(self.gradient, "deg_per_g")
        return 0 if abs(size) < LITTLE else int(np.sign(size))

    @property
    def slides(self) -> bool:
        """Whether either end slides at all, before the car tips [-]."""
        return bool(np.isfinite(self.ends).any())

    @property
    def rear_first(self) -> bool:
        """Whether the rear slides before the front [-]."""
        return bool(self.ends[1] < self.ends[0])

    @property
    def settles_to_the_end(self) -> bool:
        """Whether the grip ends before hands still stop settling the car [-]."""
        return not bool(self.hands.exists)

    def no_grip(self, lateral: float) -> bool:
        """Return whether an end has no grip left for a lateral acceleration.

        Parameters:
            lateral: lateral acceleration [m/s²]

        Returns:
            True from where the first of the ends slides [-]
        """
        return lateral >= float(min(self.ends))

    @property
    def answers(self) -> tuple[str, str, str]:
        """The three answers in words [-]."""
        size = from_si(self.gradient, "deg_per_g")
        lean = {1: "toward understeer", -1: "toward oversteer", 0: "neither way"}[self.leans]
        first, other = ("rear", "front") if self.rear_first else ("front", "rear")
        low, high = sorted(float(at) / G for at in self.ends)
        then = f"at {high:.2f} g" if np.isfinite(high) else "not within what is shown"
        end = f"grip ends first, at {low:.2f} g" if self.slides else f"the car tips at {self.hands.grip_ends / G:.2f} g"
        return (
            f"{lean}, {abs(size):.1f} deg/g",
            f"the {first}, at {low:.2f} g (the {other}: {then})" if self.slides else "neither: the car tips before",
            f"yes, to the end: {end}" if self.settles_to_the_end else f"up to {float(self.hands.limit) / G:.2f} g",
        )

    @property
    def why_they_differ(self) -> str:
        """One sentence where two of the answers seem to disagree, empty where they agree [-]."""
        if not self.slides:
            return ""
        if self.settles_to_the_end and self.rear_first:
            return "The rear slides first, yet steering keeps rising until it does: the wheel gives no warning."
        if self.leans > 0 and self.rear_first:
            return "With grip to spare it leans toward understeer; nearer its limit the rear runs out sooner."
        if self.leans < 0 and not self.rear_first:
            return "With grip to spare it leans toward oversteer; near its limit the front runs out first all the same."
        if not self.settles_to_the_end and not self.rear_first:
            return "The front slides first in the end, but a held wheel stops settling the car before that."
        return ""


def ask(
    car: Car, setup: Setup, radius: float, lift: Any = None, turn: float = 1.0, hands: HandsStill | None = None
) -> Questions:
    """Ask the three questions of one car in one corner.

    Parameters:
        car: the car, plain numbers [-]
        setup: its setup, plain numbers [-]
        radius: radius of the corner [m]
        lift: engine's drag over weight; None for a speed that is held [-]
        turn: 1 to the left, −1 to the right [-]
        hands: the hands-still limit of the same, where it is known [-]

    Returns:
        the ``Questions`` [-]

    Errors:
        as ``trim``.

    Validity: settled moments; limits at their own speeds on this radius, within 0.005 g; the line at one speed, so that
    its top is where a wheel turned further no longer turns the car more.
    Source: ISO 4138 for gradient and steering.
    """
    hands = hands_still_limit(car, setup, radius, lift, turn) if hands is None else hands
    grip = max(float(np.max(axle.tyre.grip)) for axle in (car.front, car.rear))
    least, most = max(_LEAST, SPEEDS[0] ** 2 / radius), min(_BEYOND * G * grip, _MOST, SPEEDS[1] ** 2 / radius)
    sweep = most * np.sqrt(np.linspace((least / most) ** 2, 1.0, POINTS))  # closer where limits are
    speed = float(np.sqrt(float(hands.limit) * radius))
    line = np.linspace(_LEAST, min(1.01 * float(hands.grip_ends), _MOST), _CLOSE)
    lean = LEANS_AT + HALF_SPAN * np.array([-1.0, 1.0])
    own = float(np.sqrt(LEANS_AT * radius))
    lateral = np.concatenate([sweep, line, lean])
    speeds = np.concatenate([np.sqrt(sweep * radius), np.full(_CLOSE, speed), np.full(2, own)])
    along = np.zeros(lateral.shape) if lift is None else slowing(car, lift, speeds)
    along[-2:] = 0.0
    found = trim(car, setup, Moment(speeds, turn * lateral, along))
    fallen = tipped(found)[:POINTS]
    ends = [first_above(sweep, use, fallen) for use in found.use[:, :POINTS]]
    shown = slice(POINTS, POINTS + _CLOSE)
    angle = found.understeer_angle
    return Questions(
        gradient=float(angle[-1] - angle[-2]) / (2 * HALF_SPAN),
        ends=np.array([float(at) if np.isfinite(at) else np.inf for at in ends]),
        hands=hands,
        speed=speed,
        lateral=line,
        steer=np.where(found.usable, turn * found.steer, np.nan)[shown],
    )


def why_it_spins(steady: HandsStill, closed: Questions, lateral: float) -> str:
    """State why a corner in which a small slide dies out can still end in a spin after a lift.

    Parameters:
        steady: hands-still limit at a speed that is held [-]
        closed: the answers with the throttle closed [-]
        lateral: lateral acceleration of the corner [m/s²]

    Returns:
        a sentence, empty where the corner is beyond both limits or within both by a tenth, and where an end has no
        grip left for it with the throttle closed [-]
    """
    held, shut = float(steady.limit), float(closed.hands.limit)
    if not lateral < held or lateral < 0.9 * shut or closed.settles_to_the_end or closed.no_grip(lateral):
        return ""
    over = "is past" if lateral >= shut else "comes near or past"
    return (
        "Steady, a small slide dies out here, and yet the car can spin: with the throttle closed a held wheel "
        f"tightens the line. The car then pulls more than {lateral / G:.2f} g and {over} the {shut / G:.2f} g up to "
        "which it settles."
    )
