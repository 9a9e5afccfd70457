"""What was promised for a change, in the measures that a day's laps are compared in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..answers.corner import Corner, Driver
from ..answers.edge import Edge
from ..answers.forgiven import forgiven_speed
from ..answers.lift import Scenario, simulate
from ..answers.limits import Limits, limits
from ..car.carfile import CarFile
from ..car.records import Moment
from ..car.reference import reference_of
from ..checks import InputError
from ..laps.course import Corner as Place
from ..laps.evidence_words import Promise
from ..setup import as_left, left_figures, saved
from ..setup.candidate import AS_IT_STANDS, Version, baseline, version
from ..setup.driven import OwnCorner, own_corner
from ..setup.promised import promise
from ..units import G
from .day_sessions import HARDEST, Day, Run

AT_REFERENCE = "at its reference heights"
BEFORE_VISIT, LEFT = "as it was before the workshop", "as the workshop left it"
NOT_SAID = "not said"


@dataclass(frozen=True)
class Rear:
    """What the model says of two setups in one corner of the day, driven as before the change."""

    where: str  # name of the corner, empty where the laps name none
    corner: Corner
    edges: tuple[Edge, Edge]  # up to where the corner forgives
    driven: tuple[float, float] | None = None  # how fast, before and with the change: median of the laps [m/s]
    rate: tuple[float, float] | None = None  # greatest rate of slide after a quick lift at ``driven[0]`` [rad/s]
    page: str = ""  # where the laps name no corner: what the workshop page says of the driver's own


@dataclass(frozen=True)
class Promised:
    """What the model says of two setups: the sideways acceleration at which the first end lets go."""

    before: str
    after: str
    limit: tuple[float, float]  # [m/s²]
    first: tuple[int, int]  # end that lets go first: 0 front, 1 rear, -1 neither found
    speed: float  # [m/s]
    corner_time: Promise | None = None  # beside what the laps say of the corners together
    rear: Rear | None = None  # in the corner looked at

    @property
    def share(self) -> float:
        """Change of the limit [%]."""
        return 100 * (self.limit[1] / self.limit[0] - 1)


def versions(file: CarFile) -> tuple[str, ...]:
    """List the setups that can have been on the car: as the workshop had and left it, as it stands, saved what-ifs."""
    pair = () if left_figures.visit(file) is None else (BEFORE_VISIT, LEFT)
    return (AS_IT_STANDS, AT_REFERENCE, *pair, *saved.whatif_names(file))


def first_asked(file: CarFile) -> tuple[str, str]:
    """Return which two setups are compared until the driver chooses: those of the visit, or the one what-if saved.

    Parameters:
        file: the car [-]

    Returns:
        names of ``versions``, or ``NOT_SAID`` for the second [-]
    """
    if left_figures.visit(file) is not None:
        return BEFORE_VISIT, LEFT
    names = saved.whatif_names(file)
    return AS_IT_STANDS, names[0] if len(names) == 1 else NOT_SAID


def setup_called(file: CarFile, name: str) -> Version:
    """Return a setup of ``versions`` with its car."""
    base = baseline(file.car, file.setup)
    pair = left_figures.visit(file) if name in (BEFORE_VISIT, LEFT) else None
    if pair is not None:
        one = pair[0] if name == BEFORE_VISIT else pair[1]
        return Version(name, one.car, one.setup)
    if name == AS_IT_STANDS:
        return base
    if name == AT_REFERENCE:
        reference = reference_of(file)
        return Version(name, reference.car, reference.setup)
    return version(replace(saved.load_whatif(file, name), name=name), base)


@lru_cache(maxsize=64)
def _limits(one: Version, speed: float, phase: str) -> Limits:
    return limits(one.car, one.setup, Moment.in_phase(phase, speed, 1.0))


def promised(file: CarFile, before: str, after: str, phase: str, speed: float) -> Promised:
    """Ask the model what a change of setup does to the sideways acceleration the car can reach."""
    pair = [_limits(setup_called(file, name), speed, phase) for name in (before, after)]
    both = (float(pair[0].car), float(pair[1].car))
    return Promised(before, after, both, (int(pair[0].first), int(pair[1].first)), speed)


def was_it_done(file: CarFile) -> str:
    """Return what the workshop left of what was asked, by the figures typed in workbook 9; empty where none are."""
    before = left_figures.came_from(file) or file
    figures = left_figures.kept(before)
    if not figures.typed:
        return ""
    try:
        return as_left.words(left_figures.done(before, figures))[0]
    except InputError as fault:
        return f"Was it done? The figures typed in workbook 9 cannot be used: {fault}"


def rear_promise(file: CarFile, day: Day, corner: int, before: str, after: str) -> Rear | None:
    """Ask the model for the rear in the corner looked at: what it forgives, and its rate of slide after a quick lift.

    Parameters:
        file: the car [-]
        day: the laps [-]
        corner: number of the corner; 0 for the one with the most slide, or else the slowest [-]
        before: name of the setup before [-]
        after: name of the setup with the change [-]

    Returns:
        a ``Rear``; None where the model cannot hold any corner of that kind [-]

    Validity: the speed of both runs is that driven before the change, from lateral g where it is logged; the driver
    lifts quickly by half and steers against the slide after a reaction time, not expecting it. On a lap without such
    a lift nothing slides.
    """
    pair = tuple(setup_called(file, name) for name in (before, after))
    found = _place(day, corner)
    if found is None:
        return _on_the_page(*pair, own_corner(file.known.visit))
    where, shape, driven = found
    try:
        before_it, with_it = (_edge(one, shape) for one in pair)
        rates = tuple(_rate(one, shape, driven[0]) for one in pair)
    except InputError:
        return None
    known = None if None in rates else (rates[0] or 0.0, rates[1] or 0.0)
    return Rear(where, shape, (before_it, with_it), driven, known)


@lru_cache(maxsize=16)
def _on_the_page(before: Version, after: Version, corner: OwnCorner) -> Rear | None:
    """Return what the workshop page promises of two setups in the driver's own corner."""
    try:
        found = promise(after.car, before.setup, after.setup, corner, before.car)
    except InputError:
        return None
    plain = (AS_IT_STANDS, AT_REFERENCE, BEFORE_VISIT, LEFT)
    one, two = (name if name in plain else f"with “{name}”" for name in (before.name, after.name))
    words = replace(found, names=(one, two)).words[0]
    return Rear("", corner.driven(found.turn), found.edges, page=words)


def _place(day: Day, number: int) -> tuple[str, Corner, tuple[float, float]] | None:
    """Return the corner's name, its shape for the model, and how fast it was driven before and with the change."""
    first, second = (run.session for run in day.runs[:2])
    if day.course is None or first.minimum_speed is None or second.minimum_speed is None:
        return None
    corners, calm = day.course.corners, day.runs[0].calm
    lowest = [np.median(s.minimum_speed[s.clear], axis=0) for s in (first, second) if s.minimum_speed is not None]
    if number:
        at = min(number, len(corners)) - 1
    elif calm is not None and "slide" in calm.values:
        at = int(calm.values["slide"][first.clear].mean(axis=0).argmax())
    else:
        at = int(lowest[0].argmin())
    runs = day.runs[:2]
    used = [np.median(run.hardest[run.session.clear, at]) for run in runs if run.hardest is not None]
    radius = _driven_radius(runs[0], corners[at]) or corners[at].radius
    if radius is None or not 8 <= radius <= 1000:
        return None
    shape = Corner(radius=round(float(radius), 1), turn="right" if corners[at].turn == "right" else "left")
    # with lateral g the speed that goes with it on this radius: the lowest speed may lie elsewhere
    one, other = [float(shape.speed(g)) for g in used] if len(used) == 2 else [float(v[at]) for v in lowest]
    return corners[at].name, shape, (one, other)


def _driven_radius(run: Run, corner: Place) -> float | None:
    """Radius on which a corner is driven hardest, ``V²/a_y``; None without lateral acceleration [m]."""
    if run.aligned is None or run.aligned.lateral is None:
        return None
    inside = (run.aligned.distance >= corner.start) & (run.aligned.distance <= corner.end)
    speed, side = (np.abs(v[run.session.clear][:, inside]) for v in (run.aligned.speed, run.aligned.lateral))
    hard = side > max(0.8 * float(np.median(np.quantile(side, HARDEST, axis=1))), 0.1 * G)
    return float(np.median(speed[hard] ** 2 / side[hard])) if hard.any() else None


@lru_cache(maxsize=64)
def _edge(one: Version, corner: Corner) -> Edge:
    return forgiven_speed(one.car, one.setup, corner).edges[0]


@lru_cache(maxsize=64)
def _rate(one: Version, corner: Corner, speed: float) -> float | None:
    """Greatest rate of slide of the model after a quick lift; None where it cannot hold the corner at that speed."""
    hands = Driver()
    what = Scenario(
        speed, float(corner.lateral(speed)), corner.lift, starts=0.0, closing=hands.closing,
        counter_steer=hands.counter_steer, reaction=hands.reaction, lasts=4.0,
    )  # fmt: skip
    run = simulate(one.car, one.setup, what)
    held = float(run.held)
    if held <= 0:
        return None
    moves = run.time <= held
    return float(np.abs(run.yaw_rate - run.lateral / run.speed)[moves].max())
