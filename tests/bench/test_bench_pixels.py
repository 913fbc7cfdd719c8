"""What the pixels' part of an ingest costs, how fast scores follow tags, how much memory it takes.

The ingest is run as it is and with the measuring and comparing left out (the decode, the thumbnail
and the copy stay), whole processes on the same card in turn, the best of several runs. It is their
processor time that is compared, since others may use the machine meanwhile. CAMSIGN_BENCH_FRAMES
names another count, CAMSIGN_BENCH_RUNS other runs.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import made_cards as made
from derive_world import book, frame_id
from pixels_world import few, glance_of

from camsign.derive.opening import open_logbook
from camsign.logbook.cardfacts import LOOKS
from camsign.logbook.parquet import RowFile
from camsign.logbook.records import Look
from camsign.pixels.scores import fit_thresholds, score

pytestmark = pytest.mark.bench

FRAMES = int(os.environ.get("CAMSIGN_BENCH_FRAMES", "300"))
RUNS = int(os.environ.get("CAMSIGN_BENCH_RUNS", "3"))
MANY = int(os.environ.get("CAMSIGN_BENCH_MANY", "20000"))

WITHOUT = """
from camsign.logbook.records import Look
from camsign.pixels import look, scoring

def nothing(frame, reduced):
    return Look(frame, 1, "colour", 0.0, 0.0, 0.0, 0.0)

look.look = nothing
scoring.plan = lambda *given: scoring.Plan((), (), None)
"""
INGEST = """
import sys
from pathlib import Path
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder
result = ingest(Folder(Path(sys.argv[2])), [Path(sys.argv[1])], camera="CAM01")
assert result.safe_to_wipe and result.new == int(sys.argv[3])
(aside,) = result.set_aside
assert aside.scored == (int(sys.argv[3]) if sys.argv[4] == "all" else 0), aside
"""

TIMES = """
import os
print(sum(os.times()[:2]))
"""


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A card of bursts of three, some 2.6 MB a picture."""
    path = made.card_of_bursts(tmp_path_factory.mktemp("card") / "CAM01", FRAMES)
    yield path
    shutil.rmtree(path)


def ingest(card: Path, home: Path, code: str, scored: str) -> float:
    folder = made.logbook(home / f"book{time.monotonic_ns()}", "CAM01")
    os.sync() if hasattr(os, "sync") else None
    words = [str(card), str(folder.root), str(FRAMES), scored]
    ran = subprocess.run(
        [sys.executable, "-c", code + TIMES, *words], check=True, capture_output=True, text=True
    )
    took = float(ran.stdout)
    shutil.rmtree(folder.root)
    return took


def test_what_the_pixels_add_to_an_ingest(card: Path, tmp_path: Path) -> None:
    pairs = [
        (
            ingest(card, tmp_path, WITHOUT + INGEST, "none"),
            ingest(card, tmp_path, INGEST, "all"),
        )
        for _ in range(RUNS)
    ]
    without, whole = (min(column) for column in zip(*pairs, strict=True))
    print(
        f"\n{FRAMES} frames: ingest without measuring and comparing {without:.2f} s, "
        f"with {whole:.2f} s: {(whole / without - 1):.1%} more"
    )
    assert whole <= 1.15 * without


def test_a_hundred_thousand_scores_follow_the_tags(tmp_path: Path) -> None:
    with open_logbook(book(tmp_path / "b")) as session:
        con = session.con
        ids = "printf('%016x', i) AS frame"
        con.execute(
            f"INSERT INTO changes BY NAME SELECT {ids}, 'CAM' || i % 20 AS camera, 'c' AS card,"
            " if(i % 2 = 0, 'infrared', 'colour') AS light, i / 1e4 AS news"
            " FROM range(100000) r(i)"
        )
        con.execute(
            f"INSERT INTO tags BY NAME SELECT {ids}, 'deer' AS what FROM range(100000) r(i) "
            "WHERE i % 7 = 0"
        )
        began = time.perf_counter()
        fit_thresholds(session)
        score(session)
        con.execute("SELECT count(*) FROM empty_scores WHERE empty_score > 0.5").fetchone()
        took = time.perf_counter() - began
    print(f"\nthresholds fitted and 100,000 scores made again in {took * 1000:.0f} ms")
    assert took < 1


PEAK = """
import resource, sys
from pathlib import Path
from camsign.pixels.scoring import Plan, carry_out
looks, store, frames = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
ids = [line for line in looks.with_suffix(".txt").read_text().split()]
rows = [
    (f"p{i // 300:05d}", i % 300, frame, 600.0 * (i // 3) + i % 3, f"b{i // 3}")
    for i, frame in enumerate(ids)
]
assert carry_out(Plan(tuple(rows), (looks,), store)) == frames
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def peak_kb(home: Path, frames: int) -> int:
    glances = [glance_of(s) for s in few(5, 20)]
    looks = home / f"{frames}" / LOOKS
    looks.parent.mkdir()
    ids = [frame_id("k", str(i))[:16] for i in range(frames)]
    batch: list[Look] = []
    with RowFile(Look) as out:
        for i, frame in enumerate(ids):
            glance = glances[i % len(glances)]
            batch.append(Look(frame, 1, "colour", 90.0, 40.0, 9.0, 0.1, "{}", glance))
            if len(batch) == 500 or i == frames - 1:
                out.add(batch)
                batch = []
        out.write(looks)
    looks.with_suffix(".txt").write_text(" ".join(ids))
    words = [sys.executable, "-c", PEAK, str(looks), str(home / f"store{frames}"), str(frames)]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    shutil.rmtree(looks.parent)
    return int(done.stdout)


@pytest.mark.skipif(sys.platform == "win32", reason="the system does not tell the peak")
def test_memory_does_not_grow_with_the_frames(tmp_path: Path) -> None:
    few_, many = (peak_kb(tmp_path, n) for n in (2000, MANY))
    print(f"\npeak of 2,000: {few_ // 1024} MB, of {MANY}: {many // 1024} MB: {many / few_:.2f}x")
    assert many <= 1.3 * few_
