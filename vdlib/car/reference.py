"""The one set of figures that a car is compared with, and what to call it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from .carfile import CarFile
from .keys import ENDS
from .known import FIGURES, Figures, axle_heights
from .records import SIDES, Car, Setup
from .tyre import of_other_kind

EVEN = 0.5
"""Cross weight that a car is compared with where no figure is given: even diagonals; common practice, no source [-]."""


@dataclass(frozen=True)
class Reference:
    """A car at the figures it is compared with, toe and camber set at those heights."""

    setup: Setup
    name: str  # "book" only where the car file has a [book]
    source: str
    car: Car  # the same car, on the tyres that the figures name where they name any
    figures: Figures | None = None  # as the car file gives them, with their tolerances

    def at_heights_of(self, setup: Setup) -> Setup:
        """Return the reference's figures at another setup's ride heights, toe and camber left as they were.

        Parameters:
            setup: the setup whose heights are wanted, any shape [-]

        Returns:
            a new ``Setup`` [-]
        """
        ends = {
            end: replace(
                getattr(self.setup, end),
                height=getattr(setup, end).height,
                height_difference=getattr(setup, end).height_difference,
            )
            for end in ENDS
        }
        return replace(self.setup, **ends)


def reference_of(file: CarFile) -> Reference:
    """Return the reference of a car: its figures, aligned at their heights, every other setting as the car has it.

    Where the file says nothing of a figure: heights are the car's reference heights, cross weight is even, toe, camber
    and pressure are the setup's own means of both wheels.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Reference`` [-]

    Validity: heights given at measuring points are taken to the axle lines by the straight line through them.
    """
    car, figures = file.car, file.known.figures
    given = dict(figures.values) if figures else {}
    high = axle_heights(figures, file.known.points, car.wheelbase) if figures else {}
    setup: Any = replace(file.setup, cross_weight=given.get("cross_weight", EVEN))
    for end in ENDS:
        own, usual = getattr(setup, end), getattr(car, end).reference_height
        pair = high.get(end, (usual, usual))
        for name in FIGURES:
            wheels = pair if name == "height" else _wheels(given, end, name, getattr(own, name))
            own = own.with_wheels(name, *wheels)
        own = own.with_wheels("aligned_height", *pair)
        own = replace(own, weighed_difference=own.height_difference)
        setup = replace(setup, **{end: own})
    return Reference(setup, _name(file), figures.source if figures else "", _on_tyres(car, figures), figures)


def _wheels(given: dict[str, float], end: str, name: str, usual: Any) -> tuple[Any, Any]:
    """Return a figure of the left and of the right wheel."""
    both = given.get(f"{end}.{name}", usual)
    left, right = (given.get(f"{end}_{side}.{name}", both) for side in SIDES)
    return left, right


def _name(file: CarFile) -> str:
    if file.known.figures is not None:
        return file.known.figures.name
    words = {file.origin.get(f"{end}.reference_height") for end in ENDS}
    return "usual for the kind" if "typical" in words else "its reference heights"


def _on_tyres(car: Car, figures: Figures | None) -> Car:
    out: Any = car
    for end, kind in (figures.tyres if figures else {}).items():
        axle = getattr(out, end)
        if axle.tyre.kind != kind:
            out = replace(out, **{end: replace(axle, tyre=of_other_kind(axle.tyre, kind))})
    return out  # type: ignore[no-any-return]
