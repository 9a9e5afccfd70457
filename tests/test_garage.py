"""The measuring form's readings: simulated days give the car back, slips are named, and nothing typed is lost."""

from dataclasses import replace

import numpy as np
import pytest
from cars import TWO_OR_SLOW

from vdlib.car import examples, shelf
from vdlib.car.carfile import fields_of
from vdlib.car.keys import CORNERS
from vdlib.car.writing import records
from vdlib.garage.car_from import base_of, car_from
from vdlib.garage.form import CHOSEN, STRINGS, TOE_UNITS, WAYS
from vdlib.garage.form_fields import FIELDS
from vdlib.garage.invented import as_it_stands, invented_day
from vdlib.garage.readings import standing_toe
from vdlib.garage.scales import to_reference
from vdlib.garage.typed import LONGEST, RIM, Readings, asked, number_from, numbers
from vdlib.units import UNITS, from_si


@pytest.fixture(autouse=True)
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    return tmp_path / "my-cars"


def day(name="two-seater", seed=None, **typed):
    readings = invented_day(examples.load_example(name), seed)
    for key, text in typed.items():
        readings = readings.with_typed(key.replace("__", "."), text)
    return readings


def worked(readings):
    return car_from(readings, base_of(readings))


def truth(name):
    """The example's own numbers; toe and camber as they stand, for that is what is read."""
    file = examples.load_example(name)
    held = records(file.car, file.setup)
    found = {entry.path: getattr(held[entry.table], entry.field) for entry in fields_of()}
    for i, end in enumerate(("front", "rear")):
        axle, setup = getattr(file.car, end), getattr(file.setup, end)
        found[f"setup.{end}.toe"] = standing_toe(file.car, file.setup)[i]
        found[f"setup.{end}.camber"] = setup.camber + axle.camber_slope * (setup.aligned_height - setup.height)
    return found


def words(problems):
    return "\n".join(str(p) for p in problems)


# ---- the car comes back ------------------------------------------------------------------------------------------

MEASURED = 35
"""Numbers that the form finds when every box is filled: counted in its table of steps."""


@pytest.mark.analytic
@pytest.mark.parametrize("name", examples.example_names())
def test_readings_without_error_give_the_car_back(name):
    answer = worked(day(name))
    assert not answer.problems
    assert len(answer.measured) >= MEASURED
    true = truth(name)
    for path, found in answer.measured.items():
        off = abs(float(found.value) - true[path])
        # 1.5: the low car's toe curve bends nearly as much as one may, and two moves of the body do not show a bend
        assert off <= 1e-6 * abs(true[path]) + 1e-9 or off <= 1.5 * float(found.sigma), path
    exact = (
        "car.mass",
        "car.wheelbase",
        "front.track",
        "setup.rear.height",
        "rear.reference_height",
        "setup.front.toe",
    )
    for path in (*exact, "setup.front.spring", "rear.motion_ratio", "setup.rear.bar", "front.bump_gap"):
        assert float(answer.measured[path].value) == pytest.approx(true[path], rel=2e-6), path


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_days_with_errors_give_the_car_back_within_the_stated_errors(name):
    true, off = truth(name), []
    for seed in range(3):
        answer = worked(day(name, seed))
        assert not answer.problems, words(answer.problems)
        off += [
            (float(m.value) - true[path]) / float(m.sigma)
            for path, m in answer.measured.items()
            if float(m.sigma) > 0 and not path.endswith("reference_height")
        ]
    assert np.max(np.abs(off)) < 4
    assert 0.3 < np.sqrt(np.mean(np.square(off))) < 1.2  # the stated errors are neither too small nor idle


@pytest.mark.parametrize("start", ["example coupe", "example hatch"])
def test_the_start_car_does_not_colour_what_is_measured(start):
    readings = day()
    one, two = (worked(readings.with_choice("start.from", s)) for s in (start, "example two-seater"))
    for path in one.measured:
        assert float(one.measured[path].value) == pytest.approx(float(two.measured[path].value), rel=2e-3, abs=2e-4)


@pytest.mark.analytic
def test_weight_moves_with_the_heights_as_a_turn_of_the_body_says():
    file = examples.load_example("coupe")
    setup = file.setup.with_heights(file.car.front.reference_height + 0.03, file.car.rear.reference_height - 0.02)
    now, car = as_it_stands(file.car, setup), file.car
    masses, radii = ([getattr(a, k) for a in (car.front, car.rear)] for k in ("unsprung_mass", "wheel_radius"))
    back = to_reference(
        now.front_share, now.cg_height, 0.03, -0.02, car.wheelbase, car.mass, tuple(masses), tuple(radii)
    )
    # second order: a body turned by 0.02 rad about its front end is θ²/2·a, that is 0.1 promille of L, shorter
    assert abs(now.front_share - car.front_share) > 4e-4
    assert back.front_share == pytest.approx(car.front_share, abs=1e-4)
    assert back.cg_height == pytest.approx(car.cg_height, abs=5e-4)


def test_the_same_readings_in_other_units_make_the_same_car():
    readings = day()
    typed = dict(readings.typed)
    for key, text in readings.typed.items():
        holds = FIELDS[key].holds
        ways = WAYS[holds]
        if holds in CHOSEN:
            typed[key] = f"{float(text) * UNITS[ways[0]].to_si / UNITS[ways[1]].to_si:.9f}".replace(".", ",")
        elif holds == "toe":  # of a reader of inches "in" alone is refused
            typed[key] = text.replace(" in", " toe-in")
    other = replace(readings, typed=typed)
    for holds in CHOSEN:
        ways = WAYS[holds]
        if ways:
            other = other.with_choice(f"start.{holds}", ways[1])
    one, two = worked(readings), worked(other)
    assert not two.problems, words(two.problems)
    for path, found in one.measured.items():
        assert float(two.measured[path].value) == pytest.approx(float(found.value), rel=1e-6, abs=1e-8)


@pytest.mark.parametrize(
    ("choice", "option"), [("camber.way", "mm to a plumb line"), ("springs.way", "pressed on a scale")]
)
def test_the_other_way_of_reading_gives_the_same(choice, option):
    readings = day()
    one, two = worked(readings), worked(readings.with_choice(choice, option))
    for path in ("setup.front.camber", "setup.rear.camber", "setup.front.spring", "setup.rear.spring"):
        assert float(two.measured[path].value) == pytest.approx(float(one.measured[path].value), rel=1e-6)


def test_without_reference_heights_the_car_as_it_stands_is_the_reference():
    answer = worked(day(heights__front_reference="", heights__rear_reference=""))
    assert "nose-high cannot be told" in words(answer.steps["heights"].questions)
    car, setup = answer.file.car, answer.file.setup
    assert car.front.reference_height == pytest.approx(setup.front.height, rel=1e-5)
    assert "front.reference_height" not in answer.file.origin
    assert "front.reference_height" not in answer.measured


def test_what_is_not_measured_is_typical_or_the_start_cars():
    readings = Readings("half").with_typed("corners.front_left", "300")
    for name, text in (("front_right", "310"), ("rear_left", "250"), ("rear_right", "245")):
        readings = readings.with_typed(f"corners.{name}", text)
    answer = worked(readings.with_choice("start.front", "strut").with_choice("corners.bars", "unhooked"))
    assert answer.file.origin["car.mass"] == "measured"
    assert answer.file.origin["front.roll_centre"] == "typical"
    assert answer.file.origin["setup.front.spring"] == "example"
    assert {"setup.front.spring", "car.wheelbase"} <= set(answer.missing)
    assert "car.mass" not in answer.missing
    assert answer.ranges["car.mass"].source == "its own measurement"
    assert from_si(answer.ranges["front.roll_centre"].high, "mm") == pytest.approx(
        120
    )  # the table's own row for struts


NO_LIFT = {f"lift__{what}_{i}": "" for what in ("rise", "reading") for i in (1, 2, 3)}

POUNDS = {f"corners__{name}": f"{float(day().typed[f'corners.{name}']) / 0.45359237:.1f}" for name in CORNERS}

# ---- slips -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [("12,5", 12.5), ("12.5", 12.5), (" \u22123 ", -3), ("5 3/8", 5.375), ("3/4", 0.75), ("-1/2", -0.5), (".5", 0.5)],
)
def test_numbers_as_people_type_them(text, value):
    assert number_from(text) == value


@pytest.mark.parametrize("text", ["12 kg", "1.234,5", "nan", "inf", "1e3", "1_0", "", "--2", "1/0", "²", "9" * 30])
def test_what_is_no_number(text):
    assert number_from(text) is None


@pytest.mark.parametrize(
    ("typed", "step", "said"),
    [
        ({"corners__front_left": "abc"}, "corners", "front left scale"),
        ({"corners__front_left": "549"}, "corners", "front left typed in pounds"),
        ({"corners__front_left": "3"}, "corners", "must be 5 to 2000 kg, got 3 kg"),
        ({"heights__wheelbase": "2.45"}, "heights", "was it typed in metres"),
        ({"lift__reading_1": "700", "lift__reading_2": "800", "lift__reading_3": "900"}, "lift", "read again"),
        ({"toe__diameter": "650"}, "toe", "must be below the tyre's own"),
        ({"toe__front_left_ahead": "150"}, "toe", "read both rim edges of the front left wheel again"),
        ({"heights__front_point": "2100", "heights__rear_point": "500"}, "heights", "front and rear point swapped"),
        (
            {
                f"springs__front_{what}_{i}": f"{20 * i * k}"
                for i in (1, 2)
                for what, k in (("wheel", 1), ("spring", 3))
            },
            "springs",
            "front, motion ratio",
        ),
    ],
)
def test_a_slip_is_named_and_nothing_is_made_of_it(typed, step, said):
    answer = worked(day(**typed))
    assert answer.file is None
    assert said in words(answer.steps[step].errors)
    assert not answer.steps[step].numbers


@pytest.mark.parametrize(
    ("typed", "step", "said"),
    [
        ({"corners__front_left": "331", "corners__rear_left": "249"}, "corners", "front left and rear left swapped"),
        (NO_LIFT | POUNDS, "corners", "were they typed in pounds"),
        ({"springs__rear_spring_1": "30"}, "springs", "off the straight line"),
        ({"tyres__front_left": "1.8"}, "tyres", "front tyre pressures"),
        ({"heights__front_left": "160"}, "heights", "front heights"),
        ({"floor__step": "12"}, "floor", "level the places"),
    ],
)
def test_what_is_odd_is_a_question_and_not_an_error(typed, step, said):
    answer = worked(day(**typed))
    assert answer.file is not None
    assert said in words(answer.steps[step].questions)


def test_toe_signs_mixed_up_are_a_question():
    readings = day()
    ahead, behind = (readings.typed[f"toe.rear_left_{edge}"] for edge in ("ahead", "behind"))
    answer = worked(day(toe__rear_left_ahead=behind, toe__rear_left_behind=ahead))
    assert "was one wheel's sign or edge mixed up" in words(answer.steps["toe"].questions)


def test_a_lift_too_small_says_how_high_to_lift():
    level = float(day().typed["lift.level"])
    answer = worked(day(**NO_LIFT | {"lift__rise_1": "40", "lift__reading_1": f"{level + 1.6:.1f}"}))
    assert "lift the wheel centres by at least" in words(answer.steps["lift"].errors)


def test_a_hidden_box_does_not_count():
    readings = day(camber__front_left_top="nonsense")
    assert not asked(readings, FIELDS["camber.front_left_top"])
    assert not worked(readings).problems
    assert worked(readings.with_choice("camber.way", "mm to a plumb line")).problems


def test_every_field_refuses_text_and_numbers_beyond_its_range():
    for key, box in FIELDS.items():
        if box.holds == "text":
            found = numbers(Readings("a", {key: "y" * (LONGEST + 1)}))
            assert box.label in words(found.bad[box.step])
            assert not numbers(Readings("a", {key: "any words: 12"})).bad
            continue
        when, option = box.when
        chosen = {when: option if isinstance(option, str) else option[-1]} if when else {}
        chosen |= {"toe.read": STRINGS} if box.holds == "toe" and not when else {}
        scale = {"deg": 1.0, "arcmin": 60.0, "mm": 1000 * RIM * np.pi / 180}[
            TOE_UNITS.get(chosen.get("toe.read", ""), "deg")
        ]
        scale = scale if box.holds == "toe" else 1.0
        for text in ("x", f"+{scale * (box.high * 1.05 + 1):.6f}".replace(".", ","), "1e5"):
            found = numbers(Readings("a", {key: text}, chosen))
            assert found.good == {}, (key, text)
            assert box.label in words(found.bad[box.step])
        for value in (box.low, box.high):
            found = numbers(Readings("a", {key: f"{0.998 * scale * value:+.9f}"}, chosen))
            assert found.bad == {} or box.low == value > 0, (key, found.bad)


# ---- what stands in a box ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["138 mm", "138mm", "138"])
def test_a_number_may_carry_the_unit_of_its_box(text):
    found = numbers(day(heights__front_left=text))
    assert found.good["heights.front_left"] == pytest.approx(0.138)
    assert not found.bad
    found = numbers(day(heights__front_left="138 furlongs"))
    assert "the unit is the one beside the box" in words(found.bad["heights"])


def test_a_camber_that_lost_its_minus_is_asked_about():
    readings = day()
    key = "camber.front_left"
    text = next(value for name, value in readings.typed.items() if name == key)
    lost = worked(readings.with_typed(key, text.replace("-", "").replace("−", "")))
    asked_about = words(lost.steps["camber"].questions)
    assert "is a minus missing?" in asked_about
    assert "left and right" in asked_about
    assert "minus" not in words(worked(readings).steps["camber"].questions)
