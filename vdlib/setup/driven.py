"""The driver's own corner, and what each setting does there: in km/h forgiven, or in g that still hands settle."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..answers.corner import HOLDS, Corner, Turn
from ..answers.forgiven import forgiven_speed
from ..answers.hands_still import hands_still_limit
from ..answers.stacking import stack
from ..car.records import Car, Setup
from ..garage.form_fields import PHASES
from ..shown import a_or_an, says
from ..units import Array, G, to_si
from .advice import Ask, Help, Lever, turned
from .candidate import Version
from .whatif import compare, uneven

MEASURES: dict[str, tuple[str, str]] = {
    "forgiven": ("speed that your corner forgives", "km/h"),
    "hands": ("g up to which still hands settle the car", "g"),
}
"""Measure of the driver's → its plain name and unit; each grows as the car forgives more."""
FEET: dict[str, dict[str, float]] = {"brake": {"lift": 0.10, "brake": 0.20}}
"""Foot of the scare → engine drag and brakes' force over weight [-]; common practice, no source. Else a quick lift."""
EVENTS = {"brake": "throttle closed and the brake on, 0.3 g together, wheel held"}
"""Foot of the scare → what is asked about; a quick lift for every other."""
OTHER_FEET = {"steady": "with a steady foot", "drive": "on the throttle"}
"""Feet of a scare that the model asks nothing about: it asks about a lift."""
COSTS_IN = ("lift", "steady")
"""Phases of the corner in which it is told what else a setting changes."""
USUAL_G = 0.8
"""Lateral acceleration taken for a corner of which only the speed is known [g]; common practice, no source."""


@dataclass(frozen=True)
class OwnCorner:
    """The corner that is asked about, which way it turns, and whether it is the driver's own."""

    radius: float = 60.0  # [m]
    turn: Turn | None = None  # None: both ways, the worse counts
    speed: float | None = None  # as the driver told it; None where nobody did [m/s]
    foot: str = "lift"  # what it was doing: a key of ``car.records.PHASES``

    @property
    def turns(self) -> tuple[Turn, ...]:
        """The ways it is driven [-]."""
        return ("left", "right") if self.turn is None else (self.turn,)

    @property
    def event(self) -> str:
        """What the feet and hands do in it, in words [-]."""
        return EVENTS.get(self.foot, "a quick lift, wheel held")

    def driven(self, turn: Turn) -> Corner:
        """Return the corner with what the feet do in it.

        Parameters:
            turn: which way it is driven [-]

        Returns:
            a ``Corner`` [-]
        """
        return Corner(radius=self.radius, turn=turn, **FEET.get(self.foot, {}))

    def words(self, turn: Turn) -> str:
        """Return the corner in words: "a 55 m right-hander (yours: 75 km/h at about 0.8 g)".

        Parameters:
            turn: which way it is driven [-]

        Returns:
            words [-]
        """
        own = f" (yours: {says(self.speed, 'kmh', 0)} at about {USUAL_G:g} g)" if self.speed else ""
        return f"{a_or_an(self.radius)} m {turn}-hander{own}"


def own_corner(visit: Mapping[str, str]) -> OwnCorner:
    """Return the corner of the scare as the car file tells it, a usual one where it does not.

    Parameters:
        visit: what the car file says of the visit [-]

    Returns:
        an ``OwnCorner``; its radius from the speed at ``USUAL_G``, to 5 m, between 15 and 400 m [-]
    """
    told = visit.get("corner", "")
    turn: Turn | None = "left" if told.endswith(" left") else "right" if told.endswith("turning right") else None
    found = re.match(r"\s*(\d+(?:\.\d+)?)\s*(km/h|mph)", visit.get("speed", ""))
    foot = PHASES.get(visit.get("foot", ""), "lift")
    if not found:
        return OwnCorner(turn=turn, foot=foot)
    speed = float(to_si(float(found[1]), "kmh" if found[2] == "km/h" else "mph"))
    radius = float(np.clip(5 * round(speed**2 / (USUAL_G * G) / 5), 15, 400))
    return OwnCorner(radius, turn, speed, foot)


def measured(car: Car, setups: Sequence[Setup], corner: OwnCorner, measure: str) -> Array:
    """Compute one of the driver's measures for many setups, in the worse of the ways the corner is driven.

    Parameters:
        car: the car, plain numbers [-]
        setups: setups of plain numbers [-]
        corner: the corner [-]
        measure: a key of ``MEASURES`` [-]

    Returns:
        one value a setup, m/s or m/s² [any]

    Errors:
        as ``forgiven_speed``.

    Validity: as ``forgiven_speed`` with the wheel held after what the corner's foot does, to 0.1 km/h, and
    ``hands_still_limit``.
    """
    every = stack(list(setups))
    turns = corner.turns if any(uneven(car, setup) for setup in setups) else corner.turns[:1]
    found = []
    for turn in turns:
        one = corner.driven(turn)
        if measure == "forgiven":
            value = forgiven_speed(car, every, one, HOLDS).speed
        else:
            value = hands_still_limit(car, every, one.radius, one.lift, one.sign, one.brake).limit
        found.append(np.broadcast_to(value, (len(setups),)))
    lowest: Array = np.min(found, axis=0)
    return lowest


Measured = Callable[[Car, tuple[Setup, ...], OwnCorner, str], Array]
"""How a measure of the driver's is computed: ``measured``, or what keeps its answers."""


def ranked_in_corner(
    base: Version, ask: Ask, wanted: Sequence[Lever], corner: OwnCorner, measure: Measured = measured
) -> tuple[Help, ...]:
    """Rank settings by what each can do for a measure of the driver's within its bounds, the best first.

    Parameters:
        base: the car as it stands [-]
        ask: what is wanted; its goal is a key of ``MEASURES`` [-]
        wanted: the settings [-]
        corner: the driver's corner [-]
        measure: computes the measure; nothing of the moment moves it, so that its answers may be kept [-]

    Returns:
        one ``Help`` a setting; gain and reach in km/h or g, its end in the phases of ``COSTS_IN`` [-]

    Errors:
        as ``measured``.

    Validity: one setting at a time, both ways tried and the better one told; all of them in one call a turn.
    """
    tried: list[tuple[int, int, float]] = []  # setting, way, how far
    for i, one in enumerate(wanted):
        for way, room in ((1, one.high - one.now), (-1, one.now - one.low)):
            if room > 1e-9 * one.usual:
                tried += [(i, way, room), (i, way, min(room, one.usual))]
    setups = (base.setup, *(turned(base.setup, {wanted[i].path: way * far}) for i, way, far in tried))
    unit = to_si(1.0, "kmh") if ask.goal == "forgiven" else G
    gained = ask.way * (measure(base.car, setups, corner, ask.goal) / unit)
    gained = gained[1:] - gained[0]
    best: list[tuple[Lever, int, float, float, float]] = []
    for i, one in enumerate(wanted):
        rows = [k for k, (which, _, _) in enumerate(tried) if which == i][::2]
        if rows:
            k = max(rows, key=lambda k: max(gained[k], gained[k + 1]))
            usual = float(gained[k + 1]) * one.usual / tried[k + 1][2]
            best.append((one, tried[k][1], tried[k][2], usual, float(gained[k])))
        else:
            best.append((one, 0, 0.0, 0.0, 0.0))
    free = [row for row in best if row[1]]
    there = [Version("", base.car, turned(base.setup, {one.path: way * room})) for one, way, room, _, _ in free]
    every = compare([base, *there], ask.speed, ask.lateral, COSTS_IN)
    ends = {row[0].path: every.only(0).beside(every.only(k)) for k, row in enumerate(free, 1)}
    helps = [Help(one, gain, way, room, reach, ends.get(one.path)) for one, way, room, gain, reach in best]
    return tuple(sorted(helps, key=lambda one: (one.end is None, -one.reach)))
