"""Lines and cards that are gone: told by every command, also on a machine that never saw them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import made_cards as made
import pytest

from camsign.cli import app
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.upkeep.verify import verify
from camsign.logbook import history, receipts
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    """Two cards, one after the other; four lines before the second."""
    book = made.logbook(tmp_path / "book", "CAM03")
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(book.root))
    ingest(book, [made.card(tmp_path / "CAM03", 3)])
    for i in range(3):
        say(book, str(i))
    ingest(book, [made.fill(tmp_path / "more" / "CAM03", {"B.JPG": made.jpeg(9)})], camera="CAM03")
    return book


def say(book: Folder, note: str) -> None:
    with open_logbook(book) as session:
        session.say(f"noted {note}", [SetFields("camera", "CAM03", {"note": note})])


def journal(book: Folder) -> Path:
    (path,) = book.journal.glob("*.jsonl")
    return path


def first_card(book: Folder) -> Path:
    cards = [p for p in book.cards.iterdir() if not p.name.startswith(".")]
    return min(cards, key=lambda p: receipts.read(p / receipts.FILE).taken_in + p.name)


def told(book: Folder) -> list[str]:
    with open_logbook(Folder(book.root)) as session:
        return history.unread(session)


def damage(book: Folder) -> list[str]:
    return [f.what for f in verify(Folder(book.root)).findings if f.kind == "damage"]


@pytest.mark.parametrize("cut", [0, 2])
def test_a_cut_journal_is_missed_on_another_machine(book: Folder, cut: int) -> None:
    path = journal(book)
    lines = path.read_bytes().splitlines(keepends=True)
    assert len(lines) == 4
    shutil.rmtree(book.cache)
    path.write_bytes(b"".join(lines[:cut]))
    (line,) = damage(book)
    assert line.startswith(f"{4 - cut} lines are gone")
    assert app.run(["verify"]) == 5
    (line,) = told(book)
    assert f"{4 - cut} lines are missing of the 4 that writer" in line
    assert "camsign verify --accept-missing" in line
    # What is said now does not pass for what is lost.
    say(book, "after")
    assert len(told(book)) == 1
    path.write_bytes(b"".join(lines) + path.read_bytes().splitlines(keepends=True)[-1])
    assert told(book) == [] and damage(book) == []


@pytest.mark.thorough
def test_another_line_under_the_same_number_is_told(book: Folder, tmp_path: Path) -> None:
    path = journal(book)
    lines = path.read_bytes().splitlines(keepends=True)
    shutil.rmtree(book.cache)
    path.write_bytes(b"".join(lines[:3]))
    # As a machine wrote on whose cache and cards were not there.
    shutil.move(book.cards, tmp_path / "cards")
    book.cards.mkdir()
    say(book, "other")
    shutil.rmtree(book.cache)
    shutil.rmtree(book.cards)
    shutil.move(tmp_path / "cards", book.cards)
    (line,) = told(book)
    assert "line 4 of writer" in line and "is another than when card" in line
    assert app.run(["verify"]) == 5


@pytest.mark.thorough
@pytest.mark.parametrize("cold", [False, True])
@pytest.mark.parametrize("what", ["folder", "receipt"])
def test_a_card_that_is_gone_is_told_by_every_command(
    book: Folder, cold: bool, what: str, capsys: pytest.CaptureFixture[str]
) -> None:
    card = first_card(book)
    id_ = receipts.read(card / receipts.FILE).card
    assert told(book) == []
    aside = book.root.parent / "aside"
    shutil.copytree(card, aside)
    shutil.rmtree(card) if what == "folder" else (card / receipts.FILE).unlink()
    if cold:
        shutil.rmtree(book.cache)
    for words in (["cards", "list"], ["frames"]):
        assert app.run(words) == 1
        err = capsys.readouterr().err
        assert err.count(f"card {id_} of CAM03 is gone with its pictures") == 1
    assert app.run(["verify"]) == 5
    shutil.rmtree(card, ignore_errors=True)
    shutil.copytree(aside, card)
    assert told(book) == [] and app.run(["verify"]) == 0


def test_what_is_gone_for_good_is_told_no_more_and_what_goes_later_is(
    book: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.rmtree(first_card(book))
    path = journal(book)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:1] + lines[3:]))  # from the middle
    assert len(told(book)) == 2
    assert app.run(["verify", "--accept-missing"]) == 0
    assert "you said it is gone for good" in capsys.readouterr().err
    assert told(book) == [] and damage(book) == []
    path.write_bytes(b"".join(lines[:1]))
    assert len(told(book)) == 1 and damage(book) == [
        "3 lines are gone that this machine had read: 2 to 4"
    ]
    shutil.rmtree(first_card(book))
    assert len(told(book)) == 2


@pytest.mark.thorough
def test_a_receipt_from_before_that_was_noted_opens(book: Folder) -> None:
    for card in book.cards.glob("*/receipt.json"):
        raw = json.loads(card.read_text())
        assert set(raw["more"]["before"]) <= {"lines", "card"}
        del raw["more"]["before"], raw["sum"]
        card.chmod(0o600)
        card.write_text(json.dumps(raw))
    shutil.rmtree(book.cache)
    assert told(book) == [] and damage(book) == []


@pytest.mark.thorough
@pytest.mark.parametrize("before", [3, {"lines": 3}, {"lines": {"w": 3}}, {"card": ["a"]}])
def test_a_receipt_that_says_nonsense_of_before_costs_its_card(
    book: Folder, before: object
) -> None:
    path = first_card(book) / receipts.FILE
    raw = json.loads(path.read_text())
    raw["more"]["before"] = before
    del raw["sum"]
    path.chmod(0o600)
    path.write_text(json.dumps(raw))
    shutil.rmtree(book.cache)
    (line,) = told(book)
    assert "the card is left out" in line
