"""The motion after a lift against a general rigid-body engine driven through the same lift (``engine_motion.py``)."""

from dataclasses import replace

import numpy as np
import pytest
from engine_motion import Moving

from vdlib.answers.corner import HOLDS, Corner
from vdlib.answers.forgiven import SLIDE, forgiven_speed
from vdlib.answers.lift import Scenario, simulate
from vdlib.car import examples
from vdlib.car.records import reference_setup
from vdlib.units import to_si

KMH = to_si(1.0, "kmh")
CORNER = Corner(60.0, lift=0.15)
SLIDES = {"hatch": 0.25}
"""Where slides may differ by more than a tenth. The hatch's inner rear wheel hardly touches, and what little the two
models differ by in its load shows: 17 to 20 % seen. With caster that neither lifts nor leans a wheel it is 8 to 12 %:
our wheel loads go with the steering of a settled corner, the sliding car's with the steering that is held."""
pytestmark = pytest.mark.analytic


def even(setup):
    """The setup without differences left to right."""
    ends = {
        end: replace(own, **{name: 0.0 for name in vars(own) if name.endswith("_difference")})
        for end, own in (("front", setup.front), ("rear", setup.rear))
    }
    return replace(setup, cross_weight=0.5, **ends)


def case(name, sunk):
    file = examples.load_example(name)
    car = replace(file.car, left_share=0.5)
    setup = even(file.setup)
    return car, setup if sunk else even(reference_setup(car, setup))


def ours(car, setup, speed):
    scenario = Scenario(speed, float(CORNER.lateral(speed)), CORNER.lift, starts=0.0, lasts=4.0)
    return simulate(car, setup, scenario)


def engines(model, car, setup, speed, before=4.0, after=4.0):
    """The engine's run at a speed, brought into its corner from about where ours starts."""
    run = ours(car, setup, speed)
    side = float(run.sideslip[0])
    start = (speed * np.cos(side), speed * np.sin(side), speed / CORNER.radius, *run.slip[:, 0], float(run.steer[0]))
    found = model.drive(speed, CORNER.radius, CORNER.lift, start, before=before, after=after)
    assert found.steady < 2e-3
    assert found.steer == pytest.approx(float(run.steer[0]), abs=np.radians(0.05))  # the two corners are the same one
    return found


@pytest.mark.parametrize("name", ["low-two-seater"])
def test_a_lift_is_forgiven_and_not_forgiven_on_either_side_of_our_speed(name):
    """Tail on its stops: one km/h below the engine forgives too, one above it does not either."""
    car, setup = case(name, sunk=True)
    speed = float(forgiven_speed(car, setup, CORNER, HOLDS).speed)
    model = Moving(car, setup, step=3e-3)
    below = engines(model, car, setup, speed - KMH, 2.5, 2.5).slide
    assert below.max() < SLIDE
    assert below[-1] < 0.5 * below.max()  # it has come back
    assert engines(model, car, setup, speed + KMH, 2.5).slide.max() > SLIDE


@pytest.mark.slow
def test_in_the_engine_too_the_low_tail_costs_speed_and_the_high_nose_hardly_any():
    car, level = case("low-two-seater", sunk=False)
    front, rear = float(level.front.height), float(level.rear.height)
    sunk, nose = level.with_heights(front + 0.018, rear - 0.024), level.with_heights(front + 0.042, rear)
    roomy = replace(car, rear=replace(car.rear, bump_gap=0.045))
    found = []
    for own, setup in ((car, level), (car, sunk), (car, nose), (roomy, level), (roomy, sunk)):
        model, speed = Moving(own, setup), float(forgiven_speed(own, setup, CORNER, HOLDS).speed)
        low, high = speed - 1.5 * KMH, speed + 1.0 * KMH
        while high - low > 0.1 * KMH:
            middle = 0.5 * (low + high)
            out = engines(model, own, setup, middle).slide.max() > SLIDE
            low, high = (low, middle) if out else (middle, high)
        found.append(high)
    print("story in the engine", [speed * 3.6 for speed in found])
    assert found[0] - found[1] > 1.0 * KMH
    assert abs(found[0] - found[2]) < 0.35 * (found[0] - found[1])
    assert found[3] - found[4] < 0.35 * (found[0] - found[1])  # with travel given back, sinking hardly costs anything
    assert found[4] > found[0]  # and travel beats heights


def edge(slides, low, high):
    """The speed at which a slide passes the threshold, to 0.03 km/h."""
    while high - low > 0.03 * KMH:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if slides(middle) > SLIDE else (middle, high)
    return 0.5 * (low + high)


def beside(car, setup):
    """Our speed and the engine's at which the slide passes the threshold, and both slides at some distances below."""
    model = Moving(car, setup)

    def mine(speed):
        return float(ours(car, setup, speed).slide.max())

    def theirs(speed):
        return float(engines(model, car, setup, speed).slide.max())

    near = float(forgiven_speed(car, setup, CORNER, HOLDS).speed)
    own, engine = (edge(slides, near - 1.2 * KMH, near + 1.2 * KMH) for slides in (mine, theirs))
    slides = np.array([(mine(own - below * KMH), theirs(engine - below * KMH)) for below in (1.0, 2.0, 3.0)])
    print(f"ours {own * 3.6:.2f} engine {engine * 3.6:.2f} ratio", slides[:, 0] / slides[:, 1])
    return own, engine, slides


@pytest.mark.slow
@pytest.mark.parametrize("sunk", [True, False], ids=["as it stands", "at its reference heights"])
@pytest.mark.parametrize("name", examples.example_names())
def test_forgiven_speed_and_slides_are_the_engines(name, sunk):
    """Within 0.3 km/h; slides within 10 % at equal distance from each model's own, the hatch's within 25."""
    own, engine, slides = beside(*case(name, sunk))
    assert engine == pytest.approx(own, abs=0.3 * KMH)
    np.testing.assert_allclose(slides[:, 0], slides[:, 1], rtol=SLIDES.get(name, 0.10))


@pytest.mark.slow
@pytest.mark.parametrize("sunk", [True, False], ids=["as it stands", "at its reference heights"])
def test_without_caster_the_hatchs_slides_are_nearer_the_engines(sunk):
    """Nearly half of what is left goes with it; it is seen in the hatch alone."""
    car, setup = case("hatch", sunk)
    _, _, slides = beside(replace(car, caster_offset=0.0), replace(setup, caster=0.0))
    np.testing.assert_allclose(slides[:, 0], slides[:, 1], rtol=0.13)
