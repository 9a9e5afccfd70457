"""What a phone in the car writes down of a drive: turned axes, offsets, noise, late and held positions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Array, G
from .logfile import Log

_ROLL = np.radians(3.0) / G  # roll angle for each m/s²


@dataclass(frozen=True)
class Phone:
    """How a phone in the car gets it wrong; all of it invented, of sizes that are common practice, no source."""

    offset: float = np.radians(1.5)  # of each rate of turning [rad/s]
    turned: float = np.radians(20.0)  # about the upright axis [rad]
    tilted: float = np.radians(25.0)  # about its own x axis after that [rad]
    upside_down: bool = False
    mirrored: bool = False  # lateral acceleration counted positive to the right
    late: float = 0.15  # how long speed and position come after the inertial readings [s]
    held: float = 0.1  # time for which a speed and a position are held [s]
    lost: float = 0.0  # share of the time without positions
    noise: float = 1.0  # of everything, 1 is usual

    def axes(self) -> Array:
        """Return the rotation from the car's axes to the phone's: about the upright axis, then about its own x.

        Returns:
            what turns a vector in the car's axes into the phone's, (3, 3) [-]
        """
        c, s = np.cos(self.turned), np.sin(self.turned)
        flat = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
        angle = self.tilted + (np.pi if self.upside_down else 0.0)
        c, s = np.cos(angle), np.sin(angle)
        out: Array = np.array([[1, 0, 0], [0, c, s], [0, -s, c]]) @ flat
        return out


def written_down(
    rng: np.random.Generator,
    phone: Phone,
    motion: dict[str, Array],
    line: tuple[Array, Array, Array, Array, Array],
    rate: float,
    three_axes: bool,
    positions: bool,
) -> Log:
    """Write down what a phone would: turned axes, offsets, noise, late and held positions.

    Parameters:
        rng: the noise's generator [-]
        phone: how it gets things wrong [-]
        motion: the drive at even moments: time, way, aside, speed, along, path, yaw, sideslip [any]
        line: the course: distance, curvature, heading, x and y [any]
        rate: rows a second [1/s]
        three_axes: whether all three rates of turning are written down [-]
        positions: whether positions are [-]

    Returns:
        a ``Log`` [-]
    """
    distance, _, heading, x, y = line
    length = float(distance[1]) * len(distance)
    clock = np.arange(motion["time"][0], motion["time"][-1], 1 / rate)
    every = {name: np.interp(clock, motion["time"], value) for name, value in motion.items()}
    n, loud = len(clock), phone.noise
    cos, sin = np.cos(every["sideslip"]), np.sin(every["sideslip"])
    across = every["speed"] * every["path"]
    roll = _ROLL * across
    body = np.stack([every["along"] * cos - across * sin, every["along"] * sin + across * cos + G * roll, np.zeros(n)])
    turning = np.stack([np.gradient(roll, clock), np.zeros(n), every["yaw"]])
    axes = phone.axes()
    felt = axes @ body + loud * 0.25 * rng.standard_normal((3, n))
    rates = axes @ turning + phone.offset + loud * np.radians(0.4) * rng.standard_normal((3, n))
    seen = np.maximum(clock - phone.late, clock[0])
    if phone.held:
        seen = np.floor(seen / phone.held + 1e-6) * phone.held
    way, off, slow = (np.interp(seen, motion["time"], motion[c]) for c in ("way", "aside", "speed"))
    around, at = way % length, np.append(distance, length)
    points = np.interp(around, at, np.append(heading, heading[0] + 2 * np.pi))
    px = np.interp(around, at, np.append(x, x[0])) - off * np.sin(points)
    py = np.interp(around, at, np.append(y, y[0])) + off * np.cos(points)
    new = np.concatenate(([True], np.diff(seen) > 1e-6))
    noisy = np.cumsum(new) - 1
    drift = 0.3 * loud * rng.standard_normal((2, int(noisy[-1]) + 1))
    px, py = px + drift[0][noisy], py + drift[1][noisy]
    pace: Array = np.maximum(slow + 0.05 * loud * rng.standard_normal(int(noisy[-1]) + 1)[noisy], 0.0)
    if phone.lost:
        for begin in rng.uniform(0, clock[-1], max(1, int(phone.lost * clock[-1] / 5.0))):
            gone = (clock >= begin) & (clock < begin + 5.0)
            px, py = np.where(gone, np.nan, px), np.where(gone, np.nan, py)
    side = -felt[1] if phone.mirrored else felt[1]
    return Log(
        time=clock,
        speed=pace,
        run=np.zeros(n, dtype=np.int64),
        row=np.arange(n, dtype=np.int64),
        lateral=side,
        longitudinal=felt[0],
        yaw_rate=rates[2],
        turn_x=rates[0] if three_axes else None,
        turn_y=rates[1] if three_axes else None,
        x=px if positions else None,
        y=py if positions else None,
    )
