"""How a car answers a step of the steering: when its yaw rate has come, and by how much it swings past."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Array, Value
from .bicycle import TwoWheel, system

LASTS, STEP = 4.0, 0.002
"""Time followed, and the step between two readings [s]."""


@dataclass(frozen=True)
class StepAnswer:
    """Yaw rate after a step of the steering, and what is read off it."""

    time: Array  # (t,) [s]
    yaw_rate: Array  # (t,) over the settled one [-]
    response: float  # time at which it first reaches nine tenths [s]
    overshoot: float  # how far it swings past the settled one, as part of it [-]


def step_answer(car: TwoWheel, speed: Value) -> StepAnswer:
    """Follow the yaw rate after a sudden step of the steering: ``x(t) = (e^{A·t} − 1)·A⁻¹·B·δ``.

    Parameters:
        car: the two-wheel car, plain numbers [-]
        speed: speed [m/s]

    Returns:
        a ``StepAnswer``; the response is infinite where the car does not settle [-]

    Errors:
        as ``bicycle.system``.

    Validity: as ``bicycle.system``; tyres and steering answer at once, so a real car is some tenths slower.
    Source: ISO 7401, response time to nine tenths and overshoot (from memory).
    """
    found = system(car, speed)
    values, vectors = np.linalg.eig(found.A)
    time = np.arange(0.0, LASTS, STEP)
    if float(values.real.max()) >= 0:
        return StepAnswer(time, np.zeros(time.shape), float("inf"), float("inf"))
    part = np.linalg.solve(vectors, found.B.astype(complex)) / values  # of each mode, settled
    grown = np.real((np.exp(np.outer(time, values)) - 1) * part @ vectors.T)[:, 1]
    settled = -np.linalg.solve(found.A, found.B)[1]
    rate = grown / settled
    return StepAnswer(time, rate, float(time[int((rate >= 0.9).argmax())]), float(max(rate.max() - 1.0, 0.0)))
