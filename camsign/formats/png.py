"""A PNG's size and whether it is whole, from its chunks alone: nothing is decoded.

Source of the layout: ISO/IEC 15948 (PNG), clauses 5 and 11.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from camsign.formats.jpeg import CUT, Inspected, judged

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_MAX_CHUNKS = 100_000
_MAX_PROFILE = 1_000_000


def inspect(data: bytes) -> Inspected:
    """Walk the chunks of a whole PNG file held in memory; never raises, whatever the bytes.

    It is complete if every chunk lies inside the file: a decoder that believes a chunk's claim of
    two gigabytes takes that much memory.
    """
    if not data.startswith(_SIGNATURE):
        return Inspected(0, 0, False, "not a PNG, whatever its name says")
    width = height = 0
    if data[12:16] == b"IHDR" and len(data) >= 24:
        width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
    kinds = list(_chunks(data))
    complete = bool(kinds) and kinds[-1] == b"IEND" and kinds.count(b"IHDR") == 1
    return judged(width, height, complete, "" if width and height else CUT)


def exif_profile(data: bytes) -> bytes | None:
    """Give the TIFF block that converters keep as text, "Raw profile type exif"; None without one.

    It is the block in hexadecimal behind a line of its length, deflated in a zTXt chunk (layout
    from memory).
    """
    at = data.find(b"zTXtRaw profile type ")
    if at < 4:
        return None
    end = at + 4 + int.from_bytes(data[at - 4 : at], "big")
    name, _, rest = data[at + 4 : end].partition(b"\x00")
    if name.split()[-1].lower() not in (b"exif", b"app1"):
        return None
    try:
        text = zlib.decompressobj().decompress(rest[1:], _MAX_PROFILE)
        block = bytes.fromhex("".join(text.decode("ascii").split("\n", 3)[3].split()))
    except (zlib.error, ValueError, IndexError):
        return None
    return block.removeprefix(b"Exif\x00\x00")


def _chunks(data: bytes) -> Iterator[bytes]:
    """Yield the type of each chunk that lies wholly inside the file, up to the end mark."""
    at = len(_SIGNATURE)
    for _ in range(_MAX_CHUNKS):
        end = at + 12 + int.from_bytes(data[at : at + 4], "big")
        if at + 12 > len(data) or end > len(data):
            return
        yield data[at + 4 : at + 8]
        if data[at + 4 : at + 8] == b"IEND":
            return
        at = end
