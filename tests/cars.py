"""The example cars for tests that take seconds a car: one in every run, the others under the mark ``slow``."""

import pytest

from vdlib.car import examples

FIRST, *OTHERS = examples.example_names()
FIRST_OR_SLOW = [FIRST, *(pytest.param(name, marks=pytest.mark.slow) for name in OTHERS)]
