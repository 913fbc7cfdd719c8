"""Thumbnails: a cache of this machine, each made again from its picture when it is missing."""

from __future__ import annotations

import secrets
from pathlib import Path

from camsign.pixels.decode import Reduced
from camsign.pixels.opencv import opencv

WIDTH = 320
"""Width of a thumbnail [pixels], or less if the picture is narrower."""

_QUALITY = 80


def thumbnail(reduced: Reduced) -> bytes:
    """Give a JPEG about 320 pixels wide, upright."""
    cv2 = opencv()
    rows, columns = reduced.pixels.shape[:2]
    small = reduced.pixels
    if columns > WIDTH:
        size = (WIDTH, max(1, round(rows * WIDTH / columns)))
        small = cv2.resize(small, size, interpolation=cv2.INTER_LINEAR)  # by less than half
    return bytes(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1])


def thumb_path(thumbs: Path, frame: str) -> Path:
    """Give where the thumbnail of a frame (16 hex digits) lies, 256 folders to spread them over."""
    return thumbs / frame[:2] / f"{frame}.jpg"


def save_thumb(thumbs: Path, frame: str, jpeg: bytes) -> Path:
    """Put a thumbnail in its place, whole or not at all; not forced to the disk, as it is a cache.

    Raises:
        OSError: the cache folder cannot be written.
    """
    path = thumb_path(thumbs, frame)
    temp = path.with_name(f".{frame}-{secrets.token_hex(4)}")
    try:
        temp.write_bytes(jpeg)
    except FileNotFoundError:
        path.parent.mkdir(parents=True, exist_ok=True)
        temp.write_bytes(jpeg)
    try:
        temp.replace(path)
    except PermissionError:  # Windows: someone is just reading the same thumbnail
        temp.unlink()
        if not path.exists():
            raise
    return path
