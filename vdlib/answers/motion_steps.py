"""Motions stepped in time by the classical Runge-Kutta rule, the whole of them or only whether the tail comes round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..units import Array, Flags
from .motion import Plan, U, V, picked

_GONE = 0.15  # part of the cases that must have gone before the others are laid out anew


@dataclass(frozen=True)
class March:
    """A batch of motions: states and their derivatives (t, 10, n), time passed in each step, when each was held."""

    states: Array
    rates: Array
    passed: Array  # (t − 1, n) [s]
    held: Array  # infinite if never, (n,) [s]


def march(plan: Plan, steps: int, step: float, bounds: tuple[Any, Any], slowest: float, start: Array) -> March:
    """Step the state by the classical fourth-order Runge-Kutta rule, holding a case still once it spins or stops.

    Parameters:
        plan: the cases [-]
        steps: number of steps [-]
        step: time step [s]
        bounds: sideslip at which a case is held, on either side [rad]
        slowest: speed at which a case is held [m/s]
        start: state at the start, (10, n) [any]

    Returns:
        the ``March`` [-]
    """
    now, goes = start, plan.holds.copy()
    held = np.where(goes, np.inf, 0.0)
    states, rates = np.empty((2, steps + 1, *start.shape))
    passed = np.zeros((steps, start.shape[1]))
    still, i, last = bool(goes.all()), 0, np.zeros_like(start)
    for i in range(steps):
        if not goes.any():
            break
        states[i] = now
        new, rates[i], last = _step_on(plan, now, i * step, step, last)
        turned = np.arctan2(new[V], new[U])
        ends = (turned < bounds[0]) | (turned > bounds[1]) | (new[U] < slowest)
        passed[i] = step
        if not still or ends.any():
            still = False
            ends &= goes
            part = np.where(ends, _part_before(now, new, bounds, slowest), np.where(goes, 1.0, 0.0))
            held = np.where(ends, (i + part) * step, held)
            new = now + part * (new - now)
            passed[i] = part * step
            goes = goes & ~ends
        now = new
    else:
        i = steps
    states[i:] = now
    rates[i:] = plan.slopes(now, i * step, plan.wheels(plan.row(now), i * step))
    return March(states, rates, passed, held)


def spins(plan: Plan, steps: int, step: float, slide: float, slowest: float) -> Flags:
    """Find which cases swing their tail out past an angle beyond their corner's own; those are followed no more.

    Parameters:
        plan: the cases [-]
        steps: number of steps [-]
        step: time step [s]
        slide: the angle [rad]
        slowest: speed below which a case has not [m/s]

    Returns:
        True where the tail does, (n,) [-]
    """
    out, done = np.zeros((2, plan.mass.size), dtype=bool)
    left = np.flatnonzero(plan.holds)
    plan = picked(plan, left) if left.size < out.size else plan
    now, last = plan.start, np.zeros_like(plan.start)
    for i in range(steps):
        if not left.size:
            break
        now, _, last = _step_on(plan, now, i * step, step, last)
        over = plan.turn * (plan.sideslip - np.arctan2(now[V], now[U])) > slide
        out[left[over & ~done[left]]] = True
        done[left[over | (now[U] < slowest)]] = True
        gone = done[left]
        if gone.sum() > _GONE * left.size:
            stays = np.flatnonzero(~gone)
            left, now, last, plan = left[stays], now[:, stays], last[:, stays], picked(plan, stays)
        elif gone.any():
            now = np.where(gone, plan.start, now)  # what becomes of them no longer matters
    return out


def _step_on(plan: Plan, now: Array, time: float, step: float, last: Array) -> tuple[Array, Array, Array]:
    """Return the state one step later, the rates now and about then; the table is read once, in the step's middle."""
    half = 0.5 * step
    wheels = plan.wheels(plan.row(now, plan.carried(now + half * last)), time + half)
    k1 = plan.slopes(now, time, wheels)
    k2 = plan.slopes(now + half * k1, time + half, wheels)
    k3 = plan.slopes(now + half * k2, time + half, wheels)
    k4 = plan.slopes(now + step * k3, time + step, wheels)
    return now + step / 6 * (k1 + 2 * (k2 + k3) + k4), k1, k4


def _part_before(now: Array, new: Array, bounds: tuple[Any, Any], slowest: float) -> Array:
    """Return the part of a step after which a case reaches the angle or the speed at which it is held."""
    before, after = (np.arctan2(s[V], s[U]) for s in (now, new))
    part = np.ones(before.shape)
    limit = np.where(after < bounds[0], bounds[0], bounds[1])
    for old, fresh, edge in ((before, after, limit), (now[U], new[U], slowest)):
        moved = fresh - old
        reached = np.where(moved == 0, 1.0, (edge - old) / np.where(moved == 0, 1.0, moved))
        part = np.where((reached >= 0) & (reached < part), reached, part)
    return part
