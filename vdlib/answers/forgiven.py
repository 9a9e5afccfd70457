"""The forgiven speed: the first speed from below at which the corner no longer forgives what the foot did."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from ..car.records import Car, Setup
from ..trim.trim import numbers
from ..units import Array, Flags, G, to_si
from .corner import Corner, Driver
from .edge import By, Edge
from .motion_start import flatten, lay_out, shape_of_all
from .motion_steps import spins
from .scenario import Lags, Scenario
from .wheel_table import ANY, GENTLE, PEAK, Table, tabulate

SLIDE = to_si(10.0, "deg")
"""Slide beyond the corner's own from which a corner has not forgiven [rad]; a convention, stated where it is used."""
WITHIN = 4.0
"""Time after the foot moves within which that slide counts [s]; a convention as well."""
FINE = to_si(0.1, "kmh")
"""Forgiven speeds are whole numbers of this: one figure for one car, whatever was asked beside it [m/s]."""
_STEP, _STABLE = 0.03, 1.4  # time step [s], and over the time that a tyre lags; checked against a quarter of it
_SHORTER = 0.8  # one size of time step over the next
_SLOWEST = 3.0
_LOW, _COARSE, _PARTS, _MANY = 0.62, 12, 10, 400
_LOWEST, _FASTEST = to_si(20.5, "kmh"), to_si(340.0, "kmh")


@dataclass(frozen=True)
class ForgivenSpeed:
    """Up to which speed a corner forgives; no number is NaN."""

    speed: Array  # first speed from below that is not forgiven, or the last tried [m/s]
    passes: Flags  # True where the slide passes ``SLIDE`` there
    grip_ends: Flags  # True where the corner cannot be held before any slide passes: the grip ends first

    @property
    def edges(self) -> tuple[Edge, ...]:
        """What is told of each case, in the order of the flattened cases [-]."""
        each = zip(*(np.ravel(one).tolist() for one in (self.speed, self.passes, self.grip_ends)), strict=True)
        return tuple(Edge(v, By.SLIDE if slides else By.GRIP if ends else By.NOTHING) for v, slides, ends in each)


def forgiven_speed(
    car: Car, setup: Setup, corner: Corner, driver: Driver | None = None, lags: Lags | None = None
) -> ForgivenSpeed:
    """Find the first speed from below at which the slide beyond the corner's own passes 10° within 4 s.

    Parameters:
        car: what stays, any broadcastable shapes [-]
        setup: what the workshop can change [-]
        corner: the corner and what the feet do in it [-]
        driver: what the hands do; a driver who did not expect it if left out [-]
        lags: how late the car answers [-]

    Returns:
        a ``ForgivenSpeed`` with the inputs' broadcast shape, in whole steps of 0.1 km/h, rounded up [-]

    Errors:
        as ``tabulate`` and ``Scenario``.

    Validity: as ``lift.simulate``; counted from the moment the foot moves; leaving the road decides nothing.
    """
    driver, lags = driver or Driver(), lags or Lags()
    search = Search.of(car, setup, corner, driver, lags)
    low, high = np.maximum(_LOW * search.reaches, _LOWEST), 1.002 * search.reaches
    few = search.reaches.size * _COARSE < _MANY  # a march of few cases costs by the step, of many by the case
    coarse, parts = (_COARSE, _PARTS) if few else (_COARSE // 2, 2)
    for _ in range(8):  # the lowest speed tried must be one that is forgiven, and the highest one that is not
        speeds = low + (high - low) * np.linspace(0.0, 1.0, coarse)[:, None]
        fate = search.fates(speeds)
        found = _bracket(speeds, fate)
        again, holds = (found.first == 0) & (low > _LOWEST * 1.01), (found.fate == 0) & (high < _FASTEST)
        if not (again | holds).any():
            break
        low, high = (
            np.where(again, np.maximum(0.6 * low, _LOWEST), np.where(holds, high, low)),
            np.where(again, low, np.where(holds, np.minimum(2 * high - low, _FASTEST), high)),
        )
    found = replace(found, low=np.floor(found.low / FINE) * FINE, high=np.ceil(found.high / FINE) * FINE)
    every = int(np.rint(np.max(found.high - found.low) / FINE)) - 1
    if search.reaches.size * every < _MANY:
        parts = every  # all that is left between, in one march
    while float(np.max(found.high - found.low)) > 1.5 * FINE:
        inside = found.low + (found.high - found.low) * np.linspace(0.0, 1.0, parts + 2)[1:-1, None]
        speeds = np.round(inside / FINE) * FINE
        found = _narrower(found, speeds, search.fates(speeds))
    shape = search.shape
    fate = found.fate.reshape(shape)
    return ForgivenSpeed(found.high.reshape(shape), fate == 1, fate == 2)


@dataclass(frozen=True)
class _Found:
    """The stretch in which the first speed lies that is not forgiven."""

    low: Array
    high: Array
    fate: Array  # of its upper end: 0 forgiven, 1 the slide passes, 2 the corner cannot be held
    first: Array  # which of the speeds tried it was


def _bracket(speeds: Array, fate: Array) -> _Found:
    bad = fate > 0
    first = np.where(bad.any(axis=0), bad.argmax(axis=0), len(fate) - 1)
    place = np.arange(speeds.shape[1])
    return _Found(speeds[np.maximum(first - 1, 0), place], speeds[first, place], fate[first, place], first)


def _narrower(found: _Found, speeds: Array, fate: Array) -> _Found:
    speeds = np.concatenate([found.low[None], speeds, found.high[None]])
    fate = np.concatenate([np.zeros_like(found.fate)[None], fate, found.fate[None]])
    return _bracket(speeds, fate)


@dataclass(frozen=True)
class Search:
    """Everything a search over speeds needs and no speed changes; cases in one row."""

    car: Car
    setup: Setup
    corner: Corner
    driver: Driver
    lags: Lags
    table: Table
    shape: tuple[int, ...]
    reaches: Array  # speed at which the grip ends [m/s]

    @staticmethod
    def of(car: Car, setup: Setup, corner: Corner, driver: Driver, lags: Lags) -> Search:
        """Lay out a search: one table for each car and setup.

        Parameters:
            car: the car [-]
            setup: its setup [-]
            corner: the corner [-]
            driver: the hands [-]
            lags: how late the car answers [-]

        Returns:
            the search [-]
        """
        shape = np.broadcast_shapes(shape_of_all(car, setup), shape_of_all(corner, driver))
        table = table_of(car, setup, corner)
        size = int(np.prod(shape))
        which = np.broadcast_to(np.arange(len(table.rows)).reshape(table.shape), shape).reshape(-1)
        ends = _grip_ends(table, car, setup, corner.sign)[which]
        reaches = np.clip(np.sqrt(ends * flatten(corner.radius, shape)), 1.05 * _LOWEST, _FASTEST)
        flat = [_flat(record, shape, size) for record in (car, setup, corner, driver)]
        return Search(flat[0], flat[1], flat[2], flat[3], lags, _spread(table, which), shape, reaches)

    @property
    def step(self) -> float:
        """Time step of every march: of a few sizes, so that neighbours hardly ever change it [s]."""
        most = _STABLE * self.lags.relaxation / float(np.max(self.reaches))
        return float(_STEP * _SHORTER ** max(0.0, np.ceil(np.log(most / _STEP) / np.log(_SHORTER))))

    def fates(self, speeds: Array) -> Array:
        """Return what becomes of each case at each speed: 0 forgiven, 1 the slide passes, 2 there is no corner.

        Parameters:
            speeds: (speeds, cases) [m/s]

        Returns:
            the same shape [-]
        """
        scenario = Scenario(
            speed=speeds,
            lateral=self.corner.lateral(speeds),
            lift=self.corner.lift,
            brake=self.corner.brake,
            starts=0.0,
            closing=self.driver.closing,
            counter_steer=self.driver.counter_steer,
            reaction=self.driver.reaction,
            lasts=WITHIN,
        )
        plan = lay_out(self.car, self.setup, scenario, self.lags, self.table)
        step = self.step
        out = spins(plan, int(np.ceil(WITHIN / step)), step, SLIDE, _SLOWEST)
        fate = np.where(plan.holds, out.astype(int), 2)
        return fate.reshape(speeds.shape)


def table_of(car: Car, setup: Setup, corner: Corner) -> Table:
    """Tabulate a corner once for every speed at which it may be driven, for the search and for the film of it.

    Parameters:
        car: the car [-]
        setup: its setup [-]
        corner: the corner [-]

    Returns:
        a ``Table`` of the car's and setup's shape [-]
    """
    own = shape_of_all(car, setup)
    radius = np.asarray(corner.radius, dtype=float)
    if np.broadcast_shapes(radius.shape, own) != own:
        radius = radius.mean()
    grip = np.maximum(car.front.tyre.grip, car.rear.tyre.grip)
    speed = np.clip(np.sqrt(0.8 * grip * G * radius), _LOWEST, _FASTEST)
    brakes = bool(np.any(np.asarray(corner.brake) > 0))
    return tabulate(car, setup, speed, 1.0 if brakes else 0.0, corner.sign, ANY if brakes else GENTLE)


def _grip_ends(table: Table, car: Car, setup: Setup, sign: float) -> Array:
    """Return about the lateral acceleration at which an axle has no more side force, (m,) [m/s²]."""
    share = np.broadcast_to(np.asarray(car.front_share, dtype=float), table.shape).reshape(-1)
    mass = np.broadcast_to(np.asarray(car.mass, dtype=float), table.shape).reshape(-1)
    lateral = table.lowest[:, None] + table.step[:, None] * np.arange(table.count)
    middle = int(np.searchsorted(table.forward, 0.0))
    peak = table.rows[:, : table.count * table.forward.size, PEAK].reshape(len(share), table.count, -1, 4)[:, :, middle]
    peak = peak.reshape(*peak.shape[:2], 2, 2).sum(axis=-1)
    need = mass[:, None, None] * np.stack([share, 1 - share], axis=-1)[:, None] * np.abs(lateral)[..., None]
    use = (need / peak).max(axis=-1)
    if sign < 0:
        use, lateral = use[:, ::-1], -lateral[:, ::-1]
    over = use > 1
    over[:, -1] = True
    over &= lateral > 0
    at = over.argmax(axis=1)
    row = np.arange(len(at))
    before, after = use[row, at - 1], use[row, at]
    part = np.clip((1 - before) / np.maximum(after - before, 1e-9), 0.0, 1.0)
    return np.asarray(lateral[row, at - 1] + part * (lateral[row, at] - lateral[row, at - 1]))


def _flat(record: Any, shape: tuple[int, ...], size: int) -> Any:
    """Return a record whose arrays have one axis, that of the cases; plain numbers stay."""
    if not any(np.ndim(value) for value in numbers(record)):
        return record
    changes = {}
    for field in fields(record):
        value = getattr(record, field.name)
        if is_dataclass(value):
            changes[field.name] = _flat(value, shape, size)
        elif isinstance(value, np.ndarray) and value.ndim:
            changes[field.name] = flatten(value, shape)
    return replace(record, **changes)


def _spread(table: Table, which: Any) -> Table:
    """Return a table whose shape is that of the cases in one row; rows are shared, not copied, where they may be."""
    if np.array_equal(which, np.arange(len(table.rows))):
        return replace(table, shape=(len(which),))
    return replace(
        table,
        shape=(len(which),),
        rows=table.rows[which],
        stands=table.stands[which],
        lowest=table.lowest[which],
        step=table.step[which],
        pressure=table.pressure[:, which],
        form=table.form[..., which],
    )


__all__ = ["FINE", "SLIDE", "WITHIN", "ForgivenSpeed", "Search", "forgiven_speed", "table_of"]
