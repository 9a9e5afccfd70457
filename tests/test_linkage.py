"""Roll centres put to the proof: a car with real double wishbones, every link a bar with two ends, against the trim.

Front view, both axles, one rigid body between them. Each wheel's hub hangs on an upper and a lower link; each link
pulls or pushes along itself; the tyre carries load and side force at the road. All equilibria and link lengths are
solved at once, without a word of roll centres. The trim then gets those axles' roll centres, found from the links'
instant centres as they stand, once fixed and once moving with the body as ``roll_centre_slope`` has it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import brentq, root

from vdlib.car import examples
from vdlib.car.records import AxleSetup, Car, Moment, Setup
from vdlib.trim.trim import Trim, trim
from vdlib.units import G

pytestmark = pytest.mark.analytic
SIDES = (1.0, -1.0)
MASS, BASE, CG_HEIGHT, UNSPRUNG, RADIUS, TYRE = 1160.0, 2.45, 0.47, (70.0, 80.0), 0.30, 210e3
SHARE = 0.45  # front
WHEEL_RATE, BAR = (27e3, 36e3), (14e3, 7e3)  # [N/m], [N·m/rad]
HALF = (0.74, 0.75)
# Pivots of the left side, standing: lateral from the middle and height [m]; invented, of ordinary proportions.
LINKS = (
    {"lower": ((0.32, 0.158), (0.690, 0.150)), "upper": ((0.40, 0.378), (0.655, 0.400))},
    {"lower": ((0.30, 0.175), (0.700, 0.155)), "upper": ((0.42, 0.385), (0.660, 0.405))},
)  # fmt: skip


def turned(angle: float) -> np.ndarray:
    """Turn of the front view plane (y left, z up), right side down positive."""
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def cross(arm: np.ndarray, force: np.ndarray) -> float:
    return float(arm[0] * force[1] - arm[1] * force[0])


@dataclass
class Side:
    """One wheel's links: inner ends in the body, outer ends in the hub (from the wheel centre), lengths."""

    inner: np.ndarray
    outer: np.ndarray
    length: np.ndarray
    centre: np.ndarray
    foot: np.ndarray


def side_of(axle: int, j: int) -> Side:
    flip = np.array([SIDES[j], 1.0])
    inner = np.array([LINKS[axle][k][0] for k in ("lower", "upper")]) * flip
    outer = np.array([LINKS[axle][k][1] for k in ("lower", "upper")]) * flip
    centre = np.array([HALF[axle] * SIDES[j], RADIUS])
    return Side(inner, outer - centre, np.linalg.norm(outer - inner, axis=1), centre, np.array([0.0, -RADIUS]))


AXLES = [[side_of(i, j) for j in (0, 1)] for i in (0, 1)]
STANDING = np.array([SHARE, 1 - SHARE]) * MASS * G / 2  # a wheel
SPRUNG = np.array([SHARE, 1 - SHARE]) * MASS - UNSPRUNG
SPRUNG_HEIGHT = (MASS * CG_HEIGHT - sum(UNSPRUNG) * RADIUS) / SPRUNG.sum()


@dataclass
class Solved:
    load: np.ndarray  # (axle, side) [N]
    roll: float
    rise: np.ndarray  # of the body at each axle from standing, at roll-centre height [m]
    residual: float

    @property
    def transfer(self) -> np.ndarray:
        return np.asarray((self.load[:, 1] - self.load[:, 0]) / 2)


class Linkage:
    """The car on its links, standing with the body raised at each axle against the pose the pivots are given in."""

    def __init__(self, raised: tuple[float, float] = (0.0, 0.0)) -> None:
        self.raised = np.array(raised)
        self.height = SPRUNG_HEIGHT + SHARE * raised[0] + (1 - SHARE) * raised[1]
        # standing: body up, wheels down on the road; hub poses by link lengths alone
        self.stand = np.array([[self._hang(i, j) for j in (0, 1)] for i in (0, 1)])

    def _hang(self, i: int, j: int) -> np.ndarray:
        """The hub's place and lean with the body upright and raised, its tyre's foot on the road."""
        side = AXLES[i][j]

        def wrong(hub: np.ndarray) -> np.ndarray:
            gaps = self._gaps(side, hub, np.array([0.0, self.raised[i]]), 0.0)
            return np.array([*gaps, hub[1] + (turned(hub[2]) @ side.foot)[1]])

        return np.asarray(root(wrong, [*side.centre, 0.0], options={"xtol": 1e-14}).x)

    @staticmethod
    def _ends(side: Side, hub: np.ndarray, body: np.ndarray, roll: float) -> tuple[np.ndarray, np.ndarray]:
        return body + side.inner @ turned(roll).T, hub[:2] + side.outer @ turned(hub[2]).T

    def _gaps(self, side: Side, hub: np.ndarray, body: np.ndarray, roll: float) -> np.ndarray:
        inner, outer = self._ends(side, hub, body, roll)
        return np.asarray(np.linalg.norm(outer - inner, axis=1) - side.length)

    def instant_centre(self, i: int, j: int, hub: np.ndarray, body: np.ndarray, roll: float) -> np.ndarray:
        """Where the lines of the two links meet."""
        inner, outer = self._ends(AXLES[i][j], hub, body, roll)
        along = outer - inner
        normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
        return np.linalg.solve(normal, (normal * inner).sum(axis=1))

    def roll_centre(self, i: int) -> float:
        """Height at which the line from the tyre's foot to the instant centre crosses the middle, standing."""
        hub = self.stand[i, 0]
        foot = hub[:2] + turned(hub[2]) @ AXLES[i][0].foot
        point = self.instant_centre(i, 0, hub, np.array([0.0, self.raised[i]]), 0.0)
        return float(foot[1] + (point - foot)[1] / (point - foot)[0] * -foot[0])

    def left_over(self, unknown: np.ndarray, lateral: float) -> np.ndarray:
        """Every balance and link length, for roll, then for each axle rise, side force, two hubs and four links."""
        roll, each = unknown[0], unknown[1:].reshape(2, 12)
        left, moment = [], 0.0
        self.load, self.rise = np.zeros((2, 2)), np.zeros(2)
        for i in (0, 1):
            body, side_force = np.array([0.0, self.raised[i] + each[i, 0]]), each[i, 1] * STANDING[i]
            parts = each[i, 2:].reshape(2, 5)
            feet, travel = np.zeros((2, 2)), np.zeros(2)
            for j, side in enumerate(AXLES[i]):
                hub = self.stand[i, j] + parts[j, :3]
                feet[j] = hub[:2] + turned(hub[2]) @ side.foot
                travel[j] = (turned(roll).T @ (feet[j] - body))[1] + self.raised[i]
            self.load[i] = np.maximum(0.0, STANDING[i] - TYRE * feet[:, 1])
            strut = STANDING[i] - UNSPRUNG[i] / 2 * G + WHEEL_RATE[i] * travel
            strut += BAR[i] / (2 * HALF[i]) ** 2 * (travel - travel[::-1])
            centre = body + turned(roll) @ np.array([0.0, self.height - self.raised[i]])
            weight = SPRUNG[i] * np.array([-lateral, -G])
            on_body, about = weight.copy(), cross(centre, weight)
            for j, side in enumerate(AXLES[i]):
                hub = self.stand[i, j] + parts[j, :3]
                inner, outer = self._ends(side, hub, body, roll)
                along = (outer - inner) / np.linalg.norm(outer - inner, axis=1)[:, None]
                pull = parts[j, 3:, None] * STANDING[i] * along  # on the body, toward the hub
                road = np.array([side_force * self.load[i, j] / max(self.load[i].sum(), 1.0), self.load[i, j]])
                at_road, press = np.array([feet[j, 0], 0.0]), np.array([0.0, -strut[j]])
                own = UNSPRUNG[i] / 2 * np.array([-lateral, -G])
                force = road + own + press - pull.sum(axis=0)
                turn = cross(at_road - hub[:2], road) + cross(at_road - hub[:2], press)
                turn -= sum(cross(o - hub[:2], p) for o, p in zip(outer, pull, strict=True))
                left += [*force / STANDING[i], turn / STANDING[i], *(self._gaps(side, hub, body, roll) * 10)]
                on_body += pull.sum(axis=0) - press
                about += sum(cross(n, p) for n, p in zip(inner, pull, strict=True)) - cross(at_road, press)
            left += [*on_body / STANDING[i]]
            moment += about
            self.rise[i] = each[i, 0]
        return np.array([*left, moment / STANDING[0]])

    def solve(self, lateral: float) -> Solved:
        """Return loads and pose at one lateral acceleration."""
        start = np.zeros(25)
        found = root(self.left_over, start, args=(lateral,), method="hybr", options={"xtol": 1e-13, "maxfev": 20000})
        left = float(np.abs(self.left_over(found.x, lateral)).max())
        lean = np.array([self.roll_centre(i) for i in (0, 1)]) * (1 - np.cos(found.x[0]))
        return Solved(self.load.copy(), float(found.x[0]), self.rise - lean, left)


def slope(i: int) -> float:
    """Movement of the roll centre for each metre the body rises, about the standing pose."""
    step = 0.004
    up, down = (Linkage((s, s)).roll_centre(i) for s in (step, -step))
    return (up - down) / (2 * step)


def picture(raised: tuple[float, float], lateral: float, moves: bool) -> Trim:
    """The trim of the same car with roll centres from the links as given, fixed or moving."""
    base = Linkage()
    file = examples.load_example("two-seater")

    def axle(i: int) -> dict[str, float]:
        return dict(
            track=2 * HALF[i], unsprung_mass=UNSPRUNG[i], wheel_radius=RADIUS, reference_height=0.13, motion_ratio=1.0,
            tyre_rate=TYRE, roll_centre=base.roll_centre(i), roll_centre_slope=slope(i) if moves else 0.0,
            bump_gap=0.25, droop_stiffening=0.0, bump_stiffening=0.0, anti_slope=0.0, anti_brake=0.0, anti_drive=0.0,
        )  # fmt: skip

    car: Car = replace(
        file.car, mass=MASS, front_share=SHARE, cg_height=CG_HEIGHT, wheelbase=BASE, drag_area=0.0, caster_offset=0.0,
        front=replace(file.car.front, **axle(0)), rear=replace(file.car.rear, **axle(1)),
    )  # fmt: skip
    ends: list[AxleSetup] = [
        AxleSetup(0.13 + raised[i], WHEEL_RATE[i], BAR[i], 0.0, 0.0, 2.2e5, aligned_height=0.13) for i in (0, 1)
    ]
    return trim(car, Setup(ends[0], ends[1], caster=0.08), Moment(30.0, lateral))


def off(raised: tuple[float, float], lateral: float) -> dict[str, np.ndarray]:
    """How far each picture is from the links: transfer of each axle [part], rise of the body at each axle [m]."""
    links = Linkage(raised).solve(lateral)
    assert links.residual < 1e-8
    told = {}
    for name, moves in (("fixed", False), ("moving", True)):
        ours = picture(raised, lateral, moves)
        transfer = (ours.load[:, 1] - ours.load[:, 0]) / 2
        rise = ours.heave - np.array([1 - SHARE, -SHARE]) * BASE * ours.pitch
        told[name] = transfer / links.transfer - 1
        told[name + " rise"] = rise - links.rise
    told["links rise"], told["roll"], told["transfer"] = links.rise, np.array(links.roll), links.transfer
    return told


def far(raised: tuple[float, float], lateral: float, name: str) -> float:
    return float(np.abs(off(raised, lateral)[name]).max())


@pytest.mark.parametrize("i", [0, 1])
def test_instant_centres_say_what_the_links_do(i: int) -> None:
    """A wheel raised with the body held moves sideways ``2·h_rc/t`` for each metre: the side force's virtual work."""
    up, down = Linkage((-1e-4, -1e-4)), Linkage((1e-4, 1e-4))
    feet = [car.stand[i, 0][:2] + turned(car.stand[i, 0][2]) @ AXLES[i][0].foot for car in (up, down)]
    sideways = (feet[0] - feet[1])[0] / 2e-4
    assert sideways == pytest.approx(Linkage().roll_centre(i) / HALF[i], rel=1e-5)


def test_standing_still_it_stands() -> None:
    links = Linkage((0.01, -0.01)).solve(0.0)
    assert links.residual < 1e-10
    np.testing.assert_allclose(links.load, np.repeat(STANDING[:, None], 2, axis=1), rtol=1e-9)


@pytest.mark.parametrize("lateral", [0.2, 0.5, 0.8])
def test_balances_of_the_whole_car_close(lateral: float) -> None:
    """Links and their forces cancel inside the car: vertical force, and side force over the track to first order."""
    links = Linkage().solve(lateral * G)
    assert links.load.sum() == pytest.approx(MASS * G, rel=1e-9)
    over = MASS * lateral * G * CG_HEIGHT  # rolled weight adds to this, and the tyres' feet stay near their track
    assert over < (links.transfer * 2 * np.array(HALF)).sum() < 1.12 * over


def test_in_a_corner_at_the_heights_as_given() -> None:
    """The roll-centre picture holds at ordinary lean; how far is printed."""

    def past(lateral: float) -> float:
        return far((0.0, 0.0), lateral, "fixed") - 0.02

    limit = brentq(past, 0.3 * G, 1.35 * G, xtol=1e-2)
    there = off((0.0, 0.0), limit)
    print(
        f"fixed roll centres: an axle's load transfer is 2 % off at {limit / G:.2f} g, "
        f"{np.degrees(there['roll']):.1f} deg of roll, {1e3 * HALF[1] * there['roll']:.0f} mm of travel; "
        f"moving ones are then {100 * np.abs(there['moving']).max():.1f} % off"
    )
    assert limit > 0.9 * G
    assert np.abs(there["moving"]).max() < 0.02


@pytest.mark.parametrize("lateral", [0.5, 0.9])
def test_jacking(lateral: float) -> None:
    """The body rises on its links; the moving roll centre has it nearer, and neither has all of it."""
    there = off((0.0, 0.0), lateral * G)
    print(
        {name: np.round(1e3 * there[name], 2) for name in ("links rise", "fixed rise", "moving rise")},
        "mm at",
        lateral,
        "g",
    )
    assert (there["links rise"] > 0).all()
    assert np.abs(there["moving rise"]).max() < np.abs(there["fixed rise"]).max()
    np.testing.assert_allclose(there["moving rise"], 0.0, atol=0.15 * there["links rise"].max())


@pytest.mark.parametrize("nose", [-0.03, -0.02, -0.01, 0.01, 0.02, 0.03])
def test_at_other_ride_heights_the_moving_one_is_nearer(nose: float) -> None:
    """Front up and rear down by the same: this is what the setting sheet asks of the model."""
    there = off((nose, -nose), 0.5 * G)
    fixed, moving = (np.abs(there[name]).max() for name in ("fixed", "moving"))
    print(f"nose-high by {2e3 * nose:.0f} mm: transfer off by {100 * fixed:.1f} % fixed, {100 * moving:.1f} % moving")
    assert moving < fixed
    assert moving < 0.025
    assert np.abs(there["moving rise"]).max() < np.abs(there["fixed rise"]).max()


def test_where_the_fixed_one_is_no_longer_good_enough() -> None:
    def past(nose: float) -> float:
        return far((nose, -nose), 0.5 * G, "fixed") - 0.02

    high, low = brentq(past, 0.0, 0.03, xtol=1e-3), brentq(past, -0.03, 0.0, xtol=1e-3)
    print(
        f"fixed roll centres are 2 % off with each end {1e3 * high:.1f} mm (nose-high) or {-1e3 * low:.1f} mm "
        "(nose-low) away"
    )
    for nose in (high, low):
        assert far((nose, -nose), 0.5 * G, "moving") < 0.015
