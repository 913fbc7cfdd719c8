"""When a clip was taken, as its container says.

Layouts: ISO/IEC 14496-12, 8.2.2 (movie header: seconds since 1904-01-01, in UTC by the letter, but
cameras write what their clock shows); Microsoft RIFF, AVI's IDIT chunk (text).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import BinaryIO

from camsign.formats.kinds import Kind
from camsign.formats.shown import ShownTime, read_shown

_EPOCH = datetime(1904, 1, 1)  # noqa: DTZ001
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_WORDS = re.compile(
    r"(?:[a-z]{3,9},? )?(?P<month>[a-z]{3}) +(?P<day>\d{1,2}) (?P<clock>\d\d:\d\d:\d\d)"
    r" (?P<year>\d{4})"
)
_MAX_BOXES = 10_000
_AVI_HEAD = 65_536


def container_time(clip: BinaryIO, kind: Kind, size: int) -> tuple[ShownTime | None, str]:
    """Give the clock reading in a clip's container, and how it is written there.

    Args:
        clip: the clip, to be read anywhere.
        kind: what its first bytes say.
        size: its size [bytes].

    Returns:
        The reading, or None where there is none or it is blank; and its text, "" likewise.
    """
    return _avi(clip) if kind is Kind.AVI else _movie(clip, size)


def _movie(clip: BinaryIO, size: int) -> tuple[ShownTime | None, str]:
    for kind, start, end in _boxes(clip, 0, size):
        if kind != b"moov":
            continue
        for inner, at, _ in _boxes(clip, start, end):
            if inner == b"mvhd":
                return _header(clip, at)
    return None, ""


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


def _header(clip: BinaryIO, at: int) -> tuple[ShownTime | None, str]:
    clip.seek(at)
    content = clip.read(12)
    wide = content[:1] == b"\x01"
    seconds = int.from_bytes(content[4:12] if wide else content[4:8], "big")
    if not seconds or seconds >= 1 << 33:
        return None, ""
    return _shown(_EPOCH + timedelta(seconds=seconds)), str(seconds)


def _shown(moment: datetime) -> ShownTime:
    day = (moment.year, moment.month, moment.day)
    return ShownTime(*day, moment.hour, moment.minute, moment.second)


def _avi(clip: BinaryIO) -> tuple[ShownTime | None, str]:
    clip.seek(0)
    head = clip.read(_AVI_HEAD)
    at = head.find(b"IDIT")
    if at < 0:
        return None, ""
    length = min(int.from_bytes(head[at + 4 : at + 8], "little"), 64)
    raw = head[at + 8 : at + 8 + length].decode("latin-1").strip("\x00\r\n ")
    words = _WORDS.fullmatch(" ".join(raw.lower().split()))
    if words and words["month"] in _MONTHS:
        month = _MONTHS.index(words["month"]) + 1
        return read_shown(
            f"{words['year']}:{month:02d}:{words['day']:>02} {words['clock']}"
        ).shown, raw
    return read_shown(raw).shown, raw
