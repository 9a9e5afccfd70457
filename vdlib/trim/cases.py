"""The cases of one trim laid out as arrays that broadcast, and some of the cases of such arrays."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from ..car.records import WHEEL_FIELDS, Car, Moment, Setup
from ..checks import InputError, Problem
from ..units import Array, Value
from . import suspension
from .stance import SIDE

ROUTES: tuple[str, ...] = ("weight", "cg_height", "roll_centres", "stops", "toe", "camber", "caster", "anti", "air")
"""The ways a change of ride heights reaches the balance; each can be given ride heights of its own."""

UNEVEN_ROUTES: tuple[str, ...] = ("weight", "stops", "toe", "camber")
"""The routes along which ride heights that differ left to right act."""
Heights = Mapping[str, tuple[Value, ...]]
"""Route → the (front, rear) ride heights [m] that this route sees; left minus right of each may follow, else it is the
setup's own."""

_T = TypeVar("_T")


def numbers(record: Any) -> Iterator[Any]:
    """Yield every number a record holds, records inside it included.

    Parameters:
        record: a dataclass [-]

    Returns:
        an iterator of numbers and arrays [any]
    """
    for name in record.__dataclass_fields__:
        value = getattr(record, name)
        if type(value) is float:
            yield value
        elif is_dataclass(value):
            yield from numbers(value)
        elif value is not None and not isinstance(value, str):
            yield value


def shape_of(car: Car, setup: Setup, moment: Moment, heights: Heights | None = None) -> tuple[int, ...]:
    """Return the broadcast shape of everything that goes into a trim.

    Parameters:
        car: the car [-]
        setup: the setup [-]
        moment: the moment [-]
        heights: ride heights for single routes [m]

    Returns:
        the shape [-]
    """
    pairs = [height for pair in dict(heights or {}).values() for height in pair]
    leaves = [*numbers(car), *numbers(setup), *numbers(moment), *pairs]
    return np.broadcast_shapes(*{np.shape(leaf) for leaf in leaves if type(leaf) is not float})


class Case:
    """All inputs as arrays: whole-car numbers (n,), axle numbers (2, n); n is 1 where all cases share one value."""

    def __init__(self, car: Car, setup: Setup, moment: Moment, heights: Heights | None) -> None:
        level = (setup.front.height, setup.rear.height)
        seen: dict[str, tuple[Value, ...]] = {route: level for route in ROUTES} | dict(heights or {})
        self.shape = shape_of(car, setup, moment, heights)
        self.size = int(np.prod(self.shape))
        if not self.size:
            raise InputError([Problem("cases", "none", "must be one at least", "give each number one value at least")])
        one, pair = self._one, self._pair
        v: dict[str, Array] = {}
        for name in (
            "mass",
            "cg_height",
            "wheelbase",
            "front_share",
            "left_share",
            "drag_area",
            "brake_front",
            "drive_front",
            "caster_offset",
        ):
            v[name] = one(getattr(car, name))
        v["caster"], v["cross_weight"] = one(setup.caster), one(setup.cross_weight)
        for name in ("speed", "lateral", "longitudinal", "braking", "coasting"):
            v[name] = one(getattr(moment, name))
        kept = ("tyre", "reference_height", "wheel_radius", "motion_ratio")
        for field in fields(car.front):
            if field.name not in kept:
                v[field.name] = pair(getattr(car.front, field.name), getattr(car.rear, field.name))
        v["radius"] = pair(car.front.wheel_radius, car.rear.wheel_radius)
        for field in fields(car.front.tyre):
            if field.name != "kind":
                v["tyre." + field.name] = pair(getattr(car.front.tyre, field.name), getattr(car.rear.tyre, field.name))
        for name in ("toe", "camber", "pressure"):
            v[name] = pair(getattr(setup.front, name), getattr(setup.rear, name))
            difference = self._differences(setup, WHEEL_FIELDS[name])
            if difference.any():
                v[name] = v[name] + SIDE * 0.5 * difference
        v["wheel_rate"] = pair(
            suspension.wheel_rate(setup.front.spring, car.front.motion_ratio),
            suspension.wheel_rate(setup.rear.spring, car.rear.motion_ratio),
        )
        v["bar_rate"] = pair(
            suspension.bar_wheel_rate(setup.front.bar, car.front.track),
            suspension.bar_wheel_rate(setup.rear.bar, car.rear.track),
        )
        v["aligned_rise"] = pair(
            np.subtract(setup.front.aligned_height, car.front.reference_height),
            np.subtract(setup.rear.aligned_height, car.rear.reference_height),
        )
        for route, (front, rear, *_) in seen.items():
            v["rise." + route] = pair(
                np.subtract(front, car.front.reference_height), np.subtract(rear, car.rear.reference_height)
            )
        self._lay_out_uneven(setup, seen, v)
        self.values = v

    def _lay_out_uneven(self, setup: Setup, seen: Mapping[str, tuple[Value, ...]], v: dict[str, Array]) -> None:
        """Add the height differences left to right, where there are any."""
        own = self._differences(setup, "height_difference")
        given = {route: self._pair(*seen[route][2:]) if len(seen[route]) > 2 else own for route in UNEVEN_ROUTES}
        given["aligned"] = self._differences(setup, "aligned_height_difference")
        given["weighed"] = self._differences(setup, "weighed_difference")
        if any(np.any(value) for value in given.values()):
            v |= {"uneven." + name: value for name, value in given.items()}

    def _differences(self, setup: Setup, name: str) -> Array:
        return self._pair(getattr(setup.front, name), getattr(setup.rear, name))

    def _one(self, value: Any) -> Array:
        if type(value) is float:
            return np.array((value,))
        array = np.asarray(value, dtype=float)
        return array.reshape(1) if array.size == 1 else np.broadcast_to(array, self.shape).reshape(-1)

    def _pair(self, front: Any, rear: Any) -> Array:
        if type(front) is float and type(rear) is float:
            return np.array(((front,), (rear,)))
        f, r = self._one(front), self._one(rear)
        n = max(f.size, r.size)
        out = np.empty((2, n))
        out[0], out[1] = f, r
        return out


def part(thing: _T, which: NDArray[np.intp] | slice) -> _T:
    """Return some of the cases of arrays, or of dictionaries, tuples and records of arrays; what all share stays.

    Parameters:
        thing: what holds the arrays, cases along their last axis [any]
        which: the cases to keep [-]

    Returns:
        the same kind of thing [any]
    """
    whole: Any = thing
    some: Any = thing
    if isinstance(whole, np.ndarray):
        some = whole if whole.shape[-1] == 1 else whole[..., which]
    elif isinstance(whole, dict):
        some = {key: part(value, which) for key, value in whole.items()}
    elif isinstance(whole, tuple):
        some = tuple(part(value, which) for value in whole)
    elif is_dataclass(whole):
        some = replace(whole, **{field.name: part(getattr(whole, field.name), which) for field in fields(whole)})  # type: ignore[type-var]
    return some  # type: ignore[no-any-return]
