"""Picture of one moment: five seconds of speed, g's and turning against the path, and the path from above."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..laps.incident import SHOWN, Incident
from ..laps.mounting import smooth
from ..laps.slide_rate import Turning
from ..shown import label_for, seen
from ..units import Array, from_si
from .live import LivePicture
from .style import FONT, line, point, tidy

ALT = (
    "Five seconds of one moment: speed; lateral and longitudinal g with the move of the foot marked; how fast the car "
    "turned against how fast its path turned; and the path from above with the car drawn every half second."
)
BEFORE = 1.5
"""Seconds shown before the car began to leave its path."""
CAR = (6.0, 2.6)
"""Length and width of the car drawn on the path, half as large again as a car [m]."""


@dataclass(frozen=True)
class Driven:
    """The same moment driven again in the model, at the moments of its own clock."""

    name: str
    role: str
    time: Array  # seconds after the foot's move [s]
    speed: Array  # [m/s]
    lateral: Array  # [m/s²]
    yaw: Array  # [rad/s]
    slide: Array  # [rad]


@dataclass(frozen=True)
class ShownMoment:
    """What is drawn."""

    drive: Turning
    moment: Incident
    again: tuple[Driven, ...] = ()


class MomentPicture:
    """The picture, drawn anew for every result."""

    def __init__(self) -> None:
        """Lay out the axes."""
        self.picture = LivePicture(660, 430, ALT)
        self.picture.figure.set_layout_engine("none")
        grid = self.picture.figure.add_gridspec(
            3, 2, width_ratios=[3, 2], left=0.085, right=0.98, top=0.93, bottom=0.11, hspace=0.5, wspace=0.2
        )
        new = self.picture.figure.add_subplot
        self.speed, self.forces, self.turning = (new(grid[i, 0]) for i in range(3))
        self.above = new(grid[:, 1])
        self._last: Any = None

    def draw(self, shown: ShownMoment) -> None:
        """Draw one moment.

        Parameters:
            shown: what is to be drawn [-]
        """
        now = (shown.drive, shown.moment, shown.again)
        if self._last is not None and all(a is b for a, b in zip(now, self._last, strict=True)):
            return
        self._last = now
        for axes in (self.speed, self.forces, self.turning, self.above):
            axes.clear()
        part = window(shown.drive, shown.moment)
        self._strips(shown, part)
        draw_path(self.above, shown.drive, shown.moment, part)
        self.picture.refresh_background()

    def _strips(self, shown: ShownMoment, part: slice) -> None:
        drive, moment = shown.drive, shown.moment
        t = drive.time[part] - moment.time
        lane = {"linewidth": 1.8}
        tidy(self.speed, "Speed", "", f"[{label_for('kmh')}]").plot(
            t, seen(drive.speed[part], "kmh"), **line("now", **lane)
        )
        tidy(self.forces, "Lateral and longitudinal", "", "[g]")
        self.forces.plot(t, from_si(drive.lateral[part], "g"), **line("now", **lane), label="lateral")
        self.forces.plot(t, from_si(drive.along[part], "g"), **line("outer", **lane), label="longitudinal")
        tidy(self.turning, "Turning of path and car", "seconds after the car began to leave its path", "[°/s]")
        self.turning.plot(t, np.degrees(drive.path[part]), **line("front", **lane), label="path")
        if drive.yaw is not None:
            yaw = np.degrees(drive.yaw[part])
            self.turning.plot(t, yaw, **line("rear", **lane), label="car")
            self.turning.fill_between(t, np.degrees(drive.path[part]), yaw, color="#F3C9B0", linewidth=0)
        for again in shown.again:
            at = again.time + ((moment.foot.time - moment.time) if moment.foot else 0.0)
            inside = (at >= t[0]) & (at <= t[-1])
            look = line(again.role, linewidth=1.4)
            self.speed.plot(at[inside], seen(again.speed[inside], "kmh"), **look, label=again.name)
            self.forces.plot(at[inside], from_si(again.lateral[inside], "g"), **look)
            self.turning.plot(at[inside], np.degrees(again.yaw[inside]), **look)
        for axes in (self.speed, self.forces, self.turning):
            axes.set_xlim(t[0], t[-1])
            axes.axvline(0, color="#333333", linewidth=1)
            if moment.foot is not None:
                begin = moment.foot.time - moment.time
                axes.axvspan(begin, begin + max(moment.foot.took, 0.05), color="#E6EEF5", zorder=0)
        self.speed.set_xticklabels([])
        self.forces.set_xticklabels([])
        if shown.again:  # two long names: below the curve, which falls, and not beside the title
            self.speed.legend(loc="lower left", fontsize=FONT["note"], frameon=False, borderpad=0, handletextpad=0.3)
        for axes in (self.forces, self.turning):
            axes.legend(
                loc="lower right", bbox_to_anchor=(1, 1), fontsize=FONT["note"], ncols=3, frameon=False, borderpad=0,
                columnspacing=0.8, handletextpad=0.3,
            )  # fmt: skip


def window(drive: Turning, moment: Incident) -> slice:
    """Return which moments of a drive are shown.

    Parameters:
        drive: the drive [-]
        moment: the moment [-]

    Returns:
        a slice of ``SHOWN`` seconds, less at the ends of the log [-]
    """
    first, last = np.searchsorted(drive.time, [moment.time - BEFORE, moment.time - BEFORE + SHOWN])
    return slice(int(first), max(int(last), int(first) + 3))


def headings(drive: Turning, part: slice) -> tuple[Array, Array, Array, Array]:
    """Return where the car was and where its path and its nose pointed, from the turning added up.

    Parameters:
        drive: the drive [-]
        part: which moments [-]

    Returns:
        x and y [m], direction of the path and of the car [rad]; by the positions where the log has them [any]
    """
    step = drive.step
    path = np.cumsum(np.nan_to_num(drive.path[part])) * step
    speed = drive.speed[part]
    if drive.x is not None and drive.y is not None and np.isfinite(drive.x[part]).all():
        x, y = (smooth(np.asarray(c)[part], step, 0.6) for c in (drive.x, drive.y))
        ahead = min(len(x) - 1, max(2, round(0.8 / step)))
        path = path - path[ahead // 2] + np.arctan2(y[ahead] - y[0], x[ahead] - x[0])
    else:
        x, y = np.cumsum(speed * np.cos(path)) * step, np.cumsum(speed * np.sin(path)) * step
    slide = np.zeros(len(path)) if drive.rate is None else np.cumsum(np.nan_to_num(drive.rate[part])) * step
    return x, y, path, path + slide


def draw_path(axes: Any, drive: Turning, moment: Incident, part: slice) -> None:
    """Draw the path from above with the car every half second.

    Parameters:
        axes: the axes [-]
        drive: the drive [-]
        moment: the moment [-]
        part: which moments [-]
    """
    tidy(axes, "From above, cars enlarged", "[m]", "")
    x, y, path, nose = headings(drive, part)
    middle = int(np.clip(np.searchsorted(drive.time[part], moment.time), 0, len(x) - 1))
    cos, sin = np.cos(np.pi / 2 - path[middle]), np.sin(np.pi / 2 - path[middle])  # the way up the picture
    dx, dy = x - x[middle], y - y[middle]
    x, y, nose = cos * dx - sin * dy, sin * dx + cos * dy, nose + np.pi / 2 - path[middle]
    axes.plot(x, y, **line("front", linewidth=1.6))
    every = max(1, round(0.5 / drive.step))
    long, wide = CAR
    corners = np.array([[1, 0], [0.6, 1], [-1, 1], [-1, -1], [0.6, -1], [1, 0]]) * [long / 2, wide / 2]
    for at in range(0, len(x), every):
        c, s = np.cos(nose[at]), np.sin(nose[at])
        shape = corners @ np.array([[c, s], [-s, c]]) + [x[at], y[at]]
        axes.fill(*shape.T, facecolor="#F3C9B0" if at >= middle else "#FFFFFF", edgecolor="black", linewidth=1.0)
    axes.plot([x[middle]], [y[middle]], **point("now", markersize=11))
    place = axes.get_position()
    shape = place.width * axes.figure.bbox.width / (place.height * axes.figure.bbox.height)  # metres alike both ways
    reach = 0.56 * max(float(np.ptp(x)) / shape, float(np.ptp(y)), 20.0)
    cx, cy = 0.5 * float(x.min() + x.max()), 0.5 * float(y.min() + y.max())
    axes.set(xlim=(cx - reach * shape, cx + reach * shape), ylim=(cy - reach, cy + reach))
