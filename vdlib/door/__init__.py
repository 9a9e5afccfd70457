"""The front door: the course of pages, the steps of the job, and the small server that opens them without code.

``course`` lists the pages in the order of a reader, ``place`` keeps how far the reader came, ``job`` reads what is done
from the cars folder. ``ahead`` makes the likely next pages before they are asked for,
within a fixed sum of memory. ``server`` serves them on this computer alone. ``python -m vdlib`` is the way in; nothing
of the core imports this room, and the server's libraries are imported by ``server`` alone.
"""

OPEN = ("course", "job", "place", "server")
