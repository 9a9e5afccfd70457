"""The pictures in figures/ are those the library draws today, with the words that go with them."""

import numpy as np
import pytest
from PIL import Image

from vdlib.draw.figures import ANIMATIONS, EVERY, FIGURES, FOLDER

STALE = "out of date: run python -m vdlib.draw.figures"


def opened(path):
    """The words in a picture, and its mean brightness in blocks of 16 pixels: fonts may differ by a shade elsewhere."""
    with Image.open(path) as image:
        words, grey = image.info["Description"], np.asarray(image.convert("L"), dtype=float)
    high, wide = (n // 16 * 16 for n in grey.shape)
    return words, grey[:high, :wide].reshape(high // 16, 16, wide // 16, 16).mean(axis=(1, 3))


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=pytest.mark.slow) if name == "how-sure" else name for name in FIGURES],
)
def test_a_figure_is_up_to_date(name, tmp_path):
    FIGURES[name]().save(tmp_path / "fresh.png")
    kept, fresh = opened(FOLDER / f"{name}.png"), opened(tmp_path / "fresh.png")
    assert kept[0] == fresh[0], STALE
    assert kept[1].shape == fresh[1].shape, STALE
    difference = np.abs(kept[1] - fresh[1])
    assert difference.mean() < 0.5, STALE
    assert difference.max() < 40, STALE


def test_no_figure_is_left_over():
    assert {path.stem for path in FOLDER.glob("*.png")} == set(FIGURES)
    assert {path.stem for path in FOLDER.glob("*.gif")} == set(ANIMATIONS)


@pytest.mark.slow  # every run: the still picture of the same film
@pytest.mark.parametrize("name", ANIMATIONS)
def test_a_moving_figure_is_up_to_date(name):
    picture, show, lasts = ANIMATIONS[name]()
    with Image.open(FOLDER / f"{name}.gif") as kept:
        count = kept.n_frames
        assert count == len(np.arange(0.0, lasts + 1e-9, EVERY)), STALE
        for at in (0, count // 2, count - 1):
            kept.seek(at)
            show(at * EVERY)
            fresh = Image.fromarray(np.ascontiguousarray(picture.pixels(1.0)[..., :3]))
            assert fresh.size == kept.size, STALE
            difference = np.abs(np.asarray(kept.convert("L"), float) - np.asarray(fresh.convert("L"), float))
            assert difference.mean() < 2.0, STALE  # a shade for the few colours that such a picture has
