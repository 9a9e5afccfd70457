"""The teaching panels: every control to both ends, words without a broken number, and pictures that show the result."""

import html
import re
from dataclasses import replace

import numpy as np
import pytest
from cars import TWO_OR_SLOW
from driving import BAD_NUMBER, drive, look
from scipy.linalg import expm

from vdlib.car import examples, tyre
from vdlib.draw.carviews import FULL_LOAD, FULL_RADIUS, TopView
from vdlib.draw.loadviews import PARTS, PairCurves, PartBars
from vdlib.draw.scenes import SCENES
from vdlib.draw.style import SMALLEST, smallest_text, start
from vdlib.lessons import bicycle, circle, simple
from vdlib.lessons.terms import TERMS, find
from vdlib.panels import gg, two_wheel, weight, words, workings
from vdlib.panels.base import Refused
from vdlib.shown import Choice, use
from vdlib.units import G, from_si

pytestmark = pytest.mark.unpainted

CARS = examples.example_names()
MAKERS = [
    words.panel, words.lever, weight.moment, weight.parts, weight.pair,
    two_wheel.balance, two_wheel.steady_circle, two_wheel.growth, workings.panel,
]  # fmt: skip


@pytest.fixture(scope="module")
def file():
    return examples.load_example("two-seater")


def oversteering(file):
    """The example with rear tyres a third less stiff: it oversteers by tyres and weight alone."""
    own = file.car.rear
    soft = replace(own, tyre=replace(own.tyre, stiffness_max=0.67 * own.tyre.stiffness_max))
    return replace(file, car=replace(file.car, rear=soft))


@pytest.mark.parametrize(("name", "whole"), [
    (CARS[0], False),
    pytest.param(CARS[0], True, marks=pytest.mark.slow),
    *(pytest.param(name, False, marks=pytest.mark.slow) for name in CARS[1:]),
])  # fmt: skip
@pytest.mark.parametrize("maker", MAKERS, ids=lambda m: f"{m.__module__.rpartition('.')[2]}.{m.__name__}")
def test_every_control_to_both_ends(maker, name, whole):
    panel = maker(examples.load_example(name))
    visits = drive(panel, again=whole, brief=not whole)
    assert smallest_text(panel.picture.figure) >= SMALLEST
    assert panel.picture.width <= 900
    assert panel.picture.alt
    assert all(len(control.description) <= 24 for control in panel.controls.values())
    for visit in visits:  # only a car without a critical speed may be refused
        assert not visit.message or visit.message == workings.EQUATIONS["critical speed"].none
    moved = {c for c in panel.controls if whole or any(v.state[c] != visits[0].state[c] for v in visits)}
    for control in moved - {"braking", "speed"}:  # these two speak in some equations only
        seen = {
            (v.picture, v.words) for v in visits if all(v.state[c] == panel.state[c] for c in v.state if c != control)
        }
        assert len(seen) > 1, f"{control} changes nothing"


# the words


def test_every_word_has_a_picture_that_moves_and_all_its_sentences(file):
    assert set(SCENES) == set(TERMS)
    panel = words.panel(file)
    for key, term in TERMS.items():
        panel.set_all({"word": key, "move": -10})
        less = look(panel)
        panel.set("move", 10)
        more = look(panel)
        assert less.picture != more.picture, f"{key}: nothing moves"
        assert panel.result.value == SCENES[key].value(file, 10) > less.result.value
        text = panel.words_html.value
        assert all(part for part in (term.plain, term.feel, term.measured))
        for part in (term.plain, term.feel, term.measured):
            assert part.rstrip(".") in text.replace("&#x27;", "'")
        assert (words.SLOPE in text) == (key in ("height", "attitude"))
        assert ("In the equations" in text) == bool(term.symbol)
        assert "_" not in re.sub("<[^>]*>", "", text) + term.head
        panel.set("move", 0)
        assert "At the start" in panel.words_html.value


def test_slope_of_the_body_is_said_without_a_sign(file):
    panel = words.panel(file)
    panel.set("word", "attitude")
    assert "nose-high by 34 mm" in panel.words_html.value  # the file's heights: 141 − 125 − (117 − 135)
    panel.set("move", -10)
    assert "nose-low by 6 mm" in panel.words_html.value


def test_search_looks_in_names_first_and_in_feel_too(file):
    assert find("toe")[0].key == "toe"
    assert "toe" in [term.key for term in find("nervous")]
    assert find("unobtainium") == []
    assert len(find("")) == len(TERMS)
    panel = words.panel(file)
    panel.search.value = "roll centre"
    assert panel.hits.children[0].description == TERMS["roll_centre"].name
    panel.hits.children[0].click()
    assert panel.state["word"] == "roll_centre"
    panel.search.value = "unobtainium"
    assert panel.hits.children == ()
    assert ">No word matches.<" in panel.found.value
    panel.search.value = ""
    assert panel.found.value == ""


def test_page_to_print_is_written_and_says_where(file, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panel = words.panel(file)
    panel.print.click()
    page = tmp_path / words.PAGE
    assert str(page) in panel.written.value
    text = page.read_text(encoding="utf-8")
    assert text.count("<section>") == text.count("data:image/png;base64,") == len(TERMS)
    assert words.SLOPE in text
    said = re.sub("<style>.*?</style>|<[^>]*>", " ", text, flags=re.DOTALL)
    assert BAD_NUMBER.search(said) is None
    assert "_" not in said
    page.unlink()
    page.mkdir()  # now it cannot be written
    panel.print.click()
    assert "Not written" in panel.written.value


@pytest.mark.analytic
@pytest.mark.parametrize("ratio", [0.0, 0.5, 1.0])
def test_damped_body_is_the_matrix_exponential(file, ratio):
    mass = (file.car.mass * file.car.front_share - file.car.front.unsprung_mass) / 2
    rate = file.setup.front.spring * file.car.front.motion_ratio**2
    swing = np.array([[0, 1], [-rate / mass, -2 * ratio * np.sqrt(rate / mass)]])
    assert SCENES["damper"].pose(file, ratio)["rise"] == pytest.approx(-0.05 * expm(0.25 * swing)[0, 0])


# weight on the wheels


def circle_area(patch):
    x, y = patch.get_xy().T
    return 0.5 * abs(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))


@pytest.mark.analytic
def test_circles_from_above_are_the_loads_as_areas(file):
    picture, axes = start(400, 300, "above")
    view = TopView(picture, axes, file.car)
    load = np.array([[1000.0, 2000.0], [0.0, 4000.0]])
    view.update(loads=load)
    areas = np.array([circle_area(patch) for patch in view.areas])
    full = np.pi * FULL_RADIUS**2 * load.ravel() / FULL_LOAD
    assert np.nan_to_num(areas) == pytest.approx(full, rel=0.01)  # a circle of 40 straight sides is 0.4 % too small
    assert [text.get_text() for text in view.labels] == ["102 kg", "204 kg", "in the air", "408 kg"]


def test_moment_shows_the_loads_of_the_closed_forms(file):
    panel = weight.moment(file)
    panel.set_all({"lateral": 0.5, "longitudinal": -0.3})
    loads_now = simple.wheel_loads(file.car, file.setup, 0.5 * G, -0.3 * G).load
    assert panel.result.loads.load == pytest.approx(loads_now)
    shown = {text.get_text() for text in panel.picture.figure.findobj(match=lambda a: hasattr(a, "get_fontsize"))}
    assert {f"{load / G:.0f} kg" for load in loads_now.ravel()} <= shown
    assert "braking while turning left" in panel.words_html.value
    panel.set_all({"lateral": 1.0, "longitudinal": -0.8, "height": panel.controls["height"].max})
    assert ("in the air" in panel.words_html.value) == bool(panel.result.loads.lifted.any())


def test_bars_are_the_three_parts_and_their_sum(file):
    moved = simple.transfer(file.car, file.setup, 0.7 * G)
    moved = replace(moved, front=replace(moved.front, links=-300.0))
    picture, axes = start(400, 300, "bars")
    bars = PartBars(picture, axes, 500)
    bars.update(moved, (2000.0, 3000.0))
    for axle, parts in enumerate((moved.front, moved.rear)):
        for part in PARTS:
            x = bars.bars[axle, part].get_xy()[:, 0]
            assert x[1] - x[0] == pytest.approx(getattr(parts, part) / G)
        assert bars.totals[axle].get_xdata()[0] == pytest.approx(parts.total / G)
    assert list(bars.lifts[1].get_xdata()) == pytest.approx([3000 / G] * 2)


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_bars_stay_on_the_scale(name):
    panel = weight.parts(examples.load_example(name))
    most = panel.picture.figure.axes[0].get_xlim()
    for visit in drive(panel, again=False):
        for parts in (visit.result.transfer.front, visit.result.transfer.rear):
            assert most[0] <= min(parts.links, parts.total) / G
            assert max(parts.total, parts.total - min(parts.links, 0)) / G <= most[1]


@pytest.mark.parametrize("axle", ["front", "rear"])
def test_pair_lies_on_the_tyre_curve(file, axle):
    panel = weight.pair(file)
    panel.set_all({"axle": axle, "share": 60})
    pair = panel.result[1]
    own, at = getattr(file.car, axle).tyre, getattr(file.setup, axle)
    fall = replace(own, grip_fall=panel.state["fall"])
    assert pair.peaks == pytest.approx(tyre.peak_force(fall, pair.wheels, 0.0, at.pressure))
    assert pair.wheels[1] - pair.wheels[0] == pytest.approx(2 * 0.6 * pair.wheels.mean())
    assert np.interp(0.6, pair.moved, pair.sums) == pytest.approx(pair.peaks.sum())
    panel.set_all({"share": 0})
    assert panel.result[1].lost == pytest.approx(0, abs=1e-12)
    assert ("raises what an even pair" in panel.words_html.value) == (pair.wheels.mean() < own.nominal_load)
    even = pair.even
    panel.set_all({"share": 60, "fall": 0})
    assert (panel.result[1].even < even) == (pair.wheels.mean() < own.nominal_load)
    assert panel.result[1].lost == pytest.approx(0, abs=1e-12)  # without a fall of grip moving load costs nothing


def test_pair_points_are_drawn_where_they_are(file):
    picture, axes = start(400, 300, "pair", columns=2)
    curves = PairCurves(picture, axes, 8000, 9000)
    panel = weight.pair(file)
    panel.set("share", 50)
    curves.update(panel.result[1])
    assert curves.outer.get_xdata()[0] == pytest.approx(panel.result[1].wheels[1] / G)
    assert curves.now.get_ydata()[0] == pytest.approx(100 * (1 - panel.result[1].lost))


@pytest.mark.published
def test_pair_losses_measured_and_modelled():
    # Milliken & Milliken, fig. 2.9: 2736 lbf against 2916 lbf, 6.2 %; the straight fall of grip gives 2.1 % (see
    # test_tyre_published.py)
    measured, model = weight.pair_losses()
    assert measured == pytest.approx(0.062, abs=5e-4)
    assert model == pytest.approx(0.021, abs=5e-4)
    assert "6.2 %" in weight.honest().value
    assert "2.1 %" in weight.honest().value


@pytest.mark.parametrize("name", CARS)
def test_seven_moments_each_hold_the_whole_weight(name):
    file = examples.load_example(name)
    cells = re.findall(r"<td>(\d+) kg</td>", weight.moments(file).value)
    rows = np.array(cells, dtype=float).reshape(7, 4)
    assert rows.sum(axis=1) == pytest.approx(np.full(7, file.car.mass), abs=2)  # four numbers rounded to 1 kg


# the two-wheel car


@pytest.mark.analytic
@pytest.mark.parametrize("name", CARS)
@pytest.mark.parametrize("rear", [60, 100, 140])
def test_three_ways_round_the_circle_give_one_gradient(name, rear):
    panel = two_wheel.steady_circle(examples.load_example(name))
    panel.set_all({"rear": rear, "steer": 8})
    given = bicycle.understeer_gradient(two_wheel.changed(examples.load_example(name), panel.state)).total
    assert [one.gradient for one in panel.result.readings] == pytest.approx([given] * 3)
    for reading, axes in zip(panel.result.readings, panel.picture.figure.axes, strict=True):
        drawn = axes.lines[1].get_xydata()
        assert drawn[:, 0] == pytest.approx(reading.lateral / G)
        assert np.all(drawn[:, 1] <= axes.get_ylim()[1])


@pytest.mark.analytic
def test_steady_turn_holds_the_definition_of_the_understeer_angle(file):
    car = simple.two_wheel(file.car, file.setup)
    turn = two_wheel.steady(car, 30.0)
    assert turn.steer - car.wheelbase / turn.radius == pytest.approx(turn.slip[0] - turn.slip[1])
    assert turn.radius == pytest.approx(30.0**2 / (0.4 * G))


@pytest.mark.analytic
@pytest.mark.parametrize("speed", [12.0, 30.0, 60.0])
def test_nudge_is_the_matrix_exponential(file, speed):
    time = np.array([0.0, 0.1, 0.5, 1.5])
    for own in (file, oversteering(file)):
        car = simple.two_wheel(own.car, own.setup)
        matrix = bicycle.system(car, speed).A
        found = two_wheel.nudge(car, speed, time, 0.02)
        assert found == pytest.approx([0.02 * expm(matrix * t)[0, 0] for t in time], rel=1e-9)


def test_a_damping_that_reads_as_one_swings_not_and_no_speed_has_more_digits_than_it_is_sure_of(file):
    car = two_wheel.motion(simple.two_wheel(file.car, file.setup), 30.0)
    assert two_wheel._course(replace(car, damping=0.997, time_to_double=np.inf)) == (
        "<b>A slide dies out without swinging.</b>"
    )
    assert "swinging.</b> Natural" in two_wheel._course(replace(car, damping=0.8, time_to_double=np.inf))
    told = two_wheel._special_speed(simple.two_wheel(file.car, file.setup), 1e-5)
    assert "lies beyond 400 km/h" in told
    assert workings.Value("characteristic speed", {}, 322.0, 0.4).told == "beyond 400 km/h"


def test_growth_says_when_a_slide_grows_and_how_fast(file):
    panel = two_wheel.growth(file)
    panel.set_all({"rear": 60, "speed": 250})
    double = float(panel.result.motion.time_to_double)
    assert np.isfinite(double)
    assert f"doubles every {double:.2f} s" in panel.words_html.value
    assert "critical speed" in panel.words_html.value
    assert panel.result.poles.real.max() == pytest.approx(np.log(2) / double)
    panel.set("rear", 140)
    assert "dies out" in panel.words_html.value
    assert "characteristic speed" in panel.words_html.value


# the predictions


@pytest.mark.parametrize(
    ("maker", "name", "low", "true"),
    [
        (two_wheel.balance, "rear", 95, two_wheel.TOWARD_OVER),
        (weight.parts, "front_bar", None, weight.STAYS),
        (workings.panel, "lateral", 0.5, workings.IN_STEP),
        (words.lever, "ratio", 0.6, words.QUARTER),
    ],
)
@pytest.mark.parametrize("right", [True, False])
def test_nothing_is_shown_before_the_prediction_and_then_the_numbers_say_right_or_wrong_and_why(
    file, maker, name, low, true, right
):
    panel = maker(file)
    question, control = panel.question, panel.controls[name]

    def seen():
        inside = [panel.show()]
        for box in inside:
            inside += getattr(box, "children", ())
        return inside

    hidden = (panel.image, panel.words_html.verdict, panel.words_html.rest)
    assert not any(each is one for each in seen() for one in hidden)
    assert question.answer in seen()
    assert all(one.disabled for one in panel.controls.values())
    assert question.verdict.value == ""
    mine = true if right else next(option for option in question.answer.options if option != true)
    question.answer.value = mine
    assert all(any(each is one for each in seen()) for one in hidden)
    assert question.answer not in seen()
    assert not control.disabled
    assert panel.state[name] == question.to
    assert ("<b>Right:</b>" in question.verdict.value) == right
    assert ("<b>Not so:</b>" in question.verdict.value) == (not right)
    assert html.escape(true) in question.verdict.value
    because = question.verdict.value.partition(", because ")[2]
    assert len(re.findall(r"\d", because)) >= 2  # the reason has its numbers
    panel.set(name, question.first if low is None else low)
    assert "to see it" in question.verdict.value


def test_verdict_is_about_the_asked_slider_alone(file):
    panel = weight.parts(file)
    panel.question.answer.value = weight.STAYS
    panel.set_all({"lateral": 1.0, "front_bar": 700})
    assert "<b>Right:</b>" in panel.question.verdict.value


def test_the_question_on_the_roll_angle_is_not_judged_by_another_equation(file):
    panel = workings.panel(file)
    panel.question.answer.value = workings.IN_STEP
    assert "<b>Right:</b>" in panel.question.verdict.value
    panel.set("name", "understeer gradient")
    assert "Not so" not in panel.question.verdict.value


def test_no_verdict_is_left_over_a_picture_that_was_refused(file):
    panel = weight.parts(file)
    panel.question.answer.value = weight.STAYS
    assert "<b>Right:</b>" in panel.question.verdict.value

    def refused(state):
        raise Refused("nothing here")

    panel.compute = refused
    panel.refresh()
    assert panel.message == "nothing here"
    assert "<b>" not in panel.question.verdict.value.partition("Move")[0]


def test_judges_follow_the_numbers_not_a_wished_answer(file):
    panel = two_wheel.balance(file)
    first = panel.result
    panel.set_all({"rear": 80, "front": 60})
    assert two_wheel.judge_rear(first, panel.result) == two_wheel.TOWARD_UNDER
    panel = weight.parts(file)
    first = panel.result
    panel.set_all({"front_bar": 700, "lateral": 0.9})
    assert weight.judge_sum(first, panel.result) == weight.GROWS
    panel = workings.panel(file)
    assert workings.judge_lean(panel.result, workings.weigh_example("roll angle", file, 0.5, 0.3, 100)) is None


# the workings


def test_course_sentences_name_no_sign_of_their_own(file):
    # the same panel says another word once the numbers do
    panel = two_wheel.balance(file)
    word = two_wheel.balance_word(panel.result.gradient)
    assert f": {word}.</b>" in panel.words_html.value
    panel.set("rear", 60)
    assert ": oversteer.</b>" in panel.words_html.value
    panel.set_all({"rear": 140, "front": 60})
    assert ": understeer.</b>" in panel.words_html.value
    assert float(from_si(panel.result.gradient, "deg_per_g")) > 0
    assert circle.steady_steer(50.0, 0.0, 2.5, panel.result.gradient) == pytest.approx(0.05)


def test_the_head_of_the_g_g_diagram_names_the_turns_where_they_are_drawn(file):
    panel = gg.from_model(file)
    axes = panel.picture.figure.axes[0]
    left, right = axes.get_xlabel().split("[g]")
    at = [float(axes.transData.transform((np.nanmean(panel.result.limit[turn]) / G, 0))[0]) for turn in (0, 1)]
    assert ("left turns" in left, "right turns" in right) == (at[0] < at[1],) * 2  # the first turn is the left one
    assert "driven" not in [text.get_text() for text in axes.get_legend().get_texts()]  # no log, no points


def test_an_equation_in_numbers_holds_in_every_choice_of_units(file):
    try:
        for units in (Choice(), Choice(mass="lb", length="in")):
            use(units)
            panel = weight.moment(file)
            panel.set_all({"longitudinal": -0.8})
            text = re.sub(r"<[^>]*>", "", panel.words_html.value).replace("−", "-")
            product, shift = re.search(r"h/L = ([-×/.\d ]+) = ([-\d]+) N", text).groups()
            assert eval(product.replace("×", "*")) == pytest.approx(float(shift), rel=2e-3)
    finally:
        use(Choice())


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_links_part_is_the_equation_with_the_roll_centres_on_the_sliders(name):
    own = examples.load_example(name)
    panel = weight.parts(own)
    panel.set_all({"front_centre": panel.controls["front_centre"].max})
    body = simple.roll_car(own.car, own.setup)
    for axle, part in (("front", body.front_share), ("rear", 1 - body.front_share)):
        height = panel.state[f"{axle}_centre"] / 1000
        links = part * body.sprung_mass * 0.7 * G * height / getattr(own.car, axle).track
        assert getattr(panel.result.transfer, axle).links == pytest.approx(links)
    panel.reset()
    shown = [panel.state[f"{axle}_centre"] for axle in ("front", "rear")]
    assert shown == pytest.approx([1000 * body.front.roll_centre, 1000 * body.rear.roll_centre], abs=1)


def test_the_words_say_to_which_side_load_moves(file):
    panel = weight.moment(file)
    assert "Left to right: nothing moves." in panel.words_html.value
    for lateral, told in ((0.5, "To the right wheels"), (-0.5, "To the left wheels")):
        panel.set("lateral", lateral)
        left, right = panel.result.loads.load.sum(axis=0)
        assert (right > left) == (lateral > 0)
        assert told in panel.words_html.value


@pytest.mark.parametrize("name", CARS)
def test_nothing_seen_from_behind_sinks_through_the_road_and_squashed_tyres_stand_on_it(name):
    own = examples.load_example(name)
    panel = words.panel(own)
    view = panel.drawer.draw.__closure__[0].cell_contents.views["behind"]
    for key in (key for key, scene in SCENES.items() if scene.view == "behind"):
        for move in (-10, 10):
            panel.set_all({"word": key, "move": move})
            assert view.body.get_xy()[:, 1].min() > 0, (key, move)
    heights = []
    for move in (-10, 10):
        panel.set_all({"word": "tyre_rate", "move": move})
        wheel = view.wheels[0].get_xy()[:, 1]
        assert wheel.min() == pytest.approx(0)
        heights.append(wheel.max())
        assert view.links[0].get_ydata()[0] == pytest.approx(
            view.links[0].get_ydata()[1]
        )  # the tyres squash, no spring
    squash = 12 * 500 / (own.car.front.tyre_rate * np.array([0.5, 1.5]))
    assert heights == pytest.approx(list(2 * own.car.front.wheel_radius - squash), abs=1e-3)


def test_another_word_starts_at_the_cars_own_number(file):
    panel = words.panel(file)
    panel.set("move", -10)
    panel.controls["word"].value = "load"  # as a reader chooses it
    assert panel.state["move"] == 0
    assert panel.result.value == SCENES["load"].value(file, 0)
    panel.set("move", -10)
    panel.search.value = "roll centre"
    panel.hits.children[0].click()
    assert panel.state == {"word": "roll_centre", "move": 0}


@pytest.mark.painted
def test_the_legend_of_the_answer_to_steering_is_clear_of_the_curves_and_inside_the_picture(file):
    panel = two_wheel.growth(file)
    panel.picture.pixels()
    figure = panel.picture.figure
    box = figure.legends[0].get_window_extent()
    assert not any(box.overlaps(axes.get_window_extent()) for axes in figure.axes)
    assert 0 <= box.x0 < box.x1 <= figure.bbox.width
