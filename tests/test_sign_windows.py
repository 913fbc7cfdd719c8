"""When a sign was made: the design's defaults. Common practice, no source."""

from __future__ import annotations

import time
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.logbook.things import SIGN_KINDS
from camsign.sign.aging import rows, state_of
from camsign.sign.windows import (
    MadeWindow,
    SightingLook,
    made_window,
    on_day,
    rubbing_season,
    windows_of,
)

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
    start = time.process_time()
    made = [made_window("rub", d, None, None, None, None, HOME) for d in days]
    assert time.process_time() - start < 2
    assert len(made) == 20_000 and isinstance(made[0], MadeWindow)


def looked(
    kind: str, state: str, seen: date, species: str | None = None, **table: object
) -> tuple[date, date]:
    home = Settings(id="x", tz="UTC", aging=table) if table else HOME
    made = made_window(kind, seen, state, species, None, None, home)
    return made.made_from, made.made_to


MARCH = date(2026, 3, 14)


def test_the_look_of_a_rub_narrows_its_window() -> None:
    assert looked("rub", "fresh", date(2025, 10, 20)) == (date(2025, 10, 6), date(2025, 10, 20))
    assert looked("rub", "bright", date(2025, 10, 20)) == (date(2025, 9, 1), date(2025, 10, 17))
    assert looked("rub", "healing", MARCH) == (date(2025, 9, 1), date(2025, 9, 25))
    assert looked("rub", "healing", MARCH, "quaking aspen") == (
        date(2025, 9, 1),
        date(2025, 10, 15),
    )
    assert looked("rub", "dry", MARCH) == (date(2025, 10, 10), date(2025, 12, 20))
    assert looked("rub", "old", MARCH) == (date(2021, 9, 1), date(2024, 12, 31))
    assert looked("scrape", "fresh", date(2025, 10, 20)) == (date(2025, 10, 13), date(2025, 10, 20))


def test_a_look_that_cannot_be_says_nothing() -> None:
    """Dry in the second week of the season: made around the rut it was not."""
    assert looked("rub", "dry", date(2025, 9, 10)) == (date(2025, 9, 1), date(2025, 9, 10))
    assert looked("rub", "sparkling", MARCH) == window("rub", MARCH)


def test_a_person_overrides_single_values_and_adds_rows() -> None:
    own = {"fresh": {"days": 5}, "mossy": {"words": ["moss"], "seasons_back": 2}}
    assert looked("rub", "fresh", date(2025, 10, 20), rub=own)[0] == date(2025, 10, 15)
    assert looked("rub", "mossy", MARCH, rub=own) == (date(2023, 9, 1), date(2024, 12, 31))
    assert looked("rub", "dry", MARCH, rub=own) == looked("rub", "dry", MARCH)
    home = Settings(id="x", tz="UTC", aging={"rub": own})
    assert state_of("rub", "moss", home) == "mossy"
    assert state_of("rub", "Green", home) == "fresh"


@pytest.mark.parametrize("row", [{"dry": {"from": "13-01"}}, {"dry": {"from": "x"}}, {"dry": 3}])
def test_a_table_without_sense_is_told_in_one_line(row: dict[str, object]) -> None:
    with pytest.raises(UsageError, match=r"under \[ageing\] in logbook.toml"):
        looked("rub", "dry", MARCH, rub=row)


def test_words_for_looks() -> None:
    for kind in SIGN_KINDS:
        for state, row in rows(kind, HOME).items():
            assert {state_of(kind, word, HOME) for word in [state, *row["words"]]} == {state}
    assert state_of("rub", "Not there", HOME) == "absent"
    with pytest.raises(UsageError, match="say fresh, bright, healing, dry, old, not there"):
        state_of("rub", "shiny", HOME)


def spans(*looks: SightingLook, kind: str = "rub") -> list[tuple[date, date] | None]:
    made = windows_of(kind, None, looks, HOME)
    return [(w.made_from, w.made_to) if w else None for w in made]


def test_absent_one_day_and_there_the_next_was_made_between() -> None:
    absent = SightingLook(date(2025, 9, 20), "absent")
    there = SightingLook(date(2025, 10, 4))
    assert spans(there, absent) == [(date(2025, 9, 20), date(2025, 10, 4)), None]
    # An absence of an earlier year bounds nothing.
    assert spans(SightingLook(date(2024, 9, 20), "absent"), there)[1] == (
        date(2025, 9, 1),
        date(2025, 10, 4),
    )


def test_looks_at_one_making_share_what_each_tells() -> None:
    early, late = SightingLook(date(2025, 10, 4)), SightingLook(MARCH, "healing")
    assert spans(early, late) == [(date(2025, 9, 1), date(2025, 9, 25))] * 2
    assert spans(late, early) == [(date(2025, 9, 1), date(2025, 9, 25))] * 2
    assert (
        spans(SightingLook(date(2025, 9, 12)), SightingLook(MARCH))
        == [(date(2025, 9, 1), date(2025, 9, 12))] * 2
    )


def test_rubbed_anew_and_rubbed_in_another_season() -> None:
    assert spans(
        SightingLook(date(2025, 10, 1), "fresh"), SightingLook(date(2025, 10, 9), "fresh")
    ) == [
        (date(2025, 9, 17), date(2025, 10, 1)),
        (date(2025, 10, 1), date(2025, 10, 9)),
    ]
    assert spans(SightingLook(date(2024, 11, 1)), SightingLook(date(2025, 11, 1))) == [
        (date(2024, 9, 1), date(2024, 11, 1)),
        (date(2025, 9, 1), date(2025, 11, 1)),
    ]


@given(
    st.lists(
        st.builds(
            SightingLook,
            st.dates(date(2023, 1, 1), date(2026, 12, 31)),
            st.sampled_from([None, "absent", "fresh", "bright", "healing", "dry", "old"]),
        ),
        max_size=6,
    )
)
def test_narrowed_windows_still_end_by_the_day_seen(looks: list[SightingLook]) -> None:
    for look, made in zip(looks, windows_of("rub", None, looks, HOME), strict=True):
        assert (made is None) == (look.state == "absent")
        assert made is None or made.made_from <= made.made_to <= look.seen_on
