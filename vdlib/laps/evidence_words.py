"""What a comparison of laps says in words: the verdict, what fits, where the time came from, and what was promised."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..checks import InputError, Problem
from ..shown import says
from .bootstrap import Estimate
from .evidence import Change
from .text import counted


def fitting(change: Change) -> str:
    """Return the sentence on the lap times that fit, all allowed for.

    Parameters:
        change: from ``compare`` [-]

    Returns:
        such as "These laps fit anything from …" [-]
    """
    span = _span(change.fits)
    return f"{span[:1].upper()}{span[1:]}, all allowed for."


@dataclass(frozen=True)
class Around:
    """What else was or was not the same in the sessions; None where nobody knows."""

    same_day: bool | None = None
    same_tyres: bool | None = None
    same_driver: bool | None = True
    only_this_changed: bool | None = None


def _seconds(value: float) -> str:
    return f"{abs(value):.2f} s {'quicker' if value < 0 else 'slower'}"


def _often(p: float) -> str:
    """State how often chance does it, in whole times."""
    if p >= 0.015:
        return f"{100 * p:.0f} times in 100"
    return f"about once in {float(f'{1 / p:.1g}'):,.0f}"


def _span(figure: Estimate) -> str:
    """State an interval in words; an end without a bound is said to have none."""
    low, high = float(figure.low), float(figure.high)
    if not np.isfinite([low, high]).all():
        return "these laps set no bound on it"
    if low < 0 < high:
        return f"these laps fit anything from {_seconds(low)} to {_seconds(high)}"
    near, far = sorted((low, high), key=abs)
    return f"these laps fit anything from {abs(near):.2f} to {_seconds(far)}"


def conclude(change: Change, around: Around | None = None) -> tuple[str, ...]:
    """State in plain sentences what the laps show, where the time came from, and what they cannot show.

    Parameters:
        change: from ``compare`` [-]
        around: what else was the same; None for not known [-]

    Returns:
        sentences, the verdict first [-]
    """
    known = around or Around()
    value = float(change.plain.value)
    out = [
        {
            "faster": f"The laps with the change were quicker, by {abs(value):.2f} s on average.",
            "slower": f"The laps with the change were slower, by {abs(value):.2f} s on average.",
            "not shown": "No effect of the change on the whole lap is shown: the laps with it were "
            f"{_seconds(value)} on average.",
        }[change.verdict]
    ]
    used = ", ".join(f"{n} laps {name}" for n, name in zip(change.laps, change.names, strict=True))
    lost = sum(change.left_out)
    rule = (
        f"; the first {counted(change.by_rule, 'lap')} of each session never counted, by rule" if change.by_rule else ""
    )
    out.append(f"Used: {used}{rule}" + (f"; {lost} ticked or in traffic left out." if lost else "."))
    bound = bool(np.isfinite(float(change.plain.high)))
    how_sure = " (an interval made this way holds the true difference on 95 days of 100)" if bound else ""
    chance = "" if change.no_scatter else f"; by chance alone one this large turns up {_often(float(change.plain.p))}"
    out.append(
        f"Difference of the means: {_span(change.plain)}{how_sure}{chance}. Each lap counts as a try of its own there."
    )
    out.append(_likeness(change))
    if change.learned is not None and change.learning is not None:
        out.append(f"With a driver who may still be learning allowed for, {_span(change.learned)}.")
        if float(change.learning.p) < 0.2 and np.isfinite(float(change.learning.high)):
            drift = float(change.learning.value)
            like = "as a learning driver's do" if drift < 0 else "as on tyres that fade or a track that heats up"
            out.append(
                f"Within the sessions the laps drift, {like}: {_seconds(drift)} from the day's first lap to its last."
            )
    if change.withheld:
        out.append("The laps differ, but that much could come of laps alike their neighbours: nothing is claimed.")
    if change.cause_open:
        out.append("The laps differ, but learning alone could be why: these laps cannot tell the two apart.")
    if len(change.laps) < 3:
        out.append(
            "Best habit: drive again with the change taken back, and compare before, after and before again. "
            "What drifts steadily through the day then cancels, and allowing for learning costs little."
        )
    if change.no_scatter:
        out.append(
            "The laps of each session are alike to the last digit written down, so nothing says how far laps scatter: "
            "write them down to a hundredth of a second."
        )
    elif not bound:
        out.append(
            "A session of one lap says nothing about its scatter."
            if min(change.laps) == 1
            else "These laps are too few, or too alike as written down, to show how far laps scatter."
        )
    if min(change.laps) < 5:
        few = "So few laps can only show a large change: five" if bound else "Five"
        out.append(f"{few} or more free laps a session are worth having.")
    out += _where(change)
    moved = [part for part in change.minimum_speed if bool(part.change.shown)]
    if moved:
        listed = ", ".join(f"{p.name} {says(float(p.change.value), 'kmh', 1, sign=True)}" for p in moved)
        out.append(f"Lowest speeds that differ: {listed} (about one corner in twenty would by chance).")
    out += [
        f"It is {'not known whether it was' if same is None else 'not'} {what}: {why}."
        for same, what, why in (
            (known.same_day, "the same day", "weather and track alone move lap times by more than most setup changes"),
            (known.same_tyres, "the same tyres", "new, older or hotter tyres alone can make such a difference"),
            (known.same_driver, "the same driver", "two drivers differ by more than most setup changes"),
            (known.only_this_changed, "the only thing changed", "what else changed may be the cause"),
        )
        if not same
    ]
    return tuple(out)


def _likeness(change: Change) -> str:
    """Describe how alike neighbouring laps are, and what fits with that allowed for."""
    like, one = change.alike.correlation, change.alike.change
    if not np.isfinite([float(one.low), float(one.high)]).all():
        return "These laps cannot say how alike neighbouring laps are."
    said = f" and {change.offset:g} s that a whole session may be off by" if change.offset else ""
    return (
        f"Neighbouring laps are alike with a correlation of about {float(like.value):.1f} ({float(like.low):.1f} to "
        f"{float(like.high):.1f} fits). With that{said} allowed for, {_span(one)}."
    )


def _where(change: Change) -> list[str]:
    """State where the time came from."""
    kinds = {part.kind: part.change for part in change.kinds}
    if not {"corner", "straight"} <= kinds.keys():
        return ["Without times section by section the laps cannot say whether it came from corners or from straights."]
    corner, straight = kinds["corner"], kinds["straight"]
    words = [
        f"In the corners together {_seconds(float(corner.value))} ({_span(corner)}); "
        f"on the straights {_seconds(float(straight.value))} ({_span(straight)})."
    ]
    words.append(alone(change) or _in_both(bool(corner.shown)))
    return words


def _in_both(shown: bool) -> str:
    if shown:
        return "It is shown in both; a car that leaves a corner faster also gains on the straight after it."
    return "Neither is shown on its own."


def alone(change: Change) -> str:
    """State that the difference is shown on the straights alone or in the corners alone, and what that means.

    Parameters:
        change: from ``compare`` [-]

    Returns:
        a sentence; empty where it is shown in both, in neither, or where the laps have no sections [-]
    """
    shown = {part.kind: bool(part.change.shown) for part in change.kinds}
    in_corners, on_straights = shown.get("corner", False), shown.get("straight", False)
    if in_corners == on_straights:
        return ""
    if on_straights:
        return "It is shown on the straights only: power, wind, a tow or braking do that, not the setup."
    return "It is shown in the corners only, where a change of setup acts."


@dataclass(frozen=True)
class Promise:
    """A predicted change beside the measured one."""

    predicted: float  # [s]
    inside: bool
    words: str


def promise(change: Change, predicted: float) -> Promise:
    """Set what the model promised beside what the laps say: is it within the interval?

    Parameters:
        change: from ``compare`` [-]
        predicted: predicted change of the lap time, negative is quicker [s]

    Returns:
        a ``Promise`` [-]

    Errors:
        ``InputError`` for a prediction that is no number.
    """
    if not np.isfinite(predicted):
        raise InputError(
            [Problem("predicted change", str(predicted), "must be a number of seconds", "predict it again")]
        )
    best = change.fits
    inside = bool(float(best.low) <= predicted <= float(best.high))
    words = f"Promised: {_seconds(predicted)}. The laps: {_span(best)}"
    if not np.isfinite([float(best.low), float(best.high)]).all():
        return Promise(float(predicted), inside, f"{words}, so they speak neither for the promise nor against it.")
    words += ". "
    words += (
        "The prediction lies inside that range."
        if inside
        else "The prediction lies outside that range: something in the model or the day is wrong."
    )
    if inside and bool(float(best.low) <= 0 <= float(best.high)):
        words += " No change at all fits too, so this is no proof of the promise."
    return Promise(float(predicted), inside, words)
