"""What-ifs: candidates, versions side by side, what helps most, and requests, against slower and independent ways."""

from dataclasses import replace

import numpy as np
import pytest
from cars import FIRST_OR_SLOW, TWO_OR_SLOW

from vdlib.answers.balance import balance
from vdlib.answers.limits import limits
from vdlib.answers.stacking import stack
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.car.typical import Kinds
from vdlib.car.tyre import KINDS, of_kind, of_other_kind
from vdlib.checks import InputError
from vdlib.setup.advice import GOALS, Ask, Bounds, gains, levers, ranked, turned, value
from vdlib.setup.candidate import (
    Candidate,
    Load,
    baseline,
    between,
    leaves,
    put,
    put_all,
    standing,
    version,
    with_loads,
)
from vdlib.setup.request import at_reference, least, share_better, solve
from vdlib.setup.whatif import PHASE_ORDER, compare, why
from vdlib.trim.loads import corner_loads
from vdlib.trim.trim import trim
from vdlib.units import G

SPEED, LATERAL = 30.0, 0.8 * G
CARS = examples.example_names()


@pytest.fixture(scope="module")
def files():
    return {name: examples.load_example(name) for name in CARS}


def some(base):
    """A candidate that touches a bit of everything."""
    settings = {
        "front.height": base.setup.front.height - 0.010,
        "front.aligned_height": base.setup.front.height - 0.010,
        "rear.bar": 0.8 * base.setup.rear.bar,
        "front.toe": 0.001,
        "caster": base.setup.caster + 0.01,
    }
    return Candidate("some", settings, (Load("ballast", 20, 2.0, -0.3, 0.3),), {"rear": "track"}, "felt odd")


@pytest.mark.analytic
@pytest.mark.parametrize("name", CARS)
def test_standing_is_the_same_car(files, name):
    car, setup = files[name].car, files[name].setup
    moment = Moment.in_phase("lift", SPEED, LATERAL)
    one, other = trim(car, setup, moment), trim(car, standing(car, setup), moment)
    for key, array in vars(one).items():
        np.testing.assert_allclose(getattr(other, key), array, rtol=0, atol=1e-7, err_msg=key)
    assert standing(car, setup).front.aligned_height == setup.front.height


@pytest.mark.analytic
def test_loads_keep_the_moments_of_point_masses(files):
    """Four corner masses and the added ones as points: sums, first moments and second moments must agree."""
    car = replace(files["two-seater"].car, yaw_inertia=1500.0, left_share=0.51)
    loads = (Load("ballast", 40, 0.3, -0.5, 0.25), Load("fuel", -25, 1.9, 0.2, 0.4))
    out = with_loads(car, loads)
    track = 0.5 * (car.front.track + car.rear.track)
    where = np.array([[(1 - car.front_share) * car.wheelbase, (car.left_share - 0.5) * track, car.cg_height]])
    places = np.vstack([where, [[one.behind_front, one.left, one.height] for one in loads]])
    mass = np.array([car.mass, *(one.mass for one in loads)])
    centre = mass @ places / mass.sum()
    assert out.mass == pytest.approx(mass.sum())
    assert (1 - out.front_share) * out.wheelbase == pytest.approx(centre[0])
    assert (out.left_share - 0.5) * track == pytest.approx(centre[1])
    assert out.cg_height == pytest.approx(centre[2])
    about = (mass * np.square(places - centre)[:, :2].sum(axis=1)).sum()
    assert out.yaw_inertia == pytest.approx(1500.0 + about)
    assert with_loads(car, ()) is car


@pytest.mark.analytic
def test_a_load_over_one_wheel_goes_to_that_wheel(files):
    """Put over the front left contact patch, with the cross weight it causes, all of it stands on that wheel."""
    car = files["two-seater"].car
    car = replace(car, rear=replace(car.rear, track=car.front.track))
    out = with_loads(car, [Load("ballast", 30, 0.0, car.front.track / 2, 0.3)])
    before = corner_loads(car.mass, car.front_share, car.left_share, 0.5)
    cross = 0.5 * car.mass / out.mass
    after = corner_loads(out.mass, out.front_share, out.left_share, cross)
    assert after.front_left - before.front_left == pytest.approx(30 * G)
    for corner in ("front_right", "rear_left", "rear_right"):
        assert getattr(after, corner) == pytest.approx(getattr(before, corner))


def test_a_plain_tyre_of_another_kind_is_that_kind_and_a_wide_one_stays_wide(files):
    assert of_other_kind(of_kind("road"), "track") == of_kind("track")
    wide = files["two-seater"].car.rear.tyre
    other = of_other_kind(wide, "track")
    assert other.nominal_load == wide.nominal_load
    assert other.grip / wide.grip == pytest.approx(KINDS["track"]["grip"] / KINDS[wide.kind]["grip"])
    assert of_other_kind(replace(wide, kind="own numbers"), "road") == of_kind("road")
    with pytest.raises(InputError, match="must be one of road"):
        of_other_kind(wide, "slick")


def test_between_and_version_are_inverse(files):
    base = baseline(files["coupe"].car, files["coupe"].setup)
    wanted = some(base)
    there = version(wanted, base)
    back = between(base, there.setup, "some", loads=wanted.loads, tyres=wanted.tyres, note=wanted.note)
    assert back == wanted
    assert between(base, base.setup).empty
    with pytest.raises(InputError, match="is an unknown setting"):
        version(Candidate(settings={"front.wing": 1.0}), base)
    with pytest.raises(InputError, match="name the axle"):
        version(Candidate(tyres={"left": "road"}), base)
    with pytest.raises(InputError, match="ballast: mass put in or taken out must be -300 to 300 kg"):
        Load("ballast", 3000, 0, 0, 0)


def test_stack_gives_each_record_again(files):
    base = baseline(files["hatch"].car, files["hatch"].setup)
    setups = [base.setup, put(base.setup, "rear.toe", 0.002), put(base.setup, "front.bar", 0.0)]
    every = stack(setups, 2)
    assert np.shape(every.rear.toe) == (3, 1, 1)
    assert every.front.spring == base.setup.front.spring
    assert np.shape(every.front.height) == (3, 1, 1)  # the first number has the new axis though all are the same
    assert np.shape(stack(setups[:1]).front.height) == (1,)
    assert [dict(leaves(s))["front.bar"] for s in setups] == list(np.ravel(every.front.bar))


def test_numbers_put_at_once_are_those_put_one_by_one(files):
    setup = files["hatch"].setup
    values = {"front.height": 0.125, "rear.toe": 0.002, "caster": 0.06, "rear.height_difference": 0.004}
    each = setup
    for path, number in values.items():
        each = put(each, path, number)
    assert put_all(setup, values) == each != setup
    assert put_all(setup, {}) is setup
    with pytest.raises(InputError, match="ride height must be"):
        put_all(setup, {"rear.toe": 0.002, "front.height": 9.0})


def test_a_setting_turned_is_its_number_and_the_change_and_alignment_goes_with_the_height(files):
    setup = files["hatch"].setup
    sizes = np.array([-0.002, 0.003])
    there = turned(setup, {"rear.toe": 0.001, "front.height": sizes, "front.spring": -2e3})
    assert there.rear.toe == setup.rear.toe + 0.001
    assert there.front.spring == setup.front.spring - 2e3
    np.testing.assert_array_equal(there.front.height, setup.front.height + sizes)
    np.testing.assert_array_equal(there.front.aligned_height, there.front.height)
    assert (there.rear.height, there.rear.aligned_height) == (setup.rear.height, setup.rear.aligned_height)


def test_a_number_that_only_some_records_give_is_not_stacked(files):
    car = files["hatch"].car
    one, other = replace(car, yaw_inertia=None), replace(car, yaw_inertia=1500.0)
    assert stack([one, one]).yaw_inertia is None
    for pair in ([one, other], [other, one]):
        with pytest.raises(ValueError, match="yaw_inertia must be given in all 2 records or in none"):
            stack(pair)


@pytest.mark.analytic
@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_compare_agrees_with_balance_and_limits(files, name):
    base = baseline(files[name].car, files[name].setup)
    versions = [base, version(some(base), base)]
    found = compare(versions, SPEED, LATERAL)
    for row, one in enumerate(versions):
        for at, phase in enumerate(PHASE_ORDER):
            slow = balance(one.car, one.setup, Moment.in_phase(phase, SPEED, LATERAL))
            assert found.angle[row, at] == pytest.approx(float(slow.understeer_angle), abs=1e-8, nan_ok=True)
            assert found.double[row, at] == pytest.approx(float(slow.time_to_double), rel=1e-5, nan_ok=True)
            np.testing.assert_allclose(found.load[:, :, row, at], slow.trim.load, rtol=1e-6, atol=1e-3)
    exact = limits(base.car, base.setup, Moment.in_phase("lift", SPEED, 1.0)).lateral
    np.testing.assert_allclose(found.limit[:, 0, 1] / G, exact / G, atol=1e-3)  # what the docstring promises
    assert found.first[0, 1] == int(np.argmin(exact))
    alone = compare(versions[1:], SPEED, LATERAL)
    np.testing.assert_allclose(alone.limit[:, 0], found.limit[:, 1], rtol=1e-9)
    joined = found.only(0).beside(alone)
    np.testing.assert_allclose(joined.load, found.load, rtol=1e-9)
    assert joined.names == found.names
    with pytest.raises(ValueError, match="same moments"):
        found.beside(compare([base], SPEED + 1, LATERAL))


def test_past_the_limit_is_said_not_hidden(files):
    base = baseline(files["two-seater"].car, files["two-seater"].setup)
    found = compare([base], SPEED, 1.4 * G)
    assert np.isnan(found.angle).all()
    assert np.isnan(found.growth).all()
    assert np.isfinite(found.limit).all()
    assert (found.state != 0).all()


@pytest.mark.analytic
@pytest.mark.parametrize("name", CARS)
def test_ledger_parts_add_up_and_stand_in_for_single_changes(files, name):
    base = baseline(files[name].car, files[name].setup)
    moment = Moment.in_phase("lift", SPEED, LATERAL)
    both = version(some(base), base)
    ledger = why(base, both, moment)
    ends = [float(trim(v.car, v.setup, moment).understeer_angle) for v in (base, both)]
    assert float(ledger.parts.sum()) == pytest.approx(ends[1] - ends[0], abs=1e-10)
    assert ledger.causes == (
        "ballast, fuel, driver",
        "rear tyre kind",
        "front ride height",
        "front toe of each wheel",
        "rear anti-roll bar",
        "caster",
    )
    single = version(Candidate(settings={"rear.bar": 0.8 * base.setup.rear.bar}), base)
    one = why(base, single, moment)
    assert one.causes == ("rear anti-roll bar",)
    assert why(base, base, moment).causes == ()


def test_many_causes_go_together(files):
    base = baseline(files["hatch"].car, files["hatch"].setup)
    setup = turned(base.setup, {f"{end}.{field}": size for field, size in
                                (("height", 0.005), ("spring", 2e3), ("toe", 1e-3), ("camber", -5e-3))
                                for end in ("front", "rear")})  # fmt: skip
    ledger = why(base, replace(base, setup=setup), Moment.in_phase("lift", SPEED, LATERAL))
    assert ledger.causes == ("ride heights", "springs", "toe", "camber")


@pytest.mark.analytic
@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_gains_are_the_differences_of_the_exact_limits(files, name):
    base = baseline(files[name].car, files[name].setup)
    wanted, ask = levers(base.car, base.setup), Ask()
    found = gains(base, ask, wanted)
    sizes = np.array([0.25 * lever.usual for lever in wanted])
    pairs = [
        turned(base.setup, {lever.path: way * size})
        for way in (1, -1)
        for lever, size in zip(wanted, sizes, strict=True)
    ]
    moment = Moment.in_phase("lift", ask.speed, 1.0)
    exact = limits(base.car, stack(pairs), moment).lateral
    slopes = (exact[:, : len(wanted)] - exact[:, len(wanted) :]) / (2 * sizes)
    steps = np.array([lever.usual for lever in wanted])
    # the implicit derivative is taken 0.005 g past the limit: 3 % of the largest gain is allowed for that; and where
    # the limit itself has a bend, half of it: the hatch's inner rear wheel leaves the road just at its front's limit
    top = np.abs(slopes * steps).max()
    here = limits(base.car, base.setup, moment).lateral[:, None]
    bend = np.abs(exact[:, : len(wanted)] - 2 * here + exact[:, len(wanted) :]) / sizes * steps
    assert (np.abs(found.limit[:, :, 1] - slopes) * steps <= 0.03 * top + 0.5 * bend).all()
    angles = trim(base.car, stack(pairs), Moment.in_phase("lift", ask.speed, ask.lateral)).understeer_angle
    np.testing.assert_allclose(
        found.steering[:, 1], (angles[: len(wanted)] - angles[len(wanted) :]) / (2 * sizes), rtol=1e-4, atol=1e-6
    )


@pytest.mark.parametrize(
    ("goal", "way"),
    [
        pytest.param(goal, way, marks=() if way == more else pytest.mark.slow)  # one way of each goal in every run
        for goal, more in zip(GOALS, (1, -1, 1), strict=True)
        for way in (1, -1)
    ],
)
def test_ranking_stays_in_bounds_and_is_sorted(files, goal, way):
    base = baseline(files["coupe"].car, files["coupe"].setup)
    bounds = Bounds(height=0.010, gap=0.020)
    wanted = levers(base.car, base.setup, bounds)
    helps = ranked(base, Ask(goal, way=way), wanted)
    assert {one.lever.path for one in helps} == {lever.path for lever in wanted}
    reach = [one.reach for one in helps if np.isfinite(one.reach)]
    assert max(helps, key=lambda one: one.gain).reach > 0  # the wanted way
    assert reach == sorted(reach, reverse=True)
    for one in helps:
        end = one.lever.now + one.way * one.room
        assert one.lever.low - 1e-12 <= end <= one.lever.high + 1e-12
        if one.end is not None and one.lever.path == "front.bar":
            there = turned(base.setup, {"front.bar": one.way * one.room})
            alone = compare([replace(base, setup=there)], Ask().speed, Ask().lateral)
            gain = (value(alone, Ask(goal)) - value(one.end, Ask(goal), 0)) * way
            assert one.reach == pytest.approx(gain, abs=1e-9)
    rear = next(lever for lever in wanted if lever.path == "rear.height")
    assert rear.low >= base.car.rear.reference_height + 0.020 - base.car.rear.bump_gap - 1e-12
    none = levers(base.car, put(base.setup, "rear.bar", 0.0))
    assert "rear.bar" not in {lever.path for lever in none}
    worn = levers(base.car, put(base.setup, "rear.camber", np.radians(-4.0)))
    assert next(lever for lever in worn if lever.path == "rear.camber").low == pytest.approx(np.radians(-4.0))


@pytest.mark.analytic
def test_least_change_is_the_least():
    """Without bounds λ·s·u²; with them no other allowed change that gives as much is smaller (random search)."""
    rng = np.random.default_rng(3)
    slope, usual = np.array([1.0, -2.0, 0.5, 0.0]), np.array([1.0, 0.5, 2.0, 1.0])
    wide = np.full(4, 1e3)
    free = least(slope, 0.7, -wide, wide, usual)
    expected = slope * usual**2 * 0.7 / (slope**2 * usual**2).sum()
    np.testing.assert_allclose(free, expected, atol=1e-9)
    low, high = np.array([-1.0, -0.05, -1, -1]), np.array([0.1, 1, 1, 1])
    x = least(slope, 0.4, low, high, usual)
    assert slope @ x == pytest.approx(0.4)
    assert ((x >= low) & (x <= high)).all()
    others = rng.uniform(low, high, (1_000_000, 4))
    good = others[others @ slope >= 0.4]
    assert len(good) > 1000
    assert (np.square(good / usual).sum(axis=1) >= np.square(x / usual).sum() - 1e-12).all()
    most = least(slope, 50, low, high, usual)
    np.testing.assert_allclose(most, [0.1, -0.05, 1.0, 0.0])
    assert (least(slope, -1.0, low, high, usual) == 0).all()


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_a_request_is_answered_honestly(files, name):
    base = baseline(files[name].car, files[name].setup)
    ask = Ask("steering")
    wanted = levers(base.car, base.setup, kinds=("height", "bar", "toe"))
    now = value(compare([base], ask.speed, ask.lateral), ask)
    answer = solve(base, ask, now + 0.10, wanted)
    assert answer.reached
    assert answer.end >= now + 0.10 - 2e-4
    slow = balance(base.car, answer.version.setup, Moment.in_phase("lift", ask.speed, ask.lateral))
    assert np.degrees(float(slow.understeer_angle)) == pytest.approx(answer.end, abs=1e-6)
    for lever in wanted:
        step = answer.steps.get(lever.path, 0.0)
        assert lever.low - 1e-9 <= lever.now + step <= lever.high + 1e-9
        assert step / lever.grid == pytest.approx(round(step / lever.grid), abs=1e-6)
    bars = [lever for lever in wanted if lever.field == "bar"]
    too_far = solve(base, ask, now + 50, bars)
    assert not too_far.reached
    assert too_far.end < now + 50
    there = solve(base, ask, now - 1, wanted)
    assert there.already
    assert not there.steps
    assert not solve(base, ask, now + 0.1, ()).reached
    keener = solve(base, replace(ask, way=-1), now - 0.03, levers(base.car, base.setup))
    assert keener.reached
    assert keener.end <= now - 0.03 + 2e-4


def test_at_the_limit_there_is_no_answer(files):
    base = baseline(files["hatch"].car, files["hatch"].setup)
    answer = solve(base, Ask("steering", lateral=1.4 * G), 1.0, levers(base.car, base.setup))
    assert not answer.reached
    assert not answer.already
    assert np.isnan(answer.start)


def test_the_reference_asked_for_is_the_one_every_comparison_means(files):
    for file in files.values():
        there, reference = at_reference(file), reference_of(file)
        assert (there.name, there.setup) == (reference.name, reference.setup)
        for end in ("front", "rear"):
            own = getattr(there.setup, end)
            assert own.height == own.aligned_height  # aligned at its heights
        assert there.car.yaw_inertia == pytest.approx(float(file.car.inertia))


def test_share_of_plausible_cars(files):
    file = files["two-seater"]
    base = baseline(file.car, file.setup)
    softer = replace(base, setup=put(base.setup, "rear.bar", 0.5 * base.setup.rear.bar))
    share = share_better(file, Kinds(), base, softer, Ask("steering"), 150)
    assert share_better(file, Kinds(), base, softer, Ask("steering", way=-1), 150) == pytest.approx(1 - share)
    assert share > 0.9  # less rear bar is understeer on any car: follows from the load-transfer split
    assert np.isnan(share_better(file, Kinds(), base, softer, Ask("steering", lateral=2.9 * G), 50))


@pytest.mark.analytic
@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_limits_told_by_the_first_sweep_are_near_and_the_rest_is_the_same(name):
    file = examples.load_example(name)
    versions = [baseline(file.car, file.setup), at_reference(file)]
    apart = []
    for speed in (20.0, 50.0):
        every, none, lift = (compare(versions, speed, LATERAL, fine=fine) for fine in (None, (), ("lift",)))
        at = PHASE_ORDER.index("lift")
        np.testing.assert_allclose(lift.limit[..., at], every.limit[..., at], rtol=1e-6)
        np.testing.assert_array_equal(lift.limit[..., :at], none.limit[..., :at])
        for field in ("angle", "growth", "load", "standing", "state"):
            np.testing.assert_array_equal(getattr(none, field), getattr(every, field))
        both = np.isfinite(every.limit)
        np.testing.assert_array_equal(np.isfinite(none.limit), both)
        apart.append(np.abs(none.limit - every.limit)[both] / G)
    assert np.median(np.concatenate(apart)) < 0.002
    assert np.concatenate(apart).max() < 0.03
