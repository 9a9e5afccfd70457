"""Printed pages: texts, lines and boxes placed in points, written as PDF, as HTML, or as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from html import escape
from io import BytesIO
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from .png import encode

FONT = "DejaVu Sans"
SMALLEST = 7.0
"""No letter on a printed page is smaller [points]."""
GREY, PALE = "#555555", "#DDDDDD"
_LEADING = 1.22  # from line to line over the text's size
_ANCHOR = {"left": "start", "center": "middle", "right": "end"}


@dataclass(frozen=True)
class Paper:
    """A kind of paper: its name and size [points]."""

    name: str
    width: float
    height: float


PAPERS = {"A4": Paper("A4", 595.276, 841.89), "letter": Paper("letter", 612.0, 792.0)}
"""Name → paper: A4 is 210 by 297 mm (ISO 216), letter 8.5 by 11 in (ANSI)."""
MARGIN = 28.3
"""White edge of 10 mm [points]."""


@dataclass(frozen=True)
class Placed:
    """One line of text with the place of its baseline, from the page's upper left corner [points]."""

    x: float
    y: float
    words: str
    size: float
    bold: bool = False
    anchor: str = "left"


@dataclass
class Leaf:
    """One page while it is filled, from the top down; ``y`` is where the next line may stand [points]."""

    paper: Paper
    y: float = MARGIN
    texts: list[Placed] = field(default_factory=list)
    lines: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    boxes: list[tuple[float, float, float, float, str]] = field(default_factory=list)

    @property
    def left(self) -> float:
        """The left edge [points]."""
        return MARGIN

    @property
    def width(self) -> float:
        """From edge to edge [points]."""
        return self.paper.width - 2 * MARGIN

    @property
    def room(self) -> float:
        """Height left under ``y`` [points]."""
        return self.paper.height - MARGIN - self.y

    def write(self, x: float, y: float, words: str, size: float, bold: bool = False, anchor: str = "left") -> None:
        """Place one line of text; a character the font does not have becomes a question mark."""
        if words:
            self.texts.append(Placed(x, y, printable(words), size, bold, anchor))

    def line(self, x0: float, y0: float, x1: float, y1: float, width: float = 0.6) -> None:
        """Place a line."""
        self.lines.append((x0, y0, x1, y1, width))

    def box(self, x: float, y: float, width: float, height: float, fill: str = "none") -> None:
        """Place a box by its upper left corner; filled without edge, or with an edge and empty."""
        self.boxes.append((x, y, width, height, fill))

    def fill(
        self,
        words: str,
        size: float,
        bold: bool = False,
        x: float | None = None,
        width: float | None = None,
        most: int | None = None,
    ) -> None:
        """Set a paragraph at ``y`` and go on below it; cut with a mark in words after ``most`` lines."""
        left, wide = self.left if x is None else x, self.width if width is None else width
        lines = wrapped(words, wide, size, bold)
        if most is not None and len(lines) > most:
            lines = [*lines[: most - 1], wrapped(f"{lines[most - 1]} {CUT}", wide, size, bold)[0]]
            mark = f" {CUT}"
            while length(lines[-1] + ("" if CUT in lines[-1] else mark), bold) * size > wide:
                lines[-1] = lines[-1].removesuffix(CUT).rstrip()[:-4].rstrip()
            lines[-1] += "" if CUT in lines[-1] else mark
        for one in lines:
            self.write(left, self.y + size, one, size, bold)
            self.y += _LEADING * size


CUT = "… (cut here)"
"""What stands where a text was too long for its place."""


def pdf(leaves: Sequence[Leaf], title: str) -> bytes:
    """Write pages as PDF.

    Parameters:
        leaves: the pages [-]
        title: title of the document [-]

    Returns:
        the bytes of a PDF file; the same pages give the same bytes [-]
    """
    out = BytesIO()
    with PdfPages(out, metadata={"Title": title, "CreationDate": None}) as book:
        for leaf in leaves:
            book.savefig(figure_of(leaf))
    return out.getvalue()


def html(leaves: Sequence[Leaf], title: str) -> str:
    """Write the same pages for the browser: each a drawing to its own scale whose text can be read, found and copied.

    Parameters:
        leaves: the pages [-]
        title: title of the document [-]

    Returns:
        HTML with its own style, which prints each page on one sheet of its paper [-]
    """
    paper = leaves[0].paper
    pages = "".join(svg(leaf) for leaf in leaves)
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title><style>
@page {{size: {paper.width:.2f}pt {paper.height:.2f}pt; margin: 0}}
body {{margin: 0; font-variant-ligatures: none; background: #fff}}
svg {{display: block; width: 100%; max-width: {paper.width:.2f}pt; height: auto; margin: auto; break-after: page}}
svg:last-child {{break-after: auto}}
</style></head><body>{pages}</body></html>
"""


def svg(leaf: Leaf) -> str:
    """Write one page as a drawing.

    Parameters:
        leaf: the page [-]

    Returns:
        an SVG element [-]
    """
    parts = [
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{w:.2f}" height="{h:.2f}" '
        + (f'fill="{shade}"/>' if shade != "none" else 'fill="none" stroke="#000" stroke-width="0.7"/>')
        for x, y, w, h, shade in leaf.boxes
    ]
    parts += [
        f'<path d="M{x0:.2f} {y0:.2f}L{x1:.2f} {y1:.2f}" stroke="{GREY}" stroke-width="{w}"/>'
        for x0, y0, x1, y1, w in leaf.lines
    ]
    parts += [
        f'<text x="{t.x:.2f}" y="{t.y:.2f}" font-size="{t.size}" text-anchor="{_ANCHOR[t.anchor]}" '
        f'font-weight="{"bold" if t.bold else "normal"}" textLength="{length(t.words, t.bold) * t.size:.2f}" '
        f'lengthAdjust="spacingAndGlyphs">{escape(t.words)}</text>'
        for t in leaf.texts
    ]
    size = f"{leaf.paper.width:.2f} {leaf.paper.height:.2f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" role="img" '
        f'font-family="DejaVu Sans, Verdana, sans-serif">{"".join(parts)}</svg>'
    )


def picture(leaf: Leaf, title: str, dpi: float = 96) -> bytes:
    """Draw a page as a PNG, to be looked at on the screen.

    Parameters:
        leaf: the page [-]
        title: what it is [-]
        dpi: pixels per inch [-]

    Returns:
        the bytes of a PNG file [-]
    """
    figure = figure_of(leaf)
    figure.set_dpi(dpi)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    return encode(np.array(canvas.buffer_rgba()), {"Description": title}, dpi)


def figure_of(leaf: Leaf) -> Figure:
    """Return a page as a figure, all black and grey on white.

    Parameters:
        leaf: the page [-]

    Returns:
        a ``Figure`` of the size of its paper [-]
    """
    width, height = leaf.paper.width, leaf.paper.height
    figure = Figure(figsize=(width / 72, height / 72), dpi=72, facecolor="white")
    for x, y, w, h, shade in leaf.boxes:
        empty = shade == "none"
        look: dict[str, Any] = {"facecolor": shade, "edgecolor": "black" if empty else "none"}
        look |= {"linewidth": 0.7 if empty else 0.0, "transform": figure.transFigure, "zorder": 0}
        place = (x / width, 1 - (y + h) / height)
        figure.add_artist(Rectangle(place, w / width, h / height, **look))
    for x0, y0, x1, y1, thick in leaf.lines:
        ends = [x0 / width, x1 / width], [1 - y0 / height, 1 - y1 / height]
        figure.add_artist(Line2D(*ends, color=GREY, linewidth=thick, transform=figure.transFigure, zorder=1))
    for text in leaf.texts:
        figure.text(
            text.x / width,
            1 - text.y / height,
            text.words,
            fontsize=text.size,
            fontweight="bold" if text.bold else "normal",
            family=FONT,
            ha=text.anchor,
            parse_math=False,
            color="black",
            fontfeatures=("-liga",),  # a reader of the file finds "fi" as two letters
        )
    return figure


def wrapped(words: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Break a text into lines no wider than a column; a word too long for one line is broken too.

    A line is as long as its words and spaces together: the font brings no letters closer at a space.

    Parameters:
        words: the text [-]
        width: the column's width [-]
        size: size of the text [-]
        bold: whether it is set bold [-]

    Returns:
        its lines, at least one [-]
    """
    lines, line, reach, space = [], "", 0.0, length(" ", bold) * size
    for word in printable(words).split():
        while length(word, bold) * size > width:
            count = max(1, int(len(word) * width / (length(word, bold) * size)) - 1)
            lines += [line] if line else []
            lines.append(word[:count])
            line, word = "", word[count:]
        own = length(word, bold) * size
        if not line or reach + space + own > width:
            lines += [line] if line else []
            line, reach = word, own
        else:
            line, reach = f"{line} {word}", reach + space + own
    return [*lines, line] if line or not lines else lines


@lru_cache(maxsize=1)
def _renderer() -> Any:
    make: Any = RendererAgg
    return make(720, 720, 720)


@lru_cache(maxsize=8192)
def length(words: str, bold: bool = False) -> float:
    """Return the width of a text over its size, a fiftieth added for screens that round each letter to their dots.

    Parameters:
        words: the text [-]
        bold: whether it is set bold [-]

    Returns:
        width over size [-]
    """
    font = FontProperties(family=FONT, weight="bold" if bold else "normal", size=10)
    measured: float = _renderer().get_text_width_height_descent(words, font, False)[0]
    return 1.02 * measured / 100


class _Letters(dict[int, int]):
    """Each character → what is printed of it: itself, a space for a new line, or a question mark."""

    def __missing__(self, letter: int) -> int:
        self[letter] = letter if letter in _characters() or letter == ord(" ") else ord("?")
        return self[letter]


_LETTERS = _Letters({ord("\n"): ord(" ")})


@lru_cache(maxsize=1)
def _characters() -> frozenset[int]:
    return frozenset(get_font(findfont(FontProperties(family=FONT))).get_charmap())


def printable(words: str) -> str:
    """Return a text with a question mark for every character that the page's font does not have.

    Parameters:
        words: the text [-]

    Returns:
        the text on one line [-]
    """
    return words.translate(_LETTERS)
