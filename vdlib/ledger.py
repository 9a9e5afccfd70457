"""Why a change came about: the total shared over its causes so that the parts add up to it, whatever the order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from math import factorial
from typing import Any

import numpy as np

from .car import AxleSetup, Car, Moment, Setup
from .checks import InputError, Problem
from .glossary import GLOSSARY
from .trim import ROUTES, Trim, numbers, trim
from .units import Array, Flags

Quantity = Callable[[Trim], Array]
"""What is looked at: a function of a trim."""
MOST_CAUSES = 12
"""More causes than this are not shared out at once: their combinations would be over four thousand."""

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


@dataclass(frozen=True)
class Ledger:
    """A change and the part each cause has in it."""

    causes: tuple[str, ...]
    parts: Array  # (causes, …), adding up to after less before [unit of the quantity]
    before: Array
    after: Array
    usable: Flags  # False where a combination on the way is past the limit: the parts are then rough [-]

    @property
    def total(self) -> Array:
        """The whole change, after less before [unit of the quantity]."""
        change: Array = self.after - self.before
        return change

    def largest(self, toward: int) -> int:
        """Give the place of the cause that moves one car most in one direction.

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
    """Give the understeer angle: front slip angle less rear slip angle.

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
    quantity: Quantity = understeer_angle,
) -> Ledger:
    """Share the change from one pair of ride heights to another over the routes it takes (Shapley values).

    ``φ_i = Σ_S |S|!·(n−|S|−1)!/n! · (v(S∪{i}) − v(S))`` over all sets S of the other routes.

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: the setup as it stands; everything but ride heights is taken from it [-]
        start: the setup whose ride heights the change is counted from [-]
        moment: the moment [-]
        routes: the routes that act; the others stay at the starting heights [-]
        quantity: what is looked at [-]

    Returns:
        a ``Ledger`` with one part a route [-]

    Errors:
        ``InputError`` for an unknown route; as ``trim``.

    Validity: as the trim; where a combination is past the limit it counts with its slip at the peak, and ``usable``
    says so.
    Source: L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II (1953), eq. 13.
    """
    need_routes(routes)
    old, new = (start.front.height, start.rear.height), (setup.front.height, setup.rear.height)
    base = setup.with_heights(*old)

    def solve(inside: Flags, deep: int) -> Trim:
        heights = {
            route: tuple(_either(_lead(inside[i], deep), a, b) for a, b in zip(old, new, strict=True))
            for i, route in enumerate(routes)
        }
        return trim(car, base, moment, heights)  # type: ignore[arg-type]

    return shared(tuple(routes), solve, quantity, _depth(car, base, moment, *old, *new))


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


def changes(start: Setup, setup: Setup) -> tuple[str, ...]:
    """List the settings that differ between two setups, by dotted name.

    Parameters:
        start: the one [-]
        setup: the other [-]

    Returns:
        names such as ``front.spring`` [-]
    """
    found = []
    for field in fields(Setup):
        one, other = getattr(start, field.name), getattr(setup, field.name)
        if is_dataclass(one):
            inner = (f.name for f in fields(AxleSetup))
            found += [f"{field.name}.{n}" for n in inner if not np.array_equal(getattr(one, n), getattr(other, n))]
        elif not np.array_equal(one, other):
            found.append(field.name)
    return tuple(found)


def setting_words(setting: str) -> str:
    """Give the plain name of a setting: ``front.spring`` is "front spring rate".

    Parameters:
        setting: a dotted name as of ``changes`` [-]

    Returns:
        its name [-]
    """
    axle, _, field = setting.rpartition(".")
    return f"{axle} {GLOSSARY[field].name}".strip()


def by_setting(car: Car, setup: Setup, start: Setup, moment: Moment, quantity: Quantity = understeer_angle) -> Ledger:
    """Share the change from one setup to another over the settings that differ (Shapley values, as ``by_route``).

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: the setup changed to [-]
        start: the setup changed from [-]
        moment: the moment [-]
        quantity: what is looked at [-]

    Returns:
        a ``Ledger`` with one part a setting, by dotted name [-]

    Errors:
        ``InputError`` when more than ``MOST_CAUSES`` settings differ; as ``trim``.

    Validity: as ``by_route``.
    Source: as ``by_route``.
    """
    names = changes(start, setup)
    if len(names) > MOST_CAUSES:
        rule = f"must be {MOST_CAUSES} or fewer to be shared out"
        raise InputError([Problem("changed settings", str(len(names)), rule, "compare in two steps")])

    def solve(inside: Flags, deep: int) -> Trim:
        mixed = start
        for i, name in enumerate(names):
            mixed = _put(mixed, name, _either(_lead(inside[i], deep), _get(start, name), _get(setup, name)))
        return trim(car, mixed, moment)

    return shared(names, solve, quantity, _depth(car, start, moment, *(_get(setup, name) for name in names)))


def shared(causes: tuple[str, ...], solve: Callable[[Flags, int], Trim], quantity: Quantity, deep: int) -> Ledger:
    """Solve every combination of causes in one call and weigh the differences.

    Parameters:
        causes: what differs [-]
        solve: (causes, combinations) of whether a cause acts, and the axes behind → the trims of all of them [-]
        quantity: what is looked at [-]
        deep: axes of one combination's cases [-]

    Returns:
        a ``Ledger`` [-]
    """
    inside = combinations(len(causes))
    found = solve(inside, deep)
    lead = (inside.shape[1], *np.shape(found.state)[1 if causes else 0 :])
    return weigh(causes, np.asarray(quantity(found)).reshape(lead), np.reshape(found.usable, lead))


def combinations(n: int) -> Flags:
    """Lay out every combination of causes, none of them first and all of them last.

    Parameters:
        n: number of causes [-]

    Returns:
        whether a cause acts, (n, 2ⁿ) [-]
    """
    return np.asarray((np.arange(2**n) >> np.arange(n)[:, None]) & 1 == 1)


def weigh(causes: tuple[str, ...], value: Array, usable: Flags) -> Ledger:
    """Share a change over its causes, every combination being known.

    Parameters:
        causes: what differs [-]
        value: the quantity with each combination, in the order of ``combinations``, (2ⁿ, …) [any]
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


def _get(setup: Setup, name: str) -> Any:
    axle, _, field = name.rpartition(".")
    return getattr(getattr(setup, axle) if axle else setup, field)


def _put(setup: Setup, name: str, value: Any) -> Setup:
    axle, _, field = name.rpartition(".")
    if not axle:
        return replace(setup, **{field: value})
    return replace(setup, **{axle: replace(getattr(setup, axle), **{field: value})})
