"""A busy logbook goes round in the order in which it was asked for, and nobody is sent away."""

from __future__ import annotations

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
from camsign.logbook import journal, lock, turns
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
    monkeypatch.setattr(turns, "_ASLEEP_S", 1.0)
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
