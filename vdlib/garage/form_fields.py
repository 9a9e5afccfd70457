"""The boxes and lists of the measuring form, step by step."""

from __future__ import annotations

import functools
from typing import Any

from ..car.keys import CORNERS, ENDS
from ..car.typical import TYRES, kinds_at
from ..car.typical_table import BODIES, HEIGHTS
from .form import ARCH, BEFORE, BOOK, HUB, SIDES, SILL, STRINGS, TOE_UNITS, WAYS, Choice, Field

LOOK: dict[str, str] = {
    "parts": "the invoice: what was touched, part numbers, left and right, front and rear",
    "springs": "springs seated, pads and top mounts in order",
    "bolts": "rubber-bushed arm bolts slackened and torqued at ride height, then measured again",
    "dampers": "dampers dry; bump stops there, whole, their marks",
    "play": "no play: joints, bushes, bearings, toe links; eccentrics not slipped",
    "bent": "no bent arm, no shifted subframe",
    "tyres": "tyres: size, make, age and wear as they should be; wheel offsets",
    "bars": "bar links whole, same hole left and right, no preload",
    "brakes": "no dragging brake; wheels torqued",
    "boot": "boot emptied, nothing loose in the car",
}
"""What is looked at before anything is set; common practice, no source."""
UNSEEN, FINE, FOUND = "not looked at yet", "in order", "found something"
DIFFERENTIALS = ("not known", "open", "limited slip", "locked or welded")
CONTROLS = ("not known", "none", "off when it happened", "on when it happened")
PHASES = {"braking": "brake", "foot just lifted": "lift", "steady foot": "steady", "on the throttle": "drive"}
"""Phase as a driver says it → the model's."""
UNSAID = "not said"
"""What stands in a list of the scare until the driver has said it."""
DIRECTIONS = (UNSAID, "left", "right", "left and right")
LINK_POINTS = ("lower_inner", "lower_outer", "upper_inner", "upper_outer")
"""Ends of the two links of one side, in front view."""
PRINTOUT = "toe.printout"
"""Box that takes a whole table and fills in others from it."""
SEATS = ("not known", "fixed", "threaded, all four", "threaded, rear only", "threaded, front only")
OPEN, SETTLED = "not looked at yet", "read again: it is as typed"
"""What a reader may say of the questions of a step."""
ASKED = ".asked"
"""How the key of that choice ends."""
MAY_SLIP = ("tyres", "floor", "heights", "stops", "corners", "camber", "springs", "lift", "curves")
"""Steps whose questions may hide a slip that would turn an answer; toe hardly moves a limit."""
_BAR = ("not measured", "no bar", "diameter only", "sizes below")


def _four(step: str, marks: str, what: str, holds: str, low: float, high: float, **more: Any) -> list[Field]:
    """Four boxes, one for each wheel; ``what`` may end in a key's own ending after a bar: " cold|_cold"."""
    words, _, ending = what.partition("|")
    return [
        Field(f"{step}.{name}{ending}", mark, f"{SIDES[name]}{words}", holds, low, high, **more)
        for name, mark in zip(CORNERS, marks, strict=True)
    ]


def _text(key: str, label: str, **more: Any) -> Field:
    return Field(key, "", label, "text", 0, 0, **more)


def _fields() -> list[Field]:
    gauge, plumb = ("camber.way", "degrees on a gauge"), ("camber.way", "mm to a plumb line")
    pressed, printed = ("springs.way", "pressed on a scale"), ("springs.way", "printed on the spring")
    sill, strings = ("heights.way", SILL), ("toe.read", STRINGS)
    found = [
        _text("start.km", "km on the clock"),
        _text("start.contact", "phone or mail of the driver"),
        _text("start.event", "event and date"),
        Field("start.division", "", "one division of a scale", "mass", 0.01, 20, more=True),
        _text("felt.words", "what it did, in your words"),
        _text("felt.corner", "which corner"),
        Field("felt.speed", "", "speed there, about", "speed", 20, 300),
        _text("felt.since", "since when"),
        _text("felt.work", "what work was done before that"),
        _text("look.note", "what was found"),
        *_four("tyres", "ABCD", " cold|_cold", "pressure", 0.8, 4.5),
        Field("tyres.cold_air", "", "air when read cold", "temperature", -30, 60),
        *_four("tyres", "ABCD", " tyre, hot", "pressure", 0.8, 4.5),
        Field("tyres.front_reference", "", "front cold pressure it should have", "pressure", 0.8, 4.5),
        Field("tyres.rear_reference", "", "rear cold pressure it should have", "pressure", 0.8, 4.5),
        _text("tyres.make", "make, size and age of the tyres", more=True),
    ]
    for name, mark in zip(CORNERS, "ABCD", strict=True):
        for place in ("outer", "middle", "inner"):
            key = f"tyres.{name}_{place}"
            found.append(Field(key, mark, f"{SIDES[name]} tread, {place}", "depth", 0, 15, more=True))
    found += [
        Field("floor.step", "A", "highest place above the others", "length", 0, 60),
        Field("heights.wheelbase", "A", "wheelbase", "length", 1500, 4000),
        Field("heights.front_point", "B", "front point behind front axle", "length", -1500, 2500, sill),
        Field("heights.rear_point", "C", "rear point behind front axle", "length", 500, 5500, sill),
        *_four("heights", "DEFG", " height", "length", 20, 900),
        Field("heights.front_reference", "D", "front height it should have", "length", 20, 900),
        Field("heights.rear_reference", "F", "rear height it should have", "length", 20, 900),
        Field("heights.front_wheel", "H", "front wheel centre to floor", "length", 150, 500, more=True),
        Field("heights.rear_wheel", "J", "rear wheel centre to floor", "length", 150, 500, more=True),
        *_four("stops", "CDEF", " tie, shaft still free|_tie", "length", 0, 200),
    ]
    for end in ENDS:
        found.append(Field(f"stops.{end}_shaft", "A", f"{end} free shaft, standing", "length", -60, 200))
        found.append(Field(f"stops.{end}_drop", "B", f"{end}: wheel drops until it hangs", "length", 1, 250, more=True))
    found += [
        *_four("corners", "ABCD", " scale", "mass", 5, 2000),
        Field("corners.known_mass", "", "total the scales show", "mass", 300, 4000),
        Field("corners.front_track", "E", "front track", "length", 800, 2200),
        Field("corners.rear_track", "F", "rear track", "length", 800, 2200),
        Field("corners.known_share", "", "front share, if known", "share", 25, 75, more=True),
        *_four("camber", "ABCD", " camber", "angle", -8, 4, when=gauge),
        Field("camber.front_reference", "", "front camber it should have", "angle", -8, 4),
        Field("camber.rear_reference", "", "rear camber it should have", "angle", -8, 4),
        Field("camber.gauge", "", "gauge good to ±", "angle", 0.01, 2, gauge, True),
    ]
    for name, mark in zip(CORNERS, "ABCD", strict=True):
        for edge in ("top", "bottom"):
            found.append(Field(f"camber.{name}_{edge}", mark, f"{SIDES[name]}, {edge}", "length", 0, 1000, plumb))
    found += [
        Field("camber.height", "E", "height between top and bottom", "length", 200, 700, plumb),
        Field("camber.caster_left", "F", "caster, front left", "angle", 0, 15),
        Field("camber.caster_right", "F", "caster, front right", "angle", 0, 15),
    ]
    found.append(_text(PRINTOUT, "alignment print-out, typed or pasted"))
    found.append(Field("toe.diameter", "J", "rim edge to rim edge", "length", 200, 700))
    for way in TOE_UNITS:
        ending = {"mm": "_mm", "deg": "", "arcmin": "_minutes"}[TOE_UNITS[way]]
        found += _four("toe", "ACEG", f" toe|{ending}", "toe", -4, 4, when=("toe.read", way))
    for name, ahead, behind in zip(CORNERS, "ACEG", "BDFH", strict=True):
        found.append(Field(f"toe.{name}_ahead", ahead, f"{SIDES[name]}, front edge", "length", 1, 1000, strings))
        found.append(Field(f"toe.{name}_behind", behind, f"{SIDES[name]}, rear edge", "length", 1, 1000, strings))
    found += [
        Field("toe.front_reference", "", "front toe it should have", "toe", -4, 4),
        Field("toe.rear_reference", "", "rear toe it should have", "toe", -4, 4),
        Field("toe.front_width", "K", "width at the front", "length", 800, 3500, strings),
        Field("toe.rear_width", "L", "width at the rear", "length", 800, 3500, strings),
    ]
    for end, mark in zip(ENDS, "AB", strict=True):
        found.append(Field(f"springs.{end}_rate", mark, f"{end} spring rate", "rate", 5, 500, printed))
        for i in (1, 2, 3):
            key = f"springs.{end}"
            found.append(Field(f"{key}_load_{i}", mark, f"{end} press {i}: scale", "mass", 1, 2000, pressed))
            found.append(Field(f"{key}_length_{i}", mark, f"{end} press {i}: length", "length", 30, 900, pressed))
    for end, mark in zip(ENDS, "GH", strict=True):
        bar, sizes = (f"springs.{end}_bar", ("diameter only", "sizes below")), (f"springs.{end}_bar", "sizes below")
        found += [
            Field(f"springs.{end}_diameter", mark, f"{end} bar's diameter", "length", 5, 80, bar),
            Field(f"springs.{end}_bore", mark, f"{end} bar's bore (0 if solid)", "length", 0, 75, sizes),
            Field(f"springs.{end}_straight", mark, f"{end} bar, length between arms", "length", 200, 2000, sizes),
            Field(f"springs.{end}_arm", mark, f"{end} bar's lever arm", "length", 30, 600, sizes),
            Field(f"springs.{end}_link", mark, f"{end} link's move over wheel's", "ratio", 0.05, 1.5, sizes),
        ]
    for end, wheel, spring in zip(ENDS, "CE", "DF", strict=True):
        for i in (1, 2):
            key = f"springs.{end}"
            found.append(Field(f"{key}_wheel_{i}", wheel, f"{end} wheel raised, {i}", "length", 1, 300, more=True))
            found.append(
                Field(f"{key}_spring_{i}", spring, f"{end} spring shorter, {i}", "length", 0.1, 300, more=True)
            )
    found += [
        Field("adjust.thread", "", "seat rises in one turn by", "depth", 0.5, 5),
        _text("adjust.front_hole", "front bar: hole now, of how many"),
        _text("adjust.rear_hole", "rear bar: hole now, of how many"),
        *[_text(f"adjust.{name}_clicks", f"{SIDES[name]} damper, clicks from hard", more=True) for name in CORNERS],
        Field("lift.level", "A", "both scales, car level", "mass", 10, 3000),
    ]
    for i in (1, 2, 3):
        found.append(Field(f"lift.rise_{i}", "B", f"lift {i}: rise of wheel centres", "length", 20, 1500))
        found.append(Field(f"lift.reading_{i}", "A", f"lift {i}: both scales", "mass", 10, 3000))
    for end in ENDS:
        for i in (1, 2):
            found += [
                Field(f"curves.{end}_move_{i}", "A", f"{end} {i}: body moved up by", "length", -150, 150),
                Field(f"curves.{end}_toe_{i}", "B", f"{end} {i}: total toe-in at the rim", "length", -60, 60),
                Field(f"curves.{end}_camber_{i}", "C", f"{end} {i}: camber, mean", "angle", -8, 4),
            ]
    for end in ENDS:
        for name in LINK_POINTS:
            link, _, tip = name.partition("_")
            place, key = f"{end} {link} {tip} end", f"curves.{end}_{name}"
            found.append(Field(f"{key}_out", "", f"{place}, from middle", "length", 0, 1100, more=True))
            found.append(Field(f"{key}_up", "", f"{place}, above floor", "length", 20, 900, more=True))
    return found


FIELDS: dict[str, Field] = {field.key: field for field in _fields()}
"""Key → field, in the order of the form."""

CHOICES: dict[str, Choice] = {
    choice.key: choice
    for choice in (
        Choice("start.front", "front suspension", kinds_at("front")),
        Choice("start.rear", "rear suspension", kinds_at("rear")),
        Choice("start.body", "body", BODIES),
        Choice("start.height", "springs", HEIGHTS),
        Choice("start.driven", "driven wheels", ("as the start car", "rear", "front", "all four, half each")),
        Choice("start.differential", "differential", DIFFERENTIALS),
        Choice("start.control", "stability control", CONTROLS),
        Choice("start.from", "start from", (), more=True),
        Choice("start.fill", "what is not measured", ("typical of the kinds below", "as in the start car"), more=True),
        Choice("start.mass", "weights in", WAYS["mass"], more=True),
        Choice("start.length", "lengths in", WAYS["length"][:2], more=True),
        Choice("start.pressure", "pressures in", WAYS["pressure"], more=True),
        Choice("start.rate", "spring rates in", WAYS["rate"], more=True),
        Choice("start.speed", "speeds in", WAYS["speed"], more=True),
        Choice("start.tape", "tape's class (in its oval)", ("II", "I", "III"), more=True),
        Choice("start.ruler", "ruler read to", ("0.5 mm", "1 mm"), more=True),
        Choice("start.scale", "scales", ("in service", "new or just verified"), more=True),
        Choice("felt.direction", "turning", DIRECTIONS),
        Choice("felt.phase", "foot", (UNSAID, *PHASES)),
        *(Choice(f"look.{key}", words, (UNSEEN, FINE, FOUND)) for key, words in LOOK.items()),
        Choice("tyres.kind", "kind of tyre", tuple(sorted(TYRES, key=lambda kind: kind != "fast road"))),
        Choice("floor.driver", "driver's weight", ("not in the seat yet", "in the seat")),
        Choice("heights.way", "heights read from", (HUB, ARCH, SILL)),
        Choice("heights.reference_is", "what it should have is", (BOOK, BEFORE)),
        Choice("corners.bars", "anti-roll bars", ("not unhooked yet", "unhooked", "the car has none")),
        Choice("camber.way", "camber read as", ("degrees on a gauge", "mm to a plumb line"), more=True),
        Choice("toe.read", "toe read as", (*TOE_UNITS, STRINGS)),
        Choice("toe.way", "widths K and L", ("rim face to rim face", "string to string"), ("toe.read", STRINGS)),
        Choice("springs.way", "spring rate", ("printed on the spring", "pressed on a scale"), more=True),
        Choice("springs.front_bar", "front bar", _BAR),
        Choice("springs.rear_bar", "rear bar", _BAR),
        Choice("adjust.seats", "spring seats", SEATS),
        Choice("adjust.camber", "camber", ("not known", "not adjustable", "eccentrics", "shims", "top mounts")),
        Choice("adjust.rear_toe", "rear toe", ("not known", "adjustable", "not adjustable")),
        Choice("lift.end", "axle raised", ENDS[::-1]),
        *(Choice(f"{step}{ASKED}", "the reading in question", (OPEN, SETTLED)) for step in MAY_SLIP),
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
