"""Is the rear calmer: measures per lap and corner, compared between sessions, and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from vdlib.laps.calm import MEASURES, Calm, calm_of, calmer, calmer_words, reversals
from vdlib.laps.course import align, course_of
from vdlib.laps.laps import find_laps
from vdlib.laps.scare_day import make_scare
from vdlib.laps.slide_rate import turning


@pytest.fixture(scope="module")
def sessions():
    """Two sessions of one course: three slides caught before, none after."""
    before = make_scare(41, laps=7, kinds=("catch",) * 5, rate=20.0, wide=False).log
    after = make_scare(42, laps=7, kinds=(), rate=20.0, wide=False).log
    laps = find_laps(before)
    course = course_of(before, laps)
    out = []
    for log in (before, after):
        found = find_laps(log, course.line)
        out.append((calm_of(align(log, found, course), course, turning(log), found), found))
    return out


def test_a_rear_that_slid_before_and_not_after_is_called_calmer(sessions):
    (before, laps), (after, other) = sessions
    clear = [np.ones(len(laps.time), bool), np.ones(len(other.time), bool)]
    assert {"slide", "rough", "lowest", "lifted"} <= before.values.keys()
    assert before.values["slide"].max() > 10 > np.median(after.values["slide"])
    worst = before.corners[int(before.values["slide"].mean(axis=0).argmax())]
    found = {one.measure: one for one in calmer([before, after], clear, worst)}
    assert found["slide"].before > found["slide"].after
    everywhere = {one.measure: one for one in calmer([before, after], clear)}
    words = calmer_words(tuple(everywhere.values()), (3, 7))
    assert ("Yes" in words[0]) == (everywhere["slide"].verdict == "calmer")
    assert "Felt, of 10: 3 before, 7 with the change" in words[-1]
    none = calmer([after, after], [clear[1], clear[1]])
    assert all(one.verdict == "not shown" for one in none)
    assert "not shown" in calmer_words(none)[0]


@pytest.mark.analytic
def test_each_measure_goes_the_calmer_way():
    rng = np.random.default_rng(1)
    clear = [np.ones(10, bool)] * 2
    for measure, (_, _, way) in MEASURES.items():
        low, high = (Calm(("a",), {measure: level + rng.standard_normal((10, 1))}) for level in (20.0, 40.0))
        assert calmer([low, high], clear, "a")[0].verdict == ("rougher" if way == "lower" else "calmer")
        assert calmer([high, low], clear, "a")[0].verdict == ("calmer" if way == "lower" else "rougher")


@pytest.mark.analytic
def test_reversals_are_counted_only_where_the_wheel_turned_back_far_enough():
    t = np.arange(0, 10, 0.02)
    assert reversals(20 * np.sin(2 * np.pi * 0.5 * t)) == 10  # five whole turns back and forth in ten seconds
    assert reversals(2 * np.sin(2 * np.pi * 0.5 * t)) == 0
    assert reversals(np.full(50, np.nan)) == 0


def test_without_yaw_rate_it_says_that_the_rear_is_not_seen(sessions):
    (before, laps), (after, other) = sessions
    clear = [np.ones(len(laps.time), bool), np.ones(len(other.time), bool)]
    bare = [replace(one, values={k: v for k, v in one.values.items() if k != "slide"}) for one in (before, after)]
    assert "Without yaw rate the rear itself is not seen" in calmer_words(calmer(bare, clear))[0]
    assert "hold nothing" in calmer_words(())[0]


def test_few_laps_that_fit_any_slide_are_not_given_a_size():
    rng = np.random.default_rng(1)
    some = [Calm(("a",), {"slide": np.exp(rng.normal(2, 0.5, (2, 1)))}) for _ in range(2)]
    found = calmer(some, [np.ones(2, bool)] * 2)
    assert found[0].change.high > 900
    words = calmer_words(found)
    assert words[0].endswith("these laps fit anything from under a tenth of the slide to over ten times as much.")
    assert "% to over ten times as much fits; lower is calmer" in words[1]
    for low, high, said in ((20.0, 2000.0, "slides at least 20 % faster"), (20.0, 80.0, "slides 20 to 80 % faster")):
        sure = replace(found[0], change=replace(found[0].change, value=50.0, low=low, high=high, p=0.01))
        assert said in calmer_words((sure,))[0]


def foot_days(rng, days, sizes, change, lifts):
    """Laps whose log rate of slide goes with the lift: how often the interval at the same lift holds the change."""
    held, plain = [], []
    for _ in range(days):
        sessions, bare = [], []
        for i, (count, middle) in enumerate(zip(sizes, lifts, strict=True)):
            lift = rng.uniform(0.5, 1.5, (count, 1)) * middle
            rate = np.exp(1.0 + 10 * lift + (i == 1) * change + 0.25 * rng.standard_normal((count, 1)))
            sessions.append(Calm(("a",), {"slide": rate}, lift))
            bare.append(Calm(("a",), {"slide": rate}))
        clear = [np.ones(n, bool) for n in sizes]
        for out, each in ((held, sessions), (plain, bare)):
            out.append(calmer(each, clear, "a")[0])
    return held, plain


@pytest.mark.analytic
@pytest.mark.parametrize("days", [40, pytest.param(100, marks=pytest.mark.slow)])
def test_at_the_same_lift_a_gentler_foot_is_not_taken_for_a_calmer_rear(days):
    rng = np.random.default_rng(5)
    held, plain = foot_days(rng, days, (12, 12), 0.0, (0.2, 0.1))
    assert np.mean([one.verdict != "not shown" for one in held]) <= 0.05
    assert np.mean([one.verdict == "calmer" for one in plain]) > 0.3  # what a comparison without the foot would claim
    change = np.log(0.65)
    held, plain = foot_days(rng, days, (12, 12), change, (0.15, 0.15))
    truth = 100 * np.expm1(change)
    assert np.mean([one.change.low <= truth <= one.change.high for one in held]) >= 0.95
    found = [np.mean([one.verdict == "calmer" for one in each]) for each in (held, plain)]
    assert found[0] > found[1] + 0.2
    assert all(one.same_lift for one in held)
    assert not any(one.same_lift for one in plain)
    assert np.median([one.after / one.before for one in held]) == pytest.approx(0.65, abs=0.03)


def test_too_few_laps_are_compared_without_the_foot():
    rng = np.random.default_rng(2)
    held, _ = foot_days(rng, 1, (3, 3), 0.0, (0.1, 0.1))
    assert not held[0].same_lift
