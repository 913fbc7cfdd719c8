"""How quickly a card comes in, against what reading, decoding and copying cost without camsign.

Each number is a ratio of whole processes on the same 300 files of some 2.6 MB, the best of several
runs in turn. CAMSIGN_BENCH_FRAMES names another count, CAMSIGN_BENCH_RUNS other runs. Comparing the
frames with one another, which follows when the card stands, is left out but where it is named.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import made_cards as made

pytestmark = pytest.mark.bench

FRAMES = int(os.environ.get("CAMSIGN_BENCH_FRAMES", "300"))
MANY = int(os.environ.get("CAMSIGN_BENCH_MANY", "20000"))
RUNS = int(os.environ.get("CAMSIGN_BENCH_RUNS", "3"))

START = """
import hashlib, os, sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
import cv2
import numpy as np
cv2.setNumThreads(1)
card, out = Path(sys.argv[1]), Path(sys.argv[2])
files = sorted(card.rglob("*.JPG"))

def decode(data):
    assert cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_REDUCED_COLOR_8) is not None
"""
ONLY_READ_AND_DECODE = (
    START
    + """
def work(path):
    decode(path.read_bytes())

with ThreadPoolExecutor(2) as pool:
    list(pool.map(work, files))
"""
)
BARE_COPY = (
    START
    + """
def work(path):
    data = path.read_bytes()
    digest = hashlib.sha256(data).digest()
    decode(data)
    with open(out / path.name, "wb") as f:
        f.write(data)
        f.flush()
        os.fsync(f.fileno())
    with open(out / path.name, "rb") as f:
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(f.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        assert hashlib.sha256(f.read()).digest() == digest

with ThreadPoolExecutor(2) as pool:
    list(pool.map(work, files))
"""
)
TAKE_IN = """
import sys
from pathlib import Path
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder
result = ingest(Folder(Path(sys.argv[2])), [Path(sys.argv[1])], camera="CAM01")
assert result.safe_to_wipe and result.new + result.known == int(sys.argv[3])
"""
INGEST = (
    """
from camsign.derive.opening import open_logbook
from camsign.flows.intake import cards_in
cards_in.compared = lambda folder, cameras: open_logbook(folder)
"""
    + TAKE_IN
)
WHOLE = TAKE_IN + "assert sum(one.scored for one in result.set_aside) == int(sys.argv[3])\n"
TIMES = """
import os
print(sum(os.times()[:2]))
"""
KEPT = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}  # what is installed is not compiled each time
SHELL = """
set -e
exiftool -q -r -json "$1" > "$2/facts.json"
find "$1" -name '*.JPG' -exec sha256sum {} + > "$2/sums"
cp -r "$1" "$2/files"
for f in $(find "$1" -name '*.JPG'); do
  djpeg -scale 1/8 "$f" | cjpeg > "$2/$(basename "$f")"
done
"""


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    path = made.big_card(tmp_path_factory.mktemp("card") / "CAM01", FRAMES)
    yield path
    shutil.rmtree(path)


class Runs:
    """Runs programs on one card, each time into a folder of its own."""

    def __init__(self, card: Path, home: Path) -> None:
        self.card, self.home, self.n = card, home, 0

    def fresh(self) -> Path:
        self.n += 1
        path = self.home / f"out{self.n}"
        path.mkdir()
        return path

    def python(self, code: str, *more: str) -> float:
        return timed([sys.executable, "-c", code, str(self.card), *more])

    def bare(self, code: str) -> float:
        out = self.fresh()
        took = self.python(code, str(out))
        shutil.rmtree(out)
        return took

    def spent(self, code: str, *more: str) -> float:
        """Processor time instead of the clock's."""
        words = [sys.executable, "-c", code + TIMES, str(self.card), *more]
        ran = subprocess.run(words, check=True, capture_output=True, text=True, env=KEPT)
        return float(ran.stdout)

    def ingest(self, run: Callable[[str], float] | None = None) -> float:
        book = made.logbook(self.home / f"book{self.n}", "CAM01")
        self.n += 1
        took = run(str(book.root)) if run else self.python(INGEST, str(book.root), str(FRAMES))
        shutil.rmtree(book.root)
        return took


def timed(words: list[str]) -> float:
    os.sync() if hasattr(os, "sync") else None
    began = time.perf_counter()
    subprocess.run(words, check=True)
    return time.perf_counter() - began


def best(*works: Callable[[], float]) -> list[float]:
    """The shortest time of each work, all in turn, so that a busy moment hits them alike."""
    rounds = [[work() for work in works] for _ in range(RUNS)]
    return [min(column) for column in zip(*rounds, strict=True)]


def test_ingest_against_reading_and_decoding_alone(card: Path, tmp_path: Path) -> None:
    runs = Runs(card, tmp_path)
    base, copy, ours = best(
        lambda: runs.bare(ONLY_READ_AND_DECODE), lambda: runs.bare(BARE_COPY), runs.ingest
    )
    print(
        f"\n{FRAMES} frames: read and decode {base:.2f} s, bare copy {copy:.2f} s, "
        f"ingest {ours:.2f} s: {ours / base:.2f}x and {ours / copy:.2f}x"
    )
    assert ours <= 1.5 * base
    assert ours <= 1.15 * copy


def test_whole_ingest_with_comparing_against_reading_and_decoding_alone(
    tmp_path: Path,
) -> None:
    """In processor time. Hashing, and copies forced and read back, take 1.2 by themselves."""
    runs = Runs(made.card_of_bursts(tmp_path / "CAM01", FRAMES), tmp_path)
    base, ours = best(
        lambda: runs.spent(ONLY_READ_AND_DECODE, str(tmp_path)),
        lambda: runs.ingest(lambda book: runs.spent(WHOLE, book, str(FRAMES))),
    )
    print(f"\n{FRAMES} frames: read and decode {base:.2f} s, all {ours:.2f} s: {ours / base:.2f}x")
    assert ours <= 1.6 * base


def test_a_known_card_against_its_first_ingest(card: Path, tmp_path: Path) -> None:
    runs = Runs(card, tmp_path)
    book = made.logbook(tmp_path / "book", "CAM01")
    words = (str(book.root), str(FRAMES))
    first = runs.python(INGEST, *words)
    again = min(runs.python(INGEST, *words) for _ in range(RUNS))
    print(f"\nfirst {first:.2f} s, known {again:.2f} s: {again / first:.2f}x")
    assert again <= 0.25 * first


def test_ingest_against_a_shell_pipeline(card: Path, tmp_path: Path) -> None:
    for program in ("exiftool", "sha256sum", "djpeg", "cjpeg", "bash"):
        if shutil.which(program) is None:
            pytest.skip(f"{program} is not installed")
    runs = Runs(card, tmp_path)

    def shell() -> float:
        out = runs.fresh()
        took = timed(["bash", "-c", SHELL, "shell", str(card), str(out)])
        shutil.rmtree(out)
        return took

    pipeline, ours = best(shell, runs.ingest)
    print(f"\nshell pipeline {pipeline:.2f} s, ingest {ours:.2f} s: {ours / pipeline:.2f}x")
    assert ours < pipeline


PEAK = """
import os, resource, sys
from pathlib import Path
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder
from camsign.logbook.placing import Disk

class SparseDisk(Disk):
    def write(self, path, data):
        with path.open("xb") as f:
            f.write(data.rstrip(bytes(1)))
            f.truncate(len(data))

card, book, frames = sys.argv[1:]
result = ingest(Folder(Path(book)), [Path(card)], camera="CAM01", disk=SparseDisk())
assert result.safe_to_wipe and result.new == int(frames)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def peak_kb(home: Path, frames: int) -> int:
    """Peak of an ingest of 12 megapixels and 2.6 MB a file, zeros behind the picture as holes."""
    smooth = made.smooth_jpeg(1)
    card = home / f"card{frames}" / "CAM01"
    for i in range(frames):
        block = made.exif(made.START + i * made.timedelta(minutes=1), comment=b"%d" % i)
        path = card / f"DCIM/{100 + i // 999}MEDIA/IMG_{i % 999 + 1:04d}.JPG"
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb") as f:
            f.write(made.with_exif(smooth, block))
            f.truncate(2_600_000)
    book = made.logbook(home / f"book{frames}", "CAM01")
    words = [sys.executable, "-c", PEAK, str(card), str(book.root), str(frames)]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    shutil.rmtree(card)
    shutil.rmtree(book.root)
    return int(done.stdout)


@pytest.mark.skipif(sys.platform == "win32", reason="the system does not tell the peak")
def test_memory_does_not_grow_with_the_card(tmp_path: Path) -> None:
    few, many = (peak_kb(tmp_path, n) for n in (1000, MANY))
    print(f"\npeak of 1,000: {few // 1024} MB, of {MANY}: {many // 1024} MB: {many / few:.2f}x")
    assert many <= 1.3 * few
