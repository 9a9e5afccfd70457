"""Records of one kind laid side by side as one record of arrays, so that one call answers for all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np


def stack(records: Sequence[Any], deep: int = 0) -> Any:
    """Stack records of one kind number by number along a new first axis.

    Parameters:
        records: records of plain numbers, at least one [-]
        deep: axes of length one that follow the new one [-]

    Returns:
        one record; its first number always has the new axis, others that are the same in all stay plain, and what is
        no number stays the first record's [-]

    Errors:
        ``ValueError`` where a number is given in some records and not in others.
    """
    first = records[0]
    values: dict[str, Any] = {}
    laid = False
    for field in fields(first):
        each = [getattr(record, field.name) for record in records]
        if is_dataclass(each[0]):
            values[field.name] = stack(each, deep)
        elif isinstance(each[0], str) or all(value is None for value in each):
            continue
        elif any(value is None for value in each):
            raise ValueError(f"{field.name} must be given in all {len(each)} records or in none")
        elif not laid or any(value != each[0] for value in each):
            values[field.name] = np.array(each, dtype=float).reshape(-1, *(1,) * deep)
            laid = True
    return replace(first, **values)
