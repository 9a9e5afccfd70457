"""House style of all pictures: colours named by role, each with its own marker, line and hatch; font sizes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from .live import LivePicture

FONT = {"title": 14.0, "label": 12.0, "tick": 11.0, "note": 10.0}
"""Font sizes in screen pixels; none below ``SMALLEST``."""
SMALLEST = 10.0
"""Smallest font size in any picture [screen pixels]."""


@dataclass(frozen=True)
class Role:
    """How one role is drawn, so that it can be told without its colour: marker, line or hatch differ too."""

    colour: str
    marker: str
    line: Any
    hatch: str


# Colours: Okabe & Ito, "Color Universal Design" (2008), the eight-colour set; inner is a darker sky blue,
# for contrast, and the two greys are our own.
ROLES: dict[str, Role] = {
    "front": Role("#0072B2", "o", "-", "//"),
    "rear": Role("#D55E00", "s", "--", "\\\\"),
    "inner": Role("#1E9BE2", "<", ":", ".."),
    "outer": Role("#CC79A7", ">", "-.", "oo"),
    "toward_understeer": Role("#009E73", "v", (0, (5, 1, 1, 1, 1, 1)), "--"),
    "toward_oversteer": Role("#E69F00", "^", (0, (8, 2)), "++"),
    "reference": Role("#595959", "D", (0, (3, 2)), "xx"),
    "now": Role("#000000", "*", (0, ()), ""),
    "muted": Role("#767676", ".", (0, (1, 3)), "|"),
    "warning": Role("#F0E442", "X", (0, (1, 1)), "**"),
}
"""Role → colour, marker, line style and hatch."""


def line(role: str, **changes: Any) -> dict[str, Any]:
    """Return the keywords for a line of this role.

    Parameters:
        role: a name from ``ROLES`` [-]
        changes: keywords to put in place of or beside the role's own [any]

    Returns:
        keywords for ``Axes.plot`` [-]

    Errors:
        ``KeyError`` for an unknown role.
    """
    return {"color": ROLES[role].colour, "linestyle": ROLES[role].line, "linewidth": 2.0} | changes


def point(role: str, **changes: Any) -> dict[str, Any]:
    """Return the keywords for markers of this role, without a line.

    Parameters:
        role: a name from ``ROLES`` [-]
        changes: keywords to put in place of or beside the role's own [any]

    Returns:
        keywords for ``Axes.plot`` [-]

    Errors:
        ``KeyError`` for an unknown role.
    """
    own = {"color": ROLES[role].colour, "marker": ROLES[role].marker, "linestyle": "none", "markersize": 9.0}
    return own | {"markeredgecolor": "black", "markeredgewidth": 0.8} | changes


def fill(role: str, **changes: Any) -> dict[str, Any]:
    """Return the keywords for a bar or an area of this role, with its hatch and a dark edge.

    Parameters:
        role: a name from ``ROLES`` [-]
        changes: keywords to put in place of or beside the role's own [any]

    Returns:
        keywords for ``Axes.bar``, ``Axes.fill_between`` or a patch [-]

    Errors:
        ``KeyError`` for an unknown role.
    """
    own = {"facecolor": ROLES[role].colour, "hatch": ROLES[role].hatch, "edgecolor": "#333333", "linewidth": 0.8}
    return own | changes


def start(
    width: int = 660, height: int = 420, alt: str = "", rows: int = 1, columns: int = 1, **subplots: Any
) -> tuple[LivePicture, Any]:
    """Start a picture in house style.

    Parameters:
        width: width on the screen [-]
        height: height on the screen [-]
        alt: what the picture shows, in words [-]
        rows: rows of axes [-]
        columns: columns of axes [-]
        subplots: further keywords of ``Figure.subplots`` [any]

    Returns:
        the picture, and one ``Axes`` or an array of shape (rows, columns) without its unit sides [-]
    """
    picture = LivePicture(width, height, alt)
    axes = picture.figure.subplots(rows, columns, **subplots)
    for one in np.ravel(np.asarray(axes, dtype=object)):
        tidy(one)
    return picture, axes


def tidy(axes: Axes, title: str = "", x: str = "", y: str = "") -> Axes:
    """Put one pair of axes in house style, with its title and axis names.

    Parameters:
        axes: the axes [-]
        title: what is seen; none if empty [-]
        x: name and unit of the x axis [-]
        y: name and unit of the y axis [-]

    Returns:
        the same axes [-]
    """
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(True, color="#DDDDDD", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=FONT["tick"])
    axes.set_title(title, fontsize=FONT["title"], loc="left", y=1.0)  # with no place told, each drawing looks for one
    axes.set_xlabel(x, fontsize=FONT["label"])
    axes.set_ylabel(y, fontsize=FONT["label"])
    return axes


def smallest_text(figure: Figure) -> float:
    """Return the smallest font size of any text that can be seen in a figure.

    Parameters:
        figure: the figure [-]

    Returns:
        font size in screen pixels; infinity if there is no text [-]
    """
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis) if axes.axison else ():
            axis.get_ticklabels()  # written only now where the figure was never drawn
    texts = (t for t in figure.findobj(Text) if t.get_visible() and t.get_text().strip())
    return min((float(t.get_fontsize()) for t in texts), default=float("inf"))
