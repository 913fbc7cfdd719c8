"""A card's file is read once, its bytes or a long clip's pieces, and described from them.

What describes it is the row that a card's table keeps. Tests stand in a bad card.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from io import BytesIO
from itertools import chain
from pathlib import Path
from typing import Any

from camsign.flows.intake.card_files import CardFile
from camsign.formats import jpeg, png
from camsign.formats.exif import PictureFacts, read_exif
from camsign.formats.jpeg import header_size, largest_jpeg
from camsign.formats.kinds import CLIPS, HEAD_BYTES, OTHERS, Kind, is_map, sniff
from camsign.logbook.records import FrameFacts
from camsign.systems import long_path

PIECE = 8_000_000
"""How much of a long file is held at once [bytes]."""

LARGE = 48_000_000
"""A file longer than this is copied in pieces [bytes]."""

_OF_METADATA = (
    "shown_from", "shown_raw", "offset_minutes", "make", "model", "serial", "owner", "orientation",
    "lat", "lon", "altitude_m", "img_direction_deg", "img_direction_ref", "gps_utc", "comment",
    "description", "software",
)  # fmt: skip
_PICTURE_NAMES = ("jpg", "jpeg", "jpe", "png", "heic", "heif", "webp", "avif", "dng", "nef", "cr2")


NO_PICTURE = "neither a picture nor a clip"
"""How the reason begins why a file of another kind is left on the card."""


class CardReadError(Exception):
    """The card did not hand a file's bytes out; `why` is what the system said, or what is missing.

    A reader or driver that gives out ends a file early as readily as it reports an error.
    """

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


class Reader:
    """The calls by which a card is read."""

    def read(self, path: str) -> bytes:
        """Give a file's bytes.

        Raises:
            OSError: the card does not hand them out.
        """
        return Path(long_path(path)).read_bytes()

    def pieces(self, path: str) -> Iterator[bytes]:
        """Give a file's bytes in pieces.

        Raises:
            OSError: the card does not hand them out.
        """
        with Path(long_path(path)).open("rb") as f:
            while piece := f.read(PIECE):
                yield piece


READER = Reader()


def read_whole(reader: Reader, path: str, listed: int) -> bytes:
    """Give all of a file's bytes, at least as many as the card listed.

    Raises:
        CardReadError: the card does not hand them out, or not all of them.
    """
    try:
        data = reader.read(path)
    except OSError as e:
        raise CardReadError(_words(e)) from e
    if len(data) < listed:
        raise CardReadError(_short(len(data), listed))
    return data


def pieces_once(reader: Reader, path: str, listed: int) -> tuple[bytes, Iterator[bytes]]:
    """Give a long file's first piece, and all its pieces, from one reading.

    Raises:
        CardReadError: the card does not hand them out, or fewer bytes than it listed; at once, or
            while the pieces are taken.
    """
    pieces = _guarded(reader.pieces(path), listed)
    first = next(pieces, b"")
    return first, chain([first], pieces)


def _guarded(pieces: Iterator[bytes], listed: int) -> Iterator[bytes]:
    """The card's errors under a name of their own, lest they pass for the logbook's disk's."""
    count = 0
    try:
        for piece in pieces:
            count += len(piece)
            yield piece
    except OSError as e:  # what the taker of a piece raises does not come in here
        raise CardReadError(_words(e)) from e
    if count < listed:
        raise CardReadError(_short(count, listed))


def _words(e: OSError) -> str:
    return e.strerror or type(e).__name__


def _short(came: int, listed: int) -> str:
    return f"{came:,} of its {listed:,} bytes came"


def describe(
    data: bytes, file: CardFile, sha256: str, today: date, beside: str = ""
) -> FrameFacts | str:
    """Give a file's row from its bytes (for a clip, its first ones), or why it is not taken in.

    Nothing is decoded.

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
            return seen.trouble
        if kind is Kind.JPEG and not seen.complete and "before its picture" in seen.trouble:
            return seen.trouble
        width, height, trouble, exif = seen.width, seen.height, seen.trouble, read_exif(data)
    elif kind is Kind.HEIC:
        exif = read_exif(data)
        width, height = exif.width, exif.height
    elif kind is Kind.TIFF and is_map(BytesIO(data)):
        return f"{NO_PICTURE} (a map or heights of the ground)"
    elif kind in OTHERS:
        exif = read_exif(data)
        width, height = _size(data, exif)
        if not width or not height:
            return "damaged before its picture begins"
    elif kind not in CLIPS and not beside:
        return _no_picture(kind, file.card_path)
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
    return f"{NO_PICTURE}{named}"


def cells(exif: PictureFacts) -> dict[str, Any]:
    """Give those cells of a row that metadata fill; no cell is an empty text."""
    said = {name: getattr(exif, name) for name in _OF_METADATA}
    shown = exif.shown.iso() if exif.shown else None
    return {"shown": shown, **{n: None if value == "" else value for n, value in said.items()}}


def stamp(modified: float) -> str | None:
    """Give a file's own stamp as ISO 8601 without offset, as this machine shows it.

    FAT keeps a clock's reading without a zone, in steps of 2 s, and systems turn it into an instant
    by their own zone; showing it by that same zone gives the reading back.
    """
    try:
        return datetime.fromtimestamp(modified).isoformat(timespec="seconds")  # noqa: DTZ006
    except (OSError, OverflowError, ValueError):
        return None
