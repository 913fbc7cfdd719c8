"""Two cards of one camera with pictures of the same days: another camera's, or a date off."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows, say

from camsign.cards.listing import set_camera
from camsign.derive.opening import open_logbook
from camsign.flows.intake.since_last_check import since_last_check
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    made = book(tmp_path / "book")
    say(made, hang("CAM1", "2025-09-30T15:00:00Z"), hang("CAM2", "2025-09-30T15:00:00Z"))
    return made


def shots(first: int, hours: float, n: int = 40, name: str = "IMG_{:04d}.JPG") -> list[Shot]:
    """One each seven hours from October 1, so many hours later."""
    start = datetime(2025, 10, 1) + timedelta(hours=hours)
    return [
        Shot(
            (start + timedelta(hours=7 * i)).isoformat(),
            f"DCIM/100CAMS/{name.format(first + i)}",
            shown_from="DateTimeOriginal",
        )
        for i in range(n)
    ]


def told(home: Folder) -> list[tuple[str, list[str]]]:
    return rows(home, "SELECT kind, ids FROM conflicts WHERE remedy IS NOT NULL")


@pytest.mark.parametrize("first", [1, 900])
def test_another_cameras_card_is_told_until_it_is_settled(home: Folder, first: int) -> None:
    put_card(home, "k1", "CAM1", shots(1, 0))
    put_card(home, "k2", "CAM1", shots(first, 3))
    assert told(home) == [("cards in turns", ["k1", "k2"])]
    with open_logbook(home) as session:
        steps = since_last_check(session, "CAM1", ["k2"], False).next_steps
        assert "CAM1 has pictures of 2025-10-01 to 2025-10-12 on both k1 and k2" in steps[0]
        assert "Are both right? camsign cards set k2 --camera CAM1" in steps[0]
        # Words about areas and bucks leave it as it is.
        session.say("added a buck", [SetFields("buck", "b-1", {"name": "Umber"})])
    assert told(home) == [("cards in turns", ["k1", "k2"])]
    assert derived(home) == rebuilt(home)
    with open_logbook(home) as session:
        set_camera(session, "k2", "CAM2")
    assert told(home) == []
    assert derived(home) == rebuilt(home)


def test_who_says_that_both_are_the_cameras_own_is_believed(home: Folder) -> None:
    put_card(home, "k1", "CAM1", shots(1, 0))
    put_card(home, "k2", "CAM1", shots(1, 3))
    with open_logbook(home) as session:
        set_camera(session, "k2", "CAM1")
    assert told(home) == []


def test_a_date_a_month_back_on_the_second_card_is_told(home: Folder) -> None:
    put_card(home, "k1", "CAM1", shots(1, 0, 80))
    put_card(home, "k2", "CAM1", shots(81, 150))
    assert told(home) == [("cards in turns", ["k1", "k2"])]


def test_parts_of_one_card_and_one_card_after_another_are_right(home: Folder) -> None:
    whole = shots(1, 0, 60)
    put_card(home, "k1", "CAM1", whole[::2])
    put_card(home, "k2", "CAM1", whole[1::2])
    put_card(home, "k3", "CAM1", shots(1, 60 * 7))
    put_card(home, "k4", "CAM1", shots(1, 100 * 7))
    assert told(home) == []


def test_the_same_pictures_saved_again_and_what_came_by_radio_are_no_other_cameras(
    home: Folder,
) -> None:
    put_card(home, "k1", "CAM1", shots(1, 0))
    put_card(home, "k2", "CAM1", shots(700, 0, 40, "edited {}.jpg"))
    by_name = shots(1, 3, 40, "CAM1_{}.jpg")
    for shot in by_name:
        shot.shown_from = "name"
    put_card(home, "k3", "CAM1", by_name)
    assert told(home) == []


def test_a_clock_at_its_makers_date_on_two_cards_is_another_matter(home: Folder) -> None:
    for card, hours in (("k1", 0), ("k2", 3)):
        early = shots(1, hours)
        for shot in early:
            assert shot.shown is not None
            shot.shown = shot.shown.replace("2025", "2020")
        put_card(home, card, "CAM1", early)
    assert told(home) == []
