"""The controls of a moment in a corner, the same in every panel: speed, lateral acceleration, phase."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..answers.sentences import PHASE_WORDS
from ..car.carfile import CarFile
from ..car.records import PHASES, Moment
from ..car.reference import reference_of
from ..setup.decision import worse_way
from ..setup.whatif import uneven
from ..units import G, to_si
from . import choice, slider

SPEED, LATERAL = 110.0, 0.8
"""Where the controls start [km/h] and [g]."""
SPEEDS = (40.0, 240.0, 5.0)
"""Least and highest speed, and the step between [km/h]."""
LATERALS = (0.1, 1.5, 0.02)
"""Least and highest lateral acceleration, and the step between [g]."""
MOMENT = ("speed", "lateral", "phase")
"""The names of the three controls."""


def speed_slider(value: float = SPEED, coarse: int = 1) -> Any:
    """Make the slider of the speed.

    Parameters:
        value: where it starts [km/h]
        coarse: steps taken at once, for a panel that takes long to compute [-]

    Returns:
        a slider [-]
    """
    low, high, step = SPEEDS
    return slider("Speed", low, high, coarse * step, value, "km/h")


def lateral_slider(value: float = LATERAL, coarse: int = 1) -> Any:
    """Make the slider of the lateral acceleration.

    Parameters:
        value: where it starts [g]
        coarse: steps taken at once, for a panel that takes long to compute [-]

    Returns:
        a slider [-]
    """
    low, high, step = LATERALS
    return slider("Lateral acceleration", low, high, round(coarse * step, 6), value, "g")


def phase_choice(phase: str = "lift") -> Any:
    """Make the list of the phases of a corner.

    Parameters:
        phase: where it starts, a key of ``PHASES`` [-]

    Returns:
        a list [-]
    """
    return choice("Phase of the corner", [(PHASE_WORDS[one], one) for one in PHASES], phase)


def moment_controls(phase: str = "lift", coarse: int = 1) -> dict[str, Any]:
    """Make all three, by name.

    Parameters:
        phase: the phase that they start with [-]
        coarse: steps that a slider takes at once [-]

    Returns:
        name → control [-]
    """
    made = (speed_slider(coarse=coarse), lateral_slider(coarse=coarse), phase_choice(phase))
    return dict(zip(MOMENT, made, strict=True))


def speed_of(state: Mapping[str, Any]) -> float:
    """Return the speed that the controls stand for.

    Parameters:
        state: the controls' values by name [-]

    Returns:
        speed [m/s]
    """
    return float(to_si(state["speed"], "kmh"))


def lateral_of(state: Mapping[str, Any]) -> float:
    """Return the lateral acceleration that the controls stand for.

    Parameters:
        state: the controls' values by name [-]

    Returns:
        lateral acceleration [m/s²]
    """
    return float(state["lateral"] * G)


def in_worse_turn(file: CarFile, moment: Moment) -> tuple[Moment, str]:
    """Return a moment in the turn that is worse for a car as it stands, and that turn in words.

    Parameters:
        file: the car file [-]
        moment: the moment; of its lateral acceleration the size counts [-]

    Returns:
        the moment, and such as " in a right turn, the worse of the two"; empty where both are alike [-]
    """
    found = worse_way(file.car, reference_of(file).setup, file.setup, moment)
    return found, worse_turn_words(file, found)


def worse_turn_words(file: CarFile, moment: Moment) -> str:
    """Name the turn of a moment that is in the worse one.

    Parameters:
        file: the car file [-]
        moment: the moment, as of ``in_worse_turn`` [-]

    Returns:
        such as " in a right turn, the worse of the two"; empty where both are alike [-]
    """
    fixed = reference_of(file)
    turn = "right" if float(moment.lateral) < 0 else "left"
    apart = any(uneven(file.car, one) for one in (fixed.setup, fixed.at_heights_of(file.setup)))
    return f" in a {turn} turn, the worse of the two" if apart else ""


def moment_of(state: Mapping[str, Any]) -> Moment:
    """Return the moment that the three controls stand for.

    Parameters:
        state: the controls' values by name [-]

    Returns:
        a ``Moment`` [-]
    """
    return Moment.in_phase(state["phase"], speed_of(state), lateral_of(state))
