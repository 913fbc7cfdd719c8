"""When and where a clip was taken, as its container says.

Layouts: ISO/IEC 14496-12, 8.2.2 (movie header: seconds since 1904-01-01, in UTC by the letter, but
cameras write what their clock shows); Apple QuickTime File Format, "Metadata" (keys and ilst: local
time with its offset) and "User data" (the place); ISO 6709, annex H (how a place is written);
Microsoft RIFF, AVI's IDIT chunk (text).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import BinaryIO

from camsign.formats.kinds import Kind
from camsign.formats.shown import ShownTime, read_shown
from camsign.units import MONTHS

_EPOCH = datetime(1904, 1, 1)  # noqa: DTZ001
_UNIX = datetime(1970, 1, 1)  # noqa: DTZ001
_TO_1970 = 2_082_844_800
_CREATED = b"com.apple.quicktime.creationdate"
_LOCATED = b"com.apple.quicktime.location.ISO6709"
_LAT = r"([+-](?:\d\d|\d{4}|\d{6})(?:\.\d+)?)"
_LON = r"([+-](?:\d{3}|\d{5}|\d{7})(?:\.\d+)?)"
_PLACE = re.compile(_LAT + _LON + r"([+-]\d+(?:\.\d+)?)?(?=CRS|[/\s\0]|$)")
_WORDS = re.compile(
    r"(?:[a-z]{3,9},? )?(?P<month>[a-z]{3}) +(?P<day>\d{1,2}) (?P<clock>\d\d:\d\d:\d\d)"
    r" (?P<year>\d{4})"
)
_MAX_BOXES = 10_000
_AVI_HEAD = 65_536


@dataclass(frozen=True, slots=True)
class ContainerTime:
    """A reading (None where there is none, or it is blank) and how it is written, "" likewise.

    `offset_minutes` [min east of UTC]: only where the text states one. `lat`, `lon` [degrees,
    WGS 84, north and east positive]; `altitude_m` [m].
    """

    shown: ShownTime | None = None
    raw: str = ""
    offset_minutes: int | None = None
    lat: float | None = None
    lon: float | None = None
    altitude_m: float | None = None


def container_time(clip: BinaryIO, kind: Kind, size: int) -> ContainerTime:
    """Give the clock reading in the container of a clip of this size [bytes]."""
    if kind is Kind.MTS:  # its pictures hold the time, in notes of one maker
        return ContainerTime()
    return _avi(clip) if kind is Kind.AVI else _movie(clip, size)


def _movie(clip: BinaryIO, size: int) -> ContainerTime:
    moov = next((b for b in _boxes(clip, 0, size) if b[0] == b"moov"), None)
    if moov is None:
        return ContainerTime()
    header = dated = ContainerTime()
    place = ""
    for inner, at, stop in _boxes(clip, *moov[1:]):
        if inner == b"mvhd":
            header = _header(clip, at)
        elif inner == b"meta":
            said = _said(clip, at, stop)
            dated = _stated(said.get(_CREATED, "")) or dated
            place = said.get(_LOCATED, "") or place
        elif inner == b"udta":
            places = (b for b in _boxes(clip, at, stop) if b[0] == b"\xa9xyz")
            for _, start, end in places if not place else ():
                place = place or _read(clip, start + 4, end).decode("ascii", "replace")
    return _placed(dated if dated.shown else header, place)


def _said(clip: BinaryIO, start: int, end: int) -> dict[bytes, str]:
    """What phones write by name: the text of each key."""
    keys: list[bytes] = []
    said = {}
    for kind, at, stop in _boxes(clip, start, end):
        if kind == b"keys":
            keys = [_read(clip, a, b) for _, a, b in _boxes(clip, at + 8, stop)]
        elif kind == b"ilst":
            for item, a, b in _boxes(clip, at, stop):
                number = int.from_bytes(item, "big")
                if 0 < number <= len(keys):
                    said[keys[number - 1]] = _read(clip, a, b)[16:].decode("utf-8", "replace")
    return said


def _placed(found: ContainerTime, text: str) -> ContainerTime:
    """The reading with the place that a text states; where none can be read, as it was."""
    match = _PLACE.match(text.strip())
    if match is None:
        return found
    lat, lon = _degrees(match[1], 2), _degrees(match[2], 3)
    if abs(lat) > 90 or abs(lon) > 180 or (lat == 0 and lon == 0):
        return found
    height = float(match[3]) if match[3] else None
    return replace(found, lat=lat, lon=lon, altitude_m=height)


def _degrees(text: str, digits: int) -> float:
    """Degrees, with minutes and seconds if more than `digits` stand before the point."""
    whole = text[1:].split(".")[0]
    rest = text[1 + digits :]
    if len(whole) == digits:
        value = float(text[1:])
    elif len(whole) == digits + 2:
        value = int(whole[:digits]) + float(rest) / 60
    else:
        value = int(whole[:digits]) + int(rest[:2]) / 60 + float(rest[2:] or 0) / 3600
    return -value if text[0] == "-" else value


def _read(clip: BinaryIO, start: int, end: int) -> bytes:
    clip.seek(start)
    return clip.read(max(0, min(end - start, 1000)))


def _stated(text: str) -> ContainerTime | None:
    reading = read_shown(text)
    if reading.shown is None or reading.offset_minutes is None:
        return None
    return ContainerTime(reading.shown, text, reading.offset_minutes)


def _boxes(clip: BinaryIO, start: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Yield (type, start, end) of the content of each box between two places."""
    for _ in range(_MAX_BOXES):
        clip.seek(start)
        head = clip.read(16)
        if start + 8 > end or len(head) < 8:
            return
        length, content = int.from_bytes(head[:4], "big"), start + 8
        if length == 1:
            length, content = int.from_bytes(head[8:16], "big"), start + 16
        stop = end if length == 0 else min(start + length, end)
        if stop < content:
            return
        yield head[4:8], content, stop
        start = stop


def _header(clip: BinaryIO, at: int) -> ContainerTime:
    clip.seek(at)
    content = clip.read(12)
    wide = content[:1] == b"\x01"
    seconds = int.from_bytes(content[4:12] if wide else content[4:8], "big")
    if not seconds or seconds >= 1 << 33:
        return ContainerTime()
    # No clip is older than 1970: such a writer counted from there, as computers do.
    epoch = _EPOCH if seconds >= _TO_1970 else _UNIX
    moment = epoch + timedelta(seconds=seconds)
    return ContainerTime(ShownTime(*moment.timetuple()[:6]), str(seconds))


def _avi(clip: BinaryIO) -> ContainerTime:
    clip.seek(0)
    head = clip.read(_AVI_HEAD)
    at = head.find(b"IDIT")
    if at < 0:
        return ContainerTime()
    length = min(int.from_bytes(head[at + 4 : at + 8], "little"), 64)
    raw = head[at + 8 : at + 8 + length].decode("latin-1").strip("\x00\r\n ")
    words = _WORDS.fullmatch(" ".join(raw.lower().split()))
    if words and words["month"] in MONTHS:
        month = MONTHS.index(words["month"]) + 1
        text = f"{words['year']}:{month:02d}:{words['day']:>02} {words['clock']}"
        return ContainerTime(read_shown(text).shown, raw)
    return ContainerTime(read_shown(raw).shown, raw)
