"""Who is let in, and what is given out, over plain HTTP as an attacker would try it."""

from __future__ import annotations

import re
import socket
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest
from page_logbook import Shot, new_book, season, small_book
from page_server import Running, running

from camsign.page.guard import POLICY
from camsign.page.server import _bound

PAGE = Path(__file__).resolve().parents[1] / "camsign" / "page"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    home = tmp_path_factory.mktemp("safety")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        book = small_book(home / "hollow", cameras=1, visits=2, frames=3)
        (home / "hollow" / "secret.txt").write_text("secret")
        with running(book.folder.root, home) as server:
            yield server


@pytest.mark.thorough
def test_the_token_opens_and_nothing_else_does(server: Running) -> None:
    bare = {"Cookie": None}
    shut = server.ask("GET", "/sort", headers=bare)
    assert shut.status == 403 and shut.headers["content-type"].startswith("text/html")
    assert b"To get back in" in shut.body and b"run camsign again" in shut.body.lower()
    assert b'content="light dark"' in shut.body  # no white page in a dark room
    assert server.ask("GET", "/?token=" + "x" * 43, headers=bare).status == 403
    assert server.ask("GET", "/sort?token=" + server.first[-43:], headers=bare).status == 403
    entered = server.ask("GET", "/?token=" + server.first[-43:], headers=bare)
    assert entered.status == 303 and entered.headers["location"] == "/"
    cookie = entered.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie and "domain" not in cookie
    assert server.ask("GET", "/sort").status == 200
    for wrong in ("camsign-1=x", server.cookie[:-1], server.cookie + "x", "\x7f=;;;=", ""):
        assert server.ask("GET", "/sort", headers={"Cookie": wrong}).status == 403
    among_others = {"Cookie": f'other={{}}"; {server.cookie}; last=1'}
    assert server.ask("GET", "/sort", headers=among_others).status == 200


@pytest.mark.thorough
def test_a_foreign_name_for_this_machine_is_refused(server: Running) -> None:
    port = server.address.rpartition(":")[2]
    for host in (f"evil.example:{port}", f"localhost:{port}", "127.0.0.1", "", None):
        for path in ("/sort", "/?token=" + server.first[-43:], "/thumb/0000000000000000"):
            answer = server.ask("GET", path, headers={"Host": host})
            assert answer.status in (400, 421), (host, path)


def test_other_sites_cannot_make_the_browser_change_anything(server: Running) -> None:
    body = b'{"frames": [], "said": "nothing"}'
    port = server.address.rpartition(":")[2]
    origins = (None, "null", "http://evil.example", f"http://localhost:{port}", "http://127.0.0.1")
    for origin in origins:
        answer = server.ask("POST", "/sort/tag", body, {"Origin": origin})
        assert answer.status == 403, origin
    for site in ("cross-site", "same-site"):
        assert server.ask("GET", "/sort", headers={"Sec-Fetch-Site": site}).status == 403
        assert server.ask("POST", "/undo", b"{}", {"Sec-Fetch-Site": site}).status == 403
    assert server.ask("GET", "/undo").status == 405
    assert server.ask("POST", "/sort/tag", body).status == 200


def test_files_are_given_by_frame_id_only(server: Running) -> None:
    tries = [
        "/thumb/../../logbook.toml",
        "/thumb/%2e%2e%2f%2e%2e%2flogbook.toml",
        "/picture/..%2f..%2fsecret.txt",
        "/picture/%2fetc%2fpasswd",
        "/picture/0000000000000000",
        "/picture/ABCDEF0123456789",
        "/picture/000000000000000000000000",
        "/static/../server.py",
        "/static/%2e%2e/server.py",
        "/static/..%5cserver.py",
        "/static//etc/passwd",
        "/static/%00",
    ]
    for path in tries:
        answer = server.ask("GET", path)
        assert answer.status == 404, path
        assert b"secret" not in answer.body and b"import" not in answer.body
    frame = server.get("/sort/list")["begun"][0]["frames"][0]["frame"]
    for kind in ("thumb", "picture"):
        answer = server.ask("GET", f"/{kind}/{frame}")
        assert answer.status == 200 and answer.headers["content-type"] == "image/jpeg"
        assert answer.body.startswith(b"\xff\xd8")


@pytest.mark.thorough
def test_a_card_that_points_outside_the_logbook_gives_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A logbook synced from someone else is not trusted with paths."""
    book = new_book(tmp_path / "hollow")
    (tmp_path / "outside.jpg").write_bytes(b"\xff\xd8 not yours")
    frames = book.card("CAM01", [Shot(s.shown) for s in season(0, 1, 1)])
    card = next(book.folder.cards.iterdir())
    import duckdb

    con = duckdb.connect()
    for name, path in (("up", "../../../outside.jpg"), ("link", "files/link.jpg")):
        con.execute(
            "CREATE OR REPLACE TABLE f AS SELECT * REPLACE (? AS file) FROM read_parquet(?)",
            [path, str(card / "frames.parquet")],
        )
        (card / "files" / "link.jpg").unlink(missing_ok=True)
        (card / "files" / "link.jpg").symlink_to(tmp_path / "outside.jpg")
        con.execute(f"COPY f TO '{card / 'frames.parquet'}' (FORMAT parquet)")
        monkeypatch.setenv("CAMSIGN_CACHE", str(tmp_path / f"cache-{name}"))
        with running(book.folder.root, tmp_path) as server:
            for kind in ("picture", "thumb"):
                answer = server.ask("GET", f"/{kind}/{frames[0]}")
                assert answer.status == 404 and b"not yours" not in answer.body, (name, kind)


def test_requests_have_bounds(server: Running) -> None:
    big = b'{"frames": ["' + b"0" * (5 << 20) + b'"]}'
    assert server.ask("POST", "/sort/tag", big).status == 413
    assert server.ask("POST", "/undo", big[: 300 << 10]).status == 413
    for body in (b"", b"[]", b"nonsense", b'{"frames": 5}', b'{"frames": [5]}'):
        answer = server.ask("POST", "/sort/tag", body)
        assert answer.status == 400 and answer.json["what"], body


def test_pages_run_nothing_but_our_own_files(server: Running) -> None:
    assert "unsafe" not in POLICY and "http" not in POLICY and "*" not in POLICY
    for path in ("/sort", "/nothing-here", "/static/dom.js", "/sort/list"):
        headers = server.ask("GET", path, headers={"Accept": "text/html"}).headers
        assert headers["content-security-policy"] == POLICY
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cross-origin-resource-policy"] == "same-origin"
    for template in PAGE.glob("templates/**/*.html"):
        text = template.read_text(encoding="utf-8")
        assert not re.search(r"<script(?![^>]*\bsrc=)|\sstyle=|\son\w+=|<style", text), (
            template.name
        )
        assert "|safe" not in text.replace(" ", ""), template.name
    for script in PAGE.glob("static/**/*.js"):
        text = script.read_text(encoding="utf-8")
        for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
            assert word not in text, (script.name, word)
        assert not re.search(r"https?://(?!www\.w3\.org)", text), script.name


def test_it_listens_on_this_machine_alone(server: Running) -> None:
    listening = [
        c.laddr.ip
        for c in psutil.Process(server.process.pid).net_connections()
        if c.status == psutil.CONN_LISTEN
    ]
    assert listening == ["127.0.0.1"]


def test_answers_do_not_wait_for_an_acknowledgement() -> None:
    """asyncio switches Nagle's algorithm off only on sockets that name their protocol."""
    bound = _bound(0)
    try:
        assert bound.proto == socket.IPPROTO_TCP
    finally:
        bound.close()
