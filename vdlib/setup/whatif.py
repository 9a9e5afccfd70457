"""Versions of one car side by side through a corner: balance, limits, loads, and why one differs from the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..answers.balance import HALF_SPAN, settled_growth, slopes
from ..answers.ledger import Ledger, setting_words, shared
from ..answers.limits import finer, first_above, tipped
from ..answers.stacking import stack
from ..answers.turns import LEFT, RIGHT
from ..car.keys import ENDS
from ..car.records import PHASES, WHEEL_FIELDS, Car, Moment, Setup
from ..trim.trim import Trim, trim
from ..units import Array, Flags, G
from .candidate import Version, leaves, put_all

PHASE_ORDER = tuple(PHASES)
"""The phases in the order of a corner."""
MOST = 5
"""Most versions side by side: the car as it stands and four candidates."""
POINTS = 20
"""Points of the sweep that finds the limits."""
FINE = 6
"""Up to this many causes each end is shown on its own; above, both ends together."""
_TOP = 1.25  # the sweep ends at this many times the tyres' peak grip
_AXES = {"angle": 0, "limit": 1, "growth": 0, "load": 2, "standing": 2, "state": 0}
_PLURAL = {
    "height": "ride heights",
    "spring": "springs",
    "bar": "anti-roll bars",
    "toe": "toe",
    "camber": "camber",
    "pressure": "tyre pressures",
}


@dataclass(frozen=True)
class Comparison:
    """Versions side by side at one speed and lateral acceleration, in one turn; axes [version], [phase]."""

    names: tuple[str, ...]
    phases: tuple[str, ...]
    speed: float  # [m/s]
    lateral: float  # [m/s²]
    angle: Array  # (n, 4) understeer angle, NaN past the limit [rad]
    limit: Array  # (2 ends, n, 4) lateral acceleration where front and rear let go, infinite where not found [m/s²]
    growth: Array  # (n, 4) rate at which a small slide grows, negative where it dies out, NaN past the limit [1/s]
    load: Array  # (2 axles, 2 sides, n, 4) wheel loads [N]
    standing: Array  # (2, 2, n) wheel loads standing still [N]
    state: NDArray[Any]  # (n, 4) flags of the trim [-]
    turn: int = LEFT
    other: Comparison | None = None  # the same in the other turn; None where that is the mirror image of this one

    @property
    def turns(self) -> tuple[Comparison, ...]:
        """This turn, and the other one where they are not alike [-]."""
        return (self,) if self.other is None else (self, self.other)

    def turning(self, turn: int) -> Comparison:
        """Return the same versions in one turn.

        Parameters:
            turn: ``LEFT`` or ``RIGHT`` [-]

        Returns:
            a ``Comparison`` whose ``other`` is the other turn, or None where they are alike [-]
        """
        if turn == self.turn:
            return self
        if self.other is None:
            return replace(self, turn=turn, load=self.load[:, ::-1], standing=self.standing[:, ::-1])
        return replace(self.other, other=replace(self, other=None))

    def worse(self, phase: str, row: int = 0) -> Comparison:
        """Return the turn in which the rear of one version has less in hand over the front; left where both are alike.

        Parameters:
            phase: phase of the corner [-]
            row: which of the versions [-]

        Returns:
            a ``Comparison`` [-]
        """
        at = self.phases.index(phase)
        left, right = (np.nan_to_num(self.turning(turn).gap[row, at], nan=-np.inf) for turn in (LEFT, RIGHT))
        return self.turning(RIGHT if right < left else LEFT)

    @property
    def first(self) -> Array:
        """The end that lets go first: 0 front, 1 rear, -1 where neither was found to, (n, 4) [-]."""
        none = np.isinf(self.limit).all(axis=0)
        return np.where(none, -1, np.argmin(self.limit, axis=0))

    @property
    def double(self) -> Array:
        """Time in which a small slide doubles, infinite where it dies out, NaN past the limit, (n, 4) [s]."""
        with np.errstate(divide="ignore", invalid="ignore"):
            double: Array = np.where(
                self.growth > 0, np.log(2) / self.growth, np.where(self.growth <= 0, np.inf, np.nan)
            )
        return double

    @property
    def gap(self) -> Array:
        """Rear limit less front limit, positive where the rear holds longer, (n, 4); NaN where not found [m/s²]."""
        with np.errstate(invalid="ignore"):
            gap = self.limit[1] - self.limit[0]
        return np.where(np.isfinite(gap), gap, np.nan)

    def only(self, row: int) -> Comparison:
        """Return one version alone.

        Parameters:
            row: its place [-]

        Returns:
            a ``Comparison`` of one [-]
        """
        keep: dict[str, Any] = {name: np.take(getattr(self, name), [row], axis=axis) for name, axis in _AXES.items()}
        other = None if self.other is None else self.other.only(row)
        return replace(self, names=(self.names[row],), other=other, **keep)

    def beside(self, other: Comparison) -> Comparison:
        """Put the versions of another comparison of the same moment behind these, in this one's turn.

        Parameters:
            other: the other comparison [-]

        Returns:
            a ``Comparison`` of all of them [-]

        Errors:
            ``ValueError`` when the moments differ.
        """
        if (self.phases, self.speed, self.lateral) != (other.phases, other.speed, other.lateral):
            raise ValueError("only comparisons of the same moments go side by side")
        behind, back = other.turning(self.turn), None
        if self.other is not None or behind.other is not None:
            back = replace(self.turning(-self.turn), other=None).beside(replace(behind.turning(-self.turn), other=None))
        joined: dict[str, Any] = {
            name: np.concatenate([getattr(self, name), getattr(behind, name)], axis=axis)
            for name, axis in _AXES.items()
        }
        return replace(self, names=self.names + other.names, other=back, **joined)


def uneven(car: Car, setup: Setup) -> bool:
    """Return whether a car's left and right turns differ.

    Parameters:
        car: the car, plain numbers or arrays [-]
        setup: its setup, likewise [-]

    Returns:
        False where the car is its own mirror image [-]
    """
    apart = [np.any(np.asarray(v) != 0.5) for v in (car.left_share, setup.cross_weight)]
    names = (*WHEEL_FIELDS.values(), "aligned_height_difference", "weighed_difference")
    apart += [np.any(np.asarray(getattr(getattr(setup, end), name)) != 0) for end in ENDS for name in names]
    return bool(np.any(apart))


def compare(
    versions: Sequence[Version],
    speed: float,
    lateral: float,
    phases: Sequence[str] = PHASE_ORDER,
    fine: Sequence[str] | None = None,
) -> Comparison:
    """Compare versions of a car through the phases of a corner, in both turns where they differ, all in one trim call.

    Parameters:
        versions: cars and setups of plain numbers, at least one [-]
        speed: speed [m/s]
        lateral: lateral acceleration, zero or more [m/s²]
        phases: phases of the corner [-]
        fine: phases whose limits are sought finely, all if left out; in others the first sweep tells them, half of
            them within 0.002 g and all within 0.03 g [-]

    Returns:
        a ``Comparison`` in the left turn, the right turn with it where it is not the mirror image [-]

    Errors:
        as ``trim``.

    Validity: as ``trim``; the limits as of ``limits.finer``.
    Source: growth of a slide as ``bicycle.motion``.
    """
    car, setup = stack([v.car for v in versions], 1), stack([v.setup for v in versions], 1)
    turns = (LEFT, RIGHT) if any(uneven(v.car, v.setup) for v in versions) else (LEFT,)
    way = np.array(turns, dtype=float).reshape(-1, 1, 1)
    grip = [[float(np.max(axle.tyre.grip)) for axle in (v.car.front, v.car.rear)] for v in versions]
    top = _TOP * G * np.max(grip, axis=1)[:, None]  # each version's own: it counts nothing what stands beside it
    sweep = top * np.sqrt(np.linspace(0.0, 1.0, POINTS)).reshape(-1, 1, 1, 1)  # closer where limits are
    usual = np.array([PHASES[phase] for phase in phases]).T
    speeds = np.full((len(versions), 1), speed)  # gives every result all its axes
    beside = lateral * way + HALF_SPAN * np.array([0.0, -1.0, 1.0]).reshape(-1, 1, 1, 1)
    moment = Moment(speeds, np.concatenate([sweep * way, beside + 0 * top]), *usual)
    found = trim(car, setup, moment)  # (points, turns, versions, phases)
    rough = first_above(sweep[:, None], np.moveaxis(found.use, 1, 0)[:-3], tipped(found)[:-3, None])
    limit = np.full_like(rough, np.nan)
    sought = np.array([fine is None or phase in fine for phase in phases])
    for within in (0.01 * G, 0.05 * G):  # a wheel that lifts just past a limit bends what is read off so few points
        missed = np.where(np.isfinite(limit) | ~sought, np.nan, rough)
        if np.isfinite(missed).any():
            near = finer(car, setup, replace(moment, lateral=way), missed, within=within)
            limit = np.where(np.isfinite(near), near, limit)
    limit = np.where(np.isfinite(limit), limit, rough)
    at = found.pick(-3)
    mass, inertia = (np.array([float(getattr(v.car, key)) for v in versions])[:, None] for key in ("mass", "inertia"))
    growth = settled_growth(mass, inertia, at, slopes(found.slip[:, -3:], found.usable[-3:]), speed)
    told = [
        Comparison(
            names=tuple(v.name for v in versions),
            phases=tuple(phases),
            speed=speed,
            lateral=lateral,
            angle=np.where(at.usable, at.understeer_angle, np.nan)[i],
            limit=np.where(np.isfinite(limit), limit, np.inf)[:, i],
            growth=growth[i],
            load=at.load[:, :, i],
            standing=at.standing_load[:, :, i, :, 0],
            state=np.asarray(at.state)[i],
            turn=turn,
        )
        for i, turn in enumerate(turns)
    ]
    return replace(told[0], other=told[1]) if len(told) > 1 else told[0]


def why(base: Version, other: Version, moment: Moment) -> Ledger:
    """Share the change of the understeer angle from one version to another over what differs (Shapley values).

    Parameters:
        base: the version counted from, plain numbers [-]
        other: the version changed to, plain numbers [-]
        moment: the moment, plain numbers [-]

    Returns:
        a ``Ledger``; its causes are plain names, both ends of a kind together when there are more than ``FINE`` [-]

    Errors:
        as ``trim``.

    Validity: as ``ledger.by_route``; toe and camber set anew belong to the ride height they were set at.
    Source: as ``ledger.by_route``.
    """
    old = dict(leaves(base.car, "car.")) | dict(leaves(base.setup, "setup."))
    new = dict(leaves(other.car, "car.")) | dict(leaves(other.setup, "setup."))
    differ = [path for path in new if new[path] != old[path]]
    cause = {path: cause_of(path) for path in differ}
    if len(set(cause.values())) > FINE:
        cause = {path: cause_of(path, together=True) for path in differ}
    causes = tuple(dict.fromkeys(cause.values()))

    def solve(inside: Flags, deep: int) -> Trim:
        mixed: dict[str, dict[str, Array]] = {"car": {}, "setup": {}}
        for path in differ:
            head, _, rest = path.partition(".")
            mixed[head][rest] = np.where(inside[causes.index(cause[path])], new[path], old[path])
        return trim(put_all(base.car, mixed["car"]), put_all(base.setup, mixed["setup"]), moment)

    return shared(causes, solve, 0)


def cause_of(path: str, together: bool = False) -> str:
    """Return the plain name of what changes one number.

    Parameters:
        path: dotted name starting with ``car`` or ``setup`` [-]
        together: whether both ends go under one name [-]

    Returns:
        a name such as "front spring rate" [-]
    """
    home, _, rest = path.partition(".")
    end = next((end for end in ENDS if rest.startswith(f"{end}.")), "")
    if home == "car":
        return ("tyre kind" if together else f"{end} tyre kind") if end else "ballast, fuel, driver"
    field = rest.rpartition(".")[2].replace("aligned_height", "height")
    if together and end:
        return _PLURAL[field]
    return plain(f"{end}.{field}" if end else field)


def plain(path: str) -> str:
    """Return the plain name of a setting, a bar by its own name.

    Parameters:
        path: dotted name such as ``front.bar`` [-]

    Returns:
        its name [-]
    """
    return setting_words(path).removesuffix("'s roll stiffness")
