"""What must never be set aside, rendered: an animal that comes back to one spot, and pictures that
cannot be judged. Harder than what `scenes.season` draws; seeds below 1000 were used for tuning.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import cv2
import numpy as np
from scenes import Deer, Grid, Shot, Weather, Woods, shoot, some_deer

BEGIN = datetime(2030, 10, 1)
HOURS = {"colour": (7.5, 17.5), "infrared": (19.5, 29.5)}


@dataclass(frozen=True)
class Spot:
    """A deer that comes back to one spot.

    often: the share of the triggers that show it. off: how far its place varies [share of the
    width]. poses: how many it has. stirs: its head goes up and down within a burst. nightly: so
    often on each day; else on days in a row, as one that beds there for a while.
    """

    often: float
    off: float = 0.002
    poses: int = 1
    stirs: bool = False
    nightly: bool = True
    bedded: bool = False


SPOTS = {
    "bedded, 10 of 50": Spot(0.2, bedded=True),
    "bedded, 10 of 50, days in a row": Spot(0.2, nightly=False, bedded=True),
    "bedded, 5 of 50": Spot(0.1, bedded=True),
    "stands, 25 of 50": Spot(0.5),
    "stands, 35 of 50": Spot(0.7),
    "feeds, 47 of 50, three poses": Spot(0.94, 0.001, 3, True),
    "feeds, 20 of 50, three poses": Spot(0.4, 0.007, 3, True),
    "feeds, 35 of 50, two poses": Spot(0.7, 0.003, 2, True),
    "every night, 15 of 50": Spot(0.3, 0.007),
    "every night, 47 of 50, stands": Spot(0.94),
}


def spot(
    seed: int,
    about: Spot,
    light: str = "infrared",
    wind: float = 0.3,
    n: int = 50,
    days: int = 10,
    sun: float = 0.15,
) -> Iterator[Shot]:
    """Give n triggers of three frames of a camera with such a deer, in up to so much sun."""
    rng = np.random.default_rng(seed)
    woods = Woods(seed)
    stances = list(_stances(rng, about, light))
    times = _times(rng, light, n, days)
    shows = _shows(rng, about, times)
    for number, day in enumerate(times):
        w = _weather(rng, day, wind, sun)
        deer = None
        if shows[number]:
            one = stances[int(rng.integers(len(stances)))]
            x, y = rng.normal(0, about.off, 2)
            deer = replace(one, x=one.x + float(x), y=one.y + float(y) / 2)
            deer = replace(deer, shade=deer.shade + float(rng.normal(0, 4)))
        yield from _burst(woods, rng, w, light, deer, number, day, stirs=about.stirs)


def _stances(rng: np.random.Generator, about: Spot, light: str) -> Iterator[Deer]:
    tall = float(rng.uniform(0.15, 0.45))
    shade = float(rng.uniform(25, 60)) * (1 if light == "infrared" else rng.choice([-1, 1]))
    x = float(rng.uniform(0.25, 0.75))
    y = float(np.clip(0.45 + tall * rng.uniform(0.8, 1.0), 0.5, 1.0))
    for _ in range(about.poses):
        yield Deer(
            tall, x, y, int(rng.choice([-1, 1])), float(rng.random()), shade,
            grazing=bool(rng.random() < 0.6), bedded=about.bedded,
        )  # fmt: skip


def _times(rng: np.random.Generator, light: str, n: int, days: int) -> list[float]:
    first, last = HOURS[light]
    hours = rng.uniform(first, last, n)
    return sorted((rng.integers(0, days, n) + hours / 24).tolist())


def _shows(rng: np.random.Generator, about: Spot, times: Sequence[float]) -> Grid:
    n = round(about.often * len(times))
    out = np.zeros(len(times), bool)
    if about.nightly:
        out[rng.permutation(len(times))[:n]] = True
    else:
        first = int(rng.integers(0, len(times) - n + 1))
        out[first : first + n] = True
    return out


def _weather(rng: np.random.Generator, day: float, wind: float, sun: float = 0.15) -> Weather:
    hour = day % 1 * 24
    up = float(np.clip(np.sin((hour - 6) / 13 * np.pi), 0, 1))
    return Weather(
        sun=float(rng.uniform(0, sun)) * up, hour=hour, sway=float(wind * rng.uniform(0.5, 1.3)),
        exposure=float(rng.normal(1, 0.05)),
    )  # fmt: skip


def _burst(
    woods: Woods,
    rng: np.random.Generator,
    w: Weather,
    light: str,
    deer: Deer | None,
    number: int,
    day: float,
    stirs: bool = False,
    flaw: Callable[[Grid, np.random.Generator], Grid] | None = None,
) -> Iterator[Shot]:
    walks = deer is not None and flaw is not None and rng.random() < 0.5
    for i in range(3):
        shift = rng.normal(0, 0.15 + 0.08 * min(w.sway, 3), 2)
        here = deer
        if here is not None and stirs and rng.random() < 0.5:
            here = replace(here, grazing=not here.grazing)
        if here is not None and walks:
            step = here.facing * here.height * 0.5 * (i - 1) * woods.rows / woods.columns
            here = replace(here, x=here.x + step, step=here.step + 0.37 * i)
        now = replace(w, shift=(float(shift[0]), float(shift[1])))
        pixels, seen = shoot(woods, rng, now, light, here)
        if flaw is not None:
            pixels = flaw(pixels, rng)
        at = BEGIN + timedelta(days=day, seconds=i)
        yield Shot(at, number, light, pixels, seen, here, int(walks), now)


def _noise(pixels: Grid, rng: np.random.Generator) -> Grid:
    grain = rng.normal(0, 14, pixels.shape[:2])[..., None]
    return _clipped(pixels + grain)


def _under(pixels: Grid, rng: np.random.Generator) -> Grid:
    return _jpeg(_clipped(pixels * 0.25 + rng.normal(0, 1.5, pixels.shape)))


def _black(pixels: Grid, rng: np.random.Generator) -> Grid:
    return _jpeg(_clipped(pixels * 0.03 + rng.normal(4, 1.5, pixels.shape)))


def _fog(pixels: Grid, rng: np.random.Generator) -> Grid:
    """The farther off (the higher in the picture), the thicker."""
    rows = np.linspace(1, 0.75, pixels.shape[0])[:, None, None]
    thick = np.clip(rng.uniform(0.5, 0.85) * rows, 0, 0.9)
    return _jpeg(_clipped(pixels * (1 - thick) + rng.uniform(130, 190) * thick))


def _haze(pixels: Grid, rng: np.random.Generator) -> Grid:
    """The lamp's light on breath or a wet lens: a bright veil over a part."""
    y, x = np.mgrid[0 : pixels.shape[0], 0 : pixels.shape[1]]
    at = rng.uniform(0.2, 0.8, 2) * pixels.shape[:2]
    far = ((y - at[0]) ** 2 + (x - at[1]) ** 2) / (rng.uniform(0.25, 0.5) * pixels.shape[1]) ** 2
    veil = (rng.uniform(0.5, 0.85) * np.exp(-far))[..., None]
    return _jpeg(_clipped(pixels * (1 - veil) + 210 * veil))


def _rain(pixels: Grid, rng: np.random.Generator, drops: int = 140) -> Grid:
    veil = np.zeros(pixels.shape[:2], np.float32)
    lean = rng.uniform(-0.2, 0.2)
    for _ in range(int(rng.uniform(0.4, 1.0) * drops)):
        x, y = int(rng.integers(0, veil.shape[1])), int(rng.integers(0, veil.shape[0]))
        long = int(rng.uniform(4, 16))
        cv2.line(veil, (x, y), (int(x + lean * long), y + long), float(rng.uniform(0.15, 0.5)), 1)
    veil = cv2.GaussianBlur(veil, (0, 0), 0.7)[..., None]
    return _jpeg(_clipped(pixels * (1 - veil) + 220 * veil))


def _drizzle(pixels: Grid, rng: np.random.Generator) -> Grid:
    return _rain(pixels, rng, 40)


def _clipped(pixels: Grid) -> Grid:
    return np.clip(pixels, 0, 255).astype(np.uint8)


def _jpeg(pixels: Grid) -> Grid:
    return np.asarray(cv2.imdecode(cv2.imencode(".jpg", pixels)[1], 1))


FLAWS: dict[str, Callable[[Grid, np.random.Generator], Grid]] = {
    "noise": _noise,
    "underexposed": _under,
    "black": _black,
    "fog": _fog,
    "haze": _haze,
    "rain": _rain,
    "drizzle": _drizzle,
}


def flawed(
    seed: int, flaw: str, light: str = "infrared", part: float = 0.3, wind: float = 0.3, n: int = 50
) -> Iterator[tuple[Shot, bool]]:
    """Give n triggers, a fifth of them with a deer, with a flaw in a share of them, and where."""
    rng = np.random.default_rng(seed)
    woods = Woods(seed)
    for number, day in enumerate(_times(rng, light, n, 10)):
        deer = some_deer(rng, light) if rng.random() < 0.25 else None
        if deer is not None:
            deer = replace(deer, height=max(deer.height, 0.06), hidden=0.0)
        has = bool(rng.random() < part)
        how = FLAWS[flaw] if has else _same
        w = _weather(rng, day, wind)
        for shot in _burst(woods, rng, w, light, deer, number, day, flaw=how):
            yield shot, has


def _same(pixels: Grid, rng: np.random.Generator) -> Grid:
    return pixels
