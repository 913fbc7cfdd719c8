"""Damage costs what it hits: that line or card alone is left out and named, the rest answers."""

from __future__ import annotations

import json
import os
import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import made_cards as made
import pytest

from camsign.cli.app import run
from camsign.derive.opening import open_logbook
from camsign.errors import CamsignError
from camsign.flows.intake import ingest
from camsign.flows.remeasure.look_again import look_again
from camsign.logbook import checked, history, journal, lines, lock, receipts, sealed
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.tags.frames import Which

STATE = ("frames", "looks", "tags", "bucks", "acts", "deployments")


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A logbook of one card and some words, to be copied by each test."""
    home = tmp_path_factory.mktemp("grown")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        book = made.logbook(home / "book", "CAM03")
        ingest(book, [made.card(home / "CAM03", 3)])
        with open_logbook(book) as session:
            frames = [f for (f,) in session.con.execute("SELECT frame FROM frames").fetchall()]
            session.say("named Ferrous", [SetFields("buck", "b-1", {"name": "Ferrous"})])
            session.say("tagged", [TagFrames(Subject("buck", "b-1"), frames)])
        yield book.root


@pytest.fixture
def book(grown: Path, tmp_path: Path) -> Folder:
    shutil.copytree(grown, tmp_path / "book")
    return Folder(tmp_path / "book")


def fresh(book: Folder) -> Folder:
    """The same logbook as another process sees it."""
    return Folder(book.root)


def cold(book: Folder) -> Folder:
    """The same logbook without its cache: the database is made again."""
    shutil.rmtree(book.cache)
    return fresh(book)


def state(book: Folder) -> dict[str, list[tuple[Any, ...]]]:
    with open_logbook(fresh(book)) as s:
        return {t: sorted(s.con.execute(f"SELECT * FROM {t}").fetchall(), key=repr) for t in STATE}


def troubles(book: Folder) -> list[str]:
    with open_logbook(fresh(book)) as session:
        rows = session.con.execute("SELECT file, line, what FROM troubles ORDER BY ALL").fetchall()
    return [f"{file} {line}: {what}" for file, line, what in rows]


def card_of(book: Folder) -> Path:
    return next(p for p in book.cards.iterdir() if not p.name.startswith("."))


def flip(path: Path, chance: random.Random) -> None:
    path.chmod(0o600)
    data = bytearray(path.read_bytes())
    data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    path.write_bytes(data)


MANY = pytest.mark.parametrize("cases", [2, pytest.param(20, marks=pytest.mark.long)])


@pytest.mark.thorough
@MANY
@pytest.mark.parametrize("name", ["frames.parquet", "receipt.json"])
def test_a_flipped_bit_in_facts_is_never_silently_other(
    book: Folder, name: str, cases: int
) -> None:
    """Told, or without effect."""
    before, path = state(book), card_of(book) / name
    whole, chance = path.read_bytes(), random.Random(5)
    for _ in range(cases):
        flip(path, chance)
        again = cold(book)
        after, told = state(again), troubles(again)
        if after != before:
            assert told and "card is left out" in told[0], told
            assert after["frames"] == [] and after["acts"] == before["acts"]
        path.write_bytes(whole)


def test_facts_that_read_well_and_are_others_are_left_out(book: Folder) -> None:
    """One hour more in one cell, the file's own sum as it was."""
    before, path = state(book), card_of(book) / "frames.parquet"
    path.chmod(0o600)
    con, other = duckdb.connect(), path.with_name("other")
    ((digest,),) = con.execute(
        "SELECT decode(value) FROM parquet_kv_metadata(?) WHERE decode(key) = ?",
        [str(path), sealed.KEY],
    ).fetchall()
    con.execute(
        "COPY (SELECT * REPLACE (replace(shown, 'T0', 'T1') AS shown) FROM read_parquet(?))"
        f" TO '{other}' (FORMAT parquet, KV_METADATA {{{sealed.KEY}: '{digest}'}})",
        [str(path)],
    )
    con.close()
    other.replace(path)
    again = cold(book)
    after, told = state(again), troubles(again)
    assert after["frames"] == [] and after["acts"] == before["acts"]
    assert "its checksum does not fit; the card is left out" in told[0]


@pytest.mark.thorough
@MANY
def test_a_flipped_bit_in_looks_costs_looks_alone_and_look_makes_them_again(
    book: Folder, cases: int
) -> None:
    before, path = state(book), card_of(book) / "looks.parquet"
    whole, chance = path.read_bytes(), random.Random(6)
    lost = 0
    for _ in range(cases):
        flip(path, chance)
        again = cold(book)
        after, told = state(again), troubles(again)
        assert after["frames"] == before["frames"] and after["tags"] == before["tags"]
        if after["looks"] != before["looks"]:
            lost += 1
            assert after["looks"] == [] and "looks.parquet is damaged" in told[0]
        path.write_bytes(whole)
    assert lost
    path.unlink()
    assert "looks.parquet is missing; camsign look makes it again" in troubles(cold(book))[0]
    assert look_again(fresh(book), Which()).frames == 3
    assert troubles(book) == [] and state(book)["looks"] == before["looks"]


def test_damaged_sums_of_whole_facts_are_told_and_cost_nothing(book: Folder) -> None:
    before, path = state(book), card_of(book) / "SHA256SUMS"
    path.chmod(0o600)
    text = path.read_text()
    path.write_text(text[:-81] + ("0" if text[-81] != "0" else "1") + text[-80:])
    assert ["SHA256SUMS is damaged" in line for line in troubles(cold(book))] == [True]
    assert state(book) == before


@pytest.mark.thorough
def test_a_card_from_before_there_were_sums_opens(book: Folder) -> None:
    before, card = state(book), card_of(book)
    for name in ("frames.parquet", "looks.parquet"):
        path = card / name
        path.chmod(0o600)
        path.write_bytes(path.read_bytes().replace(sealed.KEY.encode(), b"another_key"))
        assert sealed.is_whole(path) is None
    (card / "SHA256SUMS").chmod(0o600)
    text = (card / "SHA256SUMS").read_text().splitlines()[:-1]
    text.append(f"{sealed.hash_of(card / 'frames.parquet')}  frames.parquet\n")
    (card / "SHA256SUMS").write_text("\n".join(text))
    raw = json.loads((card / "receipt.json").read_text())
    del raw["sum"]
    (card / "receipt.json").chmod(0o600)
    (card / "receipt.json").write_text(json.dumps(raw))
    assert receipts.read(card / "receipt.json").camera == "CAM03"
    assert troubles(cold(book)) == [] and state(book) == before


def test_a_logbook_may_lie_in_any_folder(grown: Path, tmp_path: Path) -> None:
    shutil.copytree(grown, tmp_path / "season=2025" / "a=1" / "odd [1]*")
    there = Folder(tmp_path / "season=2025" / "a=1" / "odd [1]*")
    assert troubles(there) == [] and len(state(there)["frames"]) == 3


@pytest.mark.thorough
def test_a_camera_may_be_called_by_an_equation(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "N=1")
    assert ingest(book, [made.card(tmp_path / "N=1", 2)], camera="N=1").safe_to_wipe
    assert troubles(cold(book)) == [] and len(state(book)["frames"]) == 2


STRANGE: list[dict[str, Any]] = [
    {"edits": {}},
    {"edits": None},
    {"edits": [3]},
    {"edits": [{"set": "buck", "id": "b-1"}]},
    {"edits": [{"set": "buck", "id": "b-1", "to": ["name"]}]},
    {"edits": [{"set": ["buck"], "id": "b-1", "to": {}}]},
    {"edits": [{"set": "buck", "id": "b-1", "to": {"name": {"a": 1}}}]},
    {"edits": [{"set": "buck", "id": "b-1", "to": {"age": "old"}}]},
    {"edits": [{"set": "camera", "id": "CAM03", "to": {"serials": "x"}}]},
    {"edits": [{"set": "camera", "id": "CAM03", "to": {"serials": [1, {}]}}]},
    {"edits": [{"set": "area", "id": "a-1", "to": {"shape": {"circle": ["x"]}}}]},
    {"edits": [{"set": "area", "id": "a-1", "to": {"shape": [1]}}]},
    {"edits": [{"set": "deployment", "id": "d-1", "to": {"camera": "CAM03", "hung": 5}}]},
    {"edits": [{"set": "deployment", "id": "d-1", "to": {"hung": "0001-01-01T05:00:00Z"}}]},
    {"edits": [{"set": "deployment", "id": "d-1", "to": {"taken_down": "9999-12-31T05:00:00Z"}}]},
    {"edits": [{"set": "sighting", "id": "s-1", "to": {"seen_on": "9999-99-99"}}]},
    {"edits": [{"tag": {"what": "deer"}}]},
    {"edits": [{"tag": {"what": 5}, "frames": ["a"]}]},
    {"edits": [{"tag": {"what": "deer", "count": "many"}, "frames": ["a"]}]},
    {"edits": [{"tag": {"what": "deer", "count": 1e300}, "frames": ["a"]}]},
    {"edits": [{"tag": {"what": "deer", "travel_deg": "north"}, "frames": ["a"]}]},
    {"edits": [{"tag": {"what": "deer"}, "frames": [1]}]},
    {"edits": [{"tag": "deer", "frames": ["a"]}]},
    {"edits": [{"untag": 5, "frames": ["a"]}]},
    {"edits": [{"undo": "a1"}]},
    {"edits": [{"undo": [None]}]},
    {"what": 5},
    {"act": ["a"]},
    {"v": "1"},
    {"n": "7"},
    {"n": 10**30},
    {"writer": None},
    {"at": "yesterday"},
    {"at": "9999-12-31T23:59:59.999Z-99999"},
    {"at": "2025-02-31T00:00:00.000Z-00000"},
    {"at": 5},
    {"what": "\ud800"},
]


def line_of(number: int, **changed: Any) -> bytes:
    """A friend's line with its sum right."""
    body: dict[str, Any] = {
        "v": 1,
        "writer": "friend",
        "n": number,
        "at": "2026-01-01T00:00:00.000Z-00000",
    }
    body |= {"act": f"f{number}", "what": "said", "edits": []} | changed
    raw = json.dumps(body, separators=(",", ":")).encode()[1:]
    return journal._HEAD + journal._sum(raw) + b'",' + raw + b"\n"


def test_lines_that_come_later_are_named_by_their_place_behind_damaged_ones(book: Folder) -> None:
    """A friend's file grows after it was read; what is no line counts as one all the same."""
    path = book.journal / "friend.jsonl"
    path.write_bytes(line_of(1) + line_of(2)[:-9] + b'"}\n' + line_of(3))
    (first,) = [t for t in troubles(book) if t.startswith("journal/friend.jsonl ")]
    with path.open("ab") as more:
        more.write(line_of(4) + line_of(5)[:-9] + b'"}\n')
    told = [t for t in troubles(book) if t.startswith("journal/friend.jsonl ")]
    assert [int(t.split()[1][:-1]) for t in told] == [2, 5] and told[0] == first


def test_a_year_mistyped_long_ago_is_read_and_one_that_days_overflow_in_is_not() -> None:
    for day, fits in (("0001-12-31", False), ("0002-01-01", True), ("9997-12-31", True),
                      ("9998-01-01", False), ("2025-02-30", False), (20250101, False)):  # fmt: skip
        assert checked._is_day(day) is fits


@pytest.mark.thorough
def test_a_strange_line_costs_itself_alone(
    book: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    """All of them in one friend's file, between two good lines; every one is named by its line."""
    before = state(book)
    buck = [{"set": "buck", "id": "b-2", "to": {"name": "Wide"}}]
    lines = [line_of(1, edits=buck)]
    lines += [line_of(2 + i, **changed) for i, changed in enumerate(STRANGE)]
    lines.append(
        line_of(2 + len(STRANGE), edits=[{"set": "buck", "id": "b-3", "to": {"name": "Zed"}}])
    )
    (book.journal / "friend.jsonl").write_bytes(b"".join(lines))
    after = state(book)
    assert [row[1] for row in after["bucks"]] == ["Ferrous", "Wide", "Zed"]
    assert after["tags"] == before["tags"] and after["frames"] == before["frames"]
    told = [line for line in troubles(book) if line.startswith("journal/friend.jsonl ")]
    assert [int(line.split()[1][:-1]) for line in told] == list(range(2, 2 + len(STRANGE)))
    with open_logbook(fresh(book)) as session:
        session.say("mine", [SetFields("buck", "b-4", {"name": "Mine"})])
    for words in (["history"], ["buck", "list"], ["rebuild"], ["undo"], ["history"]):
        capsys.readouterr()
        assert run(["--logbook", str(book.root), *words]) == 1, words
        assert "journal/friend.jsonl, line" in capsys.readouterr().err
    with open_logbook(fresh(book)) as session:
        assert session.say("still", [SetFields("buck", "b-1", {"name": "Ferrous"})])
        assert history.history(session)


@pytest.mark.thorough
def test_a_journal_with_another_ending_is_read(book: Folder) -> None:
    before = state(book)
    path = next(book.journal.iterdir())
    for name in ("OTHER.JSONL", "other.jsonl.txt", "other", "other.bak"):
        path = path.rename(book.journal / name)
        assert [p.name for p in journal.files(book)[0]] == [name]
    assert troubles(book) == [] and state(book) == before
    assert troubles(cold(book)) == [] and state(book) == before


def test_what_is_no_journal_is_named_and_not_followed(book: Folder, tmp_path: Path) -> None:
    before = state(book)
    (book.journal / "notes.txt").write_text("dear diary")
    (book.journal / ".hidden").write_text("x")
    (tmp_path / "out").write_bytes(line_of(1))
    (book.journal / "link.jsonl").symlink_to(tmp_path / "out")
    told = troubles(book)
    assert len(told) == 2 and "link that leads out" in told[0] and "is no journal" in told[1]
    assert state(book) == before


def test_a_line_said_while_the_journal_is_read_is_not_missing(
    book: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another window reads the logbook at the very moment at which a card is taken in."""
    assert troubles(book) == []
    note = lines._note

    def meanwhile(*given: Any) -> None:
        note(*given)
        monkeypatch.undo()
        with lock.held(book.cache):
            journal.append(book, "named Twig", [SetFields("buck", "b-2", {"name": "Twig"})])

    with lock.held(book.cache):
        journal.append(book, "named Slim", [SetFields("buck", "b-3", {"name": "Slim"})])
    monkeypatch.setattr(lines, "_note", meanwhile)
    assert troubles(book) == []
    assert len(state(book)["bucks"]) == 3


@pytest.mark.thorough
def test_missing_lines_are_told_until_they_are_back(
    book: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    path = next(book.journal.iterdir())
    whole = path.read_bytes()
    lines = whole.splitlines(keepends=True)
    before = state(book)
    path.write_bytes(b"".join(lines[:1] + lines[2:]))  # from the middle
    assert "1 line is missing of the 3" in troubles(book)[0]
    assert run(["--logbook", str(book.root), "history"]) == 1
    assert "1 line is missing" in capsys.readouterr().err
    path.write_bytes(b"".join(lines[:2]))  # from the end: this machine had seen it
    assert "1 line is missing of the 3" in troubles(book)[0]
    path.unlink()  # all of it
    assert "3 lines are missing of the 3" in troubles(book)[0]
    path.write_bytes(whole)
    assert troubles(book) == [] and state(book) == before


@pytest.mark.thorough
def test_a_journal_replaced_by_another_of_equal_size_or_longer_is_noticed(book: Folder) -> None:
    names = "SELECT name FROM bucks ORDER BY 1"
    path = next(book.journal.iterdir())
    other = Folder(book.root.with_name("other"))
    shutil.copytree(book.root, other.root)
    theirs = next(other.journal.iterdir())
    lines = theirs.read_bytes().splitlines(keepends=True)
    at = next(i for i, line in enumerate(lines) if b"Ferrous" in line)
    body = lines[at].replace(b"Ferrous", b"Rustyyy")[journal._BODY_AT : -1]
    lines[at] = journal._HEAD + journal._sum(body) + b'",' + body + b"\n"
    for more in (b"", line_of(1, edits=[{"set": "buck", "id": "b-9", "to": {"name": "X"}}])):
        state(book)
        path.write_bytes(b"".join(lines) + more)
        with open_logbook(fresh(book)) as warm:
            found = warm.con.execute(names).fetchall()
        assert ("Rustyyy",) in found
        with open_logbook(cold(book)) as session:
            assert session.con.execute(names).fetchall() == found


def test_a_database_that_opens_no_more_is_made_again(book: Folder) -> None:
    """Its head is rubbish, its size and its file's time as this program left them."""
    before = state(book)
    path = fresh(book).database
    stat, data = path.stat(), bytearray(path.read_bytes())
    data[:12288] = random.Random(4).randbytes(12288)
    path.write_bytes(data)
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert state(book) == before


@pytest.mark.thorough
@pytest.mark.parametrize("cases", [3, pytest.param(30, marks=pytest.mark.long)])
def test_a_damaged_database_always_heals(book: Folder, cases: int) -> None:
    """Bits, pieces and cuts, also with the file's own time put back."""
    before, chance = state(book), random.Random(3)
    for case in range(cases):
        path = fresh(book).database
        stat, data = path.stat(), bytearray(path.read_bytes())
        at = chance.randrange(len(data))
        if case % 3 == 0:
            data[at] ^= 1 << chance.randrange(8)
        elif case % 3 == 1:
            data[at : at + 4096] = chance.randbytes(len(data[at : at + 4096]))
        else:
            del data[at:]
        path.write_bytes(data)
        if case % 2 and len(data) == stat.st_size:
            os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
        try:
            assert state(book) == before, case
        except CamsignError as e:
            assert "run the same command again" in str(e)
            assert state(book) == before, case
