"""How sure is the answer: every error and every unknown carried through the trim in one call of many plausible cars."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..car.records import Car, Moment, Setup
from ..checks import InputError, Problem
from ..glossary import GLOSSARY
from ..trim.trim import Trim, trim
from ..units import Array, Flags, to_si
from .ledger import understeer_angle

Quantity = Callable[[Trim], Array]
"""What is looked at: a function of a trim."""
COUNT = 10_000
"""Plausible cars drawn unless another number is asked for."""
SCALED = ("spring", "bar")
"""Settings that a workshop changes by a part of what they are: their error is a part too."""
_SCALED_ENDS = tuple(f".{field}" for field in SCALED)
_BINS = 20
_ROUNDS = 200


@dataclass(frozen=True)
class Doubt:
    """One number that is not known exactly, by its dotted name without the unit, such as ``front.bump_gap``.

    One with a standard deviation ``sigma`` is drawn from a normal law about ``middle``; where ``low`` and ``high`` are
    given with it, each half of the law is as wide as they lie off. One without runs from ``low`` to ``high`` with its
    peak at ``middle``. ``also`` names numbers that err with it, by the same ratio; beyond ``least`` and ``most`` one of
    those would be out of its own range. ``common`` says whether a setup's number errs alike in both setups compared.
    The rate of a spring or bar errs by a part of what it is, so that in a setup with another rate the error is the
    same part of that one: half of a bar nobody measured is half of whatever it is.
    """

    path: str
    middle: float
    low: float = 0.0
    high: float = 0.0
    sigma: float = 0.0
    also: tuple[str, ...] = ()
    common: bool = True
    least: float = -np.inf
    most: float = np.inf

    @property
    def name(self) -> str:
        """Its plain name: "rear travel to the bump stop"."""
        parts = self.path.split(".")
        ends = [part for part in parts[:-1] if part in ("front", "rear")]
        sides = "front and rear" if ends and self.also else " ".join(ends)
        return f"{sides} {GLOSSARY[parts[-1]].name}".strip()


@dataclass(frozen=True)
class Spread:
    """What the plausible cars say; angles and forces in SI."""

    change: Array  # (cars,) the quantity's change from one setup to the other, NaN past the limit [any]
    before: Array  # (cars,) the quantity at the first setup [any]
    after: Array  # (cars,) the quantity at the second setup [any]
    load: Array  # (2, 2, cars) wheel loads at the second setup [N]
    names: tuple[str, ...]  # of the doubts [-]
    share: Array  # (doubts,) first-order share of each doubt in the variance of the change [-]
    share_error: Array  # (doubts,) its standard error, there being only so many cars [-]

    @property
    def known(self) -> Flags:
        """Which cars have a steady corner at both setups [-]."""
        return np.isfinite(self.change)

    @property
    def past_limit(self) -> float:
        """Part of the plausible cars that cannot hold this corner at one of the setups [-]."""
        return 1.0 - float(self.known.mean())

    @property
    def falls(self) -> float:
        """Part of the cars holding the corner whose quantity falls; of the understeer angle: toward oversteer [-]."""
        return float((self.change[self.known] < 0).mean()) if self.known.any() else float("nan")

    @property
    def falls_error(self) -> float:
        """Standard error of ``falls``, ``√(p·(1 − p)/n)``, there being only so many cars [-]."""
        return float(np.sqrt(self.falls * (1 - self.falls) / max(1, int(self.known.sum()))))

    @property
    def of_hundred(self) -> tuple[int, int, int]:
        """Whole cars of a hundred that fall, that rise, and that cannot hold the corner; they sum to 100 [-]."""
        counts = np.array([(self.change < 0).sum(), (self.change >= 0).sum(), (~self.known).sum()])
        parts = 100 * counts / self.change.size
        whole = np.floor(parts).astype(int)
        whole[np.argsort(whole - parts, kind="stable")[: 100 - whole.sum()]] += 1
        return int(whole[0]), int(whole[1]), int(whole[2])

    def band(self, part: float = 0.9) -> tuple[float, float, float]:
        """Return the middle of the change and the band that holds a part of the cars.

        Parameters:
            part: part of the cars inside [-]

        Returns:
            lower edge, median and upper edge; NaN where no car holds the corner [any]
        """
        if not self.known.any():
            return float("nan"), float("nan"), float("nan")
        edges = np.quantile(self.change[self.known], [0.5 - part / 2, 0.5, 0.5 + part / 2])
        return float(edges[0]), float(edges[1]), float(edges[2])


def draw(doubts: Sequence[Doubt], count: int = COUNT, seed: int = 1) -> dict[str, Array]:
    """Draw the errors of every doubted number; a value that no car can have is drawn again.

    Parameters:
        doubts: what is not known exactly [-]
        count: how many plausible cars [-]
        seed: seed of the generator; the same seed gives the same bits [-]

    Returns:
        dotted name → error to be added, shape (count,) [any]

    Errors:
        ``InputError`` for an unknown name, an odd range, or one that lies outside what the number may be.
    """
    generator = np.random.default_rng(seed)
    errors: dict[str, Array] = {}
    for doubt in doubts:
        field = doubt.path.rpartition(".")[2]
        if field not in GLOSSARY:
            raise InputError([Problem(doubt.path, "", "must be a number of the car file", "check its name")])
        unit = GLOSSARY[field].unit
        least, most = (to_si(edge, unit) for edge in (GLOSSARY[field].low, GLOSSARY[field].high))
        if not (doubt.sigma > 0 or doubt.low < doubt.high) or not least <= doubt.middle <= most:
            problem = Problem(doubt.name, f"{doubt.low:g} to {doubt.high:g}", "must be a range", "check its error")
            raise InputError([problem])
        least, most = max(least, doubt.least), min(most, doubt.most)
        value = _values(doubt, count, generator)
        for _ in range(_ROUNDS):
            out = (value < least) | (value > most)
            if not out.any():
                break
            value[out] = _values(doubt, int(out.sum()), generator)
        else:
            rule = f"must mostly lie within {GLOSSARY[field].low:g} to {GLOSSARY[field].high:g}"
            raise InputError([Problem(doubt.name, f"{doubt.middle:g}", rule, "check the reading or its error")])
        errors[doubt.path] = value - doubt.middle
        for path in doubt.also:
            errors[path] = errors[doubt.path] / doubt.middle if doubt.middle else errors[doubt.path]
    return errors


def _values(doubt: Doubt, count: int, generator: np.random.Generator) -> Array:
    if doubt.sigma > 0:
        off = doubt.sigma * generator.standard_normal(count)
        if doubt.low < doubt.middle < doubt.high:
            half = 0.5 * (doubt.high - doubt.low)
            off *= np.where(off > 0, doubt.high - doubt.middle, doubt.middle - doubt.low) / half
        return doubt.middle + off
    return generator.triangular(doubt.low, min(max(doubt.middle, doubt.low), doubt.high), doubt.high, count)


def plausible(record: Any, errors: dict[str, Array], prefix: str = "", ratios: frozenset[str] = frozenset()) -> Any:
    """Return a record with the errors added to its numbers.

    Parameters:
        record: a ``Car`` (prefix empty) or a ``Setup`` (prefix "setup") [-]
        errors: dotted name → error, shape (cars,) [any]
        prefix: where the record stands in a car file [-]
        ratios: names whose error is a part of the number itself [-]

    Returns:
        the record of many cars [-]
    """
    changed: dict[str, Any] = {}
    for path, error in errors.items():
        table, _, field = path.rpartition(".")
        if table == (prefix or "car"):
            now = getattr(record, field)
            changed[field] = now * (1 + error) if path in ratios else now + error
    for part in ("front", "rear", "tyre"):
        if hasattr(record, part):
            inner = f"{prefix}.{part}" if prefix else part
            if any(path.startswith(f"{inner}.") for path in errors):
                changed[part] = plausible(getattr(record, part), errors, inner, ratios)
    return replace(record, **changed) if changed else record


@dataclass(frozen=True)
class Tried:
    """Plausible cars at one moment, with both their setups."""

    errors: dict[str, Array]  # dotted name → error drawn [any]
    before: Trim
    after: Trim


def tried(
    car: Car, before: Setup, after: Setup, moment: Moment, doubts: Sequence[Doubt], count: int = COUNT, seed: int = 1
) -> Tried:
    """Draw plausible cars and trim them with both their setups.

    Parameters:
        car: as of ``spread`` [-]
        before: likewise [-]
        after: likewise [-]
        moment: likewise [-]
        doubts: likewise [-]
        count: likewise [-]
        seed: likewise [-]

    Returns:
        a ``Tried`` [-]

    Errors:
        as ``spread``.
    """
    cars, first, second, errors = plausible_pair(car, before, after, doubts, count, seed)
    return Tried(errors, trim(cars, first, moment), trim(cars, second, moment))


def spread(
    car: Car,
    before: Setup,
    after: Setup,
    moment: Moment,
    doubts: Sequence[Doubt],
    count: int = COUNT,
    seed: int = 1,
    quantity: Quantity = understeer_angle,
    known: Tried | None = None,
) -> Spread:
    """Ask many plausible cars how far a change of setup moves a quantity.

    ``S_i = Var(E[Δ | x_i]) / Var(Δ)`` from 20 equal classes of each doubt, less what chance alone would give.

    Parameters:
        car: the car with its best numbers, plain numbers [-]
        before: setup changed from; errors of the setup's own numbers are added to both unless not common [-]
        after: setup changed to [-]
        moment: the moment, plain numbers [-]
        doubts: what is not known exactly [-]
        count: how many plausible cars [-]
        seed: seed of the generator [-]
        quantity: what is looked at [-]
        known: from ``tried`` with the same numbers, to save trying them again [-]

    Returns:
        a ``Spread`` [-]

    Errors:
        ``InputError`` as of ``draw``, and for a combination that cannot be a car.

    Validity: doubts are independent but for those that err together; the share of a doubt counts what it does alone.
    Source: Saltelli et al., Global Sensitivity Analysis: The Primer (2008), section 1.2.8, first-order effect.
    """
    known = known or tried(car, before, after, moment, doubts, count, seed)
    found, errors = (known.before, known.after), known.errors
    values = [np.broadcast_to(np.where(one.usable, quantity(one), np.nan), (count,)) for one in found]
    change = values[1] - values[0]
    share, share_error = np.array([first_order(errors[doubt.path], change) for doubt in doubts]).reshape(-1, 2).T
    load = np.broadcast_to(found[1].load, (2, 2, count))
    return Spread(change, values[0], values[1], load, tuple(doubt.name for doubt in doubts), share, share_error)


def plausible_pair(
    car: Car, before: Setup, after: Setup, doubts: Sequence[Doubt], count: int, seed: int
) -> tuple[Car, Setup, Setup, dict[str, Array]]:
    """Draw plausible cars with both their setups from one draw.

    Parameters:
        car: as of ``spread`` [-]
        before: likewise [-]
        after: likewise [-]
        doubts: likewise [-]
        count: likewise [-]
        seed: likewise [-]

    Returns:
        the cars, their setups before and after, and the errors drawn by name [any]

    Errors:
        as ``draw``.
    """
    errors = draw([_held(doubt, before, after) for doubt in doubts], count, seed)
    ratios = frozenset(path for doubt in doubts if doubt.middle for path in doubt.also)
    cars = plausible(car, errors, "", ratios)
    scaled = frozenset(doubt.path for doubt in doubts if doubt.middle and doubt.path.endswith(_SCALED_ENDS))
    parts = {doubt.path: errors[doubt.path] / doubt.middle for doubt in doubts if doubt.path in scaled}
    alike = {doubt.path for doubt in doubts if doubt.common}
    both = errors | parts
    shared = {path: error for path, error in both.items() if path in alike or path in ratios}
    first, second = (plausible(s, e, "setup", ratios | scaled) for s, e in ((before, shared), (after, both)))
    return cars, first, second, errors


def _held(doubt: Doubt, before: Setup, after: Setup) -> Doubt:
    """Narrow a doubt so that its error leaves the number within its range in both setups, where it is a setup's."""
    table, _, field = doubt.path.rpartition(".")
    if table.partition(".")[0] != "setup":
        return doubt
    records = [getattr(s, table.partition(".")[2]) if "." in table else s for s in (before, after)]
    held = np.concatenate([np.ravel(getattr(record, field)) for record in records])
    unit = GLOSSARY[field].unit
    low, high = (to_si(edge, unit) for edge in (GLOSSARY[field].low, GLOSSARY[field].high))
    if doubt.middle and doubt.path.endswith(_SCALED_ENDS):
        top = float(held.max())
        least, most = 0.0, high * doubt.middle / top if top > 0 else np.inf
        if low > 0:
            least = low * doubt.middle / float(held.min())
    else:
        least, most = doubt.middle + low - float(held.min()), doubt.middle + high - float(held.max())
    return replace(doubt, least=max(doubt.least, least), most=min(doubt.most, most))


def first_order(x: Array, y: Array) -> tuple[float, float]:
    """Return the share of a result's variance that one input explains, the correlation ratio η² over equal classes.

    The standard error is the spread of ``(m² + 2·m·(y − m) − η²·y²)/σ²`` over ``√n``, the first-order effect of one
    more result; m is the mean of its class, both counted from the mean of all, and σ² the variance.

    Parameters:
        x: the input, shape (n,) [any]
        y: the result, shape (n,); NaN is left out [any]

    Returns:
        share, zero where chance explains as much, and its standard error [-]

    Validity: 20 classes of equal size; below 400 results both are 0, there being too few to tell. With 50 results a
    class and a few that lie far out, the error stated is up to a third too small.
    Source: share, Saltelli et al., Global Sensitivity Analysis: The Primer (2008), section 1.2.8; error, own
    derivation by the delta method.
    """
    good = np.isfinite(y)
    x, y = np.asarray(x)[good], np.asarray(y)[good]
    if y.size < 20 * _BINS or np.var(y) == 0:
        return 0.0, 0.0
    off, mean = y - y.mean(), np.empty(y.size)
    for members in np.array_split(np.argsort(x, kind="stable"), _BINS):
        mean[members] = off[members].mean()
    between, whole = float((mean**2).sum()), float((off**2).sum())
    chance = (_BINS - 1) * (whole - between) / (y.size - _BINS)
    effect = mean**2 + 2 * mean * (off - mean) - between / whole * off**2
    return max(0.0, (between - chance) / whole), float(effect.std() * np.sqrt(y.size) / whole)
