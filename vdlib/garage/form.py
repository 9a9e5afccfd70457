"""The measuring form as a table: steps in the order of the work, the fields of each, the choices, and their words."""

from __future__ import annotations

import functools
from typing import NamedTuple

from ..car.keys import CORNERS, ENDS
from ..car.typical import TYRES, kinds_at
from ..car.typical_table import BODIES, HEIGHTS

WAYS: dict[str, tuple[str, ...]] = {
    "mass": ("kg", "lb"),
    "length": ("mm", "in"),
    "pressure": ("bar", "psi"),
    "rate": ("N_per_mm", "lbf_per_in"),
    "angle": ("deg",),
    "ratio": ("number",),
    "share": ("percent",),
}
"""What a field holds → units it may be typed in, the form's own first."""


class Field(NamedTuple):
    """One box to write in: key, letter in the drawing, label, what it holds, range in the form's own unit, condition.

    ``when`` is a choice's key and the value at which the box is asked for; empty for always.
    """

    key: str
    mark: str
    label: str
    holds: str
    low: float
    high: float
    when: tuple[str, str] = ("", "")

    @property
    def step(self) -> str:
        """The step it belongs to."""
        return self.key.partition(".")[0]


class Choice(NamedTuple):
    """One list to choose from: key, label, options; the first holds until another is chosen."""

    key: str
    label: str
    options: tuple[str, ...]
    when: tuple[str, str] = ("", "")

    @property
    def step(self) -> str:
        """The step it belongs to."""
        return self.key.partition(".")[0]


class Step(NamedTuple):
    """One step of the work: key, title, what to do, and the caution that goes with it."""

    key: str
    title: str
    how: str
    caution: str
    optional: bool = False


STEPS: tuple[Step, ...] = (
    Step(
        "start",
        "Car and tools",
        "Say which car the form starts from, what kind of car yours is, and what you measure with. What you do not "
        "measure is filled with values typical of that kind, and marked so.",
        "Work on brakes, steering and suspension is for qualified people; scrutineering and local rules decide.",
    ),
    Step(
        "tyres",
        "Tyres and pressures",
        "Straight after driving, tyres hot. Pressures first: they change the heights, and so all that follows.",
        "Car on level ground, engine off, wheels wedged.",
    ),
    Step(
        "floor",
        "Driver's weight, level floor",
        "Put the driver's weight in the seat (bags of sand will do) and fuel as driven. With a water level or a long "
        "straight edge find how much higher the highest of the four wheel places stands than the plane of the others.",
        "Fasten the load in the seat; keep feet and hands clear when the car settles.",
    ),
    Step(
        "heights",
        "Ride heights",
        "Choose two points on the sill or floor, one behind the front wheel and one ahead of the rear wheel, both at "
        "the same height on the body. Roll the car, bounce it once, and read down to the floor, left and right. The "
        "reference heights are those that the same points should have: the maker's, or from before the repair.",
        "Read from beside the car. Nobody under it, least of all on a jack.",
    ),
    Step(
        "corners",
        "Corner scales",
        "Anti-roll bars unhooked, brakes off, every scale set to zero; roll the car on and bounce it once. Track is "
        "from the middle of one tyre to the middle of the other.",
        "Ramps and stops for the wheels; someone at the brake. Unhook bars with the car on stands on level ground.",
    ),
    Step(
        "lift",
        "Axle lift: height of the centre of gravity",
        "Suspension blocked so that it cannot move; both scales under the axle that stays down. Read level, then with "
        "the other axle's wheel centres raised, at two or three rises. Leave it out if in doubt: a typical value then "
        "serves.",
        "A raised car can roll or fall: level hard floor, one axle wedged, the other free to roll, gearbox in "
        "neutral, the raised axle on a lift or stands made for it, nobody in, under or in the path of the car. A "
        "workshop's lift is the right place.",
        True,
    ),
    Step(
        "camber",
        "Camber and caster",
        "Steering straight. Camber is the wheel's lean, negative when its top leans in. Roll the car half a wheel turn "
        "and read again; type the mean. Caster is the lean of the steering axis seen from the side.",
        "Level floor; settle the car before reading; nobody under it.",
    ),
    Step(
        "toe",
        "Strings and toe",
        "One string along each side at wheel-centre height, past both wheels; steering straight and held. With a ruler "
        "read string to rim, square to the string, at the rim's front and rear edge. The strings need not be "
        "parallel to the car.",
        "Strings clear of feet; setting toe is for qualified people, and comes after every other change.",
    ),
    Step(
        "springs",
        "Springs, motion ratio and bars",
        "Spring rate: printed on the spring, or pressed on a scale. Motion ratio: spring out or kept seated, raise "
        "one wheel and read how far it went and how much shorter the spring's place became. Bars: their sizes.",
        "Car on axle stands on level ground, never under a car on a jack. A pressed spring can kill: only in a proper "
        "press, by qualified people.",
        True,
    ),
    Step(
        "curves",
        "Travel curves of toe and camber",
        "Raise or lower the body by its own height adjusters, or with weight and blocks, wheels on greased sheets; "
        "settle it and read toe and camber again. As it stands is the first reading already.",
        "Axle stands at all times; nobody under a car on a jack.",
        True,
    ),
    Step(
        "stops",
        "Bump stops",
        "As the car stands: how much shaft shows between damper and bump stop, on the side that shows less; where the "
        "rubber is pressed already, by how much, with a minus: its free length less its length now. Then raise "
        "the car until the wheel hangs: how far it drops from where it stood.",
        "Read the shaft with a mirror from the wheel arch; hang the wheels with the car on stands on level ground.",
        True,
    ),
)
"""The steps in the order of the work in the garage; common practice, no source."""

KIND_AT = {
    "start.front": "front",
    "start.rear": "rear",
    "start.body": "body",
    "start.height": "height",
    "tyres.kind": "tyre",
}
"""Choice that holds a kind → its field of ``Kinds``."""

SIDES = {name: name.replace("_", " ") for name in CORNERS}
"""Corner's key → its words."""


def _four(
    step: str, marks: str, what: str, holds: str, low: float, high: float, **more: tuple[str, str]
) -> list[Field]:
    """Four boxes, one for each wheel."""
    return [
        Field(f"{step}.{name}", mark, f"{SIDES[name]}{what}", holds, low, high, **more)
        for name, mark in zip(CORNERS, marks, strict=True)
    ]


def _fields() -> list[Field]:
    gauge, plumb = ("camber.way", "degrees on a gauge"), ("camber.way", "mm to a plumb line")
    pressed = ("springs.way", "pressed on a scale")
    found = [
        Field("start.division", "", "one division of a scale", "mass", 0.01, 20),
        *_four("tyres", "ABCD", " tyre, hot", "pressure", 0.8, 4.5),
        Field("floor.step", "A", "highest place above the others", "length", 0, 60),
        Field("heights.wheelbase", "A", "wheelbase", "length", 1500, 4000),
        Field("heights.front_point", "B", "front point behind front axle", "length", -1500, 2500),
        Field("heights.rear_point", "C", "rear point behind front axle", "length", 500, 5500),
        *_four("heights", "DEFG", " point to floor", "length", 20, 500),
        Field("heights.front_reference", "D", "front reference height", "length", 20, 500),
        Field("heights.rear_reference", "F", "rear reference height", "length", 20, 500),
        Field("heights.front_wheel", "H", "front wheel centre to floor", "length", 150, 500),
        Field("heights.rear_wheel", "J", "rear wheel centre to floor", "length", 150, 500),
        *_four("corners", "ABCD", " scale", "mass", 5, 2000),
        Field("corners.front_track", "E", "front track", "length", 800, 2200),
        Field("corners.rear_track", "F", "rear track", "length", 800, 2200),
        Field("corners.known_mass", "", "total, if known", "mass", 300, 4000),
        Field("corners.known_share", "", "front share, if known", "share", 25, 75),
        Field("lift.level", "A", "both scales, car level", "mass", 10, 3000),
    ]
    for i in (1, 2, 3):
        found.append(Field(f"lift.rise_{i}", "B", f"lift {i}: rise of wheel centres", "length", 20, 1500))
        found.append(Field(f"lift.reading_{i}", "A", f"lift {i}: both scales", "mass", 10, 3000))
    found += _four("camber", "ABCD", " camber", "angle", -8, 4, when=gauge)
    found.append(Field("camber.gauge", "", "gauge good to ±", "angle", 0.01, 2, when=gauge))
    for name, mark in zip(CORNERS, "ABCD", strict=True):
        for edge in ("top", "bottom"):
            found.append(Field(f"camber.{name}_{edge}", mark, f"{SIDES[name]}, {edge}", "length", 0, 1000, plumb))
    found += [
        Field("camber.height", "E", "height between top and bottom", "length", 200, 700, plumb),
        Field("camber.caster_left", "F", "caster, front left", "angle", 0, 15),
        Field("camber.caster_right", "F", "caster, front right", "angle", 0, 15),
    ]
    for name, ahead, behind in zip(CORNERS, "ACEG", "BDFH", strict=True):
        found.append(Field(f"toe.{name}_ahead", ahead, f"{SIDES[name]}, front edge", "length", 1, 1000))
        found.append(Field(f"toe.{name}_behind", behind, f"{SIDES[name]}, rear edge", "length", 1, 1000))
    found += [
        Field("toe.diameter", "J", "rim edge to rim edge", "length", 200, 700),
        Field("toe.front_width", "K", "width at the front", "length", 800, 3500),
        Field("toe.rear_width", "L", "width at the rear", "length", 800, 3500),
    ]
    for end, mark in zip(ENDS, "AB", strict=True):
        printed = ("springs.way", "printed on the spring")
        found.append(Field(f"springs.{end}_rate", mark, f"{end} spring rate", "rate", 5, 500, printed))
        for i in (1, 2, 3):
            found.append(Field(f"springs.{end}_load_{i}", mark, f"{end} press {i}: scale", "mass", 1, 2000, pressed))
            found.append(
                Field(f"springs.{end}_length_{i}", mark, f"{end} press {i}: length", "length", 30, 900, pressed)
            )
    for end, wheel, spring in zip(ENDS, "CE", "DF", strict=True):
        for i in (1, 2):
            found.append(Field(f"springs.{end}_wheel_{i}", wheel, f"{end} wheel raised, {i}", "length", 1, 300))
            found.append(Field(f"springs.{end}_spring_{i}", spring, f"{end} spring shorter, {i}", "length", 0.1, 300))
    for end, mark in zip(ENDS, "GH", strict=True):
        sizes = (f"springs.{end}_bar", "sizes below")
        found += [
            Field(f"springs.{end}_diameter", mark, f"{end} bar's diameter", "length", 5, 80, sizes),
            Field(f"springs.{end}_bore", mark, f"{end} bar's bore (0 if solid)", "length", 0, 75, sizes),
            Field(f"springs.{end}_straight", mark, f"{end} bar, length between arms", "length", 200, 2000, sizes),
            Field(f"springs.{end}_arm", mark, f"{end} bar's lever arm", "length", 30, 600, sizes),
            Field(f"springs.{end}_link", mark, f"{end} link's move over wheel's", "ratio", 0.05, 1.5, sizes),
        ]
    for end in ENDS:
        for i in (1, 2):
            found += [
                Field(f"curves.{end}_move_{i}", "A", f"{end} {i}: body moved up by", "length", -150, 150),
                Field(f"curves.{end}_toe_{i}", "B", f"{end} {i}: total toe-in at the rim", "length", -60, 60),
                Field(f"curves.{end}_camber_{i}", "C", f"{end} {i}: camber, mean", "angle", -8, 4),
            ]
    for end in ENDS:
        found.append(Field(f"stops.{end}_shaft", "A", f"{end}: free shaft to the stop", "length", -60, 200))
        found.append(Field(f"stops.{end}_drop", "B", f"{end}: wheel drops until it hangs", "length", 1, 250))
    return found


FIELDS: dict[str, Field] = {field.key: field for field in _fields()}
"""Key → field, in the order of the form."""

_BAR = ("not measured", "no bar", "sizes below")
CHOICES: dict[str, Choice] = {
    choice.key: choice
    for choice in (
        Choice("start.from", "start from", ()),
        Choice("start.fill", "what is not measured", ("typical of the kinds below", "as in the start car")),
        Choice("start.front", "front suspension", kinds_at("front")),
        Choice("start.rear", "rear suspension", kinds_at("rear")),
        Choice("start.body", "body", BODIES),
        Choice("start.height", "springs", HEIGHTS),
        Choice("start.driven", "driven wheels", ("as the start car", "rear", "front", "all four, half each")),
        Choice("start.mass", "weights in", WAYS["mass"]),
        Choice("start.length", "lengths in", WAYS["length"]),
        Choice("start.pressure", "pressures in", WAYS["pressure"]),
        Choice("start.rate", "spring rates in", WAYS["rate"]),
        Choice("start.tape", "tape's class (in its oval)", ("II", "I", "III")),
        Choice("start.ruler", "ruler read to", ("0.5 mm", "1 mm")),
        Choice("start.scale", "scales", ("in service", "new or just verified")),
        Choice("tyres.kind", "kind of tyre", tuple(sorted(TYRES, key=lambda kind: kind != "fast road"))),
        Choice("floor.driver", "driver's weight", ("not in the seat yet", "in the seat")),
        Choice("corners.bars", "anti-roll bars", ("not unhooked yet", "unhooked", "the car has none")),
        Choice("lift.end", "axle raised", ENDS[::-1]),
        Choice("camber.way", "camber read as", ("degrees on a gauge", "mm to a plumb line")),
        Choice("toe.way", "widths K and L", ("rim face to rim face", "string to string")),
        Choice("springs.way", "spring rate", ("printed on the spring", "pressed on a scale")),
        Choice("springs.front_bar", "front bar", _BAR),
        Choice("springs.rear_bar", "rear bar", _BAR),
    )
}
"""Key → choice. The options of ``start.from`` are the cars that exist."""


@functools.cache
def fields_at(step: str) -> tuple[Field, ...]:
    """List the fields of one step in order.

    Parameters:
        step: the step's key [-]

    Returns:
        fields [-]
    """
    return tuple(field for field in FIELDS.values() if field.step == step)


@functools.cache
def choices_at(step: str) -> tuple[Choice, ...]:
    """List the choices of one step in order.

    Parameters:
        step: the step's key [-]

    Returns:
        choices [-]
    """
    return tuple(choice for choice in CHOICES.values() if choice.step == step)
