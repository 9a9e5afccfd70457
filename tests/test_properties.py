"""The trim over cars, setups and moments drawn at random: finite or flagged, balanced, mirrored, right at its limits.

Each example of hypothesis is a seed for a whole batch of cars: one call solves hundreds.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdlib import examples, tyre
from vdlib.aero import dynamic_pressure
from vdlib.bicycle import AxleSteer, TwoWheel, understeer_gradient
from vdlib.car import AxleSetup, Car, Moment, Setup, attitude
from vdlib.glossary import GLOSSARY
from vdlib.loads import stability_factor
from vdlib.rolling import RollAxle, lateral_transfer
from vdlib.trim import State, Trim, trim
from vdlib.units import G, to_si

pytestmark = pytest.mark.analytic
MANY = 250  # cars a batch
SEEDS = st.integers(0, 2**32 - 1)
SIDES = np.array([1.0, -1.0])[None, :, None]
FILES = [examples.load(name) for name in examples.names()]
MOMENT = Moment(30.0, 5.0, -1.0, 0.5)
UNSOLVED = int(State.TIPS | State.NOT_SOLVED)
few = settings(max_examples=6, deadline=None)


def drawn(
    record: Any, rng: np.random.Generator, n: int, wild: float, keep: frozenset[str] = frozenset()
) -> dict[str, Any]:
    """New numbers for a record: near the old one, or with the chance ``wild`` anywhere in the glossary's range."""
    new: dict[str, Any] = {}
    for field in fields(record):
        value = getattr(record, field.name)
        if is_dataclass(value):
            new[field.name] = replace(value, **drawn(value, rng, n, wild, keep))
        elif field.name in GLOSSARY and value is not None and field.name not in keep:
            entry = GLOSSARY[field.name]
            low, high = to_si(entry.low, entry.unit), to_si(entry.high, entry.unit)
            near = value + 0.15 * (np.abs(value) + 0.05 * (high - low)) * rng.uniform(-1, 1, n)
            far = rng.uniform(low, high, n)
            new[field.name] = np.clip(np.where(rng.random(n) < wild, far, near), low, high)
    return new


def picked(record: Any, which: Any) -> Any:
    """Some of a batch's cars, or one of them as plain numbers."""

    def part(value: Any) -> Any:
        if is_dataclass(value):
            return picked(value, which)
        return value[..., which][()] if isinstance(value, np.ndarray) and value.ndim else value

    return replace(record, **{field.name: part(getattr(record, field.name)) for field in fields(record)})


def batch(seed: int, wild: float, n: int = MANY) -> tuple[Car, Setup, Moment]:
    """Cars that stand on four wheels; each number is anything in the glossary's range with the chance ``wild``."""
    rng = np.random.default_rng(seed)
    file = FILES[seed % len(FILES)]
    heights = frozenset({"height", "reference_height", "aligned_height"})
    car, setup, moment = (drawn(record, rng, n, wild, heights) for record in (file.car, file.setup, MOMENT))
    light = 0.4 * car["mass"] * np.minimum(car["front_share"], 1 - car["front_share"])
    for end, base in (("front", 0.13), ("rear", 0.14)):
        axle, tyres, own = car[end], car[end].tyre, setup[end]
        gentle = {key: getattr(tyres, key).clip(-7e-6, 7e-6) for key in ("stiffness_per_bar", "grip_per_bar")}
        mass = np.clip(axle.unsprung_mass, 10.0, np.maximum(10.0, light))
        car[end] = replace(axle, tyre=replace(tyres, **gentle), unsprung_mass=mass, reference_height=np.full(n, base))
        setup[end] = replace(
            own,
            height=base + rng.uniform(-0.04, 0.04, n),
            aligned_height=base + rng.uniform(-0.02, 0.02, n),
            pressure=own.pressure.clip(tyres.pressure_nominal - 1.2e5, tyres.pressure_nominal + 1.2e5),
        )
    made = replace(file.car, **car), replace(file.setup, **setup), Moment(**moment)
    front = made[0].front_share - 0.05 * made[0].cg_height * attitude(*made[:2]) / 0.1 / made[0].wheelbase ** 2
    left, cross = made[0].left_share, made[1].cross_weight
    least = np.min([front + left - cross, front - left + cross, left - front + cross, 2 - front - left - cross], axis=0)
    stands = least > 0.03
    return tuple(picked(record, stands) for record in made)  # type: ignore[return-value]


def solved(found: Trim) -> np.ndarray:
    return np.asarray((found.state & UNSOLVED) == 0)


def ends(car: Car | Setup, field: str) -> np.ndarray:
    """One number of both axles, (2, n)."""
    return np.stack(np.broadcast_arrays(getattr(car.front, field), getattr(car.rear, field)))


class Body:
    """What the balances need of a batch: masses, heights and arms as they stand, worked out here anew."""

    def __init__(self, car: Car, setup: Setup, moment: Moment, found: Trim) -> None:
        self.track, self.unsprung, self.radius = (ends(car, key) for key in ("track", "unsprung_mass", "wheel_radius"))
        rise = ends(setup, "height") - ends(car, "reference_height")
        self.rise, self.nose_up = rise, (rise[0] - rise[1]) / car.wheelbase
        self.sprung = car.mass - self.unsprung.sum(axis=0)
        front, rear = found.cg_to_axle
        over = (front * rise[1] + rear * rise[0]) / car.wheelbase
        self.height = (car.mass * car.cg_height - (self.unsprung * self.radius).sum(axis=0)) / self.sprung + over
        self.arm = np.stack([front, -rear])
        self.own = car.mass * np.stack([rear, front]) / car.wheelbase - self.unsprung  # sprung mass over each axle
        self.half = self.track[:, None] / 2 * SIDES
        steer_lift = np.zeros_like(found.load)
        steer_lift[0] = car.caster_offset * (setup.caster + self.nose_up) * found.steer * SIDES[0]
        corner = found.heave - self.arm[:, None] * found.pitch + self.half * found.roll
        self.hub = found.travel + corner - steer_lift


def left_over(car: Car, setup: Setup, moment: Moment, found: Trim) -> dict[str, np.ndarray]:
    """Each balance of the whole car, from the trim's outputs, over the weight."""
    body = Body(car, setup, moment, found)
    weight, gained = car.mass * G, found.load - found.standing_load
    lean = (
        body.height + found.heave
    ) * found.roll  # how far the weight has gone sideways: roll centres stay on the axles
    axle_lean = (body.hub[:, 0] - body.hub[:, 1]) / body.track
    lean -= (body.own * found.roll_centre * (found.roll - axle_lean)).sum(axis=0) / body.sprung
    tall = body.sprung * (body.height + found.heave)
    unsprung = (body.unsprung * body.radius).sum(axis=0)
    drag = dynamic_pressure(moment.speed) * car.drag_area
    yaw = found.side_force[0] * body.arm[0] + found.side_force[1] * body.arm[1]
    dip = body.sprung * G * (body.height + found.heave - body.radius.mean(axis=0)) * found.pitch
    return {
        "vertical force": (found.load.sum(axis=(0, 1)) + found.lift.sum(axis=0) - weight) / weight,
        "roll moment": (
            (body.half * gained).sum(axis=(0, 1)) + moment.lateral * (tall + unsprung) + body.sprung * G * lean
        ) / weight,
        "pitch moment": (
            (body.arm * (gained.sum(axis=1) + found.lift)).sum(axis=0) + moment.longitudinal * (tall + unsprung) - dip
        ) / weight,
        "side force": (found.side_force.sum(axis=0) - car.mass * moment.lateral) / weight,
        "yaw moment": (yaw - (body.half * found.long_force).sum(axis=(0, 1))) / weight,
        "lengthways force": np.where(
            found.state & int(State.LENGTHWAYS),
            0.0,
            (found.long_force.sum(axis=(0, 1)) - car.mass * moment.longitudinal - drag) / weight,
        ),
        "links": np.abs(across(car, setup, moment, found, body)).max(axis=0) / weight,
    }  # fmt: skip


def across(car: Car, setup: Setup, moment: Moment, found: Trim, body: Body) -> np.ndarray:
    """What moves from left to right on each axle, less what springs, bar, stops and links move."""
    rate = ends(setup, "spring") * ends(car, "motion_ratio") ** 2
    difference = found.travel[:, 1] - found.travel[:, 0]
    force = rate * difference + 2 * ends(setup, "bar") / body.track**2 * difference
    for sign, gap, hard in (
        (1, ends(car, "bump_gap") + body.rise, ends(car, "bump_stiffening")),
        (-1, ends(car, "droop_gap") - body.rise, ends(car, "droop_stiffening")),
    ):
        depth = np.maximum(0.0, sign * found.travel - gap[:, None])
        force += sign * hard / 2 * (depth[:, 1] ** 2 - depth[:, 0] ** 2)
    sprung_side = found.side_force - moment.lateral * body.unsprung
    links = (sprung_side * found.roll_centre + moment.lateral * body.unsprung * body.radius) / body.track
    gained = found.load - found.standing_load
    return np.asarray(gained[:, 1] - gained[:, 0] - force - 2 * links)


def tyres_make(car: Car, setup: Setup, found: Trim) -> np.ndarray:
    """Side force of each axle's two tyres at the slip angles found, (2, n)."""
    made = []
    for i, end in enumerate((car.front, car.rear)):
        pressure = (setup.front, setup.rear)[i].pressure
        most = end.tyre.long_ratio * tyre.grip(end.tyre, found.load[i], pressure) * found.load[i]
        used = np.minimum(np.abs(found.long_force[i]) / np.maximum(most, 1e-9), 0.95)
        bend = end.compliance_steer * found.side_force[i] * (-1.0, 1.0)[i]
        slip = found.slip[i] + bend - SIDES[0] * found.toe[i]
        made.append(tyre.side_force(end.tyre, found.load[i], slip, found.lean[i], pressure, used).sum(axis=0))
    return np.stack(made)


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


def mirrored(car: Car, setup: Setup, moment: Moment) -> tuple[Car, Setup, Moment]:
    return (
        replace(car, left_share=1 - car.left_share),
        replace(setup, cross_weight=1 - setup.cross_weight),
        replace(moment, lateral=-moment.lateral),
    )


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
    step = np.linspace(0.9, 1.05, 301)[:, None]
    with np.errstate(all="ignore"):  # past tipping there is nothing to find
        found = trim(car, setup, Moment(30.0, step * stability_factor(track, height) * G))
    lifted = (found.load[:, 0] <= 0).all(axis=0) | ~solved(found)
    tips = step[lifted.argmax(axis=0), 0]
    assert lifted.any(axis=0).all()
    # the stiffest tyre allowed still gives: the car leans out by 0.3 % of its half track before it goes
    np.testing.assert_allclose(tips * stability_factor(track, height), factor, rtol=0.006)
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
    own = {
        end: replace(getattr(setup, end), toe=0.0, camber=0.0, height=h, aligned_height=h) for end, h in heights.items()
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
