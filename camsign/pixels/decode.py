"""The one decode of a picture, at about an eighth of its size, that all measuring works on.

A JPEG's discrete cosine blocks are 8 x 8, so libjpeg gives 1/8, 1/4 or 1/2 of the size without
computing the rest (libjpeg.txt, "scale_num"); at 1/8 each pixel is the mean of a block.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.formats.exif import read_exif
from camsign.formats.jpeg import MAX_PIXELS, inspect, largest_jpeg
from camsign.formats.kinds import HEAD_BYTES, OTHERS, Kind, sniff
from camsign.formats.png import inspect as inspect_png
from camsign.pixels.opencv import opencv

LONG_SIDE = 320
"""The reduced picture's long side is at least this, if the picture's own is [pixels]."""

MAX_LONG_SIDE = 640
"""And at most this [pixels]."""

Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Reduced:
    """A picture at reduced size, upright.

    `pixels`: (rows, columns, 3), blue green red, 0..255, turned as its EXIF orientation says.
    `width`, `height`: of the picture as stored [pixels]. `seen`: the share of the rows that the
    file still holds, 1.0 for a whole picture; below them all is one gray. Of a picture cut short
    that had to be turned only those rows are there. `trouble`: one line for
    people, "" when all is well.
    """

    pixels: Pixels
    width: int
    height: int
    seen: float = 1.0
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Undecodable:
    """A picture that cannot be opened; `reason` is one line for people."""

    reason: str


def decode_reduced(
    data: bytes, width: int | None = None, height: int | None = None
) -> Reduced | Undecodable:
    """Decode a picture once, to a long side of 320 to 640 pixels (less if it is smaller).

    HEIC is not opened here (`camsign.pixels.see`). A raw picture gives the JPEG that lies in it.

    Args:
        data: the whole file.
        width: as stored [pixels], if already known.
        height: the same.

    Returns:
        The reduced picture. A JPEG cut short gives what its bytes still hold, with `seen` below
        1 and a `trouble`. Whatever else cannot be decoded gives `Undecodable`; nothing is raised.
    """
    kind = sniff(data[:HEAD_BYTES])
    if kind in OTHERS:
        return _otherwise(data)
    if kind not in (Kind.JPEG, Kind.PNG):
        return Undecodable(_no_picture(kind))
    facts = inspect_png(data) if kind is Kind.PNG else inspect(data)
    if not width or not height:
        width, height = facts.width, facts.height
    if not width or not height:
        return Undecodable(facts.trouble or "its header gives no size")
    if width * height > MAX_PIXELS:
        return Undecodable(f"it claims {width} x {height} pixels, more than a camera makes")
    if not facts.complete:
        return _partly(data, width, height, facts.trouble)
    pixels = _decode(data, max(width, height))
    if pixels is None:
        return Undecodable("its pixels are damaged and cannot be decoded")
    return Reduced(_limit(pixels), width, height)


def _no_picture(kind: Kind) -> str:
    if kind is Kind.EMPTY:
        return "the file is empty"
    return f"not a picture that can be opened here (its first bytes say: {kind.value})"


_UPRIGHT = {2: (0, True), 3: (2, False), 4: (2, True), 5: (3, True), 6: (3, False), 7: (1, True)}
_UPRIGHT[8] = (1, False)
"""By Exif orientation: quarter turns to the left, and whether to mirror afterward left to right."""


def _otherwise(data: bytes) -> Reduced | Undecodable:
    """Decode a raw picture by the JPEG in it, else what Pillow opens, turned upright."""
    shown = largest_jpeg(data)
    if shown is None:
        return _by_pillow(data)
    reduced = decode_reduced(shown)
    if isinstance(reduced, Undecodable) or read_exif(shown).orientation != 1:
        return reduced  # upright already, by the JPEG's own word
    return replace(reduced, pixels=_turned(reduced.pixels, read_exif(data).orientation))


def _turned(pixels: Pixels, orientation: int) -> Pixels:
    turn, mirror = _UPRIGHT.get(orientation, (0, False))
    pixels = np.rot90(pixels, turn)
    return np.ascontiguousarray(pixels[:, ::-1] if mirror else pixels)


def _by_pillow(data: bytes) -> Reduced | Undecodable:
    from PIL import Image, ImageOps

    try:
        with Image.open(io.BytesIO(data)) as picture:
            width, height = picture.size
            if width * height > MAX_PIXELS:
                return Undecodable(f"it claims {width} x {height} pixels, more than a camera makes")
            upright = ImageOps.exif_transpose(picture).convert("RGB")
            pixels = np.asarray(upright)[:, :, ::-1]
    # A damaged file makes its reader index and unpack whatever it claims: nearly any error comes.
    except Exception as e:  # noqa: BLE001
        return Undecodable(f"its pixels cannot be opened here ({type(e).__name__})")
    return Reduced(_limit(np.ascontiguousarray(pixels)), width, height)


def size_of(data: bytes, kind: Kind = Kind.JPEG) -> tuple[int, int]:
    """Give width and height as stored [pixels], 0 where the header does not say."""
    facts = inspect_png(data) if kind is Kind.PNG else inspect(data)
    return facts.width, facts.height


def _divisor(long_side: int) -> int:
    return next((d for d in (8, 4, 2) if long_side // d >= LONG_SIDE), 1)


def _decode(data: bytes, long_side: int) -> Pixels | None:
    cv2 = opencv()
    flags = {
        8: cv2.IMREAD_REDUCED_COLOR_8,
        4: cv2.IMREAD_REDUCED_COLOR_4,
        2: cv2.IMREAD_REDUCED_COLOR_2,
        1: cv2.IMREAD_COLOR,
    }
    try:
        out: Pixels | None = cv2.imdecode(np.frombuffer(data, np.uint8), flags[_divisor(long_side)])
    except cv2.error:
        return None
    return out if out is not None and out.size else None


def _limit(pixels: Pixels) -> Pixels:
    rows, columns = pixels.shape[:2]
    scale = MAX_LONG_SIDE / max(rows, columns)
    if scale >= 1:
        return pixels
    cv2 = opencv()
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)


def _partly(data: bytes, width: int, height: int, trouble: str) -> Reduced | Undecodable:
    """Decode what is left of a file cut short. Pillow, because OpenCV gives nothing at all."""
    from PIL import Image, ImageFile

    ImageFile.LOAD_TRUNCATED_IMAGES = True
    try:
        with Image.open(io.BytesIO(data)) as picture:
            divisor = _divisor(max(width, height))
            picture.draft("RGB", (max(1, width // divisor), max(1, height // divisor)))
            pixels = np.asarray(picture.convert("RGB"))[:, :, ::-1].copy()
    except (OSError, SyntaxError, ValueError, MemoryError, Image.DecompressionBombError):
        return Undecodable(trouble)
    seen = _rows_there(pixels) / pixels.shape[0]
    if not seen:
        return Undecodable(trouble)
    orientation = read_exif(data).orientation
    if orientation != 1:  # what is missing need not lie below then, so it is left out
        pixels, seen = _turned(pixels[: _rows_there(pixels)], orientation), 1.0
    return Reduced(_limit(pixels), width, height, seen, trouble)


def _rows_there(pixels: NDArray[Any]) -> int:
    """Count the rows above the flat filling that stands for what is missing."""
    differs = (pixels != pixels[-1, -1]).any(axis=(1, 2))
    there = np.flatnonzero(differs)
    return int(there[-1]) + 1 if there.size else 0
