"""The curves one axle needs: wheel rate, bar, stops, roll centre and toe against travel.

Travel is counted from where the car stands, bump positive; ``rise`` is the body's height above the reference height
there.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..units import Array, Value


def wheel_rate(spring: Value, motion_ratio: Value) -> Any:
    """Return the spring's rate felt at the wheel: ``k·MR²``.

    Parameters:
        spring: rate of one spring, any shape [N/m]
        motion_ratio: spring movement over wheel movement [-]

    Returns:
        wheel rate [N/m]

    Validity: motion ratio constant over the travel.
    Source: Milliken & Milliken, Race Car Vehicle Dynamics, section 16.2 (from memory).
    """
    return np.multiply(spring, np.square(motion_ratio))


def bar_wheel_rate(bar: Value, track: Value) -> Any:
    """Return the load a bar adds per metre of travel difference left to right: ``K_b/t²``.

    Parameters:
        bar: roll stiffness of the bar, any shape [N·m/rad]
        track: track [m]

    Returns:
        rate on the travel difference [N/m]

    Validity: small roll angles; follows from moment = force · track and difference = roll · track.
    """
    return np.divide(bar, np.square(track))


def stop_force(travel: Any, gap: Value, stiffening: Value) -> tuple[Array, Array]:
    """Compute a stop's force at the wheel past its gap, and rate: ``½·c·x²`` and ``c·x`` with ``x = max(0, s − g)``.

    Parameters:
        travel: travel toward the stop, any shape [m]
        gap: travel at which it touches [m]
        stiffening: rate gained per further metre [N/m²]

    Returns:
        force [N] and rate [N/m]

    Validity: a stop whose rate grows in proportion to its squash; it pushes only.
    """
    squash = np.maximum(0.0, travel - gap)
    rate = stiffening * squash
    return 0.5 * rate * squash, rate


def toe_change(bump: Any, toe_slope: Value, toe_bend: Value) -> Any:
    """Return the toe-in gained at a travel from the reference height: ``τ₁·x + τ₂·x²``.

    Parameters:
        bump: wheel travel from the reference height, any shape [m]
        toe_slope: slope at the reference height [rad/m]
        toe_bend: bend [rad/m²]

    Returns:
        toe-in gained [rad]
    """
    return (toe_slope + toe_bend * bump) * bump


def static_toe(toe: Value, height: Value, aligned: Value, reference: Value, toe_slope: Value, toe_bend: Value) -> Any:
    """Compute a wheel's toe, standing at another height than it was read at: ``τ + τ(h₀ − h) − τ(h₀ − h_a)``.

    Parameters:
        toe: toe as read, any shape [rad]
        height: ride height now [m]
        aligned: ride height when it was read [m]
        reference: reference ride height [m]
        toe_slope: slope at the reference height [rad/m]
        toe_bend: bend [rad/m²]

    Returns:
        toe-in now [rad]
    """
    now = toe_change(np.subtract(reference, height), toe_slope, toe_bend)
    return toe + now - toe_change(np.subtract(reference, aligned), toe_slope, toe_bend)


def roll_centre_height(roll_centre: Value, roll_centre_slope: Value, rise: Any, travel: Any = 0.0) -> Any:
    """Return the roll-centre height: ``h_rc + s_rc·(rise − mean travel)``.

    Parameters:
        roll_centre: height at the reference height, any shape [m]
        roll_centre_slope: movement per metre the body rises [-]
        rise: ride height above the reference height [m]
        travel: mean travel of the two wheels from standing [m]

    Returns:
        roll-centre height [m]

    Validity: the axle's two wheels share one roll centre that moves with their mean travel.
    """
    return roll_centre + roll_centre_slope * (rise - travel)
