"""Puts the subjects of a frame into the picture: size by distance, hidden by what stands nearer."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import cv2
import numpy as np

from camsign.demo import others
from camsign.demo.animals import Deer, deer_figure
from camsign.demo.backdrop import flash_share
from camsign.demo.figures import GRAIN
from camsign.demo.land import RUT
from camsign.demo.paint import FOCAL, HEIGHT, WIDTH, f32, ground_row

if TYPE_CHECKING:
    from camsign.demo.figures import Figure
    from camsign.demo.paint import Array, Image
    from camsign.demo.season import Season
    from camsign.demo.specs import FrameSpec, Subject

SUMMER_COAT_UNTIL = date(2025, 9, 14)
VELVET_UNTIL = date(2025, 9, 4)
_SIZES = {"doe": 0.89, "fawn": 0.66, "coyote": 1.0, "squirrel": 0.9, "person": 1.0}
_AIR = f32([204, 210, 202])


def draw(
    image: Image, frame: FrameSpec, season: Season, stands: Array, rng: np.random.Generator
) -> None:
    """Draw all subjects, the farthest first."""
    for subject in sorted(frame.subjects, key=lambda one: -one.distance_m):
        figure, size = _figure(subject, frame, season)
        _put(image, figure, size, subject, stands, frame.light == "infrared", rng)


def _figure(subject: Subject, frame: FrameSpec, season: Season) -> tuple[Figure, float]:
    day = frame.shown.date()
    if subject.what == "coyote":
        return others.coyote(subject.phase), _SIZES["coyote"]
    if subject.what == "squirrel":
        return others.squirrel(subject.phase % 2), _SIZES["squirrel"]
    if subject.what == "person":
        return others.person(subject.phase, day >= RUT[0]), _SIZES["person"]
    coat = "summer" if day < SUMMER_COAT_UNTIL else "winter"
    if subject.buck is None:
        return deer_figure(Deer(None, 0.9, 0.92, coat, False, subject.pose, subject.phase)), _SIZES[
            subject.what
        ]
    buck = season.buck(subject.buck)
    swollen = 1.0 + (0.12 if day < RUT[0] else 0.30) * min(1.0, (buck.age - 1) / 3)
    deer = Deer(
        buck.antlers, buck.depth, swollen, coat, day < VELVET_UNTIL, subject.pose, subject.phase
    )
    return deer_figure(deer), buck.size


def _put(
    image: Image,
    figure: Figure,
    size: float,
    subject: Subject,
    stands: Array,
    night: bool,
    rng: np.random.Generator,
) -> None:
    per_m = size * FOCAL / subject.distance_m
    foot = ground_row(subject.distance_m)
    left, _, right, top = figure.box
    shape = (max(1, round((right - left) * per_m)), max(1, round((top - figure.box[1]) * per_m)))
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
        color = _by_air(color, subject.distance_m)
    _blend(image, color, cover, at, stands, subject.distance_m)


def _by_air(color: Image, distance: float) -> Image:
    """Colours behind the haze of a distance [m]."""
    veil = 1 - float(np.exp(-distance / 95))
    ramp = np.arange(256, dtype=np.float32)[:, None] * (1 - veil) + _AIR * veil
    return cv2.LUT(color, ramp.astype(np.uint8)[None])


def _by_flash(cover: Image, color: Image, subject: Subject, per_m: float) -> tuple[Image, Image]:
    """Grey values under the flash, which burns out what comes too near; who walks is smeared."""
    share = float(flash_share(f32(subject.x * WIDTH), f32(300), f32(subject.distance_m)))
    ramp = np.arange(256) * share * 1.55
    lit = cv2.LUT(color, (255 * (1 - np.exp(-ramp / 165)) + 7).clip(0, 255).astype(np.uint8))
    if subject.pose != "walk":
        return cover, lit
    smear = (max(1, round(0.03 * per_m)), 1)
    return cv2.blur(cover, smear), cv2.blur(lit, smear)


def _eyeshine(color: Image, eye: tuple[float, float], per_m: float) -> None:
    center = (round(eye[0] * 8), round(eye[1] * 8))
    glow = np.zeros_like(color)
    cv2.circle(glow, center, round(0.045 * per_m * 8), 110, -1, cv2.LINE_AA, 3)
    glow = cv2.GaussianBlur(glow, (0, 0), max(1.0, 0.02 * per_m))
    cv2.circle(glow, center, round(max(1.6, 0.017 * per_m) * 8), 255, -1, cv2.LINE_AA, 3)
    cv2.add(color, glow, dst=color)


def _shadow(image: Image, subject: Subject, per_m: float, foot: float) -> None:
    """A soft dark patch on the ground under somebody."""
    half_w, half_h = (
        (0.20 if subject.what in ("squirrel", "person") else 0.62) * per_m,
        0.09 * per_m,
    )
    x, y = subject.x * WIDTH, foot - 0.02 * per_m
    x0, x1 = max(int(x - 1.6 * half_w), 0), min(int(x + 1.6 * half_w), WIDTH)
    y0, y1 = max(int(y - 1.6 * half_h), 0), min(int(y + 1.6 * half_h), HEIGHT)
    if x0 >= x1 or y0 >= y1:
        return
    gy, gx = np.mgrid[y0:y1, x0:x1].astype(np.float32)
    away = ((gx - x) / half_w) ** 2 + ((gy - y) / half_h) ** 2
    there = image[y0:y1, x0:x1]
    there[:] = (there * (1 - 0.42 * np.exp(-1.6 * away))[..., None]).astype(np.uint8)


def _blend(
    image: Image, color: Image, cover: Image, at: tuple[int, int], stands: Array, distance: float
) -> None:
    height, width = cover.shape
    x0, y0 = max(at[0], 0), max(at[1], 0)
    x1, y1 = min(at[0] + width, WIDTH), min(at[1] + height, HEIGHT)
    if x0 >= x1 or y0 >= y1:
        return
    part = (slice(y0 - at[1], y1 - at[1]), slice(x0 - at[0], x1 - at[0]))
    here = (slice(y0, y1), slice(x0, x1))
    alpha = cover[part].copy()
    alpha[stands[here] < distance - 0.15] = 0
    keep = 255 - alpha
    if image.ndim == 3:
        alpha, keep = cv2.merge([alpha] * 3), cv2.merge([keep] * 3)
    under = cv2.multiply(image[here], keep, scale=1 / 255)
    image[here] = cv2.add(under, cv2.multiply(color[part], alpha, scale=1 / 255))
