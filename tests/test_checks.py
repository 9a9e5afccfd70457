"""Units, range checks and the checks that the records make of themselves."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from math import inf, nan, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdlib.car import examples
from vdlib.car.records import (
    PHASES,
    Axle,
    AxleSetup,
    Car,
    Moment,
    Setup,
    Tyre,
    attitude,
    field_problems,
    reference_setup,
)
from vdlib.checks import InputError, Problem, need_positive, range_problem
from vdlib.glossary import GLOSSARY
from vdlib.units import UNITS, G, from_si, to_si

CAR, SETUP = examples.load_example("two-seater").car, examples.load_example("two-seater").setup

# ---- units -------------------------------------------------------------------------------------------------------

# NIST SP 811, appendix B.8, from memory: factor and half its last printed digit
NIST = [
    ("mph", 4.4704e-1, 1e-12),  # exact: 1609.344 m in 3600 s
    ("lb", 4.535924e-1, 5e-8),
    ("kmh", 2.777778e-1, 5e-8),
    ("deg", 1.745329e-2, 5e-9),
    ("bar", 1.0e5, 1e-7),  # exact
    ("mm", 1.0e-3, 1e-15),  # exact
    ("in", 2.54e-2, 1e-15),  # exact
    ("ft", 3.048e-1, 1e-15),  # exact
    ("mi", 1.609344e3, 1e-12),  # exact
    ("kn", 5.144444e-1, 5e-8),
    ("psi", 6.894757e3, 5e-4),
    ("lbf_per_in", 1.751268e2, 5e-5),
    ("rpm", 1.047198e-1, 5e-8),
]


@pytest.mark.memory
@pytest.mark.parametrize(("unit", "factor", "half_digit"), NIST)
def test_factors_against_the_tables(unit, factor, half_digit):
    assert abs(UNITS[unit].to_si - factor) <= half_digit


# what each part of a name means, apart from the table under test
PARTS = {
    "cm": 1e-2,
    "mm": 1e-3,
    "m": 1.0,
    "deg": pi / 180,
    "rad": 1.0,
    "kN": 1e3,
    "N": 1.0,
    "kg": 1.0,
    "bar": 1e5,
    "percent": 1e-2,
}
PARTS |= {"cm": 1e-2, "g": 9.81, "s": 1.0, "Nm": 1.0, "kgm": 1.0, "number": 1.0, "": 1.0, "kmh": 1000 / 3600}
PARTS |= {
    "cm": 1e-2,
    "mph": 1609.344 / 3600,
    "lb": 0.45359237,
    "mi": 1609.344,
    "ft": 12 * 0.0254,
    "in": 0.0254,
    "km": 1e3,
}
PARTS |= {
    "cm": 1e-2,
    "lbf": 0.45359237 * 9.80665,
    "psi": 0.45359237 * 9.80665 / 0.0254**2,
    "kn": 1852 / 3600,
    "kW": 1e3,
}
PARTS |= {"cm": 1e-2, "ms": 1e-3, "min": 60.0, "rpm": 2 * pi / 60, "arcmin": pi / 180 / 60, "celsius": 1.0}


@pytest.mark.analytic
@pytest.mark.parametrize("name", sorted(UNITS))
def test_a_compound_unit_is_made_of_its_parts(name):
    top, _, bottom = name.removeprefix("per_").partition("_per_")
    if name.startswith("per_"):
        top, bottom = "", top

    def size(part: str) -> float:
        square = part.endswith("2") and part != "kgm2"
        return PARTS[part.rstrip("2")] ** (2 if square else 1)

    assert UNITS[name].to_si == pytest.approx(size(top) / size(bottom), rel=1e-15)


@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(UNITS)))
def test_there_and_back(value, unit):
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-15, abs=1e-300)


def test_arrays_keep_their_shape():
    values = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])
    np.testing.assert_allclose(to_si(values, "mm"), values / 1000, rtol=1e-15)
    assert from_si(values, "deg").shape == (2, 3)
    with pytest.raises(KeyError):
        to_si(1.0, "furlong")


# ---- range checks ------------------------------------------------------------------------------------------------


def sentence(value, field="track", unit="mm", low=800.0, high=2200.0):
    return str(range_problem(field, value, unit, low, high))


def test_the_sentence_names_field_range_value_and_remedy():
    found = range_problem("front.track_mm", 0.00145, "mm", 800, 2200)
    assert str(found) == "front.track_mm must be 800 to 2200 mm, got 1.45 mm: was it typed in metres?"
    assert found == Problem("front.track_mm", "1.45 mm", "must be 800 to 2200 mm", "was it typed in metres?")
    assert str(Problem("a", "", "is missing", "add it")) == "a is missing: add it"
    assert "  " not in sentence(3.0, "ratio", "number", 0.2, 1.5)
    assert "must be 0.2 to 1.5, got 3:" in sentence(3.0, "ratio", "number", 0.2, 1.5)


@pytest.mark.parametrize(
    ("quantity", "typed", "words"),
    [
        ("track", 1.45, "metres"), ("track", 57, "inches"), ("track", 1450e3, "three zeros too many"),
        ("mass", 5000, "pounds"), ("mass", 1.2, "tonnes"), ("front_share", 0.43, "fraction of one"),
        ("pressure", 32, "psi"), ("pressure", 220, "kPa"), ("spring", 58e3, "N/m"), ("toe", 10, "minutes of arc"),
        ("mass", 0, "cannot be zero"), ("mass", -1160, "cannot be negative"), ("motion_ratio", 9, "measure it again"),
    ],
)  # fmt: skip
def test_the_likely_slip_is_named(quantity, typed, words):
    q = GLOSSARY[quantity]
    assert words in sentence(to_si(typed, q.unit), quantity, q.unit, q.low, q.high)


def test_a_large_number_typed_is_said_without_a_power_of_ten():
    assert "got 1450000 mm: " in sentence(1450.0)
    with pytest.raises(InputError, match=r"got -2500000: "):
        need_positive(mass=-2.5e6)


def test_limits_themselves_are_allowed_and_nothing_beyond():
    for value in (0.8, 1.5, 2.2, 1, 2, np.float64(1.5), np.array([0.8, 2.2]), np.zeros((0, 3))):
        assert range_problem("track", value, "mm", 800, 2200) is None
    for value in (0.7999, 2.2001, 0, -1.5):
        assert range_problem("track", value, "mm", 800, 2200) is not None


@pytest.mark.parametrize("q", GLOSSARY.values(), ids=list(GLOSSARY))
def test_every_quantity_has_a_range_that_its_limits_pass(q):
    assert q.low < q.high
    assert q.label.startswith(q.name)
    assert q.si == UNITS[q.unit].si
    span = q.high - q.low
    for value, good in ((q.low, True), (q.high, True), (q.low - span / 1e3, False), (q.high + span / 1e3, False)):
        assert (range_problem(q.name, to_si(value, q.unit), q.unit, q.low, q.high) is None) == good


@pytest.mark.parametrize("value", [nan, inf, -inf, np.array([1.5, nan]), np.array([1.5, 1.5, inf])])
def test_what_is_not_finite_is_refused(value):
    assert re.search(r"got -?(nan|inf) mm: measure it again", sentence(value))


@pytest.mark.parametrize("value", [True, False, "1450", None, [1.5], {"a": 1}, np.array(["a"]), 1j])
def test_what_is_not_a_number_is_refused(value):
    assert sentence(value).endswith("give one number")


def test_a_huge_whole_number_is_refused():
    assert "must be 800 to 2200 mm" in sentence(10**400)


def test_one_bad_element_of_an_array_is_shown():
    assert "got 2500 mm" in sentence(np.array([[1.4, 1.5], [2.5, 1.6]]))


def test_an_error_holds_every_problem_and_where():
    problems = [Problem("a", "1", "must be 2", "x"), Problem("b", "", "is missing", "y")]
    fault = InputError(iter(problems), "my.toml")
    assert isinstance(fault, ValueError)
    assert fault.problems == tuple(problems)
    assert fault.where == "my.toml"
    assert str(fault) == "my.toml: a must be 2, got 1: x\nmy.toml: b is missing: y"
    assert str(InputError(problems[:1])) == "a must be 2, got 1: x"


# ---- records -----------------------------------------------------------------------------------------------------

MOMENT = Moment(30.0, 8.0)
LIGHT_WHEELS = {end: replace(getattr(CAR, end), unsprung_mass=20.0) for end in ("front", "rear")}
RECORDS = [CAR, CAR.front, CAR.front.tyre, SETUP, SETUP.front, MOMENT]
NUMBERS = [(record, f.name) for record in RECORDS for f in fields(record) if f.name in GLOSSARY]


def test_every_record_type_is_among_those_tested():
    assert [type(record) for record in RECORDS] == [Car, Axle, Tyre, Setup, AxleSetup, Moment]


@pytest.mark.parametrize(("record", "field"), NUMBERS, ids=[f"{type(r).__name__}.{f}" for r, f in NUMBERS])
@pytest.mark.parametrize("end", ["low", "high"])
def test_every_field_of_every_record_is_checked_when_it_is_made(record, field, end):
    q = GLOSSARY[field]
    beyond = q.low - 0.01 * (q.high - q.low) if end == "low" else q.high + 0.01 * (q.high - q.low)
    with pytest.raises(InputError, match=re.escape(q.name)) as caught:
        replace(record, **{field: to_si(beyond, q.unit)})
    assert [p.field for p in caught.value.problems] == [q.name]
    with pytest.raises(InputError, match="nan"):
        replace(record, **{field: nan})
    with pytest.raises(InputError, match="give one number"):
        replace(record, **{field: True})


def test_text_in_a_numbers_place_is_refused():
    with pytest.raises(InputError, match="give one number"):
        replace(SETUP, caster="5")


def test_every_bad_field_is_told_at_once():
    with pytest.raises(InputError) as caught:
        replace(CAR.front, track=0.0, motion_ratio=9.0, roll_centre=inf)
    assert [p.field for p in caught.value.problems] == ["track", "motion ratio", "roll-centre height"]


def test_field_problems_names_the_field():
    broken = object.__new__(AxleSetup)  # made past its own check
    for field in fields(AxleSetup):
        object.__setattr__(broken, field.name, getattr(SETUP.front, field.name))
    assert list(field_problems(broken)) == []
    object.__setattr__(broken, "toe", 1.0)
    assert [p.field for p in field_problems(broken)] == ["toe of each wheel"]


def test_records_take_arrays_and_refuse_one_bad_element():
    many = replace(CAR, mass=np.array([1100.0, 1200.0]), cg_height=np.array([[0.4], [0.5]]))
    assert many.mass.shape == (2,)
    with pytest.raises(InputError, match="got 5000 kg"):
        replace(CAR, mass=np.array([1100.0, 5000.0]))


def test_records_cannot_be_changed():
    with pytest.raises(AttributeError):
        CAR.mass = 1.0


@pytest.mark.parametrize(
    ("front", "rear", "good"),
    [
        # 1000 kg with 40 % in front: 400 kg and 600 kg stand on the axles; half the car is 500 kg
        (100.0, 100.0, True), (399.0, 90.0, True), (400.0, 90.0, False),
        (90.0, 400.0, False), (249.0, 250.0, True), (250.0, 250.0, False),
    ],
)  # fmt: skip
def test_unsprung_masses_against_the_weight_on_the_axles(front, rear, good):
    axles = {"front": replace(CAR.front, unsprung_mass=front), "rear": replace(CAR.rear, unsprung_mass=rear)}
    if good:
        assert replace(CAR, mass=1000.0, front_share=0.4, **axles).front.unsprung_mass == front
    else:
        with pytest.raises(InputError, match="unsprung mass must be well below"):
            replace(CAR, mass=1000.0, front_share=0.4, **axles)


@pytest.mark.published
def test_yaw_inertia_when_not_given():
    # K. Tse, "Estimating vehicle inertia and centre-of-gravity height using the NHTSA light vehicle inertial parameter
    # database" (2020), cars: I_zz = 3.176·m − 1754.164 [kg·m²], regression over 73 cars; by hand 3.176·1500 = 4764.
    # Half the slope's last digit is 0.75 at this mass.
    assert replace(CAR, mass=1500.0).inertia == pytest.approx(3009.836, abs=0.75)
    assert replace(CAR, yaw_inertia=1234.0).inertia == 1234.0


@pytest.mark.analytic
@pytest.mark.parametrize("wheelbase", [2.0, 2.4, 2.8, 3.2])
@pytest.mark.parametrize("front_share", [0.35, 0.5, 0.65])
def test_yaw_inertia_has_no_step_and_grows_with_the_mass(front_share, wheelbase):
    mass = np.arange(300.0, 3000.0)
    inertia = replace(CAR, mass=mass, front_share=front_share, wheelbase=wheelbase, **LIGHT_WHEELS).inertia
    steps = np.diff(inertia)  # for each further kg: the fit has 3.176, the car's weight gathered at its axles a·b
    slopes = np.sort([3.176, wheelbase**2 * front_share * (1 - front_share)])
    assert np.all((steps >= slopes[0] - 1e-9) & (steps <= slopes[1] + 1e-9))


@pytest.mark.analytic
def test_yaw_inertia_of_a_light_car_is_that_of_two_point_masses():
    # 600 kg, half on each axle, 2 m apart: 300 kg at 1 m twice
    assert replace(CAR, mass=600.0, front_share=0.5, wheelbase=2.0).inertia == pytest.approx(600.0, rel=1e-15)
    both = replace(CAR, mass=np.array([600.0, 1500.0]), front_share=0.5, wheelbase=2.0).inertia
    np.testing.assert_allclose(both, [600.0, 3010.0], rtol=1e-12)


def test_moments_of_the_phases():
    signs = {"brake": -1, "lift": -1, "steady": 0, "drive": 1}
    assert set(PHASES) == set(signs)
    for phase, sign in signs.items():
        moment = Moment.in_phase(phase, 30.0, np.array([2.0, 8.0]))
        assert np.sign(moment.longitudinal) == sign
        assert moment.braking == (1.0 if phase == "brake" else 0.0)
        assert moment.coasting == float(phase == "lift")  # named by what the engine does
        np.testing.assert_array_equal(moment.lateral, [2.0, 8.0])
    assert Moment.in_phase("brake", 30.0, 0.0).longitudinal < Moment.in_phase("lift", 30.0, 0.0).longitudinal
    with pytest.raises(KeyError):
        Moment.in_phase("coast", 30.0, 8.0)
    with pytest.raises(InputError, match="lateral acceleration must be -3 to 3 g"):
        Moment(30.0, 4 * G)


@pytest.mark.analytic
def test_attitude_and_heights():
    # the file: front 141 for 125 mm, rear 117 for 135 mm; 16 − (−18) = 34 mm nose-high
    assert attitude(CAR, SETUP) == pytest.approx(0.034, rel=1e-12)
    level = reference_setup(CAR, SETUP)
    assert attitude(CAR, level) == 0
    assert level == replace(
        SETUP, front=replace(SETUP.front, height=0.125), rear=replace(SETUP.rear, height=CAR.rear.reference_height)
    )
    np.testing.assert_allclose(
        attitude(CAR, SETUP.with_heights(np.array([0.125, 0.135]), 0.135)), [0, 0.01], atol=1e-15
    )
    assert attitude(CAR, SETUP.with_heights(0.115, 0.135)) < 0  # nose-low
