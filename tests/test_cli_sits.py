"""`tonight`, `ground import`, `wind import` as typed: what is saved, and one line for failures."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from camsign.cli.app import run
from camsign.cli.sits import _ratio
from camsign.cli.tonight import _from
from camsign.errors import ATTENTION, DONE, REFUSED, USAGE
from camsign.logbook.folder import Folder
from camsign.sits.weather import _kept, kept_winds, wind_at


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "book"
    assert run(["init", str(root), "--home", "36.6,-84.25", "--json"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(root))
    return root


def _wind(folder: Path, text: str) -> Path:
    path = folder / "hours.csv"
    path.write_text("time,from,speed_mph,cloud\n" + text)
    return path


def test_winds_are_kept_in_a_folder_whose_name_looks_like_a_partition(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "Hütte [1] a=b"
    assert run(["init", str(book), "--home", "36.6,-84.25"]) == DONE
    for hour in ("16", "17"):
        path = _wind(tmp_path, f"2025-11-07 {hour}:00,SW,6,40%\n")
        assert run(["--logbook", str(book), "wind", "import", str(path)]) == DONE
    (kept,) = book.rglob("hours.parquet")
    assert len(_kept(kept)) == 2


def test_winds_are_kept_by_station_and_replace_themselves(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = _wind(tmp_path, "2025-11-07 16:00,SW,6,40%\n2025-11-07 17:00,W,4,\n")
    assert run(["wind", "import", str(first), "--json"]) == DONE
    assert run(["wind", "import", str(_wind(tmp_path, "2025-11-07 17:00,NW,8,\n"))]) == DONE
    capsys.readouterr()
    from datetime import UTC, datetime

    span = (datetime(2025, 11, 7, tzinfo=UTC), datetime(2025, 11, 9, tzinfo=UTC))
    hours = kept_winds(Folder(book), *span)
    assert [(h.from_deg, round(h.speed_ms, 2), h.cloud) for h in hours] == [
        (225, 2.68, 0.4),
        (315, 3.58, None),
    ]
    at_five = wind_at(hours, datetime(2025, 11, 7, 22, 20, tzinfo=UTC))
    assert at_five is not None and at_five.from_deg == 315
    assert wind_at(hours, datetime(2025, 11, 8, 12, tzinfo=UTC)) is None


def test_a_line_that_is_no_wind_is_told_and_the_rest_taken(book: Path, tmp_path: Path) -> None:
    path = _wind(tmp_path, "2025-11-07 16:00,SW,6,\n2025-11-07 17:00,sideways,6,\n")
    assert run(["wind", "import", str(path)]) == ATTENTION


def test_a_station_far_away_is_refused_unless_said(book: Path, samples: Path) -> None:
    path = samples / "weather" / "isd-024130-99999-2016.gz"
    assert run(["wind", "import", str(path)]) == REFUSED
    assert run(["wind", "import", str(path), "--anywhere"]) == DONE


def test_ground_is_taken_in_once_and_named(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import rasterio
    from rasterio.transform import from_bounds

    path = tmp_path / "dem.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=300, width=300, count=1, dtype="float32",
        crs="EPSG:4326", transform=from_bounds(-84.35, 36.5, -84.15, 36.7, 300, 300),
    ) as file:  # fmt: skip
        file.write(np.tile(np.linspace(300, 500, 300, dtype="float32"), (300, 1)), 1)
    capsys.readouterr()
    assert run(["ground", "import", str(path), "--json"]) == DONE
    told = json.loads(capsys.readouterr().out)
    assert told["unknown"] == 0
    assert (book / "ground" / "elevation.tif").exists()
    assert run(["ground", "import", str(tmp_path / "none.tif")]) == REFUSED


def test_a_sit_is_told_as_it_was_said(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It answered nothing seen, though two does were saved; 108 minutes were 2 hours."""
    assert run(["place", "add", "stand", "Ledge Pine", "--at", "36.6,-84.25"]) == DONE
    capsys.readouterr()
    said = ["--on", "2025-11-14", "--hours", "3pm-4:48pm", "--saw", "2 does 40yd"]
    assert run(["sit", "add", "Ledge Pine", *said]) == DONE
    assert "3:00 PM to 4:48 PM: 2 does 40 yd (t-" in capsys.readouterr().out
    assert run(["sit", "list"]) == DONE
    listed = capsys.readouterr().out
    assert listed.startswith("1 sit, 1 h 48 min: 2 deer seen, 0 bucks among them.")
    assert "to give a rate (1 h 48 min of 10 h)." in listed


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("tonight", "--wind", "NW"), USAGE, "speed is missing"),
        (("tonight", "--mph", "5"), USAGE, "comes from"),
        (("tonight", "--wind", "sideways", "--mph", "5"), USAGE, "sideways"),
        (("tonight", "--wind", "NW", "--mph", "5"), USAGE, "no stand"),
        (("tonight", "--hours", "nothing.csv"), REFUSED, "nothing.csv"),
        (("wind", "import", "nothing.csv"), REFUSED, "nothing.csv"),
    ],
)
def test_one_line_for_what_does_not_fit(
    book: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: int, told: str
) -> None:
    capsys.readouterr()
    assert run(list(words)) == code
    lines = [line for line in capsys.readouterr().err.splitlines() if line]
    assert len(lines) == 1
    assert told in lines[0]


def test_how_many_times_as_often_is_told_only_where_it_is_shown() -> None:
    """It said `2.00 (0.10-117.99)` beside `can't tell`."""
    ratio = SimpleNamespace(value=0.3, low=0.1, high=0.8)
    rows: list[Any] = [
        SimpleNamespace(verdict=v, ratio=ratio) for v in ("can't tell", "fewer after")
    ]
    assert [_ratio(row) for row in rows] == ["", ": 0.30 (0.10–0.80) times as often"]


def test_he_is_said_to_come_from_a_side_as_the_page_says_it() -> None:
    row: Any = SimpleNamespace(comes_at=1, comes_going_deg=217.0)
    assert _from(row) == " from NE (37°)"
    row.comes_going_deg = None
    assert _from(row) == ""
