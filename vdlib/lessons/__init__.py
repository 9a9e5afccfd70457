"""Closed forms and words for teaching: the two-wheel car, rolling, the friction circle, gears, and the terms.

Each formula stands on its own and is derived in ``working``; the trim is compared with them, never built on them.
Numbers of a whole car in a corner come from ``trim``.
"""

OPEN = (
    "bicycle",
    "circle",
    "gears",
    "meanings",
    "rolling",
    "said",
    "simple",
    "step",
    "terms",
    "working",
)
"""Modules that other rooms may use; the rest belong to this one."""
