"""The three bands of light of a picture, also where nights are short, against ephem and by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import degrees
from pathlib import Path

import ephem
import pytest
from derive_world import TZ, Shot, book, hang, put_card, rows, say

from camsign.logbook.folder import Folder


def lights(home: Folder) -> list[tuple[datetime, str]]:
    return rows(home, "SELECT utc, light FROM frame_times ORDER BY utc")


def shots_around(moment: datetime, *minutes: float) -> list[Shot]:
    return [Shot((moment + timedelta(minutes=m)).strftime("%Y-%m-%dT%H:%M:%S")) for m in minutes]


@pytest.mark.thorough
@pytest.mark.parametrize(("before", "after"), [(30, 30), (60, 0)])
def test_gray_light_is_as_long_as_the_settings_say(tmp_path: Path, before: int, after: int) -> None:
    home = book(tmp_path / "b")
    toml = home.root / "logbook.toml"
    text = toml.read_text(encoding="utf-8")
    assert "The law where you hunt decides" in text
    text = text.replace("light_before = 30", f"light_before = {before}")
    toml.write_text(text.replace("light_after = 30", f"light_after = {after}"), encoding="utf-8")
    # US Naval Observatory, rise and set tables, 44.1 N 71.2 W on 2025-11-04, in EST, as pvlib's
    # SPA gives them too: 6:25 and 16:31 (to the minute, so two minutes are kept clear).
    rise, sets = datetime(2025, 11, 4, 6, 25), datetime(2025, 11, 4, 16, 31)
    morning = shots_around(rise, -before - 3, -before + 3, 3)
    evening = shots_around(sets, -3, after - 3, after + 3)
    put_card(home, "k", "CAM1", morning + evening)
    say(home, hang("CAM1", "2025-11-03T12:00:00Z", clock="-05:00"))
    found = [light for _, light in lights(Folder(home.root))]
    last = ["day", "gray", "dark"] if after else ["day", "day", "dark"]
    assert found == ["dark", "gray", "day", *last]


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("place", "tz", "month"),
    [
        ((64.84, -147.72), "America/Anchorage", 6),  # sunset after midnight
        ((71.29, -156.79), "America/Anchorage", 6),  # no sunset
        ((71.29, -156.79), "America/Anchorage", 12),  # no sunrise
        ((65.58, 22.15), "Europe/Stockholm", 6),
        ((44.1, -71.2), TZ, 6),
    ],
)
def test_day_is_when_the_sun_is_up(
    tmp_path: Path, place: tuple[float, float], tz: str, month: int
) -> None:
    # ephem (libastro): height of the sun's center without refraction, against -50'.
    home = book(tmp_path / "b")
    start = datetime(2025, month, 18, 1, tzinfo=UTC)
    moments = [start + timedelta(minutes=37 * i) for i in range(120)]
    put_card(home, "k", "CAM1", [Shot(m.strftime("%Y-%m-%dT%H:%M:%S")) for m in moments])
    say(home, hang("CAM1", f"2025-{month:02d}-17T00:00:00Z", clock="+00:00", at=place, tz=tz))
    watcher = ephem.Observer()
    watcher.lat, watcher.lon, watcher.pressure = str(place[0]), str(place[1]), 0
    sun = ephem.Sun()
    for utc, light in lights(home):
        watcher.date = utc
        sun.compute(watcher)
        height = degrees(sun.alt) + 50 / 60
        if abs(height) > 0.05:
            assert (light == "day") == (height > 0), (utc, light, height)


def test_a_sunset_after_midnight_belongs_to_the_day_before(tmp_path: Path) -> None:
    home = book(tmp_path / "b")
    # Fairbanks, night of 20 to 21 June 2025: ephem has the sun go down at 00:48 local time.
    put_card(home, "k", "CAM1", [Shot("2025-06-21T08:41:00")])
    fairbanks = {"at": (64.84, -147.72), "tz": "America/Anchorage", "clock": "+00:00"}
    say(home, hang("CAM1", "2025-06-17T00:00:00Z", **fairbanks))
    [(light, minutes)] = rows(home, "SELECT light, minutes_from_sunset FROM frame_times")
    assert (light, round(minutes)) == ("day", pytest.approx(-7, abs=2))
