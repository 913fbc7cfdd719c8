"""What two people say against each other: found, side by side, and settled by one answer.

What one camera, one place and one ring of merges make is in test_derive_conflicts.py; cards that
two took in are in test_logbook_twofold.py.
"""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any

import pytest
from kept_logbook import BUCK, frames, home, kept, say  # noqa: F401

from camsign.cli.app import run
from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.upkeep.merge import merge
from camsign.flows.upkeep.verify import verify
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.places.shapes import circle_shape

GAP = Subject("animal", "b-2", species="deer", sex="male")


@pytest.fixture
def both(home: Path) -> tuple[Folder, Folder]:
    """Mine, and his: a copy of it on another device."""
    shutil.copytree(home / "book", home / "his")
    return Folder(home / "book"), Folder(home / "his")


def conflicts(book: Folder) -> list[tuple[str, list[str]]]:
    """Kind and ids, the same warm and made anew."""

    def read() -> list[tuple[Any, ...]]:
        with open_logbook(book) as session:
            sql = "SELECT kind, ids, what, remedy, waiting FROM conflicts ORDER BY ALL"
            return session.con.execute(sql).fetchall()

    warm = read()
    remove_database(book)
    assert read() == warm
    return [(kind, ids) for kind, ids, *_ in warm]


def exchange(mine: Folder, his: Folder) -> None:
    merge(mine, his.root)
    merge(his, mine.root)


def circle(name: str, lat: float, radius: float, kind: str = "bedding") -> dict[str, Any]:
    return {"name": name, "kind": kind, "shape": circle_shape(lat, -71.2, radius)}


@pytest.mark.thorough
def test_one_area_drawn_by_both_under_two_names(both: tuple[Folder, Folder]) -> None:
    mine, his = both
    say(mine, SetFields("area", "a-1", circle("Bench", 44.1, 100)))
    say(mine, SetFields("area", "a-3", circle("Bench too", 44.1001, 100)))  # one hand: on purpose
    say(his, SetFields("area", "a-2", circle("Oak bench", 44.1002, 120)))
    say(his, SetFields("area", "a-4", circle("Feed", 44.1002, 120, "feeding")))
    say(his, SetFields("area", "a-5", circle("Ridge", 44.1002, 500)))
    say(his, SetFields("area", "a-6", circle("Far", 44.12, 100)))
    exchange(mine, his)
    twice = [("one area twice", ["a-1", "a-2"]), ("one area twice", ["a-2", "a-3"])]
    assert conflicts(mine) == conflicts(his) == twice
    say(his, SetFields("area", "a-2", {"name": "Oak bench"}))  # they are two
    exchange(mine, his)
    assert conflicts(mine) == conflicts(his) == []


@pytest.mark.thorough
def test_several_are_one_line_before_an_answer_and_verify_lists_them(
    both: tuple[Folder, Folder], capsys: pytest.CaptureFixture[str]
) -> None:
    mine, his = both
    heard: list[str] = []
    for n in (1, 2):
        say(mine, SetFields("area", f"a-{n}", circle(f"Bench {n}", 44.1 + n / 100, 100)))
        say(his, SetFields("area", f"b-{n}", circle(f"Oak {n}", 44.1002 + n / 100, 120)))
        merge(mine, his.root)
        assert run(["area", "list"]) == 0
        (line,) = capsys.readouterr().err.splitlines()
        heard.append(line)
    assert "Bench 1" in heard[0] and "camsign area" in heard[0]
    assert heard[1] == (
        "camsign: 2 things that can't all be so; camsign verify --sample 0 lists them"
    )
    assert run(["verify", "--sample", "0"]) == 1
    told = capsys.readouterr().err
    assert told.count("not settled: ") == 2 and "Bench 2" in told


@pytest.mark.thorough
def test_one_buck_tagged_by_both_under_two_names(both: tuple[Folder, Folder]) -> None:
    mine, his = both
    every = frames(mine)
    say(mine, TagFrames(BUCK, every[:4]))
    say(his, SetFields("buck", "b-2", {"name": "Gap"}), TagFrames(GAP, every[:1]))
    exchange(mine, his)
    assert conflicts(mine) == []  # one picture may hold two
    say(his, TagFrames(GAP, every[1:4]))
    exchange(mine, his)
    assert conflicts(mine) == conflicts(his) == [("two names", ["b-1", "b-2"])]
    merged = say(mine, SetFields("buck", "b-2", {"merged_into": "b-1"}))
    assert conflicts(mine) == []
    with open_logbook(mine) as session:
        from camsign.logbook.history import undo

        undo(session, merged)
    assert conflicts(mine) == [("two names", ["b-1", "b-2"])]
    say(mine, TagFrames(GAP, every[2:3]))  # both are in it
    exchange(mine, his)
    assert conflicts(mine) == conflicts(his) == []


@pytest.mark.thorough
@pytest.mark.parametrize("off", [timedelta(days=365), timedelta(days=-3 * 365)])
def test_a_wrong_clock_swallows_no_word_and_is_told(
    both: tuple[Folder, Folder], monkeypatch: pytest.MonkeyPatch, off: timedelta
) -> None:
    mine, his = both
    every = frames(mine)

    class Clock(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
            return datetime.now(tz) + off

    if off < timedelta(0):  # a device that never saw another's words
        for path in his.journal.iterdir():
            path.unlink()
        shutil.rmtree(mine.root.parent / "cache")
    with monkeypatch.context() as patch:
        patch.setattr("camsign.logbook.journal.datetime", Clock)
        odd = say(his, SetFields("buck", "b-2", {"name": "Gap"}), TagFrames(GAP, every[:2]))
    later = say(mine, SetFields("buck", "b-2", {"name": "Said after"}))
    came = merge(mine, his.root)
    with open_logbook(mine) as session:
        acts = dict(session.con.execute("SELECT act, said FROM acts").fetchall())
    assert {odd, later} <= acts.keys()
    notes = [f.what for f in verify(mine).findings if "clock" in f.what]
    ahead = off > timedelta(0)
    assert len(notes) == 1 and ("ahead" if ahead else "behind") in notes[0]
    assert notes[0] in " ".join(came.notes)
    # From now on his words are the later ones again, and mine after them.
    last = say(mine, SetFields("buck", "b-2", {"name": "Last"}))
    with open_logbook(mine) as session:
        acts = dict(session.con.execute("SELECT act, said FROM acts").fetchall())
        (name,) = session.con.execute("SELECT name FROM bucks WHERE buck = 'b-2'").fetchone() or ()
    assert acts[last] == max(acts.values()) and name == "Last"
    assert datetime.now(UTC).year - 4 < int(acts[odd][:4])


@pytest.mark.thorough
def test_a_conflict_copy_of_the_settings_is_named_with_what_it_says_otherwise(
    both: tuple[Folder, Folder],
) -> None:
    mine, _ = both
    text = (mine.root / "logbook.toml").read_text(encoding="utf-8")
    assert "reach_m = 200" in text
    copy = mine.root / "logbook (conflicted copy 2025-11-02).toml"
    copy.write_text(text.replace("reach_m = 200", "reach_m = 250"), encoding="utf-8")
    (told,) = verify(mine).findings
    assert told.file == copy.name and "reach_m 200 -> 250" in told.what and told.kind == "note"
