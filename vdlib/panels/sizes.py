"""What the small numbers of this workbook feel like from the seat, written by the numbers of the film's corner."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..car.carfile import CarFile
from ..shown import retold, says
from ..units import G, to_si
from .base import CSS
from .stage import filmed

RATIO, RIM = 15.0, 0.18
"""Steering wheel over front wheels [-], and the radius of its rim [m]; common practice, no source."""
UNNOTICED = 5.0
"""Way at the rim that is called not noticed [mm]; our choice."""
ROOM = 2.4
"""From the middle of a car to its tail [m], for the way a slide swings the tail; a plain example."""


def feel(file: CarFile) -> Any:
    """Return once what 0.1°, 0.01 g, 1 km/h, 0.5 s and 10° of tail-out mean from the seat, in this corner.

    Parameters:
        file: the car file [-]

    Returns:
        an ipywidgets box [-]
    """
    found = filmed(file)
    speed, radius = float(found.speeds[found.own]), found.radius
    hand = np.radians(0.1) * RATIO * RIM
    grip = 0.01 * G * radius / (2 * speed)
    more = ((speed + to_si(1.0, "kmh")) ** 2 - speed**2) / radius / G
    told = {
        "0.1° of extra steering": f"{1000 * hand:.0f} mm at the steering wheel's rim: you would not notice",
        "0.01 g": f"{says(grip, 'kmh', 1)} in this corner: less than a speedometer shows",
        "1 km/h": f"{more:.2f} g more in this corner: easily lost in one braking point",
        "0.5 s": f"{0.5 * speed:.0f} m of road at {says(speed, 'kmh', 0)}, gone before a surprised driver has moved",
        "10° of tail out": f"the tail {ROOM * np.sin(np.radians(10)):.1f} m to one side: you feel it in your back",
    }
    rows = "".join(f"<li><b>{escape(size)}</b>: {escape(seat)}.</li>" for size, seat in told.items())
    html = f'<div class="vd-words">What small numbers feel like from the seat:<ul>{rows}</ul></div>'
    box = widgets.VBox([widgets.HTML(CSS), widgets.HTML(retold(html))])
    box.add_class("vd-panel")
    return box
