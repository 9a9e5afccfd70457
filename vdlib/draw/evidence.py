"""Picture of a day's laps: every lap time, the difference with its interval, speed, and section by section."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..laps.bootstrap import Estimate
from ..laps.calm import SameLift
from ..laps.evidence import Change, Part
from ..laps.laps import Session
from ..shown import label_for, seen
from ..units import Array, from_si
from .live import LivePicture
from .style import FONT, ROLES, fill, line, point, tidy

SESSION_ROLES = ("reference", "now", "outer")
"""How the sessions are drawn, in the order driven."""
ALT = (
    "Every lap time of the day by session, or each lap's slide against the lift of the foot; the difference that the "
    "change made, with its interval; speed against distance of one lap before and one after; what each section added "
    "to the difference."
)
WAITING = "No laps yet: the invented day chosen is driven, and its laps are drawn, when the slider stops."
"""What is to be seen of a day that is still to be driven, in words."""
KINDS = {"corner": fill("front"), "straight": fill("muted", facecolor="#D5D5D5")}
TRACES = (line("reference", linestyle="-", linewidth=4.0, color="#949494"), line("now", linewidth=1.4))
"""How the two laps are drawn: the one before broad and grey, so that both are seen where they lie on each other."""


@dataclass(frozen=True)
class ShownCorner:
    """The laps that count in one corner, laid over each other, session by session."""

    name: str
    distance: Array  # from the line (n,) [m]
    speed: tuple[Array, ...]  # (laps, n) each [m/s]
    slide: tuple[Array, ...] = ()  # rate of slide (laps, n) each; empty without a yaw rate [rad/s]
    lateral: tuple[Array, ...] = ()  # (laps, n) each; empty where it was not logged [m/s²]


@dataclass(frozen=True)
class ShownLaps:
    """What is drawn."""

    sessions: tuple[Session, ...]  # in the order driven: before, with the change, before again
    change: Change
    distance: Array | None = None  # stations of the laps drawn [m]
    speed: tuple[Array, ...] = ()  # one lap before and one with the change [m/s]
    drawn: tuple[str, ...] = ()  # what those laps are called
    truth: float | None = None  # what was put into an invented day [s]
    promised: float | None = None  # what the model promised for the corners together [s]
    corner: ShownCorner | None = None  # the corner looked at, in place of the whole lap
    same_lift: SameLift | None = None  # slide against the lift of the foot, in place of the lap times

    @property
    def spans(self) -> list[tuple[str, Estimate]]:
        """The differences with an interval, by name [s]."""
        rows = [("averages", self.change.plain)]
        if self.change.learned is not None:
            rows.append(("learning allowed for", self.change.learned))
        if self.change.fits is not self.change.best:
            rows.append(("all allowed for", self.change.fits))
        return rows + [(part.name, part.change) for part in self.change.kinds]


class EvidencePicture:
    """The picture: four parts, each drawn anew where what it shows is another."""

    def __init__(self) -> None:
        """Lay out the axes."""
        self.picture = LivePicture(660, 475, ALT)
        self.picture.figure.set_layout_engine("none")  # it would hang on what was drawn before
        sides = {"left": 0.085, "right": 0.975}
        new, grid = self.picture.figure.add_subplot, self.picture.figure.add_gridspec
        above = grid(1, 2, width_ratios=[3, 2], top=0.91, bottom=0.66, wspace=0.55, **sides)
        below = grid(2, 1, height_ratios=[4, 3], top=0.53, bottom=0.085, hspace=0.25, **sides)
        self.laps, self.spans = new(above[0]), new(above[1])
        self.speed, self.parts = new(below[0]), new(below[1])
        self._last: dict[Any, Sequence[Any]] = {}
        look: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": FONT["title"]}
        self._told = self.picture.moving(self.picture.figure.text(0.5, 0.5, "", **look))

    def draw(self, shown: ShownLaps) -> Iterator[None]:
        """Draw one result, one part at each step of what is returned; a part that stays the same is left as it is.

        Parameters:
            shown: what is to be drawn [-]

        Returns:
            an iterator; the picture is drawn once it has ended [-]
        """
        self.wait("")
        change, alike, corner = shown.change, shown.same_lift, shown.corner
        name = "" if corner is None else corner.name
        pairs: list[tuple[Any, Sequence[Any], Callable[[Any], None]]] = [
            (self.laps, (change, alike), lambda axes: draw_laps(axes, shown.sessions, change))
            if alike is None
            else (self.laps, (change, alike), lambda axes: draw_lifts(axes, shown.sessions, alike)),
            (self.spans, (change, alike is None, shown.promised), lambda axes: draw_spans(axes, shown)),
        ]
        if corner is not None:
            pairs += [
                (self.speed, (change, name), lambda axes: draw_overlay(axes, shown, corner)),
                (self.parts, (change, name), lambda axes: draw_restless(axes, corner)),
            ]
        elif shown.distance is not None:
            pairs += [
                (self.speed, (change, name, shown.drawn), lambda axes: draw_speed(axes, shown)),
                (self.parts, (change, name), lambda axes: draw_sections(axes, shown)),
            ]
        else:
            none = "No log: lap times alone cannot say in which section the time was won."
            pairs += [
                (self.speed, (change, name), lambda axes: draw_corners(axes, change.minimum_speed)),
                (self.parts, (change, name), lambda axes: _empty(axes, none)),
            ]
        for axes, now, drawn in pairs:
            last = self._last.get(axes, ())
            if len(now) == len(last) and all(_same(a, b) for a, b in zip(now, last, strict=True)):
                continue
            if axes in self._last:  # new ones are clear
                axes.clear()
            self._last[axes] = ()
            yield
            drawn(axes)
            yield
            self._last[axes] = now
            self.picture.refresh_background()

    def wait(self, words: str) -> None:
        """Put a line in the place of all parts; an empty one brings them back.

        Parameters:
            words: what is being done for the day to be shown [-]
        """
        self._told.set_text(words)
        self.picture.alt = WAITING if words else ALT
        shown = not words
        if self.laps.get_visible() != shown:
            for axes in (self.laps, self.spans, self.speed, self.parts):
                axes.set_visible(shown)
            self.picture.refresh_background()


def _same(one: Any, other: Any) -> bool:
    """Whether nothing new is to be drawn: the same thing, or the same number or word."""
    return one is other or (isinstance(one, str | float) and one == other)


def draw_laps(axes: Any, sessions: tuple[Session, ...], change: Change) -> None:
    """Draw every lap time in the order driven, laps left out as crosses, with the driver's drift where it was fitted.

    Parameters:
        axes: the axes [-]
        sessions: the sessions [-]
        change: their comparison [-]
    """
    tidy(axes, "", "lap of the day", "lap time [s]")
    first, slope = 1, _drift(sessions, change)
    everything = np.concatenate([s.lap_time[s.clear] for s in sessions])
    low, high = everything.min(), everything.max()
    room = max(0.15 * (high - low), 0.1)
    for session, role in zip(sessions, SESSION_ROLES, strict=False):
        count = len(session.lap_time)
        number = np.arange(first, first + count)
        clear, off = session.clear, ~session.clear
        axes.plot(number[clear], session.lap_time[clear], **point(role, markersize=8), label=session.name)
        top = np.minimum(session.lap_time[off], high + 0.8 * room)  # a lap far off is drawn at the edge
        axes.plot(number[off], np.maximum(top, low - 0.8 * room), **point("muted", marker="x", markeredgewidth=1.6))
        learned = np.log(_practice(sessions, number[clear]))
        mean = session.lap_time[clear].mean()
        axes.plot(number[clear], mean + slope * (learned - learned.mean()), **line(role, linewidth=1.6))
        first += count
    axes.set(xlim=(0.3, first - 0.3), ylim=(low - room, high + room))
    if any(not s.clear.all() for s in sessions):
        axes.plot([], [], **point("muted", marker="x", markeredgewidth=1.6), label="left out")
    _above(axes, 4)


def draw_lifts(axes: Any, sessions: tuple[Session, ...], alike: SameLift) -> None:
    """Draw each lap's greatest rate of slide against the lift before it, with the curves that compare the sessions.

    Parameters:
        axes: the axes [-]
        sessions: the sessions [-]
        alike: their slides and lifts [-]
    """
    tidy(axes, "Each lap's slide", "slowing added by the foot [g]", "greatest [°/s]")
    axes.locator_params(axis="x", nbins=5)
    everywhere = np.concatenate(alike.lift)
    grid = np.linspace(everywhere.min(), everywhere.max(), 60)
    for session, role, lift, rate in zip(sessions, SESSION_ROLES, alike.lift, alike.rate, strict=False):
        axes.plot(lift, rate, **point(role, markersize=8), label=session.name)
        level = float(np.mean(np.log(rate) - alike.slope * lift))
        axes.plot(grid, np.exp(level + alike.slope * grid), **line(role, linewidth=1.6))
    more = 0.04 * float(np.ptp(everywhere))
    axes.set(xlim=(grid[0] - more, grid[-1] + more), ylim=(0, 1.08 * max(float(r.max()) for r in alike.rate)))
    _above(axes, 3)


def _practice(sessions: tuple[Session, ...], number: Any) -> Array:
    """Laps driven so far over those at the day's first free lap, as ``evidence.compare`` counts them."""
    first = 1 + int(np.flatnonzero(np.concatenate([s.clear for s in sessions]))[0])
    return np.asarray(number) / first


def _drift(sessions: tuple[Session, ...], change: Change) -> float:
    """Slope of the lap time against the logarithm of practice; zero where it was not fitted [s]."""
    if change.learning is None:
        return 0.0
    last = 1 + int(np.flatnonzero(np.concatenate([s.clear for s in sessions]))[-1])
    whole = float(np.log(_practice(sessions, np.array([last])))[0])
    return float(change.learning.value) / whole if whole > 0 else 0.0


def draw_spans(axes: Any, shown: ShownLaps) -> None:
    """Draw each difference as a point with its interval; zero is a thick line.

    Parameters:
        axes: the axes [-]
        shown: what is to be drawn [-]
    """
    tidy(
        axes,
        "Lap time: what changed" if shown.same_lift else "What the change made",
        "quicker  ←  difference [s]  →  slower",
    )
    rows = shown.spans
    ends = np.array([[float(e.low), float(e.high), float(e.value)] for _, e in rows])
    extra = [v for v in (shown.truth, shown.promised) if v is not None]
    finite = np.concatenate([ends[np.isfinite(ends)], np.array(extra, dtype=float), [0.0]])
    reach = max(0.1, 1.25 * float(np.abs(finite).max()))
    axes.axvline(0, color="black", linewidth=2)
    for at, (name, found) in enumerate(rows):
        low, high = np.clip([float(found.low), float(found.high)], -2 * reach, 2 * reach)
        axes.plot([low, high], [at, at], **line("now", linestyle="-", linewidth=3, color="#595959"))
        axes.plot([float(found.value)], [at], **point("now", markersize=11))
        if shown.truth is not None and at == 0:
            axes.plot(
                [shown.truth], [at], **point("rear", marker="D", markersize=8), label="put into this invented day"
            )
        if shown.promised is not None and name == "all corners":
            axes.plot([shown.promised], [at], **point("inner", marker="v", markersize=9), label="promised by the model")
    axes.set(xlim=(-reach, reach), ylim=(len(rows) - 0.4, -0.5 - 0.6 * len(extra)))
    axes.set_yticks(range(len(rows)), [name for name, _ in rows])
    axes.tick_params(axis="y", length=0)
    if extra:
        axes.legend(loc="upper left", fontsize=FONT["note"], edgecolor="white", borderpad=0.1, handletextpad=0.1)


def draw_speed(axes: Any, shown: ShownLaps) -> None:
    """Draw speed against distance of the laps, corners shaded and numbered.

    Parameters:
        axes: the axes [-]
        shown: what is to be drawn [-]
    """
    assert shown.distance is not None
    tidy(axes, "Speed, corners shaded", "", "[km/h]")
    for speed, name, look in zip(shown.speed, shown.drawn, TRACES, strict=False):
        axes.plot(shown.distance, from_si(speed, "kmh"), **look, label=name)
    high = max(float(s.max()) for s in shown.speed)
    low = min(float(s.min()) for s in shown.speed)
    axes.set(xlim=(0, shown.distance[-1]), ylim=(from_si(low, "kmh") - 12, from_si(high, "kmh") * 1.04))
    axes.set_xticklabels([])
    corners = [s for s in shown.sessions[0].sections if s.kind == "corner"]
    _shade(axes, shown)
    for section in corners:
        axes.text(
            0.5 * (section.start + section.end),
            from_si(low, "kmh") - 10,
            section.name.removeprefix("corner "),
            ha="center",
            fontsize=FONT["note"],
        )
    _above(axes, 2)


def _above(axes: Any, columns: int) -> None:
    """Put the legend above the axes, right of their title."""
    axes.legend(
        loc="lower right",
        bbox_to_anchor=(1, 1),
        fontsize=FONT["note"],
        ncols=columns,
        frameon=False,
        borderpad=0,
        columnspacing=0.8,
        handletextpad=0.2,
    )


def draw_sections(axes: Any, shown: ShownLaps) -> None:
    """Draw what each section added to the difference as a bar over its place, with its interval.

    Parameters:
        axes: the axes [-]
        shown: what is to be drawn [-]
    """
    assert shown.distance is not None
    tidy(axes, "Section by section; below zero is quicker", "distance from the line [m]", "[s]")
    sections = shown.sessions[0].sections
    _shade(axes, shown)
    for section, part in zip(sections, shown.change.parts, strict=True):
        value, low, high = (float(v) for v in (part.change.value, part.change.low, part.change.high))
        wide, middle = 0.86 * (section.end - section.start), 0.5 * (section.start + section.end)
        axes.bar(middle, value, wide, **KINDS[part.kind])
        if np.isfinite([low, high]).all():
            axes.plot([middle, middle], [low, high], color="black", linewidth=1.4)
    axes.axhline(0, color="black", linewidth=1.2)
    axes.set(xlim=(0, shown.distance[-1]), ylim=_room(shown.change.parts))


def draw_overlay(axes: Any, shown: ShownLaps, corner: ShownCorner) -> None:
    """Draw the speed of every lap that counts in one corner, session over session.

    Parameters:
        axes: the axes [-]
        shown: what is to be drawn, for the sessions' names [-]
        corner: the laps in that corner [-]
    """
    tidy(axes, f"Speed in {corner.name}, every lap", "", f"[{label_for('kmh')}]")
    for laps, session, role in zip(corner.speed, shown.sessions, SESSION_ROLES, strict=False):
        _over(axes, corner.distance, seen(laps, "kmh"), role, session.name)
    axes.set_xlim(corner.distance[0], corner.distance[-1])
    axes.set_xticklabels([])
    _above(axes, 3)


def draw_restless(axes: Any, corner: ShownCorner) -> None:
    """Draw how the rear moved in one corner: rate of slide, or else lateral g, every lap that counts.

    Parameters:
        axes: the axes [-]
        corner: the laps in that corner [-]
    """
    laps, unit, title = corner.slide, "deg_per_s", "Rate of slide: the calmer, the closer to zero"
    if not laps:
        laps, unit, title = corner.lateral, "g", "Lateral g: the calmer, the smoother (no yaw rate logged)"
    if not laps:
        _empty(axes, "The log holds neither yaw rate nor lateral g: the rear itself is not seen.")
        return
    tidy(axes, title, "distance from the line [m]", {"deg_per_s": "[°/s]", "g": "[g]"}[unit])
    for one, role in zip(laps, SESSION_ROLES, strict=False):
        _over(axes, corner.distance, from_si(one, unit), role, "")
    axes.axhline(0, color="black", linewidth=1.2)
    axes.set_xlim(corner.distance[0], corner.distance[-1])


def _over(axes: Any, distance: Array, laps: Array, role: str, name: str) -> None:
    """Draw laps over each other as one line with gaps."""
    gap = np.full((len(laps), 1), np.nan)
    x = np.concatenate((np.broadcast_to(distance, laps.shape), gap), axis=1).ravel()
    wide = 2.2 if role == "reference" else 1.1
    axes.plot(x, np.concatenate((laps, gap), axis=1).ravel(), **line(role, linestyle="-", linewidth=wide), label=name)


def _room(parts: tuple[Part, ...], unit: str = "s") -> tuple[float, float]:
    """Return the ends of a scale that holds every bar and interval, and zero."""
    ends = np.array([[float(p.change.value), float(p.change.low), float(p.change.high)] for p in parts])
    known = np.append(from_si(ends[np.isfinite(ends)], unit), 0.0)
    more = 0.08 * max(float(np.ptp(known)), 1e-3)
    return float(known.min()) - more, float(known.max()) + more


def _shade(axes: Any, shown: ShownLaps) -> None:
    for section in shown.sessions[0].sections:
        if section.kind == "corner":
            axes.axvspan(section.start, section.end, facecolor="#E6EEF5", zorder=0)


def draw_corners(axes: Any, parts: tuple[Part, ...]) -> None:
    """Draw how far the lowest speed of each corner moved, with its interval.

    Parameters:
        axes: the axes [-]
        parts: the corners; none where no speeds were written down [-]
    """
    if not parts:
        _empty(axes, "No corner speeds in all sessions: write down the lowest speed of a few corners too.")
        return
    tidy(axes, "Lowest speed of each corner; above zero is faster", "", "[km/h]")
    for at, part in enumerate(parts):
        value, low, high = (float(from_si(v, "kmh")) for v in (part.change.value, part.change.low, part.change.high))
        axes.bar(at, value, 0.6, **fill("front"))
        if np.isfinite([low, high]).all():
            axes.plot([at, at], [low, high], color="black", linewidth=1.4)
    axes.axhline(0, color="black", linewidth=1.2)
    axes.set(xlim=(-0.6, len(parts) - 0.4), ylim=_room(parts, "kmh"))
    axes.set_xticks(range(len(parts)), [part.name[:18] for part in parts])


def _empty(axes: Any, text: str) -> None:
    """Leave axes out, with a line that says why."""
    axes.set_axis_off()
    axes.text(0.5, 0.5, text, ha="center", va="center", fontsize=FONT["label"], color=ROLES["reference"].colour)
