"""One moment of the film as a picture, for print, the README and tests: the same places and words as in the browser."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.patches import Circle, FancyArrowPatch, Polygon, Rectangle

from ..answers.film import BEFORE, Film
from ..answers.film_words import sentence
from ..car.records import Car
from ..shown import label_for
from ..units import Array
from .live import LivePicture
from .stage_layout import COLOURS, PLAN, Stage, frame, layout, outline

CAUTION = (
    "Cars are drawn three times too large. A teaching model: it tells two setups apart and forecasts no car. "
    "Never look for the limit on a public road."
)
"""The line that stands under the film, and in every picture of it."""
RIM = "#C8CDD1"
GHOSTS = (0.35, 0.7)  # how long before now the last ghost of a car stands, and how far apart they are [s]


class StagePicture:
    """The film's moments drawn one at a time, in the stage's own units."""

    def __init__(self, car: Car, caution: str = "", scale: float = 1.5) -> None:
        """Start the picture of one car with this sharpness [-]; the caution stands under it."""
        self.shape = outline(car)
        self.caution = caution
        self.high = PLAN["height"] + (32 if caution else 0)
        self.picture = LivePicture(
            PLAN["width"], self.high, "One corner twice from above, and what the tail stands on."
        )
        self.picture.figure.set_layout_engine("none")
        self.axes = self.picture.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.at: Stage = {}

    def draw(self, film: Film, state: int, speed: int, time: float) -> None:
        """Draw one moment.

        Parameters:
            film: the film [-]
            state: which state is on the right [-]
            speed: which of the film's speeds [-]
            time: the moment [s]
        """
        self.film, self.at = film, layout(film, self.shape, state, speed, time)
        self.axes.clear()
        self.axes.set(xlim=(0, PLAN["width"]), ylim=(self.high, 0))
        self.axes.set_axis_off()
        self.picture.alt = f"The same corner twice from above. {sentence(film, state, speed)}"
        for i, (view, k) in enumerate(zip(PLAN["views"], (0, state), strict=True)):
            self._view(view, k, speed, time, shown=i == 1)
        self._driver()
        x, y, wide, _ = PLAN["views"][1]
        at, side = (x + wide - 4, "right") if film.turn > 0 else (x + 4, "left")  # outside the corner, beside the road
        self._text(self.at["clock"], at, y + 16, 13, COLOURS["muted"], side)
        self._side()
        head = "Outer rear: wheel travel to the bump stop"
        self._text(head, PLAN["side"][0], PLAN["rear"][0][1] - 20, 11, bold=True)
        for i, box in enumerate(PLAN["rear"]):
            self._rear(self.at["rear"][i], box, shown=i == 1)
        self._strip(state)
        if self.caution:
            first, _, second = self.caution.partition(". ")
            self._text(f"{first}.", 6, self.high - 19, 10.5, COLOURS["muted"])
            self._text(second, 6, self.high - 5, 10.5, COLOURS["muted"])
        self.picture.refresh_background()

    # ---- pens ----------------------------------------------------------------------------------------------------

    def _text(
        self, said: str, x: float, y: float, size: float, colour: str = "black", align: str = "left", bold: bool = False
    ) -> Any:
        weight = "bold" if bold else "normal"
        return self.axes.text(x, y, said, fontsize=size, color=colour, ha=align, va="baseline", fontweight=weight)

    def _shape(self, points: Any, fill: str, edge: str = "none", width: float = 1.0, strength: float = 1.0) -> Any:
        look: dict[str, Any] = {"facecolor": fill, "edgecolor": edge, "linewidth": width, "alpha": strength}
        return self.axes.add_artist(Polygon(np.asarray(points), closed=True, **look))

    def _line(self, points: Any, colour: str, width: float = 1.0, dashes: Any = "-", **more: Any) -> Any:
        xy = np.asarray(points, dtype=float)
        return self.axes.plot(xy[:, 0], xy[:, 1], color=colour, linewidth=width, linestyle=dashes, **more)[0]

    def _clip(self, artists: list[Any], view: list[float]) -> None:
        window = Rectangle((view[0], view[1]), view[2], view[3], transform=self.axes.transData)
        for artist in artists:
            artist.set_clip_path(window)

    # ---- the corner from above -----------------------------------------------------------------------------------

    def _view(self, view: list[float], state: int, speed: int, time: float, shown: bool) -> None:
        film, one = self.film, self.at["cars"][int(shown)]
        scale, left, bottom = frame(film)
        x, y, wide, high = view
        ink, fill = (COLOURS["now"], COLOURS["shown"]) if shown else (COLOURS["reference"], COLOURS["body"])
        around = np.linspace(0, 2 * np.pi, 400)
        middle = np.array([x + left - film.turn * scale * film.radius, y + bottom])
        rings = [middle + scale * r * np.stack([np.cos(around), np.sin(around)], axis=1) for r in self._edges()]
        made = [self._shape(np.concatenate([rings[1], rings[0][::-1]]), COLOURS["road"])]
        made += [self._line(ring, COLOURS["edge"], 1.5) for ring in rings]
        line = np.add(self.at["line"], (x, y))
        made.append(self._line(line, COLOURS["arrow"], 2))
        align = "right" if film.turn > 0 else "left"
        self._text("foot lifts", line[0][0] - 5 * film.turn, line[0][1] + 4, 12, COLOURS["arrow"], align)
        alive = film.time <= min(time, float(film.ends[state, speed]))
        track = np.stack([film.y[alive, state, speed], film.x[alive, state, speed]], axis=1)
        points = np.array([x + left, y + bottom]) - scale * track
        made.append(self._line(points, ink, 2, "-" if shown else (0, (3, 2))))
        for ghost in np.arange(BEFORE, time - GHOSTS[0], GHOSTS[1]):
            if ghost < film.ends[state, speed]:
                at = layout(film, self.shape, state, speed, float(ghost))["cars"][int(shown)]
                made += self._body(at, fill, ink, 0.28)
        made += self._body(one, fill, ink)
        made.append(self._arrow(one["at"], one["arrow"]))
        for artist in made[5:]:
            artist.set_zorder(5)
        self._clip(made, view)
        at, side = (x + 8, "left") if film.turn > 0 else (x + wide - 8, "right")
        self._text(one["name"], at, y + high - 46, min(15.0, 365 / len(one["name"])), ink, side, bold=True)
        if one["ended"]:
            self._text(one["stops"], at, y + high - 62, 11, COLOURS["muted"], side)
        size = min(27.0, 400 / len(one["out"]))
        self._text(one["out"], at, y + high - 14, size, COLOURS["arrow"] if one["lost"] else ink, side, bold=True)

    def _edges(self) -> list[float]:
        return [self.film.radius - 0.5 * self.film.width, self.film.radius + 0.5 * self.film.width]

    def _place(self, points: Any, at: Any, heading: float, scale: float) -> Array:
        """Points of the car (x forward, y left, metres) on the stage."""
        xy, cos, sin = np.asarray(points, dtype=float), np.cos(heading), np.sin(heading)
        ahead, left = cos * xy[:, 0] - sin * xy[:, 1], sin * xy[:, 0] + cos * xy[:, 1]
        return np.asarray(at) - scale * np.stack([left, ahead], axis=1)

    def _body(self, one: Stage, fill: str, edge: str, strength: float = 1.0) -> list[Any]:
        scale, made = frame(self.film)[0] * PLAN["times"], []
        for x, y, radius in self.shape["wheels"]:
            turn = one["steer"] if x > 0 else 0.0
            tyre = np.array([[-1.1, -0.13], [1.1, -0.13], [1.1, 0.13], [-1.1, 0.13]]) * (radius, 1.0)
            cos, sin = np.cos(turn), np.sin(turn)
            tyre = np.stack([cos * tyre[:, 0] - sin * tyre[:, 1], sin * tyre[:, 0] + cos * tyre[:, 1]], axis=1)
            points = self._place(np.add(tyre, (x, 1.04 * y)), one["at"], one["heading"], scale)
            made.append(self._shape(points, COLOURS["rubber"], strength=strength))
        for points, paint, rim in ((self.shape["body"], fill, edge), (self.shape["glass"], COLOURS["glass"], "none")):
            made.append(self._shape(self._place(points, one["at"], one["heading"], scale), paint, rim, 1.8, strength))
        return made

    def _arrow(self, start: Any, end: Any) -> Any:
        look: dict[str, Any] = {"color": COLOURS["arrow"], "linewidth": 3.2, "arrowstyle": "-|>", "mutation_scale": 16}
        return self.axes.add_artist(FancyArrowPatch(tuple(start), tuple(end), shrinkA=0, shrinkB=0, **look))

    def _driver(self) -> None:
        x, y, wide, high = PLAN["views"][0]
        at = (x + 30 if self.film.turn > 0 else x + wide - 84, y + high - 114)
        self.axes.add_artist(Circle((at[0] + 44, at[1]), 18, fill=False, linewidth=3.5))
        turn = self.at["cars"][0]["hands"]
        for spoke in ([[-17, 0], [17, 0]], [[0, 0], [0, 17]]):
            xy, cos, sin = np.array(spoke), np.cos(turn), np.sin(turn)
            turned = np.stack([cos * xy[:, 0] + sin * xy[:, 1], -sin * xy[:, 0] + cos * xy[:, 1]], axis=1)
            self._line(np.add(turned, (at[0] + 44, at[1])), "black", 3)
        lift, x0, y0 = self.at["foot"], at[0] - 14, at[1] + 18
        self._line([[x0 - 10, y0 + 3], [x0 + 36, y0 + 3]], COLOURS["muted"], 1.5)
        self._line([[x0 + 31, y0 + 2], [x0 + 38 - 11 * lift, y0 - 30]], "black", 4)
        leg = [[x0 - 8, y0 - 30], [x0, y0 - 3], [x0 + 29 - 15 * lift, y0 - 18 - 13 * lift]]
        for colour, width in (("black", 11.0), (COLOURS["arrow"] if lift > 0.5 else COLOURS["good"], 8.0)):
            self._line(leg, colour, width, solid_capstyle="round", solid_joinstyle="round")
        left = self.film.turn > 0
        self._text(
            self.at["driver"], x + 8 if left else x + wide - 8, at[1] + 36, 12, align="left" if left else "right"
        )

    # ---- heights and the tail's suspension -----------------------------------------------------------------------

    def _side(self) -> None:
        one, shape = self.at["side"], self.shape
        x, y, wide, _ = PLAN["side"]
        ground, scale, half = one["ground"], one["scale"], shape["base"] / 2
        self._text(f"From the side (heights × {PLAN['heights']:g})", x, y + 11, 12, bold=True)
        self._line([[x, ground[1]], [x + wide, ground[1]]], "black", 1.5)
        points, clear = np.array(shape["side"]), shape["clear"]
        part = (points[:, 0] + half) / shape["base"]
        for rise, fill, edge, dashes in (
            (one["rise"], COLOURS["shown"], "black", "-"),
            ([0.0, 0.0], "none", COLOURS["reference"], (0, (4, 3))),
        ):
            under = clear[1] + rise[1] + part * (clear[0] + rise[0] - clear[1] - rise[1])
            body = np.stack([ground[0] + scale * points[:, 0], ground[1] - scale * (points[:, 1] + under)], axis=1)
            self._shape(body, fill, edge, 1.5).set_linestyle(dashes)
        for along, radius in zip((half, -half), shape["radii"], strict=True):
            at = (ground[0] + scale * along, ground[1] - scale * radius)
            self.axes.add_artist(Circle(at, scale * radius, facecolor=COLOURS["rubber"], edgecolor="black", zorder=3))
            self.axes.add_artist(Circle(at, 0.55 * scale * radius, facecolor=RIM, zorder=3))
        self._text(one["rear"], x, ground[1] + 14, 13, COLOURS["rear"], bold=True)
        self._text(one["front"], x + wide, ground[1] + 14, 13, COLOURS["front"], "right", bold=True)

    def _rear(self, one: Stage, box: list[float], shown: bool) -> None:
        x, y, wide, high = box
        middle, top, (standing, corner), rubber = x + wide / 2, y + 10, one["top"], one["rubber"]
        ink = COLOURS["now"] if shown else COLOURS["reference"]
        tone = COLOURS["arrow"] if one["pressed"] else COLOURS["good"]
        self._text(one["name"], middle, y - 5, 11, ink, "center", bold=True)
        self.axes.add_artist(Rectangle((x + 26, y), wide - 52, 10, facecolor=COLOURS["edge"]))
        bottom = max(y + high - 31, corner + 12)
        look: dict[str, Any] = {"facecolor": RIM, "edgecolor": COLOURS["muted"]}
        self.axes.add_artist(Rectangle((middle - 12, corner), 24, bottom - corner, **look))
        self._line([[middle, top], [middle, corner]], COLOURS["muted"], 4)
        bulge = 6 if one["pressed"] else 0
        right = [(15.0, top), (12.0 + bulge, 0.5 * (top + rubber)), (9.0 + bulge / 2, rubber)]
        around = [(middle + a, b) for a, b in right] + [(middle - a, b) for a, b in reversed(right)]
        self._shape(around, COLOURS["arrow"] if one["pressed"] else COLOURS["rubber"], "black").set_zorder(3)
        at, word = middle + 24, "rubber" if one["pressed"] else "gap"
        if not one["pressed"]:
            self._line([[at, rubber], [at, corner]], tone, 2)
            for level in (rubber, corner):
                self._line([[at - 5, level], [at + 5, level]], tone, 2)
        between = (top + rubber) if one["pressed"] else (rubber + corner)
        self._text(word, at + (0 if one["pressed"] else 5), 0.5 * between + 4, 11, tone)
        self._line([[middle - 30, standing], [middle + 20, standing]], COLOURS["reference"], 1.3, (0, (4, 3)), zorder=4)
        self._text(one["standing"], middle, y + high - 16, 11, COLOURS["reference"], "center")
        self._text(one["corner"], middle, y + high - 1, 10, tone, "center", bold=True)

    # ---- the speed strip -----------------------------------------------------------------------------------------

    def _strip(self, state: int) -> None:
        (x, y, wide, _), now = PLAN["strip"], self.at["strip"]
        rows, states, step = now["rows"], self.film.states, now["step"]
        thick = step - 3
        self._text(now["title"], 4, y - 26, 13, bold=True)
        for i, (row, one) in enumerate(zip(rows, states, strict=True)):
            self.axes.add_artist(Rectangle((x, row["y"]), wide, thick, facecolor=COLOURS["lost"]))
            use = "reference" if i == 0 else "shown" if i == state else "driver" if one.foot < 1 else "holds"
            strength = 1.0 if i in (0, state) else 0.55
            look: dict[str, Any] = {"facecolor": COLOURS[use], "alpha": strength}
            self.axes.add_artist(Rectangle((x, row["y"]), row["end"] - x, thick, **look))
            ink = "white" if i == 0 else "black"
            self._text(row["text"], row["end"] - 5, row["y"] + thick - 2, 12, ink, "right", bold=True)
            self._text(one.name, 10, row["y"] + thick - 1, 12, bold=i == state)
        self._text(now["beyond"], x + wide - 6, rows[0]["y"] + thick - 2, 11, COLOURS["arrow"], "right")
        bottom = y + step * len(rows) - 2
        self._line([[now["now"], y - 8], [now["now"], bottom]], "black", 2.5)
        tip = [(now["now"] - 6, y - 8), (now["now"] + 6, y - 8), (now["now"], y - 2)]
        self._shape(tip, "black")
        align = "right" if now["now"] > x + wide - 60 else "center"
        self._text(f"film: {now['speed']}", now["now"], y - 10, 12, "black", align, bold=True)
        for at, said in now["ticks"]:
            self._text(said, at, bottom + 13, 11, COLOURS["muted"], "center")
        self._text(label_for("kmh"), x - 12, bottom + 13, 11, COLOURS["muted"], "right")
