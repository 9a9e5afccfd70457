"""Where the trim's car meets a stop, lifts a wheel, slides or tips, and whether it says so rightly."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cars import TWO_OR_SLOW
from test_trim import NAMES, both_ends, plain, varied

from vdlib.answers.balance import balance
from vdlib.answers.limits import limits
from vdlib.car import examples
from vdlib.car.records import PHASES, Axle, AxleSetup, Car, Moment, Setup
from vdlib.car.tyre import grip, of_kind, side_force
from vdlib.checks import InputError
from vdlib.trim import solver
from vdlib.trim.state import BOTH_SLIDE
from vdlib.trim.suspension import stop_force
from vdlib.trim.trim import STATE_WORDS, UNUSABLE, State, Trim, state_words, trim
from vdlib.units import G, to_si


def flagged(found: Trim, flag: State) -> np.ndarray:
    return np.asarray((found.state & int(flag)) != 0)


def wheel_forces(car: Car, setup: Setup, found: Trim) -> np.ndarray:
    """What springs, bar and stops alone push each wheel down with, more than standing, (2, 2, …)."""
    made = []
    for i, (axle, own) in enumerate(((car.front, setup.front), (car.rear, setup.rear))):
        travel, rise = found.travel[i], own.height - axle.reference_height
        stops = 0.0
        for sign, gap, hard in (
            (1, axle.bump_gap + rise, axle.bump_stiffening),
            (-1, axle.droop_gap - rise, axle.droop_stiffening),
        ):
            stops = stops + sign * (stop_force(sign * travel, gap, hard)[0] - stop_force(0.0, gap, hard)[0])
        bar = own.bar / axle.track**2 * (travel - travel[::-1])
        made.append(own.spring * axle.motion_ratio**2 * travel + bar + stops)
    return np.stack(made)


# ---- stops and lifted wheels -----------------------------------------------------------------------------------------


@pytest.mark.analytic
def test_a_bump_stop_carries_only_after_its_gap() -> None:
    car, setup = plain()
    car = both_ends(car, bump_gap=0.02, bump_stiffening=5e6)
    found = trim(car, setup, Moment(30.0, np.linspace(0.0, 0.8, 41) * G))
    past = np.maximum(0.0, found.travel - 0.02)
    np.testing.assert_allclose(found.on_stop, 0.5 * 5e6 * past**2, atol=1e-9)
    assert (found.on_stop[:, 1, -1] > 20).all()
    assert (found.on_stop[:, 1, 0] == 0).all()
    assert (found.on_stop[:, 0] == 0).all()  # the inner wheels droop
    assert not flagged(found, State.RESTS_ON_STOP).any()


@pytest.mark.analytic
def test_a_droop_stop_lifts_the_wheel_off_sooner() -> None:
    car, setup = plain("hatch")
    setup = both_ends(setup, bar=0.0)
    tyre = replace(car.front.tyre, grip=1.5)
    loose, short = both_ends(car, tyre=tyre), both_ends(car, tyre=tyre, droop_gap=0.015)
    lateral = np.linspace(0.0, 0.9, 181) * G
    free, held = (trim(c, setup, Moment(30.0, lateral)) for c in (loose, short))
    np.testing.assert_allclose(free.load[..., :20], held.load[..., :20], rtol=1e-9)  # nothing reaches it yet
    beyond = held.travel.min(axis=(0, 1)) < -0.0155
    assert beyond.any()
    assert (held.load[:, 0, beyond] < free.load[:, 0, beyond]).any()
    assert held.travel.min() > free.travel.min()
    # each wheel gains what springs, stops and links push on it; left and right of an axle, links and jacking cancel
    gained = held.load - held.standing_load
    forces = wheel_forces(short, setup, held)
    links = np.stack([-held.links, held.links], axis=1)
    jacking = (gained - forces - links).sum(axis=1)
    np.testing.assert_allclose(gained - forces - links, np.repeat(jacking[:, None] / 2, 2, axis=1), atol=1e-6)


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_a_wheel_in_the_air_carries_nothing_and_its_partner_all(name: str) -> None:
    car, setup = plain(name)
    end = "rear" if car.drive_front == 1 else "front"
    stiff = both_ends(setup, bar=0.0)
    stiff = replace(stiff, **{end: replace(getattr(stiff, end), bar=to_si(3000.0, "Nm_per_deg"))})
    car = both_ends(car, tyre=replace(car.front.tyre, grip=2.0))
    found = trim(car, stiff, Moment(30.0, np.linspace(0.3, 1.1, 81) * G))
    air = flagged(found, State.WHEEL_IN_AIR) & found.usable
    assert air.sum() > 5
    np.testing.assert_array_equal(flagged(found, State.WHEEL_IN_AIR), (found.load <= 0).any(axis=(0, 1)))
    i = ("front", "rear").index(end)
    assert (found.load[i, 0, air] == 0).all()
    assert (found.load.min(axis=(0, 1)) >= 0).all()
    # once an axle stands on one wheel, more corner moves no more load across it but for jacking and lift, all small
    assert np.ptp(found.load[i, 1, air]) < 0.05 * found.load[i, 1, air].mean()


# ---- tipping ---------------------------------------------------------------------------------------------------------


def nearly_rigid(track: np.ndarray, height: np.ndarray) -> tuple[Car, Setup]:
    """A light car on the stiffest springs, bars and tyres that a record takes, and tyres that do not let go first."""
    car, setup = plain()
    tyre = of_kind("track", grip=2.5, grip_fall=0.0)
    frame: dict[str, Any] = {"track": track, "tyre": tyre, "tyre_rate": 1e6, "unsprung_mass": 10.0, "motion_ratio": 1.5}
    car = both_ends(car, **frame, roll_centre=0.0)
    car = replace(car, mass=500.0, cg_height=height, front_share=0.5)
    return car, both_ends(setup, spring=5e5, bar=to_si(3000.0, "Nm_per_deg"))


@pytest.mark.analytic
@pytest.mark.parametrize(("sense", "braking"), [(-1, 1.0), (1, 0.0)])
def test_a_rigid_car_tips_over_one_axle_at_its_reach_over_its_height(sense: int, braking: float) -> None:
    """``m·a_x·h = m·g·L/2`` about the axle that stays down; every number stays one when the other is in the air."""
    car, setup = nearly_rigid(np.array(1.5), np.array(0.9))
    car = replace(car, brake_front=0.5, drive_front=0.5)
    part = np.linspace(0.9, 1.1, 41)
    found = trim(car, setup, Moment(30.0, 0.0, sense * part * G * 0.5 * car.wheelbase / 0.9, braking))
    tips = flagged(found, State.TIPS)
    assert 0.98 < part[np.argmax(tips)] <= 1.01  # not quite rigid, as above
    assert (np.diff(tips.astype(int)) >= 0).all()
    assert not flagged(found, State.NOT_SOLVED).any()
    assert not found.usable[tips].any()
    assert all(np.isfinite(value).all() for value in vars(found).values())


# ---- flags -----------------------------------------------------------------------------------------------------------


def one_flag(name: str) -> tuple[Trim, float]:
    """A moment made to raise one flag, and by how much the cause is there."""
    car, setup = plain()
    corner = Moment(30.0, 0.6 * G)
    if name in ("FRONT_SLIDES", "REAR_SLIDES"):
        end = name.split("_")[0].lower()
        axle: Axle = getattr(car, end)
        slick = replace(axle, tyre=replace(axle.tyre, grip=0.5 * axle.tyre.grip))
        found = trim(replace(car, **{end: slick}), setup, corner)
        return found, float(found.use[("front", "rear").index(end)] - 1)
    if name == "WHEEL_HELD":
        found = trim(replace(car, brake_front=0.2), setup, Moment(30.0, 0.5 * G, -0.55 * G, 1.0))
        return found, float(np.abs(found.long_force[1, 1] - found.long_force[1, 0]))
    if name == "LONGITUDINAL":
        found = trim(car, setup, Moment(30.0, 0.1 * G, -1.6 * G, 1.0))
        return found, float(np.abs(car.mass * -1.6 * G) - np.abs(found.long_force.sum()))
    if name in ("FRONT_ON_STOP", "REAR_ON_STOP"):
        end = name.split("_")[0].lower()
        own = replace(getattr(car, end), bump_gap=-0.005, bump_stiffening=5e6)
        found = trim(replace(car, **{end: own}), setup, Moment(30.0, 0.0))
        at = ("front", "rear").index(end)
        return found, float(found.on_stop[at].min() - found.on_stop[1 - at].max())
    if name == "HELD_BY_DROOP":  # raised past its droop
        car, high = both_ends(car, droop_gap=0.005, droop_stiffening=5e6), setup.with_heights(0.2, 0.2)
        found = trim(car, high, Moment(30.0, 0.0))
        return found, float(high.front.height - car.front.reference_height - car.front.droop_gap)
    if name == "TYRE_RANGE":
        small = replace(car.rear.tyre, nominal_load=1200.0)
        found = trim(replace(car, rear=replace(car.rear, tyre=small)), setup, Moment(30.0, 0.2 * G))
        return found, float(found.load[1].max() / 1200.0 - 2.3)
    if name == "TIPS":
        car = both_ends(replace(car, cg_height=1.0), tyre=of_kind("track", grip=2.0, grip_fall=0.0))
        found = trim(car, setup, Moment(30.0, 1.2 * G))
        return found, 1.2 - car.front.track / 2 / car.cg_height
    assert name == "WHEEL_IN_AIR"
    stiff = replace(both_ends(setup, bar=0.0), front=replace(setup.front, bar=to_si(3000.0, "Nm_per_deg")))
    found = trim(both_ends(car, tyre=replace(car.front.tyre, grip=2.0)), stiff, Moment(30.0, 1.15 * G))
    return found, float((found.load == 0).sum())


@pytest.mark.analytic
@pytest.mark.parametrize("name", [flag.name for flag in State if flag != State.NOT_SOLVED])
def test_each_flag_is_raised_by_its_cause(name: str) -> None:
    found, cause = one_flag(name)
    flag = State[name]
    assert cause > 0
    assert int(found.state) & int(flag)
    assert STATE_WORDS[flag] in state_words(found.state)
    assert bool(found.usable) == (not flag & UNUSABLE)
    quiet = trim(*plain(), Moment(30.0, 0.3 * G))
    assert int(quiet.state) == 0
    assert state_words(quiet.state) == []
    both = State.FRONT_SLIDES | State.REAR_SLIDES
    assert state_words(both | State.WHEEL_IN_AIR) == [
        BOTH_SLIDE,
        "a wheel is in the air",
    ]


def test_a_search_cut_short_says_that_it_found_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    file = examples.load_example("coupe")
    moment = Moment.in_phase("brake", 30.0, np.array([0.0, 0.6]) * G)
    whole = trim(file.car, file.setup, moment)
    monkeypatch.setattr(solver, "_MOST", 4)
    short = trim(file.car, file.setup, moment)
    assert not flagged(whole, State.NOT_SOLVED).any()
    assert flagged(short, State.NOT_SOLVED)[1]
    assert not short.usable[1]
    assert np.isfinite(short.load).all()


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_a_car_given_up_as_fallen_would_not_have_come_to_rest(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    file = examples.load_example(name)
    tall = np.array([0.8, 1.1, 1.4, 1.6])[:, None]
    car = replace(file.car, cg_height=file.car.cg_height * tall)
    for along, brakes, _ in PHASES.values():
        moment = Moment(30.0, np.linspace(0.1, 29.0, 60), along, brakes)
        early = trim(car, file.setup, moment)
        with monkeypatch.context() as patch:
            patch.setattr(solver, "_LOST_AFTER", solver._MOST)
            late = trim(car, file.setup, moment)
        assert 0 < np.sum(flagged(late, State.TIPS)) < early.state.size
        for flag in (State.TIPS, State.NOT_SOLVED):
            np.testing.assert_array_equal(flagged(early, flag), flagged(late, flag))
        np.testing.assert_allclose(early.load[..., early.usable], late.load[..., early.usable], rtol=1e-8, atol=1e-6)


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_flags_follow_from_what_is_returned(name: str) -> None:
    car, setup, moment = varied(name, 1500, 5)
    hard = replace(moment, lateral=1.5 * np.asarray(moment.lateral), longitudinal=1.5 * np.asarray(moment.longitudinal))
    found = trim(car, setup, hard)
    solved = ~flagged(found, State.TIPS | State.NOT_SOLVED)
    assert (
        flagged(found, State.NOT_SOLVED).mean() < 2e-3
    )  # a tyre whose peak is at 40° can leave one open, and it says so
    clear = solved & (np.abs(found.use - 1) > 1e-6).all(axis=0)
    for i, flag in enumerate((State.FRONT_SLIDES, State.REAR_SLIDES)):
        np.testing.assert_array_equal(flagged(found, flag)[clear], (found.use[i] > 1)[clear])
        assert 20 < flagged(found, flag).sum() < 1480
    np.testing.assert_array_equal(flagged(found, State.WHEEL_IN_AIR), (found.load <= 0).any(axis=(0, 1)))
    gap = np.stack([a.bump_gap + rise for (a, _), rise in zip(pairs(car, setup), found.standing_rise, strict=True)])
    for end, flag in enumerate((State.FRONT_ON_STOP, State.REAR_ON_STOP)):
        np.testing.assert_array_equal(flagged(found, flag), (gap[end] < 0).any(axis=0))
    room = np.stack([a.droop_gap - rise for (a, _), rise in zip(pairs(car, setup), found.standing_rise, strict=True)])
    np.testing.assert_array_equal(flagged(found, State.HELD_BY_DROOP), (room < 0).any(axis=(0, 1)))
    nominal = np.array([a.tyre.nominal_load for a, _ in pairs(car, setup)])[:, None, None]
    np.testing.assert_array_equal(flagged(found, State.TYRE_RANGE), (found.load > 2.3 * nominal).any(axis=(0, 1)))
    # a held wheel gives 95 % of its longitudinal grip, pressure counted; its partner never more than that
    ends = zip(pairs(car, setup), found.load, strict=True)
    most = np.stack(
        [a.tyre.long_ratio * grip(a.tyre, load, np.stack(s.wheels("pressure"))) * load for (a, s), load in ends]
    )
    part = np.abs(found.long_force[..., solved]) / np.maximum(most[..., solved], 1e-9)
    assert part.max() < 0.95 + 1e-6
    uneven = (np.abs(np.diff(np.abs(found.long_force), axis=1)) > 1e-6).any(axis=(0, 1))
    assert flagged(found, State.WHEEL_HELD)[uneven & solved].all()
    assert (uneven & solved).sum() > 20
    assert (found.stiffness[:, clear][~(found.use[:, clear] > 1)] > 0).all()
    assert (found.stiffness[:, clear][found.use[:, clear] > 1] == 0).all()


def pairs(car: Car, setup: Setup) -> list[tuple[Axle, AxleSetup]]:
    return [(car.front, setup.front), (car.rear, setup.rear)]


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_the_peak_is_the_most_that_the_two_tyres_make_together(name: str) -> None:
    car, setup, moment = varied(name, 60, 6)
    found = trim(car, setup, moment)
    turn = np.where(found.side_force < 0, -1.0, 1.0)
    solved = ~flagged(found, State.TIPS | State.NOT_SOLVED)
    for i, (axle, own) in enumerate(pairs(car, setup)):
        tyre = axle.tyre

        def together(angles: np.ndarray, i=i, axle=axle, own=own, tyre=tyre) -> np.ndarray:
            made = np.zeros((len(angles), 60))
            for k, side in enumerate((1.0, -1.0)):
                load = found.load[i, k]
                pressure = own.wheels("pressure")[k]
                most = np.maximum(tyre.long_ratio * grip(tyre, load, pressure) * load, 1e-9)
                bend = (-1.0, 1.0)[i] * axle.compliance_steer * found.side_force[i]
                slip = angles * turn[i] + bend - side * found.toe[i, k]
                used = np.minimum(np.abs(found.long_force[i, k]) / most, 0.95)
                made += turn[i] * side_force(tyre, load, slip, found.lean[i, k], pressure, used)
            return made

        coarse = np.linspace(0.0, 1.5, 3001)[:, None]
        best = coarse[together(coarse).argmax(axis=0), 0]
        made = together(best + np.linspace(-5e-4, 5e-4, 101)[:, None])
        np.testing.assert_allclose(found.peak_force[i, solved], made.max(axis=0)[solved], rtol=1e-7)


@pytest.mark.analytic
def test_up_to_the_limit_the_front_holds_its_load() -> None:
    """Near its limit the steer angle, which leans the wheels, and the slip angle still agree with each other."""
    file = examples.load_example("coupe")
    base, turns = file.car.wheelbase, np.linspace(0.75, 1.0, 400) * G
    found = trim(file.car, file.setup, Moment(30.0, turns))
    near = found.usable & (found.use.max(axis=0) > 0.99)
    assert near.sum() > 5
    steer = base * turns / 30.0**2 + found.slip[0] - found.slip[1]
    np.testing.assert_allclose(found.steer, steer, atol=1e-12)
    smooth = np.diff(found.steer[found.usable], 2)
    assert (smooth > -1e-6).all()  # slip angles grow faster and faster, without a kink back


@pytest.mark.parametrize("read", [trim, balance, limits])
def test_no_case_at_all_is_refused_in_words(read: Any) -> None:
    with pytest.raises(InputError, match="cases must be one at least, got none"):
        read(*plain(), Moment(30.0, np.zeros((2, 0))))
