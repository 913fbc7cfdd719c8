"""A buck's best pictures: which they are, and as a folder to show or send."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from datetime import datetime
from math import ceil
from pathlib import Path

import numpy as np

from camsign.answers.result import INNER
from camsign.errors import InputRefused
from camsign.formats.kinds import CLIPS
from camsign.logbook.database import sql_beside
from camsign.logbook.far import Progress
from camsign.logbook.placing import place
from camsign.logbook.session import Session
from camsign.pixels.info_strip import MAX_SHARE, find_strips
from camsign.tags.bucks import find_buck

MOST = 20
_QUALITY = 92


@dataclass(frozen=True, slots=True)
class Best:
    """A picture of a buck: its frame, local wall-clock time, camera, and file in the logbook."""

    frame: str
    local: datetime
    camera: str
    file: str


@dataclass(frozen=True, slots=True)
class PicturesWritten:
    """The pictures written, those refused and why. `as_taken`: as the camera wrote them, with the
    place and camera in them; else drawn anew without.
    """

    buck: str = field(metadata=INNER)
    written: tuple[Path, ...]
    refused: tuple[str, ...]
    as_taken: bool


def best_pictures(session: Session, buck_id: str, most: int) -> list[Best]:
    """Give a buck's best pictures: those chosen to know him by first, then by day and sharpness."""
    clips = ", ".join(f"'{kind.value}'" for kind in sorted(CLIPS))
    sql = sql_beside(__file__, "best_pictures.sql").replace("$clips", clips)
    rows = session.con.execute(sql, {"buck": buck_id, "most": most}).fetchall()
    return [Best(*row) for row in rows]


def write_pictures(
    session: Session, buck: str, folder: Path, most: int = MOST, as_taken: bool = False,
    progress: Progress | None = None,
) -> PicturesWritten:  # fmt: skip
    """Write a buck's best pictures.

    Drawn anew, a picture holds no place, no camera and no time but in its name; what the camera
    burned into the picture itself stays.

    Args:
        session: the open logbook.
        buck: his name or id.
        folder: where they go; it is made.
        most: how many.
        as_taken: the bytes as the camera wrote them.
        progress: told (done, of) of the pictures.

    Raises:
        UsageError: there is no such buck.
        InputRefused: no picture of him can be written.
    """
    found = find_buck(session, buck)
    best = best_pictures(session, found.buck_id, most)
    if not best:
        raise InputRefused(f"there is no picture of {found.buck} that is sure", "tag some first")
    folder.mkdir(parents=True, exist_ok=True)
    written, refused = [], []
    for n, one in enumerate(best, 1):
        original = session.folder.original(one.file)
        at = f"{one.local:%Y-%m-%d %H%M} {_clean(one.camera)} {one.frame[:6]}"
        name = f"{n:02d} {_clean(found.buck)} {at}"
        path = folder / f"{name}{original.suffix.lower() if as_taken else '.jpg'}"
        try:
            data = original.read_bytes()
            place(path, data if as_taken else drawn_anew(data), read_only=False)
            written.append(path)
        except (OSError, ValueError) as e:
            refused.append(f"{one.file} left out: {e}")
        if progress is not None:
            progress(n, len(best))
    if not written:
        raise InputRefused(refused[0])
    return PicturesWritten(found.buck, tuple(written), tuple(refused), as_taken)


def drawn_anew(data: bytes, widest: int = 0, cut: bool = False) -> bytes:
    """Give a picture as a JPEG of its pixels alone: upright, without metadata.

    Args:
        data: a picture of any kind that can be decoded.
        widest: no wider and no taller than so many pixels; 0: as it is.
        cut: without the rows where cameras print their strip: as far as it reaches; at top and
            bottom as far as one may reach, where its edge is not found.

    Raises:
        ValueError: it cannot be decoded.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(data)) as picture:
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, Image.DecompressionBombError) as e:
        raise ValueError(f"it cannot be decoded ({e})") from e
    if cut:
        top, bottom = find_strips(np.asarray(upright.convert("L")))
        if not top and not bottom:
            top = bottom = ceil(upright.height * MAX_SHARE)
        upright = upright.crop((0, top, upright.width, upright.height - bottom))
    if widest:
        upright.thumbnail((widest, widest))
    bare = Image.frombytes("RGB", upright.size, upright.tobytes())
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY if not widest else 82, optimize=True)
    return out.getvalue()


def _clean(name: str) -> str:
    """A name that every system takes for a file's."""
    return re.sub(r'[<>:"/\\|?*\x00-\x1f]+', "_", name).strip(" .")[:40] or "_"
