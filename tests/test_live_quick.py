"""What makes a live picture quick changes nothing in it: kept backgrounds, and text put together from pieces."""

from unittest.mock import patch

import numpy as np
import pytest

from vdlib.draw import live
from vdlib.draw.live import KEPT, LivePicture
from vdlib.draw.style import line, start


def picture_with_a_curve():
    picture, axes = start(300, 200, "a curve")
    axes.set(xlim=(0, 1), ylim=(0, 1))
    (curve,) = axes.plot([0, 1], [0, 1], **line("front"))
    picture.moving(curve)
    picture.frame(axes, (0, 1), (0, 1))
    return picture, axes


@pytest.mark.analytic
def test_going_back_to_limits_gives_the_same_picture_from_the_kept_background():
    picture, axes = picture_with_a_curve()
    first = picture.render()
    picture.frame(axes, (0, 2), (0, 40))
    other = picture.render()
    assert other != first
    with patch.object(live, "_static", side_effect=AssertionError("drawn anew")):
        picture.frame(axes, (0, 1), (0, 1))
        assert picture.render() == first
    picture.refresh_background()
    assert picture.render() == first
    picture.frame(axes, (0, 2), (0, 40))
    assert picture.render() == other


def test_axes_keep_their_places_and_only_the_last_backgrounds_are_kept():
    picture, axes = picture_with_a_curve()
    picture.render()
    place = axes.get_position().bounds
    for i in range(KEPT + 3):
        picture.frame(axes, (0, 1), (0, 10.0**i))
        picture.render()
        assert axes.get_position().bounds == place
    assert len(picture._kept) <= KEPT


def test_a_changed_static_part_is_seen_at_all_limits():
    picture, axes = picture_with_a_curve()
    first = picture.render()
    picture.frame(axes, (0, 2), (0, 2))
    picture.render()
    axes.set_title("new")
    picture.refresh_background()
    picture.frame(axes, (0, 1), (0, 1))
    assert picture.render() != first


@pytest.mark.analytic
@pytest.mark.parametrize("framed", [True, False])
def test_less_sharp_is_the_same_picture(framed):
    """Every part of it stands where it does in the sharp one, whichever is drawn first."""
    picture, axes = start(300, 210, "a curve", 1, 2)
    (curve,) = axes[0].plot([0, 10], [0, 1], **line("front"))
    picture.moving(curve)
    if framed:
        picture.frame(axes[1], (0, 10), (0, 1))
    for moves in range(3):
        curve.set_ydata([0, moves])
        sharp = picture.pixels(3.0)[..., :3].astype(float)
        quick = picture.pixels(1.0)[..., :3].astype(float)
        averaged = sharp.reshape(210, 3, 300, 3, 3).mean(axis=(1, 3))
        dark = [255 - one.mean(axis=2) for one in (quick, averaged)]
        for axis in (0, 1):
            at = np.arange(dark[0].shape[1 - axis])
            first, second = ((one.sum(axis=axis) * at).sum() / one.sum() for one in dark)
            assert first == pytest.approx(second, abs=0.5)
        assert dark[0].sum() == pytest.approx(dark[1].sum(), rel=0.05)
        assert picture.render(quick=True) == picture.render(quick=True)


def test_a_change_of_sharpness_and_back_leaves_no_trace():
    picture, axes = start(300, 200, "a curve")
    axes.set_title("the first title")
    (curve,) = axes.plot([0, 10], [0, 1], **line("front"))
    picture.moving(curve)
    sharp, quick = picture.render(), picture.render(quick=True)
    assert len(quick) < len(sharp)
    axes.set_title("a title")
    picture.refresh_background()
    changed = picture.render(quick=True), picture.render()
    assert changed != (quick, sharp)
    axes.set_title("the first title")
    picture.refresh_background()
    assert (picture.render(quick=True), picture.render()) == (quick, sharp)


class Plain:
    """Draws every text the usual way."""

    def draw(self, text):
        text.draw(self.plain)


def drawn(text, quick, **changes):
    """How dark each pixel of one moving text is, with and without the quick way."""
    picture = LivePicture(240, 80, "a text")
    picture.moving(picture.figure.text(0.5, 0.5, text, **changes))
    with patch.object(live, "_Writer", live._Writer if quick else Plain):
        return 255.0 - picture.pixels()[..., 1]


@pytest.mark.analytic
@pytest.mark.parametrize("text", ["−0.041", "403 kg", "nose-high by 34 mm", "two\nlines 12"])
@pytest.mark.parametrize(
    "place",
    [("left", "center"), ("right", "top"), ("center", "baseline"), ("left", "bottom"), ("center", "center_baseline")],
)
@pytest.mark.parametrize("size", [10.0, 14.0])
def test_text_from_pieces_is_the_text_to_half_a_pixel(text, place, size):
    kind = {"ha": place[0], "va": place[1], "fontsize": size, "color": "black"}
    quick, slow = drawn(text, True, **kind), drawn(text, False, **kind)
    assert quick.sum() == pytest.approx(slow.sum(), rel=0.03)  # as much ink
    assert slow.sum() > 1000
    for axis in (0, 1):
        at = np.arange(quick.shape[1 - axis])
        first, second = ((one.sum(axis=axis) * at).sum() / one.sum() for one in (quick, slow))
        assert first == pytest.approx(second, abs=0.6)  # half a pixel, and a tenth for the quarters along the line


@pytest.mark.analytic
@pytest.mark.parametrize("changes", [{"rotation": 30}, {"usetex": False, "clip_on": True, "clip_box": None}])
def test_turned_or_clipped_text_is_left_to_the_usual_way(changes):
    if "clip_box" in changes:
        box = LivePicture(240, 80).figure.bbox
        changes = {"clip_on": True, "clip_box": box}
    np.testing.assert_array_equal(drawn("34 mm", True, **changes), drawn("34 mm", False, **changes))


@pytest.mark.analytic
def test_text_that_runs_off_the_picture_is_cut_there():
    places, ink = ((0.5, 0.5), (0.0, 0.0), (1.0, 1.0), (-3.0, 0.5), (0.5, 9.0)), []
    for writer in (live._Writer, Plain):
        picture = LivePicture(100, 40, "a text")
        text = picture.moving(picture.figure.text(0.5, 0.5, "12345678901234567890", ha="center"))
        for place in places:
            text.set_position(place)
            with patch.object(live, "_Writer", writer):
                ink.append((255.0 - picture.pixels()[..., 1]).sum())
    quick, plain = ink[: len(places)], ink[len(places) :]
    assert quick == pytest.approx(plain, rel=0.05)  # where only part of a letter is left, a quarter pixel tells more
    assert quick[0] > 1000
    assert quick[3:] == [0, 0]


def test_see_through_text_is_lighter():
    full, half = (drawn("12", True, alpha=alpha, color="black") for alpha in (1.0, 0.5))
    assert half.sum() == pytest.approx(0.5 * full.sum(), rel=0.02)
