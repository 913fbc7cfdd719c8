"""Which of several is behind an event: how much is left to all alike."""

from __future__ import annotations

import numpy as np
import pytest

from camsign.stats.origin import Shares, alike_share, origin_shares


def _asked(bedded: np.ndarray | None) -> Shares:
    return origin_shares(
        counts=np.array([[12.0], [1.0], [1.0]]), unnamed=np.array([0.0]), effort=np.array([40.0]),
        distances=np.array([100.0]), likelihoods=np.ones(4), bedded=bedded,
    )  # fmt: skip


def test_where_nobody_beds_near_it_who_is_pictured_there_says_little() -> None:
    nobody, somebody = _asked(np.zeros((5, 3))), _asked(np.tile([0.9, 0.0, 0.0], (5, 1)))
    assert nobody.value[0] < 0.5 < 0.75 < somebody.value[0]
    assert sum(nobody.value) == pytest.approx(1)


def test_the_more_they_bed_near_it_the_less_is_left_to_all_alike() -> None:
    shares = [alike_share(np.full((4, 2), days / 2)) for days in (0.0, 0.1, 0.3, 1.0, 3.0)]
    assert shares == sorted(shares, reverse=True)
    assert 0.1 < shares[-1] < 0.12
    assert alike_share(None) == 0.0
