"""How fast a car turns against its path, ``r − a_y/V``; all that is unknown about the logger is read off the log.

The path's rate of turning is a weighted sum of the logged accelerations over speed; the weights make it agree with the
turning of the positions, or without positions with the yaw rate itself. Each logged rate of turning is then
``ω_k = o_k + c_k·(p + K·p′)`` in ordinary driving, added up from straight to straight so that the swing into and out
of a corner cancels: offset o, axis and scale c, and the lead K of yaw over path less the delay of the sensor. What is
left over is the rate of slide: ``β' = a_y/V − r``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ..checks import InputError, Problem
from ..shown import says
from ..units import Array, Flags, brief
from .doubts import clear, contradiction, too_much, turned_over_pushed
from .even import Even
from .logfile import Log
from .mounting import WINDOW, Fit, Mounting, smooth

STEP = 0.04
"""Time between the moments at which everything is looked at; longer where the log has fewer rows [s]."""
FORGETS = 2.0
"""Time in which the angle of slide, added up from its rate, is forgotten [s]."""
FEWEST = 5.0
"""Fewest rows a second in which a slide can be seen [1/s]; our choice."""
TOGETHER = ("speed", "yaw_rate", "lateral")
LEAST_SPEED = 8.0
"""Below this speed the path's rate of turning is not taken from accelerations [m/s]."""


@dataclass(frozen=True)
class Turning:
    """The drive at even moments, in the car's own axes: left and forward are positive; NaN where not known."""

    time: Array  # [s]
    speed: Array  # [m/s]
    lateral: Array  # across the path [m/s²]
    along: Array  # along the path [m/s²]
    path: Array  # rate of turning of the path [rad/s]
    x: Array | None  # [m]
    y: Array | None
    good: Flags  # False in gaps and at walking pace
    yaw: Array | None = None  # rate of turning of the car [rad/s]
    rate: Array | None = None  # yaw − path, less what ordinary driving has of it [rad/s]
    angle: Array | None = None  # rate added up and slowly forgotten; positive: turned further left than the path [rad]
    steer: Array | None = None  # degrees [-]
    mounting: Mounting | None = None
    notes: tuple[str, ...] = field(default=())
    doubts: tuple[str, ...] = ()  # columns that contradict each other, in words

    @property
    def step(self) -> float:
        """Time between two moments [s]."""
        return float(self.time[1] - self.time[0])


def turning(log: Log) -> Turning:
    """Work out how the car turned against its path.

    Parameters:
        log: speed and lateral acceleration at least; yaw rate, positions, longitudinal acceleration where present [-]

    Returns:
        a ``Turning``; without yaw rate its ``rate`` and ``angle`` are None [-]

    Errors:
        ``InputError`` without lateral acceleration, with too few rows a second, or less than 20 s of driving.

    Validity: level ground; a slide is told from ordinary driving because most of the log is ordinary. Lateral
    acceleration is taken across the body: at a slide of 20° that is 6 % off.
    """
    where = "" if log.path is None else log.path.name
    if log.lateral is None:
        rule = "must be in the log: a slide is yaw rate held against it, so neither stands in for the other"
        remedy = (
            "choose its column under Which column is what, or have the logger write time, speed, lateral g, yaw rate"
        )
        raise InputError([Problem("lateral acceleration", "", rule, remedy)], where)
    even = Even(log, STEP)
    if even.step > 1.05 / FEWEST:
        got = f"one every {brief(even.step, 2)} s"
        remedy = "have the logger write 10 rows a second or more, the time with fractions of a second"
        rule = f"must come {FEWEST:.0f} times a second at least to show a slide"
        raise InputError([Problem("rows with a time of their own", got, rule, remedy)], where)
    speed = even(log.speed)
    good = even.inside & (speed > LEAST_SPEED)
    if good.sum() * even.step < 20:
        what, got = f"driving faster than {says(LEAST_SPEED, 'kmh', 0)}", f"{good.sum() * even.step:.0f} s"
        remedy = "choose a longer log, or check the unit of the speed"
        raise InputError([Problem(what, got, "must last 20 s at least", remedy)], where)
    slope = np.gradient(smooth(speed, even.step, 0.3), even.step)
    side = even(log.lateral)
    long = even(log.longitudinal) if log.longitudinal is not None else None
    x, y = (None if c is None else even(c) for c in (log.x, log.y))
    rates = [r for r in (log.turn_x, log.turn_y, log.yaw_rate) if r is not None and np.isfinite(r).mean() > 0.5]
    notes: list[str] = []
    omega = np.stack([even(r) for r in rates]) if log.yaw_rate is not None and rates else None
    seen = None if x is None or y is None else _path_by_positions(x, y, even.step)
    forward = slope if long is None else long
    v = np.maximum(speed, LEAST_SPEED)
    z = np.stack([side / v, forward / v, 1 / v])
    z = np.where(np.isfinite(z), z, 0.0)
    good &= np.isfinite(side) & np.isfinite(forward)
    if seen is not None and (np.isfinite(seen) & good).mean() < 0.2 * good.mean():
        seen = None
    if seen is not None:
        late = _late(z, seen, good, even.step)
        seen = _earlier(seen, late, even.step)
        x, y = (None if c is None else _earlier(c, late, even.step) for c in (x, y))
        notes.append(f"positions come {late:.2f} s after the accelerations; that is taken out")
    heading = None if x is None or y is None or seen is None else _heading(x, y, even.step)
    fit = Fit(z, heading, omega, good, even.step)
    alpha = fit.alpha(fit.total)
    path = np.where(good, alpha @ z, np.nan)
    along = _along(slope, side, long, good, even.step)
    steer = None if log.steer is None else even(log.steer)
    common = Turning(even.time, speed, path * v, along, path, x, y, good, steer=steer, doubts=log.doubts)
    if seen is not None:
        ratio: float | None = float(np.hypot(*alpha[:2]))
    else:
        ratio = None if omega is None else turned_over_pushed(speed, (side, forward), omega, even.step)
    if ratio is not None and clear(ratio) and not log.doubts:
        which, beside = (("lateral",), "speed and positions") if seen is not None else (TOGETHER, "")
        common = _with(common, doubts=(contradiction(ratio, log.columns, which, beside),))
    if not common.doubts and (said := too_much(log)):
        common = _with(common, doubts=(said,))
    if omega is None or alpha is None:
        notes.append("no yaw rate in the log: slides can only be guessed at from other signs")
        return _with(common, notes=tuple(notes))
    c, k, o = fit.coefficients(fit.total, alpha)
    axis = c / np.linalg.norm(c)
    size = float(np.linalg.norm(c))
    yaw = axis @ (omega - o[:, None]) / size
    moved = alpha @ np.gradient(z, even.step, axis=1)
    lead = float(axis @ k) / size
    rate = np.where(good & np.isfinite(yaw), yaw - path - lead * smooth(moved, even.step, 0.2), np.nan)
    slow = even.inside & ~good & np.isfinite(yaw)
    rate = np.where(slow, yaw, rate)  # hardly a path left: all turning is turning on the spot
    held = np.where(np.isfinite(rate), rate, 0.0)
    keep = np.exp(-np.arange(0.0, 4 * FORGETS, even.step) / FORGETS) * even.step
    angle = np.convolve(held, keep)[: len(held)]
    angle = angle - np.median(angle[good])
    mounting = fit.mounting(alpha)
    if mounting.scale is not None and clear(mounting.scale.value) and not log.doubts:
        said = contradiction(mounting.scale.value, log.columns, ("yaw_rate",), "the turning of the positions")
        common = _with(common, doubts=(*common.doubts, said))
    return _with(common, yaw=yaw, rate=rate, angle=angle, mounting=mounting, notes=tuple(notes))


def _with(one: Turning, **changes: object) -> Turning:
    return Turning(**{**one.__dict__, **changes})


def _kernels(step: float) -> tuple[Array, Array, Array]:
    """Return the slopes, first and second, of a parabola fitted over the window, and the second's smoothing."""
    half = max(2, round(WINDOW / step))
    t = np.arange(-half, half + 1) * step
    fit = np.linalg.pinv(np.stack([np.ones_like(t), t, t * t], axis=1))
    bell = np.square(1 - np.square(np.arange(-half, half + 1) / (half + 1)))
    return fit[1][::-1], 2 * fit[2][::-1], bell / bell.sum()


def _path_by_positions(x: Array, y: Array, step: float) -> Array:
    """Rate of turning of the way through the positions, NaN near unknown ones."""
    first, second, _ = _kernels(step)
    vx, vy = (np.convolve(c, first, "same") for c in (x, y))
    ax, ay = (np.convolve(c, second, "same") for c in (x, y))
    square = vx * vx + vy * vy
    half = len(first) // 2
    out: Array = np.where(square > LEAST_SPEED**2 / 2, (vx * ay - vy * ax) / np.maximum(square, 1.0), np.nan)
    out[:half] = out[-half:] = np.nan
    return out


def _heading(x: Array, y: Array, step: float) -> Array:
    """Direction of the way through the positions, running on past whole turns; NaN near unknown ones [rad]."""
    first = _kernels(step)[0]
    vx, vy = (np.convolve(c, first, "same") for c in (x, y))
    known = np.isfinite(vx) & np.isfinite(vy) & (vx * vx + vy * vy > LEAST_SPEED**2 / 2)
    half = len(first) // 2
    known[:half] = known[-half:] = False
    out = np.full(len(x), np.nan)
    out[known] = np.unwrap(np.arctan2(vy[known], vx[known]))
    return out


def _late(z: Array, seen: Array, good: Flags, step: float) -> float:
    """Find how late the positions come [s]: where the accelerations explain their turning best."""
    *_, bell = _kernels(step)
    even = np.stack([np.convolve(row, bell, "same") for row in z])
    shifts = np.arange(-round(0.4 / step), round(1.0 / step) + 1)
    left = []
    for shift in shifts:
        there = np.roll(seen, -shift)
        use = good & np.isfinite(there)
        a = even[:, use]
        left.append(there[use] - np.linalg.solve(a @ a.T, a @ there[use]) @ a)
    usual = 3 * 1.4826 * min(float(np.median(np.abs(each))) for each in left)
    miss = np.array([float(np.mean(np.minimum(each * each, usual * usual))) for each in left])
    best = int(np.clip(np.argmin(miss), 2, len(shifts) - 3))
    bend = np.polyfit(np.arange(-2, 3), miss[best - 2 : best + 3], 2)
    part = float(np.clip(-bend[1] / (2 * bend[0]), -1, 1)) if bend[0] > 0 else 0.0
    return float(shifts[best] + part) * step


def _earlier(value: Array, late: float, step: float) -> Array:
    """Take a delay out: the value that comes that much later."""
    at = np.arange(len(value)) + late / step
    low = np.clip(np.floor(at).astype(int), 0, len(value) - 2)
    part = np.clip(at - low, 0.0, 1.0)
    out: Array = (1 - part) * value[low] + part * value[low + 1]
    return out


def _along(slope: Array, side: Array, long: Array | None, good: Flags, step: float) -> Array:
    """Acceleration along the path: the logged ones turned so that they agree with the change of speed."""
    if long is None:
        return slope
    rows = np.stack([side, long, np.ones_like(side)])
    use = good & np.isfinite(rows).all(axis=0)
    even = np.stack([smooth(np.where(np.isfinite(r), r, 0.0), step, 0.6) for r in rows])
    want = smooth(slope, step, 0.3)
    a = even[:, use]
    weights = np.linalg.lstsq(a.T, want[use], rcond=None)[0]
    out = np.asarray(weights @ np.where(np.isfinite(rows), rows, 0.0), dtype=np.float64)
    held: Array = np.where(use, out, slope)
    return held
