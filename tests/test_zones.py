"""Time zones: offsets against zoneinfo itself, walls of the two odd hours, places to zone names."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.zones import country_of, offset_s, offsets, to_utc, zone, zone_of

NEW_YORK = "America/New_York"


def test_both_switches_of_a_year_are_found_to_the_second() -> None:
    # 15 U.S.C. 260a: second Sunday in March and first Sunday in November, at 2 o'clock local.
    spans = offsets(NEW_YORK, datetime(2025, 1, 1, tzinfo=UTC), datetime(2026, 1, 1, tzinfo=UTC))
    assert [s.seconds for s in spans] == [-18000, -14400, -18000]
    assert spans[1].start == datetime(2025, 3, 9, 7, tzinfo=UTC)
    assert spans[1].stop == datetime(2025, 11, 2, 6, tzinfo=UTC)


def test_the_hour_that_comes_twice_means_the_first_and_the_missing_one_is_refused() -> None:
    assert to_utc(datetime(2025, 11, 2, 1, 30), NEW_YORK) == datetime(
        2025, 11, 2, 5, 30, tzinfo=UTC
    )
    with pytest.raises(UsageError, match="did not exist"):
        to_utc(datetime(2025, 3, 9, 2, 30), NEW_YORK)


def test_places_have_their_zones() -> None:
    # From the IANA zone map, common knowledge of these places.
    assert zone_of(44.6, -71.2) == NEW_YORK
    assert zone_of(46.5, -87.4) == "America/Detroit"
    assert zone_of(48.1, 11.6) == "Europe/Berlin"


def test_an_unknown_zone_is_one_clear_line() -> None:
    with pytest.raises(UsageError, match="no time zone 'Nowhere/Hill'"):
        zone("Nowhere/Hill")


@given(
    st.sampled_from([NEW_YORK, "Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "UTC"]),
    st.integers(0, 360),
    st.integers(1, 500),
    st.integers(0, 86399),
)
def test_spans_cover_the_time_and_agree_with_zoneinfo(
    tz: str, first: int, days: int, second: int
) -> None:
    start = datetime(2024, 1, 1, tzinfo=UTC) + timedelta(days=first)
    stop = start + timedelta(days=days)
    spans = offsets(tz, start, stop)
    assert spans[0].start == start
    assert spans[-1].stop == stop
    assert all(a.stop == b.start for a, b in zip(spans, spans[1:], strict=False))
    at = start + timedelta(days=days // 2, seconds=second % (days * 1800))
    here = next(s for s in spans if s.start <= at < s.stop)
    offset = at.astimezone(ZoneInfo(tz)).utcoffset()
    assert offset is not None
    assert here.seconds == offset.total_seconds() == offset_s(tz, at)


def test_a_zone_is_told_with_its_country() -> None:
    # ISO 3166-1: KZ is Kazakhstan; Etc zones lie at sea and belong to nobody.
    assert country_of("Asia/Almaty") == "Kazakhstan"
    assert country_of("America/New_York") == "United States"
    assert country_of("Etc/GMT+5") is None
