"""Stability classes against the tables as printed in EPA-454/R-99-005 (2000), section 6.4.1."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.air.stability import KNOT, insolation_class, net_radiation_index, stability_class

# EPA-454/R-99-005, table 6-4, read in a stored copy: wind speed in knots, then the class at net
# radiation index 4, 3, 2, 1, 0, -1, -2.
PRINTED = """
0 1 1 2 3 4 6 7
1 1 1 2 3 4 6 7
2 1 2 2 3 4 6 7
3 1 2 2 3 4 6 7
4 1 2 3 4 4 5 6
5 1 2 3 4 4 5 6
6 2 2 3 4 4 5 6
7 2 2 3 4 4 4 5
8 2 3 3 4 4 4 5
9 2 3 3 4 4 4 5
10 3 3 4 4 4 4 5
11 3 3 4 4 4 4 4
12 3 4 4 4 4 4 4
30 3 4 4 4 4 4 4
"""


@pytest.mark.parametrize("line", PRINTED.split("\n")[1:-1])
def test_every_cell_of_the_printed_table(line: str) -> None:
    knots, *classes = map(int, line.split())
    got = [stability_class(knots * KNOT, index) for index in (4, 3, 2, 1, 0, -1, -2)]
    assert got == classes


def test_insolation_by_the_suns_height_as_printed() -> None:
    # Table 6-5: 60 < a strong 4; 35 < a ≤ 60 moderate 3; 15 < a ≤ 35 slight 2; a ≤ 15 weak 1.
    heights = (5, 15, 15.1, 35, 35.1, 60, 60.1, 80)
    assert [insolation_class(a) for a in heights] == [1, 1, 2, 2, 3, 3, 4, 4]


@pytest.mark.parametrize(
    ("sun", "night", "cloud", "ceiling_ft", "index"),
    [
        # Table 6-6, one line of the procedure each.
        (50, False, 1.0, 5000, 0),
        (-20, True, 1.0, 5000, 0),
        (-20, True, 0.4, None, -2),
        (-20, True, 0.5, None, -1),
        (50, False, 0.5, None, 3),
        (50, False, 0.7, 6000, 1),
        (50, False, 0.7, 10000, 2),
        (50, False, 0.7, 20000, 3),
        (50, False, 1.0, 20000, 2),
        (10, False, 0.9, 6000, 1),
    ],
)
def test_the_index_follows_the_printed_procedure(
    sun: float, night: bool, cloud: float, ceiling_ft: float | None, index: int
) -> None:
    ceiling = None if ceiling_ft is None else ceiling_ft * 0.3048
    assert net_radiation_index(sun, night, cloud, ceiling) == index


@given(st.floats(0, 40), st.integers(-2, 4))
def test_more_wind_never_takes_air_farther_from_neutral(speed: float, index: int) -> None:
    now, later = stability_class(speed, index), stability_class(speed + 1, index)
    assert abs(later - 4) <= abs(now - 4)


def test_what_is_no_index_is_refused() -> None:
    with pytest.raises(ValueError, match="no stability class"):
        stability_class(3, 5)
