"""Copies of one waypoint in two files: what the tree finds is what comparing every pair finds."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.flows.fieldwork.sign_items import NEAR_DAYS, NEAR_M, _nearest, _Spot
from camsign.geo import destination, distance_bearing

HERE = (44.6, -71.2)
MARKED = st.tuples(
    st.sampled_from(["rub", "scrape"]),
    st.floats(0, 360),
    st.floats(0, 9),
    st.integers(0, 3),
    st.sampled_from(["", "phone.gpx", "handheld.gpx"]),
)


def spot(number: int, kind: str, bearing: float, away_m: float, day: int, source: str) -> _Spot:
    lat, lon = (float(x) for x in destination(*HERE, bearing, away_m))
    return _Spot(f"s-{number}", kind, lat, lon, date(2025, 11, 1) + timedelta(day), source)


@given(st.lists(MARKED, min_size=1, max_size=8), st.integers(1, 8))
def test_the_nearest_possible_copy_is_the_one_of_all_pairs(
    marked: list[tuple[str, float, float, int, str]], new: int
) -> None:
    spots = [spot(i, *one) for i, one in enumerate(marked)]
    for one, found in zip(spots[:new], _nearest(spots[:new], spots), strict=True):
        far = [
            float(distance_bearing(one.lat, one.lon, other.lat, other.lon)[0])
            for other in spots
            if other.sign != one.sign
            and other.kind == one.kind
            and other.source != one.source
            and abs((other.day - one.day).days) <= NEAR_DAYS
        ]
        best = min((m for m in far if m <= NEAR_M), default=None)
        assert (found and found[0]) == (best if best is None else pytest.approx(best, abs=1e-6))
