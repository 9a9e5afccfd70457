"""The two-wheel model against printed budgets and cars, independent solutions, identities and signs."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.linalg import expm

from vdlib.checks import InputError
from vdlib.lessons import bicycle as bike
from vdlib.lessons import circle
from vdlib.units import G, from_si, to_si

UNDER = bike.TwoWheel(1400.0, 2500.0, 1.2, 1.4, 80e3, 100e3)
OVER = bike.TwoWheel(1300.0, 2000.0, 1.4, 1.0, 110e3, 100e3)


def gradient(car):
    return bike.understeer_gradient(car).total


@pytest.mark.published
def test_cornering_compliance_budget():
    # An encyclopedia's imaginary example ("Bundorf analysis") in the form of Bundorf & Leffert (SAE 760713), not their
    # car: front 11.0, rear 6.9, difference 4.1 deg/g
    front = bike.Compliance(8.0, aligning=0.2, camber=1.2, roll_steer=0.6, force_steer=0.3, moment_steer=0.7)
    rear = bike.Compliance(7.0, aligning=-0.2, camber=0.0, roll_steer=-0.4, force_steer=-0.1, moment_steer=0.6)
    assert front.total == pytest.approx(11.0, abs=0.05)
    assert rear.total == pytest.approx(6.9, abs=0.05)
    got = bike.Gradient(front, rear)
    assert got.total == pytest.approx(4.1, abs=0.05)
    assert sum(got.parts.values()) == pytest.approx(got.total)


@pytest.mark.published
def test_road_test_of_a_saloon():
    # K. Tse, "Cornering Compliances of a Typical Road Vehicle" (2019): 1619 kg, a 1.041, b 1.629 m, I 2746 kg m²,
    # D_f 6.7, D_r 3.1, K 3.6 deg/g. The axle stiffnesses follow from D = m_i·g/C_i.
    front, rear = (to_si(d, "deg_per_g") for d in (6.7, 3.1))
    wheelbase = 1.041 + 1.629
    car = bike.TwoWheel(1619.0, 2746.0, 1.041, 1.629, 1619 * 1.629 / wheelbase / front, 1619 * 1.041 / wheelbase / rear)
    got = bike.understeer_gradient(car)
    assert from_si(got.front.total, "deg_per_g") == pytest.approx(6.7)
    assert from_si(got.total, "deg_per_g") == pytest.approx(3.6, abs=0.05)


@pytest.mark.memory
def test_textbook_understeering_car():
    # Wong, Theory of Ground Vehicles, example 5.1, from memory: 20.105 kN, L 2.8 m, 53.5 % front, 38.92 and 38.25
    # kN/rad for each tyre; K 0.016 rad, characteristic speed 149 km/h
    car = bike.TwoWheel(20105 / G, 2500.0, 0.465 * 2.8, 0.535 * 2.8, 2 * 38920.0, 2 * 38250.0)
    assert gradient(car) * G == pytest.approx(0.016, abs=5e-4)
    assert from_si(bike.characteristic_speed(2.8, gradient(car)), "kmh") == pytest.approx(149, abs=0.5)
    assert bike.critical_speed(2.8, gradient(car)) == np.inf


@pytest.mark.memory
def test_typifying_numbers():
    # Pacejka, Tire and Vehicle Dynamics (2006), table 1.1, from memory: η 0.0174 rad, s -0.10 m (behind the CG)
    car = bike.TwoWheel(1600.0, 1600 * 1.5**2, 1.4, 1.6, 60e3, 60e3)
    eta, margin = G * gradient(car), bike.neutral_point(car)  # his s is the neutral point ahead of the CG
    assert eta == pytest.approx(0.0174, abs=5e-5)
    assert margin.behind_cg == pytest.approx(0.10, abs=5e-3)
    assert margin.static_margin == pytest.approx(0.1 / 3.0)
    # the same car's understeer coefficient through the neutral point, his second form of η
    assert eta == pytest.approx(margin.behind_cg / 3.0 * 1600 * G * 120e3 / 60e3**2)


@pytest.mark.analytic
def test_characteristic_speed_doubles_the_steer_and_tops_the_gain():
    k, wheelbase = gradient(UNDER), UNDER.wheelbase
    top = bike.characteristic_speed(wheelbase, k)
    assert circle.steady_steer(100.0, top**2 / 100, wheelbase, k) == pytest.approx(2 * wheelbase / 100)
    gain = bike.yaw_rate_gain(top, wheelbase, k)
    assert gain == pytest.approx(bike.neutral_gain(top, wheelbase) / 2)
    around = bike.yaw_rate_gain(top * np.array([0.5, 0.9, 0.999, 1.001, 1.1, 2.0]), wheelbase, k)
    assert np.all(around < gain)


@pytest.mark.analytic
def test_pole_crosses_zero_at_the_critical_speed():
    speed = bike.critical_speed(OVER.wheelbase, gradient(OVER))
    at, below, above = bike.poles(OVER, speed), bike.poles(OVER, 0.98 * speed), bike.poles(OVER, 1.02 * speed)
    assert abs(at[-1]) < 1e-10 * abs(at[0])
    assert below[-1].real < -1e-3
    assert above[-1].real > 1e-3
    assert above[0].real < 0  # only one of the two
    assert np.isfinite(bike.motion(OVER, 1.02 * speed).time_to_double)
    assert bike.motion(OVER, 0.98 * speed).time_to_double == np.inf


@pytest.mark.analytic
@pytest.mark.parametrize("factor", [1.1, 1.5])
def test_time_to_double_is_the_time_to_double(factor):
    speed = factor * bike.critical_speed(OVER.wheelbase, gradient(OVER))
    got = bike.motion(OVER, speed)
    matrix = bike.system(OVER, speed).A
    start = expm(matrix * 20 * got.time_to_double) @ [1e-3, 0.0]  # the fading pole has died away
    assert expm(matrix * got.time_to_double) @ start == pytest.approx(2 * start, rel=1e-6)


@pytest.mark.analytic
def test_frequency_and_damping_are_those_of_the_swing():
    speed = 40.0
    got, pole = bike.motion(UNDER, speed), bike.poles(UNDER, speed)[-1]
    assert 0 < got.damping < 1
    assert got.natural_frequency == pytest.approx(abs(pole))
    assert got.damping == pytest.approx(-pole.real / abs(pole))
    period = 2 * np.pi / abs(pole.imag)
    swung = expm(bike.system(UNDER, speed).A * period) @ [0.01, 0.02]  # a full swing later, smaller by e^(real·period)
    assert swung == pytest.approx(np.exp(pole.real * period) * np.array([0.01, 0.02]), rel=1e-8)


@pytest.mark.analytic
def test_gains_are_the_rest_state_of_the_matrices():
    speed = np.array([5.0, 20.0, 45.0])
    for car in (UNDER, OVER):
        got = bike.system(car, speed)
        rest = np.linalg.solve(got.A, -got.B[..., None])[..., 0]
        assert bike.yaw_rate_gain(speed, car.wheelbase, gradient(car)) == pytest.approx(rest[:, 1])


def steady_turn(car, lateral, curvature, front, rear, roll_gradient, torque):
    """Steer angle of a steady turn from the forces themselves, every suspension effect put in where it acts.

    ``torque`` 0 leaves out the moment with which the trails straighten the car.
    """
    roll = roll_gradient * lateral
    matrix, right = [], []  # unknowns F_f, F_r, β, δ
    matrix.append([1, 1, 0, 0])
    right.append(car.mass * lateral)
    matrix.append([car.a - front.trail * torque, -car.b - rear.trail * torque, 0, 0])
    right.append(0.0)
    sides = ((front, car.front_stiffness, car.a, 1), (rear, car.rear_stiffness, -car.b, 0))
    for row, (add, stiff, arm, steered) in enumerate(sides):
        bend = stiff * (add.force_steer + add.moment_steer * add.trail)  # force turns the wheel out of the turn
        line = [0.0, 0.0, stiff, -stiff * steered]
        line[row] = 1 + bend
        matrix.append(line)
        lean = add.camber_stiffness * add.camber_per_roll * roll
        right.append(-stiff * arm * curvature - stiff * add.roll_steer * roll - lean)
    return np.linalg.solve(np.array(matrix), np.array(right))[3]


@pytest.mark.analytic
@pytest.mark.parametrize("which", ["roll_steer", "camber", "force_steer", "moment_steer", "all"])
def test_suspension_parts_against_a_balance_of_forces(which):
    given_parts = {
        "roll_steer": {"roll_steer": 0.06},
        "camber": {"camber_stiffness": 9e3, "camber_per_roll": 0.7},
        "force_steer": {"force_steer": 4e-7},
        "moment_steer": {"moment_steer": 1.5e-5, "trail": 0.03},
    }
    chosen = given_parts if which == "all" else {which: given_parts[which]}
    front = bike.AxleSteer(**{k: v for part in chosen.values() for k, v in part.items()})
    rear = bike.AxleSteer(**{k: -0.4 * v if "steer" in k else 0.6 * v for p in chosen.values() for k, v in p.items()})
    # without the moment that the trails put on the car (tested below) the parts add exactly
    slope = steady_turn(UNDER, 2.0, 0.01, front, rear, 0.01, 0) - steady_turn(UNDER, 1.0, 0.01, front, rear, 0.01, 0)
    got = bike.understeer_gradient(UNDER, front, rear, 0.01)
    assert got.total - got.parts["aligning"] == pytest.approx(slope, rel=1e-9)
    assert got.total != pytest.approx(gradient(UNDER), rel=1e-3)


@pytest.mark.analytic
def test_aligning_part_against_a_balance_of_forces():
    for trail in (1e-3, 1e-5):  # the part is the first order: its error goes with the trail
        front, rear = bike.AxleSteer(trail=trail), bike.AxleSteer(trail=0.8 * trail)
        slope = steady_turn(UNDER, 2.0, 0.01, front, rear, 0, 1) - steady_turn(UNDER, 1.0, 0.01, front, rear, 0, 1)
        part = bike.understeer_gradient(UNDER, front, rear).parts["aligning"]
        assert part == pytest.approx(slope - gradient(UNDER), rel=2 * trail)
        assert part > 0  # it pulls the car straight: understeer


@pytest.mark.analytic
def test_signs():
    def shift(**changes):
        return gradient(bike.TwoWheel(**(vars(UNDER) | changes))) - gradient(UNDER)

    assert shift(front_stiffness=70e3) > 0  # a weaker front understeers
    assert shift(rear_stiffness=90e3) < 0  # a weaker rear oversteers
    assert shift(a=1.3, b=1.3) < 0  # weight further back oversteers
    assert gradient(UNDER) > 0 > gradient(OVER)
    assert bike.neutral_point(UNDER).behind_cg > 0 > bike.neutral_point(OVER).behind_cg
    out = bike.AxleSteer(roll_steer=0.05)
    assert bike.understeer_gradient(UNDER, out, None, 0.01).total > gradient(UNDER)
    assert bike.understeer_gradient(UNDER, None, out, 0.01).total < gradient(UNDER)
    assert bike.system(UNDER, 20.0).B[1] > 0  # left steer starts a left yaw


@pytest.mark.analytic
def test_neutral_point_takes_a_side_push_without_turning():
    behind = bike.neutral_point(UNDER).behind_cg
    # drifting at β with no yaw rate: both axles push at F = -C·β; their resultant passes through the neutral point
    front, rear = -UNDER.front_stiffness * 0.01, -UNDER.rear_stiffness * 0.01
    assert (UNDER.a * front - UNDER.b * rear) / (front + rear) == pytest.approx(-behind)


@pytest.mark.analytic
@pytest.mark.parametrize("car", [UNDER, OVER])
def test_three_test_methods_give_one_gradient(car):
    # ISO 4138's methods on one car whose steady turns come from the matrices, not from δ = L/R + K·a_y
    def turn(speed):  # yaw rate for each steer angle
        got = bike.system(car, speed)
        return np.linalg.solve(got.A, -got.B[..., None])[..., 1, 0]

    speeds = np.array([8.0, 12.0, 16.0, 20.0])
    at_radius = circle.gradient_at_radius(speeds**2 / 50, speeds / 50 / turn(speeds))
    steer = np.array([0.005, 0.01, 0.02])
    at_speed = circle.gradient_at_speed(15.0 * turn(15.0) * steer, steer, 15.0, car.wheelbase)
    yaw = 0.02 * turn(speeds)
    at_steer = circle.gradient_at_steer(yaw * speeds, yaw / speeds, car.wheelbase)
    assert [at_radius, at_speed, at_steer] == pytest.approx([gradient(car)] * 3, rel=1e-9)


@pytest.mark.analytic
def test_speeds_that_do_not_exist_are_infinite():
    k = np.array([0.003, 0.0, -0.003])
    assert bike.characteristic_speed(2.7, k) == pytest.approx([30.0, np.inf, np.inf])
    assert bike.critical_speed(2.7, k) == pytest.approx([np.inf, np.inf, 30.0])
    assert bike.yaw_rate_gain(32.0, 2.0, -2.0 / 1024) == np.inf  # exactly the critical speed
    assert bike.yaw_rate_gain(33.0, 2.0, -2.0 / 1024) < 0
    neutral = bike.TwoWheel(1200.0, 1800.0, 1.2, 1.2, 90e3, 90e3)
    assert gradient(neutral) == 0
    assert bike.yaw_rate_gain(25.0, 2.4, 0.0) == pytest.approx(bike.neutral_gain(25.0, 2.4))


@pytest.mark.analytic
def test_an_axle_past_its_peak():
    spent = bike.TwoWheel(1300.0, 2000.0, 1.3, 1.2, 60e3, -5e3)
    assert np.isfinite(bike.motion(spent, 25.0).time_to_double)
    assert bike.motion(spent, 25.0).natural_frequency == 0
    assert bike.motion(spent, 25.0).damping == np.inf
    with pytest.raises(InputError, match="rear axle stiffness must be finite and above zero"):
        bike.understeer_gradient(spent)


cars = st.builds(
    bike.TwoWheel,
    mass=st.floats(600, 2500),
    inertia=st.floats(600, 4000),
    a=st.floats(0.9, 1.7),
    b=st.floats(0.9, 1.7),
    front_stiffness=st.floats(3e4, 3e5),
    rear_stiffness=st.floats(3e4, 3e5),
)


@pytest.mark.analytic
@given(cars, st.floats(5, 80))
def test_stable_exactly_below_the_critical_speed(car, speed):
    edge = bike.critical_speed(car.wheelbase, gradient(car))
    assume(not 0.999 < speed / edge < 1.001)
    got = bike.motion(car, speed)
    assert np.isinf(got.time_to_double) == (speed < edge)
    assert (got.natural_frequency > 0) == (speed < edge)
    assert not np.isnan([got.natural_frequency, got.damping, got.time_to_double]).any()


@pytest.mark.analytic
@given(cars)
def test_margin_and_gradient_have_one_sign(car):
    # K = x·m·(C_f + C_r)/(L·C_f·C_r), x the neutral point behind the CG
    behind = bike.neutral_point(car).behind_cg
    both = car.front_stiffness + car.rear_stiffness
    product = car.front_stiffness * car.rear_stiffness
    expected = behind * car.mass * both / (car.wheelbase * product)
    assert gradient(car) == pytest.approx(expected, rel=1e-9, abs=1e-12)


@pytest.mark.analytic
def test_arrays_give_what_single_numbers_give():
    stiff = np.linspace(6e4, 1.2e5, 4)
    car = bike.TwoWheel(1400.0, 2500.0, 1.2, 1.4, stiff, 100e3)
    speed = np.array([10.0, 30.0, 60.0])[:, None]
    many, roots = bike.motion(car, speed), bike.poles(car, speed)
    assert roots.shape == (3, 4, 2)
    one = bike.TwoWheel(1400.0, 2500.0, 1.2, 1.4, float(stiff[3]), 100e3)
    assert roots[2, 3] == pytest.approx(bike.poles(one, 60.0))
    assert many.time_to_double[2, 3] == pytest.approx(bike.motion(one, 60.0).time_to_double)
    assert many.damping[0, 3] == pytest.approx(bike.motion(one, 10.0).damping)
    assert gradient(car)[3] == pytest.approx(gradient(one), rel=1e-14)


@pytest.mark.analytic
def test_what_cannot_be_is_refused_in_words():
    with pytest.raises(InputError, match="mass must be finite and above zero"):
        bike.TwoWheel(0.0, 2000.0, 1.2, 1.4, 8e4, 9e4)
    with pytest.raises(InputError, match="axle stiffness must be finite"):
        bike.TwoWheel(1300.0, 2000.0, 1.2, 1.4, float("nan"), 9e4)
    with pytest.raises(InputError, match="speed must be finite and above zero"):
        bike.system(UNDER, 0.0)
    with pytest.raises(InputError, match="at least two"):
        circle.gradient_at_radius(3.0, 0.05)
    with pytest.raises(InputError, match="spread of lateral acceleration"):
        circle.gradient_at_radius(np.array([3.0, 3.0]), np.array([0.05, 0.06]))
