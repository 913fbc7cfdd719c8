"""The ground against gdaldem on real heights, against planes and cones, and against brute force.

The heights are the SRTM tile of the Jacksboro fault that matplotlib carries (NASA, public domain).
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.ground.drainage import in_stream, slopes_of, stream
from camsign.ground.grid import Grid, gradient, hillshade
from camsign.ground.horizon import drop_m, horizon_deg, in_sun, seen_from
from camsign.report.relief import finer


@pytest.fixture(scope="module")
def jacksboro() -> Grid:
    import matplotlib

    path = Path(matplotlib.get_data_path()) / "sample_data" / "jacksboro_fault_dem.npz"
    with np.load(path) as data:
        heights = data["elevation"].astype(float)
    return Grid(heights, 0.0, heights.shape[0] * 90.0, 90.0)


def _gdaldem(grid: Grid, folder: Path, *words: str) -> np.ndarray:
    rasterio = pytest.importorskip("rasterio")
    source, out = folder / "dem.tif", folder / "out.tif"
    rows, columns = grid.heights.shape
    shape = {"height": rows, "width": columns, "count": 1, "dtype": "float64", "crs": "EPSG:32616"}
    place = rasterio.transform.from_origin(grid.west, grid.north, grid.cell, grid.cell)
    with rasterio.open(source, "w", driver="GTiff", transform=place, **shape) as file:
        file.write(grid.heights, 1)
    subprocess.run(["gdaldem", words[0], source, out, *words[1:]], check=True, capture_output=True)
    with rasterio.open(out) as file:
        return np.asarray(file.read(1), float)[1:-1, 1:-1]


def slope_deg(grid: Grid) -> np.ndarray:
    return np.degrees(np.arctan(np.hypot(*gradient(grid))))


def aspect_deg(grid: Grid) -> np.ndarray:
    east, north = gradient(grid)
    faces = np.degrees(np.arctan2(-east, -north)) % 360
    return np.where((east == 0) & (north == 0), np.nan, faces)


@pytest.mark.skipif(not shutil.which("gdaldem"), reason="gdaldem (Debian's gdal-bin) is missing")
class TestAgainstGdaldem:
    def test_slope(self, jacksboro: Grid, tmp_path: Path) -> None:
        theirs = _gdaldem(jacksboro, tmp_path, "slope")
        assert np.abs(slope_deg(jacksboro)[1:-1, 1:-1] - theirs).max() < 1e-3

    def test_aspect(self, jacksboro: Grid, tmp_path: Path) -> None:
        theirs = _gdaldem(jacksboro, tmp_path, "aspect")
        ours = aspect_deg(jacksboro)[1:-1, 1:-1]
        level = theirs < 0
        assert (np.isnan(ours) == level).all()
        off = np.abs((ours[~level] - theirs[~level] + 180) % 360 - 180)
        assert off.max() < 1e-3

    def test_shade(self, jacksboro: Grid, tmp_path: Path) -> None:
        theirs = _gdaldem(jacksboro, tmp_path, "hillshade", "-az", "315", "-alt", "45")
        ours = 1 + 254 * hillshade(jacksboro)[1:-1, 1:-1]
        assert np.abs(ours - theirs).max() <= 1.0


def _plane(east: float, north: float, size: int = 41, cell: float = 10.0) -> Grid:
    x = (np.arange(size) + 0.5) * cell
    y = size * cell - x
    return Grid(500 + east * x[None, :] + north * y[:, None], 0.0, size * cell, cell)


@given(st.floats(-1, 1), st.floats(-1, 1))
def test_a_plane_has_the_slope_and_aspect_it_was_made_with(east: float, north: float) -> None:
    grid = _plane(east, north)
    steep = np.degrees(np.arctan(np.hypot(east, north)))
    assert slope_deg(grid)[1:-1, 1:-1] == pytest.approx(steep, abs=1e-6)
    if np.hypot(east, north) > 1e-6:
        faces = np.degrees(np.arctan2(-east, -north)) % 360
        off = (aspect_deg(grid)[1:-1, 1:-1] - faces + 180) % 360 - 180
        assert np.abs(off).max() < 1e-3


@given(st.floats(20, 390), st.floats(20, 390))
def test_heights_between_cells_are_a_planes(x: float, y: float) -> None:
    assert float(_plane(0.3, -0.2).at(x, y)) == pytest.approx(500 + 0.3 * x - 0.2 * y, abs=1e-6)


def test_places_off_the_grid_have_no_height() -> None:
    assert np.isnan(_plane(0, 0).at(-50, 100))


def test_a_wall_hides_the_sun_as_its_height_and_distance_say() -> None:
    heights = np.full((101, 101), 100.0)
    heights[:, 80:] = 180.0
    grid = Grid(heights, 0.0, 1010.0, 10.0)
    seen = horizon_deg(grid, 505.0, 505.0, eye_m=0.0)
    # The wall begins at column 80, whose middle is 300 m to the east.
    assert seen[90] == pytest.approx(np.degrees(np.arctan(80 / 300)), abs=0.6)
    assert seen[270] == 0
    assert in_sun(seen, [90, 90, 270], [14, 16, 1]).tolist() == [False, True, True]


def test_the_horizon_is_what_single_rays_give(jacksboro: Grid) -> None:
    x, y = 18_000.0, 15_000.0
    seen = horizon_deg(jacksboro, x, y)
    own = float(jacksboro.at(x, y)) + 1.7
    for bearing in (0, 33, 141, 250, 317):
        best, turn = -90.0, np.radians(bearing)
        for d in np.arange(90.0, 50_000, 90.0):
            h = float(jacksboro.at(x + d * np.sin(turn), y + d * np.cos(turn)))
            if np.isfinite(h):
                best = max(best, float(np.degrees(np.arctan2(h - drop_m(d) - own, d))))
        assert seen[bearing] == pytest.approx(max(best, 0), abs=1e-9)


def test_a_ridge_stands_between_two_hollows() -> None:
    x = (np.arange(81) + 0.5) * 10
    heights = np.tile(100 + 40 * np.exp(-(((x - 400) / 60) ** 2)), (81, 1))
    grid = Grid(heights, 0.0, 810.0, 10.0)
    seen = seen_from(
        grid, (200.0, 400.0), np.array([[600.0, 400.0], [250.0, 400.0], [400.0, 400.0]])
    )
    assert seen.tolist() == [False, True, True]


@given(st.floats(60, 740), st.floats(60, 740), st.floats(60, 740), st.floats(60, 740))
def test_who_sees_is_seen(x1: float, y1: float, x2: float, y2: float) -> None:
    rng = np.random.default_rng(3)
    from scipy.ndimage import gaussian_filter

    heights = 100 + 60 * gaussian_filter(rng.normal(size=(81, 81)), 4)
    grid = Grid(heights, 0.0, 810.0, 10.0)
    there = seen_from(grid, (x1, y1), np.array([[x2, y2]]))[0]
    back = seen_from(grid, (x2, y2), np.array([[x1, y1]]))[0]
    # Ties on the very edge of sight may fall either way: so only clear cases are compared.
    loose = seen_from(grid, (x1, y1), np.array([[x2, y2]]), eye_m=3.0, target_m=3.0)[0]
    assert there == back or loose


def test_cold_air_runs_down_the_fall_line_and_warm_air_up() -> None:
    grid = _plane(0.2, 0.0, size=81)
    down, up = (stream(slopes_of(grid), 400, 400, uphill=way, far_m=200) for way in (False, True))
    for flow, bearing in ((down, 270), (up, 90)):
        assert np.degrees(np.arctan2(*(flow[4] - flow[0]))) % 360 == pytest.approx(bearing, abs=1)
    long_m = np.hypot(*np.diff(down, axis=0).T).sum()
    assert long_m == pytest.approx(200, abs=15)
    assert in_stream(down, 250, 405)
    assert not in_stream(down, 550, 400)


def test_level_ground_moves_no_air() -> None:
    flow = stream(slopes_of(_plane(0.01, 0.0, size=81)), 400, 400)
    assert len(flow) == 1
    assert not in_stream(flow, 390, 400)


def test_water_and_air_agree_on_where_down_is(jacksboro: Grid) -> None:
    rng = np.random.default_rng(11)
    falls, slopes = 0, slopes_of(jacksboro)
    for _ in range(40):
        x, y = rng.uniform(3000, 30_000), rng.uniform(3000, 26_000)
        flow = stream(slopes, x, y, far_m=1500)
        if len(flow) > 5:
            heights = jacksboro.at(flow[:, 0], flow[:, 1])
            falls += 1
            assert heights[-1] < heights[0]
    assert falls > 20


def _piece(jacksboro: Grid) -> tuple[Grid, tuple[float, float], np.ndarray]:
    """A hundred cells around of real heights, an eye in the middle, and every cell's middle."""
    around = Grid(jacksboro.heights[120:221, 150:251].copy(), 0.0, 101 * 90.0, 90.0)
    middles = (np.arange(101) + 0.5) * 90.0
    points = np.array([(x, 101 * 90.0 - y) for y in middles for x in middles])
    return around, tuple(points[50 * 101 + 50]), points


def _crossed(grid: Grid, eye: tuple[float, float], there: np.ndarray) -> bool:
    """Brute force: the line of sight against the ground wherever it crosses a row or column of
    the grid, where heights are linear between two cells (W. R. Franklin and C. K. Ray 1994 call
    this R3; from memory)."""
    (r0, c0), (r1, c1) = ([float(v) for v in grid.index_of(*p)] for p in (eye, there))
    away = float(np.hypot(there[0] - eye[0], there[1] - eye[1]))
    own = float(grid.at(*eye)) + 1.7
    top = float(grid.at(*there)) + 1.7 - float(drop_m(away))
    for a, b in ((r0, r1), (c0, c1)):
        for line in range(int(np.ceil(min(a, b))), int(max(a, b)) + 1):
            share = (line - a) / (b - a) if b != a else 0.0
            if 1e-9 < share < 1 - 1e-9:
                ground = float(grid.at(*(np.array(eye) + share * (there - np.array(eye)))))
                if ground - float(drop_m(share * away)) > own + share * (top - own) + 1e-9:
                    return False
    return True


def test_who_is_seen_is_who_single_lines_reach(jacksboro: Grid) -> None:
    around, eye, points = _piece(jacksboro)
    some = points[::9]
    ours = seen_from(around, eye, some, 1.7, 1.7)
    brute = np.array([_crossed(around, eye, one) for one in some])
    assert 0.05 < brute.mean() < 0.5
    assert (ours == brute).mean() > 0.99


@pytest.mark.thorough
@pytest.mark.skipif(not shutil.which("gdal_viewshed"), reason="gdal_viewshed is missing")
def test_whom_gdal_viewshed_sees_is_seen(jacksboro: Grid, tmp_path: Path) -> None:
    """GDAL's gdal_viewshed carries the highest line onward from cell to cell, so it sees less than
    single lines do; what it sees must be seen."""
    rasterio = pytest.importorskip("rasterio")
    around, eye, points = _piece(jacksboro)
    source, out = tmp_path / "dem.tif", tmp_path / "seen.tif"
    shape = {"height": 101, "width": 101, "count": 1, "dtype": "float64", "crs": "EPSG:32616"}
    place = rasterio.transform.from_origin(0.0, around.north, 90.0, 90.0)
    with rasterio.open(source, "w", driver="GTiff", transform=place, **shape) as file:
        file.write(around.heights, 1)
    words = ["-ox", str(eye[0]), "-oy", str(eye[1]), "-oz", "1.7", "-tz", "1.7", "-cc", "0.87"]
    subprocess.run(["gdal_viewshed", *words, source, out], check=True, capture_output=True)
    with rasterio.open(out) as file:
        theirs = file.read(1).ravel() > 0
    ours = seen_from(around, eye, points, 1.7, 1.7)
    assert theirs.sum() > 300
    assert (theirs & ~ours).sum() / theirs.sum() < 0.02
    assert (ours == theirs).mean() > 0.93


def test_ground_of_few_cells_is_drawn_from_finer_ones() -> None:
    """A ridge that rises and falls evenly stays where it is; its lines get no corners."""
    north, east = np.mgrid[0:40, 0:50] * 10.0
    heights = 500 + 20 * np.sin(east / 90) + 15 * np.cos(north / 70)
    grid = Grid(heights, 100.0, 400.0, 10.0)
    found = finer(grid)
    assert found.heights.shape == (480, 600)
    assert (found.west, found.north, found.cell) == (100.0, 400.0, 10.0 / 12)
    x, y = np.meshgrid(np.arange(150.0, 500, 37), np.arange(50.0, 350, 31))
    truth = 500 + 20 * np.sin((x - 105) / 90) + 15 * np.cos((395 - y) / 70)
    off = np.abs(found.at(x, y) - truth).max()
    assert off < 0.02 < np.abs(grid.at(x, y) - truth).max()
    heights[3, 3] = np.nan
    assert finer(grid) is grid
    many = Grid(np.zeros((400, 400)), 0.0, 0.0, 10.0)
    assert finer(many) is many
