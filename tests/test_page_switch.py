"""The pages remember the logbooks that were opened and go from one to another."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from page_logbook import new_book
from page_server import running

from camsign.logbook.folder import config_home, opened_before, remember_opened
from camsign.page.show import _end_of

HTML = {"Accept": "text/html"}


def test_what_was_opened_is_remembered_newest_first(tmp_path: Path) -> None:
    books = [new_book(tmp_path / name).folder for name in ("hollow", "gore")]
    assert opened_before() == []
    for book in (*books, books[0]):
        remember_opened(book)
    assert opened_before() == [book.root for book in books]
    (books[1].root / "logbook.toml").unlink()
    assert opened_before() == [books[0].root]
    (config_home() / "logbooks.json").write_text("no JSON")
    assert opened_before() == []
    remember_opened(books[0])
    assert opened_before() == [books[0].root]


def test_logbooks_of_one_name_are_told_apart_by_their_folders() -> None:
    """Two were both called `demo/logbook`."""
    paths = [Path(p) for p in ("/d/hollow", "/d/x/demo/logbook", "/d/y/demo/logbook")]
    named = [_end_of(path, paths) for path in paths]
    assert named == ["hollow", "x/demo/logbook", "y/demo/logbook"]


@pytest.mark.thorough
def test_the_pages_switch_and_each_logbook_has_its_own_lock(tmp_path: Path) -> None:
    hollow, gore = (new_book(tmp_path / name).folder for name in ("hollow", "gore & sons"))
    with running(hollow.root, tmp_path) as server:
        page = server.ask("GET", "/bucks", headers=HTML).body.decode()
        assert 'id="logbooks"' not in page  # there is only this one
        server.post("/say/buck/add", {"name": "Ferrous"})
        remember_opened(gore)
        page = server.ask("GET", "/bucks", headers=HTML).body.decode()
        assert "gore &amp; sons</option>" in page
        assert f'<option value="{hollow.root}" selected>' in page
        assert server.post("/switch", {"logbook": str(gore.root)}) == {"logbook": "gore & sons"}
        page = server.ask("GET", "/bucks", headers=HTML).body.decode()
        assert "Ferrous" not in page
        server.post("/say/buck/add", {"name": "Tall Nine"})
        server.post("/switch", {"logbook": str(hollow.root)})
        assert "Ferrous" in server.ask("GET", "/bucks", headers=HTML).body.decode()
        # Only what was opened before: no folder of this machine at will.
        answer = server.ask("POST", "/switch", json.dumps({"logbook": str(tmp_path)}).encode())
        assert answer.status == 400
    said = [(b.journal.glob("*.jsonl"), name) for b, name in ((hollow, "Ferrous"), (gore, "Tall"))]
    for files, name in said:
        text = "".join(path.read_text("utf-8") for path in files)
        assert name in text
        assert ("Ferrous" in text) != ("Tall Nine" in text)


@pytest.mark.thorough
def test_a_logbook_that_is_busy_is_not_switched_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from camsign.logbook import lock

    monkeypatch.setenv("CAMSIGN_WAIT", "1")
    hollow, gore = (new_book(tmp_path / name).folder for name in ("hollow", "gore"))
    remember_opened(gore)
    with running(hollow.root, tmp_path) as server:
        server.post("/say/buck/add", {"name": "Ferrous"})
        with lock.held(gore.cache):
            answer = server.ask("POST", "/switch", json.dumps({"logbook": str(gore.root)}).encode())
            assert answer.status == 503
        assert "Ferrous" in server.ask("GET", "/bucks", headers=HTML).body.decode()
