"""What a file is, told from its first bytes and never from its name."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import BinaryIO, Literal

HEAD_BYTES = 512
"""How many leading bytes `sniff` wants to see [bytes]."""


class Kind(StrEnum):
    """What the first bytes say a file is."""

    JPEG = "jpeg"
    PNG = "png"
    HEIC = "heic"
    GIF = "gif"
    TIFF = "tiff"
    WEBP = "webp"
    RAW = "raw"
    AVI = "avi"
    MOV = "mov"
    MP4 = "mp4"
    MTS = "mts"
    GPX = "gpx"
    KML = "kml"
    XML = "xml"
    EMPTY = "empty"
    OTHER = "other"


OTHERS = frozenset({Kind.TIFF, Kind.WEBP, Kind.RAW})
"""Pictures that are opened by a general reader, or by the JPEG that lies in them."""
PICTURES = OTHERS | {Kind.JPEG, Kind.PNG, Kind.HEIC, Kind.GIF}
CLIPS = frozenset({Kind.AVI, Kind.MOV, Kind.MP4, Kind.MTS})

_MAGIC = (
    (b"\xff\xd8\xff", Kind.JPEG),
    (b"\x89PNG\r\n\x1a\n", Kind.PNG),
    (b"GIF87a", Kind.GIF),
    (b"GIF89a", Kind.GIF),
    (b"II*\x00", Kind.TIFF),
    (b"MM\x00*", Kind.TIFF),
    # Makers' own raw pictures that are no TIFF by their first bytes (from memory).
    (b"IIRO", Kind.RAW),
    (b"IIRS", Kind.RAW),
    (b"MMOR", Kind.RAW),
    (b"IIU\x00", Kind.RAW),
    (b"II\x1a\x00\x00\x00HEAPCCDR", Kind.RAW),
    (b"FUJIFILMCCD-RAW", Kind.RAW),
    (b"\x00MRM", Kind.RAW),
    (b"FOVb", Kind.RAW),
)
_RIFF = {b"AVI ": Kind.AVI, b"WEBP": Kind.WEBP}
_HEIC = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif")
_BRANDS = {b"crx ": Kind.RAW, b"qt  ": Kind.MOV, **dict.fromkeys(_HEIC, Kind.HEIC)}
# A QuickTime file older than the ftyp box begins with one of these boxes.
_MOV_BOXES = {b"moov", b"mdat", b"wide", b"pnot", b"skip", b"free"}
_ROOT = re.compile(r"<(?:[A-Za-z_][\w.-]*:)?(gpx|kml)[\s>/]", re.IGNORECASE)


# ModelPixelScale, ModelTiepoint, ModelTransformation, GeoKeyDirectory.
_GEOTIFF = frozenset({33550, 33922, 34264, 34735})


def sniff(head: bytes) -> Kind:
    """Tell what a file is from its first `HEAD_BYTES` bytes (fewer if the file is shorter).

    Source of the marks: ISO/IEC 10918-1 (JPEG), 15948 (PNG), 14496-12 (ftyp), 23008-12 (HEIF),
    TIFF 6.0, GIF89a, Microsoft RIFF, Apple QuickTime File Format, RFC 9649 (WebP), ISO/IEC 13818-1
    (transport streams: a packet of 188 bytes begins with 0x47; recorders put 4 bytes before each).
    """
    if not head:
        return Kind.EMPTY
    for magic, kind in _MAGIC:
        if head.startswith(magic):
            return kind
    if head[:4] == b"RIFF" and head[8:12] in _RIFF:
        return _RIFF[head[8:12]]
    if any(set(head[first::step]) == {0x47} for first, step in ((0, 188), (4, 192)) if head[400:]):
        return Kind.MTS
    if head[4:8] == b"ftyp":
        return _BRANDS.get(head[8:12], Kind.MP4)
    if head[4:8] in _MOV_BOXES:
        return Kind.MOV
    return _by_markup(head)


def is_map(file: BinaryIO) -> bool:
    """Say whether a TIFF holds a map or heights of the ground: its first directory has a GeoTIFF
    tag. False for anything else, and where the file is damaged.

    Source of the tags: OGC GeoTIFF 1.1 (19-008r4), 7.1; of the directory: TIFF 6.0, section 2.
    """
    file.seek(0)
    head = file.read(8)
    order: Literal["little", "big"] = "little" if head[:2] == b"II" else "big"
    if sniff(head) is not Kind.TIFF or len(head) < 8:
        return False
    file.seek(int.from_bytes(head[4:8], order))
    entries = file.read(12 * int.from_bytes(file.read(2), order))
    tags = (int.from_bytes(entries[at : at + 2], order) for at in range(0, len(entries), 12))
    return not _GEOTIFF.isdisjoint(tags)


def _by_markup(head: bytes) -> Kind:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = head[: len(head) // 2 * 2].decode("utf-16", errors="replace")
    else:
        text = head.removeprefix(b"\xef\xbb\xbf").decode("latin-1")
    text = text.lstrip()
    root = _ROOT.search(text)
    if root and text.startswith("<"):
        return Kind(root[1].lower())
    return Kind.XML if text.startswith("<?xml") else Kind.OTHER
