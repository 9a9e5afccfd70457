"""What happens in a corner and how late the car answers: the inputs of the motion in time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..car.records import Moment
from ..checks import InputError, range_problem
from ..units import Value, to_si

_Ranges = dict[str, tuple[str, str, float, float]]


@dataclass(frozen=True)
class Scenario:
    """A steady corner, what the feet do and when, and what the hands do after a reaction time. Numbers may be arrays.

    ``speed`` and ``lateral`` (across the path, V²/R) make the corner; the engine first pushes as much as holds that
    speed. ``lift`` is the engine's drag at the driven wheels over the car's weight once the throttle is closed; air,
    rolling and the corner's own drag come on top. ``brake`` is the brakes' force over the weight. ``foot`` is how far
    the foot goes: 1 all the way, 0 not at all. ``counter_steer`` is steering taken off for each angle of sideslip
    beyond the corner's own: 0 holds the wheel still, 1 keeps the front wheels along the slide.
    """

    speed: Value
    lateral: Value
    lift: Value = 0.10
    brake: Value = 0.0
    foot: Value = 1.0
    starts: Value = 0.5
    closing: Value = 0.15
    counter_steer: Value = 0.0
    reaction: Value = 0.75
    lasts: float = 3.0

    def __post_init__(self) -> None:
        """Refuse numbers that are out of range; ``Moment`` checks the first two."""
        Moment(self.speed, self.lateral)
        check_ranges(self, _SCENARIO)


@dataclass(frozen=True)
class Lags:
    """How late tyres, body and hands answer; the same for all cases.

    ``relaxation`` is the way a tyre rolls until most of its side force is there; roll and pitch answer like a spring
    and damper; ``steer_rate`` is at the front wheels.
    """

    relaxation: float = 0.45  # passenger-car tyres 0.3 to 0.6 m, from memory
    roll_frequency: float = 1.8  # [Hz] road cars 1.5 to 2.5, common practice, no source
    roll_damping: float = 0.5  # common practice, no source
    pitch_frequency: float = 1.8  # as roll
    pitch_damping: float = 0.5
    # 520 deg/s at the steering wheel, mean of drivers who passed an avoidance test: Rice (1976) as quoted in Rollover
    # Accident Reconstruction, ch. 63; over a steering ratio of 15, common practice, no source
    steer_rate: float = to_si(520.0 / 15.0, "deg_per_s")

    def __post_init__(self) -> None:
        """Refuse numbers that are out of range."""
        check_ranges(self, _LAGS)


FEET: _Ranges = {
    "lift": ("engine's drag over weight", "number", -0.5, 0.6),
    "brake": ("brakes' force over weight", "number", 0, 2),
}
"""Field → name, unit and range of what the feet do."""
HANDS: _Ranges = {
    "counter_steer": ("counter-steer for each degree of slide", "number", 0, 3),
    "reaction": ("reaction time", "s", 0, 10),
}
"""Field → name, unit and range of what the hands do."""
_SCENARIO: _Ranges = {
    **FEET,
    "foot": ("how far the foot goes", "number", 0, 1),
    "starts": ("moment at which the foot moves", "s", 0, 20),
    "closing": ("time the foot takes", "s", 0.02, 5),
    **HANDS,
    "lasts": ("time after the foot moves", "s", 0.05, 30),
}
_LAGS: _Ranges = {
    "relaxation": ("relaxation length", "m", 0.005, 2),
    "roll_frequency": ("roll frequency", "number", 0.5, 10),
    "roll_damping": ("roll damping ratio", "number", 0.1, 3),
    "pitch_frequency": ("pitch frequency", "number", 0.5, 10),
    "pitch_damping": ("pitch damping ratio", "number", 0.1, 3),
    "steer_rate": ("steering rate at the front wheels", "deg_per_s", 1, 120),
}


def check_ranges(record: Any, ranges: _Ranges) -> None:
    """Refuse a record with a number out of its range.

    Parameters:
        record: the record [-]
        ranges: field → name, unit, lowest and highest [any]

    Returns:
        nothing [-]

    Errors:
        ``InputError`` naming every such number.
    """
    found = [range_problem(row[0], getattr(record, field), *row[1:]) for field, row in ranges.items()]
    problems = [problem for problem in found if problem]
    if problems:
        raise InputError(problems)
