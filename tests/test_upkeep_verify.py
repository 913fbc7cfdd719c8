"""`verify`: each kind of damage is found, named and placed; what is right is not blamed."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import made_cards as made
import pytest

from camsign.cards.listing import list_cards
from camsign.cli import app
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.upkeep.verify import repair, verify
from camsign.logbook.checking import Finding
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder
from camsign.logbook.sealed import hash_of


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder with a logbook of one card of six pictures and four acts, and the card beside it."""
    home = tmp_path_factory.mktemp("whole")
    patch = pytest.MonkeyPatch()
    patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
    patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
    book = made.logbook(home / "book", "CAM03")
    made.card(home / "CAM03", 6)
    ingest(book, [home / "CAM03"])
    for i in range(3):
        with open_logbook(book) as session:
            session.say(f"noted {i}", [SetFields("camera", "CAM03", {"note": str(i)})])
    yield home
    patch.undo()


@pytest.fixture
def home(whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    copy = tmp_path / "home"
    shutil.copytree(whole / "book", copy / "book")
    shutil.copytree(whole / "CAM03", copy / "CAM03")
    monkeypatch.setenv("CAMSIGN_CACHE", str(copy / "cache"))
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(copy / "book"))
    with open_logbook(Folder(copy / "book")):
        pass
    return copy


def original(home: Path, nth: int = 0) -> Path:
    return sorted((home / "book" / "cards").rglob("*.JPG"))[nth]


def flip(path: Path, at: int = 100) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.chmod(0o600)
    path.write_bytes(bytes(data))


def found(home: Path, where: str = "") -> list[Finding]:
    every = verify(Folder(home / "book")).findings
    return [f for f in every if f.file.startswith(where)]


@pytest.mark.thorough
def test_a_whole_logbook_is_right_and_stays_as_it_is(home: Path) -> None:
    before = {p: p.read_bytes() for p in (home / "book").rglob("*") if p.is_file()}
    done = verify(Folder(home / "book"))
    assert (done.findings, done.unsettled, done.originals, done.read) == ([], [], 6, 6)
    assert verify(Folder(home / "book"), share=0.0).read == 0
    assert {p: p.read_bytes() for p in (home / "book").rglob("*") if p.is_file()} == before
    assert app.run(["verify"]) == 0


@pytest.mark.thorough
def test_an_original_that_is_changed_cut_or_gone_is_named(home: Path) -> None:
    flip(original(home, 0))
    original(home, 1).chmod(0o600)
    original(home, 1).write_bytes(b"cut")
    original(home, 2).unlink()
    told = {f.file.rsplit("/", 1)[1]: f.what for f in found(home)}
    assert told["IMG_0001.JPG"] == "its bytes were changed"
    assert told["IMG_0002.JPG"].startswith("has 3 bytes and had ")
    assert told["IMG_0003.JPG"] == "is missing"
    assert len(told) == 3
    assert app.run(["verify"]) == 5
    # What is gone is not called safe.
    with open_logbook(Folder(home / "book")) as session:
        (card,) = list_cards(session)
    assert (card.missing, card.safe_to_wipe) == (1, False)
    # The card still has them.
    done = repair(Folder(home / "book"), [home / "CAM03"])
    assert (done.fetched, done.findings) == (3, [])
    assert not original(home).stat().st_mode & 0o222


@pytest.mark.thorough
def test_a_sample_looks_at_every_size_and_a_cut_check_goes_on(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Folder(home / "book")
    stop = iter(range(99))

    def told(done: int, of: int) -> None:
        if done == of and next(stop) == 0:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        verify(book, progress=told)
    assert verify(book, resume=True, progress=told).read == 0
    assert verify(book, resume=True).read == 6


@pytest.mark.thorough
@pytest.mark.parametrize("name", ["receipt.json", "frames.parquet", "SHA256SUMS", "looks.parquet"])
def test_what_is_written_of_a_card_is_missed(home: Path, name: str) -> None:
    (path,) = (home / "book" / "cards").glob(f"*/{name}")
    path.unlink()
    damage = [f for f in found(home) if f.kind == "damage"]
    assert any((f.file.endswith(name) and "missing" in f.what) or name in f.file for f in damage)
    assert all(f.cure for f in damage)


@pytest.mark.thorough
def test_a_flipped_bit_in_the_facts_of_a_card_is_found(home: Path) -> None:
    (path,) = (home / "book" / "cards").glob("*/frames.parquet")
    for at in range(8, path.stat().st_size, path.stat().st_size // 7):
        flip(path, at)
        assert any(f.file.endswith("frames.parquet") for f in found(home)), at
        flip(path, at)
    assert found(home) == []


@pytest.mark.thorough
def test_a_card_folder_that_is_gone_is_told(home: Path) -> None:
    (card,) = (home / "book" / "cards").iterdir()
    shutil.move(card, home / "elsewhere")
    (told,) = found(home)
    assert told.file == f"cards/{card.name}" and "is gone" in told.what
    # A conflict copy that still holds it is enough.
    shutil.copytree(home / "elsewhere", home / "book" / "cards" / "copy")
    assert [f.kind for f in found(home)] == []


def journal(home: Path) -> Path:
    (path,) = (home / "book" / "journal").glob("*.jsonl")
    return path


@pytest.mark.thorough
def test_lines_torn_changed_missing_and_repeated_are_told_apart(home: Path) -> None:
    path = journal(home)
    lines = path.read_bytes().splitlines(keepends=True)
    assert len(lines) == 4
    path.write_bytes(b"".join(lines[:1] + lines[2:]))
    assert [(f.kind, f.what) for f in found(home, "journal/")] == [
        ("damage", "1 line is missing: 2")
    ]
    path.write_bytes(b"".join([*lines[:1], lines[1].replace(b"noted", b"nOted"), *lines[2:]]))
    changed, missing = found(home, "journal/")
    assert changed.file.endswith("line 2") and "was changed" in changed.what
    assert missing.what == "1 line is missing: 2"
    path.write_bytes(b"".join(lines) + b'{"sum":"half a li')
    assert [(f.kind, f.what[:21]) for f in found(home, "journal/")] == [
        ("note", "its last line is torn")
    ]
    path.write_bytes(b"".join([*lines, lines[1]]))
    assert [(f.kind, f.what[:25]) for f in found(home, "journal/")] == [
        ("note", "1 line stands here and in")
    ]
    path.write_bytes(b"".join(lines))
    assert found(home, "journal/") == []


@pytest.mark.thorough
def test_an_acknowledged_last_line_that_lost_its_end_is_no_torn_one(home: Path) -> None:
    path = journal(home)
    path.write_bytes(path.read_bytes()[:-10])
    told = ["1 line is gone that this machine had read: 4"]
    assert [f.what for f in found(home, "journal/")] == told
    # Other commands, which make the database again, change nothing about it.
    assert app.run(["history"]) == 1
    assert [f.what for f in found(home, "journal/")] == told
    assert app.run(["verify"]) == 5


@pytest.mark.thorough
def test_a_database_that_differs_from_the_files_is_found_and_made_again(home: Path) -> None:
    with open_logbook(Folder(home / "book")) as session:
        session.con.execute("UPDATE frames SET shown = '2001-01-01T00:00:00'")
    assert [f.what for f in found(home)] == [
        "its table `frames` is out of date; your pictures and notes are not in question"
    ]
    assert repair(Folder(home / "book")).findings == []


@pytest.mark.thorough
def test_a_stub_of_a_sync_service_is_away_and_not_damaged(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from camsign.flows.upkeep import originals

    away = original(home)
    monkeypatch.setattr(originals, "is_stub", lambda path: path == away)
    (told,) = found(home)
    assert told.kind == "away" and "not on this machine" in told.what
    assert app.run(["verify"]) == 1


@pytest.mark.thorough
def test_an_original_is_fetched_by_its_hash_where_the_facts_are_damaged(home: Path) -> None:
    original(home).unlink()
    (facts,) = (home / "book" / "cards").glob("*/frames.parquet")
    flip(facts)
    done = repair(Folder(home / "book"), [home / "CAM03"])
    assert done.fetched == 1 and original(home).read_bytes()


@pytest.mark.thorough
def test_what_changes_between_check_and_placing_is_not_placed(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from camsign.flows.upkeep import restored

    lost = original(home)
    lost.unlink()

    def hash_then_change(path: Path) -> str:
        sha = hash_of(path)
        flip(path)
        return sha

    monkeypatch.setattr(restored, "hash_of", hash_then_change)
    assert repair(Folder(home / "book"), [home / "CAM03"]).fetched == 0
    assert not lost.exists()


def test_a_setting_that_changed_is_told_since_this_opening_takes_it_up(home: Path) -> None:
    book = Folder(home / "book")
    with open_logbook(book):
        pass
    path = book.root / "logbook.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"scraping" =', '"rcraping" ='), encoding="utf-8")
    (note,) = found(home, "logbook.toml")
    assert note.kind == "note" and note.what.startswith("changed: phases ")
    assert found(home, "logbook.toml") == []
