"""The kept picture, its PNG encoder and the house style."""

import zlib
from io import BytesIO
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.image import imread
from matplotlib.lines import Line2D
from PIL import Image

from vdlib.draw.live import LivePicture, greyed
from vdlib.draw.png import encode
from vdlib.draw.style import FONT, ROLES, SMALLEST, fill, line, point, smallest_text, start, tidy


def decoded(png):
    return np.rint(np.asarray(imread(BytesIO(png), format="png")) * 255).astype(np.uint8)


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 40), st.integers(1, 40), st.sampled_from([3, 4]), st.integers(0, 2**32 - 1))
def test_png_comes_back_identical_from_another_reader(height, width, channels, seed):
    pixels = np.random.default_rng(seed).integers(0, 256, (height, width, channels), dtype=np.uint8)
    assert np.array_equal(decoded(encode(pixels)), pixels[..., :3])


def test_png_of_a_slice_that_is_not_contiguous():
    pixels = np.random.default_rng(1).integers(0, 256, (60, 80, 4), dtype=np.uint8)[::2, ::-3]
    assert np.array_equal(decoded(encode(pixels)), pixels[..., :3])


@pytest.mark.parametrize(
    "wrong",
    [np.zeros((4, 4, 3)), np.zeros((4, 4), np.uint8), np.zeros((4, 4, 2), np.uint8), np.zeros((0, 4, 3), np.uint8)],
)
def test_png_refuses_other_shapes_and_types(wrong):
    with pytest.raises(ValueError, match="uint8 of shape"):
        encode(wrong)


def test_a_spoilt_png_is_noticed_by_the_reader():
    png = bytearray(encode(np.full((20, 20, 3), 7, np.uint8)))
    png[png.index(b"IDAT") + 8] ^= 0x55
    with pytest.raises((OSError, SyntaxError, zlib.error)):
        decoded(bytes(png))


def wave():
    picture, axes = start(400, 240, "a wave")
    tidy(axes, "Wave", "time [s]", "height [mm]").set(xlim=(0, 10), ylim=(-1, 1))
    (curve,) = axes.plot([], [], **line("front", zorder=10))
    return picture, axes, picture.moving(curve)


def test_moved_artist_gives_the_same_picture_as_a_full_drawing():
    x = np.linspace(0, 10, 50)
    picture, _, curve = wave()
    for phase in (0, 1, 2):
        curve.set_data(x, np.sin(x + phase))
        live = picture.pixels().copy()
    other, _, still = wave()
    still.set_data(x, np.sin(x + 2))
    still.set_animated(False)
    other._moving.clear()
    assert np.array_equal(live, other.pixels())
    still.set_data(x, np.sin(x + 1))
    other.refresh_background()
    assert not np.array_equal(live, other.pixels())


def test_static_parts_change_only_when_asked():
    picture, axes, _ = wave()
    before = picture.render()
    axes.set_title("Another title", fontsize=FONT["title"], loc="left")
    assert picture.render() == before
    picture.refresh_background()
    assert picture.render() != before


def test_drawing_does_not_depend_on_what_came_before():
    picture, _, curve = wave()
    curve.set_data([0, 10], [0, 1])
    first = picture.render()
    curve.set_data([0, 10], [1, 0])
    assert picture.render() != first
    curve.set_data([0, 10], [0, 1])
    assert picture.render() == first


@pytest.mark.parametrize("wide", [660, 661, 700, 333])
def test_nothing_stays_at_the_pictures_edges_once_it_has_moved_away(wide):
    picture, axes = start(wide, 400, "a word that leaves the picture at each edge")
    word = picture.moving(axes.text(0.5, 0.5, "asked here", transform=picture.figure.transFigure))
    picture.place()
    first = picture.render()
    for x, y in ((0.99, 0.5), (-0.02, 0.5), (0.5, 0.99), (0.5, -0.01), (0.995, 0.995)):
        word.set_position((x, y))
        assert picture.render() != first
        word.set_position((0.5, 0.5))
        assert picture.render() == first


def test_a_limit_of_minus_nought_is_the_limit_nought():
    picture, axes, _ = wave()
    picture.frame(axes, (-0.0, 1.0), (-1.0, -0.0))
    assert [str(float(end)) for end in (*axes.get_xlim(), *axes.get_ylim())] == ["0.0", "1.0", "-1.0", "0.0"]


def test_moving_artists_are_drawn_in_order_of_depth():
    picture, axes, low = wave()
    high = picture.moving(axes.axhline(0, color="#FF0000", lw=8, zorder=5))
    low.set(data=([0, 10], [0, 0]), color="#0000FF", linewidth=8, zorder=4)
    pixels = picture.pixels()
    box = axes.transData.transform((5, 0))
    row, column = pixels.shape[0] - int(box[1]) - 1, int(box[0])
    assert tuple(pixels[row, column, :3]) == (255, 0, 0)
    high.set_zorder(3)
    assert tuple(picture.pixels()[row, column, :3]) == (0, 0, 255)


def test_size_on_the_screen_and_sharpness():
    picture = LivePicture(300, 200, scale=2.0)
    picture.figure.add_artist(Line2D([0.5, 0.5], [0, 1], color="black", linewidth=20))
    pixels = picture.pixels()
    assert pixels.shape == (400, 600, 4)
    assert (pixels[200, :, 0] < 128).sum() == 2 * 20  # a 20-point line is 20 screen pixels, 40 of the canvas


def test_saved_picture_shows_the_same_and_carries_its_words(tmp_path):
    picture, _, curve = wave()
    curve.set_data([0, 5, 10], [-1, 1, -1])
    picture.alt = "A wave: it rises to 1 mm – then falls"
    live = picture.render()
    picture.save(tmp_path / "same.png", dpi=picture.figure.dpi)
    assert np.array_equal(decoded((tmp_path / "same.png").read_bytes()), decoded(live))
    picture.save(tmp_path / "print.png", dpi=216)
    with Image.open(tmp_path / "print.png") as saved:
        assert saved.size == (1200, 720)
        assert saved.text["Description"] == picture.alt
        assert saved.info["dpi"][0] == pytest.approx(216, abs=0.02)  # stored in whole pixels per metre
    assert picture.render() == live


def test_saving_needs_words_and_the_right_ending(tmp_path):
    picture = LivePicture(100, 80)
    with pytest.raises(ValueError, match="alt text"):
        picture.save(tmp_path / "a.png")
    picture.alt = "nothing yet"
    with pytest.raises(ValueError, match=r"\.png"):
        picture.save(tmp_path / "a.jpg")
    assert list(tmp_path.iterdir()) == []


def test_greyed_picture_has_the_size_and_no_colour_and_the_note():
    picture, _, curve = wave()
    curve.set_data([0, 10], [0, 1])
    png = picture.render()
    faded, other = decoded(greyed(png, "not updated")), decoded(greyed(png, "another note"))
    assert faded.shape == decoded(png).shape
    assert np.ptp(faded.astype(int), axis=2).max() == 0
    assert not np.array_equal(faded, other)
    outside = faded[: faded.shape[0] // 4]
    assert outside.max() < 240  # nowhere paper-white as a valid picture is, and not blank either
    assert len(np.unique(outside)) > 5
    middle = faded[faded.shape[0] // 2 - 10 : faded.shape[0] // 2 + 10]
    assert middle.max() == 255
    assert middle.min() < 60


def test_every_role_can_be_told_without_its_colour():
    for (one, a), (two, b) in combinations(ROLES.items(), 2):
        assert a.colour != b.colour, (one, two)
        assert a.marker != b.marker, (one, two)
        assert a.line != b.line, (one, two)
        assert a.hatch != b.hatch, (one, two)


def test_keywords_by_role_are_taken_by_matplotlib():
    picture, axes = start(300, 200)
    for i, role in enumerate(ROLES):
        axes.plot([0, 1], [i, i], **line(role))
        axes.plot([0.5], [i], **point(role))
        axes.bar([2], [1], bottom=i, **fill(role))
        axes.fill_between([3, 4], i, i + 1, **fill(role, linewidth=0))
    assert len(np.unique(picture.pixels().reshape(-1, 4), axis=0)) > 10
    with pytest.raises(KeyError):
        line("no such role")


def test_no_text_below_the_smallest_size():
    picture, axes = start(800, 300, columns=2)
    tidy(axes[0], "Title", "x [m]", "y [m]")
    picture.render()
    assert smallest_text(picture.figure) >= SMALLEST
    axes[1].text(0, 0, "tiny", fontsize=7)
    assert smallest_text(picture.figure) == 7


def test_muted_text_can_be_read_on_white():
    # WCAG 2.1, 1.4.3: contrast at least 4.5 to 1; formula of relative luminance from the same text
    def luminance(colour):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        return np.dot(
            [0.2126, 0.7152, 0.0722], [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        )

    for role in ("muted", "reference", "now"):
        assert 1.05 / (luminance(ROLES[role].colour) + 0.05) >= 4.5, role
