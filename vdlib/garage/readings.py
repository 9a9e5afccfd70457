"""The readings a driver would take from a given car: for trying the measuring without a garage, and for testing it.

Exact to the last digit; whoever wants real-looking ones adds errors and rounds. Worked out from points in the plane of
the floor or the side of the car, not by turning the measuring formulae round.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..car.records import Car, Setup
from ..trim.loads import corner_loads
from ..trim.suspension import static_toe
from ..units import Array, G, Value


def corner_readings(car: Car, setup: Setup) -> Array:
    """Return what four scales show: front left, front right, rear left, rear right.

    Parameters:
        car: the car, standing at its reference heights [-]
        setup: for its cross weight [-]

    Returns:
        readings, leading axis the four scales (4, …) [kg]

    Errors:
        ``InputError`` where the shares leave a wheel with less than nothing.
    """
    four = corner_loads(car.mass, car.front_share, car.left_share, setup.cross_weight)
    loads = (four.front_left, four.front_right, four.rear_left, four.rear_right)
    return np.stack(np.broadcast_arrays(*loads)) / G


def lift_readings(car: Car, rises: Any, lifted: str = "rear") -> tuple[Array, Array]:
    """Return what the two scales of the standing axle show, level and with the other axle's wheel centres raised.

    Parameters:
        car: the car, suspension blocked [-]
        rises: rises of the wheel centres, leading axis counts them [m]
        lifted: "rear" or "front" [-]

    Returns:
        level reading and lifted readings (lifts, …) [kg]

    Validity: rigid tyres, suspension blocked at the reference heights.
    """
    ends = (car.front, car.rear) if lifted == "rear" else (car.rear, car.front)
    share = car.front_share if lifted == "rear" else 1 - np.asarray(car.front_share)
    low, high = (np.asarray(end.wheel_radius, dtype=float) for end in ends)
    base = np.asarray(car.wheelbase, dtype=float)
    # points in the side view, from the standing axle's contact patch: wheel centres and centre of gravity, car level
    apart = np.sqrt(base**2 - (high - low) ** 2)
    along, up = apart * (1 - share), car.cg_height - low

    def reading(rise: Any) -> Any:
        turn = np.arcsin((rise + high - low) / base) - np.arcsin((high - low) / base)
        x = along * np.cos(turn) - up * np.sin(turn)
        y = apart * np.cos(turn) - (high - low) * np.sin(turn)
        return car.mass * (1 - x / y)

    return np.asarray(reading(0.0)), np.stack([np.asarray(reading(rise)) for rise in np.asarray(rises, dtype=float)])


def height_readings(car: Car, setup: Setup, points: tuple[Value, Value]) -> tuple[Any, Any, Any, Any]:
    """Return what a tape shows at two body points whose heights over the axle-line points' plane are nil.

    Parameters:
        car: the car, for wheelbase and reference heights [-]
        setup: the setup, for its ride heights [-]
        points: distances of the two points behind the front axle [m]

    Returns:
        front and rear reading, then the same two at the reference heights [m]
    """

    def line(front: Any, rear: Any) -> list[Any]:
        return [front + (np.asarray(rear) - front) * p / car.wheelbase for p in points]

    now = line(setup.front.height, setup.rear.height)
    then = line(car.front.reference_height, car.rear.reference_height)
    return now[0], now[1], then[0], then[1]


def standing_toe(car: Car, setup: Setup) -> Array:
    """Return toe of front and rear wheels as the car stands now, not as it was read.

    Parameters:
        car: the car [-]
        setup: the setup [-]

    Returns:
        toe of each wheel, leading axis front and rear (2, …) [rad]
    """
    both = [
        static_toe(s.toe, s.height, s.aligned_height, a.reference_height, a.toe_slope, a.toe_bend)
        for a, s in ((car.front, setup.front), (car.rear, setup.rear))
    ]
    return np.stack(np.broadcast_arrays(*both))


def string_readings(
    toe: Any, diameter: Value, wheelbase: Value, widths: tuple[Value, Value], lines: tuple[Any, Any]
) -> tuple[Array, Array, Array]:
    """Return what a ruler shows from two strings to the front and rear edge of each rim, square to the string.

    Parameters:
        toe: toe of each wheel (2, 2, …) [rad]
        diameter: distance between the two places on a rim [m]
        wheelbase: wheelbase [m]
        widths: front and rear distance between the two rims' outer faces [m]
        lines: distance of the left and right string from the centre line above the front and the rear axle,
            each (front, rear) [m]

    Returns:
        string to front edge (2, 2, …), to rear edge (2, 2, …), and string to string at both axles (2, …) [m]
    """
    toe = np.asarray(toe, dtype=float)
    ahead, behind = np.empty(toe.shape), np.empty(toe.shape)
    for j, (at_front, at_rear) in enumerate(lines):
        along = np.stack(np.broadcast_arrays(wheelbase, np.subtract(at_front, at_rear)))  # the string's, out is +y
        along = along / np.hypot(along[0], along[1])
        for i, width in enumerate(widths):
            centre = np.array([0.0 if i == 0 else -1.0, 1.0])
            x, y = centre[0] * np.asarray(wheelbase), np.asarray(width) / 2
            for edge, sign in ((ahead, 0.5), (behind, -0.5)):
                px, py = x + sign * diameter * np.cos(toe[i, j]), y - sign * diameter * np.sin(toe[i, j])
                edge[i, j] = along[0] * (at_front - py) - along[1] * (0.0 - px)
    return ahead, behind, np.stack(np.broadcast_arrays(lines[0][0] + lines[1][0], lines[0][1] + lines[1][1]))
