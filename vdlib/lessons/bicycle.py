"""The linear two-wheel model: understeer gradient and its parts, speeds, steady gains and poles.

``m·V·(β' + r) = F_f + F_r``, ``I·r' = a·F_f − b·F_r``, ``F_f = C_f·(δ − β − a·r/V)``, ``F_r = C_r·(−β + b·r/V)``.
Source of the model: Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 1.3.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from ..checks import InputError, Problem, need_positive
from ..units import Array, Value


@dataclass(frozen=True)
class TwoWheel:
    """A car of one wheel an axle: mass [kg], yaw inertia [kg·m²], distances to the axles [m], axle stiffnesses [N/rad].

    The stiffnesses may be the local slopes at some trim; past an axle's peak the slope is negative, which only the
    matrices, the poles and what is read off them can take.
    """

    mass: Value
    inertia: Value
    a: Value
    b: Value
    front_stiffness: Value
    rear_stiffness: Value

    def __post_init__(self) -> None:
        """Refuse sizes that are not above zero and stiffnesses that are not finite."""
        need_positive(
            mass=self.mass, yaw_inertia=self.inertia, distance_to_front_axle=self.a, distance_to_rear_axle=self.b
        )
        if not (np.all(np.isfinite(self.front_stiffness)) and np.all(np.isfinite(self.rear_stiffness))):
            raise InputError([Problem("axle stiffness", "", "must be finite", "check the tyre's numbers")])

    @property
    def wheelbase(self) -> Value:
        """Distance between the axles, ``a + b`` [m]."""
        return self.a + self.b

    @property
    def front_mass(self) -> Value:
        """Mass that stands on the front axle, ``m·b/L`` [kg]."""
        return self.mass * self.b / self.wheelbase

    @property
    def rear_mass(self) -> Value:
        """Mass that stands on the rear axle, ``m·a/L`` [kg]."""
        return self.mass * self.a / self.wheelbase


@dataclass(frozen=True)
class AxleSteer:
    """What one axle's suspension adds, both wheels together; angles positive out of the turn, zero for not known.

    ``roll_steer`` [rad/rad]; ``camber_stiffness`` [N/rad]; ``camber_per_roll`` lean out of the turn for each roll
    [rad/rad]; ``force_steer`` [rad/N]; ``trail`` of the side force behind the wheel centre [m]; ``moment_steer``
    [rad/(N·m)].
    """

    roll_steer: Value = 0.0
    camber_stiffness: Value = 0.0
    camber_per_roll: Value = 0.0
    force_steer: Value = 0.0
    trail: Value = 0.0
    moment_steer: Value = 0.0


@dataclass(frozen=True)
class Compliance:
    """One axle's cornering compliance in its parts: angle for each unit of lateral acceleration [rad/(m/s²)]."""

    weight: Value
    aligning: Value = 0.0
    camber: Value = 0.0
    roll_steer: Value = 0.0
    force_steer: Value = 0.0
    moment_steer: Value = 0.0

    @property
    def total(self) -> Value:
        """All parts together [rad/(m/s²)]."""
        return self.weight + self.aligning + self.camber + self.roll_steer + self.force_steer + self.moment_steer


@dataclass(frozen=True)
class Gradient:
    """The understeer gradient as front compliance less rear compliance [rad/(m/s²)]."""

    front: Compliance
    rear: Compliance

    @property
    def total(self) -> Value:
        """The understeer gradient, positive for understeer [rad/(m/s²)]."""
        return self.front.total - self.rear.total

    @property
    def parts(self) -> dict[str, Value]:
        """Front less rear, part by part; the parts sum to the total [rad/(m/s²)]."""
        return {f.name: getattr(self.front, f.name) - getattr(self.rear, f.name) for f in fields(Compliance)}


def understeer_gradient(
    car: TwoWheel, front: AxleSteer | None = None, rear: AxleSteer | None = None, roll_gradient: Value = 0.0
) -> Gradient:
    """Compute the understeer gradient and its budget: ``K = m_f/C_f − m_r/C_r + (ε_f − ε_r)·dφ/da_y + …``.

    Each axle: weight ``m_i/C_i``; aligning ``±(m_f·t_f + m_r·t_r)/(L·C_i)``; camber ``(C_γ/C)·dγ/dφ·dφ/da_y``;
    roll steer ``ε·dφ/da_y``; lateral-force steer ``E·m_i``; aligning-moment steer ``T·t_i·m_i``.

    Parameters:
        car: the two-wheel car [-]
        front: what the front suspension adds; nothing if left out [-]
        rear: what the rear suspension adds; nothing if left out [-]
        roll_gradient: roll for each unit of lateral acceleration, any shape [rad/(m/s²)]

    Returns:
        both axles' compliances in their parts [rad/(m/s²)]

    Errors:
        ``InputError`` where an axle stiffness is not above zero: past its peak an axle has no such gradient.

    Validity: small angles, straight-line tyre, below about 0.4 g; each effect alone, their products left out.

    Source: Gillespie, Fundamentals of Vehicle Dynamics, chapter 6 (from memory); the parts are those of Bundorf &
    Leffert, SAE 760713 (from memory).
    """
    need_positive(front_axle_stiffness=car.front_stiffness, rear_axle_stiffness=car.rear_stiffness)
    front, rear = front or AxleSteer(), rear or AxleSteer()
    moment = car.front_mass * front.trail + car.rear_mass * rear.trail

    def budget(add: AxleSteer, mass: Value, stiffness: Value, sign: int) -> Compliance:
        return Compliance(
            weight=mass / stiffness,
            aligning=sign * moment / (car.wheelbase * stiffness),
            camber=add.camber_stiffness / stiffness * add.camber_per_roll * roll_gradient,
            roll_steer=add.roll_steer * roll_gradient,
            force_steer=add.force_steer * mass,
            moment_steer=add.moment_steer * add.trail * mass,
        )

    return Gradient(
        budget(front, car.front_mass, car.front_stiffness, 1), budget(rear, car.rear_mass, car.rear_stiffness, -1)
    )


def _divide(top: Value, bottom: Value) -> Any:
    """Divide, giving infinity with the top's sign where the bottom is zero."""
    with np.errstate(divide="ignore"):
        return np.divide(top, np.abs(bottom) * np.where(np.asarray(bottom) < 0, -1.0, 1.0))[()]


def characteristic_speed(wheelbase: Value, gradient: Value) -> Any:
    """Compute the speed at which an understeering car is most willing to turn: ``V = √(L/K)``.

    Parameters:
        wheelbase: wheelbase, any shape [m]
        gradient: understeer gradient, any shape [rad/(m/s²)]

    Returns:
        speed; infinite for a neutral or oversteering car, which has none [m/s]

    Errors:
        ``InputError`` if the wheelbase is not above zero.

    Validity: straight-line tyre.

    Source: Wong, Theory of Ground Vehicles, eq. 5.14 (from memory).

    Example:
        >>> round(float(characteristic_speed(2.5, 1 / 562)), 1)
        37.5
    """
    need_positive(wheelbase=wheelbase)
    return np.sqrt(_divide(wheelbase, np.maximum(gradient, 0.0)))


def critical_speed(wheelbase: Value, gradient: Value) -> Any:
    """Compute the speed above which an oversteering car cannot be left to itself: ``V = √(−L/K)``.

    Parameters:
        wheelbase: wheelbase, any shape [m]
        gradient: understeer gradient, any shape [rad/(m/s²)]

    Returns:
        speed; infinite for a neutral or understeering car, which has none [m/s]

    Errors:
        ``InputError`` if the wheelbase is not above zero.

    Validity: straight-line tyre, steering held still.

    Source: Wong, Theory of Ground Vehicles, eq. 5.16 (from memory).
    """
    return characteristic_speed(wheelbase, np.negative(gradient))


@dataclass(frozen=True)
class NeutralPoint:
    """Where a side push makes the car drift without turning: distance behind the CG [m], static margin [-]."""

    behind_cg: Value
    static_margin: Value


def neutral_point(car: TwoWheel) -> NeutralPoint:
    """Find the neutral steer point: ``x = (b·C_r − a·C_f)/(C_f + C_r)``, static margin ``x/L``.

    Parameters:
        car: the two-wheel car [-]

    Returns:
        distance behind the centre of gravity, positive for understeer, and its share of the wheelbase [any]

    Errors:
        ``InputError`` where both stiffnesses together are not above zero.

    Validity: straight-line tyre.

    Source: SAE J670, static margin; Pacejka (2006), section 1.3, whose ``s`` is ``−x``.
    """
    both = car.front_stiffness + car.rear_stiffness
    need_positive(stiffness_of_both_axles=both)
    behind = (car.b * car.rear_stiffness - car.a * car.front_stiffness) / both
    return NeutralPoint(behind, behind / car.wheelbase)


def neutral_gain(speed: Value, wheelbase: Value) -> Any:
    """Compute the yaw rate for each steer angle of a neutral car: ``r/δ = V/L``.

    Parameters:
        speed: speed, any shape [m/s]
        wheelbase: wheelbase, any shape [m]

    Returns:
        yaw-rate gain [1/s]

    Errors:
        ``InputError`` if speed or wheelbase is not above zero.

    Validity: straight-line tyre.

    Source: Gillespie, Fundamentals of Vehicle Dynamics, chapter 6 (from memory).
    """
    need_positive(speed=speed, wheelbase=wheelbase)
    return speed / np.asarray(wheelbase)


def yaw_rate_gain(speed: Value, wheelbase: Value, gradient: Value) -> Any:
    """Compute the steady yaw rate for each steer angle: ``r/δ = V/(L + K·V²)``.

    Parameters:
        speed: speed, any shape [m/s]
        wheelbase: wheelbase, any shape [m]
        gradient: understeer gradient, any shape [rad/(m/s²)]

    Returns:
        yaw-rate gain; infinite at the critical speed, negative above it where no steady turn lasts [1/s]

    Errors:
        ``InputError`` if speed or wheelbase is not above zero.

    Validity: straight-line tyre.

    Source: Wong, Theory of Ground Vehicles, eq. 5.19 (from memory).
    """
    need_positive(speed=speed, wheelbase=wheelbase)
    return _divide(speed, wheelbase + gradient * np.asarray(speed) ** 2)


@dataclass(frozen=True)
class System:
    """The motion ``x' = A·x + B·δ`` of sideslip β [rad] and yaw rate r [rad/s]; A has shape (…, 2, 2), B (…, 2)."""

    A: Array
    B: Array


def system(car: TwoWheel, speed: Value) -> System:
    """Compute the matrices of the sideways motion: ``[β, r]' = A·[β, r] + B·δ``.

    Parameters:
        car: the two-wheel car [-]
        speed: speed, any shape [m/s]

    Returns:
        A and B, their last axes the states [any]

    Errors:
        ``InputError`` if the speed is not above zero.

    Validity: constant speed, small angles, local straight-line tyre.

    Source: Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 1.3.
    """
    need_positive(speed=speed)
    m, i, a, b, cf, cr, v = np.broadcast_arrays(
        *(
            np.asarray(x, dtype=float)
            for x in (car.mass, car.inertia, car.a, car.b, car.front_stiffness, car.rear_stiffness, speed)
        )
    )
    first = np.stack([-(cf + cr) / (m * v), (b * cr - a * cf) / (m * v**2) - 1], axis=-1)
    second = np.stack([(b * cr - a * cf) / i, -(a**2 * cf + b**2 * cr) / (i * v)], axis=-1)
    return System(np.stack([first, second], axis=-2), np.stack([cf / (m * v), a * cf / i], axis=-1))


def poles(car: TwoWheel, speed: Value) -> Any:
    """Compute the poles of the sideways motion: the roots of ``λ² − tr(A)·λ + det(A) = 0``.

    Parameters:
        car: the two-wheel car [-]
        speed: speed, any shape [m/s]

    Returns:
        two complex poles on a new last axis, the least stable one last [1/s]

    Errors:
        ``InputError`` if the speed is not above zero.

    Validity: as for ``system``.

    Source: Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 1.3.
    """
    return np.sort(np.linalg.eigvals(system(car, speed).A).astype(complex), axis=-1)


@dataclass(frozen=True)
class Motion:
    """How the car answers on its own: natural frequency [rad/s], damping ratio [-], time to double [s].

    Where the motion does not come back (a pole at or above zero without swinging) there is no natural frequency: it is
    0 and the damping ratio infinite. The time to double is infinite where the car is stable.
    """

    natural_frequency: Value
    damping: Value
    time_to_double: Value


def motion(car: TwoWheel, speed: Value) -> Motion:
    """Compute frequency, damping and time to double: ``ω² = det(A)``, ``ζ = −tr(A)/(2ω)``, ``T₂ = ln 2/max Re λ``.

    Parameters:
        car: the two-wheel car [-]
        speed: speed, any shape [m/s]

    Returns:
        natural frequency, damping ratio and time to double [any]

    Errors:
        ``InputError`` if the speed is not above zero.

    Validity: as for ``system``; within rounding of the critical speed the time to double is only known to be long.

    Source: Gillespie, Fundamentals of Vehicle Dynamics, chapter 6 (from memory); the doubling time of an exponential.
    """
    matrix = system(car, speed).A
    trace = matrix[..., 0, 0] + matrix[..., 1, 1]
    square = np.maximum(matrix[..., 0, 0] * matrix[..., 1, 1] - matrix[..., 0, 1] * matrix[..., 1, 0], 0.0)
    swings = square > 0
    frequency = np.sqrt(square)
    damping = np.where(swings, -trace / (2 * np.where(swings, frequency, 1.0)), np.inf)
    growth = np.max(poles(car, speed).real, axis=-1)
    double = np.where(growth > 0, np.log(2) / np.where(growth > 0, growth, 1.0), np.inf)
    return Motion(frequency[()], damping[()], double[()])
