"""A day of measuring: every reading as typed, and the car that follows from them with errors and questions.

Readings stay text, so that nothing typed is lost: a slip is named, with the reading to take again, and stays as typed.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from ..car import examples, shelf
from ..car.carfile import CarFile, fields_of
from ..car.keys import CORNERS
from ..car.known import Known, Points
from ..car.typical import UNKNOWN, Kinds, Range, fill, ranges
from ..car.writing import records
from ..checks import InputError, Problem, range_problem
from ..units import UNITS, from_si, to_si
from .form import CHOICES, FIELDS, KIND_AT, STEPS, WAYS, Choice, Field, Step, choices_at, fields_at
from .instruments import Measured
from .reckoning import Outcome, Reckoning
from .wheels import WHEEL_STEPS as WHEELS
from .whole_car import WHOLE_CAR_STEPS as WEIGHTS
from .whole_car import settle

__all__ = [
    "CHOICES",
    "FIELDS",
    "STEPS",
    "WAYS",
    "Choice",
    "Field",
    "MeasuredCar",
    "Outcome",
    "Readings",
    "Step",
    "asked",
    "base_of",
    "car_from",
    "choices_at",
    "fields_at",
    "label_of",
    "number_from",
    "numbers",
    "save_measured_car",
    "starts",
]
STEP_RESULTS = WEIGHTS | WHEELS
ORDER = ("tyres", "heights", "springs", "floor", "corners", "lift", "camber", "toe", "curves", "stops")
"""The steps in the order in which one's sums rest on another's."""
SAVED = "saved "
EXAMPLE = "example "
_NUMBER = re.compile(r"([+-]?)(?:(\d+) +)?(\d+)/(\d+)|[+-]?(?:\d{1,9}(?:[.,]\d{0,9})?|[.,]\d{1,9})")
_SMALL = 12
"""Longest piece of a wrong text shown in a message."""
_NOTE = "Measured with the form of workbook 7"


@dataclass(frozen=True)
class Readings:
    """All readings of one car: its name, field → text as typed, choice → option, and whether they are invented."""

    name: str
    typed: dict[str, str] = field(default_factory=dict)
    chosen: dict[str, str] = field(default_factory=dict)
    invented: bool = False

    def choice(self, key: str) -> str:
        """Give what is chosen; where nothing was, the start car's kind where it is an example, or the first option.

        Parameters:
            key: the choice's key [-]

        Returns:
            one of its options [-]
        """
        if key in self.chosen:
            return self.chosen[key]
        if key in KIND_AT and (kinds := _kinds(self.choice("start.from").removeprefix(EXAMPLE))):
            return str(getattr(kinds, KIND_AT[key]))
        return CHOICES[key].options[0] if CHOICES[key].options else EXAMPLE + examples.FIRST

    def with_typed(self, key: str, text: str) -> Readings:
        """Give the same readings with one box written anew; an empty one is taken out.

        Parameters:
            key: the field's key [-]
            text: what is typed [-]

        Returns:
            new ``Readings`` [-]
        """
        rest = {k: v for k, v in self.typed.items() if k != key}
        return replace(self, typed=rest | ({key: text} if text.strip() else {}))

    def with_choice(self, key: str, option: str) -> Readings:
        """Give the same readings with one choice made.

        Parameters:
            key: the choice's key [-]
            option: one of its options [-]

        Returns:
            new ``Readings`` [-]
        """
        return replace(self, chosen=self.chosen | {key: option})


@dataclass(frozen=True)
class MeasuredCar:
    """What the readings say: a car where they allow one, each step's outcome, errors, and what nobody measured."""

    file: CarFile | None
    steps: dict[str, Outcome]
    problems: tuple[Problem, ...]
    measured: dict[str, Measured]
    ranges: dict[str, Range]
    missing: tuple[str, ...]

    @property
    def errors(self) -> dict[str, float]:
        """Path → one standard deviation of its own measurement, in SI [any]."""
        return {path: float(found.sigma) for path, found in self.measured.items()}


def starts() -> tuple[str, ...]:
    """List the cars that a form can start from: the examples, then the saved cars.

    Returns:
        options of the choice ``start.from`` [-]
    """
    return (*(EXAMPLE + name for name in examples.example_names()), *(SAVED + name for name in shelf.car_names()))


def base_of(readings: Readings) -> CarFile:
    """Read the car that the form starts from.

    Parameters:
        readings: the readings [-]

    Returns:
        a ``CarFile`` [-]

    Errors:
        ``InputError`` where that car is no longer there or cannot be read.
    """
    said = readings.choice("start.from")
    if said.startswith(SAVED):
        return shelf.load_car(said.removeprefix(SAVED))
    return examples.load_example(said.removeprefix(EXAMPLE))


def asked(readings: Readings, box: Field | Choice) -> bool:
    """Say whether a box or choice is asked for with the choices made.

    Parameters:
        readings: the readings [-]
        box: the field or choice [-]

    Returns:
        True or False [-]
    """
    key, option = box.when
    return not key or readings.choice(key) == option


def unit_name(readings: Readings, box: Field) -> str:
    """Give the name of the unit in which a field is typed.

    Parameters:
        readings: the readings, for the units chosen [-]
        box: the field [-]

    Returns:
        a unit's name [-]
    """
    ways = WAYS[box.holds]
    return readings.choice(f"start.{box.holds}") if len(ways) > 1 else ways[0]


def label_of(readings: Readings, box: Field) -> str:
    """Give a field's label: letter in the drawing, name and unit.

    Parameters:
        readings: the readings, for the units chosen [-]
        box: the field [-]

    Returns:
        such as "A wheelbase [mm]" [-]
    """
    unit = UNITS[unit_name(readings, box)].label
    return f"{box.mark} {box.label}{f' [{unit}]' if unit else ''}".strip()


def number_from(text: str) -> float | None:
    """Read a number as people type it: decimal point or comma, a true minus, or a fraction such as 5 3/8.

    Parameters:
        text: what is typed [-]

    Returns:
        the number, or None where it is none [any]
    """
    plain = text.strip().replace("\u2212", "-").replace("\u2013", "-")
    found = _NUMBER.fullmatch(plain)
    if found is None or len(plain) > 24:
        return None
    if found[4] is None:
        return float(plain.replace(",", "."))
    if int(found[4]) == 0:
        return None
    return float(f"{found[1]}1") * (int(found[2] or 0) + int(found[3]) / int(found[4]))


def numbers(readings: Readings) -> tuple[dict[str, float], dict[str, list[Problem]]]:
    """Read every box that is asked for.

    Parameters:
        readings: the readings [-]

    Returns:
        field → number in SI for the good ones; step → what is wrong with the others [any]
    """
    good: dict[str, float] = {}
    bad: dict[str, list[Problem]] = {}
    for key, box in FIELDS.items():
        text = readings.typed.get(key, "")
        if not text or not asked(readings, box):
            continue
        name, own = unit_name(readings, box), WAYS[box.holds][0]
        unit = UNITS[name]
        number = number_from(text.strip().removesuffix(unit.label))
        label = f"{box.label} ({_title(box.step)})"
        shown = f"{text.strip()[:_SMALL]!r}" if number is None else f"{text.strip()[:_SMALL]} {unit.label}"
        if number is None:
            remedy = "write digits, such as 12.5 or 12,5; the unit is the one beside the box"
            bad.setdefault(box.step, []).append(Problem(label, shown, "must be a number", remedy))
            continue
        value = number * unit.to_si
        wrong = range_problem(label, value, own, box.low, box.high)
        if wrong is None:
            good[key] = value
            continue
        remedy = wrong.remedy if name == own else "read it again, or check the unit chosen in the first step"
        bad.setdefault(box.step, []).append(Problem(label, shown, wrong.rule, remedy))
    return good, bad


def _title(step: str) -> str:
    return next(s.title for s in STEPS if s.key == step)


def car_from(readings: Readings, base: CarFile) -> MeasuredCar:
    """Work all readings out: each step's numbers, the car they make, and where every number of it is from.

    Parameters:
        readings: the readings as typed [-]
        base: the car that fills what is neither measured nor typical [-]

    Returns:
        an ``Answer``; its file is None where a reading must be taken again, and its problems say which [any]

    Validity: steps whose numbers rest on one not measured take it from the filled start car.
    """
    typed, bad = numbers(readings)
    kinds = kinds_of(readings)
    chosen = {key: readings.choice(key) for key in CHOICES}
    steps = {"start": Outcome(errors=tuple(bad.get("start", ())))}
    problems = list(steps["start"].errors)
    try:
        filled = fill(base, kinds) if readings.choice("start.fill").startswith("typical") else None
    except InputError as fault:
        return MeasuredCar(None, steps, (*problems, *fault.problems), {}, {}, ())
    car, setup = (filled.car, filled.setup) if filled else (base.car, base.setup)
    bench = Reckoning(typed, chosen, car, setup)
    for step in ORDER:
        if step in bad:
            steps[step] = Outcome(errors=tuple(bad[step]))
        else:
            try:
                steps[step] = STEP_RESULTS[step](bench)
            except InputError as fault:
                steps[step] = Outcome(errors=fault.problems)
        bench.found |= steps[step].assumed | steps[step].numbers
        problems += steps[step].errors
    bench.found |= settle(bench)
    known = {entry.path for entry in fields_of()}
    assumed = {path for outcome in steps.values() for path in outcome.assumed}
    found = {path: value for path, value in bench.found.items() if path in known and path not in assumed}
    if not problems:
        try:
            return _assemble(readings, base, kinds, bench, found, filled.origin if filled else None, steps)
        except InputError as fault:
            problems += fault.problems
    return MeasuredCar(None, steps, tuple(problems), found, {}, ())


@functools.cache
def _kinds(example: str) -> Kinds | None:
    """Return what kind of car an example is."""
    return examples.load_example(example).known.kinds if example in examples.example_names() else None


def kinds_of(readings: Readings) -> Kinds:
    """Give the kinds of suspension, tyre and body chosen.

    Parameters:
        readings: the readings [-]

    Returns:
        ``Kinds`` [-]

    Errors:
        ``InputError`` for a kind that is not in the lists.
    """
    return Kinds(**{part: readings.choice(key) for key, part in KIND_AT.items()})


def _assemble(
    readings: Readings,
    base: CarFile,
    kinds: Kinds,
    bench: Reckoning,
    found: dict[str, Measured],
    origin: dict[str, str] | None,
    steps: dict[str, Outcome],
) -> MeasuredCar:
    """Put what was found into the car, with the origin of every number."""
    units = {entry.path: entry.quantity.unit for entry in fields_of()}
    values = {path: _brief(float(m.value), units[path]) for path, m in bench.found.items() if path in units}
    word = "example" if readings.invented else "measured"
    words = dict(base.origin if origin is None else origin)
    if origin is None and base.path is None:
        words = {entry.path: "example" for entry in fields_of()} | words
    words |= {path: word for path in found}
    for end in ("front", "rear"):
        stood, read = f"setup.{end}.height", {f"setup.{end}.toe", f"setup.{end}.camber"} & found.keys()
        if read or stood in found:  # toe and camber are true at the height they were read at
            source = stood if read else f"{end}.reference_height"
            values[f"setup.{end}.aligned_height"] = _brief(bench.known(source), "mm")
            words[f"setup.{end}.aligned_height"] = words.get(source, word)
        if f"{end}.reference_height" in values and f"{end}.reference_height" not in found:
            words.pop(f"{end}.reference_height", None)
    driven = {"rear": 0.0, "front": 1.0, "all four, half each": 0.5}
    if (said := readings.choice("start.driven")) in driven:
        values["car.drive_front"] = driven[said]
        words["car.drive_front"] = word if said != "all four, half each" else "typical"
    rest = "typical values and, last, " if origin is not None else ""
    note = f"{_NOTE}; where nothing was measured: {rest}the numbers of {base.car.name}."
    if readings.invented:
        note = f"An invented day of readings, no real car. {note}"
    held = records(bench.car, bench.setup)
    for table in ("front", "rear", "car", "setup.front", "setup.rear", "setup"):
        own = {p.rpartition(".")[2]: v for p, v in values.items() if p.rpartition(".")[0] == table}
        inner = {k: held[f"{table}.{k}" if table == "setup" else k] for k in _inner(table)}
        held[table] = replace(held[table], **own, **inner)
    car = replace(held["car"], name=readings.name, note=note[:400])
    own_errors = {path: float(m.sigma) for path, m in found.items()}
    more = Known({path: error for path, error in own_errors.items() if error > 0}, kinds, _points(bench.typed))
    file = CarFile(car, held["setup"], words, base.document, shelf.car_path(readings.name), more)
    left = {*UNKNOWN, "aligned_height"} | ({"drive_front"} if said in driven else set())
    missing = tuple(
        e.path for e in fields_of() if words.get(e.path) == "example" and e.path not in found and e.field not in left
    )
    return MeasuredCar(file, steps, (), found, ranges(file, kinds, own_errors), missing)


def _points(typed: Mapping[str, float]) -> Points | None:
    """Return where the tape was read, where the ride heights came from it."""
    keys = ["wheelbase", "front_point", "rear_point", *CORNERS]
    if not all(f"heights.{key}" in typed for key in keys):
        return None
    return Points((typed["heights.front_point"], typed["heights.rear_point"]))


def _brief(value: float, unit: str) -> float:
    """Round to six digits in the user's unit, far below any error, so that a car file stays readable."""
    return float(to_si(float(f"{from_si(value, unit):.6g}"), unit))


def _inner(table: str) -> tuple[str, ...]:
    return ("front", "rear") if table in ("car", "setup") else ()


def save_measured_car(readings: Readings, again: bool = False) -> CarFile:
    """Save the car that the readings make on the shelf, under the form's name, and open it.

    Parameters:
        readings: the readings [-]
        again: whether a car of this name that the form did not save may be replaced [-]

    Returns:
        the ``CarFile`` as saved [-]

    Errors:
        ``InputError`` naming each reading to take again; when nothing is measured yet; when a car of this name that did
        not come from the form is in the way. What was saved before is then as it was.
    """
    answer = car_from(readings, base_of(readings))
    if answer.problems:
        raise InputError(answer.problems)
    if answer.file is None or not answer.measured:
        raise InputError([Problem("the form", "", "holds no finished reading yet", "fill in one step at least")])
    former = shelf.load_car(readings.name) if readings.name in shelf.car_names() else None
    if former is not None and _NOTE not in former.car.note and not again:
        rule = "is saved already, and not from this form"
        raise InputError([Problem(f"a car named {readings.name}", "", rule, "press again to replace it, or rename")])
    document, known = (None, None) if former is None else (former.document, former.known)
    more = replace(answer.file.known, figures=known.figures if known else None)
    return shelf.save_car(readings.name, answer.file.car, answer.file.setup, answer.file.origin, document, more)
