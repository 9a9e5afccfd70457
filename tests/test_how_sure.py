"""How sure: doubts from origins and typical ranges, and the panel that shows them."""

import numpy as np
import pytest
from cars import FIRST_OR_SLOW
from driving import drive, look

from vdlib.answers.doubts import doubts_of
from vdlib.answers.spread import COUNT, draw, spread
from vdlib.car import examples
from vdlib.car.carfile import parse
from vdlib.car.records import Moment, reference_setup
from vdlib.car.typical import Kinds
from vdlib.draw.how_sure import HowSure
from vdlib.panels import how_sure
from vdlib.units import G

pytestmark = pytest.mark.unpainted


def test_doubts_stand_around_the_cars_own_numbers_and_tyres_of_one_kind_err_together():
    file = examples.load_example("hatch")
    doubts = {doubt.path: doubt for doubt in doubts_of(file, file.known.kinds)}
    assert doubts["rear.bump_gap"].middle == pytest.approx(file.car.rear.bump_gap)
    assert doubts["setup.rear.height"].common is False
    assert doubts["front.tyre.grip"].also == ("rear.tyre.grip",)
    assert not any(path.startswith("rear.tyre.") for path in doubts)
    errors = draw(list(doubts.values()), 4000)
    assert errors["rear.bump_gap"].std() == pytest.approx(doubts["rear.bump_gap"].sigma, rel=0.06)


def test_a_measured_number_narrows_the_band():
    file = examples.load_example("two-seater")
    kinds, level = file.known.kinds, reference_setup(file.car, file.setup)
    moment = Moment.in_phase("lift", 110 / 3.6, 0.8 * G)
    widths = []
    for errors in ({}, {"rear.bump_gap": 0.002}):
        found = spread(file.car, level, file.setup, moment, doubts_of(file, kinds, errors), 2000)
        low, _, high = found.band()
        widths.append(high - low)
    assert widths[1] < 0.95 * widths[0]


@pytest.mark.analytic
def test_few_cars_and_many_tell_the_same_but_for_chance():
    """Twelve draws of 1,000 scatter round one of 6,000: the few have no bias, and each seed is like the others."""
    file = examples.load_example("two-seater")
    doubts = doubts_of(file, file.known.kinds)
    level, moment = reference_setup(file.car, file.setup), Moment.in_phase("lift", 110 / 3.6, 0.8 * G)
    many = spread(file.car, level, file.setup, moment, doubts, 6000)
    few = [spread(file.car, level, file.setup, moment, doubts, 1000, seed) for seed in range(1, 13)]
    best = int(np.argmax(many.share))
    for of_few, whole, error, said in (
        ([one.falls for one in few], many.falls, many.falls_error, few[0].falls_error),
        ([one.share[best] for one in few], many.share[best], many.share_error[best], few[0].share_error[best]),
    ):
        scatter = np.std(of_few, ddof=1)
        assert abs(np.mean(of_few) - whole) < 3 * np.hypot(scatter / np.sqrt(12), error)
        assert max(abs(one - whole) for one in of_few) < 4 * np.hypot(scatter, error)
        assert 1 / 1.6 < said / scatter < 1.6  # 12 draws tell a scatter to 21 %; far-out cars make the error too small


def test_the_panel_at_every_end(monkeypatch):
    monkeypatch.setattr(how_sure, "COUNTS", (300, 600))  # the other controls are driven with the few
    visits = drive(how_sure.panel(examples.load_example("two-seater")), again=False, brief=True)
    assert not any(visit.message for visit in visits)
    assert any("cannot hold this corner" in visit.words for visit in visits)
    assert {visit.result.spread.change.size for visit in visits} == set(how_sure.COUNTS)


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_the_picture_shows_the_spread(name):
    panel = how_sure.panel(examples.load_example(name))
    look(panel)
    found, view, decision = panel.result.spread, HowSure(), panel.result.decision
    view.draw(found, decision.wrong, decision.left)
    shown = {role: len(line.get_xdata()) for role, line in view.cars.items()}
    assert found.change.size == COUNT
    assert sum(shown.values()) == 100
    assert shown["toward_oversteer"] == pytest.approx(100 * found.falls * found.known.mean(), abs=1)
    low, _, high = np.degrees(found.band())
    np.testing.assert_allclose(view.band.get_xdata(), [low, high])
    assert sum(patch.get_height() for patch in view.bars) == pytest.approx(100 * found.known.mean())
    assert view.names[0].get_text() == f"now: {100 * decision.wrong:.0f}"  # words and picture give the same figures
    assert f"The other {100 * decision.wrong:.0f} say the opposite" in panel.words_html.value
    if decision.best:
        assert view.names[1].get_text() == f"with {decision.best}: {100 * decision.left[decision.best]:.0f}"
        assert f"settles most: {decision.best}. With it " in panel.words_html.value
    assert tuple(shown.values()) == found.of_hundred  # words and picture tell the same three numbers
    assert f"{found.of_hundred[0]} of 100 plausible cars move toward oversteer" in panel.words_html.value
    share = 100 * max(decision.worse, 1 - decision.worse)  # the verdict is the question of the form's first answer
    assert f"plausible cars {share:.0f} in 100 say: the rear has" in panel.words_html.value
    assert "about" not in panel.words_html.value.partition("of 100")[0]  # 10,000 cars: chance is below the last digit
    panel.set("count", 1000)
    few = panel.result.spread
    about = "about " if few.falls_error > 0.005 else ""  # where all move one way, chance leaves nothing open
    assert f": {about}{few.of_hundred[0]} of 100" in panel.words_html.value


def test_the_turn_asked_about_is_said_where_left_and_right_differ():
    apart, alike = (how_sure.panel(examples.load_example(name)) for name in ("low-two-seater", "coupe"))
    assert "0.80 g, in a left turn. " in apart.words_html.value
    assert "turn." not in alike.words_html.value


def test_every_number_is_listed_with_its_origin():
    text = how_sure.where_from(examples.load_example("coupe")).value
    assert text.count("<tr>") > 50
    assert "common practice, no source" in text
    assert "example" in text


def test_kinds_of_the_examples_are_known():
    for name in examples.example_names():
        assert isinstance(examples.load_example(name).known.kinds, Kinds)


def test_a_wheels_own_error_is_among_the_doubts(monkeypatch):
    """Both rear wheels read on the strings, each with its error: what they differ by is doubted too."""
    file = examples.load_example("low-two-seater")
    text = file.text + (
        '\n[origin]\nsetup.rear_left.toe = "measured"\nsetup.rear_right.toe = "measured"\n'
        "[error]\nsetup.rear_left.toe_deg = 0.03\nsetup.rear_right.toe_deg = 0.03\n"
    )
    monkeypatch.setattr(how_sure, "COUNTS", (1000, 500))
    panel = how_sure.panel(parse(text))
    assert not panel.message
    assert "rear toe, left minus right" in panel.result.spread.names
