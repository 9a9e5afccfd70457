"""What invented days and scares are made from: a course in the plane, runs of the motion, a log's own scatter."""

import numpy as np
import pytest

from vdlib.laps.clubday import course_plane
from vdlib.laps.incident import threshold
from vdlib.laps.slide_rate import Turning
from vdlib.laps.slide_runs import FINE, collection

pytestmark = pytest.mark.analytic


@pytest.mark.parametrize("count", [24, 720])
def test_a_course_that_turns_evenly_is_a_polygon_round_one_centre(count):
    step = 5.0
    x, y = course_plane(step * np.arange(count), 2 * np.pi * np.arange(count) / count)
    assert len(x) == count + 1
    np.testing.assert_allclose(np.hypot(np.diff(x), np.diff(y)), step, rtol=1e-9)
    radius = step / (2 * np.sin(np.pi / count))  # of a polygon of so many sides
    np.testing.assert_allclose(np.hypot(x - x[:-1].mean(), y - y[:-1].mean()), radius, rtol=1e-9)
    assert y.max() > 0.9 * radius  # it begins forward and turns left


def test_a_course_left_open_is_closed_evenly():
    count, step = 200, 4.0
    heading = 2 * np.pi * np.arange(count) / count + 0.02 * np.sin(2 * np.pi * np.arange(count) / count)
    x, y = course_plane(step * np.arange(count), heading)
    middle = 0.5 * (heading + np.append(heading[1:], 2 * np.pi))
    gap = step * np.exp(1j * middle).sum()  # where it would end
    assert abs(gap) > 1.0
    assert (x[-1], y[-1]) == pytest.approx((0, 0), abs=1e-9)
    moved = np.diff(x + 1j * y) - step * np.exp(1j * middle)
    np.testing.assert_allclose(moved, -gap / count, atol=1e-9)  # each station by the same part of it


def drive(angle, good=None):
    time = 0.01 * np.arange(len(angle))
    zero = np.zeros_like(time)
    good = np.ones(len(time), dtype=bool) if good is None else good
    return Turning(time, zero + 30, zero, zero, zero, None, None, good, angle=angle)


def test_a_slide_must_stand_out_of_the_scatter_of_its_own_log():
    noise = np.random.default_rng(6).standard_normal(100_000)
    wide = np.radians(0.6)
    assert threshold(drive(wide * noise)) == pytest.approx(8 * wide, rel=0.02)  # of a normal scatter
    slid = wide * noise
    slid[:1000] += np.radians(40.0)  # the slide itself hardly counts
    assert threshold(drive(slid)) == pytest.approx(8 * wide, rel=0.03)
    assert threshold(drive(np.radians(0.1) * noise)) == pytest.approx(np.radians(3.0))
    bad = np.arange(len(noise)) < 60_000
    assert threshold(drive(np.where(bad, 1.0, wide * noise), ~bad)) == pytest.approx(8 * wide, rel=0.02)


def test_kept_runs_obey_the_kinematics_of_a_point_with_a_heading():
    """``V' = a_x`` along the path, and the car turns against its path by what the path turns less than the car."""
    runs, lateral, rear = collection(wide=False)
    assert {run.kind for run in runs} == {"spin", "catch"}
    for run in runs:
        speed, along, path, yaw, angle = run.data.T
        late = (yaw - path)[: run.ends]  # both rates; the slide angle is of the path against the car
        turned = np.concatenate([[0.0], np.cumsum(0.5 * FINE * (late[1:] + late[:-1]))])
        moved = -(angle[: run.ends] - angle[0])
        np.testing.assert_allclose(turned, moved, atol=0.02 * max(1.0, np.abs(moved).max()))
        gained = np.concatenate([[0.0], np.cumsum(0.5 * FINE * (along[1:] + along[:-1]))])[: run.ends]
        np.testing.assert_allclose(speed[: run.ends] - speed[0], gained, atol=0.3)
        assert run.kind == "spin" or np.abs(angle[run.ends]) < np.radians(3.0)  # caught is caught
    assert lateral[0] == 0
    assert (np.diff(np.abs(rear)) > 0).all()  # more slip for more force, up to the limit
