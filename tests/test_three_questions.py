"""Three questions of one car: each answer against its own source, and no sentence that contradicts another."""

import numpy as np
import pytest

from vdlib.answers.balance import balance
from vdlib.answers.hands_still import hands_still_limit
from vdlib.answers.three_questions import LEANS_AT, ask, why_it_spins
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.units import G


@pytest.mark.analytic
@pytest.mark.parametrize("lift", [None, 0.1])
@pytest.mark.parametrize("name", examples.example_names())
def test_each_answer_is_that_of_its_own_reader(name, lift):
    file = examples.load_example(name)
    found = ask(file.car, file.setup, 60.0, lift)
    speed = float(np.sqrt(LEANS_AT * 60.0))
    assert found.gradient == pytest.approx(
        float(balance(file.car, file.setup, Moment(speed, LEANS_AT)).gradient), rel=1e-6
    )
    assert float(found.hands.limit) == float(hands_still_limit(file.car, file.setup, 60.0, lift).limit)
    assert found.line.usable[:-3].all()
    top = found.line.rise <= 0
    assert top.any() == bool(found.hands.exists)
    if top.any():
        near = found.line.lateral[int(top.argmax())]
        assert near == pytest.approx(float(found.hands.limit), abs=0.02 * G)
    else:
        assert np.all(found.line.rise[found.line.usable] > 0)
    lean, first, hands = found.answers
    assert ("understeer" in lean) == (found.leans > 0)
    assert first.startswith("The rear" if found.rear_first else "The front")
    assert ("the grip ends first" in hands) == (not found.hands.exists)
    assert float(found.limits.lateral.min()) == pytest.approx(float(found.hands.grip_ends), abs=0.02 * G)


def test_where_two_answers_seem_to_disagree_a_sentence_says_why():
    file = examples.load_example("low-two-seater")
    found = ask(file.car, file.setup, 60.0, 0.1)
    assert found.leans != 0
    assert found.rear_first
    assert bool(found.why_they_differ) == (found.leans > 0)


@pytest.mark.analytic
def test_a_corner_in_which_a_slide_dies_out_and_the_car_spins_after_a_lift_is_explained():
    file = examples.load_example("low-two-seater")
    steady, closed = (hands_still_limit(file.car, file.setup, 60.0, lift) for lift in (None, 0.15))
    lateral = 0.97 * float(closed.limit)
    assert np.isinf(balance(file.car, file.setup, Moment(float(np.sqrt(lateral * 60)), lateral)).time_to_double)
    assert "tightens the line" in why_it_spins(steady, closed, lateral)
    assert why_it_spins(steady, closed, 0.5 * lateral) == ""
    assert why_it_spins(steady, closed, 1.1 * float(steady.limit)) == ""
