"""The workshop pages in figures, read back from their PDF, and how their words are set."""

import numpy as np
import pytest
from read_pdf import words_of

from vdlib.draw.figures import CARS, FOLDER, workshop_page
from vdlib.draw.typeset import length, wrapped
from vdlib.garage.four_wheels import toe_words


@pytest.mark.parametrize("name", CARS)
def test_the_pages_in_figures_read_back_from_their_pdf(name):
    text = words_of(FOLDER / f"workshop-page-{name}.pdf")
    for words in ("FRONT LEFT", "REAR RIGHT", "LOOK FIRST", "as left", "thrust", "cross weight", "How sure"):
        assert words in text
    assert "qualified people" in text
    assert "Nm/deg" not in text
    assert " g " not in text.split("Back:")[0]  # the physics stands on the back


@pytest.mark.parametrize("name", [CARS[0], *(pytest.param(name, marks=pytest.mark.slow) for name in CARS[1:])])
def test_a_page_in_figures_is_up_to_date(name, tmp_path):
    (tmp_path / "page.pdf").write_bytes(workshop_page(name))
    assert words_of(tmp_path / "page.pdf") == words_of(FOLDER / f"workshop-page-{name}.pdf"), (
        "out of date: run python -m vdlib.draw.figures"
    )


def test_toe_at_the_rim():
    assert toe_words(np.arcsin(2 / 400), "mm", 0.4) == "2.0 in"
    assert toe_words(-np.radians(0.1), "arcmin") == "6 out"
    assert toe_words(0.0, "deg") == "0.00"


def test_wrapping_keeps_every_word():
    words = "a bb ccc dddd " * 20 + "e" * 300
    for size in (8.0, 9.5):
        lines = wrapped(words, 100.0, size)
        assert "".join(lines).replace(" ", "") == words.replace(" ", "")
        assert len(lines) > 10
    assert wrapped("", 100.0, 8.0) == [""]


@pytest.mark.parametrize("bold", [False, True])
def test_no_line_is_wider_than_its_column_and_none_ends_early(bold):
    """Kerned pairs are there, such as AV, To and y."""
    words = "AV. To you, W. Avery's \"Tyre\" f, i; 1,117 kg 11/7 L'T' " * 8
    lines = wrapped(words, 140.0, 8.0, bold)
    assert max(8.0 * length(line, bold) for line in lines) <= 140.0
    firsts = [line.split()[0] for line in lines[1:]]
    assert min(8.0 * length(f"{a} {b}", bold) for a, b in zip(lines, firsts, strict=False)) > 140.0
