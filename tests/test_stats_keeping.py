"""The chain that keeps its state: against every course summed by hand, and against hmmlearn."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.stats.keeping import drawn, forward, smoothed


def _brute(said: np.ndarray, keep: float, likes: np.ndarray) -> tuple[np.ndarray, float]:
    """Sum the chance of all courses: the chance of each state on each day, and the total."""
    days, kinds = said.shape
    step = keep * np.eye(kinds) + (1 - keep) * likes[None, :]
    by_day, total = np.zeros((days, kinds)), 0.0
    for course in product(range(kinds), repeat=days):
        p = likes[course[0]] * said[0, course[0]]
        for day in range(1, days):
            p *= step[course[day - 1], course[day]] * said[day, course[day]]
        total += p
        by_day[range(days), course] += p
    return by_day / total, float(np.log(total))


chances = st.floats(0.01, 1.0)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.lists(chances, min_size=3, max_size=3), min_size=1, max_size=5),
    st.floats(0.0, 0.99),
    st.lists(chances, min_size=3, max_size=3),
)
def test_all_courses_summed_by_hand(
    rows: list[list[float]], keep: float, liked: list[float]
) -> None:
    said, likes = np.array(rows), np.array(liked) / sum(liked)
    by_day, log = _brute(said, keep, likes)
    filtered, got = forward(said, np.array(keep), likes)
    assert got == pytest.approx(log)
    assert filtered[-1] == pytest.approx(by_day[-1])
    assert smoothed(said, np.array(keep), likes) == pytest.approx(by_day)


def test_the_example_of_the_page_on_the_model() -> None:
    said = np.array([[20.0, 1.0, 1.0], [1.0, 1.0, 1.0], [1.0, 2.0, 1.0]])
    by_day, log = _brute(said, 0.8, np.array([0.3, 0.3, 0.4]))
    assert by_day.round(2).tolist() == [[0.87, 0.07, 0.06], [0.72, 0.16, 0.12], [0.6, 0.24, 0.16]]
    assert round(log, 3) == 2.03


def test_hmmlearn_says_the_same() -> None:
    """Forward-backward of an independent library: hmmlearn's CategoricalHMM."""
    hmm = pytest.importorskip("hmmlearn.hmm")
    rng = np.random.default_rng(4)
    emit = rng.dirichlet(np.ones(5), 4)
    keep, likes = 0.7, rng.dirichlet(np.ones(4))
    theirs = hmm.CategoricalHMM(n_components=4, init_params="", n_features=5)
    theirs.startprob_ = likes
    theirs.transmat_ = keep * np.eye(4) + (1 - keep) * likes[None, :]
    theirs.emissionprob_ = emit
    seen = rng.integers(0, 5, 60)
    log, by_day = theirs.score_samples(seen[:, None])
    said = emit[:, seen].T
    assert forward(said, np.array(keep), likes)[1] == pytest.approx(log)
    assert smoothed(said, np.array(keep), likes) == pytest.approx(by_day)


def test_many_chains_at_once_are_each_alone() -> None:
    rng = np.random.default_rng(5)
    said, keep = rng.random((7, 4, 2, 3)), rng.random((2, 3))
    likes = np.moveaxis(rng.dirichlet(np.ones(4), (2, 3)), -1, 0)
    found, log = smoothed(said, keep, likes), forward(said, keep, likes)[1]
    for i, j in product(range(2), range(3)):
        alone = said[..., i, j], keep[i, j], likes[:, i, j]
        assert found[..., i, j] == pytest.approx(smoothed(*alone))
        assert log[i, j] == pytest.approx(forward(*alone)[1])


def test_drawn_courses_are_as_often_as_their_chance() -> None:
    rng = np.random.default_rng(6)
    said, keep, likes = rng.random((5, 3)), np.array(0.6), np.array([0.2, 0.3, 0.5])
    many = 20_000
    filtered = np.repeat(forward(said, keep, likes)[0][..., None], many, axis=-1)
    states, anew = drawn(filtered, np.full(many, 0.6), likes, rng)
    shares = np.stack([(states == kind).mean(axis=1) for kind in range(3)], axis=1)
    # Standard error of a share at most 0.0036.
    assert shares == pytest.approx(smoothed(said, keep, likes), abs=0.015)
    changed = states[1:] != states[:-1]
    assert anew[1:][changed].all()
    assert anew[0].all()
