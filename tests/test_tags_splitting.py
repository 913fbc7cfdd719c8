"""Parting one buck into two, and undoing it."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_logbook import Book, new_book, season

from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.history import undo
from camsign.tags.bucks import merge_bucks
from camsign.tags.frames import by_ids
from camsign.tags.pictures import choose_reference, references
from camsign.tags.splitting import split_buck
from camsign.tags.tagging import subject_of, tag
from camsign.units import parse_bearing


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Split Brow in frames 0-5, in 3-5 going NE and unsure; Kicker, merged into him, in 6-8."""
    book = new_book(tmp_path / "hollow")
    book.frames = book.card("CAM01", season(0, 4, 3), real=0)
    book.buck("Split Brow")
    book.buck("Kicker")
    said = [
        ("Split Brow", 0, 3, None, None),
        ("Split Brow", 3, 6, "NE", "unsure"),
        ("Kicker", 6, 9, None, None),
    ]
    for who, a, b, travel, sure in said:
        with open_logbook(book.folder) as s:
            bearing = parse_bearing(travel) if travel else None
            tag(s, subject_of(s, who), by_ids(s, book.frames[a:b]), travel=bearing, sure=sure)
    with open_logbook(book.folder) as s:
        tag(s, subject_of(s, "doe"), by_ids(s, book.frames[4:5]), 2)
    with open_logbook(book.folder) as s:
        choose_reference(s, "Split Brow", book.frames[4])
    with open_logbook(book.folder) as s:
        merge_bucks(s, "Kicker", "Split Brow")
    return book


def who(book: Book) -> dict[str, list[tuple[object, ...]]]:
    """Give who stands where, by name, with travel and sureness."""
    with open_logbook(book.folder) as s:
        rows = s.con.execute(
            'SELECT coalesce(n.name, t.subject), t.frame, t."count", t.travel_deg, t.sure'
            " FROM tags t LEFT JOIN bucks_now n ON n.buck = t.buck_id"
        ).fetchall()
    out: dict[str, list[tuple[object, ...]]] = {}
    for name, frame, *rest in rows:
        out.setdefault(name, []).append((book.frames.index(frame), *rest))
    return {name: sorted(found, key=repr) for name, found in out.items()}


@pytest.mark.thorough
def test_frames_go_over_with_all_that_was_said_and_undo_brings_them_back(book: Book) -> None:
    before = who(book)
    with open_logbook(book.folder) as s:
        got = split_buck(s, "split brow", "Left Fork", [*book.frames[4:8], book.frames[11]])
    assert (got.buck, got.split_from, got.frames) == ("Left Fork", "Split Brow", 4)
    assert [skip.frame for skip in got.skipped] == [book.frames[11]]
    after = who(book)
    assert after["Left Fork"] == [
        (4, 1, 45.0, "unsure"), (5, 1, 45.0, "unsure"), (6, 1, None, None), (7, 1, None, None),
    ]  # fmt: skip
    assert [row[0] for row in after["Split Brow"]] == [0, 1, 2, 3, 8]
    assert after["animal/deer/female/"] == before["animal/deer/female/"]
    with open_logbook(book.folder) as s:
        assert [(r.buck, r.frame) for r in references(s)] == [("Left Fork", book.frames[4])]
        undo(s)
    assert who(book) == before
    with open_logbook(book.folder) as s:
        assert [r.buck for r in references(s)] == ["Split Brow"]


@pytest.mark.thorough
def test_what_does_not_fit_is_refused_and_nothing_is_said(book: Book) -> None:
    path = book.folder.journal / f"{book.folder.writer}.jsonl"
    before = path.read_bytes()
    with open_logbook(book.folder) as s:
        for buck, name, frames in (
            ("Split Brow", "New", book.frames[9:]),
            ("Split Brow", "split brow", book.frames[:1]),
            ("Nobody", "New", book.frames[:1]),
            ("Split Brow", "doe", book.frames[:1]),
        ):
            with pytest.raises(UsageError):
                split_buck(s, buck, name, frames)
    assert path.read_bytes() == before
