"""The promises on intervals and verdicts, over many seasons (`-m long`) and over a few."""

from __future__ import annotations

import pytest
from accuracy_answers import PLANS, PROMISED, SEASONS, decile_table, measure, measured, rows
from simulator import makers_trial


def test_a_few_seasons() -> None:
    found = measure(PLANS["persistence 0.5"], range(77, 80))
    for held in (found.rate, found.days, found.mature):
        assert held.share >= 0.85
    assert found.rate.n == 60


@pytest.mark.long
@pytest.mark.parametrize("name", PROMISED)
def test_intervals_hold_the_truth(name: str) -> None:
    found = measured(name, SEASONS)
    for held in (found.rate, found.days, found.users, found.mature, found.chance):
        assert held.share >= 0.92
    # Not needlessly wide: where days do not hang together, at most half as wide again as Poisson.
    if name == "beds from day to day independent":
        assert found.rate.mean_width <= 1.5 * found.poisson.mean_width


@pytest.mark.long
def test_confirmed_is_seldom_false_and_mostly_given() -> None:
    for name in (
        "two corridors, walked 0.3 a dusk and dawn",
        "half of the directions known, a corridor",
    ):
        found = measured(name, SEASONS)
        assert found.corridors_confirmed < 0.02 * found.corridors
    found = measured("persistence 0.5", SEASONS)
    assert found.used_confirmed >= 0.7 * found.used


@pytest.mark.long
@pytest.mark.parametrize("unidentified", [0.15, 0.3])
def test_makers_are_calibrated_and_beat_the_nearest_camera(unidentified: float) -> None:
    trial = makers_trial(range(900, 900 + SEASONS), unidentified, draws=300)
    assert trial.log_score > trial.nearest_log_score
    for said, was, n in decile_table(trial.p, trial.happened):
        assert n < 100 or abs(said - was) <= 0.07


@pytest.mark.long
def test_the_table_is_made() -> None:
    lines = rows(2)
    assert sum(line.startswith("| persistence 0.5") for line in lines) == 2
