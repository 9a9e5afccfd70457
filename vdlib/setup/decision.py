"""How sure for the decision: does the car's state move its gap toward oversteer, and which reading would settle it.

One draw of plausible cars answers everything: the chance that the decision is wrong now, and what is left of it once a
reading that a person can take is taken, alone or with others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..answers.spread import Doubt, Tried, plausible_pair, tried
from ..car.records import Car, Moment, Setup
from ..trim.trim import trim
from ..units import Array, Flags, to_si
from .whatif import uneven

READINGS: dict[str, tuple[str, ...]] = {
    "free shaft to the rear stops, standing": ("rear.bump_gap",),
    "free shaft to the front stops, standing": ("front.bump_gap",),
    "the four heights": ("setup.front.height", "setup.rear.height"),
    "four corner scales": ("car.mass", "car.front_share", "car.left_share", "setup.cross_weight"),
    "rear toe and camber at three heights": ("rear.toe_slope", "rear.toe_bend", "rear.camber_slope"),
    "front toe and camber at three heights": ("front.toe_slope", "front.toe_bend", "front.camber_slope"),
    "the rates printed on the springs": ("setup.front.spring", "setup.rear.spring"),
    "motion ratios": ("front.motion_ratio", "rear.motion_ratio"),
    "the bars' sizes": ("setup.front.bar", "setup.rear.bar"),
    "an axle lift in a workshop": ("car.cg_height",),
    "roll centres from four front-view points": ("front.roll_centre", "rear.roll_centre"),
    "pressures": ("setup.front.pressure", "setup.rear.pressure"),
    "an alignment print-out": ("setup.front.toe", "setup.rear.toe", "setup.front.camber", "setup.rear.camber"),
}
"""Reading that a person can take → the numbers it tells."""
TAKEN: dict[str, tuple[float, str]] = {
    "bump_gap": (2.0, "mm"),
    "height": (1.5, "mm"),
    "mass": (2.0, "kg"),
    "front_share": (0.2, "percent"),
    "left_share": (0.2, "percent"),
    "cross_weight": (0.3, "percent"),
    "toe_slope": (1.0, "deg_per_m"),
    "toe_bend": (25.0, "deg_per_m2"),
    "camber_slope": (1.0, "deg_per_m"),
    "cg_height": (20.0, "mm"),
    "roll_centre": (15.0, "mm"),
    "pressure": (0.03, "bar"),
    "toe": (0.05, "deg"),
    "camber": (0.1, "deg"),
}
"""How well each number is known once it is read (one standard deviation); common practice, no source."""
PART = {"spring": 0.03, "motion_ratio": 0.03, "bar": 0.15}
"""The same as a part of the number; common practice, no source."""
WORTH = 0.005
"""A reading that cuts the chance of being wrong by less than this is not worth the work; common practice, no source."""
_CLASSES = 20


@dataclass(frozen=True)
class Decision:
    """What the plausible cars say of one decision."""

    change: Array  # (cars,) of how far the rear is from its limit against the front, toward oversteer negative [-]
    worse: float  # part of the cars that move toward oversteer
    wrong: float  # chance of deciding wrongly now
    left: dict[str, float]  # reading → chance of deciding wrongly once it is taken, the best first
    together: tuple[tuple[str, ...], float]  # the best few readings, and the chance that is left with all of them

    @property
    def best(self) -> str:
        """The reading that settles most; empty where none is worth the work."""
        name = next(iter(self.left), "")
        return name if name and self.wrong - self.left[name] >= WORTH else ""


def decide(
    car: Car,
    reference: Setup,
    now: Setup,
    doubts: Sequence[Doubt],
    moment: Moment,
    count: int = 6000,
    seed: int = 1,
    few: int = 3,
    known: Tried | None = None,
) -> Decision:
    """Ask plausible cars whether their state moves which end lets go first toward the rear.

    With p the chance of "toward oversteer" the decision is the likelier side, wrong with ``min(p, 1 − p)``. After a
    reading it is wrong with ``E[min(p(x), 1 − p(x))]``; p(x) from 20 equal classes of a forecast of the change by the
    numbers read, each with the error it is then read with; made on one half of the cars and tried on the other.

    Parameters:
        car: the car, plain numbers [-]
        reference: setup counted from [-]
        now: setup as it is [-]
        doubts: what is not known exactly [-]
        moment: the moment asked about; of its lateral acceleration the size counts [-]
        count: how many plausible cars [-]
        seed: seed of the generator [-]
        few: how many readings are tried together [-]
        known: from ``tried`` with the same numbers in the worse turn, to save trying them again [-]

    Returns:
        a ``Decision`` [-]

    Errors:
        as ``spread.draw``.

    Validity: which end is nearer its limit at the moment itself stands for the gap between the limits; in the worse
    turn, as of ``worse_way``.
    Source: expected value of partial information, Raiffa & Schlaifer (1961), from memory.
    """
    if known is None:
        known = tried(car, reference, now, worse_way(car, reference, now, moment), doubts, count, seed)
    use, errors = (known.before.use, known.after.use), known.errors
    change = np.broadcast_to((use[1][0] - use[1][1]) - (use[0][0] - use[0][1]), (count,)).astype(float)
    good = np.isfinite(change)
    change = change[good]
    worse = change < 0
    noise = np.random.default_rng(seed + 1)
    read = {}
    for name, paths in READINGS.items():
        here = [doubt for doubt in doubts if doubt.path in paths]
        columns = [_read(doubt, errors[doubt.path][good], noise) for doubt in here]
        if any(column is not None for column in columns):
            read[name] = np.stack([column for column in columns if column is not None], axis=1)
    wrong = float(min(worse.mean(), 1 - worse.mean()))
    left = {name: min(wrong, after(x, change, worse)) for name, x in read.items()}
    order = dict(sorted(left.items(), key=lambda pair: pair[1]))
    names = tuple(order)[:few]
    with_all = wrong
    if names:
        with_all = min(left[names[0]], after(np.concatenate([read[n] for n in names], axis=1), change, worse))
    return Decision(change, float(worse.mean()), wrong, order, (names, float(with_all)))


def worse_way(car: Car, reference: Setup | None, now: Setup, moment: Moment) -> Moment:
    """Return a moment in the turn in which a car's rear has come, or is, nearer its limit against the front.

    Parameters:
        car: the car, plain numbers [-]
        reference: setup counted from; None asks about the car as it is [-]
        now: setup as it is [-]
        moment: the moment; of its lateral acceleration the size counts [-]

    Returns:
        the moment, to the left where both turns are alike [-]

    Errors:
        as ``trim``.

    Validity: by the best numbers of the car; a plausible car may be worse in the other turn.
    """
    size = abs(float(moment.lateral))
    there = [now] if reference is None else [now, reference]
    if not any(uneven(car, setup) for setup in there):
        return replace(moment, lateral=size)
    both = replace(moment, lateral=size * np.array([1.0, -1.0]))
    ahead = [found.use[0] - found.use[1] for found in (trim(car, setup, both) for setup in there)]
    left, right = ahead[0] if reference is None else ahead[0] - ahead[1]
    return replace(moment, lateral=-size if right < left else size)


def leaning(
    car: Car,
    reference: Setup | None,
    now: Setup,
    doubts: Sequence[Doubt],
    moment: Moment,
    count: int = 400,
    seed: int = 1,
) -> tuple[float, float]:
    """Return the part of plausible cars whose rear is, or has come, nearer its limit than the front.

    Parameters:
        car: the car, plain numbers [-]
        reference: setup counted from; None asks about the car as it is [-]
        now: setup as it is [-]
        doubts: what is not known exactly [-]
        moment: the moment asked about; of its lateral acceleration the size counts [-]
        count: how many plausible cars [-]
        seed: seed of the generator [-]

    Returns:
        the part, and its standard error, there being only so many cars [-]

    Errors:
        as ``spread.draw``.

    Validity: as ``decide``.
    Source: as ``decide``.
    """
    moment = worse_way(car, reference, now, moment)
    cars, first, second, _ = plausible_pair(car, now if reference is None else reference, now, doubts, count, seed)
    use = trim(cars, second, moment).use
    ahead = np.broadcast_to(use[0] - use[1], (count,)).astype(float)
    if reference is not None:
        there = trim(cars, first, moment).use
        ahead = ahead - (there[0] - there[1])
    part = float((ahead[np.isfinite(ahead)] < 0).mean())
    return part, float(np.sqrt(max(part * (1 - part), 1 / count) / count))


def _read(doubt: Doubt, error: Array, noise: np.random.Generator) -> Array | None:
    """The number as it would be read; None where the reading would tell no more than is known."""
    field = doubt.path.rpartition(".")[2]
    sigma = PART[field] * abs(doubt.middle) if field in PART else float(to_si(*TAKEN[field]))
    own = float(np.std(error))
    if own <= 1.2 * sigma:
        return None
    seen: Array = error + sigma * noise.standard_normal(error.size)
    return seen / own


def after(x: Array, change: Array, worse: Flags) -> float:
    """Return the chance of deciding wrongly once numbers are read: ``E[min(p, 1 − p)]`` over classes of a forecast.

    Parameters:
        x: the numbers as they would be read, (cars, numbers) [any]
        change: what is decided about, (cars,) [any]
        worse: on which side each car is, (cars,) [-]

    Returns:
        chance [-]

    Validity: a straight line with squares and products of the numbers; 20 classes of equal size.
    Source: as ``decide``.
    """
    columns = [np.ones(len(change)), *x.T]
    columns += [x[:, i] * x[:, j] for i in range(x.shape[1]) for j in range(i + 1)]
    basis = np.stack(columns, axis=1)
    clipped = np.clip(change, *np.quantile(change, [0.02, 0.98]))  # a few far cars would bend the forecast
    half = len(change) // 2
    parts = []
    for fit, ask in ((slice(0, half), slice(half, None)), (slice(half, None), slice(0, half))):  # never its own judge
        mine = basis[fit]  # the numbers are of one size, so the sums of products lose nothing that matters
        line = np.linalg.lstsq(mine.T @ mine, mine.T @ clipped[fit], rcond=None)[0]
        forecast, told, side = basis[ask] @ line, basis[fit] @ line, worse[fit]
        edges = np.quantile(told, np.linspace(0, 1, _CLASSES + 1)[1:-1])
        group, own = np.searchsorted(edges, told), np.searchsorted(edges, forecast)
        usual = bool(worse[fit].mean() > 0.5)
        inside = [side[group == k] for k in range(_CLASSES)]
        choice = np.array([one.mean() > 0.5 if one.size else usual for one in inside])
        parts.append(choice[own] != worse[ask])
    return float(np.concatenate(parts).mean())


CLEAR = 0.6
"""Where a smaller part of the plausible cars agrees than this, nothing is said to be decided; our own choice [-]."""


def words(found: Decision, asked: bool = False, in_question: str = "") -> tuple[str, ...]:
    """Describe how sure the decision is, and which reading to take next.

    Parameters:
        found: the decision [-]
        asked: whether the setup counted from is one asked of a workshop, and no reference [-]
        in_question: readings behind which a slip may stand, as of ``known.VISIT`` [-]

    Returns:
        sentences [-]
    """
    worse = found.worse >= 0.5
    if asked:
        said = "what is asked for gives the rear more in hand" if worse else "what is asked for does not help the rear"
    else:
        said = f"the rear has {'' if worse else 'not '}come nearer its limit than the front"
    part = max(found.worse, 1 - found.worse)
    what = "It" if asked else "Which end has come nearer its limit"
    start = f"{what} cannot be told yet. " if part < CLEAR else ""
    first = f"{start}Of {len(found.change):,} plausible cars {100 * part:.0f} in 100 say: {said}. {_risk(found.wrong)}"
    if in_question:
        return (first, f"None of it counts while a reading is in question: {in_question}. Read that again first.")
    if not found.best:
        return (first, "No single reading that you can take would change that by enough to be worth the work.")
    name = found.best
    after_it = f"With it {_of_hundred(found.left[name])} would still be wrong."
    told = [first, f"The reading that settles most: {name}. {after_it}"]
    names, left = found.together
    if len(names) > 1 and left < found.left[name] - WORTH:
        told.append(f"With {', '.join(names[:-1])} and {names[-1]} together: {_of_hundred(left)}.")
    return tuple(told)


def _of_hundred(part: float) -> str:
    return f"{100 * part:.0f} in 100" if part >= 0.005 else "fewer than 1 in 100"


def _risk(wrong: float) -> str:
    """How many of the plausible cars say the opposite."""
    if wrong < 0.005:
        return "Fewer than 1 in 100 say the opposite."
    return f"The other {100 * wrong:.0f} say the opposite: so often it would be wrong."
