"""A patch that is off on average, before leaves that explain every single pixel."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from pixels_world import fates, few, rows_of
from scenes import Deer, drawn, litter

from camsign.pixels.changes import Glanced, changes
from camsign.pixels.glance import pack
from camsign.pixels.patches import APART, farthest
from camsign.pixels.planes import planes_of
from camsign.pixels.rare import Small

LEAVES = 110 + 28 * litter(np.random.default_rng(8), 220, 280)


def waving(rng: np.random.Generator, add: np.ndarray | float = 0.0) -> Small:
    """The same leaves, some pixels to a side each time."""
    x, y = rng.integers(0, 6, 2)
    gray = LEAVES[y : y + 192, x : x + 256] + add
    return Small(planes_of(np.clip(gray, 0, 255).astype(np.uint8)))


@pytest.mark.parametrize("shade", [-45, 45])
def test_what_stands_before_waving_leaves_lies_apart_from_them(shade: int) -> None:
    rng = np.random.default_rng(9)
    cover = drawn(Deer(0.3, 0.5, 0.8, 1), 192, 256)[1]
    others = [waving(rng) for _ in range(24)]
    with_, without = waving(rng, shade * cover), waving(rng)
    assert farthest([with_, without], others)[0] > APART
    assert farthest([with_, without], others)[1] < APART / 2
    once = [*others, waving(rng, shade * cover)]
    assert farthest([with_], once)[0] > APART / 2  # one that stood there before hardly explains it


def test_light_that_lies_over_half_the_picture_is_no_thing() -> None:
    rng = np.random.default_rng(10)
    others = [waving(rng) for _ in range(24)]
    sun = np.zeros((192, 256))
    sun[:, 100:] = 45
    assert farthest([waving(rng, sun)], others)[0] < APART


def test_a_deer_in_another_place_each_time_before_real_leaves_is_not_set_aside(
    samples: Path,
) -> None:
    # OpenCV's sample of leaves in the wind, there and back, with a drawn deer in 7 of 35 bursts.
    files = sorted((samples / "sequences" / "tree").glob("*.jpg"))[:53]
    leaves = [cv2.imread(str(path), cv2.IMREAD_GRAYSCALE) for path in files]
    leaves = (leaves + leaves[::-1])[:105]
    rng, rows, columns = np.random.default_rng(12), *leaves[0].shape
    shows = set(rng.choice(35, 7, replace=False).tolist())
    frames = []
    for i, gray in enumerate(leaves):
        if i % 3 == 0:
            tall, shade = rng.uniform(0.15, 0.3), rng.choice([-1, 1]) * rng.uniform(25, 40)
            x, y, pace = rng.uniform(0.2, 0.8), rng.uniform(0.4, 1), rng.uniform(0, 0.08)
        if i // 3 in shows:
            about = Deer(tall, x + pace * (i % 3 - 1), y, 1, 0.37 * (i % 3))
            coat, cover, _ = drawn(about, rows, columns)
            body = (float(gray[cover > 0.5].mean()) + shade) * (0.82 + 0.36 * coat)
            gray = np.clip(gray * (1 - cover) + body * cover, 0, 255).astype(np.uint8)
        frames.append(Glanced(str(i), i // 3 * 3600.0 + i % 3, str(i // 3), pack(gray)))
    fate = fates(["colour"] * len(frames), changes(frames))
    assert not [f for i, f in enumerate(fate) if f in ("aside", "sheet") and i // 3 in shows]
    # A burst goes as a whole: none of 28 has a frame with news, and some are held.
    bursts = [set(fate[3 * b : 3 * b + 3]) for b in range(35) if b not in shows]
    assert bursts.count({"aside"}) >= 12
    assert bursts.count({"aside"}) + bursts.count({"held"}) == 28


@pytest.mark.thorough
def test_a_pale_deer_on_patchy_snow_is_not_set_aside() -> None:
    shots = few(503, 60, kind="windy", animals=0.2)
    fate = fates([shot.light for shot in shots], rows_of(shots))
    animals = [f for f, shot in zip(fate, shots, strict=True) if shot.animal]
    assert len(animals) == 57
    assert animals.count("aside") == 0
