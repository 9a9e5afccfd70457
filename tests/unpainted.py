"""Pictures whose artists are moved but not painted, for tests of results and words; the random walks paint."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from matplotlib.axis import Axis
from matplotlib.collections import Collection
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.spines import Spine
from matplotlib.text import Text

from vdlib.draw.in_units import in_units
from vdlib.draw.live import LivePicture
from vdlib.draw.png import Pixels


def unpainted(patch: Any) -> None:
    """Let every picture stay unpainted: its PNG then is a print of what its artists are set to.

    Two pictures have the same print only where every artist that is seen has the same data, words and looks. What
    ticks, layout and painting itself add, and whether a background is out of date, is not seen.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it [-]
    """
    patch.setattr(LivePicture, "drawing", _drawing)
    patch.setattr(LivePicture, "place", lambda picture: picture.figure.set_layout_engine("none"))


def _drawing(picture: LivePicture, scale: float | None = None, moves: Iterable[object] = ()) -> Iterator[Pixels]:
    for _ in moves:
        pass
    in_units(picture.figure)
    yield _print(picture.figure)


def _print(figure: Figure) -> Pixels:
    told = hashlib.blake2b()
    for artist in _inside(figure):
        for part in _set_to(artist) if artist.get_visible() else ():
            told.update(_rounded(part) if isinstance(part, np.ndarray) else repr(part).encode())
        told.update(b";")
    return np.frombuffer(told.digest(), np.uint8).reshape(4, 4, 4)


def _rounded(numbers: Any) -> bytes:
    """Numbers to a hundred-thousandth of the largest, far finer than a pixel."""
    numbers = np.ma.filled(np.ma.asarray(numbers, dtype=float), np.nan)
    size = float(np.max(np.abs(numbers), where=np.isfinite(numbers), initial=0.0)) or 1.0
    return f"{size:.4g}".encode() + (np.round(numbers / size, 5) + 0.0).tobytes()


def _inside(artist: Any) -> Iterator[Any]:
    """All artists inside of one that are seen with it; of an axis only its name."""
    bare = not getattr(artist, "axison", True)
    for child in artist.get_children():
        if isinstance(child, Axis | Spine):
            if isinstance(child, Axis) and not bare:
                yield child.label
            continue
        yield child
        yield from _inside(child)


def _set_to(artist: Any) -> Iterator[Any]:
    """Data, words and looks of one artist."""
    yield artist.get_alpha()
    if isinstance(artist, Line2D):
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
        yield np.asarray(artist.get_facecolor())
    elif isinstance(artist, AxesImage):
        yield np.asarray(artist.get_array())
        yield artist.get_extent()
    elif hasattr(artist, "get_xlim"):
        yield artist.get_xlim(), artist.get_ylim()
