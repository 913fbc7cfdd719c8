"""Files made to hurt: bombs, and real pictures mutated at random. None crashes, none takes long."""

from __future__ import annotations

import io
import random
import struct
import sys
import time
import zlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import made_cards as made
import psutil
import pytest

from camsign.flows.intake import ingest, one_file
from camsign.flows.intake.card_files import CardFile
from camsign.flows.intake.known import Known
from camsign.flows.intake.one_file import Job
from camsign.flows.intake.other_times import OtherTimes, compiled
from camsign.flows.intake.read import describe
from camsign.formats.kinds import Kind
from camsign.logbook.folder import Folder
from camsign.logbook.records import FrameFacts
from camsign.pixels.see import see

SLOWEST_S = 2.0
MOST_BYTES = 500_000_000


def bomb_png(side: int) -> bytes:
    """A PNG of side x side pixels in few bytes. Layout: ISO/IEC 15948, clause 11."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    packer = zlib.compressobj(9)
    rows = b"".join(packer.compress(bytes(side * 3 + 1)) for _ in range(min(side, 2000)))
    data = chunk(b"IDAT", rows + packer.flush())
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + data + chunk(b"IEND", b"")


def claiming(data: bytes, width: int, height: int) -> bytes:
    """The JPEG with other sizes in its frame header. Layout: ISO/IEC 10918-1, B.2.2."""
    at = data.index(b"\xff\xc0") + 5
    return data[:at] + struct.pack(">HH", height, width) + data[at + 4 :]


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("BOMB.PNG", bomb_png(20_000)),
        ("WIDE.JPG", claiming(made.jpeg(1), 20_000, 20_000)),  # 400 megapixels
        ("HUGE.JPG", claiming(made.jpeg(2), 65_535, 65_535)),
    ],
)
def test_bombs_are_refused_quickly(tmp_path: Path, name: str, data: bytes) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    card = made.fill(made.card(tmp_path / "CAM03", 1), {f"DCIM/100MEDIA/{name}": data})
    process = psutil.Process()
    before, began = process.memory_info().rss, time.process_time()
    result = ingest(book, [card])
    assert time.process_time() - began < SLOWEST_S + 2  # openings of the logbook among them
    assert process.memory_info().rss - before < 200_000_000
    (left,) = result.refused
    assert left.file.endswith(name) and "more than a camera makes" in left.why
    assert result.new == 1


@pytest.mark.thorough
def test_a_picture_that_claims_a_little_too_much_is_taken_with_a_doubt(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    data = claiming(made.jpeg(1), 4000, 3000)  # of 96 x 64
    result = ingest(book, [made.fill(tmp_path / "CAM03", {"A.JPG": data})])
    assert result.new == 1


def seeds(samples: Path | None) -> list[bytes]:
    """Pictures to mutate: our own, and other people's where they are."""
    own = [
        made.jpeg(1),
        made.jpeg(2, made.exif(serial="S1", comment=b"CAM03 41F", description="x", owner="y")),
        bomb_png(40),
        b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom\0\0\0\x6cmoov\0\0\0\x64mvhd" + bytes(92),
    ]
    if samples is None:
        return own
    return own + [p.read_bytes() for p in sorted((samples / "exif").rglob("*.jp*g"))]


def mutants(seed: int, n: int, bases: list[bytes]) -> Iterator[bytes]:
    """`n` files: bytes flipped, cut, doubled, set to extremes, most of them in the metadata."""
    rng = random.Random(seed)
    for _ in range(n):
        data = bytearray(rng.choice(bases))
        for _ in range(rng.choice((1, 2, 4, 16, 64))):
            _mutate(data, rng)
        yield bytes(data)


def _mutate(data: bytearray, rng: random.Random) -> None:
    if not data:
        return
    reach = len(data) if rng.random() < 0.2 else min(len(data), 4096)
    at, size = rng.randrange(reach), rng.choice((1, 2, 4, 8))
    way = rng.randrange(6)
    if way == 0:
        data[at] ^= 1 << rng.randrange(8)
    elif way == 1:
        data[at : at + size] = rng.choice((b"\xff", b"\x00", b"\x7f", b"\x80")) * size
    elif way == 2:
        data[at : at + size] = rng.randbytes(size)
    elif way == 3:
        del data[at : at + rng.choice((1, 2, 4, 100))]
    elif way == 4:
        data[at:at] = data[at : at + rng.choice((2, 12, 200))]
    else:
        del data[rng.randrange(len(data)) :]


def peak() -> int:
    """The most memory that this process ever held [bytes]; on Windows what it holds now."""
    if sys.platform == "win32":
        return psutil.Process().memory_info().rss
    import resource

    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


def survive(tmp_path: Path, n: int, seed: int, bases: list[bytes]) -> dict[str, int]:
    """Give every mutant to the work that an ingest does on a file; count what became of them."""
    today = date(2026, 1, 1)
    counts = {"taken": 0, "doubted": 0, "not taken": 0}
    path, highest = tmp_path / "mutant", peak()
    times = OtherTimes(compiled(), "UTC", today)
    job = Job(Folder(tmp_path), ThreadPoolExecutor(1), Known(), times)
    for number, data in enumerate(mutants(seed, n, bases)):
        path.write_bytes(data)
        file = CardFile(str(path), f"DCIM/{number}.JPG", len(data), 0.0)
        began = time.process_time()
        outcome = one_file.take(job, file, f"{number}.JPG")
        trouble = ""
        if isinstance(outcome, one_file.Item):
            kind = Kind(outcome.row.kind)
            _, trouble = see(outcome.row.frame, kind, data, path, tmp_path / "thumbs")
        took, grew = time.process_time() - began, peak() - highest
        assert took < SLOWEST_S, f"mutant {number} of seed {seed} took {took:.1f} s"
        assert grew < MOST_BYTES, f"mutant {number} of seed {seed} took {grew / 1e6:.0f} MB"
        if isinstance(outcome, one_file.NotTaken):
            assert outcome.left.why
            counts["not taken"] += 1
        else:
            counts["doubted" if outcome.row.doubts or trouble else "taken"] += 1
    return counts


def test_200_mutants(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    counts = survive(tmp_path, 200, seed=11, bases=seeds(None))
    assert sum(counts.values()) == 200 and min(counts.values()) > 10


@pytest.mark.long
def test_20000_mutants(tmp_path: Path, samples: Path, capfd: pytest.CaptureFixture[str]) -> None:
    counts = survive(tmp_path, 20_000, seed=12, bases=seeds(samples))
    with capfd.disabled():
        print(f"\n20,000 mutants: {counts}")
    assert sum(counts.values()) == 20_000 and min(counts.values()) > 100


@pytest.mark.thorough
def test_mutants_on_a_card_all_have_a_line_or_a_copy(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    files = {f"DCIM/{i:03d}.JPG": m for i, m in enumerate(mutants(13, 60, seeds(None)))}
    result = ingest(book, [made.fill(tmp_path / "CAM03", files)], camera="CAM03")
    assert result.new + result.known + len(result.refused) == 60
    placed = {p.read_bytes() for p in book.cards.rglob("*.JPG")}
    refused = {x.file for x in result.refused}
    assert all(data in placed for name, data in files.items() if name not in refused)


@pytest.mark.parametrize("data", [b"", b"\xff", b"\xff\xd8", b"\xff\xd8\xff", bytes(range(1, 65))])
def test_the_shortest_files_are_described(data: bytes) -> None:
    file = CardFile("x.jpg", "x.jpg", len(data), 0.0)
    assert isinstance(describe(data, file, "", date(2026, 1, 1)), str | FrameFacts)


@pytest.mark.thorough
def test_a_picture_of_one_pixel_comes_in(tmp_path: Path) -> None:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (1, 1)).save(out, "JPEG")
    book = made.logbook(tmp_path / "book", "CAM03")
    assert ingest(book, [made.fill(tmp_path / "CAM03", {"A.JPG": out.getvalue()})]).new == 1
