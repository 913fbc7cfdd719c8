"""What opening a logbook of ten seasons costs: cold, warm, and after one more word.

Processor time, as ratios against DuckDB's own reading of the same JSON and Parquet into tables.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import get_type_hints

import duckdb
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import made_cards as made

from camsign.cards import sums
from camsign.derive.opening import open_logbook, remove_database
from camsign.logbook import journal, parquet, receipts, sealed
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.edits import SetFields, Subject, TagFrames, to_json
from camsign.logbook.folder import Folder
from camsign.logbook.receipts import Receipt
from camsign.logbook.records import FrameFacts, Look

pytestmark = pytest.mark.bench
CARDS, WRITERS = 100, 4
DEER = Subject("animal", species="deer", sex="female")
SEASON = "TIMESTAMP '2016-08-01' + to_seconds(316 * (i % 1000000))"
GIVEN = {
    "frame": "sha256('p' || i)[:16]", "sha256": "sha256('p' || i)", "bytes": "2000000 + i % 999",
    "file": "'files/DCIM/IMG_' || lpad(i::VARCHAR, 7, '0') || '.JPG'",
    "card_path": "'DCIM/IMG_' || lpad(i::VARCHAR, 7, '0') || '.JPG'", "kind": "'jpeg'",
    "known": "false", "shown": f"strftime({SEASON}, '%Y-%m-%dT%H:%M:%S')", "shown_from": "'exif'",
    "make": "'Maker'", "model": "'Ridge 4'", "width": "1920", "height": "1080", "doubts": "[]",
    "version": "1", "light": "'day'", "brightness": "100.0 + i % 50", "sharpness": "1.0 * (i % 70)",
}  # fmt: skip


def made_of(book: Folder, each: int) -> None:
    """`CARDS` cards of so many frames each, as they stand in a logbook, without their pictures."""
    con = duckdb.connect()
    for card in range(CARDS):
        home = book.cards / f"2025-12-01-CAM{card:03d}-{card:012x}"
        home.mkdir()
        for name, record in ((FRAMES, FrameFacts), (LOOKS, Look)):
            cells = ", ".join(
                f"({GIVEN.get(column, 'NULL')})::{parquet._TYPES[kind]} AS {column}"
                for column, kind in get_type_hints(record).items()
            )
            rows = f"range({card * each}, {(card + 1) * each}) t(i)"
            con.execute(
                f"COPY (SELECT {cells} FROM {rows}) TO '{home / name}' (FORMAT parquet,"
                f" ROW_GROUP_SIZE 2048, KV_METADATA {{{sealed.KEY}: '{sealed.BLANK}'}})"
            )
            sealed.seal(home / name)
        text = f"{sealed.hash_of(home / FRAMES)}  {FRAMES}\n"
        (home / sums.FILE).write_text(text, encoding="utf-8")
        receipt = Receipt(
            f"{card:012x}", f"CAM{card:03d}", "said", home.name, "2025-12-01T12:00:00Z", "/card",
            each, each, 0,
        )  # fmt: skip
        (home / receipts.FILE).write_bytes(receipt.to_bytes())
    con.close()


def said(book: Folder, count: int) -> None:
    """So many lines by `WRITERS` people, each a tag of one frame."""
    con = duckdb.connect()
    rows = con.execute(f"SELECT {GIVEN['frame']} FROM range({count}) t(i)").fetchall()
    con.close()
    edit = [to_json(TagFrames(DEER, ["?"]))]
    line = journal.Line("", 0, "", "", "tagged 1 frame: doe", edit, journal.VERSION)
    files = [(book.journal / f"{w:012x}.jsonl").open("wb") for w in range(WRITERS)]
    for i, (frame,) in enumerate(rows):
        writer, n = i % WRITERS, i // WRITERS + 1
        instant = datetime(2025, 12, 2) + timedelta(milliseconds=i)
        at = f"{instant.isoformat(timespec='milliseconds')}Z-00000"
        edits = [{**edit[0], "frames": [frame]}]
        one = replace(line, writer=f"{writer:012x}", n=n, at=at, act=f"{i:012x}", edits=edits)
        files[writer].write(journal.encode(one))
    for file in files:
        file.close()


def cost(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def read_by_duckdb(book: Folder) -> None:
    con = duckdb.connect()
    con.execute(f"CREATE TABLE j AS SELECT * FROM read_json('{book.journal}/*.jsonl')")
    for name in (FRAMES, LOOKS):
        con.execute(
            f"CREATE TABLE \"{name}\" AS SELECT * FROM read_parquet('{book.cards}/*/{name}')"
        )
    con.close()


def opened(book: Folder) -> None:
    with open_logbook(book):
        pass


@pytest.mark.parametrize(
    "count", [pytest.param(100_000, id="a tenth"), pytest.param(1_000_000, id="a million")]
)
def test_cold_and_warm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int) -> None:
    monkeypatch.setenv("CAMSIGN_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(tmp_path / "config"))
    book = made.logbook(tmp_path / "book", *(f"CAM{i:03d}" for i in range(CARDS)))
    made_of(book, count // CARDS)
    said(book, count)
    base = cost(lambda: read_by_duckdb(book))
    remove_database(book)
    cold = cost(lambda: opened(book))
    warm = min(cost(lambda: opened(book)) for _ in range(3))
    with open_logbook(book) as session:
        rows = session.con.execute("SELECT count(*) FROM tags").fetchone()
        assert rows == (count,)
        session.say("noted", [SetFields("camera", "CAM000", {"note": "moved"})])
    word = cost(lambda: opened(book))
    print(
        f"\n{count} frames and lines: DuckDB's own reading {base:.1f} s; cold {cold:.1f} s"
        f" ({cold / base:.1f}x); warm {warm:.2f} s; after a word {word:.2f} s of processor time"
    )
    assert warm < base / 2 + 1 and word < base + 1
