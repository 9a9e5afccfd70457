"""Large letters are one switch and nothing is cut by them; a quick picture has letters as wide as a sharp one."""

import numpy as np
import pytest

from vdlib.draw.live import LivePicture
from vdlib.panels import choice, nose_high, turning_point, which
from vdlib.panels.base import Panel


def test_large_letters_of_one_chooser_are_those_of_all_and_of_later_ones():
    one, other = which.Which(nose_high.panel), which.Which(turning_point.panel)
    apart = which.Which(turning_point.panel, path="hatch")
    other.large.value = True
    later = which.Which(nose_high.panel)
    every = (one, other, apart, later)
    assert all(each.large.value and "vd-large" in each.box._dom_classes for each in every)
    later.large.value = False
    assert not any(each.large.value or "vd-large" in each.box._dom_classes for each in every)


def test_a_list_has_room_for_its_longest_words_at_any_size_of_letters():
    def width(words):
        panel = Panel({"one": choice("List", [words, "b"], "b")}, lambda state: state, lambda *_: b"", str)
        return panel.controls["one"].layout.width

    assert "max(215px, 34.2 * var(--jp-widgets-font-size))" in width("w" * 60)
    assert "max(215px, 14.0 * var(--jp-widgets-font-size))" in width("wwww")


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
