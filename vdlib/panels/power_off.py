"""The power-off test: circles driven ever harder, the throttle closed in each, for the car and for its reference."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache, partial
from html import escape
from typing import Any

import numpy as np

from ..answers.film_words import out
from ..answers.power_off import RADIUS, STEP, PowerOff, series, table_of
from ..answers.stacking import stack
from ..car.carfile import CarFile
from ..car.reference import reference_of
from ..draw.power_off import PowerOffPicture
from ..units import G, from_si
from .base import Panel, slider, table

MOST = 9.0
"""Greatest lateral acceleration asked [m/s²]."""
COARSE = 0.02
"""Step in time while the slider moves [s]."""


@dataclass(frozen=True)
class Tested:
    """The test of both setups, (2, n), and what they are called."""

    found: PowerOff
    names: tuple[str, str]


def panel(file: CarFile) -> Panel:
    """Make the panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    reference = reference_of(file)
    car, setup = stack([reference.car, file.car], 1), stack([reference.setup, file.setup], 1)
    name = reference.name
    names = (name if name.startswith(("as ", "at ")) else f"at {name}", "as it came back")
    view = PowerOffPicture(names, MOST)
    table = lru_cache(maxsize=1)(partial(table_of, car, setup, MOST))  # no lift of the throttle moves it

    def compute(state: dict[str, Any], step: float | None = None) -> Tested:
        return Tested(series(car, setup, state["drag"], MOST, step=step, table=table()), names)

    drag = slider("Engine's drag over weight", 0.05, 0.2, 0.01, 0.1, "g", "How hard the closed throttle slows the car")
    rough = partial(compute, step=COARSE)
    return Panel({"drag": drag}, compute, lambda _, now: view.draw(now.found), words, view.picture, rough=rough)


def words(now: Tested) -> str:
    """State where each setup's knee is, and how little the tail gains just before it.

    Parameters:
        now: the test [-]

    Returns:
        HTML [-]
    """
    found = now.found
    told = [_knee(found, i) for i in (0, 1)]
    step = f"The step from one circle to the next is {STEP / G:.2f} g; the wheel is held."
    rows = []
    first = float(found.knee.min())
    last = int(np.argmin(np.abs(found.lateral[0] - first))) if np.isfinite(first) else found.lateral.shape[1] - 1
    for i in range(max(last - 1, 0), last + 1):
        rows += [
            [
                f"{found.lateral[0, i] / G:.2f} g, {name}",
                f"{found.yaw_ratio_1s[k, i]:.2f}",
                f"{found.yaw_ratio_2s[k, i]:.2f}",
                out(gained, True) if found.spun[k, i] else f"{gained:.1f}°",
                f"{found.path_deviation[k, i]:+.1f} m".replace("-", "−"),
                f"{found.deceleration[k, i] / G:.2f} g",
            ]
            if found.holds[k, i]
            else [f"{found.lateral[0, i] / G:.2f} g, {name}", *["cannot hold this circle"], *[""] * 4]
            for k, name in enumerate(now.names)
            for gained in (float(from_si(found.sideslip_gained[k, i], "deg")),)
        ]
    head = ["before the throttle closes", "yaw ratio 1 s", "2 s", "tail gains", "off the circle, outward", "slowing"]
    verdict = " ".join(f"{name[0].upper()}{name[1:]}: {said}." for name, said in zip(now.names, told, strict=True))
    return f"<b>On a radius of {RADIUS:g} m. {escape(verdict)}</b> {escape(step)}{table(head, rows)}"


def _knee(found: PowerOff, k: int) -> str:
    knee = float(found.knee[k])
    if not np.isfinite(knee):
        return "no knee within the circles driven"
    i = int(np.argmin(np.abs(found.lateral[k] - knee)))
    at = f"the knee is at {knee / G:.2f} g"
    if not i:
        return f"{at}, the first circle driven"
    before, after = (from_si(found.sideslip_gained[k, j], "deg") for j in (i - 1, i))
    much = out(after, bool(found.spun[k, i]))
    return f"{at}, where the tail gains {much}; one step before it gains {before:.1f}°"
