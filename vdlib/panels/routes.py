"""The ledger of the ride heights with a moving picture and a sentence for each route: why it acts that way."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as widgets
import numpy as np
import traitlets

from ..answers.route_words import headline, routes_of
from ..answers.sentences import LEAST_ANGLE, toward
from ..car.carfile import CarFile
from ..car.records import Moment
from ..car.reference import reference_of
from ..draw.stage_layout import COLOURS
from ..draw.style import ROLES
from ..shown import retold
from ..units import G, from_si, to_si
from .base import CSS
from .compare_cars import LATERAL, SPEED
from .moments import in_worse_turn
from .said import retold_all

HERE = Path(__file__).parent


class RoutesWidget(anywidget.AnyWidget):
    """One row a route: a small moving picture, its bar and its sentence; see ``routes.js``."""

    _esm = HERE / "routes.js"
    _css = HERE / "routes.css"
    sent = traitlets.Dict().tag(sync=True)
    """The routes, and the colours they are drawn in."""


def panel(file: CarFile) -> Any:
    """Show why each route of ride height acts, the throttle closed.

    Parameters:
        file: the car file [-]

    Returns:
        an ipywidgets box [-]
    """
    level = reference_of(file).setup
    moment = Moment.in_phase("lift", to_si(SPEED, "kmh"), LATERAL * G)
    moment, turn = in_worse_turn(file, moment)
    found, ledger = routes_of(file.car, file.setup, level, moment)
    pairs = ((file.car.front, level.front), (file.car.rear, level.rear))
    before = [float(from_si(axle.bump_gap + own.height - axle.reference_height, "mm")) for axle, own in pairs]
    rows = [
        {
            "key": route.key,
            "name": route.name,
            "part": float(np.degrees(route.part)),
            "size": toward(route.part),
            "moves": list(route.moves),
            "was": before,
            "sentence": route.sentence,
            "small": bool(abs(np.degrees(route.part)) < LEAST_ANGLE),
        }
        for route in found
    ]
    colours = COLOURS | {"over": ROLES["toward_oversteer"].colour, "under": ROLES["toward_understeer"].colour}
    told = f"Throttle closed, {LATERAL:g} g, {SPEED:g} km/h; bars to the left: toward oversteer."
    words = f'<div class="vd-words"><b>{escape(headline(found, ledger, turn))}</b> {escape(told)}</div>'
    box = widgets.VBox(
        [
            widgets.HTML(CSS),
            widgets.HTML(retold(words)),
            RoutesWidget(sent=retold_all({"routes": rows, "colours": colours})),
        ]
    )
    box.add_class("vd-panel")
    return box
