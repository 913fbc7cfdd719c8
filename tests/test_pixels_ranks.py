"""Values at a rank agree with NumPy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from camsign.pixels.ranks import at_share, counted_below, median

PIXELS = st.one_of(
    hnp.arrays(np.uint8, hnp.array_shapes(max_dims=2, max_side=9)),
    hnp.arrays(
        np.float32, hnp.array_shapes(max_dims=2, max_side=9), elements=st.floats(0, 255, width=32)
    ),
)


@given(PIXELS)
def test_the_middle(values: np.ndarray) -> None:
    assert median(values) == pytest.approx(float(np.median(values.astype(np.float64))))


@given(PIXELS, st.floats(0, 1))
def test_at_a_share(values: np.ndarray, share: float) -> None:
    assert at_share(values, share) == pytest.approx(
        float(np.quantile(values.astype(np.float64), share)), abs=1e-9
    )


@given(hnp.arrays(np.uint8, st.tuples(st.integers(1, 9), st.integers(1, 9))))
def test_how_many_pixels_do_not_exceed_a_value(gray: np.ndarray) -> None:
    some = gray[::2, ::2]
    assert counted_below(gray).tolist() == [int((some <= value).sum()) for value in range(256)]
