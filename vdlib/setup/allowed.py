"""What a mechanic accepts: nothing beyond the reference, no rear toe-out, no more nose-high, unless it is marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ..car.keys import ENDS
from ..car.known import Figures
from ..car.records import Setup
from ..units import G
from .advice import Ask, Gains, Help, Lever, gains
from .candidate import Version
from .page_wheels import given
from .whatif import Comparison

LITTLE = 0.005
"""A loss of grip at the better end by less than this is not worth a word [g]."""
TOLD = ("height", "toe", "camber")
"""Settings of which a reference has figures that nothing goes beyond."""


def reason(lever: Lever, there: float, reference: Setup, figures: Figures | None) -> str:
    """Return why a workshop should not be asked to turn one setting so far; empty where nothing is against it.

    Parameters:
        lever: the setting [-]
        there: where it is to be, in SI [any]
        reference: the setup that the car is compared with [-]
        figures: the figures of the car file; None where it has none [-]

    Returns:
        a reason in a few words; common practice, no source [-]
    """
    end, _, field = lever.path.partition(".")
    change = there - lever.now
    if field not in TOLD or abs(change) < 0.5 * lever.grid:
        return ""
    due = _due(lever, reference, figures)
    if returns(lever, there, reference, figures):
        return ""
    if (end, field) == ("rear", "toe") and change < 0:
        return "toward rear toe-out"
    if field == "height" and change * (1 if end == "front" else -1) > 0:
        return "more nose-high"
    return "" if due is None else "beyond the reference"


def returns(lever: Lever, there: float, reference: Setup, figures: Figures | None) -> bool:
    """Return whether a change leads toward a figure of the reference and not past it.

    Parameters:
        lever: the setting [-]
        there: where it is to be, in SI [any]
        reference: the setup that the car is compared with [-]
        figures: the figures of the car file; None where it has none [-]

    Returns:
        True or False; False where the reference has no figure [-]
    """
    due, change = _due(lever, reference, figures), there - lever.now
    if due is None or (due - lever.now) * change <= 0:
        return False
    return abs(change) < abs(due - lever.now) + 0.5 * lever.grid


def against(one: Help, reference: Setup, figures: Figures | None) -> str:
    """Return why a workshop should not be asked for all that one setting can do; empty where nothing is against it.

    Parameters:
        one: what one setting can do [-]
        reference: the setup that the car is compared with [-]
        figures: the figures of the car file; None where it has none [-]

    Returns:
        a reason in a few words; common practice, no source [-]
    """
    if not one.way or one.end is None:
        return ""
    there = one.lever.now + one.way * one.room
    if returns(one.lever, there, reference, figures):
        return ""
    if told := reason(one.lever, there, reference, figures):
        return told
    return costly(one.end.worse("lift"))


def costly(found: Comparison) -> str:
    """Return what a change takes from the end that holds longer, in a few words; empty where that is little.

    Parameters:
        found: the car as it stands, then changed [-]

    Returns:
        words [-]
    """
    end, lost = loss(found)
    return f"takes {lost:.3f} g from the {end}, which holds longer" if np.isfinite(lost) and lost > LITTLE else ""


def loss(found: Comparison) -> tuple[str, float]:
    """Return which end holds longer with the throttle closed, and how much of its limit the last version takes.

    Parameters:
        found: the car as it stands, then changed, in one turn [-]

    Returns:
        "front" or "rear", and its loss, below zero for a gain; NaN where a limit is not known [g]
    """
    limit = found.limit[:, :, found.phases.index("lift")]
    good = int(np.argmax(limit[:, 0]))
    return ENDS[good], float(limit[good, 0] - limit[good, -1]) / G


def sparing(
    base: Version,
    ask: Ask,
    wanted: Sequence[Lever],
    reference: Setup,
    figures: Figures | None,
    known: Gains | None = None,
) -> tuple[Lever, ...]:
    """Bound the settings so that together they take less than is worth a word from the end that holds longer.

    Parameters:
        base: the car as it stands [-]
        ask: what is wanted; its goal one of ``advice.GOALS`` [-]
        wanted: the settings [-]
        reference: the setup that the car is compared with [-]
        figures: the figures of the car file; None where it has none [-]
        known: the settings' gains with the throttle closed, to save working them out again [-]

    Returns:
        the settings, each way that takes grip from that end cut to its part of ``LITTLE``; what leads back to the
        reference stays [-]

    Errors:
        as ``gains``.

    Validity: to first order about the car as it stands, throttle closed.
    """
    if not wanted:
        return ()
    found = known or gains(base, replace(ask, phase="lift"), wanted, ("lift",))
    good = int(np.argmax(found.base.limit[:, 0, 0]))
    slope = np.nan_to_num(found.limit[good, :, 0]) / G
    each = LITTLE / len(wanted)
    out = []
    for one, per in zip(wanted, slope, strict=True):
        side = "high" if per < 0 else "low"
        end = getattr(one, side)
        far = each / abs(per) if per else np.inf
        back = returns(one, end, reference, figures)
        if not back and abs(end - one.now) > far:
            cut: dict[str, Any] = {side: float(one.now + far * np.sign(end - one.now))}
            one = replace(one, **cut)
        if one.high - one.low >= 0.5 * one.grid:
            out.append(one)
    return tuple(out)


def to_the_reference(wanted: Sequence[Lever], reference: Setup, figures: Figures | None) -> tuple[Lever, ...]:
    """Let settings go toward the reference no further than to it; the other way stays as it is.

    Parameters:
        wanted: the settings [-]
        reference: the setup that the car is compared with [-]
        figures: the figures of the car file; None where it has none [-]

    Returns:
        the same settings, each way that leads to the reference ending there [-]
    """
    out = []
    for one in wanted:
        due = _due(one, reference, figures)
        if due is not None and abs(due - one.now) >= 0.5 * one.grid:
            ends: dict[str, Any] = {"high": min(one.high, due)} if due > one.now else {"low": max(one.low, due)}
            one = replace(one, **ends)
        out.append(one)
    return tuple(out)


def accepted(wanted: Sequence[Lever], reference: Setup, figures: Figures | None) -> tuple[Lever, ...]:
    """Close every way that something is against.

    Parameters:
        wanted: the settings [-]
        reference: the setup that the car is compared with [-]
        figures: the figures of the car file; None where it has none [-]

    Returns:
        the settings that may still be turned, with what is left to them [-]
    """
    out = []
    for one in to_the_reference(wanted, reference, figures):
        ends: dict[str, Any] = {
            side: one.now for side in ("low", "high") if reason(one, getattr(one, side), reference, figures)
        }
        one = replace(one, **ends)
        if one.high - one.low >= 0.5 * one.grid:
            out.append(one)
    return tuple(out)


def _due(lever: Lever, reference: Setup, figures: Figures | None) -> float | None:
    """The reference's figure of a setting; None where it has none."""
    end, _, field = lever.path.partition(".")
    if field not in TOLD or (field != "height" and not given(figures, end, field)):
        return None
    return float(getattr(getattr(reference, end), field))
