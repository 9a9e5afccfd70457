"""Corner scales and axle lift: a published round trip, errors that cover, slips that are named."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdlib.car import examples
from vdlib.car.records import Moment, reference_setup
from vdlib.checks import InputError
from vdlib.garage import readings
from vdlib.garage.axle_lift import TYPICAL_SIGMA, lifted_height
from vdlib.garage.instruments import Measured, Scale, Tape, tape_limit
from vdlib.garage.scales import floor_effect, to_reference, weigh_corners
from vdlib.trim.trim import trim
from vdlib.units import G, to_si

CARS = [examples.load_example(name) for name in examples.example_names()]
SIZES = (2.5, 1.5, 1.5)


# ---- corner scales ------------------------------------------------------------------------------------------------


@pytest.mark.analytic
@pytest.mark.parametrize("file", CARS, ids=examples.example_names())
def test_corner_readings_give_the_car_back(file):
    car = file.car
    setup = replace(file.setup, cross_weight=0.512)
    car = replace(car, left_share=0.508)
    found = weigh_corners(*readings.corner_readings(car, setup), car.wheelbase, car.front.track, car.rear.track)
    assert found.total.value == pytest.approx(car.mass)
    assert found.front_share.value == pytest.approx(car.front_share)
    assert found.left_share.value == pytest.approx(0.508)
    assert found.cross_weight.value == pytest.approx(0.512)
    assert found.behind_front.value == pytest.approx(car.wheelbase * (1 - car.front_share))
    assert found.questions == ()


@pytest.mark.analytic
def test_centre_of_gravity_sideways_balances_the_four_loads():
    four, tracks = np.array([300.0, 280.0, 330.0, 310.0]), (1.45, 1.52)
    found = weigh_corners(*four, 2.5, *tracks)
    y = np.array([tracks[0], -tracks[0], tracks[1], -tracks[1]]) / 2 - found.left_of_middle.value
    assert four @ y == pytest.approx(0, abs=1e-9)  # moments about a line along the car through it
    assert found.left_of_middle.value > 0  # the left side is the heavier


@pytest.mark.analytic
def test_errors_of_shares_by_hand():
    # equal corners m/4 with one sigma each: σ(m) = 2σ; F = (a + b)/m has dF/da = 1/(2m), four times: σ(F) = σ/m
    found = weigh_corners(300.0, 300.0, 300.0, 300.0, *(Measured(v, 0.0) for v in SIZES), scale=Scale(0.5))
    one = 1.0 / np.sqrt(3)  # 600 divisions of 0.5 kg: ±1 division new, ±2 in service = ±1 kg
    assert found.total.sigma == pytest.approx(2 * one)
    for share in (found.front_share, found.left_share, found.cross_weight):
        assert share.sigma == pytest.approx(one / 1200, rel=1e-6)
    assert found.behind_front.sigma == pytest.approx(2.5 * one / 1200, rel=1e-6)


def test_errors_of_corner_scales_cover():
    rng = np.random.default_rng(1)
    true = np.array([262.0, 243.0, 335.0, 318.0])
    scale = Scale(0.5)
    off = np.array([scale.limit(m) for m in true])[:, None] * rng.uniform(-1, 1, (4, 20_000))
    found = weigh_corners(*(true[:, None] + off), *SIZES, scale=scale)
    total = true.sum()
    truth = {"total": total, "front_share": true[:2].sum() / total, "left_share": (true[0] + true[2]) / total,
             "cross_weight": (true[1] + true[2]) / total}  # fmt: skip
    for name, value in truth.items():
        one = getattr(found, name)
        spread = (one.value - value) / one.sigma
        assert np.std(spread) == pytest.approx(1, abs=0.03), name
        assert 0.93 < np.mean(np.abs(spread) < 1.96) < 0.98, name


def test_pounds_are_noticed():
    lb = np.array([262.0, 243.0, 335.0, 318.0]) / to_si(1.0, "lb")
    (ask,) = weigh_corners(*lb, *SIZES, known_mass=1150.0).questions
    assert "pounds" in ask.remedy
    assert "1158 kg" in ask.remedy
    (ask,) = weigh_corners(*lb, *SIZES).questions
    assert "pounds" in ask.remedy


@pytest.mark.parametrize(("i", "j"), [(0, 3), (1, 2)])
def test_scales_swapped_across_the_car_are_named(i, j):
    four = np.array([250.0, 250.0, 340.0, 340.0])
    four[[i, j]] = four[[j, i]]
    (ask,) = weigh_corners(*four, *SIZES).questions
    names = ("front left", "front right", "rear left", "rear right")
    assert f"{names[i]} and {names[j]} swapped" in ask.remedy


def test_odd_corner_weights_are_shown_in_shares_by_hand():
    """Cross weight is (210 + 360) / 1200; the left side carries (250 + 360) / 1200."""
    (ask,) = weigh_corners(250.0, 210.0, 360.0, 380.0, *SIZES).questions
    assert ask.value == "cross weight 47.5 %, left 50.8 %"


@pytest.mark.parametrize(("i", "j"), [(0, 2), (1, 3)])
def test_scales_swapped_along_one_side_are_named_once_the_front_share_is_known(i, j):
    four = np.array([250.0, 251.0, 340.0, 339.0])
    four[[i, j]] = four[[j, i]]
    names = ("front left", "front right", "rear left", "rear right")
    (ask,) = weigh_corners(*four, *SIZES, known_front_share=0.425).questions
    assert f"{names[i]} and {names[j]} swapped" in ask.remedy
    other = {(0, 2): "front right and rear right", (1, 3): "front left and rear left"}[(i, j)]
    assert other not in ask.remedy
    assert other in weigh_corners(*four, *SIZES).questions[0].remedy  # without that, either side could be it


def test_a_slip_is_guessed_by_the_mass_that_the_car_is_known_to_have():
    good = np.array([262.0, 243.0, 335.0, 318.0])
    for i, factor, words in (
        (2, 10.0, "rear left typed a tenth"),
        (0, 1 / to_si(1.0, "lb"), "front left typed in pounds"),
    ):
        slipped = np.where(np.arange(4) == i, good / factor if "tenth" in words else good * factor, good)
        with pytest.raises(InputError, match=words):
            weigh_corners(*slipped, *SIZES, known_mass=1150.0)
        with pytest.raises(InputError) as other:  # a car of another mass: that slip would not explain it
            weigh_corners(*slipped, *SIZES, known_mass=800.0)
        assert words not in str(other.value)


def test_pounds_taken_for_kilograms_twice_are_noticed():
    good = np.array([262.0, 243.0, 335.0, 310.0])
    (ask,) = weigh_corners(*(good * to_si(1.0, "lb")), *SIZES, known_mass=1150.0).questions
    assert ask.remedy == "were they changed from pounds to kg twice?"
    (ask,) = weigh_corners(*(good / to_si(1.0, "lb")), *SIZES, known_mass=1150.0).questions
    assert "were they typed in pounds? as pounds they make 1150 kg" in ask.remedy


def test_what_one_scale_alone_would_have_to_read_is_said_for_each():
    asked = weigh_corners(262.0, 243.0, 335.0, 378.0, *SIZES, known_mass=1150.0).questions  # 68 kg more
    told = "one alone misread would be front left 194, front right 175, rear left 267, rear right 310 kg"
    assert any(told in ask.remedy for ask in asked)


def test_front_and_rear_swapped_needs_the_known_share():
    assert weigh_corners(340, 340, 250, 250, *SIZES).questions == ()
    (ask,) = weigh_corners(340, 340, 250, 250, *SIZES, known_front_share=0.42).questions
    assert "front and rear scales swapped" in ask.remedy


def test_one_corner_in_pounds_is_refused_by_name():
    with pytest.raises(InputError, match="rear left typed in pounds"):
        weigh_corners(262.0, 243.0, 325.0 / to_si(1.0, "lb"), 318.0, *SIZES)


@pytest.mark.parametrize("bad", [0.0, -250.0, np.nan, np.inf, 2600.0])
def test_a_reading_no_car_gives_is_refused(bad):
    with pytest.raises(InputError, match="front right scale must be 5 to 2000 kg"):
        weigh_corners(250.0, bad, 340.0, 340.0, *SIZES)


@pytest.mark.analytic
def test_floor_effect_is_what_four_springs_do():
    # independent: solve heave, roll and pitch of a stiff body on four springs, one support raised
    kf, kr, mass, step = 24e3, 31e3, 1200.0, 0.003
    k = np.diag([kf, kf, kr, kr])
    shape = np.array([[1, 1, 1], [1, -1, 1], [1, 1, -1], [1, -1, -1.0]])  # heave, roll, pitch at each corner
    raised = np.array([0, step, 0, 0])
    body = np.linalg.solve(shape.T @ k @ shape, shape.T @ k @ raised)
    gain = k @ (raised - shape @ body)
    assert floor_effect(step, kf, kr, mass) == pytest.approx((gain[1] + gain[2]) / (mass * G))
    assert gain.sum() == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("file", CARS, ids=examples.example_names())
def test_weighed_nose_high_comes_back_to_the_reference(file):
    car, setup = file.car, file.setup
    standing = trim(car, setup, Moment(30.0, 0.0)).standing_load
    share = float(standing[0].sum() / standing.sum())
    assert share != pytest.approx(car.front_share, abs=1e-4)
    rise = [s.height - a.reference_height for a, s in ((car.front, setup.front), (car.rear, setup.rear))]
    sprung = 1 - (car.front.unsprung_mass + car.rear.unsprung_mass) / car.mass
    high = car.cg_height + sprung * (car.front_share * rise[0] + (1 - car.front_share) * rise[1])
    unsprung = (car.front.unsprung_mass, car.rear.unsprung_mass)
    radii = (car.front.wheel_radius, car.rear.wheel_radius)
    back = to_reference(share, high, *rise, car.wheelbase, car.mass, unsprung, radii)
    assert back.front_share == pytest.approx(car.front_share, abs=1e-5)
    # weighed with the share as it stands, 0.1 points off, on a rise of 30 mm: 0.03 mm
    assert back.cg_height == pytest.approx(car.cg_height, abs=5e-5)
    assert reference_setup(car, setup).front.height == car.front.reference_height


# ---- axle lift ----------------------------------------------------------------------------------------------------

RISES = np.array([0.3, 0.5, 0.7])
PRINTED = np.array([742.05, 751.05, 760.50])
ISO = {"mass": 1350.0, "wheelbase": 2.5, "level": 729.0, "standing_radius": 0.3, "lifted_radius": 0.3}


@pytest.mark.analytic
def test_axle_lift_round_trip():
    # our own sum from ISO 10392's formula: 1350 kg, L 2.50, CG 1.15 behind front, r 0.30, h 0.50; rear lifted.
    # Half a last digit of the readings, 0.005 kg, is 0.08, 0.05 and 0.03 mm of height: hence 0.1 mm.
    found = lifted_height(rises=RISES, readings=PRINTED, **ISO)
    assert found.each == pytest.approx([0.5, 0.5, 0.5], abs=1e-4)
    assert found.cg_height.value == pytest.approx(0.5, abs=1e-4)
    assert found.above_axle.value == pytest.approx(0.2, abs=1e-4)
    assert found.residuals == pytest.approx(0, abs=0.01)
    assert np.sin(found.angle) == pytest.approx(RISES / 2.5)


@pytest.mark.analytic
@pytest.mark.parametrize(("rise", "printed"), list(zip(RISES, PRINTED, strict=True)))
def test_lift_readings_from_points_in_the_side_view(rise, printed):
    file = CARS[0]
    axles = {end: replace(getattr(file.car, end), wheel_radius=0.3) for end in ("front", "rear")}
    car = replace(file.car, mass=1350.0, wheelbase=2.5, front_share=1.35 / 2.5, cg_height=0.5, **axles)
    level, lifted = readings.lift_readings(car, [rise])
    assert level == pytest.approx(729.0)
    assert lifted[0] == pytest.approx(printed, abs=5e-3)


@pytest.mark.analytic
def test_half_a_kilogram_at_half_a_metre():
    # same derivation: 0.5 kg on the reading at 0.5 m is 4.5 mm of height
    heights = [lifted_height(rises=[0.5], readings=[w], **ISO).cg_height.value for w in (751.05, 751.55)]
    assert 1e3 * (heights[1] - heights[0]) == pytest.approx(4.5, abs=0.05)


@pytest.mark.parametrize("lifted", ["front", "rear"])
@given(
    h=st.floats(0.38, 0.7),
    share=st.floats(0.38, 0.65),
    radii=st.tuples(st.floats(0.27, 0.34), st.floats(0.27, 0.34)),
    base=st.floats(2.2, 2.9),
)
@settings(max_examples=15, deadline=None)
def test_lift_gives_back_any_car(lifted, h, share, radii, base):
    file = CARS[0]
    axles = {
        end: replace(getattr(file.car, end), wheel_radius=r) for end, r in zip(("front", "rear"), radii, strict=True)
    }
    car = replace(file.car, cg_height=h, front_share=share, wheelbase=base, **axles)
    level, got = readings.lift_readings(car, RISES, lifted)
    low, high = radii if lifted == "rear" else radii[::-1]
    found = lifted_height(car.mass, base, level, RISES, got, low, high)
    assert found.cg_height.value == pytest.approx(h, abs=1e-6)
    assert np.abs(found.residuals).max() < 1e-6
    assert found.cg_height.sigma > 0


def test_both_ends_lifted_agree():
    car = CARS[1].car
    heights = []
    for end, (low, high) in {"rear": ("front", "rear"), "front": ("rear", "front")}.items():
        level, got = readings.lift_readings(car, RISES, end)
        radii = (getattr(car, low).wheel_radius, getattr(car, high).wheel_radius)
        heights.append(lifted_height(car.mass, car.wheelbase, level, RISES, got, *radii).cg_height.value)
    assert heights == pytest.approx([car.cg_height] * 2, abs=1e-6)


def test_a_lifted_reading_far_off_is_said_in_whole_kilograms():
    found = lifted_height(rises=RISES, readings=np.add(PRINTED, [0.0, 200.0, 0.0]), **ISO)
    assert "got 140 kg off the straight line" in " ".join(map(str, found.questions))


@pytest.mark.analytic
def test_the_error_of_one_lift_is_that_of_two_scales_twice_and_of_the_rise():
    """h = L·ΔW/(W·tan θ) with all but the readings and the rise exact: each reading is the sum of two scales."""
    scale, tape, rise, level, lifted = Scale(0.5), Tape(), 0.5, 729.0, 751.05
    exact = (Measured(1350.0, 0.0), Measured(2.5, 0.0))
    radii = (Measured(0.3, 0.0), Measured(0.3, 0.0))
    found = lifted_height(*exact, level, [rise], [lifted], *radii, scale=scale, tape=tape)

    def height(up):
        return 2.5 * (lifted - level) / (1350 * np.tan(np.arcsin(up / 2.5)))

    by_load = 2.5 / (1350 * np.tan(np.arcsin(rise / 2.5)))
    loads = by_load**2 * (2 * scale.sigma(level / 2) ** 2 + 2 * scale.sigma(lifted / 2) ** 2)
    by_rise = (height(rise + 1e-5) - height(rise - 1e-5)) / 2e-5
    assert found.cg_height.sigma == pytest.approx(np.sqrt(loads + (by_rise * tape.sigma(rise)) ** 2), rel=1e-4)


def test_errors_of_the_lift_cover():
    rng = np.random.default_rng(2)
    n, scale, tape = 2000, Scale(0.5), Tape()
    w = 1350 / 2.5 * (1.35 + 0.2 * np.tan(np.arcsin(np.array([0.0, 0.3, 0.5, 0.7]) / 2.5)))
    noisy = w[:, None] + (scale.limit(w / 2)[:, None, None] * rng.uniform(-1, 1, (4, n, 2))).sum(axis=-1)

    def off(length):
        limits = tape_limit(length, "II", True), tape.reading
        return length + sum(limit * rng.uniform(-1, 1, n) for limit in limits)

    found = lifted_height(
        1350 + (scale.limit(1350 / 4) * rng.uniform(-1, 1, (n, 4))).sum(axis=-1),
        off(2.5), noisy[0], np.stack([off(r) for r in RISES]), noisy[1:], off(0.3), off(0.3),
    )  # fmt: skip
    spread = (found.cg_height.value - 0.5) / found.cg_height.sigma
    assert np.std(spread) == pytest.approx(1, abs=0.04)
    assert np.mean(spread) == pytest.approx(0, abs=0.1)
    assert 0.93 < np.mean(np.abs(spread) < 1.96) < 0.97


def test_several_lifts_are_better_than_one():
    many = lifted_height(rises=[0.4, 0.5, 0.5], readings=[746.5, 751.05, 751.05], **ISO)
    one = lifted_height(rises=[0.5], readings=[751.05], **ISO)
    assert many.cg_height.sigma < one.cg_height.sigma


@pytest.mark.analytic
def test_tyre_squash_counts():
    # rear lifted 0.5 m: the front tyres take 22 kg more and at 100 N/mm each sink 1.08 mm, as if lifted 0.5011 m
    soft = lifted_height(rises=[0.5], readings=[751.05], tyre_rate=to_si(100.0, "N_per_mm"), **ISO)
    higher = lifted_height(rises=[0.5 + 22.05 * G / 200e3], readings=[751.05], **ISO)
    assert soft.cg_height.value == pytest.approx(higher.cg_height.value, abs=1e-9)


def test_too_small_a_lift_is_refused_and_says_how_high():
    with pytest.raises(InputError, match=r"lift the wheel centres by at least 0\.\d\d m") as caught:
        lifted_height(rises=[0.1], readings=[733.3], **ISO)
    high = float(str(caught.value).split("at least ")[1].split(" m")[0])
    w = 729 + 1350 * 0.2 / 2.5 * np.tan(np.arcsin(high / 2.5))
    found = lifted_height(rises=[high], readings=[w], **ISO)
    assert found.cg_height.sigma < TYPICAL_SIGMA / 2  # what it advises is enough
    assert found.questions == ()
    low = high - 0.1
    w = 729 + 1350 * 0.2 / 2.5 * np.tan(np.arcsin(low / 2.5))
    assert lifted_height(rises=[low], readings=[w], **ISO).questions  # and not much more than enough


def test_a_small_lift_is_questioned():
    (ask,) = lifted_height(rises=[0.3], readings=[742.05], **ISO).questions
    assert "lift the wheel centres by at least" in ask.remedy


def test_coarse_scales_are_told_off():
    with pytest.raises(InputError, match="too coarse for a safe lift"):
        lifted_height(rises=[0.5], readings=[751.05], scale=Scale(5.0), **ISO)


def test_no_lift_steeper_than_twenty_degrees_is_asked_for():
    """From fine scales to coarse ones: lifts up to 20 degrees are asked for, and none past it."""
    asked = []
    for step in np.linspace(0.5, 5.0, 31):
        try:
            questions = lifted_height(rises=[0.3], readings=[742.05], scale=Scale(step), **ISO).questions
            said = questions[0].remedy if questions else "at least 0 m"
        except InputError as error:
            said = str(error)
        asked.append(float(said.split("at least ")[1].split(" m")[0]) if "at least" in said else np.inf)
    high = np.array(asked)
    steepest = 2.5 * np.sin(np.radians(20.0))
    assert steepest - 0.05 < high[np.isfinite(high)].max() < steepest + 0.05  # it is rounded up to 0.05 m
    assert np.isinf(high[-1])


def test_impossible_height_names_the_reading():
    with pytest.raises(InputError, match=r"200 to 1200 mm, got 1\d\d\d mm: read again: the lifted reading"):
        lifted_height(rises=[0.5], readings=[851.05], **ISO)


def test_swapped_level_and_lifted():
    with pytest.raises(InputError, match="level and lifted readings swapped"):
        lifted_height(**(ISO | {"level": 751.05}), rises=[0.5], readings=[729.0])


@pytest.mark.parametrize(("bad", "words"), [(0, "the level reading"), (1, "lift 1"), (2, "lift 2"), (3, "lift 3")])
def test_the_odd_one_of_several_lifts_is_named(bad, words):
    load = np.array([729.0, *PRINTED])
    load[bad] += 9.0
    (ask, *_) = [
        q for q in lifted_height(1350, 2.5, load[0], RISES, load[1:], 0.3, 0.3).questions if "straight" in q.value
    ]
    assert words in ask.remedy


def test_lift_typed_in_millimetres_and_whole_mass():
    with pytest.raises(InputError, match="give it in metres"):
        lifted_height(rises=[500.0], readings=[751.05], **ISO)
    with pytest.raises(InputError, match="two scales of the standing axle only"):
        lifted_height(**(ISO | {"level": 1350.0}), rises=[0.5], readings=[751.0])
    with pytest.raises(InputError, match="same length"):
        lifted_height(rises=[0.5, 0.6], readings=[751.05], **ISO)


def test_lift_broadcasts():
    many = lifted_height(
        rises=RISES, readings=PRINTED[:, None] + np.zeros((3, 5)), **(ISO | {"mass": np.full(5, 1350.0)})
    )
    one = lifted_height(rises=RISES, readings=PRINTED, **ISO)
    assert many.cg_height.value.shape == (5,)
    assert many.cg_height.value == pytest.approx(np.full(5, one.cg_height.value))
    assert many.cg_height.sigma == pytest.approx(np.full(5, one.cg_height.sigma))


@pytest.mark.analytic
def test_a_car_of_three_masses_is_taken_back_to_its_reference():
    base, body, axles, radii, front, rear = 2.4, 900.0, (60.0, 90.0), (0.28, 0.34), 0.02, -0.03
    behind, high = 0.6 * base, 0.5  # the body's own middle at the reference, its share that of the axles
    nose, level = (front - rear) / base, (radii[0] + radii[1]) / 2
    whole = body + sum(axles)

    def weighed(behind, high):
        share = (body * (1 - behind / base) + axles[0]) / whole
        return share, (body * high + axles[0] * radii[0] + axles[1] * radii[1]) / whole

    up = high + (1 - behind / base) * front + behind / base * rear
    share, height = weighed(behind + (high - level) * nose, up)  # it turns about the height of the wheels' middles
    found = to_reference(share, height, front, rear, base, whole, axles, radii)
    # the share moves far less than it weighs in the rise: 0.002 of 50 mm
    assert found.cg_height == pytest.approx(weighed(behind, high)[1], abs=1.2e-4)
    assert found.front_share == pytest.approx(weighed(behind, high)[0], abs=2e-6)
