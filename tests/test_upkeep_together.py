"""Two terminals and a page write at once: every word that was acknowledged is there."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import signal
from collections import Counter
from pathlib import Path

import faults
import pytest
from kept_logbook import frames, home, kept  # noqa: F401
from page_server import running

from camsign.derive.opening import open_logbook, remove_database
from camsign.logbook.checking import check_journals
from camsign.logbook.folder import Folder


def together(home: Path, tags: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """Write until the page has said so many tags; give how many words were acknowledged."""
    monkeypatch.setenv("CAMSIGN_WAIT", "120")
    book = Folder(home / "book")
    every = frames(book)
    said = Counter[str]()
    with running(book.root, home) as page:
        terminals = [faults.terminal(book.root) for _ in range(2)]
        for i in range(tags):
            told = page.post("/sort/tag", {"frames": [every[i % 6]], "new_buck": f"Paged {i}"})
            said[f"Paged {told['subject'].split()[1]}"] += 1
        for terminal in terminals:
            terminal.send_signal(signal.SIGKILL)
            said.update(f"noted {n}" for n in terminal.communicate()[0].split() if n.isdigit())
    assert list(check_journals(book)) == []
    remove_database(book)
    with open_logbook(book) as session:
        noted = Counter(w for (w,) in session.con.execute("SELECT what FROM acts").fetchall())
        names = {n for (n,) in session.con.execute("SELECT name FROM bucks").fetchall()}
    assert all(noted[w] >= n for w, n in said.items() if w.startswith("noted"))
    assert {w for w in said if w.startswith("Paged")} <= names
    assert sum(w.startswith("noted") for w in said) > 0
    return said.total()


@pytest.mark.thorough
def test_for_ten_tags(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert together(home, 10, monkeypatch) > 12


@pytest.mark.long
def test_for_five_hundred_tags(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert together(home, 500, monkeypatch) > 700
