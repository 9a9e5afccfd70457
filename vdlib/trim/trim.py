"""The one equilibrium every answer rests on: wheel loads, pose, slip angles and steering of a car held in a corner.

``trim`` solves any number of cases at once: it lays them out (``cases``), works out what does not change (``fixed``),
and balances (``solver``) the vertical forces (``vertical``) and each axle's side force (``slip``) together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.records import Car, Moment, Setup
from ..units import Array, Flags
from .cases import ROUTES, Case, Heights, numbers, part, shape_of
from .solver import solve
from .state import STATE_WORDS, UNUSABLE, State, state_words

__all__ = [
    "ROUTES",
    "STATE_WORDS",
    "UNUSABLE",
    "Heights",
    "State",
    "Trim",
    "numbers",
    "shape_of",
    "state_words",
    "trim",
]

_MANY, _ROOM = 1000, 1 << 20  # cases from which pages matter; numbers to have room for
_CHUNK = 5000  # cases solved together: few enough for the cache, enough to hide what each array operation costs


@dataclass(frozen=True)
class Trim:
    """One steady moment solved. Leading axes: [axle front/rear] and [side left/right]; then the shape of the inputs."""

    load: Array  # (2, 2, …) wheel loads [N]
    standing_load: Array  # (2, 2, …) wheel loads standing still [N]
    standing_rise: Array  # (2, 2, …) height of the body at each wheel above the reference, standing still [m]
    standing_roll: Array  # lean of the standing body, right side down positive; 0 where left and right are alike [rad]
    travel: Array  # (2, 2, …) suspension travel from standing, bump positive [m]
    heave: Array  # rise of the body at the centre of gravity [m]
    roll: Array  # right side down positive [rad]
    pitch: Array  # nose down positive [rad]
    toe: Array  # (2, 2, …) toe-in of each wheel [rad]
    lean: Array  # (2, 2, …) lean of each wheel to the left, against the road [rad]
    on_stop: Array  # (2, 2, …) force of the bump stop at the wheel [N]
    links: Array  # (2, …) load transferred by links and unsprung mass, inner to outer for a left turn [N]
    roll_centre: Array  # (2, …) roll-centre height [m]
    lift: Array  # (2, …) lift at each axle [N]
    long_force: Array  # (2, 2, …) longitudinal force of each wheel [N]
    side_force: Array  # (2, …) side force asked of each axle [N]
    peak_force: Array  # (2, …) greatest side force each axle has at these loads [N]
    slip: Array  # (2, …) slip angle of each axle, at the peak where the axle slides [rad]
    stiffness: Array  # (2, …) local slope of side force of each axle [N/rad]
    cg_to_axle: Array  # (2, …) distance from centre of gravity to front and rear axle [m]
    cg_moved: Array  # (2, …) centre of gravity forward of where it stands, and left of the middle line [m]
    steer: Array  # steer angle [rad]
    curvature: Array  # 1/R of the path [1/m]
    state: NDArray[np.int_]  # State flags [-]
    residual: Array  # largest force left unbalanced, as part of the weight [-]

    def pick(self, *place: Any) -> Trim:
        """Return some of the cases: the same index into every field, behind its axes of axle and side.

        Parameters:
            place: index into the shape of the inputs, as in square brackets [-]

        Returns:
            a ``Trim`` of those cases [-]
        """
        lead = {name: (slice(None),) * (value.ndim - self.curvature.ndim) for name, value in vars(self).items()}
        return Trim(**{name: value[lead[name] + place] for name, value in vars(self).items()})

    @property
    def understeer_angle(self) -> Array:
        """Front slip angle less rear slip angle, signed so that understeer is positive in either turn [rad]."""
        angle: Array = self.slip[0] - self.slip[1]
        return np.where(self.curvature < 0, -angle, angle)

    @property
    def usable(self) -> Array:
        """True where a steady corner exists [-]."""
        return np.asarray((self.state & int(UNUSABLE)) == 0)

    @property
    def use(self) -> Array:
        """Side force asked of each axle over what it has, (2, …) [-]."""
        return np.abs(self.side_force) / np.maximum(self.peak_force, 1e-9)


def trim(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None, where: Flags | None = None) -> Trim:
    """Solve the steady moment of a car: four wheel loads, pose, slip angles and steering.

    ``ΣN = m·g − lift``, roll and pitch moments about the ground, each wheel's own vertical balance, then
    ``F_y,i(α_i) = demand`` on each axle (yaw moments about the centre of gravity where the body's lean and dip have
    taken it) and ``δ = L/R + α_f − α_r``.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        moment: what the car is doing [-]
        heights: ride heights for single routes in place of the setup's own [m]
        where: the cases wanted, broadcast to the inputs' shape; all of them if left out or set nowhere [-]

    Returns:
        a ``Trim`` with the inputs' broadcast shape; what is not wanted is NaN and not solved [-]

    Errors:
        ``InputError`` when corner loads cannot all be positive, or for no case at all; a case without solution
        is flagged in ``state``.

    Validity: small angles (cos δ = 1, radius well above the track), roll centre shared by both wheels of an axle, drag
    of cornering itself not counted, open differential and equal brakes left and right.
    Source: moments about the roll axis as in Barton & Fieldhouse, Automotive Chassis Engineering (2018), p. 174.
    """
    case = Case(car, setup, moment, heights)
    values, size = case.values, case.size
    wanted = np.arange(size) if where is None else np.flatnonzero(np.broadcast_to(where, case.shape))
    some = 0 < wanted.size < size
    if some:
        values, size = part(values, wanted), wanted.size
    cuts = [slice(i, min(i + _CHUNK, size)) for i in range(0, size, _CHUNK)]
    if size >= _MANY:
        np.empty(_ROOM)  # had and given back untouched: glibc then keeps as much to hand, not returning each page
    parts = [solve(part(values, cut)) for cut in cuts] if len(cuts) > 1 else [solve(values)]
    out = {}
    for name, first in parts[0].items():
        flat = first if len(parts) == 1 else np.concatenate([each[name] for each in parts], axis=-1)
        if some:
            flat = _among(flat, wanted, case.size, int(State.NOT_SOLVED) if name == "state" else np.nan)
        out[name] = flat.reshape(flat.shape[:-1] + case.shape)
    return Trim(**out)


def _among(found: Array, which: NDArray[np.intp], size: int, rest: float) -> Array:
    """Put what was found of some cases among all, with one value for the rest."""
    every = np.full((*found.shape[:-1], size), rest, dtype=found.dtype)
    every[..., which] = found
    return every
