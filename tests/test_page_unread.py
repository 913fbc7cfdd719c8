"""What could not be read stands in the head of the pages, soon, while all else goes on."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from page_logbook import new_book
from page_server import running


@pytest.mark.thorough
def test_a_strange_line_is_listed_on_an_open_page_and_forms_go_on(tmp_path: Path) -> None:
    book = new_book(tmp_path / "hollow")
    html = {"Accept": "text/html"}
    with running(book.folder.root, tmp_path) as server:
        page = server.ask("GET", "/bucks", headers=html).body.decode()
        assert '<details id="unread" hidden>' in page
        assert server.get("/unread") == {"heading": "", "lines": []}
        (book.folder.journal / "friend.jsonl").write_bytes(b"no line\n")
        end = time.monotonic() + 20
        while not server.get("/unread")["lines"] and time.monotonic() < end:
            time.sleep(0.1)
        (line,) = server.get("/unread")["lines"]
        assert line.startswith("journal/friend.jsonl, line 1: damaged")
        (book.folder.journal / "a&b.txt").write_text("notes")
        while len(server.get("/unread")["lines"]) < 2 and time.monotonic() < end:
            time.sleep(0.1)
        server.post("/say/buck/add", {"name": "Ferrous"})
        page = server.ask("GET", "/bucks", headers=html).body.decode()
        assert "Ferrous" in page
        assert '<details id="unread">' in page and "of this logbook could not be read" in page
        assert "a&amp;b.txt" in page
