"""The least change of setup that reaches a request, such as "as calm on a lift as at the reference"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..answers.doubts import doubts_of
from ..answers.ledger import understeer_angle
from ..answers.spread import spread
from ..car.carfile import CarFile
from ..car.records import Moment
from ..car.reference import reference_of
from ..car.typical import Kinds
from ..units import Array
from .advice import Ask, Gains, Lever, gains, turned, value, worst
from .candidate import Version
from .whatif import Comparison, compare

_ROUNDS = 6
_TRIES = 12
_HIT = 2e-4  # of the goal's own unit


@dataclass(frozen=True)
class RequestAnswer:
    """The least change that was found for a request, on the workshop's finest steps."""

    ask: Ask
    target: float  # [goal's unit]
    steps: dict[str, float]  # dotted name → change [SI]
    version: Version
    found: Comparison  # the car as it stands, then the answer, in the turn furthest from what is wanted at first
    already: bool  # whether the car as it stands meets the request
    reached: bool

    @property
    def start(self) -> float:
        """The goal of the car as it stands [goal's unit]."""
        return value(self.found, self.ask, 0)

    @property
    def end(self) -> float:
        """The goal of the answer [goal's unit]."""
        return value(self.found, self.ask, 1)


def least(slope: Array, need: float, low: Array, high: Array, usual: Array) -> Array:
    """Compute the bounded change of least size that a straight-line goal needs: ``min Σ(x_i/u_i)²``, ``s·x = need``.

    Without bounds ``x = λ·s·u²``; with them each is cut to its bounds, and λ found by halving.

    Parameters:
        slope: gain of the goal for one unit of each, shape (n,) [any]
        need: gain wanted, zero or more [any]
        low: least change allowed, zero or less, shape (n,) [any]
        high: greatest change allowed, zero or more, shape (n,) [any]
        usual: size of one usual change, shape (n,) [any]

    Returns:
        the change; every bound that helps where even that is not enough, shape (n,) [any]

    Source: Boyd & Vandenberghe, Convex Optimization (2004), section 5.5.3, the conditions of optimality (from memory).
    """
    most = np.where(slope > 0, high, np.where(slope < 0, low, 0.0))
    if need <= 0 or slope @ most <= need:
        return most if need > 0 else np.zeros_like(slope)
    pull = slope * np.square(usual)
    bottom, top = 0.0, float(np.max(np.abs(most[slope != 0] / pull[slope != 0])))
    for _ in range(100):
        middle = 0.5 * (bottom + top)
        short = slope @ np.clip(middle * pull, low, high) < need
        bottom, top = (middle, top) if short else (bottom, middle)
    return np.clip(top * pull, low, high)


def solve(base: Version, ask: Ask, target: float, wanted: Sequence[Lever]) -> RequestAnswer:
    """Find the least change that brings a goal to a target: Newton steps of least size, cut to the bounds.

    Parameters:
        base: the car as it stands [-]
        ask: what is wanted [-]
        target: the goal to be reached or passed the wanted way [any]
        wanted: the levers that may be turned [-]

    Returns:
        an ``Answer``; ``reached`` is False where no allowed change was found that gets there [-]

    Errors:
        as ``trim``.

    Validity: a local search from the car as it stands, then by the workshop's steps, one lever at a time; a goal that
    bends back on itself may be missed, and two levers changed together may now and then do with a little less.
    """
    now = value(compare([base], ask.speed, ask.lateral, (ask.phase,)), ask)
    if (now - target) * ask.way >= -_HIT or np.isnan(now):
        return _answer(base, ask, target, {}, not np.isnan(now))
    steps = _rounded(base, ask, target, _newton(base, ask, target, wanted), wanted)
    return _answer(base, ask, target, _settled(base, ask, target, steps, wanted), False)


def guess(base: Version, ask: Ask, target: float, wanted: Sequence[Lever], known: Gains) -> RequestAnswer:
    """Guess the answer to a request from the settings' gains at the car as it stands: one Newton step of ``solve``.

    Parameters:
        base: the car as it stands [-]
        ask: what is wanted [-]
        target: the goal to be reached or passed the wanted way [any]
        wanted: the levers that may be turned [-]
        known: gains of these levers in this order or of more, in the phase asked about [-]

    Returns:
        as ``solve``; its change, in the workshop's finest steps, may be more than is needed or less, and limits in
        phases neither asked about nor with the throttle closed are rough [-]

    Errors:
        as ``trim``.
    """
    now, fine = value(known.base, ask), (ask.phase, "lift")
    if (now - target) * ask.way >= -_HIT or np.isnan(now) or not wanted:
        return _answer(base, ask, target, {}, bool((now - target) * ask.way >= -_HIT), fine)
    slope = np.nan_to_num(known.of(ask)) * ask.way
    low, high, usual, grid = np.array([[o.low - o.now, o.high - o.now, o.usual, o.grid] for o in wanted]).T
    size = least(slope, (target - now) * ask.way, low, high, usual) / grid
    up, down = np.floor(high / grid + 1e-6), np.ceil(low / grid - 1e-6)
    counts = np.clip(np.sign(size) * np.ceil(np.abs(size) - 1e-6), down, up)
    steps = {one.path: float(n * one.grid) for one, n in zip(wanted, counts, strict=True) if n}
    return _answer(base, ask, target, steps, False, fine)


def at_reference(file: CarFile) -> Version:
    """Return the car at the figures it is compared with, toe and camber set at those heights.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Version`` [-]
    """
    reference = reference_of(file)
    return Version(reference.name, replace(reference.car, yaw_inertia=float(reference.car.inertia)), reference.setup)


def share_better(
    file: CarFile,
    kinds: Kinds,
    base: Version,
    after: Version,
    ask: Ask,
    count: int = 2000,
    seed: int = 1,
    errors: Mapping[str, float] | None = None,
) -> float:
    """Return the share of plausible cars whose goal a change moves the wanted way.

    Parameters:
        file: the car file, for where its numbers come from [-]
        kinds: what kind of car it is, for the numbers that were not measured [-]
        base: the car as it stands [-]
        after: the car changed; only its setup counts [-]
        ask: what is wanted [-]
        count: how many plausible cars [-]
        seed: seed of the generator [-]
        errors: path → one standard deviation of its own measurement, in SI, where one is known [any]

    Returns:
        the share among the cars that hold the corner both ways; NaN where none does [-]

    Errors:
        as ``spread.spread``.

    Validity: for the gap between the limits the moment itself is asked: which end is nearer its limit, and by how much;
    for the growth of a slide, the local yaw stability. An error of a reading is the same before and after.
    """
    quantity = {
        "gap": lambda found: found.use[0] - found.use[1],
        "steering": understeer_angle,
        "growth": lambda found: found.cg_to_axle[1] * found.stiffness[1] - found.cg_to_axle[0] * found.stiffness[0],
    }[ask.goal]
    doubts = [replace(doubt, common=True) for doubt in doubts_of(file, kinds, errors)]
    turn = worst(compare([base], ask.speed, ask.lateral, (ask.phase,)), ask).turn
    moment = Moment.in_phase(ask.phase, ask.speed, turn * ask.lateral)
    change = spread(base.car, base.setup, after.setup, moment, doubts, count, seed, quantity).change
    known = np.isfinite(change)
    return float(np.mean(change[known] * ask.way > 0)) if known.any() else float("nan")


def _newton(base: Version, ask: Ask, target: float, wanted: Sequence[Lever]) -> dict[str, float]:
    """Closest change found before rounding."""
    low = np.array([lever.low - lever.now for lever in wanted])
    high = np.array([lever.high - lever.now for lever in wanted])
    usual = np.array([lever.usual for lever in wanted])
    x = best = np.zeros(len(wanted))
    nearest = np.inf
    for _ in range(_ROUNDS if len(wanted) else 0):
        there = replace(base, setup=turned(base.setup, {lever.path: v for lever, v in zip(wanted, x, strict=True)}))
        found = gains(there, ask, wanted, (ask.phase,))
        short = (target - value(found.base, ask)) * ask.way
        if np.isnan(short):
            break
        if abs(short) < nearest:
            best, nearest = x, abs(short)
        slope = np.nan_to_num(found.of(ask)) * ask.way
        new = least(slope, short + float(slope @ x), low, high, usual)
        if abs(short) < _HIT or np.allclose(new, x, rtol=0, atol=1e-9):
            break
        x = new
    return {lever.path: float(v) for lever, v in zip(wanted, best, strict=True)}


def _rounded(
    base: Version, ask: Ask, target: float, steps: Mapping[str, float], wanted: Sequence[Lever]
) -> dict[str, float]:
    """Round to the workshop's finest steps within the bounds: the least of several ways that reaches the target."""
    sizes = [steps[lever.path] / lever.grid for lever in wanted]
    rooms = [(lever.high - lever.now, lever.now - lever.low) for lever in wanted]
    ups = [size > 0 or (size == 0 and up >= down) for size, (up, down) in zip(sizes, rooms, strict=True)]
    most = [
        float(np.floor((up if rises else down) / lever.grid + 1e-6))
        for lever, rises, (up, down) in zip(wanted, ups, rooms, strict=True)
    ]
    counts = [min(round(abs(size)), top) for size, top in zip(sizes, most, strict=True)]
    one_more = [
        [n + (k == i and n < top) for k, (n, top) in enumerate(zip(counts, most, strict=True))]
        for i in range(len(wanted))
    ]
    tries = [counts, *one_more, counts]
    for i in sorted(range(len(wanted)), key=lambda i: counts[i] - abs(sizes[i])):
        tries.append([*tries[-1][:i], min(tries[-1][i] + 1, most[i]), *tries[-1][i + 1 :]])
    told = [
        {
            lever.path: float(n * lever.grid * (1 if rises else -1))
            for lever, n, rises in zip(wanted, one, ups, strict=True)
            if n
        }
        for one in tries
    ]
    there = [Version("", base.car, turned(base.setup, one)) for one in told]
    found = compare(there, ask.speed, ask.lateral, (ask.phase,))
    ends = [value(found, ask, row) * ask.way for row in range(len(told))]
    hits = [row for row, end in enumerate(ends) if end >= target * ask.way - _HIT]
    usual = {lever.path: lever.usual for lever in wanted}
    if hits:
        return told[min(hits, key=lambda row: sum((step / usual[path]) ** 2 for path, step in told[row].items()))]
    return told[int(np.argmax(np.nan_to_num(ends, nan=-1e9)))]


def _settled(
    base: Version, ask: Ask, target: float, steps: Mapping[str, float], wanted: Sequence[Lever]
) -> dict[str, float]:
    """Go on by the workshop's steps, one lever at a time, while that comes nearer or reaches the target with less."""
    best = dict(steps)
    for _ in range(_TRIES):
        told = [best]
        for lever in wanted:
            for n in (1, -1, 4, -4):
                step = (round(best.get(lever.path, 0.0) / lever.grid) + n) * lever.grid
                if lever.low - 1e-9 <= lever.now + step <= lever.high + 1e-9:
                    others = {path: other for path, other in best.items() if path != lever.path}
                    told.append(others | ({lever.path: step} if abs(step) > 0.5 * lever.grid else {}))
        there = [Version("", base.car, turned(base.setup, one)) for one in told]
        found = compare(there, ask.speed, ask.lateral, (ask.phase,))
        ends = np.array([value(found, ask, row) for row in range(len(told))])
        short = np.maximum(np.nan_to_num((target - ends) * ask.way, nan=np.inf) - _HIT, 0.0)
        size = np.array([sum((one.get(lever.path, 0.0) / lever.usual) ** 2 for lever in wanted) for one in told])
        row = int(np.lexsort((size, short))[0])
        if (short[row], size[row]) == (short[0], size[0]):
            break
        best = told[row]
    return best


def _answer(
    base: Version,
    ask: Ask,
    target: float,
    steps: dict[str, float],
    already: bool,
    fine: Sequence[str] | None = None,
) -> RequestAnswer:
    there = Version("the answer", base.car, turned(base.setup, steps))
    found = worst(compare([base, there], ask.speed, ask.lateral, fine=fine), ask)
    end = value(found, ask, 1)
    return RequestAnswer(ask, target, steps, there, found, already, bool((end - target) * ask.way >= -_HIT))
