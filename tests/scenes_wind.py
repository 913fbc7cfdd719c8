"""Wind as it is harder to see through than `scenes.season` draws it, in color and by infrared.

Branches have colors of their own and two looks of their leaves, which flutter; they lean with a
gust that lasts a burst and sway about that. Grass bends in waves, the far trees move before gaps
of sky, leaves thin out through the season, and a branch may come down. Deer are as in `scenes`, in
coats from gray to red. Drawn at random from a seed; nothing is tuned to a score.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import cv2
import numpy as np
from scenes import (
    VISIBLE,
    Deer,
    Grid,
    Shot,
    Weather,
    Woods,
    _air,
    _camera,
    _daylight,
    _exposure,
    _glow,
    clouds,
    litter,
    put,
    some_deer,
)

LEAVES = ((0.45, 1.0, 0.75), (0.3, 0.85, 1.0), (0.4, 0.5, 1.0), (0.55, 0.75, 1.0), (0.9, 0.95, 1.0))
"""Blue, green, red of what hangs there: green, yellow, red, brown, gray."""

COATS = ((0.78, 0.9, 1.0), (0.62, 0.82, 1.0), (0.5, 0.72, 1.0))
"""Of deer: gray, brown, red."""


@dataclass(frozen=True)
class Wind:
    """Of one burst: how far things sway about where they lean [pixels], and where they lean."""

    sway: float
    lean: tuple[float, float]
    day: float


@dataclass
class _Branch:
    mask: Grid
    top: Grid
    under: Grid
    hue: Grid
    leaf: Grid  # a leaf hangs there until a later share of the season, the higher
    loose: float
    down: float  # the day from which on it lies on the ground


class WindyWoods(Woods):
    """One view, drawn from its seed."""

    def __post_init__(self) -> None:
        """Draw what moves, besides what `Woods` draws."""
        super().__post_init__()
        rng = np.random.default_rng(self.seed + 70_000_000)
        r, c = self.rows, self.columns
        self.branches_in_wind = [self._own(rng, mask, shade) for mask, shade, _ in self.branches]
        sky = (clouds(rng, r, c, 30) > rng.uniform(0.3, 1.6)) & ~self.is_ground
        for mask, _ in self.trunks:
            sky &= mask < 0.5
        self.sky = cv2.GaussianBlur(sky.astype(np.float32), (0, 0), 0.8)
        self.grass = self._grass(rng)
        self.bends = rng.uniform(0.2, 1.0)
        self.still, self.hue = self.still.astype(np.float32), self.hue.astype(np.float32)
        self.coat = np.array(COATS[int(rng.integers(len(COATS)))])

    def _own(self, rng: np.random.Generator, mask: Grid, shade: Grid) -> _Branch:
        top = np.clip(shade + 0.05 * litter(rng, *mask.shape), 0.05, 0.9)
        hue = np.array(LEAVES[int(rng.integers(len(LEAVES)))])
        patchy = 1 + 0.06 * clouds(rng, *mask.shape, 50)[..., None] * np.array([1.0, 0.5, -0.3])
        falls = float(rng.uniform(1, 25)) if rng.random() < 0.15 else np.inf
        thins = clouds(rng, *mask.shape, 90) if rng.random() < 0.5 else np.full(mask.shape, 9.0)
        under = np.clip(top * rng.uniform(1.15, 1.9), 0, 0.95)
        drawn = [part.astype(np.float32) for part in (mask, top, under, hue * patchy, thins)]
        return _Branch(*drawn, float(rng.uniform(0.3, 1.6)), falls)

    def _grass(self, rng: np.random.Generator) -> Grid:
        """How high above its root each pixel of grass is, 0 for none."""
        r, c = self.rows, self.columns
        if rng.random() < 0.4:
            return np.zeros((r, c), np.float32)
        begin = rng.uniform(0.6, 0.9) * r
        high = np.clip((r - np.arange(r)) / (r - begin + 1), 0, 1)[:, None]
        there = (np.arange(r)[:, None] > begin) * (clouds(rng, r, c, 6) > rng.uniform(-0.5, 0.6))
        blades = cv2.GaussianBlur(rng.normal(0, 1, (r, c)), (0, 0), 0.6)
        blades = cv2.blur(blades, (1, 13))
        soft = cv2.GaussianBlur(there.astype(np.float32), (0, 0), 2)
        self.still = np.clip(self.still + soft * 0.25 * blades / blades.std() * 0.3, 0.04, 0.9)
        return (soft * high).astype(np.float32)


def shoot_in_wind(
    woods: WindyWoods,
    rng: np.random.Generator,
    weather: Weather,
    wind: Wind,
    light: str = "colour",
    deer: Deer | None = None,
) -> tuple[Grid, float]:
    """Take one frame; give its pixels and how many pixels the deer makes visibly different."""
    scene, hue = _behind(woods, rng, wind, light)
    lit = _daylight(woods, rng, weather) if light == "colour" else _glow(woods, rng, weather)
    lit = lit.astype(np.float32)
    picture = bare = scene * lit * 255
    if deer is not None:
        picture, hue = put(woods, picture, lit, hue, deer, light, woods.coat)
    for branch in woods.branches_in_wind:
        if wind.day > branch.down:
            continue
        mask, shade, own = _fluttering(rng, branch, wind, light)
        near = np.clip(shade * (1.0 if light == "colour" else 1.5), 0, 1) * lit * 255
        picture, bare = (p * (1 - mask) + near * mask for p in (picture, bare))
        if own is not None:
            hue = hue * (1 - mask[..., None]) + own * mask[..., None]
    gain = _exposure(rng, picture, weather, light)
    differs = np.abs(np.clip(picture * gain, 0, 255) - np.clip(bare * gain, 0, 255))
    picture = _air(rng, picture * gain, weather, light)
    out = picture[..., None] * (hue if light == "colour" else np.ones(3))
    return _camera(rng, out, weather, light, 90), float((differs > VISIBLE).sum())


def _behind(
    woods: WindyWoods, rng: np.random.Generator, wind: Wind, light: str
) -> tuple[Grid, Grid]:
    """The ground with its grass, and the far trees before the sky, bent by the wind."""
    r, c = woods.rows, woods.columns
    y, x = np.mgrid[0:r, 0:c].astype(np.float32)
    wave = clouds(rng, r, c, 7).astype(np.float32) * np.float32(wind.sway)
    blown = (wave + np.float32(wind.lean[0])) * 2.0 * woods.grass
    far = np.where(woods.is_ground, 0, 0.35 * woods.bends * clouds(rng, r, c, 5) * wind.sway)
    sky = 0.95 if light == "colour" else 0.02
    still = woods.still * (1 - woods.sky) + np.float32(sky) * woods.sky
    at = (x + blown + far).astype(np.float32), (y + 0.5 * far).astype(np.float32)
    flags = {"interpolation": cv2.INTER_LINEAR, "borderMode": cv2.BORDER_REFLECT}
    still = cv2.remap(still, *at, **flags)
    if light != "colour":
        return still, woods.hue
    tint = np.array([1.0, 0.97, 0.93], np.float32)
    hue = woods.hue * (1 - woods.sky[..., None]) + tint * woods.sky[..., None]
    return still, cv2.remap(hue, *at, **flags)


def _fluttering(
    rng: np.random.Generator, branch: _Branch, wind: Wind, light: str
) -> tuple[Grid, Grid, Grid | None]:
    """A branch's cover, shade and hue in one frame; infrared has no hue."""
    r, c = branch.mask.shape
    move = np.array(wind.lean) * branch.loose + rng.normal(0, wind.sway * branch.loose, 2)
    turn = np.deg2rad(rng.normal(0, wind.sway * branch.loose * 0.5))
    m = np.array([[1, -turn, move[0] + turn * r * 0.4], [turn, 1, move[1] - turn * c * 0.4]])
    turns = clouds(rng, r, c, 60).astype(np.float32)
    turned = 1 / (1 + np.exp(-4 * (turns - 1.5 + 0.5 * min(wind.sway, 3))))
    shade = branch.top * (1 - turned) + branch.under * turned
    mask = branch.mask * (branch.leaf > (wind.day / 12 - 1.2))
    size, border = (c, r), cv2.BORDER_REFLECT
    mask, shade = cv2.warpAffine(mask, m, size), cv2.warpAffine(shade, m, size, borderMode=border)
    colour = light == "colour"
    return mask, shade, cv2.warpAffine(branch.hue, m, size, borderMode=border) if colour else None


def blowing(
    seed: int, triggers: int = 140, days: int = 24, animals: float = 0.2, wind: float = 1.0
) -> Iterator[Shot]:
    """Give a deployment's frames in order of time, in wind that changes from day to day.

    A fifth of the triggers by a deer, a third of which stay for several bursts.
    """
    rng = np.random.default_rng(seed)
    woods = WindyWoods(seed)
    gusts = rng.uniform(1.0, 4.0, days) * wind
    to = rng.uniform(0, 2 * np.pi, days)
    skies = rng.beta(0.7, 0.7, days) * 0.4
    number = 0
    for day in sorted(rng.uniform(0, days, triggers)):
        hour = day % 1 * 24
        light = "colour" if 6.5 < hour < 18.5 else "infrared"
        strong = gusts[int(day)] * rng.uniform(0.3, 1.3)
        lean = strong * rng.uniform(0, 0.8) * np.array([np.cos(to[int(day)]), 0.4])
        up = float(np.clip(np.sin((hour - 6) / 13 * np.pi), 0, 1))
        w = Weather(
            sun=float(skies[int(day)]) * up, hour=hour, sway=float(strong),
            exposure=float(rng.normal(1, 0.05)),
        )  # fmt: skip
        deer = some_deer(rng, light) if rng.random() < animals else None
        stays = deer is not None and rng.random() < 0.35
        for again in range(int(rng.integers(2, 5)) if stays else 1):
            later = day + again * rng.uniform(1, 4) / 1440
            now = Wind(float(strong), (float(lean[0]), float(lean[1])), day)
            yield from _burst(woods, rng, w, now, light, deer, (later, number), stays)
            number += 1


def _burst(
    woods: WindyWoods,
    rng: np.random.Generator,
    w: Weather,
    wind: Wind,
    light: str,
    deer: Deer | None,
    when: tuple[float, int],
    stays: bool,
) -> Iterator[Shot]:
    day, number = when
    walks = deer is not None and not stays and rng.random() < 0.6
    pace = deer.height * rng.uniform(0.3, 0.9) if deer and walks else 0.0
    for i in range(3):
        shift = rng.normal(0, 0.15 + 0.08 * min(w.sway, 3), 2)
        now = replace(w, shift=(float(shift[0]), float(shift[1])))
        here = deer
        if deer is not None:
            x = deer.x + deer.facing * pace * (i - 1) * woods.rows / woods.columns
            here = replace(deer, x=x, step=deer.step + 0.37 * i if walks else deer.step)
        pixels, seen = shoot_in_wind(woods, rng, now, wind, light, here)
        at = datetime(2030, 10, 1) + timedelta(days=day, seconds=i)
        heading = deer.facing if deer is not None and walks else 0
        yield Shot(at, number, light, pixels, seen, here, heading, now)
