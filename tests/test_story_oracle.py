"""Limits and hands-still limits of the story's states by the independent trim: its own solution and own derivatives.

The oracle is asked for the lateral acceleration itself. A limit is where an end's greatest side force is just what is
asked of it: its slip angle is the one at which its force stops growing. The hands-still limit is where steering, taken
at two lateral accelerations of one speed, stops rising.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from oracle import equations, loop_over, one_of
from scipy.optimize import brentq, root
from test_story import CORNER, DRAG, LATERAL, NAMES, SPEED, columns

from vdlib.answers.hands_still import hands_still_limit, slowing
from vdlib.answers.limits import limits
from vdlib.car.records import Car, Moment, Setup
from vdlib.units import G

REAR, FRONT = 2e-5 * G, 1.5e-3 * G
"""How near the limits are: the front's tyres lean further as they steer toward their peak, which is in theirs alone."""
NUDGE, APART = 2e-4, 0.004 * G
pytestmark = pytest.mark.analytic


def lets_go(car: Car, setup: Setup, moment: Moment, end: int, both: bool, start: np.ndarray) -> np.ndarray:
    """Pose, slip angles and lateral acceleration over g at which an end has no more; the other holds, or slides too."""
    weight = car.mass * G

    def left(unknown: np.ndarray) -> list[float]:
        asked, _ = equations(car, setup, replace(moment, lateral=float(unknown[9]) * G))
        found = asked([float(x) for x in unknown[:9]])

        def growth(axle: int) -> float:
            """How the force of one axle grows with its own slip angle, the pose held."""
            made = []
            for nudge in (-NUDGE, NUDGE):
                moved = [float(x) for x in unknown[:9]]
                moved[7 + axle] += nudge
                made.append(asked(moved)[7 + axle])
            return (made[1] - made[0]) / (2 * NUDGE * weight)

        other = 1 - end
        rows = [*found[:7], found[7 + end], growth(other) * weight if both else found[7 + other]]
        return [*(row / weight for row in rows), growth(end)]

    answer = root(left, start, method="hybr", tol=1e-10)
    assert answer.success, answer.message
    return np.asarray(answer.x)


@pytest.mark.parametrize("state", range(len(NAMES)), ids=NAMES)
def test_each_end_lets_go_where_the_independent_trim_says(state: int) -> None:
    car, setup = (one_of(record, state) for record in columns())
    moment = Moment(SPEED, LATERAL, float(slowing(car, DRAG, SPEED)))
    found = limits(car, setup, moment)
    (pose,) = loop_over([(car, setup, moment)])
    start = np.array([*pose[:7], 1.2 * pose[7], 0.2, 0.9])
    rear = lets_go(car, setup, moment, 1, False, start)  # the first to let go, the front still holding
    assert rear[7] < rear[8]
    front = lets_go(car, setup, moment, 0, True, np.array([*rear[:7], rear[8], rear[8], rear[9] + 0.1]))
    assert front[9] > rear[9]
    theirs = np.array([front[9], rear[9]]) * G
    print(NAMES[state], "front and rear, g:", found.lateral / G, theirs / G)
    assert found.lateral[1] == pytest.approx(theirs[1], abs=REAR)
    assert found.lateral[0] == pytest.approx(theirs[0], abs=FRONT)
    assert found.slides.all()


def rise(car: Car, setup: Setup, lateral: float, lift: float | None) -> float:
    """Growth of steering with lateral acceleration at the speed that this one has in the corner, by the oracle."""
    speed = float(np.sqrt(lateral * CORNER.radius))
    along = 0.0 if lift is None else float(slowing(car, lift, speed))
    steer = []
    for near in (lateral - APART, lateral + APART):
        (answer,) = loop_over([(car, setup, Moment(speed, near, along))])
        steer.append(car.wheelbase * near / speed**2 + answer[-2] - answer[-1])
    return steer[1] - steer[0]


@pytest.mark.parametrize("lift", [None, CORNER.lift], ids=["steady", "closed"])
@pytest.mark.parametrize("state", range(len(NAMES)), ids=NAMES)
def test_steering_stops_rising_where_the_independent_trim_says(state: int, lift: float | None) -> None:
    car, setup = (one_of(record, state) for record in columns())
    found = hands_still_limit(car, setup, CORNER.radius, lift)
    assert found.exists
    low = 0.5 * G
    while rise(car, setup, low + 0.05 * G, lift) > 0:  # from below: the first at which it stops
        low += 0.05 * G
    theirs = brentq(lambda at: rise(car, setup, at, lift), low, low + 0.05 * G, xtol=1e-5 * G)
    print(NAMES[state], lift, float(found.limit) / G, theirs / G)
    assert float(found.limit) == pytest.approx(theirs, abs=2e-4 * G)
