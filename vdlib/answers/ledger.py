"""Why a change came about: the total shared over its causes so that the parts add up to it, whatever the order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, is_dataclass, replace
from math import factorial
from typing import Any

import numpy as np

from ..car.keys import ENDS
from ..car.records import Car, Moment, Setup
from ..checks import InputError, Problem
from ..glossary import GLOSSARY
from ..trim.trim import ROUTES, Trim, numbers, trim
from ..units import Array, Flags

ROUTE_WORDS: dict[str, str] = {
    "weight": "weight fore and aft",
    "cg_height": "weight height",
    "roll_centres": "roll centres",
    "stops": "bump, droop stops",
    "toe": "toe curve",
    "camber": "camber",
    "caster": "caster",
    "anti": "anti angles",
    "air": "air forces",
}
"""Route → its plain name."""


_HEIGHTS = ("height", "height_difference")
"""What stands for the ride heights of an axle's two wheels."""


@dataclass(frozen=True)
class Ledger:
    """A change of one quantity, here mostly the understeer angle, and the part each cause has in it."""

    causes: tuple[str, ...]
    parts: Array  # (causes, …), adding up to after less before, in the quantity's SI unit [any]
    before: Array
    after: Array
    usable: Flags  # False where a combination on the way is past the limit: the parts are then rough [-]

    @property
    def total(self) -> Array:
        """The whole change, after less before [any]."""
        change: Array = self.after - self.before
        return change

    def largest(self, toward: int) -> int:
        """Return the place of the cause that moves one car most in one direction.

        Parameters:
            toward: +1 for upward, -1 for downward [-]

        Returns:
            its place in ``causes`` [-]

        Errors:
            ``ValueError`` for a ledger of more than one case.
        """
        if self.parts.ndim != 1:
            raise ValueError(f"a ledger of one case is needed, got shape {self.parts.shape[1:]}")
        return int(np.argmax(toward * self.parts))


def understeer_angle(found: Trim) -> Array:
    """Return the understeer angle: front slip angle less rear slip angle.

    Parameters:
        found: the trim [-]

    Returns:
        understeer angle, at the peak where an axle slides [rad]
    """
    return found.understeer_angle


def by_route(
    car: Car,
    setup: Setup,
    start: Setup,
    moment: Moment,
    routes: Sequence[str] = ROUTES,
) -> Ledger:
    """Share the change of the understeer angle between two pairs of ride heights over the routes (Shapley values).

    ``φ_i = Σ_S |S|!·(n−|S|−1)!/n! · (v(S∪{i}) − v(S))`` over all sets S of the other routes.

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: the setup as it stands; everything but ride heights is taken from it [-]
        start: the setup whose ride heights the change is counted from [-]
        moment: the moment [-]
        routes: the routes that act; the others stay at the starting heights [-]

    Returns:
        a ``Ledger`` with one part a route [-]

    Errors:
        ``InputError`` for an unknown route; as ``trim``.

    Validity: as the trim; where a combination is past the limit it counts with its slip at the peak, and ``usable``
    says so.
    Source: L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II (1953), eq. 13.
    """
    need_routes(routes)
    old, new = (tuple(getattr(getattr(s, end), key) for key in _HEIGHTS for end in ENDS) for s in (start, setup))
    there = {end: {key: getattr(getattr(start, end), key) for key in _HEIGHTS} for end in ENDS}
    base = replace(setup, **{end: replace(getattr(setup, end), **own) for end, own in there.items()})

    def solve(inside: Flags, deep: int) -> Trim:
        heights = {
            route: tuple(_either(_lead(inside[i], deep), a, b) for a, b in zip(old, new, strict=True))
            for i, route in enumerate(routes)
        }
        return trim(car, base, moment, heights)

    return shared(tuple(routes), solve, _depth(car, base, moment, *old, *new))


def need_routes(routes: Sequence[str]) -> None:
    """Refuse names that are not routes.

    Parameters:
        routes: names [-]

    Returns:
        nothing [-]

    Errors:
        ``InputError`` for an unknown route.
    """
    unknown = [route for route in routes if route not in ROUTES]
    if unknown:
        raise InputError(
            [Problem("route", repr(unknown[0]), f"must be one of {', '.join(ROUTES)}", "choose one of these")]
        )


def setting_words(setting: str) -> str:
    """Return the plain name of a setting: ``front.spring`` is "front spring rate".

    Parameters:
        setting: a dotted name [-]

    Returns:
        its name [-]
    """
    axle, _, field = setting.rpartition(".")
    return f"{axle} {GLOSSARY[field].name}".strip()


def shared(causes: tuple[str, ...], solve: Callable[[Flags, int], Trim], deep: int) -> Ledger:
    """Solve every combination of causes in one call and share the change of the understeer angle over them.

    Parameters:
        causes: what differs [-]
        solve: (causes, combinations) of whether a cause acts, and the axes behind → the trims of all of them [-]
        deep: axes of one combination's cases [-]

    Returns:
        a ``Ledger`` [-]
    """
    inside = combinations(len(causes))
    found = solve(inside, deep)
    lead = (inside.shape[1], *np.shape(found.state)[1 if causes else 0 :])
    return share_out(causes, found.understeer_angle.reshape(lead), np.reshape(found.usable, lead))


def combinations(n: int) -> Flags:
    """Lay out every combination of causes, none of them first and all of them last.

    Parameters:
        n: number of causes [-]

    Returns:
        whether a cause acts, (n, 2ⁿ) [-]
    """
    return np.asarray((np.arange(2**n) >> np.arange(n)[:, None]) & 1 == 1)


def share_out(causes: tuple[str, ...], value: Array, usable: Flags) -> Ledger:
    """Share a change over its causes, every combination being known.

    Parameters:
        causes: what differs [-]
        value: the understeer angle with each combination, in the order of ``combinations``, (2ⁿ, …) [rad]
        usable: whether it is short of the limit there, (2ⁿ, …) [-]

    Returns:
        a ``Ledger`` [-]

    Source: as ``by_route``.
    """
    n = len(causes)
    inside = combinations(n)
    size = inside.sum(axis=0)
    parts = np.empty((n, *value.shape[1:]))
    weight = np.array([factorial(k) * factorial(n - k - 1) / factorial(n) for k in range(n)])
    for i in range(n):
        without = np.flatnonzero(~inside[i])
        parts[i] = np.tensordot(weight[size[without]], value[without + 2**i] - value[without], axes=1)
    return Ledger(causes, parts, value[0], value[-1], np.asarray(usable.all(axis=0)))


def _lead(flags: Flags, deep: int) -> Flags:
    """Lay the combinations along a new first axis in front of ``deep`` axes of cases."""
    return flags.reshape(-1, *(1,) * deep)


def _either(inside: Flags, old: Any, new: Any) -> Array:
    mixed: Array = np.where(inside, new, old)
    return mixed


def _depth(*things: Any) -> int:
    """Number of axes of the broadcast of records and numbers."""
    leaves = (leaf for thing in things for leaf in (numbers(thing) if is_dataclass(thing) else (thing,)))
    return max(np.ndim(leaf) for leaf in leaves)
