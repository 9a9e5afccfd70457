"""What a film says: the verdict on the question which end did it, and a sentence for each state and speed."""

from __future__ import annotations

import numpy as np

from ..units import from_si
from .film import Film

LITTLE = 0.5
"""A difference of forgiven speeds below this is called very little [km/h]: the step of the film's speeds."""


def question(film: Film) -> str:
    """Ask which end did it, with both ends in mm.

    Parameters:
        film: the film [-]

    Returns:
        a question [-]
    """
    front, rear = (round(float(from_si(r, "mm"))) for r in film.rise[:, film.state("now")])
    told = f"nose {_way(front)}, tail {_way(rear)}"
    return f"It came back with its {told}. Same corner, same lift: which end makes the tail come round?"


def _way(mm: int) -> str:
    return f"{'up' if mm > 0 else 'down'} {abs(mm)} mm" if mm else "as before"


def options(film: Film) -> tuple[str, ...]:
    """Give the answers to choose from, in the words of this car.

    Parameters:
        film: the film [-]

    Returns:
        three short answers [-]
    """
    front, rear = (float(r) for r in film.rise[:, film.state("now")])
    nose = "high nose" if front > 0 else "low nose" if front < 0 else "nose"
    tail = "low tail" if rear < 0 else "high tail" if rear > 0 else "tail"
    return (f"The {nose}", f"The {tail}", "It takes both")


def lost(film: Film, key: str) -> float:
    """Give how much less a state forgives than the reference [km/h]; NaN where one of the two forgives all tried."""
    gap = film.forgiven[0] - film.forgiven[film.state(key)]
    return float(from_si(gap, "kmh")) if np.isfinite(gap) else float("nan")


def culprit(film: Film) -> int | None:
    """Say which of the answers the numbers give.

    Parameters:
        film: the film [-]

    Returns:
        0 the nose, 1 the tail, 2 both; None where the car as it is forgives as much as its reference, or more [-]
    """
    both, nose, tail = (lost(film, key) for key in ("now", "nose", "tail"))
    if not both >= LITTLE:
        return None
    if tail >= 2 * max(nose, 0.0) and tail >= 0.5 * both:
        return 1
    if nose >= 2 * max(tail, 0.0) and nose >= 0.5 * both:
        return 0
    return 2


def kmh(film: Film, key: str) -> str:
    """Write up to which speed a state is forgiven.

    Parameters:
        film: the film [-]
        key: the state's key [-]

    Returns:
        such as "74.6 km/h" [-]
    """
    one = film.forgiven[film.state(key)]
    return f"{from_si(one, 'kmh'):.1f} km/h" if np.isfinite(one) else f"over {from_si(film.tried[1], 'kmh'):.0f} km/h"


def verdict(film: Film, said: int | None = None) -> str:
    """Say what the film shows of the question: the answer first, then what each end costs, and the foot beside them.

    Parameters:
        film: the film [-]
        said: the answer that was chosen; None without one [-]

    Returns:
        two sentences [-]
    """
    true, words = culprit(film), options(film)
    both, nose, tail, foot = (lost(film, key) for key in ("now", "nose", "tail", "foot"))
    gained = both - foot
    foot_words = f"; half the lift would give {gained:.1f} back" if np.isfinite(gained) and gained >= LITTLE else ""
    if true is None:
        size = "as much as" if not np.isfinite(both) or abs(both) < LITTLE else "more than"
        start = f"Neither: here the car as it came back forgives {size} {film.states[0].name}"
        return f"{start} ({kmh(film, 'now')} against {kmh(film, 'reference')}){foot_words}."
    answer = words[true].lower()
    start = "It is" if said is None else "Right: it is" if said == true else f"You said {words[said].lower()}; it is"
    alone = f"alone, the nose costs {_cost(nose)}, the tail {_cost(tail)}"
    return f"{start} {answer}: {alone}. Together the heights cost {_cost(both)} here{foot_words}."


def _cost(lost_kmh: float) -> str:
    return f"{lost_kmh:.1f} km/h" if abs(lost_kmh) >= 0.05 else "nothing"


def sentence(film: Film, state: int, speed: int) -> str:
    """Say what both cars do at one speed, and that it is a threshold.

    Parameters:
        film: the film [-]
        state: the state on the right [-]
        speed: which of the film's speeds [-]

    Returns:
        two sentences [-]
    """
    at = float(film.speeds[speed])
    most = from_si(film.slide[:, :, speed].max(axis=0), "deg")
    ended = np.isfinite(film.ends[:, speed])

    def out(i: int) -> str:
        return f"{'over ' if ended[i] else ''}{np.ceil(max(most[i], 0.5)):.0f}°"

    told = f"Tail out at {from_si(at, 'kmh'):.1f} km/h: {film.states[state].name} {out(state)}"
    told += f", {film.states[0].name} {out(0)}." if state else "."
    first, last = (float(f(film.forgiven[[0, state]])) for f in (np.min, np.max))
    if not state or not np.isfinite(last):
        return told
    low, high = (float(from_si(v, "kmh")) for v in (first, last))
    if high - low < LITTLE:
        return f"{told} Both are forgiven up to about {low:.1f} km/h: very little between them."
    return f"{told} It is a threshold: below {low:.1f} km/h both hold, from {high:.1f} neither does."
