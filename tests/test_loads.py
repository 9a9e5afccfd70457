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
    with pytest.raises(InputError, match="fall over on its springs"):
        rolling.roll(1.0, 1500.0, 0.5, 500.0)
    with pytest.raises(InputError, match="do not belong together"):
        loads.corner_loads(1200.0, 0.5, 0.5, 1.2)
    with pytest.raises(InputError, match="wall"):
        rolling.bar_roll_stiffness(0.02, 1.0, 3.0, 1.5, bore=0.02)
