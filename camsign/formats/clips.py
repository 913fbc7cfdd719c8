"""When a clip was taken, as its container says.

Layouts: ISO/IEC 14496-12, 8.2.2 (movie header: seconds since 1904-01-01, in UTC by the letter, but
cameras write what their clock shows); Apple QuickTime File Format, "Metadata" (keys and ilst: local
time with its offset); Microsoft RIFF, AVI's IDIT chunk (text).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import BinaryIO

from camsign.formats.kinds import Kind
from camsign.formats.shown import ShownTime, read_shown

_EPOCH = datetime(1904, 1, 1)  # noqa: DTZ001
_UNIX = datetime(1970, 1, 1)  # noqa: DTZ001
_TO_1970 = 2_082_844_800
_CREATED = b"com.apple.quicktime.creationdate"
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_WORDS = re.compile(
    r"(?:[a-z]{3,9},? )?(?P<month>[a-z]{3}) +(?P<day>\d{1,2}) (?P<clock>\d\d:\d\d:\d\d)"
    r" (?P<year>\d{4})"
)
_MAX_BOXES = 10_000
_AVI_HEAD = 65_536


@dataclass(frozen=True, slots=True)
class ContainerTime:
    """A reading (None where there is none, or it is blank) and how it is written, "" likewise.

    `offset_minutes` [min east of UTC]: only where the text states one.
    """

    shown: ShownTime | None = None
    raw: str = ""
    offset_minutes: int | None = None


def container_time(clip: BinaryIO, kind: Kind, size: int) -> ContainerTime:
    """Give the clock reading in a clip's container.

    Args:
        clip: the clip, to be read anywhere.
        kind: what its first bytes say.
        size: its size [bytes].
    """
    if kind is Kind.MTS:  # its pictures hold the time, in notes of one maker
        return ContainerTime()
    return _avi(clip) if kind is Kind.AVI else _movie(clip, size)


def _movie(clip: BinaryIO, size: int) -> ContainerTime:
    for kind, start, end in _boxes(clip, 0, size):
        if kind != b"moov":
            continue
        found = ContainerTime()
        for inner, at, stop in _boxes(clip, start, end):
            if inner == b"mvhd":
                found = _header(clip, at)
            elif inner == b"meta" and (dated := _creation_date(clip, at, stop)):
                return dated
        return found
    return ContainerTime()


def _creation_date(clip: BinaryIO, start: int, end: int) -> ContainerTime | None:
    """The local time with its offset that phones write, by its key; None if it is not there."""
    keys: list[bytes] = []
    for kind, at, stop in _boxes(clip, start, end):
        if kind == b"keys":
            keys = [_read(clip, a, b) for _, a, b in _boxes(clip, at + 8, stop)]
        elif kind == b"ilst" and _CREATED in keys:
            wanted = (keys.index(_CREATED) + 1).to_bytes(4, "big")
            for item, a, b in _boxes(clip, at, stop):
                if item == wanted:
                    return _stated(_read(clip, a, b)[16:].decode("utf-8", "replace"))
    return None


def _read(clip: BinaryIO, start: int, end: int) -> bytes:
    clip.seek(start)
    return clip.read(min(end - start, 1000))


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
    return ContainerTime(_shown(epoch + timedelta(seconds=seconds)), str(seconds))


def _shown(moment: datetime) -> ShownTime:
    day = (moment.year, moment.month, moment.day)
    return ShownTime(*day, moment.hour, moment.minute, moment.second)


def _avi(clip: BinaryIO) -> ContainerTime:
    clip.seek(0)
    head = clip.read(_AVI_HEAD)
    at = head.find(b"IDIT")
    if at < 0:
        return ContainerTime()
    length = min(int.from_bytes(head[at + 4 : at + 8], "little"), 64)
    raw = head[at + 8 : at + 8 + length].decode("latin-1").strip("\x00\r\n ")
    words = _WORDS.fullmatch(" ".join(raw.lower().split()))
    if words and words["month"] in _MONTHS:
        month = _MONTHS.index(words["month"]) + 1
        text = f"{words['year']}:{month:02d}:{words['day']:>02} {words['clock']}"
        return ContainerTime(read_shown(text).shown, raw)
    return ContainerTime(read_shown(raw).shown, raw)
