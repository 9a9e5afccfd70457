"""A fast lossless PNG encoder, so that a slider can drive a picture live.

At 1350 x 630 with 0, 12 and 40 long curves: rows unfiltered, alpha dropped, zlib level 1 take 4, 6 and 15 ms of
processor time (43, 133 and 523 kB); the Up filter takes 9, 6 and 17 ms, the Sub filter 7, 7 and 18 ms.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]

SIGNATURE = b"\x89PNG\r\n\x1a\n"
"""The eight bytes every PNG starts with."""


def encode(pixels: Pixels, texts: Mapping[str, str] | None = None, dpi: float | None = None) -> bytes:
    """Return the PNG file of a picture: 8-bit RGB, rows unfiltered, ``zlib`` level 1; alpha is dropped.

    Parameters:
        pixels: picture, shape (height, width, 3 or 4), of type uint8 [-]
        texts: keyword → text stored in the file, such as ``Description`` [-]
        dpi: pixels per inch stored in the file; none by default [-]

    Returns:
        the bytes of the file [-]

    Errors:
        ``ValueError`` for another shape or type.

    Validity: opaque pictures; a see-through pixel comes out with its colour, as if opaque.

    Source: PNG specification (third edition, W3C 2025): chunks 5.3, filters 9.2, ``iTXt`` 11.3.3.4.
    """
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] not in (3, 4) or 0 in pixels.shape:
        raise ValueError(f"pixels must be uint8 of shape (height, width, 3 or 4), got {pixels.dtype} {pixels.shape}")
    height, width, _ = pixels.shape
    rows = np.empty((height, 1 + 3 * width), np.uint8)
    rows[:, 0] = 0  # filter type None
    for channel in range(3):  # three strided copies: far faster than one of [..., :3]
        rows[:, 1 + channel :: 3] = pixels[..., channel]
    chunks = [SIGNATURE, _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))]
    if dpi is not None:
        per_metre = round(dpi / 0.0254)
        chunks.append(_chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)))
    for key, text in (texts or {}).items():
        chunks.append(_chunk(b"iTXt", key.encode("latin-1") + b"\0\0\0\0\0" + text.encode()))
    chunks += [_chunk(b"IDAT", zlib.compress(rows.data, 1)), _chunk(b"IEND", b"")]
    return b"".join(chunks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    """One chunk: length, kind, data, check sum."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(data, zlib.crc32(kind)))
