"""A bit that flips anywhere in a logbook is found where it is, and nothing else is blamed."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import random
import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from kept_logbook import BUCK, frames, home, kept, make, of_files, overwrite, say  # noqa: F401

from camsign.derive.opening import open_logbook
from camsign.flows.upkeep.thin import thin
from camsign.flows.upkeep.verify import verify
from camsign.logbook import settings
from camsign.logbook.checking import Finding
from camsign.logbook.edits import SetFields, TagFrames
from camsign.logbook.folder import Folder


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A logbook with a card, some of whose bytes were let go of, and twenty acts."""
    home = tmp_path_factory.mktemp("flips")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        book = make(home)
        every = frames(book)
        for i in range(8):
            say(book, SetFields("buck", f"b-{i}", {"name": f"Buck {i}", "note": "ein Bär"}))
            say(book, TagFrames(BUCK, every[:1], travel_deg=float(i)))
        thin(book, consent=True, without_backup=True)
        yield home


def places(finding: Finding, name: str) -> bool:
    """Whether a finding names this file, a line of it, or the one it must agree with."""
    said = finding.file.split(", line")[0]
    if name.endswith(("SHA256SUMS", "frames.parquet", "receipt.json")):
        return said.rsplit("/", 1)[0] == name.rsplit("/", 1)[0]
    return said == name


def flips(whole: Path, tmp_path: Path, times: int, seed: int, database: bool) -> Counter[str]:
    """Flip one bit at a time, in every kind of file alike; give how many in each."""
    shutil.copytree(whole / "book", tmp_path / "book", dirs_exist_ok=True)
    book = Folder(tmp_path / "book")
    with open_logbook(book):
        pass
    before = settings.read(book.root / settings.FILE)
    assert of_files(book) == [] and verify(book).findings == []
    by_kind: dict[str, list[Path]] = {}
    for path in sorted(p for p in book.root.rglob("*") if p.is_file()):
        kind = path.suffix if path.suffix in (".JPG", ".jpg") else path.name
        by_kind.setdefault("journal" if path.suffix == ".jsonl" else kind, []).append(path)
    chance, hit = random.Random(seed), Counter[str]()
    for i in range(times):
        kind = sorted(by_kind)[i % len(by_kind)]
        path = chance.choice(by_kind[kind])
        name = path.relative_to(book.root).as_posix()
        data = path.read_bytes()
        at, bit = chance.randrange(len(data)), chance.randrange(8)
        overwrite(path, data[:at] + bytes([data[at] ^ 1 << bit]) + data[at + 1 :])
        told = f"{name}, byte {at} bit {bit}"
        found = verify(book).findings if database else of_files(book)
        if kind == settings.FILE:
            found += _other_settings(book, before)
        assert any(places(f, name) for f in found), told
        blamed = [f for f in found if f.kind == "damage" and not places(f, name)]
        # Where the facts of a card are lost, its pictures with tags are on no card.
        may = ("cards", "the database") if database else ()
        assert all(f.file in may for f in blamed), (told, blamed)
        overwrite(path, data)
        hit[kind] += 1
    assert of_files(book) == []
    return hit


def _other_settings(book: Folder, before: settings.Settings) -> list[Finding]:
    """People edit this file: what counts is that no value changes unseen."""
    from dataclasses import asdict

    try:
        now = settings.read(book.root / settings.FILE)
    except Exception:  # noqa: BLE001 - it is found then already
        return []
    if {**asdict(now), "troubles": ()} == {**asdict(before), "troubles": ()}:
        return [Finding("note", settings.FILE, "says the same as before")]
    old = book.cache / settings.FILE
    return [
        Finding("note", settings.FILE, line)
        for line in settings.changed(old, book.root / settings.FILE)
    ]


def test_a_flip_in_each_kind_of_file(whole: Path, tmp_path: Path) -> None:
    hit = flips(whole, tmp_path, 12, seed=3, database=False)
    assert hit.keys() >= {".JPG", "journal", "frames.parquet", "receipt.json", "SHA256SUMS"}
    assert hit.keys() >= {"let-go.txt", "logbook.toml", "shown.txt", "looks.parquet", ".jpg"}


@pytest.mark.thorough
def test_a_hundred_flips(whole: Path, tmp_path: Path) -> None:
    assert flips(whole, tmp_path, 100, seed=4, database=False).total() == 100


@pytest.mark.long
def test_a_thousand_flips(whole: Path, tmp_path: Path) -> None:
    assert flips(whole, tmp_path, 1000, seed=5, database=True).total() == 1000
