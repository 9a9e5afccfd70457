"""The measuring form on paper: its pages, that every box and caution is on them, and that nothing lies on another."""

import os
import re
from itertools import combinations

import pytest
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from vdlib.car import examples
from vdlib.checks import InputError
from vdlib.draw import paper
from vdlib.garage.car_from import STEPS, Readings, asked, base_of, car_from, fields_at, label_of
from vdlib.garage.invented import invented_day


@pytest.fixture(scope="module")
def blank():
    return paper.pages(Readings("my car"))


@pytest.fixture(scope="module")
def filled():
    readings = invented_day(examples.load_example("two-seater"))
    return readings, paper.pages(readings, car_from(readings, base_of(readings)))


@pytest.mark.parametrize("name", examples.example_names())
def test_a_filled_form_is_two_pages(name):
    readings = invented_day(examples.load_example(name))
    assert len(paper.pages(readings, car_from(readings, base_of(readings)))) == 2


def texts(pages):
    return [text.get_text() for page in pages for text in page.figure.axes[0].findobj(Text) if text.get_text()]


def test_a_blank_form_is_two_pages_of_a4_with_every_box(blank):
    assert len(blank) == 2
    wide, high = blank[0].figure.get_size_inches()
    assert (wide * 25.4, high * 25.4) == pytest.approx((210, 297), abs=0.2)  # ISO 216, to the whole point
    said = texts(blank)
    readings = Readings("my car", {}, {f"springs.{end}_bar": "sizes below" for end in ("front", "rear")})
    wanted = [f for step in STEPS for f in fields_at(step.key) if asked(readings, f)]
    for field in wanted:
        assert label_of(readings, field) in said
    boxes = [p for page in blank for p in page.figure.axes[0].patches if isinstance(p, Rectangle)]
    assert len(boxes) == len(wanted)
    titles = [text for text in said if any(step.title in text for step in STEPS)]
    assert len(titles) == len(STEPS)  # in the order of the work
    assert titles == sorted(titles, key=lambda title: int(title.split()[0]))


def test_every_caution_is_on_the_paper(blank):
    whole = " ".join(texts(blank))
    for step in STEPS:
        assert step.caution in whole
    assert "never under a car on a jack" in whole
    assert (
        sum(len(page.figure.axes) for page in blank) == len(blank) + len(STEPS) - 1
    )  # a drawing for each but the first


def test_a_filled_form_shows_what_was_typed_and_what_came_of_it(filled):
    readings, pages = filled
    said = texts(pages)
    shown = [f.key for step in STEPS for f in fields_at(step.key) if asked(readings, f) and f.key in readings.typed]
    for key in shown:
        assert readings.typed[key] in said
    assert "(invented)" in said[0]
    assert any("Worked out" in text and "total" in text for text in said)


def test_what_must_be_taken_again_is_on_the_filled_form():
    readings = invented_day(examples.load_example("two-seater")).with_typed("toe.diameter", "a span")
    said = " ".join(texts(paper.pages(readings, car_from(readings, base_of(readings)))))
    assert "Take again: rim edge to rim edge" in said
    assert "a span" in said


@pytest.mark.parametrize("units", [{}, {"start.mass": "lb", "start.length": "in", "start.rate": "lbf_per_in"}])
def test_nothing_lies_on_another_or_over_the_edge(units):
    for page in paper.pages(Readings("my car", {}, units)):
        page.canvas.draw()
        axes = page.figure.axes[0]
        spots = [(t.get_text(), t.get_window_extent()) for t in axes.texts if t.get_text()]
        spots += [("box", p.get_window_extent()) for p in axes.patches if isinstance(p, Rectangle)]
        spots += [("drawing", a.get_window_extent()) for a in page.figure.axes[1:]]
        for text, spot in spots:
            assert spot.x0 > 15, text
            assert spot.x1 < paper.A4[0] - 10, text
            assert spot.y0 > 10, text
        for (one, a), (two, b) in combinations(spots, 2):
            apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 3 or b.y1 <= a.y0 + 3
            assert apart, f"{one!r} and {two!r} lie on each other"


def test_the_file_is_a_pdf_of_as_many_pages(tmp_path, blank):
    path = paper.write(tmp_path / "new folder" / "form.pdf", Readings("my car"))
    raw = path.read_bytes()
    assert raw.startswith(b"%PDF")
    assert [int(n) for n in re.findall(rb"/Count (\d+)", raw)] == [len(blank)]


def test_what_cannot_be_written_is_said_and_leaves_the_former_file(tmp_path, monkeypatch):
    path = tmp_path / "form.pdf"
    path.write_bytes(b"before")

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(InputError, match="No space left on device"):
        paper.write(path, Readings("my car"))
    assert path.read_bytes() == b"before"
