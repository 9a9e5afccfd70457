"""Panels whose pictures are not drawn at all, for tests of results, of words and of what is kept on the disk."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import pytest

from vdlib.draw.png import encode
from vdlib.panels.drawer import Drawer

GREY = encode(np.full((4, 4, 3), 128, np.uint8))
_whole = Drawer.whole


def undrawn(patch: Any) -> None:
    """Let every panel with a picture show a grey spot in its place; what stands there otherwise is as ever.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it [-]
    """
    patch.setattr(
        Drawer,
        "whole",
        lambda drawer, *given, **named: GREY if drawer.picture is not None else _whole(drawer, *given, **named),
    )


@contextmanager
def drawn() -> Iterator[None]:
    """Let them be drawn after all, for tests that look at the picture."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Drawer, "whole", _whole)
        yield
