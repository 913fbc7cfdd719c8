"""The small picture sent by radio and the full one on the card are one frame."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows, say

from camsign.answers.frames import Wanted, frames
from camsign.cards.listing import list_cards, set_camera, show_card
from camsign.derive.opening import open_logbook
from camsign.logbook.edits import Subject, TagFrames, TakeBack
from camsign.logbook.folder import Folder

SMALL, FULL = (640, 360), (3840, 2160)
SECONDS = [f"2025-10-{d:02d}T07:00:0{d % 10}" for d in range(1, 5)]


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    made = book(tmp_path / "book")
    say(made, hang("CAM1", "2025-09-30T15:00:00Z", "2025-11-10T15:00:00Z"))
    return made


def sent(home: Folder, card: str = "s", camera: str = "CAM1") -> list[str]:
    """Small pictures as they come by radio: their time stands in their names."""
    shots = [Shot(s, f"{i}.JPG", pixels=SMALL, shown_from="name") for i, s in enumerate(SECONDS)]
    return put_card(home, card, camera, shots)


def full(home: Folder, card: str = "f") -> list[str]:
    """The card of the same camera: the same seconds, and one picture more that was never sent."""
    shots = [Shot(s, pixels=FULL) for s in [*SECONDS, "2025-10-09T18:00:00"]]
    return put_card(home, card, "CAM1", shots)


def counted(home: Folder) -> list[str]:
    return [f for (f,) in rows(home, "SELECT frame FROM frame_times ORDER BY utc, frame")]


def unsorted(home: Folder) -> Any:
    return rows(home, "SELECT sum(bursts) FROM unsorted")[0][0]


@pytest.mark.thorough
@pytest.mark.parametrize("first", ["small", "full", "at once"])
def test_the_full_one_counts_whichever_came_first(home: Folder, first: str) -> None:
    makers = [sent, full] if first != "full" else [full, sent]
    ids = {}
    for make in makers:
        ids[make] = make(home)
        if first != "at once":
            assert counted(home) == (ids[full] if full in ids else ids[sent])
    assert counted(home) == ids[full] and unsorted(home) == 5
    pairs = rows(home, "SELECT frame, stands_for FROM frame_twins ORDER BY ALL")
    assert pairs == sorted(zip(ids[sent], ids[full], strict=False))
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_what_was_said_of_the_small_one_counts_for_the_full_one(home: Folder) -> None:
    small = sent(home)
    say(home, TagFrames(Subject("buck", "b-1"), small[:2]))
    assert len(derived(home)["detections"]) == 2
    big = full(home)
    found = "SELECT frame FROM detections ORDER BY utc"
    assert [f for (f,) in rows(home, found)] == big[:2] and unsorted(home) == 3
    # Said again, of either: still one event.
    act = say(home, TagFrames(Subject("buck", "b-1"), [big[0], small[1], small[2]]))
    assert [f for (f,) in rows(home, found)] == big[:3]
    assert derived(home) == rebuilt(home)
    say(home, TakeBack([act]))
    assert [f for (f,) in rows(home, found)] == big[:2]
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_a_card_set_to_another_camera_parts_them_and_undo_joins_them(home: Folder) -> None:
    small, big = sent(home), full(home)
    say(home, TagFrames(Subject("buck", "b-1"), small[:1]))
    with open_logbook(home) as session:
        set_camera(session, "s", "F01")
    assert sorted(counted(home)) == sorted(small + big)
    assert [f for (f,) in rows(home, "SELECT frame FROM tags")] == small[:1]
    assert derived(home) == rebuilt(home)
    with open_logbook(home) as session:
        set_camera(session, "s", "CAM1")
    assert counted(home) == big
    assert [f for (f,) in rows(home, "SELECT frame FROM tags")] == big[:1]
    # Whole again also where it was the full ones' card that had gone over.
    with open_logbook(home) as session:
        set_camera(session, "f", "F01")
    assert sorted(counted(home)) == sorted(small + big)
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_full_pictures_of_one_second_and_another_cameras_are_no_pairs(home: Folder) -> None:
    second = SECONDS[0]
    same = put_card(home, "k", "CAM1", [Shot(second, f"{i}.JPG", pixels=FULL) for i in range(3)])
    sent(home, "o", "OTHER")
    near = (2880, 2160)  # of the same camera, in another shape: no less than half the pixels
    assert rows(home, "SELECT count(*) FROM frame_twins") == [(0,)]
    put_card(home, "n", "CAM1", [Shot(second, "N.JPG", pixels=near)])
    stamp = Shot(second, "F.JPG", pixels=SMALL, shown_from="file")
    put_card(home, "l", "CAM1", [stamp, Shot(second, "U.JPG"), Shot(None, "T.JPG", pixels=SMALL)])
    assert rows(home, "SELECT count(*) FROM frame_twins") == [(0,)]
    # Of three in one second two were sent: each goes with one of its own.
    small = [Shot(second, f"S{i}.JPG", pixels=SMALL) for i in range(2)]
    ids = put_card(home, "p", "CAM1", small)
    pairs = rows(home, "SELECT frame, stands_for FROM frame_twins ORDER BY ALL")
    assert pairs == sorted(zip(ids, same, strict=False))


def test_they_are_told_where_frames_and_cards_are_listed(home: Folder) -> None:
    small, big = sent(home), full(home)
    with open_logbook(home) as session:
        listed = frames(session, Wanted())
        assert [(r.frame, r.small) for r in listed[:4]] == [
            (b, s[:12]) for b, s in zip(big, small, strict=False)
        ]
        assert len(listed) == 5 and listed[4].small is None
        files = {f.frame: f.stands_for for f in show_card(session, "s").files}
        assert files == dict(zip(small, big, strict=False))
        cards = {r.card: (r.frames, r.first) for r in list_cards(session)}
        assert cards["s"][0] == 4 and cards["s"][1] == cards["f"][1]
