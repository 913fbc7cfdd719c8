"""Puts the subjects of a frame into the picture: size by distance, hidden by what stands nearer."""

from __future__ import annotations

from datetime import date

import cv2
import numpy as np

from camsign.demo.backdrop import AIR, CLEAR_M, flash_share, flashed
from camsign.demo.creatures import Deer, deer_figure, other_figure
from camsign.demo.figures import GRAIN, Sprite
from camsign.demo.land import RUT
from camsign.demo.paint import FOCAL, WIDTH, Array, Image, byte, f32, ground_row, overlap
from camsign.demo.season import Season
from camsign.demo.specs import FrameSpec, Pictured
from camsign.demo.woods import darken

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
