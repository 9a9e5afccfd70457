"""The setup words: search box, one word at a time with its moving picture, and a page to print."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from ..carfile import CarFile
from ..draw.scenes import SCENES
from ..draw.termviews import TermPicture, told, value_words
from ..terms import TERMS, Term, find
from .base import Panel, choice, slider

PAGE = "setup-words.html"
"""Name of the page to print, written beside the workbook."""
MOST = 8
"""Most words offered as buttons after a search."""
SLOPE = "The trade uses both signs for the body's slope, so this course says only nose-high or nose-low by so many mm."
_STYLE = """@page {size: A4; margin: 14mm} body {font: 11pt/1.4 sans-serif; max-width: 190mm; margin: auto; color: #000}
section {display: flex; gap: 6mm; break-inside: avoid; border-top: 1px solid #888; padding: 3mm 0}
section > div {flex: 1} img {width: 58mm; align-self: center} h2 {font-size: 12pt; margin: 0} p {margin: 1mm 0}"""


@dataclass(frozen=True)
class Shown:
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

        def compute(state: dict[str, Any]) -> Shown:
            return Shown(TERMS[state["word"]], SCENES[state["word"]].value(file, state["move"]))

        def draw(picture: Any, shown: Shown) -> None:
            view.draw(shown.term.key, shown.value)

        super().__init__(controls, compute, draw, self._say, view.picture, layout="beside")
        self.controls["word"].layout.width = "auto"
        self.search = widgets.Text(
            placeholder="type a word, or what you felt: nervous, nose, lift ...",
            description="Search",
            layout=widgets.Layout(width="30em"),
        )
        self.hits = widgets.HBox(layout=widgets.Layout(flex_flow="row wrap"))
        self.found = widgets.HTML()
        self.print = widgets.Button(description="Write a page to print", layout=widgets.Layout(width="auto"))
        self.written = widgets.HTML()
        self.search.observe(lambda change: self._search(change["new"]), names="value")
        self.print.on_click(lambda _: self._print())
        top = [widgets.HBox([self.search, self.found]), self.hits]
        self._box.children = (*top, *self._box.children, widgets.HBox([self.print, self.written]))

    def _say(self, shown: Shown) -> str:
        term = shown.term
        now = value_words(term.key, shown.value, term.unit)
        rows = [
            ("What it is", term.plain),
            ("What it does to the feel", term.feel),
            ("How it is measured", term.measured),
        ]
        text = "".join(f"<p><b>{name}.</b> {escape(words)}</p>" for name, words in rows)
        slope = f"<p>{SLOPE}</p>" if term.key in ("height", "attitude") else ""
        drawn = escape(told(self.file, term.key, shown.value, term.unit))
        return f"<h3>{escape(term.head)}: {escape(now)}</h3>{text}{slope}<p>{drawn}</p>"

    def _search(self, text: str) -> None:
        found = find(text) if text.strip() else []
        self.hits.children = tuple(self._button(term) for term in found[:MOST])
        more = f"; the first {MOST} are" if len(found) > MOST else ""
        self.found.value = "" if not text.strip() else f"{len(found)} of {len(TERMS)} words hold this{more}:"

    def _button(self, term: Term) -> Any:
        made = widgets.Button(description=term.name, tooltip=term.plain, layout=widgets.Layout(width="auto"))
        made.on_click(lambda _: self.set("word", term.key))
        return made

    def _print(self) -> None:
        target = Path.cwd() / PAGE
        try:
            target.write_text(page(self.file), encoding="utf-8")
        except OSError as fault:
            self.written.value = f'<div class="vd-alert" role="alert">Not written: {escape(str(fault))}</div>'
            return
        self.written.value = f"Written to {escape(str(target))}: open it in a browser and print it."


def panel(file: CarFile) -> Words:
    """Make the panel of the setup words.

    Parameters:
        file: the car whose numbers the pictures start from [-]

    Returns:
        a panel with search box and print button [-]
    """
    return Words(file)


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
        text += f"<p><b>Measured.</b> {escape(term.measured)}</p><p><small>{alt}</small></p>"
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
