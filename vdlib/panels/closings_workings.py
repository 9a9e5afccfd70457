"""The end of the workbook on the equations, by the numbers of the car shown."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..car.carfile import CarFile
from ..car.records import Moment
from ..lessons import simple
from ..lessons.rolling import roll
from ..trim.trim import State, trim
from ..units import G, number
from .closings import CORNER, ENDS, FAST
from .fold import Asked, Closing, closing


def workings(file: CarFile) -> Any:
    """Return the end of the workbook on the equations.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    body = simple.roll_car(file.car, file.setup)
    own = simple.transfer(file.car, file.setup, CORNER * G)
    hold = (body.sprung_mass, own.arm, body.front.stiffness + body.rear.stiffness)
    with_weight, without = (
        float(np.degrees(roll(CORNER * G, *hold, gravity_roll=told).angle)) for told in (True, False)
    )
    return closing(
        Closing(
            f"At {CORNER:g} g this car's body leans <b>{number(with_weight, 2)} deg</b> by the equations, which leave "
            f"bump stops out. {_holds(file)}",
            [
                Asked(
                    "In the roll angle the body's own leaning weight appears. What would you miss without it?",
                    f"{number(with_weight - without, 2)} deg of {number(with_weight, 2)} on this car.",
                ),
                Asked(
                    "Why does the front axle's load depend on the rear's roll stiffness?",
                    "Both ends hold one body. The lean, and so the front's part of it, follows from their sum.",
                ),
                Asked(
                    "Which symbols of the load across the front axle can the workshop change in an hour?",
                    "The anti-roll bar's stiffness, and by the ride height the roll centre. Not mass or track.",
                ),
            ],
            [
                Asked("Where does every equation here start?", "From a balance of forces or of moments."),
                Asked("When is a result a small difference of large numbers?", "Where 1 % moves it by many percent."),
                Asked("At which step does the roll equation end on a bump stop?", "Where K is taken as one number."),
            ],
        )
    )


def _holds(file: CarFile) -> str:
    """State whether the equations, which know no stop and no wheel in the air, hold for this car in the example."""
    found = trim(file.car, file.setup, Moment(FAST, CORNER * G))
    lean = number(abs(float(np.degrees(found.roll))), 2)
    flags = zip(ENDS, (State.FRONT_ON_STOP, State.REAR_ON_STOP), strict=True)
    if ends := [end for end, flag in flags if int(found.state) & flag]:
        return (
            f"This car, standing still, already rests on a bump stop at the {' and '.join(ends)}: with it the body "
            f"leans {lean} deg."
        )
    return "They hold until a stop touches or a wheel leaves the ground."
