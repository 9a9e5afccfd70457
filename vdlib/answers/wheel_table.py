"""What the trim gives each wheel, tabulated over lateral and longitudinal acceleration, for the motion in time.

Wheels are front left, front right, rear left, rear right; cases lie on the last axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..car.records import Car, Moment, Setup
from ..car.tyre import curve, grip
from ..checks import InputError, Problem
from ..trim.aero import dynamic_pressure
from ..trim.trim import State, numbers, trim
from ..units import Array, Flags, G

STEEPNESS, PEAK, OFFSET, GRIP, LOAD = (slice(4 * i, 4 * i + 4) for i in range(5))
"""Rows of what a table gives, four wheels each."""
FORWARD, LEFT = 20, 21
"""Rows of how far the centre of gravity has moved over the wheels as the body dips and leans."""
ROWS = 22
ANY = tuple(g * G for g in (-1.2, -0.8, -0.5, -0.3, -0.15, 0.0, 0.15, 0.4))
"""Nodes of longitudinal acceleration for whatever the feet may do [m/s²]."""
GENTLE = tuple(g * G for g in (-0.45, -0.3, -0.15, 0.0, 0.15))
"""Nodes for a foot that closes the throttle and does not brake hard [m/s²]."""
STEPS = 20
"""Nodes of lateral acceleration on each side of none."""
BEHIND = 3
"""Nodes on the other side where a table is made for one way of turning."""
MOST_TABLES = 2000
_SIDE = np.array([1.0, -1.0])
# Catmull-Rom weights of four neighbours, as a cubic in the place between the middle two
_CUBIC = 0.5 * np.array([[0.0, -1, 2, -1], [2, 0, -5, 3], [0, 1, 4, -3], [0, 0, -1, 1]])


@dataclass(frozen=True)
class Table:
    """What the trim gives each wheel over lateral and longitudinal acceleration and air pressure, for m cars.

    ``rows`` (m, nodes, 22) holds steepness B [1/rad], peak D [N], offset of the slip angle [rad], longitudinal grip [N]
    and load [N] of four wheels, and how far the centre of gravity is forward of where it stands and left of the middle
    [m]; ``stands`` (m, nodes) is False where the trim found no pose: the nearest is held.
    """

    shape: tuple[int, ...]
    rows: Array
    stands: Flags
    lowest: Array  # lateral acceleration of the first node (m,) [m/s²]
    step: Array  # from one node to the next (m,) [m/s²]
    count: int  # nodes of lateral acceleration
    forward: Array  # nodes of longitudinal acceleration [m/s²]
    pressure: Array  # (1 or 2, m) [Pa]
    form: Array  # (2, 4, m) shape C and curvature E of the tyre curves [-]

    def look(self, car: NDArray[np.intp], felt_y: Array, felt_x: Array, pressure: Array | None = None) -> Array:
        """Return the 22 numbers of each case, cubic along lateral acceleration and linear along the others.

        Parameters:
            car: which of the table's cars each case is, (n,) [-]
            felt_y: lateral acceleration, (n,) [m/s²]
            felt_x: longitudinal acceleration, (n,) [m/s²]
            pressure: dynamic pressure of the air, (n,); left out, the first of the table [Pa]

        Returns:
            (22, n), see ``STEEPNESS`` and those beside it [any]
        """
        place = np.minimum(np.maximum((felt_y - self.lowest[car]) / self.step[car], 1.0), self.count - 2.000001)
        node = place.astype(int)
        part = place - node
        powers = np.empty((4, *part.shape))
        powers[0], powers[1] = 1.0, part
        np.multiply(part, part, out=powers[2])
        np.multiply(powers[2], part, out=powers[3])
        cubic = _CUBIC @ powers
        felt_x = np.minimum(np.maximum(felt_x, self.forward[0]), self.forward[-1] - 1e-9)
        low = np.searchsorted(self.forward, felt_x, side="right") - 1
        inner = (felt_x - self.forward[low]) / (self.forward[low + 1] - self.forward[low])
        size = self.forward.size
        weight = np.concatenate([cubic * (1 - inner), cubic * inner])
        around = np.arange(-1, 3) * size
        index = node * size + low + np.concatenate([around, around + 1])[:, None]
        if self.pressure.shape[0] > 1 and pressure is not None:
            first, second = self.pressure[:, car]
            here = (pressure - second) / (first - second)
            weight = np.concatenate([weight * here, weight * (1 - here)])
            index = np.concatenate([index, index + self.count * size])
        nodes = self.rows.shape[1]
        near = np.take(self.rows.reshape(-1, ROWS), (index + car * nodes).ravel(), axis=0).reshape(*index.shape, ROWS)
        found = np.ascontiguousarray(np.einsum("kn,knc->nc", weight, near).T)
        np.maximum(found[GRIP], 1.0, out=found[GRIP])  # the cubic may dip below nothing beside a lifting wheel
        return found

    def beyond(self, car: NDArray[np.intp], felt_y: Array, felt_x: Array) -> Flags:
        """Return where the accelerations lie outside what the trim could follow.

        Parameters:
            car: which of the table's cars each case is [-]
            felt_y: lateral acceleration, its last axis the cases [m/s²]
            felt_x: longitudinal acceleration, likewise [m/s²]

        Returns:
            True where they do [-]
        """
        node = np.rint((felt_y - self.lowest[car]) / self.step[car]).astype(int)
        near = np.abs(felt_x[..., None] - self.forward).argmin(axis=-1)
        outside = (node < 0) | (node >= self.count) | (felt_x < self.forward[0]) | (felt_x > self.forward[-1])
        fallen: Flags = ~self.stands[car, np.clip(node, 0, self.count - 1) * self.forward.size + near]
        either: Flags = outside | fallen
        return either


def tabulate(
    car: Car,
    setup: Setup,
    speed: Any,
    braking: Any = 0.0,
    turn: Any = None,
    forward: tuple[float, ...] = ANY,
) -> Table:
    """Ask the trim for every wheel over a grid of accelerations, all cars in one call.

    Parameters:
        car: the car [-]
        setup: its setup [-]
        speed: speed at the start, any shape that broadcasts with the car's [m/s]
        braking: part of the slowing done by the brakes, likewise [-]
        turn: 1 for left turns and −1 for right ones, likewise; left out, the table serves both [-]
        forward: nodes of longitudinal acceleration, rising [m/s²]

    Returns:
        a ``Table`` [-]

    Errors:
        ``InputError`` for more cars than a table is meant for, and as of ``trim``.
    """
    given = (*numbers(car), *numbers(setup), speed, braking, 0.0 if turn is None else turn)
    shape = np.broadcast_shapes(*(np.shape(value) for value in given))
    many = int(np.prod(shape))
    if many > MOST_TABLES:
        raise InputError([Problem("cars in one run", str(many), f"must be at most {MOST_TABLES}", "run them in parts")])
    axles = (car.front, car.rear)
    winged = any(np.any(value) for axle in axles for value in (axle.lift_area, axle.lift_attitude))
    speed = np.asarray(speed, dtype=float)
    slower = speed * np.where(speed > 12.0, 0.5, 1.5)  # a second air pressure, within the trim's range
    speeds = np.stack([speed, slower] if winged else [speed])
    grips = np.broadcast_to(np.maximum(car.front.tyre.grip, car.rear.tyre.grip), shape)
    pace = (
        1.2 * G / STEPS * (grips if np.ptp(grips) else grips.ravel()[:1].reshape((1,) * len(shape)))
    )  # each car's own
    first, way = (-STEPS, 1.0) if turn is None else (-BEHIND, np.asarray(turn, dtype=float))
    forward_nodes = np.asarray(forward, dtype=float)
    ones = (1,) * len(shape)
    lateral = np.arange(first, STEPS + 1.0).reshape(-1, 1, *ones) * pace
    moment = Moment(
        speeds.reshape(-1, 1, 1, *ones[speed.ndim :], *speed.shape),
        lateral * np.reshape(way, (1, 1, *ones[np.ndim(way) :], *np.shape(way))),
        forward_nodes.reshape(-1, *ones),
        braking,
    )
    pose = trim(car, setup, moment)
    grid = pose.state.shape[: pose.state.ndim - len(shape)]
    columns, form = [], []
    for i, (axle, own, back) in enumerate(zip(axles, (setup.front, setup.rear), (-1.0, 1.0), strict=True)):
        tyre, load = axle.tyre, pose.load[i]
        wheels = np.stack(np.broadcast_arrays(*own.wheels("pressure")))
        hot = wheels.reshape(2, *(1,) * (pose.state.ndim + 1 - wheels.ndim), *wheels.shape[1:])
        made = curve(tyre, load, pose.lean[i], hot)
        side = _SIDE.reshape(-1, *(1,) * pose.state.ndim)
        bend = back * np.multiply(axle.compliance_steer, pose.side_force[i])
        has = tyre.long_ratio * grip(tyre, load, hot) * load
        wheel = (made.steepness, made.peak, made.shift + bend - side * pose.toe[i], np.maximum(has, 1.0), load)
        columns.append([np.broadcast_to(value, (2, *grid, *shape)) for value in wheel])
        form.append([np.broadcast_to(value, (2, *shape)) for value in (made.shape, made.curvature)])
    wheels = np.concatenate([value for pair in zip(*columns, strict=True) for value in pair])
    gone = np.broadcast_to(pose.cg_moved, (2, *grid, *shape))
    rows = np.concatenate([wheels, gone]).reshape(ROWS, *grid, many)
    stands: Flags = (pose.state.astype(int) & int(State.TIPS | State.NOT_SOLVED)) == 0
    stands = np.broadcast_to(stands, (*grid, *shape)).reshape(1, *grid, many)
    rows, held = _outward(rows, stands, 3, int(np.searchsorted(forward_nodes, 0.0)))
    rows, _ = _outward(rows, held, 2, -first)
    # a table for right turns is laid from its far end, so that its nodes rise as any other's do
    right = np.broadcast_to(np.asarray(way) < 0, shape).reshape(many)
    if right.any():
        rows, stands = (np.where(right, np.flip(value, 2), value) for value in (rows, stands))
    each = np.broadcast_to(pace, shape).reshape(many)
    low = each * np.where(right, -STEPS, first)
    return Table(
        shape=shape,
        rows=np.ascontiguousarray(rows.reshape(ROWS, -1, many).T),
        stands=stands[0, 0].reshape(-1, many).T,
        lowest=low,
        step=each,
        count=lateral.shape[0],
        forward=forward_nodes,
        pressure=np.stack([np.broadcast_to(dynamic_pressure(each), shape).reshape(many) for each in speeds]),
        form=np.stack([np.concatenate(pair).reshape(4, many) for pair in zip(*form, strict=True)]),
    )


def _outward(rows: Array, good: Flags, axis: int, middle: int) -> tuple[Array, Flags]:
    """Put the nearest good node toward the middle in place of each bad one along an axis; return which are good now."""
    shape = [1] * rows.ndim
    shape[axis] = -1
    place = np.where(good, np.arange(rows.shape[axis]).reshape(shape), middle)
    upper = np.maximum.accumulate(np.maximum(place, middle), axis=axis)
    lower = np.flip(np.minimum.accumulate(np.flip(np.minimum(place, middle), axis), axis=axis), axis)
    source = np.where(np.arange(rows.shape[axis]).reshape(shape) >= middle, upper, lower)
    return np.take_along_axis(rows, source, axis), np.take_along_axis(good, source, axis)
