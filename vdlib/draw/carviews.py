"""A car from above, from the side and from behind, with its wheel loads: artists that move, on one pair of axes each.

Distances are in metres; the nose points right in the side view, right or up from above; from behind, left is left.
Angles and height changes are exaggerated ``times`` times. A load is an area from above and an arrow elsewhere.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from ..car.records import Car
from ..units import Array
from .live import LivePicture
from .shapes import NOTHING, View, arrow, box, kilograms, turned
from .style import ROLES

BODY = {"facecolor": "#E9EDF0", "edgecolor": "#8A949C", "linewidth": 1.2}
RUBBER = {"facecolor": "#3A3F44", "edgecolor": "black", "linewidth": 0.8}
FULL_LOAD = 3000.0
"""Load whose circle has the radius ``FULL_RADIUS`` and whose arrow is as long [N]."""
FULL_RADIUS = 0.36
_ROUND = np.linspace(0, 2 * np.pi, 41)


class TopView(View):
    """The car from above; loads are the areas of circles, the dashed rings what each wheel carries standing still."""

    def __init__(self, picture: LivePicture, axes: Axes, car: Car, nose: str = "right") -> None:
        """Draw the car with its nose "right" or "up"."""
        self.up = nose == "up"
        self.base, self.tracks = float(car.wheelbase), (float(car.front.track), float(car.rear.track))
        long, wide = self.base / 2 + 1.05, max(self.tracks) / 2 + 0.75
        limits = ((-long, long), (-wide, wide))
        super().__init__(picture, axes, *(limits[::-1] if self.up else limits))
        width = max(self.tracks) / 2 + 0.1
        nose_x, tail = self.base / 2 + 0.8, -self.base / 2 - 0.75
        right = [(tail + 0.1, -width), (self.base / 2, -width), (nose_x - 0.2, -0.8 * width), (nose_x, -0.4 * width)]
        outline = [*right, *((x, -y) for x, y in reversed(right)), (tail, 0.7 * width), (tail, -0.7 * width)]
        self.axes.add_patch(Polygon(self._at(outline), closed=True, zorder=1, **BODY))
        glass = [(-0.75, -0.5), (0.15, -0.45), (0.45, -0.62), (0.45, 0.62), (0.15, 0.45), (-0.75, 0.5)]
        self.axes.add_patch(Polygon(self._at(glass), closed=True, zorder=1.1, facecolor="#CBD5DC", edgecolor="none"))
        ring = {"facecolor": "none", "edgecolor": ROLES["reference"].colour, "linestyle": (0, (3, 2)), "linewidth": 1.4}
        self.centres, self.rings, self.areas, self.wheels, self.labels = [], [], [], [], []
        for axle, track, role, radius in zip((1, -1), self.tracks, ("front", "rear"), _radii(car), strict=True):
            for side in (1, -1):
                self.centres.append((axle * self.base / 2, side * track / 2, radius))
                look = {"facecolor": ROLES[role].colour, "edgecolor": "black", "linewidth": 0.8, "alpha": 0.55}
                self.areas.append(self.patch(2, **look))
                self.rings.append(self.patch(3, **ring))
                self.wheels.append(self.patch(4, **RUBBER))
                self.labels.append(self.text())
        self.side = [
            self.patch(5, facecolor=ROLES[r].colour, edgecolor="black", linewidth=0.7) for r in ("front", "rear")
        ]
        self.heading = [self.line(4.5, color="black", linestyle=(0, (4, 3)), linewidth=1.3) for _ in range(2)]
        self.going = [
            self.patch(5, facecolor=ROLES["toward_understeer"].colour, edgecolor="black", linewidth=0.7)
            for _ in range(2)
        ]
        self.centre = self.line(6, marker="o", color="white", markeredgecolor="black", markersize=9, markeredgewidth=2)
        self.neutral = self.line(6.1, marker="D", color="#E69F00", markeredgecolor="black", markersize=9)

    def _at(self, points: Any) -> Array:
        """Put points of the car (x forward, y left) on the page."""
        xy = np.asarray(points, dtype=float)
        return np.stack([-xy[..., 1], xy[..., 0]], axis=-1) if self.up else xy

    def update(
        self,
        loads: Any = None,
        standing: Any = None,
        steer: Any = 0.0,
        toe: Any = (0.0, 0.0),
        thrust: Any = 0.0,
        slip: Any = None,
        side: Any = None,
        cg: Any = None,
        neutral: Any = None,
        times: float = 1.0,
    ) -> None:
        """Move the picture.

        Parameters:
            loads: wheel loads, shape (2, 2); circles and kilograms, none if left out [N]
            standing: the dashed rings' loads, shape (2, 2) [N]
            steer: steer angle, left positive [rad]
            toe: toe-in of each front and each rear wheel [rad]
            thrust: angle by which both rear wheels point left of straight on [rad]
            slip: slip angles front and rear; arrows of where each axle goes [rad]
            side: side force of each axle, left positive; arrows [N]
            cg: distance of the centre of gravity behind the front axle; a ring [m]
            neutral: distance of the neutral steer point behind the front axle; a diamond [m]
            times: how many times angles are exaggerated [-]
        """
        point = (steer, steer, thrust, thrust)
        for i, (x, y, radius) in enumerate(self.centres):
            angle = times * (point[i] - np.sign(y) * toe[i // 2])
            self.wheels[i].set_xy(self._at(np.add(turned(box(2 * radius, 0.2), angle), (x, y))))
            for patch, given in ((self.areas[i], loads), (self.rings[i], standing)):
                size = FULL_RADIUS * np.sqrt((0.0 if given is None else float(given[i // 2][i % 2])) / FULL_LOAD)
                circle = np.stack([x + size * np.cos(_ROUND), y + size * np.sin(_ROUND)], axis=1)
                patch.set_xy(self._at(circle) if size > 0 else NOTHING)
            self.labels[i].set_text("" if loads is None else kilograms(loads[i // 2][i % 2]))
            away = 0.68 if self.up else 0.58
            self.labels[i].set_position(
                self._at((x - (0.55 if self.up else 0) * np.sign(x), y + np.sign(y) * (0.42 if self.up else away)))
            )
        for i, (x, head) in enumerate(((self.base / 2, steer), (-self.base / 2, thrust))):
            go = None if slip is None else times * (head - slip[i])
            ray = np.array([[0, 0], [0.95, 0]])
            line = self._at(np.add(turned(ray, times * head), (x, 0))) if go is not None else NOTHING
            self.heading[i].set_data(line[:, 0], line[:, 1])
            self.going[i].set_xy(NOTHING if go is None else self._at(arrow((x, 0), turned(ray, go)[1])))
            force = 0.0 if side is None else float(side[i]) / FULL_LOAD * FULL_RADIUS
            self.side[i].set_xy(self._at(arrow((x, 0), (0, force), 0.08)))
        for marker, behind in ((self.centre, cg), (self.neutral, neutral)):
            spot = NOTHING if behind is None else self._at([(self.base / 2 - behind, 0)])
            marker.set_data(spot[:, 0], spot[:, 1])


class SideView(View):
    """The car from its right side, nose to the right, on level ground."""

    def __init__(self, picture: LivePicture, axes: Axes, car: Car) -> None:
        """Draw the car standing at its reference heights."""
        self.base, self.radii = float(car.wheelbase), _radii(car)
        self.reference = (float(car.front.reference_height), float(car.rear.reference_height))
        super().__init__(picture, axes, (-self.base / 2 - 1.05, self.base / 2 + 1.05), (-0.75, 1.65))
        axes.plot([-9, 9], [0, 0], color="black", linewidth=1.5, zorder=0)
        front, rear = self.base / 2, -self.base / 2
        tail = [(rear - 0.72, 0.08), (rear - 0.75, 0.55), (rear - 0.1, 0.62), (rear + 0.75, 0.98)]
        nose = [(0.1, 1.0), (0.75, 0.6), (front + 0.3, 0.5), (front + 0.8, 0.28), (front + 0.82, 0.04)]
        self.shape = np.array([*tail, *nose])
        self.body = self.patch(1, **BODY)
        self.tyres = [self.patch(3, **RUBBER) for _ in range(2)]
        self.rims = [self.patch(3.1, facecolor="#C8CDD1", edgecolor="none") for _ in range(2)]
        self.heights = [
            self.line(5, color=ROLES[r].colour, linewidth=3, marker="_", markersize=11, markeredgewidth=2.5)
            for r in ("front", "rear")
        ]
        self.loads = [
            self.patch(4, facecolor=ROLES[r].colour, edgecolor="black", linewidth=0.7) for r in ("front", "rear")
        ]
        self.labels = [self.text() for _ in range(2)]
        self.axis = self.line(6, color="black", linewidth=2.5)
        self.anti = self.line(5.5, color="black", linewidth=2, linestyle=(0, (4, 2)))
        self.upright = self.line(5.5, color=ROLES["reference"].colour, linewidth=1.5, linestyle=(0, (3, 2)))
        self.centre = self.line(6, marker="o", color="white", markeredgecolor="black", markersize=10, markeredgewidth=2)
        self.push = self.patch(6, facecolor=ROLES["toward_oversteer"].colour, edgecolor="black", linewidth=0.7)
        self.size = self.line(5, color="black", linewidth=1.4, marker="|", markersize=12)

    def update(
        self,
        heights: Any = None,
        loads: Any = None,
        labels: Any = None,
        cg: Any = None,
        push: Any = 0.0,
        caster: Any = None,
        anti: Any = None,
        wheelbase: Any = None,
        times: float = 1.0,
    ) -> None:
        """Move the picture.

        Parameters:
            heights: ride heights front and rear; the reference ones if left out [m]
            loads: axle loads; arrows under the wheels [N]
            labels: words under the two axles; the loads if left out [-]
            cg: distance behind the front axle and height of the centre of gravity [m]
            push: what the leaning-forward mass pushes with, forward positive; an arrow [N]
            caster: lean of the front steering axis; a line through the front wheel [rad]
            anti: slope of the line along which the front braking force reaches the body [rad]
            wheelbase: wheelbase to draw and mark instead of the car's own [m]
            times: how many times height changes and caster are exaggerated [-]
        """
        given = self.reference if heights is None else heights
        front, rear = (r + times * (float(h) - r) for h, r in zip(given, self.reference, strict=True))
        base = wheelbase or self.base
        ends = (base / 2, -base / 2)
        along = self.shape[:, 0] * base / self.base

        def under(x: Any) -> Any:
            return rear + (front - rear) * (x - ends[1]) / base

        self.body.set_xy(np.stack([along, self.shape[:, 1] + under(along)], axis=1))
        for i, x in enumerate(ends):
            radius = self.radii[i]
            wheel = np.stack([np.cos(_ROUND), np.sin(_ROUND)], axis=1)
            self.tyres[i].set_xy(radius * wheel + (x, radius))
            self.rims[i].set_xy(0.6 * radius * wheel + (x, radius))
            near = x - np.sign(x) * 0.48
            self.heights[i].set_data(*(([near, near], [0, under(near)]) if heights is not None else ([], [])))
            length = 0.0 if loads is None else 0.5 * float(loads[i]) / (3 * FULL_LOAD)
            self.loads[i].set_xy(arrow((x, -length), (0, length), 0.13))
            words = labels[i] if labels is not None else "" if loads is None else kilograms(loads[i])
            self.labels[i].set_text(words)
            self.labels[i].set_position((x, -0.62) if loads is not None else (near, -0.17))
        lean, radius = (0.0 if caster is None else times * caster), self.radii[0]
        line = np.add(turned([(0, -radius), (0, 0.55)], lean), (ends[0], radius))
        self.axis.set_data(*((line[:, 0], line[:, 1]) if caster is not None else ([], [])))
        self.upright.set_data(*(([ends[0]] * 2, [0, radius + 0.55]) if caster is not None else ([], [])))
        ray = ([], []) if anti is None else ([ends[0], ends[0] - 1.9], [0, 1.9 * np.tan(times * anti)])
        self.anti.set_data(*ray)
        spot = None if cg is None else (ends[0] - cg[0], cg[1])
        self.centre.set_data(*(([spot[0]], [spot[1]]) if spot is not None else ([], [])))
        self.push.set_xy(NOTHING if spot is None else arrow(spot, (push / FULL_LOAD * FULL_RADIUS, 0), 0.08))
        self.size.set_data(*((list(ends), [-0.2, -0.2]) if wheelbase is not None else ([], [])))


class FrontView(View):
    """One axle and the body seen from behind, so that left is left; the wheels stay on the ground."""

    def __init__(self, picture: LivePicture, axes: Axes, car: Car, axle: str = "front") -> None:
        """Draw the "front" or "rear" axle of the car."""
        own = car.front if axle == "front" else car.rear
        self.track, self.radius = float(own.track), float(own.wheel_radius)
        self.bottom, self.role = float(own.reference_height), axle
        super().__init__(picture, axes, (-self.track / 2 - 0.7, self.track / 2 + 0.7), (-0.75, 1.65))
        axes.plot([-9, 9], [0, 0], color="black", linewidth=1.5, zorder=0)
        half, low = self.track / 2 - 0.28, self.bottom
        right = [(half, low), (half, 0.55), (half + 0.22, 0.68), (half + 0.18, 0.85), (0.55 * half, 1.3)]
        self.shape = np.array([*right, *((-x, z) for x, z in reversed(right))])
        self.body = self.patch(1, **BODY)
        self.wheels = [self.patch(3, **RUBBER) for _ in range(2)]
        self.links = [self.line(2.5, color="#5B646B", linewidth=3.5, solid_capstyle="round") for _ in range(2)]
        self.springs = [self.line(4, color=ROLES[axle].colour, linewidth=2) for _ in range(2)]
        self.stops = [
            self.patch(4.1, facecolor=ROLES["toward_oversteer"].colour, edgecolor="black", linewidth=0.7)
            for _ in range(2)
        ]
        self.bar = self.line(4.2, color="black", linewidth=3)
        self.arm = self.line(5, color="black", linewidth=1.6, linestyle=(0, (4, 2)))
        self.roll_centre = self.line(6, marker="D", color="#E69F00", markeredgecolor="black", markersize=10)
        self.centre = self.line(6, marker="o", color="white", markeredgecolor="black", markersize=10, markeredgewidth=2)
        self.push = self.patch(6, facecolor=ROLES["toward_oversteer"].colour, edgecolor="black", linewidth=0.7)
        self.loads = [self.patch(4, facecolor=ROLES[axle].colour, edgecolor="black", linewidth=0.7) for _ in range(2)]
        self.labels = [self.text() for _ in range(2)]

    def update(
        self,
        roll: Any = 0.0,
        rise: Any = 0.0,
        camber: Any = (0.0, 0.0),
        loads: Any = None,
        roll_centre: Any = None,
        cg: Any = None,
        push: Any = 0.0,
        stop: Any = None,
        motion_ratio: Any = 1.0,
        bar: bool = False,
        width: Any = 1.0,
        track: Any = None,
        squash: Any = 0.0,
        times: float = 1.0,
    ) -> None:
        """Move the picture.

        Parameters:
            roll: lean of the body, right side down positive [rad]
            rise: rise of the body from where it stands [m]
            camber: camber left and right, negative with the top leaning in [rad]
            loads: wheel loads left and right; arrows and kilograms [N]
            roll_centre: height of the roll centre; the body turns about it [m]
            cg: height of the centre of gravity [m]
            push: what the mass pushes with, to the right positive; an arrow [N]
            stop: gap left above each wheel's bump stop, body level [m]
            motion_ratio: how far out along its arm each spring stands; 1 is at the wheel [-]
            bar: whether the anti-roll bar is seen [-]
            width: width of the tyres over the usual [-]
            track: track to draw instead of the car's own [m]
            squash: how much lower the tyres are than drawn at the start; the body does not follow on its own [m]
            times: how many times lean, rise, gap and squash are exaggerated [-]
        """
        about = (0.0, roll_centre or 0.0)
        lean = -times * roll

        def body(points: Any) -> Array:
            return np.add(turned(points, lean, about), (0, times * rise))

        self.body.set_xy(body(self.shape))
        ends, hub = [], self.radius - times * squash
        for i, side in enumerate((-1, 1)):
            middle = np.array([side * (track or self.track) / 2, hub])
            tilt = -side * times * camber[i]
            tyre = np.add(box(0.2 * width, self.radius + hub), (middle[0], 0.5 * (self.radius + hub)))
            self.wheels[i].set_xy(turned(tyre, tilt, (middle[0], 0)))
            inner = middle - (side * (0.15 + 0.45 * (1 - min(motion_ratio, 1.0))), 0.02)
            top = body([np.add(inner, (-side * 0.14, 0.44))])[0]
            zigzag = inner + np.linspace(0, 1, 11)[:, None] * (top - inner)
            zigzag[1:-1, 0] += 0.05 * np.resize([1, -1], 9)
            self.springs[i].set_data(*zigzag.T)
            pivot = body([(side * 0.3, self.radius - 0.02)])[0]
            self.links[i].set_data([middle[0], pivot[0]], [hub - 0.02, pivot[1]])
            foot = self.radius + min(times * (stop or 0.0), 0.4)
            post = [
                (side * (self.track / 2 - 0.5) + x, z)
                for x, z in ((-0.05, foot), (0.05, foot), (0.05, 0.78), (-0.05, 0.78))
            ]
            self.stops[i].set_xy(body(post) if stop is not None else NOTHING)
            ends.append((inner, body([(side * 0.35, self.bottom + 0.16)])[0]))
            length = 0.0 if loads is None else 0.5 * float(loads[i]) / (1.5 * FULL_LOAD)
            self.loads[i].set_xy(arrow((middle[0], -length), (0, length), 0.1))
            self.labels[i].set_text("" if loads is None else kilograms(loads[i]))
            self.labels[i].set_position((middle[0], -0.65))
        twist = np.array([ends[0][0], ends[0][1], ends[1][1], ends[1][0]])
        self.bar.set_data(*(twist.T if bar else ([], [])))
        self.roll_centre.set_data(*(([0], [about[1] + times * rise]) if roll_centre is not None else ([], [])))
        spot = None if cg is None else body([(0, cg)])[0]
        self.centre.set_data(*(([spot[0]], [spot[1]]) if spot is not None else ([], [])))
        joined = NOTHING if spot is None or roll_centre is None else np.array([(0, about[1] + times * rise), spot])
        self.arm.set_data(*joined.T)
        self.push.set_xy(NOTHING if spot is None else arrow(spot, (push / FULL_LOAD * FULL_RADIUS, 0), 0.08))


def _radii(car: Car) -> tuple[float, float]:
    return float(car.front.wheel_radius), float(car.rear.wheel_radius)


top_view, side_view, front_view = TopView, SideView, FrontView
"""Each adds its view of a car to axes of a picture, and gives an object that ``update`` moves."""
