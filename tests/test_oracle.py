"""The trim against an independent one, over every field of the records drawn at random: a wrong sign anywhere fails."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from operator import attrgetter
from typing import Any

import numpy as np
import pytest
from drawn_cars import batch, picked
from oracle import apart, loop_over, one_of, unbalanced

from vdlib.car.records import Car, Moment, Setup
from vdlib.glossary import GLOSSARY
from vdlib.trim.trim import Trim, trim
from vdlib.units import to_si

NOT_IN_A_STEADY_CORNER = {"car.yaw_inertia": "it acts while the car turns faster or slower, never in a steady corner"}
"""Numbers of the records that a steady corner does not depend on, and why."""
LEFT = 1e-7
"""Most that may be left unbalanced, over the weight; 1e-4 degrees of slip is about 1e-5 of it."""
SEEDS = [*range(4), *(pytest.param(n, marks=pytest.mark.slow) for n in range(4, 8))]
RECORDS = ("car", "setup", "moment")
Case = tuple[Car, Setup, Moment]


def leaves(record: Any, prefix: str) -> Iterator[str]:
    """Dotted path of every number of a record, found without the help of the code under test."""
    for field in fields(record):
        value = getattr(record, field.name)
        if is_dataclass(value):
            yield from leaves(value, f"{prefix}.{field.name}")
        elif not isinstance(value, str):
            yield f"{prefix}.{field.name}"


def moved(record: Any, path: str) -> Any:
    """The record with one number moved by a quarter of the way to the middle of its range."""
    name, _, rest = path.partition(".")
    value = getattr(record, name)
    if rest:
        return replace(record, **{name: moved(value, rest)})
    low, high = (to_si(edge, GLOSSARY[name].unit) for edge in (GLOSSARY[name].low, GLOSSARY[name].high))
    return replace(record, **{name: value + 0.25 * ((low + high) / 2 - value)})


def side_by_side(records: list[Any]) -> Any:
    """Records of one kind as one, every number with a new first axis."""
    new = {}
    for field in fields(records[0]):
        each = [getattr(record, field.name) for record in records]
        if is_dataclass(each[0]):
            new[field.name] = side_by_side(each)
        elif each[0] is not None and not isinstance(each[0], str):
            new[field.name] = np.stack(np.broadcast_arrays(*each))
    return replace(records[0], **new)


def drawn(seed: int, wild: float, n: int) -> tuple[Case, Trim, list[int]]:
    """Cars drawn at random, their trim, and those of them that have a steady corner."""
    car, setup, moment = batch(seed, wild, n)
    rng = np.random.default_rng(seed)
    for end in ("front", "rear"):  # the batch's cars all have one reference height; here each its own, stance as it was
        axle, own = getattr(car, end), getattr(setup, end)
        more = rng.uniform(-0.02, 0.02, np.shape(own.height))
        car = replace(car, **{end: replace(axle, reference_height=axle.reference_height + more)})
        heights = {"height": own.height + more, "aligned_height": own.aligned_height + more}
        setup = replace(setup, **{end: replace(own, **heights)})
    case = (car, setup, moment)
    found = trim(*case)
    return case, found, [int(i) for i in np.flatnonzero(found.usable)]


@pytest.mark.analytic
@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("wild", [0.0, 0.1])
def test_other_equations_leave_nothing_over_at_the_trims_answer(seed: int, wild: float) -> None:
    case, found, kept = drawn(seed, wild, 48)
    assert len(kept) > (24 if wild == 0 else 4)
    assert max(unbalanced(*case, found, i) for i in kept) < LEFT


@pytest.mark.analytic
@pytest.mark.parametrize("seed", range(4))
def test_another_solver_of_other_equations_agrees(seed: int) -> None:
    case, found, kept = drawn(seed, 0.0, 24)
    kept = kept[:6]
    answers = loop_over([tuple(one_of(record, i) for record in case) for i in kept])
    assert max(apart(found, i, answer) for i, answer in zip(kept, answers, strict=True)) < np.radians(1e-4)


def test_every_number_of_the_records_is_drawn_and_would_be_missed() -> None:
    """Told one number wrong, the trim leaves far more over in the other equations than where both are told it right."""
    case, _, kept = drawn(3, 0.05, 72)
    some = {name: picked(record, kept) for name, record in zip(RECORDS, case, strict=True)}
    everything = [path for name, record in some.items() for path in leaves(record, name)]
    assert len(everything) > 75
    told = [path for path in everything if path not in NOT_IN_A_STEADY_CORNER]
    for path in told:
        head, _, rest = path.partition(".")
        assert np.ptp(attrgetter(rest)(some[head])) > 0, f"{path} is not drawn"
    variants = {name: [] for name in RECORDS}
    for path in told:
        head, _, rest = path.partition(".")
        for name, record in some.items():
            variants[name].append(moved(record, rest) if name == head else record)
    wrong = trim(**{name: side_by_side(records) for name, records in variants.items()})
    silent = []
    for row, path in enumerate(told):
        found = wrong.pick(row)
        good = [int(i) for i in np.flatnonzero(found.usable)]
        if not any(unbalanced(**some, found=found, i=i) > 100 * LEFT for i in good):
            silent.append(path)
    assert not silent


@pytest.mark.analytic
@pytest.mark.parametrize("path", NOT_IN_A_STEADY_CORNER)
def test_what_is_left_out_changes_nothing_at_all(path: str) -> None:
    case, found, _ = drawn(3, 0.0, 20)
    other = replace(case[0], **{path.partition(".")[2]: np.full(np.shape(case[0].mass), 900.0)})
    again = trim(other, *case[1:])
    for field in fields(Trim):
        np.testing.assert_array_equal(getattr(found, field.name), getattr(again, field.name))
