"""From a file's bytes to the facts that a card's table keeps, or to why the file is not taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from camsign.flows.intake.card_files import CardFile
from camsign.formats.exif import PictureFacts, read_exif
from camsign.formats.jpeg import MAX_PIXELS, inspect
from camsign.formats.kinds import CLIPS, HEAD_BYTES, Kind, sniff
from camsign.formats.png import inspect as inspect_png
from camsign.logbook.records import FrameFacts

_PICTURE_NAMES = ("jpg", "jpeg", "jpe", "png", "heic", "heif")


@dataclass(frozen=True, slots=True)
class Described:
    """What a picture or clip is: kind, metadata, size as stored [pixels], all doubts."""

    kind: Kind
    exif: PictureFacts
    width: int | None = None
    height: int | None = None
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NotTaken:
    """Why a file is not taken in."""

    why: str


def describe(data: bytes, card_path: str) -> Described | NotTaken:
    """Say what a file is from its bytes (for a clip, its first ones); nothing is decoded."""
    kind = sniff(data[:HEAD_BYTES])
    if kind is Kind.JPEG:
        return _jpeg(data)
    if kind is Kind.PNG:
        return _png(data)
    if kind is Kind.HEIC:
        exif = read_exif(data)
        return Described(kind, exif, exif.width, exif.height, exif.doubts)
    if kind in CLIPS:
        return Described(kind, PictureFacts())
    return _not_taken(kind, card_path)


def _not_taken(kind: Kind, card_path: str) -> NotTaken:
    extension = card_path.rpartition(".")[2].lower()
    claims = extension in _PICTURE_NAMES
    if kind is Kind.EMPTY:
        return NotTaken("the file is empty")
    if claims:
        return NotTaken("not a picture, whatever its name says")
    named = f" ({kind.value})" if kind is not Kind.OTHER else ""
    return NotTaken(f"neither a picture nor a clip{named}")


def _jpeg(data: bytes) -> Described | NotTaken:
    seen = inspect(data)
    if not seen.width or not seen.height or seen.width * seen.height > MAX_PIXELS:
        return NotTaken(seen.trouble)
    if seen.trouble and not seen.complete and "before its picture" in seen.trouble:
        return NotTaken(seen.trouble)
    exif = read_exif(data)
    doubts = (*exif.doubts, seen.trouble) if seen.trouble else exif.doubts
    return Described(Kind.JPEG, exif, seen.width, seen.height, doubts)


def _png(data: bytes) -> Described | NotTaken:
    seen = inspect_png(data)
    if not seen.width or not seen.height or seen.width * seen.height > MAX_PIXELS:
        return NotTaken(seen.trouble)
    exif = read_exif(data)
    doubts = (*exif.doubts, seen.trouble) if seen.trouble else exif.doubts
    return Described(Kind.PNG, exif, seen.width, seen.height, doubts)


def row(
    sha256: str, file: CardFile, stored: str | None, known: bool, what: Described, today: date
) -> FrameFacts:
    """Give the table's row for one file. `stored` is its path in the card's folder."""
    e = what.exif
    late = e.shown.doubt(today) if e.shown else ""
    return FrameFacts(
        frame=sha256[:16],
        sha256=sha256,
        file=stored,
        card_path=file.card_path,
        bytes=file.bytes,
        kind=what.kind.value,
        known=known,
        shown=e.shown.iso() if e.shown else None,
        shown_from=e.shown_from or None,
        shown_raw=e.shown_raw or None,
        offset_minutes=e.offset_minutes,
        make=e.make or None,
        model=e.model or None,
        serial=e.serial or None,
        owner=e.owner or None,
        orientation=e.orientation,
        width=what.width,
        height=what.height,
        lat=e.lat,
        lon=e.lon,
        altitude_m=e.altitude_m,
        img_direction_deg=e.img_direction_deg,
        img_direction_ref=e.img_direction_ref or None,
        gps_utc=e.gps_utc or None,
        comment=e.comment or None,
        description=e.description or None,
        software=e.software or None,
        file_time=stamp(file.modified),
        doubts=(*what.doubts, late) if late else what.doubts,
    )


def stamp(modified: float) -> str | None:
    """Give a file's own stamp as ISO 8601 without offset, as this machine shows it.

    FAT keeps a clock's reading without a zone, in steps of 2 s, and systems turn it into an instant
    by their own zone; showing it by that same zone gives the reading back.
    """
    try:
        return datetime.fromtimestamp(modified).isoformat(timespec="seconds")  # noqa: DTZ006
    except (OSError, OverflowError, ValueError):
        return None
