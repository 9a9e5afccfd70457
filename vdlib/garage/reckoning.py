"""The bench on which typed readings are worked out: tools, numbers found so far, and what a step's outcome is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..car.keys import CORNERS
from ..car.records import Car, Setup
from ..car.writing import records
from ..checks import InputError, Problem
from ..glossary import GLOSSARY
from ..units import Array, from_si, number, to_si
from .form_fields import FIELDS
from .instruments import Measured, Ruler, Scale, Tape, uniform

LEFT_RIGHT: dict[str, tuple[float, str, int]] = {
    "tyres": (0.05, "bar", 2),
    "cold": (0.05, "bar", 2),
    "heights": (5, "mm", 0),
    "camber": (0.5, "deg", 2),
    "toe": (0.16, "deg", 2),
    "caster": (0.5, "deg", 1),
}
"""Step → left and right further apart than this are beyond the trade's tolerance; common practice, no source."""
GAUGE = {"pressure": (0.05, "bar"), "camber": (0.1, "deg"), "caster": (0.3, "deg")}
"""The most a gauge may be wrong, either way; common practice, no source."""


@dataclass(frozen=True)
class Outcome:
    """What one step says: numbers by path, lines to show, questions, faults, and labels of what is still to be read.

    ``assumed`` are numbers that nobody read but that must follow from the others. ``wheels`` are those of single
    wheels, by the wheel's table in a car file: "setup.rear_left.toe"; ``figures`` what they should be, by the path of
    a reference: "rear.toe". ``settled``: the reader has read again what is asked about.
    """

    numbers: dict[str, Measured] = field(default_factory=dict)
    assumed: dict[str, Measured] = field(default_factory=dict)
    lines: tuple[tuple[str, str], ...] = ()
    questions: tuple[Problem, ...] = ()
    errors: tuple[Problem, ...] = ()
    waiting: tuple[str, ...] = ()
    wheels: dict[str, Measured] = field(default_factory=dict)
    figures: dict[str, float] = field(default_factory=dict)
    settled: bool = False

    @property
    def doubted(self) -> tuple[Problem, ...]:
        """The questions behind which may stand a slip that would turn an answer, settled or not.

        A difference between left and right that may be so, a coarse gauge, whose error counts anyway, and what is not
        typed at all are no such questions.
        """
        none = ("differ", "were written more coarsely", "are not typed")
        return tuple(one for one in self.questions if not one.rule.startswith(none))

    @property
    def slips(self) -> tuple[Problem, ...]:
        """Those of them that are not settled."""
        return () if self.settled else self.doubted


@dataclass
class Reckoning:
    """Typed numbers in SI, the choices, the start car filled up, the tools, and what earlier steps found."""

    typed: Mapping[str, float]
    chosen: Mapping[str, str]
    car: Car
    setup: Setup
    marks: Mapping[str, float] = field(default_factory=dict)
    found: dict[str, Measured] = field(default_factory=dict)

    @property
    def tape(self) -> Tape:
        """The tape chosen."""
        return Tape(kind=self.chosen["start.tape"])

    @property
    def ruler(self) -> Ruler:
        """The ruler chosen."""
        return Ruler(reading=to_si(float(self.chosen["start.ruler"].split()[0]), "mm"))

    @property
    def scale(self) -> Scale:
        """The scales chosen."""
        return Scale(self.typed.get("start.division", 0.5), self.chosen["start.scale"] == "in service")

    def four(self, step: str, ending: str = "") -> list[float | None]:
        """The readings of the four wheels, None where one is not there."""
        return [self.typed.get(f"{step}.{name}{ending}") for name in CORNERS]

    def rounded(self, key: str, sigma: float) -> float:
        """A tool's error, or the one of the last digit written where that is coarser."""
        return max(sigma, float(uniform(self.marks.get(key, 0.0))))

    def side(self, step: str, field_name: str, sigma: float, ending: str = "") -> dict[str, Measured]:
        """Four readings as numbers of the four wheels."""
        keys = {corner: f"{step}.{corner}{ending}" for corner in CORNERS}
        return {
            f"setup.{corner}.{field_name}": Measured(self.typed[key], self.rounded(key, sigma))
            for corner, key in keys.items()
            if key in self.typed
        }

    def known(self, path: str) -> float:
        """A number of the car: found in an earlier step, else the filled start car's."""
        if path in self.found:
            return float(self.found[path].value)
        table, _, name = path.rpartition(".")
        return float(getattr(records(self.car, self.setup)[table], name))

    def size(self, path: str) -> Measured:
        """The same with its error; the start car's number has none."""
        return self.found.get(path, Measured(self.known(path), 0.0))

    def track(self, end: str) -> float:
        """The track as typed, for steps worked out before the scales."""
        return self.typed.get(f"corners.{end}_track", self.known(f"{end}.track"))

    def lacking(self, keys: Sequence[str]) -> tuple[str, ...]:
        """Labels of those keys that are not typed, where at least one is."""
        gone = [key for key in keys if key not in self.typed]
        return tuple(FIELDS[key].label for key in gone) if len(gone) < len(keys) else ()


def line(key: str, what: str, value: Measured, decimals: int) -> tuple[str, str]:
    """A line to show: plain name and number with its error."""
    quantity = GLOSSARY[key]
    return (what or quantity.name, value.words(quantity.unit, decimals))


def apart(step: str, what: str, left: float | None, right: float | None) -> list[Problem]:
    """A question where left and right of one axle differ beyond the trade's tolerance."""
    most, unit, digits = LEFT_RIGHT[step]
    if left is None or right is None or abs(from_si(left - right, unit)) <= most * (1 + 1e-9):
        return []
    got = f"left {number(from_si(left, unit), digits)}, right {number(from_si(right, unit), digits)} {unit}"
    many = what.split(",")[0].endswith("s")
    rule = f"{'differ' if many else 'differs'} by more than the trade's {most:g} {unit} between left and right"
    signed = step == "camber" and left * right < 0 and abs(from_si(left + right, unit)) <= most
    remedy = "is a minus missing?" if signed else "read both again; if it is so, it may be a cause of what you feel"
    return [Problem(what, got, rule, remedy)]


def coarse(bench: Reckoning, keys: Sequence[str], what: str, step: str) -> list[Problem]:
    """A question where readings were rounded more coarsely than the trade's tolerance between left and right."""
    most, unit, _ = LEFT_RIGHT[step]
    worst = max((bench.marks.get(key, 0.0) for key in keys), default=0.0)
    if from_si(2 * worst, unit) <= most * (1 + 1e-9):
        return []
    got = f"to {number(from_si(2 * worst, unit), 2).rstrip('0').rstrip('.')} {unit}"
    rule = f"were written more coarsely than the trade's {most:g} {unit} between left and right"
    return [Problem(what, got, rule, "read them again to a finer mark, or with a finer gauge")]


def missed(what: str, value: float, should: float, most: float, unit: str, digits: int) -> list[Problem]:
    """A question where a reading is further from what it should be than any car is out."""
    if abs(value - should) <= most:
        return []
    got = f"{number(from_si(value, unit), digits)} {unit}"
    rule = f"is {number(from_si(abs(value - should), unit), digits)} {unit} off what it should be"
    return [Problem(what, got, rule, "is it read at the same place, in the same unit? read it again")]


def mean(values: Sequence[float | None]) -> float | None:
    """Return the mean of the readings that were taken, ``None`` without any.

    Parameters:
        values: readings, ``None`` where one is missing [any]

    Returns:
        their mean [any]
    """
    given = [value for value in values if value is not None]
    return sum(given) / len(given) if given else None


def named(fault: InputError, wheel: str) -> InputError:
    """Return the same error with the wheel's name before each field."""
    return InputError(Problem(f"{wheel}, {p.field}", p.value, p.rule, p.remedy) for p in fault.problems)


def pairs(bench: Reckoning, one: str, two: str, count: Sequence[int]) -> tuple[list[str], Array, Array]:
    """All keys of two lists of readings, and the two lists where both are typed."""
    both = [(f"{one}_{i}", f"{two}_{i}") for i in count]
    full = [pair for pair in both if all(key in bench.typed for key in pair)]
    lists = [np.array([bench.typed[pair[k]] for pair in full]) for k in (0, 1)]
    return [key for pair in both for key in pair], lists[0], lists[1]
