"""Pictures of the roll-stiffness split: its parts, the wheel loads, and maps of the balance over both bars."""

from __future__ import annotations

from typing import Any

import numpy as np
from contourpy import contour_generator
from matplotlib.axes import Axes
from matplotlib.colors import FuncNorm, LinearSegmentedColormap

from ..answers.split import PARTS, Along, Maps, Split
from ..car.records import Car
from ..shown import seen
from ..units import Array, G, from_si
from .carviews import TopView
from .frame import scale_for
from .live import LivePicture
from .style import FONT, ROLES, fill, line, point, start, tidy

_PART_LOOKS = (fill("muted", hatch="xx"), fill("inner"), fill("warning", hatch="//"), fill("outer"))
_OVER, _UNDER = ROLES["toward_oversteer"].colour, ROLES["toward_understeer"].colour
BALANCE_COLOURS = LinearSegmentedColormap.from_list("balance", [_OVER, "white", _UNDER])
"""Oversteer, neutral, understeer."""
_SCALED = 4  # scaled images kept of each map
FINE = 14
"""Stripes of a map's unknown cells are drawn on this many times finer a grid."""


class Shares:
    """The load transfer of both axles as bars made of their parts, in kilograms."""

    def __init__(self, picture: LivePicture, axes: Axes) -> None:
        """Take over one pair of axes."""
        self.picture = picture
        self.axes = tidy(axes, "", "moved to the outer wheel [kg]")
        axes.set_title("What moves the load", fontsize=FONT["label"], loc="left")
        axes.set_yticks([0, 1], ["front", "rear"])
        axes.set(ylim=(2.6, -0.6), xlim=(0, 300))
        axes.axvline(0, color="black", linewidth=1)
        keep = picture.moving
        self.bars, self.labels = [], []
        for look, name in zip(_PART_LOOKS, PARTS.values(), strict=True):
            pair = axes.barh([0, 1], 0.0, height=0.62, label=name, **look)
            self.bars.append([keep(patch) for patch in pair])
            plate = {"facecolor": "white", "edgecolor": "none", "pad": 1, "alpha": 0.85}
            texts = [axes.text(0, y, "", ha="center", va="center", fontsize=FONT["note"], bbox=plate) for y in (0, 1)]
            self.labels.append([keep(text) for text in texts])
        note: dict[str, Any] = {"va": "center", "fontsize": FONT["tick"], "fontweight": "bold"}
        self.totals = [keep(axes.text(0, y, "", **note)) for y in (0, 1)]
        axes.legend(fontsize=FONT["note"], loc="lower left", frameon=False, borderaxespad=0)

    def draw(self, parts: Array) -> None:
        """Move the bars.

        Parameters:
            parts: load transfer by axle and part, shape (2, 4); NaN where there is none, and no bars then [N]
        """
        kilos = np.nan_to_num(parts / G)
        top = scale_for(np.array([kilos.clip(min=0).sum(axis=1), -kilos.clip(max=0).sum(axis=1)]), (100, 200, 400, 800))
        low = -0.25 * top if kilos.min() < -0.02 * top else 0.0
        self.picture.frame(self.axes, (low, 1.2 * top), self.axes.get_ylim())
        for end in (0, 1):
            reach = {True: 0.0, False: 0.0}  # where the next part begins, on either side of zero
            for part, value in enumerate(kilos[end]):
                side = bool(value >= 0)
                patch, text = self.bars[part][end], self.labels[part][end]
                patch.set_x(reach[side])
                patch.set_width(value)
                wide = abs(value) > 0.09 * top
                text.set_text(f"{float(seen(value, 'kg')):.0f}" if wide else "")
                text.set_position((reach[side] + value / 2, end))
                reach[side] += value
            self.totals[end].set_text("" if np.isnan(parts[end]).any() else f"{kilos[end].sum():.0f} kg")
            self.totals[end].set_position((reach[True] + 0.015 * top, end))


class BarMap:
    """A map over front bar (across) and rear bar (up); cells without a value are striped."""

    def __init__(
        self,
        picture: LivePicture,
        axes: Axes,
        title: str,
        words: tuple[str, str],
        size: float,
    ) -> None:
        """Take over one pair of axes; its colours mean one thing in every moment, ``words`` stand at their ends."""
        self.picture = picture
        self.axes = tidy(axes, "", "front bar [Nm/deg]", "rear bar [Nm/deg]")
        axes.set_title(title, fontsize=FONT["label"], loc="left")
        axes.grid(False)
        keep = picture.moving
        look: dict[str, Any] = {"origin": "lower", "aspect": "auto", "extent": (0, 1, 0, 1)}
        shade = FuncNorm((_root, _square), vmin=-size, vmax=size)  # what is small is seen beside what is large
        self.image = keep(
            axes.imshow(np.zeros((2, 2)), cmap=BALANCE_COLOURS, norm=shade, interpolation="bilinear", zorder=0, **look)
        )
        self.stripes = keep(axes.imshow(np.zeros((2, 2, 4)), interpolation="nearest", zorder=0.5, **look))
        for image in (self.image, self.stripes):
            _scaled_once(image)
        self.shown: tuple[Array, Array] | None = None
        (self.neutral,) = axes.plot([], [], **line("now", linewidth=1.6, linestyle="--", label="neutral: zero"))
        (self.file,) = axes.plot([], [], **point("reference", markersize=7, label="car file", clip_on=False))
        (self.now,) = axes.plot(
            [], [], **point("now", markersize=14, markeredgecolor="white", label="as set here", clip_on=False)
        )
        for artist in (self.neutral, self.file, self.now):
            keep(artist)
        for artist in (self.file, self.now):  # whole at the map's edges, and no part of the layout for that
            artist.set_in_layout(False)
        self.bar = picture.figure.colorbar(self.image, ax=axes, pad=0.02, aspect=14)
        self.bar.ax.tick_params(labelsize=FONT["note"])
        low, high = words
        labels = [f"≤ −{size:g}\n{low}", f"−{size / 4:g}", "0", f"+{size / 4:g}", f"≥ +{size:g}\n{high}"]
        self.bar.set_ticks([-size, -size / 4, 0, size / 4, size], labels=labels)

    def draw(self, bars: Array, values: Array, now: tuple[float, float], file: tuple[float, float]) -> None:
        """Move the map.

        Parameters:
            bars: bars along both axes, shape (n,) [Nm/deg]
            values: values, shape (n, n), rear bar first; NaN where there is none [any]
            now: front and rear bar as set [Nm/deg]
            file: front and rear bar of the car file [Nm/deg]
        """
        self.now.set_data([now[0]], [now[1]])
        self.picture.frame(self.axes, (bars[0], bars[-1]), (bars[0], bars[-1]))
        if self.shown is not None and all(map(_alike, (bars, values), self.shown)):
            return
        self.shown = (bars, values)
        half = (bars[1] - bars[0]) / 2
        box = (bars[0] - half, bars[-1] + half) * 2
        known = np.isfinite(values)
        self.image.set_data(filled(values))
        fine = np.kron(~known, np.ones((FINE, FINE), dtype=bool))
        slant = np.add.outer(np.arange(fine.shape[0]), np.arange(fine.shape[1])) % FINE < FINE // 3
        stripes = np.zeros((*fine.shape, 4))
        stripes[fine] = (0.88, 0.88, 0.88, 1.0)
        stripes[fine & slant] = (0.35, 0.35, 0.35, 1.0)
        self.stripes.set_data(stripes)
        for image in (self.image, self.stripes):
            image.set_extent(box)
        lines: Any = contour_generator(bars, bars, np.ma.masked_invalid(values)).lines(0.0)
        path = [np.vstack([piece, [[np.nan, np.nan]]]) for piece in lines] or [np.full((1, 2), np.nan)]
        self.neutral.set_data(*np.vstack(path).T)
        self.file.set_data([file[0]], [file[1]])


class SplitView:
    """Parts of the load transfer, wheel loads from above, and the two maps, in one live picture."""

    def __init__(self, car: Car, file: tuple[float, float]) -> None:
        """Build the picture; ``file`` are the front and rear bar of the car file [Nm/deg]."""
        self.file = file
        alt = (
            "How links, springs, bars and stops make up the load moved to the outer wheels at each end, the four wheel "
            "loads from above, and maps of the understeer gradient and of the limit balance over both anti-roll bars."
        )
        self.picture, axes = start(660, 480, alt, 2, 2, width_ratios=[1, 1.1])
        (shares, gradient), (above, limit) = axes
        self.shares = Shares(self.picture, shares)
        self.above = TopView(self.picture, above, car)
        above.set_title("Wheel loads (dashed: standing still)", fontsize=FONT["label"], loc="left")
        title, ends = "Understeer gradient K [deg/g]", ("over-\nsteer", "under-\nsteer")
        self.gradient = BarMap(self.picture, gradient, title, ends, 8.0)
        title, ends = "Rear limit less front limit [g]", ("rear slides\nfirst", "front slides\nfirst")
        self.limit = BarMap(self.picture, limit, title, ends, 0.3)
        handles = [self.gradient.now, self.gradient.file, self.gradient.neutral]
        look: dict[str, Any] = {"fontsize": FONT["note"], "frameon": False, "ncols": 3, "borderaxespad": 0.2}
        self.picture.figure.legend(handles=handles, loc="outside lower right", **look)
        _settle(self.picture)

    def draw(self, split: Split, maps: Maps, now: tuple[float, float]) -> None:
        """Move everything.

        Parameters:
            split: the setup studied [-]
            maps: the balance over both bars [-]
            now: its front and rear bar [Nm/deg]
        """
        self.shares.draw(split.parts)
        _show_loads(self.above, split)
        grades = from_si(maps.gradient, "deg_per_g")
        self.gradient.draw(from_si(maps.bars, "Nm_per_deg"), grades, now, self.file)
        self.limit.draw(from_si(maps.limit_bars, "Nm_per_deg"), maps.margin / G, now, self.file)


class WheelsView:
    """One bar along every axis: load transfer, gradient, and the lateral acceleration at which a wheel lifts."""

    def __init__(self, car: Car) -> None:
        """Build the picture of one car."""
        alt = (
            "The four wheel loads from above, and against the stiffness of one anti-roll bar: the load transfer of "
            "both ends, the understeer gradient, and the lateral acceleration at which an inner wheel lifts."
        )
        self.picture, axes = start(660, 480, alt, 2, 2)
        (above, gradient), (moved, lift) = axes
        self.above = TopView(self.picture, above, car)
        above.set_title("Wheel loads (dashed: standing still)", fontsize=FONT["label"], loc="left")
        self.axes = (moved, gradient, lift)
        titles = (
            "Load moved to the outer wheels [kg]",
            "Understeer gradient K here [deg/g]",
            "Inner wheel leaves the ground [g]",
        )
        for one, title in zip(self.axes, titles, strict=True):
            one.set_title(title, fontsize=FONT["label"], loc="left")
        gradient.axhline(0, color="black", linewidth=1)
        keep = self.picture.moving

        def curve(on: Axes, role: str, label: str, **changes: Any) -> Any:
            return keep(on.plot([], [], **line(role, label=label, **changes))[0])

        self.moved = [curve(moved, end, f"at the {end}") for end in ("front", "rear")]
        self.gradient = curve(gradient, "now", "K")
        self.lift = [curve(lift, end, f"inner {end} lifts") for end in ("front", "rear")]
        self.limit = curve(lift, "reference", "limit of the car")
        self.level = curve(lift, "now", "this corner", linewidth=1.2)
        self.lifts = [curve(on, "outer", "a wheel lifts here", linewidth=1.8) for on in self.axes[:2]]
        self.spots = [keep(on.plot([], [], **point("now", markersize=14, label="as set here"))[0]) for on in self.axes]
        self.pair = keep(moved.plot([], [], **point("now", markersize=14))[0])
        for one in self.axes:
            one.legend(fontsize=FONT["note"], loc="upper right", frameon=False, ncols=2, borderaxespad=0)
            one.set_xlabel("front bar [Nm/deg]", fontsize=FONT["label"])
        self.label = ""
        for one, high in zip(self.axes, (800, -50, 1), strict=True):
            one.set_ylim(min(0, high), max(0, high))
        _settle(self.picture)

    def draw(self, split: Split, found: Along, bars: Array, now: float, label: str) -> None:
        """Move everything.

        Parameters:
            split: the setup as set [-]
            found: the same over the range of one bar [-]
            bars: that bar's values, shape (n,) [Nm/deg]
            now: that bar as set [Nm/deg]
            label: its name and unit [-]
        """
        _show_loads(self.above, split)
        moved, gradient, lift = self.axes
        kilos, grades = found.moved / G, from_si(found.gradient, "deg_per_g")
        here = float(from_si(split.gradient[0], "deg_per_g"))
        wide = (float(bars[0]), float(bars[-1]))
        if label != self.label:
            for one in self.axes:
                one.set_xlabel(label, fontsize=FONT["label"])
            self.label = label
            self.picture.refresh_background()
        self.picture.frame(
            moved, wide, (0, 1.3 * scale_for(np.append(kilos, split.parts.sum(axis=1) / G), (100, 200, 300, 400, 800)))
        )
        size = scale_for(np.append(grades, here), (2.0, 5.0, 10.0, 20.0, 50.0))
        self.picture.frame(gradient, wide, (-size, 1.3 * size))
        self.picture.frame(lift, wide, (0, 1.8))
        for curve, values in zip(self.moved, kilos, strict=True):
            curve.set_data(bars, values)
        self.gradient.set_data(bars, grades)
        for curve, values in zip(self.lift, found.lift_off / G, strict=True):
            curve.set_data(bars, values)
        self.limit.set_data(bars, found.limit.min(axis=0) / G)
        lateral = abs(float(split.moment.lateral)) / G
        self.level.set_data(wide, (lateral, lateral))
        places = [place for end in (0, 1) for place in crossings(bars, found.lift_off[end] / G - lateral)]
        for one, curve in zip(self.axes, self.lifts, strict=False):
            low, high = one.get_ylim()
            x = [at for place in places for at in (place, place, np.nan)]
            curve.set_data(x, [low, low + 0.77 * (high - low), np.nan] * len(places))
        front, rear = split.parts.sum(axis=1) / G
        for spot, y in zip((*self.spots, self.pair), (front, here, lateral, rear), strict=True):
            spot.set_data([now], [y])


def _root(value: Array) -> Array:
    return np.sign(value) * np.sqrt(np.abs(value))


def _square(value: Array) -> Array:
    return np.sign(value) * np.square(value)


def _alike(one: Array, other: Array) -> bool:
    return np.array_equal(one, other, equal_nan=True)


def _scaled_once(image: Any) -> None:
    """Keep what an image was scaled to, for each sharpness, until it shows other values: nothing else costs as much."""
    make = image.make_image
    kept: dict[Any, Any] = {}

    def made(renderer: Any, magnification: float = 1.0, unsampled: bool = False) -> Any:
        box = image.axes.bbox
        look = (
            magnification,
            unsampled,
            *box.bounds,
            *image.get_clim(),
            *image.get_extent(),
            *image.axes.viewLim.bounds,
        )
        values, found = kept.get(look, (None, None))
        if values is not image.get_array():
            found = make(renderer, magnification, unsampled)
            if len(kept) >= _SCALED:
                kept.clear()
            kept[look] = (image.get_array(), found)
        return found

    image.make_image = made


def filled(values: Array) -> Array:
    """Fill every cell without a value from the nearest cell that has one, so that colours can be smoothed.

    Parameters:
        values: values of a map, NaN where there is none, shape (m, n) [any]

    Returns:
        the same with no NaN; zeros if there was no value at all [any]
    """
    known = np.argwhere(np.isfinite(values))
    if known.size == 0:
        return np.zeros_like(values)
    cells = np.indices(values.shape).reshape(2, -1).T
    near = known[np.argmin(np.square(cells[:, None] - known).sum(axis=2), axis=1)]
    found: Array = values[near[:, 0], near[:, 1]].reshape(values.shape)
    return found


def crossings(x: Array, y: Array) -> list[float]:
    """Find where a broken line passes zero.

    Parameters:
        x: places, rising, shape (n,) [any]
        y: values, NaN where there is none, shape (n,) [any]

    Returns:
        the places [any]
    """
    pairs = zip(x[:-1], x[1:], y[:-1], y[1:], strict=True)
    return [float(x0 + (x1 - x0) * y0 / (y0 - y1)) for x0, x1, y0, y1 in pairs if y0 * y1 < 0]


def _settle(picture: LivePicture) -> None:
    """Lay the axes out once and keep them there, so that a picture does not depend on the ones before it."""
    picture.figure.draw_without_rendering()
    picture.figure.set_layout_engine("none")


def _show_loads(view: TopView, split: Split) -> None:
    """Move the picture of the car; one that has fallen over is shown as it stands still, without loads and forces."""
    at = split.trim
    still: dict[str, Any] = {"standing": at.standing_load, "cg": float(at.cg_to_axle[0])}
    settled: dict[str, Any] = (
        {} if split.fallen else {"loads": at.load, "side": at.side_force, "steer": float(at.steer)}
    )
    view.update(**still, **settled)
