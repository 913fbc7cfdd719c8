"""Taking times beside EXIF: XMP, IPTC, PNG's raw profile; and patterns that could hang."""

from __future__ import annotations

import io
import zlib

import made_cards as made
import pytest
from PIL import Image, PngImagePlugin

from camsign.formats.exif import read_exif
from camsign.formats.patterns import checked


def saved(when: str, **beside: bytes) -> bytes:
    """A picture that an editor saved: EXIF holds only DateTime, XMP or IPTC when it was taken."""
    block = Image.Exif()
    block[0x0131], block[0x0132] = "An Editor 5", when
    data = made.jpeg(1, block.tobytes())
    parts = b"".join(
        mark + (len(body) + 2).to_bytes(2, "big") + body for mark, body in segments(beside)
    )
    return data[:2] + parts + data[2:]


def segments(beside: dict[str, bytes]) -> list[tuple[bytes, bytes]]:
    marks = {"xmp": b"\xff\xe1", "iptc": b"\xff\xed"}
    heads = {"xmp": b"http://ns.adobe.com/xap/1.0/\0", "iptc": b"Photoshop 3.0\0"}
    return [(marks[k], heads[k] + body) for k, body in beside.items()]


@pytest.mark.parametrize(
    "packet",
    [
        b'<rdf:Description exif:DateTimeOriginal="2012-08-27T16:42:33-07:00"/>',
        b"<exif:DateTimeOriginal>2012-08-27T16:42:33-07:00</exif:DateTimeOriginal>",
        b'<x xmp:CreateDate="2019-01-01T00:00:00" photoshop:DateCreated="2012-08-27T16:42:33"/>',
    ],
)
def test_xmp_tells_when_a_saved_picture_was_taken(packet: bytes) -> None:
    found = read_exif(saved("2019:02:03 04:05:06", xmp=packet))
    assert found.shown is not None and found.shown.iso() == "2012-08-27T16:42:33"
    assert found.shown_from == "XMP" and "only in XMP" in found.doubts[-1]
    assert found.offset_minutes == (-420 if b"-07" in packet else None)


def test_iptc_tells_when_a_saved_picture_was_taken() -> None:
    # IPTC-NAA IIM 4.2: 2:55 CCYYMMDD, 2:60 HHMMSS±HHMM
    records = b"\x1c\x02\x37\x00\x0820120827\x1c\x02\x3c\x00\x0b164233-0700"
    found = read_exif(saved("2019:02:03 04:05:06", iptc=records))
    assert found.shown is not None and found.shown.iso() == "2012-08-27T16:42:33"
    assert (found.shown_from, found.offset_minutes) == ("IPTC", -420)


def test_a_camera_that_writes_only_datetime_is_believed() -> None:
    assert read_exif(saved("2019:02:03 04:05:06")).shown_from == "DateTime"
    for name, when in (
        ("photoshop:DateCreated", "2019-02-03T04:05:06"),  # the same
        ("photoshop:DateCreated", "2012-08-27T00:00:00"),  # a day only
        ("xmp:CreateDate", "2012-08-27T16:42:33"),  # when a document was begun
    ):
        packet = f'<x {name}="{when}"/>'.encode()
        assert read_exif(saved("2019:02:03 04:05:06", xmp=packet)).shown_from == "DateTime"


def test_xmp_never_overrules_the_cameras_own_time() -> None:
    data = made.jpeg(1)
    body = b'http://ns.adobe.com/xap/1.0/\0<x exif:DateTimeOriginal="2012-08-27T16:42:33"/>'
    data = data[:2] + b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body + data[2:]
    assert read_exif(data).shown_from == "DateTimeOriginal"


@pytest.mark.parametrize(
    "tag, saved_at, minutes",
    [
        (0x9011, "2026:01:01 00:00:00", -300),  # OffsetTimeOriginal goes with DateTimeOriginal
        (0x9010, "2026:01:01 00:00:00", None),  # OffsetTime with DateTime, here another time
        (0x9010, "2025:10:01 06:30:00", -300),
    ],
)
def test_an_offset_belongs_to_its_own_time(tag: int, saved_at: str, minutes: int | None) -> None:
    block = Image.Exif()
    block[0x0132] = saved_at
    block._ifds[0x8769] = {0x9003: "2025:10:01 06:30:00", tag: "-05:00"}
    assert read_exif(made.jpeg(1, block.tobytes())).offset_minutes == minutes


def test_a_png_of_a_converter_keeps_its_exif_as_text() -> None:
    block = made.exif()
    lines = "\n".join(block.hex()[i : i + 72] for i in range(0, len(block.hex()), 72))
    text = f"\nexif\n{len(block):8d}\n{lines}\n"
    info, out = PngImagePlugin.PngInfo(), io.BytesIO()
    info.add_text("Raw profile type exif", text, zip=True)
    Image.new("RGB", (9, 9)).save(out, "PNG", pnginfo=info)
    found = read_exif(out.getvalue())
    assert found.shown is not None and found.shown.iso() == made.START.isoformat()
    bomb = zlib.compress(b"\nexif\n 9\n" + b"0" * 50_000_000)
    start = out.getvalue().index(b"zTXt")
    body = b"Raw profile type exif\0\0" + bomb
    evil = out.getvalue()[: start - 4] + len(body).to_bytes(4, "big") + b"zTXt" + body
    assert read_exif(evil).shown is None


@pytest.mark.parametrize(
    "text", ["(a+)+b", r"(\d*)*x", "(a|ab)*c", "((a{2,})b)+", r"(?:[ab]+c)*d", "("]
)
def test_a_pattern_that_could_hang_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"repeats|paren|term"):
        checked(text)


@pytest.mark.parametrize("text", ["unit (N[0-9]+)", r"(?:\d\d)?-(\d+)", r"[(+*]+(x)", r"\(+a\)*"])
def test_plain_patterns_are_taken(text: str) -> None:
    assert checked(text).pattern == text
