"""The boxed answers of the workbooks on the reader's own car, their questions, and one driver's worked case."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers.corner import Corner, Driver
from ..answers.forgiven import forgiven_speed
from ..answers.sentences import listed
from ..car import examples
from ..car.carfile import CarFile, fields_of
from ..car.keys import ENDS
from ..car.reference import reference_of
from ..setup.candidate import Version, baseline, version
from ..setup.driven import own_corner
from ..setup.page import back_to_reference
from ..setup.promised import promise, why_back
from ..setup.tolerances import without_unsettable
from ..shown import retold
from ..units import from_si, number
from . import as_left, believe, gears, gg_log, helps, how_sure, nose_high, stage
from .believe import LAPS, PLANS, reaches
from .fold import STYLE, Asked, Closing, closing, fold
from .look import CSS


def _rises(file: CarFile) -> tuple[float, float]:
    """How far both ends are above the car's reference heights [mm]."""
    fixed = reference_of(file).setup
    front, rear = (
        float(from_si(getattr(file.setup, end).height - getattr(fixed, end).height, "mm")) for end in ("front", "rear")
    )
    return front, rear


def _left_behind(file: CarFile) -> str:
    """Write what is left to the rear bump stops as the car is now."""
    rear, own = file.car.rear, file.setup.rear
    left = float(from_si(rear.bump_gap + own.height - rear.reference_height, "mm"))
    return f"{number(left, 0)} mm of wheel travel at its tail" if round(left) > 0 else "none is left at this car's tail"


def _stance(file: CarFile) -> str:
    front, rear = _rises(file)
    slope = front - rear
    word = "nose-high" if slope > 0.5 else "nose-low" if slope < -0.5 else "level"
    size = f" by {number(abs(slope), 0)} mm" if word != "level" else ""
    return f"{word}{size} (front {_way(front)}, tail {_way(rear)})"


def _way(rise: float) -> str:
    return f"{'up' if rise >= 0 else 'down'} {number(abs(rise), 0)} mm"


def measure(file: CarFile) -> Any:
    """Return the end of the workbook on measuring.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    paths = [entry.path for entry in fields_of()]
    count = sum(file.origin.get(path) == "measured" for path in paths)
    slope = 1 / float(from_si(file.car.wheelbase, "mm"))
    return closing(
        Closing(
            f"{escape(file.car.name)} is <b>{_stance(file)}</b> against “{escape(reference_of(file).name)}”. "
            f"{count} of its {len(paths)} numbers were measured; the rest are typical or an example's.",
            [
                Asked(
                    "Show the invented day and swap two corner scales. Which swap could the form never notice?",
                    "Left and right of one axle: both axles carry what they did before, and cross weight is "
                    "wrong. Number "
                    "the scales.",
                ),
                Asked(
                    "Does 5 mm at one end matter?",
                    f"It tips this car by {number(float(np.degrees(5 * slope)), 2)} deg, and takes 5 mm of whatever "
                    f"gap the stops have: {_left_behind(file)}.",
                ),
                Asked(
                    "Which number would you measure again with one more hour?",
                    "The one that <i>How sure?</i> names first. If none is yours yet: ride heights and the rear "
                    "bump gap.",
                ),
            ],
            [
                Asked("What is “measured”?", "Read on this car, with its tool's error carried through the sums."),
                Asked(
                    "What is “typical”?", "Not measured: the middle of cars of that kind; nine in ten lie in its range."
                ),
                Asked("What is “example”?", "Neither. Measure these first."),
            ],
        )
    )


def workshop(file: CarFile) -> Any:
    """Return the end of the workbook on what to ask for.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    base = baseline(file.car, file.setup)
    able, _ = without_unsettable(back_to_reference(base, file), base)
    fine = f"what is compared with “{escape(reference_of(file).name)}” is inside tolerance."
    return closing(
        Closing(
            f"<b>Nothing is asked for</b>: {fine}" if able.empty else _first_asked(file, base, version(able, base)),
            [
                Asked(
                    "Take the setting ranked first and go twice as far as its bound. Does it still help as much?",
                    "Look at what touches: past a stop or a tyre's best camber the gain ends or turns.",
                ),
                Asked(
                    "Set the what-if so that a closed throttle is calmer. Is the car dull when driving out?",
                    "Read the other phases in the table: one setting seldom serves them all.",
                ),
                Asked(
                    "Which change could you undo at the track with hand tools?",
                    "Pressures and clicks of an anti-roll bar. Heights and toe belong on level ground.",
                ),
            ],
            [
                Asked(
                    "In which order is the work done?",
                    "Tyres, driver's weight, heights, corner weights, camber and caster, toe.",
                ),
                Asked("What does a height change undo?", "Toe, camber and corner weights."),
                Asked(
                    "What do you ask for first?",
                    "Back to the figures it should have; anything beyond needs its reason.",
                ),
            ],
        )
    )


def _first_asked(file: CarFile, base: Version, asked: Version) -> str:
    """State what going back to the reference asks for, as the workshop page does, and what it gives."""
    found = promise(asked.car, base.setup, asked.setup, own_corner(file.known.visit), base.car)
    first = "First ask for what is out" if found.felt else "Back to the reference means"
    asks = ["the tyre pressures it should have"] * _changes(base, asked, "pressure")
    for end, name in zip(ENDS, ("front", "tail"), strict=True):
        pairs = zip(getattr(base.setup, end).wheels("height"), getattr(asked.setup, end).wheels("height"), strict=True)
        left, right = (float(from_si(new - old, "mm")) for old, new in pairs)
        wheels = {name: left} if abs(left - right) < 1 else {f"{name} left": left, f"{name} right": right}
        asks += [f"{wheel} {_way(rise)}" for wheel, rise in wheels.items() if abs(rise) >= 1]
    heights = _changes(base, asked, "height")
    asks += ["the alignment it should have"] * (not heights and _changes(base, asked, "toe", "camber"))
    asks += ["the corner weights it should have"] * (base.setup.cross_weight != asked.setup.cross_weight)
    then = ", then alignment set at those heights" if found.felt and heights else ""
    gives = " ".join((found.words[0], *why_back(found)))
    return f"{first}: <b>{listed(asks) or 'no height to change'}</b>{then}. {escape(gives)}"


def _changes(base: Version, asked: Version, *names: str) -> bool:
    pairs = [(getattr(base.setup, end), getattr(asked.setup, end)) for end in ENDS]
    return any(old.wheels(name) != new.wheels(name) for old, new in pairs for name in names)


def laps(file: CarFile) -> Any:
    """Return the end of the workbook on laps.

    Parameters:
        file: the car file [-]

    Returns:
        a widget [-]
    """
    names, spread = list(PLANS), 0.5
    found, _ = reaches(spread)
    six = int(np.flatnonzero(LAPS == 6)[0])
    rows = ", ".join(f"{escape(name)}: {number(float(found[i, six]), 2)} s" for i, name in enumerate(names))
    return closing(
        Closing(
            f"With six free laps a session that scatter by {number(spread, 1)} s, believe a difference from about "
            f"<b>{number(float(found[:, six].min()), 1)} to {number(float(found[:, six].max()), 1)} s</b>, by how you "
            "drive the day. Corner speeds tell sooner than lap times.",
            [
                Asked(
                    "Why must a lap be left out for what happened in it, and never for its time?",
                    "Leaving out the slow ones of one session makes that session quicker by choice, not by setup.",
                ),
                Asked("What does allowing for a learning driver cost?", f"{rows}."),
                Asked(
                    "How many of the invented days without a change look like a change?",
                    "About five in a hundred: that is what “95 of 100” means.",
                ),
            ],
            [
                Asked("What is a free lap?", "One that no traffic, pit lane or cut corner spoiled."),
                Asked("Where does setup act?", "In the corners, and on the straight after a corner left faster."),
                Asked("“No effect is shown” means?", "Read the interval: too few laps, or really little change."),
            ],
        )
    )


def case(part: str) -> Any:
    """Return a maker of the worked case: one invented driver's way, its steps told less and less.

    Parameters:
        part: "measure", "ask" or "judge" [-]

    Returns:
        a function of a car file for ``which.with_car``; the case keeps its own car [-]
    """

    def maker(_: CarFile) -> Any:
        made = widgets.HTML(f'{CSS}{STYLE}<div class="vd-close vd-words">{retold(case_words(part))}</div>')
        made.add_class("vd-panel")
        return made

    return maker


def case_words(part: str) -> str:
    """Write one part of the worked case from the invented low two-seater's numbers.

    Parameters:
        part: "measure", "ask" or "judge" [-]

    Returns:
        HTML [-]
    """
    file = examples.load_example(examples.FIRST)
    fixed = reference_of(file)
    front, rear = _rises(file)
    gap = float(from_si(file.car.rear.bump_gap, "mm"))
    left = gap + rear
    corner = Corner()
    if part == "measure":
        return (
            f"<p>An invented driver measures an invented low two-seater. <b>1.</b> Tape from the floor to the "
            f"arches, tyres "
            f"at pressure, driver's weight in: {_stance(file)}. <b>2.</b> The reference is “{escape(fixed.name)}”. "
            f"<b>3.</b> Rear bump gap: {number(gap, 0)} mm of wheel travel at the reference, so with the "
            f"tail {_way(rear)} there is {number(max(left, 0), 0)} mm left{', and the stop is pressed' * (left < 0)}. "
            "<b>4.</b> String and ruler for toe, at each wheel. What did it? Ask the next page.</p>"
        )
    speeds = [
        float(from_si(forgiven_speed(file.car, setup, corner, Driver()).speed, "kmh"))
        for setup in (file.setup, fixed.setup)
    ]
    if part == "ask":
        return (
            f"<p>The same driver asks. <b>1.</b> Out: front {_way(front)}, tail {_way(rear)}. <b>2.</b> Heights "
            f"back, then "
            f"corner weights, then alignment. <b>3.</b> A {number(float(corner.radius), 0)} m corner and a "
            f"quick lift "
            f"are forgiven up to {number(speeds[0], 1)} km/h now. And after?</p><details><summary>Your turn: "
            f"how much would "
            f"the heights give?</summary><div>{number(speeds[1], 1)} km/h at “{escape(fixed.name)}”: "
            f"{number(speeds[1] - speeds[0], 1, True)} km/h.</div></details>"
        )
    return (
        "<p>The same driver comes back with laps of both days. What is to be compared, and what would show that "
        "it worked?"
        "</p><details><summary>Your turn, before you look</summary><div>Not the lap, but the corner: its lowest "
        "speed and "
        f"lateral g, and whether a lift there stays calm. The model promised "
        f"{number(speeds[1] - speeds[0], 1, True)} km/h "
        "of forgiveness, not of pace; a driver who trusts the car may use it or not.</div></details>"
    )


WHERE_FROM = fold("Where its numbers come from", how_sure.where_from)
FROM_THE_SIDE = fold("Your car from the side and from above", nose_high.panel)
RANKED = fold("What would help most? Every setting on its own, ranked", helps.panel)
CASE_MEASURE = fold("A worked case, step by step", case("measure"))
DRIVEN = fold("See it driven: your car beside the what-if, in the corner of workbook 4", stage.whatif)
AS_LEFT = fold("Type what the workshop wrote, each figure at its wheel", as_left.panel)
CASE_ASK = fold("The worked case goes on", case("ask"))
CASE_JUDGE = fold("The worked case ends", case("judge"))
BELIEVE = fold("How much faster before you believe it? Predict first", lambda _: believe.panel())
POWER_OR_GRIP = fold("Power or grip? Engine, gears and the way out of one corner", gears.panel)
GRIP_USED = fold("How much of the grip was used? The log inside the model's limits", gg_log.panel)
