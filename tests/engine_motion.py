"""The same car driven through a lift in a general rigid-body engine (mujoco): a second opinion on the motion in time.

The body has all six freedoms and its own roll and pitch, on springs, bars, stops and dampers; its wheels stand on
tyres that squash. Wheel loads follow from where everything is, not from a table. Common to both: the law of the tyre
with its lag, where roll centres and anti angles are, and what engine, air and rolling do.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import mujoco
import numpy as np
from engine import CORNERS, SIDES, Model

from vdlib.car import tyre
from vdlib.car.records import Car, Moment, Setup
from vdlib.trim.aero import ROLLING, dynamic_pressure
from vdlib.trim.standing import stands
from vdlib.trim.suspension import toe_change
from vdlib.units import G

DAMPER = 2600.0
"""Damper at each wheel [N·s/m]: about half of critical for the bodies tried."""
SIDE = np.array([[1.0, -1.0], [1.0, -1.0]])


@dataclass
class Driven:
    """What the engine's car did: time from the foot's move on, slide beyond the corner's own, speed."""

    time: np.ndarray
    slide: np.ndarray
    speed: np.ndarray
    steady: float  # how far yaw rate and speed still were from the corner's when the foot moved [-]
    steer: float


class Moving(Model):
    """One car of the engine that rolls along the road."""

    def __init__(self, car: Car, setup: Setup, relaxation: float = 0.45, step: float = 2e-3) -> None:
        super().__init__(car, setup, Moment(20.0, 0.0))
        self.setup, self.relaxation = setup, relaxation
        self.model.opt.gravity[:] = (0, 0, -G)
        self.model.opt.timestep = step
        there = stands(car, setup)
        self.at_rest, self.bump = there, -there.rise
        self.pressure = np.array([own.wheels("pressure") for own in self.sets])
        self.axle_side = np.zeros(2)
        self.caster = setup.caster + self.nose_up
        # yaw inertia of the whole car: what the wheels do not bring, the body does
        around = sum(self.half[i] * (self.x[i] ** 2 + (self.track[i] / 2) ** 2) + 1.0 for i, _ in CORNERS)
        self.model.body_inertia[self.body, 2] = float(car.inertia) - around - self.sprung * self.cg[0] ** 2
        mujoco.mj_setConst(self.model, self.data)

    def frame(self) -> None:
        """Read heading and lean off the engine."""
        turned = self._turned()
        self.heading = np.arctan2(turned[1, 0], turned[0, 0])
        cos, sin = np.cos(self.heading), np.sin(self.heading)
        self.to_world = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])
        self.level = self.to_world.T @ turned
        self.roll = np.arctan2(self.level[2, 1], self.level[2, 2])

    def forces(self, engine: float, steer: float, slip: np.ndarray, along: np.ndarray) -> None:
        """Add up every force of one moment as the engine's generalised forces."""
        car = self.car
        hinge = np.sin(self.data.qpos[6:].reshape(2, 2))
        mean = self.track / 4 * (hinge[:, 0] - hinge[:, 1])
        floor = self.data.xpos[self.body][2] + self.x * self.level[2, 0]
        self._hang(mean, floor, self.level)
        mujoco.mj_kinematics(self.model, self.data)
        mujoco.mj_comPos(self.model, self.data)
        self.lower[0] = car.caster_offset * self.caster * steer * np.array(SIDES)
        self.total = np.zeros(self.model.nv)
        contact, centre, self.travel = self._points()
        origin = self.data.xpos[self.body]
        local, hub = ((points - origin) @ self.to_world for points in (contact, centre))
        local[..., 0] = hub[..., 0]
        rate = np.array([a.tyre_rate for a in self.ends])[:, None]
        self.load = np.maximum(0.0, self.standing - rate * contact[..., 2])
        contact = origin + local @ self.to_world.T
        contact[..., 2] = 0.0
        roll_along = np.zeros((2, 2))
        for i, (end, own) in enumerate(zip(self.ends, self.sets, strict=True)):
            rest = self.at_rest
            toe = rest.toe[i] + toe_change(self.bump[i] + self.travel[i], end.toe_slope, end.toe_bend)
            toe -= toe_change(self.bump[i], end.toe_slope, end.toe_bend)
            lean = SIDE[i] * (rest.camber[i] + end.camber_slope * self.travel[i]) - self.roll
            if i == 0:
                lean = lean + self.caster * steer
            share = car.drive_front if i == 0 else 1 - car.drive_front
            has = np.maximum(
                end.tyre.long_ratio * tyre.grip(end.tyre, self.load[i], self.pressure[i]) * self.load[i], 1.0
            )
            pull = np.full(2, 0.5 * engine * share)
            rolling = -ROLLING * self.load[i]
            used = np.minimum(np.abs(pull + rolling) / has, 0.95)
            bent = (-1.0, 1.0)[i] * end.compliance_steer * self.axle_side[i]  # by the force of the step before
            offset = bent - SIDE[i] * toe
            side = tyre.side_force(end.tyre, self.load[i], slip[i] + offset, lean, self.pressure[i], used)
            self.axle_side[i] = side.sum()
            turn = steer if i == 0 else 0.0
            cos, sin = np.cos(turn), np.sin(turn)
            ahead = self.to_world @ np.array([cos, sin, 0.0])
            left = self.to_world @ np.array([-sin, cos, 0.0])
            axle = self.to_world @ np.array([0.0, 1.0, 0.0])
            for j in (0, 1):
                arm, strut = self.arms[i, j], self._strut(i, j, end, own)
                on_road = side[j] * left + rolling[j] * ahead + np.array([0.0, 0.0, self.load[i, j]])
                self._push((0, 0, -strut), contact[i, j], arm)
                self._push((0, 0, strut), contact[i, j], self.body)
                self._push(on_road, contact[i, j], arm)
                self._push(pull[j] * ahead, centre[i, j], arm)
                self._push((0, 0, 0), centre[i, j], self.body, tuple(-pull[j] * end.wheel_radius * axle))
            roll_along[i] = pull + rolling
        speed = self.data.qvel[:2]
        air = dynamic_pressure(1.0) * car.drag_area * float(np.hypot(*speed))
        self._push((-air * speed[0], -air * speed[1], 0.0), (*origin[:2], 0.0), self.body)
        self.total[6:] -= DAMPER * (self.track.repeat(2) / 2) ** 2 * self.data.qvel[6:]
        along[:] = roll_along

    def drive(self, speed: float, radius: float, lift: float, start: Any, closing: float = 0.15, before: float = 5.0,
              after: float = 4.0, stop: float = np.radians(12.0)) -> Driven:  # fmt: skip
        """Bring the car into its corner, steer and throttle settling, then hold the wheel and lift."""
        model, data = self.model, self.data
        mujoco.mj_resetData(model, data)
        step = model.opt.timestep
        u, v, rate, front, rear, steer = start
        data.qvel[[0, 1, 5]] = u, v, rate
        slip, along = np.array([front, rear]), np.zeros((2, 2))
        wanted, engine, gathered = speed / radius, 0.03 * self.car.mass * G, 0.0
        times, slides, speeds = [], [], []
        own = engine_then = steady = 0.0
        first = round(before / step)
        for i in range(first + round(after / step)):
            mujoco.mj_kinematics(model, data)
            mujoco.mj_comPos(model, data)
            self.frame()
            forward, left, _ = self.to_world.T @ data.qvel[:3]
            rate = data.qvel[5]
            now = float(np.hypot(forward, left))
            side = float(np.arctan2(left, forward))
            if i < first:
                miss = wanted - rate
                gathered += step * miss
                steer = start[5] + (0.25 * miss + 0.6 * gathered) * self.car.wheelbase / speed * 6.0
                engine += step * self.car.mass * (6.0 * (speed - now)) - 0.0
                push = engine + self.car.mass * 4.0 * (speed - now)
                own, engine_then = side, push
                steady = abs(miss) / wanted + abs(now - speed) / speed
            else:
                part = min((i - first) * step / closing, 1.0)
                push = engine_then + (-lift * self.car.mass * G - engine_then) * part
                times.append((i - first) * step)
                slides.append(-(side - own) * np.sign(wanted))
                speeds.append(now)
                if slides[-1] > stop:
                    break
            self.forces(push, steer, slip, along)
            road = np.array(
                [steer - np.arctan2(left + self.x[0] * rate, forward), -np.arctan2(left + self.x[1] * rate, forward)]
            )
            lag = 1 - np.exp(-step * now / self.relaxation)
            slip = slip + lag * (road - slip)
            data.qfrc_applied[:] = self.total
            mujoco.mj_step(model, data)
        return Driven(np.array(times), np.array(slides), np.array(speeds), steady, steer)
