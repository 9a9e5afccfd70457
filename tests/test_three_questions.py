"""Three questions of one car: each answer against its own source, and no sentence that contradicts another."""

import re

import numpy as np
import pytest
from cars import TWO_OR_SLOW
from drawn_cars import batch, picked
from driving import drive
from test_own_numbers import at_ends

from vdlib.answers.balance import balance
from vdlib.answers.hands_still import hands_still_limit, slowing
from vdlib.answers.limits import limits
from vdlib.answers.three_questions import LEANS_AT, ask, why_it_spins
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import three_questions
from vdlib.units import G, from_si

pytestmark = pytest.mark.unpainted


@pytest.mark.analytic
@pytest.mark.parametrize("lift", [None, 0.1])
@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_each_answer_is_that_of_its_own_reader(name, lift):
    file = examples.load_example(name)
    found = ask(file.car, file.setup, 60.0, lift)
    speed = float(np.sqrt(LEANS_AT * 60.0))
    assert found.gradient == pytest.approx(
        float(balance(file.car, file.setup, Moment(speed, LEANS_AT)).gradient), rel=1e-6
    )
    assert float(found.hands.limit) == float(hands_still_limit(file.car, file.setup, 60.0, lift).limit)
    known = np.isfinite(found.steer)
    assert known[:-6].all()
    top = float(found.lateral[int(np.nanargmax(found.steer))])  # of the line at one speed
    assert (top < found.lateral[known][-1]) == bool(found.hands.exists)
    if bool(found.hands.exists):
        assert top == pytest.approx(float(found.hands.limit), abs=1.01 * float(np.diff(found.lateral)[0]))
    lean, first, hands = found.answers
    assert ("understeer" in lean) == (found.leans > 0)
    assert first.startswith("the rear" if found.rear_first else "the front")
    assert ("grip ends first" in hands) == (not found.hands.exists)
    assert float(found.ends.min()) == pytest.approx(float(found.hands.grip_ends), abs=0.005 * G)


@pytest.mark.analytic
@pytest.mark.parametrize("lift", [None, 0.15])
@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_ends_slide_where_the_limits_of_that_speed_say(name, lift):
    file = examples.load_example(name)
    found = ask(file.car, file.setup, 60.0, lift)
    for end, at in enumerate(found.ends):
        speed = float(np.sqrt(at * 60.0))
        along = 0.0 if lift is None else float(slowing(file.car, lift, speed))
        exact = limits(file.car, file.setup, Moment(speed, G, along)).lateral[end]
        assert at == pytest.approx(float(exact), abs=0.005 * G)


@pytest.mark.analytic
def test_a_turn_to_the_right_of_an_even_car_is_answered_as_one_to_the_left():
    file = examples.load_example("coupe")
    left, right = (ask(file.car, file.setup, 60.0, 0.1, turn) for turn in (1.0, -1.0))
    assert right.gradient == pytest.approx(left.gradient, rel=1e-6)
    np.testing.assert_allclose(right.ends, left.ends, rtol=1e-9)
    np.testing.assert_allclose(right.steer, left.steer, rtol=1e-6, atol=1e-9)


def test_where_two_answers_seem_to_disagree_a_sentence_says_why():
    file = examples.load_example("low-two-seater")
    found = ask(file.car, file.setup, 60.0, 0.1)
    assert found.leans != 0
    assert found.rear_first
    assert bool(found.why_they_differ) == (found.leans > 0)


def test_no_two_answers_of_plausible_cars_contradict_each_other_without_a_sentence():
    tips = 0
    for seed in (1, 3):
        car, setup, _ = batch(seed, 0.05, 40)
        for i in range(0, 20, 4):
            found = ask(picked(car, i), picked(setup, i), 60.0, 0.1)
            told = " ".join((*found.answers, found.why_they_differ))
            assert not re.search(r"\b(nan|inf)\b", told), told
            assert np.isfinite(found.gradient)
            if not found.slides:
                tips += 1
                assert "tips" in told
                continue
            if found.hands.exists:
                assert float(found.hands.limit) < float(found.ends.min()) + 0.01 * G, told
            agree = found.leans <= 0 if found.rear_first else found.leans >= 0
            assert agree or found.why_they_differ, told
            assert found.why_they_differ or not (found.settles_to_the_end and found.rear_first), told
    assert tips > 0


@pytest.mark.analytic
def test_a_corner_in_which_a_slide_dies_out_and_the_car_spins_after_a_lift_is_explained():
    file = examples.load_example("low-two-seater")
    steady, closed = hands_still_limit(file.car, file.setup, 60.0), ask(file.car, file.setup, 60.0, 0.15)
    lateral = 0.97 * float(closed.hands.limit)
    assert np.isinf(balance(file.car, file.setup, Moment(float(np.sqrt(lateral * 60)), lateral)).time_to_double)
    assert "tightens the line" in why_it_spins(steady, closed, lateral)
    assert why_it_spins(steady, closed, 0.5 * lateral) == ""
    assert why_it_spins(steady, closed, 1.1 * float(steady.limit)) == ""


@pytest.mark.parametrize(
    ("name", "again"),
    [("hatch", False), *(pytest.param(n, True, marks=pytest.mark.slow) for n in ("low-two-seater", "hatch"))],
)
def test_the_panel_is_in_step_and_its_sentence_follows_the_limits(name, again):
    panel = three_questions.panel(examples.load_example(name))
    fates = set()
    for visit in drive(panel, again=again, brief=name == "hatch"):
        found = visit.result
        said = re.sub("<[^>]*>", " ", visit.words).split(" which way")[0]
        for one in found.answers:
            settles = found.lateral < min(float(one.hands.limit), float(one.ends.min()))
            fates.add(settles)
            assert settles <= ("settles" in said)
        assert "no longer settles" not in said or any(float(one.hands.limit) <= found.lateral for one in found.answers)
        assert ("yet the car can spin" in said) <= (
            float(found.steady[1].limit) > found.lateral and not found.answers[1].no_grip(found.lateral)
        )
    assert fates == {True, False}
    assert smallest_text(panel.picture.figure) >= SMALLEST


@pytest.mark.parametrize("name", ["coupe", "hatch"])
def test_a_car_without_grip_for_a_corner_is_not_said_to_pull_more(name):
    panel = three_questions.panel(examples.load_example(name))
    told = set()
    for lateral in (0.7, 0.78, 0.82, 0.9):  # with the throttle closed the rear's own limit is in between
        panel.set("lateral", lateral)
        now = panel.result.answers[1]
        spins, none = three_questions.spin_words(panel.result), now.no_grip(lateral * G)
        assert none == (float(now.ends.min()) <= lateral * G)
        assert not (none and spins)
        told.add((none, bool(spins)))
    assert told == {(True, False), (False, True)}


def test_the_picture_marks_the_top_of_each_line_and_the_sliding_ends():
    panel = three_questions.panel(examples.load_example("low-two-seater"))
    curve, lanes = panel.picture.figure.axes
    for i, one in enumerate(panel.result.answers):
        line, top = ([each for each in curve.lines if each.get_animated()][1:][2 * i + k] for k in (0, 1))
        assert line.get_ydata() == pytest.approx(from_si(one.steer, "deg"), nan_ok=True)
        assert top.get_xdata()[0] == pytest.approx(float(one.hands.limit) / G)
        assert top.get_ydata()[0] == pytest.approx(np.nanmax(line.get_ydata()), abs=0.02)
    marks = [float(each.get_xdata()[0]) for each in lanes.lines if each.get_animated()][1:]
    shown = [[float(one.hands.limit), *one.ends] for one in panel.result.answers]
    assert marks == pytest.approx([at / G for each in shown for at in each])
    before = panel.image.value
    panel.set("rear", panel.state["rear"] + 10)
    assert panel.image.value != before
    assert float(panel.result.answers[1].hands.limit) > shown[1][0]  # the tail raised off its stops


def test_a_corner_that_cannot_be_held_is_refused_in_words():
    panel = three_questions.panel(at_ends(0))
    assert panel.message == three_questions.NO_CORNER
    assert panel.result is None


@pytest.mark.parametrize("lateral", [0.3, 0.7, 1.2])
def test_the_words_at_the_moment_asked_about_stay_in_the_picture(lateral):
    panel = three_questions.panel(examples.load_example("coupe"))
    panel.set("lateral", lateral)
    figure = panel.picture.figure
    (words,) = [text for text in figure.axes[0].texts if "asked here" in text.get_text()]
    box = words.get_window_extent()
    assert 0 <= box.x0 < box.x1 <= figure.bbox.x1
