"""The README's words on the invented cars are what the model says of them."""

import re
from pathlib import Path

import numpy as np
import pytest

from vdlib.answers import film_words
from vdlib.answers.height_study import net_change, study
from vdlib.car import examples
from vdlib.car.records import Moment, attitude, reference_setup
from vdlib.panels.compare_cars import LATERAL, SPEED
from vdlib.panels.stage import filmed
from vdlib.trim.trim import trim
from vdlib.units import G, from_si, to_si

README = " ".join((Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8").split())
NUMBERS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}
LOW = "low-two-seater"
SEVERAL = 3.0
"""What "several times" must be at least."""


def moment(phase):
    return Moment.in_phase(phase, to_si(SPEED, "kmh"), LATERAL * G)


def claim(before, after):
    """Return the README's word between two pieces of its text."""
    return re.search(f"{re.escape(before)}(.*?){re.escape(after)}", README)[1]


@pytest.fixture(scope="module")
def cars():
    """The low car is the last."""
    return [examples.load_example(name) for name in sorted(examples.example_names(), key=lambda name: name == LOW)]


@pytest.fixture(scope="module")
def by_heights(cars):
    return np.array([float(net_change(file.car, file.setup, moment("steady"))) for file in cars])


@pytest.fixture(scope="module")
def by_throttle(cars):
    found = [
        [trim(file.car, reference_setup(file.car, file.setup), moment(phase)) for phase in ("steady", "lift")]
        for file in cars
    ]
    return np.array([float(lift.understeer_angle - steady.understeer_angle) for steady, lift in found])


def test_the_cars_are_as_many_and_as_nose_high(cars):
    assert claim("On three of the ", " invented cars") == NUMBERS[len(cars)]
    assert all(attitude(file.car, file.setup) > 0 for file in cars)


def test_which_way_the_heights_move_a_steady_corner(by_heights):
    said = claim("moves the balance in a steady corner a little toward *", "*steer")
    assert np.isfinite(by_heights).all()
    assert said == {1.0: "under", -1.0: "over"}[float(np.sign(by_heights[:-1]).mean())]  # a mixture has neither
    assert claim("sinking onto the stops moves it toward *", "*steer") == "over"
    assert by_heights[-1] < 0


def test_the_roll_centres_outweigh_the_bump_stops(cars):
    assert claim("steer: the ", " outweigh") == "roll centres"
    for file in cars:
        ledger = study(file.car, file.setup, moment("steady")).ledger
        part = dict(zip(ledger.causes, ledger.parts, strict=True))
        assert (part["roll_centres"] > max(0.0, -part["stops"])) == (file is not cars[-1])


def test_closing_the_throttle_moves_it_several_times_further(by_heights, by_throttle):
    assert claim("Closing the throttle moves it several times further, toward ", ".") == "oversteer"
    assert (by_throttle < 0).all()
    assert (np.abs(by_throttle) >= SEVERAL * np.abs(by_heights))[:-1].all(), np.abs(by_throttle / by_heights)


def test_the_first_sentence_is_the_films():
    found = filmed(examples.load_example(examples.FIRST))
    said = [float(value) for value in re.findall(r"\d+\.\d", claim("forgiven up to", "half the lift"))]
    at = [from_si(float(found.forgiven[found.place(key)]), "kmh") for key in ("reference", "nose", "tail")]
    assert said == pytest.approx(at, abs=0.051), "the README's three speeds are not those of the film"
    assert film_words.culprit(found) == 1
    lost = {key: film_words.lost(found, key) for key in ("now", "foot")}
    assert lost["now"] - lost["foot"] > lost["now"]
