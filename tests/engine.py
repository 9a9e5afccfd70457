"""The same car in a general rigid-body engine (mujoco), as a second opinion on the trim's loads and pose.

A sprung body with all six freedoms carries four half-axles, each on a hinge whose axis passes through the roll centre
and is skewed in side view so that the contact patch and the wheel centre move along the two anti angles. Springs, bars,
stops and tyres are forces between points; sideways and longitudinal acceleration are a tilted gravity on every mass;
side and longitudinal forces act at the contact patches. How a side force reaches the body, lifts and tips it, how much
each axle carries, the engine finds from its hinges. Common to both: the laws of spring, stop and tyre; an axle's side
force shared by its wheels as their loads; where roll centre and anti angles are. Not here: slip angles, toe, camber.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import mujoco
import numpy as np
from scipy.optimize import root

from vdlib.car.records import Car, Moment, Setup
from vdlib.trim.aero import dynamic_pressure
from vdlib.units import G

SIDES = (1.0, -1.0)
CORNERS = [(i, j) for i in (0, 1) for j in (0, 1)]  # axle front/rear, side left/right


@dataclass(frozen=True)
class Rest:
    """Where the engine's car comes to rest."""

    load: np.ndarray  # (2, 2) [N]
    travel: np.ndarray  # (2, 2) [m]
    heave: float  # of the body's middle plane at roll-axis height [m]
    roll: float  # [rad]
    pitch: float  # [rad]
    side: np.ndarray  # (2,) [N]
    unknown: np.ndarray  # as ``left_over`` takes it
    residual: float  # largest force or moment left over, of the weight [-]


class Model:
    """One car in the engine."""

    def __init__(self, car: Car, setup: Setup, moment: Moment, steer: float = 0.0, follow: bool = True) -> None:
        """``follow``: the hinges keep to roll centre and anti angles as in the trim; else they stay in the body."""
        self.car, self.moment, self.follow = car, moment, follow
        air = 1.225 / 2 * moment.speed**2 * car.drag_area / car.mass
        self.rolls = 0.013 * G * moment.coasting
        self.along = moment.longitudinal - self.rolls - moment.coasting * air
        self.ends, self.sets = (car.front, car.rear), (setup.front, setup.rear)
        self.rise = np.array([s.height - a.reference_height for a, s in zip(self.ends, self.sets, strict=True)])
        self.nose_up = (self.rise[0] - self.rise[1]) / car.wheelbase
        self.track = np.array([a.track for a in self.ends])
        self.radius = np.array([a.wheel_radius for a in self.ends])
        self.half = np.array([a.unsprung_mass / 2 for a in self.ends])
        caster = setup.caster + self.nose_up
        self.lower = np.array([[car.caster_offset * caster * steer * s for s in SIDES], [0.0, 0.0]])
        self._place_masses(setup.cross_weight)
        self.model = mujoco.MjModel.from_xml_string(self._xml())
        self.data = mujoco.MjData(self.model)
        self.body = self.model.body("body").id
        self.arms = {(i, j): self.model.body(f"arm{i}{j}").id for i, j in CORNERS}
        self.seat = np.array([[s.height_difference / 2 * side for side in SIDES] for s in self.sets])
        self.bar_zero = np.zeros(2)  # travel left less right at which a bar hangs loose [m]
        self.stand = self._stand() if self.seat.any() else None
        self.accelerate(self.along, moment.lateral)
        self._hang(np.zeros(2), np.zeros(2), np.eye(3))

    def _stand(self) -> Rest:
        """Let the car stand still on spring seats that differ left to right, bars unhooked; then hook them up."""
        steered, moment, sets = self.lower, self.moment, self.sets
        self.lower = np.zeros((2, 2))
        self.moment = Moment(20.0, 0.0)
        self.moment.__dict__["speed"] = 0.0  # no wind in the garage
        self.sets = tuple(replace(s, bar=0.0) for s in sets)
        self.accelerate(0.0, 0.0)
        found = self.rest()
        assert found.residual < 1e-9
        self.lower, self.moment, self.sets = steered, moment, sets
        self.bar_zero = found.travel[:, 0] - found.travel[:, 1]
        return found

    def accelerate(self, longitudinal: float, lateral: float) -> None:
        """Tilt gravity as the car's own acceleration does."""
        self.model.opt.gravity[:] = (-longitudinal, -lateral, -G)

    def _place_masses(self, cross: float) -> None:
        """Put sprung and unsprung masses where they are, standing, and find what each wheel carries."""
        car = self.car
        self.sprung = car.mass - 2 * self.half.sum()
        behind = car.wheelbase * (1 - car.front_share)  # of the front axle, the whole car at its reference heights
        x = (car.mass * behind - 2 * self.half[1] * car.wheelbase) / self.sprung
        z = (car.mass * car.cg_height - 2 * (self.half * self.radius).sum()) / self.sprung
        x += self.nose_up * (z - self.radius.mean())  # the body tips about the wheel centres
        z += self.rise[0] + (self.rise[1] - self.rise[0]) * behind / car.wheelbase
        centre = (self.sprung * x + 2 * self.half[1] * car.wheelbase) / car.mass
        self.x = np.array([centre, centre - car.wheelbase])  # the axles as seen from the centre of gravity
        weight = car.mass * G
        rules = np.array([[1, 1, 1, 1], [1, 1, 0, 0], [1, 0, 1, 0], [0, 1, 1, 0]])
        parts = np.array([1, 1 - centre / car.wheelbase, car.left_share, cross])
        self.standing = np.linalg.solve(rules, weight * parts).reshape(2, 2)
        y = (self.standing * np.outer(self.track / 2, SIDES)).sum() / (self.sprung * G)
        self.cg = (centre - x, y, z)

    def _xml(self) -> str:
        arms = "".join(
            f'<body name="arm{i}{j}"><joint type="hinge"/>'
            f'<inertial pos="0 1 1" mass="{self.half[i]}" diaginertia="1 1 1"/></body>'  # placed by _hang
            for i, j in CORNERS
        )
        axes = ("1 0 0", "0 1 0", "0 0 1")
        free = "".join(f'<joint type="{kind}" axis="{axis}"/>' for kind in ("slide", "hinge") for axis in axes)
        place = " ".join(map(repr, map(float, self.cg)))
        return (
            f'<mujoco><worldbody><body name="body">{free}<inertial pos="{place}" mass="{self.sprung}" '
            f'diaginertia="400 1500 1700"/>{arms}</body></worldbody></mujoco>'
        )

    def _hang(self, travel: np.ndarray, floor: np.ndarray, turned: np.ndarray) -> None:
        """Set the hinges: through the roll centre, skewed so that foot and wheel centre take the anti angles."""
        for (i, j), arm in self.arms.items():
            end = self.ends[i]
            height = end.roll_centre + end.roll_centre_slope * (self.rise[i] - travel[i])
            tip = end.anti_slope * self.rise[i]
            forward = 1.0 if i == 0 else -1.0  # movement in bump that holds the body against its pitching
            at_ground, at_centre = (forward * np.tan(a + tip) for a in (end.anti_brake, end.anti_drive))
            skew = (at_centre - at_ground) * end.track / (2 * end.wheel_radius)
            axis = turned.T @ np.array([1.0, SIDES[j] * skew, -at_ground - 2 * skew * height / end.track])
            own = height - floor[i]  # in the body's own frame
            self.model.body_pos[arm] = (self.x[i], 0.0, own)
            self.model.body_ipos[arm] = (0.0, SIDES[j] * end.track / 2, end.wheel_radius - own)
            self.model.jnt_axis[self.model.body_jntadr[arm]] = axis / np.linalg.norm(axis)

    def _points(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Contact patches and wheel centres in space, and travel of the suspension."""
        contact, centre, travel = np.zeros((2, 2, 3)), np.zeros((2, 2, 3)), np.zeros((2, 2))
        for (i, j), arm in self.arms.items():
            centre[i, j] = self.data.xipos[arm]
            own = self.data.xmat[arm].reshape(3, 3)
            foot = self.data.xpos[arm] + own @ (self.model.body_ipos[arm] - (0, 0, self.radius[i]))
            travel[i, j] = (self._turned().T @ (foot - self.data.xpos[self.body]))[2]
            contact[i, j] = foot - (0, 0, self.lower[i, j])
            contact[i, j, 0] = centre[i, j, 0]  # a round wheel touches the road below its centre
        return contact, centre, travel

    def _turned(self) -> np.ndarray:
        return self.data.xmat[self.body].reshape(3, 3).copy()

    def _push(self, force: Any, point: Any, body: int, torque: Any = (0.0, 0.0, 0.0)) -> None:
        given = (np.array(value, dtype=float) for value in (force, torque, point))
        mujoco.mj_applyFT(self.model, self.data, *given, body, self.total)

    def apply(self, thrust: float, side: np.ndarray) -> None:
        """Add up every force at the pose that is set, as the engine's generalised forces."""
        car = self.car
        self.total = np.zeros(self.model.nv)
        contact, centre, self.travel = self._points()
        rate = np.array([a.tyre_rate for a in self.ends])[:, None]
        self.load = np.maximum(0.0, self.standing - rate * contact[..., 2])
        contact[..., 2] = 0.0  # a squashed tyre still touches at the road
        brake = min(thrust + car.mass * self.rolls, 0.0) * self.moment.braking
        air = dynamic_pressure(self.moment.speed)
        for i, (end, own) in enumerate(zip(self.ends, self.sets, strict=True)):
            part = np.abs(i - np.array([car.brake_front, car.drive_front]))  # front share, or what is left of one
            split = self.load[i] / max(self.load[i].sum(), 1.0)
            engine = (thrust - brake) * part[1] / 2
            for j in (0, 1):
                arm, strut = self.arms[i, j], self._strut(i, j, end, own)
                self._push((0, 0, -strut), contact[i, j], arm)
                self._push((0, 0, strut), contact[i, j], self.body)
                self._push((brake * part[0] / 2, side[i] * split[j], self.load[i, j]), contact[i, j], arm)
                self._push((engine, 0, 0), centre[i, j], arm)  # the half-shaft turns the wheel and, back, the body
                self._push((0, 0, 0), centre[i, j], self.body, (0, -engine * end.wheel_radius, 0))
            lift = air * (end.lift_area + end.lift_attitude * (self.nose_up - self.data.qpos[4]))
            self._push((0, 0, lift), (self.x[i], contact[i, :, 1].mean(), 0), self.body)
        # drag is counted at the road, as a wind tunnel's axle lifts have it
        self._push((-air * car.drag_area, 0, 0), (0, contact[..., 1].mean(), 0), self.body)

    def _strut(self, i: int, j: int, end: Any, own: Any) -> float:
        """What spring, bar and stops press on one wheel, standing share included."""
        here, there = self.travel[i, j], self.travel[i, 1 - j]
        force = self.standing[i, j] - self.half[i] * G + own.spring * end.motion_ratio**2 * (here + self.seat[i, j])
        force += own.bar / end.track**2 * (here - there - SIDES[j] * self.bar_zero[i])
        for sign, gap, hardness in (
            (1, end.bump_gap + self.rise[i], end.bump_stiffening),
            (-1, end.droop_gap - self.rise[i], end.droop_stiffening),
        ):
            deep, at_rest = max(0.0, sign * here - gap), max(0.0, -gap - sign * self.seat[i, j])
            force += sign * hardness / 2 * (deep**2 - at_rest**2)
        return float(force)

    def left_over(self, unknown: np.ndarray) -> np.ndarray:
        """What is not balanced, given thrust and side forces over weight, heave, roll, pitch and four hinges."""
        weight = self.car.mass * G
        self.data.qpos[:] = (0, 0, *unknown[3:6], 0, *unknown[6:])
        mujoco.mj_kinematics(self.model, self.data)
        if self.follow:
            hinge = np.sin(unknown[6:].reshape(2, 2))
            mean = self.track / 4 * (hinge[:, 0] - hinge[:, 1])
            self._hang(mean, unknown[3] - self.x * np.sin(unknown[5]), self._turned())
        self.data.qvel[:], self.data.qacc[:] = 0, 0
        mujoco.mj_inverse(self.model, self.data)
        self.apply(unknown[0] * weight, unknown[1:3] * weight)
        return np.asarray((self.data.qfrc_inverse - self.total) / weight)

    def rest(self, start: np.ndarray | None = None) -> Rest:
        """Find the pose and tyre forces at which nothing accelerates."""
        first = np.zeros(10) if start is None else start
        found = root(self.left_over, first, method="hybr", options={"xtol": 1e-13}).x
        left = float(np.abs(self.left_over(found)).max())
        return self._told(found[3:6], found[1:3] * self.car.mass * G, found, left)

    def settle(self, seconds: float = 4.0, step: float = 1e-3, damper: float = 3000.0) -> Rest:
        """Let the car go from standing, with dampers, sliding sideways on tyres that push back as it slides."""
        weight = self.car.mass * G
        part = np.array([-self.x[1], self.x[0]]) / self.car.wheelbase  # what keeps it from turning
        air = dynamic_pressure(self.moment.speed) * self.car.drag_area
        mujoco.mj_resetData(self.model, self.data)
        self.model.opt.timestep = step
        for _ in range(round(seconds / step)):
            self.data.qvel[[0, 5]] = 0.0  # neither speeding up nor turning
            self.data.qpos[[0, 1, 5]] = 0.0
            mujoco.mj_kinematics(self.model, self.data)
            mujoco.mj_comPos(self.model, self.data)
            side = -5.0 * weight * self.data.qvel[1] * part
            self.apply(self.car.mass * self.along + air, side)
            self.total[6:] -= damper * (self.track.repeat(2) / 2) ** 2 * self.data.qvel[6:]
            self.data.qfrc_applied[:] = self.total
            mujoco.mj_step(self.model, self.data)
        pose = self.data.qpos[2:5].copy()
        return self._told(pose, side, self.data.qpos.copy(), float(np.abs(np.delete(self.data.qacc, [0, 5])).max()) / G)

    def _told(self, pose: np.ndarray, side: np.ndarray, unknown: np.ndarray, left: float) -> Rest:
        axis = np.mean([self.model.body_pos[arm][2] for arm in self.arms.values()])
        heave = pose[0] - axis * (1 - np.cos(pose[1]))
        return Rest(self.load, self.travel, heave, pose[1], pose[2], side, unknown, left)
