"""A day of measuring: every reading as typed, and the car that follows from them with errors and questions.

Readings stay text, so that nothing typed is lost: a slip is named, with the reading to take again, and stays as typed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..car import examples, shelf, store
from ..car.carfile import CarFile, fields_of
from ..car.keys import ENDS
from ..car.known import Figures, Known, Points
from ..car.records import SIDES, AxleSetup
from ..car.reference import reference_of
from ..car.typical import UNKNOWN, Kinds, Range, fill, ranges
from ..car.writing import records, render
from ..checks import InputError, Problem
from ..units import from_si, to_si
from .form import BOOK, KIND_AT, SILL
from .form_fields import ASKED, CHOICES, MAY_SLIP, SETTLED
from .instruments import Measured
from .reckoning import Outcome, Reckoning, mean, named
from .stops import stops
from .typed import EXAMPLE, LONGEST, SAVED, Readings, numbers
from .visit import visit_of
from .wheels import WHEEL_STEPS as WHEELS
from .whole_car import WHOLE_CAR_STEPS as WEIGHTS
from .whole_car import settle

STEP_RESULTS = WEIGHTS | WHEELS | {"stops": stops}
ORDER = (
    *("felt", "look", "adjust", "tyres", "heights", "springs", "floor", "corners", "lift"),
    *("camber", "toe", "curves", "stops"),
)
"""The steps in the order in which one's sums rest on another's."""
_NOTE = "Measured with the form of workbook 7"


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

    @property
    def slips(self) -> dict[str, tuple[Problem, ...]]:
        """Step → its questions behind which may stand a slip that would turn an answer."""
        return {step: found for step in MAY_SLIP if (found := self.steps.get(step, Outcome()).slips)}


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


def car_from(readings: Readings, base: CarFile) -> MeasuredCar:
    """Work all readings out: each step's numbers, the car they make, and where every number of it is from.

    Parameters:
        readings: the readings as typed [-]
        base: the car that fills what is neither measured nor typical [-]

    Returns:
        an ``Answer``; its file is None where a reading must be taken again, and its problems say which [any]

    Validity: steps whose numbers rest on one not measured take it from the filled start car.
    """
    read = numbers(readings)
    typed, bad = read.good, read.bad
    kinds = kinds_of(readings)
    chosen = {key: readings.choice(key) for key in CHOICES}
    steps = {"start": Outcome(errors=tuple(bad.get("start", ())))}
    problems = list(steps["start"].errors)
    try:
        filled = fill(base, kinds) if readings.choice("start.fill").startswith("typical") else None
    except InputError as fault:
        return MeasuredCar(None, steps, (*problems, *fault.problems), {}, {}, ())
    car, setup = (filled.car, filled.setup) if filled else (base.car, base.setup)
    bench = Reckoning(typed, chosen, car, setup, read.marks)
    for step in ORDER:
        if step in bad:
            steps[step] = Outcome(errors=tuple(bad[step]))
        elif step in STEP_RESULTS:
            try:
                steps[step] = STEP_RESULTS[step](bench)
            except InputError as fault:
                steps[step] = Outcome(errors=fault.problems)
        else:
            steps[step] = Outcome()
        bench.found |= steps[step].assumed | steps[step].numbers
        problems += steps[step].errors
    steps |= {s: replace(steps[s], settled=True) for s in MAY_SLIP if chosen[f"{s}{ASKED}"] == SETTLED}
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


def kinds_of(readings: Readings) -> Kinds:
    """Return the kinds of suspension, tyre and body chosen.

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
    """Put what was found into the car, wheel by wheel where it was read so, with the origin of every number."""
    units = {entry.path: entry.quantity.unit for entry in fields_of()}
    values = {path: _brief(float(m.value), units[path]) for path, m in bench.found.items() if path in units}
    word = "example" if readings.invented else "measured"
    words = dict(base.origin if origin is None else origin)
    if origin is None and base.path is None:
        words = {entry.path: "example" for entry in fields_of()} | words
    words |= {path: word for path in found}
    for end in ENDS:
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
    held = records(bench.car, bench.setup)
    for table in ("front", "rear", "car", "setup.front", "setup.rear", "setup"):
        own = {p.rpartition(".")[2]: v for p, v in values.items() if p.rpartition(".")[0] == table}
        inner = {k: held[f"{table}.{k}" if table == "setup" else k] for k in _inner(table)}
        held[table] = replace(held[table], **own, **inner)
    weighed = "setup.cross_weight" in found
    setup = held["setup"]
    for end in ENDS:
        setup = replace(setup, **{end: _by_wheel(getattr(setup, end), end, steps, weighed)})
    car = replace(held["car"], name=readings.name, note=_note(readings, base, origin is not None))
    own_errors = {path: float(m.sigma) for path, m in found.items()}
    more = Known(
        {path: error for path, error in own_errors.items() if error > 0},
        kinds,
        _points(bench, steps),
        _figures(readings, steps),
        visit_of(readings) | _in_question(steps),
    )
    file = CarFile(car, setup, words, base.text, shelf.car_path(readings.name), more)
    try:
        reference_of(file)
    except InputError as fault:
        raise named(fault, "what it should have") from None
    left = {*UNKNOWN, "aligned_height", "weighed_difference"} | ({"drive_front"} if said in driven else set())
    told = {path.replace(".height", ".reference_height") for path in steps["heights"].figures}
    missing = tuple(
        e.path
        for e in fields_of()
        if words.get(e.path) == "example" and e.path not in found and e.path not in told and e.field not in left
    )
    return MeasuredCar(file, steps, (), found, ranges(file, kinds, own_errors), missing)


def _in_question(steps: Mapping[str, Outcome]) -> dict[str, str]:
    """What the form asks about, as the car file keeps it until it is mended or read again."""
    told = [
        f"{one.field} {one.rule}{f' ({one.value})' if one.value else ''}"
        for step in MAY_SLIP
        for one in steps[step].slips
    ]
    return {"in_question": "; ".join(told)[:LONGEST]} if told else {}


def _note(readings: Readings, base: CarFile, filled: bool) -> str:
    rest = "typical values and, last, " if filled else ""
    note = f"{_NOTE}; where nothing was measured: {rest}the numbers of {base.car.name}."
    return (f"An invented day of readings, no real car. {note}" if readings.invented else note)[:400]


def _by_wheel(own: AxleSetup, end: str, steps: Mapping[str, Outcome], weighed: bool) -> AxleSetup:
    """Return one axle's setup with left and right as read, where both were."""
    wheels = {path: m for outcome in steps.values() for path, m in outcome.wheels.items()}
    units = {"height": "mm", "toe": "deg", "camber": "deg", "pressure": "bar"}
    for name, unit in units.items():
        pair = [wheels.get(f"setup.{end}_{side}.{name}") for side in SIDES]
        if None not in pair:
            left, right = (_brief(float(m.value), unit) for m in pair if m is not None)
            if abs(left - right) > 1e-9:
                own = own.with_wheels(name, left, right)
    if own.height_difference:
        own = replace(own, aligned_height_difference=own.height_difference)
        own = replace(own, weighed_difference=own.height_difference) if weighed else own
    return own


def _points(bench: Reckoning, steps: Mapping[str, Outcome]) -> Points | None:
    """Return where the tape was read, where the ride heights came from it."""
    typed, way = bench.typed, bench.chosen["heights.way"]
    four = bench.four("heights")
    if None in four or not steps["heights"].numbers:
        return None
    if way == SILL:
        keys = ["heights.front_point", "heights.rear_point", "heights.wheelbase"]
        return Points((typed[keys[0]], typed[keys[1]])) if all(key in typed for key in keys) else None
    above = []
    for i, end in enumerate(ENDS):
        middle = mean(four[2 * i : 2 * i + 2]) or 0.0
        above.append(_brief(middle - bench.known(f"setup.{end}.height"), "mm"))
    return Points((0.0, bench.known("car.wheelbase")), (above[0], above[1]), way)


def _figures(readings: Readings, steps: Mapping[str, Outcome]) -> Figures | None:
    """Return what the car should have, as the driver typed it."""
    units = {"height": "mm", "toe": "deg", "camber": "deg", "pressure": "bar"}
    found = {path: v for outcome in steps.values() for path, v in outcome.figures.items()}
    if len([path for path in found if path.endswith(".height")]) == 1:  # a height of one axle alone means nothing
        found = {path: v for path, v in found.items() if not path.endswith(".height")}
    if not found:
        return None
    values = {path: _brief(v, units[path.rpartition(".")[2]]) for path, v in found.items()}
    said = readings.choice("heights.reference_is")
    place = "axle lines" if any(path.endswith(".height") for path in values) else ""
    table, name = ("book", "book") if said == BOOK else ("reference", "as it was before the work")
    return Figures(table, name, f"typed into the measuring form: {said}", place, values)


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
        not come from the form is in the way. What was saved before is then as it was. What is replaced is kept aside.
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
    if former is not None and _NOTE not in former.car.note:  # somebody's own file: a copy of it stays
        path = shelf.car_path(readings.name)
        store.put(store.free_aside(path), path.read_bytes())
    text, more = (None, answer.file.known) if former is None else (former.text, _more(answer.file, former))
    return shelf.save_car(readings.name, answer.file.car, answer.file.setup, answer.file.origin, text, more)


def _more(file: CarFile, former: CarFile) -> Known:
    """What is saved besides numbers: figures saved before stay where the form holds none."""
    return replace(file.known, figures=file.known.figures or former.known.figures)


def unsaved(answer: MeasuredCar, saved: CarFile) -> bool:
    """Return whether saving the car of a form once more would change its file.

    Parameters:
        answer: what the readings say now [-]
        saved: the car saved under the form's name [-]

    Returns:
        True also where the readings make no car; False for a car that never came from the form [-]
    """
    if _NOTE not in saved.car.note:
        return False
    file = answer.file
    if file is None:
        return True
    return render(file.car, file.setup, file.origin, saved.text, _more(file, saved)) != saved.text
