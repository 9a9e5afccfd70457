"""The ledger: parts add up, symmetric causes share alike, and nothing has no part."""

from dataclasses import replace

import numpy as np
import pytest

from vdlib.answers.height_study import net_change, study
from vdlib.answers.ledger import ROUTE_WORDS, by_route
from vdlib.answers.sentences import attitude_words, causes_words, lets_go, story, toward
from vdlib.car import examples
from vdlib.car.records import Moment, reference_setup
from vdlib.checks import InputError
from vdlib.trim.trim import ROUTES, trim
from vdlib.units import G


@pytest.fixture(params=examples.example_names())
def file(request):
    return examples.load_example(request.param)


@pytest.mark.analytic
@pytest.mark.parametrize(
    "phase", ["brake", "lift", *(pytest.param(p, marks=pytest.mark.slow) for p in ("steady", "drive"))]
)
def test_parts_add_up_to_the_difference_of_two_trims(file, phase):
    moment = Moment.in_phase(phase, np.array([[25.0], [35.0]]), np.array([0.3, 0.6, -0.7]) * G)
    level = reference_setup(file.car, file.setup)
    found = by_route(file.car, file.setup, level, moment)
    before, after = trim(file.car, level, moment), trim(file.car, file.setup, moment)
    assert found.parts.shape == (len(ROUTES), 2, 3)
    np.testing.assert_allclose(found.parts.sum(axis=0), found.total, atol=1e-12)
    np.testing.assert_allclose(found.total, after.understeer_angle - before.understeer_angle, atol=1e-8)
    np.testing.assert_allclose(found.total, net_change(file.car, file.setup, moment), atol=1e-8)


@pytest.mark.analytic
def test_two_causes_share_what_they_do_together_in_halves(file):
    """With two causes the Shapley value is the mean of the two orders."""
    moment, level = Moment(30.0, 0.7 * G), reference_setup(file.car, file.setup)
    old, new = (level.front.height, level.rear.height), (file.setup.front.height, file.setup.rear.height)

    def angle(**heights):
        seen = {route: heights.get(route, old) for route in ROUTES}
        return float(trim(file.car, level, moment, seen).understeer_angle)

    none, stops, toe, both = angle(), angle(stops=new), angle(toe=new), angle(stops=new, toe=new)
    found = by_route(file.car, file.setup, level, moment, ("stops", "toe"))
    expected = [0.5 * (stops - none + both - toe), 0.5 * (toe - none + both - stops)]
    np.testing.assert_allclose(found.parts, expected, atol=1e-12)


@pytest.mark.analytic
def test_a_route_that_cannot_act_has_no_part():
    file = examples.load_example("coupe")
    plain = {"toe_slope": 0.0, "toe_bend": 0.0, "lift_area": 0.0, "lift_attitude": 0.0}
    car = replace(file.car, front=replace(file.car.front, **plain), rear=replace(file.car.rear, **plain))
    found = by_route(car, file.setup, reference_setup(car, file.setup), Moment(30.0, 0.7 * G))
    parts = dict(zip(found.causes, found.parts, strict=True))
    assert parts["toe"] == 0
    assert parts["air"] == 0
    assert abs(parts["roll_centres"]) > 1e-5


def test_an_unknown_route_is_refused_in_words():
    file = examples.load_example("hatch")
    moment = Moment(30.0, 0.5 * G)
    with pytest.raises(InputError, match="route must be one of weight"):
        by_route(file.car, file.setup, file.setup, moment, ("wind",))


@pytest.mark.analytic
def test_the_study_shows_what_the_trim_returned(file):
    moment = Moment.in_phase("lift", 110 / 3.6, 0.7 * G)
    found = study(file.car, file.setup, moment)
    np.testing.assert_allclose(found.at.load[..., 1], trim(file.car, file.setup, moment).load, rtol=1e-9)
    level = reference_setup(file.car, file.setup)
    np.testing.assert_allclose(found.at.load[..., 0], trim(file.car, level, moment).load, rtol=1e-9)
    off = study(file.car, file.setup, moment, ())
    np.testing.assert_allclose(off.at.understeer_angle[0], off.at.understeer_angle[1], atol=1e-12)
    assert off.ledger.causes == ()
    assert "every route is switched off" in story(off)


@pytest.mark.analytic
def test_limits_of_the_study_agree_with_the_search(file):
    from vdlib.answers.limits import limits

    moment = Moment.in_phase("lift", 110 / 3.6, 0.7 * G)
    found = study(file.car, file.setup, moment)
    exact = limits(file.car, file.setup, moment)
    np.testing.assert_allclose(found.limit[:, 1], exact.lateral, atol=0.002 * G)


def test_words_follow_the_numbers(file):
    assert attitude_words(0.0344) == "nose-high by 34 mm"
    assert attitude_words(-0.012) == "nose-low by 12 mm"
    assert attitude_words(0.0002) == "at its reference attitude"
    assert toward(np.radians(-0.214)) == "0.21° toward oversteer"
    assert toward(np.radians(0.214)) == "0.21° toward understeer"
    assert "no change" in toward(np.radians(0.004))
    assert lets_go((11.0, 10.0)) == "the rear lets go first, at 1.02 g, the front would at 1.12 g"
    assert "front lets go first" in lets_go((9.0, np.inf))
    found = study(file.car, file.setup, Moment.in_phase("steady", 110 / 3.6, 0.8 * G))
    text = story(found)
    assert toward(float(found.ledger.total)) in text
    top = int(np.argmax(np.abs(found.ledger.parts)))
    assert ROUTE_WORDS[found.ledger.causes[top]].lower() in text.lower()
    opposite = replace(found.ledger, parts=-found.ledger.parts, before=found.ledger.after, after=found.ledger.before)
    assert causes_words(opposite) != causes_words(found.ledger)
    beyond = study(file.car, file.setup, Moment.in_phase("steady", 110 / 3.6, 1.45 * G))
    assert "no steady corner" in story(beyond)


def test_what_the_readme_says_of_the_example_cars_is_so(file):
    """Steady at 0.8 g and 110 km/h: the net effect, its largest part, and the throttle beside it."""
    level = reference_setup(file.car, file.setup)
    steady, lift = (Moment.in_phase(phase, 110 / 3.6, 0.8 * G) for phase in ("steady", "lift"))
    found = by_route(file.car, file.setup, level, steady)
    parts = dict(zip(found.causes, found.parts, strict=True))
    throttle = trim(file.car, level, lift).understeer_angle - trim(file.car, level, steady).understeer_angle
    if "low" in file.car.name:  # no travel left at its rear
        assert found.total < 0
        assert min(parts, key=lambda route: parts[route]) == "stops"
        assert throttle < 0
    else:
        assert found.total > 0
        assert max(parts, key=lambda route: parts[route]) == "roll_centres"
        assert parts["roll_centres"] > -parts["stops"] > -1e-9
        assert throttle < -3 * found.total
