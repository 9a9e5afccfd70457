"""Pure functions that remember their answers: what several tests of a file ask for is worked out once."""

from __future__ import annotations

import pickle
from types import ModuleType
from typing import Any

KEPT: dict[tuple[str, str], dict[bytes, Any]] = {}
"""Module and name → what was asked, pickled → the answer."""


def remember(patch: Any, module: ModuleType, name: str) -> None:
    """Let a module's pure function answer from memory where it was asked the same before.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it; the answers stay [-]
        module: the module that calls the function [-]
        name: the function's name there; its answers must be records of plain numbers, which nobody can change [-]
    """
    plain, kept = getattr(module, name), KEPT.setdefault((module.__name__, name), {})

    def asked(*given: Any, **named: Any) -> Any:
        key = pickle.dumps((given, named))
        if key not in kept:
            kept[key] = plain(*given, **named)
        return kept[key]

    patch.setattr(module, name, asked)
