"""One camera's view without animals, painted once for each dress of the year and lit twice, and the
branches close to it, which the wind swings between the frames of a burst.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.random import Generator

from camsign.demo import woods
from camsign.demo.land import View
from camsign.demo.paint import (
    EYE,
    FAR,
    FOCAL,
    HEIGHT,
    HORIZON,
    WIDTH,
    Array,
    Canvas,
    Color,
    Image,
    blend,
    byte,
    column,
    f32,
    ground_row,
    leaves,
    noise,
    overlap,
    sample,
    shade,
    strokes,
)
from camsign.demo.woods import Dress

AIR = f32([204, 210, 202])
CLEAR_M = 95.0  # the distance at which haze hides all but 1/e


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A view in one dress: by day (BGR), by flash (gray), distance of what hides [m], haze."""

    day: Image
    night: Image
    stands: Array
    haze: Image


@lru_cache(maxsize=10)
def backdrop(view: View, dress: str) -> Backdrop:
    """The view in a dress of the year: green, gold, bare or snow."""
    look, canvas = woods.DRESS[dress], Canvas()
    canvas.paint[:] = (214, 214, 206)
    _far_woods(canvas, np.random.default_rng([view.seed, 1]), look, view.open)
    _ground(canvas, view, look)
    _standing(canvas, view, look)
    haze = f32(1 - np.exp(-np.minimum(canvas.depth, 400) / CLEAR_M))
    veil = (255 * haze).astype(np.uint8)
    return Backdrop(_daylight(canvas, haze), _flash(canvas, look), canvas.stands, veil)


def _far_woods(canvas: Canvas, rng: Generator, dress: Dress, open_: float) -> None:
    """Row behind row of far trunks, twigs, crowns and brush, which close the view."""
    for depth in (150.0, 105.0, 70.0, 48.0, 35.0):
        seed = f32(rng.uniform(0, 500, 2))
        with canvas.at(depth):
            _far_twigs(canvas, rng, depth, int(120 + 8000 / depth))
            for _ in range(int(10 + 900 / depth)):
                _far_stem(canvas, rng, depth)
        bar = 0.95 + open_ + 3.2 * (1 - dress.cover)
        if bar <= 3:
            _crowns(canvas, depth, seed, dress, bar)
        _brush(canvas, depth, seed, dress)


def _far_stem(canvas: Canvas, rng: Generator, depth: float) -> None:
    x, wide = rng.uniform(0, WIDTH), FOCAL * float(rng.choice([0.07, 0.13, 0.25, 0.4])) / depth
    foot, lean = ground_row(depth), rng.normal(0, 16)
    line = [[x, foot], [x + 0.45 * lean + rng.normal(0, 3), foot * 0.5], [x + lean, 0]]
    strokes(canvas.paint, line, shade((70, 80, 88), rng.uniform(0.6, 1.15)), round(wide))


def _far_twigs(canvas: Canvas, rng: Generator, depth: float, n: int) -> None:
    """Fine branches, leaning up and out, that gray the bare woods."""
    start = np.stack([rng.uniform(0, WIDTH, n), HORIZON - 150 + rng.normal(0, 110, n)], 1)
    long, aim = rng.uniform(0.6, 2.6, n) * FOCAL / depth, rng.normal(-np.pi / 2, 0.75, n)
    way = np.stack([np.cos(aim), np.sin(aim)], 1) * long[:, None]
    lines = np.stack([start, start + 0.5 * way + 0.06 * way[:, ::-1], start + way], 1)
    for i, tone in enumerate((0.75, 0.88, 1.0, 1.12)):
        strokes(canvas.paint, lines[i::4], shade((96, 106, 114), tone))


def _grid(top: float, foot: float) -> tuple[Array, Array]:
    rows = slice(max(0, int(top)), min(HEIGHT, int(foot)))
    y, x = np.mgrid[rows, 0:WIDTH].astype(np.float32)
    return x, y


def _crowns(canvas: Canvas, depth: float, seed: Array, dress: Dress, bar: float) -> None:
    """Leaves of the far crowns, thick above and thin below, where noise passes a bar."""
    x, y = _grid(0, HORIZON + 30)
    near = 60 / depth
    big = sample(noise(5), x * 0.42 / near + seed[0], y * 0.6 / near + seed[1])
    fine = sample(noise(6, 16), x * 0.9 / near**0.5 + seed[1], y * 1.2 / near**0.5 + seed[0])
    amount = 0.8 * big + 0.55 * fine + 1.5 * (HORIZON - y) / HORIZON - bar
    _leafy(canvas, 0, amount, fine, big, depth, dress.leaves)


def _brush(canvas: Canvas, depth: float, seed: Array, dress: Dress) -> None:
    """Brush along the ground that closes the view at its distance."""
    columns = np.arange(WIDTH, dtype=np.float32)[None]
    hump = sample(noise(7), columns * 0.5 + seed[0], np.full_like(columns, seed[1]))
    tall = FOCAL * (0.9 + 0.45 * hump) / depth * (0.45 + 0.55 * dress.cover)
    foot, leafy = ground_row(depth), dress.cover > 0.3
    x, y = _grid(foot - tall.max() - 20, foot + 6)
    fine = sample(noise(6, 16), x * 1.1 + seed[1], y * 1.3 + seed[1])
    inside = np.minimum((y - (foot - tall)) / 12, (foot + 3 - y) / 3)
    amount = inside + 0.9 * fine if leafy else np.minimum(inside, 0.9) + 0.5 * fine
    inks = dress.leaves if leafy else ((96, 106, 116), (80, 90, 100))
    _leafy(canvas, int(y[0, 0]), amount - 0.4, fine, hump + 0 * y, depth, inks)


def _leafy(
    canvas: Canvas, top: int, amount: Array, fine: Array, big: Array, depth: float,
    inks: tuple[Color, ...],
) -> None:  # fmt: skip
    alpha = f32(np.clip(amount * 2.2, 0, 1))
    mix = np.clip(0.5 + 0.3 * big, 0, 1)
    tone = np.clip(0.86 + 0.2 * fine + 0.12 * big, 0.45, 1.3)
    canvas.lay(0, top, blend((mix * tone, inks[0]), ((1 - mix) * tone, inks[1])), alpha, depth)


def trail_depth(view: View, across: Array) -> Array:
    """Distance [m] of the trail's middle at places across the view [m]."""
    return view.trail_m + 0.10 * across + 0.35 * np.sin(across * 0.7 + view.seed)


def _ground(canvas: Canvas, view: View, look: Dress) -> None:
    """Earth, moss and fallen leaves, worn along the trail, or snow over them."""
    first = int(ground_row(33)) + 1  # ground ends 33 m away
    y, x = np.mgrid[first:HEIGHT, 0:WIDTH].astype(np.float32)
    depth = f32(FOCAL * EYE) / (y - HORIZON)
    across = (x - WIDTH / 2) * depth / f32(FOCAL)
    coarse = sample(noise(11), across * 16 + view.seed, depth * 16)
    fine = sample(noise(12, 16), across * 60, depth * 60) * np.minimum(7 / depth, 1)
    worn = np.exp(-(((depth - trail_depth(view, across)) / f32(0.42)) ** 2))
    tone = np.clip(0.82 + 0.12 * coarse + 0.24 * fine, 0.3, 1.5)
    share = np.clip(look.fallen * (0.75 + 0.25 * coarse) * (1 - 0.6 * worn), 0, 1) * f32(0.8)
    moss = np.clip(coarse - 0.9, 0, 1) * f32(0.7 if look.cover > 0.1 else 0.35)
    bare = tone * (1 - 0.2 * worn) * (1 - share) * (1 - moss)
    leaf = (f32(look.litter[0]) + f32(woods.colors("browns")[1])) / 2
    litter = tone * share * (1 - moss)
    color = blend((bare, look.ground), (litter, leaf), (tone * moss, (48, 92, 74)))
    if look.snow:
        white = 0.80 + 0.045 * coarse + 0.03 * fine - 0.13 * worn * (1 + 0.5 * fine)
        through = np.clip(coarse * 1.1 + fine * 0.8 + 0.8 * worn - 2.1, 0, 1)
        cold = f32(woods.SNOW) * f32([1.0, 0.99, 0.975])
        color = blend((white * (1 - through), cold)) + color * through[..., None]
    canvas.paint[first:] = byte(color)
    canvas.depth[first:] = depth
    _litter(canvas, view, look)


def _litter(canvas: Canvas, view: View, look: Dress) -> None:
    """Single leaves on the ground, few on the trail."""
    rng = np.random.default_rng([view.seed, 2])
    n = int(9000 * (0.2 + 0.8 * look.fallen)) if not look.snow else 260
    depth = 3.1 / np.sqrt(rng.uniform(0.02, 1, n))
    across = rng.uniform(-0.52, 0.52, n) * depth
    off = np.abs(depth - trail_depth(view, f32(across))) > rng.uniform(0, 0.45, n)
    order = np.argsort(-depth)
    order = order[off[order]]
    places = f32(np.stack([column(across, depth), ground_row(depth)], 1)[order])
    size = f32((FOCAL * 0.055 / depth * rng.uniform(0.5, 1.3, n))[order])
    leaves(canvas.paint, rng, places, size, look.litter, 0.4)


def _standing(canvas: Canvas, view: View, look: Dress) -> None:
    """Trunks, firs, saplings, ferns, stones and logs, from far to near; the trail stays free."""
    rng = np.random.default_rng([view.seed, 3])
    things: list[tuple[float, float, str, int]] = []
    for kind, row in woods.DATA["stands"].items():
        for _ in range(view.count(kind)):
            depth = float(np.sqrt(rng.uniform(row["near"] ** 2, row["far"] ** 2)))
            across = float(rng.uniform(-0.54, 0.54) * depth)
            gap = depth - float(trail_depth(view, f32([across]))[0])
            if kind != "fern" and abs(gap) < 0.7:
                depth += 1.6 if gap > 0 else 2.6
            things.append((depth, across, kind, int(rng.integers(1 << 30))))
    for depth, across, kind, seed in sorted(things, reverse=True):
        own = np.random.default_rng(seed)
        if kind == "trunk":
            trunk = woods.Standing(canvas, own, look, across, depth)
            woods.trunk(trunk, seed, view.trees[seed % len(view.trees)])
            continue
        size = float(own.uniform(*woods.DATA["stands"][kind]["size"]))
        woods.PAINT[kind](woods.Standing(canvas, own, look, across, depth, size))


def _daylight(canvas: Canvas, haze: Array) -> Image:
    """Even daylight from above with haze, and the sky's glow that eats into the twigs."""
    y = np.mgrid[0:HEIGHT, 0:WIDTH][0].astype(np.float32)[..., None]
    air = AIR * (1.02 + 0.16 * (1 - y / HORIZON).clip(-1, 1))
    seen = canvas.paint * f32([1.0, 1.02, 1.02]) * (1 - haze[..., None]) + air * haze[..., None]
    bright = np.clip(seen - 190, 0, 70)
    small = cv2.resize(bright, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(small, (0, 0), 3.5) * 0.7 + cv2.GaussianBlur(small, (0, 0), 1) * 0.3
    return byte(seen + cv2.resize(wide, (WIDTH, HEIGHT)))


def flash_share(x: Array, y: Array, depth: Array) -> Array:
    """Share of the flash that comes back from a place in the picture [px], depth [m] away."""
    away = np.hypot((x - WIDTH / 2) / 620, (y - HEIGHT * 0.5) / 400)
    reach = np.minimum(1.35, (6.2 / np.minimum(depth, FAR)) ** 1.45)
    return f32((0.10 + 0.95 * np.exp(-1.25 * away**2)) * reach)


def flashed(gray: Array) -> Array:
    """What the sensor makes of light under the flash, which burns out gently."""
    return 255 * (1 - np.exp(-gray / 165)) + 7


def _flash(canvas: Canvas, look: Dress) -> Image:
    """What infrared flash shows: bright near the middle, falling off with distance."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    paint = canvas.paint.astype(np.float32)
    leafy = np.clip((paint[..., 1] - paint[..., 2]) / 40, 0, 1)
    gray = paint @ f32([0.2, 0.5, 0.4]) * (1 + 0.8 * leafy)
    return byte(flashed(gray * flash_share(x, y, canvas.depth) * (0.85 if look.snow else 1.15)))


@lru_cache(maxsize=8)
def dapples(view: View) -> Image:
    """Sun and shade on ground and trunks as a gain (128 is 1), wider than a picture."""
    wide = WIDTH + 256
    y, x = np.mgrid[0:HEIGHT, 0:wide].astype(np.float32)
    depth = FOCAL * EYE / np.maximum(y - HORIZON, 62)
    ground = sample(noise(13), (x - wide / 2) * depth / FOCAL * 26 + view.seed, depth * 17)
    upright = sample(noise(14), x * 0.6 + view.seed, y * 0.6)
    low = np.clip((y - HORIZON - 62) / 70, 0, 1)
    patch = 1 / (1 + np.exp(-5.5 * ((ground * low + upright * (1 - low)) - 0.55)))
    return byte(128 * (1 + (0.22 + 0.78 * low) * (0.55 * patch - 0.2)))


_ROOM = 60  # painted around the view, since the wind swings it in [px]
_SPARE = 24


@dataclass(frozen=True, slots=True)
class Branch:
    """A branch as plates: colors times cover, and last what it lets through (255: all).

    `day` has blue, green, red and that; `night` gray and that. `box` is left and top [px]; `hold`
    the point about which it swings, in the box [px]; `limber` how far in a gale [deg].
    """

    day: Image
    night: Image
    box: tuple[int, int]
    hold: tuple[float, float]
    limber: float


@lru_cache(maxsize=16)
def branches(view: View, dress: str) -> tuple[Branch, ...]:
    """The branches that hang into a view: from its upper corners and up from its lower edge."""
    rng = np.random.default_rng([view.seed, 5])
    places: list[tuple[float, float, float]] = []
    for side in (0, 1):
        x = (rng.uniform(-20, 150), rng.uniform(WIDTH - 150, WIDTH + 20))[side]
        aim = rng.uniform(0.2, 0.6)
        places.append((x, -20, np.pi - aim if side else aim))
    x = rng.choice([rng.uniform(-30, 60), rng.uniform(WIDTH - 60, WIDTH + 30)])
    places.append((float(x), rng.uniform(60, 200), 0.25 if x < WIDTH / 2 else np.pi - 0.25))
    low = rng.choice([rng.uniform(0, 170), rng.uniform(WIDTH - 170, WIDTH)])
    places.append((float(low), HEIGHT + 10, -np.pi / 2 + rng.normal(0, 0.2)))
    return tuple(_grown(at, view.seed * 100 + i, dress) for i, at in enumerate(places))


def _grown(place: tuple[float, float, float], seed: int, dress: str) -> Branch:
    """Paint a branch at (x, y [px], aim [rad]); cover follows from black and white behind it."""
    plates = []
    for ground in (0, 255):
        rng = np.random.default_rng(seed)
        plate = np.full((HEIGHT + 2 * _ROOM, WIDTH + 2 * _ROOM, 3), ground, np.uint8)
        scale = FOCAL / rng.uniform(2.6, 3.6)
        start, run = f32(place[:2]) + _ROOM, float(rng.uniform(70, 130))
        ends = woods.twigs(plate, rng, start, place[2], run, (66, 78, 86), 4)
        woods.dress_up(plate, rng, np.array(ends[::2]), scale * 0.62, woods.DRESS[dress], each=5)
        plates.append(plate)
    black, white = plates
    left, top, width, height = cv2.boundingRect(255 - cv2.subtract(white, black)[..., 1])
    x0, y0 = max(left - _SPARE, 0), max(top - _SPARE, 0)
    here = (slice(y0, top + height + _SPARE), slice(x0, left + width + _SPARE))
    color = cv2.GaussianBlur(black[here], (0, 0), 0.9)
    through = cv2.subtract(cv2.GaussianBlur(white[here], (0, 0), 0.9), color)[..., 1]
    night = byte(flashed(color @ f32([0.25, 0.6, 0.4]) * 1.8) - 7)
    hold, limber = (place[0] + _ROOM - x0, place[1] + _ROOM - y0), np.random.default_rng(seed)
    return Branch(
        cv2.merge([color, through]), cv2.merge([night, through]), (x0 - _ROOM, y0 - _ROOM), hold,
        float(limber.uniform(2.5, 6)),
    )  # fmt: skip


def swing(image: Image, branch: Branch, wind: float, rng: np.random.Generator, night: bool) -> None:
    """Draw a branch, swung by the wind at a random moment."""
    angle = float(np.clip(branch.limber * wind * rng.normal(), -9, 9))
    turn = cv2.getRotationMatrix2D(branch.hold, angle, 1.0)
    plates = branch.night if night else branch.day
    here, part = overlap(*branch.box, plates.shape)
    there = image[here]
    turn[:, 2] -= (part[1].start, part[0].start)
    clear = (0, 255, 0, 0) if night else (0, 0, 0, 255)
    seen = cv2.warpAffine(plates, turn, there.shape[1::-1], borderValue=clear)
    *color, through = cv2.split(seen)
    kept = cv2.multiply(there, cv2.merge([through] * len(color)), scale=1 / 255)
    there[:] = cv2.add(kept, cv2.merge(color))
