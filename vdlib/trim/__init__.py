"""The one equilibrium that every answer rests on: wheel loads, travels, toe, camber and slip angles of a steady moment.

From records to a ``Trim``, for any array of cases in one call.
What the result means for a driver is read off in ``answers``; closed forms for teaching are in ``lessons``.
"""

OPEN = (
    "aero",
    "loads",
    "solver",
    "standing",
    "state",
    "suspension",
    "trim",
)
"""Modules that other rooms may use; the rest belong to this one."""
