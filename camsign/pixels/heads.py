"""The head of the animal in a picture, cut out as a square: what one buck is told from another by.

Where it is: the box around what is new in the picture, and in it the end that leads, if the way is
known. A rule of thumb of this project, no detector: without a box the whole picture is given.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from camsign.formats.jpeg import MAX_PIXELS
from camsign.formats.kinds import HEAD_BYTES, Kind, sniff
from camsign.pixels.decode import Pixels, Undecodable, size_of
from camsign.pixels.opencv import opencv

SIDE = 360
"""The square's side at most [pixels]."""
_LEAST_SHARE = 0.12
_ROOM = 1.25
# Of the box: head, neck and antlers at the end that leads.
_HEAD_SHARE = 0.6
_QUALITY = 85


def head_of(data: bytes, box: Sequence[float] | None, way: str | None) -> bytes | Undecodable:
    """Cut the head out of a picture.

    Args:
        data: the whole file, JPEG or PNG.
        box: around what is new, as shares of the picture: left, top, width, height.
        way: left or right, where the animal goes; None if unknown.

    Returns:
        A JPEG, or why there is none.
    """
    cv2 = opencv()
    kind = sniff(data[:HEAD_BYTES])
    if kind not in (Kind.JPEG, Kind.PNG):
        return Undecodable("not a JPEG or PNG picture")
    width, height = size_of(data, kind)
    if not 0 < width * height <= MAX_PIXELS:
        return Undecodable("its header gives no size that a camera makes")
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    except cv2.error:
        pixels = None
    if pixels is None or not pixels.size:
        return Undecodable("its pixels are damaged and cannot be decoded")
    return _jpeg(np.asarray(pixels, np.uint8), box, way)


def _jpeg(pixels: Pixels, box: Sequence[float] | None, way: str | None) -> bytes:
    cv2 = opencv()
    rows, columns = pixels.shape[:2]
    left, top, side = square(columns, rows, box, way)
    cut = pixels[top : top + side, left : left + side]
    if side > SIDE:
        cut = cv2.resize(cut, (SIDE, SIDE), interpolation=cv2.INTER_AREA)
    return bytes(cv2.imencode(".jpg", cut, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1])


def square(
    columns: int, rows: int, box: Sequence[float] | None, way: str | None
) -> tuple[int, int, int]:
    """Give left, top and side [pixels] of the square in a picture of so many columns and rows."""
    most = min(columns, rows)
    if box is None:
        return (columns - most) // 2, (rows - most) // 2, most
    x, y, wide, tall = box[0] * columns, box[1] * rows, box[2] * columns, box[3] * rows
    ahead = way in ("left", "right")
    reach = _HEAD_SHARE * min(wide, tall) if ahead else max(wide, tall)
    side = round(min(most, max(reach * _ROOM, _LEAST_SHARE * columns)))
    spare = (side - reach) / 2
    if way == "left":
        left = x - spare
    elif way == "right":
        left = x + wide + spare - side
    else:
        left = x + wide / 2 - side / 2
    top = y - (spare if ahead else min(spare, tall / 4))
    return _within(left, side, columns), _within(top, side, rows), side


def _within(start: float, side: int, most: int) -> int:
    return round(max(0.0, min(start, most - side)))
