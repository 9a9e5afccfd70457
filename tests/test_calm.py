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
