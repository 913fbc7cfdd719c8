"""An open logbook: state from the set of lines, undo, a database that may be lost at any time."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from derive_world import lines_arrive
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camsign.derive.opening import open_logbook
from camsign.errors import LogbookBusy
from camsign.logbook import folder, history, journal, things
from camsign.logbook.edits import Edit, SetFields, Subject, TagFrames, TakeBack, UntagFrames

STATE = ("bucks", "deployments", "signs", "tags", "acts")
FRAMES = [f"{i:016x}" for i in range(6)]


@pytest.fixture(autouse=True)
def nothing_is_derived(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("camsign.derive.opening.derive", lambda session, far: None)


@pytest.fixture
def book(tmp_path: Path) -> folder.Folder:
    return folder.create(tmp_path / "book", "America/New_York", None, "imperial")


def say(book: folder.Folder, *edits: Edit, what: str = "said") -> str:
    with open_logbook(book) as s:
        return s.say(what, edits)


def state(book: folder.Folder) -> dict[str, list[tuple[object, ...]]]:
    with open_logbook(book) as s:
        return {t: sorted(s.con.execute(f"SELECT * FROM {t}").fetchall(), key=repr) for t in STATE}


def tags(book: folder.Folder) -> set[tuple[str, str]]:
    with open_logbook(book) as s:
        return set(s.con.execute("SELECT frame, subject FROM tags").fetchall())


def test_columns_of_things_and_schema_agree(book: folder.Folder) -> None:
    with open_logbook(book) as s:
        for thing, fields in things.FIELDS.items():
            rows = s.con.execute(f"DESCRIBE {things.TABLES[thing]}").fetchall()
            assert [r[0] for r in rows] == [thing, *fields], thing
            assert [r[1] for r in rows[1:]] == list(fields.values()), thing
        said = s.con.execute("DESCRIBE deployments_said").fetchall()
        assert s.con.execute("DESCRIBE deployments").fetchall() == said


def test_a_verb_takes_only_fields_that_people_say() -> None:
    for kind in things.THINGS.values():
        for verb in kind.verbs:
            for name in verb.fields:
                assert kind.field(name).sort, f"{kind.thing} {verb.name} {name}"
            assert set(verb.args) <= set(verb.fields)


def test_the_last_word_wins_per_field(book: folder.Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Split Brow", "age": 4.5}))
    say(book, SetFields("buck", "b-1", {"age": 5.5}))
    with open_logbook(book) as s:
        assert s.con.execute("SELECT name, age FROM bucks").fetchall() == [("Split Brow", 5.5)]


def test_nothing_clears_the_others_and_a_later_sight_clears_nothing(book: folder.Folder) -> None:
    buck, none = Subject("buck", "b-1"), Subject("nothing")
    say(book, TagFrames(buck, FRAMES[:2]))
    say(book, TagFrames(none, FRAMES[:2]))
    assert tags(book) == {(FRAMES[0], none.key), (FRAMES[1], none.key)}
    say(book, TagFrames(buck, FRAMES[:1]))
    assert tags(book) == {(FRAMES[0], buck.key), (FRAMES[1], none.key)}
    say(book, UntagFrames(None, FRAMES))
    assert tags(book) == set()


def test_undo_takes_back_and_undoing_the_undo_says_it_again(book: folder.Folder) -> None:
    tag = say(book, TagFrames(Subject("buck", "b-1"), FRAMES))
    undo = say(book, TakeBack([tag]))
    assert tags(book) == set()
    redo = say(book, TakeBack([undo]))
    assert len(tags(book)) == 6
    say(book, TakeBack([redo]))
    assert tags(book) == set()


def test_undo_by_default_takes_the_last_act_that_stands(book: folder.Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Split Brow"}), what="added Split Brow")
    say(book, TagFrames(Subject("buck", "b-1"), FRAMES), what="tagged 6 frames")
    with open_logbook(book) as s:
        assert history.undo(s).what == "tagged 6 frames"
    with open_logbook(book) as s:
        assert history.undo(s).what == "added Split Brow"
    with open_logbook(book) as s:
        acts = history.history(s)
    assert [a.undone for a in acts] == [False, False, True, True]


edits = st.one_of(
    st.builds(
        SetFields,
        st.just("buck"),
        st.sampled_from(["b-1", "b-2"]),
        st.fixed_dictionaries({}, optional={"name": st.text(max_size=3), "age": st.floats(1, 9)}),
    ),
    st.builds(
        TagFrames,
        st.sampled_from(
            [Subject("buck", "b-1"), Subject("animal", species="deer"), Subject("nothing")]
        ),
        st.lists(st.sampled_from(FRAMES), min_size=1, unique=True),
        st.integers(1, 3),
    ),
    st.builds(
        UntagFrames,
        st.sampled_from([None, "buck:b-1"]),
        st.lists(st.sampled_from(FRAMES), min_size=1, unique=True),
    ),
    st.just("undo"),
)


@pytest.mark.thorough
@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(edits, min_size=2, max_size=8), st.randoms(use_true_random=False))
def test_lines_may_arrive_in_any_order_and_in_any_portions(
    tmp_path_factory: pytest.TempPathFactory, words: list[Edit | str], chance: random.Random
) -> None:
    """Three writers' lines, brought in at once or line by line in any order, say the same."""
    root = tmp_path_factory.mktemp("order")
    book = folder.create(root / "one", "UTC", None, "metric")
    acts: list[str] = []
    for word in words:
        edit = TakeBack([chance.choice(acts)]) if word == "undo" and acts else word
        if isinstance(edit, str):
            continue
        book.__dict__["writer"] = chance.choice(["aa", "bb", "cc"])
        acts.append(say(book, edit))
    other = folder.Folder(root / "two")
    shutil.copytree(book.root, other.root)
    whole = {p.name: p.read_bytes().splitlines(keepends=True) for p in other.journal.iterdir()}
    for p in other.journal.iterdir():
        p.unlink()
    lines_arrive(whole, other.journal, chance, lambda: state(other))
    assert state(other) == state(book)


def test_a_lost_or_damaged_database_is_made_again_and_says_the_same(book: folder.Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Split Brow"}))
    say(book, TagFrames(Subject("buck", "b-1"), FRAMES))
    before = state(book)
    shutil.rmtree(book.cache)
    del book.__dict__["cache"]
    assert state(book) == before
    book.database.write_bytes(b"this is no database" * 500)
    assert state(book) == before


HOLD = """
import sys, time
from pathlib import Path
from camsign.derive import opening
from camsign.logbook import folder
opening.derive = lambda session, far: None
with opening.open_logbook(folder.Folder(Path(sys.argv[1]))) as s:
    if sys.argv[2] == "writes":
        s.con.execute("INSERT INTO touched SELECT 'frame', i::VARCHAR FROM range(9) r(i)")
    print("open", flush=True)
    time.sleep(60)
"""


@pytest.mark.thorough
@pytest.mark.skipif(os.name != "posix", reason="killed by a signal")
@pytest.mark.parametrize("how", ["reads", "writes"])
def test_killed_while_it_only_read_the_database_stays_else_it_is_made_again(
    book: folder.Folder, how: str
) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Split Brow"}))
    before, file = state(book), book.database.stat().st_ino
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(book.root), how], stdout=subprocess.PIPE, text=True
    )
    assert holder.stdout is not None and holder.stdout.readline() == "open\n"
    holder.send_signal(signal.SIGKILL)
    holder.wait()
    os.link(book.database, book.root / "the old file")  # so that its number is not given again
    assert state(book) == before
    assert (book.database.stat().st_ino == file) == (how == "reads")


def test_an_edited_setting_makes_the_database_again(book: folder.Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Split Brow"}))
    with open_logbook(book) as s:
        s.con.execute("DELETE FROM bucks")
    path = book.root / "logbook.toml"
    path.write_text(path.read_text().replace("reach_m = 200", "reach_m = 150"))
    again = folder.Folder(book.root)
    assert again.settings.reach_m == 150
    assert len(state(again)["bucks"]) == 1


def test_lines_of_a_newer_version_are_kept_and_reported(book: folder.Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Split Brow"}))
    path = book.journal / "future.jsonl"
    newer = journal.Line("future", 1, "2026-01-01T00:00:00.000Z-00000", "f1", "?", [], 2)
    odd = journal.Line("future", 2, "2026-01-01T00:00:00.001Z-00000", "f2", "?", [{"sing": "x"}], 1)
    path.write_bytes(journal.encode(newer) + journal.encode(odd))
    with open_logbook(book) as s:
        troubles = [row[0] for row in s.con.execute("SELECT what FROM troubles").fetchall()]
    assert "newer version" in troubles[0]
    assert "sing" in troubles[1]
    assert path.read_bytes().count(b"\n") == 2


def test_a_damaged_line_is_reported_and_the_others_count(book: folder.Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Split Brow"}))
    say(book, SetFields("buck", "b-2", {"name": "Wide"}))
    path = next(book.journal.iterdir())
    path.write_bytes(path.read_bytes().replace(b"Split", b"Splat"))
    shutil.rmtree(book.cache)
    del book.__dict__["cache"]
    with open_logbook(book) as s:
        assert s.con.execute("SELECT name FROM bucks").fetchall() == [("Wide",)]
        assert "damaged" in s.con.execute("SELECT what FROM troubles").fetchall()[0][0]


def test_who_waits_is_told_who_holds_it(
    book: folder.Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    from filelock import FileLock

    monkeypatch.setenv("CAMSIGN_WAIT", "0.2")
    with open_logbook(book):
        pass
    with (
        FileLock(book.cache / "lock"),
        pytest.raises(LogbookBusy, match=r"in use by .*process \d+"),
        open_logbook(book),
    ):
        pass


def test_two_writers_with_one_name_for_two_bucks_stay_two(book: folder.Folder) -> None:
    say(book, SetFields("buck", "b-1", {"name": "Wide"}))
    say(book, SetFields("buck", "b-2", {"name": "wide"}))
    with open_logbook(book) as s:
        names = [r[0] for r in s.con.execute("SELECT name FROM bucks_now ORDER BY 1").fetchall()]
    assert names == ["Wide", "wide (b-2)"]


def test_merged_bucks_are_followed_to_their_end(book: folder.Folder) -> None:
    for a, into in (("b-1", "b-2"), ("b-2", "b-3"), ("b-3", None)):
        say(book, SetFields("buck", a, {"name": a.upper(), "merged_into": into}))
    with open_logbook(book) as s:
        rows = s.con.execute("SELECT buck, name FROM bucks_now ORDER BY 1").fetchall()
    assert rows == [("b-1", "B-3"), ("b-2", "B-3"), ("b-3", "B-3")]
