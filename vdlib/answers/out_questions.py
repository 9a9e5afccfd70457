"""What can be asked of everything that is out: one number of each case, and whether it is short of the limit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.records import Car, Moment, Setup
from ..trim.trim import Heights, shape_of, trim
from ..units import Array, Flags, G
from .hands_still import hands_still_limit
from .limits import ROUGH, SWEEPS, Limits, finer, limits

_GUESS = 0.008 * G
"""How far the limits of a combination may be from what its causes do one by one before they are sought anew [m/s²]."""

Answer = Callable[[Car, Setup, Moment, Heights, Sequence[int]], tuple[Array, Flags]]
"""What is asked: a number of each case, and whether it is short of the limit; ride heights by route as in ``trim``, and
how many cases belong together, in the order of ``combinations``."""


def extra_steering(
    car: Car, setup: Setup, moment: Moment, heights: Heights, blocks: Sequence[int] = ()
) -> tuple[Array, Flags]:
    """Return the understeer angle ``α_f − α_r``, at the peak where an axle slides.

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: its setup [-]
        moment: the moment [-]
        heights: ride heights for single routes [m]
        blocks: of no matter here [-]

    Returns:
        the angle, and whether there is a steady corner [rad]
    """
    found = trim(car, setup, moment, heights)
    return found.understeer_angle, np.asarray(found.usable, dtype=bool)


def limit_gap(
    car: Car,
    setup: Setup,
    moment: Moment,
    heights: Heights,
    blocks: Sequence[int] = (),
    roughly: bool = False,
) -> tuple[Array, Flags]:
    """Return the rear limit less the front limit, turning as the moment does: below zero the rear slides first.

    Parameters:
        car: the car; cases on one axis, in the order of ``combinations`` where they are many, block by block [-]
        setup: its setup [-]
        moment: the moment; of the lateral acceleration only the sign counts [-]
        heights: ride heights for single routes [m]
        blocks: how many cases each block has; one of all if left out [-]
        roughly: with what the causes do one by one, in proportion, and the limits to 0.002 g [-]

    Returns:
        the gap, and whether both ends slide within the model's range [m/s²]

    Validity: as ``limits``.
    """
    (many,) = shape_of(car, setup, moment, heights) or (1,)
    sizes = tuple(blocks) if sum(blocks) == many else (many,)
    starts = np.cumsum((0, *sizes[:-1]))
    few = [start + _few(size) for start, size in zip(starts, sizes, strict=True)]
    every = (car, setup, moment, heights)

    def asked(which: NDArray[np.intp]) -> Limits:
        what: tuple[Car, Setup, Moment, Heights] = _some(every, which)
        return limits(*what, ROUGH if roughly else SWEEPS)

    found = asked(np.concatenate(few))
    at, slides, known = np.empty((2, many)), np.ones((2, many), dtype=bool), 0
    quick = np.zeros(many, dtype=bool)
    for start, size, some in zip(starts, sizes, few, strict=True):
        one, block = slice(known, known + some.size), slice(start, start + size)
        limit, good, known = found.lateral[:, one], found.slides[:, one], known + some.size
        if some.size == size:
            at[:, block], slides[:, block] = limit, good
            continue
        alone = limit[:, 1:-1] - limit[:, :1]  # what each does on its own: a guess of all
        if roughly:
            alone *= _share(limit[:, -1:] - limit[:, :1], alone.sum(axis=1, keepdims=True))
            slides[:, block] = good.all(axis=1, keepdims=True)
        bits = (np.arange(size) >> np.arange(alone.shape[1])[:, None]) & 1
        at[:, block], quick[block] = limit[:, :1] + alone @ bits, not roughly
        if roughly:
            at[:, start + size - 1] = limit[:, -1]
    if quick.any():
        which = np.flatnonzero(quick)
        some_car, some_setup, doing, there = _some(every, which)
        at[:, which] = finer(some_car, some_setup, doing, at[:, which], _GUESS, there)
        slides[:, which] = np.isfinite(at[:, which])
        lost = np.flatnonzero(quick & ~slides.all(axis=0))
        if lost.size:
            rest = asked(lost)
            at[:, lost], slides[:, lost] = rest.lateral, rest.slides
    return at[1] - at[0], np.asarray(slides.all(axis=0))


def _share(whole: Array, alone: Array) -> Array:
    """Return how many times as much all causes do together as one by one; one where that is beyond a half to twice."""
    with np.errstate(all="ignore"):
        times = whole / alone
    return np.where((times > 0.5) & (times < 2.0), times, 1.0)


def _few(size: int) -> NDArray[np.intp]:
    """Which cases of a block are enough to guess the others: none, each alone and all; every one where that is none."""
    if size & (size - 1):
        return np.arange(size)
    return np.unique([0, *(2**i for i in range(size.bit_length() - 1)), size - 1])


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

    def ask(
        car: Car, setup: Setup, moment: Moment, heights: Heights, blocks: Sequence[int] = ()
    ) -> tuple[Array, Flags]:
        turn = np.where(np.asarray(moment.lateral) < 0, -1.0, 1.0)[()]
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
