"""Who made a sign and where a buck is bedded, on the pages: what the answers say, word for word."""

from __future__ import annotations

from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from page_land import land_book
from page_logbook import Book
from page_server import Running, running

from camsign.answers.makers import makers
from camsign.answers.scope import scope_of
from camsign.answers.where import where
from camsign.derive.opening import open_logbook
from camsign.formats.days import People
from camsign.sign.proposals import propose

pytestmark = pytest.mark.thorough
SIGN = "s-00000"


@pytest.fixture(scope="module")
def served(tmp_path_factory: Any) -> Iterator[tuple[Book, Running]]:
    root: Path = tmp_path_factory.mktemp("one")
    book = land_book(root / "book")
    with running(book.folder.root, root) as server:
        yield book, server


def page(server: Running, path: str) -> str:
    answer = server.ask("GET", path, headers={"Accept": "text/html"})
    assert answer.status == 200, answer.body
    return unescape(answer.body.decode())


def test_a_sign_says_who_likely_made_it(served: tuple[Book, Running]) -> None:
    book, server = served
    shown = page(server, f"/map/signs/{SIGN}/makers")
    with open_logbook(book.folder) as session:
        answer = makers(session, scope_of(session), SIGN)
    assert answer.verdict[1:] in shown
    assert answer.makers
    for maker in answer.makers:
        assert maker.buck in shown and People("imperial").prose(maker.why) in shown
        if maker.buck_id and maker.p is not None:
            assert f"{maker.p:.0%}" in shown


def test_a_buck_says_where_he_is_bedded(served: tuple[Book, Running]) -> None:
    book, server = served
    (buck,) = server.get("/sort/words")["bucks"]
    shown = page(server, f"/bucks/{buck['buck_id']}/where")
    with open_logbook(book.folder) as session:
        answer = where(session, scope_of(session, [buck["buck_id"]]))
    assert People("imperial").prose(answer.bedded) in shown and answer.places
    # His last picture is named once: at the head of his page.
    last = "Oct 20, 2025, 7:06 AM"
    his = page(server, f"/bucks/{buck['buck_id']}").partition("Reference pictures")[0]
    assert "bedded" in his and his.count(last) == 1 and last not in shown


def test_the_map_says_of_rubs_what_the_terminal_says(served: tuple[Book, Running]) -> None:
    """Old rubs beside fresh ones are the best clue: both ask all seasons."""
    book, server = served
    shown = server.get("/map/lines")
    with open_logbook(book.folder) as session:
        found = propose(session)
    assert found and [one["why"] for one in shown["proposed"]] == [list(one.why) for one in found]


def test_what_is_not_there_is_said_in_a_line(served: tuple[Book, Running]) -> None:
    _, server = served
    for path in ("/map/signs/s-nothing/makers", "/bucks/b-nobody/where"):
        answer = server.ask("GET", path, headers={"Accept": "text/html"})
        assert answer.status == 400 and b"Traceback" not in answer.body
