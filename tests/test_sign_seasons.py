"""What a sign means by the time of year at which it was seen: docs/sign.md, row by row, by hand.

Every expected day here was written down from the words of that page, not from the program. Where a
row has a published source it is named in the table itself; all else is common practice, no source.
"""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.logbook.settings import Settings
from camsign.logbook.things import SIGN_KINDS
from camsign.sign.aging import rows
from camsign.sign.windows import SightingLook, made_window, windows_of

HOME = Settings(id="x", tz="America/New_York")


def day(text: str) -> date:
    return date.fromisoformat(text)


# kind, look, species, seen, made from, made to
ROWS = [
    # Rubs: antlers are hard from September to the end of December, so no rub is made outside that.
    ("rub", None, None, "2025-11-05", "2025-09-01", "2025-11-05"),
    ("rub", None, None, "2026-03-14", "2025-09-01", "2025-12-31"),
    ("rub", None, None, "2026-07-20", "2025-09-01", "2025-12-31"),
    ("rub", "fresh", None, "2025-10-20", "2025-10-06", "2025-10-20"),
    ("rub", "fresh", None, "2025-09-05", "2025-09-01", "2025-09-05"),
    # In the cold the wood keeps its look: fresh in winter or early May is the later part of fall.
    ("rub", "fresh", None, "2026-01-05", "2025-10-15", "2025-12-31"),
    ("rub", "fresh", None, "2026-03-14", "2025-10-15", "2025-12-31"),
    # In May the trees grow: no rub of last fall looks fresh any more, so the look says nothing.
    ("rub", "fresh", None, "2026-05-10", "2025-09-01", "2025-12-31"),
    ("rub", "bright", None, "2025-10-20", "2025-09-01", "2025-10-17"),
    ("rub", "bright", None, "2026-03-14", "2025-09-01", "2025-12-31"),
    ("rub", "bright", None, "2026-05-10", "2025-09-01", "2025-12-31"),
    ("rub", "healing", None, "2025-11-10", "2025-09-01", "2025-09-25"),
    ("rub", "healing", None, "2026-03-14", "2025-09-01", "2025-09-25"),
    ("rub", "healing", "quaking aspen", "2026-03-14", "2025-09-01", "2025-10-15"),
    # By summer every rub of last fall has begun to close.
    ("rub", "healing", None, "2026-07-20", "2025-09-01", "2025-12-31"),
    ("rub", "healing", "quaking aspen", "2026-07-20", "2025-09-01", "2025-12-31"),
    ("rub", "dry", None, "2025-12-24", "2025-10-10", "2025-12-20"),
    ("rub", "dry", None, "2026-03-14", "2025-10-10", "2025-12-20"),
    ("rub", "dry", None, "2026-07-20", "2025-09-01", "2025-12-31"),
    # Gray in deer season or winter is a former fall; gray in summer may be last fall's.
    ("rub", "old", None, "2025-11-10", "2021-09-01", "2024-12-31"),
    ("rub", "old", None, "2026-03-14", "2021-09-01", "2024-12-31"),
    ("rub", "gray", None, "2026-07-20", "2022-09-01", "2025-12-31"),
    ("rub", "callused", None, "2026-07-20", "2022-09-01", "2025-12-31"),
    # Scrapes
    ("scrape", None, None, "2025-11-05", "2025-09-01", "2025-11-05"),
    ("scrape", "fresh", None, "2025-10-20", "2025-10-13", "2025-10-20"),
    ("scrape", "fresh", None, "2026-03-20", "2025-10-01", "2025-12-31"),
    ("scrape", "active", None, "2026-07-14", "2025-10-01", "2026-07-14"),
    ("scrape", "dry", None, "2025-11-05", "2025-09-01", "2025-11-02"),
    ("scrape", "dry", None, "2026-03-20", "2025-10-01", "2025-12-31"),
    ("scrape", "old", None, "2025-11-20", "2025-09-01", "2025-11-06"),
    ("scrape", "old", None, "2026-07-14", "2025-09-01", "2025-12-31"),
    # Beds
    ("bed", None, None, "2025-11-02", "2025-10-03", "2025-11-02"),
    ("bed", None, None, "2026-03-14", "2026-02-12", "2026-03-14"),
    ("bed", "fresh", None, "2025-11-02", "2025-10-31", "2025-11-02"),
    ("bed", "snow", None, "2026-02-01", "2026-01-18", "2026-02-01"),
    ("bed", "old", None, "2025-11-02", "2025-09-01", "2025-10-31"),
    ("bed", "old", None, "2026-03-14", "2025-09-01", "2026-03-12"),
    ("bed", "worn", None, "2026-03-14", "2022-09-01", "2026-03-14"),
    ("bed", "worn to dirt", None, "2025-10-10", "2022-09-01", "2025-10-10"),
    # Short-lived sign
    ("track", None, None, "2025-11-15", "2025-11-01", "2025-11-15"),
    ("track", "fresh", None, "2025-11-15", "2025-11-13", "2025-11-15"),
    ("track", "old", None, "2025-11-30", "2025-10-31", "2025-11-29"),
    ("droppings", None, None, "2025-11-15", "2025-10-16", "2025-11-15"),
    ("droppings", "fresh", None, "2025-11-15", "2025-11-13", "2025-11-15"),
    ("droppings", "dry", None, "2025-11-15", "2024-11-15", "2025-11-13"),
    ("browse", None, None, "2026-02-15", "2026-01-16", "2026-02-15"),
    ("browse", "fresh", None, "2026-02-15", "2026-02-01", "2026-02-15"),
    ("browse", "old", None, "2026-02-15", "2025-02-15", "2026-02-01"),
    ("trail", None, None, "2025-11-15", "2025-10-16", "2025-11-15"),
    # Sheds have a season of their own.
    ("shed", None, None, "2026-05-10", "2025-12-01", "2026-03-31"),
    ("shed", None, None, "2026-01-10", "2025-12-01", "2026-01-10"),
    ("shed", None, None, "2025-11-20", "2024-12-01", "2025-03-31"),
    ("shed", "fresh", None, "2026-04-02", "2025-12-01", "2026-03-31"),
    ("shed", "chalky", None, "2026-05-10", "2021-12-01", "2025-03-31"),
]


@pytest.mark.parametrize(("kind", "look", "species", "seen", "first", "last"), ROWS)
def test_a_row_of_the_table(
    kind: str, look: str | None, species: str | None, seen: str, first: str, last: str
) -> None:
    from camsign.sign.aging import state_of

    state = state_of(kind, look, HOME) if look else None
    made = made_window(kind, day(seen), state, species, None, None, HOME)
    assert (made.made_from, made.made_to) == (day(first), day(last))


def test_every_look_of_every_kind_stands_above() -> None:
    from camsign.sign.aging import state_of

    tried = {(kind, state_of(kind, look, HOME)) for kind, look, *_ in ROWS if look}
    assert tried == {(kind, look) for kind in SIGN_KINDS for look in rows(kind, HOME)}


@given(
    st.sampled_from([None, "fresh", "bright", "healing", "dry", "old"]),
    st.dates(date(2020, 1, 1), date(2030, 12, 31)),
)
def test_no_rub_is_made_outside_the_rubbing_season(look: str | None, seen: date) -> None:
    made = made_window("rub", seen, look, None, None, None, HOME)
    for end in (made.made_from, made.made_to):
        assert 9 <= end.month <= 12


def test_a_fresh_look_in_winter_does_not_say_that_it_was_made_anew() -> None:
    """It was there in November; that the frost kept it bright until March makes it no new rub."""
    seen = [SightingLook(day("2025-11-20")), SightingLook(day("2026-03-14"), "fresh")]
    made = windows_of("rub", None, seen, HOME)
    assert [(w.made_from, w.made_to) for w in made if w] == [
        (day("2025-10-15"), day("2025-11-20"))
    ] * 2


def test_a_rub_unlike_its_season_is_told_why() -> None:
    assert "hard" in made_window("rub", day("2026-05-10"), "fresh", None, None, None, HOME).basis
    assert "yard" in made_window("bed", day("2026-03-14"), None, None, None, None, HOME).basis
