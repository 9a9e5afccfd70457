"""The example cars for tests that take seconds a car: one in every run, the others under the mark ``slow``."""

from functools import cache

import pytest

from vdlib.car import examples
from vdlib.car.reference import reference_of
from vdlib.setup.driven import OwnCorner
from vdlib.setup.promised import Promise, promise

FIRST, *OTHERS = examples.example_names()
TWO_OR_SLOW = [
    name if name in (FIRST, "hatch") else pytest.param(name, marks=pytest.mark.slow) for name in (FIRST, *OTHERS)
]
"""Where a second car shows what the first cannot: the hatch's inner rear wheel lifts, and its front is driven."""
FIRST_OR_SLOW = [FIRST, *(pytest.param(name, marks=pytest.mark.slow) for name in OTHERS)]
BRIEF_OR_SLOW = [
    pytest.param(FIRST, True, id=FIRST),
    *(pytest.param(name, False, id=f"{name}-all", marks=pytest.mark.slow) for name in (FIRST, *OTHERS)),
]
"""A car, and whether only the first control of each kind is driven: all of them on all cars under the mark ``slow``."""


@cache
def promise_of_the_story() -> Promise:
    """What the story's page says of the driver's corner, for pages that are asked about something else."""
    file = examples.load_example(FIRST)
    return promise(file.car, file.setup, reference_of(file).setup, OwnCorner())
