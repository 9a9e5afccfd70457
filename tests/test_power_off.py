"""Power-off in a turn: the settled yaw-rate ratio of a linear car in closed form, and what the readings must be."""

import re
from dataclasses import replace

import numpy as np
import pytest
from driving import drive

from vdlib.answers import motion, motion_start
from vdlib.answers.balance import balance
from vdlib.answers.lift import Scenario, simulate
from vdlib.answers.power_off import FROM, RADIUS, STEP, power_off, series
from vdlib.answers.stacking import stack
from vdlib.car import examples
from vdlib.car.records import Moment, reference_setup
from vdlib.car.reference import reference_of
from vdlib.checks import InputError
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import power_off as power_off_panel
from vdlib.units import G

pytestmark = pytest.mark.unpainted

FILE = examples.load_example("low-two-seater")
CAR, SETUP = FILE.car, FILE.setup


def linear(front=1.0, rear=1.0):
    """Tyres far from their grip, whose stiffness no load moves, the weight low, no air: the books' two-wheel car."""
    still = {"toe_slope": 0.0, "toe_bend": 0.0, "camber_slope": 0.0, "roll_centre_slope": 0.0, "wheel_radius": 0.2}
    weight = 0.5 * CAR.mass * G

    def axle(own, part, load):
        changes = {"grip": 2.5, "grip_fall": 0.0, "camber_thrust": 0.0, "camber_loss": 0.0, "stiffness_load": load}
        tyre = replace(own.tyre, stiffness_max=60e3 * part, **changes)
        return replace(own, tyre=tyre, unsprung_mass=10.0, **still)

    ends = axle(CAR.front, front, weight * CAR.front_share), axle(CAR.rear, rear, weight * (1 - CAR.front_share))
    return replace(CAR, cg_height=0.2, drag_area=0.0, front=ends[0], rear=ends[1])


@pytest.mark.analytic
@pytest.mark.parametrize(("front", "rear"), [(0.8, 1.6), pytest.param(0.9, 1.3, marks=pytest.mark.slow), (1.0, 1.3)])
def test_a_linear_car_settles_on_the_yaw_rate_ratio_of_the_closed_form(front, rear, monkeypatch):
    monkeypatch.setattr(motion, "ROLLING", 0.0)  # outer wheels roll harder, which is not in the closed form
    monkeypatch.setattr(motion_start, "ROLLING", 0.0)
    car = linear(front, rear)
    setup = replace(reference_setup(car, SETUP), caster=0.0)
    lateral, radius = 1.5, 100.0
    speed = float(np.sqrt(lateral * radius))
    run = simulate(car, setup, Scenario(speed, lateral, lift=0.05, starts=0.0, lasts=3.1))
    found = power_off(run, 0.0)
    for after, ratio in ((1.0, found.yaw_ratio_1s), (2.0, found.yaw_ratio_2s)):
        at = int(np.argmin(np.abs(run.time - after)))
        assert ratio == pytest.approx(run.yaw_rate[at] * radius / run.speed[at], rel=1e-6)
    gradient = float(balance(car, setup, Moment(speed, lateral)).gradient)
    base, now = car.wheelbase, float(run.speed[np.argmin(np.abs(run.time - 2.0))])
    # 0.4 %: the speed still falls and the tyres are not quite linear
    closed = (1 + gradient * speed**2 / base) / (1 + gradient * now**2 / base)
    assert found.yaw_ratio_2s == pytest.approx(closed, abs=4e-3)
    assert found.radius_ratio == pytest.approx(1 / float(found.yaw_ratio_2s), rel=0.01)
    assert found.deceleration == pytest.approx(0.05 * G, rel=0.08)


@pytest.mark.analytic
def test_the_sunk_tail_has_its_knee_at_less_lateral_acceleration():
    both = stack([reference_setup(CAR, SETUP), SETUP], 1)
    found = series(CAR, both, 0.10)
    assert found.lateral.shape == (2, 11)
    np.testing.assert_allclose(found.lateral[0], np.arange(FROM, 9.1, STEP), rtol=1e-6)
    assert RADIUS == 100.0
    assert found.knee[1] < found.knee[0] + 1e-6
    assert found.knee[0] < 9.0
    assert (found.yaw_ratio_1s[:, 0] > 1).all()  # the nose tucks in


def test_a_run_that_is_too_short_is_refused():
    run = simulate(CAR, SETUP, Scenario(20.0, 4.0, starts=0.2, lasts=1.0))
    with pytest.raises(InputError, match="time after the throttle closes must be 3 s at least"):
        power_off(run, 0.2)


def _both(file):
    reference = reference_of(file)
    return stack([reference.car, file.car], 1), stack([reference.setup, file.setup], 1)


def test_the_panel_shows_the_test_and_says_its_knees():
    panel = power_off_panel.panel(FILE)
    visits = drive(panel, again=False, brief=True)
    assert not [visit.message for visit in visits if visit.message]
    found = panel.result.found
    slide = panel.picture.figure.axes[0]
    for i, line in enumerate([each for each in slide.lines if each.get_animated()][:2]):
        np.testing.assert_allclose(
            line.get_ydata(), np.where(found.holds[i], np.degrees(found.sideslip_gained[i]), np.nan)
        )
    said = re.sub("<[^>]*>", " ", panel.words_html.value)
    assert said.strip().startswith("On a radius of 100 m.")
    for knee in found.knee:
        assert f"{float(knee) / G:.2f} g" in said
    assert len({visit.words for visit in visits}) == len({visit.state["drag"] for visit in visits})
    np.testing.assert_array_equal(  # the table is kept, for no lift of the throttle moves it
        found.sideslip_gained, series(*_both(FILE), panel.state["drag"], power_off_panel.MOST).sideslip_gained
    )
    rough = panel.rough(panel.state).found  # coarser steps in time
    both = found.holds & ~found.spun
    assert np.array_equal(rough.holds, found.holds)
    np.testing.assert_allclose(rough.sideslip_gained[both], found.sideslip_gained[both], atol=np.radians(0.3))
    assert smallest_text(panel.picture.figure) >= SMALLEST


def test_a_circle_that_cannot_be_held_is_not_drawn_and_is_said():
    panel = power_off_panel.panel(examples.load_example("hatch"))
    found = panel.result.found
    assert not found.holds.all()
    line = next(each for each in panel.picture.figure.axes[0].lines if each.get_animated())
    assert np.isnan(line.get_ydata()[~found.holds[0]]).all()
