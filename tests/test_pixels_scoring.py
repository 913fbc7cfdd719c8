"""Scores of a whole logbook: what is computed, kept, made again, fitted to tags, and how fast."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from derive_world import book, hang, rows, say
from pixels_world import few, put_shots, score_frames
from scenes import Shot, season

from camsign.cli.app import run
from camsign.derive.comparing import compare
from camsign.derive.opening import open_logbook
from camsign.logbook.edits import SetFields, Subject, TagFrames, TakeBack
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.pixels.news_cache import lay_batches, store_of, take
from camsign.pixels.scores import THRESHOLDS, fit_thresholds, score, set_aside
from camsign.pixels.scoring import carry_out, plan
from camsign.pixels.stays_shown import SHOWN

ALL = "SELECT * FROM changes ORDER BY frame"
GROWN = (
    "SELECT * FROM changes",
    "SELECT * FROM empty_thresholds",
    "SELECT * EXCLUDE (how) FROM empty_scores",
    "SELECT * FROM unsorted",
)


@pytest.fixture(scope="module")
def shots() -> list[Shot]:
    return list(season(77, triggers=40, kind="calm", animals=0.3))


@pytest.fixture
def logbook(tmp_path: Path, shots: list[Shot]) -> Folder:
    made = book(tmp_path / "book")
    put_shots(made, "c1", "CAM01", shots)
    return made


def scored(made: Folder) -> int:
    with open_logbook(made) as session:
        return score_frames(session)


@pytest.mark.thorough
def test_every_frame_gets_a_row_and_the_empties_are_counted(
    logbook: Folder, shots: list[Shot]
) -> None:
    steps: list[tuple[int, int]] = []
    with open_logbook(logbook) as session:
        assert score_frames(session, progress=lambda done, of: steps.append((done, of))) == len(
            shots
        )
        counts = set_aside(session)
    assert steps[-1] == (len(shots), len(shots))
    assert [(c.camera, c.frames) for c in counts] == [("CAM01", len(shots))]
    empties = sum(s.animal is False for s in shots)
    seem = counts[0].likely_empty + counts[0].look_first
    assert 0.6 * empties < seem <= sum(not s.animal for s in shots) + 2


@pytest.mark.thorough
def test_nothing_is_computed_twice_and_only_the_last_piece_of_a_camera_that_goes_on(
    logbook: Folder,
) -> None:
    assert scored(logbook) > 0
    assert scored(logbook) == 0
    more = list(season(78, triggers=6, kind="calm"))
    put_shots(logbook, "c2", "CAM02", more)
    with open_logbook(logbook) as session:
        assert len(plan(session).rows) == len(more)
        assert plan(session, ["CAM01"]).rows == ()


@pytest.mark.thorough
def test_the_database_or_the_whole_cache_may_go_and_the_numbers_come_back(logbook: Folder) -> None:
    scored(logbook)
    before = rows(logbook, ALL)
    logbook.database.unlink()
    assert rows(logbook, ALL) == before
    shutil.rmtree(logbook.cache)
    logbook.cache.mkdir()
    assert rows(logbook, ALL) == []
    assert scored(logbook) == len(before)
    assert rows(logbook, ALL) == before


@pytest.mark.thorough
def test_the_work_can_be_done_while_the_logbook_is_closed(logbook: Folder) -> None:
    with open_logbook(logbook) as session:
        planned = plan(session)
    assert carry_out(planned) == len(planned.rows)
    assert not [p for p in store_of(logbook).iterdir() if p.name.startswith(".")]
    with open_logbook(logbook) as session:
        assert take(session) == len(planned.rows)


@pytest.mark.thorough
def test_a_camera_hung_elsewhere_is_compared_anew_and_one_that_stays_is_not(
    logbook: Folder, shots: list[Shot]
) -> None:
    scored(logbook)
    say(logbook, hang("CAM01", "2030-09-01T00:00:00Z", id="d1"))
    with open_logbook(logbook) as session:
        assert plan(session).rows == ()
    say(logbook, SetFields("deployment", "d1", {"taken_down": "2030-10-06T12:00:00Z"}))
    say(logbook, hang("CAM01", "2030-10-06T12:00:00Z", id="d2"))
    with open_logbook(logbook) as session:
        assert len(plan(session).rows) == len(shots)


def pieces_named(session: Session) -> set[str]:
    lay_batches(session.con)
    return {name for (name,) in session.con.execute("SELECT DISTINCT made FROM batches").fetchall()}


@pytest.mark.thorough
def test_a_clock_put_right_by_any_amount_changes_no_piece(logbook: Folder) -> None:
    with open_logbook(logbook) as session:
        # On steps of 25 ms within the second, where rounding is a toss-up; no turn changes.
        session.con.execute(
            "UPDATE frame_times SET utc = utc + to_microseconds((hash(frame) % 39 * 25000)::BIGINT)"
        )
        before = pieces_named(session)
        for us in (-3_600_000_000, 3_480_123_457, 31_536_000_050_001):
            session.con.execute("UPDATE frame_times SET utc = utc + to_microseconds(?)", [us])
            assert pieces_named(session) == before


@pytest.mark.thorough
def test_a_clock_put_right_by_command_leaves_no_frame_uncompared(
    logbook: Folder, shots: list[Shot], capsys: pytest.CaptureFixture[str]
) -> None:
    end = shots[-1].at - timedelta(hours=6)
    say(logbook, hang("CAM01", "2030-09-01T00:00:00Z", f"{end:%Y-%m-%dT%H:%M:%SZ}", id="d1"))
    scored(logbook)
    compared = "SELECT count(*) FROM frame_times JOIN changes USING (frame)"
    home = ["--logbook", str(logbook.root), "clock"]
    assert run([*home, "set", "CAM01", "--shift", "-2d"]) == 0
    assert rows(logbook, compared) == [(len(shots),)]
    assert len(rows(logbook, "SELECT 1 FROM frame_times WHERE deployment = 'd1'")) == len(shots)
    fix = rows(logbook, "SELECT clock_fix FROM clock_fixes")[0][0]
    assert run([*home, "remove", fix]) == 0
    assert rows(logbook, compared) == [(len(shots),)]
    assert "not compared" not in capsys.readouterr().err


def tag(made: Folder, frames: list[str], what: str) -> None:
    say(made, TagFrames(Subject(what), frames))


def thresholds(made: Folder) -> dict[tuple[Any, ...], float]:
    return {(camera, light): t for camera, light, t in rows(made, "SELECT * FROM empty_thresholds")}


@pytest.mark.thorough
def test_tags_move_a_cameras_threshold_down_at_once(logbook: Folder) -> None:
    scored(logbook)
    assert thresholds(logbook) == {(None, k): v for k, v in THRESHOLDS.items()}
    weak = rows(
        logbook,
        "SELECT frame, news FROM changes "
        "WHERE light = 'infrared' AND news < 1.1 ORDER BY news DESC LIMIT 6",
    )
    aside = "SELECT count(*) FROM empty_scores WHERE empty_score > 0.5"
    before = rows(logbook, aside)[0][0]
    tag(logbook, [f for f, _ in weak], "animal")
    low = min(news for _, news in weak)
    assert thresholds(logbook)["CAM01", "infrared"] == pytest.approx(
        max(0.9 * low, THRESHOLDS["infrared"] / 3)
    )
    assert rows(logbook, aside)[0][0] < before
    kept = "SELECT max(empty_score) FROM empty_scores WHERE list_contains(?, frame)"
    assert rows(logbook, kept, [f for f, _ in weak])[0][0] < 0.5


@pytest.mark.thorough
def test_scores_grown_act_by_act_are_those_made_at_once(tmp_path: Path) -> None:
    home = book(tmp_path / "book")

    def derived() -> list[list[tuple[Any, ...]]]:
        return [rows(home, f"{sql} ORDER BY ALL") for sql in GROWN]

    def same() -> list[list[tuple[Any, ...]]]:
        grown = derived()
        home.database.unlink()
        assert derived() == grown
        return grown

    shots = few(91, 24, animals=0.3)
    frames = put_shots(home, "c1", "CAM01", shots)
    put_shots(home, "c2", "CAM02", few(92, 12, kind="calm"))
    moved = f"{shots[len(shots) // 2].at:%Y-%m-%dT%H:%M:%SZ}"
    say(home, hang("CAM01", "2030-09-01T00:00:00Z", moved, id="d1"))
    say(home, hang("CAM01", moved, id="d2"))
    compare(home)
    assert all(same())
    before = thresholds(home)
    act = say(home, TagFrames(Subject("animal"), frames[: len(frames) // 3]))
    assert thresholds(home) != before
    same()
    put_shots(home, "c3", "CAM02", few(93, 8, kind="calm"))
    same()
    compare(home)
    say(home, SetFields("card", "c3", {"camera": "CAM01"}))  # frames go over to another camera
    compare(home)
    same()
    say(home, TakeBack([act]))
    same()
    aside = "SELECT frame FROM empty_scores WHERE camera = 'CAM02' AND aside ORDER BY frame"
    with (home.cards / "card-c2" / SHOWN).open("a") as file:  # what another machine's check showed
        file.write(f"{rows(home, aside)[0][0]} kept\n")
    same()


@pytest.mark.thorough
def test_tags_of_nothing_or_unsure_move_no_threshold(logbook: Folder) -> None:
    scored(logbook)
    some = [f for (f,) in rows(logbook, "SELECT frame FROM changes ORDER BY news LIMIT 20")]
    tag(logbook, some, "nothing")
    assert ("CAM01", "infrared") not in thresholds(logbook)


@pytest.mark.thorough
def test_each_of_a_hundred_thousand_scores_is_made_from_its_news(logbook: Folder) -> None:
    with open_logbook(logbook) as session:
        con = session.con
        con.execute(
            "INSERT INTO looks SELECT printf('%016x', i), 1, 'infrared', 1, 1, 1, 1, '{}' "
            "FROM range(100000) r(i)"
        )
        con.execute(
            "INSERT INTO changes BY NAME SELECT printf('%016x', i) AS frame, 'CAM01' AS camera, "
            "'c1' AS card, 'infrared' AS light, i / 1e4 AS news FROM range(100000) r(i)"
        )
        fit_thresholds(session)
        score(session)
        n = con.execute("SELECT count(*) FROM empty_scores WHERE empty_score > 0.5").fetchone()
    assert n is not None
    assert n[0] >= 12000 - 1
