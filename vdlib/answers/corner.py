"""The driver's own corner: how tight, how wide, which way, what the feet do in it; and what the hands do then."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from ..checks import InputError, Problem
from ..units import Value
from .scenario import FEET, HANDS, check_ranges

Turn = Literal["left", "right"]
QUICK_LIFT = 0.15
"""Engine drag over the car's weight after a quick lift of the foot [-]; common practice, no source."""


@dataclass(frozen=True)
class Corner:
    """One corner and what the feet do in it; numbers may be arrays.

    ``lift`` is the engine's drag over the car's weight once the foot has come up, air and rolling come on top;
    ``brake`` is the brakes' force over the weight.
    """

    radius: Value = 60.0
    width: Value = 10.0
    turn: Turn = "left"
    lift: Value = QUICK_LIFT
    brake: Value = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that are out of range, and a turn that is neither left nor right."""
        if self.turn not in ("left", "right"):
            raise InputError([Problem("turn", repr(self.turn), 'must be "left" or "right"', "choose one of the two")])
        check_ranges(self, _CORNER)

    @property
    def sign(self) -> float:
        """1 in a left turn, −1 in a right one [-]."""
        return 1.0 if self.turn == "left" else -1.0

    def lateral(self, speed: Any) -> Any:
        """Return the lateral acceleration across the path, left positive: ``V²/R``.

        Parameters:
            speed: speed, any shape that broadcasts with the radius [m/s]

        Returns:
            lateral acceleration [m/s²]
        """
        return self.sign * np.square(speed) / self.radius

    def speed(self, lateral: Any) -> Any:
        """Return the speed that goes with a lateral acceleration: ``√(a_y·R)``.

        Parameters:
            lateral: its size, any shape that broadcasts with the radius [m/s²]

        Returns:
            speed [m/s]
        """
        return np.sqrt(np.abs(lateral) * self.radius)


@dataclass(frozen=True)
class Driver:
    """What the hands do: hold the wheel, and after a reaction time steer against the slide; numbers may be arrays.

    ``counter_steer`` is steering taken off for each angle of slide: 0 holds on, 1 keeps the wheels along the slide;
    ``closing`` is the time the foot takes.
    """

    reaction: Value = 1.25  # not expecting it, Green (2000), see ``lift.REACTION``
    counter_steer: Value = 1.0
    closing: Value = 0.15

    def __post_init__(self) -> None:
        """Refuse numbers that are out of range."""
        check_ranges(self, {**HANDS, "closing": ("time the foot takes", "s", 0.02, 5)})


HOLDS = Driver(counter_steer=0.0)
"""A driver who holds the wheel where it is."""
_CORNER = {
    "radius": ("radius of the corner", "m", 8, 1000),
    "width": ("width of the road", "m", 2, 50),
    **FEET,
}
