"""The answer to a step of the steering: against an independent integration, closed forms, and the example cars."""

import re

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from vdlib.answers.balance import balance
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.lessons.bicycle import TwoWheel, characteristic_speed, understeer_gradient
from vdlib.lessons.step import step_answer
from vdlib.panels import compare_cars
from vdlib.units import from_si

CAR = TwoWheel(1200.0, 1700.0, 1.2, 1.3, 80e3, 95e3)


@pytest.mark.analytic
@pytest.mark.parametrize("speed", [10.0, 25.0, 45.0])
def test_the_yaw_rate_is_that_of_an_independent_integration(speed):
    m, i, a, b, cf, cr = CAR.mass, CAR.inertia, CAR.a, CAR.b, CAR.front_stiffness, CAR.rear_stiffness

    def rates(_, x):
        v, r = x
        front, rear = cf * (1.0 - (v + a * r) / speed), -cr * (v - b * r) / speed
        return [(front + rear) / m - speed * r, (a * front - b * rear) / i]

    found = step_answer(CAR, speed)
    run = solve_ivp(rates, (0, found.time[-1]), [0, 0], t_eval=found.time, rtol=1e-9, atol=1e-9)
    settled = speed / (CAR.wheelbase + understeer_gradient(CAR).total * speed**2)
    np.testing.assert_allclose(found.yaw_rate, run.y[1] / settled, atol=1e-6)
    assert found.response == pytest.approx(run.t[int((run.y[1] / settled >= 0.9).argmax())], abs=0.003)
    assert found.overshoot == pytest.approx(max(run.y[1].max() / settled - 1, 0), abs=1e-5)


@pytest.mark.analytic
def test_a_car_past_its_critical_speed_does_not_settle():
    loose = TwoWheel(1200.0, 1700.0, 1.4, 1.1, 95e3, 80e3)
    assert step_answer(loose, 60.0).response == float("inf")
    assert np.isfinite(step_answer(loose, 10.0).response)


@pytest.mark.analytic
@pytest.mark.parametrize("name", examples.example_names())
def test_the_two_wheel_car_understeers_as_the_whole_one(name):
    file = examples.load_example(name)
    reference = reference_of(file)
    wheels = compare_cars.two_wheels(reference.car, reference.setup)
    exact = balance(reference.car, reference.setup, Moment(compare_cars.AT, compare_cars.GENTLE)).gradient
    assert understeer_gradient(wheels).total == pytest.approx(float(exact), rel=1e-6)


def test_the_table_tells_every_car_and_the_published_spans():
    box = compare_cars.manners()
    said = re.sub("<[^>]*>", " ", box.children[1].value)
    for name in examples.example_names():
        file = examples.load_example(name)
        reference = reference_of(file)
        wheels = compare_cars.two_wheels(reference.car, reference.setup)
        speed = characteristic_speed(wheels.wheelbase, understeer_gradient(wheels).total)
        assert f"{from_si(float(speed), 'kmh'):.0f} km/h" in said
        assert f"{step_answer(wheels, compare_cars.AT).response:.2f} s" in said
    assert "65 to 100 km/h" in said
    assert "from memory" in said
