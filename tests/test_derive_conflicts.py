"""What two people said twice, or against each other: counted once, told, and settled."""

from __future__ import annotations

from pathlib import Path

import pytest
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows, say

from camsign.derive.opening import open_logbook
from camsign.logbook.edits import SetFields, Subject, TagFrames, TakeBack
from camsign.logbook.folder import Folder
from camsign.logbook.history import history
from camsign.places.deployments import deployments, remove_deployment
from camsign.tags.bucks import bucks, rename_buck, show_buck

DAYS = [Shot(f"2025-10-{d:02d}T07:00:00") for d in range(1, 21)]
NEAR = (44.1003, -71.2)  # 33 m north of (44.1, -71.2)
FAR = (44.103, -71.2)  # 334 m


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    made = book(tmp_path / "book")
    frames = put_card(made, "k", "CAM1", DAYS)
    say(made, hang("CAM1", "2025-09-30T15:00:00Z", id="d-1"))
    say(made, TagFrames(Subject("deer", sex="doe"), frames))
    return made


def told(home: Folder) -> list[tuple[str, str | None, int]]:
    return rows(home, "SELECT kind, remedy, waiting FROM conflicts ORDER BY ALL")


SURE = "SELECT count(*) FROM detections WHERE doubt IS NULL"


@pytest.mark.thorough
def test_one_camera_typed_by_two_friends_counts_once(home: Folder) -> None:
    assert rows(home, SURE) == [(20,)]
    say(home, hang("CAM1", "2025-10-02T15:00:00Z", "2025-11-10T15:00:00Z", id="d-2", at=NEAR))
    assert rows(home, SURE) == [(20,)]
    assert told(home) == [("one place twice", None, 0)]
    with open_logbook(home) as session:
        (one,) = deployments(session)
    # The earlier start, the later word's place and end; the first id.
    assert (one.deployment, one.lat) == ("d-1", NEAR[0])
    assert f"{one.hung:%Y-%m-%d}" == "2025-09-30" and f"{one.until:%Y-%m-%d}" == "2025-11-10"
    assert rows(home, "SELECT DISTINCT deployment FROM watch") == [("d-1",)]
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_three_in_a_row_are_one_and_a_correction_by_id_still_counts(home: Folder) -> None:
    say(home, hang("CAM1", "2025-10-02T15:00:00Z", id="d-0", at=NEAR))
    say(home, hang("CAM1", "2025-10-02T15:00:00Z", id="d-3", at=(44.1006, -71.2)))
    assert rows(home, "SELECT deployment FROM deployments") == [("d-0",)]
    fix = {"camera": "CAM1", "deployment": "d-3", "kind": "shift", "value": 600}
    say(home, SetFields("clock_fix", "c-1", fix))
    # An hour's clock moved by ten minutes: 7:00 in New York's summer is 11:00 UTC, less 600 s.
    ((first,),) = rows(home, "SELECT min(utc) FROM frame_times")
    assert f"{first:%H:%M}" in ("10:50", "11:10")
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_an_open_end_said_last_keeps_the_pictures_behind_the_earlier_end(home: Folder) -> None:
    say(home, SetFields("deployment", "d-1", {"taken_down": "2025-10-10T15:00:00Z"}))
    assert rows(home, SURE) == [(10,)]
    say(home, hang("CAM1", "2025-10-08T15:00:00Z", id="d-2", at=NEAR))
    assert rows(home, SURE) == [(20,)]


@pytest.mark.thorough
def test_two_places_at_once_are_told_with_how_many_pictures_wait(home: Folder) -> None:
    say(home, hang("CAM1", "2025-10-10T00:00:00Z", id="d-2", at=FAR))
    ((kind, remedy, waiting),) = told(home)
    assert kind == "two places" and remedy is not None and "hang remove d-1" in remedy
    assert waiting == 11 == 20 - rows(home, SURE)[0][0]
    with open_logbook(home) as session:
        remove_deployment(session, "d-2")
    assert told(home) == []
    assert rows(home, SURE) == [(20,)]


@pytest.mark.thorough
def test_removing_takes_both_words_or_only_the_one_named(home: Folder) -> None:
    say(home, hang("CAM1", "2025-10-02T15:00:00Z", id="d-2", at=NEAR, clock="-05:00"))
    ((_, remedy, _),) = told(home)
    assert remedy is not None and "-05:00 and hung" in remedy
    with open_logbook(home) as session:
        remove_deployment(session, "d-2", only=True)
    assert rows(home, "SELECT deployment, clock FROM deployments WHERE gone IS NOT TRUE") == [
        ("d-1", None)
    ]
    say(home, SetFields("deployment", "d-2", {"gone": False}))
    with open_logbook(home) as session:
        remove_deployment(session, "d-2")
    assert rows(home, "SELECT count(*) FROM deployments WHERE gone IS NOT TRUE") == [(0,)]


def buck(id: str, **fields: object) -> SetFields:
    return SetFields("buck", id, dict(fields))


@pytest.mark.thorough
def test_bucks_merged_both_ways_are_one_and_none_vanishes(home: Folder) -> None:
    say(home, buck("b-2", name="Ferrous"), buck("b-1", name="Rusty"), buck("b-3", name="Old One"))
    say(home, buck("b-2", merged_into="b-1"), buck("b-3", merged_into="b-2"))
    say(home, buck("b-1", merged_into="b-2"))
    with open_logbook(home) as session:
        assert [row.buck for row in bucks(session)] == ["Rusty"]
        assert show_buck(session, "Ferrous").buck_id == "b-1"
        assert show_buck(session, "Old One").buck_id == "b-1"
    ((kind, remedy, _),) = told(home)
    assert (kind, remedy) == (
        "merged both ways",
        "give him the name you want: camsign buck rename b-1 NAME",
    )
    with open_logbook(home) as session:
        rename_buck(session, "b-1", "Ferrous Again")
    with open_logbook(home) as session:
        assert show_buck(session, "Ferrous").buck == "Ferrous Again"
    assert told(home) == []


def test_a_buck_merged_into_one_whose_adding_was_undone_is_told(home: Folder) -> None:
    added = say(home, SetFields("buck", "b-1", {"name": "Ferrous"}))
    say(home, SetFields("buck", "b-2", {"name": "Twig", "merged_into": "b-1"}))
    undone = say(home, TakeBack([added]))
    ((what, remedy),) = rows(home, "SELECT what, remedy FROM conflicts")
    assert what.startswith("Twig went into a buck whose adding was undone")
    assert remedy == "bring him back: camsign history b-1, then undo that undo"
    with open_logbook(home) as session:
        assert undone in {act.act for act in history(session, of="b-1")}
    say(home, TakeBack([undone]))
    assert told(home) == []


@pytest.mark.thorough
def test_a_ring_counts_the_same_in_answers_as_in_the_list(home: Folder) -> None:
    from camsign.answers.bucks import bucks_of
    from camsign.answers.scope import scope_of

    say(home, *(buck(f"b-{i}", name=f"N{i}", merged_into=f"b-{i % 3 + 1}") for i in (1, 2, 3)))
    say(home, buck("b-9", name="Tail", merged_into="b-3"))
    with open_logbook(home) as session:
        found = bucks_of(session, scope_of(session))
        now = session.con.execute("SELECT buck, buck_id, name FROM bucks_now").fetchall()
    assert found.names == ("N1",)
    assert {was: found.ids[i] for was, i in found.number.items()} == {b: n for b, n, _ in now}


@pytest.mark.thorough
def test_two_of_one_name_are_told_until_they_are_one(home: Folder) -> None:
    say(home, buck("b-1", name="Quill"), buck("b-2", name="quill"))
    circle = {"kind": "bedding", "shape": {"circle": [44.1, -71.2, 90]}}
    say(home, SetFields("area", "a-1", {"name": "Bench"} | circle))
    say(home, SetFields("area", "a-2", {"name": "Bench"} | circle))
    areas, twins = told(home)
    assert (areas[0], twins[0]) == ("two areas", "two bucks")
    assert twins[1] is not None and "buck merge b-2 b-1" in twins[1]
    assert areas[1] is not None and "area remove a-2" in areas[1]
    say(home, buck("b-2", merged_into="b-1"))
    say(home, SetFields("area", "a-2", {"gone": True}))
    assert told(home) == []
