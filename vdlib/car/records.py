"""The records everything starts from: Car (what stays), Setup (what the workshop changes), Moment (what is being done).

Every number is SI and may be a float or an array; arrays broadcast together. Making a record checks it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from functools import cache
from typing import Any

import numpy as np

from ..checks import InputError, Problem, range_problem
from ..glossary import GLOSSARY, Quantity
from ..units import G, Value, to_si

PHASES: dict[str, tuple[float, float, float]] = {
    "brake": (-0.30 * G, 1.0, 0.0),
    "lift": (-0.10 * G, 0.0, 1.0),
    "steady": (0.0, 0.0, 0.0),
    "drive": (0.15 * G, 0.0, 0.0),
}
"""Phase of a corner → (longitudinal acceleration [m/s²], part done by the brakes [-], 1 where air and rolling come on
top of it [-]): a lift is named by what the engine does, the others by what the car does.

Usual sizes, common practice, no source.
"""


class _Checked:
    """A record whose numeric fields are checked against the glossary when it is made."""

    def __post_init__(self) -> None:
        problems = list(field_problems(self))
        if problems:
            raise InputError(problems)


def field_problems(record: Any) -> Iterator[Problem]:
    """Yield every fault among one record's own numbers, named by field.

    Parameters:
        record: one of this module's records [-]

    Returns:
        an iterator of ``Problem`` [-]
    """
    kind: Any = type(record)
    for name, entry, low, high in _numbers(kind):
        value = getattr(record, name)
        if value is None or (isinstance(value, float) and low <= value <= high):
            continue
        found = range_problem(entry.name, value, entry.unit, entry.low, entry.high)
        if found:
            yield found


@cache
def _numbers(kind: type) -> tuple[tuple[str, Quantity, float, float], ...]:
    """Return a record's own numbers: name, entry in the glossary, least and greatest in SI."""
    entries = [(field.name, GLOSSARY[field.name]) for field in fields(kind) if field.name in GLOSSARY]
    return tuple((name, e, float(to_si(e.low, e.unit)), float(to_si(e.high, e.unit))) for name, e in entries)


@dataclass(frozen=True)
class Tyre(_Checked):
    """One tyre's side-force curve and its few corrections; see ``tyre.py`` for the equations."""

    nominal_load: Value
    stiffness_max: Value
    stiffness_load: Value
    grip: Value
    grip_fall: Value
    shape: Value
    curvature: Value
    camber_thrust: Value
    camber_loss: Value
    long_ratio: Value
    pressure_nominal: Value
    stiffness_per_bar: Value
    grip_per_bar: Value
    kind: str = "own numbers"


@dataclass(frozen=True)
class Axle(_Checked):
    """What stays on one axle: sizes, masses, suspension curves counted from the reference height, tyre."""

    track: Value
    unsprung_mass: Value
    wheel_radius: Value
    reference_height: Value
    motion_ratio: Value
    tyre_rate: Value
    roll_centre: Value
    tyre: Tyre
    roll_centre_slope: Value = 0.0
    bump_gap: Value = 0.25
    bump_stiffening: Value = 0.0
    droop_gap: Value = 0.25
    droop_stiffening: Value = 2e7
    toe_slope: Value = 0.0
    toe_bend: Value = 0.0
    camber_slope: Value = 0.0
    anti_brake: Value = 0.0
    anti_drive: Value = 0.0
    anti_slope: Value = 0.0
    compliance_steer: Value = 0.0
    lift_area: Value = 0.0
    lift_attitude: Value = 0.0


@dataclass(frozen=True)
class Car(_Checked):
    """What stays on the car between two visits to the workshop."""

    name: str
    mass: Value
    front_share: Value
    cg_height: Value
    wheelbase: Value
    front: Axle
    rear: Axle
    brake_front: Value
    drive_front: Value
    left_share: Value = 0.5
    yaw_inertia: Value | None = None
    drag_area: Value = 0.0
    caster_offset: Value = 0.0
    note: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        unsprung = np.asarray(self.front.unsprung_mass) + np.asarray(self.rear.unsprung_mass)
        light = np.asarray(self.mass) * np.minimum(self.front_share, 1 - np.asarray(self.front_share))
        if np.any(unsprung >= 0.5 * np.asarray(self.mass)) or np.any(
            np.maximum(self.front.unsprung_mass, self.rear.unsprung_mass) >= light
        ):
            raise InputError(
                [
                    Problem(
                        "unsprung mass",
                        f"{float(np.max(unsprung)):.4g} kg on both axles",
                        "must be well below the weight that stands on each axle",
                        "check the masses and the front share",
                    )
                ]
            )

    @property
    def inertia(self) -> Any:
        """Yaw inertia: the given one, or the larger of ``3.176·m − 1754`` and ``m·a·b`` [kg·m²].

        Validity: a guess; two cars of one mass differ by a tenth and more, so give the car's own value where it is
        known (13 % less in the one mid-engined car of the list). The fit falls to nothing for light cars (552 kg);
        ``m·a·b``, the inertia of the car's weight gathered at its axles, is taken wherever it is larger, so that there
        is no step at any mass.
        Source: K. Tse, Estimating vehicle inertia with the NHTSA database (2020), regression over the 73 cars of
        Heydinger et al., SAE 1999-01-1336; ``m·a·b`` common practice, no source.
        """
        if self.yaw_inertia is not None:
            return self.yaw_inertia
        mass = np.asarray(self.mass, dtype=float)
        gathered = mass * np.square(self.wheelbase) * self.front_share * (1 - np.asarray(self.front_share))
        return np.maximum(3.176 * mass - 1754, gathered)


WHEEL_FIELDS: dict[str, str] = {
    name: f"{name}_difference" for name in ("height", "toe", "camber", "pressure", "aligned_height")
}
"""Number that each wheel has of its own → the field that holds left minus right; the plain field is their mean."""
SIDES = ("left", "right")


@dataclass(frozen=True)
class AxleSetup(_Checked):
    """What the workshop can change on one axle: its two wheels' mean, and left minus right where they differ.

    A wheel's height is what a tape reads there. A body is stiff: heights set at four wheels that lie in no one plane
    twist the springs against each other, and load moves across the diagonal. The corner weights are true at the height
    difference at which the car was weighed; a change since then moves load.
    """

    height: Value
    spring: Value
    bar: Value
    toe: Value
    camber: Value
    pressure: Value
    aligned_height: Value
    height_difference: Value = 0.0
    toe_difference: Value = 0.0
    camber_difference: Value = 0.0
    pressure_difference: Value = 0.0
    aligned_height_difference: Value = 0.0
    weighed_difference: Value = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        problems = []
        for name, difference in WHEEL_FIELDS.items():
            if np.any(getattr(self, difference)):
                entry = GLOSSARY[name]
                for side, value in zip(SIDES, self.wheels(name), strict=True):
                    found = range_problem(f"{side} {entry.name}", value, entry.unit, entry.low, entry.high)
                    problems += [found] if found else []
        if problems:
            raise InputError(problems)

    def wheels(self, name: str) -> tuple[Any, Any]:
        """Return one number of the left and of the right wheel: ``mean ± ½·difference``.

        Parameters:
            name: a key of ``WHEEL_FIELDS`` [-]

        Returns:
            left and right, in SI [any]
        """
        mean, half = getattr(self, name), np.multiply(0.5, getattr(self, WHEEL_FIELDS[name]))
        return mean + half, mean - half

    def with_wheels(self, name: str, left: Value, right: Value) -> AxleSetup:
        """Return the same axle with one number of its two wheels changed.

        Parameters:
            name: a key of ``WHEEL_FIELDS`` [-]
            left: the left wheel's, any shape, in SI [any]
            right: the right wheel's, likewise [any]

        Returns:
            a new ``AxleSetup`` [-]
        """
        changes: dict[str, Any] = {name: 0.5 * np.add(left, right), WHEEL_FIELDS[name]: np.subtract(left, right)}
        return replace(self, **{key: value[()] for key, value in changes.items()})

    @property
    def uneven(self) -> bool:
        """Whether left and right differ in anything, now or when read."""
        return any(np.any(getattr(self, name)) for name in (*WHEEL_FIELDS.values(), "weighed_difference"))


@dataclass(frozen=True)
class Setup(_Checked):
    """What the workshop can change on the car; toe and camber are true at the height at which they were read."""

    front: AxleSetup
    rear: AxleSetup
    caster: Value
    cross_weight: Value = 0.5

    def with_heights(self, front: Value, rear: Value) -> Setup:
        """Return the same setup standing at other ride heights, nothing else touched.

        Parameters:
            front: ride height at the front axle line, any shape [m]
            rear: ride height at the rear axle line, any shape [m]

        Returns:
            a new ``Setup`` [-]
        """
        return replace(self, front=replace(self.front, height=front), rear=replace(self.rear, height=rear))


@dataclass(frozen=True)
class Moment(_Checked):
    """What the car is doing: speed, lateral and longitudinal acceleration, and what slows it.

    With ``coasting`` 1 ``longitudinal`` is what engine and brakes do, and air and rolling slow the car besides.
    """

    speed: Value
    lateral: Value
    longitudinal: Value = 0.0
    braking: Value = 0.0
    coasting: Value = 0.0

    @staticmethod
    def in_phase(phase: str, speed: Value, lateral: Value) -> Moment:
        """Make the moment of one phase of a corner with its usual longitudinal acceleration.

        Parameters:
            phase: "brake", "lift", "steady" or "drive" [-]
            speed: speed, any shape [m/s]
            lateral: lateral acceleration, any shape [m/s²]

        Returns:
            a ``Moment`` [-]

        Errors:
            ``KeyError`` for another phase.
        """
        return Moment(speed, lateral, *PHASES[phase])


def reference_setup(car: Car, setup: Setup) -> Setup:
    """Return the same setup at the car's reference heights, nothing else touched.

    Parameters:
        car: the car [-]
        setup: the setup whose springs, bars and alignment are kept [-]

    Returns:
        a new ``Setup`` [-]
    """
    return setup.with_heights(car.front.reference_height, car.rear.reference_height)


def attitude(car: Car, setup: Setup) -> Any:
    """Return how far the car stands nose-high of its reference: ``(h_f − h_f0) − (h_r − h_r0)``.

    Parameters:
        car: the car, with its reference heights [-]
        setup: the setup, with its ride heights [-]

    Returns:
        millimetre-for-millimetre height difference, nose-high positive [m]

    Validity: heights at the two axle lines; divide by the wheelbase for the angle.
    """
    front = np.subtract(setup.front.height, car.front.reference_height)
    rear = np.subtract(setup.rear.height, car.rear.reference_height)
    return front - rear
