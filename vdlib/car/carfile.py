"""Car files: TOML a person can read and edit, to and from the records, comments kept, saved whole or not at all.

A key is the record's field name and the user's unit (``track_mm``); both come from the records and the glossary.
"""

from .keys import CORNERS, ORIGINS, OWN_NUMBERS, TABLES, Entry, fields_of
from .known import Figures, Known, Points
from .reading import CarFile, parse, read
from .writing import render, rounded_for_file, write

__all__ = [
    "CORNERS",
    "ORIGINS",
    "OWN_NUMBERS",
    "TABLES",
    "CarFile",
    "Entry",
    "Figures",
    "Known",
    "Points",
    "fields_of",
    "parse",
    "read",
    "render",
    "rounded_for_file",
    "write",
]
