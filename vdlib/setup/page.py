"""The workshop page: what a mechanic needs on the front, why and how sure on the back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ..car.carfile import ORIGINS, CarFile, fields_of
from ..car.keys import ENDS
from ..car.records import SIDES, Setup
from ..car.reference import reference_of
from ..garage.form_fields import LOOK
from ..garage.stops import TOUCHED
from ..garage.typed import number_from
from ..shown import retold, says
from ..units import from_si
from .candidate import Candidate, Version, at_heights_of, baseline, between, leaves, standing, version
from .driven import own_corner
from .page_orders import UNDOES, order_of, orders, seats_asked, settable, with_seats, within_words
from .page_wheels import (
    CROSS,
    OUT,
    PLACES,
    WheelTable,
    compared,
    gaps,
    inside,
    unread,
    wheel_table,
)
from .promised import promise, why_back
from .saved import BACK
from .tolerances import without_unsettable

ORIGIN_WORDS = {"measured": "measured", "typical": "typical of such cars", "example": "taken from an example car"}
UNSEEN = (
    "What the model behind these figures cannot see: toe felt at turn-in, bumps and kerbs, worn dampers, tyre wear and "
    "age, cold or wet tyres. Where the car says otherwise, believe the car."
)
CAUTIONS = (
    "Level ground and axle stands; never under a car on a jack; springs only with a proper compressor. Brakes, "
    "steering and suspension are for qualified people. Scrutineering and local road rules decide. Start below "
    "your usual pace; never look for the limit on a public road. The figures come from a teaching model: a steady "
    "corner, smooth road, warm dry tyres."
)


@dataclass(frozen=True)
class WorkshopPage:
    """Everything that stands on the page, in words; PDF and HTML are both made from it."""

    title: str
    head: tuple[tuple[str, str], ...]
    felt: str
    since: str
    ring: bool  # heights out after work on the car: look, and ring before anything is set
    look: tuple[tuple[str, bool], ...]  # what is looked at first, and whether somebody has
    found: str
    warning: str  # a reading in question, and where the rear sits on its stops; empty where neither
    asked: str  # what is asked for, by name
    wheels: WheelTable
    reference: str
    within: str  # tolerances and where heights are read, in short
    do: tuple[str, ...]
    able: str
    back: tuple[tuple[str, tuple[str, ...]], ...]


def back_to_reference(base: Version, file: CarFile) -> Candidate:
    """Return the first thing to ask for: the car back at its reference, wheel by wheel.

    Parameters:
        base: the car as it stands [-]
        file: the car file, for its reference [-]

    Returns:
        a ``Candidate`` [-]
    """
    return between(base, aims(base, file), BACK)


def back_to_reference_of(file: CarFile) -> Candidate:
    """Return what brings the car of a file back to its reference, as ``back_to_reference``.

    Parameters:
        file: the car file [-]

    Returns:
        a ``Candidate`` [-]
    """
    return back_to_reference(baseline(file.car, file.setup), file)


def aims(base: Version, file: CarFile) -> Setup:
    """Return the setup to be asked for: the reference's figures, and as now what they do not give or lies within them.

    Parameters:
        base: the car as it stands [-]
        file: the car file, for the reference, its tolerances and what was read [-]

    Returns:
        a ``Setup``; what is inside its tolerance is left, but for a rear wheel that is toed out; toe and camber are
        judged, and left, as the heights asked for make them [-]
    """
    figures = file.known.figures
    out = standing(base.car, reference_of(file).setup)
    far = figures.tolerances.get("cross_weight", CROSS) if figures else CROSS
    if abs(float(base.setup.cross_weight) - float(out.cross_weight)) <= far * (1 + 1e-9):
        out = replace(out, cross_weight=base.setup.cross_weight)  # within tolerance: noted, and no seat turned for it
    out = _left(file, base.setup, out, ("height", "pressure"))
    return _left(file, at_heights_of(base, out), out, ("toe", "camber"))


def _left(file: CarFile, now: Setup, due: Setup, names: tuple[str, ...]) -> Setup:
    """What is due, but as now where a wheel's number has no figure or lies inside its tolerance."""
    figures, out = file.known.figures, due
    for end in ENDS:
        own: Any = getattr(out, end)
        for name in names:
            told = name == "height" or compared(file, end, name)
            pair = zip(SIDES, getattr(now, end).wheels(name), own.wheels(name), strict=True)
            kept = [
                old if not told or inside(figures, f"{end}_{side}", name, old, new) else new for side, old, new in pair
            ]
            own = own.with_wheels(name, *kept)
        out = replace(out, **{end: own.with_wheels("aligned_height", *own.wheels("height"))})
    return out


def build(
    file: CarFile,
    base: Version,
    candidate: Candidate,
    felt: str = "",
    sure: tuple[str, ...] = (),
    when: date | None = None,
) -> WorkshopPage:
    """Write the page of one candidate; what is smaller than can be set is left as now, and said to be.

    Parameters:
        file: the car file [-]
        base: the car as it stands [-]
        candidate: what is asked for; an empty one asks to go back to the reference [-]
        felt: what the driver felt; empty for what the car file says [-]
        sure: how sure the answer is, in words [-]
        when: date of the page; today if left out [-]

    Returns:
        a ``WorkshopPage`` [-]

    Errors:
        as ``candidate.version``.
    """
    visit, reference = file.known.visit, reference_of(file)
    wanted = back_to_reference(base, file) if candidate.empty else candidate
    able, left = without_unsettable(wanted, base)
    asked = version(able, base)
    book = standing(base.car, reference.setup)
    since = since_of(visit)
    table = wheel_table(file, base, book, asked, bool(since))
    out = any(cell.out for name, cells in table.rows if name.startswith(PLACES) for cell in cells)
    looked = {key.strip() for key in visit.get("looked", "").split(",")}
    told = promise(asked.car, base.setup, asked.setup, own_corner(visit), base.car)
    back = why_back(told) if not able.empty and wanted.settings == back_to_reference(base, file).settings else ()
    ring = bool(since) and out
    seats = seats_asked(file, base, asked, table)
    told_of = {**visit, "speed": retold(visit.get("speed", ""))}
    story = ", ".join(told_of[key] for key in ("corner", "speed", "foot") if told_of.get(key))
    return WorkshopPage(
        title=f"Workshop page: {file.car.name}",
        head=(
            ("CAR", file.car.name),
            ("km", visit.get("km", "")),
            ("phone", visit.get("contact", "")),
            ("event", visit.get("event", "")),
            ("date", (when or date.today()).isoformat()),
        ),
        felt=" ".join(part for part in (felt or visit.get("felt", ""), f"({story})" if story else "") if part),
        since=since,
        ring=ring,
        look=tuple((words, key in looked) for key, words in LOOK.items()),
        found=visit.get("found", ""),
        warning="  ".join(filter(None, (in_question(visit), on_stops(file, base)))),
        asked=wanted.name,
        wheels=with_seats(table, seats),
        reference=reference.name,
        within=f"{within_words(file.known.figures, visit)} HEIGHTS: {retold(_place(file))}",
        do=tuple(map(retold, orders(file, base, asked, able, table, ring, seats))),
        able=settable(visit) + _springs(file),
        back=(
            *_retold(
                ("Why", (*_travel(file, base, asked), *told.words, *back)),
                ("How sure", sure or ("Not worked out: measure your car first.",)),
                ("How it was measured", (_measured(file),)),
                ("Where heights are read", (_place(file),)),
                ("Left as now, being less than can be set", (", ".join(left),) if left else ("Nothing.",)),
                (
                    "What each change undoes",
                    tuple(UNDOES[k] for k in UNDOES if k in _kinds(base, asked, able)) or ("Nothing is asked.",),
                ),
            ),
            ("Order of the work, and within what", order_of(visit)),
            *_retold(
                ("What the model cannot see", (UNSEEN, *_aids(visit))),
                ("Cautions", (CAUTIONS,)),
            ),
        ),
    )


def since_of(visit: Mapping[str, str]) -> str:
    """Return since when it is so and after what work, in words; empty where nobody has said.

    Parameters:
        visit: what the car file says of the visit [-]

    Returns:
        words [-]
    """
    work = f"({visit['work']})" if visit.get("work") else ""
    return " ".join(part for part in (visit.get("since", "").removeprefix("since "), work) if part)


def in_question(visit: Mapping[str, str]) -> str:
    """Return the front's line where a slip may stand behind a reading of the car; else empty.

    Parameters:
        visit: what the car file says of the visit [-]

    Returns:
        words [-]
    """
    first, _, more = visit.get("in_question", "").partition("; ")
    rest = f", and {more.count('; ') + 1} more" if more else ""
    return retold(f"READ AGAIN BEFORE ANYTHING IS SET: {first}{rest}.") if first else ""


def on_stops(file: CarFile, base: Version) -> str:
    """Return the front's line where a rear damper sits on its stop, or a cable tie says that it got there; else empty.

    Parameters:
        file: the car file, for whether the travel was read [-]
        base: the car as it stands [-]

    Returns:
        words [-]
    """
    until = "not to be driven hard until that is looked at."
    now = float(gaps(base.car, base.setup)[2:].min())
    if now <= 0 and not unread(file, "rear.bump_gap"):
        return f"THE REAR SITS ON ITS BUMP STOPS: {until}"
    ties = [number_from(text) for text in file.known.visit.get("ties", "").split("|")[2:]]
    left = [1e-3 * tie for tie in ties if tie is not None]
    return f"THE REAR HIT ITS BUMP STOPS IN A SESSION (cable tie): {until}" if left and min(left) < TOUCHED else ""


def _springs(file: CarFile) -> str:
    """The springs on the car where they were read, in the words that follow what can be set."""
    read = [end for end in ENDS if file.path is not None and file.origin.get(f"setup.{end}.spring") == "measured"]
    told = [f"{end} {says(float(getattr(file.setup, end).spring), 'N_per_mm', 0)}" for end in read]
    return retold(f".  SPRINGS ON IT: {', '.join(told)}") if told else ""


def _retold(*back: tuple[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple((heading, tuple(map(retold, told))) for heading, told in back)


def _travel(file: CarFile, base: Version, asked: Version) -> tuple[str, ...]:
    """What the rear dampers have left to their stops, now and as asked, where it is little."""
    now, then = (float(gaps(v.car, v.setup)[2:].min()) for v in (base, asked))
    if now >= OUT["gap"] or unread(file, "rear.bump_gap"):
        return ()
    if now > 0:
        left = f"A rear damper has {says(now, 'mm', 0)} of free shaft, standing: once that is used up"
    else:
        left = f"A rear damper's shaft sits {says(-now, 'mm', 0)} into the stop, standing: with the throttle closed"
    back = "" if then - now < 1e-3 else f" As asked it has {says(then, 'mm', 0)} free."
    if now < then <= 0:
        back = f" As asked it still sits {says(-then, 'mm', 0)} into it."
    return (f"{left} the tail stiffens and lets go sooner.{back}",)


def _aids(said: Mapping[str, str]) -> tuple[str, ...]:
    names = {"differential": "differential", "control": "stability control"}
    told = [f"{name} {said[key]}" for key, name in names.items() if key in said]
    has = "neither" if len(told) > 1 else "none"
    return (f"On this car: {', '.join(told)}. The model has {has}.",) if told else ()


def _measured(file: CarFile) -> str:
    if not file.origin or file.path is None:
        return "An invented example car: nothing of it was measured."
    count = Counter(file.origin.get(entry.path, "") for entry in fields_of())
    told = [f"{count[word]} {ORIGIN_WORDS[word]}" for word in ORIGINS if count[word]]
    told += [f"{count['']} without a note"] * bool(count[""])
    given = file.known.figures is not None and any(p.endswith(".height") for p in file.known.figures.values)
    loose = dict.fromkeys(
        e.quantity.name
        for e in fields_of()
        if file.origin.get(e.path, "measured") != "measured" and not (given and e.field == "reference_height")
    )
    return f"Numbers of the car: {', '.join(told)}. Not measured: {', '.join(list(loose)[:12])}."


def _place(file: CarFile) -> str:
    spot, load = file.known.points, file.known.visit.get("load", "")
    load = f" Read with {load}." if load else ""
    if spot is None:
        return f"At the axle lines, from level ground up to the body's underside (floor or sill).{load}"
    if spot.what in ("hub centre to arch", "floor to arch"):
        return f"{spot.what[0].upper()}{spot.what[1:]}, straight up over each wheel centre.{load}"
    ahead, behind = (from_si(v, "mm") for v in spot.behind)
    return (
        f"From level ground up to the driver's own points, {ahead:.0f} mm and {behind:.0f} mm behind the front axle "
        f"line{f' ({spot.what})' if spot.what else ''}.{load}"
    )


def _kinds(base: Version, asked: Version, able: Candidate) -> set[str]:
    """The kinds of what is set; toe and camber that only follow the heights are not."""
    old, new = (dict(leaves(setup)) for setup in (at_heights_of(base, asked.setup), asked.setup))
    differ = {path for path in new if new[path] != old[path]} | {p for p in able.settings if "height" in p}
    found = {path.rpartition(".")[2].removesuffix("_difference") for path in differ}
    found = {"height" if field in ("aligned_height", "weighed") else field for field in found}
    return found | ({"tyre"} if able.tyres else set()) | ({"load"} if able.loads else set())


__all__ = ["WorkshopPage", "back_to_reference", "back_to_reference_of", "build"]
