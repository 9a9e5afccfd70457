"""A setup to try: what differs from the car as it stands, and the cars and setups that come of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any, cast

import numpy as np

from ..car.keys import ENDS
from ..car.records import AxleSetup, Car, Setup
from ..car.tyre import of_other_kind
from ..checks import InputError, Problem, range_problem
from ..trim.standing import stands

AS_IT_STANDS = "as it stands"
"""Name of the version everything is compared with."""
LOAD_RANGES: dict[str, tuple[str, str, float, float]] = {
    "mass": ("mass put in or taken out", "kg", -300, 300),
    "behind_front": ("its place behind the front axle", "mm", -1500, 5500),
    "left": ("its place left of the middle", "mm", -1200, 1200),
    "height": ("its height above the ground", "mm", 0, 1800),
}
"""Field of a ``Load`` → its name, unit and range."""


@dataclass(frozen=True)
class Load:
    """A mass put into the car, or taken out when negative: ballast, fuel, the difference of another driver."""

    name: str
    mass: float  # [kg]
    behind_front: float  # behind the front axle line [m]
    left: float  # left of the car's middle [m]
    height: float  # above the ground [m]

    def __post_init__(self) -> None:
        """Refuse what cannot be in a car."""
        found = [
            range_problem(f"{self.name}: {words}", getattr(self, key), unit, low, high)
            for key, (words, unit, low, high) in LOAD_RANGES.items()
        ]
        if any(found):
            raise InputError(problem for problem in found if problem)


@dataclass(frozen=True)
class Candidate:
    """A setup to try, given by what differs: settings by dotted name in SI, loads, and tyre kinds by axle."""

    name: str = "what-if"
    settings: Mapping[str, float] = field(default_factory=dict)
    loads: tuple[Load, ...] = ()
    tyres: Mapping[str, str] = field(default_factory=dict)
    note: str = ""

    @property
    def empty(self) -> bool:
        """Whether nothing differs from the car as it stands."""
        return not (self.settings or self.loads or self.tyres)


@dataclass(frozen=True)
class Version:
    """One whole car and setup with the name it goes by."""

    name: str
    car: Car
    setup: Setup


def put(record: Any, path: str, value: Any) -> Any:
    """Return a record with one number changed, however deep it stands.

    Parameters:
        record: a frozen dataclass [-]
        path: dotted name such as ``front.tyre.grip`` [-]
        value: what to put there [any]

    Returns:
        a new record [-]

    Errors:
        ``InputError`` for a value out of range.
    """
    return put_all(record, {path: value})


def put_all(record: Any, values: Mapping[str, Any]) -> Any:
    """Return a record with several numbers changed at once, however deep they stand.

    Parameters:
        record: a frozen dataclass [-]
        values: dotted name → what to put there [any]

    Returns:
        a new record, checked once as it then is [-]

    Errors:
        ``InputError`` for a value out of range.
    """
    if not values:
        return record
    inside: dict[str, dict[str, Any]] = {}
    own: dict[str, Any] = {}
    for path, value in values.items():
        head, _, rest = path.partition(".")
        if rest:
            inside.setdefault(head, {})[rest] = value
        else:
            own[head] = value
    return replace(record, **own, **{head: put_all(getattr(record, head), some) for head, some in inside.items()})


def leaves(record: Any, prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Yield every number of a record with its dotted name.

    Parameters:
        record: a frozen dataclass [-]
        prefix: put before each name [-]

    Returns:
        an iterator of names and numbers [any]
    """
    for one in fields(record):
        value = getattr(record, one.name)
        if is_dataclass(value):
            yield from leaves(value, f"{prefix}{one.name}.")
        elif value is not None and not isinstance(value, str):
            yield prefix + one.name, value


def standing(car: Car, setup: Setup) -> Setup:
    """Return the same setup with toe and camber as they stand at its own ride heights, so that ``h_a = h``.

    Parameters:
        car: the car, with its toe and camber curves [-]
        setup: the setup, its toe and camber read at any height [-]

    Returns:
        a setup of the very same trim [-]

    Validity: toe and camber move along the car file's curves; a check with strings goes before it.
    """
    out: Any = setup
    found = stands(car, setup)
    for i, end in enumerate(ENDS):
        own: AxleSetup = getattr(setup, end)
        now = own.with_wheels("toe", *found.toe[i]).with_wheels("camber", *found.camber[i])
        read = {"aligned_height": own.height, "aligned_height_difference": own.height_difference}
        out = replace(out, **{end: replace(now, **read)})
    return cast(Setup, out)


def at_heights_of(base: Version, other: Setup) -> Setup:
    """Return the car as it stands at other ride heights: toe and camber follow their curves, nothing else is set.

    Parameters:
        base: the car as it stands [-]
        other: the setup whose ride heights it gets [-]

    Returns:
        a ``Setup``, toe and camber at its own heights [-]

    Validity: as ``standing``.
    """
    out: Any = base.setup
    for end in ENDS:
        new = getattr(other, end)
        own = replace(getattr(out, end), height=new.height, height_difference=new.height_difference)
        out = replace(out, **{end: own})
    return standing(base.car, out)


def with_loads(car: Car, loads: Sequence[Load]) -> Car:
    """Return the car with masses put in: moments about the front axle, the middle, the ground, and the yaw inertia.

    ``m' = m + Σm_i``, ``F' = (m·F + Σm_i·(1 − x_i/L))/m'``, ``Y' = (m·Y + Σm_i·(½ + y_i/t))/m'``,
    ``h' = (m·h + Σm_i·z_i)/m'``, ``I' = I + Σm_i·r_i² − |Σm_i·r_i|²/m'`` with r from the former centre of gravity.

    Parameters:
        car: the car [-]
        loads: what is put in or taken out [-]

    Returns:
        a new ``Car`` [-]

    Errors:
        ``InputError`` when the car that comes of it is out of range.

    Validity: ride heights and cross weight are those of the setup, set with the load in the car.
    Source: statics; the parallel-axis theorem.
    """
    if not loads:
        return car
    mass = np.asarray(car.mass, dtype=float)
    track = 0.5 * np.add(car.front.track, car.rear.track)
    added = sum(load.mass for load in loads)
    total = mass + added
    front = sum(load.mass * (1 - load.behind_front / np.asarray(car.wheelbase)) for load in loads)
    left = sum(load.mass * (0.5 + load.left / track) for load in loads)
    high = sum(load.mass * load.height for load in loads)
    behind = np.multiply(car.wheelbase, 1 - np.asarray(car.front_share))
    aside = (np.asarray(car.left_share) - 0.5) * track
    x = [load.behind_front - behind for load in loads]
    y = [load.left - aside for load in loads]
    square = sum(load.mass * (a * a + b * b) for load, a, b in zip(loads, x, y, strict=True))
    moved = (
        sum(load.mass * a for load, a in zip(loads, x, strict=True)),
        sum(load.mass * b for load, b in zip(loads, y, strict=True)),
    )
    return replace(
        car,
        mass=total,
        front_share=(mass * car.front_share + front) / total,
        left_share=(mass * car.left_share + left) / total,
        cg_height=(mass * car.cg_height + high) / total,
        yaw_inertia=car.inertia + square - (moved[0] ** 2 + moved[1] ** 2) / total,
    )


def baseline(car: Car, setup: Setup) -> Version:
    """Return the car as it is now: toe and camber at its own heights, the yaw inertia written out.

    Parameters:
        car: the car, plain numbers [-]
        setup: the setup, plain numbers [-]

    Returns:
        a ``Version`` [-]
    """
    return Version(AS_IT_STANDS, replace(car, yaw_inertia=float(car.inertia)), standing(car, setup))


def version(candidate: Candidate, base: Version) -> Version:
    """Return the car and setup of a candidate.

    Parameters:
        candidate: what differs [-]
        base: the car as it stands [-]

    Returns:
        a ``Version`` [-]

    Errors:
        ``InputError`` for numbers out of range, an unknown setting or an unknown tyre kind.
    """
    known = dict(leaves(base.setup))
    unknown = [path for path in candidate.settings if path not in known]
    if unknown:
        raise InputError([Problem(unknown[0], "", "is an unknown setting", f"the settings are {', '.join(known)}")])
    car, setup = with_loads(base.car, candidate.loads), base.setup
    for end, kind in candidate.tyres.items():
        if end not in ENDS:
            raise InputError([Problem("tyres", repr(end)[:60], "must be front or rear", "name the axle")])
        axle = getattr(car, end)
        car = replace(car, **{end: replace(axle, tyre=of_other_kind(axle.tyre, kind))})
    return Version(candidate.name, car, put_all(setup, candidate.settings))


def between(base: Version, setup: Setup, name: str = "what-if", **more: Any) -> Candidate:
    """Return the candidate that leads from the car as it stands to a setup.

    Parameters:
        base: the car as it stands [-]
        setup: the setup wanted [-]
        name: what it is to be called [-]
        more: further fields of ``Candidate`` [any]

    Returns:
        a ``Candidate`` that holds the settings that differ [-]
    """
    old = dict(leaves(base.setup))
    return Candidate(name, {path: float(v) for path, v in leaves(setup) if v != old[path]}, **more)
