"""What is seen in a file that was just placed: a look and thumbnails, whatever kind it is."""

from __future__ import annotations

import contextlib
import io
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from camsign.formats.jpeg import MAX_PIXELS
from camsign.formats.kinds import CLIPS, HEAD_BYTES, Kind, sniff
from camsign.logbook import let_go
from camsign.logbook.records import Look
from camsign.pixels.decode import LONG_SIDE, MAX_LONG_SIDE, Reduced, Undecodable, decode_reduced
from camsign.pixels.look import look
from camsign.pixels.opencv import opencv
from camsign.pixels.thumbs import save_thumb, thumb_path, thumbnail

MIDDLE = "-middle"
"""What follows the frame in the name of the thumbnail of a clip's middle picture."""


def see(
    frame: str, kind: Kind, data: bytes | None, path: Path, thumbs: Path | None
) -> tuple[Look | None, str]:
    """Look at a picture, or at a clip's first picture, and save its thumbnails.

    Args:
        frame: 16 hex digits.
        kind: what its first bytes say.
        data: its bytes, unless it is a long clip.
        path: its verified copy.
        thumbs: the folder of thumbnails; None saves none.

    Returns:
        What its pixels measure, or None; and why it cannot be looked at, "" if that is no trouble.
    """
    found = pictures(kind, data, path)
    if isinstance(found, Undecodable):
        return None, found.reason
    if not found:
        return None, ""
    if thumbs is not None:
        with contextlib.suppress(OSError):  # a cache: made again when it is shown
            for name, reduced in zip((frame, frame + MIDDLE), found, strict=False):
                save_thumb(thumbs, name, thumbnail(reduced))
    return look(frame, found[0]), ""


def pictures(kind: Kind, data: bytes | None, path: Path) -> list[Reduced] | Undecodable:
    """Give a picture, or a clip's first and middle one, reduced; none of a kind not opened here."""
    if kind in CLIPS:
        return clip_pictures(path)
    if data is None:
        return []
    if kind is Kind.HEIC:
        return _heic(data)
    reduced = decode_reduced(data)
    return reduced if isinstance(reduced, Undecodable) else [reduced]


def remake_thumb(thumbs: Path, frame: str, file: Path) -> Path | Undecodable:
    """Make a frame's thumbnail, and a clip's second one, unless it is there already.

    Returns:
        Its path, or why there is none: the file is not on this machine or cannot be decoded.

    Raises:
        OSError: the cache folder cannot be written.
    """
    path = thumb_path(thumbs, frame)
    if path.exists():
        return path
    try:
        with file.open("rb") as opened:
            kind = sniff(opened.read(HEAD_BYTES))
        data = None if kind in CLIPS else file.read_bytes()
    except OSError as e:
        if kept := let_go.small_of(file, frame):
            return save_thumb(thumbs, frame, kept.read_bytes())
        return Undecodable(f"not on this machine or not readable ({e.strerror})")
    found = pictures(kind, data, file)
    if isinstance(found, Undecodable):
        return found
    if not found:
        return Undecodable("a HEIC picture: to see it, pip install camsign[heic]")
    for name, reduced in zip((frame, frame + MIDDLE), found, strict=False):
        save_thumb(thumbs, name, thumbnail(reduced))
    return path


def clip_pictures(path: Path) -> list[Reduced] | Undecodable:
    """Give a clip's first and middle picture, reduced."""
    cv2 = opencv()
    clip = cv2.VideoCapture(str(path))
    try:
        count = int(clip.get(cv2.CAP_PROP_FRAME_COUNT))
        found = [_next_picture(clip)]
        if count > 2:
            clip.set(cv2.CAP_PROP_POS_FRAMES, count // 2)
            found.append(_next_picture(clip))
    except cv2.error:
        found = []
    finally:
        clip.release()
    pictures = [p for p in found if p is not None]
    return pictures or Undecodable("its pictures cannot be decoded here")


def _next_picture(clip: Any) -> Reduced | None:
    there, pixels = clip.read()
    if not there or pixels is None or pixels.ndim != 3:
        return None
    return _reduced(pixels)


def _reduced(pixels: Any) -> Reduced:
    cv2 = opencv()
    rows, columns = pixels.shape[:2]
    scale = min(1.0, MAX_LONG_SIDE / max(rows, columns))
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return Reduced(np.asarray(small, np.uint8), columns, rows)


def opens_heic() -> bool:
    """Say whether HEIC pictures can be opened here: by the optional package pillow-heif."""
    return find_spec("pillow_heif") is not None


def _heic(data: bytes) -> list[Reduced] | Undecodable:
    """Decode a HEIC picture, by the small picture in it if that will do, where its package is."""
    if not opens_heic():
        return []
    import pillow_heif

    try:
        file = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True)
        picture = file[file.primary_index]
        columns, rows = picture.size
        if columns * rows > MAX_PIXELS:
            return Undecodable("it claims more pixels than a camera makes")
        shown = _small_in(picture) or picture
        pixels = np.asarray(shown.to_pillow().convert("RGB"))[:, :, ::-1]
    except (OSError, ValueError, RuntimeError, EOFError, MemoryError) as e:
        return Undecodable(f"its pixels are damaged and cannot be decoded ({e})")
    return [replace(_reduced(pixels.copy()), width=columns, height=rows)]


def _small_in(picture: Any) -> Any | None:
    """Give a HEIC picture's own small one that is large enough: opening 200 MP takes 2.5 GB."""
    columns, rows = picture.size
    for index, side in enumerate(picture.info.get("thumbnails", [])):
        small = picture.get_thumbnail(index) if side >= LONG_SIDE else None
        if small and abs(small.size[0] * rows - small.size[1] * columns) < 0.02 * columns * rows:
            return small
    return None
