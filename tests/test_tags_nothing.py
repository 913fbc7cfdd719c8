"""`nothing` takes off what its writer said and what he could see, never a friend's unseen tag."""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from derive_world import Shot, book, derived, lines_arrive, put_card, rebuilt
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.upkeep.merge import merge
from camsign.logbook import history, journal
from camsign.logbook.edits import Subject, TagFrames, to_json
from camsign.logbook.folder import Folder
from camsign.tags.frames import Chosen
from camsign.tags.importing import import_tags
from camsign.tags.tagging import buck_subject, tag, untag

FRAME = "00000000000000f1"
QUILL, UMBER = buck_subject("b-quill"), buck_subject("b-umber")
DOE = Subject("animal", species="deer", sex="female")
NOTHING = Subject("nothing")


@pytest.fixture
def two(tmp_path: Path) -> tuple[Folder, Folder]:
    """Two copies of one logbook: two friends' or two machines', each with a writer of its own."""
    return copies(tmp_path)


def copies(path: Path) -> tuple[Folder, Folder]:
    first = book(path / "mine")
    shutil.copytree(first.root, path / "his")
    return first, Folder(path / "his")


def say(home: Folder, subject: Subject, frames: Sequence[str] = (FRAME,)) -> None:
    with open_logbook(home) as s:
        tag(s, subject, Chosen(list(frames), []))


def undo(home: Folder) -> None:
    with open_logbook(home) as s:
        history.undo(s)


def stands(home: Folder, frame: str = FRAME) -> set[str]:
    """The subjects that stand, grown as well as made again."""
    found = []
    for again in (False, True):
        if again:
            remove_database(home)
        with open_logbook(home) as s:
            rows = s.con.execute("SELECT subject FROM tags WHERE frame = ?", [frame]).fetchall()
            found.append({subject for (subject,) in rows})
            assert s.con.execute("FROM troubles").fetchall() == []
    assert found[0] == found[1]
    return found[0]


def meet(mine: Folder, his: Folder) -> None:
    merge(mine, his.root)
    merge(his, mine.root)


def both(pair: tuple[Folder, Folder]) -> set[str]:
    meet(*pair)
    mine, his = map(stands, pair)
    assert mine == his
    return mine


def said(home: Folder) -> list[list[dict[str, Any]]]:
    path = home.journal / f"{home.writer}.jsonl"
    return [json.loads(line)["edits"] for line in path.read_text(encoding="utf-8").splitlines()]


def test_a_friends_nothing_leaves_a_buck_he_never_saw(two: tuple[Folder, Folder]) -> None:
    mine, his = two
    say(mine, QUILL)
    say(his, NOTHING)
    assert both(two) == {QUILL.key}
    # Now he sees him, and says it again: one line.
    before = len(said(his))
    say(his, NOTHING)
    assert both(two) == {NOTHING.key}
    assert len(said(his)) == before + 1
    undo(his)
    assert both(two) == {QUILL.key}
    undo(mine)
    assert both(two) == {NOTHING.key}


def test_a_nothing_said_first_falls_too(two: tuple[Folder, Folder]) -> None:
    mine, his = two
    say(his, NOTHING)
    say(mine, QUILL)
    assert both(two) == {QUILL.key}


def test_a_slip_put_right_takes_no_unseen_tag_of_the_same_buck(two: tuple[Folder, Folder]) -> None:
    mine, his = two
    say(mine, QUILL)
    undo(mine)
    meet(*two)  # what I took back, he doesn't see
    say(mine, QUILL)
    say(his, QUILL)
    say(his, DOE)
    say(his, NOTHING)
    assert stands(his) == {NOTHING.key}
    assert both(two) == {QUILL.key}
    undo(his)
    assert both(two) == {QUILL.key, DOE.key}


def test_what_he_saw_goes_and_what_came_meanwhile_stays(two: tuple[Folder, Folder]) -> None:
    mine, his = two
    say(mine, DOE)
    meet(*two)
    say(mine, QUILL)
    say(his, NOTHING)
    assert both(two) == {QUILL.key}


def test_on_the_second_machine_a_buck_who_came_by_sync_goes(two: tuple[Folder, Folder]) -> None:
    desk, laptop = two
    say(desk, QUILL)
    carry(desk, laptop)
    assert stands(laptop) == {QUILL.key}
    say(laptop, NOTHING)
    assert stands(laptop) == {NOTHING.key}
    assert both(two) == {NOTHING.key}
    undo(laptop)
    assert both(two) == {QUILL.key}


def carry(source: Folder, target: Folder) -> None:
    """Copy a writer's journal over, as a sync service does."""
    target.journal.mkdir(exist_ok=True)
    for file in source.journal.glob(f"{source.writer}.jsonl"):
        shutil.copy(file, target.journal / file.name)


def test_alone_on_one_machine_nothing_is_one_tag_that_clears(two: tuple[Folder, Folder]) -> None:
    mine, _ = two
    say(mine, QUILL)
    say(mine, NOTHING)
    assert stands(mine) == {NOTHING.key}
    line = {"tag": {"what": "nothing", "count": 0, "own": True}, "frames": [FRAME]}
    assert said(mine)[-1] == [line]
    undo(mine)
    assert stands(mine) == {QUILL.key}
    say(mine, NOTHING)
    say(mine, DOE)
    assert stands(mine) == {DOE.key}


def test_what_a_friend_took_off_does_not_come_back(two: tuple[Folder, Folder]) -> None:
    """My nothing clears my tags, not my word that his was wrong."""
    mine, his = two
    say(his, QUILL)
    meet(*two)
    with open_logbook(mine) as s:
        untag(s, Chosen([FRAME], []), QUILL)
    say(mine, NOTHING)
    assert both(two) == {NOTHING.key}
    say(mine, DOE)
    with open_logbook(mine) as s:
        untag(s, Chosen([FRAME], []))
    assert both(two) == set()


def test_only_frames_with_anothers_tag_are_named_once_more(two: tuple[Folder, Folder]) -> None:
    mine, his = two
    other, third = "00000000000000f2", "00000000000000f3"
    say(mine, QUILL, [FRAME, other])
    say(mine, DOE, [FRAME])
    meet(*two)
    say(his, UMBER, [third])
    say(his, NOTHING, [FRAME, third])
    off = [{"untag": key, "frames": [FRAME]} for key in (DOE.key, QUILL.key)]
    assert said(his)[-1][:-1] == off
    meet(*two)
    assert [stands(mine, f) for f in (FRAME, other, third)] == [
        {NOTHING.key}, {QUILL.key}, {NOTHING.key},
    ]  # fmt: skip


def test_a_table_takes_off_what_is_seen_and_nothing_else(
    two: tuple[Folder, Folder], tmp_path: Path
) -> None:
    mine, his = two
    for home in two:
        put_card(home, "k", "CAM1", [Shot(f"2025-10-0{d}T07:00:00") for d in (1, 2, 3)])
    with open_logbook(mine) as s:
        frames = [f for (f,) in s.con.execute("SELECT frame FROM frames ORDER BY 1").fetchall()]
    say(mine, QUILL, frames[:1])
    meet(*two)
    say(mine, QUILL, frames[1:])
    say(his, QUILL, frames[2:])  # a slip of his own, of the same buck
    table = tmp_path / "tags.csv"
    table.write_text("frame,what\n" + "".join(f"{f},nothing\n" for f in frames), encoding="utf-8")
    with open_logbook(his) as s:
        assert import_tags(s, table, replace=True).tagged == 3
    meet(*two)
    assert [stands(mine, f) for f in frames] == [{NOTHING.key}, {QUILL.key}, {QUILL.key}]
    undo(his)
    undo(his)
    assert [stands(his, f) for f in frames] == [{QUILL.key}] * 3


@pytest.mark.parametrize("of", ["small", "full"])
def test_the_small_and_the_full_picture_count_as_one(two: tuple[Folder, Folder], of: str) -> None:
    mine, his = two
    shown = "2025-10-01T07:00:00"
    for home in two:
        small = put_card(home, "s", "CAM1", [
            Shot(shown, "1.JPG", pixels=(640, 360), shown_from="name"),
        ])[0]  # fmt: skip
        full = put_card(home, "f", "CAM1", [Shot(shown, pixels=(3840, 2160))])[0]
    say(mine, QUILL, [small])
    said_of = small if of == "small" else full
    say(his, NOTHING, [said_of])
    meet(*two)
    assert stands(mine, full) == stands(his, full) == {QUILL.key}
    say(his, NOTHING, [said_of])
    meet(*two)
    assert stands(mine, full) == stands(his, full) == {NOTHING.key}
    assert derived(mine)["tags"] == rebuilt(mine)["tags"]


def old(home: Folder, subject: Subject) -> None:
    """Say a tag as an older version did: a line without the mark."""

    def unmarked(edit: Any) -> dict[str, Any]:
        line = to_json(edit)
        line.get("tag", {}).pop("own", None)
        return line

    with patch("camsign.logbook.journal.to_json", unmarked), open_logbook(home) as s:
        s.say("said", [TagFrames(subject, [FRAME], count=0)])


def test_an_old_nothing_clears_what_anybody_said_before(two: tuple[Folder, Folder]) -> None:
    mine, his = two
    say(mine, QUILL)
    old(his, NOTHING)
    assert "own" not in said(his)[-1][0]["tag"]
    assert both(two) == {NOTHING.key}
    say(mine, QUILL)
    assert both(two) == {QUILL.key}
    old(mine, NOTHING)
    assert both(two) == {NOTHING.key}


def test_a_mark_that_is_no_yes_or_no_is_refused(tmp_path: Path) -> None:
    lines = [
        journal.Line("aa", n, journal.FIRST, f"a{n}", "x", [{"tag": tag, "frames": [FRAME]}], 1)
        for n, tag in enumerate([{"what": "nothing", "own": own} for own in (True, False, 1)], 1)
    ]
    path = tmp_path / "aa.jsonl"
    path.write_bytes(b"".join(map(journal.encode, lines)))
    reading = journal.read(path)
    assert [line.n for line in reading.lines] == [1, 2]
    assert len(reading.troubles) == 1 and "'tag'" in reading.troubles[0][1]


def opened(home: Folder) -> None:
    with open_logbook(home):
        pass


def arrived(pair: Sequence[Folder], path: Path, chance: random.Random) -> Folder:
    """A third copy, to which the lines of both came in any order and in any portions."""
    third = Folder(path / "third")
    shutil.copytree(pair[0].root, third.root)
    shutil.rmtree(third.journal)
    third.journal.mkdir()
    files = [home.journal / f"{home.writer}.jsonl" for home in pair]
    left = {f.name: f.read_bytes().splitlines(keepends=True) for f in files if f.exists()}
    lines_arrive(left, third.journal, chance, lambda: opened(third))
    return third


@pytest.mark.thorough
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.lists(
        st.tuples(st.integers(0, 1), st.sampled_from(("tag", "nothing", "untag", "sync"))),
        min_size=2, max_size=9,
    ),
    st.randoms(use_true_random=False),
)  # fmt: skip
def test_a_buck_goes_only_by_who_saw_him_whatever_the_order_of_arrival(
    tmp_path_factory: pytest.TempPathFactory,
    steps: list[tuple[int, str]],
    chance: random.Random,
) -> None:
    """Each friend tags a buck of his own; what must stand is kept beside, without a stamp."""
    path = tmp_path_factory.mktemp("pair")
    bucks, there, seen, quiet = (QUILL, UMBER), [False, False], [False, False], False
    with patch("camsign.derive.opening.derive"):
        pair = copies(path)
        for who, word in steps:
            other = 1 - who
            if word == "sync":
                carry(pair[other], pair[who])
                seen[who] = there[other]
            elif word == "tag":
                say(pair[who], bucks[who])
                there[who] = True
            elif word == "nothing":
                say(pair[who], NOTHING)
                there[who], there[other] = False, there[other] and not seen[who]
                seen[who], quiet = False, True
            else:
                with open_logbook(pair[who]) as s:
                    untag(s, Chosen([FRAME], []))
                there, seen[who], quiet = [False, False], False, False
        stays = {buck.key for buck, is_there in zip(bucks, there, strict=True) if is_there}
        third = arrived(pair, path, chance)
        carry(pair[0], pair[1])
        carry(pair[1], pair[0])
        for home in (third, *pair):
            assert stands(home) == (stays or ({NOTHING.key} if quiet else set()))
