"""When a sign was made: the design's defaults. Common practice, no source."""

from __future__ import annotations

import time
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from camsign.logbook.settings import Settings
from camsign.sign.windows import MadeWindow, made_window, on_day, rubbing_season

HOME = Settings(id="x", tz="America/New_York")
WINTER = Settings(id="x", tz="America/New_York", rubbing=((12, 1), (2, 15)))


def window(
    kind: str, seen: date, first: date | None = None, last: date | None = None
) -> tuple[date, date]:
    made = made_window(kind, seen, None, None, first, last, HOME)
    return made.made_from, made.made_to


def test_a_rub_seen_in_march_was_made_last_autumn() -> None:
    assert window("rub", date(2026, 3, 14)) == (date(2025, 9, 1), date(2025, 12, 31))


def test_a_scrape_seen_in_october_was_made_by_then() -> None:
    assert window("scrape", date(2025, 10, 20)) == (date(2025, 9, 1), date(2025, 10, 20))


def test_the_season_begins_on_its_first_day() -> None:
    assert window("rub", date(2025, 9, 1)) == (date(2025, 9, 1), date(2025, 9, 1))
    assert window("rub", date(2025, 8, 31)) == (date(2024, 9, 1), date(2024, 12, 31))


def test_other_sign_is_at_most_thirty_days_old() -> None:
    assert window("bed", date(2026, 3, 14)) == (date(2026, 2, 12), date(2026, 3, 14))


def test_days_said_outright_go_first_and_end_on_the_day_seen() -> None:
    seen = date(2026, 3, 14)
    assert window("rub", seen, date(2025, 10, 1), date(2025, 10, 9)) == (
        date(2025, 10, 1),
        date(2025, 10, 9),
    )
    assert window("rub", seen, date(2025, 10, 1)) == (date(2025, 10, 1), date(2025, 12, 31))
    assert window("rub", seen, date(2026, 2, 1)) == (date(2026, 2, 1), seen)
    assert window("rub", seen, None, date(2025, 9, 20)) == (date(2025, 9, 1), date(2025, 9, 20))
    assert window("rub", seen, None, date(2025, 6, 1)) == (date(2025, 6, 1), date(2025, 6, 1))
    assert window("rub", seen, date(2025, 10, 1), date(2027, 1, 1))[1] == seen


def test_a_rubbing_season_over_new_year() -> None:
    assert rubbing_season(date(2026, 1, 5), WINTER) == (date(2025, 12, 1), date(2026, 2, 15))
    assert rubbing_season(date(2026, 6, 5), WINTER, back=1) == (
        date(2024, 12, 1),
        date(2025, 2, 15),
    )


def test_a_day_the_month_lacks_is_its_last() -> None:
    assert on_day(2025, (2, 29)) == date(2025, 2, 28)
    assert on_day(2025, (6, 31)) == date(2025, 6, 30)


@given(
    st.sampled_from(["rub", "scrape", "bed", "shed"]),
    st.dates(date(2000, 1, 1), date(2100, 1, 1)),
    st.none() | st.dates(),
    st.none() | st.dates(),
)
def test_no_window_runs_backwards_or_past_the_day_seen(
    kind: str, seen: date, first: date | None, last: date | None
) -> None:
    made = made_window(kind, seen, None, None, first, last, WINTER)
    assert made.made_from <= made.made_to <= seen


def test_twenty_thousand_are_cheap() -> None:
    days = [date(2020, 1, 1) + timedelta(i % 2000) for i in range(20_000)]
    start = time.perf_counter()
    made = [made_window("rub", d, None, None, None, None, HOME) for d in days]
    assert time.perf_counter() - start < 2
    assert len(made) == 20_000 and isinstance(made[0], MadeWindow)
