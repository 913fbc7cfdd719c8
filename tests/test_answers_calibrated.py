"""The promises on intervals and verdicts, over many seasons (`-m long`) and over a few."""

from __future__ import annotations

import pytest
from accuracy_answers import (
    MAKERS,
    PLANS,
    PROMISED,
    SEASONS,
    Tally,
    decile_table,
    measure,
    measured,
    rows,
)
from simulator import makers_trial


def _hold(found: Tally, share: float) -> None:
    for held in (found.rate, found.days, found.users, found.mature, found.chance):
        assert held.share >= share


def _nearly_hold(found: Tally) -> None:
    """Of a few at most one may miss, of more most hold."""
    for held in (found.rate, found.days, found.users, found.mature, found.chance):
        assert held.n - held.held <= max(1, 0.12 * held.n)


def test_a_few_seasons() -> None:
    found = measure(PLANS["persistence 0.5"], range(77, 79))
    _nearly_hold(found)
    assert (found.rate.n, found.mature.n, found.chance.n) == (40, 8, 4)
    assert found.used_confirmed >= 0.6 * found.used > 0


def test_a_few_seasons_with_corridors() -> None:
    found = measure(PLANS["two corridors, walked 0.6 a dusk and dawn"], range(80, 82))
    _nearly_hold(found)
    assert (found.corridors, found.corridors_confirmed) == (4, 0)


def test_a_few_makers() -> None:
    trial = makers_trial(range(100, 160), draws=200)
    assert trial.log_score > trial.nearest_log_score
    assert all(
        n < 300 or abs(said - was) < 0.1 for said, was, n in decile_table(trial.p, trial.happened)
    )


@pytest.mark.long
@pytest.mark.parametrize("name", PROMISED)
def test_intervals_and_verdicts_keep_their_promise(name: str) -> None:
    found = measured(name, SEASONS)
    _hold(found, 0.92)
    assert found.corridors_confirmed < 0.02 * max(found.corridors, 1)
    if PLANS[name].known_direction == 1:
        assert found.used_confirmed >= 0.7 * found.used
    # Not needlessly wide: where days do not hang together, at most half as wide again as Poisson.
    if PLANS[name].persistence == 0:
        assert found.rate.mean_width <= 1.5 * found.poisson.mean_width


@pytest.mark.long
@pytest.mark.parametrize("unidentified", [0.15, 0.3])
def test_makers_are_calibrated_and_beat_the_nearest_camera(unidentified: float) -> None:
    trial = makers_trial(range(900, 900 + MAKERS * SEASONS), unidentified, draws=300)
    assert trial.log_score > trial.nearest_log_score
    for said, was, n in decile_table(trial.p, trial.happened):
        assert n < 100 or abs(said - was) <= 0.07


@pytest.mark.long
def test_the_table_is_made() -> None:
    lines = rows(2)
    assert sum(line.startswith("| persistence 0.5") for line in lines) == 2
