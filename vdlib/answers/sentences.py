"""Sentences that numbers write: attitude, direction of a change, the ledger, who lets go first."""

from __future__ import annotations

from math import isinf

import numpy as np

from ..trim.trim import state_words
from ..units import G, from_si
from .height_study import Study
from .ledger import ROUTE_WORDS, Ledger

PHASE_WORDS = {
    "brake": "braking into it",
    "lift": "throttle closed",
    "steady": "steady throttle",
    "drive": "driving out of it",
}
"""Phase of a corner → how pictures and panels call it."""
LEAST_ANGLE = 0.005
"""Changes of the understeer angle below this are called none [deg]."""


def attitude_words(attitude: float) -> str:
    """Describe how the car stands: "nose-high by 34 mm".

    Parameters:
        attitude: front height change less rear height change [m]

    Returns:
        words [-]
    """
    size = round(from_si(abs(attitude), "mm"))
    if size == 0:
        return "at its reference attitude"
    return f"nose-{'high' if attitude > 0 else 'low'} by {size} mm"


def toward(change: float) -> str:
    """State a change of the understeer angle: "0.21° toward oversteer".

    Parameters:
        change: understeer positive [rad]

    Returns:
        words [-]
    """
    degrees = from_si(change, "deg")
    if abs(degrees) < LEAST_ANGLE:
        return f"no change to speak of (under {LEAST_ANGLE:g}°)"
    return f"{abs(degrees):.2f}° toward {'understeer' if degrees > 0 else 'oversteer'}"


def listed(words: list[str]) -> str:
    """Join words with commas and a last "and".

    Parameters:
        words: the words [-]

    Returns:
        one text [-]
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def causes_words(ledger: Ledger, names: dict[str, str] = ROUTE_WORDS) -> str:
    """State which causes carry a change and which act the other way.

    Parameters:
        ledger: of one case, in radians of understeer angle [-]
        names: cause → its plain name [-]

    Returns:
        words, starting with a capital letter and without a full stop [-]
    """
    least = np.radians(LEAST_ANGLE)
    order = sorted(range(len(ledger.causes)), key=lambda i: -abs(float(ledger.parts[i])))
    big = [i for i in order if abs(float(ledger.parts[i])) >= least]
    if not big:
        return "No single cause moves the balance by more than a very little"
    sign = 1.0 if float(ledger.total) >= 0 else -1.0
    told = {
        +1: [
            f"{names[ledger.causes[i]]} ({abs(np.degrees(ledger.parts[i])):.2f}°)" for i in big if ledger.parts[i] > 0
        ],
        -1: [
            f"{names[ledger.causes[i]]} ({abs(np.degrees(ledger.parts[i])):.2f}°)" for i in big if ledger.parts[i] < 0
        ],
    }
    way = {1: "understeer", -1: "oversteer"}
    first, second = (1, -1) if sign > 0 else (-1, 1)
    halves = [
        f"{listed(told[d])} {'acts' if len(told[d]) == 1 else 'act'} toward {way[d]}"
        for d in (first, second)
        if told[d]
    ]
    if len(halves) == 1:
        return f"All that counts goes one way: {halves[0]}"
    return f"{halves[0][0].upper()}{halves[0][1:]}; {halves[1]}"


def lets_go(limit: tuple[float, float]) -> str:
    """State which end lets go first and where.

    Parameters:
        limit: lateral acceleration at which front and rear let go; infinite where one does not [m/s²]

    Returns:
        words [-]
    """
    front, rear = limit
    if isinf(front) and isinf(rear):
        return "neither end lets go within the range shown"
    end, other, first, last = ("rear", "front", rear, front) if rear < front else ("front", "rear", front, rear)
    later = "" if isinf(last) else f", the {other} would at {last / G:.2f} g"
    return f"the {end} lets go first, at {first / G:.2f} g{later}"


def story(found: Study, turn: str = "") -> str:
    """Describe what the ride heights do at the moment studied.

    Parameters:
        found: the study [-]
        turn: in which turn, in words; empty where both are alike [-]

    Returns:
        one or two sentences [-]
    """
    lateral = abs(float(found.moment.lateral)) / G
    head = attitude_words(found.attitude)
    head = head[0].upper() + head[1:]
    states = [state_words(state) for state in np.asarray(found.at.state).ravel()]
    if not found.usable:
        which = "As it stands" if found.at.usable[0] else "Already at the reference heights"
        said = states[1] if found.at.usable[0] else states[0]
        return f"{head}. {which}, at {lateral:.2f} g: {'; '.join(said)}. There is no steady corner here to compare."
    causes = causes_words(found.ledger)
    if found.ledger.causes:
        return f"{head}: {toward(float(found.ledger.total))} at {lateral:.2f} g{turn}. {causes}."
    return f"{head}: every route is switched off, so the heights change nothing here."
