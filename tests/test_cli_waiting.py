"""Whoever waits sees how far it is and how long it will take yet; quick work shows nothing."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable
from itertools import count
from pathlib import Path

import made_cards as made
import pytest

from camsign.answers.lake import TABLES
from camsign.cli import waiting
from camsign.derive.opening import STEPS, open_logbook, remove_database
from camsign.flows.handover.camtrap import write_camtrap
from camsign.flows.handover.lake import write_lake
from camsign.flows.handover.tables import ALL, write_tables
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder

BOOK = Path(__file__).resolve().parents[1] / "fixtures" / "logbooks" / "quiet-ridge"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def shown(monkeypatch: pytest.MonkeyPatch, second: float, quiet: bool = False) -> str:
    """What a terminal of 80 columns gets while ten pieces take so long each [s]."""
    terminal, clock = Terminal(), count()
    monkeypatch.setattr(waiting.sys, "stderr", terminal)
    monkeypatch.setattr(waiting.time, "monotonic", lambda: second * next(clock))
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "80")
    with waiting.bar(quiet) as progress:
        for done in range(1, 11) if progress else ():
            progress(done, 10)
    return terminal.getvalue()


def test_long_work_shows_how_far_it_is_and_the_time_left(monkeypatch: pytest.MonkeyPatch) -> None:
    told = shown(monkeypatch, second=5.0)
    assert "10/10" in told and "0:00:00" in told


def test_quick_work_shows_nothing_and_json_neither(monkeypatch: pytest.MonkeyPatch) -> None:
    assert shown(monkeypatch, second=0.001) == ""
    assert shown(monkeypatch, second=5.0, quiet=True) == ""


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    monkeypatch.setenv("CAMSIGN_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(tmp_path / "config"))
    shutil.copytree(BOOK, tmp_path / "book")
    return Folder(tmp_path / "book")


def told_of(work: Callable[[Callable[[int, int], None]], object]) -> list[tuple[int, int]]:
    """Every (done, of) that work tells; it must count up, to the end."""
    told: list[tuple[int, int]] = []
    work(lambda done, of: told.append((done, of)))
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert told[-1][0] == told[-1][1]
    return told


def test_a_database_made_again_tells_of_cards_and_steps(book: Folder) -> None:
    def opened(progress: Callable[[int, int], None]) -> None:
        with open_logbook(book, progress):
            pass

    cards = len(list(book.cards.glob("*/receipt.json")))
    assert len(told_of(opened)) == cards + len(STEPS)
    assert len(told_of(opened)) == len(STEPS)
    remove_database(book)
    assert len(told_of(opened)) == cards + len(STEPS) > len(STEPS)


def test_a_card_tells_of_each_file_as_it_comes_in(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "new", "CAM03")
    card = made.card(tmp_path / "CAM03", 5)
    assert told_of(lambda p: ingest(book, [card], progress=p)) == [(n, 5) for n in range(1, 6)]


def test_exports_tell_of_what_they_write(book: Folder, tmp_path: Path) -> None:
    with open_logbook(book) as session:
        tables = told_of(lambda p: write_tables(session, tmp_path / "t", progress=p))
        camtrap = told_of(lambda p: write_camtrap(session, tmp_path / "c", progress=p))
        lake = told_of(lambda p: write_lake(session, tmp_path / "l", progress=p))
    assert len(tables) == len(ALL) and len(camtrap) == 3
    assert len(lake) == len(list((tmp_path / "l").rglob("*.parquet"))) + len(TABLES)
