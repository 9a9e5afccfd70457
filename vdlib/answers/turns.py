"""Left and right turns of one car: with wheels that differ it does not turn alike both ways; the worse comes first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from ..car.records import Car, Moment, Setup
from ..trim.standing import stands
from ..units import Array
from .balance import Balance, balance
from .corner import Corner, Driver
from .forgiven import ForgivenSpeed, forgiven_speed
from .hands_still import HandsStill, hands_still_limit
from .lift import Run, simulate
from .limits import Limits, limits
from .scenario import Scenario

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


def balance_in_turns(car: Car, setup: Setup, moment: Moment) -> BothTurns[Balance]:
    """Read the balance in both turns; the one with less extra steering, nearer oversteer, is the worse.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: what the car is doing; of the lateral acceleration the size counts [-]

    Returns:
        ``Balance`` of both turns [-]

    Errors:
        as ``balance``.

    Validity: as ``balance``. The rear axle's steer, half its difference of toe, takes from one turn what it gives to
    the other.
    """
    return both_turns(lambda doing: balance(car, setup, doing), moment, lambda found: found.understeer_angle)


def limits_in_turns(car: Car, setup: Setup, moment: Moment) -> BothTurns[Limits]:
    """Find the limits of both ends in both turns; the one with the smaller limit gap is the worse.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: speed and longitudinal acceleration [-]

    Returns:
        ``Limits`` of both turns [-]

    Errors:
        as ``limits``.

    Validity: as ``limits``.
    """
    doing = replace(moment, lateral=1.0)
    return both_turns(lambda way: limits(car, setup, way), doing, lambda found: limit_gap(found))


def hands_still_in_turns(car: Car, setup: Setup, corner: Corner) -> BothTurns[HandsStill]:
    """Find the hands-still limit in both turns of a corner; the lower is the worse.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        corner: the corner; its own turn does not count [-]

    Returns:
        ``HandsStill`` of both turns [-]

    Errors:
        as ``hands_still_limit``.

    Validity: as ``hands_still_limit``.
    """

    def ask(way: Corner) -> HandsStill:
        return hands_still_limit(car, setup, way.radius, way.lift, way.sign, way.brake)

    return both_turns(ask, corner, lambda found: found.limit)


def forgiven_in_turns(car: Car, setup: Setup, corner: Corner, driver: Driver | None = None) -> BothTurns[ForgivenSpeed]:
    """Find the forgiven speed in both turns of a corner; the lower is the worse.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        corner: the corner; its own turn does not count [-]
        driver: what the hands do; a driver who did not expect it if left out [-]

    Returns:
        ``ForgivenSpeed`` of both turns [-]

    Errors:
        as ``forgiven_speed``.

    Validity: as ``forgiven_speed``.
    """
    return both_turns(lambda way: forgiven_speed(car, setup, way, driver), corner, lambda found: found.speed)


def slide_in_turns(car: Car, setup: Setup, scenario: Scenario) -> BothTurns[Run]:
    """Drive the seconds after the foot moves in both turns; the one with the larger slide is the worse.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        scenario: the corner, the feet and the hands; of its lateral acceleration the size counts [-]

    Returns:
        a ``Run`` of both turns [-]

    Errors:
        as ``simulate``.

    Validity: as ``simulate``.
    """
    return both_turns(lambda way: simulate(car, setup, way), scenario, lambda run: -run.slide.max(axis=0))


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
