"""A busy logbook goes round in the order in which it was asked for, and nobody is sent away."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import made_cards as made
import pytest

from camsign.errors import LogbookBusy
from camsign.logbook import journal, lock
from camsign.logbook.folder import Folder

WAITER = """
import sys
from pathlib import Path
from camsign.logbook import lock
with lock.held(Path(sys.argv[1])):
    print("held", flush=True)
"""


def until(what: Callable[[], bool]) -> None:
    for _ in range(6000):
        if what():
            return
        time.sleep(0.01)
    pytest.fail("it never came to that")


def in_line(cache: Path) -> int:
    return len(list((cache / "waiting").glob("*"))) if (cache / "waiting").exists() else 0


def test_who_asked_first_gets_it_first(tmp_path: Path) -> None:
    order: list[int] = []

    def ask(i: int) -> None:
        with lock.held(tmp_path):
            order.append(i)

    threads = [threading.Thread(target=ask, args=(i,)) for i in range(8)]
    with lock.held(tmp_path):
        for i, thread in enumerate(threads):
            thread.start()
            until(lambda i=i: in_line(tmp_path) == i + 1)
    for thread in threads:
        thread.join(60)
    assert order == list(range(8))
    assert in_line(tmp_path) == 0


def test_two_that_take_it_over_and_over_starve_nobody(tmp_path: Path) -> None:
    taken: list[str] = []
    ended = threading.Event()

    def over_and_over() -> None:
        while not ended.is_set():
            with lock.held(tmp_path):
                taken.append("again")

    threads = [threading.Thread(target=over_and_over) for _ in range(2)]
    for thread in threads:
        thread.start()
    try:
        until(lambda: len(taken) > 5)
        for _ in range(10):
            before = len(taken)
            with lock.held(tmp_path):
                # One may hold it, one be in line; one more may have looked before we stood there.
                assert len(taken) - before <= 4
    finally:
        ended.set()
        for thread in threads:
            thread.join(60)


def test_a_line_that_moves_is_waited_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Together they hold it for longer than anybody waits for one of them."""
    monkeypatch.setenv("CAMSIGN_WAIT", "2")
    refused: list[LogbookBusy] = []

    def hold() -> None:
        try:
            with lock.held(tmp_path):
                time.sleep(0.4)
        except LogbookBusy as e:
            refused.append(e)

    threads = [threading.Thread(target=hold) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert refused == []


def test_on_a_full_disk_it_is_still_seen_that_the_line_moves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody can be named there; that somebody took the lock must be seen all the same."""

    def full(self: Path, *_: object, **__: object) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_text", full)
    stamps = set()
    for _ in range(3):
        with lock.held(tmp_path):
            stamps.add(lock._stamp(tmp_path))
    assert len(stamps) == 3


FORKED = """
import os, sys
from pathlib import Path
from camsign.errors import LogbookBusy
from camsign.logbook import lock
cache = Path(sys.argv[1])

def is_busy():
    try:
        with lock.held(cache):
            return False
    except LogbookBusy:
        return True

def waited_for():
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    return None

answers = []
with lock.held(cache):
    same = waited_for()
    if same is None:
        os._exit(not is_busy())  # the lock is its parent's
    answers.append(same)
    child = os.fork()
    if child:
        os.waitpid(child, 0)
        other = waited_for()
        if other is None:
            os._exit(not is_busy())  # the child that left the block let go of nothing
        answers.append(other)
if not child:
    os._exit(0)
print(answers)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="nothing forks on Windows")
def test_a_forked_child_neither_holds_the_lock_nor_lets_go_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CAMSIGN_WAIT", "0.1")
    words = [sys.executable, "-c", FORKED, str(tmp_path)]
    told = subprocess.run(words, capture_output=True, text=True, timeout=600)
    assert (told.stdout, told.stderr) == ("[True, True]\n", "")


ORPHAN = """
import os, signal, sys, time
from pathlib import Path
from camsign.logbook import lock
with lock.held(Path(sys.argv[1])):
    if child := os.fork():
        print(child, flush=True)
        os.kill(os.getpid(), signal.SIGKILL)
    sys.stdout.close()
    os.close(1)
    time.sleep(600)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="nothing forks on Windows")
def test_what_a_killed_program_held_is_free_though_its_forked_child_lives(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CAMSIGN_WAIT", "5")
    words = [sys.executable, "-c", ORPHAN, str(tmp_path)]
    told = subprocess.run(words, stdout=subprocess.PIPE, text=True, timeout=600)
    child = int(told.stdout)
    try:
        assert told.returncode == -signal.SIGKILL
        with lock.held(tmp_path):
            os.kill(child, 0)  # it is there still
    finally:
        os.kill(child, signal.SIGKILL)


def test_one_who_keeps_it_is_named_in_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CAMSIGN_WAIT", "0.2")
    refused: list[str] = []

    def ask() -> None:
        with pytest.raises(LogbookBusy) as told, lock.held(tmp_path):
            pass
        refused.append(str(told.value))

    with lock.held(tmp_path):
        thread = threading.Thread(target=ask)
        thread.start()
        thread.join(60)
    assert f"process {os.getpid()}" in refused[0]
    assert in_line(tmp_path) == 0


@pytest.mark.skipif(os.name != "posix", reason="killed and stopped by signals")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSTOP])
def test_a_waiting_program_that_is_killed_or_asleep_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: signal.Signals
) -> None:
    monkeypatch.setattr(lock, "_ASLEEP_S", 1.0)
    with lock.held(tmp_path):
        waiter = subprocess.Popen([sys.executable, "-c", WAITER, str(tmp_path)])
        until(lambda: in_line(tmp_path) == 1)
        waiter.send_signal(how)
        if how is signal.SIGKILL:
            waiter.wait()
    got = threading.Event()

    def ask() -> None:
        with lock.held(tmp_path):
            got.set()

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join(60)
    assert got.is_set()
    waiter.kill()
    waiter.wait()


def test_what_the_dead_left_in_the_line_is_cleared(tmp_path: Path) -> None:
    (tmp_path / "waiting").mkdir()
    left = tmp_path / "waiting" / "000000000007-1-abcd"
    left.touch()
    os.utime(left, (1, 1))
    with lock.held(tmp_path):
        pass
    assert in_line(tmp_path) == 0


def test_without_room_for_a_place_it_is_waited_for_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "waiting").write_text("no folder can be made here")
    held = threading.Event()

    def ask() -> None:
        with lock.held(tmp_path):
            held.set()

    with lock.held(tmp_path):
        thread = threading.Thread(target=ask)
        thread.start()
        time.sleep(0.1)
        assert not held.is_set()
    thread.join(60)
    assert held.is_set()


@pytest.mark.thorough
def test_twenty_programs_tag_at_once_and_none_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The short form: as many as there are hands in a deer camp, each a command of its own."""
    assert at_once(tmp_path, monkeypatch, 20) == 0


def at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, programs: int) -> int:
    """Let so many programs say something at once; give how many were refused."""
    monkeypatch.setenv("CAMSIGN_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(tmp_path / "config"))
    monkeypatch.delenv("CAMSIGN_WAIT", raising=False)
    book = made.logbook(tmp_path / "book", "CAM03")
    words = [sys.executable, "-m", "camsign", "--logbook", str(book.root), "buck", "add"]
    running = [subprocess.Popen([*words, f"Buck {i}"]) for i in range(programs)]
    codes = [program.wait(600) for program in running]
    (path,) = Folder(book.root).journal.glob("*.jsonl")
    said = {line.what for line in journal.read(path).lines}
    assert len([w for w in said if "Buck" in w]) == codes.count(0)
    return len([code for code in codes if code])
