"""Four wheels that differ: per-axle numbers stay what they were, sides and turns mirror, and each difference acts as
its closed form says."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from drawn_cars import mirrored

from vdlib.answers.lift import Scenario, simulate
from vdlib.answers.split import transfer
from vdlib.car import examples
from vdlib.car.records import Moment, Setup
from vdlib.checks import InputError
from vdlib.setup.candidate import standing
from vdlib.setup.spring_seats import corners_of, seats_for
from vdlib.trim.standing import stands
from vdlib.trim.suspension import toe_change
from vdlib.trim.trim import trim
from vdlib.units import G, to_si

NAMES = examples.example_names()
DEG, MM = to_si(1.0, "deg"), to_si(1.0, "mm")
# wheel loads, steer, slip angles and roll at 30 m/s and 0.7 g, wheels alike, nothing bent under side force and a lift
# named by the car's slowing: a pin, no evidence; made anew when a leaning, dipping body began to move its mass
PINS: dict[tuple[str, str], tuple[float, ...]] = {
    ("two-seater", "brake"): (
        1549.364052908672, 3994.3065321391277, 1513.6675153803708, 4322.26189957183,
        0.013689266910206443, 0.04895071431115693, 0.0539549474009505, 0.041146023444687624,
    ),
    ("two-seater", "lift"): (
        1317.9153071958776, 3784.9680655378706, 1745.9594795687572, 4530.757147697495,
        0.020799945224246878, 0.05050040184636232, 0.04839395662211544, 0.04094011913460684,
    ),
    ("two-seater", "steady"): (
        1204.8798055542834, 3677.7744847740532, 1855.1174024795582, 4641.828307192105,
        0.025410173270819375, 0.05291139419100756, 0.046194720920188184, 0.040655309699523044,
    ),
    ("two-seater", "drive"): (
        1036.6395221992984, 3514.03402184071, 2017.21508782229, 4811.711368137702,
        0.030201392926849965, 0.05726338991073512, 0.04575549698388516, 0.0401168522053293,
    ),
    ("coupe", "brake"): (
        2201.2082826337028, 6029.01065394322, 1282.4588798549917, 4711.822183568086,
        0.014192214752588417, 0.06962003746102265, 0.07587622270843422, 0.053827098069983426,
    ),
    ("coupe", "lift"): (
        1872.3458531818142, 5792.093929000941, 1612.9843844188542, 4947.0758333983895,
        0.026388510893861322, 0.06915612429334855, 0.06321601339948724, 0.05312478194011387,
    ),
    ("coupe", "steady"): (
        1700.8607320003864, 5680.446970360714, 1775.3104689134964, 5067.8818287254035,
        0.034372443478188616, 0.07221014779361769, 0.05828610431542906, 0.05265826836947573,
    ),
    ("coupe", "drive"): (
        1439.5083595415126, 5512.755008271517, 2021.4177170090104, 5250.81891517796,
        0.03933831879090178, 0.07805557273908069, 0.0591656539481789, 0.051837921858909834,
    ),
    ("hatch", "brake"): (
        2465.4587939016, 5644.238604181879, 325.90114854101853, 3434.501453375503,
        -0.009041842225807867, 0.07718647203707119, 0.10545591426287905, 0.048342471907118004,
    ),
    ("hatch", "lift"): (
        2178.184346194262, 5425.552768847947, 607.0734848187503, 3659.2894001390414,
        0.02389944463371209, 0.07731933995914858, 0.07264749532543649, 0.04750564183497487,
    ),
    ("hatch", "steady"): (
        2030.2408830213203, 5318.291640751704, 753.1659440230123, 3768.401532203963,
        0.03215958405792152, 0.07972936790143557, 0.06679738384351405, 0.047010970631733345,
    ),
    ("hatch", "drive"): (
        1806.7400260467177, 5157.130359091137, 972.7857595777173, 3933.4438552844285,
        0.05263955243205332, 0.09349676553362445, 0.06008481310157112, 0.04627789907237542,
    ),
}  # fmt: skip


def differing(setup: Setup, **sizes: float | tuple[float, float]) -> Setup:
    """The setup with left-minus-right differences, one for both axles or (front, rear)."""
    ends: dict[str, Any] = {}
    for i, end in enumerate(("front", "rear")):
        own = {f"{key}_difference": size[i] if isinstance(size, tuple) else size for key, size in sizes.items()}
        ends[end] = replace(getattr(setup, end), **own)
    return replace(setup, **ends)


def weighed_at(setup: Setup, front: float, rear: float) -> Setup:
    """The setup with its corner weights read at these height differences."""
    ends = {"front": front, "rear": rear}
    return replace(setup, **{e: replace(getattr(setup, e), weighed_difference=d) for e, d in ends.items()})


@pytest.mark.parametrize(("name", "phase"), PINS)
def test_numbers_by_axle_are_what_they_were(name, phase):
    file = examples.load_example(name)
    ends = {end: replace(getattr(file.car, end), compliance_steer=0.0) for end in ("front", "rear")}
    moment = replace(Moment.in_phase(phase, 30.0, 0.7 * G), coasting=0.0)
    found = trim(replace(file.car, **ends), file.setup, moment)
    np.testing.assert_allclose(
        [*found.load.ravel(), found.steer, *found.slip, found.roll], PINS[name, phase], rtol=1e-12
    )
    assert not np.any(found.standing_roll)


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_a_difference_of_nothing_takes_the_way_by_wheel_to_the_same_numbers(name):
    """One car of three differs left to right, so that all three are laid out wheel by wheel."""
    file = examples.load_example(name)
    size = np.array([0.0, 1.0, 0.0])
    level = differing(file.setup, toe=0.0, camber=0.0)
    setup = differing(level, toe=0.1 * DEG * size, camber=DEG * size, pressure=1e4 * size, height=4 * MM * size)
    moment = Moment.in_phase("lift", 30.0, 0.7 * G)
    many, alone = trim(file.car, setup, moment), trim(file.car, level, moment)
    for field in fields(alone):
        ours, theirs = getattr(many, field.name)[..., [0, 2]], np.asarray(getattr(alone, field.name))[..., None]
        np.testing.assert_allclose(
            ours, np.broadcast_to(theirs, ours.shape), rtol=1e-12, atol=1e-12, err_msg=field.name
        )
    assert not np.allclose(many.load[..., 1], alone.load)


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_sides_and_turn_swapped_change_nothing(name):
    file = examples.load_example(name)
    rng = np.random.default_rng(7)
    car = replace(file.car, left_share=0.515)
    lateral = np.linspace(-0.65, 0.65, 9) * G
    for phase in ("lift", "steady", "brake"):
        sizes = {"toe": 0.2 * DEG, "camber": DEG, "pressure": 2e4, "height": 6 * MM, "aligned_height": 6 * MM}
        setup = differing(file.setup, **{key: tuple(size * rng.uniform(-1, 1, 2)) for key, size in sizes.items()})
        three = replace(car), replace(setup, cross_weight=0.49), Moment.in_phase(phase, 30.0, lateral)
        left, right = trim(*three), trim(*mirrored(*three))
        assert left.usable.all()
        for key in ("load", "standing_load", "travel", "toe", "long_force", "standing_rise"):
            ours, theirs = getattr(left, key), getattr(right, key)[:, ::-1]
            np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=1e-12 * np.abs(ours).max(), err_msg=key)
        for key in ("roll", "steer", "slip", "standing_roll", "side_force"):
            ours, theirs = getattr(left, key), -getattr(right, key)
            np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=1e-12 * max(np.abs(ours).max(), 1.0), err_msg=key)
        turning = lateral != 0  # running straight, neither turn is meant
        gap = (left.understeer_angle - right.understeer_angle)[turning]
        assert np.abs(gap).max() < 1e-12


# ---- toe -----------------------------------------------------------------------------------------------------------


@pytest.mark.analytic
@pytest.mark.parametrize("lateral", [-0.5, 0.0, 0.5])
def test_a_difference_of_front_toe_only_turns_the_steering_wheel(lateral):
    """Half the difference is steered away; the car does the same."""
    file = examples.load_example("coupe")
    car = replace(file.car, caster_offset=0.0)
    one = replace(file.setup, caster=0.0).with_heights(car.front.reference_height, car.rear.reference_height)
    moment = Moment(30.0, lateral * G)
    even, odd = trim(car, one, moment), trim(car, differing(one, toe=(0.4 * DEG, 0.0)), moment)
    assert float(odd.steer - even.steer) == pytest.approx(0.2 * DEG, abs=1e-9)
    np.testing.assert_allclose(odd.load, even.load, atol=1e-6)
    np.testing.assert_allclose(odd.slip[1], even.slip[1], atol=1e-10)


@pytest.mark.analytic
def test_half_the_rear_difference_is_the_thrust_angle():
    """The rear axle steers by half the difference: running straight, the body turns by that, and steers along."""
    file = examples.load_example("coupe")
    car, setup = replace(file.car, drag_area=0.0, caster_offset=0.0), replace(file.setup, caster=0.0)
    setup = setup.with_heights(car.front.reference_height, car.rear.reference_height)
    even, odd = (trim(car, differing(setup, toe=(0.0, size)), Moment(30.0, 0.0)) for size in (0.0, 0.5 * DEG))
    assert float(odd.slip[1] - even.slip[1]) == pytest.approx(0.25 * DEG, abs=1e-9)
    assert float(odd.steer - even.steer) == pytest.approx(-0.25 * DEG, abs=1e-9)


def test_one_rear_wheel_toed_out_is_not_both_half_out():
    file = examples.load_example("two-seater")
    setup = file.setup
    one = replace(setup, rear=setup.rear.with_wheels("toe", setup.rear.toe - 0.5 * DEG, setup.rear.toe))
    both = replace(setup, rear=replace(setup.rear, toe=setup.rear.toe - 0.25 * DEG))
    turns = np.array([0.7, -0.7]) * G
    of_one, of_both = (trim(file.car, s, Moment(30.0, turns)).understeer_angle for s in (one, both))
    assert abs(np.ptp(of_both)) < 1e-9
    assert abs(np.ptp(of_one)) > 0.1 * DEG
    assert of_one[1] < of_both[1]  # the left rear is the outer wheel of a right turn


# ---- heights -------------------------------------------------------------------------------------------------------


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_heights_in_one_plane_only_lean_the_body(name):
    """Heights of one day, weighed on that day."""
    file = examples.load_example(name)
    tilt = 0.004
    sizes = (tilt * float(file.car.front.track), tilt * float(file.car.rear.track))
    setup = differing(file.setup, height=sizes, aligned_height=sizes)
    setup = replace(
        setup, **{e: replace(getattr(setup, e), weighed_difference=sizes[i]) for i, e in enumerate(("front", "rear"))}
    )
    still = Moment(10.0, 0.0)
    found, even = trim(file.car, setup, still), trim(file.car, file.setup, still)
    np.testing.assert_allclose(found.standing_load, even.standing_load, rtol=1e-12)
    assert float(found.standing_roll) == pytest.approx(tilt, rel=1e-9)
    for i, size in enumerate(sizes):
        np.testing.assert_allclose(found.standing_rise[i] - even.standing_rise[i], [size / 2, -size / 2], rtol=1e-9)


@pytest.mark.analytic
def test_heights_act_by_the_curves_and_the_stops():
    """A wheel's toe and camber are the curve's at its own height; the body's lean leans the wheels with it."""
    file = examples.load_example("two-seater")
    car = replace(file.car, drag_area=0.0)
    axle = car.rear
    tilt = 0.004
    sizes = tuple(tilt * float(getattr(car, end).track) for end in ("front", "rear"))
    setup = differing(file.setup, height=sizes)
    setup = replace(
        setup, **{e: replace(getattr(setup, e), weighed_difference=sizes[i]) for i, e in enumerate(("front", "rear"))}
    )
    found = trim(car, setup, Moment(30.0, 0.0))
    own = setup.rear
    for j, sign in enumerate((1, -1)):
        rise = float(own.height - axle.reference_height) + sign * sizes[1] / 2
        aligned = float(own.aligned_height - axle.reference_height)
        gained = toe_change(-rise, axle.toe_slope, axle.toe_bend) - toe_change(-aligned, axle.toe_slope, axle.toe_bend)
        assert float(found.toe[1, j]) == pytest.approx(float(own.toe + gained), abs=1e-7)
        camber = float(own.camber + axle.camber_slope * (aligned - rise))
        assert float(found.lean[1, j]) == pytest.approx(sign * camber - tilt, abs=2e-6)  # caster steers a little


@pytest.mark.analytic
def test_the_lower_wheel_meets_its_stop_first():
    file = examples.load_example("two-seater")
    setup = differing(file.setup, height=(0.0, 8 * MM))  # the right rear is the lower one
    turns = trim(file.car, setup, Moment(30.0, np.array([0.5, -0.5]) * G))
    outer_of_left_turn, outer_of_right_turn = turns.on_stop[1, 1, 0], turns.on_stop[1, 0, 1]
    assert outer_of_left_turn > 1.5 * outer_of_right_turn


@pytest.mark.common_practice
def test_raising_one_corner_loads_it_and_its_diagonal():  # common practice, no source
    file = examples.load_example("hatch")
    even = trim(file.car, file.setup, Moment(10.0, 0.0)).standing_load
    for i in (0, 1):
        for sign in (1, -1):
            sizes = (8 * MM * sign, 0.0) if i == 0 else (0.0, 8 * MM * sign)
            moved = trim(file.car, differing(file.setup, height=sizes), Moment(10.0, 0.0)).standing_load - even
            raised = 0 if sign > 0 else 1
            assert moved[i, raised] > 30
            assert moved[1 - i, 1 - raised] > 30
            np.testing.assert_allclose(moved.sum(axis=1), 0.0, atol=1e-9)


@pytest.mark.analytic
def test_a_leaning_body_takes_its_weight_to_the_low_side():
    """Both left sides higher in one plane: ``Σ ΔN·t = W_s·(H − h_axis)·φ``, nothing across the diagonal."""
    file = examples.load_example("hatch")
    car, tilt = file.car, 0.005
    sizes = (tilt * float(car.front.track), tilt * float(car.rear.track))
    level = file.setup.with_heights(car.front.reference_height, car.rear.reference_height)
    even, odd = (trim(car, s, Moment(10.0, 0.0)).standing_load for s in (level, differing(level, height=sizes)))
    unsprung = np.array([car.front.unsprung_mass, car.rear.unsprung_mass])
    sprung = car.mass - unsprung.sum()
    height = (car.mass * car.cg_height - unsprung @ [car.front.wheel_radius, car.rear.wheel_radius]) / sprung
    own = car.mass * np.array([car.front_share, 1 - car.front_share]) - unsprung
    axis = own @ [car.front.roll_centre, car.rear.roll_centre] / sprung
    moved = (odd - even)[:, 1] @ [car.front.track, car.rear.track]
    assert moved == pytest.approx(sprung * G * (height - axis) * tilt, rel=1e-9)


@pytest.mark.analytic
def test_corner_weights_are_those_of_the_day_the_car_was_weighed():
    file = examples.load_example("hatch")
    car, still = replace(file.car, left_share=0.51), Moment(10.0, 0.0)
    plain = trim(car, replace(file.setup, cross_weight=0.512), still).standing_load
    weighed = replace(differing(file.setup, height=(6 * MM, -2 * MM)), cross_weight=0.512)
    weighed = weighed_at(weighed, 6 * MM, -2 * MM)
    np.testing.assert_allclose(trim(car, weighed, still).standing_load, plain, rtol=1e-12)
    level = differing(weighed, height=0.0)
    twisted = replace(differing(file.setup, height=(-6 * MM, 2 * MM)), cross_weight=0.512)
    np.testing.assert_allclose(
        trim(car, level, still).standing_load, trim(car, twisted, still).standing_load, rtol=1e-12
    )


def test_heights_that_lift_a_wheel_are_refused_in_words():
    file = examples.load_example("two-seater")
    with pytest.raises(InputError, match="too far from one plane; read them again"):
        trim(file.car, differing(file.setup, height=(0.19, -0.19)), Moment(30.0, 0.0))


# ---- camber, pressure, and the car as it stands --------------------------------------------------------------------


@pytest.mark.analytic
def test_camber_and_pressure_belong_to_their_wheel():
    file = examples.load_example("coupe")
    turns = Moment(30.0, np.array([0.7, -0.7]) * G)
    odd = trim(file.car, differing(file.setup, camber=(0.0, -2 * DEG), pressure=(6e4, 0.0)), turns)
    even = trim(file.car, file.setup, turns)
    # the left rear leans in 2 degrees more than the right: as outer wheel, in a right turn, it holds more
    assert odd.peak_force[1, 1] > even.peak_force[1, 1] > odd.peak_force[1, 0]
    np.testing.assert_allclose((odd.lean - even.lean)[1, 0], -DEG, atol=1e-3)
    np.testing.assert_allclose((odd.lean - even.lean)[1, 1], -DEG, atol=1e-3)
    assert abs(np.ptp(odd.slip[0] * (1, -1))) > 1e-5


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_read_again_as_it_stands_is_the_very_same_trim(name):
    file = examples.load_example(name)
    setup = differing(file.setup, height=(4 * MM, -5 * MM), toe=(0.1 * DEG, -0.2 * DEG), camber=0.5 * DEG,
                      aligned_height=(MM, 2 * MM))  # fmt: skip
    now = standing(file.car, setup)
    assert now.rear.aligned_height_difference == setup.rear.height_difference
    moment = Moment.in_phase("lift", 30.0, np.linspace(-0.6, 0.6, 5) * G)
    one, other = trim(file.car, setup, moment), trim(file.car, now, moment)
    for key in ("load", "toe", "lean", "slip", "steer"):
        np.testing.assert_allclose(getattr(one, key), getattr(other, key), rtol=1e-9, atol=1e-11, err_msg=key)


# ---- what is read off the trim ------------------------------------------------------------------------------------


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_parts_of_the_transfer_add_up_wheel_by_wheel(name):
    file = examples.load_example(name)
    setup = differing(file.setup, height=(8 * MM, -6 * MM), camber=DEG, toe=0.1 * DEG)
    found = trim(file.car, setup, Moment.in_phase("lift", 30.0, np.array([0.6, -0.6]) * G))
    parts = transfer(file.car, setup, found).sum(axis=1)
    moved = found.load - found.standing_load
    across = 0.5 * (moved[:, 1] - moved[:, 0]) * (1, -1)
    np.testing.assert_allclose(parts, across, atol=0.02 * np.abs(across).max())  # jacking is shared as the loads


@pytest.mark.analytic
def test_the_moving_car_mirrors_too():
    """A lift in a left turn, and in a right turn by the mirrored car: the same slide."""
    file = examples.load_example("low-two-seater")
    setup = differing(file.setup, height=(3 * MM, -4 * MM), camber=0.5 * DEG, toe=0.2 * DEG, pressure=1.5e4)
    car, other, _ = mirrored(file.car, setup, Moment(30.0, 1.0))
    one = simulate(file.car, setup, Scenario(speed=30.0, lateral=0.6 * G, lasts=1.2))
    two = simulate(car, other, Scenario(speed=30.0, lateral=-0.6 * G, lasts=1.2))
    back = simulate(file.car, setup, Scenario(speed=30.0, lateral=-0.6 * G, lasts=1.2))
    np.testing.assert_allclose(one.slide, two.slide, atol=1e-9)
    np.testing.assert_allclose(one.load, two.load[:, ::-1], atol=1e-5)
    assert np.abs(one.slide - back.slide).max() > 0.1 * DEG  # and the two turns of one car differ


@pytest.mark.analytic
@pytest.mark.parametrize("name", ["two-seater", "coupe", "hatch"])
def test_spring_seats_worked_out_for_a_cross_weight_bring_it(name):
    """The turns come of a derivation of their own; as heights set, they must load the scales as it says."""
    file = examples.load_example(name)
    answer = seats_for(corners_of(file.car, file.setup), 0.515)
    ratio = np.array([[float(file.car.front.motion_ratio)], [float(file.car.rear.motion_ratio)]])
    front, rear = (answer.turn / ratio) @ [1.0, -1.0]
    moved = stands(file.car, differing(file.setup, height=(float(front), float(rear))))
    np.testing.assert_allclose(moved.load, answer.after, atol=0.3 * G)
    assert moved.load[0, 1] + moved.load[1, 0] == pytest.approx(0.515 * float(file.car.mass) * G, rel=2e-3)
