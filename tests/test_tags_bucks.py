"""Bucks: names, ages over the seasons, merging, and being found again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar
from unittest.mock import patch

import pytest

from camsign.cli.bucks import _shown
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.edits import TakeBack
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.stats.estimate import Estimate
from camsign.tags import bucks as b

T = TypeVar("T")


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return create(tmp_path / "hollow", "America/New_York", (44.2, -71.4), "imperial")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    """One opening, as one command is; nothing derived, so that only this room is tested."""
    with patch("camsign.derive.opening.derive"), open_logbook(folder) as session:
        return verb(session)


def add(folder: Folder, name: str, **details: Any) -> b.BuckSaid:
    return do(folder, lambda s: b.add_buck(s, name, **details))


def show(folder: Folder, name: str, season: int | None = None) -> b.BuckRow:
    return do(folder, lambda s: b.show_buck(s, name, season))


def test_an_age_moves_with_the_seasons(folder: Folder) -> None:
    add(folder, "Split Brow", age=4.5, age_low=3.5, age_high=6.5, age_year=2024, age_basis="neck")
    assert show(folder, "split brow", 2025).age == Estimate(5.5, 4.5, 7.5)
    assert show(folder, "split brow", 2023).age == Estimate(3.5, 2.5, 5.5)
    assert show(folder, "split brow", 2018).age == Estimate(None, None, 0.5)  # not born, or newly
    # The design's default: mature from 3.5 years on, in that season.
    mature = {year: show(folder, "Split Brow", year).mature for year in (2018, 2022, 2023, 2025)}
    assert mature == {2018: None, 2022: False, 2023: True, 2025: True}


def test_a_new_age_drops_the_old_range_and_wants_its_own_basis(folder: Folder) -> None:
    add(folder, "Split Brow", age=4.5, age_low=3.5, age_high=6.5, age_year=2024, age_basis="neck")
    with pytest.raises(UsageError, match="how do you know his age"):
        do(folder, lambda s: b.set_buck(s, "Split Brow", age=5.5, age_year=2024))
    do(folder, lambda s: b.set_buck(s, "Split Brow", age=7.5, age_year=2024, age_basis="teeth"))
    row = show(folder, "Split Brow", 2024)
    assert (row.age, row.age_basis) == (Estimate(7.5, None, None), "teeth")
    do(folder, lambda s: b.set_buck(s, "Split Brow", ended="shot 2024-11-12"))
    row = show(folder, "Split Brow", 2024)
    assert (row.age.value, row.ended) == (7.5, "shot 2024-11-12")


@pytest.mark.parametrize(
    ("details", "words"),
    [
        ({"age": 41.0, "age_basis": "x"}, r"41 years\? Ages go from 0 to"),
        ({"age": -1.0, "age_basis": "x"}, r"-1 years\? Ages go from 0 to"),
        ({"age": 4.5}, "how do you know his age"),
        ({"age": 4.5, "age_low": 5.0, "age_basis": "x"}, "outside its own range"),
        ({"age_low": 5.0}, "needs both its ends"),
        ({"age": 4.5, "age_basis": "x", "age_year": 24}, "24 is no season"),
        ({"age": 4.5, "age_basis": "x", "age_year": 2152}, "season 2152 is in the future"),
    ],
)
def test_ages_without_sense(folder: Folder, details: dict[str, Any], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        add(folder, "Split Brow", **details)


def test_names_are_one_whatever_their_case_and_ids_stay(folder: Folder) -> None:
    first = add(folder, "Split Brow")
    with pytest.raises(UsageError, match="already a buck called 'Split Brow'"):
        add(folder, "SPLIT  BROW")
    with pytest.raises(UsageError, match="'doe' is a word for what"):
        add(folder, "doe")
    renamed = do(folder, lambda s: b.rename_buck(s, "split brow", "Crab Claw"))
    assert renamed.buck_id == first.buck_id
    assert do(folder, lambda s: b.find_buck(s, first.buck_id)).buck == "Crab Claw"
    with pytest.raises(UsageError, match="did you mean 'Crab Claw'"):
        do(folder, lambda s: b.find_buck(s, "crab clw"))
    with pytest.raises(UsageError, match="camsign buck list"):
        do(folder, lambda s: b.find_buck(s, "Zebulon"))


@pytest.mark.thorough
def test_a_merged_buck_is_found_by_his_old_name(folder: Folder) -> None:
    old, new = add(folder, "Velvet eight"), add(folder, "Split Brow")
    assert do(folder, lambda s: b.merge_bucks(s, "velvet eight", "Split Brow")) == new
    assert [row.buck for row in do(folder, b.bucks)] == ["Split Brow"]
    for said in ("Velvet eight", old.buck_id):
        assert do(folder, lambda s, said=said: b.find_buck(s, said)) == new  # type: ignore[misc]
    with pytest.raises(UsageError, match="same buck already"):
        do(folder, lambda s: b.merge_bucks(s, "Split Brow", "Velvet eight"))
    add(folder, "Velvet Eight")  # his old name is free for another
    assert do(folder, lambda s: b.find_buck(s, "velvet eight")).buck == "Velvet Eight"


def test_undo_parts_merged_bucks(folder: Folder) -> None:
    add(folder, "Velvet eight"), add(folder, "Split Brow")
    do(folder, lambda s: b.merge_bucks(s, "Velvet eight", "Split Brow"))

    def undo(session: Session) -> None:
        last = session.con.execute("SELECT arg_max(act, said) FROM acts").fetchone()
        assert last is not None
        session.say("undid", [TakeBack([last[0]])])

    do(folder, undo)
    assert [row.buck for row in do(folder, b.bucks)] == ["Split Brow", "Velvet eight"]


def test_first_and_last_seen_count_merged_frames(folder: Folder) -> None:
    old, new = add(folder, "Velvet eight"), add(folder, "Split Brow")
    do(folder, lambda s: b.merge_bucks(s, "Velvet eight", "Split Brow"))

    def seen(session: Session) -> b.BuckRow:
        for frame, buck, utc in (
            ("f1", old.buck_id, "2025-08-01 10:00"),
            ("f2", new.buck_id, "2025-10-01 10:00"),
        ):
            session.con.execute(
                "INSERT INTO detections (frame, buck_id, utc, day) VALUES ($1, $2, $3, $3::DATE)",
                [frame, buck, utc],
            )
        return b.show_buck(session, "Split Brow")

    row = do(folder, seen)
    assert row.season == 2025 and row.frames == 2
    assert row.first_seen is not None and row.last_seen is not None
    assert row.first_seen.isoformat() == "2025-08-01T06:00:00-04:00"
    assert row.last_seen.isoformat() == "2025-10-01T06:00:00-04:00"
    assert "  2 pictures, 2025-08-01 to 2025-10-01" in list(_shown(row))
    # One day is told as one, not as from itself to itself.
    day = replace(row, last_seen=row.first_seen)
    assert "  2 pictures, all 2025-08-01" in list(_shown(day))
    assert "  1 picture, 2025-08-01" in list(_shown(replace(day, frames=1)))


@pytest.mark.thorough
def test_an_age_is_for_the_season_of_his_pictures(tmp_path: Path) -> None:
    from derive_world import Shot, book, hang, put_card, say

    from camsign.derive.opening import open_logbook
    from camsign.logbook.edits import Subject, TagFrames

    home = book(tmp_path / "book")
    frames = put_card(home, "k", "CAM1", [Shot("2024-10-09T07:00:00"), Shot("2025-10-09T07:00:00")])
    say(home, hang("CAM1", "2024-08-01T00:00:00Z"))
    with open_logbook(home) as s:
        b.add_buck(s, "Tall")
        gap = b.add_buck(s, "Gap").buck_id
    say(home, TagFrames(Subject("animal", gap, species="deer", sex="male"), frames[:1]))
    with open_logbook(home) as s:
        # Of Tall there is no picture: the newest of the logbook say which season is meant.
        assert b.set_buck(s, "Tall", age=2.5, age_basis="body").age_season == 2025
        assert b.set_buck(s, "Gap", age=3.5, age_basis="body").age_season == 2024
    say(home, TagFrames(Subject("animal", gap, species="deer", sex="male"), frames[1:]))
    with open_logbook(home) as s:
        with pytest.raises(UsageError, match=r"2024, 2025.*--season 2025"):
            b.set_buck(s, "Gap", age=4.5, age_basis="body")
        said = b.set_buck(s, "Gap", age_low=4.5, age_high=6.5, age_basis="body", age_year=2025)
    assert said.age_season == 2025
    with open_logbook(home) as s:
        row = b.show_buck(s, "Gap", 2025)
    assert (row.age.value, row.age.low, row.age.high) == (5.5, 4.5, 6.5)


def test_bucks_come_from_a_table_once(folder: Folder, tmp_path: Path) -> None:
    from camsign.tags.buckstable import import_bucks

    add(folder, "Split Brow")
    file = tmp_path / "bucks.csv"
    file.write_text(
        "name,age,age_low,age_high,basis,season,traits\n"
        "split brow,4.5,,,neck,2024,left brow splits\n"
        "Gap,,3.5,5.5,body,2024,\n"
        "Umber,old,,,,,\n"
        "doe,,,,,,\n"
    )
    done = do(folder, lambda s: import_bucks(s, file))
    assert (done.new, done.changed, done.known) == (1, 1, 0)
    assert [line.split(":")[0] for line in done.refused] == ["line 4", "line 5"]
    rows = {r.buck: r for r in do(folder, lambda s: b.bucks(s, 2024))}
    assert rows["Gap"].age.value == 4.5 and rows["Split Brow"].traits == "left brow splits"
    again = do(folder, lambda s: import_bucks(s, file))
    assert (again.new, again.changed, again.known) == (0, 0, 2)
