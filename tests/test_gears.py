"""Gears and power against identities, one rule of the trade and one textbook car."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdlib.checks import InputError
from vdlib.lessons import gears
from vdlib.lessons.gears import RPM, Drivetrain

RATIOS = np.array([3.2, 2.0, 1.45, 1.12, 0.9])
SPEEDS = np.array([800, 2000, 3500, 5000, 6000, 7200]) * RPM
TORQUE = np.array([110.0, 160.0, 190.0, 205.0, 190.0, 140.0])
CAR = Drivetrain(SPEEDS, TORQUE, RATIOS, 4.1, 0.3)


def speed_in_gear(turning):
    """Road speed in each gear: one turn of the wheel moves the car one circumference."""
    return np.stack([np.asarray(turning) / (ratio * 4.1) * 0.3 for ratio in RATIOS])


def textbook():
    """Return the car of Åström & Murray: T = 190·(1 − 0.4(ω/420 − 1)²), gearing 40, 25, 16, 12, 10 rad/m, no losses."""
    turning = np.linspace(0.0, 700.0, 1401)
    torque = 190 * (1 - 0.4 * (turning / 420 - 1) ** 2)
    return Drivetrain(turning, torque, 0.3 * np.array([40.0, 25.0, 16.0, 12.0, 10.0]), 1.0, 0.3, 1.0)


AIR, ROAD = 0.32 * 2.4 * 1.3 / 1.225, 0.01 * 9.8 / 9.81  # theirs: air 1.3 kg/m³, g 9.8; ours 1.225 and 9.81


@pytest.mark.memory
def test_textbook_car_at_20_m_s_in_fourth():
    # Åström & Murray, Feedback Systems (2008), example 5.11, from memory: 1600 kg, 20 m/s, 4th gear, level road:
    # throttle 0.1687, b = F/m = 1.32, a = (u·dF/dV − dR/dV)/m = −0.0101
    train, mass = textbook(), 1600.0
    push, held = (lambda v: gears.thrust(train, v).force[3]), (lambda v: gears.resistance(v, mass, AIR, ROAD))
    throttle = held(20.0) / push(20.0)
    assert throttle == pytest.approx(0.1687, abs=5e-5)
    assert push(20.0) / mass == pytest.approx(1.32, abs=5e-3)
    slope = (throttle * (push(20.5) - push(19.5)) - (held(20.5) - held(19.5))) / mass
    assert slope == pytest.approx(-0.0101, abs=5e-5)


@pytest.mark.common_practice
def test_engine_speed_from_the_rule_of_thumb_in_inches():
    # A rule of the trade: 2242 = 65 x 3.08 x 336 / 30 (65 mph, axle 3.08, 30-inch tyres, top gear 1:1); its 336 is
    # 5280·12/(60·π) = 336.135 rounded, so the tolerance is 0.5/336 of the result and half a digit
    train = Drivetrain(SPEEDS, TORQUE, [1.0], 3.08, 15 * 0.0254)
    found = gears.engine_speed_at(train, 65 * 0.44704)[0] / RPM
    assert found == pytest.approx(2242, abs=2242 * 0.5 / 336 + 0.5)


@pytest.mark.analytic
@given(st.floats(1.0, 80.0))
def test_power_is_force_times_speed_in_every_gear(speed):
    found = gears.thrust(CAR, speed)
    torque = np.interp(found.engine_speed, SPEEDS, TORQUE)
    power = torque * found.engine_speed * CAR.efficiency
    np.testing.assert_allclose((found.force * speed)[found.usable], power[found.usable], rtol=1e-12)
    assert np.all(found.force[~found.usable] == 0)


@pytest.mark.analytic
def test_engine_speed_is_that_of_the_wheel_geared_up_and_keeps_its_shape():
    turning = np.linspace(100, 700, 12).reshape(3, 4)
    speed = speed_in_gear(turning)
    for gear in range(5):
        np.testing.assert_allclose(gears.engine_speed_at(CAR, speed[gear])[gear], turning)
    np.testing.assert_allclose(
        gears.thrust(CAR, speed[1]).force[1, 0, 0], gears.thrust(CAR, float(speed[1, 0, 0])).force[1]
    )


@pytest.mark.analytic
def test_torque_and_power_curves_agree():
    power = SPEEDS * TORQUE
    np.testing.assert_allclose(gears.torque_from_power(SPEEDS, power), TORQUE)
    with pytest.raises(InputError, match="start the curve at idle"):
        gears.torque_from_power(np.array([0.0, 1.0]), 100.0)


@pytest.mark.analytic
def test_at_a_shift_point_both_gears_push_alike_or_the_limit_is_reached():
    shifts = gears.shift_points(CAR)
    for i, speed in enumerate(shifts.speed):
        force = gears.thrust(CAR, speed).force
        if shifts.at_limit[i]:
            assert force[i] > force[i + 1]
            assert shifts.before[i] == pytest.approx(CAR.top_engine_speed)
        else:
            assert force[i] == pytest.approx(force[i + 1], rel=1e-9)
            assert gears.thrust(CAR, speed * 1.02).force[i] < gears.thrust(CAR, speed * 1.02).force[i + 1]
        assert shifts.after[i] / shifts.before[i] == pytest.approx(RATIOS[i + 1] / RATIOS[i])
    assert shifts.at_limit.any()
    assert not shifts.at_limit.all()


@pytest.mark.analytic
def test_constant_power_shifts_as_soon_as_the_next_gear_reaches_the_curve_and_constant_torque_at_the_limit():
    turning = np.linspace(200.0, 700.0, 2001)
    flat = Drivetrain(turning, np.full(2001, 150.0), [3.0, 2.0], 4.0, 0.3)
    assert gears.shift_points(flat).at_limit[0]
    # torque falling as a − b·ω: T1·g1 = T2·g2 at V = a(g1 − g2)/(b(g1² − g2²)) = a/(b(g1 + g2))
    a, b = 300.0, 0.3
    falling = Drivetrain(turning, a - b * turning, [3.0, 2.0], 4.0, 0.3)
    g1, g2 = falling.gearing
    assert gears.shift_points(falling).speed[0] == pytest.approx(a / (b * (g1 + g2)), rel=1e-9)


def test_a_gap_between_gears_is_flagged():
    wide = Drivetrain([400.0, 700.0], [100.0, 100.0], [4.0, 1.0], 4.0, 0.3)
    found = gears.shift_points(wide)
    assert found.gap[0]
    assert found.at_limit[0]
    assert len(gears.shift_points(Drivetrain(SPEEDS, TORQUE, [1.0], 4.0, 0.3)).speed) == 0


@pytest.mark.analytic
def test_top_speed_balances_push_and_air_or_sits_at_the_limit():
    mass, drag = np.array([900.0, 1400.0]), np.array([[0.5], [0.8], [1.2]])
    found = gears.top_speed(CAR, mass, drag)
    assert found.speed.shape == (3, 2)
    push = gears.thrust(CAR, found.speed).force.max(axis=0)
    held = gears.resistance(found.speed, mass, drag)
    np.testing.assert_allclose(push[~found.at_limit], held[~found.at_limit], rtol=1e-6)
    assert np.all(np.diff(found.speed, axis=0) <= 0)
    short = gears.top_speed(Drivetrain(SPEEDS, TORQUE, [3.2, 2.5], 4.1, 0.3), 1000.0, 0.6)
    assert bool(short.at_limit)
    assert float(short.speed) == pytest.approx(float(SPEEDS[-1]) * 0.3 / (2.5 * 4.1))
    # constant power and no rolling: P = ½ρC_D·A·V³
    turning = np.linspace(100.0, 700.0, 3001)
    even = Drivetrain(turning, 90e3 / turning, RATIOS, 3.0, 0.3, 1.0)
    speed = float(gears.top_speed(even, 1000.0, 0.7, 0.0).speed)
    assert speed == pytest.approx((90e3 / (0.5 * 1.225 * 0.7)) ** (1 / 3), rel=1e-5)
    with pytest.raises(InputError, match="hold some speed"):
        gears.top_speed(CAR, 1e6, 0.5)


@pytest.mark.analytic
def test_the_gear_for_a_corner_pushes_hardest():
    speed = gears.corner_speed(np.array([30.0, 60.0, 120.0]), 9.81)
    np.testing.assert_allclose(np.square(speed) / [30.0, 60.0, 120.0], 9.81)
    found = gears.gear_for(CAR, speed)
    force = gears.thrust(CAR, speed).force
    np.testing.assert_allclose(found.force, force.max(axis=0))
    assert np.all(np.diff(found.gear) >= 0)
    np.testing.assert_allclose(speed_in_gear(CAR.top_engine_speed)[found.gear - 1], speed + found.speed_left)
    beyond = gears.gear_for(CAR, np.array([0.01, 300.0]))
    assert list(beyond.gear) == [0, 0]
    assert int(gears.gear_for(CAR, 17.0).gear) == found.gear[0]


@pytest.mark.analytic
def test_acceleration_is_zero_at_top_speed_and_follows_mass():
    top = float(gears.top_speed(CAR, 1100.0, 0.8).speed)
    assert float(gears.acceleration(CAR, top, 1100.0, 0.8)) == pytest.approx(0.0, abs=1e-6)
    light, heavy = (float(gears.acceleration(CAR, 15.0, m, 0.0, 0.0)) for m in (900.0, 1800.0))
    assert light == pytest.approx(2 * heavy)


@pytest.mark.parametrize(("change", "words"), [
    ({"torque": [100.0]}, "at least two pairs"),
    ({"engine_speed": SPEEDS[::-1]}, "must rise"),
    ({"engine_speed": SPEEDS / RPM}, "is the unit rev/min"),
    ({"torque": -TORQUE}, "0 to 3000"),
    ({"ratios": RATIOS[::-1]}, "fall from gear to gear"),
    ({"ratios": []}, "gear ratios"),
    ({"final_drive": 0.0}, "final drive must be"),
    ({"tyre_radius": 30.0}, "tyre radius must be 0.1 to 0.6 m"),
    ({"efficiency": 1.2}, "efficiency must be"),
    ({"limit": 9000 * RPM}, "rev limit must lie on the engine curve, got 9000"),
])  # fmt: skip
def test_numbers_that_no_car_has_are_refused(change, words):
    numbers = {"engine_speed": SPEEDS, "torque": TORQUE, "ratios": RATIOS, "final_drive": 4.1, "tyre_radius": 0.3}
    with pytest.raises(InputError, match=words):
        Drivetrain(**(numbers | change))
