"""An invented club day on an invented course: sessions with learning, traffic and noise, the same to the bit by seed.

A point mass drives the course: corners at ``V² = a_y·R``, straights with what power and brakes allow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..checks import InputError, Problem
from ..trim.aero import dynamic_pressure
from ..units import Array, Flags, G, from_si

SAYS = "an invented club day on an invented course: no such car, driver, course or day exists"
CORNERS = ((55.0, 100.0), (80.0, 60.0), (40.0, -70.0), (110.0, 110.0), (35.0, 115.0), (150.0, -45.0), (60.0, 90.0))
"""Corners of the invented course: radius [m] and angle [deg], left positive; one whole turn in all."""
STRAIGHTS = (420.0, 118.0, 389.0, 60.0, 270.0, 70.0, 210.0, 250.0)
"""Straights before, between and after them [m]; the second and third are stretched until the course closes."""
LINE = (0.0, 20.0, 0.0, -20.0)
"""Start and finish line of the invented course: x and y of its two ends [m]."""
STEP = 2.0
"""About how far apart the stations are at which the drive is worked out [m]."""
RATE = 20.0
"""Rows a second."""
MASS, POWER, DRAG_AREA, BRAKING, LATERAL = 1150.0, 150e3, 0.7, 0.85 * G, 1.0 * G
"""The invented car: mass [kg], power [W], drag area [m²], braking and cornering it is driven at [m/s²]."""


def write_logs(folder: str | Path, logs: Mapping[str, str]) -> tuple[Path, ...]:
    """Write the logs of one invented day.

    Parameters:
        folder: where to; made where it is not there [-]
        logs: name of each file → what stands in it [-]

    Returns:
        the paths [-]
    """
    home = Path(folder)
    home.mkdir(parents=True, exist_ok=True)
    for name, text in logs.items():
        (home / name).write_bytes(text.encode("utf-8"))
    return tuple(home / name for name in logs)


@dataclass(frozen=True)
class Day:
    """One invented day: what was put in, and what each session's log would hold."""

    seed: int
    names: tuple[str, ...]
    lap_time: Array  # (sessions, laps) as driven [s]
    traffic: Flags  # (sessions, laps)
    change: float  # lap time with the change less without it, a settled driver alone on the course [s]
    csv: tuple[str, ...]

    def write(self, folder: str | Path) -> tuple[Path, ...]:
        """Write one log for each session.

        Parameters:
            folder: where to; made where it is not there [-]

        Returns:
            the paths [-]
        """
        names = (f"club-day-{self.seed}-{name.replace(' ', '-')}.csv" for name in self.names)
        return write_logs(folder, dict(zip(names, self.csv, strict=True)))


def course() -> tuple[Array, Array, Array]:
    """Lay out the invented course, closed: stations, curvature and heading.

    Returns:
        distance from the line [m], curvature, left positive [1/m], heading [rad]
    """
    pieces = [[STRAIGHTS[0], 0.0]]
    for (radius, angle), straight in zip(CORNERS, STRAIGHTS[1:], strict=True):
        pieces += [[radius * np.radians(abs(angle)), float(np.sign(angle)) * radius], [straight, 0.0]]
    x, y = _ends(pieces)
    way = np.radians(np.cumsum([angle for _, angle in CORNERS[:2]]))  # where the two straights point
    for place, more in zip((2, 4), np.linalg.solve([np.cos(way), np.sin(way)], [-x, -y]), strict=True):
        pieces[place][0] += float(more)
    edges = np.cumsum([p[0] for p in pieces])
    count = int(edges[-1] / STEP)
    distance = np.arange(count) * (edges[-1] / count)
    bend = np.array([1 / p[1] if p[1] else 0.0 for p in pieces])[np.searchsorted(edges, distance, side="right")]
    window = np.full(11, 1 / 11)  # nobody turns the wheel at once
    curvature = np.convolve(np.concatenate((bend[-5:], bend, bend[:5])), window, "valid")
    heading = np.concatenate(([0.0], np.cumsum(0.5 * (curvature[1:] + curvature[:-1]) * distance[1])))
    return distance, curvature, heading * 2 * np.pi / (heading[-1] + curvature[0] * distance[1])


def _ends(pieces: Sequence[Sequence[float]]) -> tuple[float, float]:
    """Return where the last piece ends."""
    x = y = heading = 0.0
    for length, radius in pieces:
        if radius:
            turn = length / radius
            x += radius * (np.sin(heading + turn) - np.sin(heading))
            y -= radius * (np.cos(heading + turn) - np.cos(heading))
            heading += turn
        else:
            x, y = x + length * np.cos(heading), y + length * np.sin(heading)
    return float(x), float(y)


def profile(lateral: Array, power: Array, cap: Array, curvature: Array, step: float) -> Array:
    """Drive a way as a point mass: ``V² ≤ a_y/|κ|``, then forward with power and backward with brakes.

    Parameters:
        lateral: sideways acceleration used at each station, (stations,) [m/s²]
        power: power at the wheels at each station, (stations,) [W]
        cap: speed not exceeded at each station, for traffic, (stations,) [m/s]
        curvature: curvature of the way, (stations,) [1/m]
        step: distance between stations [m]

    Returns:
        speed at each station [m/s]

    Validity: level and dry; grip not shared between cornering and braking; a teaching model.
    """
    square = np.minimum(lateral / np.maximum(np.abs(curvature), 1e-4), cap**2).tolist()
    push, drag = power.tolist(), float(dynamic_pressure(1.0)) * DRAG_AREA / MASS
    for i in range(1, len(square)):  # forward: what power and tyres allow
        before = square[i - 1]
        gain = min(push[i] / (MASS * before**0.5), 0.5 * G) - drag * before
        square[i] = min(square[i], before + 2 * step * gain)
    for i in range(len(square) - 2, -1, -1):  # backward: what the brakes allow
        square[i] = min(square[i], square[i + 1] + 2 * step * (BRAKING + drag * square[i + 1]))
    speed: Array = np.sqrt(np.array(square))
    return speed


def make(
    seed: int,
    sessions: Sequence[str] = ("before", "after", "before again"),
    laps: int = 8,
    corner_gain: float = 0.02,
    power_gain: float = 0.0,
    learning: float = 0.01,
    noise: float = 0.015,
    traffic: float = 0.1,
) -> Day:
    """Make one invented day; a session whose name starts with "after" has the change on the car.

    Parameters:
        seed: any whole number; the same seed gives the same day to the bit [-]
        sessions: names of the sessions in the order driven [-]
        laps: whole laps in each session [-]
        corner_gain: part by which the change raises sideways acceleration in corners [-]
        power_gain: part by which it raises power [-]
        learning: part of sideways acceleration the driver lacks on the first lap; it fades over about five laps of
            the day [-]
        noise: spread of the driver's sideways acceleration, as a part of it, from lap to lap and once more from
            corner to corner [-]
        traffic: share of laps held up by another car [-]

    Returns:
        a ``Day`` with one log for each session, from 150 m before the line to a third of a lap after it [-]

    Errors:
        ``InputError`` for numbers with which nobody could drive.
    """
    limits = {"corner gain": (corner_gain, -0.3, 0.3), "power gain": (power_gain, -0.5, 1.0), "laps": (laps, 1, 60)}
    limits |= {"learning": (learning, 0, 0.2), "noise": (noise, 0, 0.1), "traffic": (traffic, 0, 1)}
    wrong = [
        Problem(name, f"{value:g}", f"must be {low:g} to {high:g}", "choose a smaller day")
        for name, (value, low, high) in limits.items()
        if not low <= value <= high
    ]
    if wrong or not sessions:
        raise InputError(wrong or [Problem("sessions", "none", "must be at least one", "name one")])
    rng = np.random.default_rng(seed)
    distance, curvature, heading = course()
    times, busy, texts = [], [], []
    for number, name in enumerate(sessions):
        changed = name.startswith("after")
        lacks = learning * np.exp(-(np.arange(laps) + number * laps) / 5.0)
        level = (1 + changed * corner_gain) * (1 - lacks) * (1 + noise * rng.standard_normal(laps))
        held = rng.random(laps) < traffic
        lap_time, text = _session(
            rng, name, seed, level, 1 + changed * power_gain, noise, held, distance, curvature, heading
        )
        times.append(lap_time)
        busy.append(held)
        texts.append(text)
    clean = [
        _lap_time(np.full(2, 1 + on * corner_gain), 1 + on * power_gain, distance, curvature) for on in (False, True)
    ]
    return Day(seed, tuple(sessions), np.array(times), np.array(busy), clean[1] - clean[0], tuple(texts))


def _lap_time(level: Array, push: float, distance: Array, curvature: Array) -> float:
    """Return the time of the second of two even laps."""
    step, size = float(distance[1]), len(distance)
    lateral = np.repeat(level, size) * LATERAL
    speed = profile(lateral, np.full(2 * size, push * POWER), np.full(2 * size, 200.0), np.tile(curvature, 2), step)
    return float(np.sum(2 * step / (speed[size - 1 : -1] + speed[size:])))


def _session(
    rng: np.random.Generator,
    name: str,
    seed: int,
    level: Array,
    push: float,
    noise: float,
    held: Flags,
    distance: Array,
    curvature: Array,
    heading: Array,
) -> tuple[Array, str]:
    """Drive one session and write its log."""
    step, size, laps = float(distance[1]), len(distance), len(level)
    lead = size + round(150 / step)  # an out-lap comes first; its last 150 m are logged, and a third of the in-lap
    station = np.arange(-lead, laps * size + size // 3)
    lap = np.clip(station // size, 0, laps - 1)
    place = station % size
    piece = np.cumsum(np.concatenate(([0], np.diff(np.abs(curvature) > 1e-3))))  # a number for each corner and straight
    wander = noise * rng.standard_normal((laps, int(piece[-1]) + 1))
    lateral = LATERAL * level[lap] * (1 + wander[lap, piece[place]])
    cap = np.full(len(station), 200.0)
    for n in np.flatnonzero(held):  # stuck behind someone for a while
        start = n * size + lead + int(rng.integers(0, size - size // 4))
        cap[start : start + size // 4] = rng.uniform(20.0, 26.0)
    speed = profile(lateral, np.full(len(station), push * POWER), cap, curvature[place], step)
    clock = np.concatenate(([0.0], np.cumsum(2 * step / (speed[1:] + speed[:-1]))))
    lines = clock[lead::size][: laps + 1]
    begin = clock[lead - round(150 / step)]
    time = begin + np.arange(0.0, clock[-1] - begin, 1 / RATE)
    way = np.interp(time, clock, np.arange(len(station)) * step)
    true_speed = np.interp(time, clock, speed)
    bend = np.interp(way, np.arange(len(station)) * step, curvature[place])
    x, y = course_plane(distance, heading)
    shown = {
        "time [s]": time - begin,
        "speed [km/h]": from_si(true_speed + 0.05 * rng.standard_normal(len(time)), "kmh"),
        "lateral [g]": (true_speed**2 * bend + 0.15 * rng.standard_normal(len(time))) / G,
        "x [m]": np.interp((way - lead * step) % (size * step), np.append(distance, size * step), x),
        "y [m]": np.interp((way - lead * step) % (size * step), np.append(distance, size * step), y),
    }
    shown["x [m]"] += 0.15 * rng.standard_normal(len(time))
    shown["y [m]"] += 0.15 * rng.standard_normal(len(time))
    head = [f"# {SAYS}", f"# session: {name}; seed {seed}; {laps} laps; line from x, y = {LINE[:2]} to {LINE[2:]} m"]
    head.append(",".join(shown))
    plain = [column.tolist() for column in shown.values()]
    rows = [f"{t:.2f},{v:.2f},{a:.3f},{px:.2f},{py:.2f}" for t, v, a, px, py in zip(*plain, strict=True)]
    return np.diff(lines), "\n".join(head + rows) + "\n"


def course_plane(distance: Array, heading: Array) -> tuple[Array, Array]:
    """Return the positions of the stations, with the first one again at the end.

    Parameters:
        distance: distance from the line, even, (stations,) [m]
        heading: where the course points, (stations,) [rad]

    Returns:
        x and y, (stations + 1,) each [m]
    """
    step = float(distance[1])
    middle = 0.5 * (heading + np.append(heading[1:], 2 * np.pi))
    x = np.concatenate(([0.0], np.cumsum(step * np.cos(middle))))
    y = np.concatenate(([0.0], np.cumsum(step * np.sin(middle))))
    share = np.linspace(0.0, 1.0, len(x))  # the smoothed corners leave it open by a little
    return x - share * x[-1], y - share * y[-1]


SETTLED = 95.0
"""Lap time of a settled driver [s]."""


def lap_times(
    seed: int,
    days: int,
    laps: Sequence[int] = (8, 8),
    change: float = 0.0,
    spread: float = 0.35,
    learning: float = 0.0,
    skew: bool = False,
) -> tuple[Array, ...]:
    """Make lap times of many invented days at once, without logs: ``t = t₀ + change + learning·e^(−n/5) + noise``.

    Parameters:
        seed: any whole number [-]
        days: how many days [-]
        laps: laps of each session; every second session has the change [-]
        change: what the change does to the lap time [s]
        spread: standard deviation of a driver's laps [s]
        learning: what the driver loses on the first lap of the day [s]
        skew: True for laps that are seldom much faster but now and then slower, as real ones are [-]

    Returns:
        one array for each session, (days, laps) [s]
    """
    rng = np.random.default_rng(seed)
    total = sum(laps)
    noise = (rng.gamma(2.0, size=(days, total)) - 2) / 2**0.5 if skew else rng.standard_normal((days, total))
    time = SETTLED + spread * noise + learning * np.exp(-np.arange(total) / 5.0)
    parts = np.split(time, np.cumsum(laps)[:-1], axis=1)
    return tuple(part + change * (i % 2) for i, part in enumerate(parts))
