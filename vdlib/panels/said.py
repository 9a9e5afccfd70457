"""What a panel says, in HTML: its verdict and the rest, a message of what is wrong, a table of numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

from ..shown import Choice, chosen, head_unit, retold, turned
from ..shown import head as head_in_units

BOLD = re.compile(r"\s*(?:<div>)?\s*<b>(.*?)</b>", re.DOTALL)
"""The bold beginning of a panel's words: its verdict."""
LONE = re.compile(r"[+−-]?\d[\d,]*(\.\d+)?")
"""A cell that holds a number and nothing else."""
FOLDED = re.compile(r'<!--more-->(.*?)<!--/more-->|(<table class="vd-numbers">.*?</table>)', re.DOTALL)
"""What is folded away below a picture: marked so, or a table."""


def verdict_of(words: str) -> tuple[str, str]:
    """Part a panel's words: what begins them in bold is the verdict, shown over the picture; the rest goes below it.

    Parameters:
        words: HTML [-]

    Returns:
        verdict, empty where the words do not begin in bold, and the rest, both HTML [-]

    >>> verdict_of("<b>The rear slides first.</b><br>At 0.8 g.")
    ('The rear slides first.', 'At 0.8 g.')
    """
    found = BOLD.match(words)
    if found is None:
        return "", words
    rest = words[found.end() :].removeprefix("<br>")
    return found[1], f"<div>{rest}" if "<div>" in found[0] else rest


def more(words: str) -> str:
    """Mark what a panel says below its picture as what only some want to read: it is folded away, like tables.

    Parameters:
        words: HTML [-]

    Returns:
        HTML [-]
    """
    return f"<!--more-->{words}<!--/more-->" if words else ""


def parted(rest: str) -> tuple[str, str]:
    """Part what stands below a picture into what is seen and what is folded: tables, and what ``more`` marks.

    Parameters:
        rest: HTML [-]

    Returns:
        what is seen and what is folded, both HTML [-]

    Example:
        >>> parted("At 0.8 g.<!--more-->Nine in ten lie there.<!--/more-->")
        ('At 0.8 g.', 'Nine in ten lie there.')
    """
    folded = [a or b for a, b in FOLDED.findall(rest)]
    return FOLDED.sub("", rest), "".join(folded)


def alert(message: str) -> str:
    """Write what is wrong in HTML, one line a line.

    Parameters:
        message: plain text [-]

    Returns:
        HTML; empty where there is nothing to say [-]
    """
    lines = "<br>".join(escape(line) for line in message.splitlines())
    return f'<div class="vd-alert" role="alert">{lines}</div>' if message else ""


def note(message: str) -> str:
    """Write in HTML what went well, one line a line.

    Parameters:
        message: plain text [-]

    Returns:
        HTML; empty where there is nothing to say [-]
    """
    lines = "<br>".join(escape(line) for line in message.splitlines())
    return f'<div class="vd-words" role="status">{lines}</div>' if message else ""


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write a table of numbers in HTML, the first column its row names.

    Parameters:
        head: column names; none if empty [-]
        rows: one sequence of texts for each row, name first [-]

    Returns:
        HTML [-]
    """
    heads = [head_unit(h) for h in head]
    top = "".join(f'<th scope="col">{escape(head_in_units(h))}</th>' for h in head)
    body = ""
    for name, *cells in rows:
        units = [head_unit(name) or (heads[i] if i < len(heads) else "") for i in range(1, len(cells) + 1)]
        shown = [_number_in(c, unit) for c, unit in zip(cells, units, strict=True)]
        body += f'<tr><th scope="row">{escape(retold(head_in_units(name)))}</th>'
        body += "".join(f"<td>{escape(c)}</td>" for c in shown) + "</tr>"
    return f'<table class="vd-numbers">{f"<thead><tr>{top}</tr></thead>" if head else ""}<tbody>{body}</tbody></table>'


def _number_in(cell: str, unit: str) -> str:
    """A cell of a table in the units that the reader sees: a lone number in its heading's unit, or words."""
    return turned(cell, unit) if unit and LONE.fullmatch(cell) else retold(cell)


def retold_all(value: Any) -> Any:
    """Write every text in lists and dictionaries in the units that the reader sees; keys stay.

    Parameters:
        value: a text, a number, or lists and dictionaries of such [any]

    Returns:
        the same with other texts [any]
    """
    if chosen() == Choice():
        return value
    if isinstance(value, str):
        return retold(value)
    if isinstance(value, dict):
        return {key: retold_all(one) for key, one in value.items()}
    return [retold_all(one) for one in value] if isinstance(value, list | tuple) else value
