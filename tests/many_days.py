"""Many invented days compared at once, each a column of lap times; and invented days of few laps for panels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cache, partial
from typing import Any

import numpy as np

from vdlib.laps.alike import Likeness
from vdlib.laps.bootstrap import Estimate
from vdlib.laps.clubday import make
from vdlib.laps.evidence import Change, compare
from vdlib.laps.laps import Session
from vdlib.laps.visit_day import make_visit
from vdlib.units import Array


@dataclass(frozen=True)
class Days(Session):
    """One session of many days: (laps, days) instead of (laps,)."""

    def __post_init__(self) -> None:
        """Let two dimensions pass."""


def compared(laps: Sequence[Array], share: int = 25, **more: Any) -> list[Change]:
    """Compare the sessions of each day as ``compare`` does it day by day; some tens of days share one set of draws.

    Parameters:
        laps: lap times of each session, (days, laps) [s]
        share: days that share one set of draws [-]
        more: what else ``compare`` is told [-]

    Returns:
        one a day, in their order; of the means only the number is right [-]
    """
    out = []
    for first in range(0, len(laps[0]), share):
        part = [s[first : first + share].T for s in laps]
        found = compare(*(Days("laps", s, np.ones(len(s), bool)) for s in part), seed=first, **more)
        out += [_one(found, day) for day in range(part[0].shape[1])]
    return out


def _one(found: Change, day: int) -> Change:
    alike = Likeness(_of(found.alike.change, day), _of(found.alike.correlation, day))
    learned, learning = (None if e is None else _of(e, day) for e in (found.learned, found.learning))
    return replace(found, plain=_of(found.plain, day), learned=learned, learning=learning, alike=alike)


def _of(one: Estimate, day: int) -> Estimate:
    return Estimate(**{field.name: float(np.asarray(getattr(one, field.name))[day]) for field in fields(one)})


_visit = cache(partial(make_visit, laps=6))


def short_days(patch: Any, visit: bool = True) -> None:
    """Let the panel on laps invent days of few laps; what other files are shown stays whole.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it [-]
        visit: whether the workshop visit is driven too; else a day of the next kind stands in its place [-]
    """
    from vdlib.panels import day_sessions, did_it_work

    def invented(kind: str, number: int) -> Any:
        return _invented(kind if visit or kind != day_sessions.VISIT else [*day_sessions.INVENTED][1], number)

    patch.setattr(day_sessions, "make", partial(make, laps=4))
    patch.setattr(day_sessions, "make_visit", _visit)
    patch.setattr(did_it_work, "invented", invented)


@cache
def _invented(kind: str, number: int) -> Any:
    from vdlib.panels import day_sessions

    return day_sessions.invented.__wrapped__(kind, number)
