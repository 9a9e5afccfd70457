"""Pure functions that remember their answers: what several tests of a file ask for is worked out once.

An answer's arrays can no longer be written to, so nobody can change what the next one is given.
"""

from __future__ import annotations

import pickle
from hashlib import blake2b
from types import ModuleType
from typing import Any

import numpy as np

from vdlib.answers import forgiven, lift
from vdlib.laps import evidence
from vdlib.panels import day_laps, day_sessions, measure_parts, what_happened
from vdlib.trim import trim

KEPT: dict[tuple[str, str], dict[bytes, Any]] = {}
"""Module and name → print of what was asked → the answer."""
DEAREST = (
    (trim, "solve"),
    (forgiven, "spins"),
    (lift, "march"),
    (day_laps, "compare"),
    (day_laps, "calmer"),
    (evidence, "estimate"),
    (day_sessions, "turning"),
    (what_happened, "turning"),
    (measure_parts, "leaning"),
)
"""What panels ask for again and again: a corner balanced, a lift driven, sessions compared, slides looked for."""


def forget() -> None:
    """Forget every answer, also where a patch is alive: they take room, and another file asks other things."""
    for kept in KEPT.values():  # emptied where they are, for who asks holds them
        kept.clear()


def remember(patch: Any, module: ModuleType, name: str) -> None:
    """Let a module's pure function answer from memory where it was asked the same before.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it; the answers stay [-]
        module: the module that calls the function [-]
        name: the function's name there; its answers must be numbers and arrays, or records of them [-]
    """
    plain, kept = getattr(module, name), KEPT.setdefault((module.__name__, name), {})

    def asked(*given: Any, **named: Any) -> Any:
        key = blake2b(pickle.dumps((given, named))).digest()
        if key not in kept:
            kept[key] = _closed(plain(*given, **named))
        return kept[key]

    patch.setattr(module, name, asked)


def remember_dearest(patch: Any) -> None:
    """Let all that panels ask for again and again be worked out once.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it; the answers stay [-]
    """
    for module, name in DEAREST:
        remember(patch, module, name)


def _closed(answer: Any) -> Any:
    """Close every array of an answer to writing."""
    for part in answer.values() if isinstance(answer, dict) else getattr(answer, "__dict__", {}).values():
        _closed(part)
    if isinstance(answer, np.ndarray):
        answer.flags.writeable = False
    return answer
