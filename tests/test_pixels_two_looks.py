"""A place with two looks, turn about: what half of the pictures show, before what always moves."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from camsign.pixels.two_looks import two_looks

HOURLY = np.arange(30) * 3600.0
HALF = np.arange(30) % 2 == 0
SELDOM = np.arange(30) % 5 == 0


def soft(shows: np.ndarray, shade: float = 40.0) -> list[list[np.ndarray]]:
    """Bursts of two: levels that vary evenly everywhere, and a block that some of them show."""
    rng, out = np.random.default_rng(3), []
    for there in shows:
        gray = cv2.blur(rng.uniform(40, 200, (60, 80)).astype(np.float32), (3, 3))
        if there:
            gray[20:26, 30:38] = 120 + shade
        out.append([np.clip(gray + rng.normal(0, 1, gray.shape), 0, 255).astype(np.uint8)] * 2)
    return out


def calmer(shows: np.ndarray, levels: float = 30.0) -> list[list[np.ndarray]]:
    """The same where little moves, and what some show is by so many levels lighter."""
    rng = np.random.default_rng(4)
    out = []
    for there in shows:
        gray = rng.uniform(95, 105, (60, 80))
        gray[20:26, 30:38] += levels * there
        out.append([gray.astype(np.uint8)] * 2)
    return out


def test_all_wait_where_half_of_the_bursts_show_it() -> None:
    assert two_looks(calmer(HALF), HOURLY).all()


def test_the_rarer_look_alone_waits_where_one_burst_in_five_shows_it() -> None:
    assert two_looks(calmer(SELDOM), HOURLY).tolist() == SELDOM.tolist()
    assert two_looks(calmer(~SELDOM), HOURLY).tolist() == SELDOM.tolist()


@pytest.mark.parametrize("levels", [0.0, 4.0])
def test_none_waits_without_a_clear_gap(levels: float) -> None:
    assert not two_looks(calmer(HALF, levels), HOURLY).any()


def test_leaves_that_show_every_shade_are_no_two_looks() -> None:
    assert not two_looks(soft(np.zeros(30, bool)), HOURLY).any()
    assert two_looks(soft(HALF, shade=100), HOURLY).all()  # ... but what lies before them is


def test_a_look_that_came_once_for_good_or_stayed_a_while_is_no_visitor() -> None:
    assert not two_looks(calmer(np.arange(30) >= 17), HOURLY).any()
    assert not two_looks(calmer(SELDOM), HOURLY / 100).any()


def test_light_over_half_of_the_picture_is_no_thing() -> None:
    bursts = calmer(np.zeros(30, bool))
    for burst, sunny in zip(bursts, HALF, strict=True):
        for frame in burst:
            frame[:, 44:] += np.uint8(40 * sunny)
    assert not two_looks(bursts, HOURLY).any()


def test_five_bursts_say_nothing() -> None:
    assert not two_looks(calmer(HALF)[:5], HOURLY[:5]).any()
