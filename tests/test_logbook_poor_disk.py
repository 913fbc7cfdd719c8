"""Disks without permissions, folder fsync or locks: the work goes on and says what is missing."""

from __future__ import annotations

import errno
import os
import shutil
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace

import made_cards as made
import pytest

from camsign import systems
from camsign.cli.app import run
from camsign.errors import CamsignError, LogbookBusy, UsageError
from camsign.flows.intake import ingest
from camsign.flows.upkeep.backup import backup
from camsign.logbook import folder, journal, lock, placing
from camsign.logbook.edits import SetFields
from camsign.units import parse_when


@pytest.fixture
def poor(monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that refuses chmod (EPERM, as exFAT may) and fsync of folders (EINVAL, as SMB may)."""
    real = os.fsync

    def fsync(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        real(handle)

    def chmod(self: Path, mode: int, **_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(Path, "chmod", chmod)


@pytest.mark.thorough
def test_a_poor_disk_takes_a_card_and_words_and_says_once_what_it_does_not_promise(
    poor: None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book"
    assert run(["init", str(book), "--home", "44.62,-71.23", "--json"]) == 0
    err = capsys.readouterr().err
    assert err.count(placing.UNFORCED) == 1
    card = made.card(tmp_path / "CAM03", 2)
    assert run(["--logbook", str(book), "ingest", str(card), "--camera", "CAM03", "--json"]) == 0
    err = capsys.readouterr().err
    assert err.count(placing.UNFORCED) == 1 and err.count(placing.UNLOCKED) == 1
    assert run(["--logbook", str(book), "buck", "add", "Ferrous"]) == 0
    assert run(["--logbook", str(book), "look", "--all"]) in (0, 2)
    capsys.readouterr()


def test_a_full_or_broken_disk_is_no_poor_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(handle: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "fsync", broken)
    with pytest.raises(OSError, match=os.strerror(errno.EIO)):
        placing.place(tmp_path / "x", b"x")
    assert not list(tmp_path.iterdir())


def test_what_could_not_be_forced_was_not_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder's own fsync fails behind the line: nothing was noted, and nothing is there."""
    book = folder.create(tmp_path / "book", "UTC", None, "metric")
    assert book.writer

    def broken(self: placing.Disk, path: Path) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(placing.Disk, "fsync_folder", broken)
    with pytest.raises(CamsignError, match="nothing was noted"):
        journal.append(book, "x", [SetFields("buck", "b-1", {"name": "x"})])
    assert (book.journal / f"{book.writer}.jsonl").read_bytes() == b""


def test_a_disk_that_does_not_say_its_size_is_not_a_full_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As FAT by FUSE and some network shares: zero of all there is (statvfs, f_blocks)."""
    book = made.logbook(tmp_path / "book", "CAM03")
    monkeypatch.setattr(shutil, "disk_usage", lambda path: SimpleNamespace(total=0, free=0))
    assert ingest(book, [made.card(tmp_path / "CAM03", 2)]).safe_to_wipe
    assert backup(book, tmp_path / "usb").left == []


def busy_elsewhere(cache: Path) -> bool:
    """Whether another thread, which is as another program to the lock, finds it busy."""

    def ask() -> bool:
        try:
            with lock.held(cache):
                return False
        except LogbookBusy:
            return True

    with ThreadPoolExecutor(1) as pool:
        return pool.submit(ask).result()


def test_a_disk_without_locks_locks_by_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(handle: int) -> bool:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(systems, "try_lock", none)
    with lock.held(tmp_path):
        assert (tmp_path / "lock.file").exists()
        with lock.held(tmp_path):
            pass
        monkeypatch.setenv("CAMSIGN_WAIT", "0.1")
        assert busy_elsewhere(tmp_path)
    with lock.held(tmp_path):
        pass


def test_a_start_that_failed_does_not_block_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: placing.Disk, path: Path, data: bytes) -> None:
        path.write_bytes(data[:3])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(placing.Disk, "write", full)
        with pytest.raises(OSError, match="space"):
            folder.create(tmp_path / "book", "UTC", None, "metric")
    book = folder.create(tmp_path / "book", "UTC", None, "metric")
    assert book.settings.tz == "UTC"


def test_a_folder_that_holds_something_is_still_refused(tmp_path: Path) -> None:
    (tmp_path / "book" / "cards" / "mine").mkdir(parents=True)
    with pytest.raises(CamsignError, match="not an empty folder"):
        folder.create(tmp_path / "book", "UTC", None, "metric")


@pytest.mark.parametrize("text", ["0001-01-01", "9999-12-31", "1899-12-31 10:00"])
def test_days_out_of_our_time_are_refused(text: str) -> None:
    with pytest.raises(UsageError, match="not in our time"):
        parse_when(text)


@pytest.mark.parametrize("text", ["nan", "inf", "-1", "soon"])
def test_a_wait_that_is_no_span_is_one_line(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CAMSIGN_WAIT", text)
    with pytest.raises(UsageError, match="CAMSIGN_WAIT"):
        lock.wait_s()


def test_a_card_comes_in_under_a_lock_of_its_own(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    assert ingest(book, [made.card(tmp_path / "CAM03", 1)]).safe_to_wipe
    assert not placing.unpromised
