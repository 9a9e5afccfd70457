"""The lift simulation against the trim, the linear two-wheel model (by scipy), symmetry and plain mechanics."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from vdlib.answers import motion, motion_record, motion_start, motion_steps, wheel_table
from vdlib.answers.balance import balance
from vdlib.answers.lift import (
    SLOWEST,
    SPUN,
    Lags,
    Mark,
    Scenario,
    mark_words,
    road,
    simulate,
    tabulate,
    time_to_double,
    track,
)
from vdlib.car import examples
from vdlib.car.records import Moment, reference_setup
from vdlib.checks import InputError
from vdlib.lessons.bicycle import TwoWheel, poles
from vdlib.trim.aero import ROLLING, dynamic_pressure
from vdlib.trim.trim import trim
from vdlib.units import G, to_si

FILE = examples.load_example("two-seater")
CAR, SETUP = FILE.car, FILE.setup
PAIR = SETUP.with_heights(
    np.array([SETUP.front.height, CAR.front.reference_height]), np.array([SETUP.rear.height, CAR.rear.reference_height])
)
NONE = np.inf


def laid_out(car, setup, scenario, lags):
    """The equations of motion of one scenario, with nothing started yet."""
    return motion_start.lay_out(car, setup, scenario, lags, tabulate(car, setup, scenario.speed))


def marched(plan, steps, step, start=None):
    return motion_steps.march(plan, steps, step, (-SPUN, SPUN), SLOWEST, plan.start if start is None else start)


def tied(run):
    """Everything finite."""
    arrays = (
        run.x,
        run.y,
        run.heading,
        run.speed,
        run.sideslip,
        run.yaw_rate,
        run.steer,
        run.lateral,
        run.longitudinal,
    )
    return all(np.isfinite(value).all() for value in (*arrays, run.slip, run.stiffness, run.load, run.long_force))


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("name", "lateral"),
    [
        ("low-two-seater", 0.7),
        ("hatch", 0.35),
        *(
            pytest.param(name, lateral, marks=pytest.mark.slow)
            for name in examples.example_names()
            for lateral in (0.35, 0.7)
            if (name, lateral) not in (("low-two-seater", 0.7), ("hatch", 0.35))
        ),
    ],
)
def test_a_disturbed_car_settles_on_the_trims_steady_state(name, lateral):
    file = examples.load_example(name)
    scenario = Scenario(28.0, lateral * G, foot=0.0, lasts=1.5)
    plan = laid_out(file.car, file.setup, scenario, Lags())
    start = plan.start.copy()
    start[motion.YAW_RATE] *= 1.2
    start[motion.FELT_Y] *= 0.8
    states = marched(plan, 600, 0.01, start).states
    end = states[-1, :, 0]
    now = trim(file.car, file.setup, Moment(np.hypot(end[0], end[1]), end[motion.FELT_Y], end[motion.FELT_X]))
    load = motion_record.along_run(plan, states[-1:], np.array([6.0])).load.reshape(2, 2)
    # 0.2 %: the trim's numbers are read from a table by interpolation; it has its own way to the engine's push
    np.testing.assert_allclose(load, now.load, rtol=2e-3)
    np.testing.assert_allclose(end[motion.YAW_RATE], end[motion.FELT_Y] / end[motion.U], rtol=1e-3)
    # 0.15°: the trim has cos β = cos δ = 1, and no yaw moment from the front wheels' unequal side forces
    np.testing.assert_allclose(end[[motion.SLIP_F, motion.SLIP_R]], now.slip, atol=np.radians(0.15))
    np.testing.assert_allclose(end[motion.STEER], now.steer, atol=np.radians(0.15))
    quiet = simulate(file.car, file.setup, scenario)
    for value in (quiet.speed, quiet.yaw_rate, quiet.sideslip, quiet.lateral):
        np.testing.assert_allclose(value, value[0], rtol=1e-7)


@pytest.mark.analytic
@pytest.mark.parametrize("name", examples.example_names())
def test_wheel_loads_between_the_nodes_are_the_trims(name):
    file = examples.load_example(name)
    felt_y, felt_x = np.array([0.33, -0.61, 0.86]) * G, np.array([-0.07, -0.22, -0.4]) * G
    table = tabulate(file.car, file.setup, 30.0, 1.0)
    load = table.look(np.zeros(3, dtype=int), felt_y, felt_x)[wheel_table.LOAD]
    straight = trim(file.car, file.setup, Moment(30.0, felt_y, felt_x, 1.0)).load.reshape(4, 3)
    # 0.2 % of the weight: halfway between nodes of longitudinal acceleration, stops bend the loads a little
    np.testing.assert_allclose(load, straight, atol=2e-3 * file.car.mass * G)
    np.testing.assert_allclose(load.sum(axis=0), file.car.mass * G, rtol=1e-6)
    one = tabulate(file.car, file.setup, 30.0, 1.0, turn=np.array([1.0, -1.0]))
    side = np.array([0, 1, 0])
    np.testing.assert_allclose(one.look(side, felt_y, felt_x)[wheel_table.LOAD], load, rtol=1e-9)


@pytest.mark.analytic
def test_wing_load_falls_with_speed_as_in_the_trim():
    car = replace(CAR, front=replace(CAR.front, lift_area=-0.4), rear=replace(CAR.rear, lift_area=-0.6))
    setup = replace(
        SETUP, caster=0.0
    )  # with caster, steering moves load too, and a slower car steers more at the same g
    table = tabulate(car, setup, 60.0, 0.0)
    felt = np.array([0.5 * G])
    for speed in (60.0, 50.0, 25.0):
        load = table.look(np.zeros(1, dtype=int), felt, 0 * felt, dynamic_pressure(np.array([speed])))[
            wheel_table.LOAD, 0
        ]
        np.testing.assert_allclose(load, trim(car, setup, Moment(speed, 0.5 * G)).load.ravel(), rtol=2e-3)


@pytest.mark.analytic
def test_the_air_knows_how_fast_the_car_is_and_not_which_way_it_points():
    """The table is looked up by ½·ρ·V², whatever the slide: the same loads for a car that slides at 0 and at 60°."""
    car = replace(CAR, front=replace(CAR.front, lift_area=-0.9), rear=replace(CAR.rear, lift_area=-0.9))
    speed, angle = np.array([25.0, 40.0, 55.0])[:, None], np.radians([0.0, -60.0, 60.0])
    plan = laid_out(car, SETUP, Scenario(speed + 0 * angle, 0.5 * G, 0.0), Lags())
    state = plan.start.copy()
    state[motion.U], state[motion.V] = (speed * np.cos(angle)).ravel(), (speed * np.sin(angle)).ravel()
    felt = np.stack([np.full(9, 0.5 * G), np.zeros(9)])
    load = plan.row(state, felt)[wheel_table.LOAD].reshape(4, 3, 3)
    np.testing.assert_allclose(load, np.broadcast_to(load[..., :1], load.shape), rtol=1e-12)
    assert (np.diff(load.sum(axis=0), axis=0) > 0).all()  # pressed down harder the faster it is
    state[motion.U], state[motion.V] = 0.7 * state[motion.U], 0.7 * state[motion.V]
    slower = plan.row(state, felt)[wheel_table.LOAD].sum(axis=0)
    pressed = load.reshape(4, 9).sum(axis=0) - car.mass * G
    np.testing.assert_allclose(slower - car.mass * G, 0.7**2 * pressed, rtol=0.02)  # it slows down in the run as well


@pytest.mark.analytic
def test_felt_accelerations_swing_with_the_frequencies_and_dampings_given():
    """Loads held, what is felt across and along is a mass on a spring: its poles are −ζω ± iω·√(1 − ζ²), ω = 2π·f."""
    lags = Lags(roll_frequency=1.7, roll_damping=0.3, pitch_frequency=2.6, pitch_damping=0.45)
    plan = laid_out(CAR, SETUP, Scenario(30.0, 0.6 * G, 0.1), lags)
    wheels = plan.wheels(plan.row(plan.start), 0.0)
    rest = plan.slopes(plan.start, 0.0, wheels)
    for f, damping, pair in (
        (1.7, 0.3, [motion.FELT_Y, motion.FELT_Y_RATE]),
        (2.6, 0.45, [motion.FELT_X, motion.FELT_X_RATE]),
    ):
        columns = []
        for at in pair:
            state = plan.start.copy()
            state[at] += 1.0
            columns.append((plan.slopes(state, 0.0, wheels) - rest)[pair, 0])
        pole = np.linalg.eigvals(np.array(columns).T)[0]
        assert pole.real == pytest.approx(-2 * np.pi * f * damping)
        assert abs(pole.imag) == pytest.approx(2 * np.pi * f * np.sqrt(1 - damping**2))


def plain_car():
    """No toe, camber or lean effects: what is left of the straight car is the linear two-wheel model."""
    tyre = replace(CAR.front.tyre, camber_thrust=0.0, camber_loss=0.0)
    bare = {"toe_slope": 0.0, "toe_bend": 0.0, "camber_slope": 0.0, "compliance_steer": 0.0}
    car = replace(
        CAR, drag_area=0.0, front=replace(CAR.front, tyre=tyre, **bare), rear=replace(CAR.rear, tyre=tyre, **bare)
    )
    zero = {"toe": 0.0, "camber": 0.0}
    return car, replace(SETUP, caster=0.0, front=replace(SETUP.front, **zero), rear=replace(SETUP.rear, **zero))


@pytest.mark.analytic
@pytest.mark.parametrize("speed", [pytest.param(15.0, marks=pytest.mark.slow), 35.0])
def test_small_motions_have_the_poles_and_step_response_of_the_two_wheel_model(speed, monkeypatch):
    monkeypatch.setattr(motion, "ROLLING", 0.0)  # outer wheels roll harder: 1 to 2 % of the answer
    monkeypatch.setattr(motion_start, "ROLLING", 0.0)
    car, setup = plain_car()
    lags = Lags(relaxation=0.005)  # so short that the tyre hardly lags
    plan = laid_out(car, setup, Scenario(speed, 0.0, foot=0.0), lags)
    pose = trim(car, setup, Moment(speed, 0.0))
    (a, b), (cf, cr) = pose.cg_to_axle, pose.stiffness
    m, i, v = car.mass, car.inertia, speed
    matrix = np.array(
        [[-(cf + cr) / (m * v), (b * cr - a * cf) / (m * v**2) - 1],
         [(b * cr - a * cf) / i, -(a**2 * cf + b**2 * cr) / (i * v)]]
    )  # fmt: skip
    tiny = 1e-5
    wheels = plan.wheels(plan.row(plan.start), 0.0)
    slopes = [plan.slopes(plan.start + tiny * np.eye(10)[:, [k]], 0.0, wheels)[:, 0] / tiny for k in range(10)]
    jacobian = np.array(slopes).T[1:5, 1:5]
    slow = sorted(np.linalg.eigvals(jacobian).astype(complex), key=abs)[:2]
    expected = np.linalg.eigvals(matrix)
    np.testing.assert_allclose(np.sort(slow), np.sort(expected.astype(complex)), rtol=0.01)
    np.testing.assert_allclose(np.sort(poles(TwoWheel(m, i, a, b, cf, cr), v)), np.sort(expected), rtol=1e-9)

    steps, step = (1000, 6e-4) if speed < 20 else (1000, 3e-4)
    start = plan.start.copy()
    start[motion.STEER] = tiny
    states = marched(plan, steps, step, start).states
    system = signal.StateSpace(matrix, [[cf / (m * v)], [a * cf / i]], np.eye(2), np.zeros((2, 1)))
    _, answer = signal.step(system, T=np.arange(steps + 1) * step)
    both = np.stack([states[:, motion.V, 0] / states[:, motion.U, 0], states[:, motion.YAW_RATE, 0]], axis=1) / tiny
    assert (np.abs(both - answer).max(axis=0) < 0.01 * np.abs(answer).max(axis=0)).all()


@pytest.mark.analytic
def test_halving_the_time_step_moves_the_car_less_than_five_millimetres():
    lateral = np.array([[0.5], [0.8]]) * G
    scenario = Scenario(30.0, lateral, 0.0, 0.2, counter_steer=1.0, reaction=0.7, lasts=3.0)
    coarse, fine = (track(CAR, PAIR, scenario, step=step) for step in (0.01, 0.005))
    assert np.hypot(coarse.x - fine.x[::2], coarse.y - fine.y[::2]).max() < 5e-3


@pytest.mark.analytic
def test_a_track_is_the_run_without_what_the_wheels_do():
    file = examples.load_example("low-two-seater")
    scenario = Scenario(np.array([20.0, 21.0]), np.array([6.0, 7.0]), 0.1, starts=0.3, lasts=1.0)
    run, went = (drive(file.car, file.setup, scenario) for drive in (simulate, track))
    for name, value in vars(went).items():
        if name != "start":
            np.testing.assert_array_equal(value, getattr(run, name), err_msg=name)
    np.testing.assert_array_equal(went.slide, run.slide)


def test_a_right_turn_mirrors_a_left_turn():
    left, right = (simulate(CAR, SETUP, Scenario(30.0, s * 0.8 * G, counter_steer=1.0, lasts=2.0)) for s in (1, -1))
    np.testing.assert_allclose(left.x, right.x, atol=1e-6)
    np.testing.assert_allclose(left.y, -right.y, atol=1e-6)
    np.testing.assert_allclose(left.load, right.load[:, ::-1], atol=1e-2)
    np.testing.assert_allclose(road(left, CAR, 5.0).outward, road(right, CAR, 5.0).outward, atol=1e-6)
    np.testing.assert_allclose(left.slide, right.slide, atol=1e-8)


@pytest.mark.analytic
def test_one_run_by_itself_equals_the_same_run_among_many():
    speed, lateral = np.array([25.0, 32.0])[:, None], np.array([0.6, 0.78]) * G
    many = simulate(CAR, PAIR, Scenario(speed, lateral, 0.15, starts=np.array([[0.2], [0.5]])))
    assert many.x.shape == (len(many.time), 2, 2)
    for j, i, setup in ((0, 1, reference_setup(CAR, SETUP)), (1, 0, SETUP)):
        starts, lasts = (0.2, 0.5)[j], 3.3 - j * 0.3
        one = simulate(CAR, setup, Scenario(float(speed[j, 0]), float(lateral[i]), 0.15, starts=starts, lasts=lasts))
        n = len(one.time)
        np.testing.assert_allclose(many.x[:n, j, i], one.x, atol=1e-6)
        np.testing.assert_allclose(many.load[:, :, :n, j, i], one.load, atol=0.1)


@pytest.mark.analytic
def test_speed_falls_as_asked_on_a_straight_and_as_the_drag_leaves_it():
    slowing = -(0.15 + ROLLING) * G
    bare = simulate(replace(CAR, drag_area=0.0), SETUP, Scenario(40.0, 0.0, 0.15, starts=0.4, closing=0.2, lasts=3.0))
    # full slowing from half the closing time on: v = v0 + a·(t − t0 − closing/2)
    np.testing.assert_allclose(bare.speed[-1], 40.0 + slowing * (3.0 - 0.1), rtol=1e-6)
    np.testing.assert_allclose(bare.longitudinal[-1], slowing, rtol=1e-6)
    drag = simulate(CAR, SETUP, Scenario(40.0, 0.0, 0.15))
    air = 0.5 * 1.225 * CAR.drag_area * drag.speed**2 / CAR.mass
    np.testing.assert_allclose(drag.longitudinal[100:], slowing - air[100:], rtol=1e-6)


@pytest.mark.analytic
def test_nothing_pushes_a_car_on_a_closed_throttle_however_fast():
    fast = simulate(CAR, SETUP, Scenario(to_si(200.0, "kmh"), 0.3 * G, 0.10))
    assert (fast.long_force[..., -1] <= 0).all()
    assert (fast.long_force.sum(axis=(0, 1))[0] > 0).all()  # before, the engine holds the speed
    np.testing.assert_allclose(fast.long_force.sum(axis=(0, 1))[-1], -(0.10 + ROLLING) * CAR.mass * G, rtol=1e-6)
    np.testing.assert_allclose(fast.speed[:50], fast.speed[0], rtol=1e-9)


@pytest.mark.analytic
def test_a_growing_slide_takes_speed_that_the_side_forces_account_for():
    run = simulate(CAR, SETUP, Scenario(30.0, 0.68 * G))
    assert np.isinf(run.held)
    power = CAR.mass * run.speed * run.longitudinal  # rate of kinetic energy along the path
    lost = np.trapezoid(power, run.time)
    # 0.2 %: the tyres of a moment are those half a step later
    assert lost == pytest.approx(0.5 * CAR.mass * (run.speed[-1] ** 2 - 30.0**2), rel=2e-3)
    assert run.speed[-1] < 30.0 - (0.1 + ROLLING) * G * 2.9  # slower than engine and rolling alone would make it
    across = run.body_lateral * np.cos(run.sideslip) - run.body_longitudinal * np.sin(run.sideslip)
    np.testing.assert_allclose(run.lateral, across, rtol=1e-9)  # along the body and along the path: one acceleration
    np.testing.assert_allclose(
        run.longitudinal,
        run.body_longitudinal * np.cos(run.sideslip) + run.body_lateral * np.sin(run.sideslip),
        atol=1e-9,
    )
    curve = run.lateral / run.speed  # rate of the course; its integral is heading + sideslip
    turned = np.concatenate([[0.0], np.cumsum(0.5 * (curve[1:] + curve[:-1]) * np.diff(run.time))])
    np.testing.assert_allclose(turned, run.heading + run.sideslip, atol=2e-3)


def test_what_cannot_be_is_held_and_flagged_and_everything_stays_finite():
    speed = np.array([20 / 3.6, 40.0, 340 / 3.6])[:, None, None]
    lateral = np.array([-3.0, -0.9, 0.0, 1.05])[:, None] * G
    lift, brake = np.array([0.0, 0.1, 0.3, -0.5]), np.array([2.0, 0.9, 0.0, 0.0])
    run = simulate(CAR, SETUP, Scenario(speed, lateral, lift, brake, counter_steer=3.0, reaction=0.0, lasts=1.5))
    assert tied(run)
    assert np.abs(run.sideslip[:, run.start.usable]).max() <= SPUN + 1e-9
    assert run.speed.min() >= SLOWEST - 1e-9
    marks = np.bitwise_or.reduce(run.marks.astype(int), axis=0)
    assert (((marks & Mark.NO_CORNER) > 0) == (run.held == 0)).all()
    assert (run.held[~run.start.usable] == 0).all()
    assert (marks & Mark.STOPPED)[0, 2, 1]  # braking hard from 20 km/h on a straight
    assert (marks & Mark.LONGITUDINAL)[:, 2, 0].all()  # 2 g asked of tyres that have less
    held = np.isfinite(run.held)
    assert held.any()
    assert ((marks[held] & (Mark.SPUN | Mark.STOPPED | Mark.NO_CORNER)) > 0).all()
    later = run.time[:, None, None, None] > run.held
    assert (np.ptp(np.where(later, run.x, run.x[-1]), axis=0)[held] < 1e-9).all()  # a held car does not move


def test_words_for_marks_name_each_of_them():
    assert mark_words(0) == []
    assert len(mark_words(Mark.SPUN | Mark.REAR_PAST_PEAK)) == 2


@pytest.mark.analytic
def test_the_driver_answers_after_the_reaction_time_no_faster_than_the_hands():
    lags = Lags()
    hold, act = (track(CAR, SETUP, Scenario(30.0, 0.8 * G, counter_steer=k, reaction=0.9)) for k in (0.0, 1.0))
    assert np.ptp(hold.steer) == 0
    before = act.time <= 0.5 + 0.9
    np.testing.assert_array_equal(act.x[before], hold.x[before])
    assert np.abs(np.diff(act.steer) / np.diff(act.time)).max() <= lags.steer_rate * (1 + 1e-9)
    assert act.steer.min() < hold.steer.min()  # steering taken off in a left turn
    assert act.slide.max() < hold.slide.max()


@pytest.mark.analytic
@pytest.mark.parametrize("lateral", [0.3, 0.6])
def test_a_small_slide_of_a_run_doubles_in_the_time_said_loads_and_toe_following(lateral):
    """The quickest growth of the whole motion, its lags so short that they hardly count, against what is told."""
    soft = replace(CAR.rear.tyre, stiffness_max=0.55 * CAR.rear.tyre.stiffness_max)
    car = replace(CAR, rear=replace(CAR.rear, tyre=soft))
    lags = Lags(relaxation=0.02, roll_frequency=10.0, roll_damping=1.0, pitch_frequency=10.0, pitch_damping=1.0)
    scenario = Scenario(38.0, lateral * G, foot=0.0)
    plan = laid_out(car, SETUP, scenario, lags)
    tiny = 1e-6

    def slopes(state):
        return plan.slopes(state, 0.0, plan.wheels(plan.row(state), 0.0))[:, 0]

    nudged = [slopes(plan.start + tiny * np.eye(10)[:, [k]]) - slopes(plan.start) for k in range(1, 9)]
    seen = np.linalg.eigvals(np.array(nudged).T[1:9] / tiny).real.max()  # all but speed and steer, which are held
    run = simulate(car, SETUP, scenario, Lags())
    assert run.growth[0] > 0.2
    # 4 %: the lags that are left, rolling resistance, and u held in place of V
    assert seen == pytest.approx(float(run.growth[0]), rel=0.04)
    assert time_to_double(car, run)[0] == pytest.approx(np.log(2) / run.growth[0], rel=1e-12)
    settled = balance(car, SETUP, Moment(38.0, lateral * G))
    # 10 %: the trim has no cornering drag to make up for, and cos β = cos δ = 1
    assert settled.time_to_double == pytest.approx(float(time_to_double(car, run)[0]), rel=0.1)


@pytest.mark.analytic
def test_a_slide_that_dies_out_has_no_time_to_double():
    run = simulate(CAR, SETUP, Scenario(20.0, 0.3 * G, foot=0.0, lasts=0.1))
    assert (time_to_double(CAR, run) == NONE).all()
    assert (run.growth < 0).all()


@pytest.mark.analytic
def test_the_road_is_left_where_a_wheel_crosses_its_edge():
    run = simulate(CAR, SETUP, Scenario(20.0, 0.0, 0.0, lasts=1.5))
    drift = replace(run, y=-0.5 * run.time**2, heading=0 * run.heading)
    outer = max(CAR.front.track, CAR.rear.track) / 2
    found = road(drift, CAR, 2.0)
    np.testing.assert_allclose(found.outward, 0.5 * run.time**2, atol=1e-12)
    assert found.leaves == pytest.approx(np.sqrt(2 * (2.0 - outer)), abs=0.01)  # one time step
    bend = simulate(CAR, SETUP, Scenario(20.0, 0.4 * G, foot=0.0, lasts=1.5))
    stays = road(bend, CAR, 1.5)
    assert stays.leaves == NONE
    assert np.abs(stays.outward).max() < 0.01
    assert road(bend, CAR, 0.7).leaves == 0.0  # narrower than the car


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"speed": 1000.0}, "speed must be"),
        ({"closing": 0.0}, "time the foot takes must be"),
        ({"reaction": -1.0}, "reaction time must be"),
        ({"lasts": np.nan}, "time after the foot moves must be"),
    ],
)
def test_numbers_out_of_range_are_refused_by_name(change, words):
    with pytest.raises(InputError, match=words):
        Scenario(**{"speed": 30.0, "lateral": 0.5 * G} | change)


def test_steps_lags_widths_and_batches_out_of_range_are_refused():
    scenario = Scenario(30.0, 0.5 * G, lasts=0.1)
    with pytest.raises(InputError, match="time step must be"):
        simulate(CAR, SETUP, scenario, step=0.05)
    with pytest.raises(InputError, match="relaxation length must be"):
        Lags(relaxation=0.0)
    with pytest.raises(InputError, match="half of the road's width must be"):
        road(simulate(CAR, SETUP, scenario), CAR, 0.0)
    with pytest.raises(InputError, match="cars in one run must be at most"):
        tabulate(replace(CAR, mass=np.linspace(1000, 1100, 2100)), SETUP, 30.0, 0.0)


@pytest.mark.analytic
def test_a_wheel_in_the_air_carries_nothing_at_all():
    file = examples.load_example("hatch")
    stiff = replace(file.setup, rear=replace(file.setup.rear, bar=4.0 * file.setup.rear.bar))
    load = simulate(file.car, stiff, Scenario(25.0, 0.7 * G, 0.15)).load
    assert load.min() == 0.0
    assert (load == 0.0).sum() > 50
