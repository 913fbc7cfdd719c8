"""Elevation rasters: real heights in two projections, SRTM tiles, bad files, and the kept file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_bounds, from_origin
from rasterio.warp import calculate_default_transform, reproject

from camsign.errors import InputRefused
from camsign.formats.elevation import elevation_bytes, load_elevation, read_elevation

HOME = (36.60, -84.25)


@pytest.fixture(scope="module")
def geographic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The Jacksboro heights (NASA SRTM by way of matplotlib) as GeoTIFF in degrees."""
    import matplotlib

    data = np.load(Path(matplotlib.get_data_path()) / "sample_data" / "jacksboro_fault_dem.npz")
    heights = data["elevation"].astype("float32")
    west, north, step = float(data["xmin"]), float(data["ymin"]), float(data["dx"])
    path = tmp_path_factory.mktemp("dem") / "jacksboro.tif"
    _write(path, heights, from_origin(west, north, step, step), "EPSG:4326")
    return path


def _write(path: Path, heights: np.ndarray, place: object, crs: str | None, **more: object) -> None:
    rows, columns = heights.shape
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=columns, count=1, dtype=heights.dtype,
        crs=crs, transform=place, **more,
    ) as file:  # fmt: skip
        file.write(heights, 1)


def _at(path: Path, lat: float, lon: float) -> float:
    with rasterio.open(path) as file:
        return float(next(file.sample([(lon, lat)]))[0])


def test_heights_lie_where_the_file_has_them(geographic: Path) -> None:
    from camsign.geo import distance_bearing

    read = read_elevation(geographic, *HOME, reach_m=4000)
    assert read.unknown == 0
    assert 70 < read.native_m < 95
    rng = np.random.default_rng(2)
    for lat, lon in HOME + rng.uniform(-0.02, 0.02, (60, 2)):
        away, bearing = distance_bearing(*HOME, lat, lon)
        x, y = away * np.sin(np.radians(bearing)), away * np.cos(np.radians(bearing))
        # Between cells the two ways of filling in may differ by part of a cell's slope.
        assert float(read.grid.at(x, y)) == pytest.approx(_at(geographic, lat, lon), abs=30)


def test_another_projection_gives_the_same_ground(geographic: Path, tmp_path: Path) -> None:
    with rasterio.open(geographic) as source:
        place, width, height = calculate_default_transform(
            source.crs, "EPSG:32616", source.width, source.height, *source.bounds, resolution=60
        )
        out = np.full((height, width), np.nan, "float32")
        reproject(
            rasterio.band(source, 1), out, dst_transform=place, dst_crs="EPSG:32616",
            dst_nodata=np.nan, resampling=rasterio.enums.Resampling.bilinear,
        )  # fmt: skip
    utm = tmp_path / "utm.tif"
    _write(utm, out, place, "EPSG:32616", nodata=np.nan)
    first, second = (read_elevation(path, *HOME, reach_m=3000) for path in (geographic, utm))
    x = y = np.linspace(-2500, 2500, 60)
    off = first.grid.at(x, y) - second.grid.at(x, y)
    assert np.abs(off).max() < 12
    assert abs(off.mean()) < 1


def test_an_srtm_tile(tmp_path: Path) -> None:
    """SRTM .hgt (NASA): 1201 x 1201 big-endian 16-bit heights, -32768 unknown, named by corner."""
    heights = np.fromfunction(lambda r, c: 300 + r // 4 + c // 8, (1201, 1201)).astype(">i2")
    heights[:5, :5] = -32768
    path = tmp_path / "N44W072.hgt"
    path.write_bytes(heights.tobytes())
    read = read_elevation(path, 44.5, -71.5, reach_m=2000)
    assert float(read.grid.at(0, 0)) == pytest.approx(300 + 150 + 75, abs=2)
    assert 60 < read.native_m < 95


def test_feet_are_told_by_the_files_unit(tmp_path: Path) -> None:
    path = tmp_path / "feet.tif"
    heights = np.full((50, 50), 1000.0, "float32")
    _write(path, heights, from_bounds(-84.3, 36.55, -84.2, 36.65, 50, 50), "EPSG:4326")
    with rasterio.open(path, "r+") as file:
        file.units = ("ft",)
    assert float(read_elevation(path, *HOME, 1000).grid.at(0, 0)) == pytest.approx(304.8)


def test_the_kept_file_is_the_same_ground(geographic: Path, tmp_path: Path) -> None:
    read = read_elevation(geographic, *HOME, reach_m=2000)
    kept = tmp_path / "elevation.tif"
    kept.write_bytes(elevation_bytes(read))
    back = load_elevation(kept)
    assert np.abs(back.grid.heights - read.grid.heights).max() < 0.01
    assert (back.grid.west, back.grid.north, back.grid.cell) == pytest.approx(
        (read.grid.west, read.grid.north, read.grid.cell)
    )
    assert (back.lat, back.lon) == pytest.approx(HOME)


class TestBadInput:
    def test_no_projection(self, tmp_path: Path) -> None:
        path = tmp_path / "bare.tif"
        _write(path, np.ones((4, 4), "float32"), from_origin(0, 0, 1, 1), None)
        with pytest.raises(InputRefused, match="projection"):
            read_elevation(path, *HOME, 1000)

    def test_elsewhere(self, geographic: Path) -> None:
        with pytest.raises(InputRefused, match="no heights around"):
            read_elevation(geographic, 44.6, -71.2, 1000)

    def test_all_holes(self, tmp_path: Path) -> None:
        path = tmp_path / "holes.tif"
        place = from_bounds(-84.3, 36.55, -84.2, 36.65, 20, 20)
        _write(path, np.full((20, 20), -9999, "float32"), place, "EPSG:4326", nodata=-9999)
        with pytest.raises(InputRefused, match="no heights around"):
            read_elevation(path, *HOME, 1000)

    def test_numbers_that_are_no_heights(self, tmp_path: Path) -> None:
        path = tmp_path / "odd.tif"
        place = from_bounds(-84.3, 36.55, -84.2, 36.65, 20, 20)
        _write(path, np.full((20, 20), 65000, "float32"), place, "EPSG:4326")
        with pytest.raises(InputRefused, match="no heights in meters"):
            read_elevation(path, *HOME, 1000)

    @pytest.mark.parametrize("raw", [b"", b"II*\x00garbage", b"hello"])
    def test_no_raster(self, tmp_path: Path, raw: bytes) -> None:
        path = tmp_path / "x.tif"
        path.write_bytes(raw)
        with pytest.raises(InputRefused) as caught:
            read_elevation(path, *HOME, 1000)
        assert "\n" not in str(caught.value)

    def test_a_damaged_kept_file(self, tmp_path: Path) -> None:
        path = tmp_path / "elevation.tif"
        path.write_bytes(b"II*\x00")
        with pytest.raises(InputRefused, match="damaged"):
            load_elevation(path)


def test_a_huge_file_costs_only_what_is_read(tmp_path: Path) -> None:
    """A sparse raster of 60,000 x 60,000 cells (14 GB unpacked) is read in its one part."""
    path = tmp_path / "huge.tif"
    place = from_bounds(-89, 32, -79, 42, 60_000, 60_000)
    with rasterio.open(
        path, "w", driver="GTiff", height=60_000, width=60_000, count=1, dtype="float32",
        crs="EPSG:4326", transform=place, tiled=True, sparse_ok=True, compress="deflate",
        bigtiff="yes",
    ) as file:  # fmt: skip
        window = rasterio.windows.from_bounds(-84.3, 36.55, -84.2, 36.65, place)
        window = window.round_offsets().round_lengths()
        file.write(
            np.full((int(window.height), int(window.width)), 420, "float32"), 1, window=window
        )
    read = read_elevation(path, *HOME, reach_m=1500)
    assert float(read.grid.at(0, 0)) == pytest.approx(420)
