"""A deer that hardly ever leaves, or often comes back to one spot; and what only looks like one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import pytest
from pixels_harm import SPOTS, spot
from pixels_world import fates, rows_of
from scenes import Deer, Weather, Woods, drawn, shoot

from camsign.pixels.come_and_go import come_and_go
from camsign.pixels.planes import FramePlanes, planes_of

DARK = Deer(0.2, 0.49, 0.64, shade=-54.0, grazing=True)
CALM = Weather(sun=0.1, sway=0.3)


def view(
    deer: Sequence[Deer | None],
    weather: Sequence[Weather] = (),
    hours: float = 1.0,
    light: str = "colour",
    seed: int = 61_000,
) -> list[FramePlanes]:
    """One camera's pictures, one a burst, so many hours apart."""
    rng, woods, out = np.random.default_rng(seed), Woods(seed), []
    for i, one in enumerate(deer):
        w = weather[i] if weather else CALM
        shift = rng.normal(0, 0.2, 2)
        if one is not None:
            x, y = rng.normal(0, 0.001, 2)
            one = replace(one, x=one.x + float(x), y=one.y + float(y))
        now = replace(w, shift=(float(shift[0]), float(shift[1])))
        gray = cv2.cvtColor(shoot(woods, rng, now, light, one)[0], cv2.COLOR_BGR2GRAY)
        small = cv2.resize(gray, (256, 192), interpolation=cv2.INTER_LINEAR)
        out.append(FramePlanes(i * 3600 * hours, i, planes_of(small)))
    return out


def test_a_view_is_held_where_a_deer_leaves_now_and_then() -> None:
    deer = [None if i in (5, 13) else DARK for i in range(20)]
    assert come_and_go(view(deer)) == set(range(20))
    once = [None if i == 5 else DARK for i in range(20)]
    assert come_and_go(view(once)) == set()
    assert come_and_go(view(deer, hours=0.01)) == set()
    assert come_and_go(view(deer[:5])) == set()


def test_only_the_bursts_with_a_deer_are_held_where_it_comes_back_now_and_then() -> None:
    shows = {1, 4, 9, 12, 17, 20}
    deer = [DARK if i in shows else None for i in range(24)]
    assert come_and_go(view(deer)) == shows
    assert come_and_go(view(deer, hours=0.01)) == set()
    elsewhere = [d and replace(d, x=0.15 + 0.03 * i) for i, d in enumerate(deer)]
    assert come_and_go(view(elsewhere)) == set()


def test_of_bursts_minutes_apart_each_counts_once_it_came_back_often_enough() -> None:
    # Three pictures in each of five hours, as one that beds there for a while; then the empties.
    times = [3600.0 * (i // 3) + 600 * (i % 3) for i in range(15)]
    times += [3600.0 * (5 + i) for i in range(30)]
    frames = view([DARK] * 15 + [None] * 30)
    timed = [replace(f, at=at) for f, at in zip(frames, times, strict=True)]
    assert come_and_go(timed) == set(range(15))
    at_once = [replace(f, at=f.at / 36 if i < 15 else f.at) for i, f in enumerate(frames)]
    assert come_and_go(at_once) == set()


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("deer", "every", "woods"),
    [
        (Deer(0.31, 0.647, 0.76, shade=26.0), 2, 71_000),
        (Deer(0.2, 0.7, 0.65, -1, 0.94, 47.5), 3, 81_001),
    ],
)
def test_a_deer_that_trunks_part_is_held_where_half_or_more_of_the_pictures_show_it(
    deer: Deer, every: int, woods: int
) -> None:
    frames = view([deer if i % every else None for i in range(24)], seed=woods)
    assert come_and_go(frames) >= {f.burst for f in frames if f.burst % every}


def leafy(deer: Sequence[Deer | None], hours: float = 1.0) -> list[FramePlanes]:
    """One camera's bursts of three, of small leaves before the sky that all move all the time."""
    rng, out = np.random.default_rng(5), []
    at = rng.uniform((0, 0), (192, 256), (8000, 2))
    level = rng.choice([70, 95, 120, 150], len(at))
    for burst, one in enumerate(deer):
        lean = rng.normal(0, 1, at.shape)
        for i in range(3):
            gray = np.full((192, 256), 185.0)
            y, x = (at + lean + rng.normal(0, 1, at.shape)).astype(int).T
            for down, right in ((0, 0), (0, 1), (0, -1), (1, 0), (-1, 0)):
                gray[(y + down) % 192, (x + right) % 256] = level
            if one is not None:
                coat, cover, _ = drawn(one, *gray.shape)
                body = (gray[cover > 0.5].mean() + one.shade) * (0.82 + 0.36 * coat)
                gray = gray * (1 - cover) + body * cover
            small = np.clip(gray, 0, 255).astype(np.uint8)
            out.append(FramePlanes(burst * 3600 * hours + i, burst, planes_of(small)))
    return out


@pytest.mark.parametrize("shade", [50.0, -45.0])
def test_a_deer_that_comes_back_before_leaves_in_the_wind_is_held(shade: float) -> None:
    # Its outline is no stronger than the leaves', but a patch of them hardly changes its mean.
    bedded = Deer(0.16, 0.6, 0.7, 1, 0.2, shade, bedded=True)
    shows = {2, 5, 9, 13, 17, 20}
    deer = [bedded if i in shows else None for i in range(24)]
    assert come_and_go(leafy(deer)) == shows
    assert come_and_go(leafy([None] * 24)) == set()
    assert come_and_go(leafy(deer, hours=0.01)) == set()
    elsewhere = [d and replace(d, x=0.15 + 0.03 * i) for i, d in enumerate(deer)]
    assert come_and_go(leafy(elsewhere)) == set()


@pytest.mark.parametrize(
    ("tall", "shade", "every"), [(0.16, 30.0, 3), (0.16, 50.0, 2), (0.12, -30.0, 2)]
)
def test_a_deer_before_leaves_is_held_where_a_third_or_half_of_the_pictures_show_it(
    tall: float, shade: float, every: int
) -> None:
    # So often it must not count as how much the leaves vary.
    deer = Deer(tall, 0.6, 0.7, 1, 0.2, shade, bedded=True)
    frames = leafy([deer if i % every == 1 else None for i in range(24)])
    assert come_and_go(frames) >= {f.burst for f in frames if f.burst % every == 1}


def test_snow_that_comes_to_lie_is_no_thing_that_comes() -> None:
    snow = [replace(CALM, cover=float(i >= 6)) for i in range(20)]
    assert come_and_go(view([None] * 20, snow, light="infrared", seed=3)) == set()


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("name", "wind"),
    [("every night, 47 of 50, stands", 0.3), ("feeds, 47 of 50, three poses", 2.5)],
)
def test_a_deer_that_most_of_110_triggers_show_is_not_set_aside(name: str, wind: float) -> None:
    shots = list(spot(61_000, SPOTS[name], "colour", wind, n=110))
    fate = fates(["colour"] * len(shots), rows_of(shots))
    animals = [f for f, shot in zip(fate, shots, strict=True) if shot.animal]
    assert len(animals) > 250
    assert "aside" not in animals
