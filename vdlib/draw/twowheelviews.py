"""Pictures of the two-wheel car: slip angles, the steady circle read three ways, poles, a nudge, answer to steering."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..lessons.bicycle import Motion, TwoWheel
from ..units import Array, G, from_si, to_si
from .live import LivePicture
from .style import FONT, line, point, tidy

FASTEST = to_si(250.0, "kmh")
"""End of the speed scale [m/s]."""
MOST_LATERAL = 0.4 * G
"""Lateral acceleration up to which the straight-line tyre is good [m/s²]."""


class SlipLines:
    """Slip angle of both axles against lateral acceleration: two straight lines, their gap the understeer angle."""

    def __init__(self, picture: LivePicture, axes: Any) -> None:
        """Take the axes."""
        tidy(axes, "Slip angle each axle needs", "lateral acceleration [g]", "slip angle [deg]")
        axes.set(xlim=(0, 0.45), ylim=(0, 4))
        self.lines = [picture.moving(axes.plot([], [], **line(r), label=f"{r} axle")[0]) for r in ("front", "rear")]
        self.points = [picture.moving(axes.plot([], [], **point(r))[0]) for r in ("front", "rear")]
        self.gap = picture.moving(axes.plot([], [], **line("now", linewidth=4), label="understeer angle")[0])
        axes.legend(loc="upper left", fontsize=FONT["note"], frameon=False)

    def update(self, lateral: float, slip: Any) -> None:
        """Move the lines.

        Parameters:
            lateral: lateral acceleration of the points [m/s²]
            slip: slip angles front and rear there [rad]
        """
        at, angles = lateral / G, from_si(np.asarray(slip, dtype=float), "deg")
        for axle in (0, 1):
            self.lines[axle].set_data([0, at], [0, angles[axle]])
            self.points[axle].set_data([at], [angles[axle]])
        self.gap.set_data([at, at], angles)


@dataclass(frozen=True)
class Reading:
    """One way to drive the steady circle: readings, their straight line, and the understeer gradient it gives."""

    lateral: Array  # [m/s²]
    read: Array  # steer angle [rad], or curvature [1/m]
    gradient: float  # [rad/(m/s²)]


class CircleReadings:
    """Three charts side by side: constant radius, constant speed, constant steer."""

    def __init__(self, picture: LivePicture, axes: Any) -> None:
        """Take three axes."""
        names = ("Same circle", "Same speed", "Same steering")
        units = ("steer angle [deg]", "steer angle [deg]", "1/R of the path [1/km]")
        self.dots, self.lines = [], []
        for one, name, unit, top in zip(axes, names, units, (10, 10, 80), strict=True):
            tidy(one, name, "lateral acceleration [g]", unit)
            one.set(xlim=(0, 0.45), ylim=(0, top))
            self.lines.append(picture.moving(one.plot([], [], **line("reference"))[0]))
            self.dots.append(picture.moving(one.plot([], [], **point("front"))[0]))

    def update(self, readings: Any) -> None:
        """Move the readings.

        Parameters:
            readings: three ``Reading``, in the charts' order [-]
        """
        for i, reading in enumerate(readings):
            x = reading.lateral / G
            y = 1e3 * reading.read if i == 2 else from_si(reading.read, "deg")
            self.dots[i].set_data(x, y)
            self.lines[i].set_data(x, y)


@dataclass(frozen=True)
class SteerAnswer:
    """How the two-wheel car answers at one speed: poles, a nudge's course, and the yaw-rate gain over speed."""

    car: TwoWheel
    speed: float  # [m/s]
    gradient: float  # [rad/(m/s²)]
    poles: Array  # (2,) complex [1/s]
    motion: Motion
    time: Array  # [s]
    sideslip: Array  # after a nudge of 1 degree [rad]
    speeds: Array  # [m/s]
    gain: Array  # yaw-rate gain at those, NaN where no steady turn lasts [1/s]
    neutral: Array  # of a neutral car [1/s]
    mark: float  # characteristic or critical speed, infinite for none [m/s]


class AnswerCharts:
    """Three charts side by side: the poles, the course of a nudge, yaw rate over steer angle at each speed."""

    def __init__(self, picture: LivePicture, axes: Any) -> None:
        """Take three axes."""
        left, middle, right = axes
        tidy(left, "Poles", "grows each second [1/s]", "swings [rad/s]").set(xlim=(-30, 10), ylim=(-12, 12))
        left.axvspan(0, 10, facecolor="#FBE3D6", hatch="//", edgecolor="#E7B58F", linewidth=0)
        left.axvline(0, color="black", linewidth=1.2)
        left.text(-29, 10.6, "dies out", fontsize=FONT["note"])
        left.text(9.5, 10.6, "grows", fontsize=FONT["note"], ha="right")
        tidy(middle, "After a nudge of 1 deg", "time [s]", "sideslip [deg]").set(xlim=(0, 2), ylim=(-1, 4))
        middle.axhline(0, color="black", linewidth=1)
        tidy(right, "Answer to steering", "speed [km/h]", "yaw rate per steer angle [1/s]")
        right.set(xlim=(0, from_si(FASTEST, "kmh")), ylim=(0, 30))
        self.poles = picture.moving(left.plot([], [], **point("now", marker="X", markersize=12))[0])
        self.course = picture.moving(middle.plot([], [], **line("now"))[0])
        self.gain = picture.moving(right.plot([], [], **line("now"), label="this car")[0])
        self.neutral = picture.moving(right.plot([], [], **line("reference"), label="a neutral car")[0])
        self.mark = picture.moving(right.plot([], [], **line("rear"), label="characteristic or critical speed")[0])
        self.now = picture.moving(right.plot([], [], **point("now"))[0])
        look: dict[str, Any] = {"fontsize": FONT["note"], "frameon": False, "ncols": 3}
        picture.figure.legend(handles=[self.gain, self.neutral, self.mark], loc="outside lower right", **look)

    def update(self, answer: SteerAnswer) -> None:
        """Move the charts.

        Parameters:
            answer: what the two-wheel car does [-]
        """
        self.poles.set_data(answer.poles.real, answer.poles.imag)
        self.course.set_data(answer.time, from_si(answer.sideslip, "deg"))
        kmh = from_si(answer.speeds, "kmh")
        self.gain.set_data(kmh, answer.gain)
        self.neutral.set_data(kmh, answer.neutral)
        mark = [from_si(answer.mark, "kmh")] * 2 if np.isfinite(answer.mark) else []
        self.mark.set_data(mark, [0, 30] if mark else [])
        at = np.interp(answer.speed, answer.speeds, answer.gain)
        self.now.set_data([from_si(answer.speed, "kmh")], [at])
