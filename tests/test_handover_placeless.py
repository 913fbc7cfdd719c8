"""No form in which people write a place down is left in words that are handed on."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from camsign.flows.handover.pictures import drawn_anew
from camsign.flows.handover.rounded import without_places
from camsign.pixels.info_strip import MAX_SHARE

# 44.6118 N, 71.2312 W in other forms; UTM by pyproj below, the grid and the code from memory.
FORMS = (
    "44.6118, -71.2312", "44,61180 -71,23120", "44.6118N 71.2312W", "44.612 -71.231",
    "44.61 N 71.23 W",
    "44°36'42.5\"N 71°13'52.3\"W", "44° 36′ 42″ N, 71° 13′ 52″ W", "44º36.708'N 71º13.872'W",
    "N44 36.708 W071 13.872", "N 44° 36.708 W 71° 13.872", "N44-36-42 W71-13-52",
    "44 36 42 N 71 13 52 W", "44 36.708 N 71 13.872 W", "44-36-42.5N 71-13-52.3W",
    "19TCJ2289943123", "19T CJ 22899 43123", "87PCJQ6Q+5V",
)  # fmt: skip
KEPT = (
    "bare SW (217°), going NE 45°", "34 in high, 5 visits in 14 nights", "1,000 pictures of 2,345",
    "Nov 4, 2025 at 16:07", "2025-11-04 06:12:44", "3.4 (1.5 to 6.1) a week", "at 53°F",
    "N wind 5.5 mph",
    "squared error 0.135 against 0.140", "CAM07, 3 E of the brook", "card 123456", "9 N side rubs",
    "12-point, 140.5 in", "Jul 1 to Jun 30, 114 nights",
)  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_a_place_is_taken_out_in_every_form(form: str) -> None:
    left = without_places(f"He beds at {form}, below the ledge")
    assert not any(c.isdigit() for c in left), left
    assert left.startswith("He beds at")
    assert left.endswith("below the ledge")


def test_utm_is_taken_out_wherever_on_earth() -> None:
    """Eastings and northings by pyproj (EPSG 326xx and 327xx)."""
    import pyproj

    for zone, lat, lon in ((19, 44.6118, -71.2312), (11, 60.1, -117.4), (15, 29.9, -93.0)):
        east, north = pyproj.Transformer.from_crs(4326, 32600 + zone, always_xy=True).transform(
            lon, lat
        )
        for form in (f"{zone}T {east:.0f} {north:.0f}", f"{zone} T {east:.0f}E {north:.0f}N",
                     f"{east:.0f}, {north:.0f}", f"{east:.1f} mE {north:.1f} mN"):  # fmt: skip
            left = without_places(f"bed {form}")
            assert not any(len(word) > 4 for word in left.split()), (form, left)


@pytest.mark.parametrize("words", KEPT)
def test_what_is_no_place_stays(words: str) -> None:
    assert without_places(words) == words


@pytest.mark.parametrize("strip", [40, 0])
def test_a_picture_without_places_loses_what_the_camera_printed(strip: int) -> None:
    """With a strip: its rows alone. Without an edge to be seen: as far as one may reach."""
    rng = np.random.default_rng(1)
    pixels = rng.integers(60, 200, (480, 640, 3)).astype(np.uint8)
    if strip:
        pixels[-strip:] = 0
        pixels[-strip + 12 : -12, 40:90] = 255
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    with Image.open(io.BytesIO(drawn_anew(out.getvalue(), cut=True))) as picture:
        assert picture.width == 640
        gone = 480 - picture.height
    assert abs(gone - strip) <= 1 if strip else gone == pytest.approx(2 * 480 * MAX_SHARE, abs=2)
