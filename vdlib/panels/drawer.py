"""From a result to the bytes of its picture, in short parts that take turns with all other panels."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from ..draw.live import LivePicture, Overdrawn
from ..draw.png import encode
from ..draw.turn import TURN


class Outdated(Exception):
    """A newer request has come in: what was being made for this one is no longer wanted."""


class Drawer:
    """What draws the results of one panel."""

    def __init__(self, draw: Callable[[Any, Any], bytes | Iterator[None] | None], drawn_on: Any = None) -> None:
        """Take what moves the artists, and what they are on: a ``LivePicture``, any widget, or None."""
        self.draw = draw
        self.picture: LivePicture | None = drawn_on if isinstance(drawn_on, LivePicture) else None
        self._drawn_on = drawn_on

    def whole(self, result: Any, wanted: Callable[[], bool], stubborn: bool, quick: bool) -> bytes:
        """Draw a result at once; other panels take their turns in between.

        Parameters:
            result: what ``compute`` gave [any]
            wanted: says whether it is still wanted [-]
            stubborn: as of ``parts`` [-]
            quick: as of ``parts`` [-]

        Returns:
            the bytes of a PNG file; empty where the panel's widget is no picture [-]

        Errors:
            ``Outdated`` where it is no longer wanted.
        """
        if self.picture is not None and not self.picture.placed:
            with TURN:
                list(self.draw(self._drawn_on, result) or ())
            self.picture.place()
        for png in self.parts(result, quick, stubborn):
            if png is not None:
                return png
            if not wanted():
                raise Outdated
        raise AssertionError("a drawing ends with its picture")

    def parts(self, result: Any, quick: bool, stubborn: bool = True) -> Iterator[bytes | None]:
        """Draw in short parts, each in a turn of its own: None after each, and after the last one the PNG.

        Where another drawing gets in between, a stubborn one begins anew and any other stops trying: two stubborn ones
        cannot meet, for of two requests the older is no longer wanted.

        Parameters:
            result: what ``compute`` gave [any]
            quick: with one pixel to the screen pixel, however sharp the picture may be [-]
            stubborn: whether to begin anew when another drawing gets in between [-]

        Returns:
            None after each part, and after the last one the PNG [-]

        Errors:
            ``Outdated`` where it stops trying.
        """
        while True:
            drawing, pixels = None, None
            with TURN:
                own = self.draw(self._drawn_on, result)
                if not isinstance(own, bytes) and self.picture is not None:
                    drawing = self.picture.drawing(min(1.0, self.picture.scale) if quick else None, own or ())
                    pixels = next(drawing)
            if drawing is None:
                yield own if isinstance(own, bytes) else b""
                return
            try:
                while pixels is None:
                    yield None
                    with TURN:
                        pixels = next(drawing)
            except Overdrawn:
                if not stubborn:
                    raise Outdated from None
                yield None
                continue
            yield encode(pixels)
            return
