"""Wind files against NOAA's format document, what each record repeats in plain weather code, and
the METAR library.
"""

from __future__ import annotations

import csv
import gzip
import re
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camsign.errors import CamsignError, InputRefused
from camsign.formats.wind import WindFile, read_wind

NY = ZoneInfo("America/New_York")


def _read(path: Path, unit: str = "mph") -> WindFile:
    return read_wind(path, NY, date(2025, 11, 1), unit)


def test_an_isd_year_says_what_its_own_remarks_say(samples: Path) -> None:
    """Each record repeats the wind as SYNOP (WMO FM 12: Nddff, speed in m/s) behind REM."""
    path = samples / "weather" / "isd-024130-99999-2016.gz"
    file = _read(path)
    by_time = {hour.utc: hour for hour in file.hours}
    compared = 0
    for line in gzip.decompress(path.read_bytes()).decode("ascii", "replace").splitlines():
        said = re.search(r"SYN\d{3}\d{5} \d\d/\S* [\d/](\d\d)(\d\d) ", line)
        utc = datetime.strptime(line[15:27], "%Y%m%d%H%M").replace(tzinfo=UTC)
        if said is None or utc not in by_time:
            continue
        hour, tens, speed = by_time[utc], int(said.group(1)), int(said.group(2))
        compared += 1
        assert hour.speed_ms == pytest.approx(speed, abs=0.51)
        if hour.from_deg is not None and 1 <= tens <= 36:
            assert abs((hour.from_deg - tens * 10 + 180) % 360 - 180) <= 10
    assert compared > 300
    assert (file.lat, file.lon) == (60.75, 12.767)


def test_global_hourly_says_what_the_metar_in_its_remarks_says(samples: Path) -> None:
    from metar import Metar

    path = samples / "weather" / "isd-global-hourly-00702699999.csv"
    by_time = {hour.utc: hour for hour in _read(path).hours}
    compared = 0
    with path.open(newline="") as stream:
        rows = list(csv.DictReader(stream))[::40]
    for row in rows:
        utc = datetime.fromisoformat(row["DATE"]).replace(tzinfo=UTC)
        code = re.search(r"(\d{6}Z.*?)(?: RMK|=|$)", row["REM"])
        if code is None or utc not in by_time:
            continue
        told = Metar.Metar("KXXX " + code.group(1), month=utc.month, year=utc.year, strict=False)
        if told.wind_speed is None:
            continue
        hour = by_time[utc]
        compared += 1
        assert hour.speed_ms == pytest.approx(told.wind_speed.value("MPS"), abs=0.06)
        if hour.from_deg is not None:
            assert told.wind_dir is not None
            assert hour.from_deg == told.wind_dir.value() % 360
    assert compared > 100


ISD = (
    "0054024130999992016010100004+60750+012767FM-12+020599999V020{wind}{ceiling}99N9999999"
    "-00221-00371999999ADD{more}REM"
)


@pytest.mark.parametrize(
    ("wind", "from_deg", "speed"),
    [("0901N00301", 90, 3.0), ("3601N01201", 0, 12.0), ("9999C00001", None, 0.0),
     ("9999V00211", None, 2.1)],
)  # fmt: skip
def test_isd_winds_by_the_format_document(
    tmp_path: Path, wind: str, from_deg: float | None, speed: float
) -> None:
    path = tmp_path / "a.isd"
    path.write_text(
        ISD.format(wind=wind, ceiling="01524", more="GF10899199999999999999OC100950") + "\n"
    )
    (hour,) = _read(path).hours
    assert (hour.from_deg, hour.speed_ms) == (from_deg, speed)
    assert hour.cloud == 1.0
    assert hour.ceiling_m == 1524


@pytest.mark.parametrize("wind", ["9999999999", "0901N99999", "0902N00301", "0901N00303"])
def test_what_isd_calls_missing_or_wrong_is_no_wind(tmp_path: Path, wind: str) -> None:
    path = tmp_path / "a.isd"
    path.write_text(ISD.format(wind=wind, ceiling="99999", more="") + "\n")
    with pytest.raises(InputRefused, match="no hour with a wind"):
        _read(path)


def test_metar_lines(tmp_path: Path) -> None:
    path = tmp_path / "kxyz.txt"
    path.write_text(
        "METAR KXYZ 101751Z AUTO 29012G22KT 10SM BKN035 OVC070 06/M01 A3005=\n"
        "KXYZ 101851Z VRB03KT 10SM CLR 06/M01 A3005\n"
        "KXYZ 101951Z 00000KT 10SM SCT040 06/M01 A3005\n"
    )
    first, second, third = _read(path).hours
    assert first.utc == datetime(2025, 11, 10, 17, 51, tzinfo=UTC)
    assert (first.from_deg, first.cloud) == (290, 1.0)
    assert first.speed_ms == pytest.approx(12 * 1852 / 3600, abs=0.01)
    assert first.ceiling_m == pytest.approx(3500 * 0.3048, abs=1)
    assert (second.from_deg, second.cloud) == (None, 0.0)
    assert (third.from_deg, third.speed_ms) == (None, 0.0)


def test_a_table_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(
        "time,from,speed,gust,cloud\n2025-11-07 16:00,SW,6,12,40%\n"
        "2025-11-07T17:00-05:00,225,10 km/h,,0.2\n2025-11-07 18:00,calm,0,,\n"
        "2025-11-07 19:00,sideways,4,,\nyesterday,N,4,,\n"
    )
    file = _read(path)
    first, second, third = file.hours
    assert first.utc == datetime(2025, 11, 7, 21, tzinfo=UTC)
    assert (first.from_deg, first.cloud) == (225, 0.4)
    assert first.speed_ms == pytest.approx(6 * 0.44704)
    assert second.speed_ms == pytest.approx(10 / 3.6)
    assert (third.from_deg, third.speed_ms) == (None, 0)
    assert [t.split(" left out: ")[0] for t in file.troubles] == [
        "mine.csv: line 5",
        "mine.csv: line 6",
    ]


def test_a_column_may_name_its_unit(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text("utc,direction,speed_kn\n2025-11-07 16:00,10,10\n")
    (hour,) = _read(path).hours
    assert hour.utc == datetime(2025, 11, 7, 16, tzinfo=UTC)
    assert hour.speed_ms == pytest.approx(5.1444, abs=1e-3)


@pytest.mark.parametrize(
    "text",
    ["", "hello\n", "time,from\n2025-11-07,N\n", "time,from,speed_furlongs\n2025-11-07,N,3\n"],
)
def test_what_is_no_wind_is_one_clear_line(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.csv"
    path.write_text(text)
    with pytest.raises(InputRefused) as caught:
        _read(path)
    assert "\n" not in str(caught.value)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(st.binary(max_size=300), st.sampled_from(["a.csv", "a.txt", "a.gz", "a.isd"]))
def test_no_bytes_bring_a_reader_down(tmp_path: Path, raw: bytes, name: str) -> None:
    path = tmp_path / name
    head = (
        ISD.format(wind="0901N00301", ceiling="01524", more="").encode() if name == "a.isd" else b""
    )
    path.write_bytes(head + raw)
    try:
        _read(path)
    except CamsignError as err:
        assert "\n" not in str(err)
