"""What each single thing would move the forgiven speed by: what belongs to the car, to the driver and to the day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from ..car.keys import ENDS
from ..car.records import WHEEL_FIELDS, Axle, Car, Setup
from ..car.reference import Reference
from ..car.tyre import KINDS, of_other_kind
from ..units import to_si
from .corner import Corner, Driver
from .edge import Edge
from .forgiven import ForgivenSpeed, forgiven_speed
from .stacking import stack

Owner = Literal["car", "driver", "day"]
TRAVEL = to_si(45.0, "mm")
"""Travel to the rear stop at the reference height that counts as given back [m]; common practice, no source."""
BAR = 0.2
"""One step of an anti-roll bar, as a part of its stiffness; common practice, no source."""
SOONER = 0.5
"""How much sooner the hands move [s]."""
QUICKEST = 0.2
"""The least time in which hands move [s]; common practice, no source."""
WIDER = 5.0
"""How much wider a line is tried [m]."""
WET = 0.7
"""Grip of a wet road over that of a dry one; common practice, no source."""


@dataclass(frozen=True)
class Try:
    """One single thing done differently."""

    name: str
    owner: Owner
    car: Car
    setup: Setup
    corner: Corner
    driver: Driver
    fitted: bool = False  # True for other parts, which no workshop sets


@dataclass(frozen=True)
class Margin:
    """What one single thing moves the forgiven speed by."""

    name: str
    owner: Owner
    gained: float  # [m/s]
    edge: Edge  # up to where this corner forgives with it
    fitted: bool = False  # as in ``Try``


@dataclass(frozen=True)
class Margins:
    """The forgiven speed as it is, and what each single thing would move it by, the largest first."""

    now: Edge
    rows: tuple[Margin, ...]


def tries(car: Car, setup: Setup, reference: Reference, corner: Corner, driver: Driver) -> Iterator[Try]:
    """List the single things that are tried, each away from the car, corner and driver as they are.

    Parameters:
        car: the car, plain numbers [-]
        setup: its setup, plain numbers [-]
        reference: what it is compared with [-]
        corner: the corner, plain numbers [-]
        driver: the driver, plain numbers [-]

    Returns:
        an iterator of ``Try`` [-]
    """
    level = reference.setup

    def by_car(name: str, car: Car = car, setup: Setup = setup, owner: Owner = "car") -> Try:
        return Try(name, owner, car, setup, corner, driver)

    def by_driver(name: str, corner: Corner = corner, driver: Driver = driver) -> Try:
        return Try(name, "driver", car, setup, corner, driver)

    yield by_car(f"all of it {_at(reference.name)}", reference.car, level)
    heights = ("height", "height_difference", "weighed_difference")
    yield by_car("ride heights put back", setup=_put(setup, level, heights))
    room = max(float(car.rear.bump_gap), TRAVEL)
    yield by_car("tail given its travel back", replace(car, rear=replace(car.rear, bump_gap=room)))
    yield by_car("toe and camber put back", setup=_aligned(setup, level))
    stiffer = replace(setup, front=replace(setup.front, bar=float(setup.front.bar) * (1 + BAR)))
    yield by_car("front anti-roll bar a step stiffer", setup=stiffer)
    softer = replace(setup, rear=replace(setup.rear, bar=float(setup.rear.bar) * (1 - BAR)))
    yield by_car("rear anti-roll bar a step softer", setup=softer)
    better = _next_kind(car.rear)
    if better:
        ends: dict[str, Any] = {end: _on(getattr(car, end), _next_kind(getattr(car, end)) or better) for end in ENDS}
        yield replace(by_car(f"{better} tyres", replace(car, **ends)), fitted=True)
    yield by_driver(
        "lifting half as far", replace(corner, lift=0.5 * float(corner.lift), brake=0.5 * float(corner.brake))
    )
    if driver.counter_steer:
        sooner = max(float(driver.reaction) - SOONER, QUICKEST)
        yield by_driver("hands half a second sooner", driver=replace(driver, reaction=sooner))
    else:
        yield by_driver("hands that steer against it", driver=replace(Driver(), closing=driver.closing))
    yield by_driver(f"a line {WIDER:g} m wider", replace(corner, radius=float(corner.radius) + WIDER))
    yield by_driver("twice the time to lift", driver=replace(driver, closing=2 * float(driver.closing)))
    wet: dict[str, Any] = {end: _wet(getattr(car, end)) for end in ENDS}
    yield by_car("a wet road", replace(car, **wet), owner="day")


def margins(car: Car, setup: Setup, reference: Reference, corner: Corner, driver: Driver | None = None) -> Margins:
    """Compute what each single thing would move the forgiven speed by, all of them in one call.

    Parameters:
        car: the car, plain numbers [-]
        setup: its setup, plain numbers [-]
        reference: what it is compared with [-]
        corner: the corner, plain numbers [-]
        driver: the driver, plain numbers; one who did not expect it if left out [-]

    Returns:
        the ``Margins`` [-]

    Errors:
        as ``forgiven_speed``.

    Validity: single things only; two together do not simply add up. As ``forgiven_speed``, in steps of 0.1 km/h each.
    """
    driver = driver or Driver()
    asked = [Try("now", "car", car, setup, corner, driver), *tries(car, setup, reference, corner, driver)]
    now, *then = forgiven_of(asked).edges
    rows = [
        Margin(one.name, one.owner, edge.speed - now.speed, edge, one.fitted)
        for one, edge in zip(asked[1:], then, strict=True)
    ]
    return Margins(now, tuple(sorted(rows, key=lambda row: -abs(row.gained))))


def forgiven_of(asked: list[Try]) -> ForgivenSpeed:
    """Compute the forgiven speeds of several single things at once.

    Parameters:
        asked: what is tried, all turning the same way [-]

    Returns:
        a ``ForgivenSpeed`` of that many cases [-]
    """
    parts: Any = [[getattr(one, name) for one in asked] for name in ("car", "setup", "corner", "driver")]
    car, setup, corner, driver = (stack(part) for part in parts)
    return forgiven_speed(car, setup, corner, driver)


def _at(name: str) -> str:
    return name if name.startswith(("as ", "at ")) else f"at {name}"


def _put(setup: Setup, level: Setup, names: tuple[str, ...]) -> Setup:
    """Return a setup with some of its numbers as at the reference."""
    ends = {end: {name: getattr(getattr(level, end), name) for name in names} for end in ENDS}
    return replace(setup, **{end: replace(getattr(setup, end), **changes) for end, changes in ends.items()})


def _aligned(setup: Setup, level: Setup) -> Setup:
    """Return a setup with toe and camber set to the reference's at the heights at which it is."""
    names = ("toe", WHEEL_FIELDS["toe"], "camber", WHEEL_FIELDS["camber"])
    out = _put(setup, level, names)
    for end in ENDS:
        own = getattr(out, end)
        here = replace(own, aligned_height=own.height, aligned_height_difference=own.height_difference)
        out = replace(out, **{end: here})
    return out


def _next_kind(axle: Axle) -> str | None:
    """Return the next grippier plain kind of tyre, None where there is none."""
    kinds = list(KINDS)
    at = kinds.index(axle.tyre.kind) + 1 if axle.tyre.kind in kinds else len(kinds)
    return kinds[at] if at < len(kinds) else None


def _on(axle: Axle, kind: str) -> Axle:
    return replace(axle, tyre=of_other_kind(axle.tyre, kind))


def _wet(axle: Axle) -> Axle:
    return replace(axle, tyre=replace(axle.tyre, grip=np.multiply(WET, axle.tyre.grip)[()]))
