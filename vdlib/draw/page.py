"""The workshop page laid out: four wheels round the car on the front, why and how sure on the back."""

from __future__ import annotations

from ..setup.page import WorkshopPage
from ..setup.page_wheels import OUT, WheelCell
from ..shown import label_for, retold
from ..units import from_si
from .typeset import PALE, PAPERS, Leaf, length

_HEAD, _TEXT, _SMALL = 12.5, 9.2, 7.8
_COLUMNS = (0.22, 0.22, 0.17, 0.19, 0.2)
"""Widths at a wheel: name, now, reference, ask, left, as parts of the whole."""
_ROWS = {"A4": 18.5, "letter": 17.0}
"""Height of a row at a wheel, tall enough to write in [points]."""
_LEAST_ROW = 14.0
"""The same on a page of which much is said [points]."""
_FOOT = 8.0
"""Room that the last line needs [points]."""
_AISLE = 44.0
CORNERS = ("FRONT LEFT", "FRONT RIGHT", "REAR LEFT", "REAR RIGHT")
LEGEND = (
    f"! and grey: beyond tolerance, under {from_si(OUT['gap'], 'mm'):.0f} mm to the stop, or rear toe-out.   "
    "Toe: each wheel's own, IN unless it says OUT."
    "   ?: please read.   –: not asked for.   leave: inside tolerance once the heights are set."
    "   look: find out why first."
    "   Camber negative: top leans in.   gap: free damper shaft to the stop, below 0: that far into it; gap and weight"
    " follow the heights.   clicks: counted from full hard.   ■: the driver has looked."
)
SAFE = (
    "Level ground and axle stands; never under a car on a jack. For qualified people. Scrutineering and road rules "
    "decide."
)
"""The cautions in one line; the back has all of them."""


def laid_out(page: WorkshopPage, paper: str = "A4") -> list[Leaf]:
    """Lay a page out on both sides of one sheet.

    Parameters:
        page: what stands on it [-]
        paper: a key of ``typeset.PAPERS`` [-]

    Returns:
        front and back [-]
    """
    high = _ROWS[paper]
    while (front := _front(page, paper, high)).room < _FOOT and high > _LEAST_ROW:
        high -= 0.5
    return [front, _back(page, paper)]


def _front(page: WorkshopPage, paper: str, high_row: float) -> Leaf:
    leaf = Leaf(PAPERS[paper])
    _headline(leaf, page)
    leaf.y += 3
    leaf.fill(f"FELT  {page.felt or '(nothing was written)'}", _TEXT, most=4)
    leaf.fill(f"SINCE  {page.since or '(not said)'}", _TEXT, True, most=2)
    _look(leaf, page)
    kg = label_for("kg")
    load = f"LOAD   driver ____ {kg}, fuel ____ l        rolled 2 m □      floor level to 2 mm □      bars unhooked □"
    leaf.write(leaf.left, leaf.y + _TEXT, retold(load), _TEXT)
    leaf.y += 1.5 * _TEXT
    half = (leaf.width - _AISLE) / 2
    high = high_row * (len(page.wheels.rows) + 1)
    for i in (0, 1):
        top = leaf.y
        for j in (0, 1):
            cells = [(name, cells[2 * i + j]) for name, cells in page.wheels.rows]
            _wheel(
                leaf, leaf.left + j * (half + _AISLE), top, half, CORNERS[2 * i + j], cells, page.reference, high_row
            )
        _aisle(leaf, leaf.left + half, top, high, i)
        leaf.y = top + high + 3
        if i == 0:
            _between(leaf, page)
    leaf.y += 2
    asked = f"ASKED: {page.asked}.  Reference: {page.reference}.  CAN BE SET: {page.able}."
    leaf.fill(asked, _TEXT, most=3)
    leaf.fill(page.within, _TEXT, most=3)
    leaf.y += 2
    for line in page.do:
        leaf.fill(line, _TEXT + 0.4, True, most=4)
    leaf.y += 2
    leaf.fill(retold(LEGEND), _SMALL)
    leaf.fill(SAFE, _SMALL, True)
    _notes(leaf)
    foot = leaf.paper.height - 32
    leaf.write(leaf.left, foot, "AS LEFT set by ______________________   date ____________   rung the driver □", _TEXT)
    leaf.write(leaf.left + leaf.width, foot, "back: why, how sure, order", _SMALL, False, "right")
    return leaf


def _notes(leaf: Leaf) -> None:
    """Ruled lines in the room that is left, for what was found and what was fitted."""
    count = int((leaf.room - 34) // 20)
    if count < 1:
        return
    leaf.y += 6
    leaf.fill("NOTES  found, fitted, part numbers, told the driver", _SMALL)
    for _ in range(min(count, 8) - 1):
        leaf.y += 20
        leaf.line(leaf.left, leaf.y, leaf.left + leaf.width, leaf.y)


def _headline(leaf: Leaf, page: WorkshopPage) -> None:
    x, y = leaf.left, leaf.y + _HEAD
    told = dict(page.head)
    for k, (label, text) in enumerate((key, told[key]) for key in ("CAR", "km", "date")):
        wide = leaf.width * (0.5, 0.25, 0.25)[k]
        size = _HEAD if k == 0 else _TEXT
        words = f"{label + ' ' if k else ''}{text or '________'}"
        while size > _SMALL and length(words, k == 0) * size > wide - 6:
            size -= 0.5
        while length(words, k == 0) * size > wide - 6:
            words = words[:-1].rstrip()
        leaf.write(x, y, words, size, k == 0)
        x += wide
    leaf.y = y + 4
    leaf.fill("    ".join(f"{key} {told[key] or '________________'}" for key in ("phone", "event")), _TEXT, most=2)
    leaf.y += 2
    leaf.line(leaf.left, leaf.y, leaf.left + leaf.width, leaf.y, 1.2)


def _look(leaf: Leaf, page: WorkshopPage) -> None:
    """The inspection list in two columns, ticked where somebody has looked."""
    leaf.y += 3
    top = leaf.y
    title = (
        "LOOK FIRST  (heights out after work are a fault, not a setting: RING BEFORE SETTING)"
        if page.ring
        else "LOOK FIRST"
    )
    leaf.y += 2
    leaf.fill(title, _TEXT, True, leaf.left + 4)
    half = leaf.width / 2
    start, ends = leaf.y, []
    count = -(-len(page.look) // 2)
    for k, column in enumerate((page.look[:count], page.look[count:])):
        leaf.y = start
        for words, seen in column:
            leaf.fill(f"{'■' if seen else '□'} {words}", _SMALL, False, leaf.left + 4 + k * half, half - 8, 2)
        ends.append(leaf.y)
    leaf.y = max(ends)
    found = page.found or "______________________________"
    phone = dict(page.head)["phone"]
    leaf.fill(
        f"FOUND: {found}   Anything found: RING the driver{phone and f', {phone}'}",
        _TEXT,
        True,
        leaf.left + 4,
        leaf.width - 8,
        2,
    )
    leaf.y += 2
    leaf.box(leaf.left, top, leaf.width, leaf.y - top)
    leaf.y += 4
    if page.warning:
        leaf.fill(page.warning, _TEXT, True, most=2)
        leaf.y += 1


def _wheel(
    leaf: Leaf,
    x: float,
    y: float,
    width: float,
    name: str,
    cells: list[tuple[str, WheelCell]],
    reference: str,
    high: float,
) -> None:
    edges = [x]
    for part in _COLUMNS:
        edges.append(edges[-1] + part * width)
    book = "book" if reference == "book" else "ref."
    leaf.write(x + 2, y + high - 4.5, name, _SMALL, True)
    for k, word in enumerate(("now", book, "ask", "as left"), 1):
        leaf.write(edges[k + 1] - 3, y + high - 4.5, word, _SMALL, False, "right")
    for r, (row, cell) in enumerate(cells, 1):
        top = y + r * high
        if cell.out:
            leaf.box(edges[1], top, edges[2] - edges[1], high, PALE)
        leaf.line(x, top, x + width, top)
        leaf.write(x + 2, top + high - 4.5, row, _SMALL)
        words = (f"{cell.now}{' !' if cell.out else ''}", cell.book, cell.ask)
        for k, text in enumerate(words, 1):
            strong = k == 3 and text not in ("–", "")
            leaf.write(edges[k + 1] - 3, top + high - 4.5, text, _TEXT, strong or (cell.out and k == 1), "right")
    bottom = y + (len(cells) + 1) * high
    leaf.box(x, y, width, bottom - y)
    for edge in edges[1:-1]:
        leaf.line(edge, y + high, edge, bottom)


def _aisle(leaf: Leaf, x: float, y: float, high: float, end: int) -> None:
    """Half of the car from above between its wheels, so that left is left."""
    middle = x + _AISLE / 2
    leaf.box(x + 9, y + (14 if end == 0 else 0), _AISLE - 18, high - 14)
    leaf.write(middle, y + (9 if end == 0 else high - 4), "▲ nose" if end == 0 else "tail", _SMALL, True, "center")
    for side in (x + 3, x + _AISLE - 9):
        leaf.box(side, y + high / 2 - 14, 6, 28, "#555555")


def _between(leaf: Leaf, page: WorkshopPage) -> None:
    cross, thrust = page.wheels.cross, page.wheels.thrust
    told = (
        f"cross weight (RF + LR) now {cross.now} %{' !' if cross.out else ''}  ask {cross.ask}  as left ____   "
        f"thrust  now {thrust.now}{' !' if thrust.out else ''}  ask {thrust.ask}  as left ____   wheel straight □"
    )
    size = min(_SMALL + 0.7, leaf.width / length(told, False))
    leaf.write(leaf.left, leaf.y + 9, told, size)
    leaf.y += 15


def _back(page: WorkshopPage, paper: str) -> Leaf:
    leaf = Leaf(PAPERS[paper])
    leaf.fill(f"Back: {page.title}", 11, True)
    size = 9.0
    for heading, paragraphs in page.back:
        leaf.y += 4
        leaf.fill(heading, size + 0.5, True)
        for words in paragraphs:
            leaf.fill(words, size)
    return leaf
