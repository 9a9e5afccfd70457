"""Balance and limits read off the trim, against their definitions and the two-wheel model."""

import numpy as np
import pytest

from vdlib.answers.balance import balance
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.lessons.bicycle import TwoWheel, motion
from vdlib.lessons.bicycle import critical_speed as closed_critical_speed
from vdlib.trim.trim import trim
from vdlib.units import G


def moment(lateral, phase="steady", speed=30.0):
    return Moment.in_phase(phase, speed, np.asarray(lateral) * G)


@pytest.mark.analytic
@pytest.mark.parametrize("name", examples.example_names())
def test_gradient_is_the_slope_of_the_understeer_angle(name):
    file = examples.load_example(name)
    lateral = np.linspace(0.05, 0.75, 15)
    found = balance(file.car, file.setup, moment(lateral))
    fine = np.linspace(0.0, 0.8, 1601)
    angle = trim(file.car, file.setup, moment(fine)).understeer_angle
    slope = np.gradient(angle, fine * G)
    np.testing.assert_allclose(found.gradient, np.interp(lateral, fine, slope), rtol=2e-3, atol=1e-6)


@pytest.mark.analytic
def test_gradient_and_angle_mirror_in_the_other_turn():
    file = examples.load_example("coupe")
    left, right = (balance(file.car, file.setup, moment(a)) for a in (0.6, -0.6))
    np.testing.assert_allclose(left.gradient, right.gradient, rtol=1e-6)
    np.testing.assert_allclose(left.understeer_angle, right.understeer_angle, rtol=1e-8)


@pytest.mark.analytic
def test_stability_agrees_with_the_two_wheel_model_of_the_same_stiffnesses():
    file = examples.load_example("two-seater")
    found = balance(file.car, file.setup, moment([0.4, 0.8, 1.0], "lift"))
    a, b = found.trim.cg_to_axle
    front, rear = found.trim.stiffness
    mass, base = file.car.mass, file.car.wheelbase
    gradient = mass / base * (b / front - a / rear)
    np.testing.assert_allclose(found.critical_speed, closed_critical_speed(base, gradient))
    poles = motion(TwoWheel(mass, file.car.inertia, a, b, front, rear), 30.0)
    np.testing.assert_allclose(found.time_to_double, poles.time_to_double)
    np.testing.assert_array_equal(np.isfinite(found.time_to_double), found.critical_speed < 30.0)
    np.testing.assert_array_equal(found.yaw_stability < 0, np.isfinite(found.critical_speed))


@pytest.mark.analytic
def test_past_the_limit_what_has_no_value_is_said_to_have_none():
    file = examples.load_example("hatch")
    found = balance(file.car, file.setup, moment([0.5, 1.4]))
    np.testing.assert_array_equal(found.trim.usable, [True, False])
    for values in (found.understeer_angle, found.gradient, found.critical_speed, found.time_to_double):
        np.testing.assert_array_equal(np.isnan(values), [False, True])


@pytest.mark.analytic
def test_shapes_broadcast():
    file = examples.load_example("hatch")
    speed, lateral = np.array([[20.0], [35.0]]), np.array([0.2, 0.5, 0.7]) * G
    found = balance(file.car, file.setup, Moment(speed, lateral))
    assert found.gradient.shape == found.time_to_double.shape == (2, 3)
    assert found.trim.load.shape == (2, 2, 2, 3)
    one = balance(file.car, file.setup, Moment(35.0, 0.5 * G))
    np.testing.assert_allclose(found.gradient[1, 1], one.gradient, rtol=1e-6)
