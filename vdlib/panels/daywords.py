"""The sentences and the table under a day's laps: what they show, what was promised, what they cannot show."""

from __future__ import annotations

from html import escape

import numpy as np

from ..answers.edge import note
from ..laps.bootstrap import Estimate
from ..laps.calm import calmer_words
from ..laps.evidence_words import Around, alone, conclude, fitting
from ..shown import label_for, says, seen
from ..units import G, number
from .base import table
from .day_laps import DayVerdict
from .day_promise import Promised, Rear
from .day_sessions import Coming
from .said import more

KNOWN = ("not known", "yes", "no")
QUESTIONS = {
    "same_day": "Same day",
    "same_tyres": "Same tyres",
    "same_driver": "Same driver",
    "only_this": "Only this was changed",
    "same_air": "Air and track alike",
    "same_fuel": "Fuel alike",
}
"""Question → its label."""
DAY = "INVENTED DAY"
"""What stands before the verdict on one: nobody is to take it for their own car's."""
FUEL = 20.0
"""Mass of fuel that the sentence about fuel speaks of [kg]."""
LIMITS = (
    "An asterisk marks what is shown; of twenty corners without any effect, about one gets it by chance. Another line "
    "moves the corner speeds too."
)
SAFE = "Nothing here says whether the car is safe."
MODEL = (
    "A teaching model: warm dry tyres, one steady moment, toe and camber set anew only where the what-if says so, a "
    "driver who uses the same part of the grip before and after. What straights gain from a faster exit is left out."
)
ENDS = {
    0: "the front lets go first",
    1: "the rear lets go first",
    -1: "neither end lets go within the model's range",
}


def is_driven(day: Coming) -> str:
    """State that an invented day is still to be driven.

    Parameters:
        day: the day [-]

    Returns:
        a sentence [-]
    """
    return f"Day {day.number} is driven when the slider stops."


def words(answer: DayVerdict | Coming, mass: float) -> str:
    """Describe what the laps show, or that they are still to be driven.

    Parameters:
        answer: what was found [-]
        mass: mass of the open car [kg]

    Returns:
        HTML [-]
    """
    if isinstance(answer, Coming):
        made = answer.made_of[:1].upper() + answer.made_of[1:]
        return f"<b>{DAY}: {is_driven(answer)}</b>{escape(made)}.<br>{SAFE}"
    said = dict(answer.answers)
    known = {"yes": True, "no": False}
    told = (known.get(said[key]) for key in ("same_day", "same_tyres", "same_driver", "only_this"))
    sentences = conclude(answer.change, Around(*told))
    open_ones = [s for s in sentences if s.startswith("It is not ")] + _also(said, mass)
    plain = [s for s in sentences if not s.startswith("It is not ")]
    calm = calmer_words(answer.calmer, answer.felt) if answer.calmer or answer.felt else ()
    seen_rear = any(one.measure == "slide" for one in answer.calmer)
    # the headline is what these laps can answer: the rear where a yaw rate shows it, else the lap time
    lead = [calm[0]] if calm and seen_rear else [plain[0], *calm[:1]]
    made_up = f"{DAY}: " if answer.day.made_of else ""
    lines = [f"<b>{made_up}{escape(' '.join(lead))}</b>"]
    lines += [escape(run.matched) for run in answer.day.runs if run.matched and calm]
    promise = answer.promised
    if answer.promise_waits:
        lines.append("What was promised for your own car is set beside its own laps, not beside invented ones.")
    if promise is not None and promise.rear is not None:
        lines += [escape(line) for line in rear_words(answer, promise.rear, promise)]
    bounds = escape(fitting(answer.change))
    lines.append(f"<b>{escape(plain[0])}</b>" if seen_rear else bounds)
    where = alone(answer.change) if answer.change.verdict != "not shown" else ""
    if where:
        lines[-1] += f" {escape(where)}"
        plain.remove(where)
    if answer.slow[0] > answer.change.by_rule:
        lines.append(escape(_slow(answer)))
    folds = [
        ("Measure by measure", "<br>".join(map(escape, calm[1:]))),
        (
            "Lap time: how sure, and where from",
            "<br>".join([*([bounds] if seen_rear else []), *map(escape, plain[1:]), escape(_drift(answer))]),
        ),
    ]
    if answer.day.made_of:
        folds.append(("What was put in", escape(_truth(answer))))
    if promise is not None:
        folds.append(("Promised and measured", f"{escape(_promise(answer, promise))} <i>{escape(MODEL)}</i>"))
    folds.append(("Corner by corner", _table(answer)))
    if open_ones:
        where = f"under <i>What else differed</i>: {len(open_ones)} of {len(QUESTIONS)}"
        lines.append(f"Something else may have moved these laps. Open questions {where}.")
        items = "".join(f"<li>{escape(s)}</li>" for s in open_ones)
        folds.append(("What these laps cannot rule out", f"<ul>{items}</ul>"))
    out = "".join(f"<div><b>{escape(head)}.</b> {body}</div>" for head, body in folds if body)
    return f"{'<br>'.join([*lines, SAFE])}{more(out)}"


def _also(said: dict[str, str], mass: float) -> list[str]:
    """Describe what else may have differed that moves lap times."""
    air = "a hotter or damper track takes grip, hot thin air takes power"
    fuel = f"{says(FUEL, 'kg', 0)} of fuel are {100 * FUEL / mass:.1f} % of this car's {says(mass, 'kg', 0)}"
    reasons = (("same_air", "the same air and track", air), ("same_fuel", "the same fuel load", fuel))
    return [
        f"It is {'not known whether it was' if said[key] != 'no' else 'not'} {what}: {why}."
        for key, what, why in reasons
        if said[key] != "yes"
    ]


def _drift(answer: DayVerdict) -> str:
    """Describe how the laps drift within the sessions."""
    found = answer.change.learning
    if found is None:
        return "So few laps cannot show whether the driver was still learning."
    value, low, high = (float(v) for v in (found.value, found.low, found.high))
    if not np.isfinite([low, high]).all():
        return "These laps set no bound on how the driver's learning moved the lap times."
    return (
        f"Learning (the sloping lines in the picture): {number(value, 2, sign=True)} s from the day's first lap to its "
        f"last; these laps fit anything from {number(low, 2, sign=True)} to {number(high, 2, sign=True)} s."
    )


def _slow(answer: DayVerdict) -> str:
    """State that the sessions' first laps are slow, and what to do about it next time."""
    count, more = answer.slow
    which = "lap is" if count == 1 else f"{count} laps are"
    return (
        f"The first {which} slower than the rest, the first by {more:.1f} s: cold tyres or a slow start. They bias the "
        f"comparison. Decide before the next day, as a rule, that the first {count} of every session never count; here "
        "the rule is under the tab Laps left out."
    )


def _truth(answer: DayVerdict) -> str:
    """Describe what was put into an invented day, and where that is a lap time whether the laps found it."""
    found, truth = answer.change.fits, answer.day.truth
    made = answer.day.made_of[:1].upper() + answer.day.made_of[1:]
    if truth is None:
        return f"{made}."
    inside = float(found.low) <= truth <= float(found.high)
    fits = "The interval holds it" if inside else "The interval misses it, as such intervals do on 5 days of 100"
    return f"{made}; for a settled driver alone on the course that is {number(truth, 2, sign=True)} s a lap. {fits}."


def _promise(answer: DayVerdict, found: Promised) -> str:
    """Set the model's change of the limit beside the measured change of cornering."""
    one, other = (limit / G for limit in found.limit)
    out = (
        f"Model, at {says(found.speed, 'kmh', 0)}: {found.before} {one:.3f} g ({ENDS[found.first[0]]}), "
        f"{found.after} {other:.3f} g ({ENDS[found.first[1]]}): {number(found.share, 1, sign=True)} %. "
    )
    if answer.level is None:
        none = "Lap times alone have nothing to set beside it: write down the lowest speed of a few corners."
        return out + none
    out += f"Laps, from {answer.level_from}: {_percent(answer.level)}. "
    low, high = float(answer.level.low), float(answer.level.high)
    inside = low <= found.share <= high
    if np.isfinite([low, high]).all():
        out += f"The model's figure lies {'inside' if inside else 'outside'} that range. "
    if inside and low <= 0 <= high:
        out += "No change at all fits too, so this is no proof of the model. "
    if found.corner_time is not None:
        out += f"Time in all corners together. {found.corner_time.words}"
    return out


def rear_words(answer: DayVerdict, rear: Rear, named: Promised) -> tuple[str, ...]:
    """Set what was promised for the rear beside what was measured, in the same measures.

    Parameters:
        answer: what the laps say [-]
        rear: what the model says [-]
        named: which two setups it is of [-]

    Returns:
        sentences [-]
    """
    if rear.driven is None:
        return (f"Promised, as on the workshop page. {rear.page}",)
    corner = f"a {rear.corner.turn}-hander of {rear.corner.radius:.0f} m"
    where = f"{rear.where}, {corner}," if rear.where else corner
    states = f"{rear.edges[0].told} {named.before}, {rear.edges[1].told} {named.after}"
    promised = f"Promised, for a quick lift: {where} forgives {states}. {note(*rear.edges)}".strip()
    hand = [says(edge.speed - v, "kmh", 1, sign=True) for edge, v in zip(rear.edges, rear.driven, strict=True)]
    speeds = [says(v, "kmh", 0) for v in rear.driven]
    driven = f"Driven there: {speeds[0]} before, {speeds[1]} with the change; in hand {hand[0]}, then {hand[1]}."
    if rear.rate is None:
        return (f"{promised} {driven}", "At the speed driven before, the model cannot hold this corner.")
    one, other = (float(np.degrees(r)) for r in rear.rate)
    words = (
        f"Promised rate of slide after such a lift at {speeds[0]}: {number(one, 0)} °/s, then {number(other, 0)} °/s."
    )
    places = (rear.where, "all corners")
    found = next((c for c in answer.calmer if c.measure == "slide" and c.where in places), None)
    if found is None:
        return f"{promised} {driven}", f"{words} Without yaw rate no lap can be set beside it."
    agree = "a difference is not shown"
    if bool(found.change.shown):
        agree = f"{found.verdict}, {'as' if float(found.change.value) * (other - one) > 0 else 'not as'} promised"
    values = f"{number(found.before, 0)} °/s, then {number(found.after, 0)} °/s"
    measured = f"Measured in {found.where}, usual greatest: {values}; {agree}"
    return f"{promised} {driven}", f"{words} {measured}; a lap without such a lift slides less."


def _percent(found: Estimate) -> str:
    low, high = float(found.low), float(found.high)
    value = f"{number(float(found.value), 1, sign=True)} %"
    if not np.isfinite([low, high]).all():
        return f"{value} (these laps set no bound on it)"
    return f"{value} ({number(low, 1, sign=True)} to {number(high, 1, sign=True)} % fits)"


def _table(answer: DayVerdict) -> str:
    """Write the table of corners: lowest speed and sideways acceleration, before and with the change."""
    first, second = answer.sessions[:2]
    if not answer.change.minimum_speed or first.minimum_speed is None or second.minimum_speed is None:
        return ""
    course, rows = answer.day.course, []
    sideways = {part.name: part.change for part in answer.lateral}
    used = [s for s in answer.sessions if s.minimum_speed is not None]
    means = [s.minimum_speed[s.clear].mean(axis=0) for s in used if s.minimum_speed is not None]
    for i, part in enumerate(answer.change.minimum_speed):
        where = ""
        if course is not None:
            corner = course.corners[i]
            size = f", radius {corner.radius:.0f} m" if corner.radius else ""
            where = f" ({corner.turn or 'turn not known'}{size}, at {corner.apex:.0f} m)"
        speeds = [number(float(seen(m[i], "kmh")), 1) for m in means]
        lateral = sideways.get(part.name)
        held = "not known" if lateral is None else _span(lateral, "g", 3)
        rows.append([part.name + where, *speeds, _span(part.change, "kmh", 1), held])
    names = [f"lowest, before [{label_for('kmh')}]", "with the change", *(s.name for s in used[2:])]
    against = "with the change, less the mean of both others (fits)" if len(used) > 2 else "what changed (fits)"
    return table(["", *names, against, "sideways [g], what changed"], rows) + f"<i>{escape(LIMITS)}</i>"


def _span(found: Estimate, unit: str, decimals: int) -> str:
    """Write a change with its interval; marked where it is shown."""
    value, low, high = (number(float(seen(v, unit)), decimals, sign=True) for v in (found.value, found.low, found.high))
    if not np.isfinite([float(found.low), float(found.high)]).all():
        return f"{value} (these laps set no bound)"
    return f"{value} ({low} to {high}){' *' if bool(found.shown) else ''}".replace(" ", "\u00a0")
