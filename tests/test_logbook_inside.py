"""No path that a logbook names leads out of its folder, whatever the system, reading or mending."""

from __future__ import annotations

import shutil
from pathlib import Path, PurePosixPath, PureWindowsPath

import duckdb
import made_cards as made
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.intake.incoming import safe_name
from camsign.flows.remeasure.look_again import look_again
from camsign.logbook import folder
from camsign.logbook.inside import OutsideError, folder_name, inside, is_plain
from camsign.tags.frames import Which

HOSTILE = [
    "..",
    ".",
    "",
    "/",
    "//server/share",
    "\\\\server\\share",
    "\\\\?\\C:\\x",
    "C:",
    "C:x",
    "c:/x",
    "a:stream",
    "\0",
    "a\nb",
    "NUL",
    "con.jpg",
    "COM1 .txt",
    "LPT¹",
    "CONIN$",
    "...",
    ". .",
    " ",
    "..\\..",
    "~",
    "$HOME",
    "\ud800",
]
parts = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=6), st.just("files"))
paths = st.lists(parts, min_size=1, max_size=5).map("/".join)


@given(paths)
@example("files/../../x")
@example("/etc/passwd")
@example("C:/Windows/x")
def test_what_is_plain_stays_below_on_every_system(file: str) -> None:
    """Against Python's own rules for paths of both families (pathlib's pure paths)."""
    if not is_plain(file):
        return
    for kind, home in ((PurePosixPath, "/book/cards/one"), (PureWindowsPath, "D:\\book\\cards")):
        joined = kind(home) / file
        assert joined.is_relative_to(kind(home)) and joined != kind(home)
        assert ".." not in joined.parts
    assert not PureWindowsPath(file).drive and not PureWindowsPath(file).root
    assert "\0" not in file


@pytest.mark.parametrize("file", [*HOSTILE, None, 3, "files//x", "files/", "a/NUL/b", "a/../b"])
def test_hostile_names_are_no_paths(file: object, tmp_path: Path) -> None:
    if file in ("~", "$HOME"):  # plain names: nothing expands them
        assert inside(tmp_path, file) == tmp_path / str(file)
        return
    assert not is_plain(file)
    with pytest.raises(OutsideError):
        inside(tmp_path, file)


@given(st.lists(st.text(min_size=1, max_size=20), min_size=1, max_size=4))
def test_every_name_that_a_card_is_given_is_plain(names: list[str]) -> None:
    text = "/".join(safe_name(n.encode("utf-8", "replace").decode()) for n in names)
    assert is_plain(f"files/{text}")


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    home, out = tmp_path / "home", tmp_path / "out"
    home.mkdir()
    out.mkdir()
    (home / "link").symlink_to(out)
    (home / "ring").symlink_to(home / "ring")
    (home / "within").symlink_to(home / "deep")
    (home / "deep").mkdir()
    assert inside(home, "within/x") == home / "within/x"
    for file in ("link", "link/x", "ring/x"):
        with pytest.raises(OutsideError):
            inside(home, file)


@given(st.one_of(st.sampled_from(HOSTILE), paths))
def test_the_folder_of_an_id_is_one_plain_name(said: str) -> None:
    name = folder_name(said)
    assert is_plain(name) and "/" not in name and len(name) <= 64


def test_an_id_that_leads_elsewhere_makes_no_folder_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CAMSIGN_CACHE", str(tmp_path / "machine" / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(tmp_path / "machine" / "config"))
    book = made.logbook(tmp_path / "book")
    path = book.root / "logbook.toml"
    text = path.read_text(encoding="utf-8").replace(book.settings.id, "../../escaped")
    path.write_text(text, encoding="utf-8")
    again = folder.Folder(book.root)
    assert again.cache.parent == tmp_path / "machine" / "cache"
    assert again.writer
    assert not list(tmp_path.glob("**/escaped*"))


def forged(card: Path, file: str) -> None:
    """Let the first row of a card's frames.parquet, and its sum, say another path."""
    frames = card / "frames.parquet"
    frames.chmod(0o600)
    (card / "SHA256SUMS").unlink()
    new = card / "new.parquet"
    con = duckdb.connect()
    con.execute(
        f"COPY (SELECT * REPLACE (CASE WHEN row_number() OVER () = 1 THEN ? ELSE file END AS file)"
        f" FROM read_parquet('{frames}')) TO '{new}' (FORMAT parquet)",
        [file],
    )
    new.replace(frames)


@pytest.mark.parametrize(
    "file",
    [
        "../../../victim",
        *(pytest.param(f, marks=pytest.mark.thorough) for f in ("files/../../../../victim", "ABS")),
        "link",
    ],
)
def test_a_friends_logbook_overwrites_nothing_of_mine(tmp_path: Path, file: str) -> None:
    """The row says another file; the card that holds that picture comes; the file stays."""
    book = made.logbook(tmp_path / "book", "CAM03")
    card = made.card(tmp_path / "CAM03", 2)
    result = ingest(book, [card])
    home = book.cards / result.cards[0].folder
    victim = tmp_path / "victim"
    victim.write_bytes(b"mine")
    if file == "link":  # the path is right, and its folder is a link out of the card
        sub = next(p for p in (home / "files").iterdir() if p.is_dir())
        shutil.rmtree(sub, onerror=None)
        sub.symlink_to(tmp_path / "elsewhere")
        (tmp_path / "elsewhere").mkdir()
    else:
        forged(home, str(victim) if file == "ABS" else file)
    shutil.rmtree(book.cache)
    again = folder.Folder(book.root)
    ingest(again, [card], camera="CAM03")
    look_again(again, Which(), every=True)
    assert victim.read_bytes() == b"mine"
    if file == "link":
        assert not list((tmp_path / "elsewhere").rglob("*"))
        return
    with open_logbook(again) as session:
        ((what,),) = session.con.execute(
            "SELECT what FROM troubles WHERE file = ?", [f"cards/{home.name}"]
        ).fetchall()
        stored = session.con.execute("SELECT file FROM frames").fetchall()
    assert "outside the card" in what
    assert len(stored) == 2 and all(f"/{home.name}/" not in row[0] for row in stored)
