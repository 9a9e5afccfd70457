"""Wheel loads against printed examples, measured cars, balances and limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdlib.checks import InputError
from vdlib.lessons import rolling
from vdlib.trim import loads
from vdlib.units import G, from_si, to_si

FOOT = 0.3048
INCH = 0.0254

# K. Tse, "Simplified steady-state lateral load transfer analysis", kktse.github.io (2021, corrected 2022):
# one measured front-drive coupe, stock and modified. Each axle: spring [N/mm], motion ratio, solid bar's diameter and
# length [mm] and twist [deg/mm], track and roll-centre height [mm].
COUPE = {
    "stock": {
        "front": (48.9, 0.92, 23.0, 1008.0, 0.096, 1482.0, 96.0),
        "rear": (80.2, 0.59, 19.0, 1026.0, 0.201, 1481.0, 168.0),
        "cg": 533.0,
    },
    "modified": {
        "front": (65.7, 0.96, 23.0, 1008.0, 0.096, 1482.0, -64.0),
        "rear": (113.8, 0.56, 24.0, 1026.0, 0.184, 1481.0, 120.0),
        "cg": 480.0,
    },
}
HALF_DIGITS = (0.05, 0.005, 0.5, 0.5, 0.0005, 0.5, 0.5)
MASS, SHARE = 1288.0, 0.61


def stiffness(row):
    spring, ratio, diameter, length, twist, track, _ = row
    return rolling.spring_roll_stiffness(to_si(spring, "N_per_mm"), ratio, track / 1e3) + rolling.bar_roll_stiffness(
        diameter / 1e3, length / 1e3, np.radians(twist) * 1e3, track / 1e3
    )


def roll_axle(row, **changes):
    values = {"track": row[5] / 1e3, "roll_centre": row[6] / 1e3, "stiffness": stiffness(row)} | changes
    return rolling.RollAxle(**values)


def coupe(state, lateral=G, front=None, rear=None):
    car = COUPE[state]
    return rolling.lateral_transfer(
        lateral,
        MASS,
        SHARE,
        car["cg"] / 1e3,
        roll_axle(car["front"], **(front or {})),
        roll_axle(car["rear"], **(rear or {})),
        gravity_roll=False,  # the source leaves the leaning body's own weight out
    )


@pytest.mark.published
@pytest.mark.parametrize(
    ("state", "end", "printed"),
    # Tse, table of roll stiffness, Nm/deg; the stock front is in the next test
    [("stock", "rear", 1004), ("modified", "front", 1395), ("modified", "rear", 1686)],
)
def test_roll_stiffness_of_the_measured_coupe(state, end, printed):
    assert from_si(stiffness(COUPE[state][end]), "Nm_per_deg") == pytest.approx(printed, abs=0.5)


@pytest.mark.published
def test_roll_stiffness_of_the_stock_front():
    # Tse prints 1027 Nm/deg, and 2031 for both ends; his printed inputs give 1027.93 and 2032.28, off by 0.9, not 0.5.
    # The inputs' own rounding covers it (motion ratio 0.92 ± 0.005 alone is ± 8.6 Nm/deg): that is the tolerance here.
    row = np.array(COUPE["stock"]["front"])
    half = np.array(HALF_DIGITS) * [1, 1, 1, -1, 1, 1, 0]  # a longer bar is softer
    low, ours, high = (float(from_si(stiffness(r), "Nm_per_deg")) for r in (row - half, row, row + half))
    assert low < 1027 < high
    assert ours == pytest.approx(1027, abs=1.0)


@pytest.mark.published
@pytest.mark.parametrize(
    ("state", "wheel", "roll", "transfer"),
    [("stock", 40.3, 49.4, 50.2), ("modified", 37.1, 54.7, 63.6)],  # Tse, table of results, rear share in per cent
)
def test_rear_shares_of_the_measured_coupe(state, wheel, roll, transfer):
    car = COUPE[state]
    rates = {end: car[end][0] * car[end][1] ** 2 for end in ("front", "rear")}
    stiff = {end: stiffness(car[end]) for end in ("front", "rear")}
    assert 100 * rates["rear"] / sum(rates.values()) == pytest.approx(wheel, abs=0.05)
    assert 100 * stiff["rear"] / sum(stiff.values()) == pytest.approx(roll, abs=0.05)
    assert 100 * (1 - coupe(state).front_share) == pytest.approx(transfer, abs=0.05)


@pytest.mark.analytic
def test_roll_gradient_of_the_measured_coupe():
    # derived from Tse's inputs (he prints none): 2.54 deg/g without the leaning weight
    car = COUPE["stock"]
    both = stiffness(car["front"]) + stiffness(car["rear"])
    assert from_si(rolling.roll_gradient(MASS, coupe("stock").arm, both, False), "deg_per_g") == pytest.approx(
        2.54, abs=5e-3
    )
    assert rolling.roll_gradient(MASS, coupe("stock").arm, both) > rolling.roll_gradient(
        MASS, coupe("stock").arm, both, False
    )


@pytest.mark.analytic
@pytest.mark.parametrize(("end", "other"), [("front", "rear"), ("rear", "front")])
def test_raising_a_roll_centre_moves_transfer_to_that_end(end, other):
    before = coupe("stock")
    after = coupe("stock", **{end: {"roll_centre": COUPE["stock"][end][6] / 1e3 + 0.03}})
    assert getattr(after, end).total > getattr(before, end).total + 1
    assert getattr(after, other).total < getattr(before, other).total - 1


@pytest.mark.analytic
def test_nose_high_from_the_measured_coupe():
    # Derived beforehand from Tse's inputs: front +10, rear -10 mm at 3.1 and 1.07 mm of roll centre per mm moves the
    # front share up 2.15 points; a rear one fifth stiffer in roll moves it down 3.5.
    stock = coupe("stock")
    row_f, row_r = COUPE["stock"]["front"], COUPE["stock"]["rear"]
    high = coupe(
        "stock",
        front={"roll_centre": (row_f[6] + 31) / 1e3},
        rear={"roll_centre": (row_r[6] - 10.7) / 1e3},
    )
    stiff = coupe("stock", rear={"stiffness": 1.2 * stiffness(row_r)})
    assert 100 * (high.front_share - stock.front_share) == pytest.approx(2.15, abs=5e-3)
    assert 100 * (stiff.front_share - stock.front_share) == pytest.approx(-3.5, abs=0.05)


# Barton & Fieldhouse, Automotive Chassis Engineering (Springer 2018), p. 174
BARTON = {
    "sprung_mass": 1280.0,
    "front_share": 0.54,
    "cg_height": 0.365 + 0.54 * 0.07 + 0.46 * 0.32,  # the source gives d = 0.365 m itself
    "front": rolling.RollAxle(1.46, 0.07, 20000.0, 140.0, 0.280),
    "rear": rolling.RollAxle(1.46, 0.32, 8650.0, 180.0, 0.300),  # only the sum 28 650 Nm/rad is printed on the page
}


@pytest.mark.published
def test_links_and_unsprung_part_of_a_textbook_car():
    got = rolling.lateral_transfer(0.6 * G, **BARTON)
    assert got.front.links == pytest.approx(195, abs=0.5)
    assert got.rear.links == pytest.approx(760, abs=0.5)
    assert got.front.unsprung == pytest.approx(158, abs=0.5)
    assert got.rear.unsprung == pytest.approx(218, abs=0.5)


@pytest.mark.published
def test_misprint_of_the_front_total():
    # Same page: "1556 + 195 + 158 = 1919 N". The sum is 1909; the rear sum, 671 + 760 + 218 = 1649, is right.
    got = rolling.lateral_transfer(0.6 * G, **BARTON)
    assert 1556 + round(got.front.links + got.front.unsprung) == 1909
    assert 671 + round(got.rear.links) + round(got.rear.unsprung) == 1649


@pytest.mark.published
def test_roll_gradient_of_a_textbook_car():
    # Barton & Fieldhouse p. 174: 0.0194 rad/(m/s²) = 10.9 deg/g; needs the leaning body's own weight (9.17 without)
    gradient = rolling.roll_gradient(1280.0, 0.365, 28650.0)
    assert gradient == pytest.approx(0.0194, abs=5e-5)
    assert from_si(gradient, "deg_per_g") == pytest.approx(10.9, abs=0.05)
    assert from_si(rolling.roll_gradient(1280.0, 0.365, 28650.0, False), "deg_per_g") == pytest.approx(9.17, abs=5e-3)


@pytest.mark.published
def test_overturning_speed_of_a_textbook_car():
    # Tayal, Engineering Mechanics, example 15.20, read in a companion notebook, printed page not seen: 27.12 m/s
    assert loads.overturning_speed(100.0, 1.5, 1.0) == pytest.approx(27.12, abs=5e-3)


@pytest.mark.published
def test_misprint_of_the_wheel_loads_in_a_turn():
    # Same example: 10 kN, R 100 m, 10 m/s, h 1 m, b 1.5 m, printed 4660.2 and 5339.8 N from (W/2)·(1 ∓ V²h/(gRb)).
    # Moments about the outer wheels give W/2 ∓ (W/g)(V²/R)·h/b, twice that transfer: 4320.4 and 5679.6 N. The example
    # contradicts itself: its loads would reach zero only at √2 times its own overturning speed.
    moved = loads.rigid_transfer(10000 / G, 10.0**2 / 100, 1.0, 1.5)
    assert 5000 - moved / 2 == pytest.approx(4660.2, abs=0.05)
    assert 5000 + moved / 2 == pytest.approx(5339.8, abs=0.05)
    tip = loads.overturning_speed(100.0, 1.5, 1.0)
    assert loads.rigid_transfer(10000 / G, tip**2 / 100, 1.0, 1.5) == pytest.approx(5000)  # ours empties the inner side
    assert (5339.8 - 5000) * (tip / 10) ** 2 == pytest.approx(2500, rel=1e-3)  # the printed one only half


@pytest.mark.published
def test_standing_wheel_loads():
    # Jazar, Vehicle Dynamics, example 39: 890 kg, L 2.35 m, CG 0.78 m behind the front axle
    got = loads.static_loads(890.0, (2.35 - 0.78) / 2.35)
    assert got.front_wheel == pytest.approx(2916.5, abs=0.05)
    assert got.rear_wheel == pytest.approx(1449, abs=0.5)


@pytest.mark.published
def test_centre_of_gravity_from_axle_loads():
    # University Physics vol. 1, chapter 12, problem 30: 1000 kg, L 3.0 m, 60 % front
    got = loads.centre_of_gravity(0.6 * 1000 * G, 0.4 * 1000 * G, 3.0)
    assert got.behind_front == pytest.approx(1.2, abs=0.05)
    assert got.behind_front == pytest.approx(1.2)
    assert got.mass == pytest.approx(1000)


@pytest.mark.published
@pytest.mark.parametrize(("braked", "feet"), [("rear", 530), ("front", 699), ("all", 301)])
def test_stopping_distances(braked, feet):
    # Bevan, Theory of Machines, example 6 p. 264, read in a companion notebook, printed page not seen: L 9.5 ft, h
    # 2 ft, CG 4 ft ahead of the rear axle, 30 mph, μ 0.1
    got = loads.stop(to_si(30.0, "mph"), 0.1, 9.5 * FOOT, 2 * FOOT, 5.5 * FOOT, braked)
    assert got.distance / FOOT == pytest.approx(feet, abs=0.5)


@pytest.mark.memory
def test_skid_with_locked_wheels():
    # Beer & Johnston, Vector Mechanics, sample problem 16.1, from memory
    got = loads.skid(30 * FOOT, 20 * FOOT, 12 * FOOT, 4 * FOOT, 7 * FOOT)
    assert got.deceleration / G == pytest.approx(0.699, abs=5e-4)
    assert got.front == pytest.approx(0.650, abs=5e-4)
    assert got.rear == pytest.approx(0.350, abs=5e-4)


# NHTSA NCAP, measured cars: average track [m], CG height [m], published static stability factor, half its last digit
MEASURED = [
    (1.4326, 0.4498, 1.591, 5e-4),
    (1.4834, 0.4714, 1.573, 5e-4),
    (1.491, 0.4773, 1.563, 5e-4),
    (1.6256, 0.5149, 1.5771, 5e-5),
    (1.5392, 0.4905, 1.571, 5e-4),
    (1.5037, 0.5057, 1.488, 5e-4),
    (1.4834, 0.5042, 1.471, 5e-4),
    (1.5335, 0.4625, 1.65778, 5e-6),
    (1.3792, 0.5004, 1.378, 5e-4),
]


@pytest.mark.published
@pytest.mark.parametrize(("track", "height", "printed", "half"), MEASURED)
def test_stability_factor_of_measured_cars(track, height, printed, half):
    # Six of the nine miss half the last digit of the factor (worst 0.0020). The tabled metres are conversions: every
    # height is a whole 0.01 in and every track but one a whole 0.1 in, as this test checks; the factor must have come
    # from finer readings. So the allowance is half of those inches; the one other track gets half its printed 0.1 mm.
    assert abs(height / INCH * 100 - round(height / INCH * 100)) * INCH / 100 <= 5.1e-5
    in_tenths = abs(track / INCH * 10 - round(track / INCH * 10)) * INCH / 10 <= 5.1e-5
    assert in_tenths == (track != 1.5335)
    half_track = 0.05 * INCH if in_tenths else 5e-5
    low = loads.stability_factor(track - half_track, height + 0.005 * INCH) - half
    high = loads.stability_factor(track + half_track, height - 0.005 * INCH) + half
    assert low <= printed <= high
    assert loads.stability_factor(track, height) == pytest.approx(printed, abs=2.1e-3)


@pytest.mark.published
def test_stability_factor_over_all_measured_cars():
    # rounding errors of single cars must cancel: the mean over nine is far closer than any one of them
    track, height, printed, _ = np.array(MEASURED).T
    assert np.mean(loads.stability_factor(track, height) - printed) == pytest.approx(0, abs=5e-4)


@pytest.mark.analytic
def test_a_rigid_car_tips_at_its_stability_factor():
    factor = loads.stability_factor(1.5, 0.5)
    assert loads.rigid_transfer(1000.0, factor * G, 0.5, 1.5) == pytest.approx(1000 * G / 2)
    speed = loads.overturning_speed(80.0, 1.5, 0.5)
    assert speed**2 / 80.0 == pytest.approx(factor * G)


@pytest.mark.published
def test_roll_centre_from_an_instant_centre():
    # Tse, "Analysis of the front suspension geometry" (2020), appendix: instant centre 340 mm high, 2641 mm long.
    # With the track of his load-transfer page (2021), 1482 mm, that gives 95.4; the page prints 96, so the tolerance is
    # 1 mm. The 96 is met to the digit with 2612 mm, the virtual swing axle of the same appendix, as the distance.
    # The appendix itself prints 93 mm, which does not follow from its own instant centre: it needs a track of 1445 mm.
    ours = 1e3 * loads.roll_centre_from_instant_centre(0.340, 2.641, 1.482)
    assert ours == pytest.approx(96, abs=1.0)
    assert 1e3 * loads.roll_centre_from_instant_centre(0.340, 2.641, 1.445) == pytest.approx(93, abs=0.5)
    assert 1e3 * loads.roll_centre_from_instant_centre(0.340, 2.612, 1.482) == pytest.approx(96, abs=0.5)


@pytest.mark.published
def test_anti_angle_from_an_instant_centre():
    # Tse (2020), appendix: side view 518 mm high, 11000 mm long; "Anti-lift, anti-dive…" (2021): approximately 2.7 deg
    assert np.degrees(loads.anti_angle(0.518, 11.0)) == pytest.approx(2.7, abs=0.05)


@pytest.mark.analytic
def test_geometry_limits():
    assert loads.roll_centre_from_instant_centre(0.3, 0.75, 1.5) == pytest.approx(
        0.3
    )  # centre on the car's middle plane
    assert loads.roll_centre_from_instant_centre(-0.1, 2.0, 1.5) < 0
    assert loads.roll_centre_from_instant_centre(0.3, -2.0, 1.5) < 0  # instant centre outboard
    assert loads.anti_angle(1.0, 1.0) == pytest.approx(np.pi / 4)


car_numbers = st.fixed_dictionaries(
    {
        "lateral": st.floats(-12, 12),
        "sprung_mass": st.floats(500, 2500),
        "front_share": st.floats(0.35, 0.65),
        "cg_height": st.floats(0.35, 0.8),
    }
)
axles = st.builds(
    rolling.RollAxle,
    track=st.floats(1.2, 1.9),
    roll_centre=st.floats(-0.1, 0.3),
    stiffness=st.floats(2e4, 9e4),
    unsprung_mass=st.floats(30, 200),
    unsprung_height=st.floats(0.25, 0.35),
)


@pytest.mark.analytic
@given(car_numbers, axles, axles)
def test_lateral_moments_balance(car, front, rear):
    got = rolling.lateral_transfer(**car, front=front, rear=rear)
    held = front.track * got.front.total + rear.track * got.rear.total
    body = car["sprung_mass"] * (car["lateral"] * car["cg_height"] + G * got.arm * got.roll.angle)
    wheels = car["lateral"] * sum(a.unsprung_mass * a.unsprung_height for a in (front, rear))
    assert held == pytest.approx(body + wheels, rel=1e-9, abs=1e-6)


@pytest.mark.analytic
@given(car_numbers, axles, axles)
def test_turning_the_car_round_swaps_the_axles(car, front, rear):
    got = rolling.lateral_transfer(**car, front=front, rear=rear)
    back = rolling.lateral_transfer(**(car | {"front_share": 1 - car["front_share"]}), front=rear, rear=front)
    mirror = rolling.lateral_transfer(**(car | {"lateral": -car["lateral"]}), front=front, rear=rear)
    assert back.rear.total == pytest.approx(got.front.total, rel=1e-9, abs=1e-6)
    assert mirror.front.total == pytest.approx(-got.front.total, rel=1e-9, abs=1e-6)
    assert mirror.front_share == pytest.approx(got.front_share)


@pytest.mark.analytic
def test_share_exists_on_the_straight():
    assert coupe("stock", lateral=0.0).front_share == pytest.approx(coupe("stock").front_share)


@pytest.mark.analytic
def test_corner_loads_meet_their_definitions():
    got = loads.corner_loads(1200.0, 0.46, np.array([0.5, 0.52, 0.48]), np.array([0.5, 0.51, 0.47]))
    total = got.front_left + got.front_right + got.rear_left + got.rear_right
    assert total == pytest.approx(np.full(3, 1200 * G))
    assert (got.front_left + got.front_right) / total == pytest.approx(np.full(3, 0.46))
    assert (got.front_left + got.rear_left) / total == pytest.approx([0.5, 0.52, 0.48])
    assert (got.front_right + got.rear_left) / total == pytest.approx([0.5, 0.51, 0.47])
    assert got.front_left[0] == pytest.approx(got.front_right[0])  # even left to right with half and half


@pytest.mark.analytic
def test_braking_balances():
    # moments about the CG with the braking forces themselves, not through the load formula
    got = loads.stop(20.0, np.array([0.4, 0.8]), 2.6, 0.5, 1.2, "front")
    force = np.array([0.4, 0.8]) * got.front  # all braking at the front wheels, over weight
    assert force == pytest.approx(got.deceleration / G)
    assert got.front * 1.2 - got.rear * 1.4 == pytest.approx(force * 0.5)
    assert loads.longitudinal_transfer(1.0, -got.deceleration, 0.5, 2.6) == pytest.approx(G * (got.rear - 1.2 / 2.6))
    back = loads.skid(20.0, loads.stop(20.0, 0.8, 2.6, 0.5, 1.2).distance, 2.6, 0.5, 1.2)
    assert back.deceleration == pytest.approx(0.8 * G)


@pytest.mark.analytic
def test_tube_and_solid_bar():
    solid = rolling.bar_roll_stiffness(0.024, 1.0, 3.0, 1.5)
    assert rolling.bar_roll_stiffness(0.024, 1.0, 3.0, 1.5, bore=0.012) == pytest.approx(solid * (1 - 0.5**4))
    assert rolling.bar_roll_stiffness(0.048, 1.0, 3.0, 1.5) == pytest.approx(16 * solid)
    # energy: roll by φ twists the bar by twist·track·φ
    phi, torsion = 0.01, np.pi * 0.024**4 / 32 * 80e9 / 1.0
    assert 0.5 * solid * phi**2 == pytest.approx(0.5 * torsion * (3.0 * 1.5 * phi) ** 2)
    # energy: each spring moves motion ratio times half the track times φ
    assert 0.5 * rolling.spring_roll_stiffness(4e4, 0.8, 1.5) * phi**2 == pytest.approx(
        2 * 0.5 * 4e4 * (0.8 * 0.75 * phi) ** 2
    )


@pytest.mark.analytic
def test_arrays_give_what_single_numbers_give():
    lateral, mass = np.linspace(-9, 9, 5)[:, None], np.array([1000.0, 1300.0, 1600.0])
    front, rear = rolling.RollAxle(1.5, 0.05, 4e4), rolling.RollAxle(1.52, 0.1, 3e4, 90.0, 0.3)
    many = rolling.lateral_transfer(lateral, mass, 0.5, 0.5, front, rear)
    assert many.front.total.shape == (5, 3)
    one = rolling.lateral_transfer(float(lateral[3, 0]), 1600.0, 0.5, 0.5, front, rear)
    assert many.front.total[3, 2] == pytest.approx(one.front.total, rel=1e-14)
    assert many.roll.angle[3, 2] == pytest.approx(one.roll.angle, rel=1e-14)


@pytest.mark.analytic
def test_what_cannot_be_is_refused_in_words():
    with pytest.raises(InputError, match=r"track must be finite and above zero, got -1\.5"):
        loads.stability_factor(np.array([1.5, -1.5]), 0.5)
    with pytest.raises(InputError, match="mass must be finite and above zero, got nan"):
        loads.static_loads(float("nan"), 0.5)
    with pytest.raises(InputError, match="fall over on its springs"):
        rolling.roll(1.0, 1500.0, 0.5, 500.0)
    with pytest.raises(InputError, match="do not belong together"):
        loads.corner_loads(1200.0, 0.5, 0.5, 1.2)
    with pytest.raises(InputError, match="front, rear or all"):
        loads.stop(10.0, 0.5, 2.5, 0.5, 1.2, "none")
    with pytest.raises(InputError, match="rear wheels would leave the ground"):
        loads.stop(10.0, 1.5, 2.0, 1.0, 0.6)
    with pytest.raises(InputError, match="rear wheels would leave the ground"):
        loads.stop(10.0, 1.5, 1.0, 1.0, 0.6, "front")
    with pytest.raises(InputError, match="wall"):
        rolling.bar_roll_stiffness(0.02, 1.0, 3.0, 1.5, bore=0.02)
