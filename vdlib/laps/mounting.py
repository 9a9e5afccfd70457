"""How a logger sits in the car and how its yaw rate is off: offset, scale, axis and lead, read off ordinary driving.

What each logged rate of turning adds up to between two straights is held against how far the path turned there; the
interval of a figure comes from leaving out one stretch of the drive after another.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError, Problem
from ..units import Array, Flags, from_si
from .alike import quantile_of_t

WINDOW = 0.6
"""Half the time over which positions are smoothed [s]."""
PIECE = 3.0
"""Length of the pieces that are added up [s]."""
STRAIGHT = 0.03
"""The path turns no faster than this where a piece of the second round begins and ends [rad/s]."""
LONGEST = 30.0
"""Longest such piece [s]."""
STRETCH = 2
"""So many pieces in a row are left out together for the intervals: the end of one is the beginning of the next."""
TOO_WIDE = np.radians(10.0)
"""An interval wider than this either way says nothing [rad], [rad/s] or [-]."""
SMOOTHED = 0.001
"""What smoothing the positions leaves unsure in the scale, our estimate [-]."""
BY_FORCES = np.radians(0.05)
"""What is left unsure in the offset where the path is read off accelerations [rad/s]; measured on written days."""
MOST = 40
"""Most stretches that are left out in turn; of a longer log they are longer."""
AGAIN = 3
"""How often the remaining pieces are weighed anew."""
FEWEST = 10
"""Fewest such stretches from which intervals are given."""
_TUKEY = 4.7


@dataclass(frozen=True)
class Figure:
    """A number read off the log, with its 95 % interval; an infinite end where the log is too short to say."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Mounting:
    """How the logger sits and how its yaw rate is off, as far as the log tells."""

    offset: Figure  # of the rate of turning about the upright axis [rad/s]
    scale: Figure | None  # of the rate of turning; None without positions to hold it against [-]
    lead: float  # by which the turning of the car comes before that of its path, sensor delay taken off [s]
    axis: Array  # the upright axis in the logger's own axes, (1,) or (3,) [-]
    tilt: Figure | None  # angle between the upright axis and the logger's z, up to half a turn [rad]
    turned: Figure  # of the accelerations about the upright axis [rad]
    by_positions: bool
    mirrored: bool  # lateral acceleration logged positive to the right


def smooth(value: Array, step: float, over: float) -> Array:
    """Return the running mean.

    Parameters:
        value: at even moments, (moments,) [any]
        step: time between them [s]
        over: time over which the mean is taken [s]

    Returns:
        the same shape [any]
    """
    half = round(over / step / 2 - 1e-3)  # a step of 0.2 s and one of 0.1999 s are smoothed alike
    if half < 1:
        return value
    padded = np.concatenate((np.repeat(value[:1], half), value, np.repeat(value[-1:], half)))
    return np.convolve(padded, np.full(2 * half + 1, 1 / (2 * half + 1)), "valid")


class Fit:
    """The log in pieces, each added up, from straight to straight: the swing into and out of a corner cancels out.

    Columns: three accelerations over speed, their change over the piece, its length, the turning of the positions in
    it, and the turning logged about each axis.
    """

    def __init__(self, z: Array, heading: Array | None, omega: Array | None, good: Flags, step: float) -> None:
        """Add up even pieces first, then pieces that begin and end where the car goes straight."""
        self.n, self.axes = len(z), 0 if omega is None else len(omega)
        self.seen, self.step = heading is not None, step
        self.even = np.stack([smooth(row, step, 0.2) for row in z])
        self.use = good.copy()
        columns = [*z]
        if heading is not None:
            self.use &= np.isfinite(heading)
        if omega is not None:
            self.use &= np.isfinite(omega).all(axis=0)
            columns += list(np.where(np.isfinite(omega), omega, 0.0))
        rows = np.stack(columns)
        zero = np.zeros((len(rows), 1))
        self.sums = np.concatenate((zero, np.cumsum(0.5 * (rows[:, 1:] + rows[:, :-1]), axis=1)), axis=1) * step
        self.heading = heading
        self.held_lead: Array | None = None
        self._cut(np.arange(0, z.shape[1], max(2, round(PIECE / step))))
        if self.axes:
            alpha = self.alpha(self.total)
            self.held_lead = self.coefficients(self.total, alpha)[1]
            bent = (np.abs(smooth(alpha @ z, step, 0.6)) > STRAIGHT).astype(float)
            around = np.ones(2 * round(WINDOW / step) + 1)  # the heading is a mean over so long
            straight = np.flatnonzero(self.use & (np.convolve(bent, around, "same") < 0.5))
            ends: list[int] = []
            shortest = round(0.5 * PIECE / step)
            for at in straight.tolist():
                if not ends or at - ends[-1] >= shortest:
                    ends.append(at)
            if len(ends) > 3 * FEWEST:
                self._cut(np.array(ends))

    def _cut(self, ends: NDArray[np.int64]) -> None:
        """Add up the pieces between these moments, and weigh each by how ordinary it is."""
        low, high = ends[:-1], ends[1:]
        added = self.sums[:, high] - self.sums[:, low]
        parts = [*added[: self.n], *(self.even[:, high] - self.even[:, low]), (high - low) * self.step]
        if self.heading is not None:
            parts.append(self.heading[high] - self.heading[low])
        parts += list(added[self.n :])
        whole = np.concatenate(([0], np.cumsum(self.use)))
        full = (whole[high + 1] - whole[low] == high - low + 1) & ((high - low) * self.step < LONGEST)
        if full.sum() < 6:
            got, remedy = f"{full.sum()} pieces", "choose a longer log, or one with fewer holes"
            raise InputError([Problem("driving without a hole", got, "must make up six pieces of 3 s", remedy)])
        self.rows, self.place = np.stack(parts)[:, full], np.flatnonzero(full)
        weight = np.ones(self.rows.shape[1])
        for _ in range(6):
            self.total = (self.rows * weight) @ self.rows.T
            weight = self._ordinary(self.rows, self.total)
        self.weight = weight

    def _ordinary(self, rows: Array, total: Array) -> Array:
        """Weigh each piece by how ordinary it is."""
        alpha = self.alpha(total)
        left = []
        if self.seen:
            left.append(np.abs(rows[2 * self.n + 1] - alpha @ rows[: self.n]))
        if self.axes:
            c, k, o = self.coefficients(total, alpha)
            told = np.stack([self._path(rows.T, alpha).T, alpha @ rows[self.n : 2 * self.n]])
            rest = rows[-self.axes :] - c[:, None] * told[0] - k[:, None] * told[1]
            left.append(np.linalg.norm(rest - o[:, None] * rows[2 * self.n], axis=0))
        out = np.ones(rows.shape[1])
        for each in left:
            part = np.minimum(each / (_TUKEY * (1.4826 * float(np.median(each)) + 1e-6)), 1.0)
            out *= np.square(1 - part * part)
        return out

    def _path(self, rows: Array, alpha: Array) -> Array:
        """Turning of the path in each piece: by the positions where there are any."""
        return rows[..., 2 * self.n + 1] if self.seen else np.asarray(rows[..., : self.n] @ alpha)

    def alpha(self, both: Array) -> Array:
        """Return the weights of the accelerations over speed that give the path's rate of turning.

        Parameters:
            both: sums of products of the columns, (..., columns, columns) [any]

        Returns:
            weights, (..., 3) [-]
        """
        n, at = self.n, 2 * self.n + 1
        small = 1e-12 * np.eye(at)
        if self.seen:
            square = both[..., :n, :n] + small[:n, :n]
            return np.asarray(np.linalg.solve(square, both[..., :n, at : at + 1])[..., 0])
        if not self.axes:
            one = np.zeros((*both.shape[:-2], n))
            one[..., 0] = 1.0
            return one
        found = np.linalg.solve(both[..., :at, :at] + small, both[..., :at, -self.axes :])[..., :n, :]
        left, size, _ = np.linalg.svd(found, full_matrices=False)
        alpha = left[..., 0] * size[..., :1]
        return np.asarray(alpha * np.where(alpha[..., :1] < 0, -1.0, 1.0))

    def coefficients(self, both: Array, alpha: Array) -> tuple[Array, Array, Array]:
        """Return scale, lead and offset of each logged rate of turning.

        Parameters:
            both: sums of products of the columns, (..., columns, columns) [any]
            alpha: from ``alpha`` [-]

        Returns:
            scale [-], scale times lead [s] and offset [rad/s], (..., axes) each [any]
        """
        n, shape, width = self.n, alpha.shape[:-1], both.shape[-1] - self.axes
        mix = np.zeros((*shape, 3, width))
        if self.seen:
            mix[..., 0, 2 * n + 1] = 1.0
        else:
            mix[..., 0, :n] = alpha
        mix[..., 1, n : 2 * n], mix[..., 2, 2 * n] = alpha, 1.0
        square = mix @ both[..., :width, :width] @ np.swapaxes(mix, -1, -2)
        right = mix @ both[..., :width, width:]
        if self.held_lead is None:
            found = np.asarray(np.linalg.solve(square + 1e-12 * np.eye(3), right), dtype=np.float64)
            return found[..., 0, :], found[..., 1, :], found[..., 2, :]
        # between two straights hardly anything tells the lead: it is that of the even pieces
        right = right - square[..., :, 1:2] * self.held_lead
        square, right = square[..., ::2, ::2] + 1e-12 * np.eye(2), right[..., ::2, :]
        found = np.asarray(np.linalg.solve(square, right), dtype=np.float64)
        return found[..., 0, :], np.broadcast_to(self.held_lead, found[..., 0, :].shape), found[..., 1, :]

    def mounting(self, alpha: Array) -> Mounting:
        """Read off how the logger sits, with intervals from leaving out one stretch of the drive after another.

        Parameters:
            alpha: from ``alpha``, of all pieces [-]

        Returns:
            a ``Mounting`` [-]
        """
        stretch, which = np.unique(self.place // STRETCH, return_inverse=True)
        which = which // max(1, -(-len(stretch) // MOST))
        many = int(which.max()) + 1
        enough = many >= FEWEST
        best = self._read(alpha, *self.coefficients(self.total, alpha))
        c = self.coefficients(self.total, alpha)[0]
        axis = c / np.linalg.norm(c)
        free = many - 5
        if enough:
            without = np.stack([self._without(which == i) for i in range(many)])
            alphas = self.alpha(without)
            spread = self._read(alphas, *self.coefficients(without, alphas))

        def figure(i: int) -> Figure:
            value = float(best[i])
            if not enough:
                return Figure(value, -np.inf, np.inf)
            around = spread[i] - spread[i].mean()
            sigma = float(np.sqrt((many - 1) / many * np.sum(around * around)))
            more = {0: 0.0 if self.seen else BY_FORCES, 1: SMOOTHED}.get(i, 0.0)
            sigma = float(np.hypot(sigma, more))
            t = quantile_of_t(free)
            if not t * sigma < TOO_WIDE:
                return Figure(value, -np.inf, np.inf)
            return Figure(value, value - t * sigma, value + t * sigma)

        return Mounting(
            offset=figure(0),
            scale=figure(1) if self.seen else None,
            lead=float(best[2]),
            axis=axis,
            tilt=figure(3) if self.axes == 3 else None,
            turned=figure(4),
            by_positions=self.seen,
            mirrored=bool(alpha[0] < 0),
        )

    def _without(self, stretch: Flags) -> Array:
        """Sums of products without some pieces, the others weighed anew: what is ordinary depends on them as well."""
        rows, weight = self.rows[:, ~stretch], self.weight[~stretch]
        for _ in range(AGAIN):
            weight = self._ordinary(rows, (rows * weight) @ rows.T)
        return np.asarray((rows * weight) @ rows.T)

    def _read(self, alpha: Array, c: Array, k: Array, o: Array) -> list[Array]:
        size = np.linalg.norm(c, axis=-1)
        axis = c / size[..., None]
        tilt = np.arccos(np.clip(axis[..., -1], -1, 1))
        turned = np.arctan2(alpha[..., 1], np.abs(alpha[..., 0]))
        return [(axis * o).sum(axis=-1), size, (axis * k).sum(axis=-1) / size, tilt, turned]


def mounting_words(found: Mounting) -> tuple[str, ...]:
    """Describe how the logger sits and how its yaw rate is off, each with its interval.

    Parameters:
        found: the figures [-]

    Returns:
        sentences [-]
    """

    def span(figure: Figure, unit: str, digits: int) -> str:
        value, low, high = (float(from_si(v, unit)) for v in (figure.value, figure.low, figure.high))
        if not np.isfinite(low):
            return f"{value:.{digits}f} (the log is too short to say how sure)"
        return f"{value:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})".replace("-", "−")

    out = [f"Offset of the yaw rate {span(found.offset, 'deg_per_s', 2)} °/s"]
    if found.scale is not None:
        out.append(f"its scale, held against the turning of the positions, {span(found.scale, 'number', 3)}")
    if found.tilt is not None:
        upside = "; the logger lies upside down" if found.tilt.value > np.pi / 2 else ""
        out.append(f"the upright axis is {span(found.tilt, 'deg', 1)}° from the logger's z{upside}")
    elif found.axis[-1] < 0:
        out.append("its sign is opposite to that of the path")
    out.append(f"the accelerations are turned by {span(found.turned, 'deg', 1)}°")
    if found.mirrored:
        out.append("lateral acceleration is logged positive to the right")
    out.append(f"the car turns {found.lead:.2f} s before its path (its own lead, about 0.1 s, less the sensor's delay)")
    if not found.by_positions:
        out.append("without positions left and right are the lateral acceleration's, and the scale is the yaw rate's")
    return tuple(out)
