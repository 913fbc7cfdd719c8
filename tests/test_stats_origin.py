"""Which of several is behind an event: days in bed, visits of other days, and what nobody sees."""

from __future__ import annotations

import numpy as np
import pytest

from camsign.stats.origin import Shares, origin_shares

NOBODY = np.zeros((5, 3))


def _asked(
    bedded: np.ndarray | None, in_bed: tuple[float, ...] | None = None, much: float = 1.0
) -> Shares:
    return origin_shares(
        counts=np.array([[12.0], [1.0], [1.0]]) * much, unnamed=np.array([0.0]),
        effort=np.array([40.0]), distances=np.array([100.0]), likelihoods=np.ones(4),
        bedded=bedded, in_bed=None if in_bed is None else np.array(in_bed)[:, None],
    )  # fmt: skip


def test_who_beds_there_outweighs_who_walks_there() -> None:
    second = _asked(np.tile([0.0, 0.9, 0.0], (5, 1))).value
    assert second[1] > 2 * second[0] > 4 * second[2]
    assert sum(second) == pytest.approx(1)


def test_visits_of_days_in_bed_are_not_counted_twice() -> None:
    """They said that he walks the trails there, also where the event was none of his bed's."""
    bed_far_off = NOBODY
    as_before = _asked(bed_far_off).value
    his_bed = _asked(bed_far_off, (11.5, 0.0, 0.0)).value
    assert as_before[0] > 0.6
    assert his_bed[0] < 0.4 < 2 * his_bed[1]
    assert _asked(bed_far_off, (0.0, 0.0, 0.0)).value == as_before


def test_what_passes_unseen_is_left_to_all_alike() -> None:
    """Of hardly a visit and no bed, nobody is much likelier; of many, what is unseen is little."""
    few, many = _asked(NOBODY, much=0.1).value, _asked(NOBODY, much=5.0).value
    assert max(few[:3]) < 2 * min(few[:3])
    assert many[0] > 0.75
    # Without a model nothing is known to be left.
    assert _asked(None, much=0.1).value[0] > few[0]
