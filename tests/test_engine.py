"""The trim against a general rigid-body engine (see ``engine.py``): loads and pose, from standing to a lifted wheel."""

from dataclasses import replace

import numpy as np
import pytest
from cars import FIRST_OR_SLOW
from engine import Model, Rest
from scipy.optimize import brentq

from vdlib.car import examples
from vdlib.car.records import PHASES, Axle, Car, Moment, Setup
from vdlib.trim.trim import State, Trim, trim
from vdlib.units import G

NEAR = 0.005  # of a wheel's standing load; the trim's angles are small ones, the engine's are not
SHARED = 0.001
"""Of what an axle carries standing, its side force: 0.004 without the mass that the leaning, dipping body moves."""
pytestmark = pytest.mark.analytic


def apart(car: Car, setup: Setup, model: Model, ours: Trim, theirs: Rest) -> dict[str, float]:
    """How far the two are apart, as a force at a wheel over what it carries standing: movements times wheel rate."""
    rate = np.array([s.spring * a.motion_ratio**2 for a, s in ((car.front, setup.front), (car.rear, setup.rear))])
    each = rate[:, None] / ours.standing_load
    half = model.track[:, None] / 2
    return {
        "load": float(np.abs((theirs.load - ours.load) / ours.standing_load).max()),
        "travel": float(np.abs((theirs.travel - ours.travel) * each).max()),
        "heave": float(np.abs((theirs.heave - ours.heave) * each).max()),
        "roll": float(np.abs((theirs.roll - ours.roll) * half * each).max()),
        "pitch": float(np.abs((theirs.pitch - ours.pitch) * model.x[:, None] * each).max()),
        "side force": float(np.abs((theirs.side - ours.side_force) / ours.standing_load.sum(axis=1)).max()),
    }


def both(car: Car, setup: Setup, moment: Moment, **how: bool) -> tuple[Trim, Rest, dict[str, float]]:
    ours = trim(car, setup, moment)
    model = Model(car, setup, moment, float(ours.steer), **how)
    theirs = model.rest()
    assert theirs.residual < 1e-9
    return ours, theirs, apart(car, setup, model, ours, theirs)


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("name", examples.example_names())
def test_loads_and_pose_in_every_phase(name: str, phase: str) -> None:
    """0.2 to 0.8 g, as far as there is a steady corner and both wheels of an axle brake or drive alike."""
    file = examples.load_example(name)
    worst: dict[str, float] = {}
    reached = 0.0
    for lateral in np.arange(0.2, 0.85, 0.2):
        ours, _, gap = both(file.car, file.setup, Moment.in_phase(phase, 30.0, lateral * G))
        if ours.state & State.WHEEL_HELD or not ours.usable:
            break
        worst = {key: max(value, worst.get(key, 0.0)) for key, value in gap.items()}
        reached = lateral
    print(f"{name}, {phase}, to {reached:.1f} g:", {key: f"{100 * value:.2f} %" for key, value in worst.items()})
    assert reached > 0.55
    assert max(worst.values()) < NEAR, worst
    assert worst["side force"] < SHARED, worst


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_the_inner_wheel_lifts_at_the_same_moment(name: str) -> None:
    """The pose does not ask whether tyres could hold. Near 1.3 g the body leans 5 degrees: hence twice NEAR."""
    file = examples.load_example(name)
    car = replace(file.car, drag_area=0.0)

    def ours(lateral: float) -> float:
        found = trim(car, file.setup, Moment(30.0, lateral))
        return float(found.load[:, 0].min()) - 1.0 if found.residual < 1e-8 else -1.0  # it has tipped

    def theirs(lateral: float) -> float:
        moment = Moment(30.0, lateral)
        found = Model(car, file.setup, moment, float(trim(car, file.setup, moment).steer)).rest()
        return float(found.load[:, 0].min()) - 1.0 if found.residual < 1e-8 else -1.0

    here = brentq(ours, 0.8 * G, 1.5 * G, xtol=1e-3 * G)
    there = brentq(theirs, 0.96 * here, 1.04 * here, xtol=1e-3 * G)
    print(f"{name}: an inner wheel is down to 1 N at {here / G:.4f} g here and {there / G:.4f} g in the engine")
    assert here == pytest.approx(there, rel=2 * NEAR)
    past = 1.02 * here
    lifted, _, gap = both(car, file.setup, Moment(30.0, past))
    assert lifted.load.min() == 0.0
    assert gap["load"] < 4 * NEAR  # all further transfer falls to the other axle: small errors count double


@pytest.mark.parametrize("name", examples.example_names())
def test_stops_in_contact(name: str) -> None:
    """Springs so soft that both outer wheels are well on their stops."""
    file = examples.load_example(name)
    soft = replace(file.setup, front=replace(file.setup.front, bar=0.0), rear=replace(file.setup.rear, bar=0.0))
    ours, _, gap = both(file.car, soft, Moment.in_phase("steady", 30.0, 0.7 * G))
    assert (ours.on_stop[:, 1] > 0).any()
    assert gap["load"] < NEAR


def unequal(car: Car, setup: Setup, rng: np.random.Generator) -> tuple[Car, Setup]:
    """A car unlike the examples: crooked corner weights, air, stiff caster, other roll centres and anti angles."""

    def end(axle: Axle) -> Axle:
        return replace(
            axle,
            roll_centre=rng.uniform(-0.03, 0.15), roll_centre_slope=rng.uniform(0, 2.5),
            anti_brake=rng.uniform(-0.05, 0.15), anti_drive=rng.uniform(-0.05, 0.15), anti_slope=rng.uniform(-0.5, 0.5),
            lift_area=rng.uniform(-0.5, 0.1), lift_attitude=rng.uniform(-1, 1), bump_gap=rng.uniform(0.0, 0.08),
        )  # fmt: skip

    car = replace(
        car, front=end(car.front), rear=end(car.rear), left_share=rng.uniform(0.47, 0.53),
        caster_offset=rng.uniform(0.0, 0.1), drive_front=rng.uniform(0, 1),
    )  # fmt: skip
    height = (
        car.front.reference_height + rng.uniform(-0.02, 0.02),
        car.rear.reference_height + rng.uniform(-0.02, 0.02),
    )
    return car, replace(
        setup.with_heights(*height), cross_weight=rng.uniform(0.47, 0.53), caster=rng.uniform(0.0, 0.15)
    )


@pytest.mark.parametrize("seed", [*range(12), *(pytest.param(n, marks=pytest.mark.slow) for n in range(12, 30))])
def test_cars_unlike_the_examples(seed: int) -> None:
    rng = np.random.default_rng(seed)
    file = examples.load_example(examples.example_names()[seed % 3])
    car, setup = unequal(file.car, file.setup, rng)
    phase = list(PHASES)[seed % 4]
    _, _, gap = both(car, setup, Moment.in_phase(phase, rng.uniform(20, 45), rng.uniform(-0.5, 0.5) * G))
    assert gap["load"] < NEAR, gap
    assert gap["travel"] < 2 * NEAR, gap


def as_read(model: Model, seats: Setup) -> Setup:
    """The heights that a tape reads: those the seats are set to, and the further lean of the leaning weight."""
    rate = np.array([s.spring * a.motion_ratio**2 for a, s in zip(model.ends, model.sets, strict=True)])
    tyre = np.array([a.tyre_rate for a in model.ends])
    pull = model.track * rate * tyre / (rate + tyre)
    set_to = 2 * model.seat[:, 0]
    further = model.stand.roll - (pull * set_to).sum() / (pull * model.track).sum()
    front, rear = set_to + model.track * further
    return replace(
        seats,
        front=replace(seats.front, height_difference=float(front)),
        rear=replace(seats.rear, height_difference=float(rear)),
    )


@pytest.mark.parametrize("seed", [*range(6), *(pytest.param(n, marks=pytest.mark.slow) for n in range(6, 12))])
def test_four_unequal_heights(seed: int) -> None:
    """The engine lets the car stand on four unequal spring seats, hooks up its bars and drives it round the corner.

    Nothing of the trim's stance is told to it: lean, corner weights and wheel loads in the corner are its own.
    """
    rng = np.random.default_rng(100 + seed)
    file = examples.load_example(("two-seater", "coupe", "hatch")[seed % 3])
    across, twisted = rng.choice((-1, 1)), seed % 4 != 3  # twisted, or leaning to one side
    sizes = across * rng.uniform(0.004, 0.016, 2) * (1, -1 if twisted else 1)
    ends = {
        end: replace(getattr(file.setup, end), height_difference=size)
        for end, size in zip(("front", "rear"), sizes, strict=True)
    }
    seats = replace(file.setup, **ends)
    moment = Moment.in_phase(list(PHASES)[seed % 4], rng.uniform(20, 40), rng.uniform(-0.6, 0.6) * G)
    even = trim(file.car, file.setup, moment)
    model = Model(file.car, seats, moment, float(even.steer))
    theirs, stand = model.rest(), model.stand
    assert theirs.residual < 1e-9
    assert stand is not None
    setup = as_read(model, seats)
    ours = trim(file.car, setup, moment)
    near = NEAR * ours.standing_load
    moved = np.abs(ours.standing_load - even.standing_load)
    assert not twisted or moved.max() > 4 * near.max()  # what is compared is there
    assert np.abs(stand.load - ours.standing_load).max() < near.max()
    assert stand.roll == pytest.approx(float(ours.standing_roll), abs=2e-4)
    assert (np.abs(theirs.load - ours.load) < near).all()
    assert theirs.roll == pytest.approx(float(ours.standing_roll + ours.roll), abs=4e-4)
    np.testing.assert_allclose(theirs.travel - stand.travel, ours.travel, atol=3e-4)
    rise = np.array([s.height - a.reference_height for a, s in zip(model.ends, model.sets, strict=True)])
    np.testing.assert_allclose(rise[:, None] - stand.travel, ours.standing_rise, atol=1e-4)


def half_axles(name: str) -> tuple[Car, Setup]:
    """The example with half-axles hinged at a roll centre that stays in its body: it rises one for one with it."""
    file = examples.load_example(name)
    ends = {end: replace(getattr(file.car, end), roll_centre_slope=1.0) for end in ("front", "rear")}
    return replace(file.car, **ends), file.setup


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("name", examples.example_names())
def test_a_mechanism_that_is_left_alone(name: str, phase: str) -> None:
    """Nothing is set anew while it moves; the anti angles turn with the body here, and not in the trim."""
    car, setup = half_axles(name)
    _, _, gap = both(car, setup, Moment.in_phase(phase, 30.0, 0.6 * G), follow=False)
    print(f"{name}, {phase}:", {key: f"{100 * value:.2f} %" for key, value in gap.items()})
    assert gap["load"] < NEAR


def test_it_comes_to_rest_there_by_itself() -> None:
    car, setup = half_axles("two-seater")
    moment = Moment.in_phase("brake", 30.0, 0.6 * G)
    model = Model(car, setup, moment, follow=False)
    solved, settled = model.rest(), model.settle(3.0, step=2e-3)
    assert settled.residual < 1e-4
    np.testing.assert_allclose(settled.load, solved.load, rtol=1e-3)
    np.testing.assert_allclose(settled.travel, solved.travel, atol=2e-5)


def test_the_comparison_can_fail() -> None:
    """A front roll centre 30 mm higher is seen at once."""
    file = examples.load_example("coupe")
    moment = Moment.in_phase("steady", 30.0, 0.8 * G)
    ours = trim(file.car, file.setup, moment)
    other = replace(file.car, front=replace(file.car.front, roll_centre=file.car.front.roll_centre + 0.03))
    model = Model(other, file.setup, moment, float(ours.steer))
    assert apart(file.car, file.setup, model, ours, model.rest())["load"] > 2 * NEAR
