"""Each system's own ways, on a fake of it: this machine is one of them only."""

from __future__ import annotations

import ast
import errno
import io
import os
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from camsign import systems
from camsign.logbook import database, folder, second_copies
from camsign.logbook.folder import Folder

# What Windows and DuckDB say of a file that another program has open (Microsoft, System Error
# Codes, 32 ERROR_SHARING_VIOLATION; the German words from memory).
SHARING = (
    'IO Error: Cannot open file "C:\\x\\camsign.duckdb": The process cannot access the file because'
    " it is being used by another process.",
    "IO Error: Der Prozess kann nicht auf die Datei zugreifen, da sie von einem anderen Prozess"
    " verwendet wird.",
)


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(systems, "SYSTEM", "windows")


def test_nothing_else_asks_which_system_it_runs_on() -> None:
    asks = re.compile(r"sys\.platform|os\.name\b|platform\.system|import (fcntl|msvcrt|ctypes)\b")
    package = Path(systems.__file__).parent
    found = {
        p.relative_to(package).as_posix()
        for p in package.rglob("*.py")
        if asks.search(p.read_text(encoding="utf-8"))
    }
    assert found == {"systems.py"}


def test_nothing_else_renames() -> None:
    """A rename on Windows waits for a scanner; a small picture does without (its own module)."""
    package = Path(systems.__file__).parent
    found = set()
    for path in package.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
                continue
            of, name = ast.unparse(node.func.value), node.func.attr
            paths = len(node.args) == 1 and not node.keywords
            if (name in ("rename", "replace") and paths) or (
                of in ("os", "shutil") and name in ("rename", "renames", "replace", "move")
            ):
                found.add(path.relative_to(package).as_posix())
    assert found == {"systems.py", "pixels/thumbs.py"}


def test_a_lock_is_one_handles_alone(tmp_path: Path) -> None:
    one, two = (os.open(tmp_path / "lock", os.O_RDWR | os.O_CREAT) for _ in range(2))
    assert systems.try_lock(one) and not systems.try_lock(two)
    systems.unlock(one)
    assert systems.try_lock(two)
    os.close(two)  # a handle that closes, as in a program that ends, lets go
    assert systems.try_lock(one)
    os.close(one)


class Locking:
    """msvcrt.locking as its page has it (Microsoft, _locking): one byte, from where one stands."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def __init__(self) -> None:
        self.taken: dict[int, int] = {}

    def locking(self, handle: int, mode: int, length: int) -> None:
        assert length == 1 and os.lseek(handle, 0, os.SEEK_CUR) == 0
        file = os.fstat(handle).st_ino
        if mode == self.LK_UNLCK:
            del self.taken[file]
        elif file in self.taken:
            raise OSError(errno.EACCES, "Permission denied")
        else:
            self.taken[file] = handle


def test_windows_locks_its_own_way(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(systems, "_msvcrt", Locking())
    one, two = (os.open(tmp_path / "lock", os.O_RDWR | os.O_CREAT) for _ in range(2))
    assert systems.try_lock(one) and not systems.try_lock(two)
    systems.unlock(one)
    assert systems.try_lock(two)
    os.close(one)
    os.close(two)


def test_a_disk_that_knows_no_locks_is_not_one_that_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(handle: int, how: int) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(systems, "_fcntl", SimpleNamespace(flock=none, LOCK_EX=2, LOCK_NB=4))
    monkeypatch.setattr(systems, "SYSTEM", "posix")
    with pytest.raises(OSError, match=os.strerror(errno.ENOLCK)) as told:
        systems.try_lock(0)
    assert told.value.errno in systems.NO_LOCKS


def test_a_scanner_that_holds_a_file_for_a_moment_is_waited_for(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, tries = Path.replace, iter([True, True, False])
    monkeypatch.setattr(systems.time, "sleep", lambda s: None)

    def replace(self: Path, target: Path) -> Path:
        if next(tries):
            raise PermissionError(errno.EACCES, "used by another process")
        return real(self, target)

    (tmp_path / "a").write_bytes(b"new")
    monkeypatch.setattr(Path, "replace", replace)
    systems.replace(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").read_bytes() == b"new"


def test_elsewhere_a_refused_rename_is_told_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def replace(self: Path, target: Path) -> Path:
        calls.append(target)
        raise PermissionError(errno.EACCES, "no")

    monkeypatch.setattr(systems, "SYSTEM", "posix")
    monkeypatch.setattr(Path, "replace", replace)
    with pytest.raises(PermissionError):
        systems.replace(tmp_path / "a", tmp_path / "b")
    assert len(calls) == 1


def test_windows_forces_no_folder(windows: None, tmp_path: Path) -> None:
    systems.flush_folder(tmp_path / "not even there")
    assert not list(tmp_path.iterdir())


def test_windows_deletes_what_is_read_only(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Microsoft, DeleteFileW: it fails on a file with the read-only attribute."""
    real = Path.unlink

    def unlink(self: Path, missing_ok: bool = False) -> None:
        if not self.stat().st_mode & 0o200:
            raise PermissionError(errno.EACCES, "read-only")
        real(self, missing_ok)

    monkeypatch.setattr(Path, "unlink", unlink)
    (tmp_path / "cards" / "files").mkdir(parents=True)
    for name in ("cards/files/a.jpg", "cards/b.txt"):
        (tmp_path / name).touch()
        (tmp_path / name).chmod(0o444)
    systems.remove_tree(tmp_path / "cards")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("told", SHARING)
def test_a_file_that_another_program_holds_on_windows(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, told: str
) -> None:
    path = tmp_path / "camsign.duckdb"
    path.touch()
    assert not systems.is_held(path, told)

    real = Path.open

    def shut(self: Path, *how: Any, **more: Any) -> Any:
        if self == path:
            raise PermissionError(errno.EACCES, "used by another process")
        return real(self, *how, **more)

    monkeypatch.setattr(Path, "open", shut)
    assert systems.is_held(path, told)


@pytest.mark.parametrize("told", SHARING)
def test_a_busy_database_is_waited_for_on_windows_too(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, told: str
) -> None:
    import duckdb

    real, tries = duckdb.connect, iter([True, False])

    def connect(path: Any, **more: Any) -> Any:
        if next(tries):
            raise duckdb.IOException(told)
        return real(path, **more)

    monkeypatch.setattr(duckdb, "connect", connect)
    monkeypatch.setattr(database, "is_held", lambda path, told: True)
    database.connect(tmp_path / "x.duckdb").close()


class OneCase:
    """A disk that ignores case and keeps it, as those of macOS and Windows do, of one folder."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        patch.setattr(Path, "samefile", lambda one, other: self.samefile(one, other))
        patch.setattr(Path, "resolve", lambda path, strict=False: path)

    def samefile(self, one: Path, other: Path) -> bool:
        return self.listed(one) == self.listed(other)

    def listed(self, path: Path) -> Path:
        found = Path(path.anchor)
        for part in path.parts[1:]:
            alike = [p for p in found.iterdir() if p.name.casefold() == part.casefold()]
            if not alike:
                raise FileNotFoundError(path)
            found = alike[0]
        return found


def test_a_disk_that_ignores_case_gives_a_logbook_one_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "Big Woods" / "Log").mkdir(parents=True)
    typed = [tmp_path / "Big Woods" / "Log", tmp_path / "big woods" / "LOG"]
    assert len({Folder(path).path_hash for path in typed}) == 2  # this disk tells them apart
    OneCase(monkeypatch)
    assert {systems.true_path(path) for path in typed} == {typed[0]}
    assert len({Folder(path).path_hash for path in typed}) == 1


def test_where_case_counts_a_path_stays_as_it_is(tmp_path: Path) -> None:
    for name in ("Woods", "woods"):
        (tmp_path / name).mkdir()
        assert systems.true_path(tmp_path / name) == (tmp_path / name).resolve()
    assert systems.true_path(tmp_path / "none yet") == (tmp_path / "none yet").resolve()
    assert folder.true_path is systems.true_path


def test_long_paths_are_asked_for_on_windows_only(
    windows: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Microsoft, Maximum Path Length Limitation: `\\\\?\\` before an absolute path."""
    assert systems.long_path("/x/y") == "\\\\?\\" + str(Path("/x/y").absolute())
    assert systems.long_path("\\\\?\\C:\\x") == "\\\\?\\C:\\x"
    monkeypatch.setattr(systems, "SYSTEM", "macos")
    assert systems.long_path("/x/y") == "/x/y"


def test_a_backup_is_shown_where_this_system_has_its_disks(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shown = []
    for system in ("windows", "macos", "posix"):
        monkeypatch.setattr(systems, "SYSTEM", system)
        shown.append(second_copies.words(Folder(tmp_path)).partition("camsign backup ")[2])
    disks = ["E:\\", "/Volumes/BACKUP", "/media/usb"]
    assert shown == [f"{disk} (your other disk)" for disk in disks]


def test_volumes(windows: None, monkeypatch: pytest.MonkeyPatch) -> None:
    import ctypes

    def volume(root: str, text: Any, *_: object) -> int:
        text.value = "SPYCAM"
        return 1

    kernel = SimpleNamespace(kernel32=SimpleNamespace(GetVolumeInformationW=volume))
    monkeypatch.setattr(ctypes, "windll", kernel, raising=False)
    assert systems.volume_label(Path("/")) == "SPYCAM"  # a drive's root has no name of its own
    assert systems.volume_label(Path("/Volumes/CAM03")) == "CAM03"
    monkeypatch.setattr(systems, "SYSTEM", "macos")
    assert systems.volume_label(Path("/")) == ""
    assert systems.is_system_disk(Path("/")) and not systems.is_system_disk(Path("/Volumes/CAM03"))


def test_the_system_drive_of_windows_is_no_card(
    windows: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pathlib import PureWindowsPath

    monkeypatch.setenv("SYSTEMDRIVE", "c:")
    drives: Any = [PureWindowsPath("C:\\"), PureWindowsPath("E:\\")]
    assert [systems.is_system_disk(drive) for drive in drives] == [True, False]


def test_stubs_of_sync_services() -> None:
    """Microsoft, File Attribute Constants; Apple, stat(2), SF_DATALESS."""

    class Stub:
        def __init__(self, **stat: int) -> None:
            self._stat = SimpleNamespace(**stat)

        def stat(self) -> SimpleNamespace:
            return self._stat

    made: Any = [Stub(st_file_attributes=0x0040_0000), Stub(st_flags=0x4000_0000), Stub()]
    assert [systems.is_stub(path) for path in made] == [True, True, False]


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii"])
def test_what_a_console_cannot_write_is_substituted(encoding: str) -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding)
    systems.bear_any_text(stream)
    stream.write("Łoś −3 °F 🦌\n")
    stream.flush()
    assert b"?" in raw.getvalue()


def test_ports_and_browsers(windows: None, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    assert systems.shows_windows() and not systems.may_reuse_ports()
    monkeypatch.setattr(systems, "SYSTEM", "posix")
    assert not systems.shows_windows() and systems.may_reuse_ports()
    monkeypatch.setenv("DISPLAY", ":0")
    assert systems.shows_windows()
