"""Raw pictures, WebP, TIFF, transport streams, and what a phone keeps beside a picture."""

from __future__ import annotations

import io
from pathlib import Path

import made_cards as made
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageOps

from camsign.derive.opening import open_logbook
from camsign.flows.intake import companions, ingest
from camsign.formats.exif import read_exif
from camsign.formats.jpeg import header_size, largest_jpeg
from camsign.formats.kinds import HEAD_BYTES, Kind, sniff
from camsign.logbook.folder import Folder
from camsign.pixels.decode import Reduced, Undecodable, decode_reduced
from camsign.pixels.see import remake_thumb
from camsign.pixels.thumbs import thumb_path

SHOWN = "2025:10:02 07:31:46"


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    return made.logbook(tmp_path / "book", "CAM03")


def picture(wide: int = 640, high: int = 480) -> Image.Image:
    """Red above left, green above right, blue below: any turn of it can be told."""
    pixels = np.zeros((high, wide, 3), np.uint8)
    pixels[: high // 2, : wide // 2, 0] = 255
    pixels[: high // 2, wide // 2 :, 1] = 255
    pixels[high // 2 :, :, 2] = 255
    return Image.fromarray(pixels)


def written(kind: str, orientation: int = 1, wide: int = 640, high: int = 480) -> bytes:
    exif = Image.Exif()
    exif[0x0112], exif[0x0132] = orientation, SHOWN
    stream = io.BytesIO()
    picture(wide, high).save(stream, kind, exif=exif)
    return stream.getvalue()


def tiff_block(*entries: tuple[int, int, int, bytes], mark: bytes = b"II*\0") -> bytes:
    """TIFF 6.0, section 2: a directory of entries (tag, type, count, value of over 4 bytes)."""
    at = 8 + 2 + 12 * len(entries) + 4
    head, rest = mark + (8).to_bytes(4, "little") + len(entries).to_bytes(2, "little"), b""
    for tag, type_, count, value in entries:
        head += b"".join(n.to_bytes(2, "little") for n in (tag, type_)) + count.to_bytes(
            4, "little"
        )
        head += (at + len(rest)).to_bytes(4, "little") if len(value) > 4 else value.ljust(4, b"\0")
        rest += value if len(value) > 4 else b""
    return head + bytes(4) + rest


def raw_like(orientation: int = 1, mark: bytes = b"II*\0") -> bytes:
    """A maker's raw picture in outline: a directory, a small and a large JPEG, sensor data."""
    block = tiff_block(
        (0x0112, 3, 1, orientation.to_bytes(2, "little")),
        (0x0132, 2, 20, SHOWN.encode() + b"\0"),
        mark=mark,
    )
    plain = io.BytesIO()
    picture().save(plain, "JPEG")
    small = io.BytesIO()
    picture(160, 120).save(small, "JPEG")
    # What the sensor saw is often a lossless JPEG: start of frame 3 (ISO/IEC 10918-1, table B.1).
    sensor = b"\xff\xd8\xff\xc3\x00\x0b\x08\x0f\xff\x0f\xff\x01\x01\x11\x00"
    sensor += b"\xff\xda\x00\x08\x01\x01\x00\x00\x00\x00" + bytes(range(250)) * 20 + b"\xff\xd9"
    return block + sensor + small.getvalue() + bytes(40) + plain.getvalue() + bytes(9)


def corners(pixels: np.ndarray) -> list[int]:
    """Which channel of blue, green, red is strongest in each quarter, row by row."""
    rows, columns = pixels.shape[:2]
    spots = [(rows // 4, columns // 4), (rows // 4, 3 * columns // 4)]
    spots += [(3 * rows // 4, columns // 4), (3 * rows // 4, 3 * columns // 4)]
    return [int(np.argmax(pixels[spot])) for spot in spots]


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"RIFF\x00\x10\x00\x00WEBPVP8 ", Kind.WEBP),
        (b"II*\x00\x10\x00\x00\x00CR\x02\x00", Kind.TIFF),
        (b"IIRO\x08\x00\x00\x00", Kind.RAW),
        (b"IIU\x00\x18\x00\x00\x00", Kind.RAW),
        (b"FUJIFILMCCD-RAW 0201", Kind.RAW),
        (b"\x00\x00\x00\x18ftypcrx \x00\x00\x00\x01", Kind.RAW),
        ((b"\x47" + bytes(187)) * 4, Kind.MTS),
        ((bytes(4) + b"\x47" + bytes(187)) * 4, Kind.MTS),
        ((b"\x47" + bytes(186)) * 4, Kind.OTHER),
        (b"\x47" * 100, Kind.OTHER),
    ],
)
def test_heads_written_by_hand(head: bytes, kind: Kind) -> None:
    assert sniff(head[:HEAD_BYTES]) is kind


def test_the_largest_picture_that_viewers_open_is_taken() -> None:
    shown = largest_jpeg(raw_like())
    assert shown is not None and Image.open(io.BytesIO(shown)).size == (640, 480)
    assert largest_jpeg(b"nothing of the kind") is None
    assert largest_jpeg(raw_like()[:-400]) is not None  # the last one cut short: the small one


@given(st.binary(max_size=400))
def test_nothing_makes_the_search_fail(junk: bytes) -> None:
    found = largest_jpeg(b"\xff\xd8\xff" + junk)
    assert found is None or found.endswith(b"\xff\xd9")
    size = header_size(b"II*\0" + junk)
    assert size is None or min(size) >= 0
    assert isinstance(decode_reduced(b"II*\0" + junk), Reduced | Undecodable)
    assert read_exif(b"IIRO" + junk).doubts


@pytest.mark.parametrize("orientation", range(1, 9))
def test_all_stand_upright_as_pillow_turns_them(orientation: int) -> None:
    """Exif 2.32, Orientation; the independent turn is Pillow's exif_transpose."""
    plain = picture()
    plain.getexif()[0x0112] = orientation
    want = corners(np.asarray(ImageOps.exif_transpose(plain))[:, :, ::-1])
    for data in (raw_like(orientation), written("WEBP", orientation), written("TIFF", orientation)):
        found = decode_reduced(data)
        assert isinstance(found, Reduced)
        assert corners(found.pixels) == want
        assert (found.pixels.shape[0] > found.pixels.shape[1]) == (orientation > 4)


@pytest.mark.parametrize("mark", [b"II*\0", b"IIRO", b"IIU\0"])
def test_a_raw_picture_tells_its_time(mark: bytes) -> None:
    facts = read_exif(raw_like(6, mark))
    assert facts.shown is not None and facts.shown.iso() == "2025-10-02T07:31:46"
    assert facts.orientation == 6


def test_a_raw_picture_in_boxes_tells_its_time() -> None:
    block = tiff_block((0x0132, 2, 20, SHOWN.encode() + b"\0"))
    facts = read_exif(b"\0\0\0\x18ftypcrx \0\0\0\1crx isom\0\0\1\0CMT1" + block)
    assert facts.shown is not None and facts.shown.iso() == "2025-10-02T07:31:46"


def test_a_card_of_a_phone_and_a_system_camera_is_safe_without_a_word(
    book: Folder, tmp_path: Path
) -> None:
    stream = b"".join(b"\x47" + bytes([n]) * 187 for n in range(20))
    movie = b"\0\0\0\x14ftypqt  \0\0\0\0qt  " + b"\0\0\0\x30free"
    edits = b'<?xml version="1.0" encoding="UTF-8"?><plist version="1.0"></plist>'
    files = {
        "DCIM/100A/IMG_0001.NEF": raw_like(),
        "DCIM/100A/IMG_0002.ORF": raw_like(mark=b"IIRO"),
        "DCIM/100A/IMG_0003.webp": written("WEBP"),
        "DCIM/100A/IMG_0004.TIF": written("TIFF"),
        "DCIM/100A/IMG_0005.JPG": written("JPEG"),
        "DCIM/100A/IMG_0005.AAE": edits,
        "DCIM/100A/IMG_0005.MOV": movie + b"com.apple.quicktime.content.identifier",
        "DCIM/100A/IMG_0006.JPG": written("JPEG", wide=600),
        "DCIM/100A/IMG_0006.MOV": movie + b"a clip of its own",
        "PRIVATE/AVCHD/BDMV/STREAM/00001.MTS": stream,
    }
    done = ingest(book, [made.fill(tmp_path / "CAM03", files)])
    (card,) = done.cards
    assert card.safe_to_wipe and not done.refused
    for name, data in files.items():
        assert (book.cards / card.folder / "files" / name).read_bytes() == data
    with open_logbook(book) as session:
        rows = session.con.execute("SELECT card_path, kind, shown FROM frames").fetchall()
        beside = session.con.execute("SELECT card_path, beside FROM besides").fetchall()
    kinds = {path.rpartition("/")[2]: kind for path, kind, _ in rows}
    assert kinds == {
        "IMG_0001.NEF": "tiff",
        "IMG_0002.ORF": "raw",
        "IMG_0003.webp": "webp",
        "IMG_0004.TIF": "tiff",
        "IMG_0005.JPG": "jpeg",
        "IMG_0006.JPG": "jpeg",
        "IMG_0006.MOV": "mov",
        "00001.MTS": "mts",
    }
    pictures = [shown for path, _, shown in rows if "IMG" in path and not path.endswith("MOV")]
    assert pictures == ["2025-10-02T07:31:46"] * 6
    assert {path.rpartition("/")[2] for path, _ in beside} == {"IMG_0005.AAE", "IMG_0005.MOV"}
    assert {main for _, main in beside} == {"DCIM/100A/IMG_0005.JPG"}


def test_edits_without_their_picture_are_no_picture(book: Folder, tmp_path: Path) -> None:
    files = {"A/IMG_1.JPG": written("JPEG"), "A/IMG_2.AAE": b'<?xml version="1.0"?><plist/>'}
    files["A/IMG_1.AAE"] = b"no such list"
    done = ingest(book, [made.fill(tmp_path / "CAM03", files)])
    assert not done.safe_to_wipe
    assert {left.file for left in done.refused} == {"A/IMG_2.AAE", "A/IMG_1.AAE"}


def test_a_damaged_one_is_named_and_the_rest_taken(book: Folder, tmp_path: Path) -> None:
    files = {"A/IMG_1.NEF": b"II*\0\x08\0\0\0" + bytes(300), "A/IMG_2.JPG": written("JPEG")}
    done = ingest(book, [made.fill(tmp_path / "CAM03", files)])
    ((path, why),) = [(left.file, left.why) for left in done.refused]
    assert path == "A/IMG_1.NEF" and "damaged before its picture begins" in why


def test_companions_by_name() -> None:
    found = companions.of_one_name(
        ["A/1.HEIC", "A/1.mov", "A/1.AAE", "B/1.MOV", "A/2.THM", "A/2.MTS"]
    )
    assert found == {"A/1.mov": "A/1.HEIC", "A/1.AAE": "A/1.HEIC", "A/2.THM": "A/2.MTS"}


@pytest.mark.parametrize("kind", ["NEF", "webp"])
def test_a_lost_thumbnail_comes_back(book: Folder, tmp_path: Path, kind: str) -> None:
    data = raw_like() if kind == "NEF" else written("WEBP")
    file = tmp_path / f"one.{kind}"
    file.write_bytes(data)
    made_at = remake_thumb(book.thumbs, "a" * 16, file)
    assert made_at == thumb_path(book.thumbs, "a" * 16)
    assert Image.open(made_at).size == (320, 240)
