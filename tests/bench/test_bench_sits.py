"""Tonight in a logbook of a million detections, against DuckDB reading what it cannot do without.

The baseline opens the same file and reads the hours of all detections of the season up to the day
asked for: what a program that knew nothing else would read to say when they move. Cold: the model
of beds is fitted; warm: its fit lies in the cache folder, as after any question before.
"""

from __future__ import annotations

import json
import sys
import time
from datetime import date
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import big_logbook
from timing import best_of

from camsign.answers import beds_known
from camsign.logbook.session import Session
from camsign.sits.tonight import answer_of, known_of, scenes_of, tonight
from camsign.sits.weather import typed_sky

pytestmark = pytest.mark.bench

DAY, STANDS = date(2025, 11, 5), 3
READ = """
SELECT deployment, buck_id, day, minutes_from_sunrise, minutes_from_sunset, travel_deg
FROM detections WHERE day BETWEEN DATE '2025-07-01' AND DATE '2025-11-05'
"""
# Measured on 2 cores at a load of 6: warm 4.2 times the baseline, cold 71, a turn of the wind 0.09.
MOST_WARM, MOST_COLD, MOST_TURN = 10.0, 200.0, 0.5


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The big logbook's database with stands, each 100 m from the middle of a bedding area."""
    path = tmp_path_factory.mktemp("big") / "camsign.duckdb"
    big_logbook.make(path)
    session = big_logbook.opened(path)
    rows = session.con.execute(f"SELECT shape FROM areas LIMIT {STANDS}").fetchall()
    for n, (shape,) in enumerate(rows):
        lat, lon, _ = json.loads(shape)["circle"]
        point = json.dumps({"type": "Point", "coordinates": [lon + 0.001, lat + 0.0005]})
        session.con.execute(
            "INSERT INTO places (place, name, kind, shape) VALUES (?, ?, 'stand', ?)",
            [f"p-{n:08x}", f"Stand {n}", point],
        )
    session.con.close()
    return path


def _opened(file: Path) -> Session:
    return big_logbook.opened(file)


def _asked(file: Path) -> None:
    beds_known._IN_MEMORY.clear()
    session = _opened(file)
    assert len(tonight(session, DAY, typed_sky("SW", 2.7, 50.0)).stands) == STANDS
    session.con.close()


def _read(file: Path) -> None:
    session = _opened(file)
    session.con.execute(READ).fetchnumpy()
    session.con.close()


def test_tonight_of_a_million_detections(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CAMSIGN_CACHE", str(tmp_path))
    _asked_first = time.perf_counter()
    _asked(file)
    cold = time.perf_counter() - _asked_first
    bare, warm = best_of(lambda: _read(file), 5), best_of(lambda: _asked(file), 5)
    session = _opened(file)
    known = known_of(session, DAY)
    winds = iter(range(0, 360, 5))

    def turn() -> None:
        answer_of(known, scenes_of(known, typed_sky(str(next(winds)), 2.7, 50.0)))

    turned = best_of(turn, 20)
    session.con.close()
    with capsys.disabled():
        print(
            f"\nopen and read {bare:.2f} s; tonight cold {cold:.1f} s ({cold / bare:.0f}x), ",
            end="",
        )
        print(f"warm {warm:.2f} s ({warm / bare:.1f}x), a turn of the wind {turned * 1e3:.0f} ms")
    assert warm < MOST_WARM * bare
    assert cold < MOST_COLD * bare
    assert turned < MOST_TURN * bare
