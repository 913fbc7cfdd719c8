"""The camera clock's reading: which spellings are taken, which refused, and the text round-trip."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.formats.shown import ShownTime, read_offset, read_shown

NOON = ShownTime(2023, 5, 4, 10, 11, 12)

shown_times = st.builds(
    lambda at, fraction: ShownTime(
        at.year, at.month, at.day, at.hour, at.minute, at.second, fraction
    ),
    st.datetimes(),
    st.none() | st.integers(0, 999_999).map(lambda micros: micros / 1_000_000),
)


# Spellings seen in real files, as in the sample folder's derived_dates.
@pytest.mark.parametrize(
    ("text", "taken", "doubted"),
    [
        ("2023:05:04 10:11:12", NOON, ""),
        ("2023:05:04 10:11:12\x00", NOON, ""),
        ("2023-05-04 10:11:12", NOON, ""),
        ("2023/05/04 10:11:12", NOON, ""),
        ("2023.05.04 10:11:12", NOON, ""),
        ("2023-05-04T10:11:12", NOON, ""),
        ("2023:05:04 10:11:12.5", ShownTime(2023, 5, 4, 10, 11, 12, 0.5), ""),
        ("2023:05:04 10:11:12 PM", ShownTime(2023, 5, 4, 22, 11, 12), "hour taken as 22"),
        ("2023:05:04 12:11:12 am", ShownTime(2023, 5, 4, 0, 11, 12), "hour taken as 00"),
        ("2023:05:04 12:11:12PM", ShownTime(2023, 5, 4, 12, 11, 12), "hour taken as 12"),
        ("2023:05:04 22:11:12 PM", ShownTime(2023, 5, 4, 22, 11, 12), "hour taken as 22"),
        ("2023:05:04 10:11", ShownTime(2023, 5, 4, 10, 11, 0), "without seconds"),
        ("2023:05:04 10:11:60", ShownTime(2023, 5, 4, 10, 11, 59), "taken as 59"),
        ("2023:05:04 10:11:12Z", NOON, "not trusted"),
        ("2023:05:04 10:11:12+02:00", NOON, "offset is taken"),
        ("2024:02:29 10:11:12", ShownTime(2024, 2, 29, 10, 11, 12), ""),
        ("2023:02:29 10:11:12", None, "no day 29"),
        ("2023:13:04 10:11:12", None, "no month 13"),
        ("2023:05:04 24:00:00", None, "this midnight or the next"),
        ("2023:05:04 14:11:12 AM", None, "contradicts"),
        ("2023:05:04 00:11:12 PM", None, "contradicts"),
        ("2023:05:04 10:61:12", None, "no time 10:61:12"),
        ("2023:05:04", None, "without a time of day"),
        ("23:05:04 10:11:12", None, "several dates"),
        ("04/05/2023 10:11:12", None, "several dates"),
        ("0000:00:00 00:00:00", None, "not set"),
        ("    :  :     :  :  ", None, "not set"),
        ("", None, "not set"),
        ("2023-05/04 10:11:12", None, "no time"),
        ("yesterday", None, "no time"),
    ],
)
def test_each_spelling_is_taken_or_refused_with_its_reason(
    text: str, taken: ShownTime | None, doubted: str
) -> None:
    reading = read_shown(text)
    assert reading.shown == taken
    assert doubted in reading.doubt
    assert bool(reading.doubt) == bool(doubted)


def test_an_offset_at_the_end_is_handed_out_and_a_z_is_not() -> None:
    assert read_shown("2023:05:04 10:11:12-0530").offset_minutes == -330
    assert read_shown("2023:05:04 10:11:12Z").offset_minutes is None


@given(st.datetimes(min_value=datetime(1000, 1, 1)))
def test_the_standards_spelling_is_read_as_the_standard_library_writes_it(at: datetime) -> None:
    shown = read_shown(at.strftime("%Y:%m:%d %H:%M:%S")).shown
    assert shown is not None
    assert shown.iso() == at.isoformat(timespec="seconds")


@given(shown_times)
def test_iso_is_read_by_the_standard_library_as_it_was(shown: ShownTime) -> None:
    at = datetime.fromisoformat(shown.iso())
    clock = (shown.year, shown.month, shown.day, shown.hour, shown.minute, shown.second)
    assert at.timetuple()[:6] == clock
    assert at.microsecond == round(1e6 * (shown.fraction_s or 0.0))


@given(shown_times, shown_times)
def test_texts_sort_as_the_clock_runs(one: ShownTime, other: ShownTime) -> None:
    def key(shown: ShownTime) -> tuple[float, ...]:
        clock = (shown.year, shown.month, shown.day, shown.hour, shown.minute, shown.second)
        return (*clock, shown.fraction_s or 0.0)

    if key(one) != key(other):
        assert (one.iso() < other.iso()) == (key(one) < key(other))


@given(st.text(max_size=40))
def test_no_text_breaks_the_reader(text: str) -> None:
    reading = read_shown(text)
    assert reading.shown is not None or reading.doubt


def test_fractions_keep_three_digits_or_as_many_as_they_need() -> None:
    assert ShownTime(2023, 5, 4, 1, 2, 3, 0.24).iso() == "2023-05-04T01:02:03.240"
    assert ShownTime(2023, 5, 4, 1, 2, 3, 0.935476).iso() == "2023-05-04T01:02:03.935476"
    assert ShownTime(2023, 5, 4, 1, 2, 3, 0.9999999).fraction_s == 0.999999


def test_a_day_that_no_calendar_has_is_refused_in_one_line() -> None:
    with pytest.raises(UsageError, match="2024-11-09T07:31:46"):
        ShownTime(2023, 2, 29, 0, 0, 0)


def test_years_before_trail_cameras_and_days_to_come_are_doubted_but_kept() -> None:
    today = date(2024, 11, 9)
    assert "never set" in ShownTime(2000, 1, 1, 0, 0, 3).doubt(today)
    assert "never set" in ShownTime(1970, 1, 1, 0, 0, 0).doubt(today)
    assert "still to come" in ShownTime(2099, 12, 31, 23, 59, 59).doubt(today)
    assert ShownTime(2024, 11, 9, 23, 0, 0).doubt(today) == ""
    after = today + timedelta(days=1)  # a place east of this machine may have begun the next day
    assert ShownTime(after.year, after.month, after.day, 1, 0, 0).doubt(today) == ""
    assert ShownTime(2024, 11, 11, 0, 0, 0).doubt(today)


# Spellings of OffsetTime: Exif 2.31 (CIPA DC-008-2016), "+09:00", blanks when unknown.
@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("+09:00", 540),
        ("-05:00\x00", -300),
        ("-0330", -210),
        ("Z", 0),
        ("   :  ", None),
        ("", None),
        ("+25:00", None),
        ("+05:99", None),
        ("-13:00", None),
        ("+14:00", 840),
        ("EST", None),
    ],
)
def test_offsets_are_minutes_east_or_nothing(text: str, minutes: int | None) -> None:
    assert read_offset(text) == minutes
