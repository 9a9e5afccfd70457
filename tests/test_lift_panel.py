"""The lift panel: every control to both ends, what it says, what it draws, and the animated picture."""

import re
import time

import numpy as np
import pytest
from cars import BRIEF_OR_SLOW
from driving import drive, look
from PIL import Image

from vdlib.answers.lift import SPUN, simulate
from vdlib.car import examples
from vdlib.checks import InputError
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import lift, lift_words
from vdlib.units import G, from_si

pytestmark = pytest.mark.unpainted


@pytest.fixture(scope="module")
def made():
    return lift.panel(examples.load_example("two-seater"))


@pytest.mark.parametrize(("name", "brief"), BRIEF_OR_SLOW)
def test_every_control_can_be_driven_to_both_ends(name, brief):
    panel = lift.panel(examples.load_example(name))
    if brief:  # walks move the rest
        visits = [look(panel)]
        for change in ({"lateral": panel.controls["lateral"].max}, {"slowing": panel.controls["slowing"].max}):
            panel.set_all(panel.controls.first | change)
            visits.append(look(panel))
        panel.reset()
    else:
        visits = drive(panel, again=name == "two-seater", brief=name != "two-seater")
    told = [visit for visit in visits if visit.message]
    assert told  # the highest lateral acceleration is beyond every example
    assert all("cannot hold this corner" in visit.message for visit in told)
    assert len(visits) > (2 if brief else 20 if name == "two-seater" else 8)
    assert smallest_text(panel.picture.figure) >= SMALLEST
    assert panel.picture.width <= 900


def test_the_picture_shows_what_the_run_holds(made):
    made.reset()
    made.set_all({"lateral": 0.6, "time": 2.0})
    found = made.result
    assert float(found.scenario.lateral) == pytest.approx(0.6 * G)
    at = found.at
    assert found.run.time[at] == pytest.approx(2.0)
    rates = from_si(found.run.yaw_rate[:, 1], "deg_per_s")
    axes = made.picture.figure.axes
    chart = next(a for a in axes if a.get_title(loc="left").startswith("yaw rate"))
    drawn = [line for line in chart.lines if len(line.get_xdata()) > 50]
    assert len(drawn) == 2
    np.testing.assert_allclose(np.interp(drawn[1].get_xdata(), found.run.time, rates), drawn[1].get_ydata(), rtol=1e-9)
    road = next(a for a in axes if a.get_title(loc="left").startswith("From above"))
    body = road.patches[1].get_xy()[:-1].mean(axis=0)  # the pentagon's corners are spread about its middle
    assert np.hypot(*(body - [-found.run.y[at, 1], found.run.x[at, 1]])) < 2.0
    words = re.sub("<[^>]*>", " ", made.words_html.value)
    assert f"{from_si(float(found.run.speed[at, 1]), 'kmh'):.0f} km/h" in words
    assert "public road" in words


def test_the_first_sentence_follows_the_numbers(made):
    made.reset()
    seen = set()
    for lateral in (0.3, 0.6, 0.84):
        made.set("lateral", lateral)
        found = made.result
        most, said = from_si(found.run.slide.max(axis=0), "deg"), lift_words.which_turned_more(found)
        seen.add(said[:8])
        if found.spun.all():
            assert said.startswith("Both")
            assert ("As it stands" in said) == (found.run.held[1] < found.run.held[0])
        elif found.spun.any():
            assert ("as it stands" in said) == bool(found.spun[1])
        elif abs(most[1] - most[0]) < lift_words.LEAST:
            assert said.startswith("No difference")
        else:
            assert said.startswith("As it stands") == (most[1] > most[0])
    assert len(seen) > 1


def test_moving_through_the_run_or_the_roads_width_computes_nothing_anew(made, monkeypatch):
    made.reset()
    calls = []
    monkeypatch.setattr(lift, "simulate", lambda *args, **more: calls.append(args) or simulate(*args, **more))
    began = time.process_time()
    for moment in np.arange(1.0, 3.0, 0.25):
        made.set("time", round(float(moment), 2))
    took = (time.process_time() - began) / 8
    made.set("width", 7.0)
    assert not calls
    assert took < 0.05  # of processor time: the picture must follow the slider
    made.set("slowing", 0.33)
    assert len(calls) == 1


def test_counter_steer_shows_in_steering_and_marks_the_hands(made):
    made.reset()
    made.set_all({"lateral": 0.8, "hands": True, "reaction": 0.5})
    found = made.result
    assert found.moments == pytest.approx((0.5, 1.0))
    before = found.run.time < 1.0
    assert np.ptp(found.run.steer[before], axis=0).max() == 0
    assert (found.run.steer[-1] < found.run.steer[0]).all()


def test_a_corner_that_cannot_be_held_is_refused_in_words(made):
    made.reset()
    made.set("lateral", 1.3)
    assert "cannot hold this corner" in made.message
    assert "less lateral acceleration" in made.message
    with pytest.raises(lift.Refused, match="no run to save"):
        lift.save_film(made, "x.gif")
    made.reset()


@pytest.mark.painted
@pytest.mark.parametrize("ending", ["gif", "png"])
def test_the_animation_is_written_in_real_time_and_says_where(tmp_path, made, monkeypatch, ending):
    made.reset()
    monkeypatch.setattr("vdlib.draw.liftpath.FRAME", 1.0)
    before = made.picture.pixels().copy()
    path = tmp_path / f"run.{ending}"
    said = lift.save_film(made, path)
    assert str(path) in said
    with Image.open(path) as shown:
        assert shown.n_frames == 5
        assert shown.width == made.picture.width
        strip = np.asarray(shown.convert("L"), dtype=float)[made.picture.height :]
        assert strip.shape[0] > 16  # the caution stands under every picture
        assert (strip < 128).mean() > 0.02
        shown.seek(1)
        assert shown.info["duration"] == pytest.approx(1000)
    assert np.array_equal(before, made.picture.pixels())  # the panel shows what it did before


def test_a_place_that_cannot_be_written_is_named(tmp_path, made, monkeypatch):
    made.reset()
    monkeypatch.setattr("vdlib.draw.liftpath.FRAME", 9.0)
    with pytest.raises(InputError, match=r"must end in \.gif or \.png"):
        lift.save_film(made, tmp_path / "run.mp4")
    with pytest.raises(InputError, match="must be a place that can be written"):
        lift.save_film(made, tmp_path / "none" / "run.gif")


def test_the_button_saves_beside_the_workbook_and_never_over_a_file(tmp_path, made, monkeypatch):
    made.reset()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("vdlib.draw.liftpath.FRAME", 9.0)
    made.save_button.click()
    made.save_button.click()
    assert len(list(tmp_path.glob("lift-*.gif"))) == 2
    assert str(tmp_path) in made.saved.value
    made.set("lateral", 1.3)
    made.save_button.click()
    assert "no run to save" in made.saved.value
    made.reset()


def test_the_question_is_judged_by_the_numbers_after_the_foot_has_moved():
    panel = lift.asked(examples.load_example("two-seater"))
    asking = panel.question
    assert panel.controls["slowing"].disabled
    asking.answer.value = asking.answer.options[2]
    assert panel.state["slowing"] == 0.2
    panel.controls["slowing"].value = 0.1  # as the mouse would
    assert "to see it" in asking.verdict.value
    panel.controls["slowing"].value = 0.25
    said = lift_words.which_turned_more(panel.result)
    alike = said.startswith("No") or "as good as together" in said
    expected = asking.answer.options[2 if alike else 0 if "s it stands" in said else 1]
    assert expected in asking.verdict.value
    assert ("<b>Right:</b>" in asking.verdict.value) == (expected == asking.answer.options[2])
    assert "because at its reference heights" in asking.verdict.value


def test_two_cars_that_spin_as_good_as_together_are_judged_alike():
    """The first answer is judged by the headline's own threshold: the coupe's two cars pass 30° 0.04 s apart."""
    panel = lift.asked(examples.load_example("coupe"))
    panel.question.answer.value = panel.question.answer.options[2]
    assert panel.result.spun.all()
    assert abs(np.subtract(*panel.result.run.held)) < lift_words.TOGETHER
    assert "as good as together" in panel.words_html.value
    assert "<b>Right:</b> hardly any difference" in panel.question.verdict.value


def test_a_slide_that_is_caught_is_not_told_as_one_that_doubles():
    """Hands that answer at once stop the slide: whatever its growth at one moment was, nothing is multiplied."""
    made = lift.panel(examples.load_example("low-two-seater"))
    made.set_all({"speed": 110, "lateral": 0.78, "slowing": 0.1, "hands": True, "reaction": 0.3})
    caught = made.result
    most = float(np.degrees(caught.run.slide[:, 1].max()))
    assert most < 10
    assert np.isfinite(caught.doubling[:, 1].min())  # with the wheel held it would grow
    said = lift_words.against_the_driver(caught)
    assert f"stops at {most:.1f}°" in said
    assert "doubles" not in said
    assert "times as large" not in said
    made.set_all({"hands": False})
    assert not made.result.stops(1)
    assert "doubles in" in lift_words.against_the_driver(made.result)


def test_the_angle_at_which_the_model_stops_is_not_told_as_the_slide():
    made = lift.panel(examples.load_example("low-two-seater"))
    made.set_all({"lateral": 0.9, "time": 4.0})
    run = made.result.run
    assert made.result.spun.all()
    assert np.degrees(run.slide.max()) < np.degrees(SPUN)  # the steady corner's own angle is counted off
    words = re.sub("<[^>]*>", " ", made.words_html.value)
    assert "slide past" not in words
    assert "slides past" not in words
    for k in (0, 1):
        assert f"{np.degrees(run.slide[:, k].max()):.1f}°; 30° off its path at {run.held[k]:.2f} s" in words
        assert f"stopped at {run.held[k]:.2f} s" in words  # the row of the moment shown is that of the last one
    made.set("time", 1.0)
    assert "stopped at" not in made.words_html.value


def test_hardly_any_difference_is_not_given_a_different_growth_as_its_reason():
    panel = lift.asked(examples.load_example("coupe"))
    panel.question.answer.value = panel.question.answer.options[2]
    assert lift_words.ahead_of_other(panel.result) is None
    assert "doubles" not in panel.question.verdict.value
    assert "because at its reference heights the tail" in panel.question.verdict.value


def test_how_much_sooner_is_the_difference_of_the_two_times_as_printed():
    made = lift.panel(examples.load_example("low-two-seater"))
    for lateral in (0.84, 0.86, 0.88, 0.9, 0.92):
        made.set("lateral", lateral)
        text = re.sub("<[^>]*>", " ", made.words_html.value)
        if told := re.search(r"([\d.]+) s sooner", text):
            times = [float(time) for time in re.findall(r"off its path at ([\d.]+) s", text)]
            assert float(told[1]) == pytest.approx(abs(times[0] - times[1]), abs=1e-9)
