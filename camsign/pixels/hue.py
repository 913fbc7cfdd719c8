"""What has another hue than the pictures in like light have there: by day, beside what gray tells.

A deer as bright as the leaves behind it is hardly news in gray. Sun and shade change how bright a
place is, much less its hue. So at a quarter of a glance's size each patch's hue is weighed against
what most of the others show at that place, and how much they vary. Deer of under a twentieth of
the picture's height are too small for it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.planes import Plane, nth_smallest
from camsign.pixels.ranks import at_share

AS_NEWS = 0.75
"""So much news is a hue that lies one usual spread outside what the others show."""

FEWEST = 4
"""With fewer pictures to compare with nothing is said."""

_PATCH = 2  # pixels of the hue, along each side
_SHARE = 0.2  # of the others may show the same: a deer that comes back to one spot is still news
_SPREAD = 0.5  # of what the rest of them span is how much a patch varies
_STEADY = 2.0  # levels: and by that much at least
_REST = 0.9  # the rest of the picture is this quantile of it
_GLOOM = 24.0  # gray levels: below them a hue is noise
_LUMA = np.array([0.114, 0.587, 0.299], np.float32)  # ITU-R BT.601, of blue, green, red

Map = NDArray[np.float32]


def hue_of(glance: bytes) -> Plane | None:
    """Give how much redder and bluer than its gray each part of a glance is; None of a gray one.

    Returns:
        (rows, columns, 2), a quarter of the glance's; 128 where as the middle of the picture, so
        that a camera that sees all of it redder on some day changes nothing.
    """
    cv2 = opencv()
    pixels = cv2.imdecode(np.frombuffer(glance, np.uint8), cv2.IMREAD_REDUCED_COLOR_4)
    if pixels is None or not (pixels[..., 0] != pixels[..., 2]).any():
        return None
    luma = (pixels.astype(np.float32) @ _LUMA)[..., None]
    hue = 128 * (pixels[..., ::2] - luma) / (luma + _GLOOM)
    hue += 128 - np.median(hue[::2, ::2], axis=(0, 1))
    return np.asarray(np.clip(hue, 0, 255), np.uint8)


def other_hue(burst: Sequence[Plane | None], like: Sequence[Plane | None]) -> list[Map | None]:
    """Give for each frame of a burst how far its hue lies from what most others show.

    Args:
        burst: hues of its frames.
        like: of pictures of other times in like light.

    Returns:
        Maps (rows, columns) in news, less where much of the picture is off; None of a gray frame,
        and where fewer than FEWEST of the others have color.
    """
    others = [_patches(one) for one in like if one is not None]
    if len(others) < FEWEST:
        return [None for _ in burst]
    stack, rank = np.stack(others), int(_SHARE * (len(others) - 1))
    low, high = nth_smallest(stack, rank), nth_smallest(stack, len(others) - 1 - rank)
    spread = np.float32(_SPREAD) * (high - low) + np.float32(_STEADY)
    return [None if one is None else _off(_patches(one), low, high, spread) for one in burst]


def _off(here: Plane, low: Plane, high: Plane, spread: Map) -> Map:
    cv2 = opencv()
    outside = cv2.max(cv2.subtract(low, here), cv2.subtract(here, high))
    off = np.sqrt(np.square(outside / spread).sum(axis=2))
    return np.asarray(np.float32(AS_NEWS / (1 + at_share(off, _REST))) * off, np.float32)


def _patches(hue: Plane) -> Plane:
    return np.asarray(opencv().blur(hue, (_PATCH, _PATCH)), np.uint8)
