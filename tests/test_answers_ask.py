"""Questions of one's own: the views tell what the answers tell, and nothing else can be reached."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from answers_world import World

from camsign.answers.ask import VIEWS, ask
from camsign.answers.near import near
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.errors import UsageError
from camsign.logbook.session import Session


def _world() -> World:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Old Name", merged_into="b-split-brow")
    world.area("Hemlock Bench", (0, 0), 80)
    east = world.camera("CAM01", (150, 0), date(2025, 10, 1), date(2025, 11, 11))
    west = world.camera("CAM02", (-150, 0), date(2025, 10, 1), date(2025, 11, 11))
    for day in range(3, 24, 3):
        world.seen("b-split-brow", east, f"2025-10-{day:02d} 06:30", f"2025-10-{day:02d} 16:45")
        world.seen("b-old-name", west, f"2025-10-{day:02d} 06:50")
    world.sign("rub", (160, 20), date(2026, 3, 14), (date(2025, 9, 1), date(2025, 12, 31)), 45)
    return world


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Session]:
    one = _world().session(str(tmp_path_factory.mktemp("asked") / "some.duckdb"))
    yield one
    one.con.close()


def test_views_agree_with_the_answers(session: Session) -> None:
    (row,) = visits(session, scope_of(session)).rows
    joined = near(session, scope_of(session)).to_records()
    question = "SELECT area, buck, count(*) n, count_if(in_daylight) light FROM visits GROUP BY ALL"
    found = ask(session, question)
    assert found.columns == ("area", "buck", "n", "light")
    light = round((row.daylight.value or 0) * row.visits)
    assert found.rows == (("Hemlock Bench", "Split Brow", row.visits, light),)
    assert ask(session, "FROM near SELECT count(*)").rows == ((len(joined),),)
    assert ask(session, "SELECT DISTINCT buck FROM detections").rows == (("Split Brow",),)
    nights = ask(session, "SELECT count(DISTINCT night) FROM watch WHERE watched").rows
    assert nights == ((row.nights_watched,),)
    assert ask(session, "SELECT kind, travel_deg FROM sign").rows == (("rub", 45.0),)
    assert ask(session, "SELECT area, kind FROM areas").rows == (("Hemlock Bench", "bedding"),)
    # The answers still answer behind it.
    assert visits(session, scope_of(session)).rows == (row,)


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_is_there_and_json_is_plain(session: Session, view: str) -> None:
    found = ask(session, f"SELECT * FROM {view} LIMIT 3")
    assert found.rows
    assert json.loads(json.dumps(found.to_json()))
    assert list(found.to_frame().columns) == list(found.columns)
    assert ask(session, f"DESCRIBE {view}").rows


@pytest.mark.parametrize(
    "text",
    [
        "INSERT INTO areas VALUES ('x')",
        "DELETE FROM detections",
        "UPDATE deployments SET lat = 0",
        "DROP VIEW detections",
        "CREATE TABLE stolen AS SELECT 1",
        "CREATE TEMP TABLE stolen AS SELECT 1",
        "ATTACH 'other.duckdb'",
        "COPY (SELECT 1) TO 'out.csv'",
        "COPY areas FROM 'in.csv'",
        "EXPORT DATABASE 'out'",
        "INSTALL httpfs",
        "LOAD httpfs",
        "SET enable_external_access = true",
        "SET lock_configuration = false",
        "PRAGMA database_list",
        "BEGIN",
        "COMMIT",
        "SELECT 1; SELECT 2",
        "SELECT 1; DELETE FROM detections",
        "",
        "SELEKT 1",
        "SELECT * FROM nowhere",
        "SELECT * FROM read_csv('{file}')",
        "SELECT * FROM read_text('{file}')",
        "SELECT * FROM read_blob('{file}')",
        "SELECT * FROM '{file}'",
        "SELECT * FROM glob('/*')",
        "SELECT * FROM secret_frame",
        "EXPLAIN ANALYZE DELETE FROM detections",
        "WITH gone AS (SELECT 1) DELETE FROM detections",
        "FROM (DELETE FROM detections RETURNING *)",
    ],
)
def test_refused(session: Session, tmp_path: Path, text: str) -> None:
    import pandas as pd

    secret = tmp_path / "secret.csv"
    secret.write_text("a,b\n1,2\n", encoding="utf-8")
    secret_frame = pd.DataFrame({"a": [1]})
    before = session.con.execute("SELECT count(*) FROM detections").fetchone()
    with pytest.raises(UsageError) as caught:
        ask(session, text.replace("{file}", str(secret)))
    assert "\n" not in str(caught.value)
    assert session.con.execute("SELECT count(*) FROM detections").fetchone() == before
    assert not (tmp_path / "out.csv").exists()
    assert len(secret_frame) == 1
    # The session still answers.
    assert ask(session, "SELECT 1").rows == ((1,),)


def test_duckdb_itself_refuses_what_slips_through(session: Session, tmp_path: Path) -> None:
    """Behind the check of statements stand DuckDB's own settings."""
    import duckdb

    ask(session, "SELECT 1")
    for text in ("ATTACH 'x.duckdb'", "SET enable_external_access = true", "FROM glob('/*')"):
        with pytest.raises(duckdb.Error):
            session.con.execute(text)
    assert not (tmp_path / "x.duckdb").exists()


def test_the_worked_examples_run(session: Session) -> None:
    """Every SQL block of the page on questions of one's own gives rows."""
    page = Path(__file__).parents[1] / "docs" / "answers" / "sql.md"
    blocks = page.read_text(encoding="utf-8").split("```sql\n")[1:]
    examples = [block.split("```")[0] for block in blocks]
    assert len(examples) >= 3
    for example in examples:
        assert ask(session, example).rows


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("SELECT sum(hash(x) % 3) FROM range(10000000000000) a(x)", "ran for more than"),
        ("SELECT * FROM range(1000000000000)", "1,000,000 rows|ran for more than|2 GB"),
        ("SELECT a.x FROM range(1000001) a(x)", "1,000,000 rows"),
    ],
)
def test_an_endless_question_is_stopped_and_the_next_answered(
    session: Session, text: str, why: str
) -> None:
    with pytest.raises(UsageError, match=why):
        ask(session, text, longest_s=20.0 if "1000001" in text else 0.3)
    assert ask(session, "SELECT 1 AS one").rows == ((1,),)
