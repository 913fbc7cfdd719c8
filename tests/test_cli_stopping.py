"""Ctrl+C at any point: it is left at once, with one line that says what stands."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import duckdb
import made_cards as made
import pytest

from camsign.derive.opening import open_logbook
from camsign.errors import STOPPED
from camsign.logbook import database
from camsign.logbook.edits import SetFields
from camsign.logbook.far import Far
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session

pytestmark = pytest.mark.skipif(os.name != "posix", reason="Ctrl+C is sent as a signal")
BOOK = Path(__file__).resolve().parents[1] / "fixtures" / "logbooks" / "quiet-ridge"
# The command as a person runs it, but that it says when it has come to a function.
AT = """
import importlib, sys
module, name = sys.argv.pop(1).split(":")
where = importlib.import_module(module)
real, told = getattr(where, name), []
def here(*words, **more):
    if not told:
        told.append(print("here", flush=True))
    return real(*words, **more)
setattr(where, name, here)
from camsign.__main__ import main
main()
"""


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CAMSIGN_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(tmp_path / "config"))
    shutil.copytree(BOOK, tmp_path / "book")
    return tmp_path / "book"


def stopped(book: Path, at: str, *words: str, times: int = 1) -> str:
    """Press Ctrl+C when a command has come to a function; give what it said on stderr."""
    process = subprocess.Popen(
        [sys.executable, "-c", AT, at, "--logbook", str(book), *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stdout.readline() == "here\n"
    for _ in range(times):
        process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=600)
    assert process.returncode == STOPPED, said
    return said


def test_a_question_that_keeps_the_database_busy_is_left(book: Path) -> None:
    """Left alone it runs a minute; the database looks up from it when it has done."""
    long = "SELECT sum(a.range * b.range) FROM range(1000000) a, range(1000000) b"
    said = stopped(book, "camsign.answers.ask:_stopped_after", "sql", long)
    assert said == "camsign: stopped; nothing that you noted before is lost; run it again\n"


def test_a_second_one_ends_it_without_a_word_or_an_abort(book: Path) -> None:
    long = "SELECT sum(a.range * b.range) FROM range(1000000) a, range(1000000) b"
    said = stopped(book, "camsign.answers.ask:_stopped_after", "sql", long, times=2)
    assert said in ("", "camsign: stopped; nothing that you noted before is lost; run it again\n")


def test_while_libraries_are_loaded_it_is_left_without_an_abort(book: Path) -> None:
    """One in C ends the whole program if an error comes into its loading."""
    hurt = (
        "import os, signal, sys\n"
        "class Library:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name == 'duckdb':\n"
        "            try: os.kill(os.getpid(), signal.SIGINT)\n"
        "            finally: print('it was hurt', flush=True)\n"
        "sys.meta_path.insert(0, Library())\n"
        "from camsign.__main__ import main\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", hurt, "--logbook", str(book), "history"],
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (STOPPED, "")
    assert done.stderr.startswith("camsign: stopped; ")


def test_an_ingest_says_that_no_card_is_safe_and_goes_on(book: Path, tmp_path: Path) -> None:
    card = made.big_card(tmp_path / "CAM03", 60)
    made.logbook(tmp_path / "new", "CAM03")
    book, words = tmp_path / "new", ("ingest", str(card))
    said = stopped(book, "camsign.flows.intake.dump:in_order", *words)
    assert "stopped; no card is safe to wipe yet; what was copied is kept" in said
    assert len(said.splitlines()) == 1
    again = subprocess.run(
        [sys.executable, "-m", "camsign", "--logbook", str(book), *words],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "SAFE TO WIPE" in again.stdout and "NOT SAFE" not in again.stdout


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("at", "words", "told"),
    [
        ("camsign.flows.remeasure.look_again:work_through", ("look", "--all"), "cards that were"),
        ("camsign.logbook.cardfacts:take_in", ("rebuild",), "nothing that you noted is lost"),
        ("camsign.flows.handover.tables:_write", ("export", "tables", "out"), "files that were"),
        ("camsign.flows.handover.lake:_write", ("export", "lake", "out"), "files that were"),
        ("camsign.flows.upkeep.verify:check_cards", ("verify",), "verify --resume"),
    ],
)
def test_others_say_what_stands(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    at: str, words: tuple[str, ...], told: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    said = stopped(book, at, *words)
    assert said.startswith("camsign: stopped; ") and told in said
    assert len(said.splitlines()) == 1


def test_a_database_that_was_stopped_is_not_taken_for_a_damaged_one(book: Path) -> None:
    """DuckDB's own words for a Ctrl+C, and its error for an interrupt."""
    folder = Folder(book)
    with open_logbook(folder) as session:
        session.say("noted", [SetFields("buck", "b-1", {"name": "Zed"})])
    removed: list[Folder] = []

    def stop(session: Session, far: Far) -> None:
        raise RuntimeError("Query interrupted")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("camsign.derive.opening.remove_database", removed.append)
        patch.setattr("camsign.derive.opening.derive", stop)
        with pytest.raises(RuntimeError, match="Query interrupted"), open_logbook(folder):
            pass
    assert removed == []
    assert database.was_stopped(duckdb.InterruptException("INTERRUPT Error: Interrupted!"))
    assert not database.was_stopped(RuntimeError("something else"))
