"""What the tests ask of a car in both turns, the worse first."""

from __future__ import annotations

from dataclasses import replace

from vdlib.answers.balance import balance
from vdlib.answers.forgiven import forgiven_speed
from vdlib.answers.hands_still import hands_still_limit
from vdlib.answers.lift import simulate
from vdlib.answers.limits import limits
from vdlib.answers.turns import both_turns, limit_gap


def balance_in_turns(car, setup, moment):
    return both_turns(lambda doing: balance(car, setup, doing), moment, lambda found: found.understeer_angle)


def limits_in_turns(car, setup, moment):
    return both_turns(lambda way: limits(car, setup, way), replace(moment, lateral=1.0), limit_gap)


def hands_still_in_turns(car, setup, corner):
    return both_turns(
        lambda way: hands_still_limit(car, setup, way.radius, way.lift, way.sign, way.brake),
        corner,
        lambda found: found.limit,
    )


def forgiven_in_turns(car, setup, corner, driver=None):
    return both_turns(lambda way: forgiven_speed(car, setup, way, driver), corner, lambda found: found.speed)


def slide_in_turns(car, setup, scenario):
    return both_turns(lambda way: simulate(car, setup, way), scenario, lambda run: -run.slide.max(axis=0))
