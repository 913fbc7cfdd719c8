"""A sheet of small pictures, to look over many frames in a minute."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.see import remake_thumb

WIDTH, HEIGHT, COLUMNS = 200, 150, 8
"""Of one small picture [pixels], and how many stand side by side."""

MOST = 400
"""So many pictures go on one sheet."""

_GAP = 4


def sheets(thumbs: Path, frames: Sequence[tuple[str, Path]]) -> list[bytes]:
    """Lay frames out as JPEGs, in order, from the left and the top.

    Args:
        thumbs: the folder of thumbnails; what is missing there is made.
        frames: ids with their pictures. One that cannot be opened leaves a crossed field.
    """
    parts = [frames[i : i + MOST] for i in range(0, len(frames), MOST)]
    return [_sheet([_small(thumbs, *one) for one in part]) for part in parts]


def _sheet(pictures: Sequence[NDArray[np.uint8]]) -> bytes:
    rows = -(-len(pictures) // COLUMNS)
    size = (rows * (HEIGHT + _GAP), COLUMNS * (WIDTH + _GAP), 3)
    out = np.full(size, 32, np.uint8)
    for i, picture in enumerate(pictures):
        y, x = i // COLUMNS * (HEIGHT + _GAP), i % COLUMNS * (WIDTH + _GAP)
        out[y : y + HEIGHT, x : x + WIDTH] = picture
    return bytes(opencv().imencode(".jpg", out)[1])


def _small(thumbs: Path, frame: str, file: Path) -> NDArray[np.uint8]:
    cv2 = opencv()
    path = remake_thumb(thumbs, frame, file)
    pixels = cv2.imread(str(path), cv2.IMREAD_COLOR) if isinstance(path, Path) else None
    if pixels is None:
        empty = np.full((HEIGHT, WIDTH, 3), 64, np.uint8)
        return np.asarray(cv2.line(empty, (0, 0), (WIDTH, HEIGHT), (128, 128, 128)), np.uint8)
    how = cv2.INTER_AREA
    return np.asarray(cv2.resize(pixels, (WIDTH, HEIGHT), interpolation=how), np.uint8)
