"""An invented session with a scare in it: a spin and two slides caught, driven by the motion model, logged by a phone.

The laps between are the point mass of ``clubday`` on its course, with the sideslip that the car's steady corners have.
In a slide the motion model drives; past the angle at which that stops a spinning car is a block that slides to a stop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from ..answers.lift import SPUN, Scenario, simulate
from ..car.examples import load_example
from ..car.records import Moment
from ..trim.trim import trim
from ..units import Array, G, from_si
from .clubday import CORNERS, POWER, course, course_plane, profile
from .logfile import Log
from .phone import Phone, written_down

SAYS = "an invented session on an invented course, with invented slides: no such car, driver or day exists"
CAR = "low-two-seater"
"""The example car that is driven."""
LEVEL = 0.76 * G
"""Lateral acceleration of the ordinary laps [m/s²]."""
FINE = 0.01
"""Time step at which everything is worked out [s]."""
PLACES = (0, 1, 3, 4, 6)
"""Corners of the invented course that are long enough for a slide."""
LEVELS = np.array([0.78, 0.83, 0.88]) * G
LIFTS = np.array([0.05, 0.11, 0.18, 0.26])
"""Engine drag over weight once the foot has come up."""
HANDS = ((0.0, 0.5), (0.6, 0.25), (1.0, 0.25), (1.0, 0.5), (1.4, 0.4))
"""Counter-steer for each angle of slide, and reaction time [s], of the drivers in the collection."""
_LASTS = 4.5
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


@dataclass(frozen=True)
class ScareDay:
    """One invented session: what happened, and what a log of it would hold."""

    seed: int
    log: Log
    slides: tuple[Slide, ...]
    laps: Array  # lap times of the whole laps [s]
    phone: Phone
    truth: dict[str, Array]  # speed, path rate, yaw rate, slide beyond the corner's own, at the log's rows

    def csv(self) -> str:
        """Return the log as text.

        Returns:
            the table with its head [-]
        """
        log = self.log
        shown: dict[str, tuple[Any, str]] = {
            "time [s]": (log.time, ".2f"),
            "speed [km/h]": (from_si(log.speed, "kmh"), ".2f"),
        }
        for name, value, unit in (
            ("lateral [g]", log.lateral, "g"),
            ("longitudinal [g]", log.longitudinal, "g"),
            ("yaw rate [deg/s]" if log.turn_x is None else "gyro z [deg/s]", log.yaw_rate, "deg_per_s"),
            ("gyro x [deg/s]", log.turn_x, "deg_per_s"),
            ("gyro y [deg/s]", log.turn_y, "deg_per_s"),
            ("x [m]", log.x, "m"),
            ("y [m]", log.y, "m"),
        ):
            if value is not None:
                shown[name] = (from_si(value, unit), ".3f")
        cells = [[format(v, how) if np.isfinite(v) else "" for v in column] for column, how in shown.values()]
        head = [f"# {SAYS}", f"# seed {self.seed}", ",".join(shown)]
        return "\n".join([*head, *map(",".join, zip(*cells, strict=True))]) + "\n"


@dataclass(frozen=True)
class _Run:
    """One run of the motion model, from the foot's move on."""

    corner: int
    speed0: float
    lateral0: float
    lift: float
    kind: str
    peak: float
    ends: int  # row at which the driver has it again, or it is spinning
    data: Array  # (rows, 5): speed, acceleration along the path, path rate, yaw rate, slide angle of the path [rad]


@lru_cache(maxsize=2)
def collection(wide: bool = True) -> tuple[tuple[_Run, ...], Array, Array]:
    """Run the motion model over corners, levels, lifts and hands, and keep what slides by more than one degree.

    Parameters:
        wide: all of them, or the few that make an example quickly [-]

    Returns:
        the runs; lateral accelerations; the rear's steady slip angle at each [rad]
    """
    file = load_example(CAR)
    places = PLACES if wide else PLACES[1:4:2]
    levels, lifts = (LEVELS, LIFTS) if wide else (LEVELS[:2], LIFTS[1::2])
    radius = np.array([CORNERS[i][0] for i in places])[:, None, None, None]
    level = levels[:, None, None]
    hands = np.array(HANDS)
    speed = np.sqrt(radius * level)
    what = Scenario(
        speed, level, lifts[:, None], starts=0.3, closing=0.15, counter_steer=hands[:, 0], reaction=hands[:, 1],
        lasts=_LASTS,
    )  # fmt: skip
    run = simulate(file.car, file.setup, what, step=FINE)
    slide, shape = run.slide, run.x.shape[1:]
    runs = []
    for at in np.ndindex(*shape):
        here = (slice(None), *at)
        angle, held = slide[here], float(run.held[at])
        peak = float(np.abs(angle).max())
        if peak < np.radians(1.0) or held <= 0.3:
            continue
        spins = np.isfinite(held)
        top = int(np.abs(angle).argmax())
        restless = np.abs(run.yaw_rate[here] - run.lateral[here] / run.speed[here]) > np.radians(4.0)
        busy = np.flatnonzero(restless | (np.abs(angle) > np.radians(3.0)))
        last = max(int(busy[-1]) + 1 if len(busy) else 0, top + 1)
        if not spins and not top < last < len(angle) - 20:
            continue  # neither caught nor spun within the run
        ends = int(held / FINE) - 1 if spins else last + 20
        data = np.stack(
            [run.speed[here], run.longitudinal[here], run.lateral[here] / run.speed[here], run.yaw_rate[here],
             run.sideslip[here]], axis=1)  # fmt: skip
        runs.append(
            _Run(places[at[0]], float(speed[at[0], at[1], 0, 0]), float(levels[at[1]]), float(lifts[at[2]]),
                 "spin" if spins else "catch", peak, ends, data[: ends + 1])
        )  # fmt: skip
    lateral = np.linspace(0.0, 0.95 * G, 40)
    rear = trim(file.car, file.setup, Moment(25.0, lateral)).slip[1]
    return tuple(runs), lateral, np.asarray(rear)


def make_scare(
    seed: int,
    laps: int = 6,
    kinds: Sequence[str] = ("spin", "catch", "catch"),
    phone: Phone | None = None,
    rate: float = 100.0,
    at_least: float = np.radians(5.0),
    three_axes: bool = True,
    positions: bool = True,
    wide: bool = True,
) -> ScareDay:
    """Drive one invented session.

    Parameters:
        seed: any whole number; the same seed gives the same session [-]
        laps: whole laps [-]
        kinds: "spin" or "catch" for each slide, one a lap at most [-]
        phone: how the logger gets it wrong; None for the usual faults [-]
        rate: rows a second [1/s]
        at_least: smallest peak of a slide that was caught [rad]
        three_axes: whether the log holds the rates of turning about all three axes, or about the phone's z alone [-]
        positions: whether it holds positions [-]
        wide: whether to choose from all slides, which take some seconds to make, or from a few [-]

    Returns:
        a ``ScareDay`` [-]

    Validity: an invention. The laps between the slides have no transients but those of the line driven; after a catch
    the car is led back to the line within four seconds.
    """
    rng = np.random.default_rng(seed)
    phone = phone or Phone()
    runs, *steady = collection(wide)
    line = _as_drawn()
    distance, curvature = line[:2]
    step, size = float(distance[1]), len(distance)
    lead = round(150 / step)
    station = np.arange(-size - lead, laps * size + size // 3)
    place = station % size
    piece = np.cumsum(np.concatenate(([0], np.diff(np.abs(curvature) > 1e-3))))
    wander = 1 + 0.02 * rng.standard_normal((laps + 2, int(piece[-1]) + 1))
    level = LEVEL * wander[np.clip(station // size, -1, laps) + 1, piece[place]]
    speed = profile(level, np.full(len(station), POWER), np.full(len(station), 200.0), curvature[place], step)
    station, place = station[size:], place[size:]
    chosen = _chosen(rng, runs, kinds, laps, at_least)
    track = _Track(np.asarray(station * step, dtype=np.float64), speed[size:], curvature[place], steady, rng)
    slides = [s for lap, run in chosen if (s := track.drive_into(lap, run, size * step, curvature, step)) is not None]
    motion = track.finish()
    log = written_down(rng, phone, motion, line, rate, three_axes, positions)
    begins = np.interp(np.arange(laps + 1) * size * step, motion["way"], motion["time"])
    clock = log.time
    truth = {name: np.interp(clock, motion["time"], motion[name]) for name in ("speed", "path", "yaw", "slide")}
    return ScareDay(seed, log, tuple(slides), np.diff(begins), phone, truth)


def _as_drawn() -> tuple[Array, Array, Array, Array, Array]:
    """Return the invented course as its positions have it: distance, curvature, heading, x and y, at even stations."""
    x, y = course_plane(*course()[::2])
    way = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    angle = np.unwrap(np.arctan2(np.diff(y), np.diff(x)))
    middle = 0.5 * (way[1:] + way[:-1])
    distance = np.arange(len(x) - 1) * (way[-1] / (len(x) - 1))
    turns = angle[-1] - angle[0] + np.mod(angle[0] - angle[-1] + np.pi, 2 * np.pi) - np.pi
    full = 2 * np.pi * np.round(turns / 2 / np.pi)
    size = way[-1]
    around = np.concatenate((middle - size, middle, middle + size))
    heading = np.interp(distance, around, np.concatenate((angle - full, angle, angle + full)))
    step = distance[1]
    ahead, behind = (
        np.interp(distance + d, around, np.concatenate((angle - full, angle, angle + full))) for d in (step, -step)
    )
    return distance, (ahead - behind) / (2 * step), heading, np.interp(distance, way, x), np.interp(distance, way, y)


def _chosen(
    rng: np.random.Generator, runs: Sequence[_Run], kinds: Sequence[str], laps: int, at_least: float
) -> list[tuple[int, _Run]]:
    """Choose a run for each slide, in laps of their own."""
    on = sorted(rng.choice(np.arange(1, laps + 1), size=min(len(kinds), laps), replace=False))
    out = []
    for lap, kind in zip(on, rng.permutation(np.array(kinds)), strict=False):
        fit = [r for r in runs if r.kind == kind and r.peak >= at_least] or [r for r in runs if r.kind == kind]
        out.append((int(lap), fit[int(rng.integers(len(fit)))]))
    return out


class _Track:
    """The drive in pieces of time: ordinary driving up to a slide, the slide, the way back, and so on."""

    def __init__(self, way: Array, speed: Array, curvature: Array, steady: list[Array], rng: Any) -> None:
        """Begin at the first station."""
        self.way, self.speed, self.curvature, self.steady, self.rng = way, speed, curvature, steady, rng
        self.parts: dict[str, list[Array]] = {
            n: [] for n in ("way", "aside", "speed", "along", "path", "yaw", "sideslip", "slide")
        }
        self.at, self.pace, self.bend = float(way[0]), float(speed[0]), 0.0
        self.back: tuple[float, float, float] | None = None  # aside [m], its rate [m/s], sideslip [rad] after a slide

    def drive_into(self, lap: int, run: _Run, length: float, curvature: Array, step: float) -> Slide | None:
        """Drive up to a corner of a lap, and slide there."""
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
        starts = 0.3
        return Slide(run.kind, at + starts, lap, run.corner + 1, run.speed0, run.lateral0, run.lift,
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
        """Drive on to the end, and return the whole drive."""
        self._ordinary(float(self.way[-1]))
        out = {name: np.concatenate(parts) for name, parts in self.parts.items()}
        out["time"] = np.asarray(FINE * np.arange(len(out["way"])), dtype=np.float64)
        return out
