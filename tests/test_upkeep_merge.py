"""Two friends' logbooks of one property, made apart and merged both ways, say the same."""

from __future__ import annotations

import hashlib
import json
import shlex
import shutil
from pathlib import Path
from typing import Any

import made_cards as made
import pytest

from camsign.cards.listing import set_camera
from camsign.cli import app
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.flows.intake import ingest
from camsign.flows.upkeep.merge import merge
from camsign.flows.upkeep.verify import verify
from camsign.logbook import folder, let_go
from camsign.logbook.edits import Edit, SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder

HOME = (44.1, -71.2)
ANSWERS = [
    ("visits",), ("near",), ("rivals", "Hollow"), ("bedding", "Hollow"), ("bedding", "Notch"),
    ("when", "Umber", "Hollow"), ("where", "Gap"), ("makers",), ("lately",), ("buck", "list"),
    ("deployments",),
]  # fmt: skip
TABLES = ("frames", "frame_times", "tags", "detections", "watch", "bucks", "areas", "deployments")


def say(book: Folder, *edits: Edit) -> None:
    with open_logbook(book) as session:
        session.say("said", list(edits))


def rows(book: Folder, sql: str) -> list[tuple[Any, ...]]:
    with open_logbook(book) as session:
        return session.con.execute(sql).fetchall()


def hang(id: str, camera: str, lat: float = 44.1) -> SetFields:
    said = {"camera": camera, "lat": lat, "lon": -71.2, "hung": "2025-09-01T12:00:00Z"}
    return SetFields("deployment", id, said)


def answers(book: Folder) -> dict[str, list[tuple[Any, ...]]]:
    """What counts, without the folder names, which the one who took a card in first gave it."""
    cells = {"frames": "* EXCLUDE (file)"}
    return {t: rows(book, f"SELECT {cells.get(t, '*')} FROM {t} ORDER BY ALL") for t in TABLES}


@pytest.fixture
def friends(tmp_path: Path) -> tuple[Folder, Folder]:
    """Mine with C03; his with the same card as F01, a card C07 of his own, and names of his own."""
    mine = folder.create(tmp_path / "mine", made.TZ, HOME, "imperial")
    his = folder.create(tmp_path / "his", made.TZ, (44.11, -71.21), "imperial")
    say(mine, hang("d-1", "C03"), hang("d-2", "C07", 44.12))
    say(his, hang("d-8", "F01"), hang("d-9", "C07", 44.1202))
    made.card(tmp_path / "C03", 4)
    shutil.copytree(tmp_path / "C03", tmp_path / "F01")
    made.card(tmp_path / "C07", 3, first=50)
    ingest(mine, [tmp_path / "C03"])
    ingest(his, [tmp_path / "F01", tmp_path / "C07"])
    frame = rows(mine, "SELECT min(frame) FROM frames")[0][0]
    say(mine, SetFields("buck", "b-1", {"name": "Umber"}))
    say(mine, TagFrames(Subject("animal", "b-1", species="deer", sex="male"), [frame]))
    say(his, SetFields("buck", "b-2", {"name": "Gap"}))
    return mine, his


@pytest.mark.thorough
def test_both_ways_they_say_the_same_and_what_differs_is_settled_once(
    friends: tuple[Folder, Folder],
) -> None:
    mine, his = friends
    before = {p: p.read_bytes() for p in his.root.rglob("*") if p.is_file()}
    came = merge(mine, his.root)
    assert (came.cards, came.known, came.frames, came.left) == (1, 1, 3, [])
    assert came.lines == 2
    assert {p: p.read_bytes() for p in his.root.rglob("*") if p.is_file()} == before
    assert [line for line in came.notes if "C07 was set 2 times" in line]
    merge(his, mine.root)
    # Until somebody says whose the card is, both count it alike, and both are asked.
    (card,) = (c for (c,) in rows(mine, "SELECT card FROM cards WHERE camera = 'C03'"))
    remedy = f"say whose it is: camsign cards set {card} --camera C03"
    for book in friends:
        assert rows(book, "SELECT remedy FROM conflicts WHERE remedy IS NOT NULL") == [(remedy,)]
    assert came.unsettled[0].endswith(remedy)
    assert answers(mine) == answers(his)
    with open_logbook(his) as session:
        set_camera(session, card, "C03")
    merge(mine, his.root)
    assert rows(mine, "SELECT remedy FROM conflicts WHERE remedy IS NOT NULL") == []
    assert answers(mine) == answers(his)
    assert rows(mine, "SELECT count(*) FROM frames") == [(7,)]
    assert sorted(b for (b,) in rows(mine, "SELECT name FROM bucks")) == ["Gap", "Umber"]
    again = merge(mine, his.root)
    assert (again.cards, again.lines, again.frames) == (0, 0, 0)
    assert verify(mine).damaged == [] == verify(his).damaged


@pytest.mark.thorough
def test_the_journey_by_commands_ends_in_the_same_answers(
    friends: tuple[Folder, Folder], capsys: pytest.CaptureFixture[str]
) -> None:
    """As docs/friends.md tells it: each says things of his own, both join, one settles."""
    mine, his = friends

    def asked(book: Folder, *words: str) -> str:
        code = app.run(["--logbook", str(book.root), *words])
        told = capsys.readouterr()
        assert code in (0, 1), (words, told.err)
        return told.out

    hollow = ("area", "add", "Hollow", "--at", "44.1005,-71.2005", "--radius", "120m")
    asked(mine, *hollow)
    asked(mine, "sign", "add", "rub", "--at", "44.1003,-71.2002", "--on", "2025-10-05")
    asked(his, "area", "add", "Notch", "--at", "44.1201,-71.2", "--radius", "150yd")
    (own,) = rows(his, "SELECT min(frame) FROM frames JOIN cards USING (card) WHERE camera = 'C07'")
    asked(his, "tag", "Gap", own[0])
    asked(mine, "merge", str(his.root))
    asked(his, "merge", str(mine.root))
    ((remedy,),) = rows(his, "SELECT remedy FROM conflicts WHERE remedy IS NOT NULL")
    asked(his, *shlex.split(remedy.partition("camsign ")[2]))
    asked(mine, "merge", str(his.root))
    (rub,) = json.loads(asked(his, "sign", "list", "--json"))["rows"]
    for words in ANSWERS:
        of = [rub["sign"]] if words == ("makers",) else []
        ours, theirs = (asked(book, *words, *of, "--json") for book in friends)
        assert json.loads(ours) == json.loads(theirs), words


@pytest.mark.thorough
def test_another_property_is_refused_unless_said(
    friends: tuple[Folder, Folder], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, his = friends
    far = folder.create(tmp_path / "far", made.TZ, (46.0, -71.2), "imperial")
    with pytest.raises(UsageError, match=r"another property.*--another-property"):
        merge(mine, far.root)
    merge(mine, far.root, anywhere=True)
    nowhere = folder.create(tmp_path / "nowhere", made.TZ, None, "imperial")
    with pytest.raises(UsageError, match="--another-property"):
        merge(mine, nowhere.root)
    with pytest.raises(UsageError, match="this logbook itself"):
        merge(mine, mine.root)
    with pytest.raises(UsageError, match="holds no logbook"):
        merge(mine, tmp_path)
    assert app.run(["--logbook", str(mine.root), "merge", str(his.root)]) == 1
    assert "Added 1 card with 3 pictures" in capsys.readouterr().out


@pytest.mark.thorough
def test_a_damaged_card_of_a_friend_is_left_out_and_told(friends: tuple[Folder, Folder]) -> None:
    mine, his = friends
    spoiled = next((his.cards).glob("*C07*/files/**/*.JPG"))
    spoiled.chmod(0o600)
    spoiled.write_bytes(spoiled.read_bytes()[:-1] + b"x")
    came = merge(mine, his.root)
    assert came.cards == 0 and "has other bytes than were taken in" in came.left[0]
    assert not [p for p in mine.cards.iterdir() if p.name.startswith(".")]
    assert verify(mine).damaged == []


@pytest.mark.thorough
def test_a_frame_of_a_friends_card_that_leads_outside_is_refused(
    friends: tuple[Folder, Folder],
) -> None:
    mine, his = friends
    (card,) = his.cards.glob("*C07*")
    with open_logbook(his) as session:
        path = str(card / "frames.parquet")
        (card / "frames.parquet").chmod(0o600)
        session.con.execute(
            "CREATE TEMP TABLE f AS SELECT * REPLACE ('files/../../../../x' AS file)"
            " FROM read_parquet(?)",
            [path],
        )
        session.con.execute(f"COPY f TO '{path}' (FORMAT parquet)")
    came = merge(mine, his.root)
    assert came.cards == 0 and len(came.left) == 1
    assert not (mine.root.parent / "x").exists() and not (mine.root / "x").exists()


@pytest.mark.thorough
def test_a_line_of_a_friends_let_go_list_reaches_nothing_of_mine(
    friends: tuple[Folder, Folder],
) -> None:
    mine, his = friends
    (card,) = his.cards.glob("*C07*")
    for book, data in ((mine, b"mine"), (his, b"his")):
        (book.root / "maps").mkdir(exist_ok=True)
        (book.root / "maps" / "a.jpg").write_bytes(data)
    (card / "small").mkdir()
    digest = hashlib.sha256(b"his").hexdigest()
    lines = [
        f"../../../maps/a  {digest}  files/x.JPG",
        f"{'0' * 64}  {digest}  ../../maps/a.jpg",
        f"{'0' * 64}  {digest}  receipt.json",
        f"{'0' * 64}  nonsense  files/x.JPG",
    ]
    sums = [hashlib.sha256(line.encode()).hexdigest()[:16] for line in lines]
    text = "".join(f"{s}  {line}\n" for s, line in zip(sums, lines, strict=True))
    (card / let_go.FILE).write_text(text)
    assert let_go.read(card) == {}
    assert merge(mine, his.root).cards == 1
    (taken,) = mine.cards.glob("*C07*")
    let_go.came_back(taken, ["files/x.JPG"])
    assert (mine.root / "maps" / "a.jpg").read_bytes() == b"mine"
    assert [f for f in verify(mine).damaged if f.file.endswith(let_go.FILE)]


@pytest.mark.thorough
def test_what_cannot_be_read_of_a_friend_keeps_none_of_his_words_out(
    friends: tuple[Folder, Folder],
) -> None:
    mine, his = friends
    (card,) = his.cards.glob("*C07*")
    facts = card / "frames.parquet"
    facts.chmod(0o600)
    facts.write_bytes(b"no table of facts")
    (his.root / "maps").mkdir(exist_ok=True)
    (his.root / "maps" / "ring.jpg").symlink_to("ring.jpg")
    secret = his.root.parent / "secret.txt"
    secret.write_text("nobody's")
    (his.root / "maps" / "led.jpg").symlink_to(secret)
    came = merge(mine, his.root)
    assert (came.cards, came.lines) == (0, 2)
    card_line, *map_lines = sorted(came.left)
    assert card_line.startswith(f"cards/{card.name}: ") and "\n" not in card_line
    assert [line.partition(":")[0] for line in map_lines] == ["maps/led.jpg", "maps/ring.jpg"]
    assert not (mine.root / "maps" / "led.jpg").exists()


@pytest.mark.thorough
def test_no_file_beside_a_friends_pictures_is_read_through_a_link(
    friends: tuple[Folder, Folder],
) -> None:
    mine, his = friends
    (card,) = his.cards.glob("*C07*")
    secret = his.root.parent / "secret.txt"
    secret.write_text("nobody's")
    (card / let_go.FILE).symlink_to(secret)
    came = merge(mine, his.root)
    assert came.cards == 0 and "leads out" in came.left[0]


@pytest.mark.thorough
def test_the_name_that_a_friends_receipt_gives_a_card_is_no_path(
    friends: tuple[Folder, Folder],
) -> None:
    mine, his = friends
    (receipt,) = his.cards.glob("*C07*/receipt.json")
    told = json.loads(receipt.read_text())
    told["card"] = "x/../../maps"
    del told["sum"]  # as one from before there were sums
    receipt.chmod(0o600)
    receipt.write_text(json.dumps(told))
    (mine.cards / ".merging-x").mkdir()
    (mine.root / "maps").mkdir(exist_ok=True)
    (mine.root / "maps" / "a.jpg").write_bytes(b"mine")
    merge(mine, his.root)
    assert (mine.root / "maps" / "a.jpg").read_bytes() == b"mine"
