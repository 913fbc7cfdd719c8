"""What the answers cost in a logbook of a million detections, against DuckDB and geopandas alone.

Best of several runs in turn. The baseline of an answer is what DuckDB needs to open the same file
and count its detections by deployment; the answer opens it too. Beside it stands the ratio to the
bare count in a database that is open already.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import duckdb
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import big_logbook
from timing import best_of

from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.lately import lately
from camsign.answers.makers import makers
from camsign.answers.near import near
from camsign.answers.rivals import rivals
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.logbook.session import Session

pytestmark = pytest.mark.bench

AREA, COUNT = "Area 7", "SELECT deployment, count(*) FROM detections GROUP BY deployment"
MOST, BANDS_S, RUNS = 10.0, 2.0, 7


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("big") / "camsign.duckdb"
    big_logbook.make(path)
    return path


def _opened(file: Path, ask: Callable[[Session], object]) -> None:
    session = big_logbook.opened(file)
    try:
        ask(session)
    finally:
        session.con.close()


def _buck(session: Session) -> str:
    return visits(session, scope_of(session, areas=[AREA])).rows[0].buck


def _sign(session: Session) -> str:
    (area,) = scope_of(session, areas=[AREA]).area_ids or ("",)
    row = session.con.execute(
        "SELECT sign FROM area_signs WHERE area = ? ORDER BY distance_m, sign LIMIT 1", [area]
    ).fetchone()
    return str(row[0]) if row else ""


def _questions(file: Path) -> dict[str, Callable[[Session], object]]:
    found: list[str] = []
    _opened(file, lambda s: found.extend((_buck(s), _sign(s))))
    buck, sign = found
    return {
        "near": lambda s: near(s, scope_of(s, areas=[AREA])),
        "visits": lambda s: visits(s, scope_of(s, areas=[AREA])),
        "when": lambda s: when(s, scope_of(s, bucks=[buck], areas=[AREA]), band=False, test=False),
        "bedding": lambda s: bedding(s, scope_of(s, areas=[AREA])),
        "rivals": lambda s: rivals(s, scope_of(s, areas=[AREA]), pairs=False),
        "makers": lambda s: makers(s, scope_of(s), sign),
        "compare": lambda s: compare(s, scope_of(s, areas=[AREA])),
        "lately": lambda s: lately(s, scope_of(s, areas=[AREA])),
    }


def test_each_answer_for_one_area(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    count = best_of(lambda: _opened(file, lambda s: s.con.execute(COUNT).fetchall()), RUNS)
    session = big_logbook.opened(file)
    bare = best_of(lambda: session.con.execute(COUNT).fetchall(), 15)
    session.con.close()
    questions = _questions(file)
    ratios, warm = {}, {}
    for name, ask in questions.items():
        ratios[name] = best_of(lambda ask=ask: _opened(file, ask), RUNS) / count
    session = big_logbook.opened(file)
    for name, ask in questions.items():
        warm[name] = best_of(lambda ask=ask: ask(session), RUNS) / bare
    session.con.close()
    with capsys.disabled():
        print(f"\nopen and count {count * 1e3:.1f} ms, bare count {bare * 1e3:.1f} ms")
        for name in questions:
            print(f"{name:8} {ratios[name]:5.1f}x   against the bare count {warm[name]:5.1f}x")
    assert max(ratios.values()) < MOST


def test_bands_by_simulation(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    session = big_logbook.opened(file)
    buck = _buck(session)
    scope = scope_of(session, bucks=[buck], areas=[AREA])
    spent = {
        "when, band and back-test": best_of(lambda: when(session, scope), 3),
        "rivals, pairs": best_of(lambda: rivals(session, scope_of(session, areas=[AREA])), 3),
    }
    session.con.close()
    with capsys.disabled():
        for name, seconds in spent.items():
            print(f"\n{name}: {seconds:.2f} s", end="")
    assert max(spent.values()) < BANDS_S


BY_HAND = """
SELECT d.frame, b.name, d.buck_id, d.utc, p.sign, w.kind, p.distance_m, p.bearing_deg
FROM detections d JOIN sign_pairs p USING (deployment) JOIN made_windows w USING (sign)
LEFT JOIN bucks b ON b.buck = d.buck_id
WHERE p.distance_m <= 200 AND d.day BETWEEN w.made_from AND w.made_to
"""


def test_near_for_all(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    geopandas = pytest.importorskip("geopandas")
    session = big_logbook.opened(file)
    by_hand = best_of(lambda: session.con.execute(BY_HAND).df(), 3)
    ours = best_of(lambda: near(session, scope_of(session)), 3)
    detections = session.con.execute(
        "SELECT d.frame, p.lon, p.lat FROM detections d JOIN deployments p USING (deployment)"
    ).df()
    signs = session.con.execute("SELECT sign, lon, lat FROM signs").df()
    rows = len(near(session, scope_of(session)).table)
    expected = session.con.execute(f"SELECT count(*) FROM ({BY_HAND})").fetchone()
    session.con.close()
    made: list[object] = []

    def points() -> None:
        """Latitudes and longitudes to points in meters, as a nearest join needs them."""
        made.clear()
        for rows in (detections, signs):
            at = geopandas.points_from_xy(rows["lon"], rows["lat"], crs=4326)
            made.append(geopandas.GeoDataFrame(rows, geometry=at).to_crs(32619))

    making = best_of(points, 2)
    nearest = best_of(
        lambda: geopandas.sjoin_nearest(*made, max_distance=200, distance_col="distance_m"), 2
    )
    with capsys.disabled():
        print(
            f"\nnear for all: {rows:,} rows in {ours:.2f} s; by hand {by_hand:.2f} s "
            f"({ours / by_hand:.2f}x); geopandas: points {making:.2f} s, nearest {nearest:.2f} "
            f"s ({(making + nearest) / ours:.1f}x, the join alone {nearest / ours:.1f}x)"
        )
    assert expected is not None
    assert rows == expected[0]
    assert ours < 3 * by_hand
    assert making + nearest > 5 * ours


MEMORY = """
import re, sys
sys.path.insert(0, {bench!r})
from pathlib import Path
import big_logbook
from camsign.answers.{name} import {name}
from camsign.answers.scope import scope_of
session = big_logbook.opened(Path({file!r}))
{name}(session, scope_of(session))
status = Path("/proc/self/status").read_text()
print(int(re.search(r"VmHWM:\\s+(\\d+) kB", status)[1]) // 1024)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no peak memory to read")
@pytest.mark.parametrize("name", ["near", "visits", "compare", "lately"])
def test_memory(file: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    import subprocess

    script = MEMORY.format(bench=str(Path(__file__).parent), file=str(file), name=name)
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    peak_mb = int(ran.stdout.strip())
    with capsys.disabled():
        print(f"\npeak memory of {name} for all: {peak_mb} MB")
    assert peak_mb < 1000


def test_the_counts_are_those_of_the_file(file: Path) -> None:
    con = duckdb.connect(file, read_only=True)
    sizes = [
        con.execute(f"SELECT count(*) FROM {table}").fetchone()
        for table in ("detections", "deployments", "signs", "areas")
    ]
    con.close()
    assert np.ravel(sizes).tolist() == [1_000_000, 500, 20_000, 200]
