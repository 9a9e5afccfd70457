"""What laps can show: against scipy, and by counting how often it is right on thousands of invented days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from many_days import compared
from scipy import stats

from vdlib.checks import InputError
from vdlib.laps import clubday, course, logfile
from vdlib.laps.bootstrap import estimate
from vdlib.laps.evidence import compare
from vdlib.laps.evidence_words import Around, alone, conclude, promise
from vdlib.laps.laps import Section, Session, hand_laps

DAYS = 2000


def plain_session(times, name="laps", clear=None):
    times = np.asarray(times, dtype=float)
    return Session(name, times, np.ones(len(times), dtype=bool) if clear is None else np.asarray(clear))


def two(sizes):
    group = np.repeat(np.arange(len(sizes)), sizes)
    return (group[:, None] == np.arange(len(sizes))).astype(float), group


# three plain sets; what they should give comes from scipy in the test below
SETS = [
    (np.array([92.1, 92.6, 91.9, 92.4, 92.2, 92.8]), np.array([91.5, 91.8, 91.2, 91.9, 91.6, 91.4])),
    (np.array([75.2, 75.9, 74.8, 75.5, 75.1]), np.array([75.0, 75.6, 75.3, 74.9, 75.4, 75.2, 76.3])),
    (np.array([120.3, 121.9, 119.8, 120.9, 121.2, 120.1, 122.3]), np.array([119.9, 120.0, 119.7, 120.2])),
]


@pytest.mark.analytic
@pytest.mark.parametrize(("a", "b"), SETS)
def test_against_scipy_on_known_sets(a, b):
    found = compare(plain_session(a), plain_session(b), draws=8000).plain
    welch = stats.ttest_ind(b, a, equal_var=False)
    span = welch.confidence_interval(0.95)
    assert found.value == pytest.approx(b.mean() - a.mean(), abs=1e-9)
    # the bootstrap takes the sets' own shape where Welch takes the normal one: half widths agree to a quarter
    assert (found.high - found.low) == pytest.approx(span.high - span.low, rel=0.25)

    def welch_t(x, y, axis=-1):
        error = np.sqrt(np.var(x, axis=axis, ddof=1) / x.shape[axis] + np.var(y, axis=axis, ddof=1) / y.shape[axis])
        return np.abs(np.mean(x, axis=axis) - np.mean(y, axis=axis)) / error

    exact = stats.permutation_test((b, a), welch_t, vectorized=True, n_resamples=np.inf, alternative="greater")
    # 8,000 shuffles: three standard errors of the share
    assert found.p == pytest.approx(exact.pvalue, abs=3 * np.sqrt(exact.pvalue * (1 - exact.pvalue) / 8000) + 2e-4)


@pytest.mark.parametrize(("way", "said"), [(1, "as a learning driver's do"), (-1, "as on tyres that fade")])
def test_a_drift_is_said_as_what_goes_its_way(way, said):
    laps = 90 + way * np.exp(-np.arange(12) / 5) + np.tile([0.03, -0.02, 0.01, -0.02], 3)
    words = " ".join(conclude(compare(plain_session(laps[:6], "before"), plain_session(laps[6:], "after"))))
    assert f"drift, {said}" in words
    assert ("s quicker from the day's first lap" in words) == (way > 0)


@pytest.mark.analytic
def test_many_laps_agree_with_scipys_bootstrap_and_t():
    rng = np.random.default_rng(2)
    a, b = rng.normal(90, 0.5, 60), rng.normal(89.8, 0.5, 50)
    found = compare(plain_session(a), plain_session(b), draws=6000).plain
    span = stats.ttest_ind(b, a, equal_var=False).confidence_interval(0.95)
    assert [found.low, found.high] == pytest.approx([span.low, span.high], abs=0.02)

    def difference(x, y, axis=-1):
        return np.mean(x, axis=axis) - np.mean(y, axis=axis)

    other = stats.bootstrap((b, a), difference, n_resamples=6000, method="BCa", rng=rng).confidence_interval
    assert [found.low, found.high] == pytest.approx([other.low, other.high], abs=0.04)


@pytest.mark.analytic
@pytest.mark.parametrize(("sizes", "skew"), [
    ((3, 3), False), ((5, 10), True), ((6, 6, 6), True),
    *(pytest.param(s, k, marks=pytest.mark.slow) for s, k in (((3, 3), True), ((5, 10), False), ((6, 6, 6), False))),
    *(pytest.param(s, k, marks=pytest.mark.slow) for s in ((4, 4), (8, 8)) for k in (False, True)),
])  # fmt: skip
def test_intervals_cover_the_truth_on_93_to_97_of_100_days(sizes, skew):
    change = -0.4
    contrast = np.array([-1.0, 1.0]) if len(sizes) == 2 else np.array([-0.5, 1.0, -0.5])
    design, group = two(sizes)
    y = np.concatenate(clubday.lap_times(11, DAYS, sizes, change=change, skew=skew), axis=1).T
    covered = 0
    for part in range(0, DAYS, 100):  # a hundred days share one set of draws
        found = estimate(y[:, part : part + 100], design, contrast, group, seed=part, draws=499)
        covered += int(np.sum((found.low <= change) & (change <= found.high)))
    assert 0.93 <= covered / DAYS <= 0.97


@pytest.mark.analytic
@pytest.mark.parametrize(("sizes", "scatter"), [
    ((10, 5), (1.0, 3.0)), ((4, 12), (4.0, 1.0)),
    pytest.param((5, 10), (3.0, 1.0), marks=pytest.mark.slow),
    pytest.param((6, 6, 6), (3.0, 1.0, 2.0), marks=pytest.mark.slow),
])  # fmt: skip
def test_intervals_cover_the_truth_where_the_sessions_scatter_unequally(sizes, scatter):
    """The fewer laps scatter more: one spread for all sessions would cover too seldom."""
    rng = np.random.default_rng(31)
    change = -0.4
    contrast = np.array([-1.0, 1.0]) if len(sizes) == 2 else np.array([-0.5, 1.0, -0.5])
    design, group = two(sizes)
    y = rng.standard_normal((sum(sizes), DAYS)) * np.array(scatter)[group][:, None]
    y[group == 1] += change
    covered = 0
    for part in range(0, DAYS, 100):
        found = estimate(y[:, part : part + 100], design, contrast, group, seed=part, draws=499)
        covered += int(np.sum((found.low <= change) & (change <= found.high)))
    assert 0.93 <= covered / DAYS <= 0.975


@pytest.mark.analytic
@pytest.mark.parametrize("sizes", [(4, 4), (7, 5, 6)])
def test_many_days_at_once_are_compared_as_each_day_alone(sizes):
    laps = clubday.lap_times(7, 8, sizes, change=-0.4, learning=0.35)
    together = compared(laps, share=4, draws=199, by_rule=1, offset=0.1)
    for day, found in enumerate(together):
        alone = compare(*(plain_session(s[day]) for s in laps), seed=day // 4 * 4, draws=199, by_rule=1, offset=0.1)
        figures = [(each.plain, each.best, each.learning, each.alike.change, each.fits) for each in (found, alone)]
        for one, same in zip(*figures, strict=True):
            assert (one is None) == (same is None)
            if one is not None:
                assert vars(one) == pytest.approx(vars(same), abs=1e-7)
        assert (found.verdict, found.cause_open, found.withheld) == (alone.verdict, alone.cause_open, alone.withheld)


@pytest.mark.analytic
@pytest.mark.parametrize("days", [350, pytest.param(700, marks=pytest.mark.slow)])
@pytest.mark.parametrize(("sizes", "learning", "skew"), [
    pytest.param((8, 8), 0.0, True, marks=pytest.mark.slow), ((8, 8), 1.0, False), ((6, 6, 6), 0.35, True),
    pytest.param((4, 4), 0.35, False, marks=pytest.mark.slow), ((3, 3), 0.0, False),
])  # fmt: skip
def test_a_day_without_a_change_is_called_a_change_at_most_5_times_in_100(sizes, learning, skew, days):
    """One standard error of a share of 5 % is 1.2 % in 350 days, 0.8 % in 700."""
    laps = clubday.lap_times(23, days, sizes, learning=learning, skew=skew)
    found = compared(laps, draws=299)
    assert np.mean([c.verdict != "not shown" for c in found]) <= 0.05
    # the figure that allows for learning covers the truth, zero, all the same
    covered = np.mean([c.best.low <= 0 <= c.best.high for c in found])
    assert 0.92 <= covered <= 0.98  # 93 to 97 % and a standard error


@pytest.mark.analytic
def test_driving_again_with_the_change_taken_back_shows_more():
    days, hits = 100, {}
    for sizes in ((8, 8), (8, 8, 8)):
        laps = clubday.lap_times(5, days, sizes, change=-0.5, learning=0.35)
        found = compared(laps, draws=299)
        hits[len(sizes)] = np.mean([c.verdict == "faster" for c in found])
    assert hits[3] > hits[2] + 0.2


# ---- days with few laps ------------------------------------------------------------------------------------------


def test_three_laps_each_never_show_a_change_and_say_so():
    found = compare(plain_session([92.0, 92.3, 92.1]), plain_session([90.0, 90.2, 90.1]))
    # of the 20 ways to share 6 laps out, 2 differ as much: p is 0.1, however large the difference
    assert found.plain.p == pytest.approx(0.1, abs=0.025)
    assert found.verdict == "not shown"
    assert "So few laps can only show a large change" in " ".join(conclude(found))


def test_one_lap_sets_no_bound_and_the_words_hold_no_infinity():
    found = compare(plain_session([92.0]), plain_session([90.0, 90.2, 90.1, 90.3]))
    assert np.isinf(found.plain.low)
    words = " ".join(conclude(found))
    assert "these laps set no bound" in words
    assert "inf" not in words.split()
    assert "nan" not in words.lower()
    with pytest.raises(InputError, match="drive more laps"):
        compare(plain_session([92.0]), plain_session([90.0]))


@pytest.mark.parametrize(("before", "after"), [
    ([92.1, 92.4], [91.8, 92.0]), ([92.1, 92.4], [92.2, 92.3]), ([92.0, 92.0], [92.0, 92.5]),
    ([92.1, 92.1, 92.4], [91.8, 91.8, 92.1]), ([92.0, 92.0, 92.0, 92.0, 92.1], [91.0, 91.0, 91.0, 91.0, 91.1]),
])  # fmt: skip
def test_where_drawn_laps_are_often_alike_there_is_no_bound_and_the_words_say_why(before, after):
    """One draw in twenty or more gives each session the same lap again and again: nothing to divide by."""
    found = compare(plain_session(before), plain_session(after))
    for figure in (found.plain, found.learned, found.alike.change, found.fits):
        assert [figure.low, figure.high] == [-np.inf, np.inf]
    assert found.verdict == "not shown"
    words = " ".join(conclude(found))
    assert words.count("these laps set no bound on it") == 2
    assert "These laps are too few, or too alike as written down, to show how far laps scatter." in words
    assert not any(false in words for false in ("fit anything", "holds the true", "A session of one lap", "last digit"))
    assert "neither for the promise nor against it" in promise(found, -0.1).words


def test_few_laps_are_never_said_to_fit_more_than_a_few_laps_can():
    """No interval reaches farther than t with one degree of freedom does."""
    rng = np.random.default_rng(9)
    for sizes in ((2, 3), (3, 3), (2, 10), (2, 2, 2)):
        design, group = two(sizes)
        laps = np.round(92 + 0.3 * rng.standard_normal((len(group), 100)), 1)
        found = estimate(laps, design, np.array([-1.0, 1.0] if len(sizes) == 2 else [-0.5, 1.0, -0.5]), group, 1, 400)
        spread = np.ptp(laps, axis=0)
        assert np.all((found.high - found.low <= 26 * spread) | np.isinf(found.high))
        assert np.isfinite(found.high).mean() > 0.7
    one_alike = compare(plain_session([92.0] * 3), plain_session([91.0, 91.3, 91.1])).plain
    assert 0.2 < one_alike.high - one_alike.low < 2


@pytest.mark.parametrize(("p", "words"), [
    (1.0, "100 times in 100"), (0.995, "100 times in 100"), (0.33, "33 times in 100"), (0.046, "5 times in 100"),
    (0.0105, "about once in 100"), (0.0045, "about once in 200"), (1 / 2001, "about once in 2,000"),
])  # fmt: skip
def test_how_often_chance_does_it_is_said_in_whole_times(p, words):
    found = compare(plain_session(SETS[0][0]), plain_session(SETS[0][1]), draws=99)
    told = " ".join(conclude(replace(found, plain=replace(found.plain, p=p))))
    assert f"by chance alone one this large turns up {words}. " in told


def test_equal_laps_give_no_difference():
    found = compare(plain_session([90.0] * 4), plain_session([90.0] * 4))
    assert found.plain.value == 0
    assert found.verdict == "not shown"
    assert found.plain.p == 1


def test_traffic_is_left_out_and_all_in_traffic_is_refused():
    before = plain_session([92.0, 99.0, 92.2, 92.1, 92.3], clear=[True, False, True, True, True])
    found = compare(before, plain_session([91.0, 91.1, 91.2, 91.3]))
    assert found.laps == (4, 4)
    assert found.left_out == (1, 0)
    assert found.mean[0] == pytest.approx(92.15)
    with pytest.raises(InputError, match="at least one lap in each"):
        compare(before.mark([False] * 5), before)


def test_the_same_laps_give_the_same_answer_and_other_seeds_nearly_so():
    a, b = plain_session(SETS[0][0]), plain_session(SETS[0][1])
    assert compare(a, b).plain == compare(a, b).plain
    assert compare(a, b, seed=2).plain.low == pytest.approx(compare(a, b).plain.low, abs=0.05)


@pytest.mark.analytic
def test_the_third_session_takes_out_a_steady_drift():
    rng = np.random.default_rng(0)
    lap = np.arange(18)
    y = 90 - 0.1 * lap + 0.01 * rng.standard_normal(18)  # 0.1 s a lap quicker all day, no change at all
    a, b, c = (plain_session(p) for p in np.split(y, 3))
    assert compare(a, b, c).plain.value == pytest.approx(0.0, abs=0.02)
    assert compare(a, b).plain.value == pytest.approx(-0.6, abs=0.02)
    assert float(compare(a, b).learning.p) < 0.05


# ---- where the time came from ------------------------------------------------------------------------------------


def session_of(rng, corner, straight, name):
    sections = (Section("straight 1", "straight", 0, 400), Section("corner 1", "corner", 400, 600))
    times = np.column_stack([straight + 0.1 * rng.standard_normal(8), corner + 0.1 * rng.standard_normal(8)])
    speed = 20.0 + 3 * (corner < 9.5) + 0.2 * rng.standard_normal((8, 1))
    return Session(name, times.sum(axis=1) + 0.0, np.ones(8, bool), sections, times, ("corner 1",), speed)


def test_parts_add_up_and_more_power_is_not_taken_for_a_better_setup():
    rng = np.random.default_rng(4)
    before, again = session_of(rng, 10.0, 20.0, "before"), session_of(rng, 10.0, 20.0, "before again")
    power, setup = session_of(rng, 10.0, 19.0, "after"), session_of(rng, 9.0, 20.0, "after")
    for after, sentence, kind in (
        (power, "on the straights only", "straight"),
        (setup, "in the corners only", "corner"),
    ):
        for third in (None, again):
            found = compare(before, after, third)
            total = sum(p.change.value for p in found.parts)
            assert total == pytest.approx(found.plain.value, abs=1e-9)
            assert sum(p.change.value for p in found.kinds) == pytest.approx(found.plain.value, abs=1e-9)
            assert sentence in " ".join(conclude(found))
            assert {p.kind for p in found.kinds if p.change.shown} == {kind}
            assert sentence in alone(found)
    assert "corner 1 +10." in " ".join(conclude(compare(before, setup)))  # 3 m/s is 10.8 km/h
    with pytest.raises(InputError, match="same sections"):
        compare(before, replace(setup, corners=("other",)))
    by_hand = compare(before, plain_session(setup.lap_time))
    assert by_hand.parts == ()
    assert by_hand.minimum_speed == ()


def concluded(number, folder, gain):
    """An invented day written as logs, read back and compared, and what was put in."""
    day = clubday.make(number, corner_gain=gain, traffic=0.15)
    known, sessions = None, []
    for path, name in zip(day.write(folder), day.names, strict=True):
        found, known = course.session(logfile.read(path), name, known)
        sessions.append(found)
    return day, compare(*sessions, draws=499)


@pytest.mark.analytic
@pytest.mark.parametrize(("days", "others"), [(5, 2), pytest.param(20, 20, marks=pytest.mark.slow)])
def test_from_invented_logs_to_a_conclusion(tmp_path, days, others):
    """Over some days with 5 % more grip in corners, and others with nothing changed."""
    with_grip = [concluded(n, tmp_path, 0.05) for n in range(1, days + 1)]
    without = [concluded(n, tmp_path, 0.0) for n in range(1, others + 1)]
    error = lambda share, many: 2 * np.sqrt(share * (1 - share) / many)  # two standard errors  # noqa: E731
    corners = [{p.kind: p.change for p in change.kinds}["corner"] for _, change in with_grip]
    shares = {
        "found": np.mean([change.verdict == "faster" for _, change in with_grip]),
        "held": np.mean([promise(change, day.change).inside for day, change in with_grip]),
        "in the corners": np.mean([bool(c.shown) and float(c.value) < 0 for c in corners]),
        "claimed of nothing": np.mean([change.verdict != "not shown" for _, change in without]),
    }
    print(shares)
    assert not any(change.verdict == "slower" for _, change in with_grip)
    assert shares["found"] >= 0.8 - error(0.8, days)
    assert shares["held"] >= 0.95 - error(0.95, days)
    assert shares["in the corners"] >= 0.8
    assert shares["claimed of nothing"] <= 0.05 + error(0.05, others)
    for day, change in with_grip:
        assert sum(change.left_out) >= day.traffic.sum()


# ---- words -------------------------------------------------------------------------------------------------------


def test_a_difference_that_learning_could_make_is_said_to_have_an_open_cause():
    y = 90 + 1.5 * np.exp(-np.arange(12) / 5) + 0.05 * np.random.default_rng(1).standard_normal(12)
    found = compare(plain_session(y[:6]), plain_session(y[6:]))
    assert bool(found.plain.shown)
    assert found.verdict == "not shown"
    words = " ".join(conclude(found))
    assert "learning alone could be why" in words
    assert "drive again with the change taken back" in words


def test_the_words_name_what_else_may_have_differed():
    found = compare(plain_session(SETS[0][0]), plain_session(SETS[0][1]))
    unknown = " ".join(conclude(found))
    assert "not known whether it was the same day" in unknown
    assert "It is not the same tyres" in " ".join(conclude(found, Around(same_day=True, same_tyres=False)))
    known = " ".join(conclude(found, Around(True, True, True, True)))
    assert "It is not" not in known
    assert "cannot say whether it came from corners" in known


def test_a_promise_is_set_beside_the_laps():
    found = compare(plain_session(SETS[0][0]), plain_session(SETS[0][1]))
    assert promise(found, float(found.best.value)).inside
    far = promise(found, 5.0)
    assert not far.inside
    assert "outside that range" in far.words
    unsure = compare(hand_laps("a", [90.0, 91.0, 90.4]), hand_laps("b", [90.1, 90.9, 90.3]))
    assert "no proof" in promise(unsure, -0.1).words
    with pytest.raises(InputError, match="must be a number"):
        promise(found, float("nan"))


def test_more_laps_than_it_is_meant_for_are_refused_in_words():
    group = np.repeat([0, 1], 251)
    design = np.stack([group == 0, group == 1], axis=1).astype(float)
    with pytest.raises(InputError, match="laps must be at most 300 in all, got 502: leave some of them out"):
        estimate(90.0 + 0.1 * np.arange(502), design, np.array([-1.0, 1.0]), group)


def test_a_lap_alone_in_a_session_that_is_not_compared_leaves_the_others_their_bound():
    group = np.repeat([0, 1, 2], [6, 6, 1])
    design = np.stack([group == i for i in range(3)], axis=1).astype(float)
    y = 90.0 + 0.3 * np.random.default_rng(2).standard_normal(13)
    found = estimate(y, design, np.array([-1.0, 1.0, 0.0]), group)
    assert np.isfinite([found.low, found.high]).all()
    assert found.low < y[6:12].mean() - y[:6].mean() < found.high
    alone = estimate(y, design, np.array([-1.0, 0.0, 1.0]), group)  # compared with that one lap there is none
    assert np.isinf([alone.low, alone.high]).all()
