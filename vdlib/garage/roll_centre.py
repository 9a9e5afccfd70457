"""Roll centre of an axle from four points in front view: the inner and outer ends of its two links, on one side.

Each point is read by its distance from the middle of the car and its height above level ground, with a plumb line and
a tape, the car as it stands. Caution: on a lift or axle stands made for it, nobody under a car on a jack.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.keys import ENDS
from ..checks import InputError, Problem, range_problem
from ..glossary import GLOSSARY
from ..units import Array, from_si, number
from .form_fields import LINK_POINTS
from .instruments import Measured, carry
from .reckoning import Outcome, Reckoning

POINT = 0.003
"""How well the middle of a joint is read with plumb line and tape (one standard deviation); no source [m]."""
_STEP = 1e-3
"""How far the body is raised and lowered for the roll centre's movement [m]."""


@dataclass(frozen=True)
class RollCentre:
    """Where the lines of both links meet, and what follows; errors are one standard deviation."""

    instant: Array  # out from the middle and up from the road, infinite for parallel links (2,) [m]
    height: Measured  # of the roll centre above the road, as the car stands [m]
    slope: Measured  # movement of the roll centre per metre the body rises [-]


def roll_centre(points: Mapping[str, Any], half_track: float | Measured, sigma: float = POINT) -> RollCentre:
    """Find the roll centre: ``h = z·(t/2)/(t/2 − y)``, ``(y, z)`` where the lines of both links meet.

    Parameters:
        points: each of ``LINK_POINTS`` → out from the middle and up from the road [m]
        half_track: half of the track; a plain number has no error [m]
        sigma: one standard deviation of each of the eight readings [m]

    Returns:
        a ``RollCentre`` [-]

    Errors:
        ``InputError`` where an inner end lies outside its outer end, the upper link not above the lower one,
        or the roll centre where no axle has it.

    Validity: two links a side in front view, left and right alike; the movement for small travel.
    Source: Kennedy's theorem of the three instant centres; the movement by own derivation.
    """
    given = {name: np.asarray(points[name], dtype=float) for name in LINK_POINTS}
    _fits(given)
    half = half_track if isinstance(half_track, Measured) else Measured(half_track, 0.0)
    read = {f"{name}_{k}": Measured(float(given[name][k]), sigma) for name in LINK_POINTS for k in (0, 1)}

    def compute(half: Any, **flat: Any) -> dict[str, Any]:
        four = {name: np.array([flat[f"{name}_0"], flat[f"{name}_1"]], dtype=float) for name in LINK_POINTS}
        up, down = (_height(_raised(four, half, rise), half, rise) for rise in (_STEP, -_STEP))
        return {"height": _height(four, half), "slope": (up - down) / (2 * _STEP)}

    found = carry(compute, {"half": half, **read})
    meets = _instant(given)
    allowed = GLOSSARY["roll_centre"]
    finite = bool(np.isfinite(found["height"].value))
    if not finite or range_problem("roll centre", found["height"].value, "mm", allowed.low, allowed.high):
        got = f"{number(from_si(found['height'].value, 'mm'), 0)} mm" if finite else ""
        rule = f"must lie at {allowed.low} to {allowed.high} mm"
        raise InputError([Problem("roll centre", got, rule, "read the four points again")])
    with np.errstate(divide="ignore", invalid="ignore"):
        return RollCentre(meets[:2] / meets[2], found["height"], found["slope"])


def _fits(four: Mapping[str, Array]) -> None:
    """Refuse ends that no pair of links has."""
    problems = []
    for link in ("lower", "upper"):
        inner, outer = (four[f"{link}_{end}"] for end in ("inner", "outer"))
        if inner[0] >= outer[0]:
            got = f"{number(from_si(float(inner[0]), 'mm'), 0)} mm"
            rule = f"must be less than the outer end's {number(from_si(float(outer[0]), 'mm'), 0)} mm from the middle"
            problems.append(Problem(f"{link} link, inner end", got, rule, "were inner and outer swapped?"))
    for end in ("inner", "outer"):
        low, high = (float(four[f"{link}_{end}"][1]) for link in ("lower", "upper"))
        if high <= low:
            got = f"{number(from_si(high, 'mm'), 0)} mm"
            rule = f"must be above the lower link's {number(from_si(low, 'mm'), 0)} mm"
            problems.append(Problem(f"upper link, {end} end", got, rule, "were upper and lower swapped?"))
    if problems:
        raise InputError(problems)


def _instant(four: Mapping[str, Array]) -> Array:
    """Where both lines meet, in homogeneous coordinates: parallel lines meet too."""
    ends = {name: np.append(point, 1.0) for name, point in four.items()}
    lines = [np.cross(ends[f"{link}_inner"], ends[f"{link}_outer"]) for link in ("lower", "upper")]
    return np.asarray(np.cross(lines[0], lines[1]))


def _height(four: Mapping[str, Array], half: float, rise: float = 0.0) -> float:
    """Height above the road at which the line from the tyre's foot to the instant centre crosses the middle.

    In the body's axes the road lies at ``−rise``, and the foot with it.
    """
    y, z, w = _instant(four)
    foot = four["foot"] if "foot" in four else np.array([half, 0.0])
    across = w * foot[0] - y
    with np.errstate(divide="ignore", invalid="ignore"):
        return float((z - w * foot[1]) * foot[0] / across + foot[1] + rise)


def _raised(four: Mapping[str, Array], half: float, rise: float) -> dict[str, Array]:
    """The links in the body's axes once the body has risen: the hub turns about the instant centre, its foot down."""
    y, z, w = _instant(four)
    turn = -rise / (w * half - y)  # w times the turn, so that parallel links slide straight down their normal
    out = dict(four)
    for name in ("lower_outer", "upper_outer"):
        at = four[name]
        out[name] = at + turn * np.array([-(w * at[1] - z), w * at[0] - y])
    out["foot"] = np.array([half, 0.0]) + turn * np.array([z, w * half - y])
    return out


def links(bench: Reckoning, end: str) -> tuple[dict[str, Measured], list[tuple[str, str]], tuple[str, ...]]:
    """Return roll centre and its movement at the reference height from an axle's four points, once all are read.

    Parameters:
        bench: the readings so far [-]
        end: "front" or "rear" [-]

    Returns:
        numbers by path, lines to show, and labels of what is still to be read [any]

    Errors:
        as ``roll_centre``.
    """
    keys = [f"curves.{end}_{name}_{way}" for name in LINK_POINTS for way in ("out", "up")]
    if not all(key in bench.typed for key in keys):
        return {}, [], bench.lacking(keys)
    points = {name: [bench.typed[f"curves.{end}_{name}_{way}"] for way in ("out", "up")] for name in LINK_POINTS}
    found = roll_centre(points, bench.track(end) / 2)
    rise = bench.known(f"setup.{end}.height") - bench.known(f"{end}.reference_height")
    at = Measured(
        found.height.value - found.slope.value * rise, float(np.hypot(found.height.sigma, found.slope.sigma * rise))
    )
    lines = [
        (f"{end} roll centre above the road, as it stands", found.height.words("mm", 0)),
        (f"{end} roll centre rises with the body by", found.slope.words("number", 1)),
    ]
    return {f"{end}.roll_centre": at, f"{end}.roll_centre_slope": found.slope}, lines, ()


def with_links(bench: Reckoning, found: Outcome) -> Outcome:
    """Add what the links say to the outcome of the step of the curves.

    Parameters:
        bench: the readings so far [-]
        found: the step's outcome without them [-]

    Returns:
        an ``Outcome`` [-]

    Errors:
        as ``roll_centre``, the axle's name before each field.
    """
    numbers, lines, waiting = dict(found.numbers), list(found.lines), list(found.waiting)
    for end in ENDS:
        try:
            more, told, rest = links(bench, end)
        except InputError as fault:
            raise InputError(Problem(f"{end} {p.field}", p.value, p.rule, p.remedy) for p in fault.problems) from None
        numbers |= more
        lines += told
        waiting += rest
    return replace(found, numbers=numbers, lines=tuple(lines), waiting=tuple(waiting))
