"""The curves of one axle, against work and moment written out by hand."""

import numpy as np
import pytest

from vdlib.trim.suspension import bar_wheel_rate, roll_centre_height, static_toe, stop_force, toe_change, wheel_rate

pytestmark = pytest.mark.analytic


def test_wheel_rate_stores_the_springs_energy():
    """½·k_w·s² at the wheel is ½·k·(MR·s)² in the spring."""
    spring, ratio, travel = np.array([20e3, 58e3, 90e3]), np.array([0.55, 0.68, 0.97]), 0.03
    np.testing.assert_allclose(0.5 * wheel_rate(spring, ratio) * travel**2, 0.5 * spring * (ratio * travel) ** 2)


def test_a_bar_resists_roll_with_its_own_moment():
    """One degree of roll moves the wheels by ±t·φ/2; force on the difference times track is the bar's moment."""
    bar, track, roll = 9000.0, 1.48, np.radians(1.0)
    difference = track * roll
    assert bar_wheel_rate(bar, track) * difference * track == pytest.approx(bar * roll)


def test_a_stop_is_silent_in_its_gap_and_its_rate_is_the_slope_of_its_force():
    travel = np.linspace(-0.02, 0.06, 81)
    force, rate = stop_force(travel, 0.025, 6e6)
    assert np.all(force[travel <= 0.025] == 0)
    assert np.all(rate[travel <= 0.025] == 0)
    np.testing.assert_allclose(np.gradient(force, travel)[2:-2], rate[2:-2], atol=6e6 * 0.001)
    energy = np.sum(0.5 * (force[1:] + force[:-1]) * np.diff(travel))
    assert energy == pytest.approx(6e6 * 0.035**3 / 6, rel=1e-3)


def test_toe_follows_its_curve_and_stands_as_read_at_the_height_it_was_read_at():
    slope, bend = np.radians(4.0), np.radians(-35.0)
    travel = np.linspace(-0.05, 0.05, 101)
    np.testing.assert_allclose(np.gradient(toe_change(travel, slope, bend), travel)[50], slope, rtol=1e-9)
    assert toe_change(0.0, slope, bend) == 0
    assert static_toe(0.002, 0.117, 0.117, 0.135, slope, bend) == pytest.approx(0.002)
    lower = static_toe(0.002, 0.107, 0.117, 0.135, slope, bend)
    assert lower - 0.002 == pytest.approx(toe_change(0.028, slope, bend) - toe_change(0.018, slope, bend))


def test_the_roll_centre_rises_with_the_body_and_sinks_with_both_wheels_in_bump():
    assert roll_centre_height(0.05, 1.5, 0.02) == pytest.approx(0.08)
    assert roll_centre_height(0.05, 1.5, 0.02, 0.02) == pytest.approx(0.05)
