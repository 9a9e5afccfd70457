"""An independent trim: the equations of a car held in a corner written anew, one case at a time, for other tests.

Nothing of ``vdlib.trim`` is used: plain numbers, ``scipy.optimize.root``, forces and moments summed one by one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
from scipy.optimize import root

from vdlib.car.records import Axle, AxleSetup, Car, Moment, Setup
from vdlib.trim.trim import Trim
from vdlib.units import G

AIR = 1.225
LOCK = 0.95


def side_force(axle: Axle, load: float, slip: float, lean: float, pressure: float, pull: float) -> float:
    """One tyre's side force, everything signed to the left."""
    t = axle.tyre
    if load <= 0:
        return 0.0
    over = pressure - t.pressure_nominal
    most = t.grip * (1 + t.grip_per_bar * over) * (1 - t.grip_fall * (load / t.nominal_load - 1)) * load
    used = min(abs(pull) / (t.long_ratio * most), LOCK)
    firm = (1 + t.stiffness_per_bar * over) * t.stiffness_max * math.sin(2 * math.atan(load / t.stiffness_load))
    peak = most * (1 - t.camber_loss * lean * lean)
    x = firm / (t.shape * peak) * (slip + t.camber_thrust * load * lean / firm)
    bent = x - t.curvature * (x - math.atan(x))
    return math.sqrt(1 - used * used) * peak * math.sin(t.shape * math.atan(bent))


class Standing:
    """How a car stands: body roll and a hub rise each axle from three linear equations, first twisted, then leaning."""

    def __init__(self, car: Car, setup: Setup, rise: list[float], topple: float) -> None:
        self.axles, self.sets = (car.front, car.rear), (setup.front, setup.rear)
        self.firm = []
        for a, s, r in zip(self.axles, self.sets, rise, strict=True):
            stop = a.bump_stiffening * max(0.0, -a.bump_gap - r) + a.droop_stiffening * max(0.0, r - a.droop_gap)
            self.firm.append(s.spring * a.motion_ratio**2 + stop)
        weighed = [s.weighed_difference for s in self.sets]
        then = self.twisted(weighed)[0]

        def seen(difference: list[float], level: list[float]) -> tuple[float, list[float], list[float]]:
            """Roll of the body, rise of each wheel's corner and load gained, at some height differences."""
            roll, *hubs = self.twisted([d - w for d, w in zip(difference, weighed, strict=True)])
            sunk = self.leaning(topple * roll)
            more, up = [], []
            for i, (a, d, base) in enumerate(zip(self.axles, difference, level, strict=True)):
                for sign in (1, -1):
                    more.append(-sign * a.tyre_rate * (hubs[i] + sunk[i]))
                    up.append(base + sign * (d / 2 + a.tyre_rate * hubs[i] / self.firm[i]))
            return then + roll, up, more

        self.roll, self.rise, self.more = seen([s.height_difference for s in self.sets], rise)
        read = [s.aligned_height - a.reference_height for a, s in zip(self.axles, self.sets, strict=True)]
        self.aligned_roll, self.aligned, _ = seen([s.aligned_height_difference for s in self.sets], read)

    def twisted(self, change: list[float]) -> list[float]:
        """Roll to the right, and rise of each axle's left hub, which its right one sinks, of a body without weight."""
        rows, right = [[0.0] * 3 for _ in range(3)], [0.0] * 3
        for i, a in enumerate(self.axles):
            rows[0][1 + i] = a.track * a.tyre_rate
            rows[1 + i][0] = -self.firm[i] * a.track / 2  # spring and stop press with what the tyre presses back
            rows[1 + i][1 + i] = self.firm[i] + a.tyre_rate
            right[1 + i] = -self.firm[i] * change[i] / 2
        return [float(x) for x in np.linalg.solve(rows, right)]

    def leaning(self, moment: float) -> list[float]:
        """Rise of each axle's left hub, seats let down in one plane against the moment of the leaning weight."""
        rows, right = [[0.0] * 3 for _ in range(3)], [moment, 0.0, 0.0]
        for i, a in enumerate(self.axles):
            rows[0][1 + i] = a.track * a.tyre_rate
            rows[1 + i][0] = -self.firm[i] * a.track / 2
            rows[1 + i][1 + i] = self.firm[i] + a.tyre_rate
        return [float(x) for x in np.linalg.solve(rows, right)[1:]]


def equations(car: Car, setup: Setup, moment: Moment) -> tuple[Callable[[list[float]], list[float]], list[float]]:
    """Residuals of heave, roll, pitch, four hubs and two slip angles, and where a search for them may start."""
    axles: tuple[Axle, Axle] = (car.front, car.rear)
    sets: tuple[AxleSetup, AxleSetup] = (setup.front, setup.rear)
    base, mass, a_y = car.wheelbase, car.mass, moment.lateral
    rolls = 0.013 * G * moment.coasting
    a_x = moment.longitudinal - rolls - moment.coasting * AIR / 2 * moment.speed**2 * car.drag_area / mass
    rise = [s.height - a.reference_height for a, s in zip(axles, sets, strict=True)]
    nose_up = (rise[0] - rise[1]) / base
    low = [a.unsprung_mass for a in axles]
    low_moment = sum(a.unsprung_mass * a.wheel_radius for a in axles)
    sprung = mass - sum(low)
    wheel_height = (axles[0].wheel_radius + axles[1].wheel_radius) / 2
    height = (mass * car.cg_height - low_moment) / sprung
    share = car.front_share - sprung / mass * (height - wheel_height) * nose_up / base
    reach = [base * (1 - share), -base * share]  # forward of the centre of gravity
    height += share * rise[0] + (1 - share) * rise[1]
    axle_mass = [mass * share, mass * (1 - share)]
    left, cross = car.left_share, setup.cross_weight
    part = [share + left - cross, share - left + cross, left - share + cross, 2 - share - left - cross]
    standing = [mass * G / 2 * p for p in part]  # front left, front right, rear left, rear right
    axis = sum(
        (m - u) / sprung * (x.roll_centre + x.roll_centre_slope * r)
        for m, u, x, r in zip(axle_mass, low, axles, rise, strict=True)
    )
    stand = Standing(car, setup, rise, sprung * G * (height - axis))
    standing = [load + more for load, more in zip(standing, stand.more, strict=True)]
    toes, cambers, pressures = ([v for s in sets for v in s.wheels(k)] for k in ("toe", "camber", "pressure"))
    air = AIR / 2 * moment.speed**2
    total = mass * a_x + air * car.drag_area
    pedals = total + mass * rolls
    brakes = pedals * moment.braking if pedals < 0 else 0.0
    by_brake = [brakes * car.brake_front, brakes * (1 - car.brake_front)]
    by_engine = [(total - brakes) * car.drive_front, (total - brakes) * (1 - car.drive_front)]
    anti = [
        (-1, 1)[i]
        * (
            by_brake[i] * math.tan(axles[i].anti_brake + axles[i].anti_slope * rise[i])
            + (by_engine[i] - low[i] * a_x) * math.tan(axles[i].anti_drive + axles[i].anti_slope * rise[i])
        )
        for i in (0, 1)
    ]
    pulled = [by_brake[i] + by_engine[i] for i in (0, 1)]
    lift = [air * (a.lift_area + a.lift_attitude * nose_up) for a in axles]
    caster = setup.caster + nose_up
    straight = base * a_y / moment.speed**2
    rate = [s.spring * a.motion_ratio**2 for a, s in zip(axles, sets, strict=True)]

    def stops(w: int, travel: float) -> float:
        a = axles[w // 2]
        bump = max(0.0, travel - a.bump_gap - stand.rise[w])
        droop = max(0.0, -travel - a.droop_gap + stand.rise[w])
        return (a.bump_stiffening * bump * bump - a.droop_stiffening * droop * droop) / 2

    at_rest = [stops(w, 0.0) for w in range(4)]

    def toe_curve(i: int, bump: float) -> float:
        return (axles[i].toe_slope + axles[i].toe_bend * bump) * bump

    def pulls(i: int, loads: list[float]) -> list[float]:
        t = axles[i].tyre
        grips = [t.long_ratio * t.grip * (1 + t.grip_per_bar * (p - t.pressure_nominal)) for p in pressures[2 * i :]]
        most = [LOCK * g * (1 - t.grip_fall * (n / t.nominal_load - 1)) * n for g, n in zip(grips, loads, strict=False)]
        half = abs(pulled[i]) / 2
        taken = [min(half, m) for m in most]
        rest = 2 * half - taken[0] - taken[1]
        both = [min(x + (rest if x >= half else 0.0), m) for x, m in zip(taken, most, strict=True)]
        return [math.copysign(x, pulled[i]) for x in both]

    def ahead(heave: float, pitch: float) -> float:
        """How far forward the centre of gravity has gone over the wheels as the nose dips."""
        return sprung / mass * (height + heave - wheel_height) * pitch

    def aside(heave: float, roll: float, pitch: float, hubs: list[float]) -> float:
        """How far to the left of the middle it is: each axle carries its part of the body about its own roll centre."""
        left = sum(
            sign * a.track / 2 * standing[2 * i + k] for i, a in enumerate(axles) for k, sign in ((0, 1), (1, -1))
        )
        middle = left / (mass * G)
        for i, (a, m, u, r) in enumerate(zip(axles, axle_mass, low, rise, strict=True)):
            sunk = heave - reach[i] * pitch - (hubs[2 * i] + hubs[2 * i + 1]) / 2
            centre = a.roll_centre + a.roll_centre_slope * (r + sunk)
            over = roll - (hubs[2 * i] - hubs[2 * i + 1]) / a.track
            middle -= (m - u) / mass * ((height + heave) * roll - centre * over)
        return middle

    def left_over(unknown: list[float]) -> list[float]:
        heave, roll, pitch, *hubs, slip_front, slip_rear = unknown
        slip = (slip_front, slip_rear)
        steer = straight + slip_front - slip_rear
        loads = [max(0.0, standing[k] - axles[k // 2].tyre_rate * hubs[k]) for k in range(4)]
        forces = [pulls(i, loads[2 * i : 2 * i + 2]) for i in (0, 1)]
        turning = sum((forces[i][1] - forces[i][0]) * axles[i].track / 2 for i in (0, 1))
        turning += mass * (a_x * aside(heave, roll, pitch, hubs) - a_y * ahead(heave, pitch))
        side = [axle_mass[0] * a_y - turning / base, axle_mass[1] * a_y + turning / base]
        wheels, slides = [], []
        vertical = rolling = pitching = 0.0
        leaning = 0.0
        axis = 0.0
        for i in (0, 1):
            a, s = axles[i], sets[i]
            half = a.track / 2
            raised = car.caster_offset * caster * steer if i == 0 else 0.0
            corner = heave - reach[i] * pitch
            travel = [hubs[2 * i] + raised - corner - half * roll, hubs[2 * i + 1] - raised - corner + half * roll]
            centre = a.roll_centre + a.roll_centre_slope * (rise[i] - (travel[0] + travel[1]) / 2)
            body_side = side[i] - a_y * low[i]
            links = (body_side * centre + a_y * low[i] * a.wheel_radius) / a.track
            on = loads[2 * i] + loads[2 * i + 1]
            jacking = 2 * side[i] * centre / a.track * (loads[2 * i + 1] - loads[2 * i]) / max(on, 1.0)
            twist = s.bar / a.track**2 * (travel[0] - travel[1])
            made = -side[i]
            for k in (0, 1):
                sign = 1 - 2 * k
                w = 2 * i + k
                spring = rate[i] * travel[k] + sign * twist + stops(w, travel[k]) - at_rest[w]
                gained = loads[2 * i + k] - standing[2 * i + k]
                wheels.append(gained - spring + sign * links - jacking / 2 - anti[i] / 2)
                vertical += gained
                rolling -= sign * half * gained
                pitching += reach[i] * gained
                read, now = stand.aligned[w], stand.rise[w]
                toe = toes[w] - toe_curve(i, -read) + toe_curve(i, travel[k] - now)
                lean = sign * (cambers[w] + a.camber_slope * (read - now + travel[k])) - roll
                lean -= stand.roll - stand.aligned_roll
                lean += caster * steer if i == 0 else 0.0
                bend = (-1, 1)[i] * a.compliance_steer * side[i]
                made += side_force(a, loads[2 * i + k], slip[i] - sign * toe + bend, lean, pressures[w], forces[i][k])
            slides.append(made)
            upward = lift[i] - air * a.lift_attitude * pitch
            vertical += upward
            pitching += reach[i] * upward
            own = (axle_mass[i] - low[i]) / sprung * centre
            axis += own
            leaning += own * (hubs[2 * i] - hubs[2 * i + 1]) / a.track
        tall = height + heave
        rolling -= a_y * (sprung * tall + low_moment) + sprung * G * ((tall - axis) * roll + leaning)
        pitching += a_x * (sprung * tall + low_moment) - sprung * G * (tall - wheel_height) * pitch
        return [vertical, rolling, pitching, *wheels, *slides]

    over_stiffness = [1 / (2 * a.tyre.stiffness_max) for a in axles]
    start = [0.0] * 7 + [axle_mass[i] * a_y * over_stiffness[i] for i in (0, 1)]
    return left_over, start


def one_of(record: Any, i: int) -> Any:
    """One case of a record of arrays, plain numbers."""
    kept = {}
    for field in fields(record):
        value = getattr(record, field.name)
        kept[field.name] = one_of(value, i) if is_dataclass(value) else value
        if isinstance(value, np.ndarray):
            kept[field.name] = float(value[i]) if value.ndim else float(value)
    return type(record)(**kept)


def loop_over(cases: list[tuple[Car, Setup, Moment]]) -> list[list[float]]:
    """Solve cases one after the other."""
    found = []
    for case in cases:
        left_over, start = equations(*case)
        answer = root(left_over, start, method="hybr", tol=1e-11)
        assert answer.success, answer.message
        found.append(list(answer.x))
    return found


def apart(found: Trim, i: int, answer: list[float]) -> float:
    """How far the trim's case and the loop's answer are apart: metres and radians."""
    heave, roll, pitch, *_, front, rear = answer
    ours = (found.heave[i], found.roll[i], found.pitch[i], found.slip[0, i], found.slip[1, i])
    return float(np.abs(np.subtract(ours, (heave, roll, pitch, front, rear))).max())


def unbalanced(car: Car, setup: Setup, moment: Moment, found: Trim, i: int) -> float:
    """Largest force or moment that these equations leave over at one answer of the trim, over the car's weight."""
    case = [one_of(record, i) for record in (car, setup, moment)]
    left_over, _ = equations(*case)
    one, own, _ = case
    caster = own.caster + (own.front.height - one.front.reference_height) / one.wheelbase
    caster -= (own.rear.height - one.rear.reference_height) / one.wheelbase
    hubs = []
    for axle, end in enumerate((one.front, one.rear)):
        corner = found.heave[i] - (1, -1)[axle] * found.cg_to_axle[axle, i] * found.pitch[i]
        raised = one.caster_offset * caster * found.steer[i] if axle == 0 else 0.0
        for side, sign in enumerate((1, -1)):
            hubs.append(found.travel[axle, side, i] + corner + sign * (end.track / 2 * found.roll[i] - raised))
    unknown = [found.heave[i], found.roll[i], found.pitch[i], *hubs, *found.slip[:, i]]
    return float(np.abs(left_over([float(x) for x in unknown])).max() / (one.mass * G))
