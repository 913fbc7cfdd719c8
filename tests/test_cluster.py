"""Measuring, comparing and detecting through the executor that is handed in, near or far."""

from __future__ import annotations

import contextlib
import json
import os
import pickle
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import made_cards
import pytest
from test_cli_look import model

from camsign.cli.app import run
from camsign.derive.comparing import compare
from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused
from camsign.flows import cluster as far
from camsign.flows.intake import ingest
from camsign.flows.remeasure.detect import detect
from camsign.flows.remeasure.look_again import look_again
from camsign.logbook.cardfacts import DETECTED, LOOKS
from camsign.logbook.folder import Folder
from camsign.pixels.detector import Detector
from camsign.pixels.moved_cameras import MovePlan, find_moves
from camsign.tags.frames import Which

distributed = pytest.importorskip("distributed")


class Elsewhere(Executor):
    """Does tasks as another process would: each is pickled on its way, and so is what it gives."""

    def __init__(self) -> None:
        self.names: list[str] = []

    def submit(self, fn: Callable[..., Any], /, *args: Any, **more: Any) -> Future[Any]:
        done: Future[Any] = Future()
        self.names.append(f"{getattr(fn, 'func', fn).__module__}")
        work, given = pickle.loads(pickle.dumps((fn, args)))
        done.set_result(pickle.loads(pickle.dumps(work(*given, **more))))
        return done


def book_of(root: Path, cameras: int, pictures: int) -> Folder:
    """A logbook of some cards, a camera each."""
    names = [f"CAM{n:02d}" for n in range(1, cameras + 1)]
    book = made_cards.logbook(root / "book", *names)
    for n, name in enumerate(names):
        made_cards.card(root / name, pictures, first=n * pictures)
        ingest(book, [root / name], camera=name)
    return book


def kept(book: Folder, name: str) -> dict[str, bytes]:
    """What stands measured, card by card, and what was compared, by name."""
    paths = [*book.cards.glob(f"*/{name}"), *(book.cache / "changes").glob("*.parquet")]
    return {f"{p.parent.name}/{p.name}": p.read_bytes() for p in paths}


def forgotten(book: Folder) -> None:
    """What was measured and compared is gone."""
    for path in book.cards.glob(f"*/{LOOKS}"):
        path.unlink()
    shutil.rmtree(book.cache)


@pytest.mark.thorough
def test_all_work_on_pictures_goes_through_what_is_handed_in(tmp_path: Path) -> None:
    book = book_of(tmp_path, 2, 10)
    here = kept(book, LOOKS)
    assert len(here) >= 4  # two cards, and a batch of each
    forgotten(book)
    elsewhere = Elsewhere()
    assert look_again(book, Which(), executor=elsewhere).frames == 20
    assert kept(book, LOOKS) == here
    measured = "camsign.flows.remeasure.originals"
    assert elsewhere.names.count(measured) == 4  # eight and two of each card
    assert "camsign.pixels.changes" in elsewhere.names
    elsewhere.names.clear()
    shutil.rmtree(book.cache / "changes")
    assert compare(book, executor=elsewhere) == 20
    assert kept(book, LOOKS) == here and set(elsewhere.names) == {"camsign.pixels.changes"}
    with open_logbook(book) as session:
        rows = session.con.execute(
            "SELECT frame FROM frames WHERE frame IN (FROM looks SELECT frame)"
        )
        frames = tuple(frame for (frame,) in rows.fetchall())
    plan = MovePlan((("one", frames, tuple(book.cards.iterdir())),), book.cache / "moves")
    assert find_moves(plan, executor=elsewhere) == 1
    assert elsewhere.names[-1] == "camsign.pixels.moved_cameras"


def test_workers_read_the_pictures_where_they_are_told_to(tmp_path: Path) -> None:
    book, bucket = book_of(tmp_path, 1, 10), tmp_path / "bucket"
    here = kept(book, LOOKS)
    shutil.copytree(book.cards, bucket / "cards")
    forgotten(book)
    elsewhere = Elsewhere()
    done = look_again(book, Which(), executor=elsewhere, there=bucket.as_uri())
    assert done.frames == 10 and kept(book, LOOKS) == here
    assert set(elsewhere.names) == {"camsign.flows.remeasure.originals"}
    first, second, *_ = sorted((bucket / "cards").glob("*/files/**/*.JPG"))
    first.chmod(0o644)
    first.write_bytes(first.read_bytes()[:-9] + b"\0" * 9)
    second.unlink()
    forgotten(book)
    done = look_again(book, Which(), executor=elsewhere, there=bucket.as_uri() + "/")
    assert done.frames == 8
    why = sorted(one.why.removeprefix(bucket.as_uri()) for one in done.skipped)
    names = [str(path.relative_to(bucket)) for path in (first, second)]
    assert why == [f"/{names[0]} is damaged", f"/{names[1]} is missing"]


def test_an_address_that_no_worker_can_open_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for address in (f"{tmp_path.as_uri()}/gone", "tide://woods", f"{tmp_path.as_uri()}"):
        with pytest.raises(InputRefused, match="cannot read the logbook at"):
            far._task(address, far._code(), len, "abc")
    (tmp_path / "cards").mkdir()
    assert far._task(f"{tmp_path.as_uri()}/", far._code(), len, "abc") == 3
    book = made_cards.logbook(tmp_path / "book", "CAM01")
    assert run(["--logbook", str(book.root), "look", "--pictures-at", "s3://woods"]) == 2
    assert "--pictures-at is for --workers" in capsys.readouterr().err


def test_a_detector_goes_with_its_tasks_as_its_path(tmp_path: Path) -> None:
    there = pickle.dumps(Detector(model(tmp_path)))
    assert len(there) < 1000 and pickle.loads(there) is pickle.loads(there)
    recipe = tmp_path / "any.toml"
    recipe.write_text(recipe.read_text(encoding="utf-8") + "# other\n", encoding="utf-8")
    again = pickle.dumps(Detector(tmp_path / "any.onnx"))
    recipe.write_text(recipe.read_text(encoding="utf-8") + "# and other\n", encoding="utf-8")
    with pytest.raises(InputRefused, match="another detector"):
        pickle.loads(again)


def test_what_is_no_address_is_refused_before_anything_is_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = made_cards.logbook(tmp_path / "book", "CAM01")
    for address in ("tcp://club", "http://club:8786", "club:8786", "tcp://a b:1"):
        assert run(["--logbook", str(book.root), "look", "--workers", address]) == 2
        err = capsys.readouterr().err
        assert err.count("\n") == 1 and address in err and "tcp://HOST:8786" in err


def test_without_the_extra_the_option_is_refused_in_a_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book = made_cards.logbook(tmp_path / "book", "CAM01")
    monkeypatch.setattr(far, "find_spec", lambda name: None)
    assert run(["--logbook", str(book.root), "look", "--workers", "tcp://127.0.0.1:1"]) == 3
    err = capsys.readouterr().err
    assert err.count("\n") == 1 and "pip install camsign[cluster]" in err


def test_a_task_is_done_only_by_the_same_program_that_sees_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = "0123456789abcdef 5.0"
    monkeypatch.setattr(far, "_code", lambda: code)
    assert far._task(tmp_path, code, len, "abc") == 3
    with pytest.raises(InputRefused, match="does not see"):
        far._task(tmp_path / "gone", code, len, "abc")
    with pytest.raises(InputRefused, match="another version"):
        far._task(tmp_path, code + "1", len, "abc")


class Lost(Executor):
    """Takes tasks of which nothing is heard again; it is a client of no scheduler as well."""

    status = "running"

    def __init__(self) -> None:
        self.taken: list[Future[Any]] = []

    def get_executor(self, pure: bool) -> Executor:
        return self

    def subscribe_topic(self, topic: str, handler: Callable[..., Any]) -> None:
        self.handler = handler

    def close(self) -> None:
        self.status = "closed"

    def submit(self, fn: Callable[..., Any], /, *args: Any, **more: Any) -> Future[Any]:
        self.taken.append(Future())
        return self.taken[-1]


@pytest.mark.timeout(60)
def test_a_task_left_without_an_end_is_given_up_when_the_line_is_closed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book, lost = made_cards.logbook(tmp_path / "book", "CAM01"), Lost()
    monkeypatch.setattr(far, "_client", lambda address: lost)
    gone = "the scheduler at tcp://club:1 is gone"
    with (
        pytest.raises(InputRefused, match=gone),
        far.cluster("tcp://club:1", book, print) as executor,
    ):
        finished, waits = executor.submit(len, "abc"), executor.submit(len, "ab")
        lost.taken[0].set_result(3)
        assert finished.result() == 3
        lost.status = "closed"
        waits.result()
    lost.status = "connecting"
    with (
        pytest.raises(InputRefused, match=gone),
        far.cluster("tcp://club:1", book, print) as far_off,
    ):
        far_off.submit(len, "abc")


def test_a_task_taken_back_here_is_taken_back_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book, lost = made_cards.logbook(tmp_path / "book", "CAM01"), Lost()
    monkeypatch.setattr(far, "_client", lambda address: lost)
    with far.cluster("tcp://club:1", book, print) as executor:
        executor.submit(len, "abc").cancel()
        fails = executor.submit(len, "abc")
        lost.taken[1].set_exception(InputRefused("torn", "read it again"))
    assert lost.taken[0].cancelled()
    with pytest.raises(InputRefused, match="torn"):
        fails.result()


class Club:
    """A scheduler and its workers, processes of their own on this machine."""

    def __init__(self, home: Path, stack: ExitStack) -> None:
        self._home, self._stack = home, stack
        self._log = stack.enter_context((home / "club.log").open("wb"))
        self.file = home / "scheduler.json"
        words = ["--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(self.file)]
        self.scheduler = self._start("dask_scheduler", *words, "--no-dashboard")
        self.workers: list[subprocess.Popen[bytes]] = []

    def join(self, n: int = 1) -> None:
        """Add workers of one thread."""
        for _ in range(n):
            words = ["--scheduler-file", str(self.file), "--nthreads", "1", "--no-nanny"]
            words += ["--no-dashboard", "--local-directory", str(self._home)]
            self.workers.append(self._start("dask_worker", *words))

    @property
    def address(self) -> str:
        """Where the scheduler listens."""
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            with contextlib.suppress(OSError, ValueError):
                return str(json.loads(self.file.read_text(encoding="utf-8"))["address"])
            time.sleep(0.1)
        raise AssertionError((self._home / "club.log").read_text(encoding="utf-8"))

    def wait_for(self, n: int) -> None:
        """Wait until so many workers are there."""
        with distributed.Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(n, timeout=120)

    def _start(self, what: str, *words: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.{what}", *words]
        started = subprocess.Popen(command, stdout=self._log, stderr=self._log)
        self._stack.callback(started.wait)
        self._stack.callback(started.kill)
        return started


@pytest.fixture
def club(tmp_path: Path) -> Iterator[Club]:
    with ExitStack() as stack:
        yield Club(tmp_path, stack)


@pytest.mark.thorough
def test_a_worker_killed_in_the_middle_changes_nothing(tmp_path: Path, club: Club) -> None:
    club.join(2)
    book = book_of(tmp_path, 2, 96)
    here = kept(book, LOOKS)
    found = detect(book, model(tmp_path), Which())
    detected = kept(book, DETECTED)
    forgotten(book)
    for path in book.cards.glob(f"*/{DETECTED}"):
        path.unlink()
    club.wait_for(2)
    told: list[str] = []

    def kill(done: int, of: int) -> None:
        if not told and club.workers[0].poll() is None and 0 < done < of:
            os.kill(club.workers[0].pid, signal.SIGKILL)
            club.workers[0].wait()

    with far.cluster(club.address, book, told.append) as executor:
        assert look_again(book, Which(), executor=executor, progress=kill).frames == 192
        assert club.workers[0].returncode == -signal.SIGKILL
        (line,) = told
        assert "is gone" in line and "go to the others" in line
        assert kept(book, LOOKS) == here
        again = detect(book, model(tmp_path), Which(), executor)
    assert (again.frames, again.animal, again.model) == (found.frames, found.animal, found.model)
    assert kept(book, DETECTED) == detected


@pytest.mark.thorough
def test_who_does_not_answer_is_named_in_a_line(
    tmp_path: Path, club: Club, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book = book_of(tmp_path, 1, 40)
    monkeypatch.setattr(far, "WAIT_S", 2.0)
    monkeypatch.setattr(far, "ALONE_S", 0.5)
    words = ["--logbook", str(book.root), "look", "--all", "--workers"]

    def refused(*more: str) -> str:
        capsys.readouterr()
        assert run([*words, *more]) == 3
        err = capsys.readouterr().err
        assert err.startswith("camsign: ") and err.count("\n") == 1, err
        return err

    assert "no scheduler answers at tcp://127.0.0.1:9" in refused("tcp://127.0.0.1:9")
    assert "has no workers" in refused(club.address)
    club.join()
    club.wait_for(1)
    here = kept(book, LOOKS)
    assert "cannot read the logbook at" in refused(
        club.address, "--pictures-at", f"{tmp_path.as_uri()}/no"
    )
    forgotten(book)
    assert run([*words, club.address, "--pictures-at", book.root.as_uri()]) == 0
    assert kept(book, LOOKS) == here
    for gone in (club.workers[0], club.scheduler):

        def leave(done: int, of: int, gone: subprocess.Popen[bytes] = gone) -> None:
            gone.kill()

        with (
            pytest.raises(InputRefused, match="all its workers are"),
            far.cluster(club.address, book, lambda line: None) as executor,
        ):
            look_again(book, Which(), True, executor, leave)
        club.join()
        if gone is not club.scheduler:
            club.wait_for(1)
    assert kept(book, LOOKS) == here
