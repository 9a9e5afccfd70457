"""The one-page sheet for the workshop: what is asked for, by how much, in which order, and what to measure again."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Any

from .alignment import rim_difference
from .candidate import ENDS, Candidate, Load, Version, standing, version
from .car import Moment, attitude
from .carfile import ORIGINS, CarFile, fields_of
from .checks import InputError, range_problem
from .saying import PHASE_WORDS, attitude_words, toward
from .trim import trim
from .units import G, from_si, number, to_si
from .whatif import Comparison

RIM = 0.43
"""Usual distance across a rim between the two places read; a 17-inch wheel's is near it; put in your own [m]."""
CUT = " … (cut here to fit the page)"
"""What stands where a text was too long for the page."""
LIMITS = {"name": 70, "note": 260, "felt": 700}
"""Most characters of each text on the page."""
HEAD = ("Step", "Setting", "Now", "Asked for", "Within", "As left")
"""Names of the columns of the table."""
COLUMNS = (0.12, 0.29, 0.14, 0.21, 0.125, 0.115)
"""Widths of those columns, as parts of the whole."""
# Within what a setting can be made and read in a workshop: common practice, no source.
WITHIN = {
    "height": "±1 mm",
    "corner": "±3 kg",
    "cross_weight": "±0.3 %",
    "camber": "±0.1°",
    "caster": "±0.2°",
    "pressure": "±0.05 bar",
    "spring": "±5 %",
    "bar": "nearest hole",
    "load": "±0.5 kg",
}
UNDOES = {
    "spring": "New springs undo ride heights, corner weights, camber and toe.",
    "bar": "A bar hooked up with preload undoes the corner weights: hook it up last, free of load, driver in the seat.",
    "load": "A mass put in or taken out undoes ride heights and corner weights.",
    "tyre": "Other tyres undo pressures and ride heights, and their balance is new: learn them gently.",
    "height": "A ride height undoes toe, camber, caster, corner weights and the headlamps' aim.",
    "pressure": "A pressure moves ride height by a trace: set it first, read it hot.",
    "camber": "Camber undoes toe.",
    "caster": "Caster undoes camber and toe.",
    "toe": "Toe undoes the steering wheel's centre.",
    "cross_weight": "Turning one spring seat undoes its ride height.",
}
"""Kind of change → what it undoes; common practice, no source."""
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
class Row:
    """One line of the table."""

    step: str
    setting: str
    now: str
    asked: str
    within: str
    changed: bool


@dataclass(frozen=True)
class Sheet:
    """Everything that stands on the page, in words; the PDF and the HTML page are both made from it."""

    title: str
    car: str
    measured: str
    felt: str
    says: tuple[str, ...]
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
            ("What each change undoes", (" ".join(self.undoes) or "Nothing is asked for.",)),
            ("Measure again", (self.again,)),
            ("Cautions", (self.cautions,)),
        )


def cut(text: str, most: int) -> str:
    """Shorten a text at a word and say so in words.

    Parameters:
        text: the text [-]
        most: most characters, the mark not counted [-]

    Returns:
        the text on one line, or its beginning and the mark ``CUT`` [-]
    """
    plain = " ".join(text.split())
    if len(plain) <= most:
        return plain
    short = plain[:most]
    return (short.rsplit(" ", 1)[0] if " " in short[most // 2 :] else short) + CUT


def build(
    file: CarFile,
    base: Version,
    candidate: Candidate,
    found: Comparison,
    felt: str = "",
    sure: str = "",
    rim: float = RIM,
    when: date | None = None,
) -> Sheet:
    """Make the sheet of one candidate.

    Parameters:
        file: the car file, for its name and where its numbers come from [-]
        base: the car as it stands [-]
        candidate: what is asked for [-]
        found: the car as it stands and the candidate side by side [-]
        felt: what the driver felt, in the driver's words [-]
        sure: how sure the answer is, in words [-]
        rim: distance across the rim between the two places read for toe [m]
        when: date of the sheet; today if left out [-]

    Returns:
        a ``Sheet`` [-]

    Errors:
        ``InputError`` for a measuring diameter out of range, and as of ``candidate.version``.
    """
    problem = range_problem("distance across the rim", rim, "mm", 200, 800)
    if problem:
        raise InputError([problem])
    asked = version(candidate, base)
    name = cut(candidate.name, LIMITS["name"])
    day = (when or date.today()).isoformat()
    changed = tuple(dict.fromkeys(_kinds(candidate)))
    return Sheet(
        title=f"Workshop sheet: {cut(file.car.name, LIMITS['name'])}",
        car=f"What is asked for: {name}. Written on {day}. {_stance(base, asked)}",
        measured=_measured(file),
        felt=cut(felt, LIMITS["felt"]),
        says=(*says(found), sure or "How sure: not worked out yet; measure your car first."),
        rows=tuple(_rows(base, asked, candidate, rim)),
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
    where = f"{from_si(found.speed, 'kmh'):.0f} km/h and {found.lateral / G:.2f} g"
    change = found.angle[1, lift] - found.angle[0, lift]
    first = f"At {where}, throttle closed: {toward(float(change))}." if change == change else ""
    gaps = [
        f"{PHASE_WORDS[phase]} {_gap(found.gap[0, i])}, then {_gap(found.gap[1, i])}"
        for i, phase in enumerate(found.phases)
        if phase in ("brake", "lift", "steady")
    ]
    what = "How much longer the rear holds than the front (below zero: the rear goes first), now and as asked"
    second = f"{what}: {'; '.join(gaps)}."
    return tuple(text for text in (first or f"At {where}, throttle closed: past the limit.", second) if text)


def html(sheet: Sheet) -> str:
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
body {{font: 8pt/1.17 "DejaVu Sans", Verdana, sans-serif; color: #000; background: #fff;
  max-width: 190mm; margin: auto; overflow-wrap: anywhere}}
h1 {{font-size: 12pt; margin: 0 0 1mm}} h2 {{font-size: 8.5pt; margin: 1.2mm 0 0.2mm}} p {{margin: 0 0 0.3mm}}
table {{border-collapse: collapse; width: 100%; table-layout: fixed; margin-top: 1.5mm}}
th, td {{border: 0.3mm solid #555; padding: 0.2mm 1mm; text-align: left; vertical-align: top}}
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
    return f"change: {row.asked}" if row.changed else row.asked


def _gap(gap: float) -> str:
    return f"{number(gap / G, 3, sign=True)} g" if gap == gap else "not found"


def _stance(base: Version, asked: Version) -> str:
    now, then = (attitude_words(float(attitude(v.car, v.setup))) for v in (base, asked))
    return f"Now {now}; as asked {then}, against its reference heights."


def _measured(file: CarFile) -> str:
    """Where the numbers come from, and the most telling ones that were not measured."""
    if not file.origin:
        note = " This is an invented example car." if file.path is None else ""
        return f"The car file does not say where its numbers come from.{note}"
    count = Counter(file.origin.get(entry.path, "") for entry in fields_of())
    told = ", ".join(f"{count[word]} {word}" for word in ORIGINS if count[word])
    loose = [e.quantity.name for e in fields_of() if file.origin.get(e.path) == "typical"]
    names = ", ".join(dict.fromkeys(loose))
    most = f" Typical, not measured: {names}." if names else ""
    return cut(f"Numbers by origin: {told}; {count['']} without a note.{most}", LIMITS["note"])


def _kinds(candidate: Candidate) -> list[str]:
    found = ["tyre"] * bool(candidate.tyres) + ["load"] * bool(candidate.loads)
    fields = [path.rpartition(".")[2] for path in candidate.settings]
    return found + ["height" if field == "aligned_height" else field for field in fields]


def _rows(base: Version, asked: Version, candidate: Candidate, rim: float) -> list[Row]:
    """The table, in the order of the work; common practice, no source."""
    old, new = base.setup, standing(asked.car, asked.setup)
    rows: list[Row] = []

    def add(step: str, setting: str, now: str, then: str, within: str, part: bool = False) -> None:
        if not part or now != then:
            again = any(row.step == step for row in rows)  # a step's name stands once
            rows.append(Row("" if again else step, setting, now, then, within, now != then))

    def pair(step: str, words: str, field: str, unit: str, digits: int, within: str, part: bool = False) -> None:
        label = {"mm": " mm", "N_per_mm": " N/mm", "Nm_per_deg": " Nm/deg", "deg": "°", "bar": " bar"}[unit]
        for end in ENDS:
            now, then = (f"{number(from_si(getattr(getattr(s, end), field), unit), digits)}{label}" for s in (old, new))
            add(step, f"{end} {words}", now, then, within, part)

    for end in ENDS:
        tyres = [getattr(v.car, end).tyre.kind for v in (base, asked)]
        add("0 parts", f"{end} tyres", tyres[0], tyres[1], "", part=True)
    pair("0 parts", "springs", "spring", "N_per_mm", 0, WITHIN["spring"], part=True)
    pair("0 parts", "anti-roll bar, in roll", "bar", "Nm_per_deg", 0, WITHIN["bar"], part=True)
    for load in candidate.loads[:4]:
        add("0 parts", _place(load), "not there", f"{number(load.mass, 1, sign=True)} kg", WITHIN["load"])
    pair("1 tyres", "hot pressure, both sides", "pressure", "bar", 2, WITHIN["pressure"])
    now, then = (f"{number(float(v.car.mass), 0)} kg in all" for v in (base, asked))
    add("2 level floor", "driver's weight in the seat, fuel as driven", now, then, "")
    pair("3 ride heights", "measuring point at the axle line, both sides", "height", "mm", 0, WITHIN["height"])
    loads = [_corners(v) for v in (base, asked)]
    for i, end in enumerate(ENDS):
        for j, side in enumerate(("left", "right")):
            now, then = (f"{number(float(kg[i][j]), 0)} kg" for kg in loads)
            add("4 corner weights", f"{end} {side}, bars unhooked", now, then, WITHIN["corner"])
    now, then = (f"{number(100 * float(s.cross_weight), 1)} %" for s in (old, new))
    add("4 corner weights", "right front + left rear, of the whole", now, then, WITHIN["cross_weight"])
    pair("5 camber, caster", "camber, each wheel", "camber", "deg", 1, WITHIN["camber"])
    now, then = (f"{number(from_si(s.caster, 'deg'), 1)}°" for s in (old, new))
    add("5 camber, caster", "caster", now, then, WITHIN["caster"])
    within = f"±0.05° = {number(from_si(float(rim_difference(to_si(0.05, 'deg'), rim)), 'mm'), 1)} mm"
    for end in ENDS:
        now, then = (toe_words(float(getattr(s, end).toe), rim) for s in (old, new))
        add("6 toe, last", f"{end}, each wheel, over {from_si(rim, 'mm'):.0f} mm of rim", now, then, within)
    return rows


def toe_words(toe: float, rim: float) -> str:
    """Write a wheel's toe in degrees and in millimetres at the rim.

    Parameters:
        toe: toe-in of one wheel [rad]
        rim: distance between the two places read [m]

    Returns:
        words such as "0.15° in = 1.1 mm" [-]
    """
    degrees, size = from_si(toe, "deg"), from_si(float(rim_difference(abs(toe), rim)), "mm")
    way = "" if round(abs(degrees), 2) == 0 else " in" if degrees > 0 else " out"
    return f"{number(abs(degrees), 2)}°{way} = {number(size, 1)} mm"


def _place(load: Load) -> str:
    aside = from_si(load.left, "mm")
    side = "in the middle" if round(aside) == 0 else f"{abs(aside):.0f} mm {'left' if aside > 0 else 'right'}"
    back, high = from_si(load.behind_front, "mm"), from_si(load.height, "mm")
    return cut(f"{load.name[:30]}, {back:.0f} mm behind front axle, {side}, {high:.0f} mm high", 90)


def _corners(one: Version) -> Any:
    """Corner weights standing still, (2 axles, 2 sides) [kg]."""
    return trim(one.car, one.setup, Moment(20.0, 0.0)).standing_load / G
