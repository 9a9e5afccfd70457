"""The workshop sheet set on one A4 page, as PDF or as a picture: text measured, wrapped, made smaller or cut to fit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from io import BytesIO
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D

from ..checks import InputError, Problem
from ..setup.page import COLUMNS, CUT, HEAD, WorkshopPage, mark
from .png import encode

PAGE = (595.276, 841.89)
"""A4 [points]: 210 by 297 mm."""
MARGIN = 28.3
"""White edge of 10 mm [points]."""
SIZES = (9.5, 9.25, 9.0, 8.75, 8.5, 8.25, 8.0)
"""Sizes of the text tried in turn; none below 8 pt [points]."""
_LEADING, _TIGHT, _PAD = 1.2, 1.12, 3.0  # from line to line over the text's size, and at the worst
_SHORTEST = 60


@dataclass(frozen=True)
class _Text:
    x: float
    y: float  # of the baseline, from the bottom
    words: str
    size: float
    bold: bool


@dataclass(frozen=True)
class Page:
    """A sheet that fits, its texts and lines with their places [points]."""

    sheet: WorkshopPage
    size: float
    texts: tuple[Any, ...]
    lines: tuple[tuple[float, float, float, float], ...]


def fitted(sheet: WorkshopPage) -> Page:
    """Set a sheet on one page: the text as large as fits; at the smallest size what was felt is cut, with a mark.

    Parameters:
        sheet: the sheet [-]

    Returns:
        a ``Page`` [-]

    Errors:
        ``InputError`` where even that is too much.
    """
    sheet = _printable(sheet)
    for size, leading in (*((size, _LEADING) for size in SIZES), (SIZES[-1], _TIGHT)):
        page, left = _set(sheet, size, leading)
        if left >= 0:
            return page
    felt = sheet.felt.removesuffix(CUT)
    while len(felt) > _SHORTEST:
        felt = felt[: int(0.85 * len(felt))].rsplit(" ", 1)[0]
        page, left = _set(replace(sheet, felt=felt + CUT), SIZES[-1], _TIGHT)
        if left >= 0:
            return page
    raise InputError(
        [Problem("workshop sheet", "", "must fit on one page", "ask for fewer things at once, or shorten the names")]
    )


def pdf(page: Page) -> bytes:
    """Write a page as PDF.

    Parameters:
        page: the page [-]

    Returns:
        the bytes of a PDF file of one page [-]
    """
    figure, out = figure_of(page), BytesIO()
    canvas: Any = FigureCanvasPdf(figure)
    canvas.print_pdf(out, metadata={"Title": page.sheet.title, "CreationDate": None})
    return out.getvalue()


def picture(page: Page, dpi: float = 96) -> bytes:
    """Draw a page as a PNG, to be looked at on the screen.

    Parameters:
        page: the page [-]
        dpi: pixels per inch [-]

    Returns:
        the bytes of a PNG file [-]
    """
    figure = figure_of(page)
    figure.set_dpi(dpi)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    return encode(np.array(canvas.buffer_rgba()), {"Description": page.sheet.title}, dpi)


def figure_of(page: Page) -> Figure:
    """Give the page as a figure of texts and lines, all black on white.

    Parameters:
        page: the page [-]

    Returns:
        a ``Figure`` of the size of A4 [-]
    """
    width, height = PAGE
    figure = Figure(figsize=(width / 72, height / 72), dpi=72, facecolor="white")
    for text in page.texts:
        figure.text(
            text.x / width,
            text.y / height,
            text.words,
            fontsize=text.size,
            fontweight="bold" if text.bold else "normal",
            family="DejaVu Sans",
            parse_math=False,
            color="black",
        )
    for x0, y0, x1, y1 in page.lines:
        ends = [x0 / width, x1 / width], [y0 / height, y1 / height]
        figure.add_artist(Line2D(*ends, color="#555555", linewidth=0.7, transform=figure.transFigure))
    return figure


def _set(sheet: WorkshopPage, size: float, leading: float) -> tuple[Page, float]:
    """Set the sheet at one size, and say how much room is left under it."""
    texts: list[_Text] = []
    lines: list[tuple[float, float, float, float]] = []
    width = PAGE[0] - 2 * MARGIN
    y = PAGE[1] - MARGIN

    def paragraph(words: str, size: float, bold: bool = False) -> None:
        nonlocal y
        for line in wrapped(words, width, size, bold):
            texts.append(_Text(MARGIN, y - size, line, size, bold))
            y -= leading * size

    paragraph(sheet.title, size + 4, True)
    y -= 0.2 * size
    paragraph(sheet.car, size)
    for heading, paragraphs in sheet.blocks():
        y -= 0.4 * size
        paragraph(heading, size, True)
        for words in paragraphs:
            paragraph(words, size)
    y -= 0.6 * size
    edges = MARGIN + width * np.concatenate([[0.0], np.cumsum(COLUMNS)])
    top = y
    small = max(8.0, size - 0.5)
    table = [(*HEAD, True)] + [(r.step, r.setting, r.now, mark(r), r.within, "", r.changed) for r in sheet.rows]
    for *cells, bold in table:
        lines.append((MARGIN, y, MARGIN + width, y))
        parts = [
            wrapped(str(cell), edges[i + 1] - edges[i] - 2 * _PAD, small, bool(bold)) for i, cell in enumerate(cells)
        ]
        for i, part in enumerate(parts):
            texts += [
                _Text(float(edges[i]) + _PAD, y - small - 1 - k * leading * small, line, small, bool(bold))
                for k, line in enumerate(part)
                if line
            ]
        y -= max(len(part) for part in parts) * leading * small + 2.5
    lines.append((MARGIN, y, MARGIN + width, y))
    lines += [(float(x), top, float(x), y) for x in edges]
    for heading, paragraphs in sheet.below():
        y -= 0.4 * size
        paragraph(heading, size, True)
        for words in paragraphs:
            paragraph(words, size)
    return Page(sheet, size, tuple(texts), tuple(lines)), y - MARGIN


def wrapped(words: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Break a text into lines no wider than a column; a word too long for one line is broken too.

    Parameters:
        words: the text [-]
        width: the column's width [-]
        size: size of the text [-]
        bold: whether it is set bold [-]

    Returns:
        its lines, at least one [-]
    """
    lines, line = [], ""
    for word in words.split():
        while _width(word, bold) * size > width:
            count = max(1, int(len(word) * width / (_width(word, bold) * size)) - 1)
            lines += [line] if line else []
            lines.append(word[:count])
            line, word = "", word[count:]
        longer = f"{line} {word}" if line else word
        if _width(longer, bold) * size <= width:
            line = longer
        else:
            lines.append(line)
            line = word
    return [*lines, line] if line or not lines else lines


@lru_cache(maxsize=1)
def _renderer() -> Any:
    make: Any = RendererAgg
    return make(720, 720, 720)


@lru_cache(maxsize=8192)
def _width(words: str, bold: bool) -> float:
    """Width of a text over its size; measured at ten times the size, so that rounding to pixels does not show."""
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=10)
    measured: float = _renderer().get_text_width_height_descent(words, font, False)[0]
    return 1.02 * measured / 100  # a little room, for a screen or printer rounds each letter to its dots


def _printable(sheet: WorkshopPage) -> WorkshopPage:
    """Put a question mark for every character that the page's font does not have."""
    known = get_font(findfont(FontProperties(family="DejaVu Sans"))).get_charmap()

    def clean(text: str) -> str:
        return "".join(c if ord(c) in known else "?" for c in text)

    rows = tuple(replace(row, setting=clean(row.setting)) for row in sheet.rows)
    return replace(
        sheet,
        title=clean(sheet.title),
        car=clean(sheet.car),
        measured=clean(sheet.measured),
        felt=clean(sheet.felt),
        says=tuple(map(clean, sheet.says)),
        heights=clean(sheet.heights),
        rows=rows,
    )
