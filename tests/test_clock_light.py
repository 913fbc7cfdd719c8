"""The likelihood of a clock's offset: its table against sun_height, its parts by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.clock.light import (
    DAY_STEPS,
    HALF,
    STEP_S,
    Light,
    arc,
    heights,
    likeliest_switch,
    likelihood,
    log_likelihood,
    smallest_set,
    steps_of,
    sun_table,
)
from camsign.clock.offset_models import Step, parted, tell
from camsign.clock.verdicts import RIGHT, UNCLEAR, daylight, judge
from camsign.sun import sun_height

PLACE = (44.1, -71.2)
FIRST = 20_300  # 2025-07-31


def seen(
    n: int, days: int = 60, seed: int = 1, switch: float = -2.0
) -> tuple[np.ndarray, np.ndarray]:
    """Right times [s] of n pictures through day and night, and whether there was daylight."""
    rng = np.random.default_rng(seed)
    at = np.sort(rng.uniform(FIRST * 86400.0, (FIRST + days) * 86400.0, n))
    height = sun_height(*PLACE, at.astype("datetime64[s]"))
    return at, height + rng.logistic(0, 0.5, n) > switch


def sky(days: int = 60):
    return sun_table(*PLACE, FIRST - 2, days + 4)


def test_the_table_is_the_suns_height() -> None:
    at, _ = seen(3000)
    found, sinking = heights(sky(), Light(steps_of(at), at > 0))
    middle = (np.floor(at / STEP_S) + 0.5) * STEP_S
    true = sun_height(*PLACE, (middle * 1000).astype("datetime64[ms]"))
    later = sun_height(*PLACE, ((middle + 60) * 1000).astype("datetime64[ms]"))
    near = np.abs(true) < 17
    assert np.abs(found - true)[near].max() < 0.125 + 0.02
    turning = np.abs(later - true) < 0.01
    assert (sinking == (later < true))[~turning].mean() > 0.99


@settings(max_examples=10, deadline=None)
@given(st.integers(-300, 300))
def test_a_clock_set_ahead_moves_the_likelihood_by_as_much(steps: int) -> None:
    at, day = seen(400, seed=3)
    table = sky()
    plain = likelihood(table, Light(steps_of(at), day)).share
    moved = likelihood(table, Light(steps_of(at) + steps, day)).share
    # Nearer to half a day some of it would meet the sun of the day before or behind.
    assert np.allclose(np.roll(plain, steps), moved, atol=1e-3)
    assert moved.max() > 0.1


def test_the_likelihood_is_the_models_sum_done_slowly() -> None:
    # The same integral, picture by picture in plain loops, from the formula in the module's text.
    at, day = seen(25, seed=4)
    table, light = sky(), Light(steps_of(at), day)
    offsets = np.array([-60, 0, 17])
    fast = log_likelihood(table, light, offsets)
    switch = np.linspace(-13, 11, 49)
    slow = []
    for k in offsets:
        height, sinking = heights(table, Light(light.at - k, day))
        total = 0.0
        for width in (0.4, 1.0, 2.5):
            for wrong in (0.005, 0.03, 0.1):
                p = wrong + (1 - 2 * wrong) / (1 + np.exp(-(height[:, None] - switch) / width))
                chance = np.where(day[:, None], p, 1 - p)
                dawn, dusk = chance[~sinking].prod(axis=0), chance[sinking].prod(axis=0)
                middle, apart = (switch[:, None] + switch) / 2, switch[:, None] - switch
                prior = np.exp(-(((middle + 1) / 4) ** 2) / 2 - (apart / 1.5) ** 2 / 2)
                total += dawn @ (prior / prior.sum()) @ dusk / 9
        slow.append(np.log(total))
    assert fast == pytest.approx(slow, abs=1e-6)


def test_switch_heights_are_found() -> None:
    at, day = seen(4000, days=120, switch=1.5)
    found = likeliest_switch(sky(120), Light(steps_of(at), day), 0)
    assert found.dawn == pytest.approx(1.5, abs=0.6)
    assert found.dusk == pytest.approx(1.5, abs=0.6)


@given(st.lists(st.integers(-HALF, HALF - 1), min_size=1, max_size=6, unique=True))
def test_the_arc_is_the_shortest_that_holds_all(steps: list[int]) -> None:
    start, stop = arc(np.array(sorted(steps)))
    length = stop - start
    assert all((s - start) % DAY_STEPS <= length for s in steps)
    shortest = min(max((s - first) % DAY_STEPS for s in steps) for first in steps)
    assert length == shortest


def test_the_smallest_set_holds_what_it_must() -> None:
    share = np.zeros(DAY_STEPS)
    share[[10, 11, 300]] = 0.5, 0.3, 0.2
    assert smallest_set(share, 0.5).tolist() == [10 - HALF]
    assert smallest_set(share, 0.79).tolist() == [10 - HALF, 11 - HALF]
    assert smallest_set(share, 0.95).tolist() == [10 - HALF, 11 - HALF, 300 - HALF]


def test_too_little_is_no_verdict() -> None:
    at, day = seen(9)
    assert judge(sky(), at, day).verdict == UNCLEAR
    at, day = seen(300)
    assert judge(sky(), at, day | True).why == "all 300 bursts were taken by day"
    # Night pictures only about noon and midnight: dawn and dusk were never pictured.
    height = sun_height(*PLACE, at.astype("datetime64[s]"))
    far = np.abs(height) > 17
    told = judge(sky(), at[far], day[far])
    assert told.verdict == UNCLEAR
    assert "near dawn and" in told.why


def test_one_end_of_the_day_is_not_enough_since_the_switch_height_is_not_known() -> None:
    at, day = seen(3000, seed=8)
    _, sinking = heights(sky(), Light(steps_of(at), day))
    height = sun_height(*PLACE, at.astype("datetime64[s]"))
    no_dawn = sinking | (np.abs(height) > 17)
    assert judge(sky(), at[no_dawn], day[no_dawn]).verdict == UNCLEAR
    assert judge(sky(), at, day).verdict == RIGHT


def test_a_step_is_told_from_an_offset() -> None:
    at, day = seen(800, days=90, seed=9)
    middle = float(at.mean())
    shown = at + np.where(at > middle, 3600.0, 0.0)
    story = tell(sky(90), shown, day, [middle])
    assert story.step == Step(middle, 3600)
    assert story.step_chance > 0.99
    assert tell(sky(90), at, day, [middle]).step_chance < 0.01


def test_parts_that_agree_are_not_parted() -> None:
    at, day = seen(600, seed=10)
    half = at < at.mean()
    table = sky()

    def chance(shift: float) -> float:
        moved = at + np.where(half, 0.0, shift)
        parts = [tell(table, moved[part], day[part]) for part in (half, ~half)]
        return parted(tell(table, moved, day), parts, 0.1)

    assert chance(0.0) < 0.05
    assert chance(5 * 3600.0) > 0.99


def test_a_white_flash_is_told_by_brightness() -> None:
    at, day = seen(500, seed=11)
    rng = np.random.default_rng(12)
    brightness = np.where(day, rng.normal(115, 15, 500), rng.normal(35, 10, 500))
    by_class, plainly = daylight(np.where(day, 1.0, 0.0), brightness)
    assert not plainly
    assert (by_class == day).all()
    by_brightness, had_to = daylight(np.ones(500), brightness)
    assert had_to
    assert (by_brightness == day).mean() > 0.98
    told = judge(sky(), at + 3 * 3600, by_brightness, (), had_to)
    assert told.ahead.value == pytest.approx(180, abs=20)
    assert "only go by how bright they are" in told.why


def test_one_heap_of_brightness_says_nothing() -> None:
    rng = np.random.default_rng(13)
    for brightness in (rng.normal(110, 20, 2000), rng.uniform(60, 160, 2000), np.full(50, 80.0)):
        day, had_to = daylight(np.ones(len(brightness)), brightness)
        assert not had_to
        assert day.all()
