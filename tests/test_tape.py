"""Tapes, rulers and scales as instruments; ride heights, springs, bars and travel curves measured with them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdlib.car import examples
from vdlib.car.records import attitude
from vdlib.checks import InputError
from vdlib.garage import readings
from vdlib.garage.instruments import Measured, Scale, Tape, carry, fit, measured, tape_limit, uniform
from vdlib.garage.tape import bar_of, motion_ratio, reference_heights, ride_heights, spring_rate
from vdlib.garage.travel_curves import camber_curve, toe_curve
from vdlib.lessons import rolling
from vdlib.trim.suspension import toe_change
from vdlib.units import G, from_si, to_si

CARS = [examples.load_example(name) for name in examples.example_names()]
DEG = to_si(1.0, "deg")


# ---- instruments --------------------------------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize(
    ("kind", "length", "printed"),
    # Directive 2014/32/EU, Annex MI-008, table 1: a + bL mm; a, b = 0.1, 0.1; 0.3, 0.2; 0.6, 0.4; L in m rounded up
    [
        ("II", 3, 0.9),
        ("II", 5, 1.3),
        ("II", 10, 2.3),
        ("I", 3, 0.4),
        ("III", 3, 1.8),
        ("II", 2.45, 0.9),
        ("II", 0.1, 0.5),
    ],
)
def test_tape_classes(kind, length, printed):
    assert from_si(tape_limit(length, kind), "mm") == pytest.approx(printed)


@pytest.mark.published
@pytest.mark.parametrize(("kind", "more"), [("I", 0.1), ("II", 0.2), ("III", 0.3)])  # the same table, column c
def test_a_tape_held_by_its_end_is_worse(kind, more):
    assert from_si(tape_limit(3.0, kind, True) - tape_limit(3.0, kind), "mm") == pytest.approx(more)


@pytest.mark.published
@pytest.mark.parametrize(
    ("divisions", "new"),
    # OIML R 76-1, table 6, class III: up to 500, 2000 and 10 000 divisions ±½, ±1, ±1½; in service twice that (3.5.2)
    [(500, 0.5), (501, 1.0), (2000, 1.0), (2001, 1.5), (10_000, 1.5)],
)
def test_scale_class(divisions, new):
    load = 0.2 * divisions
    assert Scale(0.2, in_service=False).limit(load) == pytest.approx(new * 0.2)
    assert Scale(0.2, in_service=True).limit(load) == pytest.approx(2 * new * 0.2)


def test_instruments_say_where_they_end():
    with pytest.raises(InputError, match="at most 10000 divisions"):
        Scale(0.01).limit(300.0)
    with pytest.raises(InputError, match="tape class must be I, II or III"):
        tape_limit(1.0, "IV")


@pytest.mark.analytic
def test_a_uniform_error_has_its_limit_over_root_three():
    draws = np.random.default_rng(0).uniform(-0.5, 0.5, 200_000)
    assert uniform(0.5) == pytest.approx(np.std(draws), rel=0.01)


@pytest.mark.analytic
def test_errors_are_carried_as_by_hand():
    two = {"x": Measured(3.0, 0.1), "y": Measured(np.array([4.0, 5.0]), 0.2)}
    found = carry(lambda x, y: {"sum": (x + y).sum(), "product": x * y}, two, {"y": 1})
    assert found["sum"].sigma == pytest.approx(np.sqrt((2 * 0.1) ** 2 + 2 * 0.2**2))  # the two y err apart, x in both
    assert found["product"].sigma == pytest.approx(np.sqrt((np.array([4.0, 5.0]) * 0.1) ** 2 + (3 * 0.2) ** 2))


@pytest.mark.analytic
def test_fit_is_least_squares():
    rng = np.random.default_rng(3)
    x, y = rng.normal(size=(6, 1)) * 0.02, rng.normal(size=(6, 3))
    ours = fit(x, y, 2)
    theirs = np.polynomial.polynomial.polyfit(x[:, 0], y, 2)
    assert ours == pytest.approx(theirs, rel=1e-6)


def test_measured_in_words():
    assert Measured(0.5123, 0.0104).words("mm", 0) == "512 ± 10 mm"
    assert measured(Measured(1.0, 2.0), 5.0).sigma == 2.0


# ---- ride heights -------------------------------------------------------------------------------------------------


@pytest.mark.analytic
@pytest.mark.parametrize("file", CARS, ids=examples.example_names())
@given(points=st.tuples(st.floats(-0.6, 0.9), st.floats(1.6, 3.2)))
@settings(max_examples=12, deadline=None)
def test_heights_at_two_points_give_the_setup_back(file, points):
    car, setup = file.car, file.setup
    one, two, ref_one, ref_two = readings.height_readings(car, setup, points)
    found = ride_heights(one, two, *points, car.wheelbase, (ref_one, ref_two))
    assert found.front.value == pytest.approx(setup.front.height)
    assert found.rear.value == pytest.approx(setup.rear.height)
    assert found.nose_high.value == pytest.approx(attitude(car, setup))
    assert np.tan(found.angle.value) == pytest.approx(attitude(car, setup) / car.wheelbase)
    assert reference_heights((ref_one, ref_two), *points, car.wheelbase) == pytest.approx(
        (car.front.reference_height, car.rear.reference_height)
    )


def test_heights_far_apart_cover_and_near_ones_are_worse():
    rng = np.random.default_rng(5)
    n, tape = 10_000, Tape()
    off = tape_limit(0.13, "II", True) * rng.uniform(-1, 1, (2, n)) + 0.5e-3 * rng.uniform(-1, 1, (2, n))
    far = ride_heights(0.141 + off[0], 0.117 + off[1], 0.0, 2.45, 2.45, (0.125, 0.135))
    assert np.std((far.nose_high.value - 0.034) / far.nose_high.sigma) == pytest.approx(1, abs=0.03)
    assert np.std((far.front.value - 0.141) / far.front.sigma) == pytest.approx(1, abs=0.03)
    near = ride_heights(0.141, 0.135, 0.5, 1.3, 2.45, (0.125, 0.128))
    assert near.nose_high.sigma > 2 * np.mean(far.nose_high.sigma)
    assert "nearer the axle lines" in near.questions[0].remedy
    assert tape.sigma(0.13) == pytest.approx(np.hypot(0.7e-3, 0.5e-3) / np.sqrt(3))


def test_heights_without_reference_and_wrong_ones():
    found = ride_heights(0.141, 0.117, 0.2, 2.2, 2.45)
    assert found.nose_high is None
    with pytest.raises(InputError, match="front and rear point swapped"):
        ride_heights(0.141, 0.117, 2.2, 0.2, 2.45)
    with pytest.raises(InputError, match="front ride height at the axle line must be 20 to 500 mm"):
        ride_heights(141.0, 117.0, 0.2, 2.2, 2.45)


# ---- springs and bars ---------------------------------------------------------------------------------------------


@pytest.mark.analytic
def test_spring_and_motion_ratio_from_readings():
    lengths = np.array([0.30, 0.28, 0.26])
    loads = np.array([40.0, 40 + 58e3 * 0.02 / G, 40 + 58e3 * 0.04 / G])
    spring = spring_rate(loads, lengths)
    assert spring.value.value == pytest.approx(58e3)
    assert spring.residuals == pytest.approx(0, abs=1e-6)
    # by hand, readings at −s, 0, s: σ(slope)/slope = σ_l·√2/(2s) from the ruler, σ_m·g·√2/(2s·k) from the scale
    ruler, scale = 0.5e-3 / np.sqrt(3), np.array([0.5, 1.0]) / np.sqrt(3)  # up to 250 kg ±½·2 divisions, then ±1·2
    low, high = np.hypot(np.sqrt(2) * ruler * 58e3, np.sqrt(2) * scale * G) / 0.04
    assert low * 0.99 < spring.value.sigma < high * 1.01
    ratio = motion_ratio([0.0, 0.02, 0.04], [0.0, 0.0136, 0.0272])
    assert ratio.value.value == pytest.approx(0.68)
    # readings off the line, by hand: Σ(x − x̄)(y − ȳ)/Σ(x − x̄)² of (0, 0), (2, 1), (7, 6) is 23/26
    off = motion_ratio([0.0, 0.002, 0.007], [0.0, 0.001, 0.006])
    assert off.value.value == pytest.approx(23 / 26)


def test_slips_with_springs():
    (ask,) = motion_ratio([0.0, 0.0136, 0.0272], [0.0, 0.018, 0.036]).questions
    assert "swapped" in ask.remedy
    with pytest.raises(InputError, match="spring rate must be 5 to 500 N/mm"):
        spring_rate([40.0, 158.0], [0.28, 0.30])
    with pytest.raises(InputError, match="at two places at least"):
        motion_ratio([0.02], [0.015])
    with pytest.raises(InputError, match="different places"):
        motion_ratio([0.02, 0.02], [0.015, 0.016])


@pytest.mark.published
def test_bars_of_the_measured_coupe():
    # K. Tse, "Simplified steady-state lateral load transfer analysis" (2021): solid 19 mm over 1026 mm, 0.201 deg of
    # twist for each mm of wheel travel, track 1481 mm, 80 GPa; rear roll stiffness 1004 Nm/deg with springs of
    # 80.2 N/mm at 0.59. The arm is the one that twists so much: 1/twist.
    arm = 1 / (np.radians(0.201) * 1e3)
    bar = bar_of(0.019, 1.026, Measured(arm, 0.0), 1.0, 1.481)
    springs = rolling.spring_roll_stiffness(to_si(80.2, "N_per_mm"), 0.59, 1.481)
    assert from_si(bar.value + springs, "Nm_per_deg") == pytest.approx(1004, abs=0.5)
    # the fourth power: 0.1 mm of 19 mm is 2.1 % of the bar, over √3
    assert bar.sigma / bar.value == pytest.approx(4 * 0.1 / 19 / np.sqrt(3), rel=0.02)


@pytest.mark.analytic
def test_tube_against_solid():
    solid = bar_of(0.024, 1.0, 0.2, 0.8, 1.5)
    tube = bar_of(0.024, 1.0, 0.2, 0.8, 1.5, bore=0.018)
    assert tube.value / solid.value == pytest.approx(1 - (18 / 24) ** 4)
    assert tube.sigma / tube.value > solid.sigma / solid.value
    with pytest.raises(InputError, match="at most 80 mm"):
        bar_of(24.0, 1.0, 0.2, 0.8, 1.5)
    with pytest.raises(InputError, match="wall must be finite and above zero"):
        bar_of(0.024, 1.0, 0.2, 0.8, 1.5, bore=0.024)


# ---- travel curves ------------------------------------------------------------------------------------------------


@pytest.mark.analytic
@given(
    slope=st.floats(-10, 10),
    bend=st.floats(-80, 80),
    start=st.floats(-0.3, 0.3),
    steps=st.lists(st.integers(-6, 6), min_size=3, max_size=5, unique=True),
)
@settings(max_examples=20, deadline=None)
def test_toe_curve_comes_back(slope, bend, start, steps):
    reference = 0.130
    heights = reference + np.array(steps) * 6e-3
    toes = start * DEG + toe_change(reference - heights, slope * DEG, bend * DEG)
    found = toe_curve(heights, toes, reference, 0.03 * DEG)
    assert found.at_reference.value == pytest.approx(start * DEG, abs=1e-9)
    assert found.slope.value == pytest.approx(slope * DEG, abs=1e-8)
    assert found.bend.value == pytest.approx(bend * DEG, abs=1e-6)


@pytest.mark.analytic
@pytest.mark.parametrize("file", CARS, ids=examples.example_names())
@pytest.mark.parametrize("end", ["front", "rear"])
def test_standing_toe_of_a_car_at_three_heights_gives_its_curve(file, end):
    car, i = file.car, 0 if end == "front" else 1
    heights = {e: getattr(car, e).reference_height + np.array([-0.02, 0.0, 0.025]) for e in ("front", "rear")}
    axle = getattr(car, end)
    setup = replace(file.setup).with_heights(heights["front"], heights["rear"])
    found = toe_curve(heights[end], readings.standing_toe(car, setup)[i], axle.reference_height, 0.03 * DEG)
    assert found.slope.value == pytest.approx(axle.toe_slope)
    assert found.bend.value == pytest.approx(axle.toe_bend)


@pytest.mark.parametrize("steps", [(-0.025, 0.0, 0.025), (-0.03, 0.02), (0.0, 0.03)])
def test_errors_of_the_toe_curve_cover(steps):
    rng = np.random.default_rng(7)
    n, reference, sigma = 6000, 0.130, 0.04 * DEG
    true = reference + np.array(steps)
    slope = 3.0 * DEG
    bend = rng.uniform(-60, 60, n) * DEG
    toes = 0.1 * DEG + toe_change((reference - true)[:, None], slope, bend) + sigma * rng.normal(size=(len(steps), n))
    off = tape_limit(0.13, "II", True) * rng.uniform(-1, 1, toes.shape) + 0.5e-3 * rng.uniform(-1, 1, toes.shape)
    found = toe_curve(true[:, None] + off, toes, reference, sigma)
    assert (found.bend is None) == (len(steps) == 2)
    assert np.std((found.slope.value - slope) / found.slope.sigma) == pytest.approx(1, abs=0.04)
    assert np.std((found.at_reference.value - 0.1 * DEG) / found.at_reference.sigma) == pytest.approx(1, abs=0.04)


def test_camber_curve_and_one_wrong_reading():
    heights = np.array([0.105, 0.115, 0.125, 0.135, 0.145])
    camber = (-1.0 - 18 * (0.125 - heights)) * DEG
    found = camber_curve(heights, camber, 0.125, 0.1 * DEG)
    assert from_si(found.slope.value, "deg_per_m") == pytest.approx(-18)
    assert found.questions == ()
    wrong = camber + np.array([0, 0, 0, 1.5, 0]) * DEG
    (ask,) = camber_curve(heights, wrong, 0.125, 0.1 * DEG).questions
    assert ask.field == "camber reading 4"
    assert "135 mm" in ask.remedy


def test_travel_curve_refusals():
    with pytest.raises(InputError, match="at two heights at least"):
        toe_curve([0.12], [0.001], 0.125, 0.001)
    with pytest.raises(InputError, match="must differ"):
        toe_curve([0.12, 0.12], [0.001, 0.002], 0.125, 0.001)
    with pytest.raises(InputError, match="toe change with bump must be -60 to 60 deg/m"):
        toe_curve([0.12, 0.14], [0.0, 0.1], 0.125, 0.001)
    (ask,) = toe_curve([0.125, 0.135], [0.001, 0.002], 0.125, 0.001).questions
    assert "move the body further" in ask.remedy
