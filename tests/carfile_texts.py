"""Texts of car files and helpers that the car-file tests share."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

import pytest

from vdlib.car import examples
from vdlib.car.carfile import CarFile, parse
from vdlib.car.records import Car, Setup
from vdlib.checks import InputError

NAMES = ("two-seater", "coupe", "hatch")
TEXTS = {name: examples.load_example(name).text for name in NAMES}
BASE = TEXTS["two-seater"]


def faults(text: str) -> dict[str, str]:
    """Field → whole sentence, of everything wrong with a text."""
    with pytest.raises(InputError) as caught:
        parse(text, "my.toml")
    return {problem.field: str(problem) for problem in caught.value.problems}


def edited(old: str, new: str, text: str = BASE) -> str:
    assert old in text
    return text.replace(old, new, 1)


def flat(car: Car, setup: Setup) -> dict[str, Any]:
    """Every number and word of the two records, walked without the help of the module under test."""

    def walk(record: Any, prefix: str) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for field in fields(record):
            value = getattr(record, field.name)
            found |= walk(value, f"{prefix}{field.name}.") if is_dataclass(value) else {prefix + field.name: value}
        return found

    return walk(car, "car.") | walk(setup, "setup.")


def assert_same(one: CarFile, car: Car, setup: Setup) -> None:
    left, right = flat(one.car, one.setup), flat(car, setup)
    assert left.keys() == right.keys()
    for key, value in right.items():
        if value is None or isinstance(value, str):
            assert left[key] == value, key
        else:
            assert left[key] == pytest.approx(value, rel=1e-12, abs=0), key


def corners(fl: float, fr: float, rl: float, rr: float) -> str:
    return (
        f"\n[corner_weights]\nfront_left_kg = {fl}\nfront_right_kg = {fr}\nrear_left_kg = {rl}\nrear_right_kg = {rr}\n"
    )
