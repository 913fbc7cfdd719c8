"""Which of two looks of a place shows the thing, and which the ground."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scenes import litter

from camsign.pixels.outline import stands_out


def ground(rng: np.random.Generator) -> np.ndarray:
    """Leaves, and a trunk."""
    out = 110 + 9 * litter(rng, 96, 128)
    out[:60, 30:38] = 60 + 5 * litter(rng, 60, 8)
    return np.asarray(np.clip(out, 0, 255), np.uint8)


def noise(rng: np.random.Generator, plane: np.ndarray) -> np.ndarray:
    return np.clip(plane + rng.normal(0, 2, plane.shape), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("shade", [-45, 35])
@pytest.mark.parametrize("tall", [6, 14, 40])
def test_the_thing_stands_out_and_the_ground_in_its_place_does_not(shade: int, tall: int) -> None:
    rng = np.random.default_rng(5)
    empty = ground(rng)
    mask = cv2.ellipse(
        np.zeros((96, 128), np.uint8), (70, 50), (tall, tall // 2), 10, 0, 360, 1, -1
    )
    thing = np.where(mask > 0, 110 + shade + 6 * litter(rng, 96, 128), empty).astype(np.uint8)
    without, with_ = ([noise(rng, one) for _ in range(5)] for one in (empty, thing))
    core = np.zeros(mask.shape, bool)
    core[48:53, 67:74] = True
    assert stands_out(with_[0], without, core) > 1.5
    assert stands_out(without[0], with_, core) < 0.7


def test_two_alike_are_even() -> None:
    rng = np.random.default_rng(6)
    both = [noise(rng, ground(rng)) for _ in range(2)]
    core = np.zeros(both[0].shape, bool)
    core[40:44, 60:64] = True
    there = stands_out(both[0], [both[1]], core)
    assert there * stands_out(both[1], [both[0]], core) == pytest.approx(1, abs=0.1)
