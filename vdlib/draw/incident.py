"""Picture of one moment: five seconds of speed, g's and turning against the path, and the path from above."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.collections import PolyCollection

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
OUTLINE = np.array([[1, 0], [0.6, 1], [-1, 1], [-1, -1], [0.6, -1], [1, 0]]) * np.array(CAR) / 2
"""Corners of that car, its nose along x [m]."""


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
    banner: str = ""  # what stands in the picture where it is of no real drive


class MomentPicture:
    """The picture: axes, titles and legends stand, lines and shapes move, scales go in steps."""

    def __init__(self) -> None:
        """Lay out the axes and all that moves in them."""
        self.picture = LivePicture(660, 430, ALT)
        self.picture.figure.set_layout_engine("none")
        grid = self.picture.figure.add_gridspec(
            3, 2, width_ratios=[3, 2], left=0.085, right=0.98, top=0.93, bottom=0.11, hspace=0.5, wspace=0.2
        )
        new = self.picture.figure.add_subplot
        self.speed, self.forces, self.turning = strips = [new(grid[i, 0]) for i in range(3)]
        tidy(self.speed, "Speed", "", f"[{label_for('kmh')}]")
        tidy(self.forces, "Lateral and longitudinal", "", "[g]")
        tidy(self.turning, "Turning of path and car", "seconds after the car began to leave its path", "[°/s]")
        lane = {"linewidth": 1.8}
        self._logged = [
            self._line(self.speed, line("now", **lane)),
            self._line(self.forces, line("now", **lane), "lateral"),
            self._line(self.forces, line("outer", **lane), "longitudinal"),
            self._line(self.turning, line("front", **lane), "path"),
            self._line(self.turning, line("rear", **lane), "car"),
        ]
        self._again = {
            role: [self._line(axes, line(role, linewidth=1.4)) for axes in strips] for role in ("inner", "reference")
        }
        moving = self.picture.moving
        self._foot = [
            moving(axes.axvspan(0, 1, color="#BBD3E6", alpha=0.4, linewidth=0, zorder=0.1)) for axes in strips
        ]
        self._slide = moving(PolyCollection([], facecolor="#F3C9B0", linewidth=0, zorder=0.2))
        self.turning.add_collection(self._slide)
        for axes in strips:
            moving(axes.axvline(0, color="#333333", linewidth=1, zorder=0.3))
        for axes in (self.speed, self.forces):
            axes.set_xticklabels([])
        for axes in (self.forces, self.turning):
            axes.legend(
                loc="lower right", bbox_to_anchor=(1, 1), fontsize=FONT["note"], ncols=3, frameon=False, borderpad=0,
                columnspacing=0.8, handletextpad=0.3,
            )  # fmt: skip
        self._path = PathView(self.picture, new(grid[:, 1]))
        self.above = self._path.axes
        self.banner = moving(
            self.picture.figure.text(0.998, 0.5, "", ha="right", va="center", rotation=270, fontsize=FONT["note"])
        )

    def _line(self, axes: Any, look: dict[str, Any], name: str = "_") -> Any:
        return self.picture.moving(axes.plot([], [], **look, label=name)[0])

    def draw(self, shown: ShownMoment) -> None:
        """Draw one moment.

        Parameters:
            shown: what is to be drawn [-]
        """
        drive, moment = shown.drive, shown.moment
        part = window(drive, moment)
        t = drive.time[part] - moment.time
        path = np.degrees(drive.path[part])
        yaw = np.full(len(t), np.nan) if drive.yaw is None else np.degrees(drive.yaw[part])
        logged = [
            np.asarray(seen(drive.speed[part], "kmh")),
            from_si(drive.lateral[part], "g"),
            from_si(drive.along[part], "g"),
            path,
            yaw,
        ]
        for one, value in zip(self._logged, logged, strict=True):
            one.set_data(t, value)
        ends = np.isfinite(path) & np.isfinite(yaw)
        around = np.column_stack(
            (np.concatenate((t[ends], t[ends][::-1])), np.concatenate((path[ends], yaw[ends][::-1])))
        )
        self._slide.set_verts([around] if ends.any() else [])
        begin = 0.0 if moment.foot is None else moment.foot.time - moment.time
        for one in self._foot:
            one.set_visible(moment.foot is not None)
            one.set_x(begin)
            one.set_width(0.05 if moment.foot is None else max(moment.foot.took, 0.05))
        held: list[list[Any]] = [logged[:1], logged[1:3], logged[3:]]
        for role, lines in self._again.items():
            again = next((one for one in shown.again if one.role == role), None)
            drawn = [np.empty(0)] * 4 if again is None else _inside(again, begin, (float(t[0]), float(t[-1])))
            for axes_held, one, value in zip(held, lines, drawn[1:], strict=True):
                one.set_data(drawn[0], value)
                axes_held.append(value)
        self._name(tuple(one.name for one in shown.again), tuple(one.role for one in shown.again))
        x = (float(t[0]), float(t[-1])) if t[-1] - t[0] < SHOWN - 0.5 else (-BEFORE, SHOWN - BEFORE)
        below = 0.5 if shown.again else 0.0  # room for the names
        plan = zip((self.speed, self.forces, self.turning), held, (20.0, 0.5, 20.0), (below, 0.0, 0.0), strict=True)
        for axes, values, step, room in plan:
            self.picture.frame(axes, x, _scale(values, step, room))
        self._path.draw(drive, moment, part)
        self.banner.set_text(shown.banner)

    def _name(self, names: tuple[str, ...], roles: tuple[str, ...]) -> None:
        """Write the names of what was driven again, below the curve of speed, which falls."""
        old = self.speed.get_legend()
        if names == (() if old is None else tuple(text.get_text() for text in old.get_texts())):
            return
        if old is not None:
            old.remove()
        for role, lines in self._again.items():
            lines[0].set_label(names[roles.index(role)] if role in roles else "_")
        if names:
            self.speed.legend(loc="lower left", fontsize=FONT["note"], frameon=False, borderpad=0, handletextpad=0.3)
        self.picture.refresh_background()


def _inside(again: Driven, begin: float, ends: tuple[float, float]) -> list[Any]:
    """Time, speed, lateral g and turning of what was driven again, within the seconds shown."""
    at = again.time + begin
    near = (at >= ends[0]) & (at <= ends[1])
    return [
        at[near], seen(again.speed[near], "kmh"), from_si(again.lateral[near], "g"), np.degrees(again.yaw[near])
    ]  # fmt: skip


def _scale(values: list[Any], step: float, room: float = 0.0) -> tuple[float, float]:
    """Return the ends of a scale that holds all values and room below, in steps, so that most moments share one."""
    known = np.concatenate([np.asarray(value, dtype=float).ravel() for value in values])
    known = known[np.isfinite(known)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, step)
    low -= room * (high - low)
    while high - low > 8 * step:
        step *= 2
    return float(np.floor(low / step - 0.1) * step), float(np.ceil(high / step + 0.1) * step)


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


class PathView:
    """The path from above, the way up the picture, with the car every half second."""

    def __init__(self, picture: LivePicture, axes: Any) -> None:
        """Lay out what moves."""
        self.picture, self.axes = picture, tidy(axes, "From above, cars enlarged", "[m]", "")
        self._line = picture.moving(axes.plot([], [], **line("front", linewidth=1.6))[0])
        self._cars = picture.moving(PolyCollection([], edgecolor="black", linewidth=1.0, zorder=1.5))
        axes.add_collection(self._cars)
        self._begin = picture.moving(axes.plot([], [], **point("now", markersize=11))[0])
        place = axes.get_position()
        box = picture.figure.bbox
        self._shape = place.width * box.width / (place.height * box.height)  # metres alike both ways

    def draw(self, drive: Turning, moment: Incident, part: slice) -> None:
        """Draw one moment.

        Parameters:
            drive: the drive [-]
            moment: the moment [-]
            part: which moments [-]
        """
        x, y, path, nose = headings(drive, part)
        middle = int(np.clip(np.searchsorted(drive.time[part], moment.time), 0, len(x) - 1))
        turned = np.pi / 2 - path[middle]
        cos, sin = np.cos(turned), np.sin(turned)
        dx, dy = x - x[middle], y - y[middle]
        x, y, nose = cos * dx - sin * dy, sin * dx + cos * dy, nose + turned
        x, y = x - 0.5 * (x.min() + x.max()), y - 0.5 * (y.min() + y.max())
        at = np.arange(0, len(x), max(1, round(0.5 / drive.step)))
        c, s = np.cos(nose[at]), np.sin(nose[at])
        spin = np.array([[c, s], [-s, c]]).transpose(2, 0, 1)
        self._line.set_data(x, y)
        self._cars.set_verts(list(OUTLINE @ spin + np.stack([x[at], y[at]], axis=1)[:, None]))
        self._cars.set_facecolor(["#F3C9B0" if i >= middle else "#FFFFFF" for i in at])
        self._begin.set_data([x[middle]], [y[middle]])
        need = 0.56 * max(float(np.ptp(x)) / self._shape, float(np.ptp(y)), 20.0)
        reach = float(1.25 ** np.ceil(np.log(need) / np.log(1.25)))
        self.picture.frame(self.axes, (-reach * self._shape, reach * self._shape), (-reach, reach))
