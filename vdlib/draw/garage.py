"""Where to measure: one still drawing for each step of the measuring form, its letters those of the form's boxes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from ..car.records import Car
from ..garage.form import ARCH, HUB, SILL
from .carviews import BODY, RUBBER, FrontView, SideView, TopView
from .live import AnyArtist, LivePicture
from .shapes import arrow, box, turned
from .style import FONT, ROLES, SMALLEST

SIZE = (430, 250)
"""Width and height of a drawing on the screen [screen pixels]."""
INK = "#1F2933"
TOOL = "#B5651D"
"""Colour of strings, scales, rulers and stands, which are also told by their shape."""
ALT: dict[str, str] = {
    "tyres": "A car from above, nose to the right, with letters A to D at the four tyres.",
    "floor": "A car from behind; the place under its right wheel stands higher than the other by A.",
    "heights": "A car from the side, nose right: A wheelbase, D to G from each wheel's centre straight up to the "
    "edge of its arch, left and right, H and J the wheel centres' heights.",
    "corners": "A car from above on four scales A to D, with the tracks E in front and F behind.",
    "lift": "A car from the side with its rear axle raised by B on stands and its front wheels on scales A.",
    "camber": "A car from behind, a plumb line beside each wheel, A to D read at top and bottom, E the height between; "
    "and a wheel from the side with its leaning steering axis F.",
    "toe": "A car from above between two strings: A to H from string to rim at front and rear edge of each wheel, J "
    "across a rim, K and L the widths.",
    "springs": "An axle from behind: spring A or B, wheel travel C or E, spring travel D or F, anti-roll bar G or H.",
    "curves": "A car from behind, its body raised by A, with toe B and camber C read at each height.",
    "stops": "An axle from behind: A the free shaft to the bump stop, B how far the wheel drops until it hangs; a "
    "cable tie on each damper shaft, C and D in front, E and F at the rear.",
}
"""Step → what its drawing shows, in words."""


HEIGHTS_ALT = {
    ARCH: ALT["heights"].replace("each wheel's centre", "the floor at each wheel"),
    SILL: "A car from the side, nose right: A wheelbase, B and C the distances of two sill points behind the front "
    "axle, D to G their heights left and right, H and J the wheel centres' heights.",
}
"""The same of the ride heights where they are not read from the hub."""


class Still(LivePicture):
    """A picture in which nothing moves, so that letters lie over the car and not under it."""

    def moving(self, artist: AnyArtist) -> AnyArtist:
        """Leave the artist among the still ones."""
        return artist


class Sheet:
    """One drawing: its axes, the car, and how large its letters are."""

    def __init__(self, picture: Still, axes: Axes, car: Car, letter: float, way: str = HUB) -> None:
        """Take the axes over."""
        self.picture, self.axes, self.car, self.letter, self.way = picture, axes, car, letter, way
        self.base = float(car.wheelbase)
        self.radii = (float(car.front.wheel_radius), float(car.rear.wheel_radius))

    def mark(self, x: float, y: float, text: str) -> None:
        """Write a letter in a white circle."""
        look: dict[str, Any] = {"boxstyle": "circle,pad=0.22", "facecolor": "white", "edgecolor": INK, "linewidth": 0.8}
        self.axes.text(x, y, text, ha="center", va="center", fontsize=self.letter, color=INK, bbox=look, zorder=12)

    def note(self, x: float, y: float, text: str, **look: Any) -> None:
        """Write a few words, where the drawing is large enough for them."""
        if self.letter < SMALLEST:
            return
        own: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": self.letter, "zorder": 11}
        self.axes.text(x, y, text, **(own | look))

    def span(self, start: Any, end: Any, text: str = "", at: float = 0.5, shift: Any = (0.0, 0.0)) -> None:
        """Draw a size from one point to another, its letter on the way."""
        one, two = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
        style = {"arrowstyle": "<->", "color": INK, "linewidth": 1.1, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 8}
        self.axes.annotate("", xy=tuple(two), xytext=tuple(one), arrowprops=style, zorder=10)
        if text:
            spot = one + at * (two - one) + shift
            self.mark(float(spot[0]), float(spot[1]), text)

    def line(self, points: Any, **look: Any) -> None:
        """Draw a line through points."""
        xy = np.asarray(points, dtype=float)
        own: dict[str, Any] = {"color": TOOL, "linewidth": 1.5, "zorder": 8}
        self.axes.plot(xy[:, 0], xy[:, 1], **(own | look))

    def shape(self, points: Any, **look: Any) -> None:
        """Draw a filled outline."""
        xy = np.asarray(points, dtype=float)
        own: dict[str, Any] = {"facecolor": TOOL, "edgecolor": "black", "linewidth": 0.7}
        self.axes.fill(xy[:, 0], xy[:, 1], **(own | look))

    def pad(self, x: float, y: float, width: float = 0.8, height: float = 0.5) -> None:
        """Draw one scale."""
        self.shape(np.add(box(width, height), (x, y)), facecolor="#E8D3BD", zorder=0.5)


def where(step: str, picture: Still, axes: Axes, car: Car, letter: float = FONT["note"], way: str = HUB) -> None:
    """Draw where one step's boxes are measured.

    Parameters:
        step: the step's key [-]
        picture: the picture that holds the axes [-]
        axes: axes that the drawing has to itself [-]
        car: a car to draw, for its sizes [-]
        letter: size of the letters [-]
        way: from where to where heights are read, an option of ``heights.way`` [-]

    Errors:
        ``KeyError`` for a step that does not exist.
    """
    _DRAWN[step](Sheet(picture, axes, car, letter, way))


def picture_of(step: str, car: Car, way: str = HUB) -> Still:
    """Return the drawing of one step as a picture of its own.

    Parameters:
        step: the step's key [-]
        car: a car to draw, for its sizes [-]
        way: as of ``where`` [-]

    Returns:
        a picture with its words [-]
    """
    picture = Still(*SIZE, alt_of(step, way))
    where(step, picture, picture.figure.subplots(), car, way=way)
    return picture


def alt_of(step: str, way: str) -> str:
    """Return what a step's drawing shows, in words.

    Parameters:
        step: the step's key [-]
        way: as of ``where`` [-]

    Returns:
        words [-]
    """
    return HEIGHTS_ALT.get(way, ALT[step]) if step == "heights" else ALT[step]


def _from_above(sheet: Sheet, toe: float = 0.0) -> list[tuple[float, float, float]]:
    """A car from above, nose to the right; its wheel centres and radii."""
    view = TopView(sheet.picture, sheet.axes, sheet.car)
    view.update(toe=(toe, toe))
    return list(view.centres)


def _tyres(sheet: Sheet) -> None:
    for (x, y, _), text in zip(_from_above(sheet), "ABCD", strict=True):
        sheet.mark(x, y + np.sign(y) * 0.42, text)
    sheet.note(sheet.base / 2 + 0.55, 0, "nose")


def _floor(sheet: Sheet) -> None:
    view = FrontView(sheet.picture, sheet.axes, sheet.car)
    view.update(roll=-0.03)
    half = view.track / 2
    sheet.shape([(half - 0.25, 0), (half + 0.25, 0), (half + 0.25, 0.07), (half - 0.25, 0.07)], zorder=2)
    sheet.line([(-half - 0.5, 0.0), (half + 0.62, 0.0)], linestyle=(0, (4, 2)))
    sheet.span((half + 0.42, -0.14), (half + 0.42, 0.21), "A", 0.5, (0.18, 0))
    sheet.shape(np.add(box(0.34, 0.34), (-0.34, 0.62)), facecolor="#E8D3BD", zorder=3)
    sheet.note(-0.34, 0.62, "driver's\nweight", zorder=4)
    sheet.note(-0.55, -0.22, "floor: straight edge or water level", color=TOOL)
    sheet.axes.set(ylim=(-0.4, 1.45), xlim=(-1.75, 1.75))


def _heights(sheet: Sheet) -> None:
    view = SideView(sheet.picture, sheet.axes, sheet.car)
    view.update()
    front, rear, low = sheet.base / 2, -sheet.base / 2, float(sheet.car.front.reference_height)
    sheet.span((rear, -0.62), (front, -0.62), "A")
    if sheet.way == SILL:
        points = ((front - 0.5, "DE"), (rear + 0.5, "FG"))
        for x, level, text in ((points[0][0], -0.18, "B"), (points[1][0], -0.4, "C")):
            sheet.span((x, level), (front, level), text, 0.5 if text == "B" else 0.3)
        for x, text in points:
            sheet.span((x, 0), (x, low + 0.02))
            sheet.shape(np.add(box(0.07, 0.07), (x, low + 0.03)), zorder=9)
            sheet.mark(x - 0.13, 0.33, text[0])
            sheet.mark(x + 0.13, 0.33, text[1])
    else:
        for x, radius, text in ((front, sheet.radii[0], "DE"), (rear, sheet.radii[1], "FG")):
            arch = 2 * radius + 0.09
            turn = np.linspace(0.12 * np.pi, 0.88 * np.pi, 31)
            edge = np.stack([np.cos(turn), np.sin(turn)], axis=1) * (arch - radius) + (x, radius)
            sheet.line(edge, color=INK, linewidth=2)
            sheet.span((x, radius if sheet.way == HUB else 0.0), (x, arch))
            for side, letter in ((-1, text[0]), (1, text[1])):
                sheet.mark(x + side * 0.13, arch + 0.14, letter)
    for x, radius, text in ((front, sheet.radii[0], "H"), (rear, sheet.radii[1], "J")):
        sheet.span((x, 0), (x, radius))
        sheet.mark(x + np.sign(x) * 0.42, radius / 2, text)
        sheet.line([(x, 0), (x, -0.7)], color=INK, linewidth=0.6)
    sheet.axes.set(ylim=(-0.8, 1.3))


def _corners(sheet: Sheet) -> None:
    places = _from_above(sheet)
    for (x, y, _), text in zip(places, "ABCD", strict=True):
        sheet.pad(x, y)
        sheet.mark(x, y + np.sign(y) * 0.42, text)
    for x, track, text in ((sheet.base / 2, sheet.car.front.track, "E"), (-sheet.base / 2, sheet.car.rear.track, "F")):
        sheet.span((x, -float(track) / 2), (x, float(track) / 2), text)


def _lift(sheet: Sheet) -> None:
    view = SideView(sheet.picture, sheet.axes, sheet.car)
    view.update()
    shape = np.add(view.shape, (0, float(sheet.car.front.reference_height)))
    for artist in view.artists:
        artist.set_visible(False)
    front, high = (sheet.base / 2, sheet.radii[0]), 0.5
    tip = -float(np.arcsin(high / sheet.base))
    sheet.shape(turned(shape, tip, front), **BODY, zorder=1)
    wheels = ((front, sheet.radii[0]), (turned([(-sheet.base / 2, sheet.radii[0])], tip, front)[0], sheet.radii[1]))
    circle = np.linspace(0, 2 * np.pi, 41)
    round_ = np.stack([np.cos(circle), np.sin(circle)], axis=1)
    for centre, radius in wheels:
        sheet.shape(radius * round_ + centre, **RUBBER, zorder=3)
        sheet.shape(0.6 * radius * round_ + centre, facecolor="#C8CDD1", edgecolor="none", zorder=3.1)
    sheet.pad(front[0], -0.06, 0.75, 0.12)
    sheet.mark(front[0] + 0.62, -0.05, "A")
    centre, radius = wheels[1]
    foot = float(centre[1]) - radius
    sheet.shape([(centre[0] - 0.3, 0), (centre[0] + 0.3, 0), (centre[0] + 0.12, foot), (centre[0] - 0.12, foot)])
    x = float(centre[0]) - 0.72
    sheet.span((x, sheet.radii[1]), (x, float(centre[1])), "B", 0.5, (-0.18, 0))
    for y in (sheet.radii[1], float(centre[1])):
        sheet.line([(x - 0.05, y), (centre[0], y)], color=INK, linewidth=0.7, zorder=9)
    spot = turned([(0.1, 0.52)], tip, front)[0]
    sheet.axes.plot(
        *spot, marker="o", color="white", markeredgecolor="black", markersize=9, markeredgewidth=2, zorder=9
    )
    sheet.axes.set(ylim=(-0.25, 1.95), xlim=(-2.5, 2.4))


def _camber(sheet: Sheet) -> None:
    view = FrontView(sheet.picture, sheet.axes, sheet.car)
    view.update(camber=(-0.12, -0.12))
    half, radius = view.track / 2, view.radius
    for side, text in ((-1, "A C"), (1, "B D")):
        x = side * (half + 0.32)
        sheet.line([(x, 0.02), (x, 1.05)])
        sheet.axes.plot([x], [0.02], marker="v", color=TOOL, markersize=7, zorder=9)
        for y in (radius - 0.17, radius + 0.17):
            inner = side * (half + 0.1 - 0.12 * y)
            sheet.span((inner, y), (x, y))
        for k, letter in enumerate(text.split()):
            sheet.mark(x + side * (0.17 + 0.26 * k), radius, letter)
    sheet.span((half + 1.0, radius - 0.17), (half + 1.0, radius + 0.17), "E", 0.5, (0.16, 0))
    far = half + 1.85
    circle = np.linspace(0, 2 * np.pi, 41)
    sheet.shape(radius * np.stack([np.cos(circle), np.sin(circle)], axis=1) + (far, radius), **RUBBER, zorder=3)
    lean = turned([(far, 0.0), (far, 0.95)], 0.16, (far, radius))
    sheet.line(lean, color="white", linewidth=4)
    sheet.line(lean, color="black", linewidth=2)
    sheet.line([(far, 0), (far, 0.95)], color=ROLES["reference"].colour, linestyle=(0, (3, 2)), linewidth=1.2)
    sheet.mark(far - 0.22, 1.05, "F")
    sheet.note(far, -0.18, "wheel from the side, nose right", fontsize=sheet.letter)
    sheet.note(0, -0.18, "front A B, rear C D; from behind", fontsize=sheet.letter)
    sheet.line([(-9, 0), (9, 0)], color="black", linewidth=1.2, zorder=0)
    sheet.axes.set(ylim=(-0.35, 1.4), xlim=(-half - 0.85, far + 0.6))


def _toe(sheet: Sheet) -> None:
    toe = 0.10
    places = _from_above(sheet, toe)
    out = max(float(sheet.car.front.track), float(sheet.car.rear.track)) / 2 + 0.42
    for side in (1, -1):
        sheet.line([(-sheet.base / 2 - 0.75, side * out), (sheet.base / 2 + 0.95, side * out)])
    for (x, y, radius), pair in zip(places, ("AB", "CD", "EF", "GH"), strict=True):
        side = np.sign(y)
        for edge, text in ((1, pair[0]), (-1, pair[1])):
            at = x + edge * radius * 0.8
            rim = y + side * (0.1 - edge * 0.8 * radius * toe)
            sheet.span((at, rim), (at, side * out))
            sheet.mark(at, side * (out + 0.16), text)
    x, y, radius = places[3]
    sheet.span((x - 0.8 * radius, y + 0.24), (x + 0.8 * radius, y + 0.24), "J", 0.5, (0, 0.17))
    for x, text in ((sheet.base / 2, "K"), (-sheet.base / 2, "L")):
        wide = float(sheet.car.front.track if x > 0 else sheet.car.rear.track) / 2 + 0.1
        sheet.span((x, -wide), (x, wide), text, 0.68)
    sheet.axes.set(ylim=(-out - 0.35, out + 0.35), xlim=(-sheet.base / 2 - 1.1, sheet.base / 2 + 1.2))


def _axle(sheet: Sheet, **seen: Any) -> FrontView:
    view = FrontView(sheet.picture, sheet.axes, sheet.car)
    view.update(motion_ratio=0.7, **seen)
    sheet.axes.set(ylim=(-0.35, 1.4), xlim=(-1.75, 1.75))
    return view


def _springs(sheet: Sheet) -> None:
    view = _axle(sheet, bar=True)
    half, radius = view.track / 2, view.radius
    sheet.span((half + 0.3, 0.0), (half + 0.3, 2 * radius), "C", 0.75, (0.2, 0))
    sheet.mark(half + 0.5, radius * 0.6, "E")
    sheet.mark(-half + 0.62, 0.62, "A")
    sheet.mark(-half + 0.62, 0.87, "B")
    sheet.span((half - 0.17, radius), (half - 0.3, 0.78))
    sheet.mark(half - 0.55, 0.87, "D")
    sheet.mark(half - 0.55, 0.62, "F")
    sheet.mark(-0.13, view.bottom + 0.03, "G")
    sheet.mark(0.13, view.bottom + 0.03, "H")
    sheet.note(0, -0.2, "from behind; first letter front axle, second rear", fontsize=sheet.letter)


def _curves(sheet: Sheet) -> None:
    view = _axle(sheet, camber=(-0.05, -0.05))
    ghost = np.add(view.shape, (0, 0.14))
    sheet.line(np.concatenate([ghost, ghost[:1]]), color=ROLES["reference"].colour, linestyle=(0, (4, 3)), zorder=5)
    sheet.span((0, view.bottom), (0, view.bottom + 0.14), "A", 0.5, (0.17, 0.0))
    half = view.track / 2
    for side in (-1, 1):
        sheet.shape(np.add(box(0.45, 0.03), (side * half, -0.02)), facecolor="#E8D3BD")
        sheet.axes.fill(*arrow((side * 0.55, 0.9), (0, 0.14), 0.04).T, color=ROLES["reference"].colour, zorder=6)
    sheet.axes.set(ylim=(-0.35, 1.6))
    sheet.mark(-half - 0.38, 0.15, "B")
    sheet.mark(-half - 0.38, 0.5, "C")
    sheet.note(0, -0.2, "wheels on greased sheets; string, ruler and gauge as before", fontsize=sheet.letter)


def _stops(sheet: Sheet) -> None:
    view = _axle(sheet, stop=0.09)
    half, radius = view.track / 2, view.radius
    x = view.track / 2 - 0.5
    sheet.span((x + 0.13, radius), (x + 0.13, radius + 0.09))
    sheet.mark(x + 0.13, radius - 0.13, "A")
    drop = 0.16
    circle = np.add(box(0.2, 2 * radius), (-half, radius - drop))
    sheet.line(np.concatenate([circle, circle[:1]]), color=ROLES["reference"].colour, linestyle=(0, (4, 3)))
    sheet.span((-half - 0.25, radius), (-half - 0.25, radius - drop), "B", 0.5, (-0.18, 0))
    for side, letters in ((-1, "C E"), (1, "D F")):
        for k, letter in enumerate(letters.split()):
            sheet.mark(side * 0.22 + 0.24 * (k - 0.5), 1.2, letter)
        sheet.line([(side * (half - 0.5), 0.86), (side * 0.22, 1.08)], linewidth=0.8)
    sheet.note(0, -0.26, "A shaft, C to F ties on it (front, rear); B with the car raised", fontsize=sheet.letter)


_DRAWN: dict[str, Callable[[Sheet], None]] = {
    "tyres": _tyres,
    "floor": _floor,
    "heights": _heights,
    "corners": _corners,
    "lift": _lift,
    "camber": _camber,
    "toe": _toe,
    "springs": _springs,
    "curves": _curves,
    "stops": _stops,
}
