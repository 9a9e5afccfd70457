"""Pictures of gears and power: engine curve, engine speed in the gears, push of the driven wheels and resistance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..lessons.gears import RPM, CornerGear, Drivetrain, Shifts, Thrust, TopSpeed
from ..units import Array, from_si
from .live import LivePicture
from .style import FONT, fill, line, point, tidy

MOST_GEARS = 8
"""Most gears that are drawn."""
SPEEDS = np.linspace(1.0, 90.0, 357)
"""Road speeds at which the push is drawn [m/s]."""
HIGHEST = {"engine": 10000.0, "torque": 600.0, "power": 400.0, "speed": 320.0, "push": 14.0}
"""Ends of the scales [rev/min], [N·m], [kW], [km/h], [kN]."""
ALT = (
    "Engine torque and power over engine speed; engine speed in each gear over road speed; push of the driven wheels "
    "in each gear against resistance, with shift points, top speed, the chosen corner and what the tyres can pass on."
)


@dataclass(frozen=True)
class Geared:
    """What is drawn."""

    train: Drivetrain
    push: Thrust  # at SPEEDS
    held: Array  # resistance at SPEEDS [N]
    shifts: Shifts
    top: TopSpeed
    speed: float  # in the corner [m/s]
    best: CornerGear  # there
    grip: float  # most that the driven tyres can pass on in a straight line [N]
    left: float  # what is left of it in the corner [N]


class GearPicture:
    """Three charts whose lines move."""

    def __init__(self) -> None:
        """Draw the charts' fixed parts."""
        self.picture = LivePicture(660, 450, ALT)
        grid = self.picture.figure.add_gridspec(2, 2, width_ratios=[2, 2.7])
        new, moving = self.picture.figure.add_subplot, self.picture.moving
        engine, sawtooth, push = new(grid[0, 0]), new(grid[1, 0]), new(grid[:, 1])
        tidy(engine, "Engine, full throttle", "engine speed [rev/min]", "torque [N·m]")
        engine.set(xlim=(0, HIGHEST["engine"]), ylim=(0, HIGHEST["torque"]))
        self.torque = moving(engine.plot([], [], **line("front"), marker="o", markersize=5, label="torque")[0])
        right = engine.twinx()
        right.set(ylim=(0, HIGHEST["power"]))
        right.set_ylabel("power [kW]", fontsize=FONT["label"])
        right.tick_params(labelsize=FONT["tick"])
        self.power = moving(right.plot([], [], **line("rear"), label="power")[0])
        both = [self.torque, self.power]
        engine.legend(handles=both, loc="upper left", fontsize=FONT["note"], frameon=False, ncols=2, borderpad=0)
        tidy(sawtooth, "Speed in the gears", "road speed [km/h]", "[rev/min]")
        sawtooth.set(xlim=(0, HIGHEST["speed"]), ylim=(0, HIGHEST["engine"]))
        self.fans = moving(sawtooth.plot([], [], **line("reference", linewidth=1.0))[0])
        self.used = moving(sawtooth.plot([], [], **line("now"))[0])
        tidy(push, "Push at the wheels and resistance", "road speed [km/h]", "[kN]")
        push.set(xlim=(0, HIGHEST["speed"]), ylim=(0, HIGHEST["push"]))
        self.gears = moving(push.plot([], [], **line("front"), label="push in each gear")[0])
        self.resistance = moving(push.plot([], [], **line("rear"), label="resistance, level road")[0])
        self.grip = moving(push.plot([], [], **line("outer"), label="what the tyres can pass on, straight ahead")[0])
        self.corner = moving(push.plot([], [], **line("now", linewidth=1.5), label="the corner's speed")[0])
        self.here = moving(push.plot([], [], **point("now", markersize=12), label="hardest push there")[0])
        self.left = moving(push.plot([], [], **point("outer", marker="_", markersize=22, markeredgewidth=3))[0])
        self.left.set(label="what the tyres have left there", markeredgecolor=line("outer")["color"])
        self.shifts = moving(push.plot([], [], **point("toward_oversteer"), label="change up")[0])
        self.top = moving(push.plot([], [], **point("rear", marker="D"), label="top speed")[0])
        push.legend(loc="upper right", fontsize=FONT["note"], frameon=False)
        box = fill("muted", facecolor="white", hatch="", edgecolor="none") | {"pad": 1.0}
        self.numbers = [
            moving(push.text(0, 0, str(i + 1), fontsize=FONT["note"], ha="center", va="bottom", bbox=box))
            for i in range(MOST_GEARS)
        ]

    def draw(self, now: Geared) -> None:
        """Move the lines.

        Parameters:
            now: what is to be drawn [-]
        """
        train, kmh = now.train, from_si(SPEEDS, "kmh")
        keep = train.engine_speed <= train.top_engine_speed
        rev = np.append(train.engine_speed[keep], train.top_engine_speed)
        fine = np.linspace(rev[0], rev[-1], 60)
        self.torque.set_data(rev / RPM, train.torque_at(rev))
        self.power.set_data(fine / RPM, train.torque_at(fine) * fine / 1e3)
        force = np.where(now.push.usable, now.push.force, np.nan)
        gap = np.full((len(train.ratios), 1), np.nan)
        self.gears.set_data(np.tile(np.append(kmh, np.nan), len(train.ratios)), np.hstack([force, gap]).ravel() / 1e3)
        ends = from_si(np.array([rev[0], rev[-1]]) / train.gearing[:, None], "kmh")
        fans = np.hstack([ends, gap]).ravel()
        self.fans.set_data(fans, np.tile([rev[0] / RPM, rev[-1] / RPM, np.nan], len(train.ratios)))
        change = np.repeat(now.shifts.speed, 2)
        through = np.concatenate(([rev[0] / train.gearing[0]], change, [rev[-1] / train.gearing[-1]]))
        turning = through * np.repeat(train.gearing, 2)
        self.used.set_data(from_si(through, "kmh"), turning / RPM)
        for i, text in enumerate(self.numbers):
            text.set_visible(i < len(train.ratios))
            if i < len(train.ratios):
                peak = int(np.argmax(now.push.force[i]))
                text.set_position((kmh[peak], min(now.push.force[i, peak] / 1e3, 0.94 * HIGHEST["push"])))
        self.resistance.set_data(kmh, now.held / 1e3)
        self.grip.set_data([0, HIGHEST["speed"]], [now.grip / 1e3] * 2)
        at = from_si(now.speed, "kmh")
        self.corner.set_data([at, at], [0, HIGHEST["push"]])
        self.here.set_data([at], [float(now.best.force) / 1e3])
        self.left.set_data([at], [now.left / 1e3])
        upper = np.array([np.interp(v, SPEEDS, f) for v, f in zip(now.shifts.speed, now.push.force[1:], strict=True)])
        self.shifts.set_data(from_si(now.shifts.speed, "kmh"), upper / 1e3)
        fastest = [float(now.top.speed)]
        self.top.set_data(from_si(np.array(fastest), "kmh"), np.interp(fastest, SPEEDS, now.held) / 1e3)
