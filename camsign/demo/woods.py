"""What stands in the woods: trunks, firs, saplings, ferns, logs, stones."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from camsign.demo.paint import (
    FOCAL,
    HEIGHT,
    WIDTH,
    Canvas,
    Color,
    column,
    f32,
    ground_row,
    leaves,
    noise,
    pick,
    sample,
    shade,
    stroke,
    strokes,
)

if TYPE_CHECKING:
    from camsign.demo.paint import Array

MAPLE: Color = (86, 100, 108)
BEECH: Color = (122, 132, 138)
SPRUCE: Color = (62, 74, 88)
BIRCH: Color = (190, 200, 206)
CEDAR: Color = (74, 92, 116)
# how fine the furrows are across the trunk and along it, and how deep
BARK_GRAIN = {
    "maple": (16.0, 1.6, 0.26),
    "beech": (14.0, 9.0, 0.07),
    "spruce": (14.0, 8.0, 0.26),
    "birch": (6.0, 9.0, 0.06),
    "cedar": (20.0, 1.0, 0.28),
}
BARK = {"maple": MAPLE, "beech": BEECH, "spruce": SPRUCE, "birch": BIRCH, "cedar": CEDAR}


@dataclass(frozen=True, slots=True)
class Dress:
    """How things look at one time of the year."""

    leaves: tuple[Color, ...]
    cover: float  # share of the leaves still on, 0 to 1
    litter: tuple[Color, ...]
    fallen: float  # share of the ground under fresh leaves, 0 to 1
    ground: Color
    fern: tuple[Color, ...]
    snow: float = 0.0  # cover of snow, 0 to 1


GREENS: tuple[Color, ...] = ((52, 128, 92), (44, 112, 78), (66, 146, 112), (40, 98, 66))
GOLDS: tuple[Color, ...] = (
    (62, 140, 184),
    (58, 108, 176),
    (66, 150, 170),
    (58, 84, 150),
    (58, 120, 118),
)
BROWNS: tuple[Color, ...] = ((68, 94, 128), (54, 76, 106), (84, 114, 148), (46, 62, 84))
DRESS = {
    "green": Dress(GREENS, 1.0, BROWNS, 0.5, (50, 68, 84), GREENS),
    "gold": Dress(GOLDS, 0.75, GOLDS + BROWNS, 0.9, (50, 70, 90), ((60, 150, 170), (60, 130, 130))),
    "bare": Dress(BROWNS, 0.04, BROWNS, 1.0, (54, 76, 100), ((60, 94, 128), (52, 76, 104))),
    "snow": Dress(BROWNS, 0.03, BROWNS, 0.06, (54, 76, 100), ((60, 94, 128),), snow=1.0),
}
SNOW: Color = (238, 232, 226)


def trunk(canvas: Canvas, seed: int, at: tuple[float, float], kind: str) -> float:
    """A trunk at (across, depth) [m], barked after its kind; gives its diameter [m]."""
    girth, patch = _trunk(seed, at, kind)
    if patch is not None:
        canvas.lay(*patch, at[1])
    return girth


# Bark is the same all the year, so a trunk is made once for all dresses of a view.
@lru_cache(maxsize=100)
def _trunk(
    seed: int, at: tuple[float, float], kind: str
) -> tuple[float, tuple[tuple[int, int, int, int], Array, Array] | None]:
    rng = np.random.default_rng(seed)
    girth = float(rng.choice([0.12, 0.18, 0.26, 0.36], p=[0.3, 0.3, 0.28, 0.12]))
    foot, x0 = ground_row(at[1]), column(*at)
    half = max(0.7, FOCAL * girth / at[1] / 2)
    lean, bend = rng.normal(0, 0.025), rng.normal(0, 0.00006)
    up = (foot - np.arange(0, min(HEIGHT, int(foot) + 2))).astype(np.float32)
    middle = x0 + lean * up + bend * up * up
    taper = half * (1 - 0.00022 * up) * (1 + 0.35 * np.exp(-up / max(6.0, 1.3 * half)))
    left = max(0, int((middle - taper).min()) - 2)
    right = min(WIDTH, int((middle + taper).max()) + 3)
    if left >= right:
        return girth, None
    grid = np.arange(left, right, dtype=np.float32)[None, :]
    u = ((grid - middle[:, None]) / taper[:, None]).astype(np.float32)
    alpha = np.clip((1 - np.abs(u)) * taper[:, None] + 0.5, 0, 1).astype(np.float32)
    return girth, ((left, 0, right - left, len(up)), _bark(rng, u, up, half, kind), alpha)


def _bark(rng: np.random.Generator, u: Array, up: Array, half: float, kind: str) -> Array:
    """Colours of a trunk from u (-1 to 1 across it) and rows up from its foot [px]."""
    seed = rng.uniform(0, 500, 2).astype(np.float32)
    turn = np.arcsin(np.clip(u, -0.98, 0.98)) + seed[0]
    along = np.broadcast_to((up / f32(max(half, 3.0)))[:, None] + seed[1], u.shape)
    ridge, stretch, deep = BARK_GRAIN[kind]
    furrow = sample(noise(3, 16), turn * ridge, along * stretch)
    blotch = sample(noise(4), turn * 24, along * 14)
    lit = 0.34 + 0.66 * np.sqrt(np.clip(1 - (u * 0.97 - 0.25) ** 2, 0, 1))
    tone = lit * (1 + deep * furrow + 0.10 * blotch) * f32(rng.uniform(0.7, 1.05))
    if kind == "birch":
        tone[sample(noise(8, 16), turn * 5, along * 30) > 1.1] *= 0.4
    lichen = np.clip(blotch - 1.1, 0, 1) * f32(0.5)
    moss = np.clip(1.4 * blotch + 0.5 * furrow + 1.2 - up[:, None] / f32(3 * half), 0, 1)
    moss = moss * f32(0.6)
    plain, grey, green = tone * (1 - lichen) * (1 - moss), lit * lichen * (1 - moss), tone * moss
    inks = zip(BARK[kind], (150, 168, 158), (40, 84, 66), strict=True)
    return cv2.merge([(plain * a + grey * b + green * c).astype(np.float32) for a, b, c in inks])


def fir(
    canvas: Canvas, rng: np.random.Generator, at: tuple[float, float], height: float, snow: float
) -> None:
    """A young fir, height [m], boughs drooping from a thin stem."""
    foot, x0 = ground_row(at[1]), column(*at)
    scale = FOCAL / at[1]
    levels = max(8, int(height * 9))
    tall = height * scale
    stem = f32([[x0, foot], [x0, foot - tall]])
    with canvas.at(at[1]):
        stroke(canvas.paint, stem, (46, 58, 70), max(1, int(0.05 * scale)))
        for part in np.arange(levels) / levels:
            y = foot - tall * (0.06 + 0.94 * part)
            reach = tall * 0.30 * (1 - part) ** 0.85 + 0.03 * scale
            for _ in range(5):
                _bough(canvas, rng, (x0, y), reach * rng.uniform(0.55, 1.1), snow)


def _bough(
    canvas: Canvas, rng: np.random.Generator, at: tuple[float, float], reach: float, snow: float
) -> None:
    side = rng.choice([-1, 1]) * rng.uniform(0.25, 1)
    t = np.linspace(0, 1, 5)
    x = at[0] + side * reach * t
    y = at[1] + reach * (0.32 * t - 0.16 * t * t) + rng.normal(0, 1)
    line = np.stack([x, y], 1).astype(np.float32)
    ink = shade((48, 76, 50), rng.uniform(0.62, 1.25))
    thick = max(1, int(reach * 0.1))
    stroke(canvas.paint, line, ink, thick)
    k = np.linspace(0.2, 1, max(3, int(reach / 4)), dtype=np.float32)[:, None]
    needles = line[0] + (line[-1] - line[0]) * k
    drop = np.stack([np.full(len(k), side * 0.1), rng.uniform(0.05, 0.16, len(k))], 1) * reach
    pairs = np.stack([needles, needles + drop], 1)
    for half, tone in ((pairs[::2], 0.84), (pairs[1::2], 1.16)):
        strokes(canvas.paint, half, shade(ink, tone), max(1, thick // 2))
    if snow and rng.random() < 0.5 * snow:
        white = shade(SNOW, rng.uniform(0.8, 1))
        stroke(canvas.paint, line[1:] - f32([0, thick * 0.6]), white, max(1, thick))


def twigs(
    canvas: Canvas,
    rng: np.random.Generator,
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
        stroke(canvas.paint, np.stack([at, mid, tip]).astype(np.float32), ink, max(1, int(thick)))
        ends += [mid, tip]
        if run < length * 0.28 or len(ends) > 160:
            continue
        for turn in rng.normal(0, 0.55, 2 if rng.random() < 0.8 else 3):
            pending.append(
                (
                    tip if rng.random() < 0.6 else mid,
                    aim + turn,
                    run * rng.uniform(0.55, 0.8),
                    thick * 0.62,
                )
            )
    return ends


def sapling(
    canvas: Canvas, rng: np.random.Generator, at: tuple[float, float], height: float, dress: Dress
) -> None:
    """A thin hardwood with leaves, as many as the time of the year leaves on."""
    across, depth = at
    scale = FOCAL / depth
    start = f32([column(across, depth), ground_row(depth)])
    ink = pick(rng, ((70, 84, 94), (88, 100, 108)), 0.1)
    aim = -np.pi / 2 + rng.normal(0, 0.1)
    with canvas.at(depth):
        ends = twigs(canvas, rng, start, aim, height * scale * 0.55, ink, max(1.0, 0.035 * scale))
        dress_up(canvas, rng, np.array(ends), scale, dress)


def dress_up(
    canvas: Canvas, rng: np.random.Generator, ends: Array, scale: float, dress: Dress, each: int = 6
) -> None:
    """Leaves (and snow) on the thin ends of a branch."""
    places = np.repeat(ends, each, 0) + rng.normal(0, 0.13 * scale, (len(ends) * each, 2))
    size = np.maximum(2.0, 0.085 * scale * rng.uniform(0.6, 1.3, len(places)))
    stay = rng.random(len(places)) < dress.cover
    leaves(
        canvas,
        rng,
        places[stay].astype(np.float32),
        size[stay].astype(np.float32),
        dress.leaves,
        0.8,
    )


def fern(
    canvas: Canvas, rng: np.random.Generator, at: tuple[float, float], height: float, dress: Dress
) -> None:
    """A clump of arching fronds; brown and lower once the frost was there."""
    scale = FOCAL / at[1]
    foot = (column(*at), ground_row(at[1]))
    tall = height * scale * (1.0 if dress.cover > 0.5 else 0.55)
    with canvas.at(at[1]):
        for _ in range(int(rng.integers(8, 14))):
            _frond(canvas, rng, foot, tall, pick(rng, dress.fern, 0.2), max(1, int(scale * 0.012)))


def _frond(
    canvas: Canvas,
    rng: np.random.Generator,
    foot: tuple[float, float],
    tall: float,
    ink: Color,
    thick: int,
) -> None:
    side, t = float(np.clip(rng.normal(0, 0.7), -1.2, 1.2)), np.linspace(0, 1, 9)
    x = foot[0] + side * tall * t
    y = foot[1] - tall * rng.uniform(0.7, 1.1) * (t - 0.52 * t * t * (1 + abs(side)))
    spine = np.stack([x, y], 1).astype(np.float32)
    stroke(canvas.paint, spine, shade(ink, 0.75), 1)
    along = np.diff(spine, axis=0)
    normal = (
        np.stack([-along[:, 1], along[:, 0]], 1) / np.maximum(np.hypot(*along.T), 1e-3)[:, None]
    )
    out = normal * (tall * 0.15 * (1 - np.arange(1, 9) / 9.5))[:, None]
    tips = [spine[1:] + flip * out + along * 0.5 for flip in (-1, 1)]
    strokes(
        canvas.paint, np.concatenate([np.stack([spine[1:], tip], 1) for tip in tips]), ink, thick
    )


def log(
    canvas: Canvas, rng: np.random.Generator, at: tuple[float, float], length: float, snow: float
) -> None:
    """A fallen trunk on the ground, mossy, snow on its back in winter."""
    scale = FOCAL / at[1]
    wide, thick, tilt = length * scale, rng.uniform(0.16, 0.26) * scale, rng.normal(0, 0.04)
    spare = int(abs(tilt) * wide / 2) + 3
    h, w = int(thick) + 2 * spare, int(wide)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    half = thick / 2 * (1 - 0.3 * x / w + 0.05 * sample(noise(4), x * 0.8, 0 * y))
    v = (y - h / 2 - tilt * (x - w / 2)) / half
    end = np.minimum(
        x - 0.15 * thick * (1 - np.abs(v).clip(0, 1) ** 2), w - x - thick * 0.3 * np.abs(v + 0.3)
    )
    alpha = np.clip((1 - np.abs(v)) * half + 0.5, 0, 1) * np.clip(end / 2 + 1, 0, 1)
    rough = sample(noise(3, 16), x * 0.12, y * 2.0 + 0.1 * x)
    blotch = sample(noise(4), x * 1.2, y * 1.6)
    tone = (0.78 - 0.42 * v) * (1 + 0.24 * rough + 0.1 * blotch)
    color = f32([58, 72, 86]) * tone[..., None]
    back = np.clip((-v - 0.35 + 0.55 * blotch) * 2, 0, 1)[..., None] * 0.75
    top = f32(SNOW) * (0.86 - 0.1 * v[..., None]) if snow else f32([46, 88, 74]) * tone[..., None]
    color = color * (1 - back) + top * back
    left, foot = int(column(*at) - wide / 2), int(ground_row(at[1]) + 0.15 * thick)
    canvas.lay(
        (left, foot - h + spare, w, h), color.astype(np.float32), alpha.astype(np.float32), at[1]
    )


def stone(
    canvas: Canvas, rng: np.random.Generator, at: tuple[float, float], size: float, snow: float
) -> None:
    """A half-buried boulder, size [m]."""
    scale = FOCAL / at[1]
    half, tall = size * scale / 2, rng.uniform(0.42, 0.62) * size * scale
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
    color = f32([112, 116, 116]) * tone[..., None]
    cap = np.clip((v + 0.22 * lump - (0.45 if snow else 0.72)) * 4, 0, 1)[..., None] * (
        1 if snow else 0.7
    )
    color = (
        color * (1 - cap) + f32(SNOW if snow else (52, 88, 76)) * (0.85 + 0.1 * v[..., None]) * cap
    )
    left, top = int(column(*at) - w / 2), int(ground_row(at[1]) - h + 0.1 * tall)
    canvas.lay((left, top, w, h), color.astype(np.float32), alpha.astype(np.float32), at[1])
