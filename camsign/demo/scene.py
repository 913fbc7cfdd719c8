"""Draws one picture of the invented season: backdrop of the day, who is there, light, strip."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from camsign.demo import jpeg, strip
from camsign.demo.backdrop import Backdrop, backdrop, dapples
from camsign.demo.cast import draw
from camsign.demo.paint import HEIGHT, WIDTH, f32
from camsign.demo.sway import branches, swing
from camsign.demo.weather import dress_mix

if TYPE_CHECKING:
    from camsign.demo.land import Deployment
    from camsign.demo.paint import Array, Image
    from camsign.demo.season import Season
    from camsign.demo.specs import FrameSpec

KNOCK = (-34.0, 17.0, -3.2)  # how a knocked camera's picture moves: right, down [px], turn [deg]


def render(season: Season, frame: FrameSpec) -> bytes:
    """The frame as JPEG bytes with its metadata."""
    deployment = season.deployment(frame.deployment)
    return jpeg.encode(picture(season, frame), frame, deployment.camera)


def picture(season: Season, frame: FrameSpec) -> Image:
    """The frame's pixels, HEIGHT x WIDTH x 3 (BGR), strip included."""
    deployment = season.deployment(frame.deployment)
    rng = np.random.default_rng([season.seed, 77, frame.index])
    mix = dress_mix(frame.shown.date(), frame.weather.snow)
    parts = [(backdrop(deployment.view, dress), share) for dress, share in mix.items()]
    night = frame.light == "infrared"
    image = _mixed([(part.night if night else part.day, share) for part, share in parts])
    main = max(parts, key=lambda part: part[1])[0]
    if frame.weather.fog > 0.05:
        image = _fogged(image, main, frame.weather.fog, night)
    if not night:
        image = _sunned(image, deployment, frame)
    draw(image, frame, season, main.stands, rng)
    for branch in branches(deployment.view, max(mix, key=lambda name: mix[name])):
        swing(image, branch, frame.weather.wind, rng, night)
    if frame.shifted:
        image = _knocked(image)
    image = _exposed(image, frame, night)
    if frame.weather.snowing:
        _snowfall(image, rng, night)
    _grain(image, rng, _gain(frame, night))
    if image.ndim == 2:
        image = cv2.cvtColor(image, cv2.COLOR_GRAY2BGR)
    strip.stamp(image, frame)
    return image


def _mixed(images: list[tuple[Image, float]]) -> Image:
    """A weighted mean of pictures, in a fresh array."""
    out, total = images[0][0].copy(), images[0][1]
    for image, share in images[1:]:
        total += share
        out = cv2.addWeighted(out, 1 - share / total, image, share / total, 0)
    return out


def _fogged(image: Image, scene: Backdrop, fog: float, night: bool) -> Image:
    """Fog that thickens with distance; by flash it glows."""
    clear = np.linspace(1, 0, 256) ** (1 + 7 * fog)
    cover = cv2.LUT(scene.haze, (255 * (1 - clear)).astype(np.uint8))
    if night:
        cover = cv2.convertScaleAbs(cover, alpha=0.35)
    air = np.full((1, 1), 150.0) if night else f32([[208, 212, 206]])
    keep = 255 - cover
    if image.ndim == 2:
        return cv2.add(
            cv2.multiply(image, keep, scale=1 / 255),
            cv2.convertScaleAbs(cover, alpha=air[0, 0] / 255),
        )
    veil = cv2.merge([cv2.convertScaleAbs(cover, alpha=float(a) / 255) for a in air[0]])
    return cv2.add(cv2.multiply(image, cv2.merge([keep] * 3), scale=1 / 255), veil)


def _sunned(image: Image, deployment: Deployment, frame: FrameSpec) -> Image:
    """Patches of sun on the ground, which wander with the hours."""
    sun = (1 - frame.weather.overcast) * np.clip((frame.sun_deg - 2) / 12, 0, 1)
    if sun < 0.15:
        return image
    hour = frame.utc.hour + frame.utc.minute / 60
    left = round((hour % 24) * 21) % 256
    gain = dapples(deployment.view)[:, left : left + WIDTH]
    lit = cv2.addWeighted(gain, float(sun), np.full_like(gain, 128), 1 - float(sun), 0)
    return cv2.multiply(image, cv2.merge([lit] * 3), scale=1 / 128)


def _knocked(image: Image) -> Image:
    turn = cv2.getRotationMatrix2D((WIDTH / 2, HEIGHT / 2), KNOCK[2], 1.0)
    turn[:, 2] += np.array(KNOCK[:2])
    return cv2.warpAffine(image, turn, (WIDTH, HEIGHT), borderMode=cv2.BORDER_REFLECT)


def _exposed(image: Image, frame: FrameSpec, night: bool) -> Image:
    """Brightness and tint of the hour: blue and dim at dusk, warm under a low sun."""
    if night:
        return image
    low = float(np.clip((frame.sun_deg + 6) / 14, 0, 1))
    bright = (0.5 + 0.5 * low**0.8) * (1.06 - 0.14 * frame.weather.overcast)
    warm = (1 - frame.weather.overcast) * float(np.exp(-(((frame.sun_deg - 5) / 5) ** 2)))
    blue = 1 - low
    tint = f32([1 + 0.22 * blue - 0.14 * warm, 1.0, 1 - 0.10 * blue + 0.07 * warm])
    ramp = np.arange(256, dtype=np.float32)[:, None] / 255
    curve = 255 * np.clip(ramp * bright * tint, 0, 1.4) ** (1.04 + 0.1 * blue)
    return cv2.LUT(image, curve.clip(0, 255).astype(np.uint8)[None])


def _gain(frame: FrameSpec, night: bool) -> int:
    """How grainy a picture is, 0 to 2."""
    if night:
        return 1
    return 0 if frame.sun_deg > 5 else 1 if frame.sun_deg > 0 else 2


@lru_cache(maxsize=3)
def _noise_plates(gain: int) -> tuple[Image, Image]:
    """Grain split into what brightens and what darkens, larger than a picture."""
    rng = np.random.default_rng(400 + gain)
    raw = rng.normal(0, (1.9, 4.0, 5.6)[gain], (HEIGHT + 128, WIDTH + 256)).astype(np.float32)
    soft: Array = cv2.GaussianBlur(raw, (0, 0), 0.65) * 1.5
    return np.clip(soft, 0, 40).astype(np.uint8), np.clip(-soft, 0, 40).astype(np.uint8)


def _grain(image: Image, rng: np.random.Generator, gain: int) -> None:
    y, x = int(rng.integers(128)), int(rng.integers(256))
    for plate, mix in zip(_noise_plates(gain), (cv2.add, cv2.subtract), strict=True):
        cut = plate[y : y + HEIGHT, x : x + WIDTH]
        mix(image, cut if image.ndim == 2 else cv2.merge([cut] * 3), dst=image)


def _snowfall(image: Image, rng: np.random.Generator, night: bool) -> None:
    """Flakes: streaks by day, glaring discs in the flash."""
    for _ in range(int(rng.integers(60, 140))):
        x, y = int(rng.integers(WIDTH)), int(rng.integers(HEIGHT))
        near = float(rng.random()) ** 3
        if night:
            tone = int(120 + 120 * near)
            cv2.circle(image, (x, y), int(1 + 6 * near), (tone, tone, tone), -1, cv2.LINE_AA)
        else:
            end = (x + int(rng.integers(-3, 2)), y + int(3 + 9 * near))
            cv2.line(image, (x, y), end, (226, 226, 222), 1 + int(2 * near), cv2.LINE_AA)
