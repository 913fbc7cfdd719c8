"""Days one after the other: what is counted on each, and the parts they fall in."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from answers_world import World

from camsign.answers.days import SeasonPart, daily, parts_of
from camsign.answers.reach import Watching
from camsign.answers.scope import _phase_days
from camsign.errors import UsageError
from camsign.stats.spells import UNWATCHED

NONE = np.array([], dtype="datetime64[D]")


def watching(*days: str) -> Watching:
    return Watching(np.array(days, dtype="datetime64[D]"), np.array(days, dtype="datetime64[D]"),
                    ("CAM01",), NONE, NONE)  # fmt: skip


def test_each_day_counts_its_events_and_the_days_between_are_unwatched() -> None:
    watched = watching("2025-10-03", "2025-10-04", "2025-10-06")
    events = np.array(["2025-10-02", "2025-10-03", "2025-10-03", "2025-10-05", "2025-10-06",
                       "2025-10-07"], dtype="datetime64[D]")  # fmt: skip
    assert daily(watched, events) == [2, 0, UNWATCHED, 1]
    assert daily(watching(), events) == []


@pytest.mark.parametrize(
    ("first", "last", "counts"),
    [
        ("2025-10-01", "2025-10-31", [1, 2, 3]),
        ("2025-10-03", "2025-10-05", [1, 2, 3]),
        ("2025-10-04", "2025-10-31", [UNWATCHED, 2, 3]),
        ("2025-10-01", "2025-10-04", [1, 2, UNWATCHED]),
        ("2025-09-01", "2025-10-02", [UNWATCHED] * 3),
        ("2025-10-06", "2025-10-31", [UNWATCHED] * 3),
    ],
)
def test_only_a_part_of_the_season(first: str, last: str, counts: list[int]) -> None:
    watched = watching("2025-10-03", "2025-10-04", "2025-10-05")
    days = ["2025-10-03", *["2025-10-04"] * 2, *["2025-10-05"] * 3]
    part = SeasonPart("part", date.fromisoformat(first), date.fromisoformat(last))
    assert daily(watched, np.array(days, dtype="datetime64[D]"), part) == counts


def test_days_are_cut_into_months_and_phases() -> None:
    settings = replace(World().session().settings, phases={"rut": ((11, 5), (11, 24)),
                                                           "yule": ((12, 20), (1, 5))})  # fmt: skip
    first, last = date(2025, 11, 10), date(2026, 1, 2)
    months = parts_of(settings, first, last, "month")
    assert [(p.first, p.last) for p in months] == [
        (first, date(2025, 11, 30)), (date(2025, 12, 1), date(2025, 12, 31)),
        (date(2026, 1, 1), last),
    ]  # fmt: skip
    assert [p.name for p in months] == ["November 2025", "December 2025", "January 2026"]
    phases = parts_of(settings, first, last, "phase")
    assert [(p.first, p.last) for p in phases] == [
        (first, date(2025, 11, 24)), (date(2025, 12, 20), last)
    ]  # fmt: skip
    with pytest.raises(UsageError, match="names no phases"):
        parts_of(replace(settings, phases={}), first, last, "phase")


def test_a_phase_of_one_day_is_one_day() -> None:
    settings = replace(World().session().settings, phases={"opener": ((11, 8), (11, 8))})
    assert _phase_days(settings, "opener", 2025, None)[1:] == (date(2025, 11, 8),) * 2
