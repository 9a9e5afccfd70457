"""Everything that is out on a car, from its reference to as it is: what each thing has in the change of one answer.

Toe and camber are compared where both were true, at the reference's heights: what the heights do to them along the
curves belongs to the heights, what was set or has slipped belongs to toe and camber.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from ..car.keys import ENDS
from ..car.known import Figures
from ..car.records import SIDES, WHEEL_FIELDS, AxleSetup, Car, Moment, Setup
from ..car.reference import Reference
from ..trim.standing import stands
from ..trim.trim import ROUTES
from ..units import Array, Flags, Value
from .ledger import ROUTE_WORDS, Ledger, combinations, share_out
from .out_questions import Answer, extra_steering, hands_still, limit_gap
from .turns import LEFT, RIGHT, BothTurns, both_turns

AGAIN = "alignment"
"""The cause that is a switch: toe and camber set again, at the new heights, to the reference's figures."""
CAUSES: dict[str, str] = {
    "front.height": "front ride height",
    "rear.height": "rear ride height",
    "front.toe": "front toe",
    "rear.toe": "rear toe",
    "front.camber": "front camber",
    "rear.camber": "rear camber",
    "corners": "corner weights",
    "pressure": "tyre pressures",
    "tyres": "kind of tyre",
    AGAIN: "alignment set again at the new height",
}
"""Cause → its plain name, in the order of a ledger."""
EACH_ROUTE: tuple[tuple[str, ...], ...] = tuple((route,) for route in ROUTES)
"""Every way the heights act on its own."""
_USUAL = ("stops", "roll_centres", "toe", "camber")
MAIN_ROUTES: tuple[tuple[str, ...], ...] = (
    *((route,) for route in _USUAL),
    tuple(route for route in ROUTES if route not in _USUAL),
)
"""The ways that usually matter, and the others taken together: a thirtieth of the cases."""
OTHERS = "others"
"""Name of several ways taken together."""
SAME = 1e-9
"""Numbers that differ by no more, in SI, are not out [any]."""


@dataclass(frozen=True)
class Out:
    """What is out, and its part in the change of one answer from the reference to as the car is."""

    reference: str  # what it is compared with: "book", or another name
    causes: Ledger  # over everything that is out
    routes: Ledger  # the heights' own change, over the ways they act, the rest half with and half without
    in_order: tuple[str, ...] = ()  # causes that differ by no more than the reference's own tolerance

    @property
    def words(self) -> tuple[str, ...]:
        """The plain names of the causes."""
        return tuple(CAUSES[cause] for cause in self.causes.causes)

    @property
    def route_words(self) -> tuple[str, ...]:
        """The plain names of the routes."""
        return tuple((ROUTE_WORDS | {OTHERS: "the other ways together"})[route] for route in self.routes.causes)


def _joined(things: Sequence[Any], sizes: Sequence[int]) -> Any:
    """Return arrays, or records, tuples and dictionaries of arrays, one behind the other; what all share stays."""
    first = things[0]
    if isinstance(first, dict):
        return {key: _joined([thing[key] for thing in things], sizes) for key in first}
    if isinstance(first, tuple):
        return tuple(_joined(each, sizes) for each in zip(*things, strict=True))
    if is_dataclass(first):
        every = {one.name: [getattr(thing, one.name) for thing in things] for one in fields(first)}
        return replace(first, **{name: _joined(each, sizes) for name, each in every.items()})  # type: ignore[type-var]
    if first is None or isinstance(first, str):
        return first
    if not any(np.ndim(thing) for thing in things) and all(thing == first for thing in things):
        return first
    return np.concatenate([np.broadcast_to(thing, (size,)) for thing, size in zip(things, sizes, strict=True)])


def what_is_out(
    car: Car,
    setup: Setup,
    reference: Reference,
    moment: Moment,
    answer: Answer = extra_steering,
    set_again: bool = False,
    routes: Sequence[tuple[str, ...]] = EACH_ROUTE,
) -> Out:
    """Share the change of an answer, from the reference to the car as it is, over everything that is out (Shapley).

    ``φ_i = Σ_S |S|!·(n−|S|−1)!/n! · (v(S∪{i}) − v(S))`` over all sets S of the other causes.

    Parameters:
        car: the car as it is, plain numbers [-]
        setup: its setup, plain numbers [-]
        reference: what it is compared with [-]
        moment: the moment, plain numbers; the turn is that of its lateral acceleration [-]
        answer: what is asked [-]
        set_again: whether toe and camber are set again at the new heights; a row of its own says what that does [-]
        routes: the ways the heights act, alone or several taken together; each doubles the cases [-]

    Returns:
        an ``Out``; the parts of the causes add up to the whole change, those of the routes to what the heights do with
        alignment left as it was, half with everything else as in the reference and half with it as it is [any]

    Errors:
        as the answer.

    Validity: as the answer; what is not out has no row. Springs, bars and caster are the car's own throughout.
    Source: L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II (1953), eq. 13.
    """
    return _all_out(car, setup, reference, (moment,), answer, set_again, routes)[0]


def out_in_turns(
    car: Car,
    setup: Setup,
    reference: Reference,
    moment: Moment,
    answer: Answer = extra_steering,
    set_again: bool = False,
    routes: Sequence[tuple[str, ...]] = EACH_ROUTE,
) -> BothTurns[Out]:
    """Share the change of an answer over everything that is out, in both turns with one question.

    Parameters:
        car: as of ``what_is_out`` [-]
        setup: likewise [-]
        reference: likewise [-]
        moment: likewise; of its lateral acceleration the size counts [-]
        answer: likewise [-]
        set_again: likewise [-]
        routes: likewise [-]

    Returns:
        an ``Out`` of both turns; the one with the lower answer as the car is, is the worse [any]

    Errors:
        as the answer.

    Validity: as ``what_is_out``.
    """
    size = np.abs(moment.lateral)
    both = [replace(moment, lateral=way * size) for way in (LEFT, RIGHT)]
    told = dict(zip((LEFT, RIGHT), _all_out(car, setup, reference, both, answer, set_again, routes), strict=True))
    signs = replace(moment, lateral=1.0)
    return both_turns(lambda way: told[LEFT if way.lateral > 0 else RIGHT], signs, lambda found: found.causes.after)


def _all_out(
    car: Car,
    setup: Setup,
    reference: Reference,
    moments: Sequence[Moment],
    answer: Answer,
    set_again: bool,
    routes: Sequence[tuple[str, ...]],
) -> list[Out]:
    """Return an ``Out`` of each moment; all cases of all of them are asked together."""
    states = _States(car, setup, reference, set_again)
    inside = combinations(len(states.causes))
    every = states.at(dict(zip(states.causes, inside, strict=True)))
    kinds = [(*every, dict.fromkeys(ROUTES, _heights(every[1]))), *states.by_route(routes)]
    many, half = inside.shape[1], 2 ** len(routes)
    sizes = [many, 2 * half][: len(kinds)]
    blocks = sizes * len(moments)
    doing, there = zip(*((moment, kind) for moment in moments for kind in kinds), strict=True)
    asked_car, asked_setup, heights = _joined(there, blocks)
    value, good = _spread(*answer(asked_car, asked_setup, _joined(doing, blocks), heights, blocks), sum(blocks))
    order, out, at = _in_order(states, reference.figures), [], 0
    for _ in moments:
        ends = np.cumsum([at, sizes[0], *(half, half)[: 2 * (len(kinds) - 1)]])
        told = [(value[slice(*pair)], good[slice(*pair)]) for pair in itertools.pairwise(ends)]
        at = int(ends[-1])
        causes = share_out(states.causes, *told[0])
        if len(told) > 1:
            ways = _mean(*(share_out(_names(routes), *one) for one in told[1:]))
        else:
            ways = share_out((), told[0][0][:1], told[0][1][:1])
        out.append(Out(reference.name, causes, ways, order))
    return out


def _heights(setup: Setup) -> tuple[Value, ...]:
    """Return ride heights as ``trim`` takes them for a route: of both ends, then the differences."""
    ends = (setup.front, setup.rear)
    return (*(end.height for end in ends), *(end.height_difference for end in ends))


def _in_order(states: _States, figures: Figures | None) -> tuple[str, ...]:
    """The causes of which every wheel lies within the tolerance that the figures give for it."""
    if figures is None:
        return ()
    found = []
    for cause in states.causes:
        end, _, name = cause.partition(".")
        ends, name = (ENDS, cause) if cause == "pressure" else ((end,), name)
        if cause == "corners":
            far = figures.tolerances.get("cross_weight")
            near = far is not None and not _apart(states.new, states.old, ("cross_weight",), far * (1 + 1e-9))
            near = near and not any(getattr(states.new, e).height_difference for e in ENDS)
        elif name in WHEEL_FIELDS:
            offs = [
                (figures.tolerance(f"{e}_{side}", name), abs(float(new) - float(old)))
                for e in ends
                for side, new, old in zip(
                    SIDES, getattr(states.new, e).wheels(name), getattr(states.old, e).wheels(name), strict=True
                )
            ]
            near = all(far is not None and off <= far * (1 + 1e-9) for far, off in offs)
        else:
            near = False
        found += [cause] if near else []
    return tuple(found)


def _names(routes: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    """Return the name of each group of routes."""
    return tuple(group[0] if len(group) == 1 else OTHERS for group in routes)


def _mean(one: Ledger, two: Ledger) -> Ledger:
    """Return what lies half way between two ledgers of the same causes."""
    parts, before, after = (0.5 * (getattr(one, k) + getattr(two, k)) for k in ("parts", "before", "after"))
    return Ledger(one.causes, parts, before, after, np.asarray(one.usable & two.usable))


def _spread(value: Array, good: Flags, n: int) -> tuple[Array, Flags]:
    """Lay answers out one a combination, also where nothing that differs reached them."""
    return np.broadcast_to(value, (n,)).astype(float), np.broadcast_to(good, (n,))


class _States:
    """The car with any of the things that are out put in or left out."""

    def __init__(self, car: Car, setup: Setup, reference: Reference, set_again: bool) -> None:
        self.car, self.original, self.old = car, reference.car, reference.setup
        self.new = _aligned_at(car, setup, reference.setup)
        out = [
            f"{end}.{name}"
            for name in ("height", "toe", "camber")
            for end in ENDS
            if _apart(getattr(self.new, end), getattr(self.old, end), (name, WHEEL_FIELDS[name]))
        ]
        if _apart(self.new, self.old, ("cross_weight",)) or any(
            _apart(getattr(self.new, end), getattr(self.old, end), ("weighed_difference",)) for end in ENDS
        ):
            out.append("corners")
        names = ("pressure", WHEEL_FIELDS["pressure"])
        if any(_apart(getattr(self.new, end), getattr(self.old, end), names, 1.0) for end in ENDS):
            out.append("pressure")
        if any(getattr(car, end).tyre != getattr(reference.car, end).tyre for end in ENDS):
            out.append("tyres")
        if set_again and any(cause.endswith((".height", ".toe", ".camber")) for cause in out):
            out.append(AGAIN)
        self.causes = tuple(out)

    def by_route(self, routes: Sequence[tuple[str, ...]]) -> list[tuple[Car, Setup, dict[str, tuple[Value, ...]]]]:
        """Return the cases in which the heights act by some of the ways, first with the rest as in the reference and
        then as it is; none where no height is out.

        Toe and camber are left as they were: setting them again has its own row among the causes.
        """
        high = [cause for cause in self.causes if cause.endswith(".height")]
        if not high or not routes:
            return []
        flags = combinations(len(routes))
        both = np.concatenate([flags, flags], axis=1)
        rest = np.arange(both.shape[1]) >= flags.shape[1]
        car, setup = self.at({cause: rest for cause in self.causes if cause not in (*high, AGAIN)})
        heights = {route: _heights(setup) for route in ROUTES}
        pair = [(getattr(self.old, end), getattr(self.new, end)) for end in ENDS]
        for group, on in zip(routes, both, strict=True):
            level = [np.where(on, new.height, old.height) for old, new in pair]
            apart = [np.where(on, new.height_difference, old.height_difference) for old, new in pair]
            heights |= dict.fromkeys(group, (*level, *apart))
        return [(car, setup, heights)]

    def at(self, inside: dict[str, Flags]) -> tuple[Car, Setup]:
        """Return the car and setup in which some causes act: flags of one shape; a cause that is left out does not."""
        off = np.zeros((), dtype=bool)

        def act(cause: str) -> Any:
            return inside.get(cause, off)

        again = act(AGAIN)
        ends: dict[str, Any] = {}
        for end in ENDS:
            old, new = getattr(self.old, end), getattr(self.new, end)
            now: dict[str, Any] = _mixed(act(f"{end}.height"), old, new, "height")
            now |= _mixed(act("pressure"), old, new, "pressure")
            for name in ("toe", "camber"):
                now |= _mixed(act(f"{end}.{name}") & ~again, old, new, name)
            for name in ("height", WHEEL_FIELDS["height"]):
                now[f"aligned_{name}"] = np.where(again, now[name], getattr(old, name))
            now["weighed_difference"] = np.where(act("corners"), new.weighed_difference, old.weighed_difference)
            ends[end] = replace(new, **{key: value[()] for key, value in now.items()})
        cross = np.where(act("corners"), self.new.cross_weight, self.old.cross_weight)[()]
        setup = replace(self.new, cross_weight=cross, **ends)
        car: Any = self.original
        if np.any(act("tyres")):
            axles = {}
            for end in ENDS:
                old, new = getattr(self.original, end).tyre, getattr(self.car, end).tyre
                numbers = {
                    one.name: np.where(act("tyres"), getattr(new, one.name), getattr(old, one.name))
                    for one in fields(new)
                    if one.name != "kind"
                }
                axles[end] = replace(getattr(self.car, end), tyre=replace(new, **numbers))
            car = replace(self.car, **axles)
        return car, setup


def _mixed(acts: Any, old: AxleSetup, new: AxleSetup, name: str) -> dict[str, Array]:
    """Return a number of both wheels and its difference, new where the cause acts."""
    return {key: np.where(acts, getattr(new, key), getattr(old, key)) for key in (name, WHEEL_FIELDS[name])}


def _apart(one: Any, other: Any, names: tuple[str, ...], by: float = SAME) -> bool:
    """Whether two records differ in one of some numbers."""
    return any(abs(float(getattr(one, name)) - float(getattr(other, name))) > by for name in names)


def _aligned_at(car: Car, setup: Setup, reference: Setup) -> Setup:
    """Return the very same setup, its toe and camber told as they would read at the reference's heights."""
    moved: Any = setup
    for end in ENDS:
        level = getattr(reference, end)
        read = {"aligned_height": level.height, "aligned_height_difference": level.height_difference}
        moved = replace(moved, **{end: replace(getattr(setup, end), **read)})
    true, told = stands(car, setup), stands(car, moved)
    for i, end in enumerate(ENDS):
        own = getattr(moved, end)
        for name in ("toe", "camber"):
            off = getattr(true, name)[i] - getattr(told, name)[i]
            own = own.with_wheels(name, *(wheel + by for wheel, by in zip(own.wheels(name), off, strict=True)))
        moved = replace(moved, **{end: own})
    return moved  # type: ignore[no-any-return]


__all__ = [
    "AGAIN",
    "CAUSES",
    "MAIN_ROUTES",
    "Answer",
    "Out",
    "extra_steering",
    "hands_still",
    "limit_gap",
    "what_is_out",
]
