"""What the measuring form says, as HTML: each step's results, what is missing, where each number is from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sized
from functools import cache
from html import escape

from ..answers.doubts import doubts_of
from ..car.carfile import fields_of
from ..car.keys import Entry
from ..car.records import Moment
from ..car.reference import reference_of
from ..car.typical import WORDS, Kinds, typical
from ..car.writing import records
from ..checks import InputError, Problem
from ..garage.car_from import MeasuredCar, kinds_of
from ..garage.form import STEPS
from ..garage.form_fields import fields_at
from ..garage.four_wheels import NAMES, typed_rows, uneven
from ..garage.printout import PrintOut
from ..garage.reckoning import Outcome
from ..garage.typed import Readings, asked
from ..setup.candidate import standing
from ..setup.decision import leaning
from ..shown import retold, says
from ..units import UNITS, G, from_si, number, to_si
from . import said
from .base import table

FORM_CSS = """<style>
.vd-form .vd-bad input {border: 2px solid #D55E00}
.vd-form .vd-ask {border-left: 5px solid #0072B2; background: #EAF3FA; color: #000; padding: 4px 10px; margin: 4px 0}
.vd-form .vd-care {border-left: 5px solid #595959; background: #F2F2F2; color: #000; padding: 4px 10px}
.vd-form .vd-first {position: sticky; top: -10px; z-index: 5; height: auto; margin: 2px 0}
.vd-form .vd-first .widget-html-content {background: #FFFBE6; color: #000; border: 2px solid #00416A;
 border-radius: 4px; padding: 3px 10px; line-height: 1.4}
.jp-OutputArea:has(.vd-form), .jp-OutputArea-output:has(.vd-form), .jp-OutputArea-child:has(.vd-form)
 {overflow: visible}
.vd-form .vd-four {display: grid; grid-template-columns: auto 3em auto; justify-content: start; gap: 2px 8px}
.vd-form .vd-wheel {border-collapse: collapse; font-size: 12px; line-height: 1.25; width: 17em}
.vd-form .vd-wheel td, .vd-form .vd-wheel th {padding: 0 5px; text-align: right; border-bottom: 1px solid #DDD}
.vd-form .vd-wheel th {text-align: left; font-weight: normal}
.vd-form .vd-wheel tr:first-child {background: #EEF1F4; color: #000}
.vd-form .vd-out {font-weight: bold}
.vd-form .vd-nose {text-align: center; font-size: 11px; grid-row: span 2; align-self: center}
.vd-form .vd-how {line-height: 1.4; max-width: 62em}
</style>"""
READ_AT = {
    "start": ("drive_front",),
    "tyres": ("pressure",),
    "heights": ("wheelbase", "wheel_radius", "height", "reference_height"),
    "corners": ("mass", "front_share", "left_share", "cross_weight", "track"),
    "lift": ("cg_height",),
    "camber": ("camber", "caster"),
    "toe": ("toe",),
    "springs": ("spring", "motion_ratio", "bar"),
    "curves": ("toe_slope", "camber_slope", "roll_centre", "roll_centre_slope"),
    "stops": ("bump_gap", "droop_gap"),
}
"""Step → the numbers that are read in it."""
TAKEN = "taken as the car stands now"


def progress(readings: Readings, answer: MeasuredCar, step: str) -> str:
    """State in a step's title how far it is: "begun: 4 of 9", "take again", "question", "done".

    Parameters:
        readings: the readings [-]
        answer: what they say [-]
        step: the step's key [-]

    Returns:
        words, empty for an untouched step [-]
    """
    outcome = answer.steps.get(step, Outcome())
    boxes = [box for box in fields_at(step) if asked(readings, box)]
    filled = sum(box.key in readings.typed for box in boxes)
    if outcome.errors:
        return "a reading to take again"
    if step == "start" or not filled:
        return "a question" if outcome.questions else ""
    told = "done" if outcome.numbers or outcome.lines else "begun"
    if outcome.waiting:
        told = "not finished"
    count = len(outcome.questions) - (len(outcome.doubted) if outcome.settled else 0)
    asks = f", {count} question{'s' if count > 1 else ''}" if count else ""
    return f"{told}: {filled} of {len(boxes)}{asks}"


def alert(problems: Iterable[Problem | str]) -> str:
    """Write what is wrong as an alert; nothing where nothing is.

    Parameters:
        problems: faults [-]

    Returns:
        HTML [-]
    """
    return said.alert("\n".join(str(p) for p in problems))


def step_words(outcome: Outcome) -> str:
    """Write one step's faults, questions, results with their errors, and what is still to be read.

    Parameters:
        outcome: what the step says [-]

    Returns:
        HTML [-]
    """
    parts = []
    if outcome.errors:
        parts.append(alert(["Nothing is lost; take this reading again:", *outcome.errors]))
    if outcome.questions:
        asks = "<br>".join(escape(retold(_question(p, outcome))) for p in outcome.questions)
        parts.append(f'<div class="vd-ask">{asks}</div>')
    if outcome.lines:
        parts.append(table(["worked out", "± one standard deviation"], outcome.lines))
    if outcome.waiting:
        rest = f" and {len(outcome.waiting) - 4} more" if len(outcome.waiting) > 4 else ""
        parts.append(f"<em>Still to be read: {escape(', '.join(outcome.waiting[:4]))}{rest}.</em>")
    return "".join(parts)


def _question(asked: Problem, outcome: Outcome) -> str:
    if outcome.settled and asked in outcome.doubted:
        return f"Read again, and as typed: {asked.field} {asked.rule}{f' ({asked.value})' if asked.value else ''}"
    return f"Question: {asked}"


def printout_words(found: PrintOut) -> str:
    """Describe what an alignment print-out filled in, what it was before, and each cell that cannot be read.

    Parameters:
        found: what the table says [-]

    Returns:
        HTML [-]
    """
    bad = alert(found.problems)
    if not found.boxes:
        return bad
    count = sum(key != "toe.diameter" for key in found.boxes)
    rest = "; ".join(f"{key.replace('_', ' ').replace('.', ' ')} {cell}" for key, cell in found.before.items())
    told = f"{count} boxes filled in from the print-out; they can be changed. {f'Before: {rest}.' if rest else ''}"
    return f'{bad}<div class="vd-words" role="status">{escape(told)}</div>'


def four_wheels(readings: Readings, answer: MeasuredCar) -> str:
    """Draw the four wheels round the car, nose up, with each reading and how far it is off what it should be.

    Parameters:
        readings: the readings [-]
        answer: what they say [-]

    Returns:
        HTML; empty where nothing is typed for a wheel [-]
    """
    rows = typed_rows(readings, answer)
    if not rows:
        return ""
    wheels = []
    for i, name in enumerate(("front left", "front right", "rear left", "rear right")):
        lines = "".join(
            f'<tr class="{"vd-out" if cells[i].out else ""}"><th>{escape(NAMES[row])}</th>'
            f"<td>{escape(cells[i].now)}{' !' if cells[i].out else ''}</td><td>{escape(cells[i].should)}</td>"
            f"<td>{escape(cells[i].off)}</td></tr>"
            for row, cells in rows.items()
        )
        head = f"<tr><th>{name}</th><td>now</td><td>should</td><td>off</td></tr>"
        wheels.append(f'<table class="vd-wheel">{head}{lines}</table>')
    odd = uneven(rows)
    told = f"Left and right differ beyond the trade's tolerance: {', '.join(odd)}." if odd else ""
    car = '<div class="vd-nose">front<br>▲<br>│<br>│<br>rear</div>'
    return (
        f'<div class="vd-four">{wheels[0]}{car}{wheels[1]}{wheels[2]}{wheels[3]}</div>'
        f'<div class="vd-words">! is beyond the trade\'s tolerance, toward the stop, or rear toe-out. {told}</div>'
    )


def name_of(path: str) -> str:
    """Write a number's path in words: "front track".

    Parameters:
        path: such as "front.track" [-]

    Returns:
        words [-]
    """
    return _names()[path]


@cache
def _names() -> dict[str, str]:
    return {entry.path: _name_of(entry) for entry in fields_of()}


def _name_of(entry: Entry) -> str:
    name = entry.quantity.name
    place = [part for part in entry.table.split(".") if part not in ("car", "setup") and not name.startswith(part)]
    return " ".join([*place, name])


def with_step(path: str) -> str:
    """Write a number's path in words, with the step of the form in which it is read: "front track (step 5)".

    Parameters:
        path: such as "front.track" [-]

    Returns:
        words; without a step where the form does not ask for it [-]
    """
    keys = [step.key for step in STEPS]
    step = next((keys.index(key) + 1 for key, fields in READ_AT.items() if path.rpartition(".")[2] in fields), 0)
    return f"{name_of(path)} (step {step})" if step else name_of(path)


def summary(readings: Readings, answer: MeasuredCar) -> str:
    """Describe what the whole form says: what is wrong, how much is measured, what is still an example's number.

    Parameters:
        readings: the readings [-]
        answer: what they say [-]

    Returns:
        HTML [-]
    """
    parts = []
    if readings.invented:
        parts.append("<b>These readings are invented</b>: a full form to look at, no real car.")
    if answer.problems:
        titles = [s.title for s in STEPS if answer.steps.get(s.key, Outcome()).errors]
        where = f" See: {escape('; '.join(titles))}." if titles else ""
        parts.append(f"<b>The car cannot be saved yet</b>: {len(answer.problems)} to put right.{where}")
        loose = [p for p in answer.problems if not any(p in o.errors for o in answer.steps.values())]
        return "<br>".join(parts) + alert(loose)
    if answer.file is None or not answer.measured:
        parts.append("Nothing is measured yet. Open a step above; every box may stay empty.")
        return "<br>".join(parts)
    origin = answer.file.origin.values()
    count = {word: sum(o == word for o in origin) for word in ("measured", "typical", "example")}
    told = ", ".join(f"{n} {word}" for word, n in count.items() if n)
    parts.append(f"Numbers of this car: {told}.")
    if answer.missing:
        names = "; ".join(escape(with_step(p)) for p in answer.missing)
        parts.append(f"<b>Still missing</b>, for now the start car's: {names}.")
    if least := doubtful(readings, answer):
        worst = "; ".join(f"{escape(name)} ({part:.0%})" for name, part in least[:3])
        parts.append(
            "<b>Readings that say least</b>, by the width of their error over that of the typical value they replace: "
            f"{worst}."
        )
    return "<br>".join(parts)


def first_answer(answer: MeasuredCar) -> str:
    """State early what the readings say of the car, with its doubt, once heights with a reference or a tie are typed.

    Parameters:
        answer: what the readings say [-]

    Returns:
        HTML; empty where neither is typed [-]
    """
    file, slips = answer.file, answer.slips
    if file is None:
        again = _steps(lambda key: answer.steps.get(key, Outcome()).errors) or _steps(lambda key: slips.get(key, ()))
        return f"{WAITS} for the reading to take again in {again}." if again else ""
    high = file.known.figures is not None and any(p.endswith(".height") for p in file.known.figures.values)
    high = high and "setup.rear.height" in answer.measured
    if not high and "rear.bump_gap" not in answer.measured:
        return ""
    doubts = doubts_of(file, file.known.kinds or Kinds(), dict(file.known.errors))
    reference = reference_of(file).setup if high else None
    try:
        part, off = leaning(file.car, reference, standing(file.car, file.setup), doubts, Moment.in_phase("lift", *HERE))
    except InputError as fault:
        return f"{WAITS}: with these readings the car cannot hold that corner. {escape(retold(str(fault)))}"
    what = "by how it sits, the rear has come nearer its limit than the front" if high else "the rear lets go first"
    sure = "still open" if 0.1 < part < 0.9 else "fairly sure"
    if where := _steps(lambda key: slips.get(key, ())):
        sure = f"not to be trusted while a slip may stand behind it: look first at the question in {where}"
    more = " <i>How sure?</i>, below, asks the same of more cars." if high and not where else ""
    speed = says(HERE[0], "kmh", 0)
    return (
        f"<b>First answer</b> (throttle closed, {speed}, 0.8 g): in {100 * part:.0f} of 100 plausible cars, give or "
        f"take {max(1, round(100 * off))}, {what}. That is {sure}.{more}"
    )


def _steps(found: Callable[[str], Sized]) -> str:
    """The steps, by number and title, of whose key something is found."""
    return escape("; ".join(f"{i} {s.title}" for i, s in enumerate(STEPS, 1) if found(s.key)))


WAITS = "<b>First answer</b>: it waits"
NO_ANSWER = (
    "<b>First answer</b>: not yet. Type four heights and what they should be (step 6), or one cable tie (step 7)."
)
"""What stands in its place before that."""
HERE = (to_si(110.0, "kmh"), 0.8 * G)
"""Speed and lateral acceleration of the first answer."""


def doubtful(readings: Readings, answer: MeasuredCar) -> list[tuple[str, float]]:
    """List the measured numbers by how little they narrow the typical value, the least first.

    Parameters:
        readings: the readings [-]
        answer: what they say [-]

    Returns:
        name and error over the typical value's spread [-]
    """
    kinds = kinds_of(readings)
    pairs = [(path, typical(path, kinds), error) for path, error in answer.errors.items()]
    told = [(name_of(path), error / usual.sigma) for path, usual, error in pairs if usual is not None and usual.sigma]
    return sorted(told, key=lambda pair: -pair[1])


def origin_table(answer: MeasuredCar) -> str:
    """Write every number of the car with its range, where it is from and on whose word.

    Parameters:
        answer: what the readings say [-]

    Returns:
        HTML; empty where there is no car [-]
    """
    if answer.file is None:
        return ""
    held = records(answer.file.car, answer.file.setup)
    assumed = {path for outcome in answer.steps.values() for path in outcome.assumed}
    rows = []
    for entry in fields_of():
        value = getattr(held[entry.table], entry.field)
        if value is None:
            continue
        unit, label = entry.quantity.unit, UNITS[entry.quantity.unit].label
        word = answer.file.origin.get(entry.path, "")
        said = TAKEN if entry.path in assumed else word or WORDS["typed in"]
        span = answer.ranges.get(entry.path)
        width = "" if span is None else f"{_short(span.low, unit)} to {_short(span.high, unit)} {label}".rstrip()
        source = "" if span is None else span.source
        rows.append([name_of(entry.path), f"{_short(float(value), unit)} {label}".strip(), width, said, source])
    return table(["number", "value", "nine of ten lie within", "origin", "range from"], rows)


def _short(value: float, unit: str) -> str:
    shown = float(from_si(value, unit))
    if shown == 0:
        return "0"
    return number(shown, 0 if abs(shown) >= 100 else 1 if abs(shown) >= 10 else 3 if abs(shown) < 1 else 2)
