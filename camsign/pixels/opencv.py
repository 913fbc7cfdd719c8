"""OpenCV as this room uses it: loaded when first needed, one thread, silent.

One thread because whoever measures many pictures runs several of them at once; OpenCV lets go of
Python's lock while it works.
"""

from __future__ import annotations

import os
from functools import cache
from types import ModuleType

_SETTINGS = {
    "OPENCV_FFMPEG_READ_ATTEMPTS": "64",  # of 4096: a damaged clip costs seconds otherwise
    "OPENCV_FFMPEG_LOGLEVEL": "-8",  # quiet
}


@cache
def opencv() -> ModuleType:
    """Give the cv2 module, set up once."""
    for name, value in _SETTINGS.items():
        os.environ.setdefault(name, value)
    import cv2

    cv2.setNumThreads(1)
    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    return cv2
