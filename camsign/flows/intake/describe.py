"""From a file's bytes to the row that a card's table keeps, or to why the file is not taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from camsign.flows.intake.card_files import CardFile
from camsign.formats import jpeg, png
from camsign.formats.exif import PictureFacts, read_exif
from camsign.formats.kinds import CLIPS, HEAD_BYTES, OTHERS, Kind, sniff
from camsign.formats.preview import header_size, largest_jpeg
from camsign.logbook.records import FrameFacts

_PICTURE_NAMES = ("jpg", "jpeg", "jpe", "png", "heic", "heif", "webp", "avif", "dng", "nef", "cr2")


@dataclass(frozen=True, slots=True)
class NotTaken:
    """Why a file is not taken in."""

    why: str


def describe(
    data: bytes, file: CardFile, sha256: str, today: date, beside: str = ""
) -> FrameFacts | NotTaken:
    """Say what a file is from its bytes (for a clip, its first ones); nothing is decoded.

    Args:
        data: the bytes.
        file: where they were read.
        sha256: theirs, in hex; "" while it is not known.
        today: no right clock shows a later day.
        beside: the file on the card with which it goes; such a one need be no picture.
    """
    kind = sniff(data[:HEAD_BYTES])
    exif, trouble = PictureFacts(), ""
    width: int | None = None
    height: int | None = None
    if kind in (Kind.JPEG, Kind.PNG):
        seen = jpeg.inspect(data) if kind is Kind.JPEG else png.inspect(data)
        if not seen.width or not seen.height or seen.width * seen.height > jpeg.MAX_PIXELS:
            return NotTaken(seen.trouble)
        if kind is Kind.JPEG and not seen.complete and "before its picture" in seen.trouble:
            return NotTaken(seen.trouble)
        width, height, trouble, exif = seen.width, seen.height, seen.trouble, read_exif(data)
    elif kind is Kind.HEIC:
        exif = read_exif(data)
        width, height = exif.width, exif.height
    elif kind in OTHERS:
        exif = read_exif(data)
        width, height = _size(data, exif)
        if not width or not height:
            return NotTaken("damaged before its picture begins")
    elif kind not in CLIPS and not beside:
        return NotTaken(_no_picture(kind, file.card_path))
    late = exif.shown.doubt(today) if exif.shown else ""
    return FrameFacts(
        frame=sha256[:16],
        sha256=sha256,
        file=None,
        card_path=file.card_path,
        bytes=file.bytes,
        kind=kind.value,
        width=width,
        height=height,
        file_time=stamp(file.modified),
        beside=beside or None,
        doubts=(*exif.doubts, *([trouble] if trouble else []), *([late] if late else [])),
        **cells(exif),
    )


def _size(data: bytes, exif: PictureFacts) -> tuple[int | None, int | None]:
    """Give the size [pixels] of the JPEG that a raw picture holds, or what the picture says."""
    shown = largest_jpeg(data)
    if shown is not None:
        seen = jpeg.inspect(shown)
        return seen.width, seen.height
    return header_size(data) or (exif.width, exif.height)


def _no_picture(kind: Kind, card_path: str) -> str:
    if kind is Kind.EMPTY:
        return "the file is empty"
    if card_path.rpartition(".")[2].lower() in _PICTURE_NAMES:
        return "not a picture, whatever its name says"
    named = f" ({kind.value})" if kind is not Kind.OTHER else ""
    return f"neither a picture nor a clip{named}"


def cells(exif: PictureFacts) -> dict[str, Any]:
    """Give those cells of a row that metadata fill."""
    return {
        "shown": exif.shown.iso() if exif.shown else None,
        "shown_from": exif.shown_from or None,
        "shown_raw": exif.shown_raw or None,
        "offset_minutes": exif.offset_minutes,
        "make": exif.make or None,
        "model": exif.model or None,
        "serial": exif.serial or None,
        "owner": exif.owner or None,
        "orientation": exif.orientation,
        "lat": exif.lat,
        "lon": exif.lon,
        "altitude_m": exif.altitude_m,
        "img_direction_deg": exif.img_direction_deg,
        "img_direction_ref": exif.img_direction_ref or None,
        "gps_utc": exif.gps_utc or None,
        "comment": exif.comment or None,
        "description": exif.description or None,
        "software": exif.software or None,
    }


def stamp(modified: float) -> str | None:
    """Give a file's own stamp as ISO 8601 without offset, as this machine shows it.

    FAT keeps a clock's reading without a zone, in steps of 2 s, and systems turn it into an instant
    by their own zone; showing it by that same zone gives the reading back.
    """
    try:
        return datetime.fromtimestamp(modified).isoformat(timespec="seconds")  # noqa: DTZ006
    except (OSError, OverflowError, ValueError):
        return None
