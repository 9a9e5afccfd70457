"""What is not known exactly about a car: its measuring errors and typical ranges, as doubts for the spread."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from ..car.carfile import CarFile
from ..car.records import SIDES, WHEEL_FIELDS
from ..car.typical import Kinds, ranges
from ..car.writing import records
from ..glossary import GLOSSARY
from ..units import to_si
from .spread import Doubt


def doubts_of(file: CarFile, kinds: Kinds, errors: Mapping[str, float] | None = None) -> list[Doubt]:
    """Turn what is known of a car's numbers into doubts: a normal law of each number's own spread up and down.

    Parameters:
        file: the car file [-]
        kinds: what kind of car it is, for the numbers that were not measured [-]
        errors: path → one standard deviation of its own measurement, in SI, where one is known [any]

    Returns:
        one ``Doubt`` a number; tyres of one kind err together, ride heights in the present setup only [-]

    Validity: as ``typical.ranges``; a number with no spread is left out.
    """
    apart = _by_wheel(errors or {})
    known = ranges(file, kinds, {**(errors or {}), **{axle: mean for axle, (mean, _) in apart.items()}})
    held = records(file.car, file.setup)
    alike = file.car.front.tyre.kind == file.car.rear.tyre.kind
    found = []
    for path, extent in known.items():
        table, _, field = path.rpartition(".")
        if extent.sigma <= 0 or (alike and table == "rear.tyre"):
            continue
        common = field not in ("height", "aligned_height")
        doubt = Doubt(path, extent.central, extent.low, extent.high, extent.sigma, (), common)
        twin = float(getattr(held["rear.tyre"], field)) if alike and table == "front.tyre" else 0.0
        if twin:
            doubt = replace(doubt, also=(f"rear.tyre.{field}",))
        if twin and extent.central:
            entry, ratio = GLOSSARY[field], extent.central / twin
            edges = sorted(to_si(edge, entry.unit) * ratio for edge in (entry.low, entry.high))
            doubt = replace(doubt, least=edges[0], most=edges[1])
        found.append(doubt)
    for axle, (_, sigma) in apart.items():
        table, _, field = axle.rpartition(".")
        name = WHEEL_FIELDS[field]
        middle = float(getattr(held[table], name))
        common = field not in ("height", "aligned_height")
        found.append(Doubt(f"{table}.{name}", middle, middle - 2 * sigma, middle + 2 * sigma, sigma, (), common))
    return found


def _by_wheel(errors: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """Return path of an axle's number → error of its mean and of left less right, where both wheels have their own.

    ``σ_mean = ½·√(σ_l² + σ_r²)``, ``σ_difference = √(σ_l² + σ_r²)``: two readings that err independently.
    """
    found = {}
    for table in ("setup.front", "setup.rear"):
        for field in WHEEL_FIELDS:
            pair = [errors.get(f"{table}_{side}.{field}", 0.0) for side in SIDES]
            if all(pair):
                both = math.hypot(*pair)
                found[f"{table}.{field}"] = (0.5 * both, both)
    return found
