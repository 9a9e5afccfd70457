"""Four wheels, book figures, errors, kinds and measuring points in a car file: read, kept, refused in words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from carfile_texts import BASE as WHOLE
from carfile_texts import NAMES, TEXTS, assert_same, corners, edited, faults

from vdlib.answers.doubts import doubts_of
from vdlib.answers.spread import draw, plausible
from vdlib.car.carfile import Figures, Known, Points, parse, read, render, write
from vdlib.car.kinds import Kinds
from vdlib.car.known import axle_heights
from vdlib.car.records import AxleSetup
from vdlib.car.reference import reference_of
from vdlib.car.typical import origins
from vdlib.checks import InputError
from vdlib.units import from_si, to_si

BASE = WHOLE[: WHOLE.index("\n[kinds]")]
"""An example as files were before they could say more than numbers."""
REAR = BASE[BASE.index("[setup.rear]") :]
TOES = "\n[setup.rear_left]\ntoe_deg = 0.05   # read on the strings\n\n[setup.rear_right]\ntoe_deg = 0.3\n"
UNEVEN = BASE.replace(REAR, REAR.replace("toe_deg = 0.15\n", "")) + TOES
BOOK = """
[points]
what = "sill seam"
front_behind_mm = 400
rear_behind_mm = 2000
rear_above_mm = 12

[book]
source = "an invented handbook, page 7"   # kept
heights_at = "points"
cross_weight_percent = 49.5
front.height_mm = 120
front.height_tolerance_mm = 5
rear.height_mm = 145
front.toe_deg = 0.05
rear_left.camber_deg = -1.1
rear_right.camber_deg = -1.3
rear.tyre = "road"
"""
MORE = """
[error]
"setup.front.height_mm" = 1.5  # tape
setup.rear_left.toe_deg = 0.03

[kinds]
front = "strut"
rear = "multi-link"
tyre = "road"
body = "low two-seater"
height = "lowered"
"""


def deg(value):
    return from_si(value, "deg")


def assert_known(one: Known, other: Known) -> None:
    """The same to rounding."""
    assert (one.kinds, one.errors) == (other.kinds, pytest.approx(other.errors, rel=1e-12))
    assert one.points is not None
    assert one.points.behind + one.points.above == pytest.approx(other.points.behind + other.points.above)
    assert (one.points.what, one.figures.tyres) == (other.points.what, other.figures.tyres)
    texts = ("table", "name", "source", "heights_at")
    assert all(getattr(one.figures, key) == getattr(other.figures, key) for key in texts)
    assert one.figures.values == pytest.approx(other.figures.values, rel=1e-12)
    assert one.figures.tolerances == pytest.approx(other.figures.tolerances, rel=1e-12)


# ---- wheels --------------------------------------------------------------------------------------------------------


def test_a_wheel_of_its_own_is_mean_and_difference():
    rear = parse(UNEVEN).setup.rear
    assert [deg(v) for v in rear.wheels("toe")] == pytest.approx([0.05, 0.3])
    assert (deg(rear.toe), deg(rear.toe_difference)) == pytest.approx((0.175, -0.25))
    assert rear.wheels("camber") == (rear.camber, rear.camber)
    assert not parse(BASE).setup.rear.uneven
    assert rear.uneven


def test_wheels_come_back_to_the_byte_and_only_the_changed_one_changes(tmp_path):
    found = parse(UNEVEN)
    assert render(found.car, found.setup, None, found.text) == UNEVEN
    axle = found.setup.rear.with_wheels("toe", to_si(0.05, "deg"), to_si(0.31, "deg"))
    text = render(found.car, replace(found.setup, rear=axle), None, found.text)
    assert text == UNEVEN.replace("toe_deg = 0.3\n", "toe_deg = 0.31\n")
    even = replace(found.setup.rear, toe=0.003, toe_difference=0.0)
    assert_same(parse(render(found.car, replace(found.setup, rear=even), None, found.text)), found.car,
                replace(found.setup, rear=even))  # fmt: skip


def test_every_number_of_a_wheel_goes_round():
    found = parse(BASE)
    rng = np.random.default_rng(3)
    for _ in range(6):
        ends = {}
        for end in ("front", "rear"):
            axle: AxleSetup = getattr(found.setup, end)
            for name, size in (("height", 0.02), ("toe", 0.01), ("camber", 0.02), ("pressure", 3e4)):
                axle = axle.with_wheels(name, *(getattr(axle, name) + size * rng.uniform(-1, 1, 2)))
            ends[end] = replace(
                axle, aligned_height_difference=0.01 * rng.uniform(-1, 1), weighed_difference=0.01 * rng.uniform(-1, 1)
            )
        setup = replace(found.setup, **ends)
        again = parse(render(found.car, setup, None, found.text)).setup
        for end in ("front", "rear"):
            one, other = getattr(again, end), getattr(setup, end)
            for name, value in vars(other).items():
                assert getattr(one, name) == pytest.approx(value, rel=1e-10, abs=1e-15), (end, name)


def test_a_car_weighed_as_it_is_keeps_its_corner_weights():
    heights = edited("height_mm = 117\n", "", BASE) + (
        "\n[setup.rear_left]\nheight_mm = 112\n[setup.rear_right]\nheight_mm = 122\n"
    )
    assert parse(heights).setup.rear.weighed_difference == 0.0
    weighed = parse(heights + corners(250, 248, 330, 332)).setup
    assert weighed.rear.weighed_difference == weighed.rear.height_difference == pytest.approx(-0.010)
    assert weighed.front.weighed_difference == 0.0
    found = parse(heights + corners(250, 248, 330, 332))
    assert render(found.car, found.setup, None, found.text) == found.text


def test_both_an_axle_and_a_wheel_value_is_one_message():
    found = faults(BASE + TOES)
    assert list(found) == ["setup.rear.toe_deg"]
    assert "must not stand beside setup.rear_left.toe_deg" in found["setup.rear.toe_deg"]
    assert "keep the axle's line where both wheels are alike" in found["setup.rear.toe_deg"]


def test_a_wheel_missing_is_one_message():
    found = faults(UNEVEN.replace("toe_deg = 0.3\n", ""))
    assert list(found) == ["setup.rear_right.toe_deg"]
    assert "is missing, while setup.rear_left.toe_deg is there" in found["setup.rear_right.toe_deg"]


def test_a_wheel_out_of_range_or_of_another_kind_is_told():
    assert "setup.rear_right.toe_deg must be -2 to 2 deg" in " ".join(
        faults(UNEVEN.replace("toe_deg = 0.3\n", "toe_deg = 30\n")).values()
    )
    found = faults(UNEVEN.replace("[setup.rear_left]\n", "[setup.rear_left]\nspring_N_per_mm = 70\n"))
    assert list(found) == ["setup.rear_left.spring_N_per_mm"]
    with pytest.raises(InputError, match="left toe of each wheel must be -2 to 2 deg"):
        replace(parse(BASE).setup.rear, toe_difference=to_si(3.9, "deg"), toe=to_si(0.5, "deg"))


# ---- what else the file knows ------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_old_files_are_valid_and_know_nothing_more(name):
    assert parse(TEXTS[name].partition("\n[kinds]")[0]).known == Known()


def test_book_points_errors_and_kinds_are_read_and_kept():
    text = BASE + BOOK + MORE
    found = parse(text)
    known = found.known
    assert known.kinds == Kinds("strut", "multi-link", "road", "low two-seater", "lowered")
    assert known.points == Points((0.4, 2.0), (0.0, 0.012), "sill seam")
    assert known.errors == pytest.approx({"setup.front.height": 1.5e-3, "setup.rear_left.toe": to_si(0.03, "deg")})
    assert known.figures is not None
    assert (known.figures.name, known.figures.heights_at) == ("book", "points")
    assert known.figures.tolerances == pytest.approx({"front.height": 5e-3})
    assert known.figures.tyres == {"rear": "road"}
    assert render(found.car, found.setup, None, found.text) == text
    assert render(found.car, found.setup, None, found.text, known) == text
    again = parse(render(found.car, found.setup, None, None, known))
    assert_known(again.known, known)


def test_a_file_sent_to_another_folder_knows_as_much(tmp_path):
    found = parse(BASE + BOOK + MORE)
    for place in (tmp_path / "mine", tmp_path / "theirs"):
        place.mkdir()
        saved = write(place / f"{place.name}.toml", found.car, found.setup, None, None, found.known)
        assert saved.known == read(saved.path).known
        assert_known(saved.known, found.known)


def test_what_is_known_comes_and_goes_with_its_comments():
    found = parse(BASE + BOOK + MORE)
    less = replace(found.known, kinds=None, errors={"setup.front.height": 2e-3})
    text = render(found.car, found.setup, None, found.text, less)
    assert "[kinds]" not in text
    assert '"setup.front.height_mm" = 2.0  # tape' in text
    assert "rear_left.toe_deg = 0.03" not in text
    assert 'page 7"   # kept' in text
    assert_known(parse(text).known, less)


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ('heights_at = "points"\n', "", "book.heights_at", "a height means nothing without its measuring point"),
        ('heights_at = "points"', 'heights_at = "sills"', "book.heights_at", "must be one of axle lines, points"),
        (BOOK[: BOOK.index("[book]")], "\n", "book.heights_at", "in a file without [points]"),
        ("rear.height_mm = 145\n", "", "book heights", "both axles or for none"),
        ("front.toe_deg = 0.05", "front.toe = 0.05", "book.front.toe", "is an unknown key"),
        ("front.toe_deg = 0.05", "front.toe_deg = 9", "book.front.toe_deg", "must be -2 to 2 deg"),
        ("front.toe_deg = 0.05", "front_left.toe_deg = 0", "book.front_right.toe_deg", "is missing, while"),
        ("rear.height_mm = 145", "rear.height_mm = 640", "book heights", "must be 20 to 500 mm at the rear axle line"),
        ("rear_above_mm = 12", "rear_above_mm = 440", "book heights", "how far above the line of the ride heights"),
        ("rear_left.camber_deg = -1.1", "rear.camber_deg = -1.1", "book.rear_left.camber_deg", None),
        ("height_tolerance_mm = 5", "height_tolerance_mm = -5", "book.front.height_tolerance_mm", "more than 0"),
        ('rear.tyre = "road"', 'rear.tyre = "slick"', "book.rear.tyre", "must be one of road"),
        ("[book]", "[reference]", "reference.name", "say what it is"),
        ("[book]", '[reference]\nname = "before"\n[book]', "book", "compared with one set of figures"),
        ("rear_behind_mm = 2000", "rear_behind_mm = 500", "points.rear_behind_mm", "at least 300 mm behind"),
        ("front_behind_mm = 400\n", "", "points.front_behind_mm", "is missing"),
        ('rear = "multi-link"', 'rear = "wagon"', "kinds (kind of rear suspension)", "must be one of"),
        ('front.height_mm" = 1.5', 'front.height" = 1.5', "error.setup.front.height", "write its unit too"),
        ('"setup.front.height_mm" = 1.5', '"setup.front.height_mm" = 0', "error.setup.front.height_mm", "more than 0"),
    ],
)  # fmt: skip
def test_each_fault_is_one_clear_message(old, new, field, words):
    found = faults(edited(old, new, BASE + BOOK + MORE))
    if words is None:  # both an axle's and one wheel's: the axle's line is named, once
        assert list(found) == ["book.rear.camber_deg"]
        return
    assert field in found, found
    assert words in found[field]
    assert len(found) == 1 or field == "points.front_behind_mm", found


# ---- the reference ------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_without_figures_the_reference_is_the_car_at_its_reference_heights(name):
    file = parse(TEXTS[name])
    found = reference_of(file)
    assert found.name == "its reference heights"
    for end in ("front", "rear"):
        own, now, axle = getattr(found.setup, end), getattr(file.setup, end), getattr(file.car, end)
        assert own.height == own.aligned_height == axle.reference_height
        assert (own.toe, own.camber, own.pressure, own.spring) == (now.toe, now.camber, now.pressure, now.spring)
        assert not own.uneven
    typical = parse(TEXTS[name] + '\n[origin]\nfront.reference_height = "typical"\n')
    assert reference_of(typical).name == "usual for the kind"


@pytest.mark.analytic
def test_book_heights_at_points_are_taken_to_the_axle_lines():
    found = reference_of(parse(BASE + BOOK))
    assert (found.name, found.source) == ("book", "an invented handbook, page 7")
    front, rear = 120.0, 145.0 - 12.0  # mm, on the ride-height line, 400 and 2000 mm behind the front axle
    slope = (rear - front) / 1600
    assert from_si(found.setup.front.height, "mm") == pytest.approx(front - 400 * slope)
    assert from_si(found.setup.rear.height, "mm") == pytest.approx(front + (2450 - 400) * slope)
    known = parse(BASE + BOOK).known
    both = axle_heights(known.figures, known.points, to_si(2450, "mm"))
    assert both["rear"] == pytest.approx([found.setup.rear.height] * 2)
    assert found.setup.front.aligned_height == found.setup.front.height
    assert found.setup.cross_weight == pytest.approx(0.495)
    assert [deg(v) for v in found.setup.rear.wheels("camber")] == pytest.approx([-1.1, -1.3])
    assert deg(found.setup.front.toe) == pytest.approx(0.05)
    assert found.car.rear.tyre.kind == "road"
    assert found.car.front.tyre.kind == "fast road"


def test_another_state_of_the_car_is_never_called_book():
    text = BASE + '\n[reference]\nname = "as lowered, before it sagged"\nrear.toe_deg = 0.2\n'
    found = reference_of(parse(text))
    assert found.name == "as lowered, before it sagged"
    assert deg(found.setup.rear.toe) == pytest.approx(0.2)


def test_faults_of_one_wheel_are_not_in_the_reference():
    found = reference_of(parse(UNEVEN)).setup.rear
    assert found.toe_difference == 0.0 or found.toe == pytest.approx(to_si(0.175, "deg"))
    assert not np.any(found.toe_difference)


def test_figures_say_which_table_they_are_of():
    assert isinstance(parse(BASE + BOOK).known.figures, Figures)


def test_wheels_with_their_own_origin_and_error_are_known_as_well_as_the_worse_of_them():
    text = (
        UNEVEN
        + """
[origin]
setup.rear_left.toe = "measured"
setup.rear_right.toe = "typical"
[error]
setup.rear_left.toe_deg = 0.03
setup.rear_right.toe_deg = 0.04
"""
    )
    file = replace(parse(text), path=Path("mine.toml"))
    words = origins(file)
    assert words["setup.rear.toe"] == "typical"
    assert words["setup.rear.camber"] == "typed in"
    assert origins(replace(parse(UNEVEN), path=Path("mine.toml")))["setup.rear.toe"] == "typed in"
    doubts = {doubt.path: doubt for doubt in doubts_of(file, Kinds(), file.known.errors)}
    assert deg(doubts["setup.rear.toe"].sigma) == pytest.approx(0.025, rel=0.01)
    assert deg(doubts["setup.rear.toe_difference"].sigma) == pytest.approx(0.05)
    assert doubts["setup.rear.toe_difference"].middle == file.setup.rear.toe_difference
    errors = draw(list(doubts.values()), 4000)
    cars = plausible(file.setup, errors, "setup")
    left, right = cars.rear.wheels("toe")
    assert deg(np.std(left)) == pytest.approx(0.035, rel=0.06)  # each wheel gets half of both its readings' errors
    assert deg(np.std(left - right)) == pytest.approx(0.05, rel=0.06)
