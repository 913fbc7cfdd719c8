"""A file is placed whole or not at all, whatever the disk does."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from camsign import systems
from camsign.errors import Damaged
from camsign.logbook.placing import Disk, adopt, place


def left_behind(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_a_placed_file_is_whole_and_read_only(tmp_path: Path) -> None:
    place(tmp_path / "a.jpg", b"bytes")
    assert (tmp_path / "a.jpg").read_bytes() == b"bytes"
    assert not (tmp_path / "a.jpg").stat().st_mode & stat.S_IWUSR
    assert left_behind(tmp_path) == ["a.jpg"]


def test_placing_again_replaces_a_read_only_file(tmp_path: Path) -> None:
    place(tmp_path / "a", b"one")
    place(tmp_path / "a", b"two")
    assert (tmp_path / "a").read_bytes() == b"two"


class Flips(Disk):
    """A disk that gives back one bit wrong."""

    def read_back(self, path: Path) -> Iterator[bytes]:
        data = bytearray(b"".join(super().read_back(path)))
        data[len(data) // 2] ^= 4
        yield bytes(data)


class Shorter(Disk):
    """A disk that loses the end of a file."""

    def read_back(self, path: Path) -> Iterator[bytes]:
        yield b"".join(super().read_back(path))[:-1]


class Full(Disk):
    """A disk that is full half-way through the file."""

    def write(self, path: Path, data: bytes) -> None:
        super().write(path, data[: len(data) // 2])
        raise OSError(28, "No space left on device")


class StaysTorn(Disk):
    """A disk whose rename fails."""

    def rename(self, source: Path, target: Path) -> None:
        raise OSError(5, "Input/output error")


@pytest.mark.parametrize(
    ("disk", "error"),
    [(Flips(), Damaged), (Shorter(), Damaged), (Full(), OSError), (StaysTorn(), OSError)],
)
def test_a_failing_disk_leaves_the_old_file_and_no_litter(
    tmp_path: Path, disk: Disk, error: type[Exception]
) -> None:
    place(tmp_path / "a", b"old bytes")
    with pytest.raises(error):
        place(tmp_path / "a", b"new bytes", disk=disk)
    assert (tmp_path / "a").read_bytes() == b"old bytes"
    assert left_behind(tmp_path) == ["a"]


def test_steps_come_in_the_documented_order(tmp_path: Path) -> None:
    steps: list[str] = []

    class Told(Disk):
        def write(self, path: Path, data: bytes) -> None:
            steps.append("write")
            super().write(path, data)

        def read_back(self, path: Path) -> Iterator[bytes]:
            steps.append("read back")
            return super().read_back(path)

        def rename(self, source: Path, target: Path) -> None:
            steps.append("rename")
            super().rename(source, target)

        def fsync_folder(self, folder: Path) -> None:
            steps.append("fsync folder")
            super().fsync_folder(folder)

    place(tmp_path / "a", b"x", disk=Told())
    assert steps == ["write", "read back", "rename", "fsync folder"]


def test_another_librarys_file_is_adopted(tmp_path: Path) -> None:
    (tmp_path / "t").write_bytes(b"rows")
    adopt(tmp_path / "t", tmp_path / "rows.parquet")
    assert left_behind(tmp_path) == ["rows.parquet"]


def on_a_mac(monkeypatch: pytest.MonkeyPatch, answer: int) -> list[str]:
    """Apple, fcntl(2): F_FULLFSYNC; a stand-in for the system's call, since this is no Mac.

    Give where it will be noted how a file was forced. `answer`: an errno, or 0.
    """
    asked: list[str] = []

    class Mac:
        F_FULLFSYNC = 51

        @staticmethod
        def fcntl(handle: int, what: int) -> None:
            asked.append(f"all {what}")
            if answer:
                raise OSError(answer, os.strerror(answer))

    monkeypatch.setattr(systems, "_fcntl", Mac)
    monkeypatch.setattr(systems.os, "fsync", lambda handle: asked.append("plainly"))
    return asked


def test_on_macos_the_drives_own_memory_is_forced_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = on_a_mac(monkeypatch, 0)
    place(tmp_path / "a", b"one")
    assert asked == ["all 51", "all 51"]  # the file, then its folder


@pytest.mark.parametrize("answer", [errno.ENOTSUP, errno.EINVAL, errno.ENOTTY])
def test_a_disk_of_a_mac_that_knows_no_such_call_is_asked_plainly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: int
) -> None:
    asked = on_a_mac(monkeypatch, answer)
    place(tmp_path / "a", b"one")
    assert asked == ["all 51", "plainly"] * 2


@pytest.mark.parametrize("answer", [errno.ENOSPC, errno.EIO])
def test_a_disk_of_a_mac_that_is_full_or_broken_places_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: int
) -> None:
    """An fsync behind it may succeed: what the first call could not write is forgotten by then."""
    asked = on_a_mac(monkeypatch, answer)
    with pytest.raises(OSError, match=os.strerror(answer)):
        place(tmp_path / "a", b"one")
    assert (asked, left_behind(tmp_path)) == (["all 51"], [])
