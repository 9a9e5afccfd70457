"""The measuring form on paper: boxes 10 mm tall at their wheels, every box and caution on it, nothing on another."""

import os
from itertools import combinations

import pytest
from cars import TWO_OR_SLOW
from read_pdf import words_of

from vdlib.car import examples
from vdlib.checks import InputError
from vdlib.draw import paper
from vdlib.draw.typeset import MARGIN, PAPERS, SMALLEST, length, pdf
from vdlib.garage.car_from import base_of, car_from
from vdlib.garage.form import STEPS
from vdlib.garage.form_fields import FIELDS, LOOK, PRINTOUT
from vdlib.garage.invented import invented_day
from vdlib.garage.typed import Readings


@pytest.fixture(scope="module")
def blank():
    return paper.pages(Readings("my car"))


def day(name="two-seater"):
    readings = invented_day(examples.load_example(name))
    return readings, car_from(readings, base_of(readings))


@pytest.fixture(scope="module")
def filled():
    readings, answer = day()
    return readings, paper.pages(readings, answer)


def said(leaves):
    return " ".join(text.words for leaf in leaves for text in leaf.texts)


@pytest.mark.parametrize("kind", list(PAPERS))
@pytest.mark.parametrize("name", [None, *TWO_OR_SLOW])
def test_the_drivers_page_is_one_and_all_fits(name, kind):
    readings, answer = (Readings("my car"), None) if name is None else day(name)
    leaves = paper.pages(readings, answer, kind)
    assert 2 <= len(leaves) <= 3
    for leaf in leaves:
        assert leaf.room >= 0
        for text in leaf.texts:
            assert text.size >= SMALLEST
            wide = length(text.words, text.bold) * text.size
            start = text.x - (wide if text.anchor == "right" else 0)
            assert start >= MARGIN - 1, text.words
            assert start + wide <= leaf.paper.width - MARGIN + 3, text.words
            assert MARGIN - 1 <= text.y <= leaf.paper.height - MARGIN + 1


def test_boxes_of_the_drivers_page_are_ten_millimetres_tall(blank):
    assert {round(high / 72 * 25.4, 1) for _, _, _, high, _ in blank[0].boxes} == {10.0}
    assert len(blank[0].boxes) == 4 * 11 + 2 * 6 + sum(map(len, paper.ON_TOP))


@pytest.mark.parametrize("which", ["blank", "filled"])
def test_no_box_and_no_text_lies_on_another(which, request):
    leaves = request.getfixturevalue(which)
    for leaf in leaves if which == "blank" else leaves[1]:
        for (ax, ay, aw, ah, _), (bx, by, bw, bh, _) in combinations(leaf.boxes, 2):
            assert ax + aw <= bx + 0.1 or bx + bw <= ax + 0.1 or ay + ah <= by + 0.1 or by + bh <= ay + 0.1
        places = []
        for t in leaf.texts:
            wide = length(t.words, t.bold) * t.size / 1.02
            start = t.x - (wide if t.anchor == "right" else 0)
            places.append((start, t.y - 0.72 * t.size, start + wide, t.y, t.words))
        for (a, b, c, d, one), (e, f, g, h, two) in combinations(places, 2):
            assert min(c, g) - max(a, e) < 1 or min(d, h) - max(b, f) < 1, (one, two)


def test_each_letter_stands_once_at_each_wheel_and_axle(blank):
    letters = [t.words.split()[0] for t in blank[0].texts if t.size == 7.0 and len(t.words.split()[0]) == 1]
    for row in paper.AT_WHEEL:
        for letter, _, _ in row:
            assert letters.count(letter) == 4
    for letter, _, _ in paper.AT_AXLE:
        assert letters.count(letter) == 2


def test_every_box_of_the_form_is_on_one_of_the_pages(blank):
    back = said(blank[1:])
    for key, field in FIELDS.items():
        if key not in (*paper.on_first_page(), PRINTOUT) and not field.when[0]:  # a print-out is handed over itself
            assert field.label.split()[0] in back
    assert len(paper.on_first_page()) > 60
    assert all(words in said(blank[:1]) for words in LOOK.values())


def test_every_caution_is_on_the_paper(blank):
    whole = said(blank)
    for step in STEPS:
        if step.key != "look":
            assert step.caution.split(":")[0][:40] in whole
    assert "never under a car on a jack" in said(blank[:1])


def test_a_filled_form_shows_what_was_typed_and_what_came_of_it(filled):
    readings, leaves = filled
    whole = said(leaves)
    for key in ("heights.front_left", "corners.rear_right", "felt.words", "tyres.rear_left_cold"):
        assert readings.typed[key] in whole
    assert "Worked out (± one standard deviation):" in whole
    assert "(invented)" in whole


def test_what_must_be_taken_again_is_on_the_filled_form():
    readings, _ = day()
    readings = readings.with_typed("corners.front_left", "3")
    assert "Take again: front left scale" in said(paper.pages(readings, car_from(readings, base_of(readings))))


def test_the_file_reads_back_from_the_pdf(tmp_path, filled):
    target = tmp_path / "form.pdf"
    target.write_bytes(pdf(filled[1], "a form"))
    flat = words_of(target)
    assert "FRONT LEFT" in flat
    assert "qualified people" in flat  # no letters run together
    assert filled[0].typed["felt.words"] in flat


def test_what_cannot_be_written_is_said_and_leaves_the_former_file(tmp_path, monkeypatch):
    monkeypatch.setattr(paper, "pdf", lambda leaves, title: f"{title}, {len(leaves)} pages".encode())
    target = tmp_path / "form.pdf"
    paper.write(target, Readings("my car"))
    former = target.read_bytes()
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(InputError, match="No space left"):
        paper.write(target, Readings("other"))
    assert target.read_bytes() == former
