"""How engine and brakes share their force over the wheels in the motion: sums, ceilings, one wheel after another."""

import numpy as np
import pytest

from vdlib.answers.motion import rolled, shared
from vdlib.answers.wheel_table import GRIP, LOAD
from vdlib.trim.aero import ROLLING
from vdlib.trim.solver import LOCK

pytestmark = pytest.mark.analytic


def by_hand(asked, grip):
    """One axle: half each; what one wheel cannot take its partner takes as far as it can."""
    size, sign = abs(asked), np.sign(asked)
    most = [LOCK * g for g in grip]
    taken = [min(size, m) for m in most]
    for i, j in ((0, 1), (1, 0)):
        if taken[i] < size:
            taken[j] = min(taken[j] + size - taken[i], most[j])
    return [sign * t for t in taken]


def cases():
    rng = np.random.default_rng(8)
    half, grip = rng.uniform(-4000, 4000, (2, 60)), rng.uniform(0, 5000, (4, 60))
    grip[0, :5] = 0.0  # a wheel in the air
    return np.repeat(half, 2, axis=0), grip


def test_each_wheel_gets_what_one_axle_after_another_gives_by_hand():
    asked, grip = cases()
    found = shared(asked, grip)
    for i in range(60):
        for axle in (slice(0, 2), slice(2, 4)):
            np.testing.assert_allclose(found[axle, i], by_hand(asked[axle, i][0], grip[axle, i]), atol=1e-9)
    assert (np.abs(found) <= LOCK * grip + 1e-9).all()
    plenty = np.full((4, 60), 1e5)
    np.testing.assert_array_equal(shared(asked, plenty), asked)


def test_rolling_resistance_is_taken_off_and_no_wheel_gives_more_than_it_has():
    asked, grip = cases()
    row = np.zeros((20, 60))
    row[GRIP], row[LOAD] = grip, np.random.default_rng(9).uniform(0, 5000, (4, 60))
    found = rolled(asked, row)
    ceiling = LOCK * grip
    free = shared(asked, grip) - ROLLING * row[LOAD]
    inside = np.abs(free) < ceiling
    assert inside.any()
    assert (~inside).any()
    np.testing.assert_allclose(found[inside], free[inside])
    np.testing.assert_allclose(np.abs(found[~inside]), ceiling[~inside])
    coasting = rolled(np.zeros((4, 60)), row)
    np.testing.assert_allclose(coasting, -np.minimum(ROLLING * row[LOAD], ceiling))  # it only slows
