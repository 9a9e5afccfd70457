"""What a change of ride heights does at one moment: loads, balance from no cornering to the limit, and the ledger."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..car.keys import ENDS
from ..car.records import Car, Moment, Setup, reference_setup
from ..trim.trim import ROUTES, Trim, trim
from ..units import Array, Flags, G
from .ledger import Ledger, combinations, need_routes, share_out
from .limits import first_above, tipped

POINTS = 73
"""Points of a sweep of lateral acceleration."""


@dataclass(frozen=True)
class Study:
    """One car at two pairs of ride heights; in every pair of results the reference heights come first."""

    attitude: float  # nose-high positive, against the reference heights [m]
    rise: tuple[float, float]  # of front and rear above the reference heights [m]
    moment: Moment
    sweep: Array  # lateral accelerations, from none to past the limit [m/s²]
    at: Trim  # at the moment: load[..., 0] at the reference heights, load[..., 1] as it stands
    angle: Array  # (2, sweep) understeer angle, NaN past the limit [rad]
    limit: Array  # (2 ends, 2) lateral acceleration at which front and rear let go [m/s²]
    ledger: Ledger

    @property
    def usable(self) -> bool:
        """Whether there is a steady corner at this moment at both pairs of heights."""
        return bool(self.at.usable.all())


def study(car: Car, setup: Setup, moment: Moment, routes: Sequence[str] = ROUTES, level: Setup | None = None) -> Study:
    """Compare a setup with the same setup at the reference heights, at one moment and on the way to the limit.

    Parameters:
        car: the car, plain numbers [-]
        setup: the setup as it stands, plain numbers [-]
        moment: the moment, plain numbers [-]
        routes: the routes that act; the others stay at the reference heights [-]
        level: a setup with the heights it is compared with; the car's reference heights if left out [-]

    Returns:
        a ``Study`` [-]

    Errors:
        as ``trim``.

    Validity: as ``trim``; limits are read off the sweep, usually to 0.001 g, to 0.006 g for a car whose ends let go
    nearly together or whose wheel lifts there; infinite where the end still holds at 1.2 times the peak grip.
    """
    need_routes(routes)
    level, routes = _level(car, setup, level), tuple(routes)
    turn = -1.0 if moment.lateral < 0 else 1.0
    rise = float(setup.front.height - level.front.height), float(setup.rear.height - level.rear.height)
    sweep = np.linspace(0.0, 1.2 * G * float(max(car.front.tyre.grip, car.rear.tyre.grip)), POINTS)
    # one call for all of it: both sweeps, then the moment with every combination of the routes
    none = np.zeros(POINTS, bool)
    acting = dict(zip(routes, combinations(len(routes)), strict=True))
    heights = {}
    for route in ROUTES:
        on = np.concatenate([none, ~none if route in routes else none, acting.get(route, [False] * 2 ** len(routes))])
        heights[route] = tuple(
            np.where(on, getattr(getattr(setup, end), key), getattr(getattr(level, end), key))
            for key in ("height", "height_difference")
            for end in ENDS
        )
    both, here = np.tile(sweep, 2), np.full(2 ** len(routes), abs(float(moment.lateral)))
    found = trim(car, level, replace(moment, lateral=turn * np.append(both, here)), heights)
    cut = 2 * POINTS
    use = found.use[:, :cut].reshape(2, 2, POINTS)
    limit = first_above(sweep[:, None, None], np.moveaxis(use, 2, 0), tipped(found)[:cut].reshape(2, POINTS).T[:, None])
    usable: Flags = np.asarray(found.usable, dtype=bool)
    angle = found.understeer_angle
    return Study(
        attitude=rise[0] - rise[1],
        rise=rise,
        moment=moment,
        sweep=sweep,
        at=found.pick(..., [cut, -1]),
        angle=np.where(usable, angle, np.nan)[:cut].reshape(2, POINTS),
        limit=np.where(np.isfinite(limit), limit, np.inf),
        ledger=share_out(routes, angle[cut:], usable[cut:]),
    )


def _level(car: Car, setup: Setup, level: Setup | None) -> Setup:
    """Return the same setup at the heights it is compared with."""
    if level is None:
        return reference_setup(car, setup)
    ends = {
        end: replace(
            getattr(setup, end),
            height=getattr(level, end).height,
            height_difference=getattr(level, end).height_difference,
        )
        for end in ENDS
    }
    return replace(setup, **ends)


def net_change(car: Car, setup: Setup, moment: Moment, level: Setup | None = None) -> Array:
    """Return the change of the understeer angle from the reference heights to a setup's own: ``Δ(α_f − α_r)``.

    Parameters:
        car: the car, any broadcastable shapes [-]
        setup: the setup as it stands [-]
        moment: the moment [-]
        level: a setup with the heights it is compared with; the car's reference heights if left out [-]

    Returns:
        change, understeer positive; NaN where either has no steady corner [rad]

    Errors:
        as ``trim``.

    Validity: as ``trim``.
    """
    now, then = trim(car, setup, moment), trim(car, _level(car, setup, level), moment)
    change: Array = np.where(
        np.logical_and(now.usable, then.usable), now.understeer_angle - then.understeer_angle, np.nan
    )
    return change
