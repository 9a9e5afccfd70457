"""As left comes back: four wheels typed again, misses told, the new car saved and the promise made anew."""

from dataclasses import replace

import numpy as np
import pytest

from vdlib.car import examples, shelf
from vdlib.car.keys import CORNERS, ENDS
from vdlib.car.known import Points
from vdlib.car.reference import reference_of
from vdlib.checks import InputError
from vdlib.panels import as_left as panels
from vdlib.panels.shared_whatif import SharedWhatIf
from vdlib.setup.as_left import as_left, key, read, words
from vdlib.setup.candidate import baseline
from vdlib.setup.page import back_to_reference
from vdlib.units import from_si, to_si


@pytest.fixture(autouse=True)
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    SharedWhatIf._all.clear()


FILE = examples.load_example("low-two-seater")
SPOT = Points((0.0, float(FILE.car.wheelbase)), (0.53, 0.52), "hub centre to arch")
ARCHED = replace(FILE, known=replace(FILE.known, points=SPOT))
LEFT = {
    **{key("height", c): t for c, t in zip(CORNERS, ("640", "641", "640", "652"), strict=True)},
    **{key("toe", c): t for c, t in zip(CORNERS, ("0.2 in", "0.2 in", "1.1 in", "2.2 in"), strict=True)},
    **{key("camber", c): t for c, t in zip(CORNERS, ("-1.2", "-1.2", "-1.5", "-1.5"), strict=True)},
    **{key("kg", c): t for c, t in zip(CORNERS, ("208", "204", "300", "298"), strict=True)},
}


def made(file=ARCHED, typed=LEFT):
    base = baseline(file.car, file.setup)
    return as_left(file, base, back_to_reference(base, reference_of(file)), read(file, typed))


def test_four_unequal_wheels_become_the_new_car():
    found = made()
    for i, end in enumerate(ENDS):
        own = getattr(found.file.setup, end)
        heights = [from_si(float(v) + SPOT.above[i], "mm") for v in own.wheels("height")]
        np.testing.assert_allclose(heights, [(640, 641), (640, 652)][i], atol=1e-6)
        np.testing.assert_allclose(own.wheels("aligned_height"), own.wheels("height"))
    toe = [430 * np.sin(float(v)) for v in found.file.setup.rear.wheels("toe")]
    np.testing.assert_allclose(toe, [1.1, 2.2], atol=1e-3)
    assert float(found.file.car.mass) == pytest.approx(1010)
    assert float(found.file.setup.cross_weight) == pytest.approx((204 + 300) / 1010)


def test_misses_are_told_at_their_wheel_and_the_rest_was_done():
    found = made()
    assert len(found.missed) == 2
    assert any("rear right height: left 652 mm, +12 mm off" in miss for miss in found.missed)
    assert any("rear right toe" in miss for miss in found.missed)
    assert "front left height" in found.done
    assert words(found)[0].startswith("Was it done?")  # first was it done, then what it promises
    assert words(found)[1:] == found.promise.words


def test_the_promise_is_made_anew_from_what_was_left():
    one, other = made(), made(typed=LEFT | {key("height", "rear_right"): "640", key("toe", "rear_right"): "1.1 in"})
    assert not other.missed
    assert one.promise != other.promise


def test_heights_at_sill_points_need_both_ends_of_a_side():
    sill = replace(FILE, known=replace(FILE.known, points=Points((0.3, 2.1))))
    with pytest.raises(InputError, match="must be typed in front and at the rear"):
        made(sill, {key("height", "front_left"): "110"})
    level = made(sill, {key("height", f"{end}_left"): "120" for end in ENDS})
    assert float(level.file.setup.front.wheels("height")[0]) == pytest.approx(0.12)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({key("camber", "rear_left"): "x"}, "rear left camber must be a number"),
        ({key("toe", "rear_left"): "1.1"}, "must say in or out"),
        ({key("kg", "front_left"): "5000"}, "front left scale"),
        ({}, "holds no figure yet"),
    ],
)
def test_bad_figures_get_one_clear_message(typed, said):
    with pytest.raises(InputError, match=said):
        made(typed=typed)


def test_the_panel_saves_the_new_car_and_keeps_the_old():
    shelf.save_car("mine", ARCHED.car, ARCHED.setup, None, None, ARCHED.known)
    desk = panels.panel(shelf.load_car("mine"))
    for name, text in LEFT.items():
        desk.boxes[name].value = text
    desk.look_button.click()
    assert "Was it done?" in desk.message.value
    desk.save_button.click()
    assert shelf.opened() == "mine - as left"
    again = shelf.load_car("mine - as left")
    assert float(again.setup.rear.wheels("height")[1]) == pytest.approx(to_si(652, "mm") - SPOT.above[1], abs=1e-6)
    assert shelf.load_car("mine").setup == ARCHED.setup


def test_an_example_is_never_written_over():
    desk = panels.panel(FILE)
    desk.boxes[key("camber", "rear_left")].value = "-1.5"
    desk.save_button.click()
    assert "stays as it is" in desk.message.value
    assert desk.boxes[key("camber", "rear_left")].value == "-1.5"
