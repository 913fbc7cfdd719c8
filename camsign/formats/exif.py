"""A picture's own metadata as plain facts, with every doubt stated.

Tag meanings: Exif 2.32 (CIPA DC-008-2019); names here are the standard's own.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from camsign.formats.exif_tags import (
    Tags,
    number,
    numbers,
    raw_text,
    raw_value,
    text_of,
    user_comment,
)
from camsign.formats.jpeg import before_pixels, exif_block, largest_jpeg, written_comment
from camsign.formats.kinds import HEAD_BYTES, PICTURES, Kind, sniff
from camsign.formats.notes import (
    Notes,
    Taken,
    read_notes,
    serial_in_xmp,
    taken_in_iptc,
    taken_in_xmp,
)
from camsign.formats.png import exif_profile
from camsign.formats.shown import ShownTime, read_offset, read_shown

_READS = 20_000
"""exifread makes some 300 small reads for an ordinary picture; hostile loops make millions."""

_TIMES = (
    ("DateTimeOriginal", "EXIF DateTimeOriginal", "Original"),
    ("DateTimeDigitized", "EXIF DateTimeDigitized", "Digitized"),
    ("DateTime", "Image DateTime", ""),
)

# New in Exif 2.31; exifread of this day knows it by number only.
_ACCURACY = ("GPS GPSHPositioningError", "GPS Tag 0x001F")
_BODIES = ("EXIF BodySerialNumber", "Image BodySerialNumber")

_TIFF = rb"(?=II\*\x00|MM\x00\*)"
_MARKS = {
    Kind.PNG: re.compile(rb"(?:eXIf|Exif\x00\x00)" + _TIFF),
    Kind.HEIC: re.compile(rb"(?:eXIf|Exif\x00\x00)" + _TIFF),
    Kind.WEBP: re.compile(rb"EXIF[\s\S]{4}(?:Exif\x00\x00)?" + _TIFF),
    Kind.RAW: re.compile(rb"CMT1" + _TIFF),
}
"""Behind which the TIFF block stands; a WebP's chunk by RFC 9649, a raw picture's from memory."""


@dataclass(frozen=True, slots=True)
class PictureFacts:
    """What a picture's metadata says, as read; text fields are "" and others None when absent.

    `shown` is the camera clock's reading, from the tag that `shown_from` names (the first that
    can be read of DateTimeOriginal, DateTimeDigitized, DateTime), written there as `shown_raw`.
    `offset_minutes` [min east of UTC] as the camera claims.
    `orientation` 1 to 8. `width`, `height` [pixels] as the metadata, not the picture, says.
    `lat`, `lon` [degrees, WGS 84, north and east positive]; `altitude_m` [m above sea level];
    `img_direction_deg` [degrees, 0 to 360] by `img_direction_ref`: "true", "magnetic" or "".
    `accuracy_m` is how far off the position may be, as the receiver claims [m].
    `gps_utc` is ISO 8601 text in UTC. `doubts` holds one line for each thing not to be trusted.
    """

    shown: ShownTime | None = None
    shown_from: str = ""
    shown_raw: str = ""
    offset_minutes: int | None = None
    make: str = ""
    model: str = ""
    serial: str = ""
    owner: str = ""
    orientation: int = 1
    width: int | None = None
    height: int | None = None
    lat: float | None = None
    lon: float | None = None
    altitude_m: float | None = None
    img_direction_deg: float | None = None
    img_direction_ref: str = ""
    accuracy_m: float | None = None
    gps_utc: str = ""
    comment: str = ""
    description: str = ""
    software: str = ""
    doubts: tuple[str, ...] = ()


class _OverrunError(Exception):
    """The metadata led the reader in circles."""


class _MeteredBytes(io.BytesIO):
    """Bytes that stop a reader which hostile metadata sends round and round."""

    reads = 0

    def read(self, size: int | None = -1, /) -> bytes:
        self.reads += 1
        if self.reads > _READS:
            raise _OverrunError
        return super().read(size)


def read_exif(data: bytes) -> PictureFacts:
    """Read a picture of any kind held in memory; never raises, whatever the bytes.

    A JPEG needs only its first 256 KB here. Of makers' notes only trail cameras' are read.
    """
    kind = sniff(data[:HEAD_BYTES])
    data = before_pixels(data) if kind is Kind.JPEG else data  # else two megabytes are searched
    block = exif_block(data) if kind is Kind.JPEG else _block_elsewhere(data, kind)
    if block is None:
        return _or_written_beside(
            PictureFacts(doubts=("the camera wrote no details into it",)), data, Notes()
        )
    doubts: list[str] = []
    tags = _read_tags(block, doubts)
    if not tags:
        return _or_written_beside(PictureFacts(doubts=tuple(doubts)), data, Notes())
    notes = read_notes(raw_value(tags, block, 0x927C))
    facts = _facts(tags, user_comment(tags, block) or notes.label, doubts)
    return _or_written_beside(facts, data, notes)


def _or_written_beside(facts: PictureFacts, data: bytes, notes: Notes) -> PictureFacts:
    """The facts with what stands only in a trail camera's notes, in XMP, IPTC or a JPEG's comment.

    A taking time from there counts where EXIF has none, or only that of the last save.
    """
    facts = replace(
        facts,
        serial=facts.serial or notes.serial or serial_in_xmp(data),
        comment=facts.comment or (written_comment(data) if data[:2] == b"\xff\xd8" else ""),
    )
    if facts.shown is not None and facts.shown_from != "DateTime":
        return facts
    noted = Taken(notes.shown, None, "notes") if notes.shown else None
    found = noted or taken_in_xmp(data) or taken_in_iptc(data)
    if found is None or found.shown == facts.shown:
        return facts
    raw = f"{found.source} {found.shown.iso()}"
    where = "the camera's own notes" if found is noted else found.source
    return replace(
        facts,
        shown=found.shown,
        shown_from=found.source,
        shown_raw=raw,
        offset_minutes=found.offset_minutes,
        doubts=(*facts.doubts, f"its time is only in {where}"),
    )


def _block_elsewhere(data: bytes, kind: Kind) -> bytes | None:
    """The TIFF block found by its kind's mark; else the file, for exifread to search."""
    if kind not in PICTURES:
        return None
    mark = _MARKS[kind].search(data) if kind in _MARKS else None
    if mark is not None:
        return data[mark.end() :]
    if kind is Kind.PNG:
        return exif_profile(data)
    return _block_of_raw(data) if kind is Kind.RAW else data


def _block_of_raw(data: bytes) -> bytes | None:
    """The block of a raw picture that is a TIFF but for its mark, else of the JPEG in it."""
    order: Any = {b"II": "little", b"MM": "big"}.get(data[:2])
    if order and not data.startswith(b"II\x1a"):
        return data[:2] + (42).to_bytes(2, order) + data[4:]
    shown = largest_jpeg(data)
    return exif_block(shown) if shown else None


def _read_tags(block: bytes, doubts: list[str]) -> Tags:
    import exifread

    logging.getLogger("exifread").setLevel(logging.CRITICAL)  # doubts say it; stderr is for people
    try:
        tags: Tags = exifread.process_file(
            _MeteredBytes(_first_directory_only(block)),
            details=False,
            extract_thumbnail=False,
            truncate_tags=False,
        )
    except _OverrunError:
        doubts.append("the details in it lead in circles and were not read")
        return {}
    # The reader indexes and unpacks whatever a damaged file claims, so nearly any error can come.
    except Exception as err:  # noqa: BLE001
        doubts.append(f"the details in it are damaged and were not read ({type(err).__name__})")
        return {}
    if not tags:
        doubts.append("the details that the camera wrote into it can't be read")
    return tags


def _first_directory_only(block: bytes) -> bytes:
    """The block without its thumbnail's directory, which nobody needs and which is often broken."""
    if not block.startswith((b"II*\x00", b"MM\x00*")):
        return block
    order: Any = "little" if block.startswith(b"II") else "big"
    first = int.from_bytes(block[4:8], order)
    link = first + 2 + 12 * int.from_bytes(block[first : first + 2], order)
    if link + 4 > len(block):
        return block
    return block[:link] + bytes(4) + block[link + 4 :]


def _facts(tags: Tags, comment: str, doubts: list[str]) -> PictureFacts:
    shown, raw, source, offset = _time(tags, doubts)
    lat, lon = _position(tags, doubts)
    height, below = number(tags, "GPS GPSAltitude"), number(tags, "GPS GPSAltitudeRef") == 1
    direction = _first(tags, lambda n: 0 <= n <= 360, "GPS GPSImgDirection")
    ref = text_of(tags, "GPS GPSImgDirectionRef")[:1] if direction is not None else ""
    return PictureFacts(
        shown=shown,
        shown_from=source,
        shown_raw=raw,
        offset_minutes=offset,
        make=text_of(tags, "Image Make"),
        model=text_of(tags, "Image Model"),
        serial=_serial(tags, doubts),
        owner=text_of(tags, "EXIF CameraOwnerName") or text_of(tags, "Image Artist"),
        orientation=int(_first(tags, range(1, 9).__contains__, "Image Orientation") or 1),
        width=_pixels(tags, "EXIF ExifImageWidth", "Image ImageWidth"),
        height=_pixels(tags, "EXIF ExifImageLength", "Image ImageLength"),
        lat=lat,
        lon=lon,
        altitude_m=-height if height is not None and below else height,
        img_direction_deg=direction,
        img_direction_ref={"T": "true", "M": "magnetic"}.get(ref, ""),
        accuracy_m=_first(tags, lambda n: n > 0, *_ACCURACY),
        gps_utc=_gps_utc(tags),
        comment=comment,
        description=text_of(tags, "Image ImageDescription"),
        software=text_of(tags, "Image Software"),
        doubts=tuple(doubts),
    )


def _time(tags: Tags, doubts: list[str]) -> tuple[ShownTime | None, str, str, int | None]:
    """The first time that can be read, its raw text, its tag and its offset."""
    refused: list[str] = []
    raw_seen = ""
    for source, key, suffix in _TIMES:
        if key not in tags:
            continue
        raw = raw_text(tags, key)
        raw_seen = raw_seen or raw
        reading = read_shown(raw)
        if reading.doubt and not any(reading.doubt in known for known in refused):
            refused.append(f"{source}: {reading.doubt}")
        if reading.shown is not None:
            doubts.extend(refused)
            shown, part = reading.shown, text_of(tags, f"EXIF SubSecTime{suffix}")
            if part.isascii() and part.isdigit():
                shown = replace(shown, fraction_s=float(f"0.{part[:6]}"))
            offset = _offset(tags, suffix)
            return shown, raw, source, reading.offset_minutes if offset is None else offset
    doubts.extend(refused or ["it holds no date or time"])
    return None, raw_seen, "", None


def _offset(tags: Tags, suffix: str) -> int | None:
    """The offset of this very time; that of DateTime (Exif 2.31) only if both are the same time."""
    offset = read_offset(raw_text(tags, f"EXIF OffsetTime{suffix}"))
    saved = raw_text(tags, "Image DateTime")
    if offset is None and saved in ("", raw_text(tags, f"EXIF DateTime{suffix}")):
        return read_offset(raw_text(tags, "EXIF OffsetTime"))
    return offset


def _position(tags: Tags, doubts: list[str]) -> tuple[float | None, float | None]:
    if "GPS GPSLatitude" not in tags and "GPS GPSLongitude" not in tags:
        return None, None
    lat = _angle(tags, "GPS GPSLatitude", {"N": 1, "S": -1}, 90)
    lon = _angle(tags, "GPS GPSLongitude", {"E": 1, "W": -1}, 180)
    if lat is None or lon is None:
        doubts.append("its GPS position cannot be read")
        return None, None
    if lat == 0 and lon == 0:
        doubts.append("its GPS position is 0, 0: the receiver had no fix")
        return None, None
    if text_of(tags, "GPS GPSStatus") == "V":
        doubts.append("its GPS position was not fresh when the picture was taken")
    return lat, lon


def _angle(tags: Tags, key: str, signs: dict[str, int], limit: int) -> float | None:
    """Degrees, minutes and seconds with the hemisphere's sign [degrees]; None if not whole."""
    sign = signs.get(text_of(tags, f"{key}Ref")[:1].upper())
    parts = numbers(tags, key)
    if sign is None or len(parts) != 3 or parts[0] is None:
        return None
    degrees = parts[0] + (parts[1] or 0) / 60 + (parts[2] or 0) / 3600
    return sign * degrees if 0 <= degrees <= limit else None


def _gps_utc(tags: Tags) -> str:
    """GPSDateStamp and GPSTimeStamp as ISO 8601 in UTC; "" unless both are whole."""
    clock = numbers(tags, "GPS GPSTimeStamp")
    if len(clock) != 3 or any(part is None or part < 0 for part in clock):
        return ""
    hour, minute, second = (part or 0.0 for part in clock)
    shown = read_shown(
        f"{text_of(tags, 'GPS GPSDate')} {int(hour):02d}:{int(minute):02d}:{int(second):02d}"
    ).shown
    if shown is None:
        return ""
    rest = f"{second % 1:.3f}"[1:].rstrip("0").rstrip(".")
    return f"{shown.iso()}{rest}Z"


def _serial(tags: Tags, doubts: list[str]) -> str:
    key = next((k for k in _BODIES if k in tags), _BODIES[0])
    raw = raw_text(tags, key).strip("\x00 ")
    if raw.isprintable():
        return raw
    doubts.append("its serial number is unreadable")
    return ""


def _first(tags: Tags, fits: Callable[[float], bool], *keys: str) -> float | None:
    """The first of these tags' numbers that fits."""
    found = (number(tags, key) for key in keys)
    return next((value for value in found if value is not None and fits(value)), None)


def _pixels(tags: Tags, *keys: str) -> int | None:
    value = _first(tags, lambda n: n > 0, *keys)
    return None if value is None else int(value)
