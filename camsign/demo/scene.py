"""Draws one picture of the made-up season: the day's backdrop, who is there, light, info strip."""

from __future__ import annotations

import struct
from functools import lru_cache

import cv2
import numpy as np
from numpy.random import Generator
from PIL import Image as Pictures
from PIL import ImageDraw, ImageFont
from PIL.ExifTags import IFD, Base
from PIL.Image import Exif

from camsign.demo.backdrop import Backdrop, backdrop, dapples
from camsign.demo.cast import draw
from camsign.demo.land import Camera, View
from camsign.demo.paint import HEIGHT, WIDTH, Array, Image, f32
from camsign.demo.season import Season
from camsign.demo.specs import FrameSpec
from camsign.demo.sway import branches, swing
from camsign.demo.weather import dress_mix

BAND = 34  # height of the info strip [px]
_INK, _PAPER = 222, 22
_QUALITY = 78
_KNOCK = (-34.0, 17.0, -3.2)  # how a knocked camera's picture moves: right, down [px], turn [deg]


def render(season: Season, frame: FrameSpec) -> bytes:
    """The frame as JPEG bytes, with the EXIF that its camera writes behind the start marker."""
    done, data = cv2.imencode(".jpg", picture(season, frame), [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    if not done:
        raise RuntimeError("OpenCV wrote no JPEG")
    body = _exif(frame, season.deployment(frame.deployment).camera)
    plain = data.tobytes()
    return plain[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + plain[2:]


def _exif(frame: FrameSpec, camera: Camera) -> bytes:
    shown, part = f"{frame.shown:%Y:%m:%d %H:%M:%S}", f"{frame.subsec:03d}"
    exif = Exif()
    exif[Base.Make], exif[Base.Model], exif[Base.Orientation] = camera.make, camera.model, 1
    exif[Base.DateTime] = shown
    inner: dict[int, object] = {Base.DateTimeOriginal: shown, Base.DateTimeDigitized: shown}
    inner[Base.SubsecTime] = inner[Base.SubsecTimeOriginal] = part
    if camera.serial:
        inner[Base.BodySerialNumber] = camera.serial
    exif[IFD.Exif] = inner
    return b"Exif\x00\x00" + exif.tobytes().removeprefix(b"Exif\x00\x00")


def picture(season: Season, frame: FrameSpec) -> Image:
    """The frame's pixels, HEIGHT x WIDTH x 3 (BGR), strip included."""
    view = season.deployment(frame.deployment).view
    rng = np.random.default_rng([season.seed, 77, frame.index])
    mix, night = dress_mix(frame.shown.date(), frame.weather.snow), frame.light == "infrared"
    parts = [(backdrop(view, dress), share) for dress, share in mix.items()]
    main = max(parts, key=lambda part: part[1])[0]
    image = _mixed([(part.night if night else part.day, share) for part, share in parts])
    if frame.weather.fog > 0.05:
        image = _fogged(image, main, frame.weather.fog, night)
    if not night:
        image = _sunned(image, view, frame)
    draw(image, frame, season, main.stands, rng)
    for branch in branches(view, max(mix, key=lambda name: mix[name])):
        swing(image, branch, frame.weather.wind, rng, night)
    if frame.shifted:
        turn = cv2.getRotationMatrix2D((WIDTH / 2, HEIGHT / 2), _KNOCK[2], 1.0)
        turn[:, 2] += np.array(_KNOCK[:2])
        image = cv2.warpAffine(image, turn, (WIDTH, HEIGHT), borderMode=cv2.BORDER_REFLECT)
    if not night:
        image = _exposed(image, frame)
    if frame.weather.snowing:
        _snowfall(image, rng, night)
    _grain(image, rng, 1 if night or 0 < frame.sun_deg <= 5 else 0 if frame.sun_deg > 5 else 2)
    image = cv2.cvtColor(image, cv2.COLOR_GRAY2BGR) if image.ndim == 2 else image
    _stamp(image, frame)
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
    air = (150.0,) if night else (208.0, 212.0, 206.0)
    veil = cv2.merge([cv2.convertScaleAbs(cover, alpha=tone / 255) for tone in air])
    return cv2.add(cv2.multiply(image, cv2.merge([255 - cover] * len(air)), scale=1 / 255), veil)


def _sunned(image: Image, view: View, frame: FrameSpec) -> Image:
    """Patches of sun on the ground, which wander with the hours."""
    sun = float((1 - frame.weather.overcast) * np.clip((frame.sun_deg - 2) / 12, 0, 1))
    if sun < 0.15:
        return image
    left = round((frame.utc.hour + frame.utc.minute / 60) * 21) % 256
    gain = dapples(view)[:, left : left + WIDTH]
    lit = cv2.addWeighted(gain, sun, np.full_like(gain, 128), 1 - sun, 0)
    return cv2.multiply(image, cv2.merge([lit] * 3), scale=1 / 128)


def _exposed(image: Image, frame: FrameSpec) -> Image:
    """Brightness and tint of the hour by day: blue and dim at dusk, warm under a low sun."""
    low = float(np.clip((frame.sun_deg + 6) / 14, 0, 1))
    bright = (0.5 + 0.5 * low**0.8) * (1.06 - 0.14 * frame.weather.overcast)
    warm = (1 - frame.weather.overcast) * float(np.exp(-(((frame.sun_deg - 5) / 5) ** 2)))
    blue = 1 - low
    tint = f32([1 + 0.22 * blue - 0.14 * warm, 1.0, 1 - 0.10 * blue + 0.07 * warm])
    ramp = np.arange(256, dtype=np.float32)[:, None] / 255
    curve = 255 * np.clip(ramp * bright * tint, 0, 1.4) ** (1.04 + 0.1 * blue)
    return cv2.LUT(image, curve.clip(0, 255).astype(np.uint8)[None])


@lru_cache(maxsize=3)
def _noise_plates(gain: int) -> tuple[Image, Image]:
    """Grain split into what brightens and what darkens, larger than a picture."""
    rng = np.random.default_rng(400 + gain)
    raw = f32(rng.normal(0, (1.9, 4.0, 5.6)[gain], (HEIGHT + 128, WIDTH + 256)))
    soft: Array = cv2.GaussianBlur(raw, (0, 0), 0.65) * 1.5
    return np.clip(soft, 0, 40).astype(np.uint8), np.clip(-soft, 0, 40).astype(np.uint8)


def _grain(image: Image, rng: Generator, gain: int) -> None:
    y, x = int(rng.integers(128)), int(rng.integers(256))
    for plate, mix in zip(_noise_plates(gain), (cv2.add, cv2.subtract), strict=True):
        cut = plate[y : y + HEIGHT, x : x + WIDTH]
        mix(image, cut if image.ndim == 2 else cv2.merge([cut] * 3), dst=image)


def _snowfall(image: Image, rng: Generator, night: bool) -> None:
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


def _stamp(image: Image, frame: FrameSpec) -> None:
    """Write camera, date, time as shown and temperature over the picture's lowest rows."""
    band = image[HEIGHT - BAND :]
    band[:] = _PAPER
    celsius = frame.weather.temperature_c
    warmth = f"{celsius:.0f} °C   {round(celsius * 9 / 5 + 32)} °F"
    day, minute, second = (f"{frame.shown:{form}}" for form in ("%Y-%m-%d", "%H:%M:", "%S"))
    right = WIDTH - 18 - _text(warmth).shape[1]
    for words, left in (
        (frame.camera, 18), (day, 396), (minute, 524), (second, 586), (warmth, right),
    ):  # fmt: skip
        text = _text(words)
        light = _PAPER + text.astype(np.uint16)[..., None] * (_INK - _PAPER) // 255
        band[:, left : left + text.shape[1]] = light.astype(np.uint8)


@lru_cache(maxsize=512)
def _text(words: str) -> Image:
    font = ImageFont.load_default(20)
    tile = Pictures.new("L", (max(1, round(font.getlength(words)) + 2), BAND))
    ImageDraw.Draw(tile).text((1, BAND / 2 + 7), words, font=font, fill=255, anchor="ls")
    return np.asarray(tile)
