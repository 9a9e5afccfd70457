"""The setup words: search box, one word at a time with its moving picture, and a page to print."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np

from ..car.carfile import CarFile
from ..draw.carviews import front_view
from ..draw.scenes import SCENES
from ..draw.style import line, point, start, tidy
from ..draw.termviews import TermPicture, told, value_words
from ..lessons.said import saying, search
from ..lessons.terms import TERMS, Term, low
from ..shown import head, retold
from ..trim.suspension import wheel_rate
from ..units import from_si, number
from . import own_slider
from .base import Panel, alert, choice, slider
from .predict import ask

PAGE = "setup-words.html"
"""Name of the page to print, written beside the workbook."""
MOST = 8
"""Most words offered as buttons after a search."""
SLOPE = "The trade uses both signs for the body's slope, so here it is always nose-high or nose-low, and by how much."
_STYLE = """@page {size: A4; margin: 14mm} body {font: 11pt/1.4 sans-serif; max-width: 190mm; margin: auto; color: #000}
section {display: flex; gap: 6mm; break-inside: avoid; border-top: 1px solid #888; padding: 3mm 0}
section > div {flex: 1} img {width: 58mm; align-self: center} h2 {font-size: 12pt; margin: 0} p {margin: 1mm 0}"""


@dataclass(frozen=True)
class ShownTerm:
    """One word with the number its picture shows, in the word's unit."""

    term: Term
    value: float


class Words(Panel):
    """The words' panel, with a search box above it and a button below that writes the page to print."""

    def __init__(self, file: CarFile) -> None:
        """Build it for the car of the file."""
        self.file = file
        view = TermPicture(file)
        controls = {
            "word": choice("Word", [(term.head, key) for key, term in TERMS.items()], "height"),
            "move": slider("Move it", -10, 10, 0.5, 0, "", "Less to the left, more to the right; 0 is where it starts"),
        }

        def compute(state: dict[str, Any]) -> ShownTerm:
            return ShownTerm(TERMS[state["word"]], SCENES[state["word"]].value(file, state["move"]))

        def draw(picture: Any, shown: ShownTerm) -> None:
            view.draw(shown.term.key, shown.value)

        super().__init__(controls, compute, draw, self._say, view.picture, ahead=True)
        self.controls["word"].layout.width = "auto"
        self.search = widgets.Text(
            placeholder="a word, or what you felt: came round, twitchy ...",
            description="Search",
            layout=widgets.Layout(width="30em"),
        )
        self.hits = widgets.HBox(layout=widgets.Layout(flex_flow="row wrap"))
        self.found = widgets.HTML()
        self.print = widgets.Button(description="Write a page to print", layout=widgets.Layout(width="auto"))
        self.written = widgets.HTML()
        self.search.observe(lambda change: self._search(change["new"]), names="value")
        self.print.on_click(lambda _: self._print())
        self.add(self.search, self.found, self.hits, place="top")
        self.add(widgets.HBox([self.print, self.written]))

    def _say(self, shown: ShownTerm) -> str:
        term = shown.term
        now = value_words(term.key, shown.value, term.unit)
        rows = [
            ("What it is", term.plain),
            ("What it does to the feel", term.feel),
            ("How it is measured", term.measured),
        ]
        text = "".join(f"<p><b>{name}.</b> {escape(words)}</p>" for name, words in rows)
        text += symbol_line(term)
        slope = f"<p>{SLOPE}</p>" if term.key in ("height", "attitude") else ""
        drawn = escape(told(self.file, term.key, shown.value, term.unit))
        return f"<b>{escape(term.name[0].upper() + term.name[1:])}: {escape(now)}</b>{text}{slope}<p>{drawn}</p>"

    def _search(self, text: str) -> None:
        found, said = search(text) if text.strip() else [], saying(text)
        self.hits.children = tuple(self._term_button(term) for term in found[:MOST])
        more = f"; the first {MOST}" if len(found) > MOST else ""
        count = f"{len(found)} of {len(TERMS)} words match{more}:" if found else "No word matches."
        told = escape(said.sentence) if said else count
        self.found.value = "" if not text.strip() else f'<div class="vd-words" role="status">{told}</div>'

    def _term_button(self, term: Term) -> Any:
        made = widgets.Button(description=term.name, tooltip=term.plain, layout=widgets.Layout(width="auto"))
        made.on_click(lambda _: self.set_all({"word": term.key, "move": 0.0}))
        return made

    def _changed(self, change: Any) -> None:
        """Show what a control asks for; another word starts at the car's own number."""
        moved = self.controls["move"].value
        if change["owner"] is self.controls["word"] and moved:
            self.set("move", 0.0)
        else:
            super()._changed(change)

    def _print(self) -> None:
        target = Path.cwd() / PAGE
        try:
            target.write_text(head(retold(page(self.file))), encoding="utf-8")
        except OSError as fault:
            self.written.value = alert(f"Not written: {fault}")
            return
        self.written.value = f"Written to {escape(str(target))}: open it in a browser and print it."


def symbol_line(term: Term) -> str:
    """State which letter stands for a word in the equations.

    Parameters:
        term: the word [-]

    Returns:
        HTML; empty for a word without one [-]
    """
    which = "; the small i says at which end or wheel" if term.symbol.endswith("_i") else ""
    return f"<p><b>In the equations.</b> {low(escape(term.symbol))}{which}.</p>" if term.symbol else ""


def panel(file: CarFile) -> Words:
    """Make the panel of the setup words.

    Parameters:
        file: the car whose numbers the pictures start from [-]

    Returns:
        a panel with search box and print button [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(panel(load_example("coupe")).controls)
        ['word', 'move']
    """
    return Words(file)


@dataclass(frozen=True)
class Lever:
    """A spring at some motion ratio: spring rate and wheel rate [N/m]."""

    ratio: float
    spring: float
    wheel: float


ALL, HALF, QUARTER = "all of it", "half of it", "a quarter of it"


def judge_lever(start: Lever, now: Lever) -> str | None:
    """Describe what part of the spring the wheel feels, once the motion ratio is about one half.

    Parameters:
        start: the result with that slider where it started [-]
        now: its present one [-]

    Returns:
        the answer nearest the number; None elsewhere [-]
    """
    if abs(now.ratio - 0.5) > 0.02:
        return None
    parts = {ALL: 1.0, HALF: 0.5, QUARTER: 0.25}
    return min(parts, key=lambda answer: abs(parts[answer] - now.wheel / now.spring))


def because_lever(_: Lever, now: Lever) -> str:
    """Return the reason: the lever counts once for the way and once for the force."""
    part = now.wheel / now.spring
    return (
        f"the spring moves {now.ratio:.2f} of what the wheel moves, and its force reaches the wheel with the same "
        f"lever once more: {now.ratio:.2f} × {now.ratio:.2f} = {part:.2f}."
    )


def lever(file: CarFile) -> Panel:
    """Make the panel of the motion ratio, with its question.

    Parameters:
        file: the car file [-]

    Returns:
        a panel; its attribute ``question`` is the prediction [-]

    Example:
        >>> from vdlib.car.examples import load_example
        >>> list(lever(load_example("coupe")).controls)
        ['ratio']
    """
    picture, axes = start(660, 320, "a front spring somewhere along its arm, and the wheel rate it gives", columns=2)
    body, chart = front_view(picture, axes[0], file.car), axes[1]
    tidy(chart, "What the wheel feels of the spring", "motion ratio", "wheel rate over spring rate").set(
        xlim=(0, 1.25), ylim=(0, 1.5)
    )
    ratios = np.linspace(0, 1.25, 60)
    chart.plot(ratios, wheel_rate(1.0, ratios), **line("reference"))
    spot = picture.moving(chart.plot([], [], **point("front", markersize=12))[0])
    own = float(file.car.front.motion_ratio)
    controls = {"ratio": own_slider("Motion ratio", 0.3, 1.2, 0.01, own)}
    spring = float(file.setup.front.spring)

    def compute(state: dict[str, Any]) -> Lever:
        return Lever(state["ratio"], spring, float(wheel_rate(spring, state["ratio"])))

    def draw(picture: Any, now: Lever) -> None:
        body.update(motion_ratio=now.ratio, rise=-500 / now.wheel, times=2)
        spot.set_data([now.ratio], [now.wheel / now.spring])

    def words(now: Lever) -> str:
        rates = [f"{number(float(from_si(rate, 'N_per_mm')), 1)} N/mm" for rate in (now.spring, now.wheel)]
        moved = number(10 * now.ratio, 1)
        part = number(100 * now.wheel / now.spring, 0)
        return (
            f"<b>A spring of {rates[0]} gives a wheel rate of {rates[1]}: {part} % of it.</b> "
            f"For 10 mm at the wheel the spring moves {moved} mm. The body is drawn as it sinks under "
            "500 N more on each front wheel, 2 times as large."
        )

    made = Panel(controls, compute, draw, words, picture, ahead=True)
    text = "If the spring moves only half as far as the wheel, how much of the spring rate does the wheel feel?"
    return ask(made, "ratio", 0.5, text, (ALL, HALF, QUARTER), judge_lever, because_lever)


def page(file: CarFile) -> str:
    """Write all words as one HTML page to print, each with its picture moved half way.

    Parameters:
        file: the car whose numbers the pictures start from [-]

    Returns:
        HTML, complete in one file [-]
    """
    view = TermPicture(file, 420, 266)
    sections = []
    for key, term in TERMS.items():
        value = SCENES[key].value(file, 5)
        view.draw(key, value)
        alt = escape(told(file, key, value, term.unit))
        image = f'<img alt="{alt}" src="data:image/png;base64,{b64encode(view.picture.render()).decode()}">'
        text = f"<p>{escape(term.plain)}</p><p><b>Feel.</b> {escape(term.feel)}</p>"
        text += f"<p><b>Measured.</b> {escape(term.measured)}</p>{symbol_line(term)}<p><small>{alt}</small></p>"
        sections.append(f"<section><div><h2>{escape(term.head)}</h2>{text}</div>{image}</section>")
    about = (
        "A teaching model; what a word does to the feel is common practice, no source. Brakes, steering and suspension"
    )
    about += " are work for qualified people; axle stands on level ground, never under a car on a jack."
    name = escape(file.car.name)
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Setup words</title><style>{_STYLE}</style>'
        f"<h1>Setup words</h1><p>{SLOPE} Pictures start from the numbers of {name}.</p><p>{about}</p>"
        f"{''.join(sections)}</html>"
    )
