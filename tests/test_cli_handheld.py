"""`camsign import`: a handheld's file is sorted and shown first, and taken once when agreed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from camsign.cli.app import run

FIELD = Path(__file__).resolve().parents[1] / "fixtures" / "field" / "sign.gpx"


@pytest.fixture(autouse=True)
def _book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert run(["init", str(tmp_path / "book"), "--home", "44.615,-71.235", "--json"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))


def given(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    capsys.readouterr()
    assert run([*words, "--json"]) == 0
    value: dict[str, object] = json.loads(capsys.readouterr().out)
    return value


def test_nothing_is_taken_before_it_is_agreed(capsys: pytest.CaptureFixture[str]) -> None:
    shown = given(capsys, "import", str(FIELD))
    assert {"cameras", "places", "sign", "areas", "not_understood"} <= set(shown)
    assert isinstance(shown["sign"], list)
    assert len(shown["sign"]) == 41
    assert run(["import", str(FIELD)]) == 0
    told = capsys.readouterr().out
    assert told.splitlines()[0] == "Found 41 pieces of sign. Nothing is saved yet: --yes saves it."
    assert " day " in told
    assert run(["sign", "list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rows"] == []


def test_agreed_it_is_taken_once(capsys: pytest.CaptureFixture[str]) -> None:
    first = given(capsys, "import", str(FIELD), "--yes")
    again = given(capsys, "import", str(FIELD), "--yes")
    assert (first["sign"], first["known"]) == (41, 0)
    assert (again["sign"], again["known"]) == (0, 41)


def test_one_of_a_thing_is_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["hang", "CAM07", "--at", "44.62,-71.23", "--from", "2025-08-10"]) == 0
    capsys.readouterr()
    assert run(["export", "handheld", str(tmp_path / "one.gpx")]) == 0
    assert ": 1 camera spot; exact places." in capsys.readouterr().out
    assert run(["export", "tables", str(tmp_path / "t"), "--table", "areas"]) == 0
    assert ": 1 table; places" in capsys.readouterr().out


def test_a_kind_without_its_row_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["import", str(FIELD), "--kind", "rub"]) == 2
    assert "'rub' names no row; write its number, such as --kind 1=rub" in capsys.readouterr().err
