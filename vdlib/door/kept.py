"""What is made or sent once for all pages: compiled templates, and the files that every page loads."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from jinja2.bccache import Bucket, BytecodeCache
from tornado.web import StaticFileHandler

LASTS = 600
"""Time for which a browser need not ask again for a script or a style [s]."""

HURRIED = re.compile(rb'(Date\.now\(\)-\w+<|"Control comm did not respond in time"\)+,)[24]e3\b')
"""Where the script that shows widgets loses patience: after two seconds for one, after four for the kernel's answer.

On a slow computer the page's widgets take longer to be read, all in one go. It then says that a widget is not found
which has just come, or begins to ask for them one by one and never ends.
"""
PATIENT = rb"\g<1>12e4"
SHOWING = ("@jupyter-widgets", "@voila-dashboards")
"""Parts of the paths of those scripts."""


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
        """The same files, with the time they last; the script that shows widgets waits for them."""

        @classmethod
        def get_content(cls, abspath: str, start: int | None = None, end: int | None = None) -> Iterator[bytes]:
            """Return a file's bytes."""
            if hurries(abspath):
                return iter([patient(abspath)[start:end]])
            content: Iterator[bytes] = super().get_content(abspath, start, end)
            return content

        def get_content_size(self) -> int:
            """Return how many they are."""
            path = self.absolute_path
            size: int = len(patient(path)) if hurries(path) else super().get_content_size()
            return size

        def set_headers(self) -> None:
            """Say it."""
            super().set_headers()
            if "max-age" not in self._headers.get("Cache-Control", ""):
                self.set_header("Cache-Control", f"private, max-age={LASTS}")

    return (pattern, Lasting, *given)


def hurries(path: str) -> bool:
    """Return whether a file is one of the scripts that show widgets.

    Parameters:
        path: the file [-]

    Returns:
        whether it is [-]
    """
    return path.endswith(".js") and any(part in path for part in SHOWING)


@cache
def patient(path: str) -> bytes:
    """Return such a script, waiting as long as it takes.

    Parameters:
        path: the file [-]

    Returns:
        its text [-]
    """
    return HURRIED.sub(PATIENT, Path(path).read_bytes())
