"""Small pictures under the film: foot and heights, limits by phase, tail-out in time, and the share of cars by gap."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from ..units import Array
from .frame import scale_for
from .style import FONT, ROLES, fill, line, start, tidy

ENDS = ("front", "rear")
TALLEST = (0.5, 1.0, 1.5, 2.0, 3.0)
"""Tops of an axis of lateral acceleration [g]."""
SHORT, LETTER = 10, 0.021
"""Letters behind a bar that need no more room than it has, and what each one more takes of the bars' span [-]."""
OUT = (5.0, 10.0, 20.0, 32.0)
"""Tops of an axis of tail-out angles [deg]."""


class Gains:
    """One bar for each single thing: what it moves the forgiven speed by, the car's and the driver's marked."""

    def __init__(self, rows: int, high: int = 0) -> None:
        """Build the picture for so many rows."""
        alt = "What each single thing would add to the speed that this corner forgives, as bars."
        self.picture, axes = start(660, high or 60 + 28 * rows, alt)
        self.axes = tidy(axes, "", "change of the forgiven speed [km/h]", "")
        self.axes.set_yticks([])
        self.axes.axvline(0, color="black", linewidth=1.2)
        keep = self.picture.moving
        self.bars = [keep(bar) for bar in axes.barh(np.arange(rows), np.zeros(rows), height=0.66)]
        self.names = [keep(axes.text(0, i, "", ha="left", va="center", fontsize=FONT["label"])) for i in range(rows)]
        self.sizes = [keep(axes.text(0, i, "", va="center", fontsize=FONT["label"])) for i in range(rows)]
        axes.set_ylim(rows - 0.45, -0.55)

    def draw(self, names: Sequence[str], whose: Sequence[str], gains: Sequence[float], words: Sequence[str]) -> None:
        """Set the bars.

        Parameters:
            names: one name a row [-]
            whose: "car" or "driver", one a row [-]
            gains: what it adds; NaN where it is not known [km/h]
            words: what is written at the end of each bar [-]
        """
        shown = np.nan_to_num(np.asarray(gains, dtype=float))
        most, least = max(float(shown.max(initial=0.0)), 1.0), min(float(shown.min(initial=0.0)), 0.0)
        span = (most - least) * 1.3
        left = least - 0.62 * span
        right = most + (0.16 + LETTER * max(0, max(map(len, words), default=0) - SHORT)) * span
        self.picture.frame(self.axes, (left, right), self.axes.get_ylim())
        ticks = self.axes.xaxis.get_majorticklocs()
        self.axes.set_xticks([tick for tick in ticks if least <= tick <= most + 0.16 * span])
        for i, bar in enumerate(self.bars):
            seen = i < len(names)
            for artist in (bar, self.names[i], self.sizes[i]):
                artist.set_visible(seen)
            if not seen:
                continue
            size = float(shown[i])
            bar.set_width(size)
            bar.set(**fill({"car": "toward_oversteer", "driver": "inner"}.get(whose[i], "muted")))
            self.names[i].set_text(f"{names[i]} ({whose[i]})")
            self.names[i].set_position((left + 0.01 * span, i))
            self.sizes[i].set_text(f" {words[i]} ")
            self.sizes[i].set_position((max(size, 0.0), i))


class PhaseLimits:
    """The limit of front and rear in each phase: thin bars at the reference, wide ones as the car is."""

    def __init__(self, phases: Sequence[str], reference: str) -> None:
        """Build the picture for these phases, by their plain names, and the name of the reference."""
        alt = "The lateral acceleration at which front and rear let go, in the four phases of a corner."
        self.picture, axes = start(660, 300, alt)
        self.axes = tidy(axes, "", "", "lets go at [g]")
        self.axes.grid(False, axis="x")
        places = np.arange(len(phases))
        self.axes.set_xticks(places, phases, fontsize=FONT["label"])
        keep, self.now, self.then, self.values, self.first = self.picture.moving, [], [], [], []
        for end, shift in zip(ENDS, (-0.2, 0.2), strict=True):
            now = axes.bar(places + shift, 1.0, width=0.34, label=f"{end}, as it came back", **fill(end))
            then = axes.bar(places + shift, 1.0, width=0.34, fill=False, edgecolor=ROLES["reference"].colour)
            for bar in then:
                bar.set(linewidth=2.0, linestyle=(0, (3, 2)))
            self.now.append([keep(bar) for bar in now])
            self.then.append([keep(bar) for bar in then])
            self.values.append([keep(self._text(float(p) + shift, FONT["tick"], "bold")) for p in places])
            for text in self.values[-1]:
                text.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.5})
        then[0].set_label(f"the same end {reference}")
        self.first = [keep(self._text(float(place), FONT["label"], "bold")) for place in places]
        axes.set_xlim(-0.6, len(phases) - 0.4)
        axes.legend(fontsize=FONT["note"], loc="upper center", ncols=3, frameon=False, bbox_to_anchor=(0.5, 1.14))

    def _text(self, x: float, size: float, weight: str = "normal") -> Any:
        return self.axes.text(x, 0, "", ha="center", va="bottom", fontsize=size, fontweight=weight)

    def draw(self, reference: Array, now: Array, first: Sequence[str]) -> None:
        """Set the bars.

        Parameters:
            reference: limits at the reference, (2, phases) [g]
            now: limits as the car is [g]
            first: what is written over each phase [-]
        """
        both = np.concatenate([reference, now])
        low = 0.1 * np.floor(10 * max(float(np.nanmin(both)) - 0.25, 0.0))
        high = scale_for(both, TALLEST)
        self.picture.frame(self.axes, self.axes.get_xlim(), (low, max(high, low + 0.5)))
        for i in range(2):
            for bars, values in ((self.now[i], now[i]), (self.then[i], reference[i])):
                for bar, value in zip(bars, values, strict=True):
                    bar.set_y(low)
                    bar.set_height(float(value) - low)
            for text, value in zip(self.values[i], now[i], strict=True):
                text.set_text(f"{value:.2f}")
                text.set_y(low + 0.04 * (high - low))
        tops = np.nanmax(both, axis=0)
        for text, words, top in zip(self.first, first, tops, strict=True):
            text.set_text(words)
            text.set_y(top + 0.02 * (high - low))


class TailOut:
    """Tail-out over time: reference and the car as it is, under the whole lift and under half of it."""

    def __init__(self, names: Sequence[str]) -> None:
        """Build the picture for these runs: the reference, as it came back, as it came back under half the lift."""
        self.picture, axes = start(660, 300, "How far the tail swings out in the seconds after the foot lifts.")
        self.axes = tidy(axes, "", "seconds after the foot lifts", "tail out [deg]")
        keep = self.picture.moving
        axes.axvline(0, color="#767676", linewidth=1.2)
        axes.text(0.03, 0.97, "foot lifts", va="top", fontsize=FONT["note"], transform=axes.get_xaxis_transform())
        looks = (line("reference", linewidth=3.0), line("now", linewidth=2.4), line("inner", linewidth=2.4))
        self.curves = [keep(axes.plot([], [], **look)[0]) for look in looks]
        self.names = [keep(axes.text(0, 0, f" {name}", va="center", fontsize=FONT["label"])) for name in names]
        for text, look in zip(self.names, ("reference", "now", "inner"), strict=True):
            text.set_color(ROLES[look].colour)

    def draw(self, time: Array, slides: Sequence[Array], lasts: Sequence[float]) -> None:
        """Set the curves.

        Parameters:
            time: moments counted from the lift, (t,) [s]
            slides: tail-out of each run, (t,) each [deg]
            lasts: when each run ends [s]
        """
        shown = [np.where(time <= end, slide, np.nan) for slide, end in zip(slides, lasts, strict=True)]
        high = scale_for(np.array(shown), OUT)
        self.picture.frame(self.axes, (float(time[0]), float(time[-1]) + 1.9), (-0.08 * high, 1.05 * high))
        heights = []
        for curve, text, values in zip(self.curves, self.names, shown, strict=True):
            curve.set_data(time, values)
            last = int(np.flatnonzero(np.isfinite(values))[-1])
            heights.append(float(np.clip(values[last], 0.0, high)))  # a curve may leave the axes, its name may not
            text.set_x(float(time[last]))
        for text, y in zip(self.names, _apart(heights, 0.085 * high), strict=True):
            text.set_y(y)


def _apart(heights: Sequence[float], least: float) -> list[float]:
    """Move labels apart so that none lies on another."""
    order, out = np.argsort(heights), list(heights)
    for below, above in pairwise(order):
        out[above] = max(out[above], out[below] + least)
    return out


class GapShare:
    """Of plausible cars, the share that low tails and high noses move toward oversteer, by the travel left behind."""

    def __init__(self, names: Sequence[str]) -> None:
        """Build the picture for these cars."""
        alt = "The share of plausible cars that stand moved toward oversteer, by the travel to their rear bump stops."
        self.picture, axes = start(660, 300, alt)
        self.axes = tidy(axes, "", "rear travel to the bump stop at the reference height [mm]", "toward oversteer [%]")
        axes.axhline(50, color="black", linewidth=1.0)
        looks = ("rear", "front", "now", "toward_understeer", "reference", "inner", "outer")
        self.curves = []
        for name, look in zip(names, looks, strict=False):
            own = line(look, label=name, marker=ROLES[look].marker, markersize=6)
            self.curves.append(axes.plot([], [], **own)[0])
        axes.set(xlim=(0, 60), ylim=(0, 104))
        axes.legend(fontsize=FONT["note"], loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False)

    def draw(self, gap: Array, shares: Sequence[Array]) -> None:
        """Set the curves.

        Parameters:
            gap: middles of the classes of gap, (n,) [mm]
            shares: share of each car's plausible versions, (n,) each [%]
        """
        for curve, share in zip(self.curves, shares, strict=True):
            curve.set_data(gap, share)
        self.picture.refresh_background()
