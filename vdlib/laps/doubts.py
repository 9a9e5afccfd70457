"""Columns of a log that contradict each other: in a steady corner lateral acceleration is speed times yaw rate."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

import numpy as np

from ..units import Array, Flags, G, number
from . import text
from .columns import CHANNELS, Columns
from .logfile import Log
from .mounting import smooth

CLEARLY = 1.42
"""A factor beyond this is no tilt of the logger: at 40° of tilt it is 1.31 [-]; our choice."""
ALIKE = 0.1
"""How near a wrong unit's factor must come to be named, as a share of itself [-]; our choice."""
MOST = 3.0 * G
"""No road car corners, slows or picks up harder than this [m/s²]; our choice."""
NOT_SURE = "doubtful: numbers of this log contradict each other"


def turned_over_pushed(speed: Array, forces: Sequence[Array], rates: Array, step: float) -> float | None:
    """Return speed times yaw rate over the acceleration across the path, ``v·r / a_y``, whichever axis either lies on.

    Parameters:
        speed: at even moments, (moments,) [m/s]
        forces: two accelerations, at right angles [m/s²]
        rates: one rate of turning or three, (axes, moments) [rad/s]
        step: time between the moments [s]

    Returns:
        1 where the columns agree; None where too little is known [-]

    Validity: level ground. Offsets are taken out; a logger tilted by an angle shows one over its cosine.
    """
    rows = np.stack([*forces, np.ones_like(speed), speed, *(rates * speed)])
    known: Flags = np.isfinite(rows).all(axis=0)
    if known.sum() * step < 20:
        return None
    rows = np.stack([smooth(np.where(known, row, 0.0), step, 1.0) for row in rows])[:, known]
    found = np.linalg.lstsq(rows[:4].T, rows[4:].T, rcond=None)[0][:2]
    return float(np.linalg.svd(found, compute_uv=False)[0])


def clear(ratio: float | None) -> bool:
    """Whether a ratio that should be 1 is too far off to be a matter of how the logger sits.

    Parameters:
        ratio: such as from ``turned_over_pushed``; None for not known [-]

    Returns:
        True where it contradicts [-]
    """
    return ratio is not None and not 1 / CLEARLY < ratio < CLEARLY


def too_much(log: Log) -> str:
    """Name the column whose accelerations no car on the road reaches, and the unit that would explain them.

    Parameters:
        log: the log [-]

    Returns:
        a sentence; empty where all is well, one moment in a hundred left aside [-]
    """
    for channel, value in (("lateral", log.lateral), ("longitudinal", log.longitudinal)):
        known = value[np.isfinite(value)] if value is not None else np.empty(0)
        size = float(np.quantile(np.abs(known), 0.99)) if known.size else 0.0
        column, unit = log.columns.get(channel, ("", "g"))
        if size > MOST:
            named = repr(column) if column else f"of {_called(channel)}"
            out = f"check the units: the column {named} reaches {number(size / G, 1)} g, more than any car on the road"
            other = next(u for u in CHANNELS[channel][1] if u != unit)
            less = size * text.FACTORS[other] / text.FACTORS[unit]
            return out + (f". In {other} it would be {number(less / G, 2)} g" if less < MOST else "")
    return ""


def contradiction(ratio: float, columns: Columns, channels: Sequence[str], beside: str = "") -> str:
    """Name the columns that contradict each other, the factor, and the units that would explain it.

    Parameters:
        ratio: speed times yaw rate over lateral acceleration, 1 where they agree [-]
        columns: channel → (column, unit) [-]
        channels: those that may be wrong: speed, yaw_rate, lateral [-]
        beside: what the one column is held against; empty where the three are held against each other [-]

    Returns:
        a sentence [-]
    """
    named = [repr(columns[c][0]) if c in columns else _called(c) for c in channels]
    factor = max(ratio, 1 / ratio)
    size = number(factor, 2 if factor < 20 else 0)
    if beside:
        more = "large" if (ratio < 1) == (channels[0] == "lateral") else "small"
        out = f"check the units: the column {named[0]} is {size} times too {more} beside {beside}"
    else:
        listed = f"{', '.join(named[:-1])} and {named[-1]}"
        more = "large" if ratio > 1 else "small"
        out = (
            f"check the units: the columns {listed} contradict each other. In a steady corner speed times yaw rate is "
            f"the lateral acceleration; here it is {size} times too {more}"
        )
    fits = list(chain.from_iterable(_other_units(ratio, columns, channel) for channel in channels))
    return f"{out}. That is so where {', or '.join(fits)}" if fits else out


def _other_units(ratio: float, columns: Columns, channel: str) -> list[str]:
    """Return which other units of one column would make the ratio 1."""
    unit = columns.get(channel, ("", ""))[1]
    out = []
    for other in CHANNELS[channel][1]:
        if not unit or other == unit:
            continue
        change = text.FACTORS[other] / text.FACTORS[unit]
        change = 1 / change if channel == "lateral" else change
        if abs(ratio * change - 1) < ALIKE:
            out.append(f"the {_called(channel)} is in {other}, not in {unit}")
    return out


def _called(channel: str) -> str:
    return CHANNELS[channel][0].partition(" (")[0]
