"""Everything that is out on a car, from its reference to as it is: what each thing has in the change of one answer.

Toe and camber are compared where both were true, at the reference's heights: what the heights do to them along the
curves belongs to the heights, what was set or has slipped belongs to toe and camber.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from ..car.keys import ENDS
from ..car.known import Figures
from ..car.records import SIDES, WHEEL_FIELDS, AxleSetup, Car, Moment, Setup
from ..car.reference import Reference
from ..trim.standing import stands
from ..trim.trim import ROUTES, Heights, shape_of, trim
from ..units import Array, Flags, G
from .hands_still import hands_still_limit
from .ledger import ROUTE_WORDS, Ledger, combinations, share_out
from .limits import finer, limits

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
MAIN_ROUTES: tuple[tuple[str, ...], ...] = (
    ("stops",),
    ("roll_centres",),
    ("toe",),
    ("camber",),
    ("weight", "cg_height", "caster", "anti", "air"),
)
"""The ways that usually matter, and the others taken together: a thirtieth of the cases."""
OTHERS = "others"
"""Name of several ways taken together."""
SAME = 1e-9
"""Numbers that differ by no more, in SI, are not out [any]."""

_GUESS = 0.008 * G
"""How far the limits of a combination may be from what its causes do one by one before they are sought anew [m/s²]."""

Answer = Callable[[Car, Setup, Moment, Heights], tuple[Array, Flags]]
"""What is asked: a number of each case, and whether it is short of the limit; ride heights by route as in ``trim``."""


def extra_steering(car: Car, setup: Setup, moment: Moment, heights: Heights) -> tuple[Array, Flags]:
    """Return the understeer angle ``α_f − α_r``, at the peak where an axle slides.

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: its setup [-]
        moment: the moment [-]
        heights: ride heights for single routes [m]

    Returns:
        the angle, and whether there is a steady corner [rad]
    """
    found = trim(car, setup, moment, heights)
    return found.understeer_angle, np.asarray(found.usable, dtype=bool)


def limit_gap(car: Car, setup: Setup, moment: Moment, heights: Heights) -> tuple[Array, Flags]:
    """Return the rear limit less the front limit, turning as the moment does: below zero the rear slides first.

    Parameters:
        car: the car; cases on one axis, in the order of ``combinations`` where they are many [-]
        setup: its setup [-]
        moment: the moment; of the lateral acceleration only the sign counts [-]
        heights: ride heights for single routes [m]

    Returns:
        the gap, and whether both ends slide within the model's range [m/s²]

    Validity: as ``limits``.
    """
    (many,) = shape_of(car, setup, moment, heights) or (1,)
    few = np.unique([0, *(2**i for i in range(many.bit_length() - 1)), many - 1])
    found = limits(*_some((car, setup, moment, heights), few))
    if many == few.size or many & (many - 1):
        found = found if many == few.size else limits(car, setup, moment, heights)
        return found.lateral[1] - found.lateral[0], np.asarray(found.slides.all(axis=0))
    alone = found.lateral[:, 1 : few.size - 1] - found.lateral[:, :1]  # what each does on its own: a guess of all
    bits = (np.arange(many) >> np.arange(alone.shape[1])[:, None]) & 1
    at = finer(car, setup, moment, found.lateral[:, :1] + alone @ bits, _GUESS, heights)
    slides = np.isfinite(at)
    lost = np.flatnonzero(~slides.all(axis=0))
    if lost.size:
        rest = limits(*_some((car, setup, moment, heights), lost))
        at[:, lost], slides[:, lost] = rest.lateral, rest.slides
    return at[1] - at[0], np.asarray(slides.all(axis=0))


def hands_still(radius: float, lift: float | None = None, brake: float = 0.0) -> Answer:
    """Make the question for the hands-still limit on one radius; where the grip ends first, that counts.

    Parameters:
        radius: radius of the corner [m]
        lift: engine's drag over weight; None for a speed that is held [-]
        brake: brakes' force over weight, with a lift [-]

    Returns:
        an answer: the limit [m/s²], and whether the hands give it and not the grip [-]

    Validity: as ``hands_still_limit``; of the moment only the turn counts.
    """

    def ask(car: Car, setup: Setup, moment: Moment, heights: Heights) -> tuple[Array, Flags]:
        turn = -1.0 if moment.lateral < 0 else 1.0
        found = hands_still_limit(car, setup, radius, lift, turn, brake, heights)
        return found.limit, found.exists

    return ask


def _some(thing: Any, which: Any) -> Any:
    """Return some of the cases of arrays, or of records, tuples and dictionaries of arrays; what all share stays."""
    if isinstance(thing, np.ndarray):
        return thing if thing.ndim == 0 or thing.shape[-1] == 1 else thing[..., which]
    if isinstance(thing, dict):
        return {key: _some(value, which) for key, value in thing.items()}
    if isinstance(thing, tuple):
        return tuple(_some(value, which) for value in thing)
    if is_dataclass(thing) and not isinstance(thing, type):
        return replace(thing, **{one.name: _some(getattr(thing, one.name), which) for one in fields(thing)})
    return thing


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
    states = _States(car, setup, reference, set_again)
    inside = combinations(len(states.causes))
    asked = answer(*states.at(dict(zip(states.causes, inside, strict=True))), moment, {})
    value, good = _spread(*asked, inside.shape[1])
    causes = share_out(states.causes, value, good)
    none = share_out((), *_spread(value[:1], good[:1], 1))
    by_route = _by_route(states, moment, answer, routes) if routes else none
    return Out(reference.name, causes, by_route, _in_order(states, reference.figures))


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


def _by_route(states: _States, moment: Moment, answer: Answer, routes: Sequence[tuple[str, ...]]) -> Ledger:
    """Share what the heights do over the ways they act, half with the rest as in the reference and half as it is.

    Toe and camber are left as they were: setting them again has its own row among the causes.
    """
    high = [cause for cause in states.causes if cause.endswith(".height")]
    if not high:
        value, good = answer(*states.at({}), moment, {})
        return share_out((), *_spread(value, good, 1))
    flags = combinations(len(routes))
    both = np.concatenate([flags, flags], axis=1)
    rest = np.arange(both.shape[1]) >= flags.shape[1]
    car, setup = states.at({cause: rest for cause in states.causes if cause not in (*high, AGAIN)})
    heights = {}
    acts = {route: on for group, on in zip(routes, both, strict=True) for route in group}
    for route, on in acts.items():
        pair = [(getattr(states.old, end), getattr(states.new, end)) for end in ENDS]
        level = [np.where(on, new.height, old.height) for old, new in pair]
        apart = [np.where(on, new.height_difference, old.height_difference) for old, new in pair]
        heights[route] = (*level, *apart)
    value, good = _spread(*answer(car, setup, moment, heights), both.shape[1])
    half = flags.shape[1]
    names = tuple(group[0] if len(group) == 1 else OTHERS for group in routes)
    one, two = (share_out(names, value[part], good[part]) for part in (slice(half), slice(half, None)))
    parts, before, after = (0.5 * (getattr(one, k) + getattr(two, k)) for k in ("parts", "before", "after"))
    return Ledger(names, parts, before, after, np.asarray(one.usable & two.usable))


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
