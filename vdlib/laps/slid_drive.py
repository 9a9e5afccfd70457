"""An invented drive in pieces of time: ordinary laps of a point mass, slides of the motion model, and the way back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..answers.lift import SPUN
from ..units import Array, G
from .clubday import CORNERS, course, course_plane
from .slide_runs import FINE, STARTS, SlideRun

_STOPPING = 0.7 * G
_REJOINS = 0.3 * G


@dataclass(frozen=True)
class Slide:
    """One slide that was put in."""

    kind: str  # spin | catch
    time: float  # when the foot moves [s]
    lap: int  # counted from 1
    corner: int  # number of the corner, counted from 1
    speed: float  # when the foot moves [m/s]
    lateral: float  # likewise [m/s²]
    lift: float  # engine drag over weight; air, rolling and the corner's own drag come on top [-]
    peak: float  # greatest angle of slide, or that at which the model stops [rad]


def as_drawn() -> tuple[Array, Array, Array, Array, Array]:
    """Return the invented course as its positions have it, at even stations.

    Returns:
        distance [m], curvature [1/m], heading [rad], x and y [m]
    """
    x, y = course_plane(*course()[::2])
    way = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    angle = np.unwrap(np.arctan2(np.diff(y), np.diff(x)))
    middle = 0.5 * (way[1:] + way[:-1])
    distance = np.arange(len(x) - 1) * (way[-1] / (len(x) - 1))
    turns = angle[-1] - angle[0] + np.mod(angle[0] - angle[-1] + np.pi, 2 * np.pi) - np.pi
    full = 2 * np.pi * np.round(turns / 2 / np.pi)
    size = way[-1]
    around = np.concatenate((middle - size, middle, middle + size))
    angles = np.concatenate((angle - full, angle, angle + full))
    heading = np.interp(distance, around, angles)
    step = distance[1]
    ahead, behind = (np.interp(distance + d, around, angles) for d in (step, -step))
    return distance, (ahead - behind) / (2 * step), heading, np.interp(distance, way, x), np.interp(distance, way, y)


class Track:
    """The drive in pieces of time: ordinary driving up to a slide, the slide, the way back, and so on."""

    def __init__(self, way: Array, speed: Array, curvature: Array, steady: list[Array], rng: Any) -> None:
        """Begin at the first station."""
        self.way, self.speed, self.curvature, self.steady, self.rng = way, speed, curvature, steady, rng
        self.parts: dict[str, list[Array]] = {
            n: [] for n in ("way", "aside", "speed", "along", "path", "yaw", "sideslip", "slide")
        }
        self.at, self.pace, self.bend = float(way[0]), float(speed[0]), 0.0
        self.back: tuple[float, float, float] | None = None  # aside [m], its rate [m/s], sideslip [rad] after a slide

    def drive_into(self, lap: int, run: SlideRun, length: float, curvature: Array, step: float) -> Slide | None:
        """Drive up to a corner of a lap, and slide there.

        Parameters:
            lap: which lap, counted from 1 [-]
            run: the slide [-]
            length: length of the course [m]
            curvature: of one lap, at each station [1/m]
            step: distance between stations [m]

        Returns:
            the slide put in; None where the car has just slid elsewhere [-]
        """
        bend = 1 / CORNERS[run.corner][0]
        sign = float(np.sign(CORNERS[run.corner][1]))
        bent = np.flatnonzero(np.abs(curvature) > 1e-3)
        inside = np.split(bent, np.flatnonzero(np.diff(bent) > 1) + 1)[run.corner]
        full = inside[np.argmax(np.abs(curvature[inside]) > 0.97 * bend)]
        begin = (lap - 1) * length + float(full) * step + 6.0
        if begin < self.at + 60.0:
            return None
        # the driver comes in at the run's own speed: a little faster than usual from the braking point on
        more = np.clip((self.way - begin + 90.0) / 90.0, 0.0, 1.0) * (self.way <= begin + 6.0)
        usual = float(np.interp(begin, self.way, self.speed))
        self.speed = self.speed * (1 + more * (run.speed0 / usual - 1))
        self._ordinary(begin)
        at = FINE * sum(map(len, self.parts["way"]))
        # mirrored for a right turn
        speed, along, path, yaw, sideslip = run.data.T
        course = np.concatenate(([0.0], np.cumsum(path[:-1] * FINE)))  # heading of the path
        x, y = (np.concatenate(([0.0], np.cumsum(speed[:-1] * f(course[:-1]) * FINE))) for f in (np.cos, np.sin))
        radius = 1 / bend
        turned = np.arctan2(x, radius - y)
        aside = radius - np.hypot(x, y - radius)  # toward the inside
        self._add(begin + radius * turned, sign * aside, speed, along, sign * path, sign * yaw, sign * sideslip,
                  sign * (sideslip - sideslip[0]))  # fmt: skip
        self.at = float(begin + radius * turned[-1])
        rate = float(speed[-1] * np.sin(course[-1] - turned[-1]))
        self.back = sign * float(aside[-1]), sign * rate, sign * float(sideslip[-1])
        last = float(speed[-1])
        if run.kind == "spin":
            last = self._spin(sign * path[-1], sign * yaw[-1], sign * sideslip[-1], last)
        self.pace, self.bend = last, sign * float(path[-1]) if run.kind == "catch" else 0.0
        ahead = self.way >= self.at
        most = np.sqrt(last**2 + 2 * _REJOINS * np.maximum(self.way - self.at, 0.0))
        self.speed = np.where(ahead, np.minimum(self.speed, most), self.speed)
        return Slide(run.kind, at + STARTS, lap, run.corner + 1, run.speed0, run.lateral0, run.lift,
                     min(run.peak, SPUN))  # fmt: skip

    def _spin(self, path: float, yaw: float, sideslip: float, speed: float) -> float:
        """Slide to a stop while the turning dies away, stand, and be turned round."""
        stops = speed / _STOPPING
        t = np.arange(FINE, stops, FINE)
        pace = speed - _STOPPING * t
        bend = path * np.exp(-t / 0.3)
        rate = yaw * (1 - t / stops)
        angle = sideslip + np.cumsum(bend - rate) * FINE
        assert self.back is not None
        aside, drift, _ = self.back
        moved = np.cumsum(pace) * FINE
        off = aside + drift * 0.5 * (1 - np.exp(-t / 0.5))
        self._add(self.at + moved, off, pace, np.full(len(t), -_STOPPING), bend, rate, angle, angle)
        self.at += float(moved[-1])
        stands = np.zeros(int(3.0 / FINE))
        turns = np.linspace(angle[-1], 2 * np.pi * np.round(angle[-1] / 2 / np.pi), int(8.0 / FINE))
        slow = np.full(len(turns), 0.5)
        self._add(self.at + stands, off[-1] + stands, stands, stands, stands, stands, angle[-1] + stands, stands)
        self._add(self.at + np.cumsum(slow) * FINE, np.full(len(turns), off[-1]), slow, 0 * slow, 0 * slow,
                  -np.gradient(turns, FINE), turns, 0 * slow)  # fmt: skip
        self.at += float(slow.sum() * FINE)
        self.back = float(off[-1]), 0.0, 0.0
        return 1.0

    def _ordinary(self, until: float) -> None:
        """Drive as usual from where the car is, led back to the line and to its steady sideslip."""
        way = np.concatenate(([self.at], self.way[(self.way > self.at) & (self.way < until)], [until]))
        speed = np.interp(way, self.way, self.speed)
        speed[0] = self.pace
        clock = np.concatenate(([0.0], np.cumsum(2 * np.diff(way) / (speed[1:] + speed[:-1]))))
        t = np.arange(FINE, clock[-1], FINE)
        here = np.interp(t, clock, way)
        pace = np.interp(here, way, speed)
        aside, drift, angle = self.back or (0.0, 0.0, None)
        part = np.minimum(t / 4.0, 1.0)  # cubic back to the line
        off = (2 * part**3 - 3 * part**2 + 1) * aside + (part**3 - 2 * part**2 + part) * 4.0 * drift
        bend = pace * np.interp(here, self.way, self.curvature)
        if angle is not None:
            bend = bend + np.gradient(np.gradient(off, FINE), FINE) / np.maximum(pace, 3.0)
            bend = bend + (self.bend - bend[0]) * np.exp(-t / 0.2)
        lateral, rear = self.steady
        want = 1.04 * bend / np.maximum(pace, 3.0) - np.sign(bend) * np.interp(np.abs(bend * pace), lateral, rear)
        beta = np.empty_like(want)
        held = want[0] if angle is None else angle
        keep = np.exp(-FINE / 0.15)
        for i, each in enumerate(want.tolist()):
            held = keep * held + (1 - keep) * each
            beta[i] = held
        yaw = bend - np.gradient(beta, FINE)
        self._add(here, off, pace, np.gradient(pace, FINE), bend, yaw, beta, np.zeros_like(t))
        self.at, self.back = until, None

    def _add(self, *columns: Array) -> None:
        for name, column in zip(self.parts, columns, strict=True):
            self.parts[name].append(np.asarray(column, dtype=float))

    def finish(self) -> dict[str, Array]:
        """Drive on to the end, and return the whole drive.

        Returns:
            name → at every ``FINE`` step: time, way, aside, speed, along, path, yaw, sideslip, slide [any]
        """
        self._ordinary(float(self.way[-1]))
        out = {name: np.concatenate(parts) for name, parts in self.parts.items()}
        out["time"] = np.asarray(FINE * np.arange(len(out["way"])), dtype=np.float64)
        return out
