"""Roll centre from four front-view points: analytic cases, real links, errors by another way, one clear fault each."""

import numpy as np
import pytest
from test_linkage import LINKS, Linkage
from test_linkage import slope as slope_of_links

from vdlib.car import shelf
from vdlib.car.examples import load_example
from vdlib.checks import InputError
from vdlib.garage.car_from import base_of, car_from
from vdlib.garage.form_fields import FIELDS, LINK_POINTS
from vdlib.garage.roll_centre import POINT, roll_centre
from vdlib.garage.typed import Readings
from vdlib.trim.suspension import roll_centre_height
from vdlib.units import from_si

HALF = (0.74, 0.75)


@pytest.fixture(autouse=True)
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))


def points(**four):
    return dict(zip(LINK_POINTS, four.values(), strict=True)) if four else {}


def of_links(i):
    return {
        f"{link}_{end}": LINKS[i][link][k] for link in ("lower", "upper") for k, end in enumerate(("inner", "outer"))
    }


@pytest.mark.analytic
def test_links_that_meet_where_one_can_see_it():
    """Lower link level at 0.15 m, upper one falling inward by 1 in 5 from (0.7, 0.4): they meet 1.25 m further in."""
    four = points(li=(0.3, 0.15), lo=(0.7, 0.15), ui=(0.4, 0.34), uo=(0.7, 0.4))
    found = roll_centre(four, 0.75)
    np.testing.assert_allclose(found.instant, (-0.55, 0.15), atol=1e-12)
    assert found.height.value == pytest.approx(0.15 * 0.75 / (0.75 + 0.55), abs=1e-12)


@pytest.mark.analytic
@pytest.mark.parametrize("fall", [0.0, 0.1, -0.05])
def test_parallel_links_have_it_on_a_line_of_their_own_slope(fall):
    """They meet at infinity: the line through the foot is parallel to them, ``h = −(t/2)·slope``."""
    at = lambda y, z: (y, z + fall * y)  # noqa: E731
    four = points(li=at(0.3, 0.15), lo=at(0.7, 0.15), ui=at(0.35, 0.38), uo=at(0.68, 0.38))
    found = roll_centre(four, 0.75)
    assert found.height.value == pytest.approx(-0.75 * fall, abs=1e-9)


@pytest.mark.analytic
def test_level_parallel_links_carry_it_down_with_twice_nothing():
    """Level and of one length they stay parallel, and tilt by ``rise/length``: it moves by ``t/2`` over that length."""
    four = points(li=(0.3, 0.15), lo=(0.7, 0.15), ui=(0.3, 0.38), uo=(0.7, 0.38))
    found = roll_centre(four, 0.75)
    assert found.height.value == pytest.approx(0.0, abs=1e-12)
    assert found.slope.value == pytest.approx(0.75 / 0.4, rel=1e-4)


@pytest.mark.analytic
@pytest.mark.parametrize("i", [0, 1])
def test_real_links_solved_by_their_lengths_say_the_same(i):
    found = roll_centre(of_links(i), HALF[i])
    assert found.height.value == pytest.approx(Linkage().roll_centre(i), abs=1e-9)
    assert found.slope.value == pytest.approx(slope_of_links(i), rel=0.01)


@pytest.mark.analytic
def test_the_error_is_that_of_each_reading_added_in_squares_and_of_many_drawn_at_random():
    four, tiny = of_links(1), 1e-5

    def height(off):
        return roll_centre({name: np.array(four[name]) + off.get(name, 0.0) for name in four}, HALF[1]).height.value

    steps = [{name: tiny * np.eye(2)[k]} for name in four for k in (0, 1)]
    slopes = [(height(one) - height({name: -by for name, by in one.items()})) / (2 * tiny) for one in steps]
    said = roll_centre(four, HALF[1]).height.sigma
    assert said == pytest.approx(POINT * np.linalg.norm(slopes), rel=0.01)
    rng = np.random.default_rng(3)
    drawn = [height({name: rng.normal(0, POINT, 2) for name in four}) for _ in range(24)]
    assert said == pytest.approx(np.std(drawn), rel=0.25)  # 24 draws tell it to 14 %


@pytest.mark.parametrize(
    ("change", "field", "remedy"),
    [
        ({"lower_inner": (0.72, 0.15)}, "lower link, inner end", "inner and outer swapped"),
        ({"upper_inner": (0.4, 0.10)}, "upper link, inner end", "upper and lower swapped"),
        ({"upper_outer": (0.7, 0.10)}, "upper link, outer end", "upper and lower swapped"),
        ({"upper_inner": (0.4, 0.62)}, "roll centre", "read the four points again"),
    ],
)
def test_each_fault_is_one_clear_error(change, field, remedy):
    four = points(li=(0.3, 0.17), lo=(0.7, 0.15), ui=(0.4, 0.38), uo=(0.68, 0.4)) | change
    with pytest.raises(InputError) as fault:
        roll_centre(four, 0.75)
    (problem,) = fault.value.problems
    assert field in problem.field
    assert remedy in problem.remedy


def typed(four, end="front"):
    ways = [(name, way, k) for name in LINK_POINTS for k, way in enumerate(("out", "up"))]
    return {f"curves.{end}_{name}_{way}": f"{1e3 * four[name][k]:.0f}" for name, way, k in ways}


def form(more):
    heights = dict.fromkeys(("heights.front_left", "heights.front_right"), "650") | {"heights.front_reference": "640"}
    rear = dict.fromkeys(("heights.rear_left", "heights.rear_right"), "630") | {"heights.rear_reference": "630"}
    return Readings(
        "a car", heights | rear | {"corners.front_track": "1480"} | more, {"start.from": "example two-seater"}
    )


def test_the_form_takes_it_to_the_reference_height():
    readings = form(typed(of_links(0)))
    answer = car_from(readings, base_of(readings))
    assert not answer.problems
    axle = answer.file.car.front
    assert answer.file.origin["front.roll_centre"] == "measured"
    stands = roll_centre(of_links(0), 0.74).height.value
    again = roll_centre_height(
        axle.roll_centre, axle.roll_centre_slope, answer.file.setup.front.height - axle.reference_height
    )
    assert from_si(again - stands, "mm") == pytest.approx(0.0, abs=0.5)  # points are typed to whole millimetres
    assert answer.measured["front.roll_centre"].sigma > 0
    assert "rear.roll_centre" not in answer.measured


def test_a_point_missing_is_asked_for_and_a_swap_named_with_its_axle():
    some = typed(of_links(0))
    some.pop("curves.front_upper_outer_up")
    answer = car_from(form(some), load_example("two-seater"))
    assert FIELDS["curves.front_upper_outer_up"].label in answer.steps["curves"].waiting
    assert "front.roll_centre" not in answer.measured
    swapped = dict(of_links(1), lower_inner=of_links(1)["lower_outer"], lower_outer=of_links(1)["lower_inner"])
    (problem,) = car_from(form(typed(swapped, "rear")), load_example("two-seater")).problems
    assert problem.field == "rear lower link, inner end"
