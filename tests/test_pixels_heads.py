"""The square about a buck's head: within the picture, at the end that leads."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.pixels.decode import Undecodable
from camsign.pixels.heads import SIDE, head_of, square


@given(
    st.integers(1, 3000), st.integers(1, 3000),
    st.none() | st.lists(st.floats(0, 1), min_size=4, max_size=4),
    st.sampled_from([None, "left", "right"]),
)  # fmt: skip
def test_the_square_lies_within_the_picture(
    columns: int, rows: int, box: list[float] | None, way: str | None
) -> None:
    left, top, side = square(columns, rows, box, way)
    assert 0 <= left <= columns - side and 0 <= top <= rows - side and side <= min(columns, rows)


def test_the_head_is_at_the_end_that_leads() -> None:
    box = [0.2, 0.3, 0.5, 0.3]  # 200 to 700 across, 300 to 600 down, of 1000 by 1000
    left = square(1000, 1000, box, "left")
    right = square(1000, 1000, box, "right")
    whole = square(1000, 1000, box, None)
    assert left[0] < 200 < left[0] + left[2] < 500 and left[2] == right[2] < whole[2]
    assert right[0] > 400 and right[0] + right[2] > 700
    assert left[1] < 300  # room for antlers
    assert whole[0] < 200 and whole[0] + whole[2] > 700


def test_a_head_is_cut_from_a_picture() -> None:
    picture = np.full((900, 1200, 3), 40, np.uint8)
    picture[300:500, 700:900] = (20, 20, 230)  # what is new, in red
    data = bytes(cv2.imencode(".jpg", picture)[1])
    cut = head_of(data, [700 / 1200, 300 / 900, 200 / 1200, 200 / 900], "right")
    assert isinstance(cut, bytes)
    shown = cv2.imdecode(np.frombuffer(cut, np.uint8), cv2.IMREAD_COLOR)
    assert shown.shape[0] == shown.shape[1] <= SIDE
    assert (shown[:, :, 2] > 180).mean() > 0.5
    whole = head_of(data, None, None)
    assert isinstance(whole, bytes)


@pytest.mark.parametrize("data", [b"", b"MZ" + bytes(50), b"\xff\xd8\xff\xe0" + bytes(40)])
def test_what_is_no_picture_has_no_head(data: bytes) -> None:
    assert isinstance(head_of(data, None, None), Undecodable)
