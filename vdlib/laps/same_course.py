"""Are these laps of the course: its length, and which way it bends, metre by metre, against the log it was read off."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..checks import InputError, Problem
from ..units import Array, number
from .columns import CHANNELS
from .text import FACTORS

LONGER = 0.1
"""Part of the course by which its laps may be longer or shorter in another log [-]; our choice."""
LIKE = 0.5
"""Correlation from which two logs are of one course: other laps of it have 0.97 and more, another course up to 0.3, as
measured on invented days [-]; our choice."""
SURE = 0.9
"""Correlation from which a reason for the difference is named [-]; our choice."""
_UNIT = 0.05  # how near a unit's factor must come to be named
SWAPPED = (
    "left and right are the other way round than in the first log: its logger sat the other way round, or the course "
    "was driven the other way round"
)
WHICH = "under Which column is what"
Profiles = Mapping[str, Array]
"""What is known at each station: ``bend`` by positions, ``lateral`` as logged, ``speed`` [any]."""


def long_enough(name: str, length: float, unit: str, course: float, course_unit: str) -> None:
    """Refuse laps that are not as long as the course, with the unit of speed that would explain it.

    Parameters:
        name: which log [-]
        length: usual way driven in a lap [m]
        unit: in which its speed was read [-]
        course: length of the course [m]
        course_unit: in which the speed was read of the log that the course was read off [-]

    Errors:
        ``InputError`` for a length more than ``LONGER`` off.
    """
    ratio = length / course
    if abs(ratio - 1) < LONGER:
        return
    guesses = [
        f"is the speed of the log {which} in {other}, not in {own}? Choose that log and its unit {WHICH}"
        for which, own, factor in ((name, unit, 1 / ratio), ("it was read off", course_unit, ratio))
        for other in CHANNELS["speed"][1]
        if own in CHANNELS["speed"][1] and abs(FACTORS[other] / FACTORS[own] / factor - 1) < _UNIT
    ]
    rule = f"must be about as long as the course, {course:.0f} m"
    remedy = "; or ".join(guesses) or "choose logs of one course, with the same line"
    raise InputError([Problem(f"the laps of {name!r}", f"{length:.0f} m", rule, remedy)])


def driven_there(name: str, course: Profiles, laps: Profiles) -> str:
    """Refuse laps that do not bend as the course does, by positions, else by lateral acceleration, else by speed.

    Parameters:
        name: which log [-]
        course: what is known at the course's stations [any]
        laps: likewise of the usual lap [any]

    Returns:
        what to say of it, mostly nothing [-]

    Errors:
        ``InputError`` for another course, the other way round, or another line.

    Validity: a log whose lateral acceleration counts right turns positive is taken for what it is; only positions tell
    it from an even oval driven the other way round.
    """
    kind = next(kind for kind in ("bend", "lateral", "speed") if kind in course and kind in laps)
    one, other = (np.asarray(each[kind], dtype=float) for each in (course, laps))
    like = _likeness(one, other)[0]
    if kind == "lateral" and -like >= LIKE:
        return SWAPPED
    if like >= LIKE:
        return ""
    signs = {"bend": (1,), "lateral": (1, -1), "speed": (1,)}[kind]
    rule, remedy = "must be of the course of the first log", "choose logs of one course"
    if max(_likeness(one, sign * other).max() for sign in signs) >= SURE:
        rule, remedy = "must begin where those of the first log do", "choose logs with the same line"
    back = other[::-1] if kind == "speed" else -other[::-1]
    if max(_likeness(one, sign * back).max() for sign in signs) >= SURE:
        rule, remedy = "must go the same way round as those of the first log", "choose logs driven the same way round"
    what = {"bend": "positions", "lateral": "lateral acceleration", "speed": "speed"}[kind]
    got = f"a likeness of {number(like, 2)} by {what}, where 1 is the same"
    raise InputError([Problem(f"the laps of {name!r}", got, rule, remedy)])


def _likeness(one: Array, other: Array) -> Array:
    """Return the correlation with every shift along the closed course, that without a shift first."""
    a, b = (v[:-1] - v[:-1].mean() for v in (one, other))
    size = float(np.linalg.norm(a) * np.linalg.norm(b))
    product = np.fft.irfft(np.fft.rfft(a) * np.conj(np.fft.rfft(b)), len(a))
    out: Array = product / size if size > 0 else np.ones_like(product)
    return out
