"""One moment of a log driven again in the model: the car as it is, and at its reference, beside what was logged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..answers import film_words
from ..answers.corner import HOLDS, Corner
from ..answers.edge import note
from ..answers.forgiven import forgiven_speed
from ..answers.lift import Scenario, simulate
from ..answers.stacking import stack
from ..car.carfile import CarFile
from ..car.reference import reference_of
from ..checks import InputError
from ..draw.incident import Driven
from ..laps.incident import Incident
from ..laps.slide_rate import Turning
from ..shown import says
from ..units import Array, G

WAITS = 0.3
"""Seconds of steady corner before the foot moves in the model."""
LASTS = 4.0
DRAGS = (0.0, 0.6)
"""Engine drag over weight, least and most, that a move of the foot is taken for; the brake counts as drag [-]."""
FAR = np.radians(20.0)
"""Slide whose time is compared where both are large [rad]; our choice."""
SOON = 0.5
"""Difference of those times from which on it is told [s]; our choice."""
ROUGH = 0.09
"""Rows farther apart than this show the foot's move roughly: on invented drives with 10 rows a second and fewer its
size scatters by 0.06 to 0.08 g, with 20 by 0.04, with 100 by 0.01 [s]; our choice."""
APART = np.radians(4.0)
"""Difference of the greatest slide from which on the two are said to differ [rad]; our choice."""


@dataclass(frozen=True)
class Again:
    """What the model makes of a moment."""

    driven: tuple[Driven, ...]
    head: str  # the speed that the corner forgives
    words: str
    speed: float  # [m/s]
    lateral: float  # [m/s²]
    lift: float  # engine drag over weight that slows as the foot in the log did [-]
    radius: float  # of the path when the car began to leave it [m]
    corner: Corner  # the same as a corner of the film


def drive_again(file: CarFile, drive: Turning, moment: Incident) -> Again | None:
    """Drive a moment again: its speed, lateral g and foot, with the wheel held, and the speed its corner forgives.

    Parameters:
        file: the car [-]
        drive: the drive it is of [-]
        moment: the moment [-]

    Returns:
        an ``Again``; None where the log shows no move of the foot, or the model cannot hold that corner [-]
    """
    if moment.foot is None or moment.rate is None:
        return None
    at = int(np.searchsorted(drive.time, moment.foot.time))
    before = slice(max(0, at - round(0.4 / drive.step)), at + 1)
    speed = float(np.nanmean(drive.speed[before]))
    sign = 1.0 if moment.turn == "left" else -1.0
    lateral = sign * float(np.nanmean(np.abs(drive.lateral[before])))
    reference = reference_of(file)
    closing = float(np.clip(moment.foot.took, 0.05, 1.0))
    names = (("model, as the car is", "inner"), (f"model, {reference.name}", "reference"))
    car, setup = (stack(pair) for pair in ((file.car, reference.car), (file.setup, reference.setup)))
    try:
        lift = _engine_drag(file, speed, lateral, moment.foot.drop)
        run = simulate(car, setup, Scenario(speed, lateral, lift, starts=WAITS, closing=closing, lasts=LASTS))
        radius = speed * speed / abs(lateral)
        corner = Corner(radius=radius, turn="left" if sign > 0 else "right", lift=lift)
        edges = forgiven_speed(car, setup, corner, HOLDS).edges
    except InputError:
        return None
    held = np.broadcast_to(run.held, (2,))
    if (held <= 0).any():
        return None
    driven, peaks = [], []
    for i, (name, role) in enumerate(names):
        moves = run.time <= held[i]
        speeds, across, yaw, slide = (
            np.broadcast_to(value.T, (2, len(run.time)))[i][moves]
            for value in (run.speed, run.lateral, run.yaw_rate, run.slide)
        )
        peaks.append(float(slide.max()))
        driven.append(Driven(name, role, run.time[moves] - WAITS, speeds, across, yaw, slide))
    here, there = edges * (3 - len(edges))
    head = (
        f"With that foot and the hands held still this corner forgives {here.told} as the car is, {there.told} in "
        f'the state "{reference.name}". {note(here, there)}'
    ).strip()
    if drive.step > ROUGH:
        rows = f"{1 / drive.step:.0f} rows a second"
        head += f" With {rows} the size of the foot's move is read to about 0.1 g only, so this speed is rough."
    late = _sooner(_logged_far(drive, moment), _first(driven[0].time, driven[0].slide))
    words = _words(moment, peaks, reference.name, radius, late)
    return Again(tuple(driven), head, words, speed, abs(lateral), lift, radius, corner)


def _first(time: Array, slide: Array) -> float:
    """When a slide first passes ``FAR``, infinite where it never does [s]."""
    over = slide > FAR
    return float(time[int(over.argmax())]) if over.any() else float("inf")


def _logged_far(drive: Turning, moment: Incident) -> float:
    """Time from the foot's move to a slide of ``FAR`` in the log [s]."""
    if moment.foot is None or drive.rate is None:
        return float("inf")
    first = int(np.searchsorted(drive.time, moment.time))
    after = slice(first, first + round(2 * LASTS / drive.step))
    turned = np.abs(np.cumsum(np.nan_to_num(drive.rate[after]))) * drive.step
    return _first(drive.time[after] - moment.foot.time, turned)


def _sooner(logged: float, model: float) -> str:
    """Compare how soon the tail was far out; nothing where the two hardly differ."""
    if not np.isfinite([logged, model]).all() or abs(logged - model) < SOON:
        return ""
    angle = f"{np.degrees(FAR):.0f}°"
    why = (
        "moving hands, more grip or rear travel would explain it"
        if logged > model
        else "a bump, a brake, steering put on, less grip or rear travel would explain it"
    )
    times = f"{angle} came {logged:.1f} s after the foot, {model:.1f} s in the model"
    return f"The log agrees in size, not in time: {times}; {why}."


def _engine_drag(file: CarFile, speed: float, lateral: float, drop: float) -> float:
    """Return the engine's drag over weight whose closing makes the slowing grow by as much as the log shows."""
    tried = 0.1
    run = simulate(file.car, file.setup, Scenario(speed, lateral, tried, starts=0.05, closing=0.05, lasts=0.15))
    on_top = float(run.longitudinal[0] - run.longitudinal.min()) / G - tried
    return float(np.clip(drop / G - on_top, *DRAGS))


def _words(moment: Incident, peaks: list[float], reference: str, radius: float, late: str) -> str:
    """Compare what was logged with what the model does with the wheel held."""
    here, there = (film_words.out(float(np.degrees(p))) for p in peaks)
    out = (
        f"A corner of {radius:.0f} m at {says(moment.speed, 'kmh', 0)} with the same foot and the wheel held "
        f'still: the tail comes out by {here} as the car is, by {there} in the state "{reference}". '
    )
    logged = moment.angle or 0.0
    if abs(min(logged, np.radians(30)) - min(peaks[0], np.radians(30))) < APART:
        return out + (late or "The log agrees with the car as it is.")
    if logged < peaks[0]:
        return out + (
            f"Logged: {np.degrees(logged):.0f}°, less. The driver's hands are in the log and not in the model; more "
            "grip, more travel at the rear or a smaller move of the foot than read would explain it too."
        )
    return out + (
        f"Logged: {np.degrees(logged):.0f}°, more. A brake, a bump, a cold or worn rear tyre, less travel at the rear "
        "than in the car file, or steering put on in the corner would explain it."
    )
