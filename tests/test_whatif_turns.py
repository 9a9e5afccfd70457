"""What-ifs, advice and requests of cars whose wheels differ: both turns are asked, and the worse decides."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_cars import mirrored
from in_turns import balance_in_turns, limits_in_turns

from vdlib.answers.doubts import doubts_of
from vdlib.answers.turns import LEFT, RIGHT, limit_gap
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.panels import how_sure, whatif, whatif_words
from vdlib.setup.advice import Ask, gains, levers, ranked, value
from vdlib.setup.candidate import Version, baseline, put, standing
from vdlib.setup.decision import leaning, worse_way
from vdlib.setup.request import solve
from vdlib.setup.whatif import PHASE_ORDER, compare, uneven
from vdlib.units import G

pytestmark = pytest.mark.unpainted

SPEED, LATERAL = 30.0, 0.6 * G
FILE = examples.load_example("low-two-seater")  # its rear right wheel points out


@pytest.fixture(scope="module")
def base():
    return baseline(FILE.car, FILE.setup)


@pytest.fixture(scope="module")
def found(base):
    softer = replace(base, setup=put(base.setup, "rear.bar", 0.8 * base.setup.rear.bar))
    return compare([base, softer], SPEED, LATERAL)


@pytest.mark.analytic
def test_both_turns_are_those_of_the_library(base, found):
    for at, phase in list(enumerate(PHASE_ORDER))[1::3]:
        moment = Moment.in_phase(phase, SPEED, LATERAL)
        limits, angles = limits_in_turns(base.car, base.setup, moment), balance_in_turns(base.car, base.setup, moment)
        for turn, lim, angle in ((LEFT, limits.left, angles.left), (RIGHT, limits.right, angles.right)):
            there = found.turning(turn)
            np.testing.assert_allclose(there.limit[:, 0, at] / G, lim.lateral / G, atol=1e-3)
            assert there.angle[0, at] == pytest.approx(float(angle.understeer_angle), abs=1e-8)
            np.testing.assert_allclose(there.load[:, :, 0, at], angle.trim.load, rtol=1e-6, atol=1e-3)
            assert there.double[0, at] == pytest.approx(float(angle.time_to_double), rel=1e-5)
        assert found.worse(phase).turn == (int(limits.worse) or LEFT)
        assert found.worse(phase).gap[0, at] == pytest.approx(float(limit_gap(limits.first)), abs=1.5e-3 * G)


@pytest.mark.analytic
def test_the_mirrored_car_has_the_turns_the_other_way_round(base, found):
    car, setup, _ = mirrored(base.car, base.setup, Moment(SPEED, LATERAL))
    glass = compare([Version("mirror", car, setup)], SPEED, LATERAL)
    for turn in (LEFT, RIGHT):
        here, there = found.turning(turn).only(0), glass.turning(-turn)
        np.testing.assert_allclose(there.limit, here.limit, rtol=1e-7)
        np.testing.assert_allclose(there.angle, here.angle, rtol=1e-7, atol=1e-10)
        np.testing.assert_allclose(there.load, here.load[:, ::-1], rtol=1e-7, atol=1e-4)
    ask = Ask()
    there = compare([Version("m", car, setup)], SPEED, LATERAL)
    assert value(there, ask) == pytest.approx(value(found, ask), abs=1e-6)


@pytest.mark.analytic
def test_a_car_alike_left_and_right_is_solved_once_and_still_has_both_turns(base):
    file = examples.load_example("two-seater")
    even = baseline(file.car, file.setup)
    assert not uneven(even.car, even.setup)
    one = compare([even], SPEED, LATERAL)
    assert one.other is None
    right = one.turning(RIGHT)
    slow = balance_in_turns(even.car, even.setup, Moment.in_phase("lift", SPEED, LATERAL)).right
    np.testing.assert_allclose(right.load[:, :, 0, PHASE_ORDER.index("lift")], slow.trim.load, rtol=1e-6, atol=1e-3)
    mixed = one.beside(compare([base], SPEED, LATERAL))
    assert mixed.names == (even.name, base.name)
    np.testing.assert_allclose(mixed.turning(RIGHT).load[:, :, 0], right.load[:, :, 0])
    np.testing.assert_allclose(mixed.turning(RIGHT).turning(LEFT).limit, mixed.limit)


def test_the_goal_is_that_of_the_worse_turn(base, found):
    at = found.phases.index("lift")
    both = [found.turning(turn).gap[0, at] / G for turn in (LEFT, RIGHT)]
    assert both[0] != pytest.approx(both[1], abs=1e-5)
    assert value(found, Ask()) == pytest.approx(min(both))
    assert value(found, Ask(way=-1)) == pytest.approx(max(both))  # willing to turn: the less willing turn counts
    wanted = levers(base.car, base.setup, kinds=("bar",))
    assert gains(base, Ask(), wanted).base.turn == found.worse("lift").turn
    assert all(one.end is None or one.reach < 1 for one in ranked(base, Ask(), wanted))


def test_a_request_is_met_in_both_turns(base):
    ask = Ask()
    now = value(compare([base], ask.speed, ask.lateral, (ask.phase,)), ask)
    answer = solve(base, ask, now + 0.01, levers(base.car, base.setup, kinds=("bar", "pressure")))
    assert answer.reached
    exact = limits_in_turns(base.car, answer.version.setup, Moment.in_phase("lift", ask.speed, 1.0))
    gaps = [float(limit_gap(one)) / G for one in (exact.left, exact.right)]
    assert min(gaps) >= now + 0.01 - 2e-3
    assert answer.end == pytest.approx(min(gaps), abs=2e-3)


def test_how_sure_asks_in_the_worse_turn():
    reference, now = reference_of(FILE).setup, standing(FILE.car, FILE.setup)
    way = worse_way(FILE.car, reference, now, Moment.in_phase("lift", SPEED, LATERAL))
    car, setup, _ = mirrored(FILE.car, now, way)
    other = worse_way(car, mirrored(FILE.car, reference, way)[1], setup, way)
    assert other.lateral == -way.lateral
    doubts = doubts_of(FILE, *how_sure.known_of(FILE))
    either = [leaning(FILE.car, reference, now, doubts, replace(way, lateral=s * LATERAL)) for s in (1, -1)]
    assert either[0] == either[1]  # of the lateral acceleration only the size counts


def test_the_what_if_says_which_turn_it_shows(base):
    desk = whatif.panel(FILE)
    shown = desk.panel.result
    turn = whatif_words.TURNS[shown.found.turn]
    assert shown.found.turn == shown.found.worse(shown.phase).turn
    assert f"in a {turn} turn, the worse of the two" in whatif_words.head(shown)
    assert "left turn" in whatif_words.words(shown)
    assert "right turn" in whatif_words.words(shown)


def test_a_load_taken_off_again_leaves_both_turns_alike():
    shown = whatif.panel(examples.load_example("two-seater")).panel  # its left and right turns are alike
    assert "turn, the worse" not in whatif_words.words(shown.result)
    for values in ({"load_mass": 60.0, "load_left": 400.0}, {"speed": 95.0}):
        shown.set_all(values)
    assert "the worse of the two" in whatif_words.head(shown.result)
    shown.set("load_mass", 0.0)
    assert "the worse of the two" not in whatif_words.head(shown.result)
    assert shown.result.found.other is None
