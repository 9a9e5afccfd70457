"""The panel of everything that is out: every control to both ends, bars and words against the answer."""

import re
from dataclasses import replace
from html import unescape

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
    before, after, change = asks.printed(found.shown)
    for told, exact in zip((before, after, change), (found.shown.causes.before, found.shown.causes.after,
                                                     found.shown.causes.total), strict=True):  # fmt: skip
        assert told == pytest.approx(float(asks.scale(exact)), abs=1.001 * 10**-asks.digits)
    view.draw(asks.unit, causes, [], change, asks.digits)
    shown = {name.get_text(): bar.get_width() for name, bar in zip(view.causes.names, view.causes.bars, strict=True)}
    for words, part in causes:
        assert shown[words] == pytest.approx(float(part))
    assert shown["all together"] == pytest.approx(sum(float(part) for _, part in causes), abs=1.001 * 10**-asks.digits)
    size = number(change, asks.digits, sign=True)
    does = {"gap": "lets go {} sooner, against the front,", "hands": "settle the car up to {} less",
            "steering": "leans {} further toward oversteer"}[question]  # fmt: skip
    size_of = f"{size.removeprefix('−')} {asks.unit}"
    assert f"{does.format(size_of)} than at “as lowered, before it sagged”" in story.words_html.value
    assert f"moved by {size} {asks.unit};" in story.words_html.value
    assert "most of it is the rear ride height" in story.words_html.value


@pytest.mark.parametrize("name", ["hatch", "low-two-seater", "two-seater"])
def test_what_is_printed_adds_up(name):
    """Reference, as it is and change, in all questions and phases: the first two as printed give the third."""
    panel = what_is_out.panel(examples.load_example(name))
    for question, asks in what_is_out.QUESTIONS.items():
        for phase in ("steady", "lift"):
            panel.set_all({"question": question, "phase": phase})
            words = unescape(panel.words_html.value)
            size = rf"([+−]?\d+\.\d{{{asks.digits}}}) {asks.unit}"
            ends = re.findall(rf"turn</t[dh]>.*?{size}.*?{size}.*?{size}", words)
            assert len(ends) == 2
            for row in ends:
                before, after, change = (round(float(text.replace("−", "-")) * 10**asks.digits) for text in row)
                assert after - before == change
            together = panel.picture.figure.axes[0].texts
            shown = f"moved by {ends[panel.result.turn < 0][2]} {asks.unit};"
            assert shown in words
            assert ends[panel.result.turn < 0][2] in [text.get_text() for text in together]


def test_the_thrust_angle_is_said_with_what_it_does_in_either_turn(story):
    """Not always does one turn gain what the other loses: the parts are those of the rear toe, turn by turn."""
    for question, asks in what_is_out.QUESTIONS.items():
        story.set_all({"question": question, "turn": what_is_out.WORSE, "again": False})
        words = unescape(story.words_html.value)
        assert "the other loses" not in words
        parts = {}
        for turn in ("left", "right"):
            causes = getattr(story.result.both, turn).causes
            part = float(asks.scale(causes.parts[causes.causes.index("rear.toe")]))
            parts[f"{number(part, asks.digits, sign=True)} {asks.unit} of it in the {turn} turn"] = part
        counts = max(map(abs, parts.values())) > 0.5 * 10**-asks.digits
        assert counts == (question == "steering")
        assert [told in words for told in parts] == [counts, counts]
        assert ("changes nothing to speak of" in words) != counts


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
