"""One request of a page is one line of the journal; a refused one leaves nothing behind."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from derive_world import Shot, book, hang, put_card, rows, say
from page_server import Running, running

from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder


def lines(home: Folder) -> int:
    return sum(len(p.read_bytes().splitlines()) for p in home.journal.glob("*.jsonl"))


def ask(server: Running, path: str, value: dict[str, object]) -> int:
    return server.ask("POST", path, json.dumps(value).encode()).status


@pytest.mark.thorough
def test_a_request_is_one_line_or_none(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    (frame,) = put_card(home, "k", "CAM1", [Shot("2025-10-01T07:00:00")])
    say(home, hang("CAM1", "2025-09-30T15:00:00Z"))
    circle = {"name": "Bench", "kind": "bedding", "shape": {"circle": [44.1, -71.2, 90]}}
    say(home, SetFields("area", "a-1", circle))
    before = lines(home)
    with running(home.root, tmp_path) as server:
        refused = {"frames": [frame], "new_buck": "Zed", "travel": "sideways"}
        assert ask(server, "/sort/tag", refused) == 400
        half = {"area": "a-1", "name": "Renamed", "kind": "nonsense"}
        assert ask(server, "/say/area/set", half) == 400
        assert lines(home) == before
        tagged = server.post("/sort/tag", {"frames": [frame], "new_buck": "Zed", "travel": "NE"})
        assert tagged["subject"] == "Zed"
        assert lines(home) == before + 1
        both = {"area": "a-1", "name": "Renamed", "kind": "feeding"}
        server.post("/say/area/set", both)
        assert lines(home) == before + 2
        server.post("/undo")
        server.post("/undo")
    # Each undo took back the whole of one request, the new name with the tag.
    assert rows(home, "SELECT name, kind FROM areas") == [("Bench", "bedding")]
    assert rows(home, "SELECT count(*) FROM bucks WHERE name IS NOT NULL") == [(0,)]
    assert rows(home, "SELECT count(*) FROM tags") == [(0,)]
