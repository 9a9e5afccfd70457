"""From readings to a car: instruments and their errors, the steps of the form, and what is kept of them.

Readings stay text until they are worked out, so that nothing typed is lost.
The car file itself is read and written in ``car``.
"""

OPEN = (
    "car_from",
    "form",
    "form_fields",
    "four_wheels",
    "invented",
    "kept",
    "printout",
    "reckoning",
    "stops",
    "typed",
    "visit",
    "whole_car",
)
"""Modules that other rooms may use; the rest belong to this one."""
