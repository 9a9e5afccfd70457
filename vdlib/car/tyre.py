"""Side force of one tyre: a load-sensitive Magic Formula with lean, pressure and a friction ellipse.

``F = D·sin(C·atan(B·a − E·(B·a − atan(B·a))))`` with ``a`` the slip angle plus the angle that the lean is worth,
``B·C·D = c₁·sin(2·atan(N/c₂))`` and ``D = μ·N·(1 − μ₁·(N/N₀ − 1))``.
Source of the form: H. B. Pacejka, Tire and Vehicle Dynamics, 2nd ed. (2006), section 4.3.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import InputError, Problem
from ..units import Array, Value, from_si
from .records import Tyre

KINDS: dict[str, dict[str, float]] = {
    # Pacejka (2006) Table A3.1, 205/60R15 91V: c₁ = 14.95·N₀, c₂ = 2.130·N₀, μ 0.990, −0.145 per nominal load, C 1.193,
    # E −1.003, camber stiffness 0.92·N (pKy6); grip lost to lean 11.23 (pDy3, from memory).
    "road": {
        "nominal_load": 4000,
        "stiffness_max": 59800,
        "stiffness_load": 8520,
        "grip": 0.990,
        "grip_fall": 0.145 / 0.990,
        "shape": 1.193,
        "curvature": -1.003,
        "camber_thrust": 0.92,
        "camber_loss": 11.23,
        "long_ratio": 1.1,
        "pressure_nominal": 2.3e5,
        "stiffness_per_bar": 0.12e-5,
        "grip_per_bar": -0.05e-5,
    },
    # Common practice, no source: a sporting road tyre is some 20 % stiffer and grips some 10 % more.
    "fast road": {
        "nominal_load": 4000,
        "stiffness_max": 74000,
        "stiffness_load": 8500,
        "grip": 1.10,
        "grip_fall": 0.15,
        "shape": 1.25,
        "curvature": -0.9,
        "camber_thrust": 0.9,
        "camber_loss": 11.0,
        "long_ratio": 1.1,
        "pressure_nominal": 2.2e5,
        "stiffness_per_bar": 0.12e-5,
        "grip_per_bar": -0.05e-5,
    },
    # Common practice, no source: a treaded track tyre.
    "track": {
        "nominal_load": 4000,
        "stiffness_max": 92000,
        "stiffness_load": 8500,
        "grip": 1.28,
        "grip_fall": 0.16,
        "shape": 1.35,
        "curvature": -0.7,
        "camber_thrust": 0.8,
        "camber_loss": 11.0,
        "long_ratio": 1.05,
        "pressure_nominal": 2.0e5,
        "stiffness_per_bar": 0.12e-5,
        "grip_per_bar": -0.05e-5,
    },
}
"""Plain tyre kinds for who knows no more; numbers in SI, keys as in the ``Tyre`` record."""


def of_kind(kind: str, **changes: Value) -> Tyre:
    """Make a tyre of a plain kind, with some of its numbers changed.

    Parameters:
        kind: "road", "fast road" or "track" [-]
        changes: fields of ``Tyre`` to put in place of the kind's own [any]

    Returns:
        a ``Tyre`` [-]

    Errors:
        ``KeyError`` for an unknown kind.
    """
    return Tyre(kind=kind, **(KINDS[kind] | changes))


@dataclass(frozen=True)
class Curve:
    """One tyre's side-force curve at one load, lean, pressure and longitudinal use: the Magic Formula's own numbers."""

    steepness: Array  # B [1/rad]
    shape: Array  # C [-]
    peak: Array  # D [N]
    curvature: Array  # E [-]
    shift: Array  # slip angle that the lean is worth [rad]

    def force_and_slope(self, slip: Any) -> tuple[Array, Array]:
        """Compute side force and slope: ``F = D·sin(C·atan(ψ))``, ``ψ = x − E·(x − atan x)``, ``x = B·(α + shift)``.

        Parameters:
            slip: slip angle, any shape [rad]

        Returns:
            side force [N] and slope [N/rad] [any]
        """
        force, along, rate = self.wave(slip)
        return force, along * rate

    def wave(self, slip: Any) -> tuple[Array, Array, Array]:
        """Compute ``D·sin y``, ``D·cos y`` and ``dy/dα`` with ``y = C·atan(ψ)``: side force and the parts of its slope.

        Parameters:
            slip: slip angle, any shape [rad]

        Returns:
            side force [N], its partner [N], rate of y [1/rad] [any]

        Validity: ``C < 2``, as the records enforce; one tangent of y/2 then serves sine and cosine.
        """
        x = self.steepness * (slip + self.shift)
        psi = x - self.curvature * (x - np.arctan(x))
        half = np.tan(0.5 * self.shape * np.arctan(psi))
        over = self.peak / (1 + half * half)
        square = x * x
        rate = self.shape * self.steepness * (1 - self.curvature * (square / (1 + square))) / (1 + psi * psi)
        return 2 * half * over, 2 * over - self.peak, rate

    def peak_slip(self) -> Array:
        """Compute the slip angle of greatest side force, where ``C·atan(ψ) = π/2``.

        Returns:
            slip angle, measured as ``force_and_slope`` takes it [rad]

        Validity: ``C > 1`` and ``E < 1``, as the records enforce; the peak is then single.
        """
        psi = np.tan(np.pi / 2 / np.asarray(self.shape))
        x = inverse_bend(psi, np.asarray(self.curvature))
        return np.asarray(x / self.steepness - self.shift)


def inverse_bend(psi: Any, curvature: Any) -> Array:
    """Solve ``ψ = x − E·(x − atan x)`` for x by Newton's method.

    Parameters:
        psi: right-hand side, any shape [-]
        curvature: E, below 1 [-]

    Returns:
        x, same shape [-]
    """
    x = psi / np.maximum(1 - curvature, 0.2)
    for _ in range(12):
        step = (x - curvature * (x - np.arctan(x)) - psi) / (1 - curvature * (x * x / (1 + x * x)))
        x = x - step
        if np.all(np.abs(step) <= 1e-12 * (1 + np.abs(x))):
            break
    return np.asarray(x)


@dataclass(frozen=True)
class Hot:
    """A tyre's numbers at one pressure, for who asks of many loads at it."""

    tyre: Tyre
    grip: Array  # μ at this pressure [-]
    stiffest: Array  # c₁ at this pressure [N/rad]
    least: Array  # load below which B is held [N]

    def grip_at(self, load: Any) -> Array:
        """Compute the peak side force over load, as the function ``grip``.

        Parameters:
            load: vertical load, any shape [N]

        Returns:
            grip, broadcast shape [-]
        """
        return _at_load(self.tyre, self.grip, load)

    def curve(self, load: Any, lean: Any, held: Any) -> Curve:
        """Return the side-force curve under one set of conditions, as the function ``curve``.

        Parameters:
            load: vertical load, zero or more, any shape [N]
            lean: lean of the wheel toward positive side force [rad]
            held: part of stiffness and peak that the longitudinal force leaves, √(1 − u²) [-]

        Returns:
            a ``Curve`` [-]
        """
        tyre, load = self.tyre, np.asarray(load, dtype=float)
        firm = np.maximum(load, self.least)  # keeps 0/0 out of B; D is zero there all the same
        peak_over_load = self.grip_at(firm) * (1 - tyre.camber_loss * np.square(lean))
        ratio = firm / tyre.stiffness_load
        stiffness = self.stiffest * (2 * ratio / (1 + ratio * ratio))
        steepness = stiffness / (tyre.shape * peak_over_load * firm)
        shift = np.asarray(tyre.camber_thrust * firm * lean / stiffness)
        shape, curvature = np.asarray(tyre.shape), np.asarray(tyre.curvature)
        return Curve(steepness, shape, peak_over_load * load * held, curvature, shift)


def hot(tyre: Tyre, pressure: Any = None) -> Hot:
    """Return a tyre's numbers at one pressure: ``μ·(1 + s_μ(p − p₀))`` and ``c₁·(1 + s_C(p − p₀))``.

    Parameters:
        tyre: the tyre's numbers [-]
        pressure: hot pressure; None for the nominal one [Pa]

    Returns:
        a ``Hot`` [-]

    Errors:
        ``InputError`` where the pressure correction would leave less than a tenth of stiffness or grip.
    """
    return Hot(
        tyre,
        np.multiply(tyre.grip, _at_pressure(tyre, tyre.grip_per_bar, pressure)),
        np.multiply(tyre.stiffness_max, _at_pressure(tyre, tyre.stiffness_per_bar, pressure)),
        1e-3 * np.asarray(tyre.nominal_load),
    )


def grip(tyre: Tyre, load: Any, pressure: Any = None) -> Array:
    """Compute the peak side force over load, upright and rolling freely: ``μ·(1 − μ₁(N/N₀ − 1))·(1 + s_μ(p − p₀))``.

    Parameters:
        tyre: the tyre's numbers [-]
        load: vertical load, any shape [N]
        pressure: hot pressure; None for the nominal one [Pa]

    Returns:
        grip, broadcast shape [-]

    Errors:
        ``InputError`` where the pressure correction would leave less than a tenth of the grip.

    Validity: loads up to about twice the nominal load.
    """
    return _at_load(tyre, np.multiply(tyre.grip, _at_pressure(tyre, tyre.grip_per_bar, pressure)), load)


def _at_load(tyre: Tyre, unloaded: Any, load: Any) -> Array:
    """Return the grip at a load from that at the nominal one."""
    at_load = 1 - tyre.grip_fall * (np.asarray(load) / tyre.nominal_load - 1)
    return np.asarray(unloaded * at_load)


def _at_pressure(tyre: Tyre, slope: Value, pressure: Any) -> Any:
    """Return the factor ``1 + s·(p − p₀)``."""
    over = 0.0 if pressure is None else np.subtract(pressure, tyre.pressure_nominal)
    factor = 1 + np.multiply(slope, over)
    if np.min(factor) < 0.1:
        far = float(np.max(np.abs(from_si(np.asarray(over), "bar"))))
        raise InputError(
            [
                Problem(
                    "tyre pressure",
                    f"{far:.3g} bar away",
                    "must stay nearer the tyre's nominal pressure",
                    "its straight-line correction ends there; lower the slope or change the pressure",
                )
            ]
        )
    return factor


def curve(tyre: Tyre, load: Any, lean: Any = 0.0, pressure: Any = None, grip_used: Any = 0.0) -> Curve:
    """Return a tyre's side-force curve under one set of conditions.

    ``D = μ·N·(1 − μ₁(N/N₀ − 1))·(1 + s_μ(p − p₀))·(1 − p_γ·Λ²)·√(1 − u²)``,
    ``BCD = c₁·sin(2·atan(N/c₂))·(1 + s_C(p − p₀))·√(1 − u²)``.

    Parameters:
        tyre: the tyre's numbers [-]
        load: vertical load, zero or more, any shape [N]
        lean: lean of the wheel toward positive side force [rad]
        pressure: hot pressure; None for the nominal one [Pa]
        grip_used: part u of the longitudinal grip in use, 0 to below 1 [-]

    Returns:
        a ``Curve`` [-]

    Errors:
        ``InputError`` where the pressure correction would leave less than a tenth of stiffness or grip.

    Validity: loads up to about twice the nominal load; the friction ellipse scales stiffness and peak alike.
    Source: Pacejka (2006), section 4.3.2, equations (4.E19) to (4.E25), shortened.
    """
    return hot(tyre, pressure).curve(load, lean, np.sqrt(1 - np.square(grip_used)))


def side_force(tyre: Tyre, load: Any, slip: Any, lean: Any = 0.0, pressure: Any = None, grip_used: Any = 0.0) -> Array:
    """Compute one tyre's side force: ``D·sin(C·atan(B·x − E·(B·x − atan(B·x))))``.

    Parameters:
        tyre: the tyre's numbers [-]
        load: vertical load, any shape [N]
        slip: slip angle [rad]
        lean: lean of the wheel toward positive side force [rad]
        pressure: hot pressure; None for the nominal one [Pa]
        grip_used: part of the longitudinal grip in use [-]

    Returns:
        side force, broadcast shape [N]

    Errors:
        as ``curve``.
    """
    return curve(tyre, load, lean, pressure, grip_used).force_and_slope(slip)[0]


def cornering_stiffness(tyre: Tyre, load: Any, pressure: Any = None) -> Array:
    """Compute the slope of side force at no slip: ``c₁·sin(2·atan(N/c₂))``, greatest at ``N = c₂``.

    Parameters:
        tyre: the tyre's numbers [-]
        load: vertical load, any shape [N]
        pressure: hot pressure; None for the nominal one [Pa]

    Returns:
        cornering stiffness, broadcast shape [N/rad]

    Errors:
        as ``curve``.

    Source: Pacejka (2006), equation (4.E25).
    """
    return curve(tyre, load, 0.0, pressure).force_and_slope(0.0)[1]


def peak_force(tyre: Tyre, load: Any, lean: Any = 0.0, pressure: Any = None, grip_used: Any = 0.0) -> Array:
    """Return the greatest side force: the ``D`` of the curve.

    Parameters:
        tyre: the tyre's numbers [-]
        load: vertical load, any shape [N]
        lean: lean of the wheel toward positive side force [rad]
        pressure: hot pressure; None for the nominal one [Pa]
        grip_used: part of the longitudinal grip in use [-]

    Returns:
        side force, broadcast shape [N]

    Errors:
        as ``curve``.
    """
    return curve(tyre, load, lean, pressure, grip_used).peak


def of_other_kind(tyre: Tyre, kind: str) -> Tyre:
    """Return a tyre of the same size and another plain kind: each number changes as it does between the two kinds.

    Parameters:
        tyre: the tyre fitted [-]
        kind: a plain kind, as of ``tyre.KINDS`` [-]

    Returns:
        a ``Tyre``; the plain kind's own numbers where the fitted one is of no plain kind [-]

    Errors:
        ``InputError`` for an unknown kind.

    Validity: a guess, as the kinds are; a real change of tyre brings its own size, pressure and wear.
    """
    if kind not in KINDS:
        remedy = "choose one of these"
        raise InputError([Problem("tyre kind", repr(kind)[:60], f"must be one of {', '.join(KINDS)}", remedy)])
    if tyre.kind not in KINDS:
        return of_kind(kind)
    old, new = KINDS[tyre.kind], KINDS[kind]
    return Tyre(kind=kind, **{key: getattr(tyre, key) * (new[key] / old[key]) for key in new})
