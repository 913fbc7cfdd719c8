"""Days bedded: against brute force, since no published table exists for this model."""

from __future__ import annotations

import itertools
from collections import Counter
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial.legendre import leggauss
from scipy import stats
from scipy.special import roots_jacobi

from camsign.stats.bedded import days_bedded

Counts = tuple[int, int, int, int]


def _enumerated(both: int, morning: int, evening: int, watched: int) -> np.ndarray:
    """Go through every way in which the days could have gone, on a grid of e, m, v and share.

    Each day is one of: not bedded; bedded and slipped by; bedded and passed, with the four ways to
    be seen or not at either end. The probability of each whole story is summed by days bedded.
    """
    x, w = leggauss(24)
    x, w = (x + 1) / 2, w / 2
    laws = [stats.beta(0.5, 1.5), stats.beta(4, 1), stats.beta(1.5, 1.5), stats.beta(1.5, 1.5)]
    # Quadrature nodes in the laws' own quantiles: exact weights, smooth integrand.
    share, e, m, v = np.meshgrid(*(law.ppf(x) for law in laws), indexing="ij", sparse=True)
    weight = np.einsum("i,j,k,l->ijkl", w, w, w, w)
    state = {
        "away": 1 - share,
        "slipped": share * (1 - e),
        "both": share * e * m * v,
        "morning": share * e * m * (1 - v),
        "evening": share * e * (1 - m) * v,
        "unseen": share * e * (1 - m) * (1 - v),
    }
    seen = ["both"] * both + ["morning"] * morning + ["evening"] * evening
    found = np.zeros(watched + 1)
    rest = watched - len(seen)
    fixed = np.ones(())
    for word in seen:
        fixed = fixed * state[word]
    # Stories that differ in order only have the same probability: count them instead.
    stories = Counter(
        tuple(sorted(story))
        for story in itertools.product(("away", "slipped", "unseen"), repeat=rest)
    )
    for story, ways in stories.items():
        p = fixed
        for word in story:
            p = p * state[word]
        bedded = len(seen) + sum(word != "away" for word in story)
        found[bedded] += ways * float((p * weight).sum())
    return found / found.sum()


@pytest.mark.parametrize(
    "counts", [(0, 0, 0, 4), (1, 0, 0, 5), (1, 2, 0, 6), (2, 1, 1, 8), (0, 0, 2, 5), (3, 0, 0, 3)]
)
def test_against_every_possible_story(counts: Counts) -> None:
    assert days_bedded(*counts).probability == pytest.approx(_enumerated(*counts), abs=2e-3)


@pytest.mark.parametrize("counts", [(2, 1, 3, 12), (0, 4, 1, 20), (5, 2, 2, 30), (0, 0, 0, 25)])
def test_against_quadrature(counts: Counts) -> None:
    """The integral as it is written, by Gauss-Jacobi nodes (scipy), exact for these polynomials."""
    both, morning, evening, watched = counts
    n = both + morning + evening
    ends, end_weights = roots_jacobi(40, 0.5, 0.5)
    passing, passing_weights = roots_jacobi(40, 0, 3)
    e, m, v = np.meshgrid(*((x + 1) / 2 for x in (passing, ends, ends)), indexing="ij")
    weights = np.einsum("i,j,k->ijk", passing_weights, end_weights, end_weights)
    seen = (e * m * v) ** both * (e * m * (1 - v)) ** morning * (e * (1 - m) * v) ** evening
    missed = 1 - e + e * (1 - m) * (1 - v)
    expected = np.zeros(watched + 1)
    for days in range(n, watched + 1):
        integral = (weights * seen * missed ** (days - n)).sum()
        prior = stats.betabinom(watched, 0.5, 1.5).pmf(days) / comb(watched, days)
        expected[days] = comb(watched - n, days - n) * prior * integral
    got = days_bedded(*counts).probability
    assert got == pytest.approx(expected / expected.sum(), rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("counts", [(2, 1, 3, 14), (0, 2, 0, 20), (1, 6, 4, 30), (0, 0, 0, 9)])
def test_with_passes_against_day_by_day_products(counts: Counts) -> None:
    """Multiply up each day's chance to be bedded or not, at random points of every law."""
    both, morning, evening, watched = counts
    dawn, dusk = (3.0, 40.0), (1.5, 60.0)
    rng = np.random.default_rng(1)
    points = 60_000
    share, e = rng.beta(0.5, 1.5, points), rng.beta(4, 1, points)
    m, v = rng.beta(1.5, 1.5, points), rng.beta(1.5, 1.5, points)
    x, y = rng.beta(*dawn, points), rng.beta(*dusk, points)
    ends = {"both": e * m * v, "morning": e * m * (1 - v), "evening": e * (1 - m) * v, "none": 0}
    missed = 1 - e + e * (1 - m) * (1 - v)
    away = {
        "both": x * y,
        "morning": x * (1 - y),
        "evening": (1 - x) * y,
        "none": (1 - x) * (1 - y),
    }
    # A day in bed shows its ends, or what any day without them shows.
    bedded = {word: ends[word] + missed * away[word] for word in ends}
    story = ["both"] * both + ["morning"] * morning + ["evening"] * evening
    story += ["none"] * (watched - len(story))
    by_days = np.zeros((watched + 1, points))
    by_days[0] = 1
    for word in story:
        shifted = np.vstack([np.zeros(points), by_days[:-1] * share * bedded[word]])
        by_days = by_days * (1 - share) * away[word] + shifted
    expected = by_days.sum(axis=1)
    found = days_bedded(both, morning, evening, watched, dawn, dusk)
    # Random points, so within their noise.
    assert found.probability == pytest.approx(expected / expected.sum(), abs=0.015)
    # Given use on a day or more, against never: the chance of this story either way.
    never = float((_away_product(away, story)).mean())
    none = float(((1 - share) ** watched).mean())
    use = expected[1:].sum() / points / (1 - none) / never
    assert found.use == pytest.approx(use, rel=0.15)


def _away_product(away: dict[str, np.ndarray], story: list[str]) -> np.ndarray:
    chance = np.ones_like(away["none"])
    for word in story:
        chance = chance * away[word]
    return chance


@given(st.integers(0, 12), st.integers(0, 12), st.integers(0, 12), st.integers(0, 200))
def test_bounds(both: int, morning: int, evening: int, spare: int) -> None:
    n = both + morning + evening
    found = days_bedded(both, morning, evening, n + spare)
    assert found.probability.sum() == pytest.approx(1)
    one = found.estimate()
    assert one.low is not None and one.value is not None and one.high is not None
    assert n <= one.low <= one.value <= one.high <= n + spare
    assert found.probability[:n].sum() == 0


def test_morning_and_evening_are_alike() -> None:
    one, other = days_bedded(2, 5, 1, 40), days_bedded(2, 1, 5, 40)
    assert one.probability == pytest.approx(other.probability)


def test_use_is_the_ratio_of_chances() -> None:
    # By hand for one day watched: given use he bedded that day; unseen with chance
    # E[1-e] + E[e] E[1-m] E[1-v] = 0.2 + 0.8 / 4 = 0.4.
    assert days_bedded(0, 0, 0, 1).use == pytest.approx(0.4)
    assert days_bedded(0, 1, 0, 5).use > 1e6
    assert days_bedded(0, 0, 0, 0).use == 1
    assert days_bedded(0, 0, 0, 60).use < days_bedded(0, 0, 0, 20).use


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="3 days seen of 2 watched"):
        days_bedded(1, 1, 1, 2)
