"""Changes of the core drawn at random: the tests must see nearly all of them."""

from __future__ import annotations

import ast

import pytest
from mutants import COUNT, EQUIVALENT, MODULES, ROOT, SEED, drawn, places, survivors


def test_every_change_is_of_code_that_still_compiles() -> None:
    for one in drawn():
        raw = (ROOT / "vdlib" / f"{one.module}.py").read_bytes()
        old = one.old.encode()
        assert raw[one.start : one.start + len(old)] == old
        ast.parse(raw[: one.start] + one.new.encode() + raw[one.start + len(old) :])


def test_what_is_drawn_depends_on_the_number_alone() -> None:
    assert drawn() == drawn(SEED)
    assert drawn() != drawn(SEED + 1)
    assert len({one.told for one in drawn()}) > 0.9 * COUNT
    assert {one.module for one in drawn()} <= set(MODULES)
    assert all(len(list(places(module))) > 3 for module in MODULES)
    assert all(len(proof) > 40 for proof in EQUIVALENT.values())


@pytest.mark.slow
def test_fifty_five_of_sixty_changes_are_seen() -> None:
    left = survivors()
    assert len(left) <= COUNT - 55, "\n".join(left)
