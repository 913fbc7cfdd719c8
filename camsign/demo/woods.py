"""What stands in the woods, from the numbers in woods.toml: trunks, firs, saplings, ferns."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.random import Generator

from camsign.demo.paint import (
    FOCAL,
    HEIGHT,
    WIDTH,
    Array,
    Canvas,
    Color,
    Image,
    blend,
    column,
    f32,
    ground_row,
    leaves,
    noise,
    overlap,
    pick,
    sample,
    shade,
    strokes,
)

DATA = tomllib.loads(Path(__file__).with_name("woods.toml").read_text(encoding="utf-8"))
SNOW: Color = (238, 232, 226)


@dataclass(frozen=True, slots=True)
class Dress:
    """How things look at one time of the year: see woods.toml."""

    leaves: tuple[Color, ...]
    cover: float
    litter: tuple[Color, ...]
    fallen: float
    ground: Color
    fern: tuple[Color, ...]
    snow: float


def colors(*names: str) -> tuple[Color, ...]:
    """The colors of woods.toml under some names."""
    return tuple(tuple(ink) for name in names for ink in DATA["colors"][name])


def _dress(row: dict[str, Any]) -> Dress:
    named = {key: colors(*row[key]) for key in ("leaves", "litter", "fern")}
    return Dress(**{**row, **named})


DRESS = {name: _dress(row) for name, row in DATA["dress"].items()}


@dataclass(frozen=True, slots=True)
class Standing:
    """A place in the view where something of a size [m] is to be painted."""

    canvas: Canvas
    rng: Generator
    dress: Dress
    across: float  # [m]
    depth: float  # [m]
    size: float = 0.0

    @property
    def scale(self) -> float:
        """Pixels for a meter there."""
        return FOCAL / self.depth

    @property
    def foot(self) -> tuple[float, float]:
        """Column and row [px] of the ground there."""
        return column(self.across, self.depth), ground_row(self.depth)

    def lay(self, left: float, top: float, color: Array, alpha: Array) -> None:
        """Lay colors with a cover down from a corner [px]."""
        self.canvas.lay(int(left), int(top), color, f32(alpha), self.depth)


def trunk(it: Standing, seed: int, kind: str) -> None:
    """A trunk, barked after its kind, and the dark that gathers at its foot."""
    girth, left, color, alpha = _trunk(seed, it.across, it.depth, kind)
    it.lay(left, 0, color, alpha)
    x, y = it.foot
    w, h = 1.5 * girth * it.scale, 0.32 * girth * it.scale
    gy, gx = np.mgrid[0 : int(4 * h) + 2, 0 : int(4 * w) + 2].astype(np.float32)
    away = ((gx - 2 * w) / w) ** 2 + ((gy - 2 * h) / max(h, 1)) ** 2
    dark = 0.22 if it.dress.snow else 0.45
    darken(it.canvas.paint, x - 2 * w, y - 2 * h, dark * np.exp(-away))


def darken(image: Image, left: float, top: float, by: Array) -> None:
    """Take a share (h x w, 0 to 1) of the light away, from a corner [px] on."""
    here, part = overlap(int(left), int(top), by.shape)
    image[here] = (image[here] * (1 - by[part][..., None])).astype(np.uint8)


# Bark is the same all the year, so a trunk is made once for all dresses of a view.
@lru_cache(maxsize=100)
def _trunk(seed: int, across: float, depth: float, kind: str) -> tuple[float, int, Array, Array]:
    rng = np.random.default_rng(seed)
    girth = float(rng.choice([0.12, 0.18, 0.26, 0.36], p=[0.3, 0.3, 0.28, 0.12]))
    foot, half = ground_row(depth), max(0.7, FOCAL * girth / depth / 2)
    lean, bend = rng.normal(0, 0.025), rng.normal(0, 0.00006)
    up = (foot - np.arange(0, min(HEIGHT, int(foot) + 2))).astype(np.float32)
    middle = column(across, depth) + lean * up + bend * up * up
    taper = half * (1 - 0.00022 * up) * (1 + 0.35 * np.exp(-up / max(6.0, 1.3 * half)))
    left = max(0, int((middle - taper).min()) - 2)
    right = max(min(WIDTH, int((middle + taper).max()) + 3), left + 1)
    grid = np.arange(left, right, dtype=np.float32)[None, :]
    u = f32((grid - middle[:, None]) / taper[:, None])
    alpha = f32(np.clip((1 - np.abs(u)) * taper[:, None] + 0.5, 0, 1))
    return girth, left, _bark(rng, u, up, half, kind), alpha


def _bark(rng: Generator, u: Array, up: Array, half: float, kind: str) -> Array:
    """Colors of a trunk from u (-1 to 1 across it) and rows up from its foot [px]."""
    seed, bark = f32(rng.uniform(0, 500, 2)), DATA["bark"][kind]
    turn = np.arcsin(np.clip(u, -0.98, 0.98)) + seed[0]
    along = np.broadcast_to((up / f32(max(half, 3.0)))[:, None] + seed[1], u.shape)
    furrow = sample(noise(3, 16), turn * bark["grain"][0], along * bark["grain"][1])
    blotch = sample(noise(4), turn * 24, along * 14)
    lit = 0.34 + 0.66 * np.sqrt(np.clip(1 - (u * 0.97 - 0.25) ** 2, 0, 1))
    tone = lit * (1 + bark["deep"] * furrow + 0.10 * blotch) * f32(rng.uniform(0.7, 1.05))
    if kind == "birch":
        tone[sample(noise(8, 16), turn * 5, along * 30) > 1.1] *= 0.4
    lichen = np.clip(blotch - 1.1, 0, 1) * f32(0.5)
    moss = np.clip(1.4 * blotch + 0.5 * furrow + 1.2 - up[:, None] / f32(3 * half), 0, 1) * f32(0.6)
    plain = tone * (1 - lichen) * (1 - moss), bark["ink"]
    return blend(plain, (lit * lichen * (1 - moss), (150, 168, 158)), (tone * moss, (40, 84, 66)))


def fir(it: Standing) -> None:
    """A young fir, boughs drooping from a thin stem."""
    (x, foot), rng, tall = it.foot, it.rng, it.size * it.scale
    levels = max(8, int(it.size * 9))
    with it.canvas.at(it.depth):
        stem = [[x, foot], [x, foot - tall]]
        strokes(it.canvas.paint, stem, (46, 58, 70), 0.05 * it.scale)
        for part in np.arange(levels) / levels:
            y = foot - tall * (0.06 + 0.94 * part)
            reach = tall * 0.30 * (1 - part) ** 0.85 + 0.03 * it.scale
            for _ in range(5):
                _bough(it, (x, y), reach * rng.uniform(0.55, 1.1))


def _bough(it: Standing, at: tuple[float, float], reach: float) -> None:
    rng, image = it.rng, it.canvas.paint
    side = rng.choice([-1, 1]) * rng.uniform(0.25, 1)
    t = np.linspace(0, 1, 5)
    y = at[1] + reach * (0.32 * t - 0.16 * t * t) + rng.normal(0, 1)
    line = f32(np.stack([at[0] + side * reach * t, y], 1))
    ink, thick = shade((48, 76, 50), rng.uniform(0.62, 1.25)), max(1, int(reach * 0.1))
    strokes(image, line, ink, thick)
    k = np.linspace(0.2, 1, max(3, int(reach / 4)), dtype=np.float32)[:, None]
    needles = line[0] + (line[-1] - line[0]) * k
    drop = np.stack([np.full(len(k), side * 0.1), rng.uniform(0.05, 0.16, len(k))], 1) * reach
    pairs = np.stack([needles, needles + drop], 1)
    for half, tone in ((pairs[::2], 0.84), (pairs[1::2], 1.16)):
        strokes(image, half, shade(ink, tone), thick // 2)
    if it.dress.snow and rng.random() < 0.5 * it.dress.snow:
        strokes(image, line[1:] - f32([0, thick * 0.6]), shade(SNOW, rng.uniform(0.8, 1)), thick)


def sapling(it: Standing) -> None:
    """A thin hardwood with leaves, as many as the time of the year leaves on."""
    ink = pick(it.rng, ((70, 84, 94), (88, 100, 108)), 0.1)
    aim = -np.pi / 2 + it.rng.normal(0, 0.1)
    with it.canvas.at(it.depth):
        run, width = it.size * it.scale * 0.55, max(1.0, 0.035 * it.scale)
        ends = twigs(it.canvas.paint, it.rng, f32(it.foot), aim, run, ink, width)
        dress_up(it.canvas.paint, it.rng, np.array(ends), it.scale, it.dress)


def twigs(
    image: Image,
    rng: Generator,
    start: Array,
    angle: float,
    length: float,
    ink: Color,
    width: float,
) -> list[Array]:
    """A branch that forks, drawn; gives the places [px] of its thin ends, where leaves sit."""
    ends: list[Array] = []
    pending = [(start, angle, length, width)]
    while pending:
        at, aim, run, thick = pending.pop()
        bend = rng.normal(0, 0.22)
        mid = at + run * 0.5 * f32([np.cos(aim), np.sin(aim)])
        tip = mid + run * 0.5 * f32([np.cos(aim + bend), np.sin(aim + bend)])
        strokes(image, np.stack([at, mid, tip]), ink, thick)
        ends += [mid, tip]
        if run < length * 0.28 or len(ends) > 160:
            continue
        for turn in rng.normal(0, 0.55, 2 if rng.random() < 0.8 else 3):
            fork = tip if rng.random() < 0.6 else mid
            pending.append((fork, aim + turn, run * rng.uniform(0.55, 0.8), thick * 0.62))
    return ends


def dress_up(
    image: Image, rng: Generator, ends: Array, scale: float, dress: Dress, each: int = 6
) -> None:
    """Leaves on the thin ends of a branch."""
    places = np.repeat(ends, each, 0) + rng.normal(0, 0.13 * scale, (len(ends) * each, 2))
    size = np.maximum(2.0, 0.085 * scale * rng.uniform(0.6, 1.3, len(places)))
    stay = rng.random(len(places)) < dress.cover
    leaves(image, rng, f32(places[stay]), f32(size[stay]), dress.leaves, 0.8)


def fern(it: Standing) -> None:
    """A clump of arching fronds; brown and lower once the frost was there."""
    tall = it.size * it.scale * (1.0 if it.dress.cover > 0.5 else 0.55)
    with it.canvas.at(it.depth):
        for _ in range(int(it.rng.integers(8, 14))):
            _frond(it, tall, pick(it.rng, it.dress.fern, 0.2))


def _frond(it: Standing, tall: float, ink: Color) -> None:
    rng, image, (x, y) = it.rng, it.canvas.paint, it.foot
    side, t = float(np.clip(rng.normal(0, 0.7), -1.2, 1.2)), np.linspace(0, 1, 9)
    rise = tall * rng.uniform(0.7, 1.1) * (t - 0.52 * t * t * (1 + abs(side)))
    spine = f32(np.stack([x + side * tall * t, y - rise], 1))
    strokes(image, spine, shade(ink, 0.75))
    along = np.diff(spine, axis=0)
    normal = along[:, ::-1] * f32([-1, 1]) / np.maximum(np.hypot(*along.T), 1e-3)[:, None]
    out = normal * (tall * 0.15 * (1 - np.arange(1, 9) / 9.5))[:, None]
    leaflets = [np.stack([spine[1:], spine[1:] + s * out + along * 0.5], 1) for s in (-1, 1)]
    strokes(image, np.concatenate(leaflets), ink, it.scale * 0.012)


def log(it: Standing) -> None:
    """A fallen trunk on the ground, mossy, snow on its back in winter."""
    scale, rng = it.scale, it.rng
    wide, thick, tilt = it.size * scale, rng.uniform(0.16, 0.26) * scale, rng.normal(0, 0.04)
    spare = int(abs(tilt) * wide / 2) + 3
    h, w = int(thick) + 2 * spare, int(wide)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    half = thick / 2 * (1 - 0.3 * x / w + 0.05 * sample(noise(4), x * 0.8, 0 * y))
    v = (y - h / 2 - tilt * (x - w / 2)) / half
    round_end = x - 0.15 * thick * (1 - np.abs(v).clip(0, 1) ** 2)
    end = np.minimum(round_end, w - x - thick * 0.3 * np.abs(v + 0.3))
    alpha = np.clip((1 - np.abs(v)) * half + 0.5, 0, 1) * np.clip(end / 2 + 1, 0, 1)
    blotch = sample(noise(4), x * 1.2, y * 1.6)
    rough = sample(noise(3, 16), x * 0.12, y * 2.0 + 0.1 * x)
    tone = (0.78 - 0.42 * v) * (1 + 0.24 * rough + 0.1 * blotch)
    back = np.clip((-v - 0.35 + 0.55 * blotch) * 2, 0, 1) * 0.75
    top = (back * (0.86 - 0.1 * v), SNOW) if it.dress.snow else (back * tone, (46, 88, 74))
    color = blend((tone * (1 - back), (58, 72, 86)), top)
    left, foot = it.foot
    it.lay(int(left - wide / 2), int(foot + 0.15 * thick) - h + spare, color, alpha)


def stone(it: Standing) -> None:
    """A half-buried boulder."""
    rng, snow = it.rng, it.dress.snow
    half, tall = it.size * it.scale / 2, rng.uniform(0.42, 0.62) * it.size * it.scale
    if half < 3 or tall < 4:
        return
    h, w = int(1.3 * tall), int(2.8 * half)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    seed, skew = rng.uniform(0, 400, 2), rng.normal(0, 0.25)
    u, v = (x - w / 2) / half, (h - y) / tall
    lump = sample(noise(3), 26 * u + seed[0], 26 * v + seed[1])
    edge = 1 - np.abs(u + skew * v * 0.6) ** 2.3 - v**2.1 + 0.09 * lump
    alpha = np.clip(edge * half * 0.5, 0, 1) * np.clip((h - y) / (0.12 * tall), 0, 1)
    tone = (0.42 + 0.5 * v - 0.18 * u) * (1 + 0.12 * lump + 0.12 * sample(noise(8, 16), x, y))
    cap = np.clip((v + 0.22 * lump - (0.45 if snow else 0.72)) * 4, 0, 1) * (1 if snow else 0.7)
    top = cap * (0.85 + 0.1 * v), SNOW if snow else (52, 88, 76)
    color = blend((tone * (1 - cap), (112, 116, 116)), top)
    it.lay(it.foot[0] - w / 2, it.foot[1] - h + 0.1 * tall, color, alpha)


PAINT = {"fir": fir, "sapling": sapling, "fern": fern, "log": log, "stone": stone}
