"""`frames` by commands: what is likely empty and what is not, boxes, ways, the cache gone."""

from __future__ import annotations

import csv
import io
import json
import shutil
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from derive_world import book, hang, say
from pixels_world import put_shots
from scenes import Shot, season

import camsign
from camsign.answers.frames import FrameRow
from camsign.answers.result import Figure
from camsign.cli.app import run
from camsign.cli.frames import _told, going
from camsign.cli.show import put_csv, tell
from camsign.logbook.folder import Folder
from camsign.logbook.measured import replace_rows
from camsign.logbook.records import Detected
from camsign.stats.estimate import Estimate


@pytest.fixture(scope="module")
def shots() -> list[Shot]:
    return list(season(77, triggers=26, kind="calm", animals=0.3))


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory, shots: list[Shot]) -> Folder:
    made = book(tmp_path_factory.mktemp("frames") / "book")
    put_shots(made, "c1", "CAM01", shots)
    say(made, hang("CAM01", "2030-09-01T00:00:00Z", id="d1", facing_deg=90.0))
    return made


@pytest.fixture(autouse=True)
def _here(home: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(home.root))


def listed(capsys: pytest.CaptureFixture[str], *words: str) -> list[dict[str, Any]]:
    capsys.readouterr()
    assert run(["frames", *words, "--json"]) == 0
    given: list[dict[str, Any]] = json.loads(capsys.readouterr().out)["rows"]
    return given


@pytest.mark.thorough
def test_empty_and_animal_part_the_frames_and_the_surest_bursts_come_first(
    capsys: pytest.CaptureFixture[str], shots: list[Shot]
) -> None:
    every = listed(capsys)
    empty, animal = listed(capsys, "--likely-empty"), listed(capsys, "--likely-animal")
    assert len(every) == len(shots)
    look = listed(capsys, "--look-first")
    assert sorted(r["frame"] for r in empty + look + animal) == sorted(r["frame"] for r in every)
    assert all(r["empty_score"] > 0.5 for r in empty + look)
    assert all(r["empty_score"] <= 0.5 or not r["compared"] for r in animal)
    assert len(empty + look) > 12 and len(animal) > 12
    assert [r["utc"] for r in look] == sorted(r["utc"] for r in look)
    for rows in filter(None, (empty, animal)):
        compared = [r for r in rows if r["compared"]]
        bursts = list(dict.fromkeys(r["burst"] for r in compared))
        surest = [min(r["empty_score"] for r in compared if r["burst"] == b) for b in bursts]
        assert surest == sorted(surest)
        runs = [r["burst"] for r in compared]
        assert sum(a != b for a, b in zip(runs, runs[1:], strict=False)) == len(bursts) - 1


def test_a_suggested_way_is_said_as_a_side_of_the_picture() -> None:
    """It said `right` beside the column of the right time."""
    known, unknown = Estimate(112.0, 60.0, 150.0), Estimate(None, None, None)
    assert going("left", unknown) == "to the left of the picture"
    assert going("right", known) == (
        "to the right of the picture, about ESE (112°, anywhere ENE to SSE)"
    )
    assert going(None, unknown) is None


@pytest.mark.thorough
def test_boxes_and_ways_are_given_and_marked_as_estimated(
    capsys: pytest.CaptureFixture[str],
) -> None:
    rows = listed(capsys, "--likely-animal")
    boxes = [r for r in rows if r["box_x"] is not None]
    assert len(boxes) > 12
    assert all(r["box_x"] >= 0 and r["box_x"] + r["box_width"] <= 1.001 for r in boxes)
    ways = {r["estimated_way"]: r["estimated_travel_deg"] for r in rows if r["estimated_way"]}
    # The camera faces east: what goes right goes south.
    assert ways["right"] == {"value": 180.0, "low": 120.0, "high": 240.0}
    assert ways["left"] == {"value": 0.0, "low": 300.0, "high": 60.0}
    assert all(r["tags"] is None for r in rows)
    capsys.readouterr()
    assert run(["frames", "--likely-animal", "--limit", "200"]) == 0
    assert "going (estimated)" in capsys.readouterr().out


@pytest.mark.thorough
def test_the_cache_may_go_and_the_command_makes_the_scores_again(
    capsys: pytest.CaptureFixture[str], home: Folder
) -> None:
    before = listed(capsys)
    shutil.rmtree(home.cache)
    home.cache.mkdir()
    assert listed(capsys) == before
    capsys.readouterr()
    assert run(["frames", "--look-first", "--csv"]) == 0
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(table) == sum(bool(r["look_first"]) for r in before)
    frame = camsign.open(home.root).frames(likely="look")
    assert list(frame.columns) == list(table[0])
    assert list(frame["frame"]) == [r["frame"] for r in table]


@pytest.mark.thorough
def test_a_detector_raises_a_frame_and_never_sets_one_aside(
    capsys: pytest.CaptureFixture[str], home: Folder
) -> None:
    before = {r["frame"]: r for r in listed(capsys)}
    aside = [f for f, r in before.items() if r["likely_empty"] or r["look_first"]]
    kept = [f for f in before if f not in aside]
    card = home.cards / "card-c1"
    replace_rows(
        card,
        [
            Detected(aside[0], "m", animal=0.8),
            Detected(aside[1], "m", person=0.3),
            Detected(aside[2], "m"),
            Detected(kept[0], "m"),
            Detected(kept[1], "m", vehicle=0.1),
        ],
    )
    try:
        after = {r["frame"]: r for r in listed(capsys)}
    finally:
        (card / "detected.parquet").unlink()
    assert after[aside[0]]["empty_score"] == pytest.approx(0.2)
    assert (after[aside[0]]["detected"], after[aside[0]]["detected_score"]) == ("animal", 0.8)
    assert after[aside[1]]["empty_score"] == min(0.7, before[aside[1]]["empty_score"])
    for frame in (aside[2], kept[0], kept[1]):
        assert after[frame]["empty_score"] == before[frame]["empty_score"]
    assert [after[f]["detected"] for f in (aside[2], kept[1], kept[2])] == [
        "nothing", "vehicle", None,
    ]  # fmt: skip
    assert all(after[f]["empty_score"] <= before[f]["empty_score"] for f in before)


@pytest.mark.thorough
def test_both_at_once_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["frames", "--likely-empty", "--likely-animal"]) == 2
    assert "leave nothing out; give one" in capsys.readouterr().err


@pytest.mark.thorough
def test_tables_without_rows_keep_their_columns(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    opened = camsign.open(home.root)
    opened.hang("CAM99", "44.2,-71.4", "2025-01-01")  # nothing of it is in
    full, empty = opened.frames(), opened.frames(camera="CAM99")
    assert len(full) and not len(empty)
    assert list(empty.columns) == list(full.columns)
    capsys.readouterr()
    assert run(["frames", "--camera", "CAM99", "--csv"]) == 0
    assert capsys.readouterr().out.strip().split(",") == list(full.columns)
    for table, column in (
        (opened.signs(), "made_from"),
        (opened.sign_lines(), "heading_deg_low"),
        (opened.propose_areas(), "density_high"),
    ):
        assert table.empty and column in table.columns


def test_csv_has_a_column_for_whatever_any_row_says(capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    put_csv([{"a": 1}, {"a": 2, "b": Figure(3, 1, 4, 5)}])
    lines = capsys.readouterr().out.splitlines()
    assert lines == ["a,b,b_low,b_high,b_n", "1,,,,", "2,3,1,4,5"]


def test_the_table_shows_no_fractions_of_seconds(capsys: pytest.CaptureFixture[str]) -> None:
    nothing: dict[str, Any] = dict.fromkeys(f.name for f in fields(FrameRow))
    given = {"frame": "3f9c2a17b04e", "clock_time": "2030-09-01 15:12:00.522", "camera": "CAM01"}
    given |= {"tags": "a long word and another " * 4, "doubt": "one more of them " * 4}
    row = FrameRow(**nothing | given | {"estimated_travel_deg": Estimate(None, None, None)})
    tell(_told([row], 5, False, ""))
    assert "2030-09-01 15:12:00 " in capsys.readouterr().out


def test_what_looks_empty_but_waits_is_in_neither_of_the_others(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """It said that --likely-animal shows the rest, of which those that wait are none."""
    nothing: dict[str, Any] = dict.fromkeys(f.name for f in fields(FrameRow))
    way = {"estimated_way": "left", "estimated_travel_deg": Estimate(300.0, 248.0, 360.0)}
    one = FrameRow(**nothing | {"frame": "3f9c", "compared": True, "empty_score": 0.51} | way)
    aside, held = replace(one, likely_empty=True), replace(one, look_first=True, empty_score=0.99)
    tell(_told([aside, held, held, replace(held, tags="doe"), one], 9, True, ""))
    shown = capsys.readouterr()
    assert shown.err == (
        "1 of 5 are likely empty (--likely-empty); 2 look empty, but wait for your check "
        "(--look-first); 1 may hold something (--likely-animal).\n"
    )
    assert shown.out.count("99%, check ") == 2 and shown.out.count("99% ") == 1
    # Where a deer may be headed, not from where to where it went.
    assert "to the left of the picture, about WNW (300°, anywhere WSW to N)" in shown.out


def test_a_saved_sheet_is_told_without_looking_like_an_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "see.jpg"
    assert run(["frames", "--limit", "1", "--sheet", str(sheet), "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["rows"] and sheet.is_file()
    assert err.splitlines() == [f"Saved {sheet}: open it to look them over."]


def test_none_from_a_camera_says_which_pictures_a_slip_in_its_name_took(
    tmp_path: Path,
    shots: list[Shot],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    made = book(tmp_path / "book")
    say(made, hang("CAM03", "2030-09-01T00:00:00Z", id="d1"))
    put_shots(made, "c1", "CAM3", shots[:2])
    put_shots(made, "c2", "CAM04", shots[2:5])
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(made.root))
    assert run(["frames", "--camera", "CAM03", "--untagged"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("No untagged pictures from CAM03. ")
    assert told.strip().endswith(" are under CAM3, which isn't hung.") and "CAM04" not in told
    assert run(["frames", "--camera", "CAM03", "--light", "dark"]) == 0
    assert capsys.readouterr().out.strip() == "no such pictures"
