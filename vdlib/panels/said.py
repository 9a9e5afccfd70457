"""What a panel says, in HTML: its verdict and the rest, a message of what is wrong, a table of numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

BOLD = re.compile(r"\s*(?:<div>)?\s*<b>(.*?)</b>", re.DOTALL)
"""The bold beginning of a panel's words: its verdict."""


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
    top = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = ""
    for name, *cells in rows:
        body += f'<tr><th scope="row">{escape(name)}</th>' + "".join(f"<td>{escape(c)}</td>" for c in cells) + "</tr>"
    return f'<table class="vd-numbers">{f"<thead><tr>{top}</tr></thead>" if head else ""}<tbody>{body}</tbody></table>'
