"""Pictures whose artists are moved but not painted, for tests of results and words; the random walks paint."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.axis import Axis
from matplotlib.collections import Collection
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.spines import Spine
from matplotlib.text import Text

from vdlib.car.shelf import VARIABLE
from vdlib.draw.in_units import in_units
from vdlib.draw.live import LivePicture
from vdlib.draw.png import Pixels


def unpainted(patch: Any) -> None:
    """Let every picture stay unpainted: its PNG then is a print of what its artists are set to.

    Two pictures have the same print only where every artist that is seen has the same data, words and looks. A kept
    background whose artists were set to something else is an error. What ticks, layout and painting itself add is not
    seen.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it [-]
    """
    patch.setattr(LivePicture, "drawing", _drawing)
    patch.setattr(LivePicture, "place", lambda picture: picture.figure.set_layout_engine("none"))


@contextmanager
def made_once(folder: Path) -> Iterator[None]:
    """Make what a file's tests share, its pictures unpainted, its cars in a folder of their own.

    Parameters:
        folder: the folder of saved cars meanwhile [-]
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, str(folder))
        unpainted(patch)
        yield


def _drawing(picture: LivePicture, scale: float | None = None, moves: Iterable[object] = ()) -> Iterator[Pixels]:
    for _ in moves:
        pass
    in_units(picture.figure)
    now, background = prints(picture.figure)
    if picture._kept.setdefault(picture._look(1.0), background) != background:
        raise AssertionError("an old background: what stands still was changed without a word to the picture")
    yield np.frombuffer(now, np.uint8).reshape(4, 4, 4)


def prints(figure: Figure) -> tuple[bytes, bytes]:
    """Return a print of all that a picture shows, and one of its background: what does not move.

    Parameters:
        figure: the figure of a ``LivePicture`` [-]

    Returns:
        both, 64 bytes each; other ones where an artist is set to something else [-]
    """
    whole, background = hashlib.blake2b(), hashlib.blake2b()
    for artist, stands in _inside(figure):
        told = b"".join(_told(part) for part in _set_to(artist)) if artist.get_visible() else b""
        whole.update(told + b";")
        if stands:
            background.update(told + b";")
    return whole.digest(), background.digest()


def _told(part: Any) -> bytes:
    return _rounded(part) if isinstance(part, np.ndarray) else repr(part).encode()


def _rounded(numbers: Any) -> bytes:
    """Numbers to a hundred-thousandth of the largest, far finer than a pixel."""
    if np.ma.isMaskedArray(numbers):
        numbers = np.ma.filled(numbers.astype(float), np.nan)
    numbers = np.asarray(numbers, dtype=float)
    if numbers.size <= 24:  # most are a few corners or two ends, and quicker without arrays
        few = numbers.ravel().tolist()
        size = max((abs(one) for one in few if isfinite(one)), default=0.0) or 1.0
        return repr((f"{size:.4g}", [round(one / size, 5) + 0.0 if isfinite(one) else one for one in few])).encode()
    size = float(np.max(np.abs(numbers), where=np.isfinite(numbers), initial=0.0)) or 1.0
    return f"{size:.4g}".encode() + (np.round(numbers / size, 5) + 0.0).tobytes()


def _inside(artist: Any, stands: bool = True) -> Iterator[tuple[Any, bool]]:
    """All artists inside of one that are seen with it, and whether they stand still; of an axis nothing further."""
    bare = not getattr(artist, "axison", True)
    for child in artist.get_children():
        if isinstance(child, Axis | Spine):
            if isinstance(child, Axis) and not bare:
                yield child, stands
            continue
        stays = stands and not child.get_animated() and child.get_visible()
        yield child, stays
        yield from _inside(child, stays)


def _set_to(artist: Any) -> Iterator[Any]:
    """Data, words and looks of one artist; of an axis its name, placed by painting, and its ticks' words."""
    yield artist.get_alpha()
    if isinstance(artist, Axis):
        yield (
            artist.label.get_text(),
            artist.label.get_color(),
        )
        yield getattr(artist.get_major_formatter(), "seq", None)
    elif isinstance(artist, Line2D):
        yield np.asarray(artist.get_xydata(), float)
        yield artist.get_color(), artist.get_linestyle(), artist.get_linewidth(), artist.get_marker()
    elif isinstance(artist, Text):
        if artist.get_text().strip():
            yield (
                artist.get_text(),
                artist.get_position(),
                artist.get_color(),
                artist.get_rotation(),
                artist.get_weight(),
            )
    elif isinstance(artist, Patch):
        yield np.asarray(artist.get_path().vertices)
        yield artist.get_patch_transform().get_matrix()
        yield artist.get_facecolor(), artist.get_edgecolor(), artist.get_hatch(), artist.get_linewidth()
    elif isinstance(artist, Collection):
        yield from (np.asarray(path.vertices) for path in artist.get_paths())
        yield np.asarray(artist.get_offsets(), float)
        if artist.get_array() is None:
            yield np.asarray(artist.get_facecolor())
        else:  # its colours are worked out when it is painted
            yield np.ma.filled(np.ma.asarray(artist.get_array(), dtype=float), np.nan)
            yield artist.get_clim()
    elif isinstance(artist, AxesImage):
        yield np.asarray(artist.get_array())
        yield artist.get_extent()
    elif hasattr(artist, "get_xlim"):
        yield artist.get_xlim(), artist.get_ylim()
