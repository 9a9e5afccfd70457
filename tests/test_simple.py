"""A car in the closed forms' terms: against the trim's own balance, and the wheel in the air by moments."""

from dataclasses import replace

import numpy as np
import pytest

from vdlib.car import examples, tyre
from vdlib.car.records import Moment, reference_setup
from vdlib.checks import InputError
from vdlib.lessons import bicycle, simple
from vdlib.trim.trim import trim
from vdlib.units import G, to_si

CARS = examples.example_names()


def plain(name):
    """An example car at its reference heights: rigid tyres, roll centres that stay, no stops, toe or camber change."""
    file = examples.load_example(name)

    def axle(own):
        return replace(
            own, roll_centre_slope=0.0, bump_gap=0.25, droop_gap=0.25, camber_slope=0.0, toe_slope=0.0,
            toe_bend=0.0, anti_brake=0.0, anti_drive=0.0, lift_area=0.0, lift_attitude=0.0,
        )  # fmt: skip

    def rigid(own):
        object.__setattr__(own, "tyre_rate", 1e8)  # stiffer than the record allows: the closed forms' tyre is rigid
        return own

    front, rear = rigid(axle(file.car.front)), rigid(axle(file.car.rear))
    car = replace(file.car, front=front, rear=rear, caster_offset=0.0, drag_area=0.0)
    return car, reference_setup(car, file.setup)


@pytest.mark.analytic
@pytest.mark.parametrize("name", CARS)
@pytest.mark.parametrize(("lateral", "along"), [(0.0, 0.0), (0.3, 0.0), (-0.5, 0.0), (0.4, -0.2), (0.3, 0.1)])
def test_wheel_loads_agree_with_the_trim_of_a_stiff_tyred_car(name, lateral, along):
    # another solver: heave, roll, pitch and four wheels balanced by Newton's method; it also counts how the leaning,
    # sinking body moves the load, which the closed form leaves out: 0.3 % of a wheel's standing load, 1 % of the roll
    car, setup = plain(name)
    found = simple.wheel_loads(car, setup, lateral * G, along * G)
    other = trim(car, setup, Moment(speed=25.0, lateral=lateral * G, longitudinal=along * G, braking=1.0))
    assert not found.lifted.any()
    assert found.load == pytest.approx(other.load, abs=0.003 * car.mass * G / 4)
    assert found.transfer.roll.angle == pytest.approx(float(other.roll), rel=0.01, abs=1e-9)


@pytest.mark.analytic
@pytest.mark.parametrize("name", CARS)
def test_loads_keep_weight_and_moments_even_with_a_wheel_in_the_air(name):
    file = examples.load_example(name)
    car = file.car
    lateral = np.linspace(-1, 1, 25) * G
    along = np.array([-0.4, 0.0])[:, None] * G
    light = "front" if car.front_share < 0.5 else "rear"
    own = getattr(file.setup, light)
    stiff = replace(file.setup, **{light: replace(own, bar=to_si(2000, "Nm_per_deg"))})
    found = simple.wheel_loads(replace(car, cg_height=0.6), stiff, lateral, along)
    assert found.lifted.any()
    assert not found.lifted.all()
    assert np.all(found.load >= 0)
    assert found.load.sum(axis=(0, 1)) == pytest.approx(car.mass * G)
    track = np.array([car.front.track, car.rear.track])[:, None, None]
    held = ((found.load[:, 1] - found.load[:, 0]) * track / 2).sum(axis=0)
    before = ((found.standing[:, 1] - found.standing[:, 0]) * track / 2).sum(axis=0)
    asked = found.transfer.front.total * car.front.track + found.transfer.rear.total * car.rear.track
    assert held - before == pytest.approx(np.broadcast_to(asked, held.shape), abs=1e-6)
    shift = found.load[1].sum(axis=0) - found.standing[1].sum(axis=0)
    assert shift == pytest.approx(np.broadcast_to(car.mass * along * 0.6 / car.wheelbase, shift.shape))


def test_a_moment_that_no_car_stands_is_refused_in_words():
    file = examples.load_example("two-seater")
    with pytest.raises(InputError, match="the car would tip over"):
        simple.wheel_loads(replace(file.car, cg_height=1.1), file.setup, 1.2 * G, 0.0)
    with pytest.raises(InputError, match="an end of the car would leave the ground"):
        simple.wheel_loads(replace(file.car, cg_height=1.1), file.setup, 0.0, -1.5 * G)


@pytest.mark.analytic
@pytest.mark.parametrize("name", CARS)
def test_two_wheel_car_keeps_mass_place_and_tyres(name):
    file = examples.load_example(name)
    car = file.car
    two = simple.two_wheel(car, file.setup)
    assert two.front_mass == pytest.approx(car.mass * car.front_share)
    assert two.wheelbase == pytest.approx(car.wheelbase)
    even = simple.two_wheel(replace(car, left_share=0.5), replace(file.setup, cross_weight=0.5))
    wheel = car.mass * G * (1 - car.front_share) / 2
    assert even.rear_stiffness == pytest.approx(
        2 * tyre.cornering_stiffness(car.rear.tyre, wheel, file.setup.rear.pressure)
    )
    assert bicycle.understeer_gradient(even).total == pytest.approx(
        even.front_mass / even.front_stiffness - even.rear_mass / even.rear_stiffness
    )


def test_arrays_broadcast():
    file = examples.load_example("hatch")
    car = replace(file.car, mass=np.array([1200.0, 1400.0])[:, None])
    found = simple.wheel_loads(car, file.setup, np.array([0.1, 0.2, 0.3]) * G, 0.0)
    assert found.load.shape == (2, 2, 2, 3)
    one = simple.wheel_loads(replace(file.car, mass=1400.0), file.setup, 0.2 * G, 0.0)
    assert found.load[:, :, 1, 1] == pytest.approx(one.load)
