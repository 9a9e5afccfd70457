"""What is made or sent once for all pages: compiled templates, and the files that every page loads."""

from __future__ import annotations

from typing import Any

from jinja2.bccache import Bucket, BytecodeCache
from tornado.web import StaticFileHandler

LASTS = 600
"""Time for which a browser need not ask again for a script or a style [s]."""


class Compiled(BytecodeCache):
    """The templates that every page is made of, compiled for the first of them and kept for the others."""

    def __init__(self) -> None:
        """Begin with none."""
        self._kept: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Return a template as it was compiled, if it was.

        Parameters:
            bucket: holds one template [-]
        """
        if bucket.key in self._kept:
            bucket.bytecode_from_string(self._kept[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled.

        Parameters:
            bucket: holds one template [-]
        """
        self._kept[bucket.key] = bucket.bytecode_to_string()


def lasting(served: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return a way in through which files that never change while the server runs are kept by the browser.

    Each page loads a hundred scripts; without this the browser asks for most of them again on every page.

    Parameters:
        served: a pattern of addresses, what serves them, and what that is given [-]

    Returns:
        the same, and where it serves files it says how long they last [-]
    """
    pattern, kind, *given = served
    if not issubclass(kind, StaticFileHandler):
        return served

    class Lasting(kind):  # type: ignore[misc, valid-type]
        """The same files, with the time they last."""

        def set_headers(self) -> None:
            """Say it."""
            super().set_headers()
            if "max-age" not in self._headers.get("Cache-Control", ""):
                self.set_header("Cache-Control", f"private, max-age={LASTS}")

    return (pattern, Lasting, *given)
