"""What 50,000 waypoints cost to take in, and lines and radiants of 20,000 rubs.

The baseline of an import is what gpxpy alone needs to parse the same file, in the same run: the
processor's time of both, since other work on the machine blurs a clock's.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
from sign_world import invent

from camsign.cli.app import run

pytestmark = pytest.mark.bench

WAYPOINTS, RUBS, HERE = 50_000, 20_000, (44.2, -71.4)
MOST, SPAN_S, MEMORY_MB = 3.0, 10.0, 1000


@pytest.fixture(scope="module")
def waypoints(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rubs as a handheld writes them, by gpxpy; 22 m apart, as a well searched property's."""
    from gpxpy.gpx import GPX, GPXWaypoint

    trees, words = ("alder", "aspen", "red maple", "fir"), ("", "by the brook", "tall", *"abcd")
    document = GPX()
    for i in range(WAYPOINTS):
        text = f"{trees[i % 4]} {2 + i % 9}in top {28 + i % 23}in fresh {i % 360}T {words[i % 7]}"
        lat, lon = HERE[0] + i % 250 * 2e-4, HERE[1] + i // 250 * 3e-4
        moment = datetime(2025, 10, 5, 12, i % 60, tzinfo=UTC)
        document.waypoints.append(
            GPXWaypoint(lat, lon, 412.5, moment, f"rub {i}", text, comment=text, symbol="Flag")
        )
    path = tmp_path_factory.mktemp("waypoints") / "w.gpx"
    path.write_text(document.to_xml(), encoding="utf-8")
    return path


def gpxpy_s(path: Path) -> float:
    import gpxpy

    start = time.process_time()
    with path.open(encoding="utf-8") as stream:
        gpxpy.parse(stream)
    return time.process_time() - start


@pytest.mark.parametrize("words", [("import", "--yes"), ("sign", "import")], ids=" ".join)
def test_fifty_thousand_waypoints(
    words: tuple[str, ...],
    waypoints: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    book = tmp_path / "book"
    assert run(["init", str(book), "--home", "44.2,-71.4", "--json"]) == 0
    before = gpxpy_s(waypoints)
    capsys.readouterr()
    start = time.process_time()
    assert run(["--logbook", str(book), *words, str(waypoints), "--json"]) == 0
    took = time.process_time() - start
    taken = json.loads(capsys.readouterr().out)
    baseline = (before + gpxpy_s(waypoints)) / 2
    with capsys.disabled():
        told = f"{' '.join(words)} of {WAYPOINTS:,}: {took:.1f} s, gpxpy alone {baseline:.1f} s"
        print(f"\n{told}: {took / baseline:.2f}x")
    assert taken.get("sign", taken.get("new")) == WAYPOINTS
    assert took < MOST * baseline


# A process of its own, so that its peak of memory is its own.
READ = """
import json, re, sys, time
from pathlib import Path
import numpy as np
from camsign.sign.lines import RubTable, lines_of
from camsign.sign.proposals import proposals_of
from camsign.sign.surroundings import Surroundings
rows = np.load({file!r})
table = RubTable([f"s-{{i}}" for i in range(len(rows))], *rows.T)
start = time.process_time()
lines = lines_of(table)
between = time.process_time()
found = proposals_of(table, Surroundings())
end = time.process_time()
status = Path("/proc/self/status").read_text()
peak = int(re.search(r"VmHWM:\\s+(\\d+) kB", status)[1]) // 1024
print(json.dumps([len(lines), between - start, len(found), end - between, peak]))
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no peak memory to read")
@pytest.mark.parametrize("spread", ["many properties", "one dense square"])
def test_lines_and_radiants(
    spread: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = many_properties() if spread == "many properties" else dense_square()
    assert len(rows) == RUBS
    np.save(tmp_path / "rubs.npy", rows)
    script = READ.format(file=str(tmp_path / "rubs.npy"))
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    lines, lines_s, found, found_s, peak_mb = json.loads(ran.stdout)
    with capsys.disabled():
        print(
            f"\n{RUBS:,} rubs, {spread}: {lines} lines in {lines_s:.1f} s, {found} proposals in "
            f"{found_s:.1f} s, {peak_mb} MB at most"
        )
    assert lines > 0
    assert lines_s + found_s < SPAN_S
    assert peak_mb < MEMORY_MB


def many_properties() -> np.ndarray:
    """Rows of latitude, longitude, travel [deg] of invented properties side by side."""
    rng, parts = np.random.default_rng(1), []
    for i in range(110):
        world = invent(rng)
        parts.append(
            placed(world.east + i % 10 * 1500.0, world.north + i // 10 * 1500.0, world.travel)
        )
    return np.concatenate(parts)[:RUBS]


def dense_square() -> np.ndarray:
    """Rubs without any order on four square kilometers: over three times the densest reported."""
    rng = np.random.default_rng(2)
    east, north = rng.uniform(0, 2000, (2, RUBS))
    return placed(east, north, rng.uniform(0, 2 * np.pi, RUBS))


def placed(east: np.ndarray, north: np.ndarray, travel: np.ndarray) -> np.ndarray:
    degree = 111_320.0
    lat = HERE[0] + north / degree
    lon = HERE[1] + east / (degree * np.cos(np.radians(HERE[0])))
    return np.stack([lat, lon, np.degrees(travel)], axis=1)
