"""Times in words: a camera's comment, or the strip in its picture."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.formats.written import read_written


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("10/01/2021 07:31 PM 41F", "2021-10-01T19:31:00"),
        ("CAM03  07:31 PM  10/01/2021  41°F  30.1inHg", "2021-10-01T19:31:00"),
        ("10/01/202107:31PM41F5C", "2021-10-01T19:31:00"),
        ("CAM 12 2021-10-01 19:31:46 5C", "2021-10-01T19:31:46"),
        ("CAM03  10/01/2021  07:31:46  PM  41°F", "2021-10-01T19:31:46"),
        ("2021/10/01 19:31", "2021-10-01T19:31:00"),
        ("01 Oct 2021 07:31:46 AM", "2021-10-01T07:31:46"),
        ("October 1, 2021 12:05am", "2021-10-01T00:05:00"),
        ("10/31/2021 7:31:46 5C", "2021-10-31T07:31:46"),  # no month 31
        ("31.10.2021 07:31 5C", "2021-10-31T07:31:00"),
        ("11/11/2021 07:31 5C", "2021-11-11T07:31:00"),
        # nothing, or two things
        ("10/01/2021 07:31 5C", None),
        ("10/01/2021 41F", None),
        ("07:31 PM 41F", None),
        ("10/01/2021 07:31 PM - 10/02/2021 06:10 AM 41F", None),
        ("10/01/2021 07:31 19:31 41F", None),
        ("10/01/2021 19:31 AM 41F", None),
        ("13/13/2021 07:31 41F", None),
        ("10/01/21 07:31 PM 41F", None),
        ("2021-10-01 25:31", None),
        ("", None),
    ],
)
def test_words_that_say_a_time(text: str, iso: str | None) -> None:
    shown = read_written(text)
    assert (shown.iso() if shown else None) == iso


@given(
    st.datetimes(datetime(2005, 1, 1), datetime(2099, 12, 31)),
    st.sampled_from(["%m/%d/%Y %I:%M:%S %p 41F", "%H:%M:%S %Y.%m.%d", "%d %B %Y %I:%M:%S%p"]),
)
def test_what_python_writes_is_read_back(at: datetime, spelling: str) -> None:
    shown = read_written(at.strftime(spelling))
    assert shown is not None and shown.iso() == at.isoformat(timespec="seconds")


@given(st.text())
def test_no_words_make_it_fail(text: str) -> None:
    shown = read_written(text)
    assert shown is None or shown.iso()
