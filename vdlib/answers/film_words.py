"""What a film says: the verdict on the question which end did it, and a sentence for each state and speed."""

from __future__ import annotations

import numpy as np

from ..shown import says
from ..units import from_si, to_si
from .corner import QUICK_LIFT
from .edge import By, Edge, note
from .film import Film
from .sentences import listed

FAR = 25
"""A slide beyond this is only called that [deg]: the model stops near 30°, and what it says there means little."""
PRESSED = to_si(2.0, "mm")
"""A rubber pressed deeper by less than this explains nothing [m]."""
LITTLE = 0.5
"""A difference of forgiven speeds below this is called very little [km/h]: the step of the film's speeds."""


def question(film: Film) -> str:
    """Ask which end did it, with both ends in mm.

    Parameters:
        film: the film [-]

    Returns:
        a question [-]
    """
    front, rear = (round(float(from_si(r, "mm"))) for r in film.rise[:, film.place("now")])
    told = f"nose {_way(front)}, tail {_way(rear)}"
    return f"Left: {film.states[0].name}. Right: {told}. Which end makes the tail come round?"


def foot(film: Film) -> str:
    """Say what the foot does in a film.

    Parameters:
        film: the film [-]

    Returns:
        such as "a quick lift" [-]
    """
    return "a quick lift" if abs(film.lift - QUICK_LIFT) < 0.005 else f"a lift of {film.lift:.2f} g"


def out(slide: float, ended: bool = False) -> str:
    """Write how far a tail is out: a whole angle, and beyond ``FAR`` that it is beyond.

    Parameters:
        slide: the slide beyond the corner's own [deg]
        ended: whether the model has stopped, the car pointing too far off its path [-]

    Returns:
        such as "over 25°" [-]
    """
    return f"over {FAR}°" if ended or slide > FAR else f"{max(slide, 0.0):.0f}°"


def _way(mm: int) -> str:
    return f"{'up' if mm > 0 else 'down'} {abs(mm)} mm" if mm else "as before"


ALONE = ("nose", "tail", "rest")
"""The states with one thing out."""


def options(film: Film) -> tuple[str, ...]:
    """Return the answers to choose from, in the words of this car.

    Parameters:
        film: the film [-]

    Returns:
        three short answers [-]
    """
    front, rear = (float(r) for r in film.rise[:, film.place("now")])
    nose = "high nose" if front > 0 else "low nose" if front < 0 else "nose"
    tail = "low tail" if rear < 0 else "high tail" if rear > 0 else "tail"
    return (f"The {nose}", f"The {tail}", "Toe and camber" if _rest(film) else "It takes both")


def _alone(film: Film) -> list[str]:
    return [state.key for state in film.states if state.key in ALONE]


def _rest(film: Film) -> bool:
    return any(state.key == "rest" for state in film.states)


def lost(film: Film, key: str) -> float:
    """Compute how much less a state forgives than the reference.

    Parameters:
        film: the film [-]
        key: the state's key [-]

    Returns:
        difference of the forgiven speeds, whatever ends them [km/h]
    """
    return round(float(from_si(film.forgiven[0] - film.forgiven[film.place(key)], "kmh")), 6)


def culprit(film: Film) -> int | None:
    """Return which single thing costs at least half of the loss, and twice as much as each other one.

    Parameters:
        film: the film [-]

    Returns:
        0 the nose, 1 the tail, 2 all else that is out; 3 no single one; None where nothing is lost, or where the
        tail does not come round as it came back: its grip ends first [-]
    """
    both = lost(film, "now")
    if both < LITTLE or not film.edge("now").slides:
        return None
    costs = [lost(film, key) for key in _alone(film)]
    if not costs:
        return 3
    first = int(np.argmax(costs))
    others = [cost for i, cost in enumerate(costs) if i != first]
    return first if costs[first] >= max(0.5 * both, *(2 * other for other in others)) else 3


def verdict(film: Film, said: int | None = None) -> str:
    """Answer the question from the film: the answer and why, then what each end costs, and the foot beside them.

    Parameters:
        film: the film [-]
        said: the answer that was chosen; None without one [-]

    Returns:
        one to three sentences [-]
    """
    if not _alone(film):
        return _between(film)
    true, words = culprit(film), options(film)
    both = lost(film, "now")
    gained = both - lost(film, "foot")
    more = gained >= LITTLE
    half = f". Lifting half as far would give {_cost(gained)} back{film.edge('foot').mark}" if more else ""
    if true is None:
        start = f"Neither end is to blame: here the car as it came back forgives {_beside(film)}{half}."
        return f"{start} {note(*_told(film, more))}".strip()
    alone = _each(film)
    answer = culprit_words(film)
    shares = f", the {_name(film, _worst(film))} most, and another corner shares it otherwise" if true == 3 else ""
    right = said == true or (said == 2 and true == 3 and not _rest(film))
    start = "It is" if said is None else "Right: it is" if right else f"You said {words[said].lower()}; it is"
    costs = f"Alone, {listed(alone)}; together {_cost(both)} here{shares}{half}."
    first = film.edge("reference")
    from_ = "" if first.slides else f" {_start(_car(film.states[0].name))} forgives up to {first.told}."
    return f"{start} {answer}{_why(film)}. {costs}{from_} {note(*_told(film, more))}".strip()


def _told(film: Film, foot: bool) -> tuple[Edge, ...]:
    """The edges that a verdict tells, half the lift's with them where it gives something."""
    return tuple(film.edge(key) for key in ("reference", "now", *(("foot",) if foot else ())))


def _beside(film: Film) -> str:
    """How much the second state forgives beside the first, and up to where both do."""
    first, second = film.edge("reference"), film.edge("now")
    gain = -lost(film, "now")
    if abs(gain) < LITTLE:
        how = "as much as" if abs(gain) < 0.05 and first.by is second.by else "about as much as"
    else:
        how = f"{first.change(second)} than"
    return f"{how} {_car(film.states[0].name)}: up to {second.told} against {first.told}"


def _car(name: str) -> str:
    """A state as what another is set beside: "the car at its reference heights"."""
    return f"the car {name}" if name.startswith(("as ", "at ")) else name


def _start(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _each(film: Film) -> list[str]:
    """What each thing costs on its own, or gives; the verb is said once, and again where it turns."""
    named = {"nose": "the nose", "tail": "the tail", "rest": "toe, camber and the rest"}
    told, before = [], ""
    for key in _alone(film):
        size, end = lost(film, key), "" if key == "rest" else "s"
        verb = "give" if size <= -0.05 else "cost"
        told.append(f"{named[key]}{f' {verb}{end}' if verb != before else ''} {_cost(abs(size))}")
        before = verb
    return told


def culprit_words(film: Film) -> str:
    """Name what costs most.

    Parameters:
        film: the film [-]

    Returns:
        such as "the low tail"; nothing where nothing is lost [-]
    """
    true = culprit(film)
    if true is None:
        return ""
    if true < 3:
        return options(film)[true].lower()
    return "no single thing" if _rest(film) else "both ends together"


def _why(film: Film) -> str:
    """Why a low tail does it, where this corner presses its rubber, and deeper than the reference's."""
    reference, now = film.room[1, 0], film.room[1, film.place("now")]
    if culprit(film) != 1 or now >= min(0.0, reference - PRESSED):
        return ""
    return ": on its rubber the rear turns stiff, and its outer tyre lets go sooner"


def _worst(film: Film) -> str:
    """The key of what costs most on its own."""
    return max(_alone(film), key=lambda key: lost(film, key))


def _name(film: Film, key: str) -> str:
    """Name one thing in the words of the answers."""
    at = ALONE.index(key)
    return options(film)[at].lower().removeprefix("the ") if at < 2 else "alignment"


def _between(film: Film) -> str:
    """Set two setups side by side in one sentence."""
    gained = lost(film, "now") - lost(film, "foot")
    more = f" Lifting half as far gives {_cost(gained)}{film.edge('foot').mark}." if gained >= LITTLE else ""
    start = f"The corner forgives {film.states[1].name} {_beside(film)}.{more}"
    return f"{start} {note(*_told(film, bool(more)))}".strip()


def _cost(lost_kmh: float) -> str:
    return says(to_si(lost_kmh, "kmh"), "kmh", 1) if abs(lost_kmh) >= 0.05 else "nothing"


def sentence(film: Film, state: int, speed: int) -> str:
    """Describe what both cars do at one speed, and that it is a threshold.

    Parameters:
        film: the film [-]
        state: the state on the right [-]
        speed: which of the film's speeds [-]

    Returns:
        two sentences [-]
    """
    names = [f"with {one.name}" if one.name.startswith("the ") else one.name for one in film.states]
    told = [f"{furthest(film, i, speed)} {names[i]}" for i in ((state, 0) if state else (0,))]
    start = f"Tail furthest out at {says(float(film.speeds[speed]), 'kmh', 1)}: {'; '.join(told)}."
    return f"{start} {threshold(film, state)}".strip()


def furthest(film: Film, state: int, speed: int) -> str:
    """Write how far one state's tail swings out at one speed, where it can hold the corner at all.

    Parameters:
        film: the film [-]
        state: the state [-]
        speed: which of the film's speeds [-]

    Returns:
        such as "14°" [-]
    """
    ends = film.ends[state, speed]
    if ends <= 0:
        return "past its grip"
    most = float(from_si(film.slide[:, state, speed].max(), "deg"))
    return out(most, bool(np.isfinite(ends)))


def threshold(film: Film, state: int) -> str:
    """Say between which speeds one of the two cars holds and the other does not.

    Parameters:
        film: the film [-]
        state: the state on the right [-]

    Returns:
        a sentence; nothing for the reference against itself, or where a car is forgiven every speed tried [-]
    """
    first, last = (float(f(film.forgiven[[0, state]])) for f in (np.min, np.max))
    if not state or By.NOTHING in (film.by[0], film.by[state]):
        return ""
    low, high = (float(from_si(v, "kmh")) for v in (first, last))
    start = "Very little between them" if high - low < LITTLE - 1e-6 else "A threshold"
    below, above = says(first, "kmh", 1), says(last, "kmh", 1)
    gone = "from there on neither does" if above == below else f"from {above} on neither does"
    return f"{start}: below {below} both hold, {gone}."
