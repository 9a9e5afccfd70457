"""What is read off the trim: balance, limits, the ledger of causes, the spread, and the seconds after a lift.

Pure functions of cars, setups and moments, for arrays of them.
What to change is decided in ``setup``; pictures are in ``draw``.
"""

OPEN = (
    "balance",
    "corner",
    "difference",
    "doubts",
    "edge",
    "film",
    "film_words",
    "forgiven",
    "hands_still",
    "height_study",
    "ledger",
    "lift",
    "limits",
    "margins",
    "power_off",
    "route_words",
    "sentences",
    "split",
    "spread",
    "stacking",
    "three_questions",
    "turns",
    "what_is_out",
)
"""Modules that other rooms may use; the rest belong to this one."""
