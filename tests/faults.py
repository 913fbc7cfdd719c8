"""Things that go wrong, for tests: cards that fail, disks that fill or lie, killed processes."""

from __future__ import annotations

import contextlib
import errno
import multiprocessing
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from multiprocessing import forkserver
from multiprocessing.context import ForkServerContext
from pathlib import Path

import killed_work
import pytest

from camsign.flows.intake.read import Reader
from camsign.logbook.placing import Disk


class BadCard(Reader):
    """A card on which the files with these name endings give a read error, long ones half-way."""

    def __init__(self, *endings: str) -> None:
        self.endings = endings

    def read(self, path: str) -> bytes:
        if path.endswith(self.endings):
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return super().read(path)

    def pieces(self, path: str) -> Iterator[bytes]:
        for number, piece in enumerate(super().pieces(path)):
            if number and path.endswith(self.endings):
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            yield piece


class PulledCard(Reader):
    """A card that is pulled out after so many reads: its folder is gone, as a mount is."""

    def __init__(self, root: Path, after: int) -> None:
        self.root, self.left = root, after
        self.guard = threading.Lock()

    def read(self, path: str) -> bytes:
        with self.guard:
            self.left -= 1
            if self.left == 0:
                self.root.rename(self.root.with_name("pulled"))
        return super().read(path)

    def insert(self) -> None:
        self.root.with_name("pulled").rename(self.root)


class FullDisk(Disk):
    """A disk that is full after so many files."""

    def __init__(self, after: int) -> None:
        self.left = after
        self.guard = threading.Lock()

    def write(self, path: Path, data: bytes) -> None:
        with self.guard:
            self.left -= 1
            full = self.left < 0
        if full:
            path.write_bytes(data[: len(data) // 2])
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        super().write(path, data)


class ForgetfulDisk(Disk):
    """A disk on which one bit of the n-th file is another when it is read back."""

    def __init__(self, nth: int) -> None:
        self.left = nth
        self.guard = threading.Lock()

    def write(self, path: Path, data: bytes) -> None:
        super().write(path, data)
        with self.guard:
            self.left -= 1
            hit = self.left == 0
        if hit:
            flip_bit(path)


def flip_bit(path: Path, seed: int = 1) -> None:
    """Flip one bit of a file in place, read-only or not."""
    data = bytearray(path.read_bytes())
    data[random.Random(seed).randrange(len(data))] ^= 1 << (seed % 8)
    path.chmod(0o600)
    path.write_bytes(data)


@contextmanager
def small_disk(path: Path, megabytes: int) -> Iterator[Path]:
    """A real file system of so many megabytes; skips where mounting is not permitted."""
    path.mkdir(parents=True, exist_ok=True)
    options = ["-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(path)]
    if shutil.which("mount") is None or _run("mount", *options):
        pytest.skip("no file system can be mounted here")
    try:
        yield path
    finally:
        _run("umount", "-l", str(path))


MOUNTS = {
    "exfat": (["mkfs.exfat"], [["mount", "-t", "exfat"], ["mount.exfat-fuse"]]),
    "ntfs": (["mkfs.ntfs", "-Q", "-F"], [["mount", "-t", "ntfs3"], ["ntfs-3g"]]),
    "vfat": (["mkfs.vfat", "-F", "32"], [["mount", "-t", "vfat"]]),
}
"""How a stick's file systems are made and mounted: by the kernel, or by FUSE where it cannot.

FAT by the kernel alone: the one FUSE driver for it (fusefat 0.1a) refuses to lengthen a file.
"""


@contextmanager
def stick(image: Path, kind: str) -> Iterator[Path]:
    """A folder on one of `MOUNTS`, kept in a file; it is made if it is not there yet.

    Skips where it cannot be made or mounted.
    """
    make, ways = MOUNTS[kind]
    if not image.exists():
        with image.open("wb") as f:
            f.truncate(64 << 20)
        if shutil.which(make[0]) is None or _run(*make, str(image)):
            pytest.skip(f"no {make[0]} here")
    at = image.with_name(f"{image.stem}-mounted")
    at.mkdir(exist_ok=True)
    words = ["losetup", "-f", "--show", str(image)]
    loop = subprocess.run(words, capture_output=True, text=True).stdout.strip()
    if not loop or not any(shutil.which(w[0]) and not _run(*w, loop, str(at)) for w in ways):
        _run("losetup", "-d", loop)
        pytest.skip(f"no {kind} can be mounted here")
    try:
        yield at
    finally:
        os.sync()
        assert _run("umount", str(at)) == 0
        _run("losetup", "-d", loop)


@contextmanager
def read_only(path: Path) -> Iterator[None]:
    """The folder as on a write-protected disk; skips where mounting is not permitted."""
    if shutil.which("mount") is None or _run("mount", "--bind", str(path), str(path)):
        pytest.skip("no file system can be mounted here")
    try:
        if _run("mount", "-o", "remount,ro,bind", str(path)):
            pytest.skip("no file system can be made read-only here")
        yield
    finally:
        _run("umount", "-l", str(path))


def _run(*words: str) -> int:
    return subprocess.run(words, capture_output=True).returncode


INGEST = """
import sys
from pathlib import Path
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder
print("begun", flush=True)
ingest(Folder(Path(sys.argv[1])), [Path(p) for p in sys.argv[2:]])
print("done", flush=True)
"""


def killed_ingest(book: Path, card: Path, after_s: float) -> bool:
    """Run an ingest in its own process and kill it with SIGKILL; whether it was still at work."""
    process = subprocess.Popen(
        [sys.executable, "-c", INGEST, str(book), str(card)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "begun\n"
    time.sleep(after_s)
    process.send_signal(signal.SIGKILL)
    rest = process.communicate()[0]
    return "done" not in rest


KINDS = ("ingest", "tag", "merge", "rebuild", "thin", "backup")
"""What `killed` can do: each writes in its own way (killed_work.py)."""


@cache
def _forks() -> ForkServerContext:
    """A process that has loaded everything, from which others are forked in no time."""
    forks = multiprocessing.get_context("forkserver")
    forks.set_forkserver_preload(["killed_work"])
    paths = [str(Path(__file__).parent), os.environ.get("PYTHONPATH", "")]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", os.pathsep.join(filter(None, paths)))
        forkserver.ensure_running()
    return forks


@dataclass(frozen=True, slots=True)
class Killed:
    """What became of a piece of work: whether it was still at work when it was killed, what it
    had told, which is what it acknowledged, and how long it ran [s]."""

    hit: bool
    told: list[str]
    span_s: float


def killed(work: str, book: Path, *more: Path, after_s: float | None) -> Killed:
    """Do one of `KINDS` in a process of its own and kill it with SIGKILL.

    Args:
        work: which.
        book: the logbook's folder.
        more: what the work needs.
        after_s: when it is killed [s], counted from its beginning; None: it is left to end.
    """
    ours, theirs = _forks().Pipe(duplex=False)
    variables = {k: v for k, v in os.environ.items() if k.startswith("CAMSIGN_")}
    words = (work, theirs, variables, [book, *more])
    process = _forks().Process(target=killed_work.do, args=words)
    process.start()
    theirs.close()
    told = [ours.recv()]
    assert told == ["begun"]
    began = time.monotonic()
    if after_s is not None:
        time.sleep(after_s)
        process.kill()
    with contextlib.suppress(EOFError, OSError):
        while True:
            told.append(ours.recv())
    process.join()
    span = time.monotonic() - began
    return Killed(told[-1] != "done", [x for x in told[1:] if x != "done"], span)


_TERMINAL = """
import sys, time
from pathlib import Path
from camsign.derive.opening import open_logbook
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder
book = Folder(Path(sys.argv[1]))
for i in range(4000):
    with open_logbook(book) as session:
        session.say(f"noted {i}", [SetFields("buck", "b-1", {"traits": str(i)})])
    print(i, flush=True)
"""


def terminal(book: Path) -> subprocess.Popen[str]:
    """Begin to say one thing after the other, without a pause; each is printed once it was said."""
    words = [sys.executable, "-c", _TERMINAL, str(book)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
