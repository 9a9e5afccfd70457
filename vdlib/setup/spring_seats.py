"""Corner weights to spring seats: how far to turn which seat for a wanted cross weight, the heights kept.

Bars unhooked, a stiff body stands on four springs in series with their tyres. Two diagonal wheels can then be loaded
more and the others less without moving the body: that, and nothing else, is what a cross weight is set by. Arrays are
[axle front/rear][side left/right].
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from ..car.keys import ENDS
from ..car.records import Car, Setup
from ..checks import InputError, Problem, need_positive
from ..shown import says
from ..trim.standing import stands
from ..trim.suspension import stop_force, wheel_rate
from ..units import Array, Flags, G, from_si, number

SEATS = (("front left", "front right"), ("rear left", "rear right"))
"""Names of the seats in the order of the arrays."""
CROSS = np.array([[0.0, 1.0], [1.0, 0.0]])
"""Wheels whose loads make the cross weight: right front and left rear."""
FINEST = 0.5e-3
"""Finest step of a threaded seat without a pitch given, about a quarter of a turn; common practice, no source [m]."""
QUARTER = 0.25
"""Finest part of a turn that is asked for; common practice, no source [turn]."""
NEAR = 0.003
"""A cross weight as near as this counts as reached: what scales and floor can tell; common practice, no source [-]."""


@dataclass(frozen=True)
class Corners:
    """A car on its four springs, bars unhooked: loads, rates and sizes, (2, 2) each but for the tracks."""

    load: Array  # what each scale carries now [N]
    wheel: Array  # rate of spring, and of a stop it stands on, felt at the wheel [N/m]
    tyre: Array  # rate of each tyre [N/m]
    ratio: Array  # spring movement over wheel movement [-]
    track: Array  # (2,) front and rear [m]
    base: float  # wheelbase [m]
    arm: float  # height of the weight above what the body rolls about [m]

    @property
    def cross(self) -> float:
        """Right front plus left rear over the total [-]."""
        return float((self.load * CROSS).sum() / self.load.sum())


@dataclass(frozen=True)
class SeatAnswer:
    """What to turn, and what then comes of it."""

    turn: Array  # (2, 2) each seat up its thread, at the spring, positive raises that corner [m]
    before: Array  # (2, 2) the scales now [N]
    after: Array  # (2, 2) the scales afterwards [N]
    rise: Array  # (2, 2) how far the body rises at each wheel [m]
    wanted: float  # cross weight wanted [-]
    free: Flags  # (2, 2) which seats can be turned
    thread: float | None  # travel of a seat in one turn; None where it was not given [m]

    @property
    def cross(self) -> float:
        """Cross weight afterwards [-]."""
        return float((self.after * CROSS).sum() / self.after.sum())

    @property
    def reached(self) -> bool:
        """Whether that is as near as scales and floor can tell."""
        return abs(self.cross - self.wanted) <= NEAR

    def words(self) -> tuple[str, ...]:
        """Describe what to turn, what the scales will read and what the body does.

        Returns:
            short lines for a mechanic [-]
        """
        if not self.free.any():
            return (
                "The spring seats are fixed: the cross weight cannot be set on this car, only noted. "
                "Look for a wrong or sagged spring, a spring not seated, or a bent part.",
            )
        if not self.turn.any():
            return (f"Cross weight {_percent(self.cross)} now: no seat has to be turned.",)
        lines = [
            "; ".join(
                f"{SEATS[i][j]} {'up' if self.turn[i, j] > 0 else 'down'} {self._size(abs(float(self.turn[i, j])))}"
                for i, j in np.ndindex(2, 2)
                if self.turn[i, j]
            )
            + ". Up is against the spring: that corner rises and carries more."
        ]
        kilograms = ", ".join(f"{SEATS[i][j]} {self.after[i, j] / G:.0f}" for i, j in np.ndindex(2, 2))
        lines.append(f"The scales will then read {kilograms} kg: cross weight {_percent(self.cross)}.")
        most = float(np.abs(self.rise).max())
        if most >= 0.5e-3:
            told = ", ".join(
                f"{SEATS[i][j]} {number(from_si(float(self.rise[i, j]), 'mm'), 0, sign=True)}"
                for i, j in np.ndindex(2, 2)
            )
            lines.append(f"The body moves, since not every seat can be turned as needed: {told} mm.")
        else:
            lines.append("The body stays where it is.")
        if not self.reached:
            lines.append(f"{_percent(self.wanted)} is not reached with these seats.")
        return tuple(lines)

    def _size(self, size: float) -> str:
        if self.thread is None:
            return says(size, "mm", 1)
        return f"{number(size / self.thread, 2).rstrip('0').rstrip('.')} turns ({says(size, 'mm', 1)})"


def corners_of(car: Car, setup: Setup) -> Corners:
    """Return a car's four corners as it stands, from the trim's standing loads.

    Parameters:
        car: the car, plain numbers [-]
        setup: the setup, plain numbers [-]

    Returns:
        a ``Corners`` [-]

    Validity: a corner that stands on its bump stop gets the stop's rate at that squash besides the spring's.
    """
    axles = [(getattr(car, end), getattr(setup, end)) for end in ENDS]
    wheel, tyre, ratio = (np.empty((2, 2)) for _ in range(3))
    for i, (axle, own) in enumerate(axles):
        bump = float(np.subtract(axle.reference_height, own.height))
        _, stiff = stop_force(bump, axle.bump_gap, axle.bump_stiffening)
        wheel[i] = float(wheel_rate(own.spring, axle.motion_ratio)) + float(stiff)
        tyre[i], ratio[i] = float(axle.tyre_rate), float(axle.motion_ratio)
    load = stands(car, setup).load.reshape(2, 2)
    arm = float(car.cg_height) - 0.5 * (float(car.front.roll_centre) + float(car.rear.roll_centre))
    track = np.array([float(axle.track) for axle, _ in axles])
    return Corners(load, wheel, tyre, ratio, track, float(car.wheelbase), arm)


def seats_for(
    corners: Corners, wanted: float = 0.5, free: Flags | None = None, thread: float | None = None
) -> SeatAnswer:
    """Find the turns of the spring seats that bring the cross weight to a wanted figure and move the body least.

    With seat offsets ``o_i = u_i/MR_i`` at the wheels and corner rates ``c_i = k_i·t_i/(k_i + t_i)``, the body's heave,
    roll and pitch q follow from ``Bᵀ·C·(o − B·q) + W·q = 0``, W the weight's moments as it leans, and the loads change
    by ``C·(o − B·q)``. Least ``|B·q|²`` and, among those alike, least ``|o|²``, with the cross weight as wanted; then
    whole steps that come nearest to it.

    Parameters:
        corners: the car on its four springs, bars unhooked [-]
        wanted: cross weight wanted, right front plus left rear over the total [-]
        free: which seats can be turned, (2, 2); None for all four [-]
        thread: travel of a seat in one turn; None gives millimetres [m]

    Returns:
        a ``SeatAnswer``; nothing is turned where no seat can be, or where it is so already [-]

    Errors:
        ``InputError`` where a load, rate or size is not above zero, or the wanted share is no car's.

    Validity: bars unhooked, level floor, small moves; each spring stays seated; a stop about to touch bends the answer.
    Source: own derivation, statics of a stiff body on four springs.
    """
    need_positive(
        corner_load=corners.load,
        wheel_rate=corners.wheel,
        tyre_rate=corners.tyre,
        motion_ratio=corners.ratio,
        track=corners.track,
    )
    if thread is not None:
        need_positive(thread_pitch=thread)
    if not 0.4 <= wanted <= 0.6:
        rule = "must be 40 to 60 %"
        raise InputError(
            [Problem("cross weight wanted", _percent(wanted), rule, "50 % suits left and right turns alike")]
        )
    able: Flags = np.ones((2, 2), dtype=bool) if free is None else np.asarray(free, dtype=bool).reshape(2, 2)
    still = np.zeros((2, 2))
    turn = still
    if able.any() and abs(corners.cross - wanted) > 1e-6:
        grid = FINEST if thread is None else QUARTER * thread
        turn = _whole(corners, _exact(corners, wanted, able), able, wanted, grid)
    move, change = _response(corners)
    offset = (turn / corners.ratio).ravel()
    return SeatAnswer(
        turn,
        corners.load,
        corners.load + (change @ offset).reshape(2, 2),
        (move @ offset).reshape(2, 2),
        wanted,
        able,
        thread,
    )


def _response(corners: Corners) -> tuple[Array, Array]:
    """Rise of the body and change of load at the four wheels for one metre of seat offset at each wheel."""
    half = corners.track / 2
    modes = np.array([[1.0, side * half[i], 0.5 - i] for i in (0, 1) for side in (1.0, -1.0)])  # heave, roll, pitch
    rate = np.diag((corners.wheel * corners.tyre / (corners.wheel + corners.tyre)).ravel())
    lean = np.diag([0.0, 1.0, 1.0]) * corners.load.sum() * corners.arm
    lean[2, 2] /= corners.base**2  # pitch is counted as rise of the front over the rear
    move = modes @ np.linalg.solve(modes.T @ rate @ modes - lean, modes.T @ rate)
    return move, rate @ (np.eye(4) - move)


def _exact(corners: Corners, wanted: float, free: Flags) -> Array:
    """The seats' turns before they are rounded to steps, (2, 2) at the spring."""
    move, change = _response(corners)
    on = np.flatnonzero(free.ravel())
    reach = CROSS.ravel() @ change[:, on]  # change of the cross loads for each seat
    need = (wanted - corners.cross) * corners.load.sum()
    cost = move[:, on].T @ move[:, on] + 1e-6 * np.eye(len(on))
    pull = np.linalg.solve(cost, reach)
    out = np.zeros(4)
    out[on] = pull * need / (reach @ pull)
    return out.reshape(2, 2) * corners.ratio


def _whole(corners: Corners, exact: Array, free: Flags, wanted: float, grid: float) -> Array:
    """Whole steps beside the exact turns: as near as scales can tell, then with the least movement of the body."""
    move, change = _response(corners)
    below = np.floor(exact.ravel() / grid)
    ways = np.array(list(product(*[(0, 1) if on else (0,) for on in free.ravel()])), dtype=float)
    tries = np.where(free.ravel(), below + ways, 0.0) * grid
    offset = tries / corners.ratio.ravel()
    cross = (corners.load.ravel() + offset @ change.T) @ CROSS.ravel() / corners.load.sum()
    miss = np.abs(cross - wanted)
    moved = np.abs(offset @ move.T).max(axis=1)
    near = np.where(miss <= max(float(miss.min()), 0.5 * NEAR), moved, np.inf)
    best: Array = tries[int(np.lexsort((miss, near))[0])]
    return best.reshape(2, 2)


def _percent(share: float) -> str:
    return f"{number(100 * share, 1)} %"
