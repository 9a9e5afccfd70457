"""Balance and limits read off the trim, against their definitions and the two-wheel model."""

from dataclasses import replace

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
    np.testing.assert_array_equal(found.yaw_stability < 0, np.isfinite(found.critical_speed))


@pytest.mark.analytic
def test_with_loads_that_hardly_follow_the_growth_is_that_of_the_two_wheel_model():
    """A centre of gravity near the road moves no load: then the local stiffnesses say it all."""
    file = examples.load_example("two-seater")
    soft = replace(file.car.rear.tyre, stiffness_max=0.5 * file.car.rear.tyre.stiffness_max)
    still = {"toe_slope": 0.0, "toe_bend": 0.0, "camber_slope": 0.0, "roll_centre": 0.0, "roll_centre_slope": 0.0}
    low = still | {"wheel_radius": 0.2, "unsprung_mass": 10.0}
    front, rear = replace(file.car.front, **low), replace(file.car.rear, **low)
    car = replace(file.car, cg_height=0.2, front=front, rear=replace(rear, tyre=soft))
    found = balance(car, replace(file.setup, caster=0.0), Moment(45.0, 0.3 * G))
    a, b = found.trim.cg_to_axle
    poles = motion(TwoWheel(car.mass, car.inertia, a, b, *found.trim.stiffness), 45.0)
    assert np.isfinite(poles.time_to_double)
    assert found.time_to_double == pytest.approx(float(poles.time_to_double), rel=0.1)


@pytest.mark.analytic
@pytest.mark.parametrize("name", ["two-seater", "low-two-seater"])
def test_a_small_slide_grows_from_just_where_total_steering_stops_rising(name):
    file = examples.load_example(name)
    lateral = np.linspace(0.3, 1.0, 141)
    speed = 25.0
    found = balance(file.car, file.setup, Moment(speed, lateral * G, -0.15 * G))
    rise = found.gradient + file.car.wheelbase / speed**2
    grows = np.isfinite(found.time_to_double)
    known = np.isfinite(rise)
    assert grows[known].any()
    assert not grows[known].all()
    np.testing.assert_array_equal(grows[known], rise[known] < 0)


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
