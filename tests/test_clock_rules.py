"""A deployment's clock in pieces: rules against zoneinfo, corrections by hand-computed values."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.clock.rules import (
    EARLIEST,
    LATEST,
    ClockFix,
    ClockPiece,
    clock_pieces,
)
from camsign.errors import UsageError
from camsign.logbook.records import Deployment, checked_rule

TZ = "America/New_York"
HUNG = datetime(2025, 8, 10, 21, tzinfo=UTC)
DOWN = datetime(2026, 4, 10, 21, tzinfo=UTC)


def deployed(clock: str = "hung", hung: datetime = HUNG) -> Deployment:
    return Deployment("d-1", "CAM1", 44.1, -71.2, hung, DOWN, clock=clock)


def read(pieces: list[ClockPiece], shown: datetime) -> list[datetime]:
    """Every instant that a reading can mean."""
    return [p.utc(shown) for p in pieces if p.shown_from <= shown < p.shown_until]


def only(pieces: list[ClockPiece], shown: datetime) -> datetime:
    (utc,) = read(pieces, shown)
    return utc


def test_hung_keeps_the_summer_offset_through_autumn() -> None:
    pieces = clock_pieces(deployed(), TZ)
    assert only(pieces, datetime(2025, 12, 1, 8)) == datetime(2025, 12, 1, 12, tzinfo=UTC)


def test_hung_in_winter_keeps_the_winter_offset_into_summer() -> None:
    pieces = clock_pieces(deployed(hung=datetime(2026, 1, 10, 18, tzinfo=UTC)), TZ)
    assert only(pieces, datetime(2026, 7, 1, 8)) == datetime(2026, 7, 1, 13, tzinfo=UTC)


def test_a_fixed_offset_is_kept_and_outranks_the_picture() -> None:
    (piece,) = clock_pieces(deployed("+05:30"), TZ)
    assert piece.utc(datetime(2025, 9, 1, 12)) == datetime(2025, 9, 1, 6, 30, tzinfo=UTC)
    assert piece.own_s is None


@given(st.integers(0, 364 * 24 * 60))
def test_local_agrees_with_zoneinfo_on_every_minute_of_a_year(minute: int) -> None:
    # zoneinfo (PEP 495): fold 0 and 1 are the two passes of the hour that comes twice; in the hour
    # that is left out, fold 0 keeps the offset of before.
    shown = datetime(2025, 8, 11) + timedelta(minutes=minute)
    there = shown.replace(tzinfo=ZoneInfo(TZ))
    passes = {there.replace(fold=0).astimezone(UTC), there.replace(fold=1).astimezone(UTC)}
    exists = there.astimezone(UTC).astimezone(ZoneInfo(TZ)).replace(tzinfo=None) == shown
    expected = passes if exists else {there.replace(fold=0).astimezone(UTC)}
    assert set(read(clock_pieces(deployed("local"), TZ), shown)) == expected


def test_the_odd_hours_of_local() -> None:
    pieces = clock_pieces(deployed("local"), TZ)
    # 2025-11-02 01:30 comes twice; 2026-03-08 02:30 never.
    assert read(pieces, datetime(2025, 11, 2, 1, 30)) == [
        datetime(2025, 11, 2, 5, 30, tzinfo=UTC),
        datetime(2025, 11, 2, 6, 30, tzinfo=UTC),
    ]
    assert read(pieces, datetime(2026, 3, 8, 2, 30)) == [datetime(2026, 3, 8, 7, 30, tzinfo=UTC)]


def test_one_pair_is_an_offset() -> None:
    fix = ClockFix("c-1", "pairs", [["2025-09-01T12:00:00", "2025-09-01T17:00:00Z"]])
    pieces = clock_pieces(deployed(), TZ, [fix])
    assert only(pieces, datetime(2025, 10, 1, 12)) == datetime(2025, 10, 1, 17, tzinfo=UTC)
    assert [(p.basis, p.estimated, p.own_s) for p in pieces] == [("correction c-1", False, None)]


def test_the_same_pair_twice_is_one() -> None:
    pair = ["2025-09-01T12:00:00", "2025-09-01T17:00:00Z"]
    once, twice = (
        clock_pieces(deployed(), TZ, [ClockFix("c-1", "pairs", [pair] * n)]) for n in (1, 2)
    )
    assert once == twice


def test_several_pairs_drift_in_straight_lines_and_beyond_is_marked() -> None:
    # 10 days, 10 minutes: a minute a day, slow first, then 20 days at rest.
    pairs = [
        ["2025-09-01T00:00:00", "2025-09-01T04:00:00Z"],
        ["2025-09-11T00:00:00", "2025-09-11T04:10:00Z"],
        ["2025-10-01T00:00:00", "2025-10-01T04:10:00Z"],
    ]
    pieces = clock_pieces(deployed(), TZ, [ClockFix("c-1", "pairs", pairs)])

    def utc(*shown: int) -> datetime:
        return only(pieces, datetime(*shown))

    assert utc(2025, 9, 1) == datetime(2025, 9, 1, 4, tzinfo=UTC)
    assert utc(2025, 9, 6) == datetime(2025, 9, 6, 4, 5, tzinfo=UTC)
    assert utc(2025, 9, 21) == datetime(2025, 9, 21, 4, 10, tzinfo=UTC)
    # A day before the first pair, the first line runs on: a minute less.
    assert abs(utc(2025, 8, 31) - datetime(2025, 8, 31, 3, 59, tzinfo=UTC)) < timedelta(
        milliseconds=1
    )
    guessed = [p.estimated for p in pieces]
    assert guessed == [True, False, False, True]
    at_last_pair = next(p for p in pieces if p.shown_from <= datetime(2025, 10, 1) < p.shown_until)
    assert not at_last_pair.estimated


def test_a_shift_speaks_of_the_rule_and_leaves_the_picture_its_say() -> None:
    fix = ClockFix("c-1", "shift", -3600)
    (piece,) = clock_pieces(deployed(), TZ, [fix])
    assert piece.utc(datetime(2025, 9, 1, 12)) == datetime(2025, 9, 1, 15, tzinfo=UTC)
    assert piece.own_s == 3600


def test_a_correction_of_a_span_leaves_the_rest_and_the_last_word_wins() -> None:
    first = ClockFix("c-1", "utc_offset", "+00:00", datetime(2025, 9, 1), datetime(2025, 9, 20))
    later = ClockFix("c-2", "utc_offset", "-07:00", datetime(2025, 9, 10), None)
    pieces = clock_pieces(deployed(), TZ, [first, later])
    hours = [only(pieces, datetime(2025, 9, day, 12)).hour for day in (1, 9, 10, 20)]
    assert hours == [12, 12, 19, 19]
    assert only(pieces, datetime(2025, 8, 31, 23, 59)) == datetime(2025, 9, 1, 3, 59, tzinfo=UTC)


def test_follows_local_from_a_day_on() -> None:
    fix = ClockFix("c-1", "local", None, datetime(2025, 10, 1))
    pieces = clock_pieces(deployed("-04:00"), TZ, [fix])
    assert only(pieces, datetime(2025, 12, 1, 8)) == datetime(2025, 12, 1, 13, tzinfo=UTC)
    assert only(pieces, datetime(2025, 9, 1, 8)) == datetime(2025, 9, 1, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    "fix",
    [
        ClockFix("c-1", "pairs", []),
        ClockFix("c-1", "pairs", [["never", "2025-09-01T17:00:00Z"]]),
        ClockFix("c-1", "shift", "an hour"),
        ClockFix("c-1", "utc_offset", "+99:00"),
        ClockFix("c-1", "sundial", 3),
        ClockFix("c-1", "pairs", {"2025-09-01T12:00:00": 5}),
    ],
)
def test_a_correction_that_cannot_be_understood_changes_nothing(fix: ClockFix) -> None:
    assert clock_pieces(deployed(), TZ, [fix]) == clock_pieces(deployed(), TZ)


def test_a_rule_that_cannot_be_understood_is_read_as_hung_and_says_so() -> None:
    (piece,) = clock_pieces(deployed("by the moon"), TZ)
    assert piece.offset_s == -4 * 3600
    assert "not understood" in piece.basis


def test_rules_have_one_spelling() -> None:
    words = ("Hung", " local ", "-05:00", "+0530", "−04:00")
    assert [checked_rule(w) for w in words] == ["hung", "local", "-05:00", "+05:30", "-04:00"]
    for word in ("", "z", "5", "+99:00", "summer"):
        with pytest.raises(UsageError, match="no clock rule"):
            checked_rule(word)


moments = st.datetimes(datetime(2025, 6, 1), datetime(2026, 6, 1)).map(
    lambda t: t.replace(microsecond=0)
)
spans = st.tuples(st.none() | moments, st.none() | moments)
fixes = st.lists(
    st.tuples(st.sampled_from([("utc_offset", "-07:00"), ("local", None), ("shift", 90.0)]), spans),
    max_size=5,
)


@given(fixes, moments, st.sampled_from(["hung", "local", "-05:00"]))
def test_every_reading_has_an_instant_whatever_was_said(
    said: list[tuple[tuple[str, object], tuple[datetime | None, datetime | None]]],
    shown: datetime,
    clock: str,
) -> None:
    given = [ClockFix(f"c-{i}", k, v, a, b) for i, ((k, v), (a, b)) in enumerate(said)]
    pieces = clock_pieces(deployed(clock), TZ, given)
    assert 1 <= len(read(pieces, shown)) <= 2
    assert min(p.shown_from for p in pieces) == EARLIEST
    assert max(p.shown_until for p in pieces) == LATEST
    in_span = [
        f.clock_fix
        for f in given
        if (f.shown_from or EARLIEST) <= shown < (f.shown_until or LATEST)
    ]
    bases = {p.basis for p in pieces if p.shown_from <= shown < p.shown_until}
    assert bases == {f"correction {in_span[-1]}" if in_span else clock}
