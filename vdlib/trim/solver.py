"""The equilibrium of all cases of one layout: Newton steps of pose and slip angles, side by side.

Pose and tyres hand three things to each other: wheel loads; the steer angle, which follows from the slip angles (with
caster it lifts one front corner and leans both front wheels); and the turning moment of wheels that pull unequally and
of forces past a centre of gravity that the leaning, dipping body has moved, which changes each axle's side force and is
guessed again by the secant rule. Slip angles are sought with the wheel loads that a step of the pose has just given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.tyre import Hot, hot
from ..units import Array, Flags, G
from . import suspension
from .cases import part
from .fixed import BACK, Fixed, prepare
from .slip import Slip, first_slip, learn, look, newton_slip
from .state import State
from .vertical import Forces, forces, moved, newton, stand

_MOST = 40  # Newton steps
_SLOW_AFTER = 9  # steps after which a case counts as slow
_SLOWER = 20  # steps after which slip angles swing about
_LAST_TRY = 28  # step at which an axle near its limit is put at its peak
_LOST_AFTER = 24  # step from which a car that has tipped is given up ...
_LOST = 1e-3  # ... where this part of the weight is left over, at two steps running
_EDGE = 1e-4  # how near that is, as part of its greatest force
_WORSE = 1e-3  # force left over, as part of the weight, that is worth slowing down for
_FEW = 100  # so few cases cost no more together than half of them
_BODY_FIRST = 1  # steps before slip angles are worth looking at
_NEAR = 1e-11  # force left over, as part of the weight
_SETTLED = 1e-9  # difference of a turning moment guessed and found, as part of weight times wheelbase
_CLOSED = 1e-8  # force left over, as part of the weight, with which a case still counts as solved
_CLOSED_SIDE = 1e-5  # side force left over, as part of the axle's greatest, likewise
_CLOSED_YAW = 1e-6  # the same of a turning moment, as part of weight times wheelbase
LOCK = 0.95  # part of a wheel's longitudinal grip at which its partner takes over
_LOAD_RANGE = 2.3  # loads beyond this many nominal loads are outside the tyre's numbers
_SIDE = np.array([1.0, -1.0])[:, None, None]  # left, right


@dataclass
class _At:
    """Where the search has got to in each case."""

    body: Array  # (3, n)
    hub: Array  # (2, 2, n)
    slip: Array  # (2, n)
    top: Array  # (2, n)
    steer: Array  # that goes with the slip angles [rad]
    yaw: Array  # turning moment of uneven pull and moved mass, guessed [N·m]
    last_yaw: Array
    found: Array  # the turning moment that came of the last guess
    left: Array  # force left over one step before [N]
    pace: Array  # part of each Newton step that is taken
    tipped: Flags  # both wheels of one side, or of one axle, have been in the air
    missed: Array  # see ``newton_slip``
    before: Slip | None = None  # residuals of the last slip angles


@dataclass(frozen=True)
class _Corner:
    """The tyres' side of one pose."""

    slip: Slip
    sign: Array  # of each axle's side force
    side: Array
    toe: Array
    lean: Array
    pull: Array
    gone: Array  # centre of gravity forward of where it stands and left of the middle, (2, n) [m]
    yaw: Array
    held: Flags
    beyond: Flags


def solve(v: dict[str, Array]) -> dict[str, Any]:
    """Solve the cases of one layout.

    Parameters:
        v: the values of a ``cases.Case`` or part of one [-]

    Returns:
        the fields of a ``Trim``, cases along the last axis [any]
    """
    c = prepare(v)
    tyres = hot(c.tyre, v["pressure"])
    n = c.n
    none = np.zeros(n)
    at = _At(
        np.zeros((3, n)), np.zeros((2, 2, n)), np.zeros((2, n)), np.zeros((2, n)), c.straight + none, none, none, none,
        np.full(n, np.inf), np.ones(n), np.zeros(n, bool), np.zeros((2, 2, n)),
    )  # fmt: skip
    active = np.arange(n)
    out: dict[str, Any] = {}
    for turn in range(_MOST):
        p, heavy = c.vertical, c.vertical.weight
        lift = np.zeros((2, 2, active.size))
        lift[0, 0] = c.caster_lift * at.steer
        lift[1, 0] = -lift[0, 0]
        side = c.side + BACK * (at.yaw / c.wheelbase) - p.unsprung_side  # handed to the body
        f = forces(p, side, lift, at.body, at.hub)
        at.tipped |= f.tips
        if turn > _SLOW_AFTER:
            worse = (f.left > at.left) & (f.left > _WORSE * heavy)
            at.pace = np.where(worse, 0.5 * at.pace, np.minimum(1.0, 1.5 * at.pace))
        lost = at.tipped & ~(np.minimum(f.left, at.left) <= _LOST * heavy) & (turn >= _LOST_AFTER)
        at.left = f.left
        body = at.body
        moving = f.left > _NEAR * heavy
        if moving.any():
            change, rise = newton(p, f, side, at.body)
            at.body, at.hub = at.body + at.pace * change, at.hub + at.pace * rise
        if turn < _BODY_FIRST:
            continue
        corner = _corner(c, v, tyres, at, *stand(p, lift, at.body, at.hub), turn == _BODY_FIRST)
        off = corner.yaw - at.yaw
        unsettled = np.abs(off) > _SETTLED * c.wheelbase * heavy
        wait = (moving | unsettled | corner.slip.far.any(axis=0) | (turn == _BODY_FIRST)) & ~lost
        waiting = np.flatnonzero(wait)
        fewer = waiting.size < 0.5 * active.size and active.size > _FEW
        if fewer or not waiting.size or turn == _MOST - 1:  # keep what is done, go on with the rest alone
            _store(out, _result(c, f, at, body, corner, np.abs(off)), active, n)
            if not waiting.size:
                break
            v, at, corner, off, unsettled, active, wait = part((v, at, corner, off, unsettled, active, wait), waiting)
            c = prepare(v)
            tyres = hot(c.tyre, v["pressure"])
        apart = at.yaw - at.last_yaw
        gain = (corner.yaw - at.found) / np.where(apart == 0, np.inf, apart)
        gain = np.minimum(np.maximum(gain, -1.0), 0.5)
        at.last_yaw, at.found = at.yaw, corner.yaw
        at.yaw = at.yaw + np.where(unsettled, off / (1 - gain), 0.0)
        _step_on(c, at, corner, turn, wait)
    return out


def _step_on(c: Fixed, at: _At, corner: _Corner, turn: int, wait: Flags) -> None:
    """Go on to the next slip angles and the steer angle that goes with them."""
    sense = corner.sign[0] * corner.sign[1]
    if turn > _SLOW_AFTER and at.before is not None:
        at.missed = learn(at.missed, at.before, corner.slip, sense)
    at.slip = corner.slip.slip + (0.6 if turn > _SLOWER else 1.0) * newton_slip(corner.slip, sense, at.missed)
    at.top, at.before = corner.slip.top, corner.slip
    if turn == _LAST_TRY:  # just past its limit an axle may creep where it can hold no longer: see whether it slides
        at.slip = np.where(wait & (np.abs(corner.side) > (1 - _EDGE) * corner.slip.peak), at.top, at.slip)
    at.steer = c.straight + corner.sign[0] * at.slip[0] - corner.sign[1] * at.slip[1]


def _corner(c: Fixed, v: dict[str, Array], tyre: Hot, at: _At, travel: Array, load: Array, first: bool) -> _Corner:
    """Return the tyres' side of one pose."""
    pull, used, held, beyond = _share_long(c, tyre, load)
    p, yaw = c.vertical, c.half * (pull[1] - pull[0])
    forward, right = moved(p, travel, at.body, at.hub)
    gone = np.empty_like(at.slip)
    gone[0], gone[1] = forward / p.weight, (c.off_middle - right) / p.weight
    # left and right pulling unequally turn the car, and so do forces past a moved mass
    turning = yaw[0] + yaw[1] + p.weight / G * (gone[1] * p.longitudinal - gone[0] * p.lateral)
    side = c.side + BACK * (turning / c.wheelbase)
    asked = np.abs(side)
    toe = c.toe + suspension.toe_change(c.bump + travel, v["toe_slope"], v["toe_bend"])
    lean = _SIDE * (c.camber + v["camber_slope"] * travel) - at.body[1]
    lean[:, 0] += c.caster * at.steer
    sign = np.where(side < 0, -1.0, 1.0)
    leaning = lean * sign
    held_back = np.sqrt(1 - used * used)
    curves = tyre.curve(load, leaning, held_back)
    offset = (c.give * side - _SIDE * toe) * sign
    # how the front tyres' shift and peak grow with the steer angle, through the lean that comes with it
    firm = curves.steepness[:, 0] * curves.shape[0] * np.maximum(curves.peak[:, 0], 1.0)
    shifting = c.caster * c.tyre.camber_thrust[0] * load[:, 0] * held_back[:, 0] / firm
    loss = c.tyre.camber_loss[0] * leaning[:, 0]
    fading = c.caster * -2 * loss / (1 - loss * leaning[:, 0])
    if first:
        at.slip, at.top = first_slip(curves, offset, asked)
    slip = look(curves, offset, asked, at.slip, at.top, shifting, fading)
    return _Corner(slip, sign, side, toe, lean, pull, gone, turning, held, beyond)


def pulls(half: Array, has: Array) -> Array:
    """Return each wheel's longitudinal force: half of its axle's until one wheel has no more to give, then its partner.

    Parameters:
        half: half of what is asked of the axle, zero or more, broadcast to ``has`` [N]
        has: longitudinal grip of left and right wheel, (2, …) [N]

    Returns:
        force of left and right wheel, (2, …) [N]
    """
    most = LOCK * has
    taken: Array = np.minimum(half, most)
    weak = taken < half
    if weak.any():
        taken = np.minimum(np.where(weak, taken, taken + (2 * half - taken[0] - taken[1])), most)
    return taken


def _share_long(c: Fixed, tyre: Hot, load: Array) -> tuple[Array, Array, Flags, Flags]:
    """Split each axle's longitudinal force over its two wheels: equal halves until one wheel has no more to give."""
    has = np.maximum(c.tyre.long_ratio * tyre.grip_at(load) * load, 0.0)  # grip's straight line ends at none
    half = c.long_half
    taken = pulls(half, has)
    weak = taken < half
    short: Flags = np.zeros(load.shape[-1], dtype=bool)
    held = short
    if weak.any():
        short = ((2 * half - taken[0] - taken[1]) > 1e-9 * (1 + half)).any(axis=0)
        held = np.asarray(weak.any(axis=(0, 1)) & (half > 0.5).any(axis=0))
    used = np.minimum(taken / np.maximum(has, 1e-9), LOCK)
    return c.long_sign * taken, used, held, short


def _result(c: Fixed, f: Forces, at: _At, body: Array, corner: _Corner, off: Array) -> dict[str, Any]:
    """Put together the fields of a ``Trim``."""
    p, slip = c.vertical, corner.slip
    residual = f.left / p.weight
    open_ = ~(residual < _CLOSED)  # a case that ran away to no number at all is open too
    fallen = open_ & at.tipped
    astray = ~(np.abs(slip.left) <= _CLOSED_SIDE * slip.peak + 1e-12) & ~slip.short
    unsolved = (open_ | astray.any(axis=0) | (off > _CLOSED_YAW * c.wheelbase * p.weight)) & ~fallen
    state = (
        np.where(slip.short[0], State.FRONT_SLIDES, 0)
        | np.where(slip.short[1], State.REAR_SLIDES, 0)
        | np.where((f.load <= 0).any(axis=(0, 1)), State.WHEEL_IN_AIR, 0)
        | np.where(corner.held, State.WHEEL_HELD, 0)
        | np.where(corner.beyond, State.LONGITUDINAL, 0)
        | np.where(_anywhere(p.bump_gap[..., 0, :] < 0), State.FRONT_ON_STOP, 0)
        | np.where(_anywhere(p.bump_gap[..., 1, :] < 0), State.REAR_ON_STOP, 0)
        | np.where(_anywhere(p.droop_gap < 0), State.HELD_BY_DROOP, 0)
        | np.where((f.load > _LOAD_RANGE * c.tyre.nominal_load).any(axis=(0, 1)), State.TYRE_RANGE, 0)
        | np.where(fallen, State.TIPS, 0)
        | np.where(unsolved, State.NOT_SOLVED, 0)
    )
    return {
        "load": f.load.swapaxes(0, 1),
        "standing_load": p.standing.swapaxes(0, 1),
        "standing_rise": np.broadcast_to(c.rise, f.load.shape).swapaxes(0, 1),
        "standing_roll": c.tilt,
        "travel": f.travel.swapaxes(0, 1),
        "heave": body[0],
        "roll": body[1],
        "pitch": body[2],
        "toe": corner.toe.swapaxes(0, 1),
        "lean": corner.lean.swapaxes(0, 1),
        "on_stop": f.on_stop.swapaxes(0, 1),
        "links": f.links,
        "roll_centre": f.roll_centre,
        "lift": f.lift,
        "long_force": corner.pull.swapaxes(0, 1),
        "side_force": corner.side,
        "peak_force": slip.peak,
        "slip": corner.sign * slip.slip,
        "stiffness": np.where(slip.short, 0.0, slip.stiffness),
        "cg_to_axle": np.abs(p.arm),
        "cg_moved": corner.gone,
        "steer": at.steer,
        "curvature": c.curvature,
        "state": state,
        "residual": residual,
    }


def _anywhere(flags: Flags) -> Flags:
    """Whether a flag is set at any axle or wheel of a case."""
    return np.asarray(flags.any(axis=tuple(range(flags.ndim - 1))))


def _store(out: dict[str, Any], result: dict[str, Any], active: NDArray[np.intp], n: int) -> None:
    """Write the result of the active cases among those of all n."""
    for name, value in result.items():
        if active.size == n:
            out[name] = np.array(np.broadcast_to(value, (*value.shape[:-1], n)))
        else:
            out[name][..., active] = value
