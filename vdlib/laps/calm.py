"""Is the rear calmer: sessions compared by what frightens, not by lap time, for one corner and for all.

Each lap gives one number of each measure; sessions are compared as ``evidence`` compares lap times, with laps alike
their neighbours and the sessions' offset allowed for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..units import Array, Flags, G
from .alike import allow_for_likeness
from .bootstrap import Estimate
from .course import Aligned, Course
from .laps import Laps
from .mounting import smooth
from .slide_rate import Turning

STEPS = 20.0
"""Length of the pieces over which roughness is taken [m]."""
REVERSAL = 5.0
"""Least turn of the steering back and forth that counts as a reversal, degrees as logged [-]; our choice."""
QUIET = 0.5
"""Rates of slide below this count as this: a quieter lap is not calmer [°/s]."""
FOOT_WITHIN, FOOT_BEFORE = 0.4, 2.5
"""The lift is the greatest fall of the acceleration along the path within the first, before the greatest rate of slide
by at most the second [s]; our choice."""
SAME_LIFT = "at the same lift"
BRAKES = 0.5 * G
"""Slowing from which on it is the brake, not a lift of the throttle [m/s²]; our choice."""
TENFOLD = -90.0, 900.0
"""Changes of slide beyond which only that is said: so few laps set no size [%]."""
SPARE = 4
"""Laps beyond the figures asked of them from which sessions are compared at the same lift."""
MEASURES = {
    "slide": ("greatest rate of slide", "°/s", "lower"),
    "reversals": ("steering reversals", "", "lower"),
    "rough": ("roughness of lateral g, as a part of it", "%", "lower"),
    "lowest": ("lowest speed", "km/h", "higher"),
    "lifted": ("distance driven off the throttle", "m", "lower"),
}
"""Measure → its name, unit, and which way is calmer."""


@dataclass(frozen=True)
class Calm:
    """What one session's laps say of each corner: measure → (laps, corners), as shown to the user [any]."""

    corners: tuple[str, ...]
    values: dict[str, Array]
    lift: Array | None = None  # fall of the acceleration along the path before the greatest rate of slide [g]


@dataclass(frozen=True)
class SameLift:
    """The greatest rate of slide of each lap against the lift before it, session by session, laps that count."""

    lift: tuple[Array, ...]  # (laps,) each [g]
    rate: tuple[Array, ...]  # likewise [°/s]
    usual: float  # lift at which the sessions are compared: the mean [g]
    slope: float  # of the logarithm of the rate against the lift [1/g]


@dataclass(frozen=True)
class Calmer:
    """One measure compared: in one corner or in all."""

    measure: str
    where: str
    before: float
    after: float
    change: Estimate
    same_lift: SameLift | None = None  # how it goes with the lift of the foot, where compared at the same one

    @property
    def verdict(self) -> str:
        """Calmer, rougher or not shown."""
        if not bool(self.change.shown):
            return "not shown"
        lower = MEASURES[self.measure][2] == "lower"
        return "calmer" if (float(self.change.value) < 0) == lower else "rougher"


def calm_of(aligned: Aligned, course: Course, drive: Turning | None = None, laps: Laps | None = None) -> Calm:
    """Read each measure off a session's laps, corner by corner.

    Parameters:
        aligned: the laps over the course [-]
        course: the course [-]
        drive: from ``slide_rate.turning``, for the rate of slide; None without lateral acceleration [-]
        laps: when the laps were driven, to find them in the drive [-]

    Returns:
        a ``Calm`` with the measures that the log holds [-]

    Validity: roughness is the scatter of lateral acceleration about its mean over 20 m, over its size. Bumps count, so
    compare on one course and surface. Off the throttle is where speed falls.
    """
    inside = [(aligned.distance >= c.start) & (aligned.distance <= c.end) for c in course.corners]
    values: dict[str, Array] = {"lowest": np.stack([3.6 * aligned.speed[:, w].min(axis=1) for w in inside], axis=1)}
    step = float(aligned.distance[1])
    falls = np.gradient(aligned.speed, axis=1) < 0
    values["lifted"] = np.stack([step * falls[:, w].sum(axis=1) for w in inside], axis=1).astype(float)
    if aligned.lateral is not None:
        half = max(1, round(STEPS / step / 2))
        kernel = np.full(2 * half + 1, 1 / (2 * half + 1))
        even = np.stack([np.convolve(np.pad(row, half, mode="edge"), kernel, "valid") for row in aligned.lateral])
        left = np.square(aligned.lateral - even)
        size = np.square(aligned.lateral)
        parts = [np.sqrt(left[:, w].mean(axis=1) / np.maximum(size[:, w].mean(axis=1), 0.1)) for w in inside]
        values["rough"] = 100 * np.stack(parts, axis=1)
    lift = None
    if drive is not None and laps is not None:
        if drive.rate is not None:
            values["slide"], lift = _greatest(drive, aligned, laps, inside)
        if drive.steer is not None:
            values["reversals"] = _reversals(drive, aligned, laps, inside)
    return Calm(tuple(c.name for c in course.corners), values, lift)


def _spans(aligned: Aligned, laps: Laps, inside: Sequence[Flags]) -> tuple[Array, Array]:
    """When each lap was in each corner, (laps, corners) each [s]."""
    first, last = ([int(np.flatnonzero(w)[i]) for w in inside] for i in (0, -1))
    begin = laps.start[:, None] + aligned.elapsed[:, first]
    return begin, laps.start[:, None] + aligned.elapsed[:, last]


def _greatest(drive: Turning, aligned: Aligned, laps: Laps, inside: Sequence[Flags]) -> tuple[Array, Array]:
    """Return the greatest rate of slide [°/s] and the lift of the foot before it [g], (laps, corners) each."""
    assert drive.rate is not None
    size = np.degrees(np.abs(np.nan_to_num(drive.rate)))
    begin, end = _spans(aligned, laps, inside)
    low, high = (np.searchsorted(drive.time, t) for t in (begin, end))
    reach = max(1, round(FOOT_WITHIN / drive.step))
    even = smooth(np.nan_to_num(drive.along), drive.step, max(0.2, 2 * drive.step))  # three readings at least
    fall = np.concatenate((np.zeros(reach), even[:-reach] - even[reach:])) / G  # at each moment, over the time up to it
    brakes = (even < -BRAKES).astype(float)
    fall[np.convolve(brakes, np.ones(2 * reach + 1), "same") > 0.5] = 0.0  # nor while the brake is coming on or off
    most, lift = np.zeros(low.shape), np.zeros(low.shape)
    for place in np.ndindex(*low.shape):
        first = int(low[place])
        top = first + int(size[first : max(int(high[place]), first + 1)].argmax())
        most[place] = size[top]
        lift[place] = fall[max(0, top - round(FOOT_BEFORE / drive.step)) + reach : top + 1].max(initial=0.0)
    return most, lift


def _reversals(drive: Turning, aligned: Aligned, laps: Laps, inside: Sequence[Flags]) -> Array:
    assert drive.steer is not None
    begin, end = _spans(aligned, laps, inside)
    low, high = (np.searchsorted(drive.time, t) for t in (begin, end))
    out = np.zeros(low.shape)
    for place in np.ndindex(*low.shape):
        out[place] = reversals(drive.steer[low[place] : high[place]])
    return out


def reversals(steer: Array) -> int:
    """Count how often the steering turned back by more than ``REVERSAL``.

    Parameters:
        steer: steering angle as logged, degrees, (moments,) [-]

    Returns:
        how often [-]
    """
    known = steer[np.isfinite(steer)]
    count, way, extreme = 0, 0, float(known[0]) if len(known) else 0.0
    for now in known.tolist():
        if way == 0:
            if abs(now - extreme) > REVERSAL:
                way, extreme = (1 if now > extreme else -1), now
        elif way * (now - extreme) > 0:
            extreme = now
        elif way * (extreme - now) > REVERSAL:
            count, way, extreme = count + 1, -way, now
    return count


def calmer(
    sessions: Sequence[Calm], clear: Sequence[Flags], corner: str = "", offset: float = 0.0
) -> tuple[Calmer, ...]:
    """Compare sessions measure by measure, in one corner or over all.

    The rate of slide is compared by its logarithm, so that one wild lap does not hide the others: ``before`` and
    ``after`` are then geometric means and ``change`` is in percent. It is compared at the same lift of the foot,
    ``ln rate = session + b·lift + e``: a driver's foot differs more from lap to lap than the rear does for a setup.

    Parameters:
        sessions: before, after and, where driven, before again [-]
        clear: which laps of each count, (laps,) each [-]
        corner: name of the corner; empty for all: the greatest rate of slide of the lap, the mean of the rest [-]
        offset: what a whole session may be off by, as a part of the measure's own mean [-]

    Returns:
        one for each measure that all sessions hold [-]
    """
    sizes = [int(np.sum(c)) for c in clear]
    group = np.repeat(np.arange(len(sizes)), sizes)
    design = (group[:, None] == np.arange(len(sizes))).astype(float)
    contrast = np.array([-1.0, 1.0] if len(sizes) == 2 else [-0.5, 1.0, -0.5])
    number = np.concatenate([np.flatnonzero(c) for c in clear]).astype(float)
    out = []
    for measure in MEASURES:
        if not all(measure in s.values for s in sessions):
            continue
        place = sessions[0].corners.index(corner) if corner else slice(None)
        held = [s.values[measure][c][:, place].reshape(int(c.sum()), -1) for s, c in zip(sessions, clear, strict=True)]
        slide = measure == "slide"
        each = [np.log(np.maximum(h.max(axis=1), QUIET)) if slide else h.mean(axis=1) for h in held]
        y = np.concatenate(each)
        size = 1.0 if slide else abs(float(y.mean()))
        lifts = _lifts(sessions, clear, place, held) if slide else None
        x, c = design, contrast
        if lifts is not None:
            x, c = np.column_stack([design, lifts - lifts.mean()]), np.append(contrast, 0.0)
        found = allow_for_likeness(y, x, c, group, number, offset * size).change
        level = float(allow_for_likeness(y, x, np.where(c < 0, -c, 0.0), group, number).change.value)
        means = level, level + float(found.value)
        alike = None
        if lifts is not None:
            slope = allow_for_likeness(y, x, np.append(0.0 * contrast, 1.0), group, number).change.value
            ends = np.cumsum(sizes)[:-1]
            rates = tuple(np.split(np.exp(y), ends))
            alike = SameLift(tuple(np.split(lifts, ends)), rates, float(lifts.mean()), float(slope))
        if slide:
            means = float(np.exp(means[0])), float(np.exp(means[1]))
            value, low, high = (100 * float(np.expm1(v)) for v in (found.value, found.low, found.high))
            found = Estimate(value, low, high, found.p)
        out.append(Calmer(measure, corner or "all corners", *means, found, alike))
    return tuple(out)


def _lifts(sessions: Sequence[Calm], clear: Sequence[Flags], place: int | slice, held: Sequence[Array]) -> Array | None:
    """Return each lap's lift where its rate of slide was greatest; None where not known, or too few laps to use it."""
    known = [
        s.lift[c][:, place].reshape(h.shape)
        for s, c, h in zip(sessions, clear, held, strict=True)
        if s.lift is not None
    ]
    if len(known) < len(held) or sum(map(len, held)) < len(held) + 1 + SPARE:
        return None
    out = np.concatenate([x[np.arange(len(h)), h.argmax(axis=1)] for x, h in zip(known, held, strict=True)])
    return out if np.ptp(out) > 0 else None


def calmer_words(found: Sequence[Calmer], felt: Sequence[float] = ()) -> tuple[str, ...]:
    """Answer whether the rear is calmer, first in one sentence, then measure by measure.

    Parameters:
        found: from ``calmer`` [-]
        felt: how calm each session felt, 1 to 10, before first; empty where nobody said [-]

    Returns:
        sentences [-]
    """
    if not found:
        return (
            "These laps hold nothing that says whether the rear is calmer: a log with lateral g and yaw rate would.",
        )
    slide = next((one for one in found if one.measure == "slide"), None)
    where = found[0].where
    if slide is not None:
        ends = float(slide.change.low), float(slide.change.high)
        from_, to = (f"{abs(end):.0f} % {'less' if end < 0 else 'more'}" for end in ends)
        from_ = "anything from under a tenth of the slide" if ends[0] < TENFOLD[0] else f"{from_} slide"
        to = "over ten times as much" if ends[1] > TENFOLD[1] else to
        least, most = (f"{size:.0f}" for size in sorted(map(abs, ends)))
        size = f"{least} to {most} %" if TENFOLD[0] <= ends[0] and ends[1] <= TENFOLD[1] else f"at least {least} %"
        alike = f"{SAME_LIFT} " if slide.same_lift is not None else ""
        bound = f": {alike}these laps fit {from_} to {to}" if np.isfinite(ends).all() else ""
        lead = {
            "calmer": f"Yes, in {where} the rear is calmer: {alike}it slides {size} less fast.",
            "rougher": f"No, in {where} the rear is rougher: {alike}it slides {size} faster.",
            "not shown": f"Whether the rear is calmer in {where} is not shown{bound}.",
        }[slide.verdict]
    else:
        votes = [one.verdict for one in found if one.measure in ("rough", "reversals") and one.verdict != "not shown"]
        lead = f"Without yaw rate the rear itself is not seen in {where}; "
        agree = len(set(votes)) == 1
        lead += f"other signs say it is {votes[0]}." if agree else "other signs do not agree or show nothing."
    out = [lead]
    for one in found:
        name, unit, way = MEASURES[one.measure]
        name += f" {SAME_LIFT}" if one.same_lift is not None else ""
        digits = 1
        low, high = float(one.change.low), float(one.change.high)
        span = f"{low:+.{digits}f} to {high:+.{digits}f} fits" if np.isfinite([low, high]).all() else "no bound"
        shown = "" if one.verdict == "not shown" else f", {one.verdict}"
        values = f"{one.before:.{digits}f} before, {one.after:.{digits}f} {unit} with the change"
        if one.measure == "slide":
            span = span.replace(" to ", " % to ").replace(" fits", " % fits")
            if np.isfinite(high) and high > TENFOLD[1]:
                span = f"{low:+.{digits}f} % to over ten times as much fits"
        line = f"{name[:1].upper()}{name[1:]}: {values}"
        out.append(f"{line} ({span}{shown}; {way} is calmer).".replace("-", "−").replace(" )", ")"))
    if len(felt) > 1:
        scores = f"{felt[0]:g} before, {felt[1]:g} with the change" + (
            f", {felt[2]:g} before again" if len(felt) > 2 else ""
        )
        out.append(f"Felt, of 10: {scores}. A score typed after the drive knows what was changed.")
    return tuple(out)
