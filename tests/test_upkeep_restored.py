"""`verify --repair --from`: what stands beside pictures comes back, and only what sums prove."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import contextlib
import itertools
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from kept_logbook import files, home, kept, overwrite, say  # noqa: F401

from camsign.cli import app
from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.upkeep.backup import backup
from camsign.flows.upkeep.restored import restore
from camsign.flows.upkeep.thin import bring_back, thin
from camsign.flows.upkeep.verify import repair, verify
from camsign.logbook import let_go, placing
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder


@pytest.fixture
def book(home: Path) -> Folder:
    """The logbook, some pictures let go of, with a backup in `usb` beside it."""
    book = Folder(home / "book")
    for i in range(3):
        say(book, SetFields("buck", "b-1", {"traits": str(i)}))
    thin(book, consent=True, without_backup=True)
    backup(book, home / "usb")
    return book


def card(root: Path) -> Path:
    (path,) = (p for p in (root / "cards").iterdir() if p.is_dir())
    return path


def flip(path: Path, at: int = 40) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    overwrite(path, bytes(data))


def journal(book: Folder) -> Path:
    """The file of this machine's own writer; the logbook came with another one's."""
    return book.journal / f"{book.writer}.jsonl"


def kept_files(book: Folder) -> dict[str, bytes]:
    return {n: d for n, d in files(book.root).items() if "/.before-repair-" not in n}


BESIDE = ["receipt.json", "frames.parquet", "SHA256SUMS", "looks.parquet", "let-go.txt"]


@pytest.mark.thorough
def test_everything_that_is_written_comes_back_byte_for_byte(home: Path, book: Folder) -> None:
    before = files(book.root)
    for name in BESIDE:
        flip(card(book.root) / name)
    small = sorted((card(book.root) / "small").iterdir())
    flip(small[0])
    small[1].unlink()
    lines = journal(book).read_bytes().splitlines(keepends=True)
    overwrite(journal(book), b"".join([lines[0], lines[1][:30] + b"#" + lines[1][31:]]))
    assert verify(book).damaged
    done = repair(book, [home / "usb"])
    assert (done.findings, kept_files(book)) == ([], before)
    assert len(done.restored) == len(BESIDE) + 3


class Crash(BaseException):
    """The process ends here."""


class CrashingDisk(placing.Disk):
    """Ends the process at its n-th call."""

    def __init__(self, left: int) -> None:
        self.left = left

    def _step(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise Crash

    def write(self, path: Path, data: bytes) -> None:
        self._step()
        super().write(path, data)

    def rename(self, source: Path, target: Path) -> None:
        self._step()
        super().rename(source, target)

    def fsync_folder(self, folder: Path) -> None:
        self._step()
        super().fsync_folder(folder)


@pytest.mark.thorough
def test_a_crash_at_any_step_leaves_each_file_whole_or_as_it_was(
    home: Path, book: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = files(book.root)
    for name in BESIDE:
        flip(card(book.root) / name)
    lines = journal(book).read_bytes().splitlines(keepends=True)
    overwrite(journal(book), b"".join(lines[1:]))
    damaged = files(book.root)
    for at in itertools.count(0, 2):
        for name, data in damaged.items():
            overwrite(book.root / name, data)
        with monkeypatch.context() as patch:
            disk = CrashingDisk(at)
            for step in ("write", "rename", "fsync_folder"):
                patch.setattr(placing.DISK, step, getattr(disk, step))
            with contextlib.suppress(Crash):
                restore(book, [], home / "usb")
        now = kept_files(book)
        assert all(now[n] in (whole[n], damaged[n]) for n in whole), at
        assert not [n for n in now.keys() - whole.keys() if placing.TEMP_PREFIX not in n], at
        restore(book, [], home / "usb")
        assert {n: kept_files(book)[n] for n in whole} == whole, at
        if disk.left >= 0:
            break
    assert at > 12


@pytest.mark.thorough
@pytest.mark.parametrize("name", BESIDE)
@pytest.mark.parametrize("how", [Path.unlink, flip], ids=["gone", "flipped"])
def test_each_alone_comes_back(
    home: Path, book: Folder, name: str, how: Callable[[Path], None]
) -> None:
    before = files(book.root)
    how(card(book.root) / name)
    done = repair(book, [home / "usb"])
    assert (done.damaged, kept_files(book)) == ([], before)


@pytest.mark.thorough
@pytest.mark.parametrize("name", BESIDE)
@pytest.mark.parametrize("listed", [True, False], ids=["against its list", "without a list"])
def test_what_the_copy_has_damaged_is_not_brought_back(
    home: Path, book: Folder, name: str, listed: bool
) -> None:
    mine, theirs = card(book.root) / name, card(home / "usb") / name
    whole = mine.read_bytes().splitlines(keepends=True)
    mine.unlink()
    flip(theirs)
    if not listed:
        (home / "usb" / "SHA256SUMS").unlink()
    done = repair(book, [home / "usb"])
    if name == "let-go.txt" and not listed:  # each of its lines has a sum
        assert mine.read_bytes() == b"".join(whole[1:])
    else:
        assert not any(n.endswith(name) for n in done.restored)
    assert done.damaged


@pytest.mark.thorough
def test_a_picture_that_came_back_since_is_missed_though_the_copy_says_it_was_let_go(
    home: Path, book: Folder
) -> None:
    lost = min(let_go.read(card(book.root)))
    bring_back(book, home / "CAM03")
    (card(book.root) / lost).unlink()
    done = repair(book, [home / "usb"])
    assert [f.what for f in done.damaged] == ["is missing"]


@pytest.mark.thorough
def test_a_list_that_is_gone_comes_back_and_not_the_bytes_it_let_go_of(home: Path) -> None:
    book = Folder(home / "book")
    backup(book, home / "usb")
    thin(book, consent=True)
    backup(book, home / "usb")
    before = files(book.root)
    (card(book.root) / "let-go.txt").unlink()
    done = repair(book, [home / "usb"])
    assert (done.damaged, done.fetched, files(book.root)) == ([], 0, before)


@pytest.mark.thorough
def test_another_logbook_gives_nothing(home: Path, book: Folder) -> None:
    toml = home / "usb" / "logbook.toml"
    overwrite(toml, toml.read_bytes().replace(book.settings.id.encode(), b"0123456789ab"))
    (card(book.root) / "receipt.json").unlink()
    assert repair(book, [home / "usb"]).restored == []


@pytest.mark.thorough
def test_a_card_that_is_gone_comes_back_whole(home: Path, book: Folder) -> None:
    before = files(book.root)
    with open_logbook(book):
        pass
    shutil.rmtree(card(book.root))
    assert app.run(["--logbook", str(book.root), "verify"]) == 5
    words = ["--logbook", str(book.root), "verify", "--repair", "--from", str(home / "usb")]
    assert app.run(words) == 0
    assert kept_files(book) == before


@pytest.mark.thorough
def test_lines_come_back_and_those_said_since_the_backup_stay(home: Path, book: Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Since the backup"}))
    lines = journal(book).read_bytes().splitlines(keepends=True)
    overwrite(journal(book), b"".join([b"x" + lines[0][1:], *lines[2:]]))
    done = repair(book, [home / "usb"])
    assert (done.findings, journal(book).read_bytes()) == ([], b"".join(lines))
    (beside,) = book.journal.glob(".before-repair-*")  # what it was is kept
    assert beside.read_bytes().startswith(b"x")
    remove_database(book)
    with open_logbook(book) as session:
        assert ("Since the backup",) in session.con.execute("SELECT name FROM bucks").fetchall()


@pytest.mark.thorough
def test_a_damaged_line_that_the_copy_does_not_have_stays_where_it_is(
    home: Path, book: Folder
) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Since the backup"}))
    lines = journal(book).read_bytes().splitlines(keepends=True)
    overwrite(journal(book), b"".join([*lines[1:-1], b"x" + lines[-1][1:]]))
    done = repair(book, [home / "usb"])
    assert any("was changed" in f.what for f in done.damaged)
    assert lines[0] in b"".join(p.read_bytes() for p in book.journal.glob("*.jsonl"))
    assert journal(book).read_bytes().endswith(b"x" + lines[-1][1:])


@pytest.mark.thorough
def test_a_whole_journal_that_was_deleted_comes_back(home: Path, book: Folder) -> None:
    before = files(book.root)
    with open_logbook(book):
        pass
    journal(book).unlink()
    assert repair(book, [home / "usb"]).damaged == []
    assert kept_files(book) == before
