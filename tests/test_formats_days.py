"""Days and hours as the people of a logbook read them; the rules that find what is not."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from said import faults

from camsign.formats.days import People, day, span

IMPERIAL, METRIC = People("imperial"), People("metric")


def test_an_apostrophe_begins_no_quotation() -> None:
    """Can't and season's are no quotes around the day between them; a quoted name is."""
    said = "Can't call it: your newest picture is from 2025-12-05. Load this season's cards."
    assert "Dec 5, 2025" in IMPERIAL.prose(said)
    assert "'2025-12-05 oak'" in IMPERIAL.prose("there is no place '2025-12-05 oak'; name another")
    assert "Dec 5, 2025" in IMPERIAL.prose("Ferrous' last day was 2025-12-05, not Forky's")


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_the_rules_find_what_they_are_for(units: str) -> None:
    said = "in reach of 200 m, at 18:42 on 2025-12-05, heading 217° past it, or 4:07 PM, 219 yd"
    assert len(faults(said, units == "imperial")) == 4
    fine = {
        "imperial": "SW (217°), 219 yd, 4:07 PM",
        "metric": "SW (217°, from SSW to WSW), 200 m, 16:07",
    }
    assert faults(fine[units], units == "imperial") == []


def test_hours_and_days() -> None:
    at = datetime(2025, 12, 5, 16, 7)
    assert (IMPERIAL.clock(at), METRIC.clock(at)) == ("4:07 PM", "16:07")
    midnight, noon = datetime(2025, 1, 1, 0, 5), datetime(2025, 1, 1, 12, 5)
    assert (IMPERIAL.clock(midnight), IMPERIAL.clock(noon)) == ("12:05 AM", "12:05 PM")
    assert IMPERIAL.at(at) == "Dec 5, 2025, 4:07 PM" and IMPERIAL.at(None) == "–"
    assert span(date(2025, 11, 3), date(2025, 12, 5)) == "Nov 3 to Dec 5, 2025"
    assert span(date(2025, 11, 3), date(2026, 1, 5)) == "Nov 3, 2025 to Jan 5, 2026"
    assert span(date(2025, 11, 3), date(2025, 11, 3)) == "Nov 3, 2025" and day(None) == "–"


@given(st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1)))
def test_a_moment_in_words_is_the_same_moment(at: datetime) -> None:
    back = datetime.strptime(IMPERIAL.at(at), "%b %d, %Y, %I:%M %p")
    assert back == at.replace(second=0, microsecond=0)


def test_prose_changes_days_and_nothing_else() -> None:
    assert IMPERIAL.prose("from 2025-08-01 06:30 to 2025-12-05") == (
        "from Aug 1, 2025, 6:30 AM to Dec 5, 2025"
    )
    for kept in ("card 2025-13-45", "file 2025-10-04-a", "x2025-10-04", "12025-10-04"):
        assert IMPERIAL.prose(kept) == kept


def test_what_is_to_be_typed_or_was_typed_stays() -> None:
    for kept in (
        "look there with camsign lately --to 2026-04-11",
        "--from 2025-08-01 --to 2025-12-05",
        "'2025-08-01' is no hour",
        "/cards/2025-08-01/a.jpg",
        "IMG_2025-08-01.jpg",
        "2026-11-29T01:21:03.204Z",
    ):
        assert IMPERIAL.prose(kept) == kept
    assert METRIC.prose("say it: camsign hang A --since 2025-08-01; it ended 2025-12-05 16:07") == (
        "say it: camsign hang A --since 2025-08-01; it ended Dec 5, 2025, 16:07"
    )
