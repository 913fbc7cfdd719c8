"""A frame's small picture, kept in looks.parquet: scores never decode a picture again."""

from __future__ import annotations

import tempfile
import threading
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv

LONG_SIDE = 256
"""Of a glance [pixels]; a deer of 3% of the frame's height is still some 5 pixels tall."""

_QUALITY = 88


def pack(pixels: NDArray[Any]) -> bytes:
    """Shrink a picture, gray (rows, columns) or in color (rows, columns, 3), 0..255, to a glance: a
    JPEG of some kilobytes."""
    cv2 = opencv()
    rows, columns = pixels.shape[:2]
    scale = min(1.0, LONG_SIDE / max(rows, columns))
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    # Down to a half, neighbors weighed by nearness are as good as areas, and eight times as quick.
    how = cv2.INTER_LINEAR if scale >= 0.5 else cv2.INTER_AREA
    small = cv2.resize(pixels, size, interpolation=how) if scale < 1 else pixels
    return bytes(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1])


def unpack(glance: bytes) -> NDArray[np.uint8] | None:
    """Give the gray values (rows, columns), 0..255; None if there is no glance or it is damaged."""
    if not glance:
        return None
    cv2 = opencv()
    gray = cv2.imdecode(np.frombuffer(glance, np.uint8), cv2.IMREAD_GRAYSCALE)
    return None if gray is None else np.asarray(gray, np.uint8)


class Glances:
    """Many glances with their looks' numbers, in a throw-away file; safe for threads."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile(prefix="camsign-")  # noqa: SIM115
        self._where: dict[str, tuple[int, int, int]] = {}
        self._end = 0
        self._guard = threading.Lock()

    def __enter__(self) -> Glances:
        """Give the glances."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, t: TracebackType | None
    ) -> None:
        """Let the file go."""
        self._file.close()

    def add(self, frame: str, glance: bytes, numbers: str) -> None:
        """Keep a frame's glance, unless it has one already."""
        if frame in self._where:
            return
        text = numbers.encode()
        self._file.write(glance + text)
        self._where[frame] = (self._end, len(glance), len(text))
        self._end += len(glance) + len(text)

    def get(self, frame: str) -> tuple[bytes, str]:
        """Give a frame's glance and numbers; b"" and "{}" if it has none."""
        if frame not in self._where:
            return b"", "{}"
        start, glance, text = self._where[frame]
        with self._guard:
            self._file.seek(start)
            data = self._file.read(glance + text)
        return data[:glance], data[glance:].decode()
