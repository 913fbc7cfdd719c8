"""Answers as records, JSON and tables: nothing is lost, nothing is nested where it must be flat."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.answers.odds import one_in
from camsign.answers.result import (
    SPARE,
    Answer,
    Figure,
    Watch,
    flatten,
    local_of,
    number,
    plain,
    reasons,
    record,
)


@dataclass(frozen=True, slots=True)
class _Row:
    name: str
    rate: Figure
    seen: datetime | None
    why: tuple[str, ...]
    camera: str | None = field(default=None, metadata=SPARE)


@dataclass(frozen=True, slots=True)
class _Some(Answer):
    rows: tuple[_Row, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]

    @property
    def said(self) -> str:
        return "So it is."


ROW = _Row("a", Figure(1.0, 0.5, None, n=3), datetime(2025, 11, 3, 6, 40, tzinfo=UTC), ("x", "y"))
WATCH = Watch(("CAM01",), 3, 2, date(2025, 11, 1), date(2025, 11, 3))


def test_record_keeps_times_and_leaves_out_what_is_spare() -> None:
    given = record(ROW)
    assert given["rate"] == {"value": 1.0, "low": 0.5, "high": None, "n": 3}
    assert given["seen"] == ROW.seen
    assert "camera" not in given
    assert record(_Row("a", ROW.rate, None, (), "CAM01"))["camera"] == "CAM01"


def test_flat_rows_have_an_estimate_as_three_cells_and_reasons_as_text() -> None:
    flat = flatten(ROW)
    assert (flat["rate"], flat["rate_low"], flat["rate_high"], flat["rate_n"]) == (
        1.0,
        0.5,
        None,
        3,
    )
    assert flat["why"] == "x; y"
    assert all(not isinstance(cell, dict | list | tuple) for cell in flat.values())


def test_json_is_what_json_knows() -> None:
    answer = _Some((ROW,), WATCH, "by hand", ("because",))
    text = json.dumps(answer.to_json())
    assert json.loads(text)["rows"][0]["seen"] == "2025-11-03T06:40:00+00:00"
    frame = answer.to_frame()
    assert list(frame.columns)[:2] == ["name", "rate"]
    assert frame.attrs["watch"]["first"] == "2025-11-01"
    assert frame.attrs["why"] == ["because"]


@pytest.mark.thorough
@given(
    st.recursive(
        st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(), st.dates()),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    )
)
def test_plain_is_always_json(value: Any) -> None:
    told = json.loads(json.dumps(plain(value), allow_nan=False))
    assert plain(told) == told


@given(st.datetimes(datetime(2000, 1, 1), datetime(2050, 1, 1)), st.integers(-12 * 4, 14 * 4))
def test_local_time_is_the_same_instant(utc: datetime, quarters: int) -> None:
    offset = timedelta(minutes=15 * quarters)
    local = local_of(utc, utc + offset)
    assert local == utc.replace(tzinfo=UTC)
    assert local.tzinfo == timezone(offset)


def test_words() -> None:
    assert reasons("a", None, ["b", "c"], "") == ("a", "b", "c")
    assert (
        WATCH.in_words() == "1 camera close enough, 3 nights covered from 2025-11-01 to 2025-11-03"
    )
    assert Watch((), 0, 0, None, None).in_words() == "no camera close enough"
    assert number(float("nan")) is None
    assert number(2) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.001, "hardly ever"), (0.05, "1 in 20"), (0.22, "1 in 5"), (0.28, "3 in 10"),
     (0.44, "4 in 10"), (0.55, "6 in 10"), (0.67, "2 in 3"), (0.9, "9 in 10"),
     (0.98, "nearly always")],
)  # fmt: skip
def test_odds_are_told_as_people_tell_them(chance: float, words: str) -> None:
    """Nobody says 2 in 9 or 2 in 7."""
    assert one_in(chance) == words


@given(st.floats(0.005, 1))
def test_odds_in_words_are_near_the_chance(chance: float) -> None:
    words = one_in(chance)
    hits, tries = (1, 1) if words == "nearly always" else map(int, words.split(" in "))
    assert abs(hits / tries - chance) <= 0.0501
