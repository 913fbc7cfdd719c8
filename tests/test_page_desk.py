"""The page's copy of the database: soon up to date, words safe before they are acknowledged."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from page_logbook import Book, Shot, new_book, season

from camsign.derive.opening import open_logbook
from camsign.errors import CamsignError
from camsign.logbook import journal, lock
from camsign.logbook.folder import Folder
from camsign.logbook.history import unread
from camsign.logbook.measured import replace_rows
from camsign.logbook.records import Detected
from camsign.logbook.session import Session
from camsign.page.desk import Desk
from camsign.page.events import Hub
from camsign.page.lists import make_strips
from camsign.tags.bucks import add_buck
from camsign.tags.frames import by_ids
from camsign.tags.tagging import subject_of, tag

TABLES = ("tags", "bucks", "frame_times", "detections", "frames")


class Opened(Hub):
    """A desk with what it told."""

    def __init__(self, folder: Folder) -> None:
        super().__init__()
        self.told: list[SimpleNamespace] = []
        self.troubles: list[str] = []
        self.desk = Desk(folder, self, make_strips)

    def tell(self, kind: str, **news: Any) -> None:
        if kind == "changes":
            self.told.append(SimpleNamespace(**news))
        else:
            self.troubles.append(news["what"])

    def count(self, table: str) -> int:
        with self.desk.reading() as session:
            row = session.con.execute(f"SELECT count(*) FROM {table}").fetchone()
        return int(row[0]) if row else 0

    def wait(self, table: str, n: int) -> None:
        end = time.monotonic() + 20
        while self.count(table) != n and time.monotonic() < end:
            time.sleep(0.1)
        assert self.count(table) == n, table


@pytest.fixture
def book(tmp_path: Path) -> Book:
    book = new_book(tmp_path / "hollow")
    book.hang("CAM01", 44.1, -71.5)
    book.frames = book.card("CAM01", season(0, 5, 6), real=0)
    book.buck("Split Brow")
    return book


@pytest.fixture
def opened(book: Book) -> Iterator[Opened]:
    one = Opened(book.folder)
    yield one
    one.desk.close()


def say_tag(desk: Desk, frames: list[str], who: str = "Split Brow") -> list[str]:
    return desk.say(lambda s: tag(s, subject_of(s, who), by_ids(s, frames)))[1].acts


def same_as_the_file(opened: Opened, folder: Folder) -> None:
    opened.desk.catch_up()
    with opened.desk.reading() as session:
        mine = contents(session)
    with open_logbook(folder) as session:
        assert mine == contents(session)


def contents(session: Session) -> dict[str, list[tuple[Any, ...]]]:
    rows = {table: session.con.execute(f"SELECT * FROM {table}").fetchall() for table in TABLES}
    return {table: sorted(found, key=repr) for table, found in rows.items()}


@pytest.mark.thorough
def test_a_word_is_in_the_journal_when_say_returns(book: Book, opened: Opened) -> None:
    acts = say_tag(opened.desk, book.frames[:6])
    path = book.folder.journal / f"{book.folder.writer}.jsonl"
    last = journal.read(path).lines[-1]
    assert [last.act] == acts and last.edits[0]["frames"] == book.frames[:6]
    opened.wait("tags", 6)
    same_as_the_file(opened, book.folder)
    assert opened.told[-1].frames is not None and set(opened.told[-1].frames) == set(
        book.frames[:6]
    )
    assert not opened.told[-1].moved


@pytest.mark.thorough
def test_what_others_say_and_take_in_arrives(book: Book, opened: Opened) -> None:
    with open_logbook(book.folder) as session:
        tag(session, subject_of(session, "doe"), by_ids(session, book.frames[6:9]))
    opened.wait("tags", 3)
    book.card("CAM02", season(1, 3, 3), real=0)
    opened.wait("frames", 39)
    opened.wait("page.strips", 39)
    opened.desk.catch_up()
    assert opened.told[-1].moved
    same_as_the_file(opened, book.folder)


@pytest.mark.thorough
def test_what_a_detector_finds_meanwhile_arrives(book: Book, opened: Opened) -> None:
    (card,) = book.folder.cards.iterdir()
    replace_rows(card, [Detected(frame, "m", animal=0.9) for frame in book.frames[:4]])
    opened.wait("detected", 4)
    same_as_the_file(opened, book.folder)


@pytest.mark.thorough
def test_another_writers_file_and_its_undo_arrive(
    book: Book, opened: Opened, tmp_path: Path
) -> None:
    other = tmp_path / "copy"
    shutil.copytree(book.folder.root, other)
    theirs = Folder(other)
    with open_logbook(theirs) as session:
        tag(session, subject_of(session, "doe"), by_ids(session, book.frames[:4]))
    name = f"{theirs.writer}.jsonl"
    shutil.copy(theirs.journal / name, book.folder.journal / name)
    opened.wait("tags", 4)
    with open_logbook(theirs) as session:
        from camsign.logbook.history import undo

        undo(session)
    shutil.copy(theirs.journal / name, book.folder.journal / name)
    opened.wait("tags", 0)
    same_as_the_file(opened, book.folder)


def test_commands_find_the_logbook_free_while_the_page_is_open(book: Book, opened: Opened) -> None:
    say_tag(opened.desk, book.frames[:3])
    with open_logbook(book.folder) as session:
        assert session.con.execute("SELECT count(*) FROM tags").fetchone() == (3,)
        # And the page answers while a command holds the logbook.
        assert opened.count("frames") == 30


def test_a_logbook_in_use_is_said_so_and_nothing_is_noted(
    book: Book, opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    import threading

    monkeypatch.setenv("CAMSIGN_WAIT", "0.2")
    path = book.folder.journal / f"{book.folder.writer}.jsonl"
    before = path.read_bytes()
    with lock.held(book.folder.cache):
        errors: list[Exception] = []

        def try_it() -> None:
            try:
                say_tag(opened.desk, book.frames[:3])
            except CamsignError as e:
                errors.append(e)

        thread = threading.Thread(target=try_it)
        thread.start()
        thread.join()
    assert len(errors) == 1 and "in use" in str(errors[0])
    assert path.read_bytes() == before


@pytest.mark.thorough
def test_edited_settings_and_a_lost_journal_make_the_copy_anew(book: Book, opened: Opened) -> None:
    opened.wait("duckdb_indexes()", 3)  # laid soon after, so that a tag looks through no table
    say_tag(opened.desk, book.frames[:3])
    toml = book.folder.root / "logbook.toml"
    toml.write_text(toml.read_text().replace('visit_gap = "30min"', 'visit_gap = "20h"'))
    end = time.monotonic() + 20
    while opened.count("(SELECT DISTINCT strip FROM page.strips)") != 1 and time.monotonic() < end:
        time.sleep(0.1)
    assert opened.count("(SELECT DISTINCT strip FROM page.strips)") == 1
    for path in book.folder.journal.glob("*.jsonl"):
        path.unlink()
    opened.wait("bucks", 0)
    opened.desk.catch_up()
    assert opened.told[-1].moved and opened.told[-1].frames is None
    opened.wait("duckdb_indexes()", 3)


@pytest.mark.thorough
def test_two_threads_speak_and_no_word_is_lost(book: Book, opened: Opened) -> None:
    import threading

    def speak(n: int) -> None:
        for i in range(10):
            opened.desk.say(lambda s, i=i: add_buck(s, f"Buck {n}-{i}"))

    threads = [threading.Thread(target=speak, args=(n,)) for n in range(3)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    opened.desk.catch_up()
    assert opened.count("bucks") == 31
    same_as_the_file(opened, book.folder)


def test_frames_without_a_time_lie_in_strips_of_twelve(tmp_path: Path) -> None:
    book = new_book(tmp_path / "hollow")
    book.card("CAM01", [Shot(s.shown) for s in season(0, 5, 6)], real=0)
    with open_logbook(book.folder) as session:
        session.con.execute("UPDATE frame_times SET utc = NULL, local = NULL, burst = NULL")
        make_strips(session)
        sizes = session.con.execute(
            "SELECT count(*) FROM page.strips GROUP BY strip ORDER BY 1"
        ).fetchall()
    assert sizes == [(6,), (12,), (12,)]


def strip_sizes(session: Session) -> list[int]:
    make_strips(session)
    rows = session.con.execute("SELECT count(*) FROM page.strips GROUP BY strip").fetchall()
    return sorted(n for (n,) in rows)


def test_strips_part_at_the_visit_gap_and_at_each_deployment(tmp_path: Path) -> None:
    from datetime import timedelta

    from page_logbook import START

    book = new_book(tmp_path / "hollow")
    minutes = [0, 30, 60.02, 61]
    book.card("CAM01", [Shot(START + timedelta(minutes=m)) for m in minutes], real=0)
    with open_logbook(book.folder) as session:
        assert strip_sizes(session) == [2, 2]


def strange_and_good(folder: Folder, frame: str) -> None:
    """What a friend's copy brings at once: a good line, two that are strange, and a torn end."""

    def line(n: int, edits: list[dict[str, object]]) -> bytes:
        stamp = f"2026-01-01T00:00:0{n}.000Z-00000"
        return journal.encode(journal.Line("friend", n, stamp, f"f{n}", "said", edits, 1))

    tagged: list[dict[str, object]] = [{"tag": {"what": "doe"}, "frames": [frame]}]
    odd: list[dict[str, object]] = [{"set": "area", "id": "a-1", "to": {"shape": [1]}}]
    path = folder.journal / "friend.jsonl"
    path.write_bytes(line(1, tagged) + line(2, odd) + b"no journal\n" + line(3, tagged)[:40])


@pytest.mark.thorough
def test_a_strange_line_that_comes_while_a_page_is_open_costs_itself(
    book: Book, opened: Opened
) -> None:
    strange_and_good(book.folder, book.frames[1])
    opened.wait("tags", 1)  # the thread that follows took the good line, and nobody asked it to
    with opened.desk.reading() as session:
        told = unread(session)
    assert len(told) == 2
    assert "friend.jsonl, line 2: left out" in told[0] and "line 3: damaged" in told[1]
    assert opened.desk._thread.is_alive() and not opened.troubles
    say_tag(opened.desk, book.frames[:1])
    opened.wait("tags", 2)
    same_as_the_file(opened, book.folder)
    assert opened.told[0].frames == [book.frames[1]]
