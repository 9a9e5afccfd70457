"""An invented session with a scare in it: a spin and two slides caught, driven by the motion model, logged by a phone.

The laps between are the point mass of ``clubday`` on its course, with the sideslip that the car's steady corners have.
In a slide the motion model drives; past the angle at which that stops a spinning car is a block that slides to a stop.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..units import Array, G, from_si
from .clubday import POWER, profile
from .logfile import Log
from .phone import Phone, written_down
from .slid_drive import Slide, Track, as_drawn
from .slide_runs import SlideRun, collection

SAYS = "an invented session on an invented course, with invented slides: no such car, driver or day exists"
LEVEL = 0.76 * G
"""Lateral acceleration of the ordinary laps [m/s²]."""


@dataclass(frozen=True)
class ScareDay:
    """One invented session: what happened, and what a log of it would hold."""

    seed: int
    log: Log
    slides: tuple[Slide, ...]
    laps: Array  # lap times of the whole laps [s]
    phone: Phone
    truth: dict[str, Array]  # speed, path rate, yaw rate, slide beyond the corner's own, at the log's rows
    says: str = SAYS

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
        row = ",".join(f"{{:{how}}}" for _, how in shown.values())
        plain = [np.where(np.isfinite(column), column, np.nan).tolist() for column, _ in shown.values()]
        rows = "\n".join([row.format(*cells) for cells in zip(*plain, strict=True)])
        head = [f"# {self.says}", f"# seed {self.seed}", ",".join(shown)]
        return "\n".join([*head, rows.replace("nan", "")]) + "\n"  # not known: left empty


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
    runs, *steady = collection(wide)
    choose = lambda: _chosen(rng, runs, kinds, laps, at_least)  # noqa: E731
    return drive_session(rng, seed, laps, choose, steady, LEVEL, phone or Phone(), rate, three_axes, positions)


def drive_session(
    rng: np.random.Generator,
    seed: int,
    laps: int,
    choose: Callable[[], list[tuple[int, SlideRun]]],
    steady: list[Array],
    level: float,
    phone: Phone,
    rate: float,
    three_axes: bool = True,
    positions: bool = True,
    says: str = SAYS,
) -> ScareDay:
    """Drive laps on the invented course with slides put in, and write down what a phone would.

    Parameters:
        rng: where chance comes from [-]
        seed: what it was begun with, for the log's head [-]
        laps: whole laps [-]
        choose: asked once the laps are laid out: for each slide the lap, counted from 1, and the run, in order [-]
        steady: lateral accelerations and the rear's slip angle at each [m/s²], [rad]
        level: lateral acceleration of the ordinary laps [m/s²]
        phone: how the logger gets it wrong [-]
        rate: rows a second [1/s]
        three_axes: as of ``make_scare`` [-]
        positions: as of ``make_scare`` [-]
        says: what is said of the session in its log [-]

    Returns:
        a ``ScareDay`` [-]
    """
    line = as_drawn()
    distance, curvature = line[:2]
    step, size = float(distance[1]), len(distance)
    lead = round(150 / step)
    station = np.arange(-size - lead, laps * size + size // 3)
    place = station % size
    piece = np.cumsum(np.concatenate(([0], np.diff(np.abs(curvature) > 1e-3))))
    wander = 1 + 0.02 * rng.standard_normal((laps + 2, int(piece[-1]) + 1))
    used = level * wander[np.clip(station // size, -1, laps) + 1, piece[place]]
    speed = profile(used, np.full(len(station), POWER), np.full(len(station), 200.0), curvature[place], step)
    station, place = station[size:], place[size:]
    chosen = choose()
    track = Track(np.asarray(station * step, dtype=np.float64), speed[size:], curvature[place], steady, rng)
    slides = [s for lap, run in chosen if (s := track.drive_into(lap, run, size * step, curvature, step)) is not None]
    motion = track.finish()
    log = written_down(rng, phone, motion, line, rate, three_axes, positions)
    begins = np.interp(np.arange(laps + 1) * size * step, motion["way"], motion["time"])
    clock = log.time
    truth = {name: np.interp(clock, motion["time"], motion[name]) for name in ("speed", "path", "yaw", "slide")}
    return ScareDay(seed, log, tuple(slides), np.diff(begins), phone, truth, says)


def _chosen(
    rng: np.random.Generator, runs: Sequence[SlideRun], kinds: Sequence[str], laps: int, at_least: float
) -> list[tuple[int, SlideRun]]:
    """Choose a run for each slide, in laps of their own."""
    on = sorted(rng.choice(np.arange(1, laps + 1), size=min(len(kinds), laps), replace=False))
    out = []
    for lap, kind in zip(on, rng.permutation(np.array(kinds)), strict=False):
        fit = [r for r in runs if r.kind == kind and r.peak >= at_least] or [r for r in runs if r.kind == kind]
        out.append((int(lap), fit[int(rng.integers(len(fit)))]))
    return out
