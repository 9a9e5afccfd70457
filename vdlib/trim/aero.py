"""Air forces: lift at each axle, growing with attitude, and drag; and what rolling costs."""

from __future__ import annotations

from typing import Any

import numpy as np

AIR_DENSITY = 1.225
"""Air density at sea level and 15 °C [kg/m³]; ISO 2533."""

ROLLING = 0.013
"""Rolling resistance over load [-]; a car's radial tyre on asphalt, Wong, Theory of Ground Vehicles (from memory)."""


def dynamic_pressure(speed: Any) -> Any:
    """Compute the air's dynamic pressure: ``½·ρ·V²``.

    Parameters:
        speed: speed through still air, any shape [m/s]

    Returns:
        dynamic pressure [Pa]
    """
    return 0.5 * AIR_DENSITY * np.square(speed)


def lift(speed: Any, lift_area: Any, lift_attitude: Any, nose_up: Any) -> Any:
    """Compute the lift at one axle: ``½·ρ·V²·(C_L·A + s_L·nose-up angle)``.

    Parameters:
        speed: speed through still air, any shape [m/s]
        lift_area: lift area at the reference attitude [m²]
        lift_attitude: its change per radian nose-up [m²/rad]
        nose_up: attitude, nose-up positive [rad]

    Returns:
        lift, upward positive [N]

    Validity: straight-line change with attitude, within a degree or two; no ground effect of height itself.
    """
    return dynamic_pressure(speed) * (lift_area + lift_attitude * nose_up)
