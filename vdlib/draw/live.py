"""A picture that is kept and redrawn fast: static background drawn once, moving artists drawn over it."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache, partial
from io import BytesIO
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.text import Text

from .png import Pixels, encode

AnyArtist = TypeVar("AnyArtist", bound=Artist)
POINT = 72
"""Points in an inch; the figure has one to the screen pixel, so font sizes and line widths are in screen pixels."""

PIECES = re.compile(r"\d|\D+")
"""What a text is put together from."""
MOST = 4000
"""Pieces of text kept of one picture, some hundred bytes each."""
KEPT = 8
"""Backgrounds kept of one picture, each some megabytes."""


class LivePicture:
    """A figure kept alive for sliders: build it once, change its moving artists' data, call ``render``.

    Sizes are in screen (CSS) pixels, and so are font sizes and line widths; ``scale`` adds sharpness only.
    Moving artists are always drawn over the static ones. The caller fixes the axis limits: by ``frame`` if they change.
    """

    def __init__(self, width: int = 900, height: int = 420, alt: str = "", scale: float = 1.5) -> None:
        """Start an empty picture of this size [screen pixels], its meaning in words and its sharpness [-]."""
        self.width, self.height, self.alt, self.scale = width, height, alt, scale
        self.figure = Figure(
            figsize=(width / POINT, height / POINT), dpi=POINT * scale, layout="constrained", facecolor="white"
        )
        self.canvas: Any = FigureCanvasAgg(self.figure)
        self._moving: list[Artist] = []
        self._background: Any = None
        self._kept: dict[Any, Any] = {}
        self._framed = False
        self._writer: Any = None

    def moving(self, artist: AnyArtist) -> AnyArtist:
        """Register an artist that changes from one picture to the next, and give it back.

        Parameters:
            artist: any artist that is already in the figure [-]

        Returns:
            the same artist, now left out of the static background [-]
        """
        artist.set_animated(True)
        self._moving.append(artist)
        self.refresh_background()
        return artist

    def refresh_background(self) -> None:
        """Draw the static parts anew at the next ``render``; call it after changing one of them."""
        self._background = None
        self._kept.clear()

    def frame(self, axes: Axes, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Set the limits of one pair of axes; the last few backgrounds are kept, so going back to one costs nothing.

        From the first drawing on, the axes then keep their places: leave room for the longest tick labels.

        Parameters:
            axes: axes of this figure [-]
            x: limits of its x axis [any]
            y: limits of its y axis [any]
        """
        self._framed = True
        if axes.get_xlim() != x or axes.get_ylim() != y:
            axes.set(xlim=x, ylim=y)
            self._background = None

    def pixels(self) -> Pixels:
        """Draw the picture as it now stands.

        Returns:
            a view of the canvas, shape (height·scale, width·scale, 4), overwritten by the next drawing [-]
        """
        if self._background is None:
            self._background = self._static()
        self.canvas.restore_region(self._background)
        renderer = self.canvas.get_renderer()
        if self._writer is None or self._writer.plain is not renderer:
            self._writer = _Writer(renderer)
        for artist in sorted(self._moving, key=self._depth):
            artist.draw(self._writer if isinstance(artist, Text) else renderer)
        return np.asarray(self.canvas.buffer_rgba())

    def render(self) -> bytes:
        """Draw the picture as it now stands and give it as a PNG.

        Returns:
            the bytes of a PNG file [-]
        """
        return encode(self.pixels())

    def save(self, path: str | Path, dpi: float = 2 * POINT) -> None:
        """Write the picture as it now stands, for printing, with its alt text inside as ``Description``.

        Parameters:
            path: where to write, ending in .png [-]
            dpi: pixels per inch; 72 gives one to the screen pixel [-]

        Errors:
            ``ValueError`` for another ending, or when the picture has no alt text.
        """
        if Path(path).suffix != ".png":
            raise ValueError(f"a picture is saved as .png, got {path}")
        if not self.alt.strip():
            raise ValueError("a saved picture needs alt text: set picture.alt to what it shows, in words")
        shown = self.figure.dpi
        try:
            self.figure.set_dpi(dpi)
            self.refresh_background()
            data = encode(self.pixels(), {"Description": self.alt}, dpi)
        finally:
            self.figure.set_dpi(shown)
            self.refresh_background()
        Path(path).write_bytes(data)

    def _static(self) -> Any:
        """The background of the present limits: one kept from before, or drawn anew."""
        limits = tuple((*axes.get_xlim(), *axes.get_ylim()) for axes in self.figure.axes)
        found = self._kept.pop(limits, None)
        if found is None:
            self.canvas.draw()
            found = self.canvas.copy_from_bbox(self.figure.bbox)
            if self._framed:
                self.figure.set_layout_engine("none")
        self._kept[limits] = found  # the latest last
        while len(self._kept) > KEPT:
            del self._kept[next(iter(self._kept))]
        return found

    def _depth(self, artist: Artist) -> tuple[float, int, float]:
        """Order of drawing: axes by axes, as in a full drawing, then by zorder."""
        axes: Any = artist.axes
        if axes is None:
            return (artist.get_zorder(), 0, 0.0)
        return (axes.get_zorder(), self.figure.axes.index(axes), artist.get_zorder())


class _Writer:
    """A renderer that puts level text together from pieces it has drawn before: digits one by one, the rest in runs.

    Text is half the cost of a step otherwise. Pieces stand on whole pixels, and on quarters of one along the line.
    """

    def __init__(self, renderer: Any) -> None:
        self.plain = renderer
        self._kept: dict[Any, Any] = {}

    def __getattr__(self, name: str) -> Any:
        return getattr(self.plain, name)

    def get_text_width_height_descent(self, s: str, prop: Any, ismath: Any) -> tuple[float, float, float]:
        if ismath:
            return self.plain.get_text_width_height_descent(s, prop, ismath)  # type: ignore[no-any-return]
        look = hash(prop)
        wide, high, low = zip(*(self._size(piece, prop, look) for piece in PIECES.findall(s) or [s]), strict=True)
        return sum(wide), max(h - d for h, d in zip(high, low, strict=True)) + max(low), max(low)

    def draw_text(
        self, gc: Any, x: float, y: float, s: str, prop: Any, angle: float, ismath: Any = False, mtext: Any = None
    ) -> None:
        if angle or ismath or gc.get_clip_rectangle() is not None or gc.get_clip_path()[0] is not None:
            self.plain.draw_text(gc, x, y, s, prop, angle, ismath=ismath, mtext=mtext)
            return
        look = hash(prop)
        colour, opaque = np.rint(255 * np.asarray(gc.get_rgb()[:3])).astype(np.uint32), gc.get_alpha()
        for piece in PIECES.findall(s):
            whole, phase = divmod(round(4 * x), 4)
            cover, left, top = self._keep((piece, look, phase), partial(self._drawn, piece, prop, phase))
            self._lay(cover if opaque == 1 else cover * opaque, whole + left, round(y) + top, colour)
            x += self._size(piece, prop, look)[0]

    def _keep(self, key: Any, make: Callable[[], Any]) -> Any:
        if key not in self._kept:
            if len(self._kept) >= MOST:
                self._kept.clear()
            self._kept[key] = make()
        return self._kept[key]

    def _size(self, piece: str, prop: Any, look: int) -> Any:
        return self._keep((piece, look), lambda: self.plain.get_text_width_height_descent(piece, prop, False))

    def _drawn(self, piece: str, prop: Any, phase: int) -> tuple[Any, int, int]:
        """Draw one piece by itself; give how far it covers each pixel, and its place."""
        wide = self.plain.get_text_width_height_descent(piece, prop, False)[0]
        size = int(2 * self.plain.points_to_pixels(prop.get_size_in_points())) + 4
        alone = type(self.plain)(int(wide) + 2 * size, 2 * size, self.plain.dpi)
        alone.draw_text(self.plain.new_gc(), size + phase / 4, size, piece, prop, 0.0)
        cover = np.array(alone.buffer_rgba())[..., 3].astype(np.uint32)
        rows, columns = np.flatnonzero(cover.any(axis=1)), np.flatnonzero(cover.any(axis=0))
        if not rows.size:
            return cover[:0, :0], 0, 0
        cut = cover[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
        return cut, int(columns[0]) - size, int(rows[0]) - size

    def _lay(self, cover: Any, left: int, top: int, colour: Any) -> None:
        """Lay a piece over the picture."""
        picture = np.asarray(self.plain.buffer_rgba())
        cover = cover[max(-top, 0) :, max(-left, 0) :]
        top, left = max(top, 0), max(left, 0)
        under = picture[top : top + cover.shape[0], left : left + cover.shape[1], :3]
        cover = cover[: under.shape[0], : under.shape[1], None]
        under[:] = (under * (255 - cover) + colour * cover + 127) // 255


def greyed(png: bytes, note: str) -> bytes:
    """Fade a picture toward grey and lay a note across it, so that it cannot be taken for a valid one.

    Parameters:
        png: the picture, as a PNG [-]
        note: a few words to lay across it [-]

    Returns:
        a PNG of the same size [-]
    """
    picture = np.rint(np.asarray(imread(BytesIO(png), format="png"))[..., :3] * 255)
    grey = picture.mean(axis=2, keepdims=True)
    faded = np.repeat(np.rint(0.25 * grey + 0.75 * 225), 3, axis=2).astype(np.uint8)
    height, width = faded.shape[:2]
    banner = _banner(note, width, max(24, min(height, width // 16)))
    top = (height - banner.shape[0]) // 2
    faded[max(top, 0) : max(top, 0) + banner.shape[0]] = banner[:height]
    return encode(faded)


@lru_cache(maxsize=8)
def _banner(note: str, width: int, height: int) -> Pixels:
    """A white band with the note in black in its middle."""
    figure = Figure(
        figsize=(width / POINT, height / POINT), dpi=POINT, facecolor="white", edgecolor="black", linewidth=3
    )
    canvas: Any = FigureCanvasAgg(figure)
    size = min(0.5 * height, 1.6 * width / max(len(note), 1))
    figure.text(0.5, 0.5, note, ha="center", va="center", fontsize=size, color="black")
    canvas.draw()
    return np.array(canvas.buffer_rgba())[..., :3]
