"""Words of people to meters, degrees, seconds and days.

Factors: international yard and pound agreement of 1959 as in NIST SP 811 (2008), appendix B.9
(1 in = 25.4 mm, 1 ft = 0.3048 m, 1 yd = 0.9144 m, 1 mi = 1609.344 m, all exact); these figures
stand in the test as typed from memory of that table.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.units import (
    Bearing,
    compass_word,
    format_bearing,
    format_length,
    numbered,
    parse_bearing,
    parse_day,
    parse_duration,
    parse_lat_lon,
    parse_length,
    parse_when,
)


@pytest.mark.parametrize(
    ("text", "meters"),
    [
        ("34in", 0.8636),
        ("34 inches", 0.8636),
        ("34″", 0.8636),
        ("86cm", 0.86),
        ("12 ft", 3.6576),
        ("3'4\"", 1.016),
        ("3’4”", 1.016),
        ("3'4", 1.016),
        ("5 ft 2 in", 1.5748),
        ("3 1/2 in", 0.0889),
        ("1/2mi", 804.672),
        ("0.5mi", 804.672),
        ("200 m", 200.0),
        ("220yd", 201.168),
        ("3,5cm", 0.035),
        ("1.25 km", 1250.0),
        ("40 mm", 0.04),
        ("7", 2.1336),
    ],
)
def test_length(text: str, meters: float) -> None:
    assert parse_length(text, "ft") == pytest.approx(meters, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "abc", "-3m", "nan", "inf", "1e3", "3'4'", "2in 3ft", "1 2 3", "3 1/0in", "4 acres"],
)
def test_length_refused(text: str) -> None:
    with pytest.raises(UsageError, match="length") as told:
        parse_length(text, "m")
    assert "\n" not in str(told.value)


def test_length_with_a_thousands_comma_is_refused() -> None:
    # 1,000 ft is either 1 ft or 1000 ft; guessing would be wrong a thousandfold.
    with pytest.raises(UsageError, match="two numbers"):
        parse_length("1,000 ft", "m")


@given(st.integers(1, 5000), st.sampled_from(["in", "ft", "yd", "mi", "cm", "m", "km"]))
def test_length_bare_number_takes_the_default_unit(number: int, unit: str) -> None:
    assert parse_length(str(number), unit) == parse_length(f"{number}{unit}", "mm")


@pytest.mark.parametrize(
    ("text", "deg", "reference"),
    [
        ("120M", 120, "magnetic"),
        ("120 magnetic", 120, "magnetic"),
        ("120T", 120, "true"),
        ("45", 45, None),
        ("45.5°", 45.5, None),
        ("45 deg true", 45, "true"),
        ("0", 0, None),
        ("360", 0, None),
        ("NE", 45, None),
        ("nnw", 337.5, None),
        ("NNE T", 22.5, "true"),
        ("south-east m", 135, "magnetic"),
        ("North", 0, None),
    ],
)
def test_bearing(text: str, deg: float, reference: str | None) -> None:
    assert parse_bearing(text) == Bearing(deg, reference)  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["361", "-1", "360.1", "", "NEM", "up", "T", "S45E", "nan"])
def test_bearing_refused(text: str) -> None:
    with pytest.raises(UsageError, match="bearing"):
        parse_bearing(text)


@given(st.floats(-720, 720))
def test_compass_word_is_the_nearest_point(deg: float) -> None:
    point = parse_bearing(compass_word(deg)).deg
    assert abs((deg - point + 180) % 360 - 180) <= 11.25 + 1e-9


def test_compass_word_turns_over_at_north() -> None:
    assert [compass_word(d) for d in (348.7, 348.8, 0, 11.2, 11.3)] == ["NNW", "N", "N", "N", "NNE"]


@pytest.mark.parametrize(
    "text",
    [
        "44.125,-71.5",
        "44.125 -71.5",
        "44,125; -71,5",
        "44.125N 71.5W",
        "N44.125 W71.5",
        "71.5 W, 44.125 N",
        "44°07'30\"N 71°30'W",
        "44°07′30″N, 71°30′00″W",
        "44 07.5 N, 71 30.0 W",
        "44 07 30 -71 30 00",
        "44:07:30, -71:30",
    ],
)
def test_lat_lon(text: str) -> None:
    assert parse_lat_lon(text) == pytest.approx((44.125, -71.5), abs=1e-12)


def test_lat_lon_of_a_surveyed_point() -> None:
    # Flinders Peak, Geoscience Australia, GDA technical manual (value from memory):
    # 37°57'03.72030"S 144°25'29.52440"E = -37.951033417, 144.424867889.
    place = parse_lat_lon("37°57'03.72030\"S 144°25'29.52440\"E")
    assert place == pytest.approx((-37.951033417, 144.424867889), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("95,10", "latitude 95"),
        ("44,-195", "longitude -195"),
        ("-91.5 10", "latitude -91.5"),
        ("44,123 -71,5", "not a latitude and a longitude"),
        ("44", "not a latitude and a longitude"),
        ("", "not a latitude and a longitude"),
        ("nan,1", "NAN"),
        ("N44 N45", "one latitude and one longitude"),
        ("44.5N 71", "one direction only"),
        ("-44N,71W", "twice"),
        ("44 75,71 2", "44 75"),
    ],
)
def test_lat_lon_refused(text: str, names: str) -> None:
    with pytest.raises(UsageError, match=names) as told:
        parse_lat_lon(text)
    assert "\n" not in str(told.value)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_lat_lon_round_trip(lat: float, lon: float) -> None:
    assert parse_lat_lon(f"{lat:.7f},{lon:.7f}") == pytest.approx((lat, lon), abs=6e-8)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("30min", 1800),
        ("2h", 7200),
        ("45 s", 45),
        ("3d", 259200),
        ("1h 30min", 5400),
        ("1.5 h", 5400),
    ],
)
def test_duration(text: str, seconds: float) -> None:
    assert parse_duration(text) == seconds


@pytest.mark.parametrize("text", ["", "30", "5x", "30min 1h", "-2h", "2h 3"])
def test_duration_refused(text: str) -> None:
    with pytest.raises(UsageError, match="duration"):
        parse_duration(text)


@pytest.mark.parametrize(
    ("meters", "imperial", "metric"),
    [(201.168, "220 yd", "201 m"), (1609.344, "1 mi", "1.6 km"), (2500, "1.6 mi", "2.5 km")],
)
def test_format_length(meters: float, imperial: str, metric: str) -> None:
    assert format_length(meters, "imperial") == imperial
    assert format_length(meters, "metric") == metric


def test_format_length_small() -> None:
    assert format_length(0.8636, "imperial", small=True) == "34 in"
    assert format_length(0.0889, "imperial", small=True) == "3.5 in"
    assert format_length(0.86, "metric", small=True) == "86 cm"


@given(st.floats(0, 50_000), st.sampled_from(["imperial", "metric"]), st.booleans())
def test_format_length_reads_back(meters: float, units: str, small: bool) -> None:
    shown = format_length(meters, units, small)  # type: ignore[arg-type]
    step = 0.0127 if small else 0.5 if meters < 804 else 0.05 * 1609.344
    assert parse_length(shown, "m") == pytest.approx(meters, abs=step + 1e-6 + 0.5 * (not small))


@given(st.dates(date(1900, 1, 1), date(2199, 12, 31)))
def test_day_round_trip(day: date) -> None:
    assert parse_day(f" {day.isoformat()} ") == day


@pytest.mark.parametrize("text", ["2026-02-30", "20260314", "14.13.2026", "2026-3-4", "", "today"])
def test_day_refused(text: str) -> None:
    with pytest.raises(UsageError, match="is not a day"):
        parse_day(text)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("8/10/25", "Aug 10, 2025 or 2025-08-10"),
        ("8/10/2025", "Aug 10, 2025 or 2025-08-10"),
        ("14.3.2026", "Mar 14, 2026 or 2026-03-14"),
        ("11-4-2025 17:30", "Nov 4, 2025 or 2025-11-04"),
    ],
)
def test_a_day_in_figures_is_asked_for_another_way(text: str, meant: str) -> None:
    """Some put the month first, some the day."""
    for read in (parse_day, parse_when):
        with pytest.raises(UsageError) as e:
            read(text)
        assert e.value.remedy == f"write it as {meant}"


def test_when_a_day_is_whole_and_naive() -> None:
    when = parse_when("2026-09-01")
    assert (when.whole_day, when.moment) == (True, datetime.fromisoformat("2026-09-01"))


def test_when_local_time_stays_naive() -> None:
    when = parse_when("2026-09-01 17:30")
    assert (when.whole_day, when.moment, when.text) == (
        False,
        datetime.fromisoformat("2026-09-01T17:30"),
        "2026-09-01 17:30",
    )


@pytest.mark.parametrize(
    "text", ["2026-09-01T17:30:00-04:00", "2026-09-01 17:30 -0400", "2026-09-01T21:30Z"]
)
def test_when_with_offset_is_aware(text: str) -> None:
    assert parse_when(text).moment == datetime(2026, 9, 1, 21, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "x",
        "2026-09-01 25:00",
        "2026-09-01 17",
        "2026-02-30 10:00",
        "2026-09-01Z",
        "2026-09-01 10:00+99:00",
    ],
)
def test_when_refused(text: str) -> None:
    with pytest.raises(UsageError, match=r"isn't a date or time|is not a day"):
        parse_when(text)


@given(
    st.datetimes(datetime(1900, 1, 2), datetime(2199, 12, 30)),
    st.integers(-12 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m))),
)
def test_when_iso_round_trip(moment: datetime, zone: timezone) -> None:
    assert parse_when(moment.isoformat()).moment == moment
    aware = moment.replace(tzinfo=zone)
    assert parse_when(aware.isoformat()).moment.utcoffset() == aware.utcoffset()
    assert parse_when(aware.isoformat()).moment == aware


@given(
    st.text(alphabet="0123456789.,-+/:;'\"°′″ NSEWTMmftincdhyk²٣", max_size=24)
    | st.text(max_size=24)
)
def test_nothing_said_ends_in_a_traceback(text: str) -> None:
    for parse in (
        lambda said: parse_length(said, "ft"),
        parse_duration,
        parse_bearing,
        parse_lat_lon,
        parse_day,
        parse_when,
    ):
        with suppress(UsageError):
            assert parse(text) is not None


@pytest.mark.parametrize(
    ("deg", "told"),
    [(0, "N (0°)"), (359.7, "N (0°)"), (217, "SW (217°)"), (90, "E (90°)"), (348, "NNW (348°)")],
)
def test_a_bearing_is_told_letters_first(deg: float, told: str) -> None:
    assert format_bearing(deg) == told


def test_the_range_of_a_bearing_is_told_in_letters() -> None:
    assert format_bearing(301, 274, 328) == "WNW (301°, anywhere W to NNW)"
    assert format_bearing(12, 259, 486) == "NNE (12°, anywhere W to SE)"
    assert format_bearing(217, 214, 221) == "SW (217°)"


def test_a_count_and_what_follows_agree() -> None:
    said = [numbered(n, "picture waits", "pictures wait") for n in (0, 1, 2, 1500)]
    assert said == ["0 pictures wait", "1 picture waits", "2 pictures wait", "1,500 pictures wait"]
