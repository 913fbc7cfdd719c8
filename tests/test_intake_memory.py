"""A card of 40,000 pictures is taken in with the memory that one of 10,000 takes."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from derive_world import DERIVED, Shot, book, put_card, rebuilt

from camsign.derive import opening
from camsign.derive.comparing import compared
from camsign.derive.opening import open_logbook
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.database import in_memory, sparing
from camsign.logbook.parquet import RowFile
from camsign.logbook.receipts import FILE, Receipt
from camsign.logbook.records import FrameFacts, Look

STATUS = Path("/proc/self/status")
FIRST = datetime(2025, 9, 1)


def take_in(home: Path, count: int) -> int:
    """Write a card's tables, load and compare it; give the most memory that was ever held [kB]."""
    logbook = book(home)
    card = logbook.cards / "card"
    card.mkdir()
    with RowFile(FrameFacts) as frames, RowFile(Look) as looks:
        for i in range(count):
            sha, name = f"{i:016x}{0:048x}", f"DCIM/{100 + i // 999}MEDIA/IMG_{i % 999:04d}.JPG"
            shown = (FIRST + timedelta(minutes=2 * i)).isoformat()
            facts = FrameFacts(
                sha[:16], sha, f"files/{name}", name, 4000, "jpeg", shown=shown,
                shown_from="DateTimeOriginal", make="Maker", model="Ridge 4", width=96, height=64,
            )  # fmt: skip
            frames.add([facts])
            looks.add([Look(sha[:16], 1, "colour", 0.5, 0.2, 0.3, 0.4, "{}", os.urandom(3000))])
        frames.write(card / FRAMES)
        looks.write(card / LOOKS)
    at = "2026-06-01T12:00:00Z"
    receipt = Receipt("card", "CAM01", "said", card.name, at, "/card", count, count, 0)
    (card / FILE).write_bytes(receipt.to_bytes())
    with compared(logbook) as opened:
        rows = opened.con.execute("SELECT count(*), count(utc) FROM frame_times").fetchall()
    assert rows == [(count, count)]
    peak = re.search(r"VmHWM:\s+(\d+) kB", STATUS.read_text())
    return int(peak[1]) if peak else 0


def test_what_needs_more_memory_than_is_spared_is_done_all_the_same() -> None:
    told = "SELECT current_setting('threads'), current_setting('memory_limit')"
    needs = "SELECT len(list(i)) FROM range(20_000_000) t(i)"  # 160 MB in one cell
    with in_memory() as con:
        before, tried = con.execute(told).fetchall(), []

        def work() -> object:
            tried.append(con.execute(told).fetchall())
            return con.execute(needs).fetchall()

        assert sparing(con, work) == [(20_000_000,)]
        assert tried == [[(1, "61.0 MiB")], before]
        assert con.execute(told).fetchall() == before


@pytest.mark.parametrize("mb", [2, 8])  # too little for one file, or for all
def test_a_card_stands_however_little_memory_is_spared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mb: int
) -> None:
    shots = [
        Shot(f"2025-11-{i // 1440 + 1:02d}T{i // 60 % 24:02d}:{i % 60:02d}:00") for i in range(5000)
    ]
    logbook = book(tmp_path / "book")
    put_card(logbook, "abc", "CAM01", shots)
    monkeypatch.setattr(opening, "LITTLE_MB", mb)
    monkeypatch.setattr(opening, "_TIMES", 0)
    with open_logbook(logbook, spare=True) as opened:
        assert opened.con.execute("SELECT count(*) FROM frame_times").fetchall() == [(5000,)]
        assert opened.con.execute("SELECT what FROM troubles").fetchall() == []
        there = {
            t: opened.con.execute(f"SELECT * FROM {t} ORDER BY ALL").fetchall() for t in DERIVED
        }
    assert there == rebuilt(logbook)


@pytest.mark.thorough
@pytest.mark.skipif(not STATUS.exists(), reason="no peak memory to read")
def test_four_times_the_pictures_take_about_the_same_memory(tmp_path: Path) -> None:
    # Before, 1.8 times as much; what is left is Python's own, some 400 bytes a picture.
    few, many = (
        int(subprocess.run(
            [sys.executable, __file__, str(tmp_path / str(count)), str(count)],
            check=True, capture_output=True, text=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        ).stdout)
        for count in (20_000, 80_000)
    )  # fmt: skip
    print(f"\n{few / 1000:.0f} MB, {many / 1000:.0f} MB")
    assert many < 1.25 * few


if __name__ == "__main__":
    print(take_in(Path(sys.argv[1]), int(sys.argv[2])))
