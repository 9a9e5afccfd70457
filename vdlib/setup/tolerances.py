"""What a workshop can set: within what each setting can be made and read, and what of a what-if is less than that."""

from __future__ import annotations

import numpy as np

from ..car.records import Setup
from ..units import brief, from_si, to_si
from .candidate import Candidate, Version, at_heights_of, between, leaves, put, standing, version
from .whatif import plain

WITHIN: dict[str, tuple[float, str, str]] = {
    "height": (1.0, "mm", " mm"),
    "camber": (0.1, "deg", "°"),
    "caster": (0.2, "deg", "°"),
    "toe": (0.05, "deg", "°"),
    "pressure": (0.05, "bar", " bar"),
    "cross_weight": (0.3, "percent", " %"),
    "corner": (3.0, "kg", " kg"),
    "load": (0.5, "kg", " kg"),
}
"""Within what a setting can be made and read in a workshop: size, unit and its sign; common practice, no source."""
PART = 0.05
"""The same for springs and bars, as part of what they are: half a usual hole of a bar; common practice, no source."""
UNITS_OF = {field: rest for field, (_, *rest) in WITHIN.items()} | {
    "spring": ["N_per_mm", " N/mm"],
    "bar": ["Nm_per_deg", " Nm/deg"],
}
"""Setting → its unit and that unit's sign."""


_FOLLOWS = ("aligned_height", "aligned_height_difference", "weighed_difference")
"""Numbers that follow a height and are not set themselves."""


def least(field: str, now: float) -> float:
    """Return the least change of a setting that a workshop can make and read.

    Parameters:
        field: the setting's own name, a key of ``WITHIN``, "spring" or "bar" [-]
        now: what it is now, in SI [any]

    Returns:
        the change, in SI [any]
    """
    name = field.removesuffix("_difference")  # left minus right is read as finely as each of them
    if name not in WITHIN:
        return PART * abs(now)
    size, unit, _ = WITHIN[name]
    return float(to_si(size, unit))


def too_small(field: str, now: float, then: float) -> bool:
    """Return whether a change is there, but less than can be set; one just as large as the tolerance can be.

    Parameters:
        field: as for ``least`` [-]
        now: what it is now, in SI [any]
        then: what it is to be, in SI [any]

    Returns:
        True or False [-]
    """
    return 0 < abs(then - now) < least(field, now) * (1 - 1e-6)


def without_unsettable(candidate: Candidate, base: Version) -> tuple[Candidate, tuple[str, ...]]:
    """Leave out of a candidate what a workshop cannot set: every change smaller than its own tolerance.

    Parameters:
        candidate: what is asked for [-]
        base: the car as it stands, toe and camber at its own heights [-]

    Returns:
        what can be set, toe and camber at its own heights, and the changes left out, in words [-]

    Errors:
        as ``candidate.version``.
    """
    asked = version(candidate, base)
    new = standing(asked.car, asked.setup)
    light = [one for one in candidate.loads if too_small("load", 0.0, one.mass)]
    left = [f"{one.name} ({_step(one.mass, 'kg', ' kg')})" for one in light]
    new, high = _as_before(new, base.setup, candidate, heights=True)
    new, rest = _as_before(new, at_heights_of(base, new), candidate, heights=False)  # toe and camber follow the heights
    left += [*high, *rest]
    loads = tuple(one for one in candidate.loads if one not in light)
    able = between(base, new, candidate.name, loads=loads, tyres=candidate.tyres, note=candidate.note)
    return able, tuple(left)


def _as_before(new: Setup, old: Setup, candidate: Candidate, heights: bool) -> tuple[Setup, list[str]]:
    """Take back what differs by less than can be set, of ride heights or of all else, and return that in words too."""
    left = []
    for path, then in leaves(new):
        end, _, field = path.rpartition(".")
        now = float(getattr(getattr(old, end), field) if end else getattr(old, field))
        if field in _FOLLOWS or field.startswith("height") != heights or not too_small(field, now, float(then)):
            continue
        new = put(new, path, now)
        if heights:
            new = put(new, f"{end}.aligned_{field}", now)
        wanted = candidate.settings.get(path, now)
        if not field.endswith("_difference") and not np.isclose(wanted, now, rtol=1e-9, atol=0):
            left.append(f"{plain(path)} ({_step(wanted - now, *UNITS_OF[field])})")
    return new, left


def _step(change: float, unit: str, label: str) -> str:
    size = from_si(change, unit)
    return f"{'+' if size > 0 else '−'}{brief(abs(size), 2)}{label}"
