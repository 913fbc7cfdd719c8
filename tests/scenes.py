"""Woods as a camera sees them, rendered for the tests of what pixels say. Apart from the demo's.

A `Woods` is one view: ground, trunks, branches that sway, all drawn from a seed. `shoot` gives one
frame of it as reduced pixels (rows, columns, blue green red). `season` gives a whole deployment's
triggers with the truth of each frame. Parameters are drawn at random; nothing is tuned to a score.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Grid = NDArray[Any]

ROWS, COLUMNS = 240, 320
VISIBLE = 12  # gray levels by which a deer must differ from what it covers, pixel by pixel
ENOUGH = 12  # so many such pixels (0.016% of the frame), or nobody could say that it is there
BROWN = np.array([0.62, 0.82, 1.0])  # a deer's hue: blue, green, red


@dataclass(frozen=True)
class Deer:
    """A deer in the picture: its height from foot to ear as a share of the frame's, where its feet
    are (column and row as shares), which way it looks, the phase of its step, its shade against
    the ground behind it [gray levels at full light], and how much of it a bush hides."""

    height: float
    x: float
    y: float
    facing: int = 1
    step: float = 0.0
    shade: float = -35.0
    hidden: float = 0.0
    grazing: bool = False
    bedded: bool = False


@dataclass(frozen=True)
class Weather:
    """sun 0..1, where the sun stands (hours), wind as sway [pixels], flakes in the air, snow cover
    0..1, exposure [factor], fog 0..1, camera's own shift [pixels]."""

    sun: float = 0.5
    hour: float = 12.0
    sway: float = 0.6
    flakes: int = 0
    cover: float = 0.0
    exposure: float = 1.0
    fog: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)


@dataclass
class Woods:
    """One view. `rng` draws its plants; each frame has its own generator."""

    seed: int
    rows: int = ROWS
    columns: int = COLUMNS
    branches: list[tuple[Grid, Grid, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        rng = np.random.default_rng(self.seed)
        r, c = self.rows, self.columns
        self.horizon = int(r * rng.uniform(0.25, 0.45))
        down = np.clip((np.arange(r) - self.horizon) / (r - self.horizon), 0, 1)
        grain = 0.25 + 0.75 * down[:, None]
        ground = 0.36 + 0.05 * clouds(rng, r, c, 5) + 0.07 * grain * litter(rng, r, c)
        far = 0.30 + 0.09 * litter(rng, r, c) + 0.05 * clouds(rng, r, c, 7)
        edge = self.horizon + 6 * clouds(rng, 1, c, 8)[0]
        self.is_ground = np.arange(r)[:, None] > edge[None, :]
        self.still = np.clip(np.where(self.is_ground, ground, far), 0.04, 0.9)
        hue = np.stack([0.72 + 0.05 * litter(rng, r, c), 0.93 + 0.04 * litter(rng, r, c)])
        self.hue = np.stack([hue[0], hue[1], np.ones((r, c))], axis=2)
        self.trunks: list[tuple[Grid, int]] = []
        for foot in sorted(rng.uniform(0.45, 1.25, rng.integers(4, 9))):
            self._trunk(rng, foot)
        self.canopy = clouds(rng, r * 2, c * 4, 20) + 0.5 * clouds(rng, r * 2, c * 4, 60)
        self.canopy /= self.canopy.std()
        for _ in range(rng.integers(3, 7)):
            self._branch(rng)
        self.bush = clouds(rng, r, c, 40)

    def _trunk(self, rng: np.random.Generator, foot: float) -> None:
        r, c = self.rows, self.columns
        width = c * rng.uniform(0.008, 0.05) * foot**2
        lean = rng.uniform(-0.06, 0.06)
        middle = rng.uniform(0, c) + lean * (np.arange(r) - r)
        across = (np.arange(c)[None, :] - middle[:, None]) / width
        mask = np.clip((1 - np.abs(across)) * width / 2, 0, 1)
        mask[min(r, int(foot * r)) :] = 0
        bark = rng.uniform(0.16, 0.42) * (1 - 0.35 * np.clip(across, -1, 1))
        bark = bark + 0.04 * litter(rng, r, c)
        self.still = self.still * (1 - mask) + np.clip(bark, 0.05, 0.8) * mask
        self.trunks.append((mask, int(foot * r)))

    def _branch(self, rng: np.random.Generator) -> None:
        big = 3
        canvas = np.zeros((self.rows * big, self.columns * big), np.uint8)
        x, y = rng.uniform(0, self.columns), rng.choice([rng.uniform(0, 60), rng.uniform(100, 240)])
        angle = rng.uniform(0, 2 * np.pi)
        for _ in range(rng.integers(6, 26)):
            a = angle + rng.normal(0, 0.6)
            long = rng.uniform(12, 55)
            tip = (x + long * np.cos(a), y + long * np.sin(a))
            line = [(int(v * big)) for v in (x, y, *tip)]
            cv2.line(canvas, line[:2], line[2:], 255, int(rng.integers(1, 4)), cv2.LINE_AA)
            for _ in range(rng.integers(0, 12)):
                leaf = [int((v + rng.normal(0, 5)) * big) for v in tip]
                size = (int(rng.uniform(2, 7)), int(rng.uniform(2, 4)))
                cv2.ellipse(canvas, leaf, size, rng.uniform(0, 180), 0, 360, 255, -1, cv2.LINE_AA)
        mask = cv2.resize(canvas, (self.columns, self.rows), interpolation=cv2.INTER_AREA) / 255
        shade = rng.uniform(0.12, 0.6) + 0.08 * clouds(rng, self.rows, self.columns, 70)
        self.branches.append((mask, shade, rng.uniform(0.3, 1.6)))


def clouds(rng: np.random.Generator, rows: int, columns: int, cells: int) -> Grid:
    """Smooth noise, mean 0, standard deviation about 1, with so many cells across."""
    small = rng.normal(0, 1, (max(2, cells * rows // columns + 2), cells + 2))
    out = cv2.resize(small, (columns, rows), interpolation=cv2.INTER_CUBIC)
    return np.asarray(out / max(float(out.std()), 1e-6) if rows > 1 else out)


def litter(rng: np.random.Generator, rows: int, columns: int) -> Grid:
    """Noise of all sizes, coarse ones stronger, mean 0, standard deviation 1: leaves, twigs."""
    out = sum(cells**-0.35 * clouds(rng, rows, columns, cells) for cells in (10, 22, 48, 105, 230))
    return np.asarray(out / np.std(out))


def shoot(
    woods: Woods,
    rng: np.random.Generator,
    weather: Weather,
    light: str = "colour",
    deer: Deer | None = None,
    jpeg: int | None = 90,
) -> tuple[Grid, float]:
    """Take one frame; give its pixels and how many pixels the deer makes visibly different."""
    scene, hue = woods.still.copy(), woods.hue
    if weather.cover:
        white = np.clip((weather.cover * 1.6 - 0.5 * woods.bush * woods.is_ground), 0, 1)
        white = white * woods.is_ground
        for mask, _ in woods.trunks:
            white = white * (1 - mask)
        scene = scene * (1 - white) + (0.86 + 0.03 * woods.bush) * white
        hue = hue * (1 - white[..., None]) + white[..., None]
    lit = _daylight(woods, rng, weather) if light == "colour" else _glow(woods, rng, weather)
    picture = scene * lit * 255
    bare = picture
    if deer is not None:
        picture, hue = put(woods, picture, lit, hue, deer, light)
    for mask, shade, loose in woods.branches:
        mask, shade = _swayed(rng, mask, shade, weather.sway * loose)
        near = np.clip(shade * (1.0 if light == "colour" else 1.5), 0, 1) * lit * 255
        picture, bare = (p * (1 - mask) + near * mask for p in (picture, bare))
    gain = _exposure(rng, picture, weather, light)
    differs = np.abs(np.clip(picture * gain, 0, 255) - np.clip(bare * gain, 0, 255))
    picture = _air(rng, picture * gain, weather, light)
    out = picture[..., None] * (hue if light == "colour" else np.ones(3))
    seen = float((differs * (1 - weather.fog) > VISIBLE).sum())
    return _camera(rng, out, weather, light, jpeg), seen


def _exposure(rng: np.random.Generator, picture: Grid, w: Weather, light: str) -> float:
    """Automatic exposure, not quite steady; the infrared lamp has less to give."""
    mean = max(float(np.clip(picture, 0, 255).mean()), 1.0)
    if light == "colour":
        return float((105 / mean) ** 0.8 * rng.normal(1, 0.02) * w.exposure)
    return float(min(1.3, (70 / mean) ** 0.8) * rng.normal(1, 0.03) * w.exposure)


def _daylight(woods: Woods, rng: np.random.Generator, w: Weather) -> Grid:
    r, c = woods.rows, woods.columns
    dx = int((w.hour - 6) / 13 * (woods.canopy.shape[1] - c - 8)) + int(rng.normal(0, w.sway / 2))
    dx = int(np.clip(dx, 0, woods.canopy.shape[1] - c))
    holes = woods.canopy[20 : 20 + r, dx : dx + c]
    beams = 1 / (1 + np.exp(-5 * (holes - 0.9)))
    return 0.75 * (1 - 0.45 * w.sun) + 1.35 * w.sun * beams


def _glow(woods: Woods, rng: np.random.Generator, w: Weather) -> Grid:
    y, x = np.mgrid[0 : woods.rows, 0 : woods.columns]
    out = ((x / woods.columns - 0.5) ** 2 + (y / woods.rows - 0.62) ** 2) * 2.2
    depth = np.clip((y - woods.horizon) / (woods.rows - woods.horizon), 0, 1)
    return np.exp(-out * 1.6) * (0.22 + 0.95 * depth**0.7) * 1.3 * rng.normal(1, 0.03)


def _swayed(rng: np.random.Generator, mask: Grid, shade: Grid, sway: float) -> tuple[Grid, Grid]:
    move = rng.normal(0, sway, 2)
    turn = np.deg2rad(rng.normal(0, sway * 0.5))
    r, c = mask.shape
    m = np.array([[1, -turn, move[0] + turn * r * 0.4], [turn, 1, move[1] - turn * c * 0.4]])
    flags = cv2.INTER_LINEAR
    return cv2.warpAffine(mask, m, (c, r), flags=flags), cv2.warpAffine(
        shade, m, (c, r), flags=flags, borderMode=cv2.BORDER_REFLECT
    )


def _air(rng: np.random.Generator, picture: Grid, w: Weather, light: str) -> Grid:
    if w.fog:
        haze = 175.0 if light == "colour" else 120.0
        picture = picture * (1 - w.fog) + haze * w.fog
    if w.flakes:
        veil = np.zeros(picture.shape, np.float32)
        for _ in range(w.flakes):
            at = (int(rng.integers(0, veil.shape[1])), int(rng.integers(0, veil.shape[0])))
            size = rng.exponential(0.7 if light == "colour" else 1.3)
            strength = float(np.clip(rng.uniform(0.3, 0.9), 0, 1))
            cv2.ellipse(veil, at, (int(size), int(size * 1.8)), 10, 0, 360, strength, -1)
        veil = cv2.GaussianBlur(veil, (0, 0), 0.8)
        picture = picture * (1 - veil) + 240 * veil
    return picture


def _camera(rng: np.random.Generator, out: Grid, w: Weather, light: str, jpeg: int | None) -> Grid:
    if any(w.shift):
        m = np.float32([[1, 0, w.shift[0]], [0, 1, w.shift[1]]])
        size = (out.shape[1], out.shape[0])
        out = cv2.warpAffine(out, m, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    grain = rng.normal(0, 1.0 if light == "colour" else 2.0, out.shape[:2])
    out = np.clip(out + grain[..., None], 0, 255).astype(np.uint8)
    if jpeg is None:
        return out
    return cv2.imdecode(cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, jpeg])[1], 1)


def put(
    woods: Woods, picture: Grid, lit: Grid, hue: Grid, deer: Deer, light: str, coat: Grid = BROWN
) -> tuple[Grid, Grid]:
    """Put the deer on the ground of woods, behind what stands before it; its hue is `coat`."""
    shading, alpha, eyes = drawn(deer, woods.rows, woods.columns)
    foot = deer.y * woods.rows
    for mask, stands in woods.trunks:
        if stands > foot:
            alpha = alpha * (1 - mask)
    if deer.hidden:
        alpha = alpha * (woods.bush > np.quantile(woods.bush, deer.hidden))
    inside = alpha > 0.5
    ground = float(picture[inside].mean()) if inside.any() else 80.0
    even = 0.5 + 0.5 * lit / max(float(lit[inside].mean()) if inside.any() else 1.0, 0.05)
    body = np.clip(ground + deer.shade, 8, 235) * (0.82 + 0.36 * shading) * even
    out = picture * (1 - alpha) + np.clip(body, 0, 250) * alpha
    if light != "colour":
        out = np.maximum(out, eyes * alpha * 255)
    return out, hue * (1 - alpha[..., None]) + coat * alpha[..., None]


def drawn(deer: Deer, rows: int, columns: int) -> tuple[Grid, Grid, Grid]:
    """Draw the deer: shading 0..1, cover 0..1, and the shine of its eye."""
    tall = deer.height * rows
    big = 4 if tall < 60 else 2
    s = tall * big
    ox, oy = deer.x * columns * big, deer.y * rows * big
    canvas = np.zeros((rows * big, columns * big), np.uint8)
    shade = np.zeros_like(canvas)
    f = deer.facing

    def at(x: float, y: float) -> tuple[int, int]:
        return int(ox + f * x * s), int(oy - y * s)

    def thick(v: float) -> int:
        return max(1, int(v * s))

    legs = () if deer.bedded else ((-0.36, 0.0), (-0.28, 0.5), (0.24, 0.25), (0.32, 0.75))
    if deer.bedded:
        oy += 0.34 * s  # it lies on its belly
    for hip, lag in legs:
        swing = 0.12 * np.sin(2 * np.pi * (deer.step + lag))
        cv2.line(canvas, at(hip, 0.45), at(hip + swing * 0.4, 0.22), 255, thick(0.07))
        cv2.line(canvas, at(hip + swing * 0.4, 0.22), at(hip + swing, 0.0), 255, thick(0.04))
    cv2.ellipse(canvas, at(0, 0.52), (thick(0.42), thick(0.16)), 0, 0, 360, 255, -1)
    cv2.ellipse(shade, at(0, 0.60), (thick(0.42), thick(0.10)), 0, 0, 360, 255, -1)
    head = (0.62, 0.22) if deer.grazing else (0.58, 0.86)
    cv2.line(canvas, at(0.34, 0.56), at(head[0] - 0.06, head[1]), 255, thick(0.13))
    tilt = 50 * f if deer.grazing else 15 * f
    cv2.ellipse(canvas, at(*head), (thick(0.11), thick(0.055)), tilt, 0, 360, 255, -1)
    if not deer.grazing:
        cv2.ellipse(canvas, at(0.47, 0.95), (thick(0.025), thick(0.06)), -20 * f, 0, 360, 255, -1)
    cv2.ellipse(canvas, at(-0.44, 0.56), (thick(0.04), thick(0.09)), 20 * f, 0, 360, 255, -1)
    size = (columns, rows)
    alpha = cv2.resize(canvas, size, interpolation=cv2.INTER_AREA) / 255
    coat = cv2.GaussianBlur(
        cv2.resize(shade, size, interpolation=cv2.INTER_AREA) / 255, (0, 0), 0.5 + 0.03 * tall
    )
    eyes = np.zeros_like(canvas)
    cv2.circle(eyes, at(head[0] + 0.02, head[1] + 0.02), thick(0.02), 255, -1)
    return (
        coat,
        alpha,
        np.minimum(4 * cv2.resize(eyes, size, interpolation=cv2.INTER_AREA) / 255, 1),
    )


@dataclass(frozen=True)
class Shot:
    """A frame with its truth. `seen`: how many pixels an animal makes visibly different."""

    at: datetime
    burst: int
    light: str
    pixels: Grid
    seen: float
    deer: Deer | None
    heading: int = 0
    weather: Weather = Weather()

    @property
    def animal(self) -> bool | None:
        """Whether an animal can be seen; None if one is there, but over 60% hidden or pale."""
        if self.deer is None:
            return False
        whole = float(drawn(self.deer, *self.pixels.shape[:2])[1].sum())
        return True if self.seen >= max(ENOUGH, 0.4 * whole) else None


KINDS = ("calm", "windy", "sunny", "snowing")


def season(
    seed: int, triggers: int = 60, kind: str = "calm", animals: float = 0.15, per_burst: int = 3
) -> Iterator[Shot]:
    """Give a deployment's frames in order of time: triggers by nothing, and some by deer.

    kind: "calm" or "windy" (overcast or hazy), "sunny" (calm, shadows of the canopy move over the
    ground), "snowing" (flakes in half of the frames). Snow lies from some day on in half of them.
    animals: share of triggers with a deer. About a third of the visits stay for several bursts
    without moving.
    """
    rng = np.random.default_rng(seed)
    woods = Woods(seed)
    begin = datetime(2030, 10, 1)
    days = 12
    when = sorted(rng.uniform(0, days, triggers))
    snow_from = rng.uniform(4, days * 2)
    skies = rng.uniform(0.4, 1.0, days) if kind == "sunny" else rng.beta(0.7, 0.7, days) * 0.25
    gusts = rng.uniform(1.2, 4.0, days) if kind == "windy" else rng.uniform(0.1, 0.5, days)
    number = 0
    for day in when:
        hour = day % 1 * 24
        light = "colour" if 6.5 < hour < 18.5 else "infrared"
        w = Weather(
            sun=float(skies[int(day)] * np.clip(np.sin((hour - 6) / 13 * np.pi), 0, 1)),
            hour=hour,
            sway=float(gusts[int(day)] * rng.uniform(0.4, 1.3)),
            flakes=int(rng.uniform(30, 160)) if kind == "snowing" and rng.random() < 0.5 else 0,
            cover=float(np.clip((day - snow_from) * 1.5, 0, 1)),
            exposure=float(rng.normal(1, 0.05)),
        )
        deer = some_deer(rng, light) if rng.random() < animals else None
        stays = deer is not None and rng.random() < 0.35
        for again in range(int(rng.integers(2, 5)) if stays else 1):
            later = day + again * rng.uniform(1, 4) / 1440
            place = (begin, later, number, per_burst)
            yield from _burst(woods, rng, w, light, deer, place, stays)
            number += 1


def some_deer(rng: np.random.Generator, light: str) -> Deer:
    """Draw a deer: small ones are more common than big ones, low contrast more than high."""
    tall = float(0.03 * 20 ** rng.beta(1.3, 1.2))
    shade = float(rng.choice([-1, 1]) * rng.uniform(14, 60))
    if light == "infrared":
        shade = float(abs(shade) * 1.2 if rng.random() < 0.75 else -abs(shade))
    # The taller, the nearer, the lower in the picture its feet are.
    return Deer(
        height=tall,
        x=float(rng.uniform(0.1, 0.9)),
        y=float(np.clip(0.42 + tall * rng.uniform(0.8, 1.0) + rng.uniform(0, 0.12), 0.45, 1.05)),
        facing=int(rng.choice([-1, 1])),
        shade=shade,
        hidden=float(rng.choice([0.0, 0.0, rng.uniform(0.2, 0.6)])),
        grazing=bool(rng.random() < 0.4),
    )


def _burst(
    woods: Woods,
    rng: np.random.Generator,
    w: Weather,
    light: str,
    deer: Deer | None,
    place: tuple[datetime, float, int, int],
    stays: bool,
) -> Iterator[Shot]:
    begin, day, number, per_burst = place
    walks = deer is not None and not stays and rng.random() < 0.6
    pace = deer.height * rng.uniform(0.3, 0.9) if deer and walks else 0.0
    for i in range(per_burst):
        shift = rng.normal(0, 0.15 + 0.08 * min(w.sway, 3), 2)
        now = replace(w, shift=(float(shift[0]), float(shift[1])))
        here = deer
        if deer is not None:
            x = deer.x + deer.facing * pace * (i - (per_burst - 1) / 2) * woods.rows / woods.columns
            here = replace(deer, x=x, step=deer.step + 0.37 * i if walks else deer.step)
        pixels, seen = shoot(woods, rng, now, light, here)
        at = begin + timedelta(days=day, seconds=i)
        heading = deer.facing if deer is not None and walks else 0
        yield Shot(at, number, light, pixels, seen, here, heading, now)
