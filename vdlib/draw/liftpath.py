"""The seconds after a lift: two cars from above on their road, and what happens to them in time."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib import get_data_path
from matplotlib.collections import PolyCollection
from matplotlib.patches import Polygon
from PIL import Image, ImageDraw, ImageFont

from ..answers.lift import Road, Run
from ..car.records import Car
from ..checks import InputError, Problem
from ..units import Array, G, from_si
from .frame import scale_for
from .live import LivePicture
from .shapes import NOTHING, turned
from .style import FONT, ROLES, line, start, tidy

LARGER = 2.0
"""The cars are drawn this many times too large, so that they can be seen on the road."""
LOOKS = ("reference", "now")
"""Roles of the two cars: at the reference heights, as it stands."""
WIDE = (3.5, 1.6)
"""Widths of their lines: the first is seen on both sides where they meet."""
SPANS = (40.0, 60.0, 90.0, 130.0, 180.0, 260.0, 400.0, 600.0)
"""Heights of road that the view from above can show [m]."""
RATES = (15.0, 30.0, 45.0, 60.0, 90.0, 150.0, 300.0)
"""Tops of the yaw-rate axis [deg/s]."""
LOADS = (400.0, 600.0, 800.0, 1200.0, 2000.0, 4000.0)
"""Tops of the wheel-load axis [kg]."""
SLIDE = 32.0
EVERY = 0.02  # the curves are drawn through points this far apart [s]
FRAME = 0.05  # time from one picture of an animation to the next [s]


class LiftPath:
    """Two cars seen from above, and yaw rate, slide and the rear wheels' loads in time."""

    def __init__(self, car: Car, labels: tuple[str, str]) -> None:
        """Build the picture; the labels name the two cars, the one at the reference heights first."""
        alt = (
            "Two cars from above on a road of constant radius after the throttle closes, one at the reference heights "
            "and one as it stands; beside them their yaw rate, their slide and the loads of their rear wheels in time."
        )
        self.picture, grid = start(660, 460, alt, 3, 2, width_ratios=[1.05, 1], sharex="col")
        figure = self.picture.figure
        for axes in grid[:, 0]:
            axes.remove()
        self.road = tidy(figure.add_subplot(grid[0, 0].get_gridspec()[:, 0]), "", "across [m]", "ahead [m]")
        self.road.set_title(f"From above (cars drawn {LARGER:g} times larger)", fontsize=FONT["label"], loc="left")
        self.road.set_aspect("equal", adjustable="box", anchor="W")
        keep = self.picture.moving
        looks = [line(look, linewidth=wide) for look, wide in zip(LOOKS, WIDE, strict=True)]
        self.edges = [keep(self.road.plot([], [], color="#333333", linewidth=1.6)[0]) for _ in range(2)]
        self.paths, self.ghosts, self.cars = [], [], []
        for name, label, look in zip(LOOKS, labels, looks, strict=True):
            colour = ROLES[name].colour
            self.paths.append(keep(self.road.plot([], [], **look, label=label)[0]))
            ghosts = PolyCollection([], facecolors="none", edgecolors=colour, linewidths=0.8)
            filled = "white" if name == "reference" else colour
            body = Polygon(NOTHING, facecolor=filled, edgecolor=colour, linewidth=1.6, zorder=6)
            self.road.add_collection(ghosts)
            self.road.add_patch(body)
            self.ghosts.append(keep(ghosts))
            self.cars.append(keep(body))
        self.road.legend(fontsize=FONT["note"], loc="lower left", frameon=True, framealpha=0.9, edgecolor="none")
        names = ("yaw rate [deg/s]", "slide: tail out beyond the corner's own [deg]", "load on the rear wheels [kg]")
        self.charts = [tidy(axes, "", "", "") for axes in grid[:, 1]]
        for axes, name in zip(self.charts, names, strict=True):
            axes.set_title(name, fontsize=FONT["label"], loc="left", pad=3)
        self.charts[-1].set_xlabel("time [s]", fontsize=FONT["label"])
        self.charts[1].set_ylim(-4, SLIDE)
        self.curves = [[keep(axes.plot([], [], **look)[0]) for look in looks] for axes in self.charts[:2]]
        self.curves.append([keep(self.charts[2].plot([], [], **look)[0]) for look in looks for _ in range(2)])
        note = FONT["note"]
        self.names = [keep(self.charts[2].text(0, 0, f" {s}", fontsize=note, va="center")) for s in ("inner", "outer")]
        self.marks = [keep(axes.plot([], [], color="#767676", linewidth=1, zorder=1)[0]) for axes in self.charts]
        self.nows = [keep(axes.plot([], [], color="#D55E00", linewidth=1.8)[0]) for axes in self.charts]
        length, half = 0.5 * (float(np.max(car.wheelbase)) + 1.5), 0.5 * (float(np.max(car.front.track)) + 0.25)
        self.road.set_ylim(-8, 130)
        self.charts[2].set(xlim=(0, 4), ylim=(0, 600))
        figure.draw_without_rendering()  # laid out once, with room for the widest numbers beside the road
        figure.set_layout_engine("none")
        self.outline = LARGER * np.array(
            [[-length, -half], [0.55 * length, -half], [length, 0], [0.55 * length, half], [-length, half]]
        )

    def draw(self, run: Run, road: Road, half_width: float, moments: tuple[float, ...], time: float) -> None:
        """Move everything to one moment of a run of two cars.

        Parameters:
            run: the run, its cases in the order of the labels [-]
            road: the same run on its road [-]
            half_width: half the road's width [m]
            moments: when the foot moves, and the hands if they do [s]
            time: the moment shown [s]
        """
        bend = float(run.start.curvature.ravel()[0])
        self._frame(run, bend)
        for edge, out in zip(self.edges, (-half_width, half_width), strict=True):
            edge.set_data(*_edge(bend, out, float(run.speed[0].max()) * float(run.time[-1]) + 20.0))
        at = int(np.searchsorted(run.time, time + 1e-9, side="right")) - 1
        every = slice(None, None, max(1, round(EVERY / float(run.time[1]))))
        seconds = np.searchsorted(run.time, np.arange(0.0, run.time[-1] + 1e-9, 1.0))
        turn = -1.0 if bend < 0 else 1.0
        rear = run.load[1] if turn > 0 else run.load[1, ::-1]
        for k in range(2):
            alive = np.where(run.time <= run.held[k], 1.0, np.nan)[every]
            path = np.stack([-run.y[:, k], run.x[:, k]], axis=1)
            self.paths[k].set_data(*path[every].T)
            bodies = [turned(self.outline, run.heading[i, k] + np.pi / 2) + path[i] for i in (*seconds, at)]
            self.ghosts[k].set_verts(bodies[:-1])
            self.cars[k].set_xy(bodies[-1])
            shown = (from_si(turn * run.yaw_rate[:, k], "deg_per_s"), from_si(run.slide[:, k], "deg"))
            for curves, values in zip(self.curves[:2], shown, strict=True):
                curves[k].set_data(run.time[every], values[every] * alive)
            for side in range(2):
                self.curves[2][2 * k + side].set_data(run.time[every], rear[side, every, k] / G * alive)
        for side, name in enumerate(self.names):
            name.set_position((0.0, float(rear[side, 0].max()) / G + 28.0 * self.charts[2].get_ylim()[1] / 400.0))
        for axes, mark, now in zip(self.charts, self.marks, self.nows, strict=True):
            low, high = axes.get_ylim()
            mark.set_data([[m] for m in np.repeat(moments, 3)], [low, high, np.nan] * len(moments))
            now.set_data([time, time], [low, high])

    def _frame(self, run: Run, bend: float) -> None:
        """Choose among a few fixed scales; the static parts are drawn anew only where one changes."""
        ahead = scale_for(run.x + 8.0, SPANS)
        side = -np.sign(bend or 1.0)
        across = sorted((-0.2 * side * ahead, 0.75 * side * ahead))
        rate = scale_for(from_si(run.yaw_rate, "deg_per_s"), RATES)
        frame = (
            (tuple(across), (-8.0, ahead)),
            ((0.0, float(run.time[-1])), (-0.1 * rate, rate)),
            ((0.0, float(run.time[-1])), (0.0, scale_for(run.load[1] / G, LOADS))),
        )
        for axes, (x, y) in zip((self.road, self.charts[0], self.charts[2]), frame, strict=True):
            if (tuple(axes.get_xlim()), tuple(axes.get_ylim())) != (x, y):
                axes.set(xlim=x, ylim=y)
                self.picture.refresh_background()  # the road's equal scales move its limits: no background to keep


def _edge(bend: float, outward: float, length: float) -> tuple[Array, Array]:
    """Return a road edge as the picture has it, across to the right and ahead: a circle about the corner's centre."""
    along = np.linspace(-20.0, length, 80)
    if abs(bend) * length < 1e-3:
        return np.full(80, outward), along
    angle, radius = along * abs(bend), 1 / abs(bend)
    right = np.sign(bend) * ((radius + outward) * np.cos(angle) - radius)
    return right, (radius + outward) * np.sin(angle)


def save_animation(
    picture: LivePicture,
    show: Callable[[float], Any],
    lasts: float,
    path: str | Path,
    every: float | None = None,
    caution: str = "",
) -> str:
    """Write a run as an animated picture in real time, and say where it went.

    Parameters:
        picture: the picture [-]
        show: moves the picture to a time [s]
        lasts: time of the last picture [s]
        path: where to write, ending in .gif or .png [-]
        every: time from one picture to the next; ``FRAME`` if left out [s]
        caution: a line written under every picture, for whoever is shown the file alone; none if empty [-]

    Returns:
        a sentence for the user [-]

    Errors:
        ``InputError`` for another ending, or where the file cannot be written.
    """
    path = Path(path).expanduser()
    if path.suffix not in (".gif", ".png"):
        raise InputError([Problem("animated picture", path.name, "must end in .gif or .png", "change the ending")])
    size = (picture.width, picture.height)
    frames: list[Image.Image] = []
    every = every or FRAME
    for time in np.arange(0.0, lasts + 1e-9, every):
        show(float(time))
        shot = _captioned(
            Image.fromarray(np.ascontiguousarray(picture.pixels()[..., :3])).resize(size, Image.Resampling.LANCZOS),
            caution,
        )
        frames.append(shot.convert("P", palette=Image.Palette.ADAPTIVE, colors=64) if path.suffix == ".gif" else shot)
    data = BytesIO()
    kind = {".gif": "GIF", ".png": "PNG"}[path.suffix]
    frames[0].save(data, kind, save_all=True, append_images=frames[1:], duration=round(1000 * every), loop=0)
    try:
        path.write_bytes(data.getvalue())
    except OSError as fault:
        remedy = f"{fault.strerror or fault}; choose another folder"
        raise InputError(
            [Problem("animated picture", str(path), "must be a place that can be written", remedy)]
        ) from None
    return f"Saved as {path.resolve()} ({len(frames)} pictures, {lasts:.1f} s in real time)."


def _captioned(shot: Image.Image, line: str) -> Image.Image:
    """Put a strip with a line of words under a picture."""
    if not line:
        return shot
    font = ImageFont.truetype(str(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"), 12)
    words = textwrap.wrap(line, max(20, int(shot.width / 6.6)))
    high = 16 * len(words) + 8
    made = Image.new("RGB", (shot.width, shot.height + high), "white")
    made.paste(shot, (0, 0))
    ImageDraw.Draw(made).multiline_text((6, shot.height + 3), "\n".join(words), fill="#333333", font=font)
    return made
