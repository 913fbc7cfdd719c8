"""The field's files by commands: a table, waypoints and polygons, each taken once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from camsign.cli.app import run

FIELD = Path(__file__).resolve().parents[1] / "fixtures" / "field"


@pytest.fixture(autouse=True)
def _book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert run(["init", str(tmp_path / "book"), "--home", "44.615,-71.235", "--json"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))


def taken(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, int]:
    capsys.readouterr()
    assert run([*words, "--json"]) == 0
    done: dict[str, int] = json.loads(capsys.readouterr().out)
    return done


def test_to_start_an_empty_logbook_again_says_that_it_was_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It was called new a second time."""
    told = []
    for _ in range(2):
        assert run(["init", str(tmp_path / "hollow"), "--home", "44.6,-71.2"]) == 0
        told.append(capsys.readouterr().out.splitlines()[0])
    assert f"{tmp_path / 'hollow'} is a new logbook; home" in told[0]
    assert f"{tmp_path / 'hollow'} is already there, still empty; home" in told[1]


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("family", "name", "lines"),
    [("sign", "sign.csv", 15), ("sign", "sign.gpx", 41), ("area", "areas.geojson", 4)],
)
def test_a_file_is_taken_whole_and_only_once(
    family: str, name: str, lines: int, capsys: pytest.CaptureFixture[str]
) -> None:
    first = taken(capsys, family, "import", str(FIELD / name))
    again = taken(capsys, family, "import", str(FIELD / name))
    assert (first["new"], first["known"]) == (lines, 0)
    assert (again["new"], again["known"]) == (0, lines)


def test_waypoints_are_read_in_the_fields_shorthand(capsys: pytest.CaptureFixture[str]) -> None:
    taken(capsys, "sign", "import", str(FIELD / "sign.gpx"))
    assert run(["sign", "list", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    alder = next(r for r in rows if r["species"] == "alder" and r["travel_deg"] == 292.5)
    assert alder["kind"] == "rub"  # "rub alder 3in top 40in wet WNW"
    assert alder["measures"]["top_m"] == pytest.approx(40 * 0.0254, abs=0.001)
    assert alder["seen_on"] == "2025-10-04"
