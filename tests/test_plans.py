"""What a plan of laps is said to find, beforehand, against what is found on days written afterwards."""

import numpy as np
import pytest
from scipy import stats
from test_alike import days, session
from test_alike import plain as laid_out

from vdlib.checks import InputError
from vdlib.laps.alike import FOUND, allow_for_likeness, plan_reach
from vdlib.laps.evidence import compare
from vdlib.laps.plans import COST, LAPS, LIKENESS, PLANS, promised, simulated
from vdlib.panels import believe

pytestmark = pytest.mark.analytic
SPREAD = 0.4


def found_on(sizes, likeness, offset, change, count, seed):
    """Share of days on which ``compare`` shows a change, and the usual half width of what the laps fit."""
    laps = days(seed, count, sizes, likeness, SPREAD, offset, change)
    design, contrast, group, number = laid_out(sizes)
    y = np.concatenate(laps, axis=1).T
    alike = allow_for_likeness(y, design, contrast, group, number, offset).change
    open_ones = np.flatnonzero(alike.shown)  # nothing is claimed on the other days
    held = [compare(*(session(s[d]) for s in laps), seed=int(d), draws=299, offset=offset) for d in open_ones]
    return sum(one.verdict != "not shown" for one in held) / count


CASES = [(2, 8, 0.6, 0.0), (3, 8, 0.8, 0.25)]
CASES += [
    pytest.param(*one, marks=pytest.mark.slow)
    for one in ((2, 12, 0.2, 0.25), (2, 8, 0.0, 0.0), (3, 8, 0.0, 0.0), (3, 5, 0.4, 0.0))
]


@pytest.mark.parametrize(("sessions", "laps", "likeness", "offset"), CASES)
def test_the_promised_difference_is_found_on_the_share_of_days_it_says(sessions, laps, likeness, offset):
    _, change = promised(sessions, laps, SPREAD, likeness, offset, learning=True)
    count = 100
    share = found_on([laps] * sessions, likeness, offset, change, count, 41)
    print(sessions, laps, likeness, offset, "promised", round(change, 2), "s, found on", share)
    assert share == pytest.approx(FOUND, abs=2 * np.sqrt(FOUND * (1 - FOUND) / count) + 0.03)  # 0.03 for the cost kept


KEPT = [(2, 6, 0.2), (0, 4, 0.8), (0, 8, 0.0), (1, 15, 0.4)]


@pytest.mark.slow  # every run: the share of days on which the promised difference is found
@pytest.mark.parametrize(("plan", "laps", "likeness"), KEPT)
def test_the_costs_kept_are_what_is_simulated(plan, laps, likeness):
    sessions, learning = PLANS[plan]
    again = np.array(simulated([laps] * sessions, likeness, learning, days=1000, seed=7))
    again /= plan_reach([laps] * sessions, 1.0, likeness, 0.0, learning)
    np.testing.assert_allclose(COST[:, plan, LAPS.index(laps), LIKENESS.index(likeness)], again, rtol=0.12)


@pytest.mark.parametrize(("plan", "laps", "likeness"), KEPT)
def test_what_is_promised_is_the_closed_form_times_the_cost_kept(plan, laps, likeness):
    sessions, learning = PLANS[plan]
    found = promised(sessions, laps, SPREAD, likeness, 0.0, learning)
    closed = plan_reach([laps] * sessions, SPREAD, likeness, 0.0, learning)
    kept = COST[:, plan, LAPS.index(laps), LIKENESS.index(likeness)]
    assert found == pytest.approx((kept[0] * closed[0], kept[1] * closed[1]))


@pytest.mark.parametrize(("laps", "likeness", "offset"), [(8, 0.6, 0.0), (12, 0.2, 0.25)])
def test_the_closed_form_of_two_sessions_is_that_of_laps_each_like_the_one_before(laps, likeness, offset):
    """Best mean of n laps, each like the one before by ρ: variance σ²·(1 + ρ) / (n − (n − 2)·ρ)."""
    error = np.sqrt(2 * SPREAD**2 * (1 + likeness) / (laps - (laps - 2) * likeness) + 2 * offset**2)
    t = stats.t.ppf(0.975, 2 * laps - 2)
    found = plan_reach([laps, laps], SPREAD, likeness, offset, False)
    assert found == pytest.approx((t * error, (t + stats.norm.ppf(0.8)) * error), rel=1e-3)


def test_more_laps_less_scatter_and_no_offset_find_smaller_differences():
    for sessions, learning in PLANS:
        found = [promised(sessions, n, SPREAD, 0.3, 0.1, learning)[1] for n in range(4, 16)]
        assert np.all(np.diff(found) < 0)
        assert promised(sessions, 8, 2 * SPREAD, 0.3, 0.0, learning)[1] == pytest.approx(
            2 * promised(sessions, 8, SPREAD, 0.3, 0.0, learning)[1]
        )
        assert (
            promised(sessions, 8, SPREAD, 0.3, 0.3, learning)[1] > promised(sessions, 8, SPREAD, 0.3, 0.1, learning)[1]
        )


def test_plans_that_never_show_anything_promise_nothing():
    assert promised(2, 2, SPREAD) == (np.inf, np.inf)
    half, found = promised(2, 3, SPREAD)
    assert np.isfinite(half)
    assert found == np.inf
    assert found_on((3, 3), 0.0, 0.0, 20.0, 10, 3) == 0  # dealt out anew, three and three laps never rule out chance
    assert np.isfinite(promised(3, 3, SPREAD, learning=True)[1])
    with pytest.raises(InputError):
        plan_reach([1, 0], SPREAD)


def test_the_panel_says_what_the_plans_say():
    half, found = believe.reaches(SPREAD, 0.4, 0.1, by_rule=1)
    for i, (sessions, learning, _) in enumerate(believe.PLANS.values()):
        for j, laps in enumerate(believe.LAPS):
            assert (half[i, j], found[i, j]) == promised(sessions, int(laps) - 1, SPREAD, 0.4, 0.1, learning)
