"""The limits of both ends, found by sweeps, against halving one interval and against their definition."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cars import FIRST_OR_SLOW

from vdlib.answers.limits import ROUGH, finer, first_above, limits
from vdlib.answers.split import with_bars
from vdlib.car import examples
from vdlib.car.records import PHASES, Car, Moment, Setup, reference_setup
from vdlib.trim.trim import State, trim
from vdlib.units import G, to_si

NAMES = examples.example_names()


def halved(car: Car, setup: Setup, moment: Moment, near: np.ndarray) -> np.ndarray:
    """Where each end begins to slide, by halving 0.04 g about a guess: slow, and nothing is read off a curve."""
    low, high = near - 0.02 * G, near + 0.02 * G
    for _ in range(15):  # to 6e-7 g
        middle = 0.5 * (low + high)
        found = trim(car, setup, replace(moment, lateral=middle * np.sign(moment.lateral)))
        past = np.stack([found.use[0][0], found.use[1][1]]) > 1
        low, high = np.where(past, low, middle), np.where(past, middle, high)
    return 0.5 * (low + high)


@pytest.mark.analytic
@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_limits_agree_with_halving(name: str) -> None:
    """In every phase over many bars, for neutral cars too, where the other end sets off just past the limit."""
    file = examples.load_example(name)
    bars = to_si(np.array([0.0, 240.0, 400.0]), "Nm_per_deg")
    setup = with_bars(file.setup, bars, bars[:, None])
    usual = np.array(list(PHASES.values())).T
    moment = Moment(30.0, -G, *usual[..., None, None])
    found = limits(file.car, setup, moment)
    assert found.slides.all()
    exact = halved(file.car, setup, moment, found.lateral)
    np.testing.assert_allclose(found.lateral / G, exact / G, atol=1.5e-5)  # 1.4e-5 at one bar of 144
    rough = limits(file.car, setup, moment, sweeps=ROUGH)
    np.testing.assert_allclose(rough.lateral / G, exact / G, atol=2e-3)
    np.testing.assert_array_equal(rough.slides, found.slides)
    for off, within in ((0.005 * G, 0.01 * G), (-0.02 * G, 0.03 * G)):
        near = finer(file.car, setup, moment, exact + off, within=within)
        np.testing.assert_allclose(near / G, exact / G, atol=1e-3)
    np.testing.assert_allclose(limits(file.car, with_bars(file.setup, *bars[[1, 2]]), Moment(30.0, -G, *usual)).lateral,
                               found.lateral[..., 2, 1], rtol=1e-5)  # fmt: skip


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_at_its_limit_an_end_uses_all_it_has(name: str) -> None:
    file = examples.load_example(name)
    usual = np.array(list(PHASES.values())).T
    cases = Moment(30.0, G, *usual)
    found = limits(file.car, file.setup, cases)
    assert found.slides.all()
    for end in (0, 1):
        at = trim(file.car, file.setup, replace(cases, lateral=found.lateral[end]))
        # 1e-4 where a wheel held at its longitudinal grip, and the moving mass with it, bends the curve at the limit
        held = (at.state & State.WHEEL_HELD) != 0
        np.testing.assert_array_less(np.abs(at.use[end] - 1.0), np.where(held, 1.5e-4, 2e-5))
        below = trim(file.car, file.setup, replace(cases, lateral=found.lateral[end] - 0.01 * G))
        assert (below.use[end] < 1).all()
    np.testing.assert_array_equal(found.first, (found.lateral[1] < found.lateral[0]).astype(int))
    np.testing.assert_array_equal(found.car, found.lateral.min(axis=0))


@pytest.mark.analytic
def test_a_rigid_car_on_sticky_tyres_tips_before_it_slides() -> None:
    file = examples.load_example("coupe")
    stiff = {"tyre_rate": 9.9e5, "bump_gap": 0.2, "roll_centre_slope": 0.0, "camber_slope": 0.0}
    sticky = replace(file.car.front.tyre, grip=2.4, grip_fall=0.0, camber_loss=0.0, stiffness_max=3e5)
    front, rear = (replace(axle, **stiff, tyre=sticky, track=1.4) for axle in (file.car.front, file.car.rear))
    car = replace(file.car, front=front, rear=rear, cg_height=0.9)
    setup = reference_setup(car, file.setup)
    hard = {"spring": 5e5, "bar": 1.7e5, "camber": 0.0}
    setup = replace(setup, front=replace(setup.front, **hard), rear=replace(setup.rear, **hard))
    found = limits(car, setup, Moment(30.0, G))
    assert found.tips.any()
    assert not found.slides[found.tips].any()
    tipped = found.lateral[found.tips] / G
    np.testing.assert_allclose(tipped, 1.4 / (2 * 0.9), rtol=0.05)  # T/2h, less what tyres and springs still give
    after = trim(car, setup, Moment(30.0, (float(tipped.max()) + 0.02) * G))
    assert int(after.state) & int(State.TIPS)


@pytest.mark.analytic
def test_a_limit_that_is_not_there_has_no_value() -> None:
    file = examples.load_example("coupe")
    tall = replace(file.car, cg_height=1.1)
    found = limits(tall, file.setup, Moment(30.0, G))
    assert found.tips.any()  # it falls over first
    np.testing.assert_array_equal(np.isnan(found.sliding), ~found.slides)
    held = limits(file.car, file.setup, Moment(30.0, G)).lateral
    assert np.isnan(finer(file.car, file.setup, Moment(30.0, G), held - 0.3 * G)).all()  # a guess far off
    assert np.isnan(finer(file.car, file.setup, Moment(30.0, G), np.nan)).all()
    tyre = replace(file.car.front.tyre, grip=2.4, grip_fall=0.0)
    sticky = {end: replace(getattr(file.car, end), tyre=tyre, lift_area=-3.0) for end in ("front", "rear")}
    fast = limits(replace(file.car, **sticky), file.setup, Moment(80.0, G))  # up to 3 g it holds
    assert not (fast.slides | fast.tips).any()
    assert (fast.lateral == 3 * G).all()
    assert fast.first == -1


@pytest.mark.analytic
def test_a_crossing_is_read_from_past_the_limit() -> None:
    """Past one the use is a parabola here, so the crossing is exact, whatever stands before it."""
    sweep = np.append(np.linspace(0.0, 7.0, 20), [7.5, 8.2, 9.6, 10.0])
    past = sweep - 7.3
    use = np.where(past >= 0, 1 + 0.4 * past + 0.03 * past**2, 0.5)
    none = np.zeros(sweep.size, dtype=bool)
    assert first_above(sweep, use, none) == pytest.approx(7.3)
    assert np.isnan(first_above(sweep, np.full(sweep.size, 0.5), none))
    assert np.isnan(first_above(sweep, use, sweep > 6))
    np.testing.assert_allclose(first_above(sweep, np.where(past >= 0, 1 + 0.4 * past, 0.5), none), 7.3)
    bent = np.array([0.5, 1.3, 1.35, 1.8])  # the parabola past one turns up again before it: the first point past stays
    assert first_above(np.arange(4.0), bent, np.zeros(4, dtype=bool)) == 1.0


@pytest.mark.analytic
def test_limits_broadcast_as_the_trim_does() -> None:
    file = examples.load_example("hatch")
    speed, lateral = np.array([[20.0], [35.0]]), np.array([0.2, 0.5, -0.7]) * G
    found = limits(file.car, file.setup, Moment(speed, lateral)).lateral
    assert found.shape == (2, 2, 3)
    np.testing.assert_allclose(found[:, 1, 0], limits(file.car, file.setup, Moment(35.0, G)).lateral, rtol=1e-6)
    np.testing.assert_allclose(found[..., 2], found[..., 0], rtol=1e-6)


@pytest.mark.analytic
def test_a_limit_before_a_short_stretch_that_holds_again_is_not_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first sweep sees only the fall at 1.14 g; that the use passes one at 1.09 g for a while hides between its
    points, and the closer sweep begins right there."""

    def use(a: np.ndarray) -> np.ndarray:
        return 1.0 + 4.0 * (a / G - 1.09) * (1.128 - a / G)

    def run(lateral: np.ndarray, _: Any) -> tuple[np.ndarray, np.ndarray]:
        both = use(lateral) * np.ones((1, 2))
        return both, np.broadcast_to(lateral > 1.14 * G, both.shape)[:, :1]

    monkeypatch.setattr("vdlib.answers.limits._asked", lambda *_: run)
    file = examples.load_example("coupe")
    for grip in np.linspace(1.10, 1.12, 21):  # each lays the points of the first sweep elsewhere
        ends = {end: replace(getattr(file.car, end), tyre=replace(file.car.front.tyre, grip=grip))
                for end in ("front", "rear")}  # fmt: skip
        found = limits(replace(file.car, **ends), file.setup, Moment(30.0, G))
        assert (found.slides | found.tips).all()
        at = found.lateral / G
        np.testing.assert_allclose(at, np.where(found.slides, 1.09, 1.14), atol=0.002)


@pytest.mark.analytic
def test_a_fall_is_placed_in_the_middle_of_the_step_it_fell_in(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing says where between two points a car fell over, so the error is as often early as late."""
    falls = np.linspace(1.05, 1.25, 801) * G

    def run(lateral: np.ndarray, _: Any) -> tuple[np.ndarray, np.ndarray]:
        return np.full(np.broadcast_shapes(lateral.shape, falls.shape), 0.5), (lateral > falls)[:, :1]

    monkeypatch.setattr("vdlib.answers.limits._asked", lambda *_: run)
    file = examples.load_example("coupe")
    found = limits(file.car, file.setup, Moment(np.full(falls.size, 30.0), G))
    assert found.tips.all()
    error = found.lateral[0] - falls
    assert np.ptp(error) < 0.002 * G
    assert abs(error.mean()) < 0.02 * np.ptp(error)


@pytest.mark.analytic
@pytest.mark.parametrize("sense", [1, -1])
def test_only_the_way_the_moment_turns_counts_not_how_hard(sense: int) -> None:
    """A car that differs from side to side: one limit to the left, another to the right."""
    file = examples.load_example("low-two-seater")
    moments = Moment(25.0, sense * np.array([0.3, 0.9, 4.0, 9.0]))
    found = limits(file.car, file.setup, moments).lateral
    np.testing.assert_allclose(found, found[:, -1:] * np.ones(4), rtol=1e-12)
    other = limits(file.car, file.setup, Moment(25.0, -sense * 9.0)).lateral
    assert (np.abs(found[:, -1] - other) > 1e-4 * G).all()


def test_the_quick_search_near_a_guess_asks_for_few_trims(monkeypatch: pytest.MonkeyPatch) -> None:
    """What moves under a slider may cost a few dozen trims, not thousands; counted, not timed."""
    file = examples.load_example("coupe")
    moment = Moment(30.0, G)
    guess = limits(file.car, file.setup, moment).lateral
    asked = []

    def counted(car: Car, setup: Setup, at: Moment, *rest: object) -> object:
        asked.append(np.size(at.lateral))
        return trim(car, setup, at, *rest)

    monkeypatch.setattr("vdlib.answers.limits.trim", counted)
    found = finer(file.car, file.setup, moment, guess + 0.002 * G)
    np.testing.assert_allclose(found, guess, atol=0.001 * G)
    assert 0 < sum(asked) <= 60


@pytest.mark.analytic
def test_limits_far_beyond_the_tyres_grip_are_found_beside_those_near_it() -> None:
    """Air presses the fast cars down: the first part of the sweep ends before their limits."""
    file = examples.load_example("coupe")
    ends = {end: replace(getattr(file.car, end), lift_area=-1.5) for end in ("front", "rear")}
    car, speeds = replace(file.car, **ends), np.array([15.0, 40.0, 75.0])
    found = limits(car, file.setup, Moment(speeds, G))
    most = 1.3 * max(float(axle.tyre.grip) for axle in (car.front, car.rear))
    assert (found.lateral[:, 0] / G < most).all()
    assert (found.lateral[:, 2] / G > most).all()
    for i, speed in ((0, speeds[0]), (2, speeds[2])):
        alone = limits(car, file.setup, Moment(float(speed), G))
        np.testing.assert_allclose(found.lateral[:, i], alone.lateral, rtol=1e-5)
        np.testing.assert_array_equal(found.slides[:, i], alone.slides)
        use = trim(car, file.setup, Moment(float(speed), alone.lateral)).use
        np.testing.assert_allclose(np.diagonal(use), 1.0, atol=1e-3)
