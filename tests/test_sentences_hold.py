"""Sentences of the workbooks about what a car does, each held against the model that stands beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from vdlib.answers import limits, split
from vdlib.answers.balance import balance
from vdlib.answers.spread import Spread
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.glossary import GLOSSARY
from vdlib.lessons.bicycle import characteristic_speed
from vdlib.lessons.terms import TERMS
from vdlib.trim.trim import trim
from vdlib.units import G, from_si, to_si

NAMES = examples.example_names()


def both_ends(record: Any, **numbers: float) -> Any:
    return replace(record, **{end: replace(getattr(record, end), **numbers) for end in ("front", "rear")})


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_a_car_whose_inner_wheel_is_up_leans_further_for_each_further_g(name: str) -> None:
    file = examples.load_example(name)
    lateral = np.linspace(0.05, 1.3, 251) * G
    found = trim(file.car, file.setup, Moment(30.0, lateral))
    held = np.isfinite(found.roll)
    up = ((found.load <= 0).any(axis=(0, 1))) & held
    if not up.any():  # make it lift one: a stiff bar at the end that is nearer to it
        stiff = replace(file.setup, rear=replace(file.setup.rear, bar=to_si(2500.0, "Nm_per_deg")))
        found = trim(file.car, stiff, Moment(30.0, lateral))
        held = np.isfinite(found.roll)
        up = ((found.load <= 0).any(axis=(0, 1))) & held
    first = int(np.argmax(up))
    assert up.any()
    assert 10 < first < 245
    lean = np.diff(np.abs(found.roll)) / np.diff(lateral)
    assert lean[first + 1] > 1.1 * lean[first - 5]
    assert "leans further" in TERMS["droop_gap"].feel


@pytest.mark.analytic
@pytest.mark.parametrize("name", NAMES)
def test_cross_weight_above_half_understeers_more_in_left_turns(name: str) -> None:
    file = examples.load_example(name)
    more = replace(file.setup, cross_weight=0.53)
    side = np.array([1.0, -1.0])  # a left turn, a right turn
    angle = [balance(file.car, s, Moment(30.0, side * 0.6 * G)).understeer_angle for s in (file.setup, more)]
    change = angle[1] - angle[0]
    assert change[0] > 0 > change[1]
    assert "understeers more in left turns" in TERMS["cross_weight"].feel
    assert "more understeer in left turns" in GLOSSARY["cross_weight"].plain


@pytest.mark.analytic
def test_the_end_with_the_larger_share_need_not_slide_first() -> None:
    file = examples.load_example("hatch")
    closed = Moment.in_phase("lift", 30.0, 0.8 * G)
    share = split.front_share(trim(file.car, file.setup, closed))
    found = limits.limits(file.car, file.setup, closed)
    assert share > 0.5
    assert found.first == 1  # the rear slides first all the same


def test_no_sentence_sends_a_frightened_driver_to_the_closed_throttle() -> None:
    told = TERMS["understeer"].feel
    assert "lifting usually" not in told
    assert "ease the throttle" in told
    assert "snapped shut" in told


@pytest.mark.analytic
def test_the_workbooks_divisor_of_the_gradient_is_the_one_of_the_units() -> None:
    # K = 1 deg/g, L = 2.5 m: √(2.5·562) = 37.5 m/s = 135 km/h; with K left in deg/g it would be 1.6 m/s
    assert to_si(1.0, "deg_per_g") == pytest.approx(1 / 562, rel=5e-4)
    assert from_si(characteristic_speed(2.5, to_si(1.0, "deg_per_g")), "kmh") == pytest.approx(135, abs=0.5)


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("falls", "rises", "lost"), [(190, 760, 50), (195, 755, 50), (1, 1, 998), (0, 1000, 0), (495, 505, 0), (5, 5, 990)]
)
def test_of_a_hundred_cars_the_three_kinds_sum_to_a_hundred(falls: int, rises: int, lost: int) -> None:
    change = np.concatenate([np.full(falls, -1.0), np.full(rises, 1.0), np.full(lost, np.nan)])
    empty = np.zeros(0)
    found = Spread(change, change, change, np.zeros((2, 2, 1000)), (), empty, empty)
    assert sum(found.of_hundred) == 100
    assert np.abs(np.array(found.of_hundred) - np.array([falls, rises, lost]) / 10).max() < 1
