"""What kind of car it is: the words that stand for usual numbers where nothing was measured."""

from __future__ import annotations

from dataclasses import dataclass

from ..checks import InputError, Problem
from .typical_table import BODIES, HEIGHTS, ROWS, SUSPENSIONS
from .tyre import KINDS

TYRES = tuple(KINDS)
"""Kinds of tyre."""


@dataclass(frozen=True)
class Kinds:
    """What kind of car it is, in words from the lists ``SUSPENSIONS``, ``TYRES``, ``BODIES`` and ``HEIGHTS``."""

    front: str = "double wishbone"
    rear: str = "double wishbone"
    tyre: str = "fast road"
    body: str = "saloon or hatch"
    height: str = "standard height"

    def __post_init__(self) -> None:
        lists = {"front": kinds_at("front"), "rear": kinds_at("rear"), "tyre": TYRES, "body": BODIES, "height": HEIGHTS}
        said = {
            "front": "front suspension",
            "rear": "rear suspension",
            "tyre": "tyre",
            "body": "body",
            "height": "ride height",
        }
        wrong = [
            Problem(
                f"kind of {said[k]}",
                repr(getattr(self, k)),
                f"must be one of {', '.join(known)}",
                "choose the nearest one",
            )
            for k, known in lists.items()
            if getattr(self, k) not in known
        ]
        if wrong:
            raise InputError(wrong)


def kinds_at(end: str) -> tuple[str, ...]:
    """List the kinds of suspension that exist at one end of a car.

    Parameters:
        end: "front" or "rear" [-]

    Returns:
        words [-]
    """
    return tuple(k for k in SUSPENSIONS if any(r.field == "roll_centre" and (r.end, r.kind) == (end, k) for r in ROWS))
