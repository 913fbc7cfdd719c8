"""One card in two folders, and one frame in two cards, count once and are told."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import pytest
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows, say

from camsign.cards.listing import list_cards, set_camera, show_card
from camsign.derive.opening import open_logbook
from camsign.logbook import receipts
from camsign.logbook.edits import Subject, TagFrames
from camsign.logbook.folder import Folder

DAYS = [Shot(f"2025-10-{d:02d}T07:00:00") for d in range(1, 21)]


def copied(home: Folder, name: str, **changed: str) -> None:
    """A second folder of the card k, its receipt changed as said."""
    there = shutil.copytree(home.cards / "card-k", home.cards / name)
    receipt = dataclasses.replace(receipts.read(there / receipts.FILE), folder=name, **changed)
    (there / receipts.FILE).write_bytes(receipt.to_bytes())


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    made = book(tmp_path / "book")
    frames = put_card(made, "k", "CAM1", DAYS)
    say(made, hang("CAM1", "2025-09-30T15:00:00Z", "2025-11-10T15:00:00Z"))
    say(made, TagFrames(Subject("deer", sex="doe"), frames[:5]))
    return made


def counts(home: Folder) -> list[tuple[int, ...]]:
    tables = ("frames", "looks", "frame_times", "detections", "card_files", "cards")
    return rows(home, "SELECT " + ", ".join(f"(SELECT count(*) FROM {t})" for t in tables))


@pytest.mark.parametrize("folders", [pytest.param(1, marks=pytest.mark.thorough), 3])
@pytest.mark.parametrize("warm", [True, False], ids=["one by one", "at once"])
def test_a_card_in_several_folders_counts_once(home: Folder, folders: int, warm: bool) -> None:
    before = counts(home)
    assert before == [(20, 20, 20, 5, 20, 1)]
    for i in range(folders):
        copied(home, f"card-k (conflicted copy {i})")
        if warm:
            counts(home)
    assert counts(home) == before
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
@pytest.mark.parametrize("warm", [True, False], ids=["one by one", "at once"])
def test_two_friends_cameras_for_one_card_are_settled_by_one_answer(
    home: Folder, warm: bool
) -> None:
    before = counts(home)
    if not warm:
        copied(home, "b", camera="F01", taken_in="2026-06-03T12:00:00Z")
    assert counts(home) == before
    if warm:
        copied(home, "b", camera="F01", taken_in="2026-06-03T12:00:00Z")
    assert counts(home) == before
    with open_logbook(home) as session:
        assert [r.camera for r in list_cards(session)] == ["CAM1"]
        assert len(show_card(session, "k").files) == 20
    # Whichever is right, one answer settles it: also the one that stands already.
    with open_logbook(home) as session:
        assert set_camera(session, "k", "F01").frames == 20
    assert rows(home, "SELECT DISTINCT camera FROM frame_times") == [("F01",)]
    with open_logbook(home) as session:
        set_camera(session, "k", "CAM1")
    assert counts(home) == before
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_the_folder_that_came_first_speaks_whatever_came_here_first(home: Folder) -> None:
    counts(home)
    copied(home, "a", camera="F01", taken_in="2026-05-03T12:00:00Z")
    assert rows(home, "SELECT camera FROM cards") == [("F01",)]
    assert rows(home, "SELECT DISTINCT camera FROM frame_times") == [("F01",)]
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_the_answer_that_stands_already_can_be_given_where_two_receipts_differ(
    home: Folder,
) -> None:
    copied(home, "b", camera="F01", taken_in="2026-06-03T12:00:00Z")
    with open_logbook(home) as session:
        assert set_camera(session, "k", "CAM1").was == "CAM1"
    assert rows(home, "SELECT camera FROM card_words") == [("CAM1",)]


def conflicts(home: Folder) -> list[tuple[str, str | None, int]]:
    return rows(home, "SELECT kind, remedy, waiting FROM conflicts ORDER BY ALL")


@pytest.mark.thorough
def test_what_lies_twofold_is_told_with_its_remedy_until_it_is_settled(home: Folder) -> None:
    copied(home, "copy")
    assert conflicts(home) == [("one card twice", None, 0)]
    with open_logbook(home) as session:
        (what,) = show_card(session, "copy").twofold
    assert "cards/card-k" in what and "cards/copy" in what and "counts once" in what
    # Taken in first, and hung nowhere: all twenty pictures wait.
    copied(home, "b", camera="F01", taken_in="2026-05-03T12:00:00Z")
    remedy = "say whose it is: camsign cards set k --camera F01"
    assert conflicts(home) == [("one card twice", remedy, 20)]
    with open_logbook(home) as session:
        set_camera(session, "k", "CAM1")
    assert conflicts(home) == [("one card twice", None, 0)]


@pytest.mark.thorough
def test_the_same_pictures_on_two_cameras_cards_are_settled_from_either_side(home: Folder) -> None:
    put_card(home, "z", "F01", [Shot("2025-10-09T07:00:00", name="own"), *DAYS])
    ids = [r[0] for r in rows(home, "SELECT frame FROM frames")]
    # The second card's own names, so that its pictures are the first one's.
    assert len(ids) == 41
    put_card(home, "y", "F02", DAYS)
    with pytest.MonkeyPatch.context() as patch:
        import derive_world

        patch.setattr(
            derive_world, "frame_id", lambda card, name, old=derive_world.frame_id: old("k", name)
        )
        put_card(home, "x", "F03", DAYS)
    assert rows(home, "SELECT count(*) FROM frames") == [(61,)]
    ((kind, remedy, waiting),) = conflicts(home)
    assert (kind, waiting) == ("two cameras", 0)
    assert remedy is not None and "cards set x --camera CAM1" in remedy
    with open_logbook(home) as session:
        set_camera(session, "x", "CAM1")
    assert conflicts(home) == []
    assert derived(home) == rebuilt(home)
