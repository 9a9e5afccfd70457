"""The invented day before and after a workshop visit: nothing is put in but another rear, and the model drives it."""

import functools

import numpy as np
import pytest

from vdlib.answers.lift import REACTION, Scenario, simulate
from vdlib.car.examples import load_example
from vdlib.car.reference import reference_of
from vdlib.laps.calm import calm_of
from vdlib.laps.clubday import CORNERS
from vdlib.laps.course import align, course_of
from vdlib.laps.laps import find_laps
from vdlib.laps.phone import Phone
from vdlib.laps.slide_rate import turning
from vdlib.laps.slide_runs import CAR
from vdlib.laps.visit_day import LAPS, LEVEL, LIFTS, NAMES, PLACES, RATE, make_visit
from vdlib.panels.day_laps import calmer_in
from vdlib.panels.day_sessions import from_logs

pytestmark = pytest.mark.analytic


day = functools.cache(make_visit)  # each is made once


@pytest.fixture(scope="module")
def visit():
    return day(2)


def test_one_number_is_one_day():
    visit = day(1)
    one, again = make_visit(2, laps=2), make_visit(2, laps=2)
    for first, same, different in zip(one.sessions, again.sessions, visit.sessions, strict=True):
        np.testing.assert_array_equal(first.log.yaw_rate, same.log.yaw_rate)
        assert first.csv() == same.csv()
        assert not np.array_equal(first.laps, different.laps[:2])


def test_the_driver_is_the_same_and_lifts_in_the_same_corners(visit):
    assert visit.lifts.shape == (len(NAMES), LAPS, len(PLACES))
    assert visit.lifts.min() >= LIFTS[0]
    assert visit.lifts.max() <= LIFTS[1]
    for i, session in enumerate(visit.sessions):
        assert len(session.slides) == LAPS * len(PLACES)
        assert [s.lift for s in session.slides] == pytest.approx(visit.lifts[i].ravel())
        assert {s.corner for s in session.slides} == {place + 1 for place in PLACES}
        assert np.mean([s.lateral for s in session.slides]) == pytest.approx(LEVEL, rel=0.015)
        for slide in session.slides:
            assert np.interp(slide.time, session.log.time, session.truth["speed"]) == pytest.approx(
                slide.speed, rel=0.01
            )
        assert np.median(np.diff(session.log.time)) == pytest.approx(1 / RATE)
    many = np.stack([day(n).lifts.mean(axis=(1, 2)) for n in (1, 2)])
    assert many.mean(axis=0) == pytest.approx(np.mean(LIFTS), abs=0.02)


@pytest.mark.parametrize("many", [1, pytest.param(3, marks=pytest.mark.slow)])
def test_each_lift_is_the_models_own_on_its_own_car(visit, many):
    """Driven anew, one lift at a time at a finer step, with each car's own table."""
    file = load_example(CAR)
    reference = reference_of(file)
    for session, (car, setup) in zip(
        visit.sessions, ((file.car, file.setup), (reference.car, reference.setup)), strict=True
    ):
        for slide in session.slides[:many]:
            run = simulate(car, setup, Scenario(
                slide.speed, slide.speed**2 / CORNERS[slide.corner - 1][0], slide.lift, starts=0.3, closing=0.15,
                counter_steer=1.0, reaction=REACTION["expecting it"][1], lasts=3.0), step=0.005)  # fmt: skip
            rate = np.abs(run.yaw_rate - run.lateral / run.speed).max()
            near = (session.log.time > slide.time) & (session.log.time < slide.time + 2.5)
            seen = np.abs(session.truth["yaw"] - session.truth["path"])[near].max()
            assert seen == pytest.approx(rate, rel=0.05, abs=np.radians(0.4))


def test_the_phones_faults_are_in_it_and_are_found(visit):
    phone = Phone()
    for session in visit.sessions:
        assert session.phone == phone
        found = turning(session.log).mounting
        assert found.offset.value == pytest.approx(phone.offset * found.axis.sum(), abs=np.radians(0.3))
        assert found.tilt.value == pytest.approx(phone.tilted, abs=np.radians(2))


def test_the_lift_is_read_off_the_log(visit):
    """How much the foot gave up, up to a constant that the slide itself adds."""
    read, true = [], []
    course = None
    for session in visit.sessions:
        laps = find_laps(session.log, course.line if course else None)
        course = course or course_of(session.log, laps)
        found = calm_of(align(session.log, laps, course), course, turning(session.log), laps)
        for slide in session.slides:
            lap = int(np.searchsorted(laps.start, slide.time)) - 1
            if slide.kind == "catch" and 0 <= lap < len(laps.start):
                read.append(found.lift[lap, slide.corner - 1])
                true.append(slide.lift)
    assert len(read) > 40
    slope, more = np.polyfit(true, read, 1)
    assert slope == pytest.approx(1.0, abs=0.1)
    assert np.std(np.array(read) - slope * np.array(true) - more) < 0.02


def verdicts(numbers, changed):
    out = []
    for number in numbers:
        made = day(number) if changed else make_visit(number, changed=False)
        laid = from_logs([(name, one.log) for name, one in zip(NAMES, made.sessions, strict=True)])
        out.append(next(one for one in calmer_in(laid, 0) if one.measure == "slide"))
    return out


@pytest.mark.slow
def test_a_workshop_that_did_nothing_is_seldom_called_calmer():
    found = verdicts(range(100, 300), changed=False)
    share = np.mean([one.verdict != "not shown" for one in found])
    held = np.mean([one.change.low <= 0 <= one.change.high for one in found])
    print("claimed", share, "held", held)
    assert share <= 0.05
    assert held >= 0.93 - 0.02


@pytest.mark.parametrize("most", [2, pytest.param(4, marks=pytest.mark.slow)])
def test_as_the_workbook_says_calmer_is_shown_on_some_days_and_on_others_not(most):
    assert {one.verdict for one in verdicts(range(1, most + 1), changed=True)} == {"calmer", "not shown"}
