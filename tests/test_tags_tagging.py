"""What is said of frames: who or what, in batches, by ids, bursts, times and tables."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar
from unittest.mock import patch

import pytest

from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError
from camsign.logbook.edits import Subject
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.tags import frames as f
from camsign.tags import tagging as t
from camsign.tags.bucks import add_buck
from camsign.tags.importing import import_tags, plan_tags
from camsign.tags.vocabulary import subject_of_word, words
from camsign.units import parse_bearing, parse_when

T = TypeVar("T")
MANY = 5_000


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return create(tmp_path / "hollow", "America/New_York", (44.2, -71.4), "imperial")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with patch("camsign.derive.opening.derive"), open_logbook(folder) as session:
        return verb(session)


def frame(i: int) -> str:
    return f"{(i + 1) * 2654435761 % 2**48:012x}{i:04x}"


def fill(folder: Folder, n: int) -> list[str]:
    """Frames of CAM01 from 2025-10-01 00:00 UTC on, one a minute, three to a burst."""

    def rows(session: Session) -> None:
        session.con.execute(
            "CREATE TEMP TABLE made AS SELECT unnest(?::VARCHAR[]) AS frame, unnest(range(?)) AS i",
            [[frame(i) for i in range(n)], n],
        )
        session.con.execute("INSERT INTO cameras (camera) VALUES ('CAM01')")
        session.con.execute(
            "INSERT INTO frames (frame, sha256) SELECT frame, rpad(frame, 64, '0') FROM made"
        )
        session.con.execute(
            "INSERT INTO frame_times (frame, camera, utc, burst) SELECT frame, 'CAM01',"
            " TIMESTAMP '2025-10-01' + INTERVAL (i) MINUTE, 'burst' || (i // 3) FROM made"
        )

    do(folder, rows)
    return [frame(i) for i in range(n)]


def tag(folder: Folder, said: str, ids: list[str], **more: object) -> t.Tagged:
    return do(
        folder,
        lambda s: t.tag(s, t.subject_of(s, said), f.by_ids(s, ids), **more),  # type: ignore[arg-type]
    )


def standing(folder: Folder) -> list[tuple[object, ...]]:
    query = "SELECT frame, what, species, sex, stage, buck_id, count, travel_deg, sure FROM tags"
    return do(folder, lambda s: s.con.execute(query + " ORDER BY ALL").fetchall())


def lines(folder: Folder) -> list[str]:
    path = folder.journal / f"{folder.writer}.jsonl"
    return path.read_text(encoding="utf-8").splitlines()


def test_words_say_what_is_there() -> None:
    assert subject_of_word("Doe") == Subject("animal", species="deer", sex="female")
    assert subject_of_word("does") == subject_of_word("doe")
    assert subject_of_word("FAWN") == Subject("animal", species="deer", stage="juvenile")
    assert subject_of_word("coyotes") == Subject("animal", species="coyote")
    assert subject_of_word("empty") == Subject("nothing")
    assert subject_of_word("truck") == Subject("vehicle")
    assert subject_of_word("Split Brow") is None
    assert {"animal", "person", "vehicle", "nothing", "unknown"} <= set(words())
    assert all(subject_of_word(word) is not None for word in words())


def test_a_batch_of_five_thousand_is_one_line_and_one_moment(folder: Folder) -> None:
    frames = fill(folder, MANY)
    start = time.process_time()
    done = tag(folder, "deer", [name[:12] for name in frames])
    assert time.process_time() - start < 5
    assert (done.tagged, done.skipped, len(lines(folder))) == (MANY, [], 1)
    assert len(standing(folder)) == MANY


def test_what_names_no_frame_is_skipped_with_the_reason(folder: Folder) -> None:
    frames = fill(folder, 3)
    twin = [frames[0][:12] + "ffff", frames[0][:12] + "f" * 52]
    add = "INSERT INTO frames (frame, sha256) VALUES (?, ?)"
    do(folder, lambda s: s.con.execute(add, twin).fetchall())
    done = tag(folder, "doe", [frames[0][:12], frames[1], "0" * 12, "holiday.jpg"])
    assert done.tagged == 1
    assert {s.frame: s.why for s in done.skipped} == {
        frames[0][:12]: "2 pictures begin with these digits: give more of them",
        "0" * 12: "no such picture in this logbook",
        "holiday.jpg": "that isn't a picture's id; list them with: camsign frames",
    }
    assert tag(folder, "doe", [frames[0][:13].upper()]).tagged == 1
    assert len(lines(folder)) == 2
    assert tag(folder, "doe", ["0" * 12]).tagged == 0
    assert len(lines(folder)) == 2, "nothing tagged, nothing said"


def test_bursts_and_times_choose_frames(folder: Folder) -> None:
    frames = fill(folder, 30)
    assert do(folder, lambda s: f.of_bursts(s, [frames[4]])) == frames[3:6]

    def chosen(start: str | None, stop: str | None) -> list[str]:
        a, b = (parse_when(x) if x else None for x in (start, stop))
        return do(folder, lambda s: f.between(s, "cam01", a, b).frames)

    assert chosen(None, None) == frames
    # 20:10 in New York on the last of September is 00:10 UTC on the first of October.
    assert chosen("2025-09-30 20:10", "2025-09-30 20:12") == frames[10:13]
    assert chosen("2025-09-30", "2025-09-30") == frames
    with pytest.raises(UsageError, match="30 pictures, but none in that time"):
        chosen("2025-11-01", None)
    with pytest.raises(UsageError, match="there is no camera 'CAM9'") as caught:
        do(folder, lambda s: f.between(s, "CAM9"))
    assert "did you mean 'CAM01'?" in str(caught.value)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Quarrel", "Old Quarrel"),
        ("old quarel", "Old Quarrel"),
        ("dow", "doe"),
        ("deo", "doe"),
        ("nhe", "hen"),
        ("squirel", "squirrel"),
    ],
)
def test_the_name_that_was_likely_meant_is_offered(folder: Folder, said: str, meant: str) -> None:
    do(folder, lambda s: add_buck(s, "Old Quarrel"))
    with pytest.raises(UsageError) as caught:
        do(folder, lambda s: t.subject_of(s, said))
    assert f"did you mean {meant!r}?" in str(caught.value)
    if meant != "Old Quarrel":  # he may be new all the same
        assert str(caught.value) == (
            f"no buck or animal {said!r}; did you mean {meant!r}? A new buck: camsign buck add "
            f"{said}"
        )


@pytest.mark.thorough
def test_saying_it_again_replaces_it_and_nothing_clears(folder: Folder) -> None:
    frames = fill(folder, 2)
    buck = do(folder, lambda s: add_buck(s, "Split Brow")).buck_id
    tag(folder, "doe", frames, count=2)
    tag(folder, "split brow", frames[:1], travel=parse_bearing("NE"), sure="unsure")
    tag(folder, "doe", frames[:1], count=3)
    assert standing(folder) == sorted([
        (frames[0], "animal", "deer", "female", None, None, 3, None, None),
        (frames[0], "animal", "deer", "male", None, buck, 1, 45.0, "unsure"),
        (frames[1], "animal", "deer", "female", None, None, 2, None, None),
    ], key=str)  # fmt: skip
    do(folder, lambda s: t.untag(s, f.by_ids(s, frames[:1]), t.subject_of(s, "doe")))
    assert {(row[0], row[5]) for row in standing(folder)} == {(frames[0], buck), (frames[1], None)}
    tag(folder, "nothing", frames)
    assert [(row[0], row[1], row[6]) for row in standing(folder)] == [
        (name, "nothing", 0) for name in sorted(frames)
    ]
    do(folder, lambda s: t.untag(s, f.by_ids(s, frames)))
    assert standing(folder) == []


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("said", "more", "words"),
    [
        ("coyotte", {}, "did you mean 'coyote'"),
        ("Split Bow", {}, "did you mean 'Split Brow'"),
        ("doe", {"count": 0}, "count of 0"),
        ("Split Brow", {"count": 2}, "is one animal"),
        ("nothing", {"travel": parse_bearing("NE")}, "travels nowhere"),
        ("doe", {"sure": "perhaps"}, "'perhaps' is no degree"),
    ],
)
def test_what_cannot_be_said(
    folder: Folder, said: str, more: dict[str, object], words: str
) -> None:
    frames = fill(folder, 1)
    do(folder, lambda s: add_buck(s, "Split Brow"))
    with pytest.raises(UsageError, match=words) as e:
        tag(folder, said, frames, **more)
    assert "\n" not in str(e.value) and len(lines(folder)) == 1


def test_details_of_an_animal(folder: Folder) -> None:
    def subject(said: str, **more: str) -> Subject:
        return do(folder, lambda s: t.subject_of(s, said, **more))

    assert subject("animal", species="Deer ", sex="F", stage="fawn") == Subject(
        "animal", None, "deer", "female", "juvenile"
    )
    assert subject("doe", stage="yearling").stage == "subadult"
    with pytest.raises(UsageError, match="'person' has no species"):
        subject("person", sex="male")
    with pytest.raises(UsageError, match="'x' is no sex"):
        subject("deer", sex="x")


def table(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_is_one_act_and_bad_rows_cost_a_line_each(folder: Folder, tmp_path: Path) -> None:
    frames = fill(folder, 6)
    buck = do(folder, lambda s: add_buck(s, "Split Brow")).buck_id
    file = table(
        tmp_path / "tags.csv",
        "Frame,what,buck,count,travel\n"
        f"{frames[0]},,split brow,,NE\n"
        f"{frames[1][:12]},doe,,2,\n"
        f"{frames[2]},buck,,,\n"
        f"{frames[3]},,,,\n"
        f"{frames[4]},doe,,two,\n"
        f"000000000000,doe,,,\n"
        f"{frames[5]},person,Split Brow,,\n"
        f"{frames[5]},nothing,,,\n",
    )
    done = do(folder, lambda s: import_tags(s, file))
    assert done.tagged == 4 and len(lines(folder)) == 2
    assert [s.why.split(":")[0] for s in done.skipped] == [f"line {n}" for n in (5, 6, 7, 8)]
    assert {row[0]: row[1:] for row in standing(folder)} == {
        frames[0]: ("animal", "deer", "male", None, buck, 1, 45.0, None),
        frames[1]: ("animal", "deer", "female", None, None, 2, None, None),
        frames[2]: ("animal", "deer", "male", None, None, 1, None, None),
        frames[5]: ("nothing", None, None, None, None, 0, None, None),
    }
    again = do(folder, lambda s: import_tags(s, file))
    assert (again.tagged, again.known) == (0, 4)
    assert len(lines(folder)) == 2


def test_a_buck_nobody_knows_stops_the_whole_table(folder: Folder, tmp_path: Path) -> None:
    frames = fill(folder, 2)
    rows = f"{frames[0]},doe,\n{frames[1]},,Crab Claw\n"
    file = table(tmp_path / "tags.csv", "frame,what,buck\n" + rows)
    with pytest.raises(InputRefused, match=r"'Crab Claw'; nothing was saved.*--add-bucks"):
        do(folder, lambda s: import_tags(s, file))
    assert standing(folder) == [] and list(folder.journal.glob("*.jsonl")) == []
    done = do(folder, lambda s: import_tags(s, file, add_bucks=True))
    assert (done.tagged, done.added_bucks) == (2, ["Crab Claw"])
    again = do(folder, lambda s: import_tags(s, file, add_bucks=True))
    assert (again.tagged, again.known, again.added_bucks) == (0, 2, [])


@pytest.mark.thorough
def test_a_table_names_an_unnamed_buck_and_leaves_what_it_contradicts(
    folder: Folder, tmp_path: Path
) -> None:
    one, two, three, four = fill(folder, 4)
    for name in ("Umber", "Gap"):
        do(folder, lambda s, name=name: add_buck(s, name))
    do(folder, lambda s: t.tag(s, t.subject_of(s, "buck"), f.by_ids(s, [one])))
    do(folder, lambda s: t.tag(s, t.subject_of(s, "buck"), f.by_ids(s, [two]), count=3))
    do(folder, lambda s: t.tag(s, t.subject_of(s, "Umber"), f.by_ids(s, [three])))
    do(folder, lambda s: t.tag(s, t.subject_of(s, "Gap"), f.by_ids(s, [four])))
    rows = f"{one},,Gap\n{two},,Gap\n{two},,Umber\n{three},,Gap\n{four},buck,\n"
    file = table(tmp_path / "tags.csv", "frame,what,buck\n" + rows)
    plan = do(folder, lambda s: plan_tags(s, file))
    assert (plan.new, plan.better, plan.known) == (0, 3, 1)
    assert [c.frame for c in plan.conflicts] == [three]
    done = do(folder, lambda s: import_tags(s, file))
    assert done.tagged == 2

    def named() -> list[tuple[str, str | None, int]]:
        sql = "SELECT frame, b.name, count FROM tags LEFT JOIN bucks b ON b.buck = buck_id"
        return do(folder, lambda s: s.con.execute(sql).fetchall())

    told = [(one, "Gap", 1), (two, "Gap", 1), (two, "Umber", 1), (two, None, 1)]
    assert sorted(named(), key=repr) == sorted(
        [*told, (three, "Umber", 1), (four, "Gap", 1)], key=repr
    )
    do(folder, lambda s: import_tags(s, file, replace=True))
    assert (three, "Gap", 1) in named() and (three, "Umber", 1) not in named()


def test_a_table_of_five_thousand(folder: Folder, tmp_path: Path) -> None:
    frames = fill(folder, MANY)
    names = ("Split Brow", "Crab Claw", "Old Ten")
    rows = [f"{name[:12]},{names[i % 3]},{i % 360}" for i, name in enumerate(frames)]
    file = table(tmp_path / "tags.csv", "frame,buck,travel_deg\n" + "\n".join(rows) + "\n")
    start = time.process_time()
    done = do(folder, lambda s: import_tags(s, file, add_bucks=True))
    assert time.process_time() - start < 5
    assert (done.tagged, done.skipped, done.added_bucks) == (MANY, [], list(names))
    assert len(lines(folder)) == 1 and json.loads(lines(folder)[0])["edits"][0]["set"] == "buck"


def test_tables_that_say_nothing(folder: Folder, tmp_path: Path) -> None:
    for text, told in (
        ("picture,what\na,b\n", "columns picture, what"),
        ("frame\nabc\n", "what, buck"),
    ):
        with pytest.raises(InputRefused, match=told):
            do(folder, lambda s, text=text: import_tags(s, table(tmp_path / "t.csv", text)))  # type: ignore[misc]
