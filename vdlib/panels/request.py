"""The panel that finds the least change for a request, and says how sure it is that it helps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..answers.edge import SAME
from ..answers.ledger import Ledger
from ..answers.sentences import PHASE_WORDS, listed
from ..car.carfile import CarFile
from ..car.records import Moment
from ..car.reference import reference_of
from ..draw.whatif import WhatIf
from ..setup.advice import GOALS, KIND_WORDS, KINDS, Ask, Lever, gains, levers, value
from ..setup.allowed import accepted, costly, reason, returns, sparing
from ..setup.candidate import Version, between
from ..setup.driven import own_corner
from ..setup.promised import Promise, promise
from ..setup.request import RequestAnswer, at_reference, guess, share_better, solve
from ..setup.tolerances import UNITS_OF
from ..setup.whatif import Comparison, compare, plain, why
from ..units import G, from_si, number
from .base import Panel, choice, slider, table, toggle
from .helps import LABELS, STARTS, WAYS, again_button, amount, ask_controls, ask_of, goal_words, start_of
from .how_sure import known_of
from .moments import MOMENT
from .shared_whatif import SharedWhatIf, button, row
from .whatif_words import TURNS, lateral, slide

BEYOND = "may go beyond the reference"
REQUESTS = {
    "reference": "as at the reference",
    "amount": "better by the amount below",
    "even": "front and rear let go together",
}
"""Request → its words; the last one is about the limits whatever the goal chosen."""
AMOUNTS = {"gap": 0.01, "steering": 0.1, "growth": 0.1}
"""What one step of "better by" stands for, in the goal's unit."""
STEP_WORDS = "One step of better by is " + ", ".join(
    f"{size:g}{LABELS[goal]} of {GOALS[goal][0]}" for goal, size in AMOUNTS.items()
)


CORNER_WAITS = "What it does in your corner follows once nothing moves."
"""Said of a first guess, in place of its promise."""
FOLDS = {"The corner": MOMENT, "What may be changed": list(KIND_WORDS)}
"""Fold of controls → the controls in it."""


@dataclass(frozen=True)
class Asked:
    """What the request panel shows."""

    answer: RequestAnswer
    ledger: Ledger | None
    wanted: tuple[Lever, ...]
    request: str
    start: str
    marks: dict[str, str]  # setting → why a mechanic would not do what is asked of it
    promised: Promise | None  # what the answer does in the driver's corner; None without one, and of a first guess
    beyond: bool  # whether it may go beyond the reference
    cost: str  # what it takes from the end that holds longer, where that is worth a word
    guessed: bool = False  # whether the answer is a first guess


def panel(file: CarFile) -> Any:
    """Make the panel that solves a request, with the button that takes its answer over.

    Parameters:
        file: the car file [-]

    Returns:
        a widget whose attribute ``panel`` is the ``Panel`` [-]
    """
    return RequestDesk(SharedWhatIf.of(file))


class RequestDesk:
    """The request panel and the buttons under it."""

    def __init__(self, bench: SharedWhatIf) -> None:
        """Build everything."""
        self.bench, self.view = bench, WhatIf("counted from", "the answer")
        kinds = {kind: toggle(words, kind in ("height", "bar", "pressure"), f"{words} may be changed")
                 for kind, words in KIND_WORDS.items()}  # fmt: skip
        controls = ask_controls() | {
            "request": choice("Asked for", [(words, key) for key, words in REQUESTS.items()], "reference"),
            "beyond": toggle(BEYOND, False, "Also what a mechanic would not do; the answer says why"),
            "amount": slider("Better by", 1, 20, 1, 3, "steps", STEP_WORDS),
        }
        self._level, self._figures = reference_of(bench.file).setup, bench.file.known.figures
        self._promised = lru_cache(maxsize=16)(promise)  # most steps of a slider lead to an answer there was before
        self.panel = Panel(
            controls | kinds,
            self._compute,
            self._draw,
            request_words,
            self.view.picture,
            folded=FOLDS,
            rough=self._guess,
        )
        self.message = widgets.HTML()
        self.take_button = button(
            "Make it the what-if", "Put this answer on the sliders of the what-if", self._take, self.message
        )
        self.sure_button = button("How sure?", "Ask many plausible cars whether this helps", self._sure, self.message)
        self.box = widgets.VBox(
            [
                self.panel.show(),
                row(again_button(self.panel), self.take_button, self.sure_button),
                self.message,
            ]
        )

    def show(self) -> Any:
        """Return the widget."""
        return self.box

    def _compute(self, state: dict[str, Any]) -> Asked:
        base, ask, wanted = self._asked(state)
        if not state["beyond"]:
            wanted = sparing(base, ask, wanted, self._level, self._figures)
        target, words = self._target(state, ask, lambda: compare([base], ask.speed, ask.lateral, (ask.phase,)))
        answer = solve(base, ask, target, wanted)
        corner = own_corner(self.bench.file.known.visit)
        told = self._promised(base.car, base.setup, answer.version.setup, corner) if answer.steps else None
        return self._found(state, base, answer, wanted, words, told)

    def _guess(self, state: dict[str, Any]) -> Asked:
        """Make a first guess of the answer while a control moves; what it does in the driver's corner waits."""
        base, ask, wanted = self._asked(state)
        if not wanted:
            return self._compute(state)
        first = ask if state["beyond"] else replace(ask, phase="lift")
        there, here = None, None
        if state["request"] == "reference" and first.phase == ask.phase:  # both in one call
            both = compare([at_reference(self.bench.file), base], ask.speed, ask.lateral, (ask.phase,))
            there, here = both.only(0), both.only(1)
        known = gains(base, first, wanted, (first.phase,), here)
        if not state["beyond"]:
            wanted = sparing(base, ask, before := wanted, self._level, self._figures, known)
            if ask.phase != "lift" or tuple(one.path for one in wanted) != tuple(one.path for one in before):
                known = gains(base, ask, wanted, (ask.phase,)) if wanted else known
        target, words = self._target(state, ask, lambda: known.base, there)
        answer = guess(base, ask, target, wanted, known)
        return self._found(state, base, answer, wanted, words, None, True)

    def _asked(self, state: dict[str, Any]) -> tuple[Version, Ask, tuple[Lever, ...]]:
        """Return what the changes are counted from, what is wanted, and what may be turned for it."""
        base, ask = start_of(self.bench, state), ask_of(state)
        if state["request"] == "even":
            ask = replace(ask, goal="gap")
        wanted = levers(base.car, base.setup, kinds=[kind for kind in KINDS if state[kind]])
        return base, ask, wanted if state["beyond"] else accepted(wanted, self._level, self._figures)

    def _target(
        self, state: dict[str, Any], ask: Ask, now: Callable[[], Comparison], there: Comparison | None = None
    ) -> tuple[float, str]:
        """Return the goal asked for, and the request in words."""
        if state["request"] == "reference":
            there = there or compare([at_reference(self.bench.file)], ask.speed, ask.lateral, (ask.phase,))
            return value(there, ask), f"{REQUESTS['reference']} ({there.names[0]})"
        if state["request"] == "even":
            return 0.0, REQUESTS["even"]
        size = AMOUNTS[ask.goal] * state["amount"]
        one = f"{AMOUNTS[ask.goal]:g}{LABELS[ask.goal]}"
        words = f"better by {size:.3g}{LABELS[ask.goal]} ({state['amount']:.0f} × {one})"
        return value(now(), ask) + ask.way * size, words

    def _found(
        self,
        state: dict[str, Any],
        base: Version,
        answer: RequestAnswer,
        wanted: tuple[Lever, ...],
        words: str,
        told: Promise | None,
        guessed: bool = False,
    ) -> Asked:
        ask, level, figures = answer.ask, self._level, self._figures
        both = np.isfinite(answer.found.angle[:, answer.found.phases.index(ask.phase)]).all()
        moment = Moment.in_phase(ask.phase, ask.speed, answer.found.turn * ask.lateral)
        ledger = why(base, answer.version, moment) if both else None
        marks = {
            one.path: said
            for one in wanted
            if (said := reason(one, one.now + answer.steps.get(one.path, 0.0), level, figures))
        }
        back = all(
            returns(one, one.now + answer.steps[one.path], level, figures) for one in wanted if one.path in answer.steps
        )
        cost = "" if back else costly(answer.found)
        start, beyond = STARTS[state["start"]], bool(state["beyond"])
        return Asked(answer, ledger, wanted, words, start, marks, told, beyond, cost, guessed)

    def _draw(self, _: Any, found: Asked) -> None:
        self.view.draw(found.answer.found, found.ledger, found.answer.ask.phase)

    def _whole(self) -> Asked | None:
        """Return the answer shown, worked out to its end: no first guess is taken over."""
        if self.panel.result is not None and self.panel.result.guessed:
            self.panel.refresh()
        found: Asked | None = self.panel.result
        return found

    def _take(self) -> str:
        found = self._whole()
        if found is None:
            return "There is no answer to take over: see the message above."
        if not found.answer.steps:
            return "The answer changes nothing, so the what-if is left as it was."
        base = self.bench.base
        start = self.bench.candidate if found.start == STARTS["what-if"] else None
        more = {"loads": start.loads, "tyres": start.tyres, "note": start.note} if start else {}
        ask = found.answer.ask
        name = f"{WAYS[ask.way]} {PHASE_WORDS[ask.phase]}"
        self.bench.take(between(base, found.answer.version.setup, name, **more))
        return f"The answer is the what-if now, called '{name}'. To keep it, press Save it under the first panel."

    def _sure(self) -> str:
        found = self._whole()
        if found is None:
            return "There is no answer to ask about: see the message above."
        if not found.answer.steps:
            return "Nothing is changed, so there is nothing to be sure of."
        base = start_of(self.bench, self.panel.state)
        return sure_words(self.bench.file, base, found.answer.version, found.answer.ask)


def sure_words(file: CarFile, base: Version, after: Version, ask: Ask, count: int = 10_000) -> str:
    """State for what share of plausible cars a change helps.

    Parameters:
        file: the car file [-]
        base: the car as it stands [-]
        after: the car changed [-]
        ask: what is wanted [-]
        count: how many plausible cars [-]

    Returns:
        one sentence [-]
    """
    kinds, errors = known_of(file)
    share = share_better(file, kinds, base, after, ask, count, errors=errors)
    if np.isnan(share):
        return "How sure: no plausible car holds this corner both before and after."
    left = " Ballast and tyres are left out of this count." if after.car != base.car else ""
    where = "" if file.origin else " Nothing in the car file is marked as measured: measure your car to be surer."
    what = f"{WAYS[ask.way]} ({GOALS[ask.goal][0]}, {PHASE_WORDS[ask.phase]})"
    return f"How sure: it is a step toward {what} for {100 * share:.0f} % of {count:,} plausible cars.{left}{where}"


def request_words(found: Asked) -> str:
    """State in words and numbers what was asked, what answers it and what it costs elsewhere.

    Parameters:
        found: the answer [-]

    Returns:
        HTML [-]
    """
    answer = found.answer
    both = answer.found
    asked = f"{goal_words(answer.ask)}. Asked for: {WAYS[answer.ask.way]}, {found.request}. Counted from {found.start}."
    lines = [f"<b>{escape(_verdict(found))}</b>"]
    if answer.steps:
        lines.append(escape(CORNER_WAITS if found.promised is None else found.promised.words[0]))
        cost = f"Asked for, though it {found.cost}." if found.cost else ""
        lines += [escape(told) for told in (*map(_marked, found.marks.items()), cost) if told]
        lines.append(escape(_cost_words(both)))
    if both.other is not None:
        asked += f" Counted in {TURNS[both.turn]} turns, the worse ones before the change."
    lines.append(escape(asked))
    rows = []
    for i, phase in enumerate(both.phases):
        rows.append([f"front lets go, {PHASE_WORDS[phase]}", *(lateral(both.limit[0, row, i]) for row in (0, 1))])
        rows.append([f"rear lets go, {PHASE_WORDS[phase]}", *(lateral(both.limit[1, row, i]) for row in (0, 1))])
    lift = both.phases.index("lift")
    rows.append(["a small slide, throttle closed", *(slide(both.double[row, lift]) for row in (0, 1))])
    return "<br>".join(lines) + table(["", f"◆ {found.start}", "★ the answer"], rows)


def _verdict(found: Asked) -> str:
    answer = found.answer
    start, end, target = (amount(v, answer.ask.goal) for v in (answer.start, answer.end, answer.target))
    if not np.isfinite(answer.start) or not np.isfinite(answer.target):
        return (
            "Past the limit, or a limit was not found: this cannot be answered here. Take a lower lateral acceleration."
        )
    if answer.already:
        compared = f"{GOALS[answer.ask.goal][0]}, {PHASE_WORDS[answer.ask.phase]}, counted from {found.start}"
        way = answer.ask.way
        if found.request == REQUESTS["even"] and amount(answer.start, answer.ask.goal) != target:
            past = f"The {GOALS['gap'][0]} is {start} now: with “{WAYS[way]}” that is past {target} already"
            return f"{past}. For both ends to let go together choose “{WAYS[-way]}”."
        already = f"Nothing to do: {start} now, and {target} was asked for ({compared})."
        return f"{already} Choose to be better by an amount."
    if not found.wanted:
        more = "" if found.beyond else f", or tick “{BEYOND}”: toward the reference nothing is left to turn"
        return f"Now {start}, asked for {target}: tick at least one kind of setting that may change{more}."
    goal, change = GOALS[answer.ask.goal][0], listed([_step(path, step) for path, step in answer.steps.items()])
    if found.guessed and answer.steps:
        return f"Change {change} (a first guess): {goal} {start} now, {end} then; {target} is asked for."
    if answer.reached and found.promised is not None:
        little = ", too little to feel" if found.promised.little and found.promised.gain != SAME else ""
        gives = f"your corner forgives {found.promised.gain}{little}"
        return f"Change {change}: {gives}. The {goal} is {start} now, {end} then; {target} is asked for."
    best = f"now {start}, the best found is {end}{f' (change {change})' if change else ''}"
    more = "Allow more" if found.beyond else f"Nothing goes beyond the reference: tick “{BEYOND}” to allow that"
    return f"No allowed change was found that reaches {target}: {best}. {more}, or ask for less."


def _step(path: str, step: float) -> str:
    field = path.rpartition(".")[2]
    unit = KINDS[field][0]
    digits = {"deg": 2, "bar": 2}.get(unit, 0)
    return f"{plain(path)} by {number(from_si(step, unit), digits, sign=True)}{UNITS_OF[field][1]}"


def _marked(mark: tuple[str, str]) -> str:
    path, why_not = mark
    return f"{plain(path)[0].upper()}{plain(path)[1:]} is asked for, though {why_not}."


def _cost_words(both: Comparison) -> str:
    """State in which phases the car as a whole now holds less."""
    lowest = both.limit.min(axis=0)
    change = (lowest[1] - lowest[0]) / G
    less = [
        f"{PHASE_WORDS[p]} {number(c, 3, sign=True)} g" for p, c in zip(both.phases, change, strict=True) if c < -5e-4
    ]
    if less:
        return f"What it costs: the car holds less {listed(less)}."
    return "What it costs: in no phase does the car hold less."
