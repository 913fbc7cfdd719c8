"""How a number with its interval is written where little or nothing is known."""

from __future__ import annotations

from camsign.answers.result import Figure
from camsign.formats.interval import interval, percent, rate, times


def test_a_share_of_nothing_cannot_be_told() -> None:
    assert percent(Figure(None, 0.0, 1.0)) == "can't tell"
    assert percent(Figure(0.17, 0.05, 0.3)) == "17% (5–30)"
    assert interval(Figure(None, 2.0, 5.0)) == "2.0–5.0"
    assert interval(Figure(None, 2.0, None)) == "2.0 or more"
    assert interval(Figure(None, 0.0, None)) == "–"


def test_who_was_never_pictured_has_a_ceiling_and_no_rate() -> None:
    assert rate(Figure(0.8, 0.0, 6.1), 0) == "at most 6.1"
    assert rate(Figure(31.2, 13.4, 56.5), 39) == "31.2 (13.4–56.5)"
    assert rate(Figure(None, 0.0, None), 0) == "–"


def test_times_are_whole_from_one_up() -> None:
    assert times(Figure(6.2, 0.0, 16.0)) == "6 (0–16)"
    assert times(Figure(0.52, 0.0, 7.0)) == "0.5 (0–7)"
