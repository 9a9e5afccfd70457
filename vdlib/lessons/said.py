"""What people say of a car, in their own words, and the setup words that belong to it."""

from __future__ import annotations

from dataclasses import dataclass

from .terms import TERMS, Term, find


@dataclass(frozen=True)
class Said:
    """Some ways to say one thing, one sentence on it, and the keys of the words to look at first."""

    phrases: tuple[str, ...]
    sentence: str
    keys: tuple[str, ...]


SAYINGS = (
    Said(
        ("came round", "come round", "spun", "spin", "snap", "swapped ends", "tail out", "turned round"),
        "The rear slid first, often as the throttle closed: look at what the tail has left, and at the rear's toe.",
        ("bump_gap", "toe", "lift", "height", "oversteer"),
    ),
    Said(
        ("twitchy", "nervous", "darty", "edgy", "flighty"),
        "It answers more than you ask: rear toe-out, a tail near its stops, too little caster.",
        ("toe", "bump_gap", "thrust_angle", "caster", "attitude"),
    ),
    Said(
        ("pushes on", "push", "ploughs", "washes out", "won't turn", "runs wide"),
        "Understeer: the front needs the larger slip angle, or slides first.",
        ("understeer", "camber", "bar", "pressure", "roll_split"),
    ),
    Said(
        ("scary", "scared", "frightening", "frightened", "unpredictable", "don't trust"),
        "Usually the rear, which gives the hands no warning; first have the car looked over for wear and damage.",
        ("bump_gap", "lift", "toe", "attitude", "damper"),
    ),
    Said(
        ("tracking", "tramlines", "wanders", "pulls", "crooked", "off centre"),
        "Tracking is the trade's word for toe; a wheel held crooked on the straight points to the rear axle's thrust "
        "angle, pulling to one side to toe, pressures or cross weight.",
        ("toe", "thrust_angle", "pressure", "cross_weight"),
    ),
    Said(
        ("rake", "nose up", "nose down", "tail down", "stance"),
        "Rake has two signs: some count nose-low as plus, some nose-high. Say nose-high or nose-low by so many mm.",
        ("attitude", "height"),
    ),
    Said(
        ("wallows", "rolls a lot", "leans", "boat"),
        "Too much roll, or roll that comes late.",
        ("roll", "roll_stiffness", "bar", "damper"),
    ),
    Said(
        ("crashes", "bottoms", "bangs", "no travel", "sits on its stops"),
        "The suspension has run out of travel: from there the stop is the spring.",
        ("bump_gap", "travel", "height", "spring"),
    ),
    Said(
        ("skips", "hops", "skittish", "light over bumps"),
        "A wheel that cannot follow the road: too stiff, too little droop, or worn dampers.",
        ("damper", "droop_gap", "spring", "unsprung_mass"),
    ),
)
"""Common practice, no source."""


def saying(text: str) -> Said | None:
    """Return what people mean by some words.

    Parameters:
        text: what is looked for [-]

    Returns:
        the saying whose phrase stands in the text or begins with it; None for no such words [-]
    """
    wanted = " ".join(text.casefold().split())
    if len(wanted) < 3:
        return None
    whole = [one for one in SAYINGS if any(phrase in wanted for phrase in one.phrases)]
    begun = [one for one in SAYINGS if any(phrase.startswith(wanted) for phrase in one.phrases)]
    return next(iter([*whole, *begun]), None)


def search(text: str) -> list[Term]:
    """Search the words by what people say, then by what stands in them.

    Parameters:
        text: what is looked for; empty finds all [-]

    Returns:
        terms, those that belong to a saying first [-]
    """
    said = saying(text)
    first = [TERMS[key] for key in said.keys] if said else []
    return list({term.key: term for term in [*first, *find(text)]}.values())
