"""Another course, the other way round, another line or another unit of speed: refused, with the likely cause named."""

from dataclasses import fields, replace

import numpy as np
import pytest

from vdlib.checks import InputError
from vdlib.laps.course import session
from vdlib.laps.logfile import Log
from vdlib.laps.same_course import SWAPPED, long_enough
from vdlib.laps.visit_day import make_visit
from vdlib.panels.day_sessions import from_logs

pytestmark = pytest.mark.analytic
LENGTH, LAPS = 2400.0, 4
WAY = np.arange(0.0, LENGTH, 1.0)


def drive(seed=1, back=False, later=0.0, faster=1.0, left=1.0, positions=True, lateral=True):
    """Laps of a closed course that bends as the seed says, driven slower where it bends; a lap column tells them."""
    chance = np.random.default_rng(seed)
    turn = 2 * np.pi * WAY / LENGTH
    bend = 2 * np.pi / LENGTH + sum(0.003 * np.cos(k * turn + chance.uniform(0, 2 * np.pi)) for k in range(2, 12))
    bend = -np.roll(bend, round(later))[::-1] if back else np.roll(bend, round(later))
    speed = faster * (22 + 12 * np.exp(-np.abs(bend) / 0.004))
    bend, speed = np.tile(bend, LAPS), np.tile(speed, LAPS)
    clock = np.concatenate(([0.0], np.cumsum(1 / speed[:-1])))
    t = np.arange(0.0, clock[-1], 0.05)
    way = np.interp(t, clock, np.arange(len(speed)) * 1.0)
    heading = np.cumsum(bend[: len(WAY)])
    plane = [np.cumsum(f(heading)) for f in (np.cos, np.sin)]
    x, y = (np.interp(way % LENGTH, WAY, c - c[-1] * WAY / LENGTH) for c in plane)  # closed evenly
    v, k = (np.interp(way, np.arange(len(bend)), each) for each in (speed, bend))
    none = np.zeros(len(t), dtype=np.int64)
    log = Log(t, v, none, np.arange(len(t)), lateral=left * v * v * k, x=x, y=y, lap=np.floor(way / LENGTH),
              columns={"speed": ("v", "km/h")})  # fmt: skip
    gone = {} if positions else {"x": None, "y": None}
    return replace(log, **gone, **({} if lateral else {"lateral": None}))


def every(log, count):
    """The same log with some of its rows only."""
    rows = {f.name: getattr(log, f.name) for f in fields(log)}
    return replace(log, **{n: v[::count] for n, v in rows.items() if isinstance(v, np.ndarray)})


HOLDS = [{}, {"positions": False}, {"positions": False, "lateral": False}]


def second(first, other):
    _, course = session(first, "before")
    return session(other, "after", course)[0]


@pytest.mark.parametrize("holds", HOLDS)
def test_another_course_or_another_way_round_is_refused(holds):
    first = drive(**holds)
    assert second(first, drive(faster=0.8, **holds)).notes  # in the wet
    for change, words in (
        ({"seed": 5}, "must be of the course of the first log"),
        ({"back": True}, "must go the same way round"),
        ({"later": 700.0}, "must begin where those of the first log do"),
    ):
        with pytest.raises(InputError, match=words):
            second(first, drive(**{**holds, **change}))


@pytest.mark.parametrize("first", [{}, {"positions": False}])
def test_without_a_lap_column_laps_begin_where_the_first_logs_do(first):
    other = replace(drive(faster=0.95), lap=None)
    found = second(drive(**first), other)
    _, course = session(drive(**first), "before")
    apart = course.laps_of(other).start - session(drive(), "x")[1].laps_of(drive(faster=0.95)).start[:1]
    lap = found.lap_time.mean()
    assert np.abs((apart + lap / 2) % lap - lap / 2).max() < 0.5  # where the lap column says, not where it was fastest
    assert len(found.lap_time) >= LAPS - 2


def test_a_logger_that_counts_right_turns_positive_is_taken_and_said():
    assert SWAPPED not in second(drive(), drive(left=-1.0)).notes  # the positions know better
    assert SWAPPED in second(drive(positions=False), drive(left=-1.0, positions=False)).notes
    assert "bend" not in session(replace(drive(), doubts=("check the units",)), "before")[1].usual
    lost = drive()
    lost.x[:] = lost.y[:] = np.nan
    assert "bend" not in session(lost, "before")[1].usual


def test_laps_of_another_length_name_the_unit_that_explains_it():
    for length, unit, own, words in (
        (1491.0, "km/h", "km/h", "is the speed of the log after in mph, not in km/h"),
        (3862.0, "km/h", "km/h", "is the speed of the log it was read off in mph, not in km/h"),
        (8640.0, "m/s", "km/h", "is the speed of the log after in km/h, not in m/s"),
        (1900.0, "km/h", "km/h", "choose logs of one course, with the same line"),
        (1900.0, "", "", "choose logs of one course, with the same line"),
    ):
        with pytest.raises(InputError, match=words):
            long_enough("after", length, unit, 2400.0, own)
    long_enough("after", 2350.0, "km/h", 2400.0, "km/h")


def test_sound_days_are_of_one_course():
    for number in (1, 2):
        logs = [one.log for one in make_visit(number, laps=3).sessions]
        for rows in (1, 10):
            session_logs = [(name, every(log, rows)) for name, log in zip(("before", "after"), logs, strict=True)]
            assert len(from_logs(session_logs).runs) == 2
