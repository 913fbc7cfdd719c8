"""Branches close to the camera, which the wind swings between the frames of a burst."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from camsign.demo import woods
from camsign.demo.paint import FOCAL, HEIGHT, WIDTH, Canvas, byte, f32

if TYPE_CHECKING:
    from camsign.demo.land import View
    from camsign.demo.paint import Image


ROOM = 60  # painted around the view, since the wind swings it in [px]


@dataclass(frozen=True, slots=True)
class Branch:
    """A branch as plates: colours times cover, and last what it lets through (255: all).

    `day` has blue, green, red and that; `night` grey and that. `box` is left and top [px]; `hold`
    the point about which it swings, in the box [px].
    """

    day: Image
    night: Image
    box: tuple[int, int]
    hold: tuple[float, float]
    limber: float  # how far it swings in a gale [deg]


@lru_cache(maxsize=16)
def branches(view: View, dress: str) -> tuple[Branch, ...]:
    """The branches that hang into a view: from its upper corners and up from its lower edge."""
    rng = np.random.default_rng([view.seed, 5])
    places: list[tuple[float, float, float]] = []
    for side in (0, 1):
        x = (rng.uniform(-20, 150), rng.uniform(WIDTH - 150, WIDTH + 20))[side]
        places.append(
            (x, -20, rng.uniform(0.2, 0.6) if side == 0 else np.pi - rng.uniform(0.2, 0.6))
        )
    x = rng.choice([rng.uniform(-30, 60), rng.uniform(WIDTH - 60, WIDTH + 30)])
    places.append((float(x), rng.uniform(60, 200), 0.25 if x < WIDTH / 2 else np.pi - 0.25))
    low = rng.choice([rng.uniform(0, 170), rng.uniform(WIDTH - 170, WIDTH)])
    places.append((float(low), HEIGHT + 10, -np.pi / 2 + rng.normal(0, 0.2)))
    return tuple(_grown(at, view.seed * 100 + i, dress) for i, at in enumerate(places))


def _grown(place: tuple[float, float, float], seed: int, dress: str) -> Branch:
    """Paint a branch at (x, y [px], aim [rad]), with room for what swings in from outside."""
    plates = []
    for ground in (0, 255):
        rng = np.random.default_rng(seed)
        canvas = Canvas(np.full((HEIGHT + 2 * ROOM, WIDTH + 2 * ROOM, 3), ground, np.uint8))
        scale = FOCAL / rng.uniform(2.6, 3.6)
        start, run = f32(place[:2]) + ROOM, float(rng.uniform(70, 130))
        ends = woods.twigs(canvas, rng, start, place[2], run, (66, 78, 86), 4)
        woods.dress_up(canvas, rng, np.array(ends[::2]), scale * 0.62, woods.DRESS[dress], each=5)
        plates.append(canvas.paint)
    return _cut(plates[0], plates[1], place, float(np.random.default_rng(seed).uniform(2.5, 6)))


def _cut(black: Image, white: Image, place: tuple[float, float, float], limber: float) -> Branch:
    """Cover follows from painting the same over black and over white."""
    spare = 24
    left, top, width, height = cv2.boundingRect(255 - cv2.subtract(white, black)[..., 1])
    x0, y0 = max(left - spare, 0), max(top - spare, 0)
    here = (slice(y0, top + height + spare), slice(x0, left + width + spare))
    color = cv2.GaussianBlur(black[here], (0, 0), 0.9)
    through = cv2.subtract(cv2.GaussianBlur(white[here], (0, 0), 0.9), color)[..., 1]
    night = byte(255 * (1 - np.exp(-(color @ f32([0.25, 0.6, 0.4])) * 1.8 / 165)))
    hold = (place[0] + ROOM - x0, place[1] + ROOM - y0)
    box = (x0 - ROOM, y0 - ROOM)
    return Branch(cv2.merge([color, through]), cv2.merge([night, through]), box, hold, limber)


def swing(image: Image, branch: Branch, wind: float, rng: np.random.Generator, night: bool) -> None:
    """Draw a branch, swung by the wind at a random moment."""
    angle = float(np.clip(branch.limber * wind * rng.normal(), -9, 9))
    turn = cv2.getRotationMatrix2D(branch.hold, angle, 1.0)
    plates = branch.night if night else branch.day
    (left, top), (height, width) = branch.box, plates.shape[:2]
    x0, y0 = max(left, 0), max(top, 0)
    x1, y1 = min(left + width, WIDTH), min(top + height, HEIGHT)
    turn[:, 2] += (left - x0, top - y0)
    clear = (0, 255, 0, 0) if night else (0, 0, 0, 255)
    seen = cv2.warpAffine(plates, turn, (x1 - x0, y1 - y0), borderValue=clear)
    *color, through = cv2.split(seen)
    there = image[y0:y1, x0:x1]
    if night:
        there[:] = cv2.add(cv2.multiply(there, through, scale=1 / 255), color[0])
    else:
        kept = cv2.multiply(there, cv2.merge([through] * 3), scale=1 / 255)
        there[:] = cv2.add(kept, cv2.merge(color))
