"""What-ifs and requests far from the car as it stands: limits of odd setups, and answers with nothing left to spare."""

import numpy as np
import pytest
from cars import FIRST, FIRST_OR_SLOW, OTHERS

from vdlib.answers.limits import limits
from vdlib.answers.stacking import stack
from vdlib.car import examples
from vdlib.car.records import PHASES, Moment
from vdlib.setup.advice import KINDS, Ask, gains, levers, turned, value
from vdlib.setup.candidate import Version, baseline
from vdlib.setup.request import guess, solve
from vdlib.setup.whatif import PHASE_ORDER, compare
from vdlib.units import G

SPEED = 30.0


@pytest.fixture(scope="module")
def files():
    return {name: examples.load_example(name) for name in examples.example_names()}


@pytest.mark.analytic
@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_limits_of_odd_setups_are_those_of_the_search(files, name):
    """A wheel that lifts just past a limit bends the coarse sweep; what is compared must be the limit all the same."""
    base = baseline(files[name].car, files[name].setup)
    rng, wanted = np.random.default_rng(1), levers(base.car, base.setup)
    odd = [
        turned(base.setup, {one.path: rng.uniform(one.low, one.high) - one.now for one in wanted}) for _ in range(16)
    ]
    found = compare([Version("", base.car, setup) for setup in odd], SPEED, 0.8 * G).limit
    usual = np.array([PHASES[phase] for phase in PHASE_ORDER]).T
    exact = limits(base.car, stack(odd, 1), Moment(np.full((16, 1), SPEED), 0.8 * G, *usual)).sliding
    np.testing.assert_allclose(found / G, exact / G, atol=2e-3)


WHOLE = ((("height",), (1.0,)), (("bar", "pressure"), (0.3,)), (tuple(KINDS), (0.3, 1.0)))
"""Kinds of settings that may be turned, and what part of a request of the usual size is asked for."""


@pytest.mark.analytic
@pytest.mark.parametrize(
    "goal",  # every run: test_a_request_is_answered_honestly asks for steering
    ["gap", pytest.param("steering", marks=pytest.mark.slow), "growth"],
)
@pytest.mark.parametrize(
    ("name", "requests"),
    [
        pytest.param(FIRST, (*WHOLE[1:2], (tuple(KINDS), (1.0,))), id=FIRST),
        *(pytest.param(name, WHOLE, id=f"{name}-whole", marks=pytest.mark.slow) for name in (FIRST, *OTHERS)),
    ],
)
def test_no_single_step_less_reaches_what_the_answer_reaches(files, name, goal, requests):
    base = baseline(files[name].car, files[name].setup)
    ask = Ask(goal)
    now = value(compare([base], ask.speed, ask.lateral, (ask.phase,)), ask)
    reached = 0
    for kinds, parts in requests:
        wanted = levers(base.car, base.setup, kinds=kinds)
        for part in parts:
            target = now + part * {"gap": 0.02, "steering": 0.1, "growth": 0.3}[goal]
            answer = solve(base, ask, target, wanted)
            fewer = [
                answer.steps | {one.path: np.sign(step) * (abs(step) - one.grid)}
                for one in wanted
                if (step := answer.steps.get(one.path, 0.0))
            ]
            if answer.reached and fewer:
                reached += 1
                tried = [Version("", base.car, turned(base.setup, steps)) for steps in fewer]
                found = compare(tried, ask.speed, ask.lateral, (ask.phase,))
                assert all(value(found, ask, row) < target - 2e-4 for row in range(len(fewer)))
    assert reached >= len(requests)


@pytest.mark.analytic
def test_a_guess_is_one_newton_step_in_whole_steps_outward(files):
    base, ask = baseline(files[FIRST].car, files[FIRST].setup), Ask("gap")
    wanted = levers(base.car, base.setup, kinds=("bar", "height"))
    known = gains(base, ask, wanted, (ask.phase,))
    now, slope = value(known.base, ask), known.of(ask) * ask.way
    need = 0.005
    found = guess(base, ask, now + need * ask.way, wanted, known)
    steps = np.array([found.steps.get(one.path, 0.0) for one in wanted])
    grid = np.array([one.grid for one in wanted])
    np.testing.assert_allclose(steps / grid, np.round(steps / grid), atol=1e-9)
    assert slope @ steps >= need - 1e-9
    assert slope @ (np.sign(steps) * np.maximum(np.abs(steps) - grid, 0)) < need  # with a step less each it falls short
    assert found.reached == (value(found.found, ask, 1) * ask.way >= (now * ask.way + need) - 2e-4)
    done = guess(base, ask, now - 0.01 * ask.way, wanted, known)
    assert done.already
    assert not done.steps
    far = guess(base, ask, now + 9 * ask.way, wanted, known)
    assert not far.reached
    for one, pull in zip(wanted, slope, strict=True):  # all that helps, to its last whole step
        room = one.high - one.now if pull > 0 else one.now - one.low
        assert abs(far.steps.get(one.path, 0.0)) == pytest.approx(np.floor(room / one.grid + 1e-6) * one.grid)
        assert far.steps.get(one.path, 0.0) * pull >= 0
