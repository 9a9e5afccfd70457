"""The spread: seeded, agreeing with first-order propagation where that holds, and honest past the limit."""

from dataclasses import replace

import numpy as np
import pytest
from cars import TWO_OR_SLOW

from vdlib.answers.doubts import doubts_of as file_doubts
from vdlib.answers.height_study import net_change
from vdlib.answers.spread import Doubt, draw, first_order, spread
from vdlib.car import examples
from vdlib.car.records import Moment, reference_setup
from vdlib.car.typical import Kinds
from vdlib.checks import InputError
from vdlib.trim.trim import trim
from vdlib.units import G

LIFT = Moment.in_phase("lift", 110 / 3.6, 0.7 * G)


def own(file, path):
    record = file.setup if path.startswith("setup.") else file.car
    *tables, field = path.removeprefix("setup.").removeprefix("car.").split(".")
    for table in tables:
        record = getattr(record, table)
    return getattr(record, field)


def doubts_of(file, part):
    paths = ("car.cg_height", "rear.roll_centre", "front.roll_centre_slope", "rear.toe_slope", "setup.front.spring")
    return [Doubt(path, own(file, path), sigma=abs(part * own(file, path))) for path in paths]


@pytest.mark.analytic
def test_the_same_seed_gives_the_same_bits_and_another_does_not():
    file = examples.load_example("coupe")
    level, doubts = reference_setup(file.car, file.setup), doubts_of(file, 0.05)
    one, again, other = (spread(file.car, level, file.setup, LIFT, doubts, 500, seed) for seed in (1, 1, 2))
    assert one.change.tobytes() == again.change.tobytes()
    assert one.share.tobytes() == again.share.tobytes()
    assert one.change.tobytes() != other.change.tobytes()


@pytest.mark.analytic
@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_small_errors_agree_with_first_order_propagation(name):
    """σ² = Σ (∂Δ/∂x_i · σ_i)², and each doubt's share is its own term over the sum."""
    file = examples.load_example(name)
    level, doubts = reference_setup(file.car, file.setup), doubts_of(file, 0.01)
    found = spread(file.car, level, file.setup, LIFT, doubts, 8000)
    terms = []
    for doubt in doubts:
        terms.append(_slope(file, doubt) * doubt.sigma)
    terms = np.square(terms)
    assert found.change.std() == pytest.approx(np.sqrt(terms.sum()), rel=0.04)
    np.testing.assert_allclose(found.share, terms / terms.sum(), atol=0.03)
    low, middle, high = found.band(0.6827)
    assert (high - low) / 2 == pytest.approx(np.sqrt(terms.sum()), rel=0.06)
    assert middle == pytest.approx(float(net_change(file.car, file.setup, LIFT)), abs=0.1 * np.sqrt(terms.sum()))


def _slope(file, doubt):
    """∂Δ/∂x by central difference through the records alone."""
    step = 0.002 * abs(doubt.middle)
    values = []
    for shift in (-step, step):
        car, setup, path = file.car, file.setup, doubt.path
        axle, _, field = path.removeprefix("setup.").rpartition(".")
        if path.startswith("setup."):
            setup = replace(setup, **{axle: replace(getattr(setup, axle), **{field: doubt.middle + shift})})
        elif axle == "car":
            car = replace(car, **{field: doubt.middle + shift})
        else:
            car = replace(car, **{axle: replace(getattr(car, axle), **{field: doubt.middle + shift})})
        values.append(float(net_change(car, setup, LIFT)))
    return (values[1] - values[0]) / (2 * step)


@pytest.mark.analytic
def test_numbers_that_err_together_and_numbers_that_err_in_one_setup_only():
    file = examples.load_example("two-seater")
    level = reference_setup(file.car, file.setup)
    grip = Doubt("front.tyre.grip", file.car.front.tyre.grip, sigma=0.05, also=("rear.tyre.grip",))
    errors = draw([grip], 100)
    np.testing.assert_allclose(errors["rear.tyre.grip"], errors["front.tyre.grip"] / grip.middle)
    tape = Doubt("setup.front.height", file.setup.front.height, sigma=0.002, common=False)
    alone = spread(file.car, level, file.setup, LIFT, [tape], 400)
    assert np.ptp(alone.before) == 0
    assert np.ptp(alone.after) > 0
    both = spread(file.car, level, file.setup, LIFT, [replace(tape, common=True)], 400)
    assert np.ptp(both.before) > 0


@pytest.mark.analytic
@pytest.mark.parametrize("name", examples.example_names())
def test_one_car_in_twenty_lies_beyond_each_end_of_every_doubt(name):
    """Low and high are said to be the 5th and 95th percentile, also where a number reaches further up than down."""
    doubts = file_doubts(examples.load_example(name), Kinds())
    assert any(doubt.high - doubt.middle > 2 * (doubt.middle - doubt.low) for doubt in doubts)
    errors = draw(doubts, 10_000)
    for doubt in doubts:
        value = doubt.middle + errors[doubt.path]
        # five standard errors of a share of 5 % of 10,000; a redrawn number no car can have takes some 0.3 % away
        assert np.mean(value < doubt.low) == pytest.approx(0.05, abs=0.014), doubt.path
        assert np.mean(value > doubt.high) == pytest.approx(0.05, abs=0.014), doubt.path
        assert np.mean(value < doubt.middle) == pytest.approx(0.5, abs=0.028), doubt.path


@pytest.mark.analytic
@pytest.mark.parametrize(("field", "value"), [("grip", 2.45), ("shape", 1.97), ("stiffness_load", 29e3)])
def test_a_rear_tyre_near_the_end_of_its_range_is_not_drawn_beyond_it(field, value):
    file = examples.load_example("two-seater")
    rear = replace(file.car.rear, tyre=replace(file.car.rear.tyre, **{field: value}))
    file = replace(file, car=replace(file.car, rear=rear))
    doubt = next(d for d in file_doubts(file, Kinds()) if d.path == f"front.tyre.{field}")
    found = spread(file.car, reference_setup(file.car, file.setup), file.setup, LIFT, [doubt], 2000)
    assert found.known.any()
    errors = draw([doubt], 2000)
    np.testing.assert_allclose(errors[f"rear.tyre.{field}"], errors[doubt.path] / doubt.middle)


@pytest.mark.analytic
def test_the_first_order_share_of_a_known_sum():
    rng = np.random.default_rng(3)
    a, c = rng.normal(size=(2, 20_000))
    b = rng.uniform(-1, 1, 20_000)
    y = 3 * a + 4 * np.sqrt(2) * np.cos(np.pi * b)  # variances 9 and 16; no straight line would see the second
    assert first_order(a, y)[0] == pytest.approx(9 / 25, abs=0.02)
    assert first_order(b, y)[0] == pytest.approx(16 / 25, abs=0.03)
    assert first_order(c, y)[0] < 0.005
    assert first_order(a, np.full_like(a, 2.0)) == (0, 0)
    assert first_order(a[:100], y[:100]) == (0, 0)


@pytest.mark.analytic
@pytest.mark.parametrize("count", [1000, pytest.param(4000, marks=pytest.mark.slow)])
def test_the_error_of_a_share_is_its_scatter_over_many_draws(count):
    rng = np.random.default_rng(4)
    found = []
    for _ in range(400):
        a, b = rng.normal(size=(2, count))
        found.append(first_order(a, 3 * a + 4 * b + a * b))  # variances 9, 16 and 1
    share, error = np.array(found).T
    # with 20 classes the slope inside a class is lost: 9/26 less a little; 400 draws tell a scatter to 3.5 %
    assert share.mean() == pytest.approx(9 / 26, abs=0.01)
    assert error.mean() == pytest.approx(share.std(), rel=0.11)


@pytest.mark.analytic
def test_cars_past_the_limit_are_counted_not_hidden():
    file = examples.load_example("coupe")
    level = reference_setup(file.car, file.setup)
    grip = Doubt("front.tyre.grip", file.car.front.tyre.grip, 0.7, 1.2, also=("rear.tyre.grip",))
    found = spread(file.car, level, file.setup, replace(LIFT, lateral=0.85 * G), [grip], 600)
    assert 0 < found.past_limit < 1
    assert found.known.sum() == round((1 - found.past_limit) * 600)
    none = spread(file.car, level, file.setup, replace(LIFT, lateral=1.9 * G), [grip], 50)
    assert none.past_limit == 1
    assert np.isnan(none.falls)
    assert np.isnan(none.band()).all()


@pytest.mark.analytic
def test_loads_are_those_of_the_trim():
    file = examples.load_example("hatch")
    level = reference_setup(file.car, file.setup)
    sure = Doubt("car.cg_height", file.car.cg_height, sigma=1e-12)
    found = spread(file.car, level, file.setup, LIFT, [sure], 3)
    np.testing.assert_allclose(found.load[..., 0], trim(file.car, file.setup, LIFT).load, rtol=1e-6)


@pytest.mark.parametrize(
    ("doubt", "words"),
    [
        (Doubt("rear.wing_size", 1.0, 0.0, 2.0), "must be a number of the car file"),
        (Doubt("car.cg_height", 0.5), "must be a range"),
        (Doubt("car.cg_height", 5.0, sigma=0.1), "must be a range"),
        (Doubt("car.cg_height", 1.2, sigma=200.0), "must mostly lie within"),
    ],
)
def test_a_doubt_that_makes_no_sense_is_refused_in_words(doubt, words):
    with pytest.raises(InputError, match=words):
        draw([doubt], 2000)
