"""What can be out of the ordinary about a solved moment, and the words for it."""

from __future__ import annotations

from enum import IntFlag
from typing import Any


class State(IntFlag):
    """What is out of the ordinary about one case; zero means nothing is."""

    FRONT_SLIDES = 1
    REAR_SLIDES = 2
    WHEEL_IN_AIR = 4
    TIPS = 8
    WHEEL_HELD = 16
    LONGITUDINAL = 32
    FRONT_ON_STOP = 64
    TYRE_RANGE = 128
    NOT_SOLVED = 256
    HELD_BY_DROOP = 512
    REAR_ON_STOP = 1024
    RESTS_ON_STOP = FRONT_ON_STOP | REAR_ON_STOP


UNUSABLE = State.FRONT_SLIDES | State.REAR_SLIDES | State.TIPS | State.LONGITUDINAL | State.NOT_SOLVED
"""States in which there is no steady corner to speak of: slip angles are then those at the peak."""

STATE_WORDS: dict[State, str] = {
    State.FRONT_SLIDES: "the front tyres cannot hold this corner: the front slides first",
    State.REAR_SLIDES: "the rear tyres cannot hold this corner: the rear slides first",
    State.WHEEL_IN_AIR: "a wheel is in the air",
    State.TIPS: "the car tips over before it gets here",
    State.WHEEL_HELD: "one lightly loaded wheel brakes or drives with all the grip it has; the other one does the rest",
    State.LONGITUDINAL: "an axle is asked for more braking or drive than its tyres can give",
    State.FRONT_ON_STOP: "standing still, the front already rests on a bump stop",
    State.REAR_ON_STOP: "standing still, the rear already rests on a bump stop",
    State.HELD_BY_DROOP: "standing still, the body is already held down by a droop stop",
    State.TYRE_RANGE: "a tyre carries more than its numbers are good for",
    State.NOT_SOLVED: "no equilibrium was found",
}
"""State → the words for it."""
BOTH_SLIDE = "this car cannot hold this corner: both ends run out of grip"
"""The words where both ends slide: which would be first is not asked past the grip of both."""


def state_words(state: Any) -> list[str]:
    """State in words what is out of the ordinary.

    Parameters:
        state: one case's state [-]

    Returns:
        a sentence part for each flag, none when nothing is [-]
    """
    both = int(State.FRONT_SLIDES | State.REAR_SLIDES)
    told = [words for flag, words in STATE_WORDS.items() if int(state) & flag]
    return [BOTH_SLIDE, *told[2:]] if int(state) & both == both else told
