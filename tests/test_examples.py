"""The examples in the docstrings of functions a workbook's reader may meet give what they say."""

from __future__ import annotations

import doctest
import importlib

import pytest
from rooms import PATHS

pytestmark = pytest.mark.unpainted
WITH = [name for name, path in PATHS.items() if ">>> " in path.read_text("utf-8")]


@pytest.mark.parametrize(
    "name",
    [  # every run: test_reasons asks for the same film
        pytest.param(name, marks=pytest.mark.slow) if name == "vdlib.panels.reasons" else name for name in WITH
    ],
)
def test_the_examples_of_a_module_hold(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted > 0
    assert found.failed == 0


def test_there_are_examples_in_every_room_that_a_reader_meets() -> None:
    assert {name.split(".")[1] for name in WITH} >= {
        "units",
        "shown",
        "car",
        "trim",
        "lessons",
        "garage",
        "laps",
        "panels",
    }
