"""What a change promises in the driver's own corner, and what to say where going back to the reference gives little."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..answers.corner import HOLDS, Turn
from ..answers.edge import SAME, Edge, note
from ..answers.forgiven import forgiven_speed
from ..answers.hands_still import hands_still_limit
from ..answers.stacking import stack
from ..car.records import Car, Setup
from ..shown import says
from .driven import OTHER_FEET, OwnCorner

FELT_LEAST = 1.0 / 3.6
"""A gain of forgiven speed smaller than this is too small to feel; common practice, no source [m/s]."""


@dataclass(frozen=True)
class Promise:
    """What a change promises in the driver's own corner: forgiven speeds and hands-still limits, now and as asked."""

    corner: OwnCorner
    turn: Turn
    edges: tuple[Edge, Edge]  # up to where the corner forgives
    limit: tuple[str, str]
    names: tuple[str, str] = ("now", "as asked")  # what the two states are called

    @property
    def speed(self) -> tuple[float, float]:
        """Up to which speed the corner forgives [m/s]."""
        return self.edges[0].speed, self.edges[1].speed

    @property
    def told(self) -> tuple[str, str]:
        """The same in words [-]."""
        return self.edges[0].told, self.edges[1].told

    @property
    def felt(self) -> bool:
        """Whether it promises more, and enough of it to be felt [-]."""
        return self.speed[1] - self.speed[0] >= FELT_LEAST

    @property
    def little(self) -> bool:
        """Whether it changes the forgiven speed too little to be felt, more or less [-]."""
        return abs(self.speed[1] - self.speed[0]) < FELT_LEAST

    @property
    def gain(self) -> str:
        """What it changes: "1.8 km/h more" [-]."""
        return self.edges[0].change(self.edges[1])

    @property
    def words(self) -> tuple[str, ...]:
        """Sentences in the driver's measure [-]."""
        feel = " That is too small to feel." if self.little and self.gain != SAME else ""
        if self.speed[1] < self.speed[0] and not self.little:
            ask = ": speak with the driver before setting" if self.names[1] == "as asked" else ""
            feel = f" So it is no cure for this corner{ask}."
        driven, grip = self.corner.speed, note(*self.edges)
        if driven and driven > max(self.speed):
            round_ = "still comes round: less speed or a gentler foot too."
            beyond = round_ if self.edges[1].slides else "cannot hold the corner at all: less speed too."
            feel += f" Driven at {says(driven, 'kmh', 0)} it {beyond}"
        feel += f" {grip}" if grip else ""
        at = f"{self.corner.words(self.turn)}, {self.corner.event}"
        foot = "while it is braked so" if self.corner.foot == "brake" else "with the throttle closed"
        other = OTHER_FEET.get(self.corner.foot)
        more = (f"It happened {other}; these figures are for a lift: the model asks no other.",) if other else ()
        one, two = self.names
        return (
            f"In {at}, the corner forgives up to {self.told[0]} {one} and {self.told[1]} {two}: {self.gain}.{feel}",
            f"Up to this g the held wheel settles the car {foot}: {one} {self.limit[0]}, {two} {self.limit[1]}.",
            *more,
        )


def promise(car: Car, now: Setup, then: Setup, corner: OwnCorner | None = None, before: Car | None = None) -> Promise:
    """Compute what a change promises in the driver's corner, in the worse of left and right where the way is not said.

    Parameters:
        car: the car [-]
        now: the setup as it stands [-]
        then: the setup asked for [-]
        corner: the corner; a usual one if left out [-]
        before: the car as it stands, where what is asked for makes another car of it [-]

    Returns:
        a ``Promise``; which turn counts depends on the car as it stands alone [-]

    Errors:
        as ``forgiven_speed``.

    Validity: as ``forgiven_speed`` with the wheel held, and ``hands_still_limit``.
    """
    both, place = stack([now, then]), corner or OwnCorner()
    two = [replace(one, yaw_inertia=float(one.inertia)) for one in (before or car, car)]
    cars = car if two[0] == two[1] else stack(two)
    found = []
    for way in place.turns:
        one = place.driven(way)
        speeds = forgiven_speed(cars, both, one, HOLDS)
        hands = hands_still_limit(cars, both, one.radius, one.lift, one.sign, one.brake)
        edges, held = (list(one) * (3 - len(one)) for one in (speeds.edges, np.atleast_1d(hands.told).tolist()))
        found.append(Promise(place, way, (edges[0], edges[1]), (held[0], held[1])))
    return min(found, key=lambda p: p.speed[0])


def why_back(found: Promise) -> tuple[str, ...]:
    """State why the reference may be asked for where it promises nothing that can be felt in the driver's corner.

    Parameters:
        found: what going back to the reference promises [-]

    Returns:
        sentences; none where more is promised [-]

    Source: common practice, no source.
    """
    if found.felt:
        return ()
    less = "less" if found.speed[1] < found.speed[0] else "nothing that can be felt"
    return (
        f"Going back to the reference promises {less} in this corner: for this corner alone there is no need of it. "
        "What is beyond tolerance is still put right first: the maker or the workshop knows that state, and anything "
        "else is tried from there.",
    )
