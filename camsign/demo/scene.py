"""Draws one picture of the made-up season: the day's backdrop, who is there, light, info strip.

Who is there is as large as its distance says, and hidden by what stands nearer.
"""

from __future__ import annotations

import struct
from datetime import date
from functools import lru_cache

import cv2
import numpy as np
from numpy.random import Generator
from PIL import Image as Pictures
from PIL import ImageDraw, ImageFont
from PIL.ExifTags import IFD, Base
from PIL.Image import Exif

from camsign.demo.backdrop import (
    AIR,
    CLEAR_M,
    Backdrop,
    backdrop,
    branches,
    dapples,
    flash_share,
    flashed,
    swing,
)
from camsign.demo.creatures import Deer, deer_figure, other_figure
from camsign.demo.figures import GRAIN, Sprite
from camsign.demo.land import RUT, Camera, View
from camsign.demo.paint import FOCAL, HEIGHT, WIDTH, Array, Image, byte, f32, ground_row, overlap
from camsign.demo.season import Season
from camsign.demo.specs import FrameSpec, Pictured
from camsign.demo.weather import dress_mix
from camsign.demo.woods import darken

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


_SUMMER_COAT_UNTIL = date(2025, 9, 14)
_VELVET_UNTIL = date(2025, 9, 4)
_SIZES = {"doe": 0.89, "fawn": 0.66, "coyote": 1.0, "squirrel": 0.9, "person": 1.0}


def draw(
    image: Image, frame: FrameSpec, season: Season, stands: Array, rng: np.random.Generator
) -> None:
    """Draw all subjects, the farthest first."""
    for subject in sorted(frame.subjects, key=lambda one: -one.distance_m):
        figure, size = _figure(subject, frame, season)
        _put(image, figure, size, subject, stands, rng)


def _figure(subject: Pictured, frame: FrameSpec, season: Season) -> tuple[Sprite, float]:
    """What a subject looks like on that day, and its size."""
    day, what, doing = frame.shown.date(), subject.what, (subject.pose, subject.phase)
    if what in ("coyote", "squirrel", "person"):
        phase = subject.phase % 2 if what == "squirrel" else subject.phase
        return other_figure(what, phase, what == "person" and day >= RUT[0]), _SIZES[what]
    coat = "summer" if day < _SUMMER_COAT_UNTIL else "winter"
    if subject.buck is None:
        return deer_figure(Deer(None, 0.9, 0.92, coat, False, *doing)), _SIZES[what]
    buck = season.buck(subject.buck)
    swollen = 1.0 + (0.12 if day < RUT[0] else 0.30) * min(1.0, (buck.age - 1) / 3)
    deer = Deer(buck.antlers, buck.depth, swollen, coat, day < _VELVET_UNTIL, *doing)
    return deer_figure(deer), buck.size


def _put(
    image: Image, figure: Sprite, size: float, subject: Pictured, stands: Array,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    night, per_m, foot = (
        image.ndim == 2,
        size * FOCAL / subject.distance_m,
        ground_row(subject.distance_m),
    )
    left, bottom, right, top = figure.box
    shape = (max(1, round((right - left) * per_m)), max(1, round((top - bottom) * per_m)))
    how = cv2.INTER_AREA if per_m < GRAIN else cv2.INTER_LINEAR
    cover = cv2.resize(figure.cover, shape, interpolation=how)
    color = cv2.resize(figure.night if night else figure.day, shape, interpolation=how)
    eye = figure.eye and ((figure.eye[0] - left) * per_m, (top - figure.eye[1]) * per_m)
    if not subject.to_right:
        cover, color = cv2.flip(cover, 1), cv2.flip(color, 1)
        eye, left = eye and (shape[0] - eye[0], eye[1]), -right
    at = (round(subject.x * WIDTH + left * per_m), round(foot - top * per_m))
    if night:
        cover, color = _by_flash(cover, color, subject, per_m)
        if eye and rng.random() < 0.85:
            _eyeshine(color, eye, per_m)
    else:
        _shadow(image, subject, per_m, foot)
        veil = 1 - float(np.exp(-subject.distance_m / CLEAR_M))
        ramp = np.arange(256, dtype=np.float32)[:, None] * (1 - veil) + AIR * veil
        color = cv2.LUT(color, ramp.astype(np.uint8)[None])
    _blend(image, color, cover, at, stands, subject.distance_m)


def _by_flash(cover: Image, color: Image, subject: Pictured, per_m: float) -> tuple[Image, Image]:
    """Gray values under the flash, which burns out what comes too near; who walks is smeared."""
    share = float(flash_share(f32(subject.x * WIDTH), f32(300), f32(subject.distance_m)))
    lit = cv2.LUT(color, byte(flashed(np.arange(256) * share * 1.55)))
    if subject.pose != "walk":
        return cover, lit
    smear = (max(1, round(0.03 * per_m)), 1)
    return cv2.blur(cover, smear), cv2.blur(lit, smear)


def _eyeshine(color: Image, eye: tuple[float, float], per_m: float) -> None:
    center, glow = (round(eye[0] * 8), round(eye[1] * 8)), np.zeros_like(color)
    cv2.circle(glow, center, round(0.045 * per_m * 8), 110, -1, cv2.LINE_AA, 3)
    glow = cv2.GaussianBlur(glow, (0, 0), max(1.0, 0.02 * per_m))
    cv2.circle(glow, center, round(max(1.6, 0.017 * per_m) * 8), 255, -1, cv2.LINE_AA, 3)
    cv2.add(color, glow, dst=color)


def _shadow(image: Image, subject: Pictured, per_m: float, foot: float) -> None:
    """A soft dark patch on the ground under somebody."""
    half_w = (0.20 if subject.what in ("squirrel", "person") else 0.62) * per_m
    half_h, x, y = 0.09 * per_m, subject.x * WIDTH, foot - 0.02 * per_m
    left, top = int(x - 1.6 * half_w), int(y - 1.6 * half_h)
    rows, columns = np.arange(top, int(y + 1.6 * half_h)), np.arange(left, int(x + 1.6 * half_w))
    away = ((columns - x) / half_w) ** 2 + (((rows - y) / half_h) ** 2)[:, None]
    darken(image, left, top, 0.42 * np.exp(-1.6 * away))


def _blend(
    image: Image, color: Image, cover: Image, at: tuple[int, int], stands: Array, distance: float
) -> None:
    here, part = overlap(*at, cover.shape)
    alpha = cover[part].copy()
    if not alpha.size:
        return
    alpha[stands[here] < distance - 0.15] = 0
    plane = cv2.merge([alpha] * 3) if image.ndim == 3 else alpha
    under = cv2.multiply(image[here], 255 - plane, scale=1 / 255)
    image[here] = cv2.add(under, cv2.multiply(color[part], plane, scale=1 / 255))
