"""Values at a rank agree with NumPy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from camsign.pixels.ranks import at_share, median

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
