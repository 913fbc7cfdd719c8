"""Rates with spells: the likelihood against every hidden sequence, the interval against truth."""

from __future__ import annotations

import itertools
from math import exp, factorial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from camsign.stats.estimate import poisson_rate
from camsign.stats.spells import (
    _FINER,
    UNWATCHED,
    Posterior,
    _chances,
    _rates,
    _refined,
    about_chance,
    about_rate,
    above,
    ratio,
)

U = UNWATCHED


def _likelihood(days: tuple[int, ...], share: float, keep: float, strength: float) -> float:
    """Sum over every sequence of about and elsewhere."""
    stay = {(a, b): keep * (a == b) + (1 - keep) * (share if b else 1 - share)
            for a in (0, 1) for b in (0, 1)}  # fmt: skip
    total = 0.0
    for states in itertools.product((0, 1), repeat=len(days)):
        p = share if states[0] else 1 - share
        for a, b in itertools.pairwise(states):
            p *= stay[a, b]
        for n, about in zip(days, states, strict=True):
            if n != U:
                mean = strength * about
                p *= mean**n * exp(-mean) / factorial(n)
        total += p
    return total


@pytest.mark.parametrize(
    "days", [(0, 1, 0, 0, 2, 1), (U, 0, 0, 3, U, U, 0, 1), (0,) * 7, (1, U, 0), (0, U, 1)]
)
def test_likelihood_against_every_hidden_sequence(days: tuple[int, ...]) -> None:
    grid = _rates()
    got = grid.log_likelihood(days)
    chosen = np.linspace(0, len(got) - 1, 23).astype(int)
    expected = np.array(
        [_likelihood(days, grid.share[i], grid.keep[i], grid.strength[i]) for i in chosen]
    )
    # Factorials of the counts, which no point of the grid changes, are left out of it.
    left_out = np.log([factorial(n) for n in days if n > 0]).sum()
    assert np.exp(got[chosen] - left_out) == pytest.approx(expected, rel=1e-9, abs=1e-250)


@pytest.mark.parametrize("days", [(0,) * 7, (0, U, 0, U, U, 0, 0), (U, 0)])
def test_without_an_event_he_was_about_at_least_once(days: tuple[int, ...]) -> None:
    grid = _rates()
    got = np.exp(grid.log_weights(days) - grid.log_prior)
    chosen = np.linspace(0, len(got) - 1, 23).astype(int)
    # Endless events while about leave only the sequences that are elsewhere on all days watched.
    expected = [
        _likelihood(days, grid.share[i], grid.keep[i], grid.strength[i])
        - _likelihood(days, grid.share[i], grid.keep[i], 800.0)
        for i in chosen
    ]
    assert got[chosen] == pytest.approx(expected, rel=1e-6, abs=1e-14)


@pytest.mark.parametrize("length", [5, 30, 92, 200])
def test_seeing_nothing_leaves_no_more_room_than_seeing_one(length: int) -> None:
    for law in (about_rate, about_chance):
        none = law([0] * length).estimate().high
        one = law([0] * (length // 2) + [1] + [0] * (length - length // 2 - 1)).estimate().high
        assert none <= one  # type: ignore[operator]


def test_prior_of_a_chance_is_the_laws_it_says() -> None:
    # Share ~ Beta(1/2, 1), chance while about uniform: mean of their product 1/3 * 1/2, and of its
    # square E[s²] E[q²] = 1/5 * 1/3 (moments of the Beta law).
    grid = _chances()
    weights = np.exp(grid.log_prior)
    value = grid.share * grid.strength
    assert (weights * value).sum() / weights.sum() == pytest.approx(1 / 6, rel=0.02)
    assert (weights * value**2).sum() / weights.sum() == pytest.approx(1 / 15, rel=0.03)


def test_without_days_the_posterior_is_the_prior_and_wide() -> None:
    one = about_rate([])
    assert one.weights.sum() == pytest.approx(1)
    assert one.estimate().high > 20 * one.estimate().value  # type: ignore[operator]


def test_without_an_event_the_interval_reaches_down_to_nothing() -> None:
    assert about_rate([0] * 40).estimate().low == 0
    assert about_chance([0] * 40).estimate().low == 0
    assert about_rate([0] * 39 + [1]).estimate().low > 0  # type: ignore[operator]


def test_many_separate_days_come_near_the_poisson_interval() -> None:
    rng = np.random.default_rng(3)
    days = rng.poisson(0.6, 400)
    model, simple = about_rate(days.tolist()).estimate(), poisson_rate(int(days.sum()), 400)
    assert model.value == pytest.approx(simple.value, rel=0.05)
    assert model.low == pytest.approx(simple.low, rel=0.1)
    assert model.high == pytest.approx(simple.high, rel=0.1)


def test_the_same_visits_in_one_spell_tell_less() -> None:
    spread, spell = [0] * 80, [0] * 80
    for i in range(8):
        spread[i * 10] = 1
        spell[40 + i] = 1
    wide, narrow = about_rate(spell).estimate(), about_rate(spread).estimate()
    assert wide.high / wide.low > 1.5 * narrow.high / narrow.low  # type: ignore[operator]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.sampled_from([U, 0, 0, 0, 1, 2]), max_size=60))
def test_unwatched_days_at_the_ends_change_nothing(days: list[int]) -> None:
    # A stationary chain looks the same from any day.
    one, other = about_rate(days), about_rate([U, U, *days, U])
    assert other.weights == pytest.approx(one.weights, abs=1e-9)
    chance = about_chance(days).estimate()
    assert 0 <= chance.low <= chance.value <= chance.high <= 1  # type: ignore[operator]


def test_ratio_and_order_of_two_rates() -> None:
    few, many = about_rate([0, 0, 0, 1, 0, 0, 0, 0] * 8), about_rate([1, 0, 1, 1, 0, 2, 1, 0] * 8)
    back, forth = ratio(few, many), ratio(many, few)
    assert back.value * forth.value == pytest.approx(1, rel=0.02)  # type: ignore[operator]
    assert back.high == pytest.approx(1 / forth.low, rel=0.02)  # type: ignore[operator]
    assert above(many, few) > 0.99
    assert above(few, few) == pytest.approx(0.5)
    assert above(few, many) + above(many, few) == pytest.approx(1)
    # Against draws from the two posteriors.
    rng = np.random.default_rng(1)
    a, b = (rng.choice(p.values, 100_000, p=p.weights) for p in (many, few))
    assert np.quantile(a / b, 0.5) == pytest.approx(forth.value, rel=0.05)


def test_quantiles_of_a_known_law() -> None:
    values = np.geomspace(0.01, 100, 400)
    weights = np.exp(-(np.log(values) ** 2) / 2)
    one = Posterior(values, weights / weights.sum()).estimate()
    # The logarithm is standard normal: 1.959964 (any table of the normal law).
    assert (one.value, one.low, one.high) == pytest.approx(
        (1, exp(-1.959964), exp(1.959964)), rel=0.01
    )


def test_interpolation_is_scipys_between_the_ends() -> None:
    # PCHIP of scipy, whose slopes for even steps are the same but at the two ends.
    rng = np.random.default_rng(2)
    marginal = np.exp(np.cumsum(rng.normal(0, 2, 30)) + 1)
    positions = np.arange(_FINER * 29 + 1) / _FINER
    expected = np.exp(PchipInterpolator(np.arange(30), np.log(marginal))(positions))
    inner = slice(_FINER, -_FINER)
    got = _refined(positions, marginal).weights[inner]
    assert got / got.sum() == pytest.approx(expected[inner] / expected[inner].sum(), rel=1e-9)


def _season(rng: np.random.Generator, share: float, keep: float, strength: float) -> list[int]:
    about, days = rng.random() < share, []
    for _ in range(70):
        days.append(int(rng.poisson(strength)) if about else 0)
        if rng.random() >= keep:
            about = rng.random() < share
    return days


@pytest.mark.parametrize("keep", [0.0, 0.5, 0.8])
def test_intervals_hold_the_generating_rate(keep: float) -> None:
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(60):
        share, strength = rng.uniform(0.1, 0.7), rng.uniform(0.4, 1.5)
        one = about_rate(_season(rng, share, keep, strength)).estimate()
        held += one.low <= share * strength <= one.high  # type: ignore[operator]
    assert held >= 52
