"""What has another hue than the pictures in like light: a deer as bright as what is behind it."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

import cv2
import numpy as np
import pytest
from pixels_world import fates, rows_of
from scenes import Deer, Shot, clouds, drawn, litter

from camsign.pixels.changes import Glanced, changes
from camsign.pixels.decode import Reduced
from camsign.pixels.glance import pack, unpack
from camsign.pixels.hue import AS_NEWS, hue_of, other_hue
from camsign.pixels.look import look
from camsign.pixels.scores import THRESHOLDS

ROWS, COLUMNS = 240, 320
LEAVES = np.array([0.62, 0.97, 1.0])  # blue, green, red
COAT = np.array([0.5, 0.72, 1.0])  # in summer
BUCK = Deer(0.25, 0.5, 0.8)
ENOUGH = THRESHOLDS["colour"] / AS_NEWS


def leaves(seed: int, buck: float = 0.0, light: np.ndarray | float = 1.0) -> np.ndarray:
    """Leaves anew each time, all of one hue; a buck of another, exactly as bright as they are."""
    rng = np.random.default_rng(seed)
    gray = np.clip(105 + 22 * litter(rng, ROWS, COLUMNS), 5, 250)
    cover = buck * drawn(BUCK, ROWS, COLUMNS)[1][..., None]
    red = 1 + 0.02 * clouds(rng, ROWS, COLUMNS, 30)[..., None] * np.array([-1.0, 0.0, 1.0])
    hue = _bright(LEAVES) * red * (1 - cover) + _bright(COAT) * cover
    return np.clip(gray[..., None] * hue * np.asarray(light)[..., None], 0, 255).astype(np.uint8)


def _bright(hue: np.ndarray) -> np.ndarray:
    return hue / float(hue @ [0.114, 0.587, 0.299])


def hue(pixels: np.ndarray) -> np.ndarray:
    found = hue_of(pack(pixels))
    assert found is not None
    return found


def test_a_hue_is_none_of_a_gray_glance_and_a_quarter_of_one_in_color() -> None:
    pixels = leaves(1)
    assert hue_of(pack(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY))) is None
    assert hue_of(b"torn") is None
    assert hue(pixels).shape == (48, 64, 2)


def test_a_glance_in_color_gives_the_gray_of_a_gray_one() -> None:
    pixels = leaves(2)
    colored, gray = unpack(pack(pixels)), unpack(pack(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)))
    assert colored is not None and gray is not None
    assert np.abs(colored.astype(int) - gray).mean() < 2


def test_only_pictures_in_color_are_kept_in_color() -> None:
    for pixels, colored in ((leaves(3), True), (np.dstack([leaves(3)[..., 1]] * 3), False)):
        kept = look("f", Reduced(pixels, COLUMNS, ROWS))
        assert (hue_of(kept.glance) is not None) is colored


def test_how_bright_it_is_and_what_the_camera_takes_for_white_change_no_hue() -> None:
    plain = hue(leaves(4)).astype(int)
    dim = hue(leaves(4, light=0.6)).astype(int)
    warm = hue(np.clip(leaves(4) * np.array([0.93, 1.0, 1.06]), 0, 255).astype(np.uint8))
    assert np.abs(dim - plain).mean() < 2.5
    assert np.abs(warm.astype(int) - plain).mean() < 2.5


def test_a_coat_as_bright_as_the_leaves_is_news_and_leaves_are_none() -> None:
    others = [hue(leaves(seed)) for seed in range(10, 34)]
    with_, without = other_hue([hue(leaves(5, 1)), hue(leaves(6))], others)
    assert with_ is not None and without is not None
    assert with_.max() > AS_NEWS * ENOUGH
    assert without.max() < AS_NEWS * ENOUGH
    row, column = np.unravel_index(with_.argmax(), with_.shape)
    assert abs(row / 48 - 0.66) < 0.15 and abs(column / 64 - 0.5) < 0.2
    again = other_hue([hue(leaves(5, 1))], [*others[4:], *(hue(leaves(k, 1)) for k in range(4))])[0]
    assert again is not None
    assert again.max() > AS_NEWS * ENOUGH  # four that stood there before explain nothing


def test_sun_over_half_of_the_picture_is_no_other_hue() -> None:
    others = [hue(leaves(seed)) for seed in range(10, 34)]
    sun = np.ones((ROWS, COLUMNS))
    sun[:, 140:] = 1.7
    found = other_hue([hue(leaves(8, light=sun))], others)[0]
    assert found is not None and found.max() < AS_NEWS * ENOUGH


def test_nothing_is_said_of_gray_frames_or_with_few_in_color() -> None:
    some = [hue(leaves(seed)) for seed in range(10, 14)]
    assert other_hue([None, some[0]], [*some, None])[0] is None
    assert other_hue([some[0]], [*some[:3], None, None]) == [None]


@pytest.fixture(scope="module")
def deployment() -> list[Shot]:
    """40 triggers of three frames of one view, one pattern of leaves; three with the buck."""
    shots = []
    for burst in range(40):
        rng = np.random.default_rng(burst)
        gray = 105 + 22 * litter(np.random.default_rng(99), ROWS, COLUMNS)
        for i in range(3):
            buck = burst in (9, 20, 33)
            cover = buck * drawn(BUCK, ROWS, COLUMNS)[1][..., None]
            tint = _bright(LEAVES) * (1 - cover) + _bright(COAT) * cover
            noisy = gray + rng.normal(0, 2, gray.shape)
            pixels = np.clip(noisy[..., None] * tint, 0, 255).astype(np.uint8)
            at = datetime(2030, 10, 1) + timedelta(hours=burst * 3, seconds=i)
            shots.append(Shot(at, burst, "colour", pixels, 999.0, BUCK if buck else None))
    return shots


def test_a_buck_that_gray_cannot_tell_is_shown_with_his_box_where_there_is_color(
    deployment: list[Shot],
) -> None:
    rows = rows_of(deployment)
    fate = fates(["colour"] * len(rows), rows)
    gone = {s.burst for s, f in zip(deployment, fate, strict=True) if f in ("aside", "sheet")}
    assert not gone & {9, 20, 33}
    assert len(gone) > 30
    for row in (row for shot, row in zip(deployment, rows, strict=True) if shot.burst == 20):
        assert row.box_x is not None and row.box_width is not None
        assert row.box_x < 0.5 < row.box_x + row.box_width


def test_what_two_frames_of_a_burst_do_not_show_is_no_news_of_hue(deployment: list[Shot]) -> None:
    alone = [
        Shot(s.at, s.burst, s.light, deployment[0].pixels, s.seen, None)
        if s.burst in (9, 33) or (s.burst == 20 and i % 3)
        else s
        for i, s in enumerate(deployment)
    ]
    rows = rows_of(alone)
    assert max(row.news or 0 for row in rows) < THRESHOLDS["colour"]


def test_pictures_too_small_for_a_hue_are_compared_in_gray() -> None:
    rng = np.random.default_rng(1)
    numbers = json.dumps({"strip_top": 1, "rows": 3})
    frames = [
        Glanced(
            str(i), 7200.0 * i, str(i), pack(rng.integers(0, 255, (3, 3, 3), np.uint8)), numbers
        )
        for i in range(12)
    ]
    assert len(changes(frames)) == 12
