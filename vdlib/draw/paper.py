"""The measuring form on paper: the driver's page with its boxes at their wheels, and the workshop's on the back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from ..car import store
from ..car.keys import CORNERS, ENDS
from ..garage.car_from import MeasuredCar
from ..garage.form import STEPS
from ..garage.form_fields import ASKED, FIELDS, LOOK, PRINTOUT, choices_at, fields_at
from ..garage.reckoning import Outcome
from ..garage.typed import Readings, asked, label_of
from ..units import UNITS
from .typeset import PAPERS, Leaf, Paper, pdf

BOX = 28.35
"""Height of a box on the driver's page, 10 mm [points]."""
_LABEL, _TYPED, _SMALL, _TEXT = 7.0, 11.0, 7.0, 8.5
_GAP = 2.5
AT_WHEEL: tuple[tuple[tuple[str, str, str], ...], ...] = (
    (("A", "tread outer", "tyres.{}_outer"), ("B", "middle", "tyres.{}_middle"), ("C", "inner", "tyres.{}_inner")),
    (("D", "cold", "tyres.{}_cold"), ("E", "hot", "tyres.{}"), ("F", "tie to stop after", "stops.{}_tie")),
    (("G", "height", "heights.{}"), ("H", "camber, − is top in", "camber.{}"), ("J", "scale {mass}", "corners.{}")),
    (("K", "toe   IN / OUT", "toe.{}"), ("L", "clicks from hard", "adjust.{}_clicks")),
)
"""Rows of boxes at each wheel: letter, what it is, with the kind of its unit in braces, and the form's box."""
AT_AXLE: tuple[tuple[str, str, str], ...] = (
    ("M", "height it should have", "heights.{}_reference"),
    ("N", "cold it should have", "tyres.{}_reference"),
    ("P", "camber it should have", "camber.{}_reference"),
    ("Q", "toe it should have", "toe.{}_reference"),
    ("R", "shaft to stop, standing", "stops.{}_shaft"),
    ("S", "bar: hole, of how many", "adjust.{}_hole"),
)
"""Boxes of an axle."""
ON_TOP: tuple[tuple[tuple[str, str, float], ...], ...] = (
    (("date, event", "start.event", 0.3), ("car", "", 0.3), ("km", "start.km", 0.15), ("phone", "start.contact", 0.25)),
    (("what it did, in your words", "felt.words", 1.0),),
    (
        ("which corner   L / R", "felt.corner", 0.3),
        ("{speed} there", "felt.speed", 0.15),
        ("since when", "felt.since", 0.25),
        ("after what work", "felt.work", 0.3),
    ),
    (
        ("air °C, cold", "tyres.cold_air", 0.2),
        ("toe read across rim", "toe.diameter", 0.2),
        ("wheelbase", "heights.wheelbase", 0.2),
        ("total the scales show", "corners.known_mass", 0.2),
        ("seat rises in one turn", "adjust.thread", 0.2),
    ),
)
"""Rows of boxes above the wheels: what it is, the form's box, and its part of the width."""
HOW = (
    "Roll the car 2 m and bounce it before heights. Driver's weight in the seat, fuel as driven. Height: hub centre to "
    "wheel arch, straight up (or ring: floor to arch / sill). Cable tie: push it down the damper's shaft, drive a "
    "session, read what is left to the stop. Foot when it happened, ring: braking / just lifted / steady / on throttle."
)
CARE = (
    "Level ground and axle stands, never under a car on a jack. Brakes, steering and suspension are for qualified "
    "people; scrutineering and local rules decide. Never look for the limit on a public road."
)
_ENDING = {"mm at the rim, each wheel": "_mm", "minutes, each wheel": "_minutes"}


def pages(readings: Readings, answer: MeasuredCar | None = None, paper: str = "A4") -> list[Leaf]:
    """Lay the form out: the driver's page, then the workshop's.

    Parameters:
        readings: for the units and ways of measuring chosen, and what is typed [-]
        answer: what the readings say; None for a blank form [-]
        paper: a key of ``typeset.PAPERS`` [-]

    Returns:
        the pages [-]
    """
    first = _drivers(readings, answer is None, PAPERS[paper])
    return [first, *_workshops(readings, answer, PAPERS[paper])]


def _drivers(readings: Readings, blank: bool, paper: Paper) -> Leaf:
    """What a driver can read, each box at its wheel."""
    leaf = Leaf(paper)
    invented = " (invented)" if readings.invented else ""
    leaf.fill("Measure your car" if blank else f"{readings.name}{invented}", 14, True)
    leaf.fill(CARE, _SMALL)
    leaf.y += 2
    for row in ON_TOP:
        x = leaf.left
        for label, key, part in row:
            wide = part * leaf.width
            _box(leaf, x, leaf.y, wide - _GAP, "", label, readings, key, blank)
            x += wide
        leaf.y += BOX + _GAP
    leaf.fill(HOW, _SMALL)
    half = (leaf.width - 16) / 2
    for i, end in enumerate(ENDS):
        top = leaf.y + 4
        for j in (0, 1):
            name = CORNERS[2 * i + j]
            x, y = leaf.left + j * (half + 16), top
            leaf.write(x, y + _TEXT, name.replace("_", " ").upper(), _TEXT, True)
            y += _TEXT + 4
            for boxes in AT_WHEEL:
                wide = half / len(boxes)
                for k, (letter, label, key) in enumerate(boxes):
                    _box(leaf, x + k * wide, y, wide - _GAP, letter, label, readings, key.format(name), blank)
                y += BOX + _GAP
        leaf.y = top + _TEXT + 4 + len(AT_WHEEL) * (BOX + _GAP)
        wide = leaf.width / len(AT_AXLE)
        for k, (letter, label, key) in enumerate(AT_AXLE):
            words = f"{end} {label}" if k in (0, 4, 5) else label
            place = (leaf.left + k * wide, leaf.y, wide - _GAP)
            _box(leaf, *place, letter, words, readings, key.format(end), blank)
        leaf.y += BOX + _GAP
    leaf.y += 2
    leaf.fill("LOOK FIRST (ring what is not in order): " + "  □ ".join(["", *LOOK.values()]).strip(), _SMALL)
    return leaf


def _box(
    leaf: Leaf, x: float, y: float, width: float, letter: str, label: str, readings: Readings, key: str, blank: bool
) -> None:
    """One box 10 mm tall with its letter and words, and what is typed."""
    leaf.box(x, y, width, BOX)
    for kind in ("mass", "speed"):
        label = label.replace(f"{{{kind}}}", UNITS[readings.choice(f"start.{kind}")].label)
    leaf.write(x + 2.5, y + _LABEL + 1, f"{letter} {_short(label, width - 4)}".strip(), _LABEL)
    if blank:
        return
    if key.startswith("toe.") and not key.endswith(("_reference", "diameter")):
        key += _ENDING.get(readings.choice("toe.read"), "")
    text = readings.name if not key else readings.words(key)
    size = _TYPED
    while size > _LABEL and len(text) * 0.62 * size > width - 5:
        size -= 0.5
    leaf.write(x + width - 3, y + BOX - 4, text[: int((width - 5) / (0.55 * size))], size, True, "right")


def _short(label: str, width: float) -> str:
    while len(label) * 0.56 * _LABEL > width and " " in label:
        label = label.rpartition(" ")[0]
    return label


def on_first_page() -> set[str]:
    """Keys of the form's boxes that stand on the driver's page.

    Returns:
        keys [-]
    """
    found = {key for row in ON_TOP for _, key, _ in row} - {""}
    wheel = [key for row in AT_WHEEL for _, _, key in row]
    found |= {key.format(name) + more for key in wheel for name in CORNERS for more in ("", "_mm", "_minutes")}
    return (found | {key.format(end) for _, _, key in AT_AXLE for end in ENDS}) & FIELDS.keys()


def _workshops(readings: Readings, answer: MeasuredCar | None, paper: Paper) -> Iterator[Leaf]:
    """The rest, step by step: for the workshop, and for who wants to know more."""
    first = on_first_page()
    leaf = _titled(readings, paper)
    for number, step in enumerate(STEPS, 1):
        boxes = [
            f for f in fields_at(step.key) if f.key not in (*first, PRINTOUT) and (answer is None or asked(readings, f))
        ]
        choices = [c for c in choices_at(step.key) if c.options and step.key != "look" and not c.key.endswith(ASKED)]
        told = _told(answer, step.key)
        if not boxes and not choices and not told:
            continue
        spoken, boxes = [f for f in boxes if f.holds == "text"], [f for f in boxes if f.holds != "text"]
        told = [*(f"{f.label}: {readings.words(f.key) or 40 * '_'}" for f in spoken), *told]
        rows = -(-len(boxes) // 3)
        high = 12 + 10 + rows * 15 + -(-len(choices) // 2) * 10 + 9 * sum(1 + len(t) // 125 for t in told) + 6
        if high > leaf.room:
            yield leaf
            leaf = _titled(readings, paper)
        leaf.line(leaf.left, leaf.y, leaf.left + leaf.width, leaf.y)
        leaf.fill(f"{number}  {step.title}", _TEXT, True)
        leaf.fill(f"Caution: {step.caution}", _SMALL)
        for k, choice in enumerate(choices):
            said = " / ".join(o.replace("_per_", "/") for o in choice.options)
            said = said if answer is None and len(said) < 60 else "________"
            said = said if answer is None else readings.choice(choice.key).replace("_per_", "/")
            leaf.write(leaf.left + (k % 2) * leaf.width / 2, leaf.y + _SMALL, f"{choice.label}: {said}", _SMALL)
            leaf.y += 10.0 if k % 2 or k == len(choices) - 1 else 0.0
        wide = leaf.width / 3
        for k, box in enumerate(boxes):
            x, y = leaf.left + (k % 3) * wide, leaf.y
            leaf.write(x, y + 9.5, _short(label_of(readings, box), wide - 56), _SMALL)
            leaf.box(x + wide - 54, y, 50, 13)
            if answer is not None:
                leaf.write(x + wide - 7, y + 9.5, readings.words(box.key)[:11], _SMALL, True, "right")
            leaf.y += 15.0 if k % 3 == 2 or k == len(boxes) - 1 else 0.0
        for text in told:
            leaf.fill(text, _SMALL)
        leaf.y += 3
    yield leaf


def _titled(readings: Readings, paper: Paper) -> Leaf:
    leaf = Leaf(paper)
    leaf.fill(f"Back, for the workshop: {readings.name}", 11, True)
    return leaf


def _told(answer: MeasuredCar | None, step: str) -> Sequence[str]:
    """What was worked out, asked, and is to be taken again."""
    if answer is None:
        return ()
    outcome = answer.steps.get(step, Outcome())
    found = "; ".join(f"{name} {words}" for name, words in outcome.lines)
    told = [f"Worked out (± one standard deviation): {found}."] if found else []
    return [*told, *(f"Question: {q}" for q in outcome.questions), *(f"Take again: {q}" for q in outcome.errors)]


def write(path: Path, readings: Readings, answer: MeasuredCar | None = None, paper: str = "A4") -> Path:
    """Write the form as a PDF, whole or not at all.

    Parameters:
        path: where to, ending in .pdf [-]
        readings: the readings [-]
        answer: what they say; None for a blank form [-]
        paper: a key of ``typeset.PAPERS`` [-]

    Returns:
        the resolved path [-]

    Errors:
        ``InputError`` in the system's words where it cannot be written.
    """
    return store.put(path, pdf(pages(readings, answer, paper), "Measure your car")).resolve()
