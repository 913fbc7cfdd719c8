"""Starting, finding and setting up a logbook."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import InputRefused, UsageError
from camsign.logbook import folder, journal, settings


def create(path: Path) -> folder.Folder:
    return folder.create(path, "America/New_York", (44.6, -71.2), "metric")


def test_a_new_logbook_has_its_parts_and_reads_its_own_settings(tmp_path: Path) -> None:
    book = create(tmp_path / "book")
    assert sorted(p.name for p in book.root.iterdir()) == ["cards", "journal", "logbook.toml"]
    s = book.settings
    assert (s.tz, s.home, s.units) == ("America/New_York", (44.6, -71.2), "metric")
    assert s == settings.Settings(id=s.id, tz=s.tz, home=s.home, units=s.units), (
        "the template and the defaults say the same"
    )


def test_a_logbook_is_never_started_over_something(tmp_path: Path) -> None:
    create(tmp_path / "book")
    with pytest.raises(InputRefused, match="is a logbook already"):
        create(tmp_path / "book")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").touch()
    with pytest.raises(InputRefused, match="not an empty folder"):
        create(tmp_path / "full")


def test_the_nearest_logbook_above_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = create(tmp_path / "book")
    deep = book.root / "cards" / "x"
    deep.mkdir()
    assert folder.find(None, deep).root == book.root
    assert folder.find(None, tmp_path).root == book.root  # the only one in a folder here
    create(tmp_path / "other")
    with pytest.raises(UsageError, match="2 logbooks lie here: book, other"):
        folder.find(None, tmp_path)
    (tmp_path / "empty").mkdir()
    with pytest.raises(UsageError, match="no logbook here, above"):
        folder.find(None, tmp_path / "empty")
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(book.root))
    assert folder.find(None, tmp_path).root == book.root
    with pytest.raises(UsageError, match="holds no logbook"):
        folder.find(tmp_path, deep)


def test_a_copied_logbook_has_another_writer_and_another_cache(tmp_path: Path) -> None:
    import shutil

    one = create(tmp_path / "one")
    writer = one.writer
    shutil.copytree(one.root, tmp_path / "two")
    two = folder.Folder(tmp_path / "two")
    assert two.writer != writer
    assert two.cache != one.cache
    assert folder.Folder(one.root).writer == writer


@given(st.datetimes(timezones=st.just(__import__("datetime").UTC)), st.integers(0, 99))
def test_a_stamp_is_always_later_than_what_was_seen(now: object, counter: int) -> None:
    from datetime import datetime

    assert isinstance(now, datetime)
    seen = journal.next_stamp(now)[:-5] + f"{counter:05d}"
    assert journal.next_stamp(now, seen) > seen
    assert journal.next_stamp(now, journal.FIRST) > journal.FIRST
