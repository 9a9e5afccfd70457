"""The measuring form: its steps in the order of the work, what a box and a list are, and the units it takes."""

from __future__ import annotations

from typing import NamedTuple

from ..car.keys import CORNERS

WAYS: dict[str, tuple[str, ...]] = {
    "mass": ("kg", "lb"),
    "length": ("mm", "in", "cm", "m"),
    "pressure": ("bar", "psi"),
    "rate": ("N_per_mm", "lbf_per_in"),
    "speed": ("kmh", "mph"),
    "depth": ("mm", "in"),
    "angle": ("deg", "arcmin"),
    "toe": ("deg", "arcmin", "mm", "in"),
    "temperature": ("celsius",),
    "ratio": ("number",),
    "share": ("percent",),
    "text": (),
}
"""What a field holds → units it may be typed in, the form's own first; behind a number any of them may be written."""
CHOSEN = ("mass", "length", "pressure", "rate", "speed")
"""Of these the first step chooses the unit that is meant where none is written."""
TOE_UNITS = {"mm at the rim, each wheel": "mm", "degrees, each wheel": "deg", "minutes, each wheel": "arcmin"}
"""Way of reading toe at each wheel → its unit."""
STRINGS = "strings and ruler"
HUB, ARCH, SILL = "hub centre to arch", "floor to arch", "two points of the sill or floor"
BOOK, BEFORE = "the maker's or workshop's figures", "measured before the work"


class Field(NamedTuple):
    """One box to write in: key, letter in the drawing, label, what it holds, range in the form's own unit, condition.

    ``when`` is a choice's key and the value at which the box is asked for; empty for always. ``more`` puts it behind
    the step's *more*.
    """

    key: str
    mark: str
    label: str
    holds: str
    low: float
    high: float
    when: tuple[str, str | tuple[str, ...]] = ("", "")
    more: bool = False

    @property
    def step(self) -> str:
        """The step it belongs to."""
        return self.key.partition(".")[0]


class Choice(NamedTuple):
    """One list to choose from: key, label, options; the first holds until another is chosen."""

    key: str
    label: str
    options: tuple[str, ...]
    when: tuple[str, str | tuple[str, ...]] = ("", "")
    more: bool = False

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
        "Say what kind of car yours is and what you measure with. What you do not measure is filled with values "
        "typical of that kind, and marked so. A unit written behind a number, such as 450 lb/in, always counts.",
        "Work on brakes, steering and suspension is for qualified people; scrutineering and local rules decide.",
    ),
    Step(
        "felt",
        "What happened",
        "In your own words, and since when. A workshop starts from this.",
        "Never look for the limit on a public road to find out more.",
    ),
    Step(
        "look",
        "Look first: is it safe to drive?",
        "Have these looked at before anything is set, best by a workshop. Heights out after a repair are a fault until "
        "somebody has looked, not a setting.",
        "Car on stands or a lift, level ground, never under a car on a jack; for qualified people.",
    ),
    Step(
        "tyres",
        "Tyres and pressures",
        "Pressures first: they change the heights, and so all that follows. Cold ones before driving, with the air's "
        "temperature; hot ones straight after driving, with the same gauge.",
        "Car on level ground, engine off, wheels wedged.",
    ),
    Step(
        "floor",
        "Driver's weight, level floor",
        "Put the driver's weight in the seat (bags of sand will do) and fuel as driven. With a water level or a long "
        "straight edge measure how far the highest of the four wheel spots is above the other three.",
        "Fasten the load in the seat; keep feet and hands clear when the car settles.",
    ),
    Step(
        "heights",
        "Ride heights",
        "Roll the car 2 m and bounce it once. Hub centre to wheel arch, straight up, is the easiest and does not mind "
        "the tyres; floor to arch will do; or two points on the sill. The reference is what the same places should "
        "read: the maker's or workshop's figures, or your own from before the work.",
        "Read from beside the car. Nobody under it, least of all on a jack.",
    ),
    Step(
        "stops",
        "Travel left: a cable tie on each damper shaft",
        "Push a cable tie down the shaft against the damper's body, drive a session, and read how much free shaft is "
        "left between tie and bump stop: 0 says that the stop was touched. More tells where the car stands: the free "
        "shaft to the stop standing still (already pressed: how far, with a minus), and how far a wheel drops.",
        "Read the shaft with a mirror from the wheel arch; hang the wheels with the car on stands on level ground.",
    ),
    Step(
        "corners",
        "Corner scales",
        "Anti-roll bars unhooked, brakes off, every scale set to zero; roll the car on and bounce it once. Track is "
        "from the middle of one tyre to the middle of the other.",
        "Ramps and stops for the wheels; someone at the brake. Unhook bars with the car on stands on level ground.",
    ),
    Step(
        "camber",
        "Camber and caster",
        "From the alignment print-out, wheel by wheel, or read on level ground with the steering straight. Camber is "
        "the wheel's lean, negative when its top leans in. Degrees may be typed as -1.5 or -1°30'.",
        "Level floor; settle the car before reading; nobody under it.",
    ),
    Step(
        "toe",
        "Toe",
        "From the alignment print-out or your own rulers, wheel by wheel: write in or out behind each number, such as "
        "1.5 out or 1/16 inch out. Or type what two strings say, one along each side at wheel-centre height, past both "
        "wheels.",
        "Strings clear of feet; setting toe is for qualified people, and comes after every other change.",
    ),
    Step(
        "springs",
        "Springs and bars",
        "Spring rate: printed on the spring. Bars: the diameter says most; all sizes say more. More: motion ratio "
        "(raise one wheel, read how far it went and how much shorter the spring's place became), springs on a scale.",
        "Car on axle stands on level ground, never under a car on a jack. A pressed spring can kill: only in a proper "
        "press, by qualified people.",
    ),
    Step(
        "adjust",
        "What can be set on this car",
        "A page that asks for what cannot be set helps nobody. What you do not know stays open: the workshop looks.",
        "Springs under load: only qualified people turn seats, with the car on stands.",
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
        "curves",
        "Toe and camber at three heights",
        "As it stands is the first height. Raise, then lower the body by some 25 mm with its own height adjusters, or "
        "with weight and blocks, wheels on greased sheets; settle it and read toe and camber again. For the curves "
        "this beats any tape on the links: ±1 deg/m. More: the roll centre from both links of one side, seen from the "
        "front, each end by its distance from the car's middle and its height above the floor.",
        "Axle stands at all times; nobody under a car on a jack.",
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
