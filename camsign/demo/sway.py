"""Branches close to the camera, which the wind swings between the frames of a burst."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from camsign.demo import woods
from camsign.demo.backdrop import flashed
from camsign.demo.land import View
from camsign.demo.paint import FOCAL, HEIGHT, WIDTH, Image, byte, f32, overlap

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
