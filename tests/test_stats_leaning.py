"""What sign says of use, against another library's law and by what must follow."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import nbinom

from camsign.stats.leaning import ANYWHERE, EVENNESS, RATES, UNLIKE, weights

USE = np.array([np.linspace(0, 40, 60), np.full(60, 12.0), np.linspace(0, 6, 60)])


def test_the_law_is_scipys_gamma_poisson() -> None:
    """Every rate and evenness by `scipy.stats.nbinom` and a plain sum, none looked up twice."""
    sign = np.array([9, 4, 0])
    usual = (sign.sum() + ANYWHERE) / USE.mean(axis=1).sum()
    parts, whole = [], []
    for rate in RATES:
        for even in EVENNESS:
            mean = usual * rate * USE + ANYWHERE
            law = nbinom.pmf(sign[:, None], even, even / (even + mean))
            usually = usual * rate * USE.mean() + ANYWHERE
            unlike = nbinom.pmf(sign, EVENNESS[0], EVENNESS[0] / (EVENNESS[0] + usually))
            law = (1 - UNLIKE) * law + UNLIKE * unlike[:, None]
            parts.append(law / law.sum(axis=1, keepdims=True))
            whole.append(law.mean(axis=1).prod())
    wanted = np.average(parts, axis=0, weights=whole)
    assert weights(USE, sign) == pytest.approx(wanted, rel=1e-9)


def test_sign_moves_only_what_pictures_leave_open() -> None:
    much, none = weights(USE, np.array([30, 4, 0])), weights(USE, np.array([0, 4, 30]))
    told = lambda found: (found * USE).sum(axis=1)  # noqa: E731
    assert much.sum(axis=1) == pytest.approx(np.ones(3))
    assert told(much)[0] > USE[0].mean() + 4 > USE[0].mean() > told(none)[0] + 1
    # All draws alike: nothing to move.
    assert told(much)[1] == pytest.approx(12.0)
    assert told(none)[1] == pytest.approx(12.0)


def test_one_draw_unlike_the_others_never_takes_all_the_weight() -> None:
    """An edge full of rubs where one course in 400 has him bedding: it stays rare."""
    edge = np.zeros(400)
    edge[7] = 8.0
    found = weights(np.array([np.linspace(0, 30, 400), edge]), np.array([10, 25]))
    assert found[1, 7] < 0.1


def test_without_any_sign_or_use_nothing_breaks() -> None:
    found = weights(np.zeros((2, 5)), np.zeros(2))
    assert found == pytest.approx(np.full((2, 5), 0.2))
