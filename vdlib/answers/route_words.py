"""Why each route of ride height acts: what moves on this car, in mm, degrees or kilograms, and what that does."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..car.records import Car, Moment, Setup
from ..shown import says
from ..trim.suspension import toe_change
from ..trim.trim import ROUTES, trim
from ..units import G, Value, from_si, number
from .ledger import ROUTE_WORDS, Ledger, by_route
from .sentences import toward


@dataclass(frozen=True)
class Route:
    """One route: its part in the change, what moves at the front and at the rear, and one sentence."""

    key: str
    name: str
    part: float  # of the change of extra steering, understeer positive [rad]
    moves: tuple[float, float]  # front and rear, for the drawing, in the sentence's own unit
    sentence: str


def routes_of(car: Car, setup: Setup, level: Setup, moment: Moment) -> tuple[list[Route], Ledger]:
    """Compute the part of every route in the change that ride heights alone bring, with a sentence for each.

    Parameters:
        car: the car, plain numbers [-]
        setup: the car as it stands; only its ride heights count [-]
        level: the setup it is compared with [-]
        moment: the moment [-]

    Returns:
        the routes, the largest part first, and the ledger they come from [-]

    Errors:
        as ``trim``.

    Validity: as ``by_route``.
    """
    held = {
        end: {key: getattr(getattr(setup, end), key) for key in ("height", "height_difference")}
        for end in ("front", "rear")
    }
    now = replace(level, **{end: replace(getattr(level, end), **own) for end, own in held.items()})
    ledger = by_route(car, now, level, moment)
    parts = dict(zip(ledger.causes, (float(part) for part in ledger.parts), strict=True))
    moved = _moved(car, now, level)
    found = [Route(key, ROUTE_WORDS[key], parts[key], moved[key][0], moved[key][1]) for key in ROUTES]
    return sorted(found, key=lambda route: -abs(route.part)), ledger


def _way(size: float, up: str, down: str, unit: str, digits: int = 0, still: str = "stays") -> str:
    """Write a change, verb first: "rises 18 mm", "stays"."""
    return f"{up if size > 0 else down} {number(abs(size), digits)}{unit}" if round(abs(size), digits) else still


def _moved(car: Car, now: Setup, level: Setup) -> dict[str, tuple[tuple[float, float], str]]:
    rise = [float(getattr(now, e).height - getattr(level, e).height) for e in ("front", "rear")]
    ends = (car.front, car.rear)
    mm = [float(from_si(r, "mm")) for r in rise]
    standing = trim(car, level, Moment(10.0, 0.0), {"weight": (now.front.height, now.rear.height)}).standing_load
    before = trim(car, level, Moment(10.0, 0.0)).standing_load
    to_rear = float((standing[1] - before[1]).sum()) / G
    centre = [mm[i] * float(end.roll_centre_slope) for i, end in enumerate(ends)]
    share = float(car.front_share)
    cg = mm[0] * share + mm[1] * (1 - share)
    gap = [float(from_si(end.bump_gap, "mm")) + up for end, up in zip(ends, _least(car, now), strict=True)]
    toe = [_degrees(toe_change(-r, end.toe_slope, end.toe_bend)) for r, end in zip(rise, ends, strict=True)]
    camber = [_degrees(-float(end.camber_slope) * r) for r, end in zip(rise, ends, strict=True)]
    caster = _degrees((rise[0] - rise[1]) / float(car.wheelbase))
    anti = [_degrees(float(end.anti_slope) * r) for r, end in zip(rise, ends, strict=True)]
    lift = any(float(end.lift_attitude) for end in ends)
    rear_room = f"has {number(gap[1], 0)} mm of wheel travel left"
    if gap[1] < 0:
        rear_room = f"presses its stops by {number(-gap[1], 0)} mm at the wheel"

    def points(size: float) -> str:
        return _way(size, "points in by", "points out by", "°", 2, "points as before")

    def lean(size: float) -> str:
        return _way(size, "lean out by", "lean in by", "°", 2, "lean as before")

    return {
        "weight": (
            (-to_rear, to_rear),
            f"Tipping moves {says(abs(to_rear), 'kg', 1)} to the {'rear' if to_rear > 0 else 'front'}: very little.",
        ),
        "cg_height": (
            (cg, cg),
            f"The centre of gravity {_way(cg, 'rises', 'sinks', ' mm')}: the load moved across "
            f"{'changes with it' if round(cg) else 'stays too'}.",
        ),
        "roll_centres": (
            (centre[0], centre[1]),
            f"The front roll centre {_way(centre[0], 'rises', 'sinks', ' mm')}, the rear one "
            f"{_way(centre[1], 'rises', 'sinks', ' mm')}. The end with the higher one takes more of the load "
            "that moves across, and loses grip by it.",
        ),
        "stops": (
            (gap[0], gap[1]),
            f"Standing, the rear {rear_room}. On its rubber the tail turns stiff in roll: its outer tyre "
            "takes more of the load that moves across, and lets go sooner.",
        ),
        "toe": (
            (toe[0], toe[1]),
            f"At its new height each front wheel {points(toe[0])}, each rear wheel {points(toe[1])}. "
            "The outer wheel counts most: pointing in, a front one turns the nose in, a rear one holds the tail.",
        ),
        "camber": (
            (camber[0], camber[1]),
            f"The front wheels {lean(camber[0])}, the rear ones {lean(camber[1])}. "
            "The outer tyre grips more where it leans in.",
        ),
        "caster": (
            (caster, 0.0),
            f"The steering axis {_way(caster, 'tips back by', 'tips forward by', '°', 2)}: steering then leans the "
            f"wheels and shifts load between them {'a little more or less' if round(caster, 2) else 'as before'}.",
        ),
        "anti": (
            (anti[0], anti[1]),
            f"The lines along which pushing and slowing reach the body tip by {number(anti[0], 1)}° and "
            f"{number(anti[1], 1)}°: how far the nose dives and the tail rises when the foot lifts.",
        ),
        "air": (
            (0.0, 0.0),
            "Air under a tipped body can lift an end."
            if lift
            else "No figure is known for this car, so it counts nothing here; that is not the same as none.",
        ),
    }


def _least(car: Car, setup: Setup) -> list[float]:
    """How far the lower wheel of each axle is above the car's reference height [mm]."""
    pairs = ((car.front, setup.front), (car.rear, setup.rear))
    return [float(from_si(min(own.wheels("height")) - axle.reference_height, "mm")) for axle, own in pairs]


def _degrees(angle: Value) -> float:
    return float(from_si(angle, "deg"))


def headline(found: list[Route], ledger: Ledger, turn: str = "") -> str:
    """Describe what the heights do in sum, and the route that does most each way.

    Parameters:
        found: the routes [-]
        ledger: the ledger they come from [-]
        turn: in which turn, in words; empty where both are alike [-]

    Returns:
        a sentence [-]
    """
    total = float(ledger.total)
    most = {way: max(found, key=lambda route: way * route.part) for way in (-1, 1)}
    told = [f"{one.name} {toward(one.part)}" for one in most.values() if abs(np.degrees(one.part)) >= 0.005]
    rough = "" if bool(ledger.usable) else " Some steps are past the limit, so the parts are rough."
    most_told = "; ".join(told) or "nothing to speak of"
    return f"In sum the heights do {toward(total)}{turn}. The most each way: {most_told}.{rough}"
