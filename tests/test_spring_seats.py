"""Corner weights to spring seats: against the trim's standing loads, and a body on four springs solved anew."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import fsolve

from vdlib.car.examples import example_names, load_example
from vdlib.car.records import Moment
from vdlib.checks import InputError
from vdlib.setup.spring_seats import CROSS, Corners, corners_of, seats_for
from vdlib.trim.trim import trim
from vdlib.units import G

HALF_KILOGRAM = 0.5 * G


def crossed(name: str, cross: float):
    file = load_example(name)
    return file.car, replace(file.setup, cross_weight=cross)


@pytest.mark.parametrize("name", example_names())
@pytest.mark.parametrize("cross", [0.470, 0.488, 0.515])
def test_the_scales_will_read_what_the_trim_carries(name, cross):
    car, setup = crossed(name, cross)
    found = seats_for(corners_of(car, setup), 0.5, thread=1.5e-3)
    there = trim(car, replace(setup, cross_weight=found.cross), Moment(20.0, 0.0)).standing_load
    assert found.reached
    np.testing.assert_allclose(found.after, there, atol=HALF_KILOGRAM)
    assert np.abs(found.rise).max() < 0.5e-3  # heights stay


def a_body_on_four_springs(corners: Corners, turn):
    """Loads after turning the seats: large angles, the weight moves with the body; written anew from statics."""
    rate = corners.wheel * corners.tyre / (corners.wheel + corners.tyre)
    y = np.array([[1, -1], [1, -1]]) * corners.track[:, None] / 2
    total = corners.load.sum()
    front = corners.load[0].sum() / total
    x = np.array([[1 - front] * 2, [-front] * 2]) * corners.base
    sideways = (corners.load * y).sum() / total

    def loads(q):
        heave, roll, pitch = q
        up = heave + y * np.tan(roll) + x * np.tan(pitch)
        return corners.load + rate * (turn / corners.ratio - up)

    def residual(q):
        _, roll, pitch = q
        force = loads(q)
        where_y, where_x = sideways - corners.arm * np.sin(roll), -corners.arm * np.sin(pitch)
        return np.array([force.sum() - total, (force * (y - where_y)).sum(), (force * (x - where_x)).sum()]) / total

    return loads(fsolve(residual, np.zeros(3), xtol=1e-9))


def random_corners(rng) -> Corners:
    load = rng.uniform(220, 380, (2, 2)) * G
    wheel = np.repeat(rng.uniform(18e3, 60e3, (2, 1)), 2, axis=1)
    tyre = np.repeat(rng.uniform(160e3, 260e3, (2, 1)), 2, axis=1)
    ratio = np.repeat(rng.uniform(0.5, 0.98, (2, 1)), 2, axis=1)
    return Corners(load, wheel, tyre, ratio, rng.uniform(1.35, 1.6, 2), 2.4, 0.4)


@pytest.mark.analytic
@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(
    "free", [np.ones((2, 2), bool), np.array([[0, 0], [1, 1]], bool), np.array([[0, 1], [0, 0]], bool)]
)
def test_an_independent_body_on_springs_gives_the_same_loads(seed, free):
    rng = np.random.default_rng(seed)
    corners = random_corners(rng)
    wanted = float(np.clip(corners.cross + rng.uniform(-0.02, 0.02), 0.41, 0.59))
    found = seats_for(corners, wanted, free)
    np.testing.assert_allclose(found.after, a_body_on_four_springs(corners, found.turn), atol=HALF_KILOGRAM)
    assert found.after.sum() == pytest.approx(corners.load.sum())
    assert not found.turn[~free].any()


def test_four_seats_keep_the_heights_and_two_cannot():
    corners = corners_of(*crossed("two-seater", 0.48))
    four, rear = seats_for(corners), seats_for(corners, free=np.array([[False, False], [True, True]]))
    assert np.abs(four.rise).max() < np.abs(rear.rise).max()
    assert four.reached
    assert rear.reached
    assert "The body moves" in " ".join(rear.words())
    assert "The body stays" in " ".join(four.words())


def test_up_at_right_front_and_left_rear_makes_more_cross_weight():
    found = seats_for(corners_of(*crossed("coupe", 0.48)))
    assert np.all(found.turn[CROSS > 0] >= 0)
    assert np.all(found.turn[CROSS == 0] <= 0)
    assert found.cross > 0.48
    less = seats_for(corners_of(*crossed("coupe", 0.52)))
    assert np.all(less.turn[CROSS > 0] <= 0)


@pytest.mark.analytic
def test_without_tyres_giving_way_it_is_force_over_rate():
    load = np.full((2, 2), 250 * G)
    corners = Corners(
        load, np.full((2, 2), 25e3), np.full((2, 2), 1e12), np.full((2, 2), 0.8), np.full(2, 1.5), 2.4, 0.0
    )
    found = seats_for(corners, 0.52, thread=1e-6)
    each = 0.02 * load.sum() / 2 / 25e3 * 0.8  # analytic: half of the change at each diagonal wheel
    np.testing.assert_allclose(np.abs(found.turn), each, rtol=1e-3)


def test_whole_quarter_turns_of_the_thread_are_asked_for():
    found = seats_for(corners_of(*crossed("hatch", 0.487)), thread=2e-3)
    quarters = found.turn / (2e-3 / 4)
    np.testing.assert_allclose(quarters, np.round(quarters), atol=1e-9)
    assert " turns (" in found.words()[0]


def test_fixed_seats_are_said_to_be_fixed():
    found = seats_for(corners_of(*crossed("coupe", 0.48)), free=np.zeros((2, 2), bool))
    assert not found.turn.any()
    assert "cannot be set" in found.words()[0]
    np.testing.assert_allclose(found.after, found.before)


def test_nothing_to_turn_is_said_so():
    assert "no seat has to be turned" in seats_for(corners_of(*crossed("coupe", 0.5))).words()[0]


def test_a_stop_that_carries_makes_the_corner_stiffer():
    file = load_example("two-seater")
    low = file.setup.with_heights(
        file.setup.front.height, file.car.rear.reference_height - file.car.rear.bump_gap - 0.01
    )
    free = corners_of(file.car, file.setup).wheel
    assert np.all(corners_of(file.car, low).wheel[1] > free[1])


@pytest.mark.parametrize(("more", "said"), [({"wanted": 0.7}, "40 to 60 %"), ({"thread": 0.0}, "thread pitch")])
def test_what_cannot_be_is_refused(more, said):
    with pytest.raises(InputError, match=said):
        seats_for(corners_of(*crossed("coupe", 0.48)), **more)
