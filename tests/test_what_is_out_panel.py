"""The panel of everything that is out: every control to both ends, bars and words against the answer."""

from dataclasses import replace

import numpy as np
import pytest
from cars import FIRST_OR_SLOW
from driving import drive

from vdlib.car import examples
from vdlib.panels import what_is_out
from vdlib.units import number

pytestmark = pytest.mark.unpainted


@pytest.mark.slow
@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_every_control_to_both_ends(name):
    visits = drive(what_is_out.panel(examples.load_example(name)), again=False)
    assert not any(visit.message for visit in visits)


@pytest.fixture(scope="module")
def story():
    return what_is_out.panel(examples.load_example("low-two-seater"))


@pytest.mark.parametrize("question", what_is_out.QUESTIONS)
def test_bars_and_words_show_the_answer(story, question):
    story.set_all({"question": question, "turn": what_is_out.WORSE, "again": False})
    asks, found = what_is_out.QUESTIONS[question], story.result
    view = what_is_out.WhatIsOut(10, 5)
    causes = list(zip(found.shown.words, asks.scale(found.shown.causes.parts), strict=True))
    view.draw(asks.unit, causes, [], float(asks.scale(found.shown.causes.total)))
    shown = {name.get_text(): bar.get_width() for name, bar in zip(view.causes.names, view.causes.bars, strict=True)}
    for words, part in causes:
        assert shown[words] == pytest.approx(float(part))
    assert shown["all together"] == pytest.approx(sum(float(part) for _, part in causes))
    size = number(float(asks.scale(found.shown.causes.total)), asks.digits, sign=True)
    does = {"gap": "lets go {} sooner, against the front,", "hands": "settle the car up to {} less",
            "steering": "leans {} further toward oversteer"}[question]  # fmt: skip
    size_of = f"{size.removeprefix('−')} {asks.unit}"
    assert f"{does.format(size_of)} than at “as lowered, before it sagged”" in story.words_html.value
    assert f"moved by {size} {asks.unit};" in story.words_html.value
    assert "most of it is the rear ride height" in story.words_html.value


def test_the_worse_turn_is_shown_first_and_both_stand_in_the_table(story):
    story.set_all({"question": "steering", "turn": what_is_out.WORSE})
    worse = float(story.result.shown.causes.after)
    story.set("turn", "right" if story.result.turn > 0 else "left")
    assert float(story.result.shown.causes.after) > worse
    assert "left turn" in story.words_html.value
    assert "right turn" in story.words_html.value
    assert "thrust angle" in story.words_html.value


def test_what_reads_within_tolerance_is_not_listed_as_out():
    file = examples.load_example("low-two-seater")
    level = what_is_out.reference_of(file).setup
    near = replace(file.setup, front=replace(file.setup.front, height=level.front.height + 0.003,
                                             aligned_height=level.front.height + 0.003))  # fmt: skip
    told = what_is_out.panel(replace(file, setup=near)).words_html.value
    inside = told.partition("Off it, but inside tolerance: ")[2].partition("<br>")[0]
    out = told.partition("Out against the reference: ")[2].partition("<br>")[0]
    assert ("front ride height" in inside, "front ride height" in out) == (True, False)
    assert ("rear ride height" in inside, "rear ride height" in out) == (False, True)
    assert "rear toe" in out  # toed out: never inside


def test_what_nobody_read_is_typical_and_not_listed_as_out(tmp_path, story):
    file = examples.load_example("low-two-seater")
    assert not what_is_out.not_measured(file)  # an example's numbers all count as read
    origin = {f"setup.rear.{name}": "typical" for name in ("toe", "camber")} | {"setup.front.toe": "measured"}
    mine = replace(file, path=tmp_path / "mine.toml", origin=origin)
    assert what_is_out.not_measured(mine) == {"rear.toe", "rear.camber"}
    panel = what_is_out.panel(mine)
    told = panel.words_html.value
    out = told.partition("Out against the reference: ")[2].partition("<br>")[0]
    typical = told.partition("Typical, not measured")[2].partition("<br>")[0]
    assert ("rear ride height" in out, "rear toe" in out, "rear camber" in out) == (True, False, False)
    assert "rear toe" in typical
    assert "rear camber" in typical
    assert "thrust angle" not in told  # of a rear toe that nobody read
    story.reset()
    np.testing.assert_allclose(panel.result.shown.causes.parts, story.result.shown.causes.parts)  # shares still add up


def test_alignment_set_again_has_its_row(story):
    story.set_all({"question": "gap", "turn": what_is_out.WORSE, "again": True})
    row = dict(zip(story.result.shown.words, story.result.shown.causes.parts, strict=True))
    assert "alignment set again at the new height" in row
    assert np.abs(row["alignment set again at the new height"]) < 0.1 * np.abs(row["rear ride height"])
    story.set("again", False)
    assert "alignment set again at the new height" not in story.result.shown.words


def test_a_car_as_its_reference_says_so():
    file = examples.load_example("coupe")
    reference = what_is_out.reference_of(file)
    panel = what_is_out.panel(replace(file, setup=reference.setup))
    assert "Nothing is out" in panel.words_html.value
