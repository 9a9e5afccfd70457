"""The trim against conservation, symmetry and the example cars."""

from dataclasses import replace

import numpy as np
import pytest

from vdlib import examples
from vdlib.car import Moment
from vdlib.checks import InputError
from vdlib.trim import State, trim
from vdlib.units import G


@pytest.mark.analytic
@pytest.mark.parametrize("name", examples.names())
def test_total_vertical_force_is_weight_minus_lift(name: str) -> None:
    file = examples.load(name)
    result = trim(file.car, file.setup, Moment.in_phase("lift", 30.0, np.linspace(-0.8, 0.8, 17) * G))
    total = result.load.sum(axis=(0, 1)) + result.lift.sum(axis=0)
    np.testing.assert_allclose(total, file.car.mass * G, rtol=1e-9)
    assert np.all((result.state & int(State.NOT_SOLVED)) == 0)


@pytest.mark.analytic
def test_a_right_turn_mirrors_a_left_turn() -> None:
    file = examples.load("two-seater")
    left = trim(file.car, file.setup, Moment.in_phase("steady", 30.0, 0.7 * G))
    right = trim(file.car, file.setup, Moment.in_phase("steady", 30.0, -0.7 * G))
    np.testing.assert_allclose(left.load, right.load[:, ::-1], rtol=1e-9)
    np.testing.assert_allclose(left.understeer_angle, right.understeer_angle, atol=1e-9)


@pytest.mark.analytic
def test_scalar_equals_vector() -> None:
    file = examples.load("coupe")
    lateral = np.array([0.2, 0.5, 0.8]) * G
    many = trim(file.car, file.setup, Moment.in_phase("brake", 28.0, lateral))
    for i, a in enumerate(lateral):
        one = trim(file.car, file.setup, Moment.in_phase("brake", 28.0, float(a)))
        np.testing.assert_allclose(one.load, many.load[..., i], rtol=1e-8)


@pytest.mark.analytic
def test_higher_centre_of_gravity_moves_more_load() -> None:
    file = examples.load("hatch")
    moment = Moment.in_phase("steady", 28.0, 0.5 * G)
    low = trim(file.car, file.setup, moment).load
    high = trim(replace(file.car, cg_height=1.1 * file.car.cg_height), file.setup, moment).load
    assert high[:, 1].sum() > low[:, 1].sum()


def test_shares_that_leave_a_wheel_less_than_nothing_are_refused() -> None:
    file = examples.load("hatch")
    # front left carries (0.25 + 0.40 - 0.65)/2 = 0 of the weight standing level; nose-high takes it below
    odd = replace(file.car, front_share=0.25, left_share=0.40)
    with pytest.raises(InputError, match="corner weight must not be below zero"):
        trim(odd, replace(file.setup, cross_weight=0.65), Moment.in_phase("steady", 28.0, 0.5 * G))
