"""Where everything of the film stands and what is written beside it: plain numbers, for print and for the browser.

``vdlib/panels/film.js`` has the same function; a browser test holds the two together. Places are in the stage's own
units, x to the right and y down from its upper left corner, 900 wide; angles turn counter-clockwise as seen.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..answers.edge import SHORT, By
from ..answers.film import BEFORE, FORGIVEN, Film
from ..answers.film_words import FAR, foot, out
from ..answers.lift import SPUN
from ..car.records import Car
from ..shown import digits_for, label_for, seen
from ..units import from_si
from .style import ROLES

Stage = dict[str, Any]
"""Name → place, size or text."""

PLAN: dict[str, Any] = {
    "width": 900,
    "height": 478,
    "views": [[4, 4, 298, 300], [306, 4, 298, 300]],
    "side": [618, 4, 278, 118],
    "rear": [[608, 154, 142, 150], [756, 154, 142, 150]],
    "strip": [252, 338, 636, 120],
    "times": 3.0,  # cars are drawn this many times too large
    "heights": 6.0,  # and height changes so many times
    "per_mm": 1.05,  # a millimetre of gap or rubber
    "rubber": 40.0,  # height of the rubber at rest [mm]
    "least": 6.0,  # what is drawn of it at the least [mm]
    "ratio": 15.0,  # steering wheel over front wheels, for the drawing of the hands
    "far": FAR,  # a slide beyond this is only called that [deg]
    "stops": {  # why a car is followed no further
        "spun": f"{np.degrees(SPUN):.0f}° off its path: model stops",
        "slow": "nearly standing: the model stops",
        "none": "past the grip: no steady corner",
    },
}
"""Places of the parts as [x, y, width, height], and scales: the one home of both."""
BODY, GLASS, SHOWN, LOST = "#E9EDF0", "#CBD5DC", "#F3C766", "#FBE3D2"
COLOURS: dict[str, str] = {
    "reference": ROLES["reference"].colour,
    "now": ROLES["now"].colour,
    "arrow": ROLES["rear"].colour,
    "front": ROLES["front"].colour,
    "rear": ROLES["rear"].colour,
    "holds": ROLES["toward_oversteer"].colour,
    "driver": ROLES["inner"].colour,
    "muted": ROLES["muted"].colour,
    "good": ROLES["toward_understeer"].colour,
    "road": "#ECEEF1",
    "edge": "#9AA1AB",
    "body": BODY,
    "glass": GLASS,
    "shown": SHOWN,
    "lost": LOST,
    "rubber": "#3A3F44",
}
"""The colours of the stage, by what they are used for."""


def units() -> Stage:
    """Return the units the reader chose for speeds and heights.

    Returns:
        of each the factor from SI, the label and the digits after the point [-]
    """
    return {
        name: {"factor": float(seen(1.0, unit)), "label": label_for(unit), "digits": digits_for(unit, 0)}
        for name, unit in (("speed", "kmh"), ("length", "mm"))
    }


def frame(film: Film) -> list[float]:
    """Return scale and origin of a view: the road of the whole film, turned so that the car starts upward.

    Parameters:
        film: the film [-]

    Returns:
        stage units to the metre, and the car's start in a view [any]
    """
    _, _, wide, high = PLAN["views"][0]
    way = min(float(film.speeds[-1] * film.time[-1]), 2.0 * film.radius)
    angle = np.linspace(-6.0, way, 60) / film.radius
    half = 0.5 * film.width + 1.0
    out = np.array([film.radius - half, film.radius + half])[:, None]
    right, up = film.turn * (out * np.cos(angle) - film.radius), out * np.sin(angle)
    room = [float(np.ptp(right)), float(np.ptp(up))]
    scale = min(wide / room[0], high / room[1])
    left = 0.5 * (wide - scale * room[0]) - scale * float(right.min())
    return [scale, left, high + scale * float(up.min())]


def outline(car: Car) -> Stage:
    """Return the car from above and from the side as points in metres.

    Parameters:
        car: the car [-]

    Returns:
        body and glass from above (x forward, y left), wheels, and the body from the side over the ground [m]
    """
    base, width = float(car.wheelbase), 0.5 * float(max(car.front.track, car.rear.track)) + 0.1
    nose, tail = base / 2 + 0.75, -base / 2 - 0.7
    right = [(tail + 0.15, -0.92 * width), (base / 2, -width), (nose - 0.2, -0.8 * width), (nose, -0.4 * width)]
    body = [*right, *((x, -y) for x, y in reversed(right)), (tail, 0.6 * width), (tail, -0.6 * width)]
    glass = [(-0.75, -0.5), (0.15, -0.45), (0.45, -0.62), (0.45, 0.62), (0.15, 0.45), (-0.75, 0.5)]
    radii = [float(car.front.wheel_radius), float(car.rear.wheel_radius)]
    wheels = [
        [axle * base / 2, side * 0.5 * float(own.track), radius]
        for axle, own, radius in zip((1, -1), (car.front, car.rear), radii, strict=True)
        for side in (1, -1)
    ]
    back = [(-base / 2 - 0.72, 0.08), (-base / 2 - 0.75, 0.55), (-base / 2 - 0.1, 0.62), (-base / 2 + 0.75, 0.98)]
    fore = [(0.1, 1.0), (0.75, 0.6), (base / 2 + 0.3, 0.5), (base / 2 + 0.8, 0.28), (base / 2 + 0.82, 0.04)]
    return {
        "body": [list(p) for p in body],
        "glass": [list(p) for p in glass],
        "wheels": wheels,
        "base": base,
        "radii": radii,
        "side": [list(p) for p in (*back, *fore)],
        "clear": [float(car.front.reference_height), float(car.rear.reference_height)],
    }


def layout(film: Film, shape: Stage, state: int, speed: int, time: float) -> Stage:
    """Lay out one moment: the reference on the left, one state on the right, one speed.

    Parameters:
        film: the film [-]
        shape: from ``outline`` [-]
        state: which state is shown on the right [-]
        speed: which of the film's speeds [-]
        time: the moment [s]

    Returns:
        places, sizes and texts by name [any]
    """
    fit = frame(film)
    lifts = min(max((time - BEFORE) / 0.15, 0.0), 1.0)
    after = time - BEFORE
    return {
        "cars": [_car(film, k, speed, time, view, fit) for k, view in zip((0, state), PLAN["views"], strict=True)],
        "line": _line(film, speed, fit),
        "foot": lifts,
        "driver": f"{foot(film) if lifts > 0.5 else 'foot on'}, hands still",
        "clock": "foot still on the throttle" if after < 0 else f"{after:.1f} s after the foot lifts",
        "side": _side(film, shape, state),
        "rear": [
            _rear(film, k, box, name)
            for k, box, name in zip((0, state), PLAN["rear"], ("left car", "right car"), strict=True)
        ],
        "strip": _strip(film, speed),
    }


def _at(film: Film, name: str, state: int, speed: int, time: float) -> float:
    """Read one quantity of a run between two kept moments; a car that has ended stays where it is."""
    time = min(time, float(film.time[-1]))
    step = float(film.time[1])
    first = min(int(time / step + 1e-9), len(film.time) - 2)
    part = time / step - first
    values = getattr(film, name)[:, state, speed]
    return float(values[first] + part * (values[first + 1] - values[first]))


def _car(film: Film, state: int, speed: int, time: float, view: list[float], fit: list[float]) -> Stage:
    x, y, heading, sideslip, slide, steer = (
        _at(film, name, state, speed, time) for name in ("x", "y", "heading", "sideslip", "slide", "steer")
    )
    place = [view[0] + fit[1] - fit[0] * y, view[1] + fit[2] - fit[0] * x]
    going = heading + sideslip
    ended = time >= film.ends[state, speed]
    degrees = float(from_si(slide, "deg"))
    return {
        "name": film.states[state].name,
        "at": place,
        "heading": heading,
        "steer": steer,
        "hands": PLAN["ratio"] * steer,
        "arrow": [place[0] - 58 * np.sin(going), place[1] - 58 * np.cos(going)],
        "out": "cannot hold this" if film.ends[state, speed] <= 0 else f"tail out {out(degrees, bool(ended))}",
        "lost": bool(slide > FORGIVEN),
        "ended": bool(ended),
        "stops": PLAN["stops"][
            "none" if film.ends[state, speed] <= 0 else "spun" if abs(sideslip) > FORGIVEN else "slow"
        ],
    }


def _line(film: Film, speed: int, fit: list[float]) -> list[list[float]]:
    """The line across the road where the foot lifts, in a view: inner end, outer end."""
    angle = BEFORE * float(film.speeds[speed]) / film.radius
    ends = []
    for edge in (film.radius - 0.5 * film.width, film.radius + 0.5 * film.width):
        right, up = film.turn * (edge * np.cos(angle) - film.radius), edge * np.sin(angle)
        ends.append([fit[1] + fit[0] * float(right), fit[2] - fit[0] * float(up)])
    return ends


def signed_mm(rise: float, up: str = "up", down: str = "down") -> str:
    """Write a height change: up 18 mm, down 24 mm, as before.

    Parameters:
        rise: rise over the reference [m]
        up: word for a rise [-]
        down: word for a fall [-]

    Returns:
        words [-]
    """
    size, digits = abs(float(seen(rise, "mm"))), digits_for("mm", 0)
    if not round(size, digits):
        return "as before"
    return f"{up if rise > 0 else down} {size:.{digits}f} {label_for('mm')}"


def _side(film: Film, shape: Stage, state: int) -> Stage:
    x, y, wide, high = PLAN["side"]
    scale = (wide - 8) / (shape["base"] + 1.62)
    front, rear = (float(r) for r in film.rise[:, state])
    return {
        "scale": scale,
        "ground": [x + 0.5 * wide, y + high - 20],
        "rise": [PLAN["heights"] * front, PLAN["heights"] * rear],
        "front": f"nose {signed_mm(front)}",
        "rear": f"tail {signed_mm(rear)}",
    }


def pressed(room: float) -> str:
    """Write what is left to the rubber: 12 mm gap, or 17 mm pressed.

    Parameters:
        room: gap, below zero pressed [m]

    Returns:
        words [-]
    """
    size = f"{float(seen(abs(room), 'mm')):.{digits_for('mm', 0)}f} {label_for('mm')}"
    return f"{size} pressed" if room < -0.0005 else f"{size} gap"


def _rear(film: Film, state: int, box: list[float], name: str) -> Stage:
    standing, corner = (float(from_si(r, "mm")) for r in film.room[:, state])

    def top(room: float) -> float:
        """Top of the damper under the body: below the rubber by the gap, or up into it."""
        return float(box[1] + 10 + PLAN["per_mm"] * max(PLAN["rubber"] + room, PLAN["least"]))

    return {
        "name": name,
        "top": [top(standing), top(corner)],
        "rubber": box[1] + 10 + PLAN["per_mm"] * max(min(PLAN["rubber"] + corner, PLAN["rubber"]), PLAN["least"]),
        "standing": f"standing: {pressed(float(film.room[0, state]))}",
        "corner": f"corner: {pressed(float(film.room[1, state]))}",
        "pressed": bool(corner < -0.5),
    }


def title(film: Film) -> str:
    """Explain the strip's bars in one line.

    Parameters:
        film: the film [-]

    Returns:
        its title [-]
    """
    degrees = float(from_si(FORGIVEN, "deg"))
    grip = f" ({SHORT[By.GRIP].strip()}: it ends first)" if By.GRIP in film.by else ""
    return f"Forgiven: below this speed the tail stays within {degrees:.0f}°{grip}"


def beyond(film: Film) -> str:
    """Say what becomes of the car on the left beyond the end of its bar.

    Parameters:
        film: the film [-]

    Returns:
        words; none where every speed tried is forgiven [-]
    """
    return {By.SLIDE: "the tail comes round", By.GRIP: "past its grip", By.NOTHING: ""}[film.by[0]]


def _strip(film: Film, speed: int) -> Stage:
    x, y, wide, _ = PLAN["strip"]
    low, high = (float(seen(film.speeds[i], "kmh")) for i in (0, -1))
    step = PLAN["strip"][3] / len(film.states)

    def across(kmh: float) -> float:
        return float(x + wide * min(max((kmh - low) / (high - low), 0.0), 1.0))

    rows = []
    for i, (one, by) in enumerate(zip(film.forgiven, film.by, strict=True)):
        kmh = float(seen(one, "kmh"))
        rows.append(
            {
                "y": y + step * i,
                "end": across(kmh),
                "text": f"{kmh:.1f}{SHORT[by]}",
                "holds": bool(film.speeds[speed] < one - 1e-9),
            }
        )
    now = float(seen(film.speeds[speed], "kmh"))
    ticks = list(range(int(np.ceil(low - 1e-6)), int(np.floor(high + 1e-6)) + 1))
    return {
        "title": title(film),
        "beyond": beyond(film),
        "rows": rows,
        "step": step,
        "now": across(now),
        "speed": f"{now:.1f} {label_for('kmh')}",
        "ticks": [[across(float(kmh)), f"{kmh}"] for kmh in ticks],
    }
