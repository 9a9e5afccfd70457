"""The trim over cars, setups and moments drawn at random: finite or flagged, balanced, mirrored, right at its limits.

Each example of hypothesis is a seed for a whole batch of cars: one call solves hundreds.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from drawn_cars import (
    FILES,
    MANY,
    batch,
    ends,
    left_over,
    mirrored,
    picked,
    solved,
    tyres_make,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from vdlib.car import tyre
from vdlib.car.records import WHEEL_FIELDS, AxleSetup, Car, Moment, Setup
from vdlib.lessons.bicycle import AxleSteer, TwoWheel, understeer_gradient
from vdlib.lessons.rolling import RollAxle, lateral_transfer
from vdlib.trim.trim import State, Trim, trim
from vdlib.units import G

pytestmark = pytest.mark.analytic
SEEDS = st.integers(0, 2**32 - 1)
few = settings(max_examples=3, deadline=None)


def check_batch(seed: int, wild: float, n: int = MANY) -> int:
    """Everything that must hold of any car; the number of cars solved."""
    car, setup, moment = batch(seed, wild, n)
    with np.errstate(all="ignore"):  # a case that runs away is flagged
        found = trim(car, setup, moment)
    good = solved(found)
    for field in fields(found):
        value = np.asarray(getattr(found, field.name), dtype=float)
        finite = np.isfinite(value).all(axis=tuple(range(value.ndim - 1)))
        assert (finite | ~good).all(), field.name
    assert (found.residual[good] < 1e-8).all()
    assert (found.load[..., good] >= 0).all()
    assert (found.usable <= good).all()
    car, setup, moment, found = (picked(record, good) for record in (car, setup, moment, found))
    for name, left in left_over(car, setup, moment, found).items():
        np.testing.assert_allclose(left, 0.0, atol=1e-7, err_msg=name)
    off = np.abs(tyres_make(car, setup, found) - found.side_force) / np.maximum(found.peak_force, 1.0)
    assert off[:, found.usable].max(initial=0.0) < 1e-5
    return int(good.sum())


@few
@given(SEEDS)
def test_solved_and_balanced_or_flagged(seed: int) -> None:
    assert check_batch(seed, 0.0) > 0.9 * MANY
    assert check_batch(seed, 0.1) > 0.5 * MANY
    check_batch(seed, 0.5)


@pytest.mark.slow
def test_a_hundred_thousand_cars() -> None:
    count = sum(check_batch(seed, wild, 2000) for seed in range(17) for wild in (0.0, 0.1, 0.4))
    assert count > 50_000


@few
@given(SEEDS)
def test_the_mirrored_car_in_the_mirrored_turn(seed: int) -> None:
    three = batch(seed, 0.05)
    with np.errstate(all="ignore"):
        left, right = trim(*three), trim(*mirrored(*three))
    good = solved(left) & solved(right)
    assert (solved(left) == solved(right)).mean() > 0.98
    assert good.mean() > 0.5
    np.testing.assert_allclose(left.load[..., good], right.load[:, ::-1][..., good], rtol=1e-5, atol=0.1)
    np.testing.assert_allclose(left.roll[good], -right.roll[good], atol=1e-6)
    np.testing.assert_allclose(left.steer[good & left.usable], -right.steer[good & left.usable], atol=1e-5)
    np.testing.assert_allclose(
        left.understeer_angle[good & left.usable], right.understeer_angle[good & left.usable], atol=1e-5
    )


@few
@given(SEEDS)
def test_one_car_alone_is_what_it_is_among_many(seed: int) -> None:
    three = batch(seed, 0.03)
    with np.errstate(all="ignore"):
        many = trim(*three)
    good = np.flatnonzero(many.usable)[:: MANY // 5]
    for i in good:
        one = trim(*(picked(record, i) for record in three))
        for field in fields(one):
            np.testing.assert_allclose(
                getattr(one, field.name), getattr(many, field.name)[..., i], rtol=1e-6, atol=1e-7, err_msg=field.name
            )


def transfer(found: Trim) -> np.ndarray:
    """From left to right on each axle, (2, n) [N]."""
    gained = found.load - found.standing_load
    return np.asarray((gained[:, 1] - gained[:, 0]) / 2)


def total(car: Car, found: Trim) -> np.ndarray:
    """Moment of both axles' transfer."""
    return np.asarray((transfer(found) * ends(car, "track")).sum(axis=0))


def linear(found: Trim) -> np.ndarray:
    """No stop touching, four wheels down, nothing slides."""
    touching = (found.on_stop > 0).any(axis=(0, 1))
    return found.usable & ~touching & ((found.state & int(State.WHEEL_IN_AIR | State.RESTS_ON_STOP)) == 0)


@few
@given(SEEDS)
def test_what_grows_with_what(seed: int) -> None:
    """Left turns; each change against the same cars without it."""
    car, setup, moment = batch(seed, 0.0)
    moment = replace(moment, lateral=np.abs(moment.lateral) + 0.5)
    # springs alone below full droop, and no caster lift, which a changed steering angle would move
    car = replace(car, caster_offset=0.0, **{
        end: replace(getattr(car, end), droop_gap=0.25, bump_gap=0.25) for end in ("front", "rear")
    })  # fmt: skip
    base = trim(car, setup, moment)
    front, rear = transfer(base)

    def against(car: Car, setup: Setup, moment: Moment) -> tuple[Trim, np.ndarray]:
        other = trim(car, setup, moment)
        return other, linear(base) & linear(other)

    higher = replace(car, cg_height=1.05 * car.cg_height)
    other, good = against(higher, setup, moment)
    assert good.sum() > 100
    assert (total(higher, other) > total(car, base))[good].all()
    assert (other.roll > base.roll)[good].all()

    for end, i in (("front", 0), ("rear", 1)):
        stiff = replace(setup, **{end: replace(getattr(setup, end), bar=1.2 * getattr(setup, end).bar)})
        other, good = against(car, stiff, moment)
        own = transfer(other)
        assert (own[i] / own.sum(axis=0) > (front, rear)[i] / (front + rear))[good].all()
        assert (other.roll < base.roll)[good].all()

        lifted = replace(car, **{end: replace(getattr(car, end), roll_centre=getattr(car, end).roll_centre + 0.02)})
        other, good = against(lifted, setup, moment)
        own = transfer(other)
        assert (own[i] / own.sum(axis=0) > (front, rear)[i] / (front + rear))[good].all()
        assert (own[1 - i] < (front, rear)[1 - i])[good].all()

    other, good = against(car, setup, replace(moment, lateral=1.1 * moment.lateral))
    assert (other.roll > base.roll)[good].all()
    assert (total(car, other) > total(car, base))[good].all()

    other, good = against(car, setup, replace(moment, longitudinal=moment.longitudinal - 1.0, braking=1.0))
    slower, same = other.load.sum(axis=1), trim(car, setup, replace(moment, braking=1.0)).load.sum(axis=1)
    assert (slower[0] > same[0])[good].all()


# NHTSA New Car Assessment Program: average track [m], centre-of-gravity height [m] and the static stability factor T/2h
# printed beside them.
MEASURED = np.array([
    (1.4326, 0.4498, 1.591), (1.4834, 0.4714, 1.573), (1.491, 0.4773, 1.563), (1.6256, 0.5149, 1.5771),
    (1.5392, 0.4905, 1.571), (1.5037, 0.5057, 1.488), (1.4834, 0.5042, 1.471), (1.5335, 0.4625, 1.65778),
    (1.3792, 0.5004, 1.378),
])  # fmt: skip


def stiffest(track: Any, height: Any) -> tuple[Car, Setup]:
    """A light car as nearly rigid as the records allow."""
    file = FILES[0]

    def end(axle: Any) -> Any:
        return replace(
            axle, track=track, unsprung_mass=10.0, tyre_rate=1e6, motion_ratio=1.5, bump_gap=0.0, bump_stiffening=1e8,
            droop_gap=0.0, droop_stiffening=1e8, roll_centre=0.1, roll_centre_slope=0.0, anti_slope=0.0,
        )  # fmt: skip

    def own(axle: AxleSetup, height: float) -> AxleSetup:
        return replace(axle, height=height, spring=5e5, bar=1e5)

    car = replace(
        file.car, mass=300.0, front_share=0.5, cg_height=height, drag_area=0.0, caster_offset=0.0,
        front=end(file.car.front), rear=end(file.car.rear),
    )  # fmt: skip
    heights = car.front.reference_height, car.rear.reference_height
    return car, replace(file.setup, front=own(file.setup.front, heights[0]), rear=own(file.setup.rear, heights[1]))


@pytest.mark.published
def test_a_rigid_car_tips_at_its_static_stability_factor() -> None:
    track, height, factor = MEASURED.T
    car, setup = stiffest(track, height)
    stability = track / (2 * height)
    step = np.linspace(0.9, 1.05, 301)[:, None]
    with np.errstate(all="ignore"):  # past tipping there is nothing to find
        found = trim(car, setup, Moment(30.0, step * stability * G))
    lifted = (found.load[:, 0] <= 0).all(axis=0) | ~solved(found)
    tips = step[lifted.argmax(axis=0), 0]
    assert lifted.any(axis=0).all()
    assert (np.diff(lifted.astype(int), axis=0) >= 0).all()  # once over, it stays over
    # the stiffest tyre allowed still gives: the car leans out by 0.3 % of its half track before it goes
    np.testing.assert_allclose(tips * stability, factor, rtol=0.006)
    assert (tips <= 1.0).all()
    on = solved(found) & (step < 0.99)
    moved = (found.load[:, 1] - found.load[:, 0]).sum(axis=0) / 2 / (car.mass * G / 2)
    np.testing.assert_allclose(moved[on], (step * np.ones(9))[on], atol=0.01)


def simple(seed: int, tyre_rate: float) -> tuple[Car, Setup]:
    """A batch without stops, toe, camber, caster or air."""
    car, setup, _ = batch(seed, 0.0)
    plain = dict(
        bump_stiffening=0.0, droop_stiffening=0.0, tyre_rate=tyre_rate, toe_bend=0.0, camber_slope=0.0,
        compliance_steer=0.0, lift_area=0.0, lift_attitude=0.0,
    )  # fmt: skip
    car = replace(
        car, drag_area=0.0, caster_offset=0.0, left_share=0.5,
        front=replace(car.front, **plain), rear=replace(car.rear, **plain),
    )  # fmt: skip
    heights = {end: getattr(car, end).reference_height for end in ("front", "rear")}
    alike = dict.fromkeys((*WHEEL_FIELDS, *WHEEL_FIELDS.values(), "weighed_difference"), 0.0)
    own = {
        end: replace(getattr(setup, end), **alike | {"height": h, "aligned_height": h, "pressure": pressure})
        for end, h in heights.items()
        for pressure in [getattr(setup, end).pressure]
    }
    return car, replace(setup, cross_weight=0.5, caster=0.0, **own)


@few
@given(SEEDS)
def test_small_corners_are_the_closed_forms(seed: int) -> None:
    """Tyres are springs here and rigid there: twice the stiffest less half as stiff takes their squash out."""
    lateral = 0.02 * G
    stiff, half = (trim(*simple(seed, rate), Moment(30.0, lateral)) for rate in (1e6, 5e5))
    car, setup = simple(seed, 1e6)
    unsprung, track, radius = (ends(car, key) for key in ("unsprung_mass", "track", "wheel_radius"))
    sprung = car.mass - unsprung.sum(axis=0)
    rate = ends(setup, "spring") * ends(car, "motion_ratio") ** 2
    front, rear = (
        RollAxle(track[i], end.roll_centre, rate[i] * track[i] ** 2 / 2 + own.bar, unsprung[i], radius[i])
        for i, (end, own) in enumerate(((car.front, setup.front), (car.rear, setup.rear)))
    )
    height = (car.mass * car.cg_height - (unsprung * radius).sum(axis=0)) / sprung
    share = (car.mass * car.front_share - unsprung[0]) / sprung
    known = lateral_transfer(lateral, sprung, share, height, front, rear)
    ours = 2 * transfer(stiff) - transfer(half)
    np.testing.assert_allclose(ours, np.stack([known.front.total, known.rear.total]), rtol=3e-3)
    np.testing.assert_allclose(2 * stiff.roll - half.roll, known.roll.angle, rtol=3e-3)
    links = np.stack([known.front.links + known.front.unsprung, known.rear.links + known.rear.unsprung])
    np.testing.assert_allclose(stiff.links, links, rtol=1e-3)

    # understeer: equal tyres left and right, and the toe curve turned by roll
    stiffness = [2 * tyre.cornering_stiffness(end.tyre, load, own.pressure) for end, load, own in (
        (car.front, car.mass * G * car.front_share / 2, setup.front),
        (car.rear, car.mass * G * (1 - car.front_share) / 2, setup.rear),
    )]  # fmt: skip
    a, b = car.wheelbase * (1 - car.front_share), car.wheelbase * car.front_share
    two = TwoWheel(car.mass, car.inertia, a, b, *stiffness)
    # toe-in in bump steers the outer wheel, and toe-out in droop the inner one, into the turn
    steers = [
        AxleSteer(
            roll_steer=-end.toe_slope * end.track / 2,
            camber_stiffness=2 * end.tyre.camber_thrust * load,
            camber_per_roll=1.0,
        )
        for end, load in (
            (car.front, car.mass * G * car.front_share / 2),
            (car.rear, car.mass * G * (1 - car.front_share) / 2),
        )
    ]
    bend = [s.roll_steer * (found_roll(stiff, i, track)) for i, s in enumerate(steers)]
    known_k = understeer_gradient(two, *(replace(s, roll_steer=0.0) for s in steers), stiff.roll / lateral)
    budget = (known_k.total * lateral) + bend[0] - bend[1]
    whole = lateral * (np.abs(known_k.front.total) + np.abs(known_k.rear.total))
    np.testing.assert_allclose(stiff.understeer_angle / whole, budget / whole, atol=5e-3)


def found_roll(found: Trim, i: int, track: np.ndarray) -> np.ndarray:
    """Roll of the body against one axle."""
    return np.asarray((found.travel[i, 1] - found.travel[i, 0]) / track[i])
