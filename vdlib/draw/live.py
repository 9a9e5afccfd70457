"""A picture that is kept and redrawn fast: static background drawn once, moving artists drawn over it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache, partial
from io import BytesIO
from itertools import chain
from pathlib import Path
from time import perf_counter
from typing import Any, TypeVar

import numpy as np
from matplotlib import rcParams
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.text import Text

from .in_units import in_units
from .png import Pixels, encode
from .turn import TURN

rcParams["text.hinting"] = "none"  # fitted to whole pixels, letters jump when a picture becomes sharp
AnyArtist = TypeVar("AnyArtist", bound=Artist)
POINT = 72
"""Points in an inch; the figure has one to the screen pixel, so font sizes and line widths are in screen pixels."""

PIECES = re.compile(r"\d|\D+")
"""What a text is put together from."""
ACROSS = {"left": 0.0, "center": 0.5, "right": 1.0}
"""Where along a line of text its place is, as a part of its width."""
DOWN = {"baseline": (0.0, 0.0), "bottom": (0.0, -1.0), "top": (1.0, -1.0), "center": (0.5, -1.0)}
"""How far below its place a line stands, as parts of its height and of its depth below the line."""
MOST = 4000
"""Pieces of text kept of one picture, some hundred bytes each."""
KEPT = 12
"""Backgrounds kept of one picture, each some megabytes."""
PART = 0.008
"""A drawing pauses before its next piece once a part has lasted this long [s]."""


class Overdrawn(Exception):
    """Another drawing of the same picture was begun before this one ended."""


class LivePicture:
    """A figure kept alive for sliders: build it once, change its moving artists' data, call ``render``.

    Sizes are in screen (CSS) pixels, and so are font sizes and line widths; ``scale`` adds sharpness only. While a
    control moves a picture is drawn with one pixel to the screen pixel, which is quicker; then with all its sharpness.
    Moving artists are always drawn over the static ones. The caller fixes the axis limits: by ``frame`` if they change.
    """

    def __init__(self, width: int = 660, height: int = 420, alt: str = "", scale: float = 1.5) -> None:
        """Start an empty picture of this size [screen pixels], its meaning in words and its sharpness [-]."""
        self.width, self.height, self.alt, self.scale = width, height, alt, scale
        self.figure = Figure(
            figsize=(width / POINT, height / POINT), dpi=POINT * scale, layout="constrained", facecolor="white"
        )
        self.canvas: Any = FigureCanvasAgg(self.figure)
        self._moving: list[Artist] = []
        self._kept: dict[Any, Any] = {}
        self._writers: dict[float, _Writer] = {}
        self._drawing: object = None
        """The drawing under way; another one puts an end to it."""

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
        self._kept.clear()

    def frame(self, axes: Axes, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Set the limits of one pair of axes; the last few backgrounds are kept, so going back to one costs nothing.

        From the first drawing on, the axes then keep their places: leave room for the longest tick labels.

        Parameters:
            axes: axes of this figure [-]
            x: limits of its x axis [any]
            y: limits of its y axis [any]
        """
        x, y = (x[0] + 0.0, x[1] + 0.0), (y[0] + 0.0, y[1] + 0.0)  # a minus nought and nought are one limit
        if axes.get_xlim() != x or axes.get_ylim() != y:
            axes.set(xlim=x, ylim=y)

    def pixels(self, scale: float | None = None) -> Pixels:
        """Draw the picture as it now stands.

        Parameters:
            scale: pixels to the screen pixel; the picture's own by default [-]

        Returns:
            a copy of the canvas, shape (height·scale, width·scale, 4) [-]
        """
        self.place()
        while True:
            drawing = self.drawing(scale)
            try:
                while True:
                    with TURN:
                        done = next(drawing)
                    if done is not None:
                        return done
            except Overdrawn:
                continue

    def drawing(self, scale: float | None = None, moves: Iterable[object] = ()) -> Iterator[Pixels | None]:
        """Draw the picture in short parts; take ``TURN`` around each ``next``.

        Parameters:
            scale: pixels to the screen pixel; the picture's own by default [-]
            moves: moves the picture's artists at each step, before it is drawn [-]

        Returns:
            None after each part, and after the last one a copy of the pixels, shape (height·scale, width·scale, 4) [-]

        Errors:
            ``Overdrawn`` when another drawing of this picture has begun since the part before.
        """
        scale = scale or self.scale
        mine = self._drawing = object()
        rcParams["text.hinting"] = "none"  # fitted to whole pixels, letters jump when a picture becomes sharp
        self.figure.set_dpi(POINT * scale)
        since = perf_counter()
        done: Iterator[Callable[[], object]] = (tuple for _ in moves)
        units: list[Callable[[], object]] = [partial(in_units, self.figure)]
        for piece in chain(done, units, self._pieces(scale)):
            if perf_counter() - since > PART:
                yield None
                if self._drawing is not mine:
                    raise Overdrawn
                since = perf_counter()
            piece()
        yield np.array(self.canvas.buffer_rgba())

    def _pieces(self, scale: float) -> Iterator[Callable[[], object]]:
        """What has to be done to draw the picture, piece by piece."""
        renderer: Any = self.canvas.get_renderer()
        found = self._kept.pop(self._look(scale), None)
        if found is None:
            yield renderer.clear
            yield from _static(self.figure, renderer)
            # 990 pixels may be 989.999 in sum: without the half, a last column is not kept and old letters stay in it
            found = self.canvas.copy_from_bbox(self.figure.bbox.padded(0.5))
        self._kept[self._look(scale)] = found  # the latest last; drawing may have moved limits of equal scales
        while len(self._kept) > KEPT:
            del self._kept[next(iter(self._kept))]
        yield partial(self.canvas.restore_region, found)
        writer: Any = self._writers.setdefault(scale, _Writer())
        writer.plain = renderer
        for artist in sorted(self._moving, key=self._depth):
            yield partial(writer.draw, artist) if isinstance(artist, Text) else partial(artist.draw, renderer)

    def render(self, quick: bool = False) -> bytes:
        """Draw the picture as it now stands and give it as a PNG.

        Parameters:
            quick: with one pixel to the screen pixel, however sharp the picture may be [-]

        Returns:
            the bytes of a PNG file [-]
        """
        return encode(self.pixels(min(1.0, self.scale) if quick else None))

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
        Path(path).write_bytes(encode(self.pixels(dpi / POINT), {"Description": self.alt}, dpi))
        self._writers.pop(dpi / POINT)

    def blank(self) -> bytes:
        """Return an empty picture of the same size, for when there is nothing yet to draw.

        Returns:
            the bytes of a PNG file [-]
        """
        return encode(np.full((self.height, self.width, 3), 255, np.uint8))

    @property
    def placed(self) -> bool:
        """Whether the axes have their places."""
        return not isinstance(self.figure.get_layout_engine(), ConstrainedLayoutEngine)

    def place(self) -> None:
        """Place the axes, once for every sharpness and for good, unless the caller has done so.

        It takes longer than a turn may last: call it before another thread can know of the picture.
        """
        if self.placed or not self.figure.axes:
            return
        rcParams["text.hinting"] = "none"
        in_units(self.figure)
        self.figure.set_dpi(POINT * self.scale)
        engine: Any = self.figure.get_layout_engine()
        engine.execute(self.figure)
        self.figure.set_layout_engine("none")

    def _look(self, scale: float) -> tuple[Any, ...]:
        """Key of a background: all that it depends on."""
        return scale, *((*axes.get_xlim(), *axes.get_ylim()) for axes in self.figure.axes)

    def _depth(self, artist: Artist) -> tuple[float, int, float]:
        """Order of drawing: axes by axes, as in a full drawing, then by zorder."""
        axes: Any = artist.axes
        if axes is None:
            return (artist.get_zorder(), 0, 0.0)
        return (axes.get_zorder(), self.figure.axes.index(axes), artist.get_zorder())


def _static(figure: Any, renderer: Any) -> Iterator[Callable[[], object]]:
    """What matplotlib's own drawing of a whole figure does, piece by piece, moving artists left out."""

    def still(children: list[Any]) -> list[Any]:
        return sorted((child for child in children if not child.get_animated()), key=lambda child: child.get_zorder())

    yield partial(figure.patch.draw, renderer)
    for axes in figure.axes:
        locator = axes.get_axes_locator()
        axes.apply_aspect(locator(axes, renderer) if locator else None)
    for child in still([child for child in figure.get_children() if child is not figure.patch]):
        if not isinstance(child, Axes) or not child.get_visible():
            yield partial(child.draw, renderer)
            continue
        axes = child
        whole = bool(axes.axison and axes.get_frame_on())
        hidden: list[Any] = [axes.patch, *([] if whole else axes.spines.values())]
        hidden += [] if axes.axison else [axes.xaxis, axes.yaxis]
        axes._unstale_viewLim()  # type: ignore[attr-defined]
        axes._update_title_position(renderer)  # type: ignore[attr-defined]
        shown = still([part for part in axes.get_children() if all(part is not one for one in hidden)])
        for part in [axes.patch, *shown] if whole else shown:
            yield partial(part.draw, renderer)


class _Writer:
    """Puts level text together from pieces it has drawn before: digits one by one, the rest in runs.

    Text is half the cost of a step otherwise. Pieces stand on whole pixels, and on quarters of one along the line.
    """

    def __init__(self) -> None:
        self.plain: Any = None
        """The renderer that is drawn on."""
        self._kept: dict[Any, Any] = {}

    def draw(self, text: Text) -> None:
        """Draw one text; what is not one level line of plain text is left to the usual way."""
        said = text.get_text()
        if not text.get_visible() or not said:
            return
        down, across = DOWN.get(text.get_verticalalignment()), ACROSS[text.get_horizontalalignment()]
        special = text.get_rotation() or text.get_clip_on() or text.get_bbox_patch() is not None
        if down is None or special or not set(said).isdisjoint("$\n"):
            text.draw(self.plain)
            return
        prop = text.get_fontproperties()
        look = hash(prop)
        pieces = PIECES.findall(said)
        wide, high, low = zip(*(self._size(piece, prop, look) for piece in ("lp", *pieces)), strict=True)
        x, y = text.get_transform().transform(text.get_unitless_position())
        x -= across * sum(wide[1:])
        row = round(self.plain.height - y + down[0] * max(high) + down[1] * max(low))
        colour = np.rint(255 * np.asarray(to_rgb(text.get_color()))).astype(np.uint32)
        opaque = text.get_alpha()
        for piece, width in zip(pieces, wide[1:], strict=True):
            whole, phase = divmod(round(4 * x), 4)
            cover, left, top = self._keep((piece, look, phase), partial(self._drawn, piece, prop, phase))
            self._lay(cover if opaque is None else cover * opaque, whole + left, row + top, colour)
            x += width

    def _keep(self, key: Any, make: Callable[[], Any]) -> Any:
        if key not in self._kept:
            if len(self._kept) >= MOST:
                self._kept.clear()
            self._kept[key] = make()
        return self._kept[key]

    def _size(self, piece: str, prop: Any, look: int) -> Any:
        return self._keep((piece, look), lambda: self.plain.get_text_width_height_descent(piece, prop, False))

    def _drawn(self, piece: str, prop: Any, phase: int) -> tuple[Any, int, int]:
        """Draw one piece on its own; return how far it covers each pixel, and its place."""
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
