"""What `tonight` is given that is not quite right: one clear line each, and the rest goes on."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from answers_world import at
from hypothesis import given, settings
from hypothesis import strategies as st
from test_sits_tonight import _ask, _stand, _way_in, _world

from camsign.cli.app import run
from camsign.errors import DONE, USAGE, UsageError
from camsign.sits.stands import crosses
from camsign.sits.weather import typed_sky

XY = st.tuples(st.integers(-50, 50), st.integers(-50, 50))
PATH = st.lists(XY, min_size=2, max_size=5, unique=True)


@settings(max_examples=80)
@given(a=PATH, b=PATH)
def test_paths_cross_as_shapely_says(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> None:
    one, other = shapely.LineString(a), shapely.LineString(b)
    # Lines that run on top of each other are left to the map.
    if (one.intersection(other).length == 0 and one.distance(other) != 0) or one.crosses(other):
        assert crosses(np.array(a, float), np.array(b, float)) == one.intersects(other)


def test_a_way_in_through_water_is_told() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _way_in(world, "tote road", (600, 0), (205, 14))
    bank = [[lon, lat] for lat, lon in (at(400, -200), at(400, 200))]
    shape = json.dumps({"type": "LineString", "coordinates": bank})
    world.add("places", place="p-brook", name="Beaver Brook", kind="water", shape=shape)
    (row,) = _ask(world.session(), "W").stands
    assert "the way in crosses Beaver Brook: know how to get over in the dark" in row.why
    world.rows["places"][-1]["gone"] = True
    (row,) = _ask(world.session(), "W").stands
    assert not any("crosses" in line for line in row.why)


def test_a_stand_without_a_distance_is_told_and_taken_as_usual() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "West fir", (-200, 12), shoots_m=20.0)
    rows = {row.stand: row for row in _ask(world.session(), "W").stands}
    told = "figured for a 30-yard shot: set your own range on the stand, on the Map"
    assert told in rows["East pine"].why and told not in rows["West fir"].why


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "book"
    assert run(["init", str(root), "--home", "44.1,-71.2"]) == DONE
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(root))
    assert run(["place", "add", "stand", "East pine", "--at", "44.1,-71.198"]) == DONE
    assert run(["area", "add", "Bench", "--at", "44.1,-71.2", "--radius", "60m"]) == DONE
    return root


HEAD = "time,from,speed_mph\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        # The hours of the sit are missing: three at noon, then a gap to the next morning.
        (HEAD + "2025-11-07 11:00,SW,6\n2025-11-08 06:00,SW,6\n", "what's the wind on "),
        # A year that is not this one's.
        (HEAD + "2019-11-07 16:00,SW,6\n", "what's the wind on "),
        # Only codes for missing.
        (HEAD + "2025-11-07 16:00,999,999\n", ""),
        ("time,direction\n2025-11-07 16:00,SW\n", ""),
        ("", ""),
    ],
)
def test_a_wind_file_that_does_not_serve_is_one_line(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, told: str
) -> None:
    path = tmp_path / "hours.csv"
    path.write_text(text, encoding="utf-8")
    capsys.readouterr()
    assert run(["tonight", "--on", "2025-11-07", "--hours", str(path)]) != DONE
    lines = [line for line in capsys.readouterr().err.splitlines() if line]
    assert len(lines) == 1 and told in lines[0]
    assert lines[0].startswith("camsign: ")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--sit", "fir"), "no place 'fir'"),
        (("--sit", "pine"), "is over"),
        (("--buck", "Nobody"), "no buck 'Nobody'"),
        (("--shot", "far"), "far"),
    ],
)
def test_words_of_tonight_that_do_not_fit(
    book: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], told: str
) -> None:
    capsys.readouterr()
    plain = ("tonight", "--on", "2025-11-07", "--wind", "W", "--mph", "5")
    assert run([*plain, *words]) == USAGE
    lines = [line for line in capsys.readouterr().err.splitlines() if line]
    assert len(lines) == 1 and told in lines[0]


def test_a_wind_that_is_none_is_said_before_its_speed_is_asked_for() -> None:
    with pytest.raises(UsageError, match="NV"):
        typed_sky("NV", None, None)
    with pytest.raises(UsageError, match="speed is missing"):
        typed_sky("NW", None, None)
