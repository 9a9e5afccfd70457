"""Left and right turns of one car: with wheels that differ it does not turn alike both ways; the worse comes first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from ..car.records import Car, Setup
from ..trim.standing import stands
from ..units import Array
from .corner import Corner
from .limits import Limits

LEFT, RIGHT = 1, -1
ALIKE = 1e-9
"""Answers of two turns that differ by no more, as part of the larger, are alike [-]."""
_T = TypeVar("_T")


@dataclass(frozen=True)
class BothTurns(Generic[_T]):
    """One answer in a left and in a right turn."""

    left: _T
    right: _T
    worse: NDArray[np.int_]  # LEFT, RIGHT, or 0 where both are alike [-]

    @property
    def first(self) -> _T:
        """The answer of the worse turn of one case, of the left one where both are alike."""
        return self.right if int(self.worse) == RIGHT else self.left

    @property
    def second(self) -> _T:
        """The answer of the other turn of one case."""
        return self.left if int(self.worse) == RIGHT else self.right

    @property
    def words(self) -> tuple[str, ...]:
        """The names of the turns of one case, the worse first; one name for both where they are alike."""
        return {LEFT: ("left turn", "right turn"), RIGHT: ("right turn", "left turn")}.get(
            int(self.worse), ("either turn",)
        )


def both_turns(answer: Callable[[Any], _T], doing: Any, good: Callable[[_T], Any]) -> BothTurns[_T]:
    """Ask the same question in a left and in a right turn.

    Parameters:
        answer: what is asked, a function of what the car is doing [-]
        doing: a ``Corner``, or a record with a lateral acceleration, of which the size counts, such as a ``Moment`` [-]
        good: how good an answer is, more being better; NaN, no answer at all, is the worst [any]

    Returns:
        both answers and which turn is worse [-]
    """
    if isinstance(doing, Corner):
        ways = [replace(doing, turn=turn) for turn in ("left", "right")]
    else:
        ways = [replace(doing, lateral=way * np.abs(doing.lateral)) for way in (LEFT, RIGHT)]
    left, right = (answer(way) for way in ways)
    one, two = (np.nan_to_num(np.asarray(good(each), dtype=float), nan=-np.inf) for each in (left, right))
    with np.errstate(invalid="ignore"):
        near = np.abs(one - two) <= ALIKE * np.maximum(np.abs(one), np.abs(two))
    alike = (one == two) | (near & np.isfinite(one) & np.isfinite(two))
    return BothTurns(left, right, np.where(alike, 0, np.where(one < two, LEFT, RIGHT)))


def limit_gap(found: Limits) -> Array:
    """Return by how much the rear's limit lies above the front's: below zero the rear slides first.

    Parameters:
        found: the limits [-]

    Returns:
        rear limit less front limit [m/s²]
    """
    gap: Array = found.lateral[1] - found.lateral[0]
    return gap


def thrust_angle(car: Car, setup: Setup) -> Any:
    """Return where the rear axle steers, standing: half of right toe less left toe, to the left positive.

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: the setup, likewise [-]

    Returns:
        thrust angle [rad]

    Validity: each wheel's toe at its own ride height.
    """
    toe = stands(car, setup).toe[1]
    return 0.5 * (toe[1] - toe[0])
