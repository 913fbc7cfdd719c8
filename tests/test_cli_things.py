"""Commands that are made from the table of things: what is named changes, the rest stays."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from camsign.cli.app import run

HERE = "44.2,-71.4"


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "book"
    assert run(["init", str(root), "--home", HERE, "--json"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(root))
    return root


def said(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> Any:
    capsys.readouterr()
    assert run([*words, "--json"]) == code
    told = json.loads(capsys.readouterr().out)
    return told.get("rows", told)


@pytest.mark.thorough
def test_areas_and_places_change_field_by_field(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said(capsys, "area", "add", "Knob", "--at", HERE, "--radius", "60m")
    area = said(capsys, "area", "set", "knob", "--kind", "feeding", "--radius", "90m")
    assert (area["area"], area["kind"], area["radius_m"], area["lat"]) == (
        "Knob",
        "feeding",
        90,
        44.2,
    )
    said(capsys, "place", "add", "stand", "Oak", "--at", HERE)
    place = said(capsys, "place", "set", "oak", "--name", "Big oak", "--at", "44.21,-71.4")
    assert (place["place"], place["kind"], place["lat"]) == ("Big oak", "stand", 44.21)
    said(capsys, "place", "remove", "Big oak")
    assert run(["place", "remove", "Big oak"]) == 2
    assert run(["area", "set", "knob"]) == 2
    assert "nothing to change of Knob" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("area", "add", "Knob", "--at", "-71.4,44.2", "--radius", "60m"), "looks swapped"),
        (
            ("place", "add", "stand", "Oak", "--at", "44.21315,71.42147"),
            "a minus may be missing; write 44.21315,-71.42147, or",
        ),
        (("area", "set", "Ridge", "--at", "0,0"), "a receiver without a fix"),
        (("hang", "CAM07", "--at", "12,100", "--from", "2025-09-01"), "over 600 miles"),
    ],
)
def test_a_place_far_off_is_refused_whatever_lies_there(
    book: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    assert run(["area", "add", "Ridge", "--at", HERE, "--radius", "60m"]) == 0
    capsys.readouterr()
    assert run([*words]) == 2
    assert why in capsys.readouterr().err
    if "0,0" not in words:
        assert run([*words, "--anywhere"]) == 0


def test_one_point_without_its_minus_does_not_vouch_for_the_next(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = HERE.replace("-", "")
    assert run(["hang", "CAM07", "--at", wrong, "--from", "2025-09-01", "--anywhere"]) == 0
    assert run(["place", "add", "stand", "Oak", "--at", wrong]) == 2
    assert "a minus may be missing" in capsys.readouterr().err


def test_a_place_some_miles_off_is_asked_about(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hung = said(capsys, "hang", "CAM07", "--at", "44.22,-71.4", "--from", "2025-09-01")
    assert "digit" not in capsys.readouterr().err
    run(["hang", "correct", hung["deployment"], "--at", "44.32,-71.4"])
    told = capsys.readouterr()
    assert "That is 6.9 mi from where it was." in told.out
    assert "6.9 mi from home and every camera: is a digit wrong?" in told.err
    run(["hang", "correct", hung["deployment"], "--at", "44.221,-71.4"])
    told = capsys.readouterr()
    assert "is a digit wrong" not in told.err
    run(["hang", "correct", hung["deployment"], "--note", "oak"])
    assert "from where it was" not in capsys.readouterr().out
    run(["sign", "add", "rub", "--at", "44.2,-70.4", "--on", "2025-10-01"])
    assert "is a digit wrong?" in capsys.readouterr().err


@pytest.mark.thorough
def test_a_deployment_is_corrected(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    hung = said(capsys, "hang", "CAM07", "--at", HERE, "--from", "2025-09-01", "--note", "oak")
    now = said(
        capsys, "hang", "correct", hung["deployment"], "--at", "44.21,-71.4", "--facing", "45T"
    )
    assert (now["lat"], now["facing_deg"], now["hung"]) == (44.21, 45, hung["hung"])
    assert now["note"] == "oak"
    said(capsys, "takedown", "CAM07", "--on", "2025-11-01", "--working")
    later = said(capsys, "hang", "correct", hung["deployment"], "--note", "big oak")
    assert (later["worked_to_end"], later["until"]) == (True, "2025-11-02T00:00:00-04:00")


@pytest.mark.thorough
def test_a_picture_beneath_is_kept_pinned_and_taken_away(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "sheet.png"
    sheet.write_bytes(cv2.imencode(".png", np.full((40, 60, 3), 200, np.uint8))[1].tobytes())
    kept = said(capsys, "underlay", "add", str(sheet))
    assert (kept["name"], kept["pins"], kept["here"]) == ("sheet", [], True)
    pins = ("--pin", "0,0=44.21,-71.41", "--pin", "60,40=44.19,-71.39")
    assert len(said(capsys, "underlay", "pin", "sheet", *pins)["pins"]) == 2
    (row,) = said(capsys, "underlay", "list")
    assert row["pins"][1] == [60, 40, 44.19, -71.39]
    assert run(["underlay", "pin", "sheet", "--pin", "nowhere"]) == 2
    assert "a pin is a point" in capsys.readouterr().err
    said(capsys, "underlay", "remove", "sheet")
    assert said(capsys, "underlay", "list") == []
    assert len(list((book / "maps").iterdir())) == 1
    assert run(["underlay", "add", str(tmp_path / "none.png")]) == 3
