"""How sure for the decision: an answer known beforehand, and what readings leave of the doubt."""

from dataclasses import replace

import numpy as np
import pytest

from vdlib.answers.doubts import doubts_of
from vdlib.answers.spread import Doubt, spread, tried
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.setup.candidate import standing
from vdlib.setup.decision import READINGS, after, decide, words, worse_way
from vdlib.trim.trim import trim
from vdlib.units import G


def asked(name, **more):
    file = examples.load_example(name)
    doubts = doubts_of(file, file.known.kinds, dict(file.known.errors))
    moment = Moment.in_phase("lift", 30.0, 0.8 * G)
    level, now = reference_of(file).setup, standing(file.car, file.setup)
    return decide(file.car, level, now, doubts, moment, 3000, **more), doubts


@pytest.fixture(scope="module")
def found():
    return asked("two-seater")[0]


def test_cars_tried_once_serve_the_decision_as_well_as_the_spread():
    file = examples.load_example("two-seater")
    doubts = doubts_of(file, file.known.kinds, dict(file.known.errors))
    level, now = reference_of(file).setup, standing(file.car, file.setup)
    given = file.car, level, now
    moment = worse_way(*given, Moment.in_phase("lift", 30.0, 0.8 * G))
    known = tried(*given, moment, doubts, 3000)
    np.testing.assert_equal(vars(decide(*given, doubts, moment, 3000, known=known)), vars(asked("two-seater")[0]))
    apart, shared = (spread(*given, moment, doubts, 3000, known=cars) for cars in (None, known))
    np.testing.assert_equal(vars(shared), vars(apart))


@pytest.mark.analytic
def test_of_a_known_sum_a_reading_leaves_what_it_must():
    rng = np.random.default_rng(3)
    x, rest = rng.standard_normal((2, 20_000))
    change = x + rest  # decided by the sign: wrong without x in 1/2, with x in atan(1)/π = 1/4 of all cases
    worse = change < 0
    assert after(x[:, None], change, worse) == pytest.approx(0.25, abs=0.015)
    assert after(rest[:, None] * 0 + rng.standard_normal((20_000, 1)), change, worse) == pytest.approx(0.5, abs=0.02)
    both = after(np.stack([x, rest], axis=1), change, worse)
    assert both < 0.03  # with everything read nothing is left but the width of a class


@pytest.mark.analytic
def test_with_one_doubt_the_chances_are_sums_over_its_own_law():
    """The sign of the change at each value of the gap, weighed with how likely it is; no drawing, no classes."""
    file = examples.load_example("two-seater")
    level, now = reference_of(file).setup, standing(file.car, file.setup)
    moment = Moment.in_phase("lift", 30.0, 0.8 * G)
    middle, sigma, error, count = float(file.car.rear.bump_gap), 0.006, 0.002, 6000
    gap = np.linspace(max(middle - 4 * sigma, 1e-6), middle + 4 * sigma, 1201)
    car = replace(file.car, rear=replace(file.car.rear, bump_gap=gap))
    ahead = [np.subtract(*trim(car, setup, moment).use) for setup in (level, now)]
    worse = ahead[1] < ahead[0]
    likely = np.exp(-0.5 * ((gap - middle) / sigma) ** 2)
    likely /= likely.sum()
    part = float((worse * likely).sum())
    found = decide(file.car, level, now, [Doubt("rear.bump_gap", middle, sigma=sigma)], moment, count)
    assert 0.05 < part < 0.95  # else nothing would be asked
    assert found.worse == pytest.approx(part, abs=4 * np.sqrt(part * (1 - part) / count))
    assert found.wrong == pytest.approx(min(found.worse, 1 - found.worse))
    read = np.linspace(gap[0] - 4 * error, gap[-1] + 4 * error, 1501)[:, None]
    both = likely * np.exp(-0.5 * ((read - gap) / error) ** 2)
    both /= both.sum()
    toward = (both * worse).sum(axis=1)
    left = float(np.minimum(toward, both.sum(axis=1) - toward).sum())  # E[min(p, 1 − p)] over what may be read
    assert found.left["free shaft to the rear stops, standing"] == pytest.approx(left, abs=0.02)


def test_readings_never_make_it_worse_and_several_settle_more(found):
    assert all(part <= found.wrong for part in found.left.values())
    assert list(found.left.values()) == sorted(found.left.values())
    names, part = found.together
    assert part <= found.left[names[0]]
    assert set(found.left) <= set(READINGS)  # readings that a person can take, and no peak grip


def test_the_travel_left_at_the_rear_settles_most_where_it_decides(found):
    assert found.best == "free shaft to the rear stops, standing"
    assert found.left[found.best] < 0.7 * found.wrong


def test_words_give_the_figures(found):
    told = " ".join(words(found))
    assert f"The other {100 * found.wrong:.0f} say the opposite" in told
    assert found.best in told
    nothing = replace(found, left={name: found.wrong for name in found.left})
    assert "No single reading that you can take" in " ".join(words(nothing))


def test_a_reading_in_question_comes_before_any_other(found):
    said = " ".join(words(found, in_question="rear left height is 76 mm off"))
    assert "while a reading is in question: rear left height is 76 mm off. Read that again first." in said
    assert "settles most" not in said
    assert "No single reading" not in said


def test_where_the_cars_are_of_two_minds_nothing_is_said_to_be_decided(found):
    for part, open_still in ((0.51, True), (0.45, True), (0.85, False), (0.2, False)):
        told = words(replace(found, worse=part))[0]
        assert ("cannot be told yet" in told) == open_still


def test_a_number_known_well_already_is_not_asked_for():
    _, doubts = asked("two-seater", few=1)
    known = [replace(d, sigma=1e-3, low=d.middle, high=d.middle) if d.path == "rear.bump_gap" else d for d in doubts]
    file = examples.load_example("two-seater")
    moment = Moment.in_phase("lift", 30.0, 0.8 * G)
    there = decide(file.car, reference_of(file).setup, standing(file.car, file.setup), known, moment, 1000)
    assert "free shaft to the rear stops, standing" not in there.left
