"""Which way: a bare bearing is travel, the bare side is opposite, and every reading is echoed.

The rule itself is common practice, no source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.magnetism import declination_deg
from camsign.sign.heading import ReadHeading, SaidHeading, parse_heading, read_heading
from camsign.units import Bearing, parse_bearing

HERE = (44.2, -71.4)
DAY = date(2026, 3, 14)


def settings(**field: Any) -> Settings:
    return Settings(id="x", tz="America/New_York", **field)


def read(text: str, kind: str = "rub", **field: object) -> ReadHeading:
    return read_heading(kind, parse_heading(text), HERE, DAY, settings(**field))


@pytest.mark.parametrize("text", ["NE", "45", "45T", "travel NE", "going NE", "north-east"])
def test_a_bare_bearing_means_travel(text: str) -> None:
    found = read(text)
    assert (found.travel_deg, found.bare_deg) == (45.0, None)
    assert found.words == "read as: he was headed NE (45°)"


@pytest.mark.parametrize("text", ["bare SW", "Bare side SW", "b SW", "bare 225", "bare: 225T"])
def test_the_bare_side_is_opposite(text: str) -> None:
    found = read(text)
    assert (found.travel_deg, found.bare_deg) == (45.0, 225.0)
    assert found.taken_as == "bare 225T"
    assert found.words == "read as: rubbed side faces SW (225°), so he was headed NE"


def test_what_was_taken_down_is_kept_with_its_north() -> None:
    found = read("bare 225M")
    assert found.taken_as == "bare 225M"
    assert found.travel_deg == pytest.approx(45 + declination_deg(*HERE, DAY))
    assert "faces SSW (211° true), so" in found.words
    assert read("225", bearings="magnetic").taken_as == "225M"


def test_the_rule_can_be_switched_off() -> None:
    found = read("bare SW", bare_side_rule=False)
    assert (found.travel_deg, found.bare_deg) == (None, 225.0)
    assert "rule is off" in found.words
    assert read("NE", bare_side_rule=False).travel_deg == 45.0


def test_other_sign_has_no_bare_side() -> None:
    assert read("NE", kind="track").words == "read as: the deer was headed NE (45°)"
    with pytest.raises(UsageError, match="a track has no bare side"):
        read("bare NE", kind="track")


@pytest.mark.parametrize("text", ["", "bare", "bare up", "bare 400", "NEE", "b"])
def test_what_is_no_bearing(text: str) -> None:
    with pytest.raises(UsageError):
        parse_heading(text)


def test_b_alone_is_no_compass_point_and_words_stay_whole() -> None:
    assert parse_heading("bare E") == SaidHeading(parse_bearing("E"), bare=True)
    assert parse_heading("to E") == SaidHeading(parse_bearing("E"))


@given(st.floats(0, 360, exclude_max=True), st.booleans())
def test_travel_and_bare_side_are_always_opposite(deg: float, magnetic: bool) -> None:
    bearing = Bearing(deg, "magnetic" if magnetic else "true")
    going = read_heading("rub", SaidHeading(bearing), HERE, DAY, settings()).travel_deg
    found = read_heading("rub", SaidHeading(bearing, bare=True), HERE, DAY, settings())
    assert going is not None and found.travel_deg is not None
    assert (found.travel_deg - going) % 360 == pytest.approx(180)
    assert 0 <= found.travel_deg < 360
