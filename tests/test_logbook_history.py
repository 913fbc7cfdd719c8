"""`history OF`: what was said of one thing; and undo of any act, also after reopening."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import made_cards as made
import pytest
from kept_logbook import BUCK, NOTHING, frames, home, kept, say  # noqa: F401

from camsign.cli import app
from camsign.derive.opening import open_logbook, remove_database
from camsign.errors import UsageError
from camsign.logbook import history
from camsign.logbook.edits import Edit, SetFields, TagFrames, UntagFrames
from camsign.logbook.folder import Folder
from camsign.logbook.things import FIELDS, TABLES
from camsign.tags.tagging import with_seen_off


@pytest.fixture
def book(home: Path) -> Folder:
    return Folder(home / "book")


def told(book: Folder, of: str) -> list[str]:
    with open_logbook(book) as session:
        return [act.what for act in history.history(session, of=of)]


@pytest.mark.thorough
def test_it_is_told_of_one_thing_by_each_way_of_naming_it(book: Folder) -> None:
    every = frames(book)
    say(book, SetFields("buck", "b-2", {"name": "Gap"}), what="added Gap")
    say(book, SetFields("buck", "b-2", {"name": "Gap Tooth"}), what="renamed Gap")
    say(book, TagFrames(BUCK, every[4:5]), what="tagged Umber again")
    said = say(book, SetFields("area", "a-1", {"name": "Bench"}), what="drew Bench")
    say(book, SetFields("outage", "o-1", {"camera": "CAM03", "note": "wet"}), what="outage")
    say(book, SetFields("reference_picture", "r-1", {"buck": "b-2", "frame": every[0]}), what="ref")
    assert told(book, "gap") == told(book, "b-2") == told(book, "GAP TOOTH")
    assert told(book, "gap") == ["ref", "renamed Gap", "added Gap"]
    assert told(book, "Umber") == ["tagged Umber again", "said", "said"]
    assert told(book, "cam03")[:2] == ["outage", "said"]
    assert told(book, every[4]) == told(book, every[4][:12]) == ["tagged Umber again"]
    assert told(book, "Bench") == told(book, said) == ["drew Bench"]
    with open_logbook(book) as session:
        history.undo(session, said)
    assert told(book, "Bench") == ["undid: drew Bench", "drew Bench"]
    with pytest.raises(UsageError, match="nothing was ever said of 'Nobody'"):
        told(book, "Nobody")
    assert app.run(["history", "Bench"]) == 0


def state(book: Folder) -> dict[str, list[tuple[Any, ...]]]:
    remove_database(book)
    with open_logbook(book) as session:
        tables = [*TABLES.values(), "tags", "detections", "watch", "frame_times", "conflicts"]
        return {t: sorted(session.con.execute(f"FROM {t}").fetchall(), key=repr) for t in tables}


@pytest.mark.thorough
def test_every_kind_of_act_is_taken_back_by_a_new_line_after_reopening(book: Folder) -> None:
    every = frames(book)
    edits: list[Edit] = [
        SetFields(thing, "d-1" if thing == "deployment" else f"x-{i}", {"gone": True})
        for i, thing in enumerate(t for t in FIELDS if "gone" in FIELDS[t])
    ]
    edits += [
        SetFields("buck", "b-1", {"name": "Other", "merged_into": "b-9"}),
        SetFields("card", "0" * 12, {"camera": "CAM09"}),
        TagFrames(BUCK, every[2:], travel_deg=10.0),
        UntagFrames(None, every),
        UntagFrames(BUCK.key, every[:1]),
    ]
    with open_logbook(book) as session:
        nothing = with_seen_off(session, TagFrames(NOTHING, every[:3]))
    assert len(nothing) == 2
    before = state(book)
    journal = next(book.journal.iterdir())
    for edit in [nothing, *([edit] for edit in edits)]:
        said = say(book, *edit)
        after = state(book)
        assert after != before, edit
        held = journal.read_bytes()
        with open_logbook(book) as session:
            undo = history.undo(session, said)
        assert state(book) == before, edit
        assert journal.read_bytes().startswith(held)
        with open_logbook(book) as session:
            latest = history.history(session, 1)[0].act
            history.undo(session, latest)
        assert state(book) == after and undo.act == said, edit
        with open_logbook(book) as session:
            history.undo(session, said)


def test_undoing_says_that_a_card_loaded_since_stays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    made.logbook(tmp_path / "book")
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))

    def run(*words: str) -> str:
        app.run(list(words))
        told = capsys.readouterr()
        return told.out + told.err

    assert "nothing to undo" in run("undo") and "stays" not in run("undo")
    run("hang", "CAM03", "--at", "44.1,-71.2", "--from", "2025-08-10")
    run("ingest", str(made.card(tmp_path / "CAM03", 2)))
    card = re.search(r'"card": "(\w+)"', run("cards", "list", "--json"))
    assert card
    move = f"camsign cards set {card[1]} --camera ID"
    told = run("undo")
    assert told.startswith("Undone: “") and "CAM03's card, loaded since, stays; if" in told
    assert move in told and move in run("undo")
    (receipt,) = (tmp_path / "book" / "cards").glob("*/receipt.json")
    # As fine as an act's time: whole seconds would put a card before what was said just before it.
    assert re.search(r'"taken_in": "[^"]+\.\d{3}Z"', receipt.read_text())
    run("hang", "CAM03", "--at", "44.1,-71.2", "--from", "2025-08-10")
    assert "stays" not in run("undo")
