"""Logs of different loggers: the same drive gives no verdict, and neither do more rows or noise alone."""

import functools
from dataclasses import fields, replace

import numpy as np
import pytest

from vdlib.checks import InputError
from vdlib.laps.even import COLUMNS, as_one, noise, row_step, with_rows
from vdlib.laps.logfile import Log
from vdlib.laps.visit_day import make_visit
from vdlib.panels.day_laps import calmer_in
from vdlib.panels.day_sessions import from_logs
from vdlib.panels.logbox import of_a_day

pytestmark = pytest.mark.analytic


@functools.cache
def visit(number):
    """Two sessions of one car to which nothing was done, 50 rows a second."""
    return tuple(one.log for one in make_visit(number, changed=False).sessions)


def every(log, count):
    """The same log with some of its rows only, as they are."""
    rows = {f.name: getattr(log, f.name) for f in fields(log)}
    return replace(log, **{n: v[::count] for n, v in rows.items() if isinstance(v, np.ndarray)})


def noisier(log, degrees, lateral):
    """The same log from a worse sensor."""
    rng = np.random.default_rng(5)
    sizes = {"yaw_rate": np.radians(degrees), "turn_x": np.radians(degrees), "turn_y": np.radians(degrees),
             "lateral": lateral, "longitudinal": lateral}  # fmt: skip
    return replace(log, **{c: getattr(log, c) + s * rng.standard_normal(len(log.time)) for c, s in sizes.items()})


def slid(before, after):
    day = from_logs([("before", before), ("after", after)])
    return next(one for one in calmer_in(day, 0) if one.measure == "slide"), day


def test_the_noise_of_a_column_is_read_off_its_rows():
    rng = np.random.default_rng(1)
    t = np.arange(0.0, 400.0, 0.05)
    none = np.zeros(len(t), dtype=np.int64)
    lateral = 8 * np.sin(0.5 * t) + 0.3 * rng.standard_normal(len(t))
    log = Log(t, np.full(len(t), 25.0), none, none, lateral=lateral)
    assert noise(log, "lateral") == pytest.approx(0.3, rel=0.03)
    assert noise(log, "speed") == 0.0
    assert noise(replace(log, speed=log.speed * 0.1), "lateral") == 0.0  # it stands


def test_logs_become_those_of_one_logger():
    before, after = visit(1)
    seldom, loud = every(before, 10), noisier(after, 2.0, 0.6)
    (one, said), (two, told) = as_one([seldom, loud])
    assert [row_step(one), row_step(two)] == pytest.approx([0.2, 0.2])
    for column in ("yaw_rate", "lateral"):
        assert noise(one, column) == pytest.approx(noise(two, column), rel=0.1)
    assert "thinned to 5 rows a second" in told
    assert not said or "rows" not in said
    np.testing.assert_array_equal(as_one([seldom, loud])[0][0].yaw_rate, one.yaw_rate)
    (same, said), _ = as_one([before, before])
    assert not said
    assert all(getattr(same, c) is getattr(before, c) for c in COLUMNS)


def test_rows_farther_apart_are_means():
    t = np.arange(0.0, 40.0, 0.01)
    none = np.zeros(len(t), dtype=np.int64)
    log = Log(t, np.full(len(t), 25.0), none, np.arange(len(t)), lateral=np.sin(t))
    thin = with_rows(log, 0.5)
    # the mean of a sine over a span is smaller by sin(w/2)/(w/2)
    np.testing.assert_allclose(thin.lateral[1:-1], np.sin(thin.time[1:-1]) * np.sin(0.25) / 0.25, atol=1e-4)


@pytest.mark.parametrize("count", [5, 10])
def test_the_same_drive_at_two_rates_gives_no_verdict(count):
    for number in (1, 2):
        (log, _) = visit(number)
        for pair in ((every(log, count), log), (log, every(log, count))):
            found, day = slid(*pair)
            assert found.verdict == "not shown"
            assert abs(found.change.value) < 40
            assert [bool(run.matched) for run in day.runs] == [one is log for one in pair]
            with pytest.raises(InputError, match="the same drive, some of its rows left out"):
                of_a_day([*zip(("before", "after"), pair, strict=True)])


@pytest.mark.parametrize("worse", [False, True])
def test_rows_or_noise_alone_are_no_calmer_rear(worse):
    """On one of these days such an interval may miss; without the same rows and noise most do."""
    shown = []
    for number in (1, 2, 3):
        before, after = visit(number)
        one = noisier(before, 2.0, 0.5) if worse else every(before, 10)
        shown += [slid(*pair)[0].verdict != "not shown" for pair in ((one, after), (after, one))]
    assert sum(shown) <= 1


def test_a_log_without_a_slide_is_no_rougher_for_its_noise():
    """Where nothing slides, the greatest rate is noise: the driver's laps are alike, so a difference is soon shown."""
    rng = np.random.default_rng(3)

    def quiet(size, seed):
        t = np.arange(0.0, 640.0, 0.05)
        path = 0.35 * np.sin(2 * np.pi * t / 16) + 0.1
        none = np.zeros(len(t), dtype=np.int64)
        chance = np.random.default_rng(seed)
        speed = 25 + 4 * np.cos(2 * np.pi * t / 80) + 0.02 * chance.standard_normal(len(t))
        yaw = path + np.radians(size) * chance.standard_normal(len(t))
        lateral = speed * path + 0.15 * chance.standard_normal(len(t))
        return Log(t, speed, none, np.arange(len(t)), lateral=lateral, yaw_rate=yaw, lap=np.floor(t / 80))

    seeds = rng.integers(1000, size=4)
    for seed in seeds:
        found, day = slid(quiet(1.6, seed), quiet(0.5, seed + 1))
        assert found.verdict == "not shown"
        assert "made as noisy" in day.runs[1].matched
