"""A small logbook for tests of keeping it: one card of six pictures, a buck, an area, words."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import made_cards as made
import pytest

from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.upkeep.originals import check_cards
from camsign.logbook.checking import Finding, check_journals, check_settings
from camsign.logbook.edits import Edit, SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder

CAMERA = "CAM03"
BUCK = Subject("animal", "b-1", species="deer", sex="male")
NOTHING = Subject("nothing")


def say(book: Folder, *edits: Edit, what: str = "said") -> str:
    """One act; the logbook is opened again behind it."""
    with open_logbook(book) as session:
        return session.say(what, list(edits))


def frames(book: Folder) -> list[str]:
    """Its frames by what their cameras showed."""
    with open_logbook(book) as session:
        rows = session.con.execute("SELECT frame FROM frames ORDER BY shown, frame").fetchall()
    return [frame for (frame,) in rows]


def make(home: Path, n: int = 6) -> Folder:
    """A logbook `book` in this folder and the card `CAM03` beside it, which it took in."""
    book = made.logbook(home / "book", CAMERA)
    made.card(home / CAMERA, n)
    ingest(book, [home / CAMERA])
    hung = {"camera": CAMERA, "lat": 44.1, "lon": -71.2, "hung": "2025-09-01T12:00:00Z"}
    say(book, SetFields("deployment", "d-1", hung))
    say(book, SetFields("buck", "b-1", {"name": "Umber"}))
    every = frames(book)
    say(book, TagFrames(BUCK, every[:2], travel_deg=90.0))
    say(book, TagFrames(NOTHING, every[2:4]))
    return book


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The folder of one such logbook, made once for a file of tests and copied by `home`."""
    home = tmp_path_factory.mktemp("kept")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        make(home)
        yield home


@pytest.fixture
def home(kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it: `book`, `CAM03`, and a cache and a config of its own."""
    copy = tmp_path / "home"
    for name in ("book", CAMERA):
        shutil.copytree(kept / name, copy / name)
    monkeypatch.setenv("CAMSIGN_CACHE", str(copy / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(copy / "config"))
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(copy / "book"))
    return copy


def files(root: Path) -> dict[str, bytes]:
    """Every file below a folder with its bytes."""
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in root.rglob("*") if p.is_file()}


def overwrite(path: Path, data: bytes) -> None:
    """Write over a file, read-only or not."""
    path.chmod(0o600)
    path.write_bytes(data)


def of_files(book: Folder) -> list[Finding]:
    """What is found without the database: by sums, numbers and names alone."""
    found = [*check_settings(book), *check_journals(book)]
    return found + check_cards(book).findings
