"""Forgiven speed, hands-still limit, margins and the band of a difference: against single runs, trims and symmetry."""

from dataclasses import replace

import numpy as np
import pytest
from cars import FIRST, FIRST_OR_SLOW, TWO_OR_SLOW
from drawn_cars import batch, picked

from vdlib.answers.corner import HOLDS, Corner, Driver
from vdlib.answers.difference import difference
from vdlib.answers.edge import By
from vdlib.answers.film import film, states_of
from vdlib.answers.forgiven import FINE, SLIDE, WITHIN, Search, forgiven_speed
from vdlib.answers.hands_still import hands_still_limit, slowing, steering
from vdlib.answers.lift import Scenario, track
from vdlib.answers.limits import limits
from vdlib.answers.margins import margins, tries
from vdlib.answers.scenario import Lags
from vdlib.answers.spread import Doubt
from vdlib.answers.stacking import stack
from vdlib.car import examples
from vdlib.car.records import Moment, reference_setup
from vdlib.car.reference import reference_of
from vdlib.checks import InputError
from vdlib.trim.trim import trim
from vdlib.units import G, to_si

FILE = examples.load_example(FIRST)
CAR, SETUP = FILE.car, FILE.setup
LEVEL = reference_setup(CAR, SETUP)
BOTH = stack([LEVEL, SETUP])
DOUBTS = [Doubt("rear.tyre.grip", CAR.rear.tyre.grip, sigma=0.03), Doubt("car.cg_height", CAR.cg_height, sigma=0.01)]


def passes(car, setup, speeds, corner, driver):
    """Whether runs at these speeds swing their tails out past the angle."""
    scenario = Scenario(
        speeds,
        corner.lateral(speeds),
        corner.lift,
        corner.brake,
        starts=0.3,
        counter_steer=driver.counter_steer,
        reaction=driver.reaction,
        lasts=WITHIN,
    )
    return track(car, setup, scenario).slide.max(axis=0) > SLIDE


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("setup", "corner", "driver"),
    [
        pytest.param(SETUP, Corner(60.0), HOLDS, marks=pytest.mark.slow),  # every run: those of the film
        (LEVEL, Corner(100.0, lift=0.08), Driver(0.9)),
        (SETUP, Corner(45.0, lift=0.0, brake=0.1), HOLDS),
    ],
)
def test_the_forgiven_speed_is_that_of_a_bisection_of_single_runs(setup, corner, driver):
    found = forgiven_speed(CAR, setup, corner, driver)
    assert found.passes
    near = float(found.speed) - np.array([0.0, to_si(0.25, "kmh")])
    np.testing.assert_array_equal(passes(CAR, setup, near, corner, driver), [True, False])


@pytest.mark.analytic
def test_many_in_one_call_are_each_alone():
    corner = Corner(np.array([[50.0], [90.0]]), lift=0.12)
    many = forgiven_speed(CAR, BOTH, corner, HOLDS)
    assert many.speed.shape == (2, 2)
    for i, radius, setup in ((0, 50.0, LEVEL), (1, 90.0, SETUP)):
        alone = forgiven_speed(CAR, setup, Corner(radius, lift=0.12), HOLDS)
        assert many.speed[i, i] == pytest.approx(float(alone.speed), abs=to_si(0.3, "kmh"))


@pytest.mark.analytic
def test_it_is_the_first_from_below_also_where_faster_ones_are_forgiven_again():
    """Near the end of its grip a car may run wide instead: of these, one does."""
    car, setup = (picked(record, slice(12, 22)) for record in batch(3, 0.0, 24)[:2])
    corner = Corner(60.0, lift=0.15)
    found = forgiven_speed(car, setup, corner, HOLDS)
    search = Search.of(car, setup, corner, HOLDS, Lags())
    speeds = search.reaches * np.linspace(0.6, 1.0, 60)[:, None]
    lost = search.fates(speeds) > 0
    assert lost.any(axis=0).sum() == 9  # one runs wide at any speed
    again = 0
    for i in np.flatnonzero(lost.any(axis=0)):
        first = int(lost[:, i].argmax())
        assert first > 0
        assert speeds[first - 1, i] - 1e-9 < found.speed[i] < speeds[first, i] + FINE
        again += not lost[first:, i].all()
    assert again == 1


@pytest.mark.analytic
def test_where_the_grip_ends_first_that_is_said():
    file = examples.load_example("coupe")
    found = forgiven_speed(file.car, file.setup, Corner(60.0, lift=-0.02), Driver(0.3))
    assert found.grip_ends
    assert not found.passes
    assert found.edges[0].by is By.GRIP
    assert found.edges[0].told.endswith(" km/h (grip ends first)")
    reach = float(np.sqrt(float(limits(file.car, file.setup, Moment(float(found.speed), 1.0)).car) * 60.0))
    # 4 %: the motion's engine must also make up for the drag of front tyres turned far, the trim's need not
    assert 0.96 * reach < float(found.speed) < 1.005 * reach


@pytest.mark.analytic
@pytest.mark.parametrize("lift", [None, 0.10])
def test_at_the_hands_still_limit_total_steering_stops_rising_at_constant_speed(lift):
    found = hands_still_limit(CAR, BOTH, 80.0, lift)
    assert found.exists.all()
    for i, setup in enumerate((LEVEL, SETUP)):
        limit = float(found.limit[i])
        for part, sign in ((0.97, 1), (1.03, -1)):
            lateral = part * limit
            speed = float(np.sqrt(lateral * 80.0))  # that point's own speed
            along = 0.0 if lift is None else float(slowing(CAR, lift, speed))
            steer = trim(CAR, setup, Moment(speed, lateral + np.array([-0.02, 0.02]), along)).steer
            assert np.sign(steer[1] - steer[0]) == sign
    line = steering(CAR, SETUP, 80.0, np.linspace(2.0, 9.0, 29), lift)
    top = line.lateral[np.argmax(line.rise <= 0)]
    assert top == pytest.approx(float(found.limit[1]), abs=0.3)
    assert np.isnan(line.steer).any() == (not line.usable.all())


@pytest.mark.analytic
def test_where_steering_rises_to_the_end_there_is_no_hands_still_limit():
    file = examples.load_example("coupe")
    found = hands_still_limit(file.car, file.setup, 60.0)
    assert not found.exists
    assert str(found.told) == f"{float(found.limit) / G:.2f} g (grip ends first)"
    ends = limits(file.car, file.setup, Moment(float(np.sqrt(found.limit * 60.0)), 1.0)).car
    assert float(found.limit) == pytest.approx(float(ends), abs=0.01 * G)


@pytest.mark.analytic
@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_hands_still_limit_says_nearly_what_the_motion_says(name):
    file = examples.load_example(name)
    corner = Corner(60.0, lift=0.12)
    limit = hands_still_limit(file.car, file.setup, corner.radius, corner.lift)
    found = forgiven_speed(file.car, file.setup, corner, HOLDS)
    assert limit.exists
    assert found.passes
    # 8 %: the limit knows neither that the car slows as it slides nor the front tyres' drag
    assert float(corner.speed(limit.limit)) == pytest.approx(float(found.speed), rel=0.08)


@pytest.fixture(scope="module")
def bars():
    """What each what-if gains the story's car, the wheel held."""
    return margins(CAR, SETUP, reference_of(FILE), Corner(), HOLDS)


@pytest.mark.analytic
def test_margins_are_the_differences_of_single_what_ifs(bars):
    reference, corner = reference_of(FILE), Corner()
    rows = {row.name: row for row in bars.rows}
    asked = {one.name: one for one in tries(CAR, SETUP, reference, corner, HOLDS)}
    assert rows.keys() == asked.keys()
    assert {row.owner for row in bars.rows} == {"car", "driver", "day"}
    now = float(forgiven_speed(CAR, SETUP, corner, HOLDS).speed)
    assert bars.now.speed == pytest.approx(now, abs=to_si(0.25, "kmh"))
    for name in ("ride heights put back", "hands that steer against it"):
        one = asked[name]
        alone = float(forgiven_speed(one.car, one.setup, one.corner, one.driver).speed)
        assert rows[name].gained == pytest.approx(alone - now, abs=to_si(0.45, "kmh"))
    assert rows["lifting half as far"].gained > to_si(1.0, "kmh")
    assert rows["a wet road"].gained < -to_si(1.0, "kmh")
    assert rows["a line 5 m wider"].gained > 0
    sizes = [abs(row.gained) for row in bars.rows]
    assert sizes == sorted(sizes, reverse=True)
    acts = tries(CAR, SETUP, reference, corner, Driver())
    assert "hands half a second sooner" in {one.name for one in acts}


@pytest.mark.analytic
def test_the_gap_of_a_stop_that_never_hardens_changes_nothing():
    none = replace(CAR, front=replace(CAR.front, bump_stiffening=0.0), rear=replace(CAR.rear, bump_stiffening=0.0))
    gaps = np.array([0.0, 0.012, 0.045])
    found = forgiven_speed(replace(none, rear=replace(none.rear, bump_gap=gaps)), SETUP, Corner(), HOLDS)
    assert np.ptp(found.speed) < 1e-9
    assert (
        np.ptp(hands_still_limit(replace(none, rear=replace(none.rear, bump_gap=gaps)), SETUP, 60.0, 0.1).limit) < 1e-9
    )


@pytest.mark.analytic
def test_the_band_is_that_of_the_difference_in_one_draw():
    found = difference(CAR, LEVEL, SETUP, Corner(), HOLDS, DOUBTS, (40, 6))
    for band, count in ((found.by_limit, 40), (found.by_film, 6)):
        assert band.speed.shape == (2, count)
        low, middle, high = band.of(band.change)
        assert low <= middle <= high
        assert band.change.std() < 0.5 * band.speed[0].std()  # what errs in both setups cancels
        assert band.worse > 0.9


@pytest.mark.slow  # every run: what errs in both setups cancels
@pytest.mark.analytic
def test_no_change_of_setup_makes_no_difference():
    same = difference(CAR, SETUP, SETUP, Corner(), HOLDS, DOUBTS, (10, 4))
    assert np.abs(same.by_limit.change).max() < 1e-9
    assert np.abs(same.by_film.change).max() < 1e-9


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Corner(2.0), "radius of the corner must be"),
        (lambda: Corner(turn="up"), "turn must be"),
        (lambda: Corner(lift=1.0), "engine's drag over weight must be"),
        (lambda: Driver(-1.0), "reaction time must be"),
        (lambda: Driver(closing=0.0), "time the foot takes must be"),
    ],
)
def test_corners_and_drivers_out_of_range_are_refused_by_name(make, words):
    with pytest.raises(InputError, match=words):
        make()


@pytest.mark.analytic
@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_a_corner_has_one_forgiven_speed_whatever_is_asked_beside_it(name, bars):
    file = examples.load_example(name)
    corner = Corner()
    states = states_of(file.car, file.setup, reference_of(file))
    shown = film(tuple(state for state in states if state.key in ("reference", "now", "foot")), corner)
    now, half = (float(shown.forgiven[shown.place(key)]) for key in ("now", "foot"))
    if name != FIRST:
        bars = margins(file.car, file.setup, reference_of(file), corner, HOLDS)
    gains = {row.name: row.gained for row in bars.rows}
    assert bars.now.speed == pytest.approx(now, abs=1e-9)
    assert gains["lifting half as far"] == pytest.approx(half - now, abs=1e-9)
    assert float(forgiven_speed(file.car, file.setup, corner, HOLDS).speed) == pytest.approx(now, abs=1e-9)
    steps = shown.forgiven / to_si(0.1, "kmh")
    assert steps == pytest.approx(np.round(steps), abs=1e-6)
    slides, apart = shown.slide.max(axis=0), shown.speeds - shown.forgiven[:, None]
    at_edge = np.abs(slides - SLIDE) < to_si(0.1, "deg")  # what the search's longer steps of time make of it, at most
    assert (((slides > SLIDE) == (apart > -1e-9)) | at_edge).all()  # the film says the same
    assert at_edge.sum() <= 3  # of 51
