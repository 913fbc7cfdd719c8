"""A logbook that an older version wrote, with all of its verbs, opens and answers the same.

fixtures/logbooks/quiet-ridge was written by camsign at 6259d58 (journal version 1, receipts and
Parquet files without sums); quiet-ridge.answers.json holds what that version answered.
"""

from __future__ import annotations

import json
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from camsign.cli.app import run
from camsign.derive.opening import open_logbook
from camsign.logbook import journal
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder
from camsign.logbook.things import FIELDS, TABLES

HERE = Path(__file__).resolve().parents[1] / "fixtures" / "logbooks"
GOLDEN = json.loads((HERE / "quiet-ridge.answers.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    home = tmp_path_factory.mktemp("older")
    shutil.copytree(HERE / "quiet-ridge", home / "quiet-ridge")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        yield home / "quiet-ridge"


@pytest.fixture(autouse=True)
def _its_own_cache(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Made once for the module: tests only read."""
    monkeypatch.setenv("CAMSIGN_CACHE", str(book.parent / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(book.parent / "config"))


# Keys of answers that are meant to differ now, and why; all others are compared.
_WATCH = {
    # Nights whose pictures nobody sorted are no longer counted as watched.
    "nights_watched", "days_watched", "watch", "per_100_nights", "per_100_nights_poisson", "trend",
    # What follows from the watch, and its words.
    "daylight_chance", "by_part", "best_spans", "back_test", "days_bedded", "share", "why",
    # Says how it was figured now.
    "method",
}  # fmt: skip
MEANT = {
    # Verdicts come from the model of beds, which lists whoever may bed there and counts ways at
    # cameras inside, and sums sign by made windows.
    "bedding": _WATCH | {"verdict", "rule", "sign", "gives_way", "bucks", "unknown_travel"},
    # A chance without any camera up while it was made is no longer given; days in bed count too.
    "makers": {"makers", "why", "method"},
    # Windows by the look of a sign: tracks 14 days instead of 30, sheds since antlers drop.
    "sign": {"made_from", "made_to", "basis"},
    # Light by day is spelled color now.
    "frames": {"light"},
    "visits": _WATCH,
    "when": _WATCH,
    # The share without a name is of passes before single cameras now.
    "rivals": _WATCH | {"estimate", "daylight", "unidentified"},
}


def compared(question: str, answer: Any) -> Any:
    """Give what of an answer of the older version is to stand."""
    family = question.split()[0]
    if family == "near":  # who was near a track while it was made follows its window
        return [row for row in answer if row["kind"] != "track"]
    if family == "visits":  # equal counts stand in an order of their own now
        answer = sorted(
            answer, key=lambda row: [row.get(k) or "" for k in ("buck_id", "area", "camera")]
        )
    return _without(answer, MEANT.get(family, set()))


def _without(value: Any, keys: set[str]) -> Any:
    if isinstance(value, dict):
        return {k: _without(v, keys) for k, v in value.items() if k not in keys}
    return [_without(v, keys) for v in value] if isinstance(value, list) else value


def like(now: Any, then: Any) -> Any:
    """Give an answer of now with only the keys that the older version gave."""
    if isinstance(now, dict) and isinstance(then, dict):
        return {k: like(now.get(k), v) for k, v in then.items()}
    if isinstance(now, list) and isinstance(then, list) and len(now) == len(then):
        return [like(a, b) for a, b in zip(now, then, strict=True)]
    if isinstance(now, float) and isinstance(then, int | float):
        return pytest.approx(now, rel=1e-9)
    return now


@pytest.mark.thorough
@pytest.mark.parametrize("question", GOLDEN["asked"])
def test_it_answers_the_same_and_no_line_is_left_out(
    book: Path, question: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--logbook", str(book), *shlex.split(question), "--json"]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    then = compared(question, GOLDEN["asked"][question])
    told = json.loads(out.out)
    if isinstance(GOLDEN["asked"][question], list) and isinstance(told, dict):
        told = told["rows"]  # lists lie in an object now, beside the schema's version
    now = compared(question, told)
    assert then == like(now, then)


def test_every_thing_said_stands_field_by_field(book: Path) -> None:
    with open_logbook(Folder(book)) as session:
        assert session.con.execute("SELECT * FROM troubles").fetchall() == []
        for thing, rows in GOLDEN["said"].items():
            assert _said(session.con, thing, len(rows[0]) if rows else 1) == rows, thing


def _said(con: Any, thing: str, columns: int) -> list[list[Any]]:
    if thing == "tag":
        sql = 'SELECT frame, subject, "count", travel_deg, sure FROM tags ORDER BY ALL'
        return [list(row) for row in con.execute(sql).fetchall()]
    # Fields that came later stand behind those of the older version, or are named here.
    later = {
        ("buck", "linked"),
        ("card", "file_times"),
        ("card", "taken_as"),
        ("sign", "bed_of"),
        ("place", "shoots_m"),
        ("clock_fix", "from_frame"),
        ("clock_fix", "until_frame"),
    }
    fields = [thing, *(f for f in FIELDS[thing] if (thing, f) not in later)]
    cells = ", ".join(f'"{f}"::VARCHAR' for f in fields)
    rows = con.execute(f"SELECT {cells} FROM {TABLES[thing]} ORDER BY 1").fetchall()
    assert not rows or len(fields) == columns
    return [list(row) for row in rows]


@pytest.mark.thorough
@pytest.mark.parametrize(
    "question", ["tonight --wind NW --mph 6 --on 2025-11-07", "sit pressure --season 2025"]
)
def test_a_walk_of_year_one_takes_no_answer_down(
    book: Path, question: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """It holds a walk that began 0001-01-01T00:00:01, which is no local time west of UTC."""
    assert run(["--logbook", str(book), *shlex.split(question)]) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.thorough
def test_a_line_said_now_goes_on_behind_the_old_ones(book: Path, tmp_path: Path) -> None:
    shutil.copytree(book, tmp_path / "quiet-ridge")
    copy = Folder(tmp_path / "quiet-ridge")
    before = {p.name: p.read_bytes() for p in copy.journal.iterdir()}
    assert run(["--logbook", str(copy.root), "buck", "rename", "Slate", "Flint"]) == 0
    after = {p.name: p.read_bytes() for p in copy.journal.iterdir()}
    assert all(after[name] == data for name, data in before.items())  # a writer of its own
    assert len(after) == len(before) + 1


@pytest.mark.thorough
def test_years_mistyped_long_ago_cost_nothing(tmp_path: Path) -> None:
    """The older version took any year: such lines stand in journals and hold other words too."""
    shutil.copytree(HERE / "quiet-ridge", tmp_path / "quiet-ridge")
    copy = Folder(tmp_path / "quiet-ridge")
    edits = [
        SetFields("sighting", "g-1", {"sign": "s-1", "seen_on": "0205-10-04"}),
        SetFields("sign", "s-1", {"kind": "rub", "lat": 44.1, "lon": -71.5}),
        SetFields("deployment", "d-1", _HUNG),
        SetFields("waypoint", "n-1", {"name": "x", "noted": "0001-01-01T00:00:00+00:00"}),
        SetFields("buck", "b-1", {"name": "Late Lamented"}),
    ]
    journal.append(copy, "an import with mistyped years", edits)
    with open_logbook(copy) as session:
        assert session.con.execute("SELECT * FROM troubles").fetchall() == []
        rows = session.con.execute("SELECT count(*) FROM bucks WHERE buck = 'b-1'").fetchone()
    assert rows == (1,)


_HUNG = {
    "camera": "QR-9", "lat": 44.1, "lon": -71.5,
    "hung": "0205-10-04T04:56:00Z", "taken_down": "0205-11-04T04:56:00Z",
}  # fmt: skip
