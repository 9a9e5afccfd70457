"""Strings and plumb line: toe, thrust angle and camber against printed values and against points in the plane."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdlib.car import examples
from vdlib.checks import InputError
from vdlib.garage import readings
from vdlib.garage.alignment import camber_from_plumb, rim_angle, rim_difference, toe_from_strings
from vdlib.garage.instruments import tape_limit
from vdlib.units import from_si, to_si

DEG = to_si(1.0, "deg")
BASE, DIAMETER, WIDTHS = 2.45, 0.43, (1.68, 1.72)
small = st.floats(-0.8, 0.8)


@pytest.mark.analytic
def test_toe_in_millimetres():
    assert from_si(rim_angle(0.2, 0.4), "deg") == pytest.approx(30)  # sin 30° = ½
    assert from_si(rim_angle(-0.2, 0.4), "deg") == pytest.approx(-30)
    assert rim_difference(to_si(30.0, "deg"), 0.4) == pytest.approx(0.2)
    assert rim_difference(rim_angle(0.004, 0.43), 0.43) == pytest.approx(0.004)


@pytest.mark.common_practice
def test_half_a_millimetre_over_a_rim():
    assert from_si(rim_angle(0.0005, 0.400), "deg") == pytest.approx(0.07, abs=0.005)  # common practice, no source


def read(toes, lines, **kind):
    ahead, behind, spacing = readings.string_readings(toes, DIAMETER, BASE, WIDTHS, lines)
    given = {"spacing": tuple(spacing)} if kind.get("by_spacing") else {"widths": WIDTHS}
    return toe_from_strings(ahead, behind, DIAMETER, BASE, **given)


@given(
    toes=st.lists(small, min_size=4, max_size=4),
    left=st.tuples(st.floats(0.9, 1.1), st.floats(-0.03, 0.03)),
    right=st.tuples(st.floats(0.9, 1.1), st.floats(-0.03, 0.03)),
    by_spacing=st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_strings_at_any_angle_give_the_toe_back(toes, left, right, by_spacing):
    toes = np.array(toes).reshape(2, 2) * DEG
    lines = tuple((front, front + skew) for front, skew in (left, right))
    found = read(toes, lines, by_spacing=by_spacing)
    # rims turn about their middles and readings are square to the string: what is left is cosines, under 0.001 degrees
    assert found.wheel.value == pytest.approx(toes, abs=0.001 * DEG)
    assert found.total.value == pytest.approx(toes.sum(axis=1), abs=0.002 * DEG)
    assert found.thrust.value == pytest.approx((toes[1, 1] - toes[1, 0]) / 2, abs=0.001 * DEG)
    assert found.skew.value == pytest.approx([-np.arctan(left[1] / BASE), -np.arctan(right[1] / BASE)], abs=0.001 * DEG)


@pytest.mark.analytic
def test_skewed_strings_alone_are_no_toe():
    found = read(np.zeros((2, 2)), ((1.02, 0.98), (1.00, 1.03)))
    assert found.wheel.value == pytest.approx(np.zeros((2, 2)), abs=1e-6)
    assert found.skew.value[0] > 0 > found.skew.value[1]


@pytest.mark.analytic
def test_thrust_points_left_when_the_right_rear_toes_in():
    toes = np.array([[0.0, 0.0], [0.0, 0.2]]) * DEG  # a right wheel that toes in points to the left
    assert read(toes, ((1.0, 1.0), (1.0, 1.0))).thrust.value == pytest.approx(0.1 * DEG, abs=1e-6)


def test_errors_of_the_strings_cover():
    rng = np.random.default_rng(11)
    n, true = 20_000, np.array([[0.03, 0.06], [0.15, 0.12]]) * DEG
    ahead, behind, spacing = readings.string_readings(true, DIAMETER, BASE, WIDTHS, ((1.02, 1.0), (1.0, 1.01)))

    def ruled(value):
        return np.asarray(value)[..., None] + 0.5e-3 * rng.uniform(-1, 1, (*np.shape(value), n))

    def taped(value):
        return ruled(value) + tape_limit(2.0, "II", True) * rng.uniform(-1, 1, (*np.shape(value), n))

    found = toe_from_strings(ruled(ahead), ruled(behind), DIAMETER, BASE, spacing=tuple(taped(spacing)))
    for one, value in ((found.wheel, true), (found.total, true.sum(axis=1)), (found.thrust, -0.015 * DEG)):
        off = (one.value - np.asarray(value)[..., None]) / one.sigma
        assert np.std(off, axis=-1) == pytest.approx(np.ones(off.shape[:-1]), abs=0.03)
        assert np.mean(off, axis=-1) == pytest.approx(np.zeros(off.shape[:-1]), abs=0.05)
    # two readings of ±0.5 mm over 430 mm: 0.054 degrees a wheel at least, before the string's own skew
    assert 0.054 < from_si(float(np.mean(found.wheel.sigma)), "deg") < 0.08


def test_hub_distances_read_apart():
    true = np.array([[0.03, 0.06], [0.15, 0.12]]) * DEG
    ahead, behind, _ = readings.string_readings(true, DIAMETER, BASE, WIDTHS, ((1.02, 1.0), (1.0, 1.01)))
    hubs = (ahead + behind) / 2 + 0.04  # the hub stands 40 mm inside the rim's face, all round alike
    found = toe_from_strings(ahead, behind, DIAMETER, BASE, WIDTHS, hubs=hubs)
    assert found.wheel.value == pytest.approx(true, abs=0.001 * DEG)


@pytest.mark.parametrize(("axle", "words"), [(0, "is the steering straight"), (1, "is the axle crooked")])
def test_opposite_signs_on_one_axle_are_questioned(axle, words):
    toes = np.array([[0.1, 0.1], [0.1, 0.1]]) * DEG
    toes[axle] = np.array([0.4, -0.3]) * DEG
    (ask,) = read(toes, ((1.0, 1.0), (1.0, 1.0))).questions
    assert words in ask.remedy
    assert ask.value == "left toes in 0.40°, right toes out 0.30°"
    assert read(np.abs(toes), ((1.0, 1.0), (1.0, 1.0))).questions == ()


def test_opposite_signs_within_the_error_are_left_alone():
    assert read(np.array([[0.05, -0.05], [0.1, 0.1]]) * DEG, ((1.0, 1.0), (1.0, 1.0))).questions == ()


def test_strings_name_the_reading_to_take_again():
    ahead, behind, _ = readings.string_readings(np.zeros((2, 2)), DIAMETER, BASE, WIDTHS, ((1.0, 1.0), (1.0, 1.0)))
    wrong = ahead.copy()
    wrong[1, 0] += 0.03
    with pytest.raises(InputError, match="read both rim edges of the rear left wheel again"):
        toe_from_strings(wrong, behind, DIAMETER, BASE, WIDTHS)
    with pytest.raises(InputError, match="front left, string to rim at its front edge must be 0 to 1000 mm"):
        toe_from_strings(ahead * 1e3, behind, DIAMETER, BASE, WIDTHS)
    with pytest.raises(InputError, match="must be four numbers"):
        toe_from_strings(ahead[0], behind[0], DIAMETER, BASE, WIDTHS)
    with pytest.raises(InputError, match="exactly one way"):
        toe_from_strings(ahead, behind, DIAMETER, BASE)


@pytest.mark.parametrize(
    "file", [examples.load_example(name) for name in examples.example_names()], ids=examples.example_names()
)
def test_a_car_on_strings(file):
    per_axle = readings.standing_toe(file.car, file.setup)
    found = read(np.stack([per_axle, per_axle], axis=1), ((1.01, 1.0), (1.0, 1.0)))
    assert found.total.value / 2 == pytest.approx(per_axle, abs=0.001 * DEG)
    assert found.questions == ()


def test_rims_of_their_own_size_may_be_cases_too():
    """The diameter of each wheel, three cases of it, with one set of readings: each case as on its own."""
    toes = np.array([[0.03, 0.06], [0.15, 0.12]]) * DEG
    ahead, behind, _ = readings.string_readings(toes, DIAMETER, BASE, WIDTHS, ((1.0, 1.01), (1.0, 1.0)))
    sizes = DIAMETER * np.linspace(0.98, 1.02, 12).reshape(2, 2, 3)
    many = toe_from_strings(ahead, behind, sizes, BASE, WIDTHS).wheel.value
    assert many.shape == (2, 2, 3)
    for k in range(3):
        one = toe_from_strings(ahead, behind, sizes[..., k], BASE, WIDTHS).wheel.value
        np.testing.assert_allclose(many[..., k], one, rtol=1e-12)


def test_cases_broadcast():
    toes = np.linspace(-0.3, 0.3, 5) * DEG
    many = read(np.broadcast_to(toes, (2, 2, 5)), ((1.0, 1.01), (1.0, 1.0)))
    assert many.wheel.value == pytest.approx(np.broadcast_to(toes, (2, 2, 5)), abs=0.001 * DEG)
    ahead, behind, _ = readings.string_readings(np.zeros((2, 2)), DIAMETER, BASE, WIDTHS, ((1.0, 1.0), (1.0, 1.0)))
    wide = toe_from_strings(ahead, behind, DIAMETER, np.array([2.44, 2.45, 2.46]), WIDTHS)
    assert wide.wheel.sigma.shape == (2, 2, 3)
    rims = np.array([[0.40, 0.42], [0.44, 0.46]])
    four = toe_from_strings(ahead + 0.001, behind, rims, BASE, WIDTHS)
    for wheel in np.ndindex(2, 2):
        alone = toe_from_strings(ahead + 0.001, behind, rims[wheel], BASE, WIDTHS)
        assert four.wheel.value[wheel] == pytest.approx(alone.wheel.value[wheel], abs=1e-12)


def test_a_string_farther_off_than_a_metre_is_asked_for_again():
    ahead, behind, _ = readings.string_readings(np.zeros((2, 2)), DIAMETER, BASE, WIDTHS, ((1.0, 1.0), (1.0, 1.0)))
    ahead[0, 0] = 1.05
    with pytest.raises(InputError, match=r"front edge must be 0 to 1000 mm, got 1050 mm"):
        toe_from_strings(ahead, behind, DIAMETER, BASE, WIDTHS)


# ---- camber -------------------------------------------------------------------------------------------------------


@pytest.mark.analytic
def test_camber_by_plumb_line():
    lean = -1.5 * DEG  # top in: the line hangs farther from the rim's top
    top, bottom = 0.05 + 0.2 * np.sin(-lean), 0.05 - 0.2 * np.sin(-lean)
    found = camber_from_plumb(top, bottom, 0.4)
    assert found.value == pytest.approx(lean)
    assert from_si(found.sigma, "deg") == pytest.approx(
        0.07 * np.sqrt(2 / 3), abs=0.002
    )  # two readings of ±0.07 degrees
    # a floor that rises outward by a degree: the same wheel leans a degree less against that floor
    assert camber_from_plumb(top, bottom, 0.4, floor=1.0 * DEG).value == pytest.approx(lean + 1.0 * DEG)


def test_camber_refusals():
    with pytest.raises(InputError, match="top and bottom again; were the two swapped"):
        camber_from_plumb(0.02, 0.06, 0.4)
    with pytest.raises(InputError, match="below the measuring diameter"):
        camber_from_plumb(0.5, 0.02, 0.4)
