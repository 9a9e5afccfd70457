"""The one-page sheet for the workshop: what is asked for, by how much, in which order, and what to measure again."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Any

from .. import shown
from ..answers.sentences import PHASE_WORDS, attitude_words, listed, toward
from ..car.carfile import ORIGINS, CarFile, fields_of
from ..car.keys import ENDS
from ..car.known import Points
from ..car.records import attitude
from ..checks import InputError, range_problem
from ..units import G, from_si, number
from .candidate import Candidate, Version, version
from .page_rows import CUT, Row, cut, rows_of, toe_words
from .tolerances import without_unsettable
from .whatif import Comparison, compare

__all__ = [
    "COLUMNS",
    "CUT",
    "HEAD",
    "LIMITS",
    "RIM",
    "UNDOES",
    "Row",
    "WorkshopPage",
    "build",
    "cut",
    "html",
    "mark",
    "says",
    "toe_words",
]
RIM = 0.43
"""Usual distance across a rim between the two places read; a 17-inch wheel's is near it; put in your own [m]."""
LIMITS = {"name": 70, "note": 260, "felt": 700}
"""Most characters of each text on the page."""
HEAD = ("Step", "Setting", "Now", "Asked for", "Within", "As left")
"""Names of the columns of the table."""
COLUMNS = (0.12, 0.29, 0.145, 0.215, 0.13, 0.1)
"""Widths of those columns, as parts of the whole."""
UNDOES = {
    "spring": "New springs undo ride heights, corner weights, camber and toe.",
    "bar": "A bar hooked up with preload undoes the corner weights: hook it up last, free of load, driver in the seat.",
    "load": "Ballast is bolted to the structure as the event's rules say: a loose mass kills. A mass put in or taken "
    "out undoes ride heights and corner weights.",
    "tyre": "Other tyres undo pressures and ride heights, and their balance is new: learn them gently.",
    "height": "A ride height undoes toe, camber, caster, corner weights and the headlamps' aim.",
    "pressure": "A pressure moves ride height by a trace: set it first, read it hot.",
    "camber": "Camber undoes toe.",
    "caster": "Caster undoes camber and toe.",
    "toe": "Toe undoes the steering wheel's centre.",
    "cross_weight": "Turning one spring seat undoes its ride height.",
}
"""Kind of change → what it undoes; common practice, no source."""
ORIGIN_WORDS = {"measured": "measured", "typical": "typical of such cars", "example": "taken from an example car"}
"""Where a number comes from, as the sheet says it."""
AGAIN = (
    "Measure again with the driver's weight in the seat: ride heights, corner weights with the bars unhooked, camber, "
    "then toe; write them under 'As left'. On the track: hot pressures after the first laps, then the same corners as "
    "before."
)
CAUTIONS = (
    "Level ground and axle stands; never under a car on a jack. Brakes, steering and suspension are for qualified "
    "people. Scrutineering and the local road rules decide what is allowed. Start below your usual pace; never look "
    "for the limit on a public road. The numbers come from a teaching model: a steady corner, smooth road, warm dry "
    "tyres."
)


@dataclass(frozen=True)
class WorkshopPage:
    """Everything that stands on the page, in words; the PDF and the HTML page are both made from it."""

    title: str
    car: str
    measured: str
    felt: str
    says: tuple[str, ...]
    heights: str
    rows: tuple[Row, ...]
    undoes: tuple[str, ...]
    again: str = AGAIN
    cautions: str = CAUTIONS

    def blocks(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Give headings and paragraphs of what stands above the table.

        Returns:
            pairs of a heading and its paragraphs [-]
        """
        felt = self.felt or "(nothing was written)"
        return (
            ("How it was measured", (self.measured,)),
            ("What was felt", (felt,)),
            ("What the numbers say, and how sure", self.says),
        )

    def below(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Give headings and paragraphs of what stands under the table.

        Returns:
            pairs of a heading and its paragraphs [-]
        """
        return (
            ("Where ride heights are read", (self.heights,)),
            ("What each change undoes", (" ".join(self.undoes) or "Nothing is asked for.",)),
            ("Measure again", (self.again,)),
            ("Cautions", (self.cautions,)),
        )


def build(
    file: CarFile,
    base: Version,
    candidate: Candidate,
    speed: float,
    lateral: float,
    felt: str = "",
    sure: str = "",
    rim: float = RIM,
    points: Points | None = None,
    when: date | None = None,
) -> WorkshopPage:
    """Make the sheet of one candidate; what is smaller than its tolerance is left as now, and said to be.

    Parameters:
        file: the car file, for its name and where its numbers come from [-]
        base: the car as it stands [-]
        candidate: what is asked for [-]
        speed: speed of the moment that the numbers are told for [m/s]
        lateral: its lateral acceleration [m/s²]
        felt: what the driver felt, in the driver's words [-]
        sure: how sure the answer is, in words [-]
        rim: distance across the rim between the two places read for toe [m]
        points: the driver's own measuring points; None for those kept with the car [-]
        when: date of the sheet; today if left out [-]

    Returns:
        a ``Sheet`` [-]

    Errors:
        ``InputError`` for a measuring diameter out of range, and as of ``candidate.version``.
    """
    problem = range_problem("distance across the rim", rim, "mm", 200, 800)
    if problem:
        raise InputError([problem])
    able, left = without_unsettable(candidate, base)
    asked = version(able, base)
    name = cut(candidate.name, LIMITS["name"])
    day = (when or date.today()).isoformat()
    changed = tuple(dict.fromkeys(_kinds(able)))
    told = cut(f"Left as now, being less than can be set: {listed(list(left))}.", LIMITS["note"]) if left else ""
    own = points or file.known.points
    rows = tuple(rows_of(base, asked, able, rim, own, _unread(file)))
    return WorkshopPage(
        title=f"Workshop sheet: {cut(file.car.name, LIMITS['name'])}",
        car=f"What is asked for: {name}. Written on {day}. {_stance(base, asked)} {told}".rstrip(),
        measured=_measured(file, " (* in the table)" if any("*" in row.now for row in rows) else ""),
        felt=cut(felt, LIMITS["felt"]),
        says=(
            *says(compare([base, asked], speed, lateral)),
            sure or "How sure: not worked out yet; measure your car first.",
        ),
        heights=_heights(base, asked, own),
        rows=rows,
        undoes=tuple(UNDOES[kind] for kind in UNDOES if kind in changed),
    )


def says(found: Comparison) -> tuple[str, ...]:
    """Say what the numbers of two versions say.

    Parameters:
        found: the car as it stands and what is asked for [-]

    Returns:
        sentences [-]
    """
    lift = found.phases.index("lift")
    where = f"{shown.says(found.speed, 'kmh', 0)} and {found.lateral / G:.2f} g"
    change = float(found.angle[1, lift] - found.angle[0, lift])
    told = toward(change) if change == change else "past the limit"
    gaps = [
        f"{PHASE_WORDS[phase]} {_gap(found.gap[0, i])}, then {_gap(found.gap[1, i])}"
        for i, phase in enumerate(found.phases)
        if phase in ("brake", "lift", "steady")
    ]
    what = "At the limit, how far the rear's lies above the front's (below zero: the rear goes first), now and as asked"
    return (
        f"Balance below the limit, the change at {where}, throttle closed: {told}.",
        f"{what}: {'; '.join(gaps)}.",
    )


def html(sheet: WorkshopPage) -> str:
    """Write the sheet as a page for the browser, which prints on one A4.

    Parameters:
        sheet: the sheet [-]

    Returns:
        HTML with its own style [-]
    """

    def text(blocks: Any) -> str:
        return "".join(f"<h2>{escape(h)}</h2>" + "".join(f"<p>{escape(p)}</p>" for p in ps) for h, ps in blocks)

    head = "".join(f'<th scope="col">{escape(word)}</th>' for word in HEAD)
    body = "".join(
        f'<tr class="{"asked" if row.changed else "same"}">'
        + "".join(f"<td>{escape(cell)}</td>" for cell in (row.step, row.setting, row.now, mark(row), row.within, ""))
        + "</tr>"
        for row in sheet.rows
    )
    widths = " ".join(f"th:nth-child({i}) {{width: {part:.1%}}}" for i, part in enumerate(COLUMNS, 1))
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{escape(sheet.title)}</title><style>
@page {{size: A4 portrait; margin: 10mm}}
body {{font: 8pt/1.12 "DejaVu Sans", Verdana, sans-serif; color: #000; background: #fff;
  max-width: 190mm; margin: auto; overflow-wrap: anywhere}}
h1 {{font-size: 12pt; margin: 0 0 1mm}} h2 {{font-size: 8.5pt; margin: 1.2mm 0 0.2mm}} p {{margin: 0 0 0.3mm}}
table {{border-collapse: collapse; width: 100%; table-layout: fixed; margin-top: 1.5mm}}
th, td {{border: 0.3mm solid #555; padding: 0.1mm 1mm; text-align: left; vertical-align: top}}
{widths}
.asked td {{font-weight: bold}}
</style></head><body><h1>{escape(sheet.title)}</h1><p>{escape(sheet.car)}</p>
{text(sheet.blocks())}<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>
{text(sheet.below())}</body></html>
"""


def mark(row: Row) -> str:
    """Give what is asked for, with a word where it is a change, so that it is not told by bold print alone.

    Parameters:
        row: the line [-]

    Returns:
        words [-]
    """
    return f"change: {row.asked}" if row.changed else "as now"


def _gap(gap: float) -> str:
    return f"{number(gap / G, 3, sign=True)} g" if gap == gap else "not found"


def _stance(base: Version, asked: Version) -> str:
    now, then = (attitude_words(float(attitude(v.car, v.setup))) for v in (base, asked))
    return f"Now {now}; as asked {then}, against its reference heights."


def _measured(file: CarFile, mark: str) -> str:
    """Where the numbers come from, and the most telling ones that were not measured."""
    if not file.origin:
        if file.path is None:
            return "This is an invented example car: nothing of it was measured."
        return "The car file does not say where its numbers come from."
    count = Counter(file.origin.get(entry.path, "") for entry in fields_of())
    told = [f"{count[word]} {ORIGIN_WORDS[word]}" for word in ORIGINS if count[word]]
    told += [f"{count['']} without a note"] * bool(count[""])
    loose = sorted(
        (e for e in fields_of() if e.path in _unread(file)), key=lambda e: ORIGINS.index(file.origin[e.path])
    )
    names = ", ".join(dict.fromkeys(e.quantity.name for e in reversed(loose)))
    most = f" Not measured{mark}: {names}." if names else ""
    return cut(f"Where the car file's numbers come from: {listed(told)}.{most}", LIMITS["note"])


def _unread(file: CarFile) -> frozenset[str]:
    """Paths of the numbers that the car file says were not read on this car."""
    return frozenset(path for path, word in file.origin.items() if word != "measured")


def _heights(base: Version, asked: Version, points: Points | None) -> str:
    """Say at which points the ride heights hold, and how to ask for them at another one."""
    where = "From level ground up to the body; the axle line is where the wheel centres are, seen from the side."
    if points is not None:
        return f"{where} Your points are those of the car file: a straight line through them gives the axle lines."
    steps = [float(getattr(asked.setup, end).height - getattr(base.setup, end).height) for end in ENDS]
    if not any(steps):
        return f"{where} No ride height is to change."
    size = f"x/{from_si(float(base.car.wheelbase), 'mm'):.0f}"
    terms = [
        f"({number(from_si(step, 'mm'), 1, sign=True).removesuffix('.0')} mm)·{part}"
        for step, part in zip(steps, (f"(1−{size})", size), strict=True)
        if step
    ]
    return (
        f"{where} At another place on the body, x mm behind the front axle line, read the height first; then change it "
        f"there by {' + '.join(terms)}."
    )


def _kinds(candidate: Candidate) -> list[str]:
    found = ["tyre"] * bool(candidate.tyres) + ["load"] * bool(candidate.loads)
    fields = [path.rpartition(".")[2] for path in candidate.settings]
    return found + ["height" if field == "aligned_height" else field for field in fields]
