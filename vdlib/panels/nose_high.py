"""The main panel: ride heights, speed, lateral g and phase of the corner against loads, balance and the ledger."""

from __future__ import annotations

from html import escape
from typing import Any

from ..answers.height_study import Study, study
from ..answers.ledger import ROUTE_WORDS
from ..answers.sentences import lets_go, story, toward
from ..car.carfile import CarFile
from ..car.keys import ENDS
from ..car.reference import reference_of
from ..draw.nose_high import NoseHigh
from ..setup.page_wheels import tape_words
from ..shown import says
from ..trim.trim import ROUTES, state_words
from ..units import G, from_si, number, to_si
from .base import Panel, slider, table, toggle
from .moments import in_worse_turn, moment_controls, moment_of, worse_turn_words

ROOM = 40
"""How far the height sliders go from the reference height [mm]."""


def panel(file: CarFile) -> Panel:
    """Make the main panel of one car.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Panel`` [-]
    """
    car, reference = file.car, reference_of(file)
    level, setup = reference.setup, reference.at_heights_of(file.setup)
    view = NoseHigh(car)

    def compute(state: dict[str, Any]) -> Study:
        heights = [
            exact_height(state[end], getattr(setup, end).height, getattr(level, end).height)
            for end in ("front", "rear")
        ]
        moment, _ = in_worse_turn(file, moment_of(state))
        acting = tuple(route for route in ROUTES if state[route])
        return study(car, setup.with_heights(*heights), moment, acting, level)

    def tell(found: Study) -> str:
        here = [getattr(level, end).height + rise for end, rise in zip(ENDS, found.rise, strict=True)]
        return words(found, worse_turn_words(file, found.moment), tape_words(file, car, setup.with_heights(*here)))

    controls = {
        "front": height_slider("Front ride height", setup.front.height, level.front.height),
        "rear": height_slider("Rear ride height", setup.rear.height, level.rear.height),
        **moment_controls(),
    } | {route: toggle(ROUTE_WORDS[route], True, f"Let {ROUTE_WORDS[route]} act") for route in ROUTES}
    level_mm = [round(from_si(getattr(level, end).height, "mm")) for end in ("front", "rear")]
    front, rear = (says(getattr(level, end).height, "mm", 0) for end in ("front", "rear"))
    return Panel(
        controls,
        compute,
        lambda _, found: view.draw(found),
        tell,
        view.picture,
        ahead=True,
        folded={"Routes that act": ROUTES},
        starts={f"Reference heights: {front} front, {rear} rear": dict(zip(("front", "rear"), level_mm, strict=True))},
    )


def height_slider(label: str, now: Any, reference: Any) -> Any:
    """Make a slider that reaches the reference height and the height found, each on a whole step.

    Parameters:
        label: what it changes [-]
        now: height in the car file [m]
        reference: reference height [m]

    Returns:
        a slider in millimetres [-]
    """
    at, middle = round(from_si(now, "mm")), round(from_si(reference, "mm"))
    low, high = max(20, min(middle - ROOM, at)), min(500, max(middle + ROOM, at))
    hint = f"{label}; the reference height is {middle} mm, the car file says {at} mm"
    return slider(label, low, high, 1, at, "mm", hint)


def exact_height(shown: float, now: Any, reference: Any) -> float:
    """Return the height a slider stands for: the car file's own, or the reference, where it shows that one rounded.

    Parameters:
        shown: the slider's value [mm]
        now: height in the car file [m]
        reference: reference height [m]

    Returns:
        the height [m]
    """
    for own in (now, reference):
        if shown == round(from_si(own, "mm")):
            return float(own)
    return float(to_si(shown, "mm"))


def words(found: Study, turn: str = "", tape: str = "") -> str:
    """State in words and numbers what the picture shows.

    Parameters:
        found: the study [-]
        turn: in which turn, in words; empty where both are alike [-]
        tape: the heights as the owner's tape would read them; empty where the sliders have them so [-]

    Returns:
        HTML [-]
    """
    lines = [f"<b>{escape(story(found, turn))}</b>", *([escape(tape)] if tape else [])]
    lines.append("The heights alone: all else is as at the reference.")
    lines.append(escape(f"As set here, {lets_go((found.limit[0, 1], found.limit[1, 1]))}."))
    said = [word for word in state_words(found.at.state[1]) if found.usable]
    if said:
        lines.append(escape(f"Note: {'; '.join(said)}."))
    rows = [
        ["extra steering (understeer angle)", *(_degrees(found, i) for i in (0, 1)), _change(found)],
        *(
            [f"limit of the {end}", *(_limit(found, i, row) for row in (0, 1)), _shift(found, i)]
            for i, end in enumerate(("front", "rear"))
        ),
    ]
    lines.append(table(["", "at the reference heights", "as set here", "change"], rows))
    return "<br>".join(lines[:-1]) + lines[-1]


def _degrees(found: Study, row: int) -> str:
    if not bool(found.at.usable[row]):
        return "past the limit"
    return f"{number(from_si(found.at.understeer_angle[row], 'deg'), 2, sign=True)}°"


def _change(found: Study) -> str:
    return toward(float(found.ledger.total)) if found.usable else "no steady corner to compare"


def _limit(found: Study, end: int, row: int) -> str:
    at = found.limit[end, row] / G
    return f"{at:.3f} g" if at < 9 else f"above {found.sweep[-1] / G:.1f} g"


def _shift(found: Study, end: int) -> str:
    change = (found.limit[end, 1] - found.limit[end, 0]) / G
    return f"{number(change, 3, sign=True)} g" if abs(change) < 9 else "not known"
