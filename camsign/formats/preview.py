"""The JPEG that lies in a raw picture, which cameras put in for their own screen; sizes of others.

It is found by its marks and walked by its segments (ISO/IEC 10918-1, annex B), whatever the maker's
layout around it. The sensor's own data may be a lossless JPEG, which no viewer opens.
"""

from __future__ import annotations

import io

from camsign.formats.jpeg import MAX_PIXELS, segments

_SOI, _EOI = b"\xff\xd8\xff", b"\xff\xd9"
_SOS = 0xDA
_VIEWED = frozenset({0xC0, 0xC1, 0xC2})
"""Starts of frames that viewers open: baseline, extended, progressive."""
_MOST = 200
"""So many marks are followed; sensor data may hold them by chance."""


def largest_jpeg(data: bytes) -> bytes | None:
    """Give the JPEG of most pixels that lies whole in a file; None if there is none."""
    best, most, at = None, 0, 0
    for _ in range(_MOST):
        at = data.find(_SOI, at)
        if at < 0:
            break
        pixels, end = _measured(data, at)
        if end is None:
            at += 2
            continue
        if most < pixels <= MAX_PIXELS:
            best, most = data[at:end], pixels
        at = end
    return best


def header_size(data: bytes) -> tuple[int, int] | None:
    """Give width and height [pixels] as a header says, None if Pillow does not know it."""
    from PIL import Image

    try:
        with Image.open(io.BytesIO(data)) as picture:
            return picture.size
    # A damaged file makes its reader index and unpack whatever it claims: nearly any error comes.
    except Exception:  # noqa: BLE001
        return None


def _measured(data: bytes, at: int) -> tuple[int, int | None]:
    """Give a JPEG's pixels, 0 if viewers cannot open it, and where it ends; None if it is none."""
    pixels = 0
    window = data[at : at + 300_000]  # headers are short; what follows is searched in place
    for marker, start, end in segments(window):
        if marker in _VIEWED and end - start >= 5:
            sides = (window[start + 1 : start + 3], window[start + 3 : start + 5])
            height, width = (int.from_bytes(side, "big") for side in sides)
            pixels = width * height
        elif marker == _SOS:
            stop = data.find(_EOI, at + end)
            return pixels, stop + 2 if stop >= 0 else None
    return 0, None
