"""Laps, corners and sections, on invented club days whose truth is known and on circles."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from vdlib.checks import InputError
from vdlib.laps import clubday, course, grip, laps, logfile
from vdlib.laps.laps import Line, Session, find_laps, hand_laps, lap_seconds, odd_laps
from vdlib.laps.logfile import Log
from vdlib.laps.notes import typed_session
from vdlib.units import G

DAY = clubday.make(5, traffic=0.0)
LINE = Line(*clubday.LINE)
RADII = [r for r, _ in clubday.CORNERS]
TURNS = ["left" if a > 0 else "right" for _, a in clubday.CORNERS]


@pytest.fixture(scope="module")
def logs(tmp_path_factory):
    return [logfile.read(path) for path in DAY.write(tmp_path_factory.mktemp("day"))]


def without(log: Log, *fields: str) -> Log:
    return replace(log, **dict.fromkeys(fields))


def test_stations_stand_as_far_apart_as_they_should(logs):
    for log in logs[:1]:
        found = course.align(log, find_laps(log, LINE))
        apart = np.diff(found.distance)
        np.testing.assert_allclose(apart, apart[0])
        assert apart[0] == pytest.approx(course.STEP, rel=2 / len(apart))


# ---- the invented day --------------------------------------------------------------------------------------------


def test_a_day_is_the_same_to_the_bit_by_its_seed_and_says_that_it_is_invented():
    again, other = clubday.make(5, traffic=0.0), clubday.make(6, traffic=0.0)
    assert again.csv == DAY.csv
    assert other.csv != DAY.csv
    assert all(text.startswith("# an invented club day on an invented course") for text in DAY.csv)


@pytest.mark.analytic
def test_the_course_closes_and_turns_once():
    distance, curvature, heading = clubday.course()
    step = distance[1]
    assert heading[-1] + curvature[0] * step == pytest.approx(2 * np.pi, abs=1e-9)
    ends = np.hypot(np.sum(np.cos(heading)), np.sum(np.sin(heading))) * step
    assert ends < 0.02 * distance[-1]  # the smoothed corners leave a little, which the positions spread over the lap


@pytest.mark.analytic
def test_a_constant_corner_is_driven_at_the_root_of_lateral_times_radius():
    curvature = np.full(400, 1 / 80.0)
    speed = clubday.profile(np.full(400, 9.0), np.full(400, 1e6), np.full(400, 99.0), curvature, 2.0)
    np.testing.assert_allclose(speed, np.sqrt(9.0 * 80.0))


@pytest.mark.analytic
def test_top_speed_of_the_point_mass_balances_power_and_air():
    speed = clubday.profile(
        np.full(9000, 9.0), np.full(9000, 150e3), np.full(9000, 200.0), np.r_[0.02, np.zeros(8999)], 2.0
    )
    balance = (150e3 / (0.5 * 1.225 * clubday.DRAG_AREA)) ** (1 / 3)
    assert speed[-1] == pytest.approx(balance, rel=1e-4)


def test_gains_and_learning_act_as_said():
    quick = clubday.make(5, corner_gain=0.05, noise=0.0, learning=0.0, traffic=0.0, laps=3)
    assert quick.change < DAY.change < 0
    # without noise and learning the difference is the change itself, but for the speed carried over the line
    assert quick.lap_time[1].mean() - quick.lap_time[0].mean() == pytest.approx(quick.change, abs=0.02)
    slow_start = clubday.make(5, learning=0.05, noise=0.0, traffic=0.0, laps=6).lap_time[0]
    assert np.all(np.diff(slow_start) < 0)
    with pytest.raises(InputError, match="traffic must be 0 to 1"):
        clubday.make(1, traffic=2)


# ---- finding laps ------------------------------------------------------------------------------------------------


def test_laps_by_crossing_the_line_match_the_truth(logs):
    for log, truth in zip(logs, DAY.lap_time, strict=True):
        found = find_laps(log, LINE)
        # positions carry 0.15 m of noise: at 50 m/s two crossings are each good to a few thousandths of a second
        np.testing.assert_allclose(found.time, truth, atol=0.03)


def test_the_line_is_laid_where_the_car_was_fastest_when_none_is_given(logs):
    found = find_laps(logs[0])
    assert len(found.time) == 8
    assert "not at the official one" in found.sure
    np.testing.assert_allclose(found.time.mean(), DAY.lap_time[0].mean(), atol=0.1)


def test_laps_by_a_lap_column_and_by_marks(logs):
    log = logs[0]
    truth = find_laps(log, LINE)
    number = np.searchsorted(truth.start, log.time, side="right").astype(float)
    number[log.time >= truth.end[-1]] += 1
    by_column = find_laps(replace(log, lap=number))
    assert by_column.how == "the lap column"
    np.testing.assert_allclose(by_column.time, truth.time, atol=0.1)
    marked = find_laps(log, marks=[*truth.start, truth.end[-1]])
    np.testing.assert_allclose(marked.time, truth.time)
    with pytest.raises(InputError, match="must lie within the log"):
        find_laps(log, marks=[-5, 100])


def test_laps_by_speed_alone(logs):
    log = without(logs[0], "x", "y", "lateral")
    found = find_laps(log)
    assert found.how == "speeds that repeat"
    assert "likeness of 0.9" in found.sure or "likeness of 1.0" in found.sure
    lengths = np.interp(found.end, log.time, log.travelled) - np.interp(found.start, log.time, log.travelled)
    assert np.median(lengths) == pytest.approx(clubday.course()[0][-1] + clubday.course()[0][1], rel=0.005)
    assert len(found.time) >= 7
    # the sum of the laps from one place to the same place is close to the truth, wherever the place is
    assert found.time.mean() == pytest.approx(DAY.lap_time[0].mean(), abs=0.15)


def test_a_second_log_with_speed_alone_begins_its_laps_at_the_same_place(logs):
    first, known = course.session(without(logs[0], "x", "y", "lateral"), "before")
    second, _ = course.session(without(logs[1], "x", "y", "lateral"), "after", known)
    whole = [course.session(log, "", None, find_laps(log, LINE))[0] for log in logs[:2]]
    gain = second.lap_time.mean() - first.lap_time.mean()
    assert gain == pytest.approx(whole[1].lap_time.mean() - whole[0].lap_time.mean(), abs=0.15)
    assert [s.name for s in first.sections] == [s.name for s in second.sections]


@pytest.mark.parametrize("seed", [6, pytest.param(9, marks=pytest.mark.slow)])
def test_speed_alone_finds_one_lap_and_not_two_on_a_busy_day(seed, tmp_path):
    """Days on which traffic makes two laps look more alike than one."""
    busy = clubday.make(seed, traffic=0.25)
    size = clubday.course()[0][-1]
    for path in busy.write(tmp_path):
        log = without(logfile.read(path), "x", "y", "lateral")
        found = find_laps(log)
        way = np.interp(found.end, log.time, log.travelled) - np.interp(found.start, log.time, log.travelled)
        assert np.median(way) == pytest.approx(size, rel=0.02)


@pytest.mark.published
def test_a_line_moves_with_the_origin_of_the_positions():
    line = Line(0, -10, 0, 10, (50.0, 8.0))
    moved = line.seen_from((50.001, 8.0))
    # GRS 80 (Moritz, Geodetic Reference System 1980, Bulletin Géodésique): mean radius R1 = (2a + b)/3
    # = 6371008.7714 m. On a ball of that size 0.001 deg of latitude is 6371008.7714 · π/180 · 0.001 = 111.195 m.
    assert moved.y1 == pytest.approx(-10 - 111.195, abs=5e-4)
    assert (moved.x1, moved.x2, moved.y2 - moved.y1) == pytest.approx((0, 0, 20))
    assert line.seen_from(None) == line


def test_laps_do_not_run_across_a_gap(logs):
    log = logs[0]
    truth = find_laps(log, LINE)
    cut = np.flatnonzero(log.time > truth.start[3] + 10)[0]
    broken = replace(log, run=log.run + (np.arange(len(log.run)) >= cut))
    assert len(find_laps(broken, LINE).time) == len(truth.time) - 1


def test_no_whole_lap_is_told(logs):
    with pytest.raises(InputError, match="must be one at least, got none"):
        find_laps(logs[0], Line(5000, 0, 5000, 1))
    log = without(logs[0], "x", "y", "lateral")
    short = replace(log, time=log.time[:300], speed=log.speed[:300], run=log.run[:300], row=log.row[:300])
    with pytest.raises(InputError, match="two laps"):
        find_laps(short)


# ---- sections and corners ----------------------------------------------------------------------------------------


@pytest.mark.analytic
def test_section_times_add_up_to_the_lap_time_and_to_the_difference(logs):
    known, sessions = None, []
    for log, name in zip(logs, DAY.names, strict=True):
        found, known = course.session(log, name, known)
        assert found.section_time is not None
        np.testing.assert_allclose(found.section_time.sum(axis=1), found.lap_time, rtol=0, atol=1e-9)
        assert np.all(found.section_time > 0)
        sessions.append(found)
    parts = sessions[1].section_time.mean(axis=0) - sessions[0].section_time.mean(axis=0)
    assert parts.sum() == pytest.approx(sessions[1].lap_time.mean() - sessions[0].lap_time.mean(), abs=1e-9)


@pytest.fixture(scope="module")
def waves():
    """Three laps of 3 km at V(s) = 40 − b·sin(3·2π·s/3000) m/s, b = 10, 15 and 18, logged 50 times a second."""
    size, depth = 3000.0, (10.0, 15.0, 18.0)

    def speed(way):
        return 40 - np.take(depth, np.minimum(way // size, 2).astype(int)) * np.sin(6 * np.pi * way / size)

    def time(start, end, b):
        return quad(lambda s: 1 / (40 - b * np.sin(6 * np.pi * s / size)), start, end, epsabs=1e-11)[0]

    whole = np.cumsum([0, *(time(0, size, b) for b in depth)])
    at = np.arange(0, whole[-1] + 1, 0.02)  # and one second more, as any log has
    way = solve_ivp(lambda _, s: speed(s), (0, at[-1]), [0.0], t_eval=at, rtol=1e-10, atol=1e-8).y[0]
    rows = np.arange(at.size)
    log = Log(at, speed(way), np.zeros_like(rows), rows)
    return course.align(log, laps.Laps(whole[:-1], whole[1:], "", "")), depth, time


@pytest.mark.analytic
def test_section_times_are_the_integral_of_way_over_speed(waves):
    aligned, depth, time = waves
    edges = [0.0, 213.0, 487.5, 1100.0, 1777.0, 2410.0, 3000.0]
    pieces = [laps.Section("", "straight", a, b) for a, b in pairwise(edges)]
    found = course.section_times(aligned, pieces)
    expected = [[time(piece.start, piece.end, b) for piece in pieces] for b in depth]
    # stations h = 2 m apart with straight lines between: h²/8·|d(1/V)/ds| = 0.5·18·0.0063/22² = 1e-4 s at each edge
    np.testing.assert_allclose(found, expected, atol=2e-4, rtol=0)


@pytest.mark.analytic
def test_minimum_speeds_are_the_lowest_mean_over_twelve_metres(waves):
    aligned, depth, _ = waves
    wave = 6 * np.pi / 3000
    corners = [course.Corner("dip", 100, 250, 400), course.Corner("on the way down", 1050, 1150, 1160.0)]
    found = course.minimum_speeds(aligned, corners)
    flat = np.sinc(wave * 12 / 2 / np.pi)  # mean of a sine wave over 12 m, over the wave itself
    last = aligned.distance[aligned.distance <= 1160].max()  # it still slows down here, so the end is slowest
    lowest = [[40 - b * flat, 40 - b * flat * np.sin(wave * last)] for b in depth]
    # seven stations stand for the 12 m, a mean over 14 m: (14² − 12²)·(6π/3000)²/24 = 9e-5 of at most 18 m/s
    np.testing.assert_allclose(found, lowest, atol=2e-3, rtol=0)
    assert np.all(found[:, 0] > 40 - np.array(depth))


@pytest.mark.parametrize("gone", [(), ("lateral",), ("x", "y"), ("x", "y", "lateral")])
def test_every_corner_is_found_with_its_turn_and_radius(logs, gone):
    log = without(logs[0], *gone)
    known = course.course_of(log, find_laps(log, None if "x" in gone else LINE))
    corners = known.corners
    if len(gone) == 3:  # with speed alone: two corners are no dip of 9 km/h
        assert len(corners) == len(RADII) - 2
        assert all(c.turn == "" for c in corners)
        return
    assert len(corners) == len(RADII)
    edges = np.array([c.apex for c in corners])
    assert np.all(np.diff(edges) > 0)
    if "x" in gone:
        assert all(c.radius is None for c in corners)
        return
    assert [c.turn for c in corners] == TURNS
    np.testing.assert_allclose([c.radius for c in corners], RADII, rtol=0.05)


@pytest.mark.analytic
def test_lateral_from_speed_and_radius_agrees_with_what_was_logged(logs):
    found = find_laps(logs[0], LINE)
    known = course.course_of(logs[0], found)
    held = course.grip(course.align(logs[0], found, known), known)
    assert held.logged is not None
    assert held.from_radius is not None
    np.testing.assert_allclose(held.from_radius.mean(axis=0), held.logged.mean(axis=0), rtol=0.07)
    assert np.all(held.spread() < 0.1 * G)
    given = course.grip(course.align(logs[0], found, known), known, np.array(RADII))
    assert given.from_radius is not None
    np.testing.assert_allclose(given.from_radius[:, 0].mean() / G, 0.99, atol=0.04)  # driven at 1 g less learning


@pytest.mark.analytic
def test_lateral_is_speed_squared_over_radius():
    # 100 km/h on 80 m: 27.778²/80 = 9.645 m/s² = 0.983 g
    assert grip.lateral_from_radius(100 / 3.6, 80.0) == pytest.approx(9.645, abs=5e-4)
    assert grip.lateral_from_radius(100 / 3.6, 80.0) / G == pytest.approx(0.983, abs=5e-4)
    speed, radius = np.array([[10.0], [20.0]]), np.array([50.0, 100.0, 200.0])
    assert np.asarray(grip.lateral_from_radius(speed, radius)).shape == (2, 3)
    np.testing.assert_allclose(
        np.sqrt(grip.lateral_from_radius(speed, radius) * radius), np.broadcast_to(speed, (2, 3))
    )
    with pytest.raises(InputError, match="radius must be above zero"):
        grip.lateral_from_radius(20.0, 0.0)


@pytest.mark.analytic
@pytest.mark.parametrize(("radius", "sense"), [(30.0, 1), (80.0, -1), (250.0, 1)])
def test_a_circle_is_measured_exactly_with_its_turn(radius, sense):
    angle = np.linspace(0.3, 1.1, 12)
    x, y = 500 + radius * np.cos(sense * angle), -200 + radius * np.sin(sense * angle)
    assert grip.circle_radius(x, y) == pytest.approx(sense * radius, rel=1e-9)
    assert np.isinf(grip.circle_radius(np.arange(5.0), 2 * np.arange(5.0)))


def test_laps_are_not_laid_together_at_a_corner_on_the_line(logs):
    """Laps counted from a place just before a corner's slowest: nothing is laid together there."""
    found = find_laps(logs[0], LINE)
    known = course.course_of(logs[0], found)
    way = logs[0].travelled
    wanted = np.interp(found.start, logs[0].time, way) + known.apexes[1] - 0.5 * course._NEAR * known.length
    late = np.interp(wanted, way, logs[0].time)
    there = course.course_of(logs[0], replace(found, start=late[:-1], end=late[1:]))
    gap = course._NEAR * there.length
    assert any(corner.apex < gap for corner in there.corners)
    assert len(there.apexes) > 3
    assert ((there.apexes > gap) & (there.apexes < there.length - gap)).all()


def test_alignment_brings_the_slowest_places_together(logs):
    found = find_laps(logs[0], LINE)
    known = course.course_of(logs[0], found)
    flat = course.align(logs[0], found, replace(known, apexes=np.empty(0)))
    even = course.align(logs[0], found, known)

    def spread(a, corner):
        near = np.abs(a.distance - corner.apex) < 40
        return np.std(course._slowest(a.distance[near], a.speed[:, near]))

    assert np.mean([spread(even, c) for c in known.corners]) <= np.mean([spread(flat, c) for c in known.corners])
    np.testing.assert_allclose(even.elapsed[:, -1], found.time, rtol=0, atol=1e-12)
    assert np.all(np.diff(even.elapsed, axis=1) > 0)


def test_another_course_is_refused(logs):
    _, known = course.session(logs[0], "before")
    other = replace(known, length=2 * known.length)
    with pytest.raises(InputError, match="about as long as the course"):
        course.session(logs[1], "after", other)


# ---- by hand -----------------------------------------------------------------------------------------------------


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("typed", "seconds"), [("1:32.45", 92.45), ("92,45", 92.45), (92.45, 92.45), (" 0:59.9 ", 59.9)]
)
def test_lap_times_are_read_as_people_type_them(typed, seconds):
    assert lap_seconds(typed) == pytest.approx(seconds, abs=1e-9)


@pytest.mark.parametrize("typed", ["", "1:75", "fast", "1:2:3", "-5", "nan"])
def test_what_is_no_lap_time_is_refused(typed):
    with pytest.raises(InputError, match=r"seconds or minutes:seconds"):
        lap_seconds(typed)


def test_hand_laps_mark_traffic_and_refuse_nonsense():
    found = hand_laps(
        "before", ["1:32.4", "1:40.0", 91.9], traffic=[2], corners=["hairpin"], minimum_speed=[[15.0]] * 3
    )
    assert list(found.clear) == [True, False, True]
    assert len(hand_laps("one", ["1:30"]).lap_time) == 1
    corner = (laps.Section("a", "corner", 0, 1),)
    for call, words in (
        (lambda: hand_laps("none", []), "must be at least one"),
        (lambda: hand_laps("x", [92.0], traffic=[2]), "must be 1 to 1"),
        (lambda: hand_laps("x", [5.0]), "must be 15 to 3600 s"),
        (lambda: hand_laps("x", [92.0], corners=["a"], minimum_speed=[[200.0]]),
         "x, lap 1: lowest speed in a must be above 0 and below 504 km/h, got 720 km/h"),
        (lambda: typed_session("before", "92.1 63 88\n92.9 61 0", ("hairpin", "long left"), "mph"),
         "before, lap 2: lowest speed in long left must be above 0 and below 313.2 mph, got 0 mph"),
        (lambda: hand_laps("x", [92.0, 93.0], corners=["a"], minimum_speed=[[20.0]]), "one for each lap"),
        (lambda: Session("x", np.array([90.0]), np.array([True]), corner, np.array([[80.0]])),
         "must add up"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=words):
            call()
    assert list(odd_laps(np.array([90.0, 91.0, 99.0, 60.0, 90.5]))) == [False, False, True, True, False]


@pytest.mark.analytic
@pytest.mark.parametrize("scatter", [0.2, 0.35, 1.5])
def test_laps_that_only_scatter_are_left_in_and_laps_held_up_for_seconds_are_not(scatter):
    rng = np.random.default_rng(9)
    drawn = 73.0 + scatter * rng.standard_normal((600, 8))
    assert np.mean([odd_laps(one) for one in drawn]) < 0.005
    held = drawn.copy()
    held[:, 3] += 3.6
    held[:, 6] += 10.0
    marked = np.array([odd_laps(one) for one in held])
    assert marked[:, 6].mean() > 0.99
    if scatter < 1:  # where laps differ by seconds anyway, 3.6 s are nothing to set a lap aside for
        assert marked[:, 3].mean() > 0.8
