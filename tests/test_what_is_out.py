"""Everything that is out, shared exactly; alignment left or set again; both turns of a car whose wheels differ."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import permutations

import numpy as np
import pytest
from drawn_cars import mirrored
from in_turns import balance_in_turns, forgiven_in_turns, hands_still_in_turns, limits_in_turns, slide_in_turns

from vdlib.answers import what_is_out as out
from vdlib.answers.balance import balance
from vdlib.answers.corner import Corner
from vdlib.answers.forgiven import forgiven_speed
from vdlib.answers.ledger import combinations
from vdlib.answers.limits import limits
from vdlib.answers.scenario import Scenario
from vdlib.answers.turns import (
    LEFT,
    RIGHT,
    both_turns,
    limit_gap,
    thrust_angle,
)
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import Reference, reference_of
from vdlib.car.tyre import of_kind
from vdlib.setup.candidate import standing
from vdlib.trim.trim import trim
from vdlib.units import G, to_si

DEG = to_si(1.0, "deg")
STORY = examples.load_example("low-two-seater")
REFERENCE = reference_of(STORY)
LIFT = Moment.in_phase("lift", 30.0, 0.7 * G)


def angle(setup, car=STORY.car, moment=LIFT):
    return float(trim(car, setup, moment).understeer_angle)


@pytest.mark.analytic
@pytest.mark.parametrize("set_again", [False, True])
def test_parts_add_up_to_the_change_of_two_trims(set_again):
    found = out.what_is_out(STORY.car, STORY.setup, REFERENCE, LIFT, set_again=set_again)
    causes = found.causes
    assert found.reference == "as lowered, before it sagged"
    assert float(causes.before) == pytest.approx(angle(REFERENCE.setup), abs=1e-12)
    assert causes.parts.sum() == pytest.approx(float(causes.after - causes.before), abs=1e-14)
    if set_again:  # every wheel as in the reference, at the heights the car has now
        again = REFERENCE.setup.with_heights(STORY.setup.front.height, STORY.setup.rear.height)
        now = {e: replace(getattr(again, e), aligned_height=getattr(again, e).height) for e in ("front", "rear")}
        assert float(causes.after) == pytest.approx(angle(replace(again, **now)), abs=1e-9)
        assert causes.causes[-1] == out.AGAIN
    else:
        assert float(causes.after) == pytest.approx(angle(STORY.setup), abs=1e-9)
        assert causes.causes == ("front.height", "rear.height", "rear.toe", "front.camber", "rear.camber")


@pytest.mark.analytic
def test_each_part_is_its_mean_over_every_order():
    setup = replace(REFERENCE.setup, cross_weight=0.52, front=replace(REFERENCE.setup.front, height=0.125))
    setup = replace(setup, rear=setup.rear.with_wheels("toe", 0.0, 0.003))
    found = out.what_is_out(STORY.car, setup, REFERENCE, LIFT).causes
    old = REFERENCE.setup

    def at(done):
        new = replace(old, cross_weight=setup.cross_weight if "corners" in done else old.cross_weight)
        if "front.height" in done:
            new = replace(new, front=replace(new.front, height=setup.front.height))
        if "rear.toe" in done:
            new = replace(new, rear=new.rear.with_wheels("toe", *setup.rear.wheels("toe")))
        return angle(new)

    assert set(found.causes) == {"front.height", "rear.toe", "corners"}
    for cause, part in zip(found.causes, found.parts, strict=True):
        orders = list(permutations(found.causes))
        steps = [at(order[: order.index(cause) + 1]) - at(order[: order.index(cause)]) for order in orders]
        assert float(part) == pytest.approx(np.mean(steps), abs=1e-12)


def test_nothing_out_has_no_rows():
    found = out.what_is_out(STORY.car, REFERENCE.setup, REFERENCE, LIFT, set_again=True)
    assert found.causes.causes == found.routes.causes == ()
    assert float(found.causes.total) == 0.0


@pytest.mark.analytic
def test_pressures_corner_weights_and_tyres_have_rows_of_their_own():
    setup = replace(REFERENCE.setup, cross_weight=0.515)
    setup = replace(setup, rear=setup.rear.with_wheels("pressure", 2.1e5, 2.4e5))
    worn = Reference(
        REFERENCE.setup, "book", "", replace(STORY.car, rear=replace(STORY.car.rear, tyre=of_kind("track")))
    )
    found = out.what_is_out(STORY.car, setup, worn, LIFT)
    assert found.causes.causes == ("corners", "pressure", "tyres")
    assert float(found.causes.before) == pytest.approx(angle(REFERENCE.setup, worn.car), abs=1e-12)
    assert float(found.causes.after) == pytest.approx(angle(setup), abs=1e-12)
    assert (np.abs(found.causes.parts) > 1e-6).all()
    assert found.words == ("corner weights", "tyre pressures", "kind of tyre")


@pytest.mark.analytic
def test_it_does_not_matter_at_which_height_the_strings_were_read():
    """The same car, its toe and camber told at today's heights: the same rows."""
    told = standing(STORY.car, STORY.setup)
    assert told.rear.toe != STORY.setup.rear.toe
    one, two = (out.what_is_out(STORY.car, setup, REFERENCE, LIFT).causes for setup in (STORY.setup, told))
    assert one.causes == two.causes
    np.testing.assert_allclose(one.parts, two.parts, atol=1e-9)


@pytest.mark.analytic
def test_routes_share_out_what_the_heights_do():
    found = out.what_is_out(STORY.car, STORY.setup, REFERENCE, LIFT)
    high = REFERENCE.setup.with_heights(STORY.setup.front.height, STORY.setup.rear.height)
    rest = STORY.setup.with_heights(REFERENCE.setup.front.height, REFERENCE.setup.rear.height)
    alone, beside = angle(high) - angle(REFERENCE.setup), angle(STORY.setup) - angle(rest)
    assert found.routes.parts.sum() == pytest.approx(0.5 * (alone + beside), abs=1e-9)
    assert found.route_words[found.routes.largest(-1)] == "bump, droop stops"


@pytest.mark.analytic
@pytest.mark.slow
def test_quick_limits_are_the_searched_ones():
    states = out._States(STORY.car, STORY.setup, REFERENCE, True)
    flags = combinations(len(states.causes))
    car, setup = states.at(dict(zip(states.causes, flags, strict=True)))
    quick, good = out.limit_gap(car, setup, LIFT, {})
    found = limits(car, setup, LIFT)
    assert good.all()
    np.testing.assert_allclose(quick, limit_gap(found), atol=1e-4 * G)


@pytest.fixture(scope="module")
def gaps():
    """The gap between the limits of both ends, shared out, in both turns."""
    return out.out_in_turns(STORY.car, STORY.setup, REFERENCE, LIFT, out.limit_gap, routes=out.MAIN_ROUTES)


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("asked", "ways"),
    [(out.extra_steering, (1, -1)), (out.limit_gap, (-1,)), (out.hands_still(60.0, 0.10), (-1,))],
)
def test_both_turns_asked_together_are_those_asked_one_by_one(asked, ways, gaps):
    given = STORY.car, STORY.setup, REFERENCE
    both = gaps if asked is out.limit_gap else out.out_in_turns(*given, LIFT, asked, routes=out.MAIN_ROUTES)
    for way in ways:
        one, moment = both.left if way > 0 else both.right, replace(LIFT, lateral=way * abs(LIFT.lateral))
        alone = out.what_is_out(*given, moment, asked, routes=out.MAIN_ROUTES)
        for ledger in ("causes", "routes"):
            got, due = getattr(one, ledger), getattr(alone, ledger)
            assert got.causes == due.causes
            for part in ("parts", "before", "after", "usable"):
                np.testing.assert_allclose(getattr(got, part), getattr(due, part), rtol=0, atol=1e-9)


def test_a_rough_gap_has_the_whole_change_and_shares_it_alike(gaps):
    rough = partial(out.limit_gap, roughly=True)
    one = out.out_in_turns(STORY.car, STORY.setup, REFERENCE, LIFT, rough, routes=out.MAIN_ROUTES).first
    whole = gaps.first
    assert one.causes.total == pytest.approx(whole.causes.total, abs=2e-3 * G)
    assert one.causes.parts.sum() == pytest.approx(one.causes.total, abs=1e-9)
    assert one.causes.largest(-1) == whole.causes.largest(-1)
    np.testing.assert_allclose(one.causes.parts, whole.causes.parts, atol=0.01 * G)


@pytest.mark.analytic
def test_rear_toe_moves_the_angle_and_hardly_the_limit(gaps):
    """Degrees of extra steering mix constant offsets with lost margin: the limit gap keeps the margin alone."""
    steer, gap = out.what_is_out(STORY.car, STORY.setup, REFERENCE, LIFT, out.extra_steering), gaps.left
    at = steer.causes.causes.index("rear.toe")
    assert steer.causes.parts[at] / steer.causes.total > 0.25
    assert abs(gap.causes.parts[at] / gap.causes.total) < 0.02
    assert gap.causes.causes[gap.causes.largest(-1)] == "rear.height"
    assert gap.causes.parts.sum() == pytest.approx(float(gap.causes.total), abs=1e-12)


@pytest.mark.analytic
def test_the_mirrored_car_has_the_same_rows_in_the_other_turn():
    car, setup, moment = mirrored(STORY.car, STORY.setup, LIFT)
    level = mirrored(REFERENCE.car, REFERENCE.setup, LIFT)
    other = Reference(level[1], REFERENCE.name, "", level[0])
    one, two = out.what_is_out(STORY.car, STORY.setup, REFERENCE, LIFT), out.what_is_out(car, setup, other, moment)
    np.testing.assert_allclose(one.causes.parts, two.causes.parts, atol=1e-11)
    np.testing.assert_allclose(one.routes.parts, two.routes.parts, atol=1e-11)


# ---- both turns ------------------------------------------------------------------------------------------------------


@pytest.mark.analytic
def test_an_even_car_turns_alike_both_ways():
    file = examples.load_example("coupe")
    assert balance_in_turns(file.car, file.setup, LIFT).words == ("either turn",)
    assert int(limits_in_turns(file.car, file.setup, LIFT).worse) == 0
    assert thrust_angle(file.car, file.setup) == 0.0


@pytest.mark.analytic
def test_the_worse_turn_comes_first_and_changes_with_the_side_of_the_fault():
    found = balance_in_turns(STORY.car, STORY.setup, LIFT)
    other_car, other, _ = mirrored(STORY.car, STORY.setup, LIFT)
    back = balance_in_turns(other_car, other, LIFT)
    assert {int(found.worse), int(back.worse)} == {LEFT, RIGHT}
    assert found.first.understeer_angle < found.second.understeer_angle
    np.testing.assert_allclose(found.first.understeer_angle, back.first.understeer_angle, atol=1e-12)
    assert found.words == back.words[::-1]
    one = balance(STORY.car, STORY.setup, replace(LIFT, lateral=-LIFT.lateral))
    np.testing.assert_array_equal(found.right.understeer_angle, one.understeer_angle)
    gaps = limits_in_turns(STORY.car, STORY.setup, LIFT)
    assert limit_gap(gaps.first) < limit_gap(gaps.second)


@pytest.mark.analytic
def test_two_turns_differ_by_twice_the_thrust_angle():
    """With rear toe alone apart, what one turn loses the other gains."""
    file = examples.load_example("coupe")
    setup = replace(file.setup, caster=0.0, rear=file.setup.rear.with_wheels("toe", 0.0, 0.3 * DEG))
    car = replace(file.car, caster_offset=0.0)
    assert float(thrust_angle(car, setup)) == pytest.approx(0.15 * DEG, rel=1e-9)
    found = balance_in_turns(car, setup, replace(LIFT, lateral=0.3 * G))
    apart = float(found.second.understeer_angle - found.first.understeer_angle)
    assert apart == pytest.approx(0.3 * DEG, rel=0.02)
    assert found.words[0] == "right turn"  # the rear wheels point left: in a right turn they point out of it


def test_an_answer_that_is_missing_is_the_worst():
    found = both_turns(lambda doing: doing.lateral, LIFT, lambda value: np.where(value < 0, np.nan, value))
    assert int(found.worse) == RIGHT
    lateral = np.array([0.3, 0.7, 1.6]) * G
    many = balance_in_turns(STORY.car, STORY.setup, replace(LIFT, lateral=lateral))
    assert many.worse.shape == (3,)
    assert int(many.worse[2]) == 0  # past the limit both ways


@pytest.mark.analytic
def test_every_answer_comes_for_both_turns_and_mirrors():
    corner = Corner(radius=60.0, lift=0.15)
    car, setup, _ = mirrored(STORY.car, STORY.setup, LIFT)
    here, there = (hands_still_in_turns(*given, corner) for given in ((STORY.car, STORY.setup), (car, setup)))
    for one, other in ((here.left, there.right), (here.right, there.left)):
        assert float(one.limit) == pytest.approx(float(other.limit), rel=1e-9)
    assert float(here.first.limit) <= float(here.second.limit)
    speeds = forgiven_in_turns(STORY.car, STORY.setup, corner)
    glass = forgiven_speed(car, setup, replace(corner, turn="right"))
    assert float(glass.speed) == pytest.approx(float(speeds.left.speed), rel=1e-9)
    assert float(speeds.first.speed) < float(speeds.second.speed)
    even = hands_still_in_turns(REFERENCE.car, REFERENCE.setup, corner)
    assert even.words == ("either turn",)
    runs = slide_in_turns(STORY.car, STORY.setup, Scenario(speed=30.0, lateral=0.7 * G, lasts=1.0))
    assert runs.first.slide.max() > runs.second.slide.max()


def test_what_lies_within_the_references_own_tolerance_is_named_as_that():
    tolerances = {"front.height": to_si(30, "mm"), "rear.height": to_si(5, "mm")}
    figures = replace(STORY.known.figures, tolerances=tolerances)
    level = replace(REFERENCE, figures=figures)
    found = out.what_is_out(STORY.car, STORY.setup, level, LIFT, routes=())
    assert found.in_order == ("front.height",)  # 18 mm up; the tail is 24 mm down
    plain = out.what_is_out(STORY.car, STORY.setup, REFERENCE, LIFT, routes=())
    np.testing.assert_allclose(found.causes.parts, plain.causes.parts)  # the sum still goes over everything
    assert plain.in_order == ()


def test_corner_weights_within_their_tolerance_are_named_as_that():
    setup = replace(REFERENCE.setup, cross_weight=float(REFERENCE.setup.cross_weight) + 0.005)
    for far, due in ((0.01, ("corners",)), (0.002, ())):
        level = replace(REFERENCE, figures=replace(STORY.known.figures, tolerances={"cross_weight": far}))
        found = out.what_is_out(STORY.car, setup, level, LIFT, routes=())
        assert found.causes.causes == ("corners",)
        assert found.in_order == due
