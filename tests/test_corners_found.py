"""Where a corner is taken to be: hard turning that pauses is one corner, and its middle keeps away from its ends."""

import numpy as np
import pytest

from vdlib.laps import course
from vdlib.laps.course import Corner

WAY = np.arange(0.0, 600.0)


def turned(*stretches):
    """Sideways acceleration over the way, nought but between these places."""
    side = np.zeros_like(WAY)
    for begin, end, value in stretches:
        side[begin:end] = value
    return side


@pytest.mark.parametrize(
    ("pause", "second", "found"),
    [
        (0.8, 9.0, [(100, 259)]),  # a breath within a corner
        (1.5, 9.0, [(100, 199), (215, 259)]),  # two corners of one way
        (0.8, -9.0, [(100, 199), (208, 259)]),  # a left and a right, however close
    ],
)
def test_a_pause_shorter_than_the_shortest_corner_does_not_part_one(pause, second, found):
    again = 200 + round(pause * course._LEAST)
    found = [(a if a < 200 else again, b) for a, b in found]
    assert course._by_lateral(WAY, turned((100, 200, 9.0), (again, 260, second))) == found


def test_turning_counts_from_a_part_of_the_hardest_on():
    """A corner taken gently is one from 0.35 of the hardest on, and a bend below that is none."""
    gentle = turned((100, 200, 9.0), (300, 350, 0.36 * 9.0), (400, 450, -0.34 * 9.0), (500, 560, -0.36 * 9.0))
    assert course._by_lateral(WAY, gentle) == [(100, 199), (300, 349), (500, 559)]


@pytest.mark.analytic
@pytest.mark.parametrize(("step", "wide"), [(1.0, 13), (2.0, 7), (12.0, 3), (40.0, 3)])
def test_a_profile_is_a_mean_over_twelve_metres_and_at_least_over_its_neighbours(step, wide):
    value = np.zeros(41)
    value[20] = 1.0
    np.testing.assert_allclose(
        course._smooth(value, step * np.arange(41.0)).nonzero()[0], 20 + np.arange(wide) - wide // 2
    )
    assert course._smooth(value, step * np.arange(41.0)).sum() == pytest.approx(1.0)


def test_what_is_shorter_than_the_shortest_corner_is_none():
    least = round(course._LEAST)
    assert course._by_lateral(WAY, turned((100, 100 + least // 2, 9.0), (300, 400, 9.0))) == [(300, 399)]


@pytest.mark.parametrize(("apex", "low", "high"), [(200, 160, 240), (105, 120, 200), (299, 200, 280)])
def test_the_middle_of_a_corner_keeps_a_tenth_of_it_away_from_its_ends(apex, low, high):
    inside = Corner("long", 100.0, float(apex), 300.0).middle(WAY)
    assert (WAY[inside].min(), WAY[inside].max()) == pytest.approx((low, high), abs=0.51)


def test_the_middle_of_a_short_corner_is_twenty_metres():
    inside = Corner("short", 100.0, 115.0, 130.0).middle(WAY)
    assert (WAY[inside].min(), WAY[inside].max()) == (105, 125)


def test_a_corner_by_speed_alone_reaches_up_to_part_of_the_rise_on_either_side():
    """Straight falls and rises: 40 to 10 m/s in 30 steps, up to 30 in 40, the second dip to 20 and up to 40."""
    speed = np.concatenate(
        [np.linspace(*stretch) for stretch in ((40, 10, 31), (10.5, 30, 40), (29, 20, 10), (21, 40, 20))]
    )
    (first, last), (again, out) = course._by_dips(speed)
    assert (first, last) == (
        20,
        43,
    )  # by hand: up to 10 + 0.3·30 = 19 on the way in and 10 + 0.3·20 = 16 on the way out
    assert (again, out) == (76, 87)  # 20 + 0.3·10 = 23 and 20 + 0.3·20 = 26


@pytest.mark.analytic
def test_a_corner_by_speed_alone_may_be_one_step_wide_on_either_side():
    """From 40 m/s to 10 in one step and back in one: the part of the way lies at the points beside it."""
    assert course._by_dips(np.array([40.0, 10.0, 40.0])) == [(0, 2)]
