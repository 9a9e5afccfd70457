"""Changes of the core drawn at random: the tests must see nearly all of them."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import mutants
import pytest
from mutants import COUNT, EQUIVALENT, MODULES, ROOT, SEED, Change, drawn, places, survivors


@pytest.fixture(scope="module", autouse=True)
def known() -> Iterator[dict[str, list[Change]]]:
    """The places of each module, looked for once for all tests."""
    found = {module: list(places(module)) for module in MODULES}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mutants, "places", lambda module: iter(found[module]))
        yield found


def test_every_change_is_of_code_that_still_compiles() -> None:
    for one in drawn():
        raw = (ROOT / "vdlib" / f"{one.module}.py").read_bytes()
        old = one.old.encode()
        assert raw[one.start : one.start + len(old)] == old
        ast.parse(raw[: one.start] + one.new.encode() + raw[one.start + len(old) :])


def test_what_is_drawn_depends_on_the_number_alone(known: dict[str, list[Change]]) -> None:
    assert drawn() == drawn(SEED)
    assert drawn() != drawn(SEED + 1)
    assert len({one.told for one in drawn()}) > 0.9 * COUNT
    assert {one.module for one in drawn()} <= set(MODULES)
    assert all(len(found) > 3 for found in known.values())
    assert list(places(one := next(iter(MODULES)))) == known[one]
    assert all(len(proof) > 40 for proof in EQUIVALENT.values())


@pytest.mark.slow
def test_fifty_five_of_sixty_changes_are_seen() -> None:
    left = survivors()
    assert len(left) <= COUNT - 55, "\n".join(left)
