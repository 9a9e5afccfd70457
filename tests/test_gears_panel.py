"""The gears panel: every control, what it says against the core, typed curves and ratios, bad input."""

import re
import time
from dataclasses import replace

import numpy as np
import pytest
from driving import drive

from vdlib.car import examples
from vdlib.checks import InputError
from vdlib.draw.gears import SPEEDS
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.lessons.gears import RPM, gear_for, top_speed
from vdlib.panels import gears
from vdlib.units import G

pytestmark = pytest.mark.unpainted


@pytest.fixture
def made():
    return gears.panel(examples.load_example("two-seater"))


def text_of(made):
    return re.sub("<[^>]*>", " ", made.panel.words_html.value).replace("&#x27;", "'")


@pytest.mark.parametrize(
    "name", [n if n == "coupe" else pytest.param(n, marks=pytest.mark.slow) for n in examples.example_names()]
)
def test_every_control_at_both_ends(name):
    made = gears.panel(examples.load_example(name))
    visits = drive(made.panel, again=name == "two-seater", brief=name != "two-seater")
    assert not any(visit.message for visit in visits)
    assert len({visit.words for visit in visits}) > (len(made.panel.controls) if name == "two-seater" else 3)
    assert smallest_text(made.view.picture.figure) >= SMALLEST


def test_words_and_picture_say_what_the_core_says(made):
    seen = set()
    for radius, lateral in ((10, 0.3), (60, 0.8), (150, 0.5), (250, 1.5), (60, 0.2), (30, 1.0)):
        made.panel.set_all({"corner": radius, "lateral": lateral})
        now, text = made.panel.result, text_of(made)
        assert now.speed == pytest.approx(np.sqrt(lateral * G * radius))
        assert f"{3.6 * now.speed:.0f} km/h" in text
        best = gear_for(now.train, now.speed)
        assert f"gear {int(best.gear)} pushes hardest" in text
        short = next(w for w in ("grip limits", "power or gearing limits", "nothing left to drive") if w in text)
        seen.add(short)
        want = "nothing left to drive" if now.left <= 0 else "grip limits"
        assert short == (want if float(best.force) > now.left else "power or gearing limits")
        assert made.view.here.get_ydata()[0] == pytest.approx(float(best.force) / 1e3)
        assert made.view.left.get_ydata()[0] == pytest.approx(now.left / 1e3)
    assert len(seen) == 3
    top = top_speed(now.train, 1160.0, 0.62)
    assert f"Top speed {3.6 * float(top.speed):.0f} km/h in gear {int(top.gear)}" in text
    drawn = np.asarray(made.view.gears.get_ydata()).reshape(len(now.train.ratios), -1)[:, :-1]
    np.testing.assert_allclose(drawn, np.where(now.push.usable, now.push.force / 1e3, np.nan))
    np.testing.assert_allclose(np.asarray(made.view.gears.get_xdata())[: len(SPEEDS)], 3.6 * SPEEDS)


def test_little_room_before_the_limit_names_the_next_gear(made):
    found = []
    for radius in range(40, 130, 5):
        made.panel.set("corner", radius)
        left = 3.6 * float(made.panel.result.best.speed_left)
        found.append(left)
        gear = int(made.panel.result.best.gear)
        told = f"gear {gear + 1} gives" in text_of(made)
        assert told == (left < gears.NEAR and gear < 5)
    assert min(found) < gears.NEAR < max(found)


@pytest.mark.analytic
def test_the_simple_curve_has_its_power_peak_where_it_was_set():
    for power, at, past in ((150e3, 6800, 600), (30e3, 3000, 1000), (400e3, 9000, 50), (100e3, 5000, 0)):
        speed, torque = gears.simple_curve(power, at * RPM, past * RPM)
        fine = np.linspace(speed[0], speed[-1], 20001)
        watts = np.interp(fine, speed, torque) * fine
        assert watts.max() == pytest.approx(power, rel=1e-4)
        assert fine[np.argmax(watts)] == pytest.approx(at * RPM, rel=1e-3)


@pytest.mark.analytic
@pytest.mark.parametrize("share", [0.0, 1.0, 0.5])
def test_the_grip_limit_is_where_the_driven_axle_spins(share):
    car = replace(examples.load_example("two-seater").car, drive_front=share)
    push = gears.grip_limit(car)
    moved = push * car.cg_height / car.wheelbase
    front = car.front.tyre.grip * (car.mass * G * car.front_share - moved)
    rear = car.rear.tyre.grip * (car.mass * G * (1 - car.front_share) + moved)
    use = max(push * share / front, push * (1 - share) / rear)
    assert use == pytest.approx(1.0)
    assert gears.grip_left(car, 0.0) == pytest.approx(push)
    assert gears.grip_left(car, car.front.tyre.grip * G * 0.6) == pytest.approx(0.8 * push)
    assert gears.grip_left(car, 3 * G) == 0


def test_typed_points_and_ratios_are_taken_over(made):
    made.curve_text.value = "1000 120, 3000 170, 6500 160"
    train = made.panel.result.train
    np.testing.assert_allclose(train.engine_speed / RPM, [1000, 3000, 6500])
    np.testing.assert_allclose(train.torque, [120, 170, 160])
    words = text_of(made)
    made.panel.set("power", 300)  # the typed curve stands
    assert text_of(made) == words
    made.ratio_text.value = "3,5 2,1 1,4 1,0 0,8 0,7"
    assert len(made.panel.result.train.ratios) == 6
    assert "5 to 6" in text_of(made)
    made.curve_text.value = ""
    assert made.panel.result.train.torque_at(6800 * RPM) == pytest.approx(300e3 / (6800 * RPM))


@pytest.mark.parametrize(("box", "text", "words"), [
    ("ratio_text", "3.2 two 1.4", "gear ratios must be numbers"),
    ("ratio_text", "1.0", "must be 2 to 8"),
    ("ratio_text", "1.0 2.0 3.0", "fall from gear to gear"),
    ("ratio_text", "", "must be 2 to 8"),
    ("ratio_text", "3 2 nan", "gear ratios must be numbers"),
    ("curve_text", "1000 120, 3000", "must be pairs"),
    ("curve_text", "1000 120", "must be at least two pairs"),
    ("curve_text", "3000 120, 1000 130", "must rise"),
    ("curve_text", "1000 120, 3000 99999", "must be 0 to 3000"),
])  # fmt: skip
def test_bad_typing_is_said_and_the_picture_stays(made, box, text, words):
    picture, said = made.panel.image.value, made.panel.words_html.value
    getattr(made, box).value = text
    assert words in made.message.value
    assert "still shows" in made.message.value
    assert (made.panel.image.value, made.panel.words_html.value) == (picture, said)
    made.panel.set("corner", 100)  # the sliders go on with the numbers before
    assert not made.panel.message
    with pytest.raises(InputError):
        gears.typed_ratios("a b")


@pytest.mark.slow  # a time, which a machine under load may miss
def test_it_is_live(made):
    spent = []
    for radius in range(20, 220, 5):
        at = time.process_time()
        made.panel.set("corner", radius)
        spent.append(time.process_time() - at)
    assert np.percentile(spent, 25) < 0.05  # a quarter of the moves: other work on this machine slows the rest
