"""What is read off the trim: balance, limits, the ledger of causes, the spread, and the seconds after a lift.

Pure functions of cars, setups and moments, for arrays of them.
What to change is decided in ``setup``; pictures are in ``draw``.
"""

OPEN = (
    "balance",
    "doubts",
    "film",
    "film_words",
    "height_study",
    "ledger",
    "lift",
    "limits",
    "route_words",
    "sentences",
    "split",
    "spread",
    "turns",
    "what_is_out",
    "stacking",
)
"""Modules that other rooms may use; the rest belong to this one."""
