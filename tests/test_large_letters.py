"""Large letters are one switch and nothing is cut by them; a quick picture has letters as wide as a sharp one."""

import ipywidgets as widgets
import numpy as np
import pytest

from vdlib.car.shelf import VARIABLE
from vdlib.draw.live import LivePicture
from vdlib.panels import which


@pytest.fixture(autouse=True)
def letters_of_its_own(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "my-cars"))


def plain(file):
    """What stands in a chooser; its letters are the box's."""
    return widgets.HTML(file.car.name)


def test_large_letters_of_one_chooser_are_those_of_all_and_of_later_ones():
    one, other = which.Which(plain), which.Which(plain)
    apart = which.Which(plain, path="hatch")
    other.large.value = True
    later = which.Which(plain)
    every = (one, other, apart, later)
    assert all(each.large.value and "vd-large" in each.box._dom_classes for each in every)
    later.large.value = False
    assert not any(each.large.value or "vd-large" in each.box._dom_classes for each in every)


def test_the_switch_is_kept_for_the_workbooks_opened_later():
    one = which.Which(plain)
    one.large.value = True
    assert which.kept_large()
    one.large.value = False
    assert not which.kept_large()


def test_a_page_without_code_keeps_it_in_the_browser_instead(monkeypatch):
    which.Which(plain).large.value = True
    monkeypatch.setenv("SERVER_SOFTWARE", "voila/0.5")
    assert not which.kept_large()


@pytest.mark.analytic
@pytest.mark.parametrize("size", [10, 11, 12, 14])
@pytest.mark.parametrize("moving", [True, False])
def test_text_is_as_wide_in_a_quick_picture_as_in_a_sharp_one(size, moving):
    picture = LivePicture(400, 40, "a text")
    text = picture.figure.text(0.5, 0.5, "at the reference heights [mm]", ha="center", va="center", fontsize=size)
    if moving:
        picture.moving(text)
    ends = []
    for scale in (1.0, 1.5):
        inked = np.flatnonzero((picture.pixels(scale)[..., 1] < 200).any(axis=0))
        ends.append((inked[0] / scale, (inked[-1] + 1) / scale))
    assert ends[0] == pytest.approx(ends[1], abs=1.0)  # a whole pixel of the coarser one
